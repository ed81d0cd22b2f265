"""Where an outline crosses or touches itself, from its exact lines and arcs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from preview.profiles.edges import Arc, Edge, Line
from preview.profiles.pens import Point

TOUCH = 5e-7
"""Parts of an outline closer than this, mm, touch."""
SPIKE = 1e-4
"""Two lines that turn back on each other to within this angle, radians, enclose no wood."""
GRAZE = 1e-4
"""Edges that meet at less than this angle, radians, are said to touch rather than to cross."""
CUSP = 1e-5
"""A second meeting of two neighbors closer to their shared end than this, mm, is that end."""


@dataclass(frozen=True)
class Contact:
    """A point, (d, h) in mm, where an outline meets itself, and what it does there."""

    at: Point
    how: str


def first_contact(edges: Sequence[Edge]) -> Contact | None:
    """The first place where a closed loop of edges meets itself other than where neighbors join, or None."""
    box = np.array([edge.bounds for edge in edges])
    low, high = box[:, :2] - TOUCH, box[:, 2:] + TOUCH
    last = len(edges) - 1
    for i in range(last):
        near = ((low[i] <= high[i + 1 :]) & (low[i + 1 :] <= high[i])).all(axis=1)
        for j in (np.flatnonzero(near) + i + 1).tolist():
            found: Contact | None = None
            if j == i + 1:
                found = _at_joint(edges[i], edges[j])
            if found is None and i == 0 and j == last:
                found = _at_joint(edges[j], edges[i])
            if found is None:
                shared = [edges[j].start] if j == i + 1 else []
                shared += [edges[0].start] if i == 0 and j == last else []
                found = _between(edges[i], edges[j], shared)
            if found is not None:
                return found
    return None


def _at_joint(before: Edge, after: Edge) -> Contact | None:
    """What goes wrong at the shared end of two neighbors: two lines that make a spike."""
    if isinstance(before, Line) and isinstance(after, Line):
        (ux, uy), (vx, vy) = before.tangent(1.0), after.tangent(0.0)
        if ux * vx + uy * vy < 0.0 and abs(ux * vy - uy * vx) < SPIKE:
            return Contact(after.start, "turns straight back on itself")
    return None


def _between(a: Edge, b: Edge, shared: Sequence[Point]) -> Contact | None:
    """The first contact of two edges away from the ends they share."""
    crossings = _second_meeting(a, b, shared[0]) if shared else _meetings(a, b)
    for at in crossings:
        if all(math.dist(at, end) > CUSP for end in shared):
            touches = any(math.dist(at, end) < 2 * TOUCH for end in (a.start, a.end, b.start, b.end))
            (ux, uy), (vx, vy) = _direction(a, at), _direction(b, at)
            grazes = abs(ux * vy - uy * vx) < GRAZE
            return Contact(at, "touches itself" if touches or grazes else "crosses itself")
    for edge, other in ((a, b), (b, a)):
        for end in (edge.start, edge.end):
            if end not in shared and float(other.distance(np.array(end))) < TOUCH:
                return Contact(end, "touches itself")
    if not shared:
        for p, q in _nearest_insides(a, b):
            if math.dist(p, q) < TOUCH:
                return Contact(p, "touches itself")
    return None


def _holds(edge: Edge, at: Point) -> bool:
    """Whether a point of the edge's line or circle lies between the edge's ends."""
    if isinstance(edge, Arc):
        return edge.angle_to(at) <= abs(edge.sweep)
    (x0, y0), (x1, y1) = edge.start, edge.end
    along = (at[0] - x0) * (x1 - x0) + (at[1] - y0) * (y1 - y0)
    return 0.0 <= along <= (x1 - x0) ** 2 + (y1 - y0) ** 2


def _direction(edge: Edge, at: Point) -> Point:
    """A unit vector along the edge's line or circle at one of its points."""
    if isinstance(edge, Arc):
        return ((at[1] - edge.center[1]) / edge.radius, (edge.center[0] - at[0]) / edge.radius)
    return ((edge.end[0] - edge.start[0]) / edge.length, (edge.end[1] - edge.start[1]) / edge.length)


