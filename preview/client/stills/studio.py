"""What stands before the camera, and the light on it. Nothing here enters a check."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.client.stills.easing import eased
from preview.joinery import Piece
from preview.models.mesh import PieceMesh, SurroundingMesh, mesh_member_run, mesh_surroundings, spans_needed
from preview.scene import Finish
from preview.units import cos_sin
from preview.vantage import Camera, Vec3, choose_camera

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

LONGEST_STEP = 60.0
"""No facet of the molding is longer, mm: long slivers spoil the renderer's normals."""
EASE = 0.5
"""How far from an arris, mm, its easing starts."""
ROUGH = 2.0
"""The chord, mm, of what may hide the molding from the camera."""
OUT_OF_SIGHT = 200_000.0
"""How far, mm, the lowest floor reaches."""
TONES = 0.05
"""How much lighter or darker than their finish pieces of clear-finished wood are: no two boards match."""
GOLDEN = (math.sqrt(5) - 1) / 2
EVERYWHERE = (0.39, 0.396, 0.41)
"""The light that comes from all sides alike (linear RGB)."""


@dataclass(frozen=True)
class Body:
    """Something with one finish. color: linear RGB, 0 to 1.

    points, normals (n, 3) in mm; triangles (t, 3), counter-clockwise seen from outside.
    """

    color: Vec3
    roughness: float
    metallic: float
    points: Floats
    normals: Floats
    triangles: Ints


@dataclass(frozen=True)
class Lamp:
    """A square lamp: its center and what it faces (mm), half its width (mm), its radiance (linear RGB)."""

    at: Vec3
    toward: Vec3
    half_width: float
    radiance: Vec3


@dataclass(frozen=True)
class Shot:
    """A picture set up: the camera, the molding's bodies (one for each piece), what stands round it, the lamps."""

    camera: Camera
    molding: tuple[Body, ...]
    around: tuple[Body, ...]
    lamps: tuple[Lamp, ...]


def set_up(built: Built, size: tuple[int, int]) -> Shot:
    """Choose the camera for a picture of `size` pixels, place the bodies and set the light."""
    scene = built.scene
    molding = _molding(built)
    meshes = mesh_surroundings(scene.surroundings, scene.runs, scene.chord)
    ground = min((mesh.points[0, 2] for mesh in meshes if mesh.kind == "floor"), default=-math.inf)
    points = np.concatenate([body.points for body in molding])
    rough = mesh_surroundings(scene.surroundings, scene.runs, ROUGH)
    blocks = np.concatenate([np.zeros((0, 3, 3)), *(mesh.points[mesh.triangles] for mesh in rough)])
    camera = choose_camera(built.lines, points, blocks, size, ground)
    around = [_surrounding(mesh, np.array(camera.eye), ground) for mesh in meshes]
    return Shot(camera, tuple(molding), tuple(around), tuple(_lamps(camera, molding, ground)))


def _molding(built: Built) -> list[Body]:
    """The pieces, in their order, cut fine enough for the renderer and with their arrises eased."""
    chord = built.scene.chord
    spans: dict[tuple[str, int], NDArray[np.int64]] = {}
    for line in built.lines:
        lengths = np.array([piece.element.length for piece in line.pieces])
        steps = np.ceil(lengths / LONGEST_STEP).astype(np.int64)
        needed = np.maximum(spans_needed(line, chord), steps)
        key = (line.run.name, len(needed))
        spans[key] = np.maximum(spans.get(key, needed), needed)
    meshes: list[PieceMesh] = []
    for line in built.lines:
        soft = replace(line, profile=eased(line.profile, EASE))
        meshes += mesh_member_run(soft, chord, spans[line.run.name, len(line.pieces)])
    bodies = []
    for member, mesh in zip(built.members, meshes, strict=True):
        points, normals = mesh.points[mesh.shape.corner_point], mesh.normals.astype(np.float64)
        tone = _tone(member.finish, mesh.piece)
        bodies.append(_body(member.finish, points, normals, mesh.shape.render_triangles, tone))
    return bodies


