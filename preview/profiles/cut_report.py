"""What a shop must know about each cut before it is made: depth, reach, undercuts, and how tight it can turn."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from preview.profiles.cutters import reach
from preview.profiles.cutting import Cut
from preview.profiles.edges import Arc, Edge, Line
from preview.profiles.pens import Point
from preview.profiles.placement import Blank, Place, out_of
from preview.profiles.profile import Profile
from preview.profiles.regions import Region, difference, intersection
from preview.profiles.splitting import away, meetings, middle, part_of
from preview.profiles.webs import LEAST_WEB, Web, thin_webs

ON = 1e-6
"""A point of the outline this near to a cutter's section, mm, was cut by it."""


@dataclass(frozen=True)
class Undercut:
    """A stretch of the outline, from one point (d, h) to another, that no straight approach reaches."""

    start: Point
    end: Point


@dataclass(frozen=True)
class CutReport:
    """One cut; lengths in mm, areas in mm².

    word: the cutter. depth: how deep below its face the wood goes away; reach: how far down from that face the
    cutter is plunged, which is more where its tip passes out of the wood. removed: the wood it takes out;
    alone: the part of that which no other cut takes. webs: the thin webs that end on its surface.
    undercuts: its surfaces that lie behind wood as seen from its own face. lining and turned: see
    `inside_radius`; lining is None where it cannot be told or the cut sets no limit.
    """

    word: str
    place: Place
    depth: float
    reach: float
    removed: float
    alone: float
    webs: tuple[Web, ...]
    undercuts: tuple[Undercut, ...]
    lining: float | None
    turned: float

    @property
    def cuts_wood(self) -> bool:
        """Whether it takes any wood out of the blank."""
        return self.removed > 0.0


def report_cuts(profile: Profile, blank: Blank, cuts: Sequence[Cut], limit: float = LEAST_WEB) -> tuple[CutReport, ...]:
    """A report on each cut of a profile that `cut_profile` made of them. `limit`: webs thinner are told, mm."""
    wood = blank.region()
    regions = [cut.region(blank) for cut in cuts]
    webs = thin_webs(profile, limit)
    reports: list[CutReport] = []
    for number, (cut, swept) in enumerate(zip(cuts, regions, strict=True)):
        taken = intersection(wood, swept)
        alone = difference(taken, *regions[:number], *regions[number + 1 :])
        surface = [part for edge in profile.edges for part in _cut_by(edge, swept)]
        touched = tuple(web for web in webs if any(_on(swept, end) for end in (web.start, web.end)))
        lining, turned = inside_radius(cut, taken, surface)
        reports.append(
            CutReport(
                word=cut.cutter.word,
                place=cut.place,
                depth=_depth(taken, cut.place, blank),
                reach=reach(cut.cutter),
                removed=taken.area,
                alone=alone.area,
                webs=touched,
                undercuts=undercuts(profile, surface, out_of(cut.place.face)),
                lining=lining,
                turned=turned,
            )
        )
    return tuple(reports)


def inside_radius(cut: Cut, taken: Region, surface: Sequence[Edge]) -> tuple[float | None, float]:
    """The least back-line radii, mm, of an inside curve: for a cutter that runs round it, and for turning.

    Round the inside of a curve of back radius R, the surface at projection d is a hollow of radius R - d about
    the axis of the curve. A cutter whose spindle stands parallel to that axis, as on a shaper with the piece
    lying flat, sweeps at each height a circle; where its largest circle, of radius Rc, meets the deepest
    surface it cuts, at d0, the spindle is R - d0 - Rc from the axis, on the same side. A circle fits a
    larger hollow only, so Rc <= R - d0. At another height, d - d0 further out, its circle is smaller by just as
    much as the hollow is, so nothing more is asked: R >= d0 + Rc. That is `lining`. A cutter let down from
    the top or the foot runs in its own groove, and half its width is its Rc unless its diameter is given; one
    whose spindle is not upright cuts no true section on a curve at all. The back of a piece that lines a
    curve is round outward, and sets no limit.

    A turned piece is cut by a tool that stands still while the wood goes round, so no cutter's circle
    enters: its surfaces only need to stay on their own side of the axis, R > the largest d cut. That is
    `turned`; it binds the lining piece too, whose lining radius is never less.
    """
    turned = max((edge.bounds[2] for edge in surface), default=0.0)
    place = cut.place
    if not taken.loops or place.face == "back" or (place.by == "back" and place.center is None):
        return None, turned
    deepest = min(edge.bounds[0] for edge in taken.edges)
    circle = None if cut.diameter is None else cut.diameter / 2
    if circle is None and place.face in ("top", "foot") and place.center is not None:
        boxes = [edge.bounds for edge in taken.edges]
        circle = (max(box[2] for box in boxes) - deepest) / 2
    return (None if circle is None else max(deepest + circle, turned)), turned


