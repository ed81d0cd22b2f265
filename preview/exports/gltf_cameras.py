"""The ready views of a scene as cameras: the whole of it, and each of its corners."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.exports.gltf_turns import quaternion
from preview.exports.y_up import turned_up
from preview.models.mesh import SurroundingMesh, mesh_surroundings
from preview.vantage import (
    Camera,
    choose_camera,
    corner_names,
    corners_of,
    eyes_of,
    job_of,
    joint_places,
    sight_of,
)

Floats = NDArray[np.float64]
Record = dict[str, Any]

PICTURE = (1600, 1000)
"""The shape of the picture that the cameras stand back for; whoever uses one may take another."""
ROUGH = 2.0
"""The chord, mm, of what may hide the molding where the view of the whole is chosen."""
NEAR = 0.01
"""Nearer than this share of the way to what a camera aims at, nothing is drawn."""


@dataclass(frozen=True)
class NamedCamera:
    """A ready view: what it is called, and from where it is seen (mm, z up)."""

    name: str
    camera: Camera


def ready_cameras(built: Built, around: Sequence[SurroundingMesh]) -> tuple[NamedCamera, ...]:
    """The view of the whole, and one for each corner, by the names that the client's page has for them.

    around: the meshes of what stands round the molding.
    """
    if not built.meshes:
        return ()
    job = job_of(built, built.scene.chord)
    corners = corners_of(job, joint_places(job))
    spots = [corner.spot for corner in corners]
    found = [NamedCamera("Whole", _whole(built, around))]
    for name, spot, eye in zip(corner_names(job, corners), spots, eyes_of(spots, sight_of(built, around)), strict=True):
        found.append(NamedCamera(name, Camera(_vec3(eye), _vec3(spot.target))))
    return tuple(found)


def _whole(built: Built, around: Sequence[SurroundingMesh]) -> Camera:
    scene = built.scene
    ground = min((float(mesh.points[0, 2]) for mesh in around if mesh.kind == "floor"), default=-math.inf)
    rough = mesh_surroundings(scene.surroundings, scene.runs, ROUGH)
    blocks = np.concatenate([np.zeros((0, 3, 3)), *(mesh.points[mesh.triangles] for mesh in rough)])
    return choose_camera(built.lines, _boxes(built), blocks, PICTURE, ground)


def _boxes(built: Built) -> Floats:
    """The corners (8 n, 3) of every piece's box."""
    low = np.array([mesh.points.min(axis=0) for mesh in built.meshes])
    high = np.array([mesh.points.max(axis=0) for mesh in built.meshes])
    pick = np.array([[(i >> axis) & 1 for axis in range(3)] for i in range(8)], dtype=bool)
    return np.where(pick[:, None], high, low).reshape(-1, 3)


def camera_record(named: NamedCamera) -> Record:
    """A camera of glTF; how wide it is to how high is left to whoever shows it."""
    camera = named.camera
    high = 2 * math.atan(math.tan(camera.across / 2) * PICTURE[1] / PICTURE[0])
    near = max(NEAR * math.dist(camera.eye, camera.target) / 1000, 0.001)
    lens = {"yfov": round(high, 6), "znear": round(near, 6)}
    return {"name": named.name, "type": "perspective", "perspective": lens}


def camera_place(camera: Camera) -> Record:
    """Where a camera's node stands and how it is turned: it looks along its own -z, with its y up (glTF 2.0, 3.10)."""
    eye, target = turned_up(np.array([camera.eye, camera.target])) / 1000
    ahead = (target - eye) / np.linalg.norm(target - eye)
    right = np.cross(ahead, [0.0, 1.0, 0.0])
    if np.linalg.norm(right) < 1e-9:  # straight up or down, where any way is the picture's top
        right = np.array([1.0, 0.0, 0.0])
    right /= np.linalg.norm(right)
    turn = quaternion(np.column_stack([right, np.cross(right, ahead), -ahead]))
    return {"translation": (np.round(eye, 6) + 0.0).tolist(), "rotation": [round(part, 8) + 0.0 for part in turn]}


def _vec3(point: Floats) -> tuple[float, float, float]:
    x, y, z = point.tolist()
    return x, y, z
