"""A run along walls unrolled at true size: x along the wall line in plan, y up from the scene's own 0, mm.

Each piece is seen square on. At an outside corner a piece reaches past the fold by its projection, as it does on site.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.exports.dxf_fronts import FrontPoint, MemberFront, Side, fronts_of
from preview.exports.dxf_page import (
    ARRISES,
    BLOCKS,
    ENDS,
    FOLDS,
    HIDDEN,
    JOINTS,
    OUTLINE,
    Layer,
    Stroke,
    box_of,
    lines_through,
    straightened,
)
from preview.exports.dxf_words import Spot
from preview.joinery import Limit, Piece, into_room
from preview.profiles import Edge, Line, Point, arc_through, flatten, measure
from preview.runs import Run

Floats = NDArray[np.float64]

PAST = 40.0
"""mm that a fold's line runs past the molding."""
BESIDE = 60.0
"""mm from a fold within which lines end that belong to it."""
TURNS = 1e-9
APART = 1e-6
NEAR, SEEN = 0.002, 0.02


@dataclass(frozen=True)
class Front:
    """What an elevation shows of a run: strokes, and where its pieces' names go."""

    strokes: tuple[Stroke, ...]
    spots: tuple[Spot, ...]


def meeting_pieces(built: Built) -> set[tuple[int, bool]]:
    """The ends (piece's number, whether it is its last) at which another piece is met."""
    found: set[tuple[int, bool]] = set()
    for pair in built.joints:
        if pair.before is not None and pair.after is not None:
            found |= {(pair.before, pair.before_at_end), (pair.after, pair.after_at_end)}
    return found


def told_once(strokes: Sequence[Stroke]) -> tuple[Stroke, ...]:
    """Strokes without those that lie wholly on one before, as a cut that two pieces share."""
    seen: set[tuple[str, frozenset[tuple[float, float]]]] = set()
    found: list[Stroke] = []
    for stroke in strokes:
        ends = frozenset((round(x, 4) + 0.0, round(y, 4) + 0.0) for e in stroke.edges for x, y in (e.start, e.end))
        key = (stroke.layer.name, ends)
        if stroke.layer is not JOINTS or key not in seen:
            found.append(stroke)
        seen.add(key)
    return tuple(found)


def unrolled_front(built: Built, run: Run) -> Front:
    """A run along walls, unrolled."""
    begins = [0.0]
    for element in run.elements:
        begins.append(begins[-1] + element.length)
    meets = meeting_pieces(built)
    first = 0
    mine: list[tuple[int, Piece]] = []
    profiles = {}
    for line in built.lines:
        if line.run is run:
            mine += [(first + i, piece) for i, piece in enumerate(line.pieces)]
            if line.pieces[0].role != "block":
                profiles[line.member] = line.profile
        first += len(line.pieces)
    fronts = dict(zip(profiles, fronts_of(list(profiles.values())), strict=True))
    top = max((measure(profile).h_max for profile in profiles.values()), default=0.0)
    strokes: list[Stroke] = []
    spots: list[Spot] = []
    for number, piece in mine:
        drawn: list[Stroke] = []
        if piece.role == "block":
            drawn = list(_block(run, piece, begins))
        elif piece.role == "molding":
            shown = _Shown(run, piece, begins[piece.index - 1])
            drawn = list(shown.strokes(fronts[piece.member], [(number, at_end) in meets for at_end in (False, True)]))
        if not drawn:
            continue
        strokes += drawn
        spots.append(_spot(run, piece, drawn, begins, top))
    strokes += _folds(run, begins, tuple(strokes))
    return Front(told_once(strokes), tuple(spots))


def _spot(run: Run, piece: Piece, drawn: Sequence[Stroke], begins: Sequence[float], top: float) -> Spot:
    """Where a piece is named: over its middle, and over the whole build-up; top: of that, mm."""
    left, _, right, high = box_of(drawn)
    if piece.role == "block":
        return Spot(piece.name, ((left + right) / 2, high), (1.0, 0.0), (0.0, 1.0), 0.0, right - left)
    element = run.elements[piece.index - 1]
    slope = element.slope_at(element.length / 2)
    long = math.hypot(1.0, slope)
    at = (begins[piece.index - 1] + element.length / 2, element.height + element.rise(element.length / 2) + top)
    return Spot(piece.name, at, (1.0 / long, slope / long), (-slope / long, 1.0 / long), 0.0, right - left)


