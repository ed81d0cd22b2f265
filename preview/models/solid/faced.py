"""The exact solid of a straight that ends on a face: a cope, or a return worked on its own end.

It is put together face by face, with no boolean operation and no search for intersections. Every face is a plane or
a round cylinder: a round of the section swept along the piece, a round of the face along the other wall. Their edges
are exact as well: lines and ellipses, for rounds that cross at one height and radius too. Only where two different
rounds cross is an edge a spline, which follows the true curve to 1e-8 mm.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from preview.joinery import Bands, Cell, FacedStraight, banded, cut_bands
from preview.models.solid import curves
from preview.models.solid.faced_parts import (
    Curve,
    End,
    Sheet,
    cap_sheet,
    course_of,
    cut_curve,
    in_space,
    line_between,
    plane,
    plane_sheet,
    side_sheet,
)
from preview.models.solid.spline import Floats
from preview.profiles import Edge

LEAST_TOLERANCE = 1e-7
JUMP = 1e-9

Loop = list[tuple[Hashable, bool]]
"""Edges by their keys, each with whether it is walked forward."""


def solid_of_faced(straight: FacedStraight) -> Any:
    """The kernel's solid of a straight, in the frame's coordinates, mm."""
    return _Body(straight).solid()


class _Body:
    """The making of one solid: vertices and edges by key, each made once, and the faces between them."""

    def __init__(self, straight: FacedStraight) -> None:
        self.frame = straight.frame
        self.ends = (
            End(0, straight.begin, straight.begin_cut),
            End(1, straight.end, straight.end_cut),
        )
        self.edges = straight.profile.edges
        breaks = sorted({*straight.begin_cut.face.breaks, *straight.end_cut.face.breaks})
        self.section = banded(straight.profile, heights=_within(straight, breaks))
        self.bands: Bands = cut_bands(self.section)
        starts = [edge.start for edge in self.section.edges]
        self.corners = [starts.index(edge.start) for edge in self.edges]
        self.count = len(starts)
        self.vertices: dict[Hashable, Any] = {}
        self.made: dict[Hashable, tuple[Any, Curve]] = {}

    def solid(self) -> Any:
        from OCP.BRep import BRep_Builder
        from OCP.TopoDS import TopoDS_Shell, TopoDS_Solid

        builder = BRep_Builder()
        shell = TopoDS_Shell()
        builder.MakeShell(shell)
        for sheet, loop in [*self._sides(), *self._caps(self.ends[0]), *self._caps(self.ends[1])]:
            builder.Add(shell, self._face(sheet, loop))
        shell.Closed(True)
        solid = TopoDS_Solid()
        builder.MakeSolid(solid)
        builder.Add(solid, shell)
        return solid

    # Points and edges.

    def _place(self, end: End, point: int, above: bool) -> Floats:
        d, h = self.bands.points[point]
        return end.place(float(d), float(h), above)

    def _jumps(self, end: End, point: int) -> bool:
        return abs(float(self._place(end, point, True)[0] - self._place(end, point, False)[0])) > JUMP

    def _node(self, end: End, point: int, above: bool) -> tuple[int, int, bool]:
        return (end.number, point, above and self._jumps(end, point))

    def _vertex(self, node: tuple[int, int, bool]) -> Any:
        from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex

        if node not in self.vertices:
            at = in_space(self.frame, self._place(self.ends[node[0]], node[1], node[2])[None])[0]
            self.vertices[node] = BRepBuilderAPI_MakeVertex(curves.point(at)).Vertex()
        return self.vertices[node]

    def _make(self, key: Hashable, ends: tuple[tuple[int, int, bool], tuple[int, int, bool]], curve: Curve) -> None:
        if key not in self.made:
            both = (self._vertex(ends[0]), self._vertex(ends[1]))
            edge = curves.edge(curve.shape, both, curve.first, curve.last, max(LEAST_TOLERANCE, 2 * curve.off))
            self.made[key] = (edge, curve)

    def _straight(self, key: Hashable, a: tuple[int, int, bool], b: tuple[int, int, bool]) -> Hashable:
        if key not in self.made:
            places = [self._place(self.ends[node[0]], node[1], node[2]) for node in (a, b)]
            self._make(key, (a, b), line_between(self.frame, *places))
        return key

    def _around(self, end: End, number: int) -> Hashable:
        """The edge in which an end cuts off what one edge of the banded section sweeps."""
        key = ("around", end.number, number)
        if key not in self.made:
            edge = self.section.edges[number]
            sides = self.bands.from_above[number]
            nodes = (
                self._node(end, number, bool(sides[0])),
                self._node(end, (number + 1) % self.count, bool(sides[1])),
            )
            self._make(key, nodes, cut_curve(self.frame, end, edge))
        return key

    def _whole(self, end: End, number: int) -> Hashable:
        """The edge in which a plane end cuts off what one edge of the profile sweeps."""
        key = ("whole", end.number, number)
        if key not in self.made:
            nodes = tuple(self._node(end, self.corners[i % len(self.corners)], False) for i in (number, number + 1))
            self._make(key, (nodes[0], nodes[1]), cut_curve(self.frame, end, self.edges[number]))
        return key

    def _jump(self, end: End, point: int) -> Hashable:
        """The edge along the travel between a point's two places, from the one below."""
        nodes = ((end.number, point, False), (end.number, point, True))
        return self._straight(("jump", end.number, point), *nodes)

    def _level(self, end: End, a: int, b: int, above: bool) -> Hashable:
        """The edge through the wood on one height, from left to right."""
        nodes = self._node(end, a, above), self._node(end, b, above)
        return self._straight(("level", *nodes), *nodes)

    # Faces.

    def _sides(self) -> Iterable[tuple[Sheet, Loop]]:
        for i, edge in enumerate(self.edges):
            after = (i + 1) % len(self.corners)
            begin, end = (self._chain(each, i) for each in self.ends)
            loop = [*begin, *self._rail(self.corners[after], 1), *_back(end), *_back(self._rail(self.corners[i], 0))]
            yield side_sheet(self.frame, edge), self._turned(loop)

    def _chain(self, end: End, number: int) -> Loop:
        """An end's edges along one edge of the profile, in its direction."""
        if end.cut.is_plane:
            return [(self._whole(end, number), True)]
        first, stop = self.corners[number], [*self.corners[1:], self.count][number]
        loop: Loop = []
        for each in range(first, stop):
            if each > first:
                loop += self._hop(end, each, self._comes(each), self._goes(each))
            loop.append((self._around(end, each), True))
        return loop

    def _comes(self, point: int) -> bool:
        return bool(self.bands.from_above[point - 1, 1])

    def _goes(self, point: int) -> bool:
        return bool(self.bands.from_above[point, 0])

    def _hop(self, end: End, point: int, before: bool, after: bool) -> Loop:
        """From one place of a point to its other, if it has two."""
        if before == after or not self._jumps(end, point):
            return []
        return [(self._jump(end, point), after)]

    def _rail(self, point: int, side: int) -> Loop:
        """Along the travel at a corner, as the edge after it (0) or before it (1) sees it."""
        comes, goes = self._comes(point), self._goes(point)
        mine = comes if side else goes
        near = []
        for end in self.ends:
            places = {above: float(self._place(end, point, above)[0]) for above in (comes, goes)}
            first = max(places.values()) if end.number == 0 else min(places.values())
            near.append(next(above for above, at in places.items() if at == first))
        nodes = [self._node(end, point, above) for end, above in zip(self.ends, near, strict=True)]
        rail = self._straight(("rail", point), nodes[0], nodes[1])
        return [
            *self._hop(self.ends[0], point, mine, near[0]),
            (rail, True),
            *self._hop(self.ends[1], point, near[1], mine),
        ]

    def _caps(self, end: End) -> Iterable[tuple[Sheet, Loop]]:
        outward = end.number == 1
        if end.cut.is_plane:
            loop: Loop = [(self._whole(end, i), True) for i in range(len(self.edges))]
            yield plane_sheet(self.frame, end, None, 0.0), self._turned(loop if outward else _back(loop))
            return
        for edge, cells in self._groups(end):
            low = float(self.bands.heights[cells[0].band])
            sheet = cap_sheet(self.frame, end, edge, low)
            for loop in _joined([self._cell(end, cell) for cell in cells]):
                yield sheet, self._turned(loop if outward else _back(loop))
        for a, b in self.bands.ledges:
            if self._jumps(end, a):
                loop = [
                    (self._level(end, a, b, False), True),
                    (self._jump(end, b), True),
                    (self._level(end, a, b, True), False),
                    (self._jump(end, a), False),
                ]
                low, high = (float(self._place(end, a, above)[0]) for above in (False, True))
                up = 1.0 if (low > high) == outward else -1.0
                place = self._place(end, a, False)
                yield plane(self.frame, place, np.array([0.0, 0.0, up])), self._turned(loop if outward else _back(loop))

    def _cell(self, end: End, cell: Cell) -> Loop:
        loop: Loop = []
        for a, b in pairwise(cell.foot):
            outline = b == (a + 1) % self.count
            loop.append((self._around(end, a) if outline else self._level(end, a, b, True), True))
        loop.append((self._around(end, cell.right), True))
        for a, b in reversed(list(pairwise(cell.head))):
            outline = a == (b + 1) % self.count
            loop.append((self._around(end, b), True) if outline else (self._level(end, a, b, False), False))
        loop.append((self._around(end, cell.left), True))
        return loop

    def _groups(self, end: End) -> list[tuple[Edge | None, list[Cell]]]:
        """The cells under one edge of the face that hang together, and that edge."""
        groups: list[tuple[Edge | None, list[Cell]]] = []
        for cell in self.bands.cells:
            heights = self.bands.heights[cell.band : cell.band + 2]
            edge = end.cut.face.edge_at(float(heights.mean()))
            feet = {pair for pair in pairwise(cell.foot) if not self._jumps(end, pair[0])}
            below = [group for group in groups if group[0] is edge and feet & _heads(group[1], cell.band)]
            hanging = [each for group in below for each in group[1]]
            groups = [group for group in groups if not any(group is each for each in below)]
            groups.append((edge, [*hanging, cell]))
        return groups

    def _turned(self, loop: Loop) -> Loop:
        return _back(loop) if self.frame.mirrored else loop

    def _face(self, sheet: Sheet, loop: Loop) -> Any:
        from OCP.BRep import BRep_Builder
        from OCP.TopAbs import TopAbs_FORWARD, TopAbs_REVERSED
        from OCP.TopLoc import TopLoc_Location
        from OCP.TopoDS import TopoDS_Face, TopoDS_Wire

        builder = BRep_Builder()
        wire = TopoDS_Wire()
        builder.MakeWire(wire)
        for key, forward in loop:
            self._track(key, sheet)
            builder.Add(
                wire, self.made[key][0].Oriented(TopAbs_FORWARD if forward != sheet.inward else TopAbs_REVERSED)
            )
        wire.Closed(True)
        face = TopoDS_Face()
        builder.MakeFace(face, sheet.surface, TopLoc_Location(), LEAST_TOLERANCE)
        builder.Add(face, wire)
        return face.Oriented(TopAbs_REVERSED if sheet.inward else TopAbs_FORWARD)

    def _track(self, key: Hashable, sheet: Sheet) -> None:
        """Give an edge its course in a round surface's own coordinates."""
        from OCP.BRep import BRep_Builder
        from OCP.TopLoc import TopLoc_Location

        if sheet.coordinates is None:
            return
        edge, curve = self.made[key]
        course, off = course_of(curve, sheet, sheet.coordinates)
        BRep_Builder().UpdateEdge(edge, course, sheet.surface, TopLoc_Location(), max(LEAST_TOLERANCE, 2 * off))


def _within(straight: FacedStraight, breaks: Sequence[float]) -> list[float]:
    low = min(edge.bounds[1] for edge in straight.profile.edges)
    high = max(edge.bounds[3] for edge in straight.profile.edges)
    return [h for h in breaks if low <= h <= high]


def _heads(cells: Sequence[Cell], band: int) -> set[tuple[int, int]]:
    """The stretches of the height below a band that cells under it reach up to."""
    return {pair for cell in cells if cell.band < band for pair in pairwise(cell.head)}


def _back(loop: Loop) -> Loop:
    return [(key, not forward) for key, forward in reversed(loop)]


def _joined(loops: list[Loop]) -> list[Loop]:
    """One loop round cells that hang together: the edges between two of them go."""
    used = [step for loop in loops for step in loop]
    seen = set(used)
    return [[(key, forward) for key, forward in used if (key, not forward) not in seen]]
