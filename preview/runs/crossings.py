"""Where a back line crosses itself, from the exact straights and arcs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from preview.runs.boxes import Floats, overlapping_pairs
from preview.runs.element import Element, Vec2

NEAR = 1e-6
"""Points closer than this (mm) are one point."""


@dataclass(frozen=True)
class Crossing:
    """Two elements of one run (counted from 0) that cross or touch, and the plan point (mm) where they do."""

    first: int
    second: int
    at: Vec2


def first_crossing(elements: Sequence[Element], closed: bool, ends_may: bool = False) -> Crossing | None:
    """The first place where the back line meets itself other than where neighbors join; None when it never does.

    ends_may: whether the last element may cross the first, as in a run that should close and is shown as measured.
    """
    low, high = bounds(elements)
    count = len(elements)
    for i, j in overlapping_pairs(low, high, NEAR).tolist():
        if ends_may and (i, j) == (0, count - 1):
            continue
        shared: list[Vec2] = []
        if j == i + 1:
            shared.append(elements[j].start)
        if closed and (i, j) == (0, count - 1):
            shared.append(elements[0].start)
        for at in meeting_points(elements[i], elements[j]):
            # A corner is shared on purpose; a curve may still come round and cross its neighbor elsewhere.
            if all(math.dist(at, corner) > 1e-3 for corner in shared):
                return Crossing(i, j, at)
    return None


def bounds(elements: Sequence[Element]) -> tuple[Floats, Floats]:
    """The exact plan boxes of elements: two (n, 2) arrays, low and high corners in mm."""
    low = np.empty((len(elements), 2))
    high = np.empty((len(elements), 2))
    for i, element in enumerate(elements):
        points = [element.start, element.end]
        if element.curvature:
            (cx, cy), radius = element.center, element.radius
            for quarter in range(4):
                reach = (math.cos(quarter * math.pi / 2), math.sin(quarter * math.pi / 2))
                at = (cx + radius * reach[0], cy + radius * reach[1])
                if station_on(element, at) is not None:
                    points.append(at)
        low[i] = np.min(points, axis=0)
        high[i] = np.max(points, axis=0)
    return low, high


def station_on(element: Element, at: Vec2) -> float | None:
    """The station (mm) of a point known to lie on the element's line or circle; None when it is past either end."""
    dx, dy = at[0] - element.start[0], at[1] - element.start[1]
    tx, ty = element.tangent
    ahead, aside = dx * tx + dy * ty, dy * tx - dx * ty
    if not element.curvature:
        station = ahead
    else:
        k = element.curvature
        angle = math.atan2(abs(k) * ahead, 1.0 - k * aside)  # angle walked, always forward
        full = 2 * math.pi / abs(k)
        station = angle / abs(k)
        if station < -NEAR:
            station += full
    return station if -NEAR <= station <= element.length + NEAR else None


def meeting_points(a: Element, b: Element) -> list[Vec2]:
    """The plan points that two elements share; where they run over one another, one point of the overlap."""
    if not a.curvature and not b.curvature:
        found = _line_line(a, b)
    elif not a.curvature:
        found = _line_circle(a, b)
    elif not b.curvature:
        found = _line_circle(b, a)
    else:
        found = _circle_circle(a, b)
    return [at for at in found if station_on(a, at) is not None and station_on(b, at) is not None]


def _line_line(a: Element, b: Element) -> list[Vec2]:
    (ux, uy), (vx, vy) = a.tangent, b.tangent
    dx, dy = b.start[0] - a.start[0], b.start[1] - a.start[1]
    cross = ux * vy - uy * vx
    if abs(cross) > 1e-12:
        return [a.point((dx * vy - dy * vx) / cross)]
    if abs(dx * uy - dy * ux) > NEAR:
        return []
    # On one line: any overlap has an end of one inside the other, or is the whole of both.
    return [a.start, a.end, b.start, b.end, a.point(a.length / 2)]


def _line_circle(line: Element, curve: Element) -> list[Vec2]:
    (cx, cy), radius = curve.center, curve.radius
    (x, y), (tx, ty) = line.start, line.tangent
    along = (cx - x) * tx + (cy - y) * ty
    aside = (cy - y) * tx - (cx - x) * ty
    half2 = radius * radius - aside * aside
    if half2 < -NEAR * radius:
        return []
    half = math.sqrt(max(half2, 0.0))
    return [line.point(along - half), line.point(along + half)]


def _circle_circle(a: Element, b: Element) -> list[Vec2]:
    (ax, ay), (bx, by) = a.center, b.center
    apart = math.hypot(bx - ax, by - ay)
    if apart < NEAR:
        same = abs(a.radius - b.radius) < NEAR
        return [a.start, a.end, b.start, b.end, a.point(a.length / 2)] if same else []
    along = (apart * apart + a.radius**2 - b.radius**2) / (2 * apart)
    half2 = a.radius**2 - along * along
    if half2 < -NEAR * a.radius:
        return []
    half = math.sqrt(max(half2, 0.0))
    ux, uy = (bx - ax) / apart, (by - ay) / apart
    foot = (ax + along * ux, ay + along * uy)
    return [(foot[0] - half * uy, foot[1] + half * ux), (foot[0] + half * uy, foot[1] - half * ux)]