@dataclass(frozen=True)
class _Shown:
    """A piece of molding laid flat; begin: where its element begins on the unrolled wall line, mm."""

    run: Run
    piece: Piece
    begin: float

    @property
    def offset(self) -> float:
        """Where its own line begins: later than its element beside a corner block."""
        element, own = self.run.elements[self.piece.index - 1], self.piece.element
        if element.sweep:
            return self.begin
        (x, y), (tx, ty) = element.start, element.tangent
        return self.begin + (own.start[0] - x) * tx + (own.start[1] - y) * ty

    def place(self, points: Sequence[FrontPoint], at_end: bool, clipped: bool) -> list[Point]:
        """Where points of the face begin or stop; clipped: no further than a coped neighbor leaves them seen."""
        piece = self.piece
        d, h = (np.array([getattr(each, name) for each in points]) for name in ("d", "h"))
        sides = [piece.stations(d, h, limit)[int(at_end)] for limit in LIMITS]
        station = np.where([each.side == "above" for each in points], sides[1], sides[0])
        turn = self.cope_turn(at_end)
        if clipped and turn:
            back = d * math.tan(turn / 2)
            station = np.minimum(station, piece.element.length - back) if at_end else np.maximum(station, back)
        return self.at(station, d, h)

    def at(self, station: Floats, d: Floats, h: Floats) -> list[Point]:
        """Points of the piece at stations on the unrolled wall line and their heights."""
        piece = self.piece
        x = self.offset + station - piece.tilt * h
        y = piece.element.height + piece.element.rise(station) + piece.shear * d + piece.up[2] * h
        return list(zip(x.tolist(), y.tolist(), strict=True))

    def cope_turn(self, at_end: bool) -> float:
        """The turn of the corner in which this piece runs on to the wall and a coped one hides its end; 0 elsewhere."""
        cut = self.piece.end if at_end else self.piece.begin
        if cut.kind != "butt to wall":
            return 0.0
        corner = (self.piece.index - (0 if at_end else 1)) % len(self.run.elements)
        return max(self.run.hand * self.run.turns[corner], 0.0)

    def strokes(self, front: MemberFront, meets: Sequence[bool]) -> Iterator[Stroke]:
        """Its level lines and its two ends, whose contours are those of its face."""
        piece = self.piece
        points = [arris.at for arris in front.arrises]
        ends = [self.place(points, at_end, True) for at_end in (False, True)]
        for arris, first, last in zip(front.arrises, *ends, strict=True):
            layer = HIDDEN if arris.hidden else OUTLINE if arris.outline else ARRISES
            if last[0] - first[0] > TURNS:
                yield Stroke(layer, (self.level_line(arris.at, first, last),), piece.name)
        if piece.shear:
            yield from self.behind(front, meets)
        for at_end in (False, True):
            layer = JOINTS if meets[int(at_end)] else ENDS
            yield from self.contour(front, at_end, layer, True)
            if self.cope_turn(at_end):
                yield from self.contour(front, at_end, HIDDEN, False)
                whole = self.place(points, at_end, False)
                for arris, seen, far in zip(front.arrises, ends[int(at_end)], whole, strict=True):
                    if arris.outline:
                        yield Stroke(HIDDEN, lines_through((seen, far)), piece.name)

    def behind(self, front: MemberFront, meets: Sequence[bool]) -> Iterator[Stroke]:
        """Of a section sheared to meet a raked neighbor, what stands up or hangs down past the front of its face."""
        piece = self.piece
        outline = flatten(piece.profile, NEAR).points
        high = outline @ np.array([piece.shear, 1.0])
        for arris, number in ((front.arrises[-1], int(high.argmax())), (front.arrises[0], int(high.argmin()))):
            if abs(high[number] - piece.shear * arris.at.d - arris.at.h) < SEEN:
                continue
            points = [arris.at, FrontPoint(float(outline[number, 0]), float(outline[number, 1]), "below")]
            begin, end = (self.place(points, at_end, False) for at_end in (False, True))
            yield Stroke(OUTLINE, (self.level_line(points[1], begin[1], end[1]),), piece.name)
            for edge, meeting in zip((begin, end), meets, strict=True):
                yield Stroke(JOINTS if meeting else ENDS, lines_through(edge), piece.name)

    def contour(self, front: MemberFront, at_end: bool, layer: Layer, clipped: bool) -> Iterator[Stroke]:
        """The line in which the face ends; what others hide of it is on its own layer."""
        for hidden, sides in groupby(front.contour, key=lambda side: side.hidden):
            for part in _unbroken(sides):
                edges = straightened(self.place(part, at_end, clipped))
                if edges:
                    yield Stroke(HIDDEN if hidden else layer, edges, self.piece.name)

    def level_line(self, at: FrontPoint, first: Point, last: Point) -> Edge:
        """A level line of the face: on an easement the arc by which it climbs."""
        if not self.piece.element.bend:
            return Line(first, last)
        station = np.array([(first[0] + last[0]) / 2 - self.offset + self.piece.tilt * at.h])
        (middle,) = self.at(station, np.array([at.d]), np.array([at.h]))
        return arc_through(first, middle, last)


