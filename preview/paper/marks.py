"""What a drawing is made of: marks on a page in mm, y up, painted alike as SVG, PDF and PNG.

marks -> lettering -> paint
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from preview.profiles import Arc, Edge, Line, Point

THICK = 0.7
"""mm, the outline. Thick to thin is 2 to 1, both from the series 0.18, 0.25, 0.35, 0.5, 0.7 (ISO 128, from memory)."""
THIN = 0.35
"""mm, dimension, extension and leader lines."""
FINE = 0.18
"""mm, section lining."""
INK = "#1b1f24"
SOFT = "#4d555e"
"""Dimension, extension and leader lines: full strength is for the outline and the figures."""
FAINT = "#5f666e"
"""Still 5.8 to 1 against white."""
WOOD = "#f7eedd"
LINING = "#d8c39b"
WHITE = "#ffffff"

Box = tuple[float, float, float, float]
"""(least x, least y, largest x, largest y), mm."""


@dataclass(frozen=True)
class Trace:
    """Lines and arcs in one stroke: a new path begins where an edge does not start at the end of the one before.

    weight: of the line, mm; 0 draws none. fill: a color, or None. dash: mm on and off in turn; () is a whole line.
    """

    edges: tuple[Edge, ...]
    weight: float = THIN
    ink: str = INK
    fill: str | None = None
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class Words:
    """One line of text; `at` is the left end of its baseline. size: of the type, mm.

    turn: of the baseline about `at`, radians, counter-clockwise.
    """

    text: str
    at: Point
    size: float
    ink: str = INK
    bold: bool = False
    turn: float = 0.0


Mark = Trace | Words


@dataclass(frozen=True)
class Clipped:
    """Marks of which only what lies in a box is shown."""

    box: Box
    marks: tuple[Mark, ...]


@dataclass(frozen=True)
class Page:
    """A page, width by height in mm, its lower left corner at (0, 0)."""

    width: float
    height: float
    marks: tuple[Mark | Clipped, ...]


@dataclass(frozen=True)
class Placing:
    """Turns (x, y) into (a x + b y + across, c x + d y + up); turning, mirroring and scaling, never shearing."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    across: float = 0.0
    up: float = 0.0

    def point(self, at: Point) -> Point:
        """Where a point goes."""
        x, y = at
        return (self.a * x + self.b * y + self.across, self.c * x + self.d * y + self.up)

    def edge(self, edge: Edge) -> Edge:
        """Where an edge goes; a mirror image of an arc turns the other way."""
        start, end = self.point(edge.start), self.point(edge.end)
        if isinstance(edge, Line):
            return Line(start, end)
        sweep = math.copysign(1.0, self.a * self.d - self.b * self.c) * edge.sweep
        return Arc(start, end, self.point(edge.center), sweep)

    def edges(self, edges: Iterable[Edge]) -> tuple[Edge, ...]:
        """Where edges go, in order."""
        return tuple(self.edge(edge) for edge in edges)


def scaled(scale: float, across: float = 0.0, up: float = 0.0) -> Placing:
    """The placing that only scales and shifts."""
    return Placing(scale, 0.0, 0.0, scale, across, up)


def moved(marks: Iterable[Mark], across: float, up: float) -> tuple[Mark, ...]:
    """The marks shifted, mm."""
    shift = scaled(1.0, across, up)
    return tuple(
        replace(mark, at=shift.point(mark.at))
        if isinstance(mark, Words)
        else replace(mark, edges=shift.edges(mark.edges))
        for mark in marks
    )


def shifted(marks: Iterable[Mark | Clipped], across: float, up: float) -> tuple[Mark | Clipped, ...]:
    """The same as `moved`, of marks among which some are clipped."""
    found: list[Mark | Clipped] = []
    for mark in marks:
        if isinstance(mark, Clipped):
            left, low, right, high = mark.box
            box = (left + across, low + up, right + across, high + up)
            found.append(Clipped(box, moved(mark.marks, across, up)))
        else:
            found += moved((mark,), across, up)
    return tuple(found)


def stroke(*points: Point, weight: float = THIN, ink: str = SOFT) -> Trace:
    """Straight lines from point to point."""
    return Trace(tuple(Line(a, b) for a, b in pairwise(points)), weight, ink)


def patch(points: Sequence[Point], fill: str) -> Trace:
    """A filled polygon without a line round it."""
    closed = [*points, points[0]]
    return Trace(tuple(Line(a, b) for a, b in pairwise(closed)), 0.0, fill, fill)


def arrowhead(tip: Point, angle: float, length: float = 3.3) -> Trace:
    """A filled arrowhead, three times as long as wide, that points along `angle`, radians."""
    ux, uy = math.cos(angle), math.sin(angle)
    back, half = (tip[0] - length * ux, tip[1] - length * uy), length / 6
    return patch([tip, (back[0] - half * uy, back[1] + half * ux), (back[0] + half * uy, back[1] - half * ux)], SOFT)
