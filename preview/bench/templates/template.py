"""What a template is: lines at full size, what they are for, and the words that go with them.

A template lies in its own plane, mm, x to the right and y up, as one looks down on the paper.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from preview.paper import Placing, metric
from preview.profiles import Arc, Edge, Line, Point
from preview.units import Unit, inches

Floats = NDArray[np.float64]

TemplateKind = Literal[
    "curve rod",
    "curve",
    "easement",
    "curved miter",
    "curved miter laid flat",
    "cope",
    "self-return",
    "raked profile",
]
TITLES: dict[TemplateKind, str] = {
    "curve rod": "Curve rod",
    "curve": "Curved piece",
    "easement": "Side of an easement",
    "curved miter": "Curved miter",
    "curved miter laid flat": "Curved miter on the straight, laid flat",
    "cope": "Cope line",
    "self-return": "Self-return line",
    "raked profile": "Raked profile",
}
"""The kinds in the order in which they are numbered, and how each is headed."""

Role = Literal["cut", "back", "face", "wall", "edge", "profile", "guide", "center"]
LAYERS: dict[Role, str] = {
    "cut": "Cut line",
    "back": "Back line",
    "face": "Face line",
    "wall": "Wall line",
    "edge": "Edge of the piece",
    "profile": "Profile outline",
    "guide": "Guide line",
    "center": "Center mark",
}
NOTES = "Notes"
"""The layer of what is written."""

STRAY = 0.01
"""mm that a polyline may stray from the curve it stands for: half of what is promised."""
TO_THE = 32
"""Lengths are read to 1/32 in."""
CLOSE = 0.05
"""mm that a length read so may be off without saying so."""
OFF_THE_WALL = 0.01
"""A member whose back is this near to the wall line, mm, stands on it."""
FINEST = 4096
"""The most chords that a curve is ever drawn in."""


@dataclass(frozen=True)
class TemplateLine:
    """Edges end to end, for one purpose.

    strays: how far they are from the true curve at most, mm; 0 where they are the curve itself.
    """

    role: Role
    edges: tuple[Edge, ...]
    strays: float = 0.0


@dataclass(frozen=True)
class TemplateLabel:
    """Words beside the lines; `at` is the middle of their baseline. bold: the piece's own name on its wood."""

    text: str
    at: Point
    size: float = 3.4
    bold: bool = False


@dataclass(frozen=True)
class Template:
    """A template: the lines with their labels, and what a person must know to use it.

    pieces: the pieces it serves, or the runs whose wall it fits. words: how it is seen, and its figures. more: lines
    that the paper shows only where they take no further sheet. check: what to measure on sheets that are joined.
    number: its place in the set, from 1.
    """

    kind: TemplateKind
    pieces: tuple[str, ...]
    words: tuple[str, ...]
    lines: tuple[TemplateLine, ...]
    labels: tuple[TemplateLabel, ...] = ()
    more: tuple[TemplateLine, ...] = ()
    check: str = ""
    number: int = 0

    @property
    def sign(self) -> str:
        """The short sign that is written on every sheet, T1 and on."""
        return f"T{self.number}"

    @property
    def title(self) -> str:
        """What it is, and of which piece."""
        others = len(self.pieces) - 1
        return f"{TITLES[self.kind]}: {self.pieces[0]}{f' and {others} more' if others else ''}"

    @property
    def strays(self) -> float:
        """How far any of its lines is from the true curve at most, mm."""
        return max((line.strays for line in (*self.lines, *self.more)), default=0.0)


def told(mm: float, unit: Unit) -> str:
    """A length in the unit asked for, and in the other in brackets.

    >>> told(82.55, "in"), told(40.0, "mm"), told(-0.0, "mm")
    ('3 1/4" (82.6 mm)', '40 mm (about 1 9/16")', '0 mm (0")')
    """
    shown = inches(mm + 0.0, TO_THE)
    rule = shown.text if abs(shown.remainder) <= CLOSE else f"about {shown.text}"
    tenths = f"{metric(mm + 0.0)} mm"
    return f"{rule} ({tenths})" if unit in ("in", "ft") else f"{tenths} ({rule})"


