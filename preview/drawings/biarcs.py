"""From ellipses and splines to lines and arcs: recognised where they hide one, else tangent arcs within a tolerance."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from preview.drawings.curves import Curve, Shape
from preview.drawings.sheet import too_much
from preview.errors import PreviewError
from preview.profiles import (
    Arc,
    Edge,
    Ellipse,
    Fitted,
    Line,
    arc_through,
    curve_direction,
    curve_strays,
    fit_arcs,
)

MOST_FITTED = 3_000
"""Lines and arcs that the curves of a drawing become, all together: each is fitted, which takes a millisecond."""
EXACT = 1e-6
"""A curve no further than this, mm, from a line or an arc is one."""
ALIKE = 1e-3
"""A part of a curve is an arc to within a tolerance only if their directions at the ends agree to this, radians."""
SAMPLES, CLOSE_SAMPLES = 33, 129
"""Points of a curve that a try, and the last measurement, look at."""


def too_fine() -> PreviewError:
    """The error for curves that are no molding's."""
    return too_much(f"{MOST_FITTED:,} lines and arcs in its curves")


def to_edges(shape: Shape, tolerance: float) -> Fitted:
    """A shape (mm) as lines and arcs that stray from it by no more than `tolerance` mm.

    Lines and arcs come back as they are. What hides a line or an arc to within 1e-6 mm becomes that; so does
    a part within the tolerance of one that also leaves and arrives in its direction. The rest becomes pairs
    of arcs, tangent to the curve and to each other (biarcs), each pair as long as the tolerance lets it be.
    Raises PreviewError when that takes thousands of arcs.
    """
    if isinstance(shape, Line | Arc):
        return Fitted((shape,), 0.0)
    curve: Curve = shape
    edges: list[Edge] = []
    deviation = 0.0
    for start, end in _stretches(curve):
        for a, b, found in _recognised(curve, start, end, tolerance):
            if found is None:
                fitted = fit_arcs(curve, a, b, tolerance)
                edges += fitted.edges
                deviation = max(deviation, fitted.deviation)
            else:
                edges.append(found)
                deviation = max(deviation, curve_strays(curve, a, b, [found]))
            if len(edges) > MOST_FITTED:
                raise too_fine()
    return Fitted(tuple(edges), deviation)


def _stretches(curve: Curve) -> list[tuple[float, float]]:
    return list(pairwise(curve.corners))


def _recognised(curve: Curve, start: float, end: float, tolerance: float) -> list[tuple[float, float, Edge | None]]:
    """A smooth stretch as parts: each a line or an arc, or None for what is neither."""
    if isinstance(curve, Ellipse):  # one that is a circle never comes this far
        return [(start, end, None)]
    joins = [start, *range(math.floor(start) + 1, math.ceil(end)), end]
    found: list[tuple[float, float, Edge | None]] = []
    i = 0
    while i < len(joins) - 1:
        best: tuple[int, Edge] | None = None
        for within in (EXACT, tolerance):
            j, grown = i + 1, None
            while j < len(joins) and (one := _as_one(curve, joins[i], joins[j], within)) is not None:
                grown, j = (j, one), j + 1
            if grown is not None:
                best = grown
                break
        if best is not None:
            found.append((joins[i], joins[best[0]], best[1]))
            i = best[0]
            continue
        if found and found[-1][2] is None:
            found[-1] = (found[-1][0], joins[i + 1], None)
        else:
            found.append((joins[i], joins[i + 1], None))
        i += 1
    return found


def _as_one(curve: Curve, a: float, b: float, within: float) -> Edge | None:
    """The line or the arc that a part of a curve is to within a distance, or None."""
    points = curve.at(np.linspace(a, b, SAMPLES))[0]
    start, via, end = ((float(x), float(y)) for x, y in points[[0, SAMPLES // 2, -1]])
    chord = math.dist(start, end)
    edge: Edge = Line(start, end)
    if chord <= EXACT:
        return None
    if float(edge.distance(points).max()) > within:
        try:
            edge = arc_through(start, via, end)
        except PreviewError:
            return None
        if float(edge.distance(points).max()) > within:
            return None
    if within > EXACT and not _leaves_alike(curve, a, b, edge):
        return None
    along = np.diff(points, axis=0)
    middles = edge.tangent(np.linspace(0.0, 1.0, SAMPLES))[1:]
    if not bool(((along * middles).sum(axis=1) > 0).all()):  # it doubles back on itself
        return None
    close = float(edge.distance(curve.at(np.linspace(a, b, CLOSE_SAMPLES))[0]).max())
    return edge if close <= within else None


def _leaves_alike(curve: Curve, a: float, b: float, edge: Edge) -> bool:
    """Whether an edge has the curve's own directions at both ends."""
    for t, side, at in ((a, 1, 0.0), (b, -1, 1.0)):
        (ux, uy), (vx, vy) = curve_direction(curve, t, side), edge.tangent(at).tolist()
        if ux * vx + uy * vy <= 0 or abs(ux * vy - uy * vx) > ALIKE:
            return False
    return True
