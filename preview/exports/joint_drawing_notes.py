"""What is told beside the drawing of a joint: figures, verdict, names that fit, and labels with their leaders."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from preview.paper import FAINT, INK, Mark, Words, advance, arrowhead, both, fraction, printable, stroke
from preview.profiles import Point

GOOD, BAD = "#1e6b3a", "#b3261e"
"""Both over 6 to 1 against white."""
SMALL = 4.2
"""mm, the type of rows."""
ROW = 6.4
"""mm from one row to the next."""
INSIDE, TAIL = 11.0, 7.0
"""mm; a dimension that long has its arrows inside; else they come from without, with tails that long."""
FEWEST = 0.4
"""mm; a smaller length is no fraction of an inch that a rule shows, and is given in thousandths."""


@dataclass(frozen=True)
class JointFigure:
    """One figure measured at a joint: mm, or degrees for the angle. It holds when it is at most its limit.

    at: where on the section it is largest, (d, h) in mm.
    """

    name: Literal["gap", "step", "angle"]
    value: float
    limit: float
    at: Point | None = None

    @property
    def holds(self) -> bool:
        """Whether the figure is within its limit."""
        return self.value <= self.limit


@dataclass(frozen=True)
class Block:
    """Something told beside the drawing: marks from (0, 0) up and right, the box they fill, and what they tell of.

    target: a place on the drawing. clear: how far from it the leader stops, mm. meets: where on the block it starts.
    """

    marks: tuple[Mark, ...]
    width: float
    height: float
    target: Point
    meets: Point
    clear: float = 0.0


def small(mm: float, unit: str) -> tuple[str, str]:
    """A small length in the unit asked for, and in the other.

    >>> small(1.5875, "in"), small(0.15, "in"), small(0.15, "mm")
    (('¹⁄₁₆″', '1.59 mm'), ('0.006″', '0.15 mm'), ('0.15 mm', '0.006″'))
    """
    inch = fraction(mm) if mm >= FEWEST else f"{mm / 25.4:.3f}″"
    metric = f"{mm:.2f} mm" if mm >= 0.1 else f"{mm:.3f} mm"
    return (metric, inch) if unit == "mm" else (inch, metric)


def shown(figure: JointFigure, unit: str) -> tuple[str, str]:
    """A figure as it is set, in the unit asked for and in the other; an angle has but one."""
    if not math.isfinite(figure.value):
        return ("not to be measured", "")
    return (f"{figure.value:.2f}°", "") if figure.name == "angle" else small(figure.value, unit)


def told(figure: JointFigure, unit: str) -> str:
    """A figure in a line of text, fine enough for any limit, with its limit and, where it fails, its place."""
    if not math.isfinite(figure.value):
        return f"{figure.name}: not to be measured"
    if figure.name == "angle":
        text = f"angle {figure.value:.2f}°, limit {figure.limit:g}°"
    elif unit == "mm":
        text = f"{figure.name} {figure.value:.3f} mm ({figure.value / 25.4:.4f}″), limit {figure.limit:g} mm"
    else:
        text = f"{figure.name} {figure.value / 25.4:.4f}″ ({figure.value:.3f} mm), limit {figure.limit / 25.4:.4f}″"
    if figure.at is None or figure.holds:
        return text
    out, up = (both(length, unit)[0] + (" mm" if unit == "mm" else "") for length in figure.at)
    return f"{text}, at {out} out, {up} up"


def ellipsis(text: str, width: float, size: float, bold: bool = False) -> str:
    """The text as it can be printed, its middle left out where it is wider than `width`, mm."""
    whole = " ".join(printable(text).split())
    if advance(whole, size, bold) <= width:
        return whole
    keep = len(whole)
    while keep > 2:
        keep -= 1
        short = f"{whole[: (keep + 1) // 2].rstrip()}…{whole[len(whole) - keep // 2 :].lstrip()}"
        if advance(short, size, bold) <= width:
            return short
    return "…"


def text_block(name: str, lines: tuple[str, str], target: Point, size: float, clear: float = 0.0) -> Block:
    """A label: what it is and its figure, and under it in gray the same in the other unit or a word more."""
    head = f"{name} {lines[0]}"
    marks: list[Mark] = [Words(head, (0.0, 0.0 if not lines[1] else size * 0.95), size, INK, bold=True)]
    width, height = advance(head, size, bold=True), size * 0.75
    if lines[1]:
        marks.append(Words(lines[1], (0.0, 0.0), size * 0.8, FAINT))
        width, height = max(width, advance(lines[1], size * 0.8)), size * 1.7
    return Block(tuple(marks), width, height, target, (-1.2, height - size * 0.38), clear)


def figure_rows(figures: Sequence[JointFigure], unit: str, left: float, width: float) -> list[Mark]:
    """A row for each figure, the last at 0, with a sign whether it holds."""
    marks: list[Mark] = []
    for number, figure in enumerate(reversed(figures)):
        y = number * ROW
        marks += sign(figure.holds, (left, y))
        text = ellipsis(told(figure, unit), width - 7.0, SMALL)
        marks.append(Words(text, (left + 7.0, y), SMALL, INK))
    return marks


def span(one: Point, other: Point) -> list[Mark]:
    """A dimension from one point to another: from without, or from within where there is room."""
    angle = math.atan2(other[1] - one[1], other[0] - one[0])
    ux, uy = math.cos(angle), math.sin(angle)
    if math.dist(one, other) >= INSIDE:
        return [stroke(one, other, ink=INK), arrowhead(one, angle + math.pi), arrowhead(other, angle)]
    return [
        stroke((one[0] - TAIL * ux, one[1] - TAIL * uy), one),
        stroke(other, (other[0] + TAIL * ux, other[1] + TAIL * uy)),
        arrowhead(one, angle),
        arrowhead(other, angle + math.pi),
    ]


def sign(holds: bool, at: Point, size: float = 3.2) -> list[Mark]:
    """A check mark or a cross, its lower left corner at a point."""
    x, y = at
    if holds:
        return [stroke((x, y + 0.45 * size), (x + 0.35 * size, y), (x + size, y + size), weight=0.7, ink=GOOD)]
    return [
        stroke((x, y), (x + size, y + size), weight=0.7, ink=BAD),
        stroke((x, y + size), (x + size, y), weight=0.7, ink=BAD),
    ]
