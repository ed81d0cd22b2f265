"""GLB, the binary form of glTF 2.0 (Khronos Group, ISO/IEC 12113:2022): meters, y up, each piece by its name.

    plan x -> X       title                                  a node for the scene
    z      -> Y         bench front                          one for each run, standing at its start
    plan y -> -Z          bench front / base / 1 straight    one for each piece, with its own mesh
                        surroundings                         what is only there to be looked at

Pieces of one run share one origin, so the points that they have in common are stored as the same numbers; and
as the origin is near by, 32-bit floats keep their digits. Pieces of one shape share one array of indices.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from preview import __version__
from preview.exports.gltf_arrays import Arrays, Reals
from preview.models.mesh import PieceMesh, SurroundingMesh
from preview.runs import Vec2
from preview.scene import Finish

UNITS = (
    "Lengths are meters and y is up. Texture coordinates are millimeters: u along the grain, v round the "
    "profile; on the ends of a piece, projection and height."
)

Floats = NDArray[np.float64]
Record = dict[str, Any]


@dataclass(frozen=True)
class Part:
    """One piece as it is shown: its mesh and its finish."""

    mesh: PieceMesh
    finish: Finish


def glb_bytes(
    title: str, parts: Sequence[Part], surroundings: Sequence[SurroundingMesh] = (), digest: str = ""
) -> bytes:
    """A whole GLB file. The same values give the same bytes.

    digest: what the model is known by, kept in the scene's extras. Raises PreviewError when the model does
    not fit the 4 GiB that the format allows.
    """
    arrays = Arrays(
        [(len(part.mesh.normals), part.mesh.shape.render_triangles) for part in parts],
        [(len(mesh.points), mesh.triangles) for mesh in surroundings],
    )
    tree = _Tree(title)
    materials = _Materials()
    _add_runs(parts, tree, arrays, materials)
    _add_surroundings(surroundings, tree, arrays, materials)
    document: Record = {
        "asset": {"version": "2.0", "generator": f"molding-preview {__version__}"},
        "scene": 0,
        "scenes": [{"name": title, "nodes": [0], "extras": {"title": title, "units": UNITS, "digest": digest}}],
        "nodes": tree.nodes,
        "meshes": tree.meshes,
        "materials": materials.records,
        "accessors": arrays.accessors,
        "bufferViews": arrays.views,
    }
    if len(arrays.data):
        document["buffers"] = [{"byteLength": len(arrays.data)}]
    if parts:
        document["textures"] = [{"source": 0}]
        document["images"] = [{"name": "grain", "mimeType": "image/png", "bufferView": arrays.pixel_view}]
    return _container({key: value for key, value in document.items() if value != []}, arrays.data)


def linear(part: float) -> float:
    """One part of an sRGB color (0 to 1) as the share of light that it stands for (IEC 61966-2-1).

    >>> linear(0.0), linear(0.5), linear(1.0)
    (0.0, 0.21404114, 1.0)
    """
    light = part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
    return round(light, 9)  # the last bits of a power are the machine's own


class _Tree:
    """Nodes and meshes, under one root."""

    def __init__(self, title: str) -> None:
        self.nodes: list[Record] = [{"name": title}]
        self.meshes: list[Record] = []

    def add(self, parent: int, node: Record) -> int:
        self.nodes.append(node)
        self.nodes[parent].setdefault("children", []).append(len(self.nodes) - 1)
        return len(self.nodes) - 1

    def add_mesh(self, parent: int, node: Record, primitive: Record) -> int:
        self.meshes.append({"name": node["name"], "primitives": [primitive]})
        return self.add(parent, node | {"mesh": len(self.meshes) - 1})


class _Materials:
    """One material for each finish; sheets and things without texture coordinates have their own."""

    def __init__(self) -> None:
        self.records: list[Record] = []
        self._known: dict[tuple[Finish, bool, bool], int] = {}

    def index(self, finish: Finish, *, grain: bool, both_sides: bool) -> int:
        key = (finish, grain, both_sides)
        if key not in self._known:
            self._known[key] = len(self.records)
            look: Record = {
                "baseColorFactor": [*(linear(part) for part in finish.color), 1.0],
                "metallicFactor": finish.metallic,
                "roughnessFactor": finish.roughness,
            }
            if grain:
                look["baseColorTexture"] = {"index": 0}
            record: Record = {"name": finish.name, "pbrMetallicRoughness": look}
            self.records.append(record | ({"doubleSided": True} if both_sides else {}))
        return self._known[key]


def _add_runs(parts: Sequence[Part], tree: _Tree, arrays: Arrays, materials: _Materials) -> None:
    starts: dict[str, tuple[int, Vec2]] = {}
    for part in parts:
        piece = part.mesh.piece
        first = (piece.index, piece.element.start)
        starts[piece.run] = min(starts.get(piece.run, first), first)
    nodes = {run: tree.add(0, {"name": run, "translation": _translation(start)}) for run, (_, start) in starts.items()}
    for part in parts:
        mesh, piece = part.mesh, part.mesh.piece
        points = _stored(mesh.points, starts[piece.run][1])[mesh.shape.corner_point]
        primitive = {
            "attributes": arrays.add_vertices(points, _turned_up(mesh.normals), mesh.uvs),
            "indices": arrays.add_triangles(mesh.shape.render_triangles, len(points)),
            "material": materials.index(part.finish, grain=True, both_sides=False),
        }
        extras = {"piece": piece.name, "run": piece.run, "member": piece.member, "kind": piece.kind}
        tree.add_mesh(nodes[piece.run], {"name": piece.name, "extras": extras}, primitive)


def _add_surroundings(
    surroundings: Sequence[SurroundingMesh], tree: _Tree, arrays: Arrays, materials: _Materials
) -> None:
    if not surroundings:
        return
    above = tree.add(0, {"name": "surroundings"})
    for mesh in surroundings:
        primitive = {
            "attributes": arrays.add_vertices(_stored(mesh.points, mesh.origin), _turned_up(mesh.normals)),
            "indices": arrays.add_triangles(mesh.triangles, len(mesh.points)),
            "material": materials.index(mesh.finish, grain=False, both_sides=mesh.both_sides),
        }
        # The word in front keeps a thing's name apart from every piece's.
        node: Record = {"name": f"surroundings / {mesh.name}", "translation": _translation(mesh.origin)}
        node["extras"] = {"surrounding": mesh.name, "kind": mesh.kind}
        tree.add_mesh(above, node, primitive)


def _translation(origin: Vec2) -> list[float]:
    return [origin[0] / 1000, 0.0, 0.0 - origin[1] / 1000]


def _stored(points: Floats, origin: Vec2) -> NDArray[np.float32]:
    """Points (n, 3) in mm, z up, as meters from a plan origin, y up."""
    stored = np.empty(points.shape, np.float32)
    stored[:, 0] = (points[:, 0] - origin[0]) / 1000
    stored[:, 1] = points[:, 2] / 1000
    stored[:, 2] = (origin[1] - points[:, 1]) / 1000
    return stored


def _turned_up(normals: Reals) -> Reals:
    turned = normals[:, [0, 2, 1]]
    turned[:, 2] = 0.0 - turned[:, 2]
    return turned


def _container(document: Record, data: bytearray) -> bytes:
    """The two chunks of a GLB, each padded to a multiple of 4 bytes."""
    text = json.dumps(document, separators=(",", ":"), allow_nan=False).encode("ascii")
    text += b" " * (-len(text) % 4)
    chunks: list[bytes | bytearray] = [struct.pack("<I4s", len(text), b"JSON"), text]
    if data:
        chunks += [struct.pack("<I4s", len(data), b"BIN\0"), data]
    size = 12 + sum(len(chunk) for chunk in chunks)
    return b"".join([struct.pack("<4sII", b"glTF", 2, size), *chunks])
