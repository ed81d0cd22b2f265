"""The exact edges of a profile: lines and circular arcs in (d, h), millimeters and radians."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from preview.errors import PreviewError
from preview.profiles.pens import Pen, Point

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]
"""(least d, least h, largest d, largest h), mm."""

FLATTEST = 1e6
"""An arc of a larger radius than this, mm, cannot be told from a line."""


@dataclass(frozen=True)
class Line:
    """A straight edge from `start` to `end`, (d, h) in mm."""

    start: Point
    end: Point

    @property
    def length(self) -> float:
        """The length, mm."""
        return math.dist(self.start, self.end)

    @property
    def bounds(self) -> Box:
        """The exact box round the edge."""
        (d0, h0), (d1, h1) = self.start, self.end
        return (min(d0, d1), min(h0, h1), max(d0, d1), max(h0, h1))

    def point(self, t: ArrayLike) -> Floats:
        """The points at fractions t of the length, 0 to 1: shape (n,) gives (n, 2). The ends are exact."""
        at = np.asarray(t, dtype=np.float64)[..., None]
        start, end = np.array(self.start), np.array(self.end)
        return np.where(at == 1.0, end, start + at * (end - start))

    def tangent(self, t: ArrayLike) -> Floats:
        """The unit directions of travel at fractions t: shape (n,) gives (n, 2)."""
        length = self.length
        unit = ((self.end[0] - self.start[0]) / length, (self.end[1] - self.start[1]) / length)
        return np.broadcast_to(np.array(unit), (*np.shape(t), 2)).copy()

    def distance(self, points: Floats) -> Floats:
        """The distances, mm, from points (n, 2) to the edge: (n,)."""
        away: Floats = line_distances([self], points)[0]
        return away

    def moved(self, out: float, up: float) -> Line:
        """The same edge, shifted by `out` and `up` mm."""
        return Line(_shift(self.start, out, up), _shift(self.end, out, up))

    def reversed(self) -> Line:
        """The same edge travelled the other way."""
        return Line(self.end, self.start)

    def draw(self, pen: Pen) -> None:
        """Draw the edge with a pen that stands at its start."""
        pen.line(self.end)


@dataclass(frozen=True)
class Arc:
    """A circular edge, (d, h) in mm; `sweep` is the signed angle turned, radians, + counter-clockwise.

                    . end          Travelled with + sweep the center is on the left,
                   /               so in a counter-clockwise outline such an arc is convex;
        center + ---. start        with - sweep it is concave.

    Whoever builds one answers for it: both ends lie on the circle, `sweep` apart. `arc_through` and
    `arc_of_sweep` see to it, and `make_profile` refuses an arc that does not fit.
    """

    start: Point
    end: Point
    center: Point
    sweep: float

    @property
    def radius(self) -> float:
        """The radius, mm."""
        return math.dist(self.start, self.center)

    @property
    def length(self) -> float:
        """The length, mm."""
        return self.radius * abs(self.sweep)

    @property
    def via(self) -> Point:
        """The point half way along."""
        ux, uy = self.start[0] - self.center[0], self.start[1] - self.center[1]
        cos, sin = math.cos(self.sweep / 2), math.sin(self.sweep / 2)
        return (self.center[0] + ux * cos - uy * sin, self.center[1] + ux * sin + uy * cos)

    @property
    def bounds(self) -> Box:
        """The exact box round the edge: its ends, and where its circle turns back if it gets that far."""
        (cx, cy), radius = self.center, self.radius
        ds, hs = [self.start[0], self.end[0]], [self.start[1], self.end[1]]
        for ux, uy in ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)):
            angle = self.angle_to((cx + radius * ux, cy + radius * uy))
            # A turning point on an end adds nothing to the end but rounding.
            if 1e-9 < angle < abs(self.sweep) - 1e-9:
                ds.append(cx + radius * ux)
                hs.append(cy + radius * uy)
        return (min(ds), min(hs), max(ds), max(hs))

    def angle_to(self, at: Point) -> float:
        """The angle travelled from the start to the direction of a point, radians, 0 to 2π."""
        ux, uy = self.start[0] - self.center[0], self.start[1] - self.center[1]
        vx, vy = at[0] - self.center[0], at[1] - self.center[1]
        angle = math.copysign(1.0, self.sweep) * math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
        return angle if angle >= 0.0 else angle + 2 * math.pi

    def point(self, t: ArrayLike) -> Floats:
        """The points at fractions t of the length, 0 to 1: shape (n,) gives (n, 2). The ends are exact."""
        at = np.asarray(t, dtype=np.float64)
        ux, uy = self.start[0] - self.center[0], self.start[1] - self.center[1]
        cos, sin = np.cos(at * self.sweep), np.sin(at * self.sweep)
        points = np.stack(
            [self.center[0] + ux * cos - uy * sin, self.center[1] + ux * sin + uy * cos],
            axis=-1,
        )
        points[at == 0.0] = self.start
        points[at == 1.0] = self.end
        return points

    def tangent(self, t: ArrayLike) -> Floats:
        """The unit directions of travel at fractions t: shape (n,) gives (n, 2)."""
        at = np.asarray(t, dtype=np.float64)
        scale = math.copysign(1.0 / self.radius, self.sweep)
        ux, uy = scale * (self.start[0] - self.center[0]), scale * (self.start[1] - self.center[1])
        cos, sin = np.cos(at * self.sweep), np.sin(at * self.sweep)
        return np.stack([-ux * sin - uy * cos, ux * cos - uy * sin], axis=-1)

    def distance(self, points: Floats) -> Floats:
        """The distances, mm, from points (n, 2) to the edge: (n,)."""
        away: Floats = arc_distances([self], points)[0]
        return away

    def moved(self, out: float, up: float) -> Arc:
        """The same edge, shifted by `out` and `up` mm."""
        return Arc(_shift(self.start, out, up), _shift(self.end, out, up), _shift(self.center, out, up), self.sweep)

    def reversed(self) -> Arc:
        """The same edge travelled the other way."""
        return Arc(self.end, self.start, self.center, -self.sweep)

    def draw(self, pen: Pen) -> None:
        """Draw the edge with a pen that stands at its start."""
        pen.arc(self.via, self.end)


Edge = Line | Arc


def line_distances(lines: Sequence[Line], points: Floats) -> Floats:
    """The distances, mm, from points (..., 2) to each of e lines: (e, ...)."""
    x0, y0, x1, y1 = _columns([(*line.start, *line.end) for line in lines], points)
    along_x, along_y = x1 - x0, y1 - y0
    x, y = points[..., 0] - x0, points[..., 1] - y0
    square = np.maximum(along_x * along_x + along_y * along_y, 1e-300)
    t = np.clip((x * along_x + y * along_y) / square, 0.0, 1.0)
    away: Floats = np.hypot(x - t * along_x, y - t * along_y)
    return away


def arc_distances(arcs: Sequence[Arc], points: Floats) -> Floats:
    """The distances, mm, from points (..., 2) to each of e arcs: (e, ...)."""
    rows = [(*arc.start, *arc.end, *arc.center, arc.radius, arc.sweep) for arc in arcs]
    x0, y0, x1, y1, cx, cy, radius, sweep = _columns(rows, points)
    ux, uy = x0 - cx, y0 - cy
    x, y = points[..., 0] - cx, points[..., 1] - cy
    angle = np.arctan2(np.sign(sweep) * (ux * y - uy * x), ux * x + uy * y)
    faced = np.where(angle < 0.0, angle + 2 * np.pi, angle) <= np.abs(sweep)
    to_start = np.hypot(x - ux, y - uy)
    to_end = np.hypot(points[..., 0] - x1, points[..., 1] - y1)
    away: Floats = np.where(faced, np.abs(np.hypot(x, y) - radius), np.minimum(to_start, to_end))
    return away


def _columns(rows: Sequence[tuple[float, ...]], points: Floats) -> Floats:
    """Numbers of some edges (e, k) as k columns (e, 1 ...) that stand beside points (..., 2)."""
    columns = np.array(rows, dtype=np.float64).T
    return columns.reshape(*columns.shape, *[1] * (points.ndim - 1))


def arc_through(start: Point, via: Point, end: Point) -> Arc:
    """The arc from `start` through `via` to `end`, (d, h) in mm.

    Raises PreviewError when two of the points coincide or all three lie on a line.

    >>> arc_through((1, 0), (0, 1), (-1, 0))
    Arc(start=(1, 0), end=(-1, 0), center=(0.0, 0.0), sweep=3.141592653589793)
    """
    ax, ay = via[0] - start[0], via[1] - start[1]
    bx, by = end[0] - start[0], end[1] - start[1]
    cross = ax * by - ay * bx
    sides = math.hypot(ax, ay) * math.hypot(bx, by) * math.dist(via, end)
    # The radius is the product of the sides over 2 |cross|; asked this way round, no NaN slips by.
    if not 0.0 < sides <= 2 * FLATTEST * abs(cross) < math.inf:
        raise PreviewError(
            "",
            None,
            f"no arc runs through {_at(start)}, {_at(via)} and {_at(end)}: the three points lie on one line, "
            "or two of them coincide",
            "move the middle point off the line, or draw a straight line",
        )
    aa, bb = ax * ax + ay * ay, bx * bx + by * by
    center = (start[0] + (by * aa - ay * bb) / (2 * cross), start[1] + (ax * bb - bx * aa) / (2 * cross))
    # The turn at the middle point, between the chords that meet there, is half the sweep.
    turn = math.atan2(cross, ax * (end[0] - via[0]) + ay * (end[1] - via[1]))
    return Arc(start, end, center, 2 * turn)


def arc_of_sweep(start: Point, end: Point, sweep: float) -> Arc:
    """The arc from `start` to `end`, (d, h) in mm, that turns by `sweep` radians, + counter-clockwise."""
    across = 0.5 / math.tan(sweep / 2)
    dx, dy = end[0] - start[0], end[1] - start[1]
    center = ((start[0] + end[0]) / 2 - across * dy, (start[1] + end[1]) / 2 + across * dx)
    return Arc(start, end, center, sweep)


def _shift(point: Point, out: float, up: float) -> Point:
    return (point[0] + out, point[1] + up)


def _at(point: Point) -> str:
    return f"({point[0]:g}, {point[1]:g})"
