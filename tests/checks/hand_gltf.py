"""glTF documents put together by hand: a tetrahedron, its numbers of any kind, in a block of bytes (glTF 2.0)."""

from __future__ import annotations

import json
import struct
from pathlib import Path
from typing import Any

import numpy as np

KINDS = {"i1": 5120, "u1": 5121, "<i2": 5122, "<u2": 5123, "<u4": 5125, "<f4": 5126}
CORNERS = np.array([[0, 0, 0], [30, 0, 0], [0, 40, 0], [0, 0, 50]], float)
"""mm, z up."""
FACES = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
VOLUME = 30 * 40 * 50 / 6
STORED = np.column_stack([CORNERS[:, 0], CORNERS[:, 2], -CORNERS[:, 1]]) / 1000
"""The corners as glTF has them: meters, y up."""
WAYS = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [0, 0.6, 0.8]])
Record = dict[str, Any]


class Block:
    """A document that grows by accessors, each with a view of its own."""

    def __init__(self) -> None:
        self.data = bytearray()
        self.views: list[dict[str, Any]] = []
        self.accessors: list[dict[str, Any]] = []

    def add(self, values: np.ndarray, kind: str, **said: Any) -> int:
        """Numbers (n,) or (n, parts) as an accessor, whose index comes back."""
        stored = np.ascontiguousarray(values, kind)
        self.data += bytes(-len(self.data) % 4)
        self.views.append({"buffer": 0, "byteOffset": len(self.data), "byteLength": stored.nbytes})
        self.data += stored.tobytes()
        name = "SCALAR" if stored.ndim == 1 else f"VEC{stored.shape[1]}"
        found = {"bufferView": len(self.views) - 1, "componentType": KINDS[kind], "count": len(stored), "type": name}
        self.accessors.append(found | said)
        return len(self.accessors) - 1

    def tetrahedron(self, index: str = "<u2", **attributes: int) -> dict[str, Any]:
        """A primitive of the tetrahedron in floats."""
        place = self.add(STORED, "<f4")
        return {"attributes": {"POSITION": place} | attributes, "indices": self.add(FACES.ravel(), index)}

    def document(self, nodes: list[dict[str, Any]], meshes: list[list[dict[str, Any]]], **said: Any) -> dict[str, Any]:
        """The whole; its scene shows the nodes that are no node's children."""
        below = {child for node in nodes for child in node.get("children", [])}
        roots = [i for i in range(len(nodes)) if i not in below]
        whole = {
            "asset": {"version": "2.0"},
            "scene": 0,
            "scenes": [{"nodes": roots}],
            "nodes": nodes,
            "meshes": [{"primitives": primitives} for primitives in meshes],
            "accessors": self.accessors,
            "bufferViews": self.views,
            "buffers": [{"byteLength": len(self.data)}],
        }
        return whole | said


def glb(document: dict[str, Any], data: bytes | bytearray) -> bytes:
    """A GLB: its header, and two chunks (glTF 2.0, 4.4)."""
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    data = bytes(data) + bytes(-len(data) % 4)
    body = struct.pack("<I4s", len(text), b"JSON") + text
    if data:
        body += struct.pack("<I4s", len(data), b"BIN\0") + data
    return struct.pack("<4sII", b"glTF", 2, 12 + len(body)) + body


def tetrahedra(count: int = 1, **said: Any) -> tuple[dict[str, Any], bytearray]:
    """So many nodes that show the one tetrahedron, each 100 mm further along x, and the block of bytes."""
    block = Block()
    nodes = [{"name": f"piece {i}", "mesh": 0, "translation": [0.1 * i, 0, 0]} for i in range(count)]
    return block.document(nodes, [[block.tetrahedron()]], **said), block.data


def z_up(ways: np.ndarray) -> np.ndarray:
    return np.stack([ways[..., 0], -ways[..., 2], ways[..., 1]], axis=-1)


def stored(document: Record, data: bytes | bytearray, folder: Path) -> Path:
    path = folder / "hand.glb"
    path.write_bytes(glb(document, data))
    return path


def oak() -> Record:
    return {"pbrMetallicRoughness": {"baseColorFactor": [0.25, 0.5, 1.0, 0.5]}}


def surrounded() -> list[Record]:
    """Nodes of one mesh: what is around and named so, a piece among it, and one that is named so and stands apart."""
    return [
        {"name": "room", "children": [1, 4]},
        {"name": "surroundings", "children": [2, 3]},
        {"name": "surroundings / floor", "mesh": 0},
        {"name": "a piece that stands there", "mesh": 0},
        {"name": "surroundings / by name alone", "mesh": 0},
    ]
