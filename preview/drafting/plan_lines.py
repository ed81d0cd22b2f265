"""A plan in the making, and what it asks of its lines: ways turned with a run, where edges reach furthest, which lines
are told apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from preview.build import Built
from preview.drafting.dimensions import Way
from preview.drafting.drawing import Canvas
from preview.drafting.grounds import Drawn, Floats, Ground
from preview.drafting.labels import Field
from preview.paper import Placing
from preview.profiles import Arc, Edge, Point
from preview.runs import Run

APART = 0.5
"""mm on the page between two lines along the molding, at least; of closer ones only the outer is drawn."""

Wall = tuple[Run, Placing, list[Edge]]
"""A run, where its own plan lies in the drawing's, and its back line there, mm."""


@dataclass(frozen=True)
class InPlan:
    """A plan being drawn at a scale: its walls in the view's own mm, how far out the molding reaches, where all of that
    comes on the page, and what is drawn so far.
    """

    built: Built
    ground: Ground
    walls: Sequence[Wall]
    reach: float
    page: Placing
    canvas: Canvas
    field: Field


def turned_way(place: Placing, way: Point) -> Way:
    """A unit way of a run's plan in the drawing."""
    return (place.a * way[0] + place.b * way[1], place.c * way[0] + place.d * way[1])


def unit_way(way: Floats) -> Way | None:
    """A way of unit length; None where it is too short to point anywhere."""
    long = float(np.hypot(*way))
    return (float(way[0]) / long, float(way[1]) / long) if long > 0.3 else None


def extremes(edge: Edge) -> list[Point]:
    """The ends of an edge, and of an arc where it reaches furthest each way."""
    found = [edge.start, edge.end]
    if isinstance(edge, Arc):
        left, low, right, high = edge.bounds
        (x, y) = edge.center
        found += [(left, y), (right, y), (x, low), (x, high)]
        found = [at for at in found if left - 1e-6 <= at[0] <= right + 1e-6 and low - 1e-6 <= at[1] <= high + 1e-6]
    return found


def thinned(lines: Sequence[Drawn], factor: float) -> list[Drawn]:
    """The lines that can be told apart on the page: of those along a piece that crowd each other only the outer."""
    kept: list[Drawn] = []
    rows: dict[int, list[Drawn]] = {}
    for line in lines:
        if line.out is None or line.piece is None:
            kept.append(line)
        else:
            rows.setdefault(line.piece, []).append(line)
    for row in rows.values():
        outs: list[float] = []
        for line in sorted(row, key=lambda each: (not each.outline, -(each.out or 0.0))):
            out = (line.out or 0.0) * factor
            near = [abs(out - other) for other in outs]
            if line.outline or (all(gap < 1e-6 or gap >= APART for gap in near) and (out >= APART or not out)):
                kept.append(line)
                outs.append(out)
    return kept
