"""Where two pieces meet: one closed form for every corner between straights and arcs.

A joint belongs to neither piece. Both ask it where each profile point stops, so they cannot disagree.

The joint curve, in plan
------------------------
A profile point at projection d runs on the curve that lies d into the room from the back line. On both sides of a
corner that curve is a line or a circle, so the point stops where the two offset curves of the same d meet. With
n the unit normal into the room at the corner and k the curvature of the back line (1/radius, + when its center is
on the room side), a plan point p, measured from the corner, lies d out from that back line exactly when

    p . n - (k/2) |p|^2  =  d - (k/2) d^2

Written for both sides (n1, k1, n2, k2) with w = (|p|^2 - d^2)/2 this is p . n1 = d + k1 w and p . n2 = d + k2 w.
In the corner's own axes (m halves the two normals, b is square to m, along the mean travel; c and s are the cosine
and sine of half the turn toward the room) p = x m + y b and

    x = (d + K s^2 z) / c,    y = D s z,    K = (k1 + k2)/2,    D = (k1 - k2)/2,    w = s^2 z
    z = (d^2/c^2) / (q + sqrt(q^2 - A d^2/c^2)),    q = 1 - K d/c^2,    A = K^2 s^2/c^2 + D^2

Two straights give y = 0 and x = d/c: the plane miter. A straight and an arc give a parabola, two arcs an ellipse or
a hyperbola (the loci of points equally far from a line and a circle, or from two circles); arcs of one curvature
give a straight cut again. Nothing divides by the turn, so a tangent joint (s = 0) is the same formula and near
tangency no digit is lost. Where the root is not real the two offset curves do not meet.

Out of the plan
---------------
Where straights climb, are scarfed, or are cut in elevation, the cut is a plane, and the profile point (d, h) stops at

    [p(d) + slant d t,  height + lean d]  +  h up

with p(d) the joint curve in plan. On a plumb cut `up` is upright and `lean` is how much the sections beside it are
sheared there; a scarf has a slant; a cut in elevation leans back, and so does its `up`. A cope and a self-return
stop where another face stands at the height h: see faced.py.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from preview.runs import Vec2

if TYPE_CHECKING:
    from preview.joinery.faced import Faced

Floats = NDArray[np.float64]
Vec3 = tuple[float, float, float]
JointKind = Literal[
    "square end",
    "butt end",
    "beveled end",
    "butt",
    "tangent",
    "miter",
    "curved miter",
    "plumb cut",
    "elevation miter",
    "scarf",
    "butt to wall",
    "cope",
    "self-return",
    "block",
]
UPRIGHT: Vec3 = (0.0, 0.0, 1.0)

SAME_CURVATURE = 1e-12


@dataclass(frozen=True)
class Passage:
    """How a back line runs through a joint.

    tangent: unit direction of travel. normal: unit direction into the room. curvature: 1/mm, + when the curve's
    center is on the room side (it lines the inside), - when the molding wraps it, 0 for a straight.
    """

    tangent: Vec2
    normal: Vec2
    curvature: float = 0.0


@dataclass(frozen=True)
class Joint:
    """The surface in which two pieces (or a piece and nothing) stop.

    at: the plan point (mm) on the back line. before, after: the back line on both sides; equal at an end.
    turn: the corner in radians, + toward the room (an inside corner), - away from it (an outside corner).
    height: of the back line here, mm above the profile's own heights. lean, slant, up: as the heading says, mm for each
    mm of d, of d, and of h. faced: the face that the cut follows, where it follows one.
    """

    name: str
    kind: JointKind
    at: Vec2
    before: Passage
    after: Passage
    turn: float = 0.0
    height: float = 0.0
    lean: float = 0.0
    slant: float = 0.0
    up: Vec3 = UPRIGHT
    faced: Faced | None = None

    @property
    def is_plane(self) -> bool:
        """Whether the joint surface is a plane (a saw's straight cut)."""
        return self.kind != "curved miter" and self.faced is None

    @property
    def is_bent(self) -> bool:
        """Whether the cut is curved in plan: at a corner with a curve on either side."""
        return not self.is_plane and self.faced is None

    @property
    def is_square(self) -> bool:
        """Whether the cut is square to the travel in plan, and plumb."""
        return not self.turn and not self.slant and self.up == UPRIGHT and self.faced is None

    def points(self, d: Floats) -> Floats:
        """The plan points, mm, where profile points at projections d (n,) and height 0 stop: (n, 2)."""
        points: Floats = joint_points([self], d)[0]
        return points

    def ring(self, d: Floats, h: Floats) -> Floats:
        """The points in space (n, 3), mm, where profile points (d, h) (each (n,)) stop."""
        points: Floats = joint_rings([self], d, h)[0]
        return points

    def axes(self) -> tuple[Floats, Floats]:
        """A plane cut's own directions in space: where a profile point goes for each mm out, and each mm up."""
        flat = self.points(np.array([0.0, 1.0])) - np.array(self.at)
        return np.array([*(flat[1] - flat[0]), self.lean]), np.array(self.up)

    def reach(self) -> float:
        """The largest projection, mm, at which the two offset curves still meet; infinite when they always do."""
        limits = [limit for limit in _limits(self) if limit > 0]
        return min(limits, default=math.inf)


def joint_kind(turn: float, before: float, after: float, climbs: bool = False) -> JointKind:
    """The kind of joint for a turn (radians) between two curvatures (1/mm, signed toward the room).

    climbs: whether the slope changes there.
    """
    if turn == 0.0 and climbs:
        return "plumb cut"
    if turn == 0.0:
        return "butt" if before == after == 0.0 else "tangent"
    if abs(before - after) <= SAME_CURVATURE * max(abs(before), abs(after)):
        return "miter"
    return "curved miter"


@dataclass(frozen=True)
class Passages:
    """The passages of many joints as arrays, for one side: tangent, normal (J, 2), curvature (J,), at (J, 2).

    slant (J,): how far the cut runs on along the run for each mm out, beyond what the corner asks.
    """

    at: Floats
    tangent: Floats
    normal: Floats
    curvature: Floats
    slant: Floats

    def normals_at(self, points: Floats) -> Floats:
        """The unit normals (J, n, 2) of the back lines, carried to plan points (J, n, 2) near the joints."""
        ahead, aside = self._local(points)
        k = self.curvature[:, None]
        along = (1.0 - k * aside)[..., None] * self.normal[:, None, :]
        vector = along - (k * ahead)[..., None] * self.tangent[:, None, :]
        return _unit(vector)

    def stations_at(self, points: Floats) -> Floats:
        """How far past the joint (mm along the back line, + forward) plan points (J, n, 2) lie: (J, n)."""
        ahead, aside = self._local(points)
        k = np.broadcast_to(self.curvature[:, None], ahead.shape)
        bent = k != 0.0
        stations = ahead.copy()
        np.divide(np.arctan2(k * ahead, 1.0 - k * aside), k, out=stations, where=bent)
        return stations

    def _local(self, points: Floats) -> tuple[Floats, Floats]:
        away = points - self.at[:, None, :]
        ahead = np.einsum("jnk,jk->jn", away, self.tangent)
        return ahead, np.einsum("jnk,jk->jn", away, self.normal)


def passages(joints: Sequence[Joint]) -> tuple[Passages, Passages]:
    """The two sides of many joints, before and after, as arrays."""
    at = np.array([joint.at for joint in joints])
    slant = np.array([joint.slant for joint in joints])
    sides = []
    for side in ([joint.before for joint in joints], [joint.after for joint in joints]):
        numbers = np.array([(*p.tangent, *p.normal, p.curvature) for p in side])
        sides.append(Passages(at, numbers[:, 0:2], numbers[:, 2:4], numbers[:, 4], slant))
    return sides[0], sides[1]


def joint_points(joints: Sequence[Joint], d: Floats) -> Floats:
    """The plan points (J, n, 2) in mm where profile points at projections d (n,) stop, for many joints at once.

    A projection past a joint's `reach` gives nan; `join` refuses such joints beforehand.
    """
    before, after = passages(joints)
    return meet(before, after, d)


def meet(before: Passages, after: Passages, d: Floats) -> Floats:
    """The joint curves of many joints, as the module's heading derives them: (J, n, 2) for d (n,)."""
    both = before.normal + after.normal
    cos = np.linalg.norm(both, axis=1, keepdims=True) / 2  # (J, 1)
    m = both / (2 * cos)
    b = (before.tangent + after.tangent) / (2 * cos)
    sin = np.einsum("jk,jk->j", before.normal - after.normal, b)[:, None] / 2
    k1, k2 = before.curvature[:, None], after.curvature[:, None]
    mean, half = (k1 + k2) / 2, (k1 - k2) / 2
    half = np.where(np.abs(half) <= SAME_CURVATURE * np.abs(mean), 0.0, half)
    d = d[None, :]
    q = 1.0 - mean * d / cos**2
    spread = mean**2 * sin**2 / cos**2 + half**2
    inside = q**2 - spread * d**2 / cos**2
    with np.errstate(invalid="ignore"):
        z = (d**2 / cos**2) / (q + np.sqrt(np.where(q > 0, inside, np.nan)))
    x = (d + mean * sin**2 * z) / cos
    y = half * sin * z
    points: Floats = before.at[:, None, :] + x[..., None] * m[:, None, :] + y[..., None] * b[:, None, :]
    if before.slant.any():
        points += d[..., None] * (before.slant[:, None] * before.tangent)[:, None, :]
    return points


def joint_rings(joints: Sequence[Joint], d: Floats, h: Floats) -> Floats:
    """The points in space (J, n, 3), mm, where profile points (d, h) (each (n,)) stop, for many joints at once.

    Not for cuts that follow a face, which have no one ring.
    """
    plan = joint_points(joints, d)
    rise = np.array([(joint.height, joint.lean, *joint.up) for joint in joints])
    rings = np.empty((*plan.shape[:2], 3))
    rings[..., :2] = plan + h[None, :, None] * rise[:, None, 2:4]
    rings[..., 2] = rise[:, 0:1] + rise[:, 1:2] * d + rise[:, 4:5] * h
    return rings


def cut_directions(before: Passages, after: Passages, points: Floats) -> Floats:
    """The unit directions (J, n, 2) in which the joint curves run, outward from the wall, at their points.

    A curve whose points are equally far from two others halves the angle between their normals.
    """
    if not turned_on_curves(before, after).any():
        # Plane cuts of straights, and cuts square to curves: each runs one way from end to end.
        both = before.normal + after.normal + 2 * before.slant[:, None] * before.tangent
        both = _unit(both[:, None, :])
        return np.broadcast_to(both, points.shape)
    both = before.normals_at(points) + after.normals_at(points)
    return _unit(both + 2 * (before.slant[:, None] * before.tangent)[:, None, :])


def turned_on_curves(before: Passages, after: Passages) -> NDArray[np.bool_]:
    """Which joints (J,) are corners with a curve on either side: the only ones whose cuts are not linear in d."""
    corner = (before.normal != after.normal).any(axis=1)
    turned: NDArray[np.bool_] = corner & ((before.curvature != 0) | (after.curvature != 0))
    return turned


def _unit(vectors: Floats) -> Floats:
    long: Floats = np.linalg.norm(vectors, axis=2, keepdims=True)
    return vectors / long


def _limits(joint: Joint) -> list[float]:
    """The projections (of either sign) at which the root in `meet` stops being real."""
    k1, k2 = joint.before.curvature, joint.after.curvature
    mean, half = (k1 + k2) / 2, (k1 - k2) / 2
    cos, sin = math.cos(joint.turn / 2), math.sin(joint.turn / 2)
    root = math.sqrt(mean**2 * sin**2 / cos**2 + half**2) / cos
    slopes = (mean / cos**2 + root, mean / cos**2 - root)
    return [1.0 / slope for slope in slopes if slope != 0.0]
