"""What a drawing is made of before it is a profile: exact lines and arcs, ellipses and splines, and how they map."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from preview.profiles import Arc, Edge, Ellipse, Line, Point, Smooth, curve_direction

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


class Curve(Smooth, Protocol):
    """A curve that is neither a line nor a circular arc, over a parameter from 0 to `parts`."""

    @property
    def parts(self) -> int:
        """How many pieces of one formula it has; whole parameters are where they join."""

    @property
    def corners(self) -> tuple[float, ...]:
        """The parameters where a fit has to stop and start again, 0 and `parts` among them."""


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
            (ax, ay), (bx, by) = curve_direction(self, float(i), -1), curve_direction(self, float(i), 1)
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
        """As `at`, for one parameter above 0; where pieces join, of the piece that ends there."""
        piece = math.ceil(t) - 1
        return self._in_piece(np.array([piece]), np.array([t - piece]))

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
        found = _mapped_ellipse(shape, by)
        return found if isinstance(found, tuple) else (found,)
    if by.keeps_circles:
        center, sweep = by.point(shape.center), math.copysign(shape.sweep, shape.sweep * by.turn)
        return (Arc(by.point(shape.start), by.point(shape.end), center, sweep),)
    ux, uy = shape.start[0] - shape.center[0], shape.start[1] - shape.center[1]
    return (Ellipse(by.point(shape.center), by.vector((ux, uy)), by.vector((-uy, ux)), 0.0, shape.sweep),)


def _mapped_ellipse(shape: Ellipse, by: Affine) -> Arc | Ellipse | tuple[Arc, ...]:
    """An ellipse under a map: an arc where it has become, or is, a part of a circle (two for a whole one)."""
    found = Ellipse(by.point(shape.center), by.vector(shape.u), by.vector(shape.v), shape.start, shape.sweep)
    if not _square(found.u, found.v):
        return found
    (ux, uy), (vx, vy) = found.u, found.v
    sweep = math.copysign(shape.sweep, shape.sweep * (ux * vy - uy * vx))
    count = 1 if abs(sweep) < 1.5 * math.pi else 2
    ends = [found.at([i / count])[0][0] for i in range(count + 1)]
    if abs(sweep) > 2 * math.pi - 1e-12:
        ends[-1] = ends[0]
    points = [(float(x), float(y)) for x, y in ends]
    arcs = [Arc(points[i], points[i + 1], found.center, sweep / count) for i in range(count)]
    return arcs[0] if count == 1 else tuple(arcs)


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
