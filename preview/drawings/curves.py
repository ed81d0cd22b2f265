"""What a drawing is made of before it is a profile: exact lines and arcs, ellipses and splines, and how they map."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from preview.profiles import Arc, Edge, Line, Point

Floats = NDArray[np.float64]

SAME = 1e-10
"""Axes of a mapped circle that agree to this part of their length are the axes of a circle."""
SHARP = 1e-4
"""Where a curve turns at once by more than this, radians, it has a corner."""


@dataclass(frozen=True)
class Affine:
    """x' = a x + c y + e, y' = b x + d y + f: the six numbers in SVG's order."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    def __matmul__(self, first: Affine) -> Affine:
        """The map that does `first` and then this one."""
        a, b = self.vector((first.a, first.b))
        c, d = self.vector((first.c, first.d))
        e, f = self.point((first.e, first.f))
        return Affine(a, b, c, d, e, f)

    @property
    def turn(self) -> float:
        """The determinant: negative where the map mirrors."""
        return self.a * self.d - self.b * self.c

    @property
    def keeps_circles(self) -> bool:
        """Whether it only moves, turns, mirrors and scales alike in every direction."""
        return _square((self.a, self.b), (self.c, self.d))

    def point(self, p: Point) -> Point:
        """Where a point goes."""
        x, y = self.vector(p)
        return (x + self.e, y + self.f)

    def vector(self, v: Point) -> Point:
        """What a step becomes."""
        return (self.a * v[0] + self.c * v[1], self.b * v[0] + self.d * v[1])


def _square(u: Point, v: Point) -> bool:
    """Whether two axes are square to each other and of one length, to rounding."""
    (ux, uy), (vx, vy) = u, v
    size = ux * ux + uy * uy + vx * vx + vy * vy
    return abs(ux * ux + uy * uy - vx * vx - vy * vy) <= 2 * SAME * size and abs(ux * vx + uy * vy) <= SAME * size


class Curve(Protocol):
    """A curve that is neither a line nor a circular arc, over a parameter from 0 to `parts`."""

    @property
    def parts(self) -> int:
        """How many pieces of one formula it has; whole parameters are where they join."""

    @property
    def corners(self) -> tuple[float, ...]:
        """The parameters where a fit has to stop and start again, 0 and `parts` among them."""

    def at(self, t: ArrayLike) -> tuple[Floats, Floats]:
        """The points (n, 2) and the derivatives (n, 2) at parameters (n,)."""


@dataclass(frozen=True)
class Ellipse:
    """The points center + u cos θ + v sin θ, θ from `start` on by `sweep` radians; u and v need not be square."""

    center: Point
    u: Point
    v: Point
    start: float
    sweep: float

    @property
    def parts(self) -> int:
        """One formula."""
        return 1

    @property
    def corners(self) -> tuple[float, ...]:
        """The ends, and the ends of the two true axes, where an ellipse is widest."""
        (ux, uy), (vx, vy) = self.u, self.v
        axis = 0.5 * math.atan2(2 * (ux * vx + uy * vy), ux * ux + uy * uy - vx * vx - vy * vy)
        first = math.ceil((min(self.start, self.start + self.sweep) - axis) / (math.pi / 2))
        last = math.floor((max(self.start, self.start + self.sweep) - axis) / (math.pi / 2))
        inner = [(axis + k * math.pi / 2 - self.start) / self.sweep for k in range(first, last + 1)]
        return (0.0, *sorted(t for t in inner if 1e-6 < t < 1 - 1e-6), 1.0)

    def at(self, t: ArrayLike) -> tuple[Floats, Floats]:
        """The points and the derivatives at parameters t, 0 to 1."""
        angle = self.start + self.sweep * np.asarray(t, dtype=np.float64)
        cos, sin = np.cos(angle)[..., None], np.sin(angle)[..., None]
        u, v = np.array(self.u), np.array(self.v)
        return np.array(self.center) + u * cos + v * sin, self.sweep * (v * cos - u * sin)

    def mapped(self, by: Affine) -> Arc | Ellipse | tuple[Arc, ...]:
        """The ellipse under a map: an arc where it has become, or is, a part of a circle (two for a whole one)."""
        found = Ellipse(by.point(self.center), by.vector(self.u), by.vector(self.v), self.start, self.sweep)
        if not _square(found.u, found.v):
            return found
        (ux, uy), (vx, vy) = found.u, found.v
        sweep = math.copysign(self.sweep, self.sweep * (ux * vy - uy * vx))
        count = 1 if abs(sweep) < 1.5 * math.pi else 2
        ends = [found.at([i / count])[0][0] for i in range(count + 1)]
        if abs(sweep) > 2 * math.pi - 1e-12:
            ends[-1] = ends[0]
        points = [(float(x), float(y)) for x, y in ends]
        arcs = [Arc(points[i], points[i + 1], found.center, sweep / count) for i in range(count)]
        return arcs[0] if count == 1 else tuple(arcs)


