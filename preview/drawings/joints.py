"""Making edges that nearly meet end to end meet exactly, with lines still lines and arcs still arcs."""

from __future__ import annotations

import math
from collections.abc import Sequence

from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Line, Point, arc_of_sweep, arc_through

POINT = 1e-9
"""Ends closer than this, mm, are one point."""
ROUNDING = 1e-6
"""A gap up to this, mm, is rounding in the file, closed without a word."""


def joined_up(loop: Sequence[Edge]) -> tuple[list[Edge], list[tuple[Point, float]]]:
    """A loop of edges whose ends nearly meet, with ends that meet; and each gap over rounding: where, and its width.

    Neighbors are drawn on, or cut back, to where their lines or circles cross, if that is near; else both come
    to the middle of the gap.
    """
    gaps: list[tuple[Point, float]] = []
    joints: list[Point] = []
    for before, after in zip(loop, [*loop[1:], loop[0]], strict=True):
        gap = math.dist(before.end, after.start)
        if gap > ROUNDING:
            gaps.append((before.end, gap))
        joints.append(_meeting(before, after, gap))
    starts = [joints[-1], *joints[:-1]]
    return [with_ends(edge, a, b) for edge, a, b in zip(loop, starts, joints, strict=True)], gaps


def with_ends(edge: Edge, start: Point, end: Point) -> Edge:
    """The edge with its ends moved a little; an arc keeps its center where the new ends allow it."""
    if isinstance(edge, Line):
        return Line(start, end)
    if max(math.dist(start, edge.start), math.dist(end, edge.end)) <= POINT:
        return Arc(start, end, edge.center, edge.sweep)
    (cx, cy), radius = edge.center, edge.radius
    if all(abs(math.dist(p, edge.center) - radius) <= POINT for p in (start, end)):
        moved = [
            math.atan2(
                (old[0] - cx) * (new[1] - cy) - (old[1] - cy) * (new[0] - cx),
                (old[0] - cx) * (new[0] - cx) + (old[1] - cy) * (new[1] - cy),
            )
            for old, new in ((edge.start, start), (edge.end, end))
        ]
        sweep = edge.sweep + moved[1] - moved[0]
        if sweep * edge.sweep > 0.0 and abs(sweep) < 2 * math.pi:
            return Arc(start, end, edge.center, sweep)
    if abs(edge.sweep) <= math.pi:
        return arc_of_sweep(start, end, edge.sweep)
    return arc_through(start, edge.via, end)


def _meeting(before: Edge, after: Edge, gap: float) -> Point:
    """The point where two neighbors are made to meet."""
    a, b = before.end, after.start
    if gap <= POINT:
        return a
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    near = [p for p in _crossings(before, after) if math.dist(p, middle) <= 2 * gap]
    if near:
        return min(near, key=lambda p: math.dist(p, middle))
    if gap <= ROUNDING and isinstance(before, Line) != isinstance(after, Line):
        return a if isinstance(before, Line) else b  # a line's ends were given, an arc's were computed
    return middle


def _crossings(before: Edge, after: Edge) -> list[Point]:
    """Where the lines or circles of two edges cross, unless they do so at a grazing angle."""
    try:
        if isinstance(before, Line) and isinstance(after, Line):
            return _line_line(before, after)
        if isinstance(before, Line) and isinstance(after, Arc):
            return _line_circle(before, after)
        if isinstance(before, Arc) and isinstance(after, Line):
            return _line_circle(after, before)
        return _circle_circle(before, after) if isinstance(before, Arc) and isinstance(after, Arc) else []
    except (PreviewError, ZeroDivisionError):
        return []


def _line_line(a: Line, b: Line) -> list[Point]:
    (ux, uy), (vx, vy) = _unit(a), _unit(b)
    cross = ux * vy - uy * vx
    if abs(cross) < 1e-3:
        return []
    # Measured from the ends that meet, so that upright and level lines cross at their own numbers.
    t = ((b.start[0] - a.end[0]) * vy - (b.start[1] - a.end[1]) * vx) / cross
    return [(a.end[0] + t * ux, a.end[1] + t * uy)]


def _line_circle(line: Line, arc: Arc) -> list[Point]:
    ux, uy = _unit(line)
    dx, dy = arc.center[0] - line.start[0], arc.center[1] - line.start[1]
    along, aside = dx * ux + dy * uy, dy * ux - dx * uy
    half2 = arc.radius**2 - aside**2
    if half2 < 1e-6 * arc.radius**2:
        return []
    half = math.sqrt(half2)
    return [(line.start[0] + s * ux, line.start[1] + s * uy) for s in (along - half, along + half)]


def _circle_circle(a: Arc, b: Arc) -> list[Point]:
    apart = math.dist(a.center, b.center)
    along = (apart**2 + a.radius**2 - b.radius**2) / (2 * apart)
    half2 = a.radius**2 - along**2
    if half2 < 1e-6 * a.radius**2:
        return []
    half = math.sqrt(half2)
    ux, uy = (b.center[0] - a.center[0]) / apart, (b.center[1] - a.center[1]) / apart
    foot = (a.center[0] + along * ux, a.center[1] + along * uy)
    return [(foot[0] + s * uy, foot[1] - s * ux) for s in (-half, half)]


def _unit(line: Line) -> Point:
    return ((line.end[0] - line.start[0]) / line.length, (line.end[1] - line.start[1]) / line.length)
