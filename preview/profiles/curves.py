"""Smooth curves that are no circular arcs: what a fit asks of them, and the ellipse, which a sheared arc is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from preview.profiles.edges import Floats
from preview.profiles.pens import Point


class Smooth(Protocol):
    """A curve over a parameter, smooth but where its pieces join."""

    def at(self, t: ArrayLike) -> tuple[Floats, Floats]:
        """The points (n, 2) and the derivatives (n, 2) at parameters (n,)."""

    def before(self, t: float) -> tuple[Floats, Floats]:
        """As `at`, for one parameter and as it is reached: where pieces join, of the piece that ends there."""


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

    def before(self, t: float) -> tuple[Floats, Floats]:
        """As `at`: there are no pieces to tell apart."""
        return self.at([t])


def curve_direction(curve: Smooth, t: float, side: int) -> Point:
    """The unit direction of travel at a parameter, looking on (side 1) or back (-1); (0, 0) where it stands still."""
    points, steps = curve.before(t) if side < 0 and t > 0 else curve.at([t])
    dx, dy = steps[0].tolist()
    reach = math.hypot(dx, dy)
    if reach <= 1e-9 * (1.0 + float(np.abs(points).max())):  # control points that coincide: look a little further
        near = curve.at([t + side * 1e-5])[0][0]
        dx, dy = (side * (near - points[0])).tolist()
        reach = math.hypot(dx, dy)
    return (dx / reach, dy / reach) if reach > 0 else (0.0, 0.0)