def _second_meeting(a: Edge, b: Edge, shared: Point) -> list[Point]:
    """Where two edges that share an end meet again, by reflection: a smooth joint adds no rounding."""
    if isinstance(a, Arc) and isinstance(b, Arc):
        ux, uy = b.center[0] - a.center[0], b.center[1] - a.center[1]
        apart2 = ux * ux + uy * uy
        if apart2 == 0.0:
            return []
        aside = (ux * (shared[1] - a.center[1]) - uy * (shared[0] - a.center[0])) / apart2
        found = (shared[0] + 2 * aside * uy, shared[1] - 2 * aside * ux)
    elif isinstance(a, Arc) or isinstance(b, Arc):
        line, arc = (b, a) if isinstance(a, Arc) else (a, b)
        assert isinstance(arc, Arc)
        ux, uy = line.end[0] - line.start[0], line.end[1] - line.start[1]
        along = ux * (arc.center[0] - shared[0]) + uy * (arc.center[1] - shared[1])
        reach = 2 * along / (ux * ux + uy * uy)
        found = (shared[0] + reach * ux, shared[1] + reach * uy)
    else:
        return []
    return [found] if _holds(a, found) and _holds(b, found) else []


def _meetings(a: Edge, b: Edge) -> list[Point]:
    """The points where two edges that share no end cross."""
    if isinstance(a, Line) and isinstance(b, Line):
        found = _line_line(a, b)
    elif isinstance(a, Arc) and isinstance(b, Arc):
        found = _circle_circle(a, b)
    elif isinstance(a, Line) and isinstance(b, Arc):
        found = _line_circle(a, b)
    else:
        assert isinstance(a, Arc)
        assert isinstance(b, Line)
        found = _line_circle(b, a)
    return [at for at in found if _holds(a, at) and _holds(b, at)]


def _line_line(a: Line, b: Line) -> list[Point]:
    ux, uy = a.end[0] - a.start[0], a.end[1] - a.start[1]
    vx, vy = b.end[0] - b.start[0], b.end[1] - b.start[1]
    cross = ux * vy - uy * vx
    if abs(cross) <= 1e-12 * a.length * b.length:
        return []  # side by side: an overlap shows at one of the ends
    t = ((b.start[0] - a.start[0]) * vy - (b.start[1] - a.start[1]) * vx) / cross
    return [(a.start[0] + t * ux, a.start[1] + t * uy)]


def _line_circle(line: Line, arc: Arc) -> list[Point]:
    length = line.length
    ux, uy = (line.end[0] - line.start[0]) / length, (line.end[1] - line.start[1]) / length
    dx, dy = arc.center[0] - line.start[0], arc.center[1] - line.start[1]
    along, aside = dx * ux + dy * uy, dy * ux - dx * uy
    half2 = arc.radius**2 - aside**2
    if half2 < 0.0:
        return []
    half = math.sqrt(half2)
    return [(line.start[0] + s * ux, line.start[1] + s * uy) for s in (along - half, along + half)]


def _circle_circle(a: Arc, b: Arc) -> list[Point]:
    apart = math.dist(a.center, b.center)
    if apart == 0.0:
        return []
    along = (apart**2 + a.radius**2 - b.radius**2) / (2 * apart)
    half2 = a.radius**2 - along**2
    if half2 < 0.0:
        return []
    half = math.sqrt(half2)
    ux, uy = (b.center[0] - a.center[0]) / apart, (b.center[1] - a.center[1]) / apart
    foot = (a.center[0] + along * ux, a.center[1] + along * uy)
    return [(foot[0] + s * uy, foot[1] - s * ux) for s in (-half, half)]


def _nearest_insides(a: Edge, b: Edge) -> list[tuple[Point, Point]]:
    """Pairs of points inside two edges that face each other squarely: where a curve may graze."""
    pairs: list[tuple[Point, Point]] = []
    if isinstance(a, Arc) and isinstance(b, Arc):
        apart = math.dist(a.center, b.center)
        if apart > 0.0:
            u = ((b.center[0] - a.center[0]) / apart, (b.center[1] - a.center[1]) / apart)
            pairs = [(p, q) for p in _across(a, u) for q in _across(b, u)]
    elif isinstance(a, Arc) and isinstance(b, Line):
        pairs = [(p, q) for q, p in _nearest_insides(b, a)]
    elif isinstance(a, Line) and isinstance(b, Arc):
        length = a.length
        ux, uy = (a.end[0] - a.start[0]) / length, (a.end[1] - a.start[1]) / length
        along = (b.center[0] - a.start[0]) * ux + (b.center[1] - a.start[1]) * uy
        foot = (a.start[0] + along * ux, a.start[1] + along * uy)
        pairs = [(foot, q) for q in _across(b, (-uy, ux))]
    return [(p, q) for p, q in pairs if _holds(a, p) and _holds(b, q)]


def _across(arc: Arc, u: Point) -> list[Point]:
    """The two points of an arc's circle in the unit direction u and against it."""
    (cx, cy), r = arc.center, arc.radius
    return [(cx + r * u[0], cy + r * u[1]), (cx - r * u[0], cy - r * u[1])]
