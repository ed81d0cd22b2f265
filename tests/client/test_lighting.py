"""Lamps: where they stand, and that their light arrives, by rays against triangles of Möller and Trumbore."""

from __future__ import annotations

import functools
import math
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from corner_scene import CORNER
from preview.build import build
from preview.client.stills import Still, stills_of
from preview.client.stills.lighting import KEY, Lamp
from preview.client.stills.studio import Shot, Stage, set_up, stage
from preview.review import build_every
from preview.scene import load_scene, parse_scene
from preview.vantage import Camera

Floats = NDArray[np.float64]

ROOT = Path(__file__).parent.parent.parent
SIZE = (1600, 1000)
NEAR = Camera((150.0, -500.0, 300.0), (200.0, 0.0, 50.0), math.radians(40))
WALL = '[[surrounding]]\nname = "screen"\nkind = "box"\nat = [-1000, -640]\nsize = [600, 20]\ntop = 3000\n'


@functools.cache
def made(stem: str) -> tuple[Stage, tuple[Still, ...]]:
    scene = load_scene(ROOT / "scenes" / f"{stem}.toml")
    builts = build_every(scene)
    return stage(builts[0]), stills_of(scene, builts)


def shot_of(text: str, camera: Camera = NEAR) -> Shot:
    return set_up(stage(build(parse_scene(text, Path("corner.toml")))), SIZE, camera)


def blocked(start: Floats, end: Floats, triangles: Floats) -> bool:
    """Whether a segment crosses a triangle of (t, 3, 3) (Möller and Trumbore, J. Graphics Tools 2 (1997) 21)."""
    way, first = end - start, triangles[:, 0]
    one, other = triangles[:, 1] - first, triangles[:, 2] - first
    across = np.cross(way, other)
    det = (one * across).sum(axis=1)
    safe = np.where(np.abs(det) < 1e-9, np.inf, det)
    turn = np.cross(start - first, one)
    u, v, t = (((start - first) * across).sum(axis=1) / safe, turn @ way / safe, (other * turn).sum(axis=1) / safe)
    return bool(((u >= 0) & (v >= 0) & (u + v <= 1) & (t > 1e-6) & (t < 1 - 1e-6) & np.isfinite(safe)).any())


def arriving(lamp: Lamp, shot: Shot) -> float:
    """The share of some places of the molding, in the picture and turned to the lamp, that its center lights."""
    around = np.concatenate([np.zeros((0, 3, 3)), *(body.points[body.triangles] for body in shot.around)])
    corners = np.concatenate([body.points[body.triangles] for body in shot.stage.molding])
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    centers = corners.mean(axis=1) + normal / np.linalg.norm(normal, axis=1, keepdims=True)
    at = shot.camera.project(centers, shot.size)
    within = ((at >= 0) & (at <= shot.size)).all(axis=1)
    for eye in (np.array(lamp.at), np.array(shot.camera.eye)):
        within &= ((eye - centers) * normal).sum(axis=1) > 0
    places = centers[within][:: max(1, within.sum() // 30)]
    return 1 - float(np.mean([blocked(place, np.array(lamp.at), around) for place in places]))


def test_a_lamp_looks_as_wide_from_wherever_it_stands() -> None:
    """So its light on the molding is as strong: that of a lamp of one radiance goes by how large it looks."""
    wides = []
    for text in (CORNER, CORNER + WALL):
        key = shot_of(text).lamps[0]
        away = math.dist(key.at, key.toward)
        wides.append(math.degrees(2 * math.atan(key.half_width / away)))
    assert wides == pytest.approx([KEY.wide] * 2)


def test_a_lamp_comes_before_the_wall_that_would_stand_in_its_light() -> None:
    free, screened = shot_of(CORNER), shot_of(CORNER + WALL)
    assert arriving(free.lamps[0], screened) == 0
    assert arriving(screened.lamps[0], screened) > 0.9


def test_one_camera_has_one_light_and_a_base_is_lit_from_above() -> None:
    key, fill = shot_of(CORNER).lamps
    rise = math.asin((key.at[2] - key.toward[2]) / math.dist(key.at, key.toward))
    assert math.degrees(rise) == pytest.approx(50)
    assert max(key.radiance) > 10 * max(fill.radiance)


@pytest.mark.parametrize("stem", ["six-sided-room", "cornice", "stair-wall"])
def test_light_arrives_and_no_lamp_is_in_the_picture(stem: str) -> None:
    """In a closed room, in alcoves and under ceilings. A lamp is above the floor, and none of it, not even its edge, is
    between the edges of the picture."""
    ready, stills = made(stem)
    for still in stills[:5]:
        shot = set_up(ready, SIZE, still.frames[0].camera)
        key = shot.lamps[0]
        assert key.at[2] > ready.ground
        assert arriving(key, shot) > 0.7, still.key
        for lamp in shot.lamps:
            seen = shot.camera.project(_spread(lamp), SIZE)
            assert not ((seen > 0) & (seen < SIZE)).all(axis=1).any(), still.key


def _spread(lamp: Lamp) -> Floats:
    """Places (n, 3) all over a lamp."""
    way = np.subtract(lamp.toward, lamp.at)
    right = np.array([way[1], -way[0], 0.0]) / math.hypot(way[0], way[1])
    up = np.cross(right, way) / np.linalg.norm(way)
    across = np.linspace(-lamp.half_width, lamp.half_width, 21)
    return np.asarray(lamp.at + (across[:, None, None] * right + across[None, :, None] * up).reshape(-1, 3))


def test_walls_behind_the_eye_let_light_in() -> None:
    """In the six-sided room the camera stands at a wall: that wall is left out, and those before it are not."""
    ready, stills = made("six-sided-room")
    shot = set_up(ready, SIZE, stills[0].frames[0].camera)
    (wall,) = (shot.around[i] for i in shot.stage.sheets)
    # It looks along y, from a wall along x at y = 0: up and down that wall nothing is left, all else is there.
    assert shot.camera.target[1] - shot.camera.eye[1] > 10 * abs(shot.camera.target[0] - shot.camera.eye[0])
    assert (wall.points[wall.triangles][..., 1].max(axis=1) > 100).all()
    (whole,) = (shot.stage.around[i] for i in shot.stage.sheets)
    assert len(whole.triangles) - len(wall.triangles) == 2
