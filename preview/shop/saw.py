"""Saw settings of a plane cut: how far the table swings from square, and how far the blade tilts from upright.

The saw as someone sees it who stands in front of it: x to the right along the fence, y away, z up.

        away (y)
        |==================== fence      swing (miter): the handle, in front, goes to the left or the right;
        |    wood      /    |            the cut then runs from the front on that side to the back on the other
        |_____________/_____|            tilt (bevel): the top of the blade leans to the left or the right
        +-------------------- right (x)

With the table swung by M to the left and the blade tilted by B to the left, the cut's unit normal that points to the
right is (cos M cos B, -sin M cos B, sin B). Read backward, that gives M and B of any plane, however the piece lies.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

Vec3 = tuple[float, float, float]
Hand = Literal["left", "right"]

SQUARE = 1e-9
NOTHING = math.radians(0.005)
"""An angle smaller than this, radians, is not shown: it is a square cut, or an upright blade."""


@dataclass(frozen=True)
class Setting:
    """A setting of the saw, in radians.

    miter: the table's swing from square, + with the handle to the left. bevel: the blade's tilt from upright, + with
    its top to the left.
    """

    miter: float
    bevel: float

    @property
    def swing(self) -> Hand | None:
        """Which way the handle goes; None for a square cut."""
        return _hand(self.miter)

    @property
    def tilt(self) -> Hand | None:
        """Which way the top of the blade leans; None when it stands upright."""
        return _hand(self.bevel)

    def turned(self) -> Setting:
        """The setting for the same cut with the piece turned end for end on the table, its other edge at the fence."""
        return Setting(self.miter, -self.bevel)


def settings(travel: Vec3, table: Vec3, cut: Vec3) -> Setting:
    """The setting that makes a plane cut across a piece, whatever way it lies.

    travel: along the piece, pointing to the right as it lies on the saw. table: the outward normal of the face that
    lies on the table, from the wood down into the table. cut: the normal of the cut plane, either way round. No vector
    need be of unit length. The edge against the fence follows: it is the one that (travel x table) points to.

    Raises ValueError when the table face does not run along the piece, or the cut does.
    """
    right, down, normal = unit(travel), unit(table), unit(cut)
    if abs(dot(right, down)) > SQUARE:
        raise ValueError("the face on the table has to run along the piece")
    across = dot(normal, right)
    if abs(across) <= SQUARE:
        raise ValueError("a cut along the piece is no end cut")
    if across < 0:
        normal = scaled(normal, -1.0)
    ahead, away, up = abs(across), dot(normal, cross(right, down)), -dot(normal, down)
    return Setting(math.atan2(-away, ahead), math.atan2(up, math.hypot(ahead, away)))


def flat_on_table(spring: float, corner: float) -> Setting:
    """The amounts (both +) for a sprung molding that lies flat on its back: the compound miter.

    spring: the angle between the molding's back and the wall. corner: the angle between the walls. Radians.

        miter = atan(sin(spring) / tan(corner / 2)),   bevel = asin(cos(spring) cos(corner / 2))

    Source: "Square cut fascia, crown molding: formulas and example calculations" (geocities.ws/xpf51); the same in the
    chart of compound angles printed in the manuals of compound miter saws.
    """
    half = _half(corner)
    return Setting(math.atan(math.sin(spring) / math.tan(half)), math.asin(math.cos(spring) * math.cos(half)))


def in_position(corner: float) -> Setting:
    """The amounts for a piece held against fence and table as it sits against wall and ceiling, upside down.

    corner: the angle between the walls, radians. The table swings by half the turn and the blade stays upright; the
    spring angle does not enter. Common practice.
    """
    return Setting(math.pi / 2 - _half(corner), 0.0)


def standing(corner: float) -> Setting:
    """The amounts for flat stock that stands with its back against the fence: a swing by half the turn, no tilt."""
    return in_position(corner)


def on_its_back(corner: float) -> Setting:
    """The amounts for flat stock that lies with its back on the table: a tilt by half the turn, no swing."""
    return Setting(0.0, math.pi / 2 - _half(corner))


def _half(corner: float) -> float:
    if not 0.0 < corner <= math.pi:
        raise ValueError("the angle between two walls is more than 0 and at most half a turn")
    return corner / 2


def _hand(angle: float) -> Hand | None:
    if abs(angle) < NOTHING:
        return None
    return "left" if angle > 0 else "right"


def dot(a: Vec3, b: Vec3) -> float:
    """The inner product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec3, b: Vec3) -> Vec3:
    """The outer product."""
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def scaled(a: Vec3, by: float) -> Vec3:
    """The vector made longer by a factor."""
    return (by * a[0], by * a[1], by * a[2])


def unit(a: Vec3) -> Vec3:
    """The vector made one long. Raises ValueError for one without length."""
    size = math.hypot(*a)
    if not 0.0 < size < math.inf:
        raise ValueError("a direction needs a length")
    return scaled(a, 1.0 / size)
