"""The measures of a profile, exact from its edges."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from preview.errors import PreviewError
from preview.profiles.edges import Arc, Edge, Floats, Line, arc_distances, line_distances
from preview.profiles.moments import area_and_moments
from preview.profiles.pens import Point
from preview.profiles.profile import Profile

AT_A_TIME = 1_000_000
"""How many pairs of a point and an edge are held against each other at a time."""
LEVEL = 1e-9
"""An end of an edge closer to a height than this, mm, is at that height."""


@dataclass(frozen=True)
class Measures:
    """What a profile measures: area in mm², the rest in mm; `centroid` is (d, h)."""

    area: float
    centroid: Point
    perimeter: float
    d_min: float
    d_max: float
    h_min: float
    h_max: float


def measure(profile: Profile) -> Measures:
    """The measures of a profile in closed form; no flattening enters them."""
    area, over_d, over_h = area_and_moments(profile.edges)
    boxes = [edge.bounds for edge in profile.edges]
    return Measures(
        area=area,
        centroid=(over_d / area, over_h / area),
        perimeter=math.fsum(edge.length for edge in profile.edges),
        d_min=min(box[0] for box in boxes),
        d_max=max(box[2] for box in boxes),
        h_min=min(box[1] for box in boxes),
        h_max=max(box[3] for box in boxes),
    )


def projection_at(profile: Profile, h: float) -> tuple[float, float]:
    """The smallest and the largest d, mm, of the outline at height h; at a ledge both of its sides count.

    Raises PreviewError when the profile does not reach that height.
    """
    found = [d for edge in profile.edges for d in _at_height(edge, h)]
    if not found:
        boxes = [edge.bounds for edge in profile.edges]
        low, high = min(box[1] for box in boxes), max(box[3] for box in boxes)
        raise PreviewError(
            "",
            None,
            f"the profile has nothing {h:g} mm up: it runs from {low:g} mm to {high:g} mm",
            "ask for a height within the profile",
        )
    return min(found), max(found)


def _at_height(edge: Edge, h: float) -> list[float]:
    """Where an edge is at height h: its start, and points between its ends. Its end is the next one's start."""
    found = [edge.start[0]] if abs(edge.start[1] - h) <= LEVEL else []
    if isinstance(edge, Arc):
        (cx, cy), radius = edge.center, edge.radius
        aside = h - cy
        if abs(aside) <= radius + LEVEL:
            reach = math.sqrt(max(0.0, (radius - aside) * (radius + aside)))
            found += [d for d in (cx - reach, cx + reach) if edge.angle_to((d, h)) <= abs(edge.sweep)]
    elif not found:
        (d0, h0), (d1, h1) = edge.start, edge.end
        if min(h0, h1) < h < max(h0, h1):
            found.append(d0 + (h - h0) / (h1 - h0) * (d1 - d0))
    return found


def distance_to(profile: Profile, points: ArrayLike) -> Floats:
    """The exact distances, mm, from points (n, 2) to the outline: (n,), never negative, 0 on it."""
    at = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    lines = [edge for edge in profile.edges if isinstance(edge, Line)]
    arcs = [edge for edge in profile.edges if isinstance(edge, Arc)]
    nearest = np.full(len(at), np.inf)
    some = max(1, AT_A_TIME // max(1, len(at)))
    for i in range(0, len(lines), some):
        np.minimum(nearest, line_distances(lines[i : i + some], at).min(axis=0), out=nearest)
    for i in range(0, len(arcs), some):
        np.minimum(nearest, arc_distances(arcs[i : i + some], at).min(axis=0), out=nearest)
    return nearest
