"""How two pieces meet, measured on their exported bodies: gap, step and angle between the profiles at a joint."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from preview.checks.nearest import nearest_on_rim
from preview.checks.place import Laid, in_plan
from preview.checks.readers import Body, Floats
from preview.checks.surface import Surface
from preview.joinery import Joint, Piece, cut_directions, passages

SEARCH = 5.0
"""How far from a joint, mm along the run, an end face is still looked for."""
SEARCH_TURN = 0.2
"""And how far round a curve, radians: on a small one the sides further round look the way that the end face does."""
FACING = math.cos(math.radians(5))
SHORTEST = 0.05
"""Sides of a profile shorter than this, mm, have no direction worth comparing."""
APART = math.inf


@dataclass(frozen=True)
class Rim:
    """The edge of a piece's end face as the file holds it: the profile it shows at a joint.

    starts, stops (k, 3): its segments in the run's own frame, mm. profile (k, 2): the starts in (d, h).
    """

    starts: Floats
    stops: Floats
    profile: Floats


@dataclass(frozen=True)
class Meeting:
    """What was measured at a joint: mm, mm and degrees; and where on the face, (d, h) in mm, each is largest.

    A cope has no rim in common with the face it follows, so no step and no angle; a square end on a block has no angle.
    """

    gap: float
    step: float | None
    angle: float | None
    gap_at: tuple[float, float] | None = None
    step_at: tuple[float, float] | None = None
    angle_at: tuple[float, float] | None = None
    missing: str = ""


def rim(body: Body, skin: Surface, placed: Laid, piece: Piece, joint: Joint, ends: bool) -> Rim | None:
    """The rim of the end face of `piece` at `joint` (`ends`: the joint ends the piece); None when there is none.

    placed: the body's points, carried back.

    The end face is found by where it looks, within 5 degrees of the joint's surface, 5 mm along the run and 0.2
    radians round a curve; where it really lies is then measured.
    """
    if body.normals is None:
        return None
    points = placed.points
    along = np.abs(placed.station - placed.cuts[int(ends)])
    near = (along < SEARCH) & (along * abs(piece.curvature) < SEARCH_TURN)
    wanted = np.zeros_like(points)
    wanted[near] = outward(joint, points[near]) * (1.0 if ends else -1.0)
    looks = in_plan(piece, body.normals + np.array(piece.stand.origin))
    facing = np.einsum("ij,ij->i", looks, wanted[skin.weld]) > FACING
    corners = skin.weld[body.triangles[facing[body.triangles].all(axis=1)]]
    if not len(corners):
        return None
    start, stop = corners.ravel(), np.roll(corners, -1, axis=1).ravel()
    count = len(skin.points)
    there, back = start * count + stop, np.sort(stop * count + start)
    boundary = back[np.minimum(np.searchsorted(back, there), len(back) - 1)] != there
    start, stop = start[boundary], stop[boundary]
    return Rim(points[start], points[stop], np.column_stack([placed.d[start], placed.h[start]]))


def outward(joint: Joint, points: Floats) -> Floats:
    """Unit directions (v, 3) square to the joint's surface, along the travel, at the points' places."""
    hand = 1.0 if _cross(joint.before.tangent, joint.before.normal) > 0 else -1.0
    before, after = passages([joint])
    upright = cut_directions(before, after, points[None, :, :2])[0]
    square = np.column_stack([hand * upright[:, 1], -hand * upright[:, 0], np.zeros(len(points))])
    back_x, back_y, rise = joint.up
    if back_x or back_y:
        # Cut in elevation: one plane, square to the way a point goes for each mm up, and for each mm out.
        across = np.cross(joint.axes()[0], (back_x, back_y, rise))
        across /= np.linalg.norm(across) * np.sign(across[:2] @ np.array(joint.before.tangent))
        square[:] = across
    return square


def _cross(a: tuple[float, float], b: tuple[float, float]) -> float:
    return a[0] * b[1] - a[1] * b[0]


def meeting(joint: Joint, before: Rim | None, after: Rim | None) -> Meeting:
    """Compare two rims: how far apart along the joint's normal (gap), within its surface (step), and in direction."""
    if before is None or after is None:
        which = "before" if before is None else "after"
        return Meeting(APART, APART, APART, missing=f"no end face was found on the piece {which} the joint")
    if _same(before, after):
        return Meeting(0.0, 0.0, 0.0)
    gaps, steps, angles, places = [], [], [], []
    for one, other in ((before, after), (after, before)):
        middle = (one.starts + one.stops) / 2
        probes = np.concatenate([one.starts, middle])
        nearest, segment = nearest_on_rim(probes, other)
        apart = nearest - probes
        square = outward(joint, probes)
        across = np.einsum("ij,ij->i", apart, square)
        gaps.append(np.abs(across))
        steps.append(np.linalg.norm(apart - across[:, None] * square, axis=1))
        n = len(one.starts)
        angles.append(np.concatenate([np.zeros(n), _angles(one, other, segment[n:])]))
        places.append(np.tile(one.profile, (2, 1)))
    gap, step, angle = (np.concatenate(part) for part in (gaps, steps, angles))
    where = np.concatenate(places)

    def at(figures: Floats) -> tuple[float, float]:
        d, h = where[int(np.argmax(figures))]
        return float(d), float(h)

    return Meeting(float(gap.max()), float(step.max()), float(angle.max()), at(gap), at(step), at(angle))


def _same(one: Rim, other: Rim) -> bool:
    """Whether two rims run through the same points, bit for bit, in opposite senses."""
    if len(one.starts) != len(other.starts):
        return False

    def rows(first: Floats, last: Floats) -> Floats:
        joined = np.hstack([first, last])
        return joined[np.lexsort(joined.T)]

    return np.array_equal(rows(one.starts, one.stops), rows(other.stops, other.starts))


def _angles(one: Rim, other: Rim, segment: np.ndarray) -> Floats:
    """The angles in degrees between each segment of a rim and the one it lies on in the other."""
    a, b = one.stops - one.starts, (other.stops - other.starts)[segment]
    long_a, long_b = np.linalg.norm(a, axis=1), np.linalg.norm(b, axis=1)
    sine = np.linalg.norm(np.cross(a, b), axis=1)
    angle = np.degrees(np.arctan2(sine, np.abs(np.einsum("ij,ij->i", a, b))))
    return np.where((long_a < SHORTEST) | (long_b < SHORTEST), 0.0, angle)
