"""Compact GLB files (`small_gltf`): named bodies and what they wear, as `exchange_gltf` has them for plain ones."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from preview.checks.exchange import SURROUNDINGS, Exchange, Floats, Part, in_frame, turned_up
from preview.checks.exchange_gltf import LOOK_ALIKE, GltfFile, read_gltf
from preview.checks.readers import accessor_values, chunks, placement
from preview.checks.small_gltf import QUANTIZATION, in_floats, step_mm, unpacked
from preview.models.mesh import PieceMesh

BYTE_STEP = 1 / 127
"""How far apart the parts of directions lie that are stored in signed bytes."""
TINY = 1e-12
SAID = 1e-6
"""How far, relative, the step that a file states may lie from that of its grid."""


def read_any_gltf(path: Path) -> Exchange:
    """A GLB with vertices in floats, or a compact one, as it says itself."""
    document, _ = chunks(path.read_bytes())
    return read_compact(path) if QUANTIZATION in document.get("extensionsRequired", []) else read_gltf(path)


def read_compact(path: Path) -> Exchange:
    """A compact GLB: meters, y up by the specification; its triangles may begin at any of their corners."""
    file = GltfFile(path, *unpacked(*chunks(path.read_bytes())))
    document = dict(file.document)
    asset = document.get("asset", {})
    unit, up = ("meter", "y") if asset.get("version") == "2.0" else ("", "")
    extras = asset.get("extras", {})
    faults = list(file.faults())
    parts = []
    root, *others = document["scenes"][document.get("scene", 0)]["nodes"]
    if others:
        faults.append("its scene has more than one node at the top")
    for node, above, matrix in _shown(document["nodes"], root, np.eye(4), ()):
        names = [each.get("name") for each in above]
        if SURROUNDINGS in names and str(node.get("name")).startswith(f"{SURROUNDINGS} / "):
            continue
        (primitive,) = document["meshes"][node["mesh"]]["primitives"]
        part = _part(file, document, str(node.get("name")), primitive, matrix, extras.get("texture_to_mm"))
        said = above[-1].get("extras", {}).get("stored_to_mm", math.nan) if above else math.nan
        if not math.isclose(said, part.step, rel_tol=SAID):
            faults.append(f"{part.name}: its grid has steps of {part.step:.6g} mm, and the node above says {said:.6g}")
        parts.append(part)
    return Exchange(tuple(parts), unit, up, str(extras.get("digest", "")), tuple(faults), begins_anywhere=True)


def _shown(
    nodes: list[dict[str, Any]], index: int, matrix: Floats, above: tuple[dict[str, Any], ...]
) -> Iterator[tuple[dict[str, Any], tuple[dict[str, Any], ...], Floats]]:
    """The nodes with a mesh below one, each with those above it and its place."""
    node = nodes[index]
    placed = matrix @ placement(node)
    if "mesh" in node:
        yield node, above, placed
    for child in node.get("children", []):
        yield from _shown(nodes, child, placed, (*above, node))


def _part(
    file: GltfFile, document: dict[str, Any], name: str, primitive: dict[str, Any], matrix: Floats, texture: Any
) -> Part:
    attributes = primitive["attributes"]

    def values(index: int) -> Floats:
        return in_floats(document["accessors"][index], accessor_values(document, file.data, index))

    stored = values(attributes["POSITION"])
    faces = accessor_values(document, file.data, primitive["indices"]).astype(np.int64).reshape(-1, 3)
    points = in_frame(stored @ matrix[:3, :3].T + matrix[:3, 3], "meter", "y")
    step = step_mm(document["accessors"][attributes["POSITION"]], stored, matrix)
    if not (stored % 1).any():  # whole numbers, in 16 bits or in floats
        step = 1000 * float(np.linalg.norm(matrix[:3, 0]))
    part = Part(name, points[faces], step)
    if "NORMAL" in attributes:
        normals = values(attributes["NORMAL"])
        long = np.linalg.norm(normals, axis=1, keepdims=True)
        # Whole numbers cannot be just as long as they should; a shader makes them so. What is further off stays.
        normals = np.where(np.abs(long - 1) < BYTE_STEP, normals / np.maximum(long, BYTE_STEP), normals)
        turned = normals @ (matrix[:3, :3] / np.linalg.norm(matrix[:3, :3], axis=0)).T
        alike = LOOK_ALIKE if file.is_shared(primitive) else 0.0
        part = replace(part, normals=turned_up(turned[faces], "y"), normal_step=BYTE_STEP + alike)
    if "TEXCOORD_0" in attributes and texture is not None:
        steps = np.array(texture["scale"], np.float64)
        uvs = np.array(texture["offset"], np.float64) + steps * values(attributes["TEXCOORD_0"])
        part = replace(part, uvs=uvs[faces], uv_step=float(steps.max()))
    if "material" in primitive:
        color, slack = file.color(primitive["material"])
        part = replace(part, color=color, color_slack=slack)
    return part


def begun_alike(part: Part, mesh: PieceMesh) -> Part:
    """A part with each triangle begun at the corner that lies nearest to where the mesh begins it, its sense kept.

    As it is where it has another number of triangles.
    """
    wanted = mesh.points[mesh.triangles]
    if part.corners.shape != wanted.shape:
        return part
    ways = (np.arange(3)[:, None] + np.arange(3)) % 3
    off = np.stack([np.abs(part.corners[:, way] - wanted).max(axis=(1, 2)) / max(part.step, TINY) for way in ways])
    if part.uvs is not None:  # tells apart the corners of the smallest triangles
        uvs = mesh.uvs[mesh.shape.render_triangles]
        off = np.maximum(
            off, [np.abs(part.uvs[:, way] - uvs).max(axis=(1, 2)) / max(part.uv_step, TINY) for way in ways]
        )
    row, way = np.arange(len(wanted))[:, None], ways[off.argmin(axis=0)]
    turned = {
        name: values[row, way]
        for name, values in (("corners", part.corners), ("normals", part.normals), ("uvs", part.uvs))
        if values is not None
    }
    return replace(part, **turned)
