"""glTF 2.0 (Khronos Group, ISO/IEC 12113:2022) as separate files and as GLB: named bodies and what they wear.

Where pieces stand is read by trimesh, which shares nothing with what writes them. Normals, texture coordinates and
materials are read here by the specification: trimesh makes normals where a file has none, turns texture coordinates
over, and keeps colors in 8 bits of linear light, which are too few for dark ones.
"""

from __future__ import annotations

import io
import json
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import numpy as np

from preview.checks.exchange import (
    FLOAT32,
    SURROUNDINGS,
    Exchange,
    Floats,
    Part,
    UnreadableError,
    float32_step,
    in_frame,
    light_of,
    srgb,
    turned_up,
)
from preview.checks.readers import accessor_values, chunks
from preview.errors import printable

PNG_BEGINS, PNG_ENDS = b"\x89PNG\r\n\x1a\n", b"IEND\xaeB`\x82"
LOOK_ALIKE = 1e-5
"""By how much the normals may differ where runs share a mesh, and as a share of them the texture coordinates."""
DARKEST = 25.0
"""How dark a picture of grain may be on the whole, in steps of 256 below white: a tenth."""


def read_gltf(path: Path) -> Exchange:
    """A .gltf or .glb file: meters, y up by the specification (3.4, "Coordinate System and Units")."""
    import trimesh
    from trimesh.resolvers import FilePathResolver

    file = GltfFile.opened(path)
    asset = file.document.get("asset", {})
    unit, up = ("meter", "y") if asset.get("version") == "2.0" else ("", "")
    beside = FilePathResolver(str(path))
    fetched = beside.get
    beside.get = lambda name: fetched(unquote(name))  # a uri is not a file's name (RFC 3986, 2.1)
    loaded = trimesh.load_scene(path, process=False, skip_materials=True, resolver=beside)
    worn = file.primitives
    parts = []
    for node in loaded.graph.nodes_geometry:
        # Which node is a piece is told by its place in the tree, not by its name alone.
        if SURROUNDINGS in _above(loaded, node) and str(node).startswith(f"{SURROUNDINGS} / "):
            continue
        matrix, name = loaded.graph[node]
        mesh = loaded.geometry[name]
        stored, faces = np.asarray(mesh.vertices, np.float64), np.asarray(mesh.faces)
        placed = stored @ matrix[:3, :3].T + matrix[:3, 3]
        part = Part(str(node), in_frame(placed[faces], unit, up), float32_step(stored, unit))
        if str(node) in worn:
            part = _dressed(part, file, worn[str(node)], faces, np.asarray(matrix[:3, :3], np.float64), up)
        parts.append(part)
    digest = str(asset.get("extras", {}).get("digest", ""))
    return Exchange(tuple(parts), unit, up, digest, tuple(file.faults()))


def _above(scene: Any, node: Any) -> set[str]:
    parents = scene.graph.transforms.parents
    found = set()
    while node in parents:
        node = parents[node]
        found.add(str(node))
    return found


def _dressed(part: Part, file: GltfFile, primitive: Mapping[str, Any], faces: Any, turn: Floats, up: str) -> Part:
    """A part with the normals, the texture coordinates and the color that its primitive says."""
    normals, uvs = file.attribute(primitive, "NORMAL"), file.attribute(primitive, "TEXCOORD_0")
    alike = LOOK_ALIKE if file.is_shared(primitive) else 0.0
    if normals is not None:
        sizes = np.linalg.norm(turn, axis=0)
        turned = normals.astype(np.float64) @ (turn / sizes**2).T * sizes.mean()
        part = replace(part, normals=turned_up(turned[faces], up), normal_step=FLOAT32 + alike)
    if uvs is not None:
        step = float32_step(uvs) + alike * float(np.abs(uvs).max(initial=0.0))
        part = replace(part, uvs=uvs.astype(np.float64)[faces], uv_step=step)
    if "material" in primitive:
        color, slack = file.color(primitive["material"])
        part = replace(part, color=color, color_slack=slack)
    return part


