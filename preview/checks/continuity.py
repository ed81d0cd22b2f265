"""How two pieces meet, measured on their exported bodies: gap, step and angle between the profiles at a joint."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from preview.checks.place import carried_back
from preview.checks.readers import Body, Floats
from preview.checks.surface import Surface
from preview.joinery import Joint, Piece, cut_directions, passages

SEARCH = 5.0
"""How far from a joint, mm along the run, an end face is still looked for."""
FACING = math.cos(math.radians(5))
SHORTEST = 0.05
"""Sides of a profile shorter than this, mm, have no direction worth comparing."""
APART = math.inf


@dataclass(frozen=True)
class Rim:
    """The edge of a piece's end face as the file holds it: the profile it shows at a joint.

    starts, stops (k, 3): its segments, mm. profile (k, 2): the starts in (d, h).
    """

    starts: Floats
    stops: Floats
    profile: Floats


@dataclass(frozen=True)
class Meeting:
    """What was measured at a joint: mm, mm and degrees; and where on the face, (d, h) in mm, each is largest."""

    gap: float
    step: float
    angle: float
    gap_at: tuple[float, float] | None = None
    step_at: tuple[float, float] | None = None
    angle_at: tuple[float, float] | None = None
    missing: str = ""


def rim(body: Body, skin: Surface, piece: Piece, joint: Joint, ends: bool) -> Rim | None:
    """The rim of the end face of `piece` at `joint` (`ends`: the joint ends the piece); None when there is none.

    The end face is found by where it looks, within 5 degrees of the joint's surface and 5 mm along the run; where
    it really lies is then measured.
    """
    if body.normals is None:
        return None
    d, h, station = carried_back(piece, skin.points)
    near = np.abs(station - piece.stations(d)[int(ends)]) < SEARCH
    outward = np.zeros_like(skin.points[:, :2])
    outward[near] = _outward(joint, skin.points[near]) * (1.0 if ends else -1.0)
    facing = np.einsum("ij,ij->i", body.normals[:, :2], outward[skin.weld]) > FACING
    corners = skin.weld[body.triangles[facing[body.triangles].all(axis=1)]]
    if not len(corners):
        return None
    start, stop = corners.ravel(), np.roll(corners, -1, axis=1).ravel()
    count = len(skin.points)
    boundary = ~np.isin(start * count + stop, stop * count + start)
    start, stop = start[boundary], stop[boundary]
    return Rim(skin.points[start], skin.points[stop], np.column_stack([d[start], h[start]]))


def _outward(joint: Joint, points: Floats) -> Floats:
    """Unit plan directions (v, 2) square to the joint's surface, along the travel, at the points' places."""
    before, after = passages([joint])
    upright = cut_directions(before, after, points[None, :, :2])[0]
    hand = 1.0 if _cross(joint.before.tangent, joint.before.normal) > 0 else -1.0
    return np.column_stack([hand * upright[:, 1], -hand * upright[:, 0]])


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
        nearest, segment = _nearest(probes, other)
        apart = nearest - probes
        square = np.zeros_like(apart)
        square[:, :2] = _outward(joint, probes)
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


def _nearest(probes: Floats, rim_: Rim) -> tuple[Floats, np.ndarray]:
    """The nearest point of a rim to each probe (p, 3), and the segment it lies on (p,)."""
    side = rim_.stops - rim_.starts
    square = np.einsum("ij,ij->i", side, side)
    away = probes[:, None, :] - rim_.starts[None]
    t = np.clip(np.einsum("pij,ij->pi", away, side) / np.where(square > 0, square, 1.0), 0.0, 1.0)
    foot = rim_.starts[None] + t[..., None] * side[None]
    apart = np.linalg.norm(foot - probes[:, None, :], axis=2)
    segment = np.argmin(apart, axis=1)
    return foot[np.arange(len(probes)), segment], segment


def _angles(one: Rim, other: Rim, segment: np.ndarray) -> Floats:
    """The angles in degrees between each segment of a rim and the one it lies on in the other."""
    a, b = one.stops - one.starts, (other.stops - other.starts)[segment]
    long_a, long_b = np.linalg.norm(a, axis=1), np.linalg.norm(b, axis=1)
    sine = np.linalg.norm(np.cross(a, b), axis=1)
    angle = np.degrees(np.arctan2(sine, np.abs(np.einsum("ij,ij->i", a, b))))
    return np.where((long_a < SHORTEST) | (long_b < SHORTEST), 0.0, angle)
