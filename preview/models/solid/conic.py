"""The joint curve of a curved miter in plan, exactly: a conic arc as a rational quadratic Bezier curve.

Points equally far from two lines or circles lie on a conic (see joinery/joint.py). A conic arc is fixed by its two
ends, their tangents and one more point, and every conic arc is exactly one rational Bezier curve of degree two.
Along it the projection d is a linear function of the plan point, because the two circles' equations differ by a
linear one; so a profile's slanted line is cut in a conic as well, and d gives the curve's parameter in closed form.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from preview.joinery import Joint, Passage, cut_directions, passages
from preview.models.solid.spline import Floats

STRAIGHT = 1e-12
"""Where the joint curve turns by less than this (radians), it is straight to the last digit."""


@dataclass(frozen=True)
class Conic:
    """A conic arc from the smallest projection to the largest: plan poles (3, 2) and the middle one's weight.

    d (3,): the projection of each pole, mm (of the middle one, as the linear function has it there).
    """

    poles: Floats
    weight: float
    d: Floats

    def parameter(self, d: Floats) -> Floats:
        """The parameters, 0 to 1, of the curve's points at projections d (n,)."""
        x = np.clip((d - self.d[0]) / (self.d[2] - self.d[0]), 0.0, 1.0)
        middle = (self.d[1] - self.d[0]) / (self.d[2] - self.d[0])
        # With r = u/(1 - u): (1 - x) r² + 2 b r - x = 0, b = w (middle - x).
        b = self.weight * (middle - x)
        root = np.sqrt(b * b + x * (1.0 - x))
        up = np.where(b > 0, x, root - b)
        found: Floats = up / (up + np.where(b > 0, root + b, 1.0 - x))
        return found

    def at(self, u: Floats) -> Floats:
        """The plan points (n, 2) at parameters u (n,)."""
        basis = self._basis(u)
        points: Floats = basis @ self.poles / basis.sum(axis=1, keepdims=True)
        return points

    def projections(self, u: Floats) -> Floats:
        """The projections (n,) at parameters u (n,)."""
        basis = self._basis(u)
        found: Floats = basis @ self.d / basis.sum(axis=1)
        return found

    def _basis(self, u: Floats) -> Floats:
        return np.column_stack([(1 - u) ** 2, 2 * u * (1 - u) * self.weight, u**2])


def joint_conic(joint: Joint, d_min: float, d_max: float) -> Conic | None:
    """The exact curve of a curved miter between two projections, mm; None where it is straight."""
    local = replace(joint, at=(0.0, 0.0))
    d = np.array([d_min, (d_min + d_max) / 2, d_max])
    points = local.points(d)
    ahead = cut_directions(*passages([local]), points[None])[0]
    turn = _cross(ahead[0], ahead[2])
    if abs(turn) < STRAIGHT:
        return None
    chord, third = points[2] - points[0], points[1] - points[0]
    corner = _cross(chord, ahead[2]) / turn * ahead[0]
    # The third point in the triangle's own coordinates: a start + b corner + c end.
    whole = _cross(corner, chord)
    b = _cross(third, chord) / whole
    c = float((third - b * corner) @ chord / (chord @ chord))
    weight = b / (2.0 * np.sqrt(c * (1.0 - b - c)))
    poles = np.array([points[0], points[0] + corner, points[2]])
    top = (poles[0] + 2 * weight * poles[1] + poles[2]) / (2 + 2 * weight)
    middle = ((2 + 2 * weight) * _projection(local.before, top) - d_min - d_max) / (2 * weight)
    return Conic(poles + np.array(joint.at), float(weight), np.array([d_min, float(middle), d_max]))


def _cross(a: Floats, b: Floats) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def _projection(passage: Passage, point: Floats) -> float:
    """How far out from the back line, mm, a plan point lies that is measured from the joint."""
    k = passage.curvature
    m = float(point @ np.array(passage.normal) - k / 2 * (point @ point))
    return 2 * m / (1.0 + math.sqrt(1.0 - 2 * k * m))
