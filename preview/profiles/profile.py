"""The profile: a checked, closed outline of exact edges."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from preview.errors import PreviewError
from preview.profiles.contact import first_contact
from preview.profiles.edges import FLATTEST, Arc, Edge, Line, arc_of_sweep
from preview.profiles.moments import area_and_moments
from preview.profiles.pens import Pen, Point
from preview.units import Unit, show

SNAP = 1e-9
"""Ends closer than this, mm, are one point; a neighbor straight or round to within this is the same edge."""
SHORTEST = 1e-6
"""An edge shorter than this, mm, is no edge."""
THINNEST = 0.1
"""A profile thinner than this over all, mm, is no profile."""
LEAST_BACK = 1.0
"""The least line, mm, that lies on the wall."""
LARGEST = 10_000.0
"""A profile larger than this, mm, is given in the wrong unit."""
PAST = 0.002
"""A round that comes this little, mm and radians, past where it runs level or plumb is meant to end there."""


@dataclass(frozen=True)
class Profile:
    """The cross-section of a molding: a closed loop of exact edges in mm, counter-clockwise.

           h = height
           |______________
           |       <      )        d = projection out from the back line (the wall);
           |             (         the face is on the right, the back lies on d = 0;
      back |              \\        the wood is on the left of the way round;
           |v             ^|       the first edge leaves the foot of the back.
           |_______________|
           0------>---------- d

    Build one with `make_profile`, which checks all this. `moved` may take it off the wall.
    """

    name: str
    edges: tuple[Edge, ...]

    def draw(self, pen: Pen) -> None:
        """Draw the outline with a pen, once round."""
        pen.start(self.edges[0].start)
        for edge in self.edges:
            edge.draw(pen)
        pen.close()

    def moved(self, out: float, up: float) -> Profile:
        """The same profile, shifted by `out` and `up` mm."""
        return replace(self, edges=tuple(edge.moved(out, up) for edge in self.edges))


def lying(profile: Profile) -> Profile:
    """The same section with out and up exchanged: its back on the plan, as a casing lies in a plan that is the wall."""

    def swapped(edge: Edge) -> Edge:
        start, end = edge.end[::-1], edge.start[::-1]
        return Arc(start, end, edge.center[::-1], edge.sweep) if isinstance(edge, Arc) else Line(start, end)

    return Profile(profile.name, tuple(swapped(edge) for edge in reversed(profile.edges)))


def make_profile(name: str, edges: Iterable[Edge], *, unit: Unit = "mm") -> Profile:
    """Check a closed loop of edges (mm) given in order, either way round, and make it a profile.

    Ends that meet to 1e-9 mm are made one point; edges shorter than 1e-6 mm whose neighbors meet without them
    are dropped; lines in one line and arcs of one circle are joined; an arc that rounded figures take a hair past
    its crown or its outermost point ends there, between the same ends. `unit` is how lengths are spoken of in
    errors. Raises PreviewError when the outline is open, crosses or touches itself, lies partly behind the
    wall, has no back on the wall, or is too thin or too large to be a molding.
    """
    say = _Speech(unit)
    loop = [_on_the_wall(edge) for edge in edges]
    _refuse_broken_edges(loop, say)
    loop = [_ended_at_its_turn(edge) for edge in _joined(_closed(loop, say))]
    contact = first_contact(loop)
    if contact is not None:
        raise PreviewError(
            "",
            None,
            f"the outline {contact.how} at {say.at(contact.at)}",
            "move the edges that meet there apart, so that the outline runs once round the wood",
        )
    area = area_and_moments(loop)[0]
    _refuse_thin(loop, area, say)
    if area < 0.0:
        loop = [edge.reversed() for edge in reversed(loop)]
    return Profile(name, tuple(_from_the_back(loop, say)))


@dataclass(frozen=True)
class _Speech:
    """Lengths and places as an error speaks of them."""

    unit: Unit

    def long(self, length: float) -> str:
        return show(length, self.unit)

    def at(self, point: Point) -> str:
        d, h = point
        out = f"{self.long(-d)} behind the wall" if d < 0 else f"{self.long(d)} out"
        return f"{out}, {self.long(-h)} below the foot line" if h < 0 else f"{out}, {self.long(h)} up"


def _on_the_wall(edge: Edge) -> Edge:
    """The edge with ends within rounding of the wall put on it."""
    (d0, h0), (d1, h1) = edge.start, edge.end
    start = (0.0 if abs(d0) <= SNAP else float(d0), float(h0))
    end = (0.0 if abs(d1) <= SNAP else float(d1), float(h1))
    return replace(edge, start=start, end=end)


def _ended_at_its_turn(edge: Edge) -> Edge:
    """The edge; an arc that is a hair past level or plumb at one end, as one between the same ends that is so there.

    Where a face turns back by so little, a cut that follows it may end on either side of the turn.
    """
    if not isinstance(edge, Arc):
        return edge
    chord = math.atan2(edge.end[1] - edge.start[1], edge.end[0] - edge.start[0])
    for half in (edge.sweep / 2, -edge.sweep / 2):
        past = math.copysign(1.0, half) * math.remainder(chord + half, math.pi / 2)
        if SHORTEST < past * edge.radius <= PAST and past <= PAST and 2 * past < abs(edge.sweep):
            return arc_of_sweep(edge.start, edge.end, edge.sweep - math.copysign(2 * past, edge.sweep))
    return edge


def _refuse_broken_edges(loop: Sequence[Edge], say: _Speech) -> None:
    for number, edge in enumerate(loop, 1):
        numbers = [*edge.start, *edge.end]
        if isinstance(edge, Arc):
            numbers += [*edge.center, edge.sweep]
        if not all(math.isfinite(value) for value in numbers):
            raise PreviewError(
                "",
                None,
                f"edge {number} of the outline has an end that is not a number",
                "give every point two lengths",
            )
        if max(abs(value) for value in (*edge.start, *edge.end)) > LARGEST:
            raise PreviewError(
                "",
                None,
                f"edge {number} of the outline lies more than {say.long(LARGEST)} away, which is no molding",
                "check the unit of the lengths",
            )
        if isinstance(edge, Arc) and not _fits(edge):
            raise PreviewError(
                "",
                None,
                f"the arc from {say.at(edge.start)} to {say.at(edge.end)} does not fit its center: its ends "
                "are not its sweep apart on one circle",
                "give the arc by its ends and a point on it",
            )


def _fits(arc: Arc) -> bool:
    """Whether the ends of an arc lie on its circle, its sweep apart, and the circle is no line."""
    if not 0.0 < abs(arc.sweep) < 2 * math.pi or not 0.0 < arc.radius <= FLATTEST:
        return False
    ux, uy = arc.start[0] - arc.center[0], arc.start[1] - arc.center[1]
    cos, sin = math.cos(arc.sweep), math.sin(arc.sweep)
    end = (arc.center[0] + ux * cos - uy * sin, arc.center[1] + ux * sin + uy * cos)
    return math.dist(end, arc.end) <= SHORTEST


def _closed(loop: Sequence[Edge], say: _Speech) -> list[Edge]:
    """The edges without the ones of no length, each starting bit for bit where the one before it ends."""
    kept = [edge for edge in loop if edge.length >= SHORTEST]
    if len(kept) < 2:
        raise PreviewError(
            "",
            None,
            f"the outline has {len(kept)} edges, which enclose nothing",
            "draw it once round the wood, and back",
        )
    closed: list[Edge] = []
    for i, edge in enumerate(kept):
        before = kept[i - 1]
        gap = math.dist(before.end, edge.start)
        if gap > SNAP:
            raise PreviewError(
                "",
                None,
                f"the outline is open: it stops at {say.at(before.end)} and goes on {_gap(gap, say)} away, "
                f"at {say.at(edge.start)}",
                "let every edge start where the one before it ends, and the last end where the first starts",
            )
        closed.append(replace(edge, start=before.end))
    return closed


def _gap(gap: float, say: _Speech) -> str:
    """A gap as an error speaks of it; one that a rule cannot show is given in mm."""
    return say.long(gap) if gap >= 0.05 else f"{gap:.2g} mm"


def _joined(loop: Sequence[Edge]) -> list[Edge]:
    """The edges with neighbors in one line, or on one circle, made one edge."""
    joined: list[Edge] = []
    for edge in loop:
        one = _one(joined[-1], edge) if joined else None
        if one is None:
            joined.append(edge)
        else:
            joined[-1] = one
    while len(joined) > 2:
        one = _one(joined[-1], joined[0])
        if one is None:
            break
        joined = [one, *joined[1:-1]]
    return joined


def _one(before: Edge, after: Edge) -> Edge | None:
    """The edge that two neighbors make together, or None when they are two."""
    if isinstance(before, Line) and isinstance(after, Line):
        ux, uy = before.end[0] - before.start[0], before.end[1] - before.start[1]
        vx, vy = after.end[0] - after.start[0], after.end[1] - after.start[1]
        whole = math.dist(before.start, after.end)
        if ux * vx + uy * vy > 0.0 and abs(ux * vy - uy * vx) <= SNAP * whole:
            return Line(before.start, after.end)
    if isinstance(before, Arc) and isinstance(after, Arc):
        sweep = before.sweep + after.sweep
        near = SNAP * max(1.0, before.radius / 1000)
        same = math.dist(before.center, after.center) <= near and abs(before.radius - after.radius) <= near
        if same and before.sweep * after.sweep > 0.0 and abs(sweep) < 2 * math.pi:
            return Arc(before.start, after.end, before.center, sweep)
    return None


def _refuse_thin(loop: Sequence[Edge], area: float, say: _Speech) -> None:
    # No more than its box is wide or high: area <= width x height, and the way round is at least twice either.
    thin = 2 * abs(area) / sum(edge.length for edge in loop)
    if thin < THINNEST:
        raise PreviewError(
            "",
            None,
            f"the outline encloses no more than a sliver, about {thin:.2g} mm thick",
            f"make the profile at least {say.long(THINNEST)} thick, and check the unit of its lengths",
        )


def _from_the_back(loop: list[Edge], say: _Speech) -> list[Edge]:
    """The edges in the same order, from the foot of the back; refuses wood behind the wall, or none on it."""
    for edge in loop:
        least = edge.bounds[0]
        if least < -SNAP:
            # A line is deepest at an end, an arc there or where its circle turns back.
            at = min((edge.start, edge.end), key=lambda end: end[0])
            if isinstance(edge, Arc) and least < at[0]:
                at = (least, edge.center[1])
            raise PreviewError(
                "",
                None,
                f"the outline lies partly behind the wall: at {say.at(at)}",
                f"move the profile out by {say.long(-least)}, so that its back lies on d = 0",
            )
    backs = [i for i, edge in enumerate(loop) if isinstance(edge, Line) and edge.start[0] == edge.end[0] == 0.0]
    if not any(loop[i].length >= LEAST_BACK for i in backs):
        nearest = min(edge.bounds[0] for edge in loop)
        raise PreviewError(
            "",
            None,
            f"the profile has no back: no line of at least {say.long(LEAST_BACK)} lies on the wall, d = 0"
            + (f" (the nearest point is {say.long(nearest)} out)" if nearest > SNAP else ""),
            "draw a straight back along d = 0",
        )
    # Counter-clockwise, the back is travelled downwards.
    lowest = min(backs, key=lambda i: loop[i].end[1])
    return [*loop[lowest + 1 :], *loop[: lowest + 1]]
