"""What stands before the camera, and the light on it. Nothing here enters a check."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.client.stills.easing import eased
from preview.client.stills.grain import Texture, Timber, brushed, planks, stone, timber
from preview.client.stills.lighting import Lamp, lamps_of
from preview.models.mesh import PieceMesh, Shape, SurroundingMesh, mesh_member_run, mesh_surroundings, spans_needed
from preview.profiles import Outline
from preview.scene import Finish, FinishKind
from preview.vantage import Camera, Obstacle, Vec3, choose_camera

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

LONGEST_STEP = 60.0
"""No facet of the molding is longer, mm: long slivers spoil the renderer's normals."""
EASE = 0.5
"""How far from an arris, mm, its easing starts."""
FINE = 0.02
"""The chord, mm, of the molding: where a round turns out of sight, a coarse one shows dark specks."""
ROUGH = 2.0
"""The chord, mm, of what may hide the molding from the camera."""
END = 1e-3
"""A face is a piece's end when its normal leans so much or more to the way the piece runs."""
OUT_OF_SIGHT = 200_000.0
"""How far, mm, the lowest floor reaches."""
EVERYWHERE = (0.39, 0.396, 0.41)
"""The light that comes from all sides alike (linear RGB)."""


@dataclass(frozen=True)
class Body:
    """Something with one finish. color: linear RGB, 0 to 1, where no texture shows instead.

    points, normals (n, 3) in mm; triangles (t, 3), counter-clockwise seen from outside. places (n, 2): where in the
    texture each point is, 0 to 1 across it (u) and down it (v). layer: the number of its member, -1 for what stands
    round the molding; pieces of one layer show a hairline where they meet.
    """

    color: Vec3
    roughness: float
    metallic: float
    points: Floats
    normals: Floats
    triangles: Ints
    texture: Texture | None = None
    places: Floats | None = None
    layer: int = -1


@dataclass(frozen=True)
class Textures:
    """Those made so far: what is alike shares one. wood: by the outline's points and the color; others by kind."""

    wood: dict[tuple[bytes, Vec3], Timber] = field(default_factory=dict)
    other: dict[tuple[str, Vec3], Texture] = field(default_factory=dict)

    def timber(self, outline: Outline, color: Vec3) -> Timber:
        """The boards for a section."""
        key = (outline.points.tobytes(), color)
        if key not in self.wood:
            self.wood[key] = timber(outline, color)
        return self.wood[key]

    def of(self, kind: FinishKind, color: Vec3, *, floor: bool = False) -> Texture | None:
        """What a flat surface with a finish of that kind looks like; None where it is the same all over."""
        if kind == "paint":
            return None
        key = (f"{kind} floor" if floor else kind, color)
        if key not in self.other:
            if kind == "clear":
                self.other[key] = planks(color, gaps=floor)
            else:
                self.other[key] = stone(color) if kind == "stone" else brushed(color)
        return self.other[key]


@dataclass(frozen=True)
class Stage:
    """What is there to be seen of something built: the molding (a body for each piece) and what stands round it.

    sheets: those of `around`, by number, that are walls without a thickness, left out when seen from behind. blocks
    (t, 3, 3): triangles of what may hide the molding. ground: the height of the lowest floor, mm.
    """

    built: Built
    molding: tuple[Body, ...]
    around: tuple[Body, ...]
    sheets: tuple[int, ...]
    blocks: Floats
    ground: float


@dataclass(frozen=True)
class Shot:
    """A picture set up: the camera, what it sees, the lamps, and the size in pixels."""

    camera: Camera
    stage: Stage
    lamps: tuple[Lamp, ...]
    size: tuple[int, int]

    @property
    def seen(self) -> list[Body]:
        """The bodies before the camera; walls lack the parts that turn their back to the eye, and those behind it."""
        return [*self.stage.molding, *self.around]

    @property
    def around(self) -> list[Body]:
        """What stands round the molding."""
        sheets = self.stage.sheets
        return [
            _faced(body, self.camera, self.size) if i in sheets else body for i, body in enumerate(self.stage.around)
        ]


def stage(built: Built, textures: Textures | None = None) -> Stage:
    """Mesh what is to be seen, the molding with its arrises eased. textures: what was made for others already."""
    if textures is None:
        textures = Textures()
    scene = built.scene
    meshes = mesh_surroundings(scene.surroundings, scene.runs, scene.chord)
    ground = min((mesh.points[0, 2] for mesh in meshes if mesh.kind == "floor"), default=-math.inf)
    rough = mesh_surroundings(scene.surroundings, scene.runs, ROUGH)
    blocks = np.concatenate([np.zeros((0, 3, 3)), *(mesh.points[mesh.triangles] for mesh in rough)])
    around = tuple(_surrounding(mesh, ground, textures) for mesh in meshes)
    sheets = tuple(i for i, mesh in enumerate(meshes) if mesh.kind == "wall")
    return Stage(built, tuple(_molding(built, textures)), around, sheets, blocks, ground)


def set_up(
    ready: Stage, size: tuple[int, int], camera: Camera | None = None, lamps: tuple[Lamp, ...] | None = None
) -> Shot:
    """Set the light for a picture of `size` pixels, and choose the camera, each where it is not given."""
    if camera is None:
        points = np.concatenate([body.points for body in ready.molding])
        camera = choose_camera(ready.built.lines, points, ready.blocks, size, ready.ground)
    shot = Shot(camera, ready, lamps or (), size)
    if lamps is None:
        molding, around = (
            [Obstacle(each.points, each.triangles) for each in some] for some in (ready.molding, shot.around)
        )
        shot = replace(shot, lamps=lamps_of(camera, size, molding, around, ready.ground))
    return shot


