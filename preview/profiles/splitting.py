"""Edges of many outlines cut where they meet, so that none crosses another: crossings, tangencies and overlaps."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from preview.profiles.edges import Arc, Edge, Line
from preview.profiles.pens import Point

NEAR = 1e-8
"""An end this near to another edge, mm, lies on it; two points twice as near as this are one."""
GRAZE = 1e-9
"""A line or an arc that enters a circle by no more than this, mm, is tangent to it."""
SAME = 5e-8
"""Two parts between the same points, no further apart than this half way, mm, are one part."""
SPECK = 1e-7
"""A part shorter than this, mm, both of whose ends are one point, is no part."""


@dataclass(frozen=True)
class Part:
    """A part of an edge between two meetings: node numbers of its ends, and the edge it was cut from."""

    start: int
    end: int
    edge: Edge
    source: int


class Nodes:
    """Points numbered; one within 2e-8 mm of an earlier one gets its number, and so moves onto it."""

    def __init__(self) -> None:
        self.points: list[Point] = []
        self._cells: dict[tuple[int, int], list[int]] = {}

    def number(self, at: Point) -> int:
        """The number of a point."""
        column, row = math.floor(at[0] / (4 * NEAR)), math.floor(at[1] / (4 * NEAR))
        for cell in ((column + i, row + j) for i in (0, -1, 1) for j in (0, -1, 1)):
            for known in self._cells.get(cell, ()):
                if math.dist(self.points[known], at) <= 2 * NEAR:
                    return known
        self._cells.setdefault((column, row), []).append(len(self.points))
        self.points.append(at)
        return len(self.points) - 1


def split(edges: Sequence[Edge]) -> tuple[list[Part], list[Point]]:
    """The edges cut at every meeting with another, and the points that their ends are numbered by.

    A part keeps the direction of its edge; ends given come before meetings computed, so an exact end stays.
    """
    nodes = Nodes()
    ends = [(nodes.number(edge.start), nodes.number(edge.end)) for edge in edges]
    met: list[set[int]] = [set(pair) for pair in ends]
    box = np.array([edge.bounds for edge in edges]).reshape(-1, 4)
    low, high = box[:, :2] - NEAR, box[:, 2:] + NEAR
    for i in range(len(edges) - 1):
        near = ((low[i] <= high[i + 1 :]) & (low[i + 1 :] <= high[i])).all(axis=1)
        for j in (np.flatnonzero(near) + i + 1).tolist():
            for at in meetings(edges[i], edges[j]):
                number = nodes.number(at)
                met[i].add(number)
                met[j].add(number)
    parts: list[Part] = []
    for source, edge in enumerate(edges):
        parts += _cut(edge, source, ends[source], met[source], nodes.points)
    return parts, nodes.points


def meetings(a: Edge, b: Edge) -> list[Point]:
    """Every point where two edges meet: ends of one on the other, crossings, and where they touch."""
    found = [end for end in (a.start, a.end) if away(b, end) <= NEAR]
    found += [end for end in (b.start, b.end) if away(a, end) <= NEAR]
    return found + [at for at in _crossings(a, b) if _between(a, at) and _between(b, at)]


def away(edge: Edge, at: Point) -> float:
    """The distance, mm, from a point to an edge."""
    if _between(edge, at):
        if isinstance(edge, Arc):
            return abs(math.dist(at, edge.center) - edge.radius)
        (x0, y0), (x1, y1) = edge.start, edge.end
        return abs((at[0] - x0) * (y1 - y0) - (at[1] - y0) * (x1 - x0)) / edge.length
    return min(math.dist(at, edge.start), math.dist(at, edge.end))


def part_of(edge: Edge, start: Point, end: Point) -> Edge:
    """The part of an edge between two of its points, in its own direction."""
    if isinstance(edge, Line):
        return Line(start, end)
    cx, cy = edge.center
    ux, uy, vx, vy = start[0] - cx, start[1] - cy, end[0] - cx, end[1] - cy
    turn = math.copysign(1.0, edge.sweep)
    angle = turn * math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
    return Arc(start, end, edge.center, turn * (angle if angle > 0.0 else angle + 2 * math.pi))


def middle(edge: Edge) -> Point:
    """The point half way along an edge."""
    if isinstance(edge, Arc):
        return edge.via
    return ((edge.start[0] + edge.end[0]) / 2, (edge.start[1] + edge.end[1]) / 2)


def _cut(edge: Edge, source: int, ends: tuple[int, int], met: Iterable[int], points: Sequence[Point]) -> list[Part]:
    """An edge cut at numbered points on it."""
    start, end = ends
    between = sorted((number for number in met if number not in ends), key=lambda n: _along(edge, points[n]))
    if not between:
        if start == end and edge.length < SPECK:
            return []
        whole = Line(points[start], points[end]) if isinstance(edge, Line) else edge
        if isinstance(whole, Arc):
            whole = Arc(points[start], points[end], whole.center, whole.sweep)
        return [Part(start, end, whole, source)]
    stops = [start, *between, end]
    return [Part(i, j, part_of(edge, points[i], points[j]), source) for i, j in pairwise(stops)]


def _along(edge: Edge, at: Point) -> float:
    """How far along an edge a point of it lies, in any steady measure."""
    if isinstance(edge, Arc):
        return edge.angle_to(at)
    (x0, y0), (x1, y1) = edge.start, edge.end
    return (at[0] - x0) * (x1 - x0) + (at[1] - y0) * (y1 - y0)


def _between(edge: Edge, at: Point) -> bool:
    """Whether a point faces the edge between its ends."""
    if isinstance(edge, Arc):
        return edge.angle_to(at) <= abs(edge.sweep)
    return 0.0 <= _along(edge, at) <= edge.length**2


def _crossings(a: Edge, b: Edge) -> list[Point]:
    """Where the line or circle of one edge meets that of the other, one point where they are tangent."""
    if isinstance(a, Line):
        return _line_line(a, b) if isinstance(b, Line) else _line_circle(a, b)
    return _line_circle(b, a) if isinstance(b, Line) else _circle_circle(a, b)


def _line_line(a: Line, b: Line) -> list[Point]:
    ux, uy = a.end[0] - a.start[0], a.end[1] - a.start[1]
    vx, vy = b.end[0] - b.start[0], b.end[1] - b.start[1]
    cross = ux * vy - uy * vx
    if abs(cross) <= 1e-12 * a.length * b.length:
        return []  # side by side: an overlap shows at its ends
    t = ((b.start[0] - a.start[0]) * vy - (b.start[1] - a.start[1]) * vx) / cross
    return [(a.start[0] + t * ux, a.start[1] + t * uy)]


def _line_circle(line: Line, arc: Arc) -> list[Point]:
    length, radius = line.length, arc.radius
    ux, uy = (line.end[0] - line.start[0]) / length, (line.end[1] - line.start[1]) / length
    dx, dy = arc.center[0] - line.start[0], arc.center[1] - line.start[1]
    along, aside = dx * ux + dy * uy, dy * ux - dx * uy
    inside = radius - abs(aside)
    if inside < -GRAZE:
        return []
    half = 0.0 if inside <= GRAZE else math.sqrt(inside * (radius + abs(aside)))
    steps = (along,) if half == 0.0 else (along - half, along + half)
    return [(line.start[0] + s * ux, line.start[1] + s * uy) for s in steps]


def _circle_circle(a: Arc, b: Arc) -> list[Point]:
    apart, ra, rb = math.dist(a.center, b.center), a.radius, b.radius
    if apart <= NEAR:
        return []  # one circle: an overlap shows at its ends
    outside, inside = ra + rb - apart, apart - abs(ra - rb)
    if outside < -GRAZE or inside < -GRAZE:
        return []
    ux, uy = (b.center[0] - a.center[0]) / apart, (b.center[1] - a.center[1]) / apart
    if outside <= GRAZE:
        reach = (ra, 0.0)
    elif inside <= GRAZE:
        reach = (math.copysign(ra, ra - rb), 0.0)
    else:
        along = (apart + (ra - rb) * (ra + rb) / apart) / 2
        reach = (along, math.sqrt(max(0.0, (ra - along) * (ra + along))))
    foot = (a.center[0] + reach[0] * ux, a.center[1] + reach[0] * uy)
    sides = (reach[1], -reach[1]) if reach[1] else (0.0,)
    return [(foot[0] - s * uy, foot[1] + s * ux) for s in sides]
