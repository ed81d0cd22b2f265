"""A model as the two parts of glTF 2.0 (Khronos Group, ISO/IEC 12113:2022): its document, and its block of bytes.

    plan x -> X       title                                  a node for the scene
    z      -> Y         bench front                          one for each run, standing at its start
    plan y -> -Z          bench front / base / 1 straight    one for each piece, with its mesh
                        surroundings                         what is only there to be looked at
                        views                                a camera for each ready view

Pieces of one run share one origin, so the points that they have in common are stored as the same numbers; and as the
origin is near by, 32-bit floats keep their digits. Runs that are the same but for their place share their meshes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from preview import __version__
from preview.exports.gltf_alike import Placed, placed_runs
from preview.exports.gltf_arrays import EXACT, SMALL, Arrays
from preview.exports.gltf_cameras import camera_place, camera_record
from preview.exports.gltf_grain import COMPACT, FULL, Detail
from preview.exports.gltf_grids import Grid, place_grid, stored_directions, texture_grid
from preview.exports.gltf_materials import VARIANTS, Materials
from preview.exports.gltf_model import Model, Part
from preview.exports.gltf_tangents import tangents
from preview.exports.gltf_turns import UP, quaternion
from preview.exports.y_up import near_points, run_origins, stored_points, translation, turned_up
from preview.joinery import piece_lengths
from preview.models.mesh import PieceMesh, SurroundingMesh
from preview.runs import Vec2
from preview.scene import Finish

UNITS = (
    "Lengths are meters and y is up. Texture coordinates are millimeters: u along the grain, v round the "
    "profile; on the ends of a piece, projection and height. A piece's length_mm is from its first to its last wood."
)
SMALL_UNITS = (
    "Lengths are meters, by the scale of the node above each mesh, and y is up; stored_to_mm is that scale, in "
    "millimeters. Texture coordinates become millimeters by texture_to_mm: u along the grain, v round the profile; on "
    "the ends of a piece, projection and height. A piece's length_mm is from its first to its last wood."
)
QUANTIZATION = "KHR_mesh_quantization"
PROGRAM = "molding-preview"
MOST_TANGENTS = 16_000
"""The most vertices that get a tangent, of 16 bytes; where clear wood has more, it is shown without its pores'
relief."""

Floats = NDArray[np.float64]
Record = dict[str, Any]
Key = tuple[str, int, bool]
"""A piece as it is stored: the run that it is stored with, its number there, and whether it has tangents."""


@dataclass(frozen=True)
class Document:
    """document: the JSON part, its buffer and its pictures without their places. pictures: PNG files, by their names,
    that `data` does not hold."""

    document: Record
    data: bytearray
    pictures: tuple[tuple[str, bytes], ...]


def document_of(
    model: Model,
    *,
    pictures_apart: bool = False,
    small: bool = False,
    detail: Detail | None = None,
    extras: Mapping[str, Any] | None = None,
) -> Document:
    """The parts of a model's file. pictures_apart: the pictures are files of their own, and not in the block.

    small: vertices are whole numbers on grids (KHR_mesh_quantization), and nothing is said twice. detail: how fine the
    grain of wood is; None for what suits that. extras: what the file says of itself besides. Raises PreviewError when
    the model does not fit the 4 GiB that the format allows.
    """
    return _Writer(model, pictures_apart, small, detail or (COMPACT if small else FULL)).written(extras or {})


class _Writer:
    """The document as it grows."""

    def __init__(self, model: Model, pictures_apart: bool, small: bool, detail: Detail) -> None:
        self.model = model
        self.nodes: list[Record] = [{"name": model.title}]
        self.meshes: list[Record] = []
        self.apart, self.small = pictures_apart, small
        parts = model.parts
        self.runs = placed_runs([part.mesh for part in parts])
        worn = list(dict.fromkeys(part.finish for part in parts))
        self.bumps = detail.relief and self._may_have_bumps(worn)
        numbers = Counter[str]()
        self.keys: list[Key] = []
        first: dict[tuple[str, int], PieceMesh] = {}
        for part in parts:
            run = part.mesh.piece.run
            self.keys.append((self.runs[run].like, numbers[run], self._bumped(part)))
            first[run, numbers[run]] = part.mesh
            numbers[run] += 1
        self.stored = {key: first[key[:2]] for key in self.keys}
        self.starts = run_origins(part.mesh.piece for part in parts)
        self.grids: dict[str, Grid] = {}
        texture: Grid | None = None
        if small and self.stored:
            self.grids = self._run_grids()
            texture = texture_grid(mesh.uvs for mesh in self.stored.values())
        self.texture = texture
        things = model.surroundings if small else ()
        self.around = {id(mesh): place_grid([near_points(mesh.points, mesh.origin)]) for mesh in things}
        in_floats = sum(len(mesh.normals) for (run, *_), mesh in self.stored.items() if self._in_floats(run))
        in_floats += sum(len(mesh.points) for mesh in things if self.around[id(mesh)].floats)
        self.materials = Materials(worn, model.offered, bumps=self.bumps, grid=texture, detail=detail)
        self.wears = {finish: self.materials.worn(finish) for finish in worn}
        self.arrays = Arrays(
            [(len(mesh.normals), mesh.shape.render_triangles) for mesh in self.stored.values()],
            [(len(mesh.points), mesh.triangles) for mesh in model.surroundings],
            tangents=sum(len(mesh.normals) for (*_, bumped), mesh in self.stored.items() if bumped),
            pictures=[] if pictures_apart else [picture for _, picture in self.materials.pictures],
            in_floats=in_floats,
            layout=SMALL if small else EXACT,
        )

    def written(self, more: Mapping[str, Any]) -> Document:
        model, materials, arrays = self.model, self.materials, self.arrays
        self._add_runs()
        self._add_surroundings()
        self._add_cameras()
        arrays.close()
        extras: Record = {"title": model.title, "digest": model.digest, "program": PROGRAM, "version": __version__}
        extras |= more
        if self.texture is not None:
            extras["texture_to_mm"] = {"offset": self.texture.low.tolist(), "scale": self.texture.step.tolist()}
        names = [name for name, _ in materials.pictures]
        images: list[Record] = [{"name": name, "mimeType": "image/png"} for name in names]
        for image, view in zip(images, arrays.picture_views, strict=False):
            image["bufferView"] = view
        variants = {"variants": [{"name": name} for name in materials.variants]}
        units = SMALL_UNITS if self.small else UNITS
        document: Record = {
            "asset": {"version": "2.0", "generator": f"{PROGRAM} {__version__}", "extras": extras},
            "extensionsUsed": [*materials.extensions, *([QUANTIZATION] if self.small else [])],
            "extensionsRequired": [QUANTIZATION] if self.small else [],
            "extensions": {VARIANTS: variants} if materials.variants else [],
            "scene": 0,
            "scenes": [
                {
                    "name": model.title,
                    "nodes": [0],
                    "extras": {"title": model.title, "units": units, "digest": model.digest},
                }
            ],
            "nodes": self.nodes,
            "cameras": [camera_record(named) for named in model.cameras],
            "meshes": self.meshes,
            "materials": materials.records,
            "textures": materials.textures,
            "samplers": materials.samplers,
            "images": images,
            "accessors": arrays.accessors,
            "bufferViews": arrays.views,
            "buffers": [{"byteLength": len(arrays.data)}] if len(arrays.data) else [],
        }
        pictures = tuple(materials.pictures) if self.apart else ()
        return Document({key: value for key, value in document.items() if value != []}, arrays.data, pictures)

    def _in_floats(self, run: str) -> bool:
        """Whether the grid of a run is one whose numbers are stored in floats."""
        return run in self.grids and self.grids[run].floats

    def _may_have_bumps(self, worn: list[Finish]) -> bool:
        """Whether clear wood shows the relief of its pores: where it has few vertices, and none is painted as drawn.

        What is painted has no tangents, as its own material has no use for them; and with them on some pieces only, a
        clear finish would need one material for these and another for those.
        """
        kinds = {finish.kind for finish in worn}
        if "paint" in kinds and any(finish.kind == "clear" for finish in self.model.offered):
            return False
        clear = (part.mesh for part in self.model.parts if part.finish.kind == "clear")
        return sum(len(mesh.normals) for mesh in clear) <= MOST_TANGENTS

    def _bumped(self, part: Part) -> bool:
        """Whether a piece shows the relief of its pores, and has tangents."""
        return self.bumps and part.finish.kind == "clear"

    def _add(self, parent: int, node: Record) -> int:
        self.nodes.append(node)
        self.nodes[parent].setdefault("children", []).append(len(self.nodes) - 1)
        return len(self.nodes) - 1

    def _add_mesh(self, name: str, primitive: Record) -> int:
        self.meshes.append({"primitives": [primitive]} if self.small else {"name": name, "primitives": [primitive]})
        return len(self.meshes) - 1

    def _run_grids(self) -> dict[str, Grid]:
        """For each run whose pieces are stored, the grid that they share."""
        near: dict[str, list[Floats]] = {}
        for (run, *_), mesh in self.stored.items():
            near.setdefault(run, []).append(near_points(mesh.points, self.starts[run]))
        return {run: place_grid(points) for run, points in near.items()}

    def _add_runs(self) -> None:
        starts = self.starts
        nodes = {
            run: self._add(0, {"name": run} | _run_place(placed, starts[placed.like], self.grids.get(placed.like)))
            for run, placed in self.runs.items()
        }
        shapes: dict[Key, Record] = {}
        meshes: dict[tuple[Key, int], int] = {}
        for part, key in zip(self.model.parts, self.keys, strict=True):
            piece = part.mesh.piece
            if key not in shapes:
                shapes[key] = self._shape(key, starts[key[0]])
            worn = self.wears[part.finish]
            dressed = (key, worn["material"])
            if dressed not in meshes:
                meshes[dressed] = self._add_mesh(piece.name, shapes[key] | worn)
            extras: Record = {"member": piece.member, "kind": piece.kind, "length_mm": round(length_of(part.mesh), 1)}
            if not self.small:
                extras = {"piece": piece.name, "run": piece.run} | extras | {"digest": self.model.digest}
            self._add(nodes[piece.run], {"name": piece.name, "extras": extras, "mesh": meshes[dressed]})

    def _shape(self, key: Key, start: Vec2) -> Record:
        """A stored piece's vertices and triangles; `start`: the origin of its run."""
        mesh = self.stored[key]
        shape = mesh.shape
        points = mesh.points[shape.corner_point]
        lie = None
        if key[2]:
            lie = tangents(points, mesh.normals, mesh.uvs, shape.render_triangles)
            lie[:, :3] = turned_up(lie[:, :3])
        normals = turned_up(mesh.normals)
        if self.texture is None:
            attributes = self.arrays.add_vertices(stored_points(points, start), normals, mesh.uvs, lie)
        else:
            attributes = self.arrays.add_vertices(
                self.grids[key[0]].stored(near_points(points, start)),
                stored_directions(normals),
                self.texture.stored(mesh.uvs),
                None if lie is None else stored_directions(lie),
            )
        return {
            "attributes": attributes,
            "indices": self.arrays.add_triangles(shape.render_triangles, len(points)),
        }

    def _add_surroundings(self) -> None:
        if not self.model.surroundings:
            return
        above = self._add(0, {"name": "surroundings"})
        for mesh in self.model.surroundings:
            # The word in front keeps a thing's name apart from every piece's.
            name = f"surroundings / {mesh.name}"
            extras: Record = {"surrounding": mesh.name, "kind": mesh.kind}
            grid = self.around.get(id(mesh))
            place = _on_grid(np.array(translation(mesh.origin)), np.eye(3), grid, extras)
            node = {"name": name} | place | {"mesh": self._add_mesh(name, self._around(mesh, grid))}
            self._add(above, node)

    def _around(self, mesh: SurroundingMesh, grid: Grid | None) -> Record:
        normals = turned_up(mesh.normals)
        if grid is None:
            attributes = self.arrays.add_vertices(stored_points(mesh.points, mesh.origin), normals)
        else:
            points = grid.stored(near_points(mesh.points, mesh.origin))
            attributes = self.arrays.add_vertices(points, stored_directions(normals))
        return {
            "attributes": attributes,
            "indices": self.arrays.add_triangles(mesh.triangles, len(mesh.points)),
            "material": self.materials.index(mesh.finish, both_sides=mesh.both_sides),
        }

    def _add_cameras(self) -> None:
        if not self.model.cameras:
            return
        above = self._add(0, {"name": "views"})
        for number, named in enumerate(self.model.cameras):
            self._add(above, {"name": named.name, "camera": number} | camera_place(named.camera))


