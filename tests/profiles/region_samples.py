"""Simple regions for tests, and the same regions as shapely sees them on a fine flattening."""

from __future__ import annotations

import math

import numpy as np
import shapely

from preview.profiles import Arc, Edge, Line, Region, region


def box(d0: float, h0: float, d1: float, h1: float) -> Region:
    corners = [(d0, h0), (d1, h0), (d1, h1), (d0, h1)]
    return region([Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)])


def disc(d: float, h: float, r: float) -> Region:
    right, left = (d + r, h), (d - r, h)
    return region([Arc(right, left, (d, h), math.pi), Arc(left, right, (d, h), math.pi)])


def slot(d: float, h: float, r: float, long: float) -> Region:
    """A box with a half round on either end."""
    top = h + long
    return region(
        [
            Line((d + r, h), (d + r, top)),
            Arc((d + r, top), (d - r, top), (d, top), math.pi),
            Line((d - r, top), (d - r, h)),
            Arc((d - r, h), (d + r, h), (d, h), math.pi),
        ]
    )


def flattened(area: Region, steps: int = 180) -> shapely.Geometry:
    """The region as polygons: each arc as so many chords a half turn."""

    def points(loop: tuple[Edge, ...]) -> list[list[float]]:
        found: list[list[float]] = []
        for edge in loop:
            count = 1 if isinstance(edge, Line) else 1 + math.ceil(steps * abs(edge.sweep) / math.pi)
            found += edge.point(np.arange(count) / count).tolist()
        return found

    whole = shapely.union_all([shapely.Polygon(points(loop)) for loop in area.outlines])
    return shapely.difference(whole, shapely.union_all([shapely.Polygon(points(loop)) for loop in area.holes]))