LIMITS: tuple[Limit, Limit] = ("below", "above")


def _unbroken(sides: Iterable[Side]) -> list[list[FrontPoint]]:
    """The points of a contour, parted where a height is left out."""
    found: list[list[FrontPoint]] = []
    for side in sides:
        if not found or side.foot.h - found[-1][-1].h > APART:
            found.append([])
        found[-1] += [side.foot, side.top]
    return found


def _block(run: Run, piece: Piece, begins: Sequence[float]) -> Iterator[Stroke]:
    """A block as the oblongs it is seen as: one in line, two where it stands at a corner."""
    element, size = piece.element, measure(piece.profile)
    if piece.stand == run.stand:
        owner = run.elements[piece.index - 1]
        (x, y), (tx, ty) = owner.start, owner.tangent
        begin = begins[piece.index - 1] + (element.start[0] - x) * tx + (element.start[1] - y) * ty
        low, high = element.height + size.h_min, element.height + size.h_max
        yield Stroke(BLOCKS, _oblong(begin, low, begin + element.length, high), piece.name)
        return
    # Carried upright: its section lies in the run's plan, and its travel is the plan's z.
    low = piece.stand.origin[2] + element.start[0]
    out = into_room(element.tangent, piece.hand)
    corners = [_upright_point(piece, edge.start, out) for edge in piece.profile.edges]
    index = piece.index - 1
    at = run.elements[index].start
    walls = (
        (begins[index] or begins[-1], run.elements[index - 1].end_tangent),
        (begins[index], run.elements[index].tangent),
    )
    for station, tangent in walls:
        along = [(x - at[0]) * tangent[0] + (y - at[1]) * tangent[1] for x, y in corners]
        edges = _oblong(station + min(along), low, station + max(along), low + element.length)
        yield Stroke(BLOCKS, edges, piece.name)


def _upright_point(piece: Piece, at: Point, out: Point) -> Point:
    """Where a point (d, h) of an upright block's section lies in plan."""
    stand, (x, y) = piece.stand, piece.element.start
    px, py = x + at[0] * out[0], y + at[0] * out[1]
    found = [
        o + px * a + py * b + at[1] * c for o, a, b, c in zip(stand.origin, stand.x, stand.y, stand.z, strict=True)
    ]
    return (found[0], found[1])


def _oblong(left: float, low: float, right: float, high: float) -> tuple[Edge, ...]:
    return lines_through([(left, low), (right, low), (right, high), (left, high), (left, low)])


def _folds(run: Run, begins: Sequence[float], strokes: Sequence[Stroke]) -> Iterator[Stroke]:
    """The lines in which the wall turns."""
    count = len(run.elements)
    found = [end for stroke in strokes for edge in stroke.edges for end in (edge.start, edge.end)]
    ends = np.array(found, np.float64).reshape(-1, 2)
    for corner in range(0 if run.closed else 1, count + int(run.closed)):
        if abs(run.turns[corner % count]) < TURNS:
            continue
        x = begins[corner]
        off = np.abs(ends[:, 0] - x)
        near = ends[off <= off.min() + BESIDE, 1] if len(ends) else np.zeros(1)
        low, high = float(near.min()), float(near.max())
        yield Stroke(FOLDS, (Line((x, low - PAST), (x, high + PAST)),))