@dataclass(frozen=True)
class GltfFile:
    """A document, its block of bytes, and what its pictures come to."""

    path: Path
    document: Mapping[str, Any]
    data: memoryview

    @classmethod
    def opened(cls, path: Path) -> GltfFile:
        if path.suffix.lower() == ".glb":
            return cls(path, *chunks(path.read_bytes()))
        document = json.loads(path.read_text("utf-8"))
        named = [buffer["uri"] for buffer in document.get("buffers", [])]
        if len(named) > 1:
            raise UnreadableError("it has more than one block of bytes")
        if named and named[0].startswith("data:"):
            raise UnreadableError("its block of bytes stands in its text, and is not read there")
        beside = [path.with_name(unquote(uri)) for uri in named]
        if beside and not beside[0].is_file():
            raise UnreadableError(f"{printable(beside[0].name)}, which it needs beside it, is not there")
        return cls(path, document, memoryview(beside[0].read_bytes() if beside else b""))

    @cached_property
    def primitives(self) -> dict[str, Mapping[str, Any]]:
        """What each node with a mesh shows, by the node's name; the ones with several are left out."""
        meshes = [mesh["primitives"] for mesh in self.document.get("meshes", [])]
        nodes = [node for node in self.document.get("nodes", []) if "mesh" in node]
        return {str(node.get("name")): meshes[node["mesh"]][0] for node in nodes if len(meshes[node["mesh"]]) == 1}

    def is_shared(self, primitive: Mapping[str, Any]) -> bool:
        """Whether a primitive's vertices are shown by more than one node."""
        return self._users[primitive["attributes"]["POSITION"]] > 1

    @cached_property
    def _users(self) -> Counter[int]:
        return Counter(primitive["attributes"]["POSITION"] for primitive in self.primitives.values())

    def attribute(self, primitive: Mapping[str, Any], name: str) -> Any:
        """The values of one of a primitive's attributes (v, parts); None where it has none."""
        index = primitive["attributes"].get(name)
        return None if index is None else accessor_values(dict(self.document), self.data, index)

    def color(self, material: int) -> tuple[Floats, float]:
        """What a material's color comes to on the whole, in steps of sRGB: its factor, linear light, times its picture
        (3.9.2, "Metallic-Roughness Material").

        And by how much it may be too dark: where the factor is 1, the most there is, by what the picture takes.
        """
        look = self.document["materials"][material].get("pbrMetallicRoughness", {})
        factor = np.array(look.get("baseColorFactor", [1.0, 1.0, 1.0, 1.0])[:3], np.float64)
        if "baseColorTexture" not in look:
            return srgb(factor), 0.0
        light = self._pictures[self.document["textures"][look["baseColorTexture"]["index"]]["source"]]
        dark = 255 - srgb(light)[factor >= 1.0]
        return srgb(factor * light), min(float(dark.max(initial=0.0)), DARKEST)

    @cached_property
    def _pictures(self) -> list[Floats]:
        return [_light(self._picture(image)) for image in self.document.get("images", [])]

    def _picture(self, image: Mapping[str, Any]) -> bytes:
        if "uri" in image:
            file = self.path.with_name(unquote(image["uri"]))
            return file.read_bytes() if file.is_file() else b""
        view = self.document["bufferViews"][image["bufferView"]]
        start = view.get("byteOffset", 0)
        return bytes(self.data[start : start + view["byteLength"]])

    def faults(self) -> Iterator[str]:
        """What the document names that is not there, or is not whole."""
        for buffer in self.document.get("buffers", []):
            if "uri" in buffer:
                file = self.path.with_name(unquote(buffer["uri"]))
                if not file.is_file() or file.stat().st_size != buffer["byteLength"]:
                    yield f"{file.name} is not there, or not of the length that is said"
            elif len(self.data) < buffer["byteLength"]:
                yield "its block of bytes is shorter than is said"
        for image in self.document.get("images", []):
            picture = self._picture(image)
            if not (picture.startswith(PNG_BEGINS) and picture.endswith(PNG_ENDS)):
                yield f"{unquote(image.get('uri', image.get('name', 'a picture')))} is not there, or no whole PNG"


def _light(picture: bytes) -> Floats:
    """What a picture comes to on the whole: the mean of its light, red, green, blue; not a number for a broken one."""
    from PIL import Image

    try:
        shown = Image.open(io.BytesIO(picture)).convert("RGB")
    except OSError:
        return np.full(3, np.nan)
    shades = np.asarray(shown).reshape(-1, 3)
    counts = np.stack([np.bincount(shades[:, part], minlength=256) for part in range(3)])
    found: Floats = counts @ light_of(np.arange(256)) / len(shades)
    return found