@dataclass(frozen=True)
class Spline:
    """Bézier pieces end to end: `controls` (pieces, degree + 1, 3), each row w x, w y, w."""

    controls: Floats

    @property
    def parts(self) -> int:
        """The number of pieces."""
        return len(self.controls)

    @property
    def corners(self) -> tuple[float, ...]:
        """The ends, and the joins of pieces where the direction jumps."""
        found = [0.0]
        for i in range(1, self.parts):
            (ax, ay), (bx, by) = direction(self, float(i), -1), direction(self, float(i), 1)
            if abs(math.atan2(ax * by - ay * bx, ax * bx + ay * by)) > SHARP:
                found.append(float(i))
        return (*found, float(self.parts))

    def at(self, t: ArrayLike) -> tuple[Floats, Floats]:
        """The points and the derivatives at parameters t, 0 to `parts`, by de Casteljau's steps."""
        along = np.asarray(t, dtype=np.float64)
        piece = np.clip(np.floor(along).astype(int), 0, self.parts - 1)
        return self._in_piece(piece, along - piece)

    def _in_piece(self, piece: NDArray[np.int_], t: Floats) -> tuple[Floats, Floats]:
        rows = self.controls[piece]
        t = t[..., None, None]
        while rows.shape[-2] > 2:
            rows = (1 - t) * rows[..., :-1, :] + t * rows[..., 1:, :]
        step = (self.controls.shape[1] - 1) * (rows[..., 1, :] - rows[..., 0, :])
        at = (1 - t[..., 0]) * rows[..., 0, :] + t[..., 0] * rows[..., 1, :]
        points = at[..., :2] / at[..., 2:]
        return points, (step[..., :2] - step[..., 2:] * points) / at[..., 2:]

    def before(self, t: float) -> tuple[Floats, Floats]:
        """As `at`, at a whole parameter and of the piece that ends there."""
        return self._in_piece(np.array([int(t) - 1]), np.array([1.0]))

    def mapped(self, by: Affine) -> Spline:
        """The spline under a map."""
        matrix = np.array([[by.a, by.b, 0.0], [by.c, by.d, 0.0], [by.e, by.f, 1.0]])
        return Spline(self.controls @ matrix)


Shape = Edge | Ellipse | Spline


def mapped(shape: Shape, by: Affine) -> tuple[Shape, ...]:
    """A shape under a map; lines stay lines, and circles stay circles where the map lets them."""
    if isinstance(shape, Line):
        return (Line(by.point(shape.start), by.point(shape.end)),)
    if isinstance(shape, Spline):
        return (shape.mapped(by),)
    if isinstance(shape, Ellipse):
        found = shape.mapped(by)
        return found if isinstance(found, tuple) else (found,)
    if by.keeps_circles:
        center, sweep = by.point(shape.center), math.copysign(shape.sweep, shape.sweep * by.turn)
        return (Arc(by.point(shape.start), by.point(shape.end), center, sweep),)
    ux, uy = shape.start[0] - shape.center[0], shape.start[1] - shape.center[1]
    return (Ellipse(by.point(shape.center), by.vector((ux, uy)), by.vector((-uy, ux)), 0.0, shape.sweep),)


def direction(curve: Curve, t: float, side: int) -> Point:
    """The unit direction of travel at a parameter, looking on (side 1) or back (-1); (0, 0) where it stands still."""
    at_join = isinstance(curve, Spline) and side < 0 and t == int(t) and t > 0
    points, steps = curve.before(t) if at_join and isinstance(curve, Spline) else curve.at([t])
    dx, dy = steps[0].tolist()
    reach = math.hypot(dx, dy)
    if reach <= 1e-9 * (1.0 + float(np.abs(points).max())):  # control points that coincide: look a little further
        near = curve.at([t + side * 1e-5])[0][0]
        dx, dy = (side * (near - points[0])).tolist()
        reach = math.hypot(dx, dy)
    return (dx / reach, dy / reach) if reach > 0 else (0.0, 0.0)


def beziers(pieces: Sequence[Sequence[Point]]) -> Spline:
    """Plain Bézier pieces of one degree, end to end, each by its control points."""
    return Spline(np.array([[(x, y, 1.0) for x, y in points] for points in pieces]))


def b_spline(degree: int, knots: Sequence[float], points: Sequence[Point], weights: Sequence[float]) -> Spline:
    """A B-spline, weighted or not, clamped or not, as Bézier pieces: exact, by its blossom.

    The control points of the piece between two knots s < e are the spline's blossom at (s, .., s, e, .., e).
    """
    controls = [np.array([w * x, w * y, w]) for (x, y), w in zip(points, weights, strict=True)]
    pieces = []
    for i in range(degree, len(points)):
        s, e = knots[i], knots[i + 1]
        if e > s:
            near = controls[i - degree : i + 1]
            pieces.append([_blossom(degree, knots, i, near, [s] * (degree - j) + [e] * j) for j in range(degree + 1)])
    return Spline(np.array(pieces))


def _blossom(degree: int, knots: Sequence[float], i: int, near: Sequence[Floats], values: Sequence[float]) -> Floats:
    rows = list(near)
    for level, u in enumerate(values, 1):
        for j in range(degree, level - 1, -1):
            low, high = knots[i - degree + j], knots[i + 1 + j - level]
            share = (u - low) / (high - low)
            rows[j] = (1 - share) * rows[j - 1] + share * rows[j]
    return rows[degree]