def undercuts(profile: Profile, surface: Sequence[Edge], out: Point) -> tuple[Undercut, ...]:
    """The stretches of some edges of a profile that lie behind its wood as seen along -`out`, a unit vector.

    Exact: what is seen changes only abreast of an end of an edge, or of where an arc turns away. Each edge is
    cut there, and one straight line of sight from each part tells.
    """
    ahead, across = out, (-out[1], out[0])
    stops = {_along(end, across) for edge in profile.edges for end in (edge.start, edge.end)}
    for edge in profile.edges:
        if isinstance(edge, Arc):
            stops |= {_along(edge.center, across) + side * edge.radius for side in (-1.0, 1.0)}
    reach_out = max(abs(length) for edge in profile.edges for length in edge.bounds) * 4
    hidden: list[Undercut] = []
    for edge in surface:
        for part in _cut_at(edge, stops, across):
            (tx, ty) = part.tangent(0.5).tolist()
            start = middle(part)
            start = (start[0] + ON * ty, start[1] - ON * tx)  # into the air, on the right of the way round
            sight = Line(start, (start[0] + reach_out * ahead[0], start[1] + reach_out * ahead[1]))
            if not any(meetings(sight, other) for other in profile.edges):
                continue
            if hidden and math.dist(hidden[-1].end, part.start) < ON:
                hidden[-1] = Undercut(hidden[-1].start, part.end)
            else:
                hidden.append(Undercut(part.start, part.end))
    if len(hidden) > 1 and math.dist(hidden[-1].end, hidden[0].start) < ON:
        hidden[:] = [Undercut(hidden[-1].start, hidden[0].end), *hidden[1:-1]]
    return tuple(hidden)


def _along(at: Point, u: Point) -> float:
    return at[0] * u[0] + at[1] * u[1]


def _cut_at(edge: Edge, stops: Iterable[float], across: Point) -> list[Edge]:
    """An edge cut wherever it comes abreast of one of the stops."""
    size = 2 * max(abs(length) for length in edge.bounds) + 1.0
    at: list[Point] = []
    for stop in stops:
        foot = (stop * across[0], stop * across[1])
        ahead = (across[1] * size, -across[0] * size)
        ray = Line((foot[0] - ahead[0], foot[1] - ahead[1]), (foot[0] + ahead[0], foot[1] + ahead[1]))
        at += meetings(edge, ray) if not _runs_along(edge, ray) else []
    return _parted(edge, at)


def _parted(edge: Edge, at: Iterable[Point]) -> list[Edge]:
    """An edge cut at points of it; what is within ON of its ends or of another is left out."""
    at = [p for p in at if min(math.dist(p, edge.start), math.dist(p, edge.end)) > ON]
    at.sort(key=edge.angle_to if isinstance(edge, Arc) else lambda p: math.dist(p, edge.start))
    points: list[Point] = [edge.start]
    points += [p for p, before in zip(at, [edge.start, *at], strict=False) if math.dist(p, before) > ON]
    points.append(edge.end)
    if len(points) == 2:
        return [edge]
    return [part_of(edge, a, b) for a, b in pairwise(points)]


def _runs_along(edge: Edge, ray: Line) -> bool:
    if isinstance(edge, Arc):
        return False
    (ux, uy), (vx, vy) = edge.tangent(0.0).tolist(), ray.tangent(0.0).tolist()
    return bool(abs(ux * vy - uy * vx) < 1e-9)


def _depth(taken: Region, place: Place, blank: Blank) -> float:
    """How deep below the cut's face the wood it takes goes, mm; 0 when it takes none."""
    boxes = [edge.bounds for edge in taken.edges]
    if not boxes:
        return 0.0
    if place.face == "face":
        return blank.thickness - min(box[0] for box in boxes)
    if place.face == "top":
        return blank.width - min(box[1] for box in boxes)
    return max(box[2] for box in boxes) if place.face == "back" else max(box[3] for box in boxes)


def _cut_by(edge: Edge, swept: Region) -> list[Edge]:
    """The parts of an edge of the outline that lie on what a cutter swept: two passes can leave one floor."""
    ends = [each.start for each in swept.edges]
    parts = _parted(edge, [end for end in ends if away(edge, end) < ON])
    return [part for part in parts if all(_on(swept, at) for at in (part.start, middle(part), part.end))]


def _on(swept: Region, at: Point) -> bool:
    return any(away(edge, at) < ON for edge in swept.edges)
