"""Area and first moments of a closed loop of lines and arcs, in closed form."""

from __future__ import annotations

import math
from collections.abc import Sequence

from preview.profiles.edges import Arc, Edge


def area_and_moments(loop: Sequence[Edge]) -> tuple[float, float, float]:
    """The signed area (mm², + counter-clockwise) and its first moments over d and h (mm³) of a closed loop.

    Green's theorem: the polygon of the edges' ends, plus for each arc the circular segment beyond its chord,
    of A = r²(θ - sin θ)/2 with its centroid 4 r sin³(θ/2) / (3 (θ - sin θ)) from the center (Machinery's
    Handbook, 31st ed., p. 229). Both hold with the sign of θ, and for θ over π.
    """
    ox, oy = loop[0].start  # measured from a point of the outline, so that a far outline loses no digits
    areas: list[float] = []
    over_d: list[float] = []
    over_h: list[float] = []
    for edge in loop:
        x0, y0 = edge.start[0] - ox, edge.start[1] - oy
        x1, y1 = edge.end[0] - ox, edge.end[1] - oy
        area = (x0 * y1 - x1 * y0) / 2
        areas.append(area)
        over_d.append(area * (x0 + x1) / 3)
        over_h.append(area * (y0 + y1) / 3)
        if isinstance(edge, Arc):
            r, theta = edge.radius, edge.sweep
            excess = _angle_less_sine(theta)
            area = r * r * excess / 2
            reach = 4 * r * abs(math.sin(theta / 2)) ** 3 / (3 * abs(excess))
            vx, vy = edge.via
            ux, uy = (vx - edge.center[0]) / r, (vy - edge.center[1]) / r
            areas.append(area)
            over_d.append(area * (edge.center[0] - ox + reach * ux))
            over_h.append(area * (edge.center[1] - oy + reach * uy))
    total = math.fsum(areas)
    return total, math.fsum(over_d) + ox * total, math.fsum(over_h) + oy * total


def _angle_less_sine(theta: float) -> float:
    """θ - sin θ without losing digits where θ is small."""
    if abs(theta) > 0.3:
        return theta - math.sin(theta)
    square = theta * theta
    return theta * square / 6 * (1 - square / 20 * (1 - square / 42 * (1 - square / 72 * (1 - square / 110))))
