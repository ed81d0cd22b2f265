"""The radii of a drawing: a column of labels beside the face, each with a leader that points through its center."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preview.drafting.profile.facts import Curve
from preview.paper import Box, Label, Mark, Placing, arrowhead, one_line, stroke
from preview.profiles import Arc, Point

STEP = 0.25
"""mm between the heights that a label may take."""
CLEAR = 0.9
"""mm kept free above and below a label."""
OVER = 9.0
"""mm above and below the outline that labels may use."""
SHOULDER = 2.2
"""mm, the level end of a leader."""
CROSSED = 90.0
"""What it costs a label to break an extension line, in mm² of distance from its arc."""
MOST = 14
"""How many radii a drawing gives; of more, the longest arcs."""

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Radii:
    """The labels and leaders, the boxes that lines have to leave free, and how wide the column is; mm.

    left_out: how many curves have no label, because there are too many.
    """

    marks: tuple[Mark, ...]
    boxes: tuple[Box, ...]
    width: float
    left_out: int


def radii(
    curves: Sequence[Curve],
    place: Placing,
    left: float,
    levels: Sequence[float],
    outline: Floats,
    unit: str,
    size: float,
) -> Radii:
    """Label curves, placed on the page by `place`, in a column whose left edge is at `left`.

    levels: heights of the extension lines that cross the column. outline (n, 2): the flattened outline on the page,
    which no leader crosses.
    """
    chosen = sorted(curves, key=lambda curve: sum(arc.length for arc in curve.arcs), reverse=True)[:MOST]
    placed = [Curve(tuple(_placed(arc, place) for arc in curve.arcs)) for curve in curves if curve in chosen]
    true = [curve.radius for curve in curves if curve in chosen]
    order = sorted(range(len(placed)), key=lambda i: _middle(placed[i])[1])
    labels = [one_line(true[i], unit, size, "2 × R " if len(placed[i].arcs) > 1 else "R ") for i in order]
    if not labels:
        return Radii((), (), 0.0, len(curves))
    low, high = float(outline[:, 1].min()), float(outline[:, 1].max())
    wanted = [_middle(placed[i])[1] for i in order]
    heights = _heights(wanted, labels, levels, low - OVER, high + OVER)
    marks: list[Mark] = []
    boxes: list[Box] = []
    for i, label, y in zip(order, labels, heights, strict=True):
        boxes.append(
            (left - 0.8, y - label.height / 2 - CLEAR / 2, left + label.width + 0.8, y + label.height / 2 + CLEAR / 2)
        )
        elbow = (left - 0.9 - SHOULDER, y)
        tip = _tip(placed[i], elbow, outline)
        marks += [stroke((left - 0.9, y), elbow, tip), *label.at(left, y - label.height / 2)]
        marks.append(arrowhead(tip, math.atan2(tip[1] - elbow[1], tip[0] - elbow[0]), 2.8))
    return Radii(tuple(marks), tuple(boxes), max(label.width for label in labels), len(curves) - len(chosen))


def _placed(arc: Arc, place: Placing) -> Arc:
    edge = place.edge(arc)
    assert isinstance(edge, Arc)
    return edge


def _middle(curve: Curve) -> Point:
    """Where a curve would have its label: the middle of its arc, of an ogee's the one further out."""
    return max((arc.via for arc in curve.arcs), key=lambda via: via[0])


def _heights(
    wanted: Sequence[float], labels: Sequence[Label], levels: Sequence[float], low: float, high: float
) -> list[float]:
    """A height for each label, in order: none overlap, few break an extension line, all are near their arcs.

    The best choice from a fine grid of heights, label by label from the lowest up.
    """
    needed = sum(label.height + CLEAR for label in labels)
    extra = max(0.0, needed - (high - low)) / 2
    grid = np.arange(low - extra, high + extra + STEP, STEP)
    crossing = np.asarray(levels, dtype=np.float64)
    best: list[Floats] = []
    came: list[NDArray[np.int64]] = []
    for number, (label, want) in enumerate(zip(labels, wanted, strict=True)):
        half = label.height / 2 + CLEAR / 2
        crossed = (np.abs(grid[:, None] - crossing[None, :]) < half).sum(axis=1)
        cost = (grid - want) ** 2 + CROSSED * crossed
        if number:
            apart = (label.height + labels[number - 1].height) / 2 + CLEAR
            below = np.searchsorted(grid, grid - apart + 1e-9, side="right") - 1
            running = np.minimum.accumulate(best[-1])
            first = np.array([int(np.argmin(best[-1][: i + 1])) if i >= 0 else 0 for i in below.tolist()])
            cost = cost + np.where(below >= 0, running[np.maximum(below, 0)], np.inf)
            came.append(first)
        best.append(cost)
    at = int(np.argmin(best[-1]))
    chosen = [at]
    for first in reversed(came):
        at = int(first[at])
        chosen.append(at)
    return [float(grid[i]) for i in reversed(chosen)]


def _tip(curve: Curve, elbow: Point, outline: Floats) -> Point:
    """Where a leader from `elbow` touches: radially where the arc allows it, in sight of the elbow if it can be."""
    choices: list[tuple[float, Point]] = []
    for arc in curve.arcs:
        points = arc.point(np.linspace(0.12, 0.88, 39))
        for x, y in points.tolist():
            away, spoke = (x - elbow[0], y - elbow[1]), (x - arc.center[0], y - arc.center[1])
            slant = abs(away[0] * spoke[1] - away[1] * spoke[0]) / (math.hypot(*away) * arc.radius + 1e-9)
            hidden = _crosses(elbow, (x, y), outline)
            choices.append((slant + 10.0 * hidden + 0.002 * math.hypot(*away), (x, y)))
    return min(choices)[1]


def _crosses(begin: Point, tip: Point, outline: Floats) -> bool:
    """Whether the way from `begin` to just before `tip` crosses the outline."""
    ax, ay = begin
    bx, by = ax + 0.985 * (tip[0] - ax), ay + 0.985 * (tip[1] - ay)
    p, q = outline, np.roll(outline, -1, axis=0)
    beside = (bx - ax) * (p[:, 1] - ay) - (by - ay) * (p[:, 0] - ax)
    beside_next = (bx - ax) * (q[:, 1] - ay) - (by - ay) * (q[:, 0] - ax)
    ex, ey = q[:, 0] - p[:, 0], q[:, 1] - p[:, 1]
    from_a = ex * (ay - p[:, 1]) - ey * (ax - p[:, 0])
    from_b = ex * (by - p[:, 1]) - ey * (bx - p[:, 0])
    return bool(np.any((beside * beside_next < 0) & (from_a * from_b < 0)))
