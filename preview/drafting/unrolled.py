"""A run unrolled along its wall line: every stretch laid flat beside the next, its arrises and ends as edges."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.drafting.fronts import Arris, Front, front_of
from preview.joinery import MemberRun, Piece
from preview.profiles import Edge, Line, Point, arc_through
from preview.runs import Run

Floats = NDArray[np.float64]

OUTLINE, ARRIS = 0.35, 0.18
"""mm; two to one, of the series 0.18, 0.25, 0.35, 0.5, 0.7 (ISO 128, from memory)."""
APART = 0.45
"""mm on the page between two arrises, at least; of closer ones only one is drawn."""


@dataclass(frozen=True)
class Stretch:
    """An element laid out: from where to where along the unrolled wall line, mm, and its pieces by owner (line)."""

    index: int
    begin: float
    end: float
    pieces: dict[int, tuple[int, Piece]]


def unrolled(run: Run) -> list[tuple[float, float]]:
    """Where each element begins and ends along the unrolled wall line, mm in plan; the last end is the whole length."""
    ends = [0.0]
    for element in run.elements:
        ends.append(ends[-1] + element.length)
    return list(pairwise(ends))


class Unrolled:
    """A run laid flat: x along the wall line in plan, y up from the floor, mm."""

    def __init__(self, built: Built, run: Run) -> None:
        self.built, self.run = built, run
        first = 0
        owners: list[tuple[int, MemberRun]] = []
        for line in built.lines:
            if line.run is run:
                owners.append((first, line))
            first += len(line.pieces)
        lines = [(start, line) for start, line in owners if line.pieces[0].role != "block"]
        self.front = front_of([line.profile for _, line in lines]) if lines else None
        self.blocks = [
            (start + i, piece) for start, line in owners for i, piece in enumerate(line.pieces) if piece.role == "block"
        ]
        self.stretches: list[Stretch] = []
        for index, (begin, end) in enumerate(unrolled(run)):
            mine = {
                owner: (start + i, piece)
                for owner, (start, line) in enumerate(lines)
                for i, piece in enumerate(line.pieces)
                if piece.index == index + 1 and piece.role == "molding"
            }
            self.stretches.append(Stretch(index, begin, end, mine))
        rows = self.front.rows() if self.front else []
        arrises = [(a.d, a.h, a.owner) for a in self.front.arrises] if self.front else []
        self.rows: list[slice] = []
        at = 0
        for row in rows:
            self.rows.append(slice(at, at + len(row)))
            at += len(row)
        self.points = np.array([point for row in rows for point in row] + arrises).reshape(-1, 3)
        self.first_arris = at
        self.known: dict[tuple[int, bool], Floats] = {}

    def z(self, piece: Piece, station: float, d: float, h: float) -> float:
        """How high a profile point stands, mm above the floor."""
        element = piece.element
        return element.height + element.rise(station) + piece.shear * d + piece.up[2] * h

    def offset(self, stretch: Stretch, piece: Piece) -> float:
        """Where a piece's own line begins on the unrolled wall line: later than its element beside a corner block."""
        element = self.run.elements[stretch.index]
        if element.sweep:
            return stretch.begin
        (x, y), (tx, ty) = element.start, element.tangent
        return stretch.begin + (piece.element.start[0] - x) * tx + (piece.element.start[1] - y) * ty

    def shown(self, stretch: Stretch, h: Floats) -> tuple[Floats, Floats]:
        """From where to where along the wall line a stretch is shown at heights (n,) of its profile: cut at folds."""
        low, high = np.full(len(h), -math.inf), np.full(len(h), math.inf)
        run, count = self.run, len(self.run.elements)
        last = stretch.index == count - 1
        if stretch.index or run.closed:
            low = stretch.begin + self.hidden(stretch.index, h)
        if not last or run.closed:
            high = stretch.end - self.hidden((stretch.index + 1) % count, h)
        return low, high

    def hidden(self, corner: int, h: Floats) -> Floats:
        """How far from a corner, mm, the molding of its other wall hides a piece that runs on behind it, at heights."""
        way = self.run.ways[corner] if self.run.ways else None
        turn = self.run.hand * self.run.turns[corner]
        if way is None or way.kind != "cope" or turn <= 0 or self.front is None:
            return np.zeros(len(h))
        return np.array([self.front.reach(float(each)) for each in h]) * math.tan(turn / 2)

    def places(self, stretch: Stretch, at_end: bool) -> Floats:
        """Where all points of the contour, then of all arrises, begin or stop: (n, 2); nan without a piece."""
        key = (stretch.index, at_end)
        if key not in self.known:
            found = np.full((len(self.points), 2), math.nan)
            for owner, (_, piece) in stretch.pieces.items():
                mine = self.points[:, 2] == owner
                d, h = self.points[mine, 0], self.points[mine, 1]
                station = piece.stations(d, h)[int(at_end)]
                low, high = self.shown(stretch, h)
                offset = self.offset(stretch, piece)
                station = np.clip(station, low - offset, high - offset)
                element = piece.element
                up = element.height + element.rise(station) + piece.shear * d + piece.up[2] * h
                found[mine] = np.column_stack([offset + station - piece.tilt * h, up])
            self.known[key] = found
        return self.known[key]

    def lines(self, stretch: Stretch, factor: float, begins: bool) -> Iterator[tuple[Edge, float]]:
        """The lines of the molding of one stretch, mm, with their weights: arrises and ends.

        begins: whether the line in which it begins is drawn in any case.
        """
        if self.front is None or not stretch.pieces:
            return
        first, last = self.places(stretch, False), self.places(stretch, True)
        for number, arris in _spaced(self.front, factor):
            begin, end = first[self.first_arris + number], last[self.first_arris + number]
            if end[0] - begin[0] > 1e-6:
                weight = OUTLINE if arris.outline else ARRIS
                yield self.level_line(stretch, arris, _point(begin), _point(end)), weight
        for at_end, found in ((False, first), (True, last)):
            weight_of = self.end_weight(stretch, at_end, begins)
            if weight_of is None:
                continue
            for row in self.rows:
                kept = found[row]
                for edge in _polyline([_point(point) for point in kept[~np.isnan(kept[:, 0])]]):
                    yield edge, weight_of

    def level_line(self, stretch: Stretch, arris: Arris, first: Point, last: Point) -> Edge:
        """An arris along a stretch: a line, on an easement the arc it climbs by."""
        _, piece = stretch.pieces[arris.owner]
        if not piece.element.bend:
            return Line(first, last)
        offset = self.offset(stretch, piece)
        middle = (first[0] + last[0]) / 2
        return arc_through(first, (middle, self.z(piece, middle - offset, arris.d, arris.h)), last)

    def end_weight(self, stretch: Stretch, at_end: bool, begins: bool) -> float | None:
        """How heavy the line is in which a stretch begins or ends; None for what the stretch before has drawn."""
        count, run = len(self.run.elements), self.run
        corner = stretch.index + 1 if at_end else stretch.index
        free = not run.closed and corner in (0, count)
        if free:
            return OUTLINE
        turn = run.hand * run.turns[corner % count]
        if turn > 1e-9:
            return OUTLINE  # an inside corner: each side has its own line
        if (
            abs(turn) < 1e-9
            and at_end
            and any(p.end.kind == "scarf" or p.end.kind == "elevation miter" for _, p in stretch.pieces.values())
        ):
            return OUTLINE
        return ARRIS if at_end or begins else None

    def block_lines(self, row: Sequence[Stretch]) -> Iterator[tuple[Edge, float]]:
        """The blocks that stand in a row, as the oblongs they are seen as."""
        for number, piece in self.blocks:
            z = self.built.meshes[number].points[:, 2]
            low, high = float(z.min()), float(z.max())
            index = piece.index - 1
            stretch = self.stretches[index]
            if piece.stand == self.run.stand:
                spans = [(stretch.begin, stretch.end, stretch)]
            else:
                before = self.stretches[index - 1]
                spans = [
                    (before.end - self.set_back(before, True), before.end, before),
                    (stretch.begin, stretch.begin + self.set_back(stretch, False), stretch),
                ]
            for begin, end, owner in spans:
                if owner in row and end > begin:
                    corners = [(begin, low), (end, low), (end, high), (begin, high), (begin, low)]
                    for a, b in pairwise(corners):
                        yield Line(a, b), OUTLINE

    def set_back(self, stretch: Stretch, at_end: bool) -> float:
        """How far from a corner molding stops for a corner block, mm."""
        for _, piece in stretch.pieces.values():
            begin = self.offset(stretch, piece)
            return stretch.end - begin - piece.element.length if at_end else begin - stretch.begin
        return 0.0

    def span(self, stretch: Stretch, at: float) -> tuple[float, float]:
        """From which to which height the molding reaches at a place on the unrolled wall line, mm."""
        heights: list[float] = []
        element = self.run.elements[stretch.index]
        up = element.height + element.rise(min(max(at - stretch.begin, 0.0), element.length))
        if self.front is not None and stretch.pieces:
            heights += [up + self.front.strips[0].foot[1], up + self.front.strips[-1].top[1]]
        for number, piece in self.blocks:
            if piece.index - 1 == stretch.index:
                z = self.built.meshes[number].points[:, 2]
                heights += [float(z.min()), float(z.max())]
        return (min(heights), max(heights)) if heights else (up, up)

    def left_end(self, stretch: Stretch) -> float:
        """The leftmost place of a stretch, past its begin where the molding reaches further."""
        return float(np.nanmin([stretch.begin, *self.places(stretch, False)[:, 0]]))


