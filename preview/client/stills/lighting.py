"""The lamps of a picture: where a photographer would put them, and not where a wall stands in their light."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from preview.units import cos_sin
from preview.vantage import Camera, Obstacle, Sight, Vec3

Floats = NDArray[np.float64]
Size = tuple[int, int]

LEAST_REACH, REACH = 1800.0, 7.0
"""A lamp stands at least so far off, mm, and so many times as far as what is in the picture lies from its middle ..."""
NEARER = (1.0, 0.6, 0.4, 0.25, 0.15)
"""... or at these shares of that, where something stands in its light: smaller then, it gives as much."""
BEHIND_EYE = 20.0
"""Where nothing else does, a lamp stands so far behind the eye, mm."""
FROM_BELOW, OFF_THE_GROUND = 0.85, 0.75
"""The sine of the steepest slope from which what is looked up at is lit; how far down to the ground a lamp may be."""
CLEAR, NEARLY = 0.97, 0.85
"""A lamp does if so much of its light arrives; or, where no lamp's does, this share of the most that arrives ..."""
PLACES = 40
"""... at about so many places of the molding in the picture."""
PARTS = np.array([(0.0, 0.0), (-0.7, -0.7), (0.7, -0.7), (0.7, 0.7), (-0.7, 0.7)])
"""Those parts of a lamp that are asked, in halves of its width."""
RIM = np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])


@dataclass(frozen=True)
class Lamp:
    """A square lamp: its center and what it faces (mm), half its width (mm), its radiance (linear RGB).

    asked: how often it is asked for its light, beside a lamp that has 1: the less it gives, the seldomer.
    """

    at: Vec3
    toward: Vec3
    half_width: float
    radiance: Vec3
    asked: float = 1.0


@dataclass(frozen=True)
class _Kind:
    """turns: how far to the camera's side of the front it stands, the best first; slope: how high; wide: how wide it
    looks from the molding; all in degrees."""

    turns: tuple[float, ...]
    slope: float
    wide: float
    radiance: Vec3
    asked: float


KEY = _Kind((-24.0, -45.0, 0.0, 24.0), 50.0, 26.0, (34.5, 34.0, 32.6), 1.0)
FILL = _Kind((75.0, 50.0, 100.0, 25.0), 22.0, 30.0, (2.1, 2.2, 2.4), 0.3)


@dataclass(frozen=True)
class _Lit:
    """The molding in a picture. middle (3,), reach (mm): of what fills it. front: the plan direction in which the faces
    that are seen look on the whole. places (n, 3): some on these faces, the more the larger they are seen."""

    middle: Floats
    reach: float
    front: tuple[float, float]
    places: Floats


def lamps_of(
    camera: Camera, size: Size, molding: Sequence[Obstacle], around: Sequence[Obstacle], ground: float
) -> tuple[Lamp, ...]:
    """A softbox high before the faces that are seen, and a weak one low on the camera's side of them.

    Light that rakes down the face from above tells fillets, beads and ogees apart; from beside the camera it gives
    the faces on either side of a miter different tones. What is looked up at, under a ceiling, is lit from below, as
    far as the ground (a height, mm) leaves room. No lamp is in the picture, and none where what stands round the
    molding keeps its light off, if there is another place.
    """
    lit = _lit(camera, size, molding)
    sight = Sight(around)
    return tuple(_lamp(kind, camera, size, lit, sight, ground) for kind in (KEY, FILL))


def _lamp(kind: _Kind, camera: Camera, size: Size, lit: _Lit, sight: Sight, ground: float) -> Lamp:
    found: list[tuple[float, Lamp]] = []
    for at, toward in _stands(kind, camera, lit, ground):
        half = math.dist(at, lit.middle) * math.tan(math.radians(kind.wide / 2))
        place, facing = (cast(Vec3, tuple(each.tolist())) for each in (at, toward))
        lamp = Lamp(place, facing, half, kind.radiance, kind.asked)
        found.append((_arriving(lamp, camera, size, lit, sight), lamp))
        if found[-1][0] >= CLEAR:
            break
    enough = min(CLEAR, NEARLY * max(arrives for arrives, _ in found))
    return next(lamp for arrives, lamp in found if arrives >= enough)


