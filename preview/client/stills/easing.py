"""Eased arrises: a dead sharp edge catches no light, and no real one is dead sharp. Only for pictures."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from preview.profiles import Arc, Edge, Line, Profile, arc_of_sweep

SHARP = math.radians(15)
"""An arris turns outward by more than this."""


def eased(profile: Profile, ease: float) -> Profile:
    """The profile with its outward arrises rounded, starting `ease` mm from each, or less beside a short edge."""
    edges = profile.edges
    pairs = list(zip(edges, (*edges[1:], edges[0]), strict=True))
    cuts = [
        min(ease, before.length / 3, after.length / 3) if turn_at(before, after) > SHARP else 0.0
        for before, after in pairs
    ]
    kept = [_trimmed(edge, cuts[i - 1], cuts[i]) for i, edge in enumerate(edges)]
    found: list[Edge] = []
    for i, edge in enumerate(kept):
        found.append(edge)
        if cuts[i]:
            after = kept[(i + 1) % len(kept)]
            found.append(arc_of_sweep(edge.end, after.start, turn_at(edge, after)))
    return replace(profile, edges=tuple(found))


def turn_at(before: Edge, after: Edge) -> float:
    """The signed angle, radians, from the end of one edge to the start of the next, + to the left (outward)."""
    (ax, ay), (bx, by) = before.tangent(1.0), after.tangent(0.0)
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by)


def _trimmed(edge: Edge, start: float, stop: float) -> Edge:
    """The edge less some mm of its length at each end."""
    if not start and not stop:
        return edge
    (d0, h0), (d1, h1) = edge.point(np.array([start, edge.length - stop]) / edge.length).tolist()
    if isinstance(edge, Line):
        return Line((d0, h0), (d1, h1))
    return Arc((d0, h0), (d1, h1), edge.center, edge.sweep * (1 - (start + stop) / edge.length))