def length_of(mesh: PieceMesh) -> float:
    """A piece's length over all, mm, as its mesh has it: what the stock must hold, as in `piece_lengths`."""
    piece, sides = mesh.piece, len(mesh.normals) - 2 * len(mesh.shape.face.d)
    if piece.element.bend:
        return piece_lengths(piece)["overall"]
    if piece.curvature:  # the grain is measured at the middle of the profile; the stock, where that travels furthest
        d = mesh.shape.face.d
        middle = 1 - piece.curvature * (d.min() + d.max()) / 2
        furthest = (1 - piece.curvature * d).max()
        return float(np.ptp(mesh.uvs[:sides, 0]) / middle * furthest)
    stand = piece.stand
    ahead = np.array([*piece.element.tangent, piece.element.slope]) / piece.pace
    return float(np.ptp(mesh.points @ (ahead @ np.array([stand.x, stand.y, stand.z]))))


def _run_place(placed: Placed, start: Vec2, grid: Grid | None) -> Record:
    """Where a run's node stands, for pieces that are stored from the plan point `start`, or on a grid near it."""
    origin = np.array([*start, 0.0])
    if not placed.turns and not placed.shift.any():
        return _on_grid(np.array(translation(start)), np.eye(3), grid, {})
    moved = np.round(UP @ (origin @ placed.turn + placed.shift) / 1000, 12) + 0.0
    turn = UP @ placed.turn.T @ UP.T
    found = _on_grid(moved, turn, grid, {})
    if placed.turns:
        found["rotation"] = list(quaternion(turn))
    return found


def _on_grid(place: Floats, turn: Floats, grid: Grid | None, extras: Record) -> Record:
    """A node's place (meters, y up) and what it says; with a grid, where that begins and its step as a scale."""
    if grid is None:
        return {"translation": place.tolist()} | ({"extras": extras} if extras else {})
    step = float(grid.step[0])
    begins = np.round(place + turn @ grid.low, 12) + 0.0
    return {
        "translation": begins.tolist(),
        "scale": [step] * 3,
        "extras": extras | {"stored_to_mm": round(1000 * step, 9)},
    }
