"""From smooth curves to tangent arcs within a tolerance: biarcs, each pair as long as may be."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from preview.errors import PreviewError
from preview.profiles.curves import Smooth, curve_direction
from preview.profiles.edges import FLATTEST, Arc, Edge, Floats, Line, arc_of_sweep
from preview.profiles.pens import Point

NOTHING = 1e-6
"""Points no further apart than this, mm, are one."""
SAMPLES, CLOSE_SAMPLES = 33, 129
"""Points of a curve that a try, and the last measurement, look at."""
MOST_ARCS = 4000
"""More arcs than this for one curve are refused."""
TRIES = 40
"""At the longest pair of arcs from one point; three or four are usual."""
STILL = 1e-7
"""A derivative below this, mm, is none."""
BETWEEN = 0.02
"""What a curve may stray more between the samples of a try, as a part: they are that dense."""
FULLEST = 1.2 * math.pi
"""A pair of arcs that turns further than this is no fit."""


@dataclass(frozen=True)
class Fitted:
    """Edges end to end, and how far the curve strays from them, mm, as measured."""

    edges: tuple[Edge, ...]
    deviation: float


@dataclass(frozen=True)
class _Pair:
    """Two arcs from one parameter to another, and how far the curve strays from them, mm."""

    start: float
    end: float
    edges: list[Edge]
    strays: float


def fit_arcs(curve: Smooth, start: float, end: float, tolerance: float) -> Fitted:
    """Tangent arcs in pairs for a smooth stretch of a curve (mm), each as long as the tolerance (mm) lets it be.

    Then evened out over the same number of pairs. Raises PreviewError (place "tolerance") for thousands of arcs.
    """
    found = _greedy(curve, start, end, tolerance, MOST_ARCS // 2)
    if found is None:
        raise PreviewError(
            "tolerance",
            None,
            f"a curve would take more than {MOST_ARCS:,} arcs to stay within {tolerance:g} mm",
            "allow a larger tolerance, or draw the curve with fewer wiggles",
        )
    if len(found) > 1:
        # A pair strays by the third power of its length, so the last one, cut short, tells what there is to share.
        part = min(1.0, (found[-1].strays / tolerance) ** (1 / 3))
        shared = 1.1 * ((len(found) - 1 + part) / len(found)) ** 3
        evened = _greedy(curve, start, end, tolerance * shared, len(found)) if shared < 0.95 else None
        found = evened or found
    edges = [edge for pair in found for edge in pair.edges]
    return Fitted(tuple(edges), max(curve_strays(curve, pair.start, pair.end, pair.edges) for pair in found))


def _greedy(curve: Smooth, start: float, end: float, tolerance: float, most: int) -> list[_Pair] | None:
    """From the start on, the longest pair of arcs within the tolerance, again and again; None for more than `most`."""
    found: list[_Pair] = []
    a, guess = start, end - start
    while a < end:
        if len(found) >= most:
            return None
        best = _longest(curve, a, end, guess, tolerance)
        found.append(best)
        guess, a = best.end - a, best.end
    return found


def _longest(curve: Smooth, a: float, end: float, guess: float, tolerance: float) -> _Pair:
    """A pair of arcs from `a` that reaches about as far as the tolerance lets it; a short chord where none does."""
    best: _Pair | None = None
    low, high, reach = 0.0, math.inf, guess
    for _ in range(TRIES):
        reach = min(reach, end - a)
        pair = _fitting(curve, a, end if reach == end - a else a + reach)
        grown = 0.5
        if pair is not None:
            grown = min(max((0.92 * tolerance / max(pair.strays, 1e-12)) ** (1 / 3), 0.2), 3.0)
        if pair is not None and pair.strays <= tolerance:
            best, low = pair, reach
            if pair.end == end or pair.strays > 0.75 * tolerance:
                break
        else:
            high = reach
        reach *= grown
        if not low < reach < high:
            reach = (low + high) / 2
        if high - low < 0.03 * high:
            break
    if best is not None:
        return best
    b = min(a + high / 2, end) if high < math.inf else end
    start, stop = (_point(p) for p in curve.at([a, b])[0])
    chord: list[Edge] = [Line(start, stop)]
    return _Pair(a, b, chord, curve_strays(curve, a, b, chord, SAMPLES))


def _fitting(curve: Smooth, a: float, b: float) -> _Pair | None:
    """The pair of arcs between two parameters, or None where there is none."""
    points, steps = curve.at(np.linspace(a, b, SAMPLES))
    start, end = _point(points[0]), _point(points[-1])
    if math.dist(start, end) < NOTHING:  # it stands still, or comes back
        nothing: list[Edge] = [Line(start, end)]
        return _Pair(a, b, nothing, float(nothing[0].distance(points).max()))
    lengths = np.hypot(steps[[0, -1], 0], steps[[0, -1], 1])
    if lengths.min() > STILL and b != int(b):
        leave, arrive = _point(steps[0] / lengths[0]), _point(steps[-1] / lengths[1])
    else:
        leave, arrive = curve_direction(curve, a, 1), curve_direction(curve, b, -1)
    edges = biarc(start, leave, end, arrive)
    if edges is None:
        return None
    strays = float(np.minimum(edges[0].distance(points), edges[1].distance(points)).max())
    return _Pair(a, b, edges, strays * (1 + BETWEEN))


def curve_strays(curve: Smooth, a: float, b: float, edges: Sequence[Edge], count: int = CLOSE_SAMPLES) -> float:
    """The largest distance, mm, from points of a part of a curve to the edges that stand for it."""
    points = curve.at(np.linspace(a, b, count))[0]
    return float(np.min([edge.distance(points) for edge in edges], axis=0).max())


def biarc(start: Point, leave: Point, end: Point, arrive: Point) -> list[Edge] | None:
    """Two arcs, tangent where they join, from `start` in the direction `leave` to `end` in the direction `arrive`.

    The tangents' lengths to the corners of the control polygon are equal, d with
    2 (1 - leave · arrive) d² + 2 v · (leave + arrive) d - v · v = 0 and v from start to end. A straight half is
    a line. None when there is no such pair, or when it turns more than it should.
    """
    vx, vy = end[0] - start[0], end[1] - start[1]
    square = vx * vx + vy * vy
    along = vx * (leave[0] + arrive[0]) + vy * (leave[1] + arrive[1])
    bent = 2 * (1 - leave[0] * arrive[0] - leave[1] * arrive[1])
    # The quadratic's positive root in the form that loses no digits where the directions agree.
    below = along + math.sqrt(along * along + bent * square)
    if not below > 1e-12 * math.sqrt(square):
        return None
    d = square / below
    middle = (
        (start[0] + end[0] + d * (leave[0] - arrive[0])) / 2,
        (start[1] + end[1] + d * (leave[1] - arrive[1])) / 2,
    )
    first = _tangent_arc(start, leave, middle)
    second = _tangent_arc(end, (-arrive[0], -arrive[1]), middle).reversed()
    turned = sum(abs(edge.sweep) for edge in (first, second) if isinstance(edge, Arc))
    return [first, second] if turned <= FULLEST else None


def _tangent_arc(start: Point, leave: Point, end: Point) -> Edge:
    """The arc from a point in a direction to another point; a line where it is straight."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    half = math.atan2(leave[0] * dy - leave[1] * dx, leave[0] * dx + leave[1] * dy)
    # An arc so flat that its center is out of reach strays from its chord by far less than any tolerance.
    if math.hypot(dx, dy) > 0.9 * FLATTEST * 2 * abs(math.sin(half)):
        return Line(start, end)
    return arc_of_sweep(start, end, 2 * half)


def _point(row: Floats) -> Point:
    return (float(row[0]), float(row[1]))