def _molding(built: Built, textures: Textures) -> list[Body]:
    """The pieces, in their order, cut fine enough for the renderer and with their arrises eased."""
    chord = min(built.scene.chord, FINE)
    spans: dict[tuple[str, int], NDArray[np.int64]] = {}
    for line in built.lines:
        lengths = np.array([piece.element.length for piece in line.pieces])
        steps = np.ceil(lengths / LONGEST_STEP).astype(np.int64)
        needed = np.maximum(spans_needed(line, chord), steps)
        key = (line.run.name, len(needed))
        spans[key] = np.maximum(spans.get(key, needed), needed)
    meshes: list[PieceMesh] = []
    layers: list[int] = []
    for number, line in enumerate(built.lines):
        soft = replace(line, profile=eased(line.profile, EASE))
        meshes += mesh_member_run(soft, chord, spans[line.run.name, len(line.pieces)])
        layers += [number] * (len(meshes) - len(layers))
    bodies = []
    for i, (member, mesh) in enumerate(zip(built.members, meshes, strict=True)):
        points, normals = mesh.points[mesh.shape.corner_point], mesh.normals.astype(np.float64)
        body = _body(member.finish, points, normals, mesh.shape.render_triangles, layer=layers[i])
        if member.finish.kind == "clear":
            wood = textures.timber(mesh.shape.face.outline, body.color)
            body = replace(body, texture=wood.texture, places=_on_board(mesh, wood))
        elif texture := textures.of(member.finish.kind, body.color):
            body = replace(body, texture=texture, places=mesh.uvs / np.array(texture.size))
        bodies.append(body)
    return bodies


def _on_board(mesh: PieceMesh, wood: Timber) -> Floats:
    """Where a piece's points (n, 2) are in the texture of its wood: the grain runs along it, turns with it, and shows
    its ends where it is cut."""
    shape, number = mesh.shape, mesh.piece.index
    if isinstance(shape, Shape):
        ends = np.arange(len(mesh.uvs)) >= len(mesh.uvs) - 2 * len(shape.face.d)
    else:  # a straight: its sides are square to the way it runs, its ends are not
        ends = np.abs(mesh.normals @ np.array(mesh.piece.frame.travel)) > END
    return np.where(ends[:, None], wood.ends(mesh.uvs, number), wood.sides(mesh.uvs, number))


def _surrounding(mesh: SurroundingMesh, ground: float, textures: Textures) -> Body:
    """What stands round the molding; the ground has no end."""
    points = mesh.points
    if mesh.kind == "floor" and points[0, 2] == ground:
        middle = points.mean(axis=0)
        points = middle + (points - middle) * (OUT_OF_SIGHT / np.abs(points - middle)[:, :2].min())
    body = _body(mesh.finish, points, mesh.normals, mesh.triangles)
    texture = textures.of(mesh.finish.kind, body.color, floor=mesh.kind == "floor")
    if texture is None:
        return body
    spread = _spread(points, mesh.normals)
    wide, deep = np.ptp(mesh.points[:, :2], axis=0)
    # Boards of a floor run the longer way, those of what stands run up.
    if mesh.finish.kind == "clear" and (mesh.kind != "floor" or deep > wide):
        spread = spread[:, ::-1]
    return replace(body, texture=texture, places=spread / np.array(texture.size))


def _spread(points: Floats, normals: Floats) -> Floats:
    """Points (n, 2) in mm as a sheet laid round a body would have them: round it and up; x and y where it is level.

    An upright face is a row of points at its foot, then the same at its head, and the next face goes on from there.
    """
    upright = np.abs(normals[:, 2]) < 0.5
    spread = points[:, :2].copy()
    spread[upright, 1] = points[upright, 2]
    start = 0.0
    number = np.flatnonzero(upright)
    rows = np.split(number, np.flatnonzero(np.diff(points[number, 2]) != 0) + 1) if len(number) else []
    for i, row in enumerate(rows):
        steps = np.linalg.norm(np.diff(points[row, :2], axis=0), axis=1)
        spread[row, 0] = start + np.concatenate([[0.0], np.cumsum(steps)])
        start += float(steps.sum()) * (i % 2)
    return spread


def _faced(body: Body, camera: Camera, size: tuple[int, int]) -> Body:
    """Of a sheet, the triangles whose outside the eye sees, less those in its back: through there comes light."""
    eye = np.array(camera.eye)
    corners = body.points[body.triangles] - eye
    a, b, c = (corners[:, i] for i in range(3))
    faced = np.einsum("ij,ij->i", np.cross(b - a, c - a), a) < 0
    x, y, z = np.subtract(camera.target, eye).tolist()
    steepest = abs(math.atan2(z, math.hypot(x, y))) + math.atan(math.tan(camera.across / 2) * size[1] / size[0])
    if steepest < math.pi / 2:  # else one sees past straight up or down, and what is behind as well
        faced &= (corners[..., :2] @ [x, y] > 0).any(axis=1)
    return replace(body, triangles=body.triangles[faced])


def _body(finish: Finish, points: Floats, normals: Floats, triangles: Ints, layer: int = -1) -> Body:
    red, green, blue = (linear(part) for part in finish.color)
    return Body((red, green, blue), finish.roughness, finish.metallic, points, normals, triangles, layer=layer)


def linear(part: float) -> float:
    """One part of an sRGB color (0 to 1) as the share of light that it stands for (IEC 61966-2-1)."""
    return part / 12.92 if part <= 0.04045 else cast(float, ((part + 0.055) / 1.055) ** 2.4)