def _point(row: Floats) -> Point:
    return (float(row[0]), float(row[1]))


def _spaced(front: Front, factor: float) -> list[tuple[int, Arris]]:
    """The arrises that can be told apart on the page: the outline's, and of the others one of those that crowd."""
    kept = [(number, arris) for number, arris in enumerate(front.arrises) if arris.outline]
    for number, arris in enumerate(front.arrises):
        if not arris.outline and all(abs(arris.h - other.h) * factor >= APART for _, other in kept):
            kept.append((number, arris))
    return kept


def _polyline(points: Sequence[Point]) -> Iterator[Line]:
    """Points as lines, those in one line joined."""
    kept: list[Point] = []
    for point in points:
        if kept and math.dist(kept[-1], point) < 1e-9:
            continue
        while len(kept) > 1 and _in_line(kept[-2], kept[-1], point):
            kept.pop()
        kept.append(point)
    yield from (Line(a, b) for a, b in pairwise(kept))


def _in_line(a: Point, b: Point, c: Point) -> bool:
    cross = (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
    ahead = (b[0] - a[0]) * (c[0] - b[0]) + (b[1] - a[1]) * (c[1] - b[1])
    return abs(cross) < 1e-9 * max(math.dist(a, b) * math.dist(b, c), 1e-9) and ahead >= 0
