"""How far two profiles are apart: the largest distance from any point of one to the other, and where."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from preview.profiles import Arc, Edge, Point, Profile, distance_to

SPACED = 0.25
"""mm between the points of an outline that are looked at first."""
FEWEST, MOST = 9, 600
"""Points looked at on one edge, at least and at most."""
ROUNDS = 4
"""How often the stretch round the furthest point is looked at again, ten times closer each time."""
CLOSER = 10


@dataclass(frozen=True)
class Apart:
    """The largest distance between two outlines, mm; `at`: the point (d, h) of one that is so far from the other.

    to: the nearest point of the other.
    """

    distance: float
    at: Point
    to: Point


@lru_cache(64)
def apart(one: Profile, other: Profile) -> Apart:
    """How far two outlines are apart at most, measured both ways (their Hausdorff distance)."""
    first, second = _furthest(one, other), _furthest(other, one)
    return first if first.distance >= second.distance else second


def _furthest(one: Profile, other: Profile) -> Apart:
    best = Apart(-1.0, (0.0, 0.0), (0.0, 0.0))
    for edge in one.edges:
        count = int(min(MOST, max(FEWEST, edge.length / SPACED)))
        low, high = 0.0, 1.0
        for _ in range(ROUNDS):
            t = np.linspace(low, high, count)
            points = edge.point(t)
            away = distance_to(other, points)
            k = int(np.argmax(away))
            if float(away[k]) > best.distance:
                at = (float(points[k, 0]), float(points[k, 1]))
                best = Apart(float(away[k]), at, at)
            elif float(away[k]) < best.distance - edge.length / (count - 1):
                break  # nothing on this edge is further out than what was found
            low, high = float(t[max(0, k - 1)]), float(t[min(count - 1, k + 1)])
            count = 2 * CLOSER + 1
    return Apart(best.distance, best.at, _nearest(other, best.at))


def _nearest(outline: Profile, at: Point) -> Point:
    """The point of an outline that is nearest to a place, to about 0.001 mm."""
    found, least = at, float("inf")
    for edge in outline.edges:
        low, high = 0.0, 1.0
        count = int(min(MOST, max(FEWEST, edge.length / SPACED)))
        for _ in range(ROUNDS):
            t = np.linspace(low, high, count)
            points = edge.point(t)
            away = np.hypot(points[:, 0] - at[0], points[:, 1] - at[1])
            k = int(np.argmin(away))
            if float(away[k]) < least:
                least, found = float(away[k]), (float(points[k, 0]), float(points[k, 1]))
            low, high = float(t[max(0, k - 1)]), float(t[min(count - 1, k + 1)])
            count = 2 * CLOSER + 1
    return found


def same_outline(one: Profile, other: Profile, within: float = 1e-6) -> bool:
    """Whether two profiles are one edge for edge."""
    if len(one.edges) != len(other.edges):
        return False
    for a, b in zip(one.edges, other.edges, strict=True):
        if type(a) is not type(b):
            return False
        ends = zip((a.start, a.end, _middle(a)), (b.start, b.end, _middle(b)), strict=True)
        if any(max(abs(p[0] - q[0]), abs(p[1] - q[1])) > within for p, q in ends):
            return False
    return True


def _middle(edge: Edge) -> Point:
    return edge.via if isinstance(edge, Arc) else edge.start


def bounds(profiles: list[Profile]) -> tuple[float, float, float, float]:
    """The box (least d, least h, largest d, largest h) round several profiles, mm."""
    boxes = [edge.bounds for profile in profiles for edge in profile.edges]
    return (
        min(box[0] for box in boxes),
        min(box[1] for box in boxes),
        max(box[2] for box in boxes),
        max(box[3] for box in boxes),
    )