def short(mm: float, unit: Unit) -> str:
    """A length for a label, in the unit asked for alone.

    >>> short(50.8, "in"), short(40.0, "mm"), short(40.0, "in")
    ('2"', '40 mm', '≈1 9/16"')
    """
    first = told(mm, unit).split(" (")[0]
    return first.replace("about ", "≈")


def polyline(curve: Callable[[Floats], Floats], first: float, last: float) -> tuple[tuple[Edge, ...], float]:
    """Chords of a smooth curve, and how far it strays from them, mm, measured half way along each.

    curve: points (n, 2) at parameters (n,), first to last. As many chords as it takes to stay within 0.01 mm.
    """
    count = 8
    while True:
        t = np.linspace(first, last, 2 * count + 1)
        points = curve(t)
        ends, middles = points[::2], points[1::2]
        away = float(_from_chords(ends, middles).max())
        if away <= STRAY or count >= FINEST:
            return chain(ends), away
        count *= 2


def chain(points: Floats | Sequence[Point]) -> tuple[Edge, ...]:
    """Straight lines from point to point; points on one another are one."""
    at = [(float(x), float(y)) for x, y in points]
    return tuple(Line(a, b) for a, b in pairwise(at) if math.dist(a, b) > 1e-9)


def affine(edge: Edge, matrix: Floats, shift: Point = (0.0, 0.0)) -> tuple[tuple[Edge, ...], float]:
    """An edge under a linear map (2, 2) and a shift: itself where it stays a line or an arc, else chords."""

    def onto(points: Floats) -> Floats:
        moved: Floats = points @ matrix.T + np.array(shift)
        return moved

    if isinstance(edge, Line):
        return chain(onto(np.array([edge.start, edge.end]))), 0.0
    (a, b), (c, d) = matrix.tolist()
    if math.isclose(a * a + c * c, b * b + d * d, abs_tol=1e-12) and abs(a * b + c * d) < 1e-12:
        start, end, center = ((float(x), float(y)) for x, y in onto(np.array([edge.start, edge.end, edge.center])))
        return (Arc(start, end, center, math.copysign(edge.sweep, edge.sweep * (a * d - b * c))),), 0.0
    return polyline(lambda t: onto(edge.point(t)), 0.0, 1.0)


def turned_to(at: Point, direction: Point, onto: Point = (1.0, 0.0)) -> Placing:
    """The turn and shift that brings `at` to (0, 0) and a unit direction onto another; never a mirror image."""
    cos = direction[0] * onto[0] + direction[1] * onto[1]
    sin = direction[0] * onto[1] - direction[1] * onto[0]
    return Placing(cos, -sin, sin, cos, -(cos * at[0] - sin * at[1]), -(sin * at[0] + cos * at[1]))


def placed(lines: Iterable[TemplateLine], where: Placing) -> tuple[TemplateLine, ...]:
    """Lines turned and shifted."""
    return tuple(TemplateLine(line.role, where.edges(line.edges), line.strays) for line in lines)


def box_of(lines: Iterable[TemplateLine]) -> tuple[float, float, float, float]:
    """(least x, least y, largest x, largest y) of lines, mm."""
    boxes = np.array([edge.bounds for line in lines for edge in line.edges])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))


def cross(at: Point, reach: float = 4.0) -> TemplateLine:
    """A center mark: two short lines that cross."""
    (x, y) = at
    return TemplateLine("center", (Line((x - reach, y), (x + reach, y)), Line((x, y - reach), (x, y + reach))))


def _from_chords(ends: Floats, points: Floats) -> Floats:
    """The distances (n,) of points, one on each stretch, from the chords between ends (n + 1, 2)."""
    along = np.diff(ends, axis=0)
    away = points - ends[:-1]
    long = np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-12)
    found: Floats = np.abs(along[:, 0] * away[:, 1] - along[:, 1] * away[:, 0]) / long
    return found
