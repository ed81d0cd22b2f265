"""What the drawing of a joint reckons with: outlines as loops, how far they are apart and where, dashes, a lens."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Line, Point, Profile, Region, difference

Floats = NDArray[np.float64]
Loop = tuple[Edge, ...]
SAME = 1e-9
"""Points of an outline closer than this, mm, are one."""
PROBES, SPACED = 9, 1.0
"""So many places of each edge at most, and that far apart, mm, are looked at; of an arc four times as many."""
MOST = 400
"""Of more places that are as good as the furthest, these are looked at."""
NEARLY = 0.98
"""Places this part of the largest distance apart are as good as the furthest."""
CLEAR = 4.0
"""mm from a corner at which a place is clear of it."""
FACE = 0.1
"""Nearer to the wall than this part of the projection is not the face."""
FINE = 1e-4
"""mm that a flattened outline may stray where it is measured."""


def loop_of(outline: Profile | Floats) -> Loop:
    """An outline as a loop of edges, counter-clockwise: a profile's own, or points (k, 2) in order joined up.

    Nothing when the points enclose no area.
    """
    if isinstance(outline, Profile):
        return outline.edges
    points = [(float(d), float(h)) for d, h in np.asarray(outline, dtype=np.float64).reshape(-1, 2)]
    kept = [at for before, at in pairwise([*points[-1:], *points]) if math.dist(before, at) > SAME]
    if len(kept) < 3:
        return ()
    edges: Loop = tuple(Line(a, b) for a, b in zip(kept, [*kept[1:], kept[0]], strict=True))
    area = _area(np.array(kept))
    if abs(area) <= SAME:
        return ()
    return edges if area > 0 else backwards(edges)


def backwards(loop: Loop) -> Loop:
    """The same loop travelled the other way."""
    return tuple(edge.reversed() for edge in reversed(loop))


def outline_of(starts: Floats, stops: Floats, profile: Floats) -> Floats:
    """The longest loop that loose segments make, as points (k, 2) in order.

    starts, stops (n, 3): their ends in space, bit for bit alike where two meet. profile (n, 2): the starts in (d, h).
    """
    leaving: dict[bytes, list[int]] = {}
    for number, start in enumerate(np.ascontiguousarray(starts)):
        leaving.setdefault(start.tobytes(), []).append(number)
    best: list[int] = []
    arriving = np.ascontiguousarray(stops)
    for first in range(len(starts)):
        loop: list[int] = []
        ways = leaving.get(np.ascontiguousarray(starts)[first].tobytes(), [])
        while ways:
            loop.append(ways.pop())
            ways = leaving.get(arriving[loop[-1]].tobytes(), [])
        if len(loop) > len(best):
            best = loop
    return np.asarray(profile, dtype=np.float64)[best]


def flat(loop: Loop, chord: float) -> Floats:
    """A loop as points (n, 2), straying from its arcs by no more than `chord` mm."""
    parts = []
    for edge in loop:
        count = 1
        if isinstance(edge, Arc):
            step = 2 * math.acos(max(0.0, 1 - chord / edge.radius))
            count = max(2, math.ceil(abs(edge.sweep) / step))
        parts.append(edge.point(np.arange(count) / count))
    return np.concatenate(parts)


def apart(one: Loop, other: Loop, covered: bool = False) -> tuple[float, Point]:
    """How far two loops are apart, mm, at most, and a place where they are, on the one that is further out there.

    covered: only what of the first lies outside the second counts. Of many such places one that can be pointed at:
    away from corners, and out on the face.
    """
    probes = _probes(one)
    away = _distance(other, probes)
    if covered:
        away[_inside(probes, flat(other, FINE))] = 0.0
    else:
        probes_back = _probes(other)
        probes, away = np.concatenate([probes, probes_back]), np.concatenate([away, _distance(one, probes_back)])
    worst = float(away.max())
    if worst <= SAME:
        return worst, (float(probes[0, 0]), float(probes[0, 1]))
    probes = probes[away >= NEARLY * worst]
    probes = probes[:: 1 + len(probes) // MOST]
    corners = np.array([edge.start for loop in (one, other) for edge in loop])
    clear = np.array([float(np.hypot(*(corners - probe).T).min()) for probe in probes])
    on_face = probes[:, 0] > FACE * float(corners[:, 0].max())
    best = probes[int(np.lexsort((probes[:, 1], probes[:, 0], np.minimum(clear, CLEAR), on_face & (clear > 0)))[-1])]
    return worst, (float(best[0]), float(best[1]))


def across(one: Loop, other: Loop, at: Point) -> tuple[Point, Point]:
    """From the nearest point of whichever loop a place lies on, to the nearest of the other: what a step spans."""
    feet = [_foot(flat(loop, FINE), at) for loop in (one, other)]
    on, off = (0, 1) if math.dist(feet[0], at) <= math.dist(feet[1], at) else (1, 0)
    return feet[on], _foot(flat((one, other)[off], FINE), feet[on])


def outside(one: Loop, other: Loop) -> tuple[Loop, ...] | None:
    """What of the first loop lies outside the second, as loops; None where edges meet too nearly to say."""
    try:
        return difference(Region((one,)), Region((other,))).loops
    except PreviewError:
        return None


def circle(center: Point, radius: float) -> Loop:
    """A circle as two arcs."""
    x, y = center
    right, left = (x + radius, y), (x - radius, y)
    return (Arc(right, left, center, math.pi), Arc(left, right, center, math.pi))


def dashes(loop: Loop, on: float, off: float) -> tuple[Edge, ...]:
    """The parts of a loop that a dashed line draws: `on` mm long, `off` mm apart, in whole numbers round the loop."""
    whole = math.fsum(edge.length for edge in loop)
    count = max(1, round(whole / (on + off)))
    period = whole / count
    lit = period * on / (on + off)
    found: list[Edge] = []
    begun = 0.0
    for edge in loop:
        length = edge.length
        k = math.floor(begun / period)
        while k * period < begun + length:
            a, b = max(k * period, begun), min(k * period + lit, begun + length)
            if b - a > 1e-6:
                found.append(_part(edge, (a - begun) / length, (b - begun) / length))
            k += 1
        begun += length
    return tuple(found)


def in_lens(points: Floats, radius: float) -> Floats:
    """A polygon (n, 2) less what lies outside a round lens about (0, 0); of no points when nothing is left.

    The lens has 90 sides. Where the polygon leaves it and comes back, its edges run along the rim.
    """
    corners = radius * _ring(90)
    found = points
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if not len(found):
            break
        side = (b[0] - a[0]) * (found[:, 1] - a[1]) - (b[1] - a[1]) * (found[:, 0] - a[0])
        after, side_after = np.roll(found, -1, axis=0), np.roll(side, -1)
        kept: list[Floats] = []
        for p, q, s, t in zip(found, after, side.tolist(), side_after.tolist(), strict=True):
            if s >= 0:
                kept.append(p)
            if (s >= 0) != (t >= 0):
                kept.append(p + (q - p) * (s / (s - t)))
        found = np.array(kept).reshape(-1, 2)
    return found


def lines_in_lens(points: Floats, radius: float) -> tuple[Line, ...]:
    """The sides of a polygon (n, 2) that lie in a round lens about (0, 0), cut off at its rim."""
    found: list[Line] = []
    for p, q in zip(points, np.roll(points, -1, axis=0), strict=True):
        way = q - p
        square = float(way @ way)
        if square == 0.0:
            continue
        middle = -float(p @ way) / square
        nearest = p + middle * way
        reach = (radius * radius - float(nearest @ nearest)) / square
        if reach <= 0.0:
            continue
        a, b = max(0.0, middle - math.sqrt(reach)), min(1.0, middle + math.sqrt(reach))
        if b > a:
            start, end = p + a * way, p + b * way
            found.append(Line((float(start[0]), float(start[1])), (float(end[0]), float(end[1]))))
    return tuple(found)


def _part(edge: Edge, a: float, b: float) -> Edge:
    (x0, y0), (x1, y1) = edge.point([a, b]).tolist()
    if isinstance(edge, Line):
        return Line((x0, y0), (x1, y1))
    return Arc((x0, y0), (x1, y1), edge.center, edge.sweep * (b - a))


def _probes(loop: Loop) -> Floats:
    found = []
    for edge in loop:
        count = min(PROBES, 2 + int(edge.length / SPACED)) * (1 if isinstance(edge, Line) else 4)
        found.append(edge.point(np.linspace(0, 1, count)))
    return np.concatenate(found)


def _distance(loop: Loop, points: Floats) -> Floats:
    nearest = np.full(len(points), np.inf)
    for edge in loop:
        np.minimum(nearest, edge.distance(points), out=nearest)
    return nearest


def _inside(points: Floats, polygon: Floats) -> NDArray[np.bool_]:
    """Whether points (n, 2) lie in a polygon (m, 2), by how often a ray to the right crosses it."""
    a, b = polygon, np.roll(polygon, -1, axis=0)
    x, y = points[:, :1], points[:, 1:]
    spans = (a[:, 1] > y) != (b[:, 1] > y)
    rise = np.where(b[:, 1] == a[:, 1], 1.0, b[:, 1] - a[:, 1])
    crossing = a[:, 0] + (y - a[:, 1]) / rise * (b[:, 0] - a[:, 0])
    odd: NDArray[np.bool_] = (spans & (x < crossing)).sum(axis=1) % 2 == 1
    return odd


def _foot(polygon: Floats, at: Point) -> Point:
    """The nearest point of a polygon's sides."""
    a, way = polygon, np.roll(polygon, -1, axis=0) - polygon
    square = np.einsum("ij,ij->i", way, way)
    t = np.clip(np.einsum("ij,ij->i", np.array(at) - a, way) / np.where(square > 0, square, 1.0), 0.0, 1.0)
    feet = a + t[:, None] * way
    best = feet[int(np.argmin(np.hypot(*(feet - np.array(at)).T)))]
    return (float(best[0]), float(best[1]))


def _area(points: Floats) -> float:
    x, y = (points - points[0]).T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


def _ring(count: int) -> Floats:
    angle = 2 * np.pi * np.arange(count) / count
    return np.column_stack([np.cos(angle), np.sin(angle)])
