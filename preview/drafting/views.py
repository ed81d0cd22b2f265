"""How one looks at a job for a line drawing: from far away in one direction, or from an eye.

up          A picture has x to the right and y up; depth grows away from whoever looks. Seen from far away (no
 |          eye) x, y and depth are mm. From an eye a point (x, y, z) of its axes, z ahead, is drawn at x/z,
 |   right  y/z, and its depth is -1/z: a projective map, so lines stay lines and planes stay planes, and what
 +------    stands nearer has the smaller depth. x and y are then the tangents of the angles to `ahead`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preview.units import cos_sin

Floats = NDArray[np.float64]
Vec3 = tuple[float, float, float]

ISOMETRIC = math.asin(1 / math.sqrt(3))
"""How far down, radians, an isometric looks: the three axes of a box look equally long (ISO 5456-3)."""
NEAREST = 1.0
"""What lies less than this, mm, before an eye is not drawn."""


@dataclass(frozen=True)
class View:
    """A way to look: three unit vectors square to each other, right x up = -ahead, and an eye (mm) or none."""

    right: Vec3
    up: Vec3
    ahead: Vec3
    eye: Vec3 | None = None

    @property
    def axes(self) -> Floats:
        """The rows (3, 3): right, up, ahead."""
        return np.array([self.right, self.up, self.ahead])

    def inside(self, points: Floats) -> Floats:
        """Points (n, 3), mm, in the view's own axes: right, up and ahead of the eye (of the origin without one)."""
        found: Floats = (points - np.array(self.eye or (0.0, 0.0, 0.0))) @ self.axes.T
        return found

    def project(self, points: Floats) -> Floats:
        """Points (n, 3), mm, as the picture has them (n, 3): x, y, and depth. With an eye they must lie before it."""
        return self.flattened(self.inside(points))

    def flattened(self, inside: Floats) -> Floats:
        """Points (n, 3) of the view's own axes as the picture has them."""
        if self.eye is None:
            return inside
        ahead = inside[:, 2:]
        return np.hstack([inside[:, :2] / ahead, -1.0 / ahead])

    def toward(self, points: Floats) -> Floats:
        """The directions (n, 3), not of unit length, from points (n, 3) to whoever looks."""
        if self.eye is None:
            return np.broadcast_to(-np.array(self.ahead), points.shape)
        return np.array(self.eye) - points


def looking(ahead: Vec3, upward: Vec3 = (0.0, 0.0, 1.0), eye: Vec3 | None = None) -> View:
    """The view in a direction, level in the picture; `upward` is what shall look upward there."""
    forward = np.array(ahead) / np.linalg.norm(ahead)
    right = np.cross(forward, np.array(upward))
    right /= np.linalg.norm(right)
    up = np.cross(right, forward)
    return View(_triple(right), _triple(up), _triple(forward), eye)


PLAN = View((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, -1.0))
"""From above, x to the right and y up."""
FROM_BELOW = View((-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
"""From below, y up: a ceiling as one sees it who looks up."""


def elevation(heading: float) -> View:
    """Level, in a plan direction (radians, counter-clockwise from x): pi/2 looks along y, x to the right."""
    cos, sin = cos_sin(heading)
    return View((sin, -cos, 0.0), (0.0, 0.0, 1.0), (cos, sin, 0.0))


def isometric(heading: float, down: float = ISOMETRIC) -> View:
    """In a plan direction (radians) and down by `down` radians (less than 0: up, for what hangs below a ceiling)."""
    (cos, sin), (level, fall) = cos_sin(heading), cos_sin(down)
    return View((sin, -cos, 0.0), (cos * fall, sin * fall, level), (cos * level, sin * level, -fall))


def from_eye(eye: Vec3, target: Vec3) -> View:
    """What one sees who stands at `eye` and looks at `target`, both mm."""
    return looking((target[0] - eye[0], target[1] - eye[1], target[2] - eye[2]), eye=eye)


def _triple(vector: Floats) -> Vec3:
    return (float(vector[0]), float(vector[1]), float(vector[2]))