def _stands(kind: _Kind, camera: Camera, lit: _Lit, ground: float) -> Iterator[tuple[Floats, Floats]]:
    """Where a lamp may stand and what it faces, the best first; the last is behind the eye, which sees it all."""
    eye = np.subtract(camera.eye, lit.middle)
    ahead, aside = lit.front
    side = 1 if ahead * eye[1] - aside * eye[0] >= 0 else -1  # where the camera stands, + to the left of the front
    reach = max(LEAST_REACH, REACH * lit.reach)
    for nearer, turn in itertools.product(NEARER, kind.turns):
        away = nearer * reach
        cos, sin = cos_sin(math.atan2(aside, ahead) + side * math.radians(turn))
        flat, rise = cos_sin(_slope(kind, camera, float(lit.middle[2]) - ground, away))
        yield lit.middle + away * np.array([cos * flat, sin * flat, rise]), lit.middle
    back = np.subtract(camera.eye, camera.target)
    yield camera.eye + back * (BEHIND_EYE / np.linalg.norm(back)), np.array(camera.target)


def _slope(kind: _Kind, camera: Camera, room: float, away: float) -> float:
    """How high above the molding a lamp stands, radians. room: how high the molding is above the ground, mm."""
    if camera.target[2] <= camera.eye[2]:
        return math.radians(kind.slope)
    return -math.asin(min(FROM_BELOW, OFF_THE_GROUND * room / away)) if kind is KEY else 0.0


def _arriving(lamp: Lamp, camera: Camera, size: Size, lit: _Lit, sight: Sight) -> float:
    """The share of a lamp's light that nothing keeps from the molding; less than none of one that is in the picture."""
    at, way = np.array(lamp.at), np.subtract(lamp.toward, lamp.at)
    right = np.array([way[1], -way[0], 0.0]) / math.hypot(way[0], way[1])
    sides = lamp.half_width * np.array([right, np.cross(right, way) / np.linalg.norm(way)])
    if camera.may_show(at + RIM @ sides, size):
        return -1.0
    parts = at + PARTS @ sides
    eyes, targets = np.repeat(parts, len(lit.places), axis=0), np.tile(lit.places, (len(parts), 1))
    return float(sight.clear(eyes, targets, [()] * len(eyes)).mean())


def _lit(camera: Camera, size: Size, molding: Sequence[Obstacle]) -> _Lit:
    corners = np.concatenate([body.points[body.triangles] for body in molding])
    area = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    centers = corners.mean(axis=1)
    away = camera.eye - centers
    share = np.maximum(np.einsum("ij,ij->i", area, away), 0) / np.linalg.norm(away, axis=1) ** 3
    at = camera.project(centers, size)
    within = ((at >= 0) & (at <= size)).all(axis=1) & (share > 0)
    if not within.any():
        within = np.ones(len(centers), bool)
        share = np.ones(len(centers))
    share, area, centers, away = (each[within] for each in (share, area, centers, away))
    middle = np.average(centers, axis=0, weights=share)
    reach = float(np.sqrt(np.average(((centers - middle) ** 2).sum(axis=1), weights=share)))
    front = 1e-9 * np.subtract(camera.eye, camera.target) + (area / (away**2).sum(axis=1, keepdims=True)).sum(axis=0)
    some = np.searchsorted(np.cumsum(share) / share.sum(), (np.arange(PLACES) + 0.5) / PLACES)
    some = np.unique(np.minimum(some, len(share) - 1))
    off = area[some] / np.maximum(np.linalg.norm(area[some], axis=1, keepdims=True), 1e-12)
    return _Lit(middle, reach, (float(front[0]), float(front[1])), centers[some] + off)