def _tone(finish: Finish, piece: Piece) -> float:
    """How light a piece is beside its finish. Neighbors differ, so that their joint can be seen."""
    return 1 + TONES * (2 * (piece.index * GOLDEN % 1) - 1) if finish.kind == "clear" else 1.0


def _surrounding(mesh: SurroundingMesh, eye: Floats, ground: float) -> Body:
    """What stands round the molding: walls that turn their back to the eye are left out, the ground has no end."""
    points, triangles = mesh.points, mesh.triangles
    if mesh.kind == "floor" and points[0, 2] == ground:
        middle = points.mean(axis=0)
        points = middle + (points - middle) * (OUT_OF_SIGHT / np.abs(points - middle)[:, :2].min())
    if mesh.kind == "wall":
        a, b, c = (points[triangles[:, i]] for i in range(3))
        triangles = triangles[np.einsum("ij,ij->i", np.cross(b - a, c - a), eye - a) > 0]
    return _body(mesh.finish, points, mesh.normals, triangles)


def _body(finish: Finish, points: Floats, normals: Floats, triangles: Ints, tone: float = 1.0) -> Body:
    red, green, blue = (min(1.0, linear(part) * tone) for part in finish.color)
    return Body((red, green, blue), finish.roughness, finish.metallic, points, normals, triangles)


def linear(part: float) -> float:
    """One part of an sRGB color (0 to 1) as the share of light that it stands for (IEC 61966-2-1)."""
    return part / 12.92 if part <= 0.04045 else cast(float, ((part + 0.055) / 1.055) ** 2.4)


def _lamps(camera: Camera, molding: Sequence[Body], ground: float) -> list[Lamp]:
    """A softbox high before the faces that are seen, and a weak one low on the camera's side of them.

    Light that rakes down the face from above tells fillets, beads and ogees apart; from beside the camera it gives
    the faces on either side of a miter different tones. It comes from behind the camera, so no lamp is in view. What
    is looked up at, under a ceiling, is lit from below, as far as the ground (a height, mm) leaves room.
    """
    points = np.concatenate([body.points for body in molding])
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    eye = np.subtract(camera.eye, middle)
    reach = max(1800.0, 1.3 * float(np.linalg.norm(eye)))
    ahead, aside = _seen_facing(camera, molding)
    front = math.atan2(aside, ahead)
    side = 1 if ahead * eye[1] - aside * eye[0] >= 0 else -1  # where the camera stands, + to the left of the front

    if camera.target[2] > camera.eye[2]:
        room = (float(middle[2]) - ground) / reach
        slopes = (-math.degrees(math.asin(min(0.6, room / 2))), 0.0)
    else:
        slopes = (50.0, 22.0)

    def lamp(turn: float, slope: float, wide: float, radiance: Vec3) -> Lamp:
        """`turn` to the camera's side, `slope` up, `wide` across as seen from the molding: all in degrees."""
        (cos, sin), (flat, rise) = cos_sin(front + side * math.radians(turn)), cos_sin(math.radians(slope))
        at = middle + reach * np.array([cos * flat, sin * flat, rise])
        half = reach * math.tan(math.radians(wide / 2))
        return Lamp(cast(Vec3, tuple(at.tolist())), cast(Vec3, tuple(middle.tolist())), half, radiance)

    return [
        lamp(-24, slopes[0], 26, (34.5, 34.0, 32.6)),
        lamp(75, slopes[1], 30, (2.1, 2.2, 2.4)),
    ]


def _seen_facing(camera: Camera, molding: Sequence[Body]) -> tuple[float, float]:
    """The plan direction in which the faces that are turned to the camera look on average."""
    total = 1e-9 * np.subtract(camera.eye, camera.target)
    for body in molding:
        a, b, c = (body.points[body.triangles[:, i]] for i in range(3))
        area = np.cross(b - a, c - a)
        away = camera.eye - a
        seen = np.einsum("ij,ij->i", area, away) > 0
        total += (area[seen] / (away[seen] ** 2).sum(axis=1, keepdims=True)).sum(axis=0)
    return float(total[0]), float(total[1])
