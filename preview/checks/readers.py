"""Read exported models back from disk, by their open formats and not by the code that wrote them.

glTF 2.0 (GLB container): specification of the Khronos Group, ISO/IEC 12113:2022. STL: the common binary layout.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from preview.checks.small_gltf import in_floats, step_mm, unpacked
from preview.errors import PreviewError

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_COMPONENTS = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
_WIDTHS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT4": 16}
_STL = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


@dataclass(frozen=True)
class Body:
    """One named mesh as a file holds it, in mm, z up.

    path: the names of the nodes above it. vertices (v, 3), triangles (t, 3) into them; normals (v, 3) or None.
    step: how far apart neighboring stored numbers lie at its farthest coordinate, mm.
    """

    name: str
    path: tuple[str, ...]
    vertices: Floats
    triangles: Ints
    normals: Floats | None
    step: float


def must_be_file(path: Path) -> None:
    """Raise PreviewError, naming it, where there is no file of this name, or what is there is no regular file."""
    if path.is_file():
        return
    problem, fix = "there is no file of this name", "check the name and the folder"
    if path.is_dir():
        problem, fix = "this is a folder, not a model", "name the model in it"
    elif path.exists():
        problem, fix = "this is a pipe or a device, not a regular file", "save what it gives as a file, and name that"
    raise PreviewError("", None, problem, fix, str(path))


def read_glb(path: Path) -> list[Body]:
    """The meshes of a GLB file in the order of its nodes; meters and y up become millimeters and z up.

    Raises PreviewError when the file is not a GLB that can be read.
    """
    data = path.read_bytes()
    try:
        document, binary = unpacked(*chunks(data))
        nodes = document.get("nodes", [])
        roots = at(document["scenes"], document.get("scene", 0)).get("nodes", [])
        seen: set[int] = set()
        return [body for root in roots for body in _walk(document, binary, nodes, root, np.eye(4), (), seen)]
    except (KeyError, IndexError, ValueError, struct.error, TypeError) as cause:
        said = str(cause)[:200]
        raise PreviewError(
            "", None, f"the file is not a GLB model that can be read ({said})", "export it again", str(path)
        ) from cause


def stl_count(path: Path) -> int:
    """How many triangles a binary STL file has.

    Raises PreviewError when the file's size does not fit its count of triangles.
    """
    with path.open("rb") as file:
        head = file.read(84)
        size = file.seek(0, 2)
    count: int = struct.unpack_from("<I", head, 80)[0] if len(head) == 84 else -1
    if count < 0 or size != 84 + 50 * count:
        raise PreviewError("", None, "the file is not a whole binary STL", "export it again", str(path))
    return count


def read_stl(path: Path, first: int = 0, last: int | None = None) -> Body:
    """The triangles of a binary STL file as one body; the format has no names and shares no vertices.

    first, last: from which to which triangle, where not all are wanted. Raises PreviewError as `stl_count` does.
    """
    count = (stl_count(path) if last is None else min(last, stl_count(path))) - first
    facets = np.fromfile(path, dtype=_STL, count=count, offset=84 + 50 * first)
    corners = facets["corners"].reshape(-1, 3)
    step = float(np.spacing(np.abs(corners).max(initial=0.0)))
    triangles = np.arange(len(corners)).reshape(-1, 3)
    return Body(path.stem, (), corners.astype(np.float64), triangles, None, step)


def chunks(data: bytes) -> tuple[dict[str, Any], memoryview]:
    """The JSON and the binary part of a GLB. Raises ValueError where its header or its chunks do not fit."""
    magic, version, length = struct.unpack_from("<4sII", data, 0)
    if magic != b"glTF" or version != 2 or length != len(data):
        raise ValueError("its header does not fit")
    size, kind = struct.unpack_from("<I4s", data, 12)
    if kind != b"JSON":
        raise ValueError("its first part is not JSON")
    document = json.loads(data[20 : 20 + size])
    binary = memoryview(b"")
    if 20 + size < len(data):
        more, kind = struct.unpack_from("<I4s", data, 20 + size)
        if kind != b"BIN\0":
            raise ValueError("its second part is not binary")
        binary = memoryview(data)[28 + size : 28 + size + more]
    return document, binary


def _walk(
    document: dict[str, Any],
    binary: memoryview,
    nodes: list[dict[str, Any]],
    index: int,
    above: Floats,
    path: tuple[str, ...],
    seen: set[int],
) -> Iterator[Body]:
    once(seen, index)
    node = at(nodes, index)
    name = str(node.get("name", f"node {index}"))
    matrix = above @ placement(node)
    if "mesh" in node:
        for primitive in at(document["meshes"], node["mesh"])["primitives"]:
            if primitive.get("mode", 4) != 4:
                raise ValueError("it holds something other than triangles")
            yield _body(document, binary, primitive, matrix, name, path)
    for child in node.get("children", []):
        yield from _walk(document, binary, nodes, child, matrix, (*path, name), seen)


def once(seen: set[int], index: int) -> None:
    """Note a node that is reached.

    Raises ValueError for one that was reached before: nodes are strict trees (glTF 2.0, 3.5.2).
    """
    if index in seen:
        raise ValueError("a node stands in itself, or in two others")
    seen.add(index)


def at(items: Sequence[Any], index: object) -> Any:
    """An item by its number. Raises ValueError for a number that is none: those below 0 count from the end here."""
    return items[_size(index)]


def placement(node: dict[str, Any]) -> Floats:
    """A node's own matrix (4, 4), as it is given or from its translation, rotation and scale."""
    if "matrix" in node:
        return np.array(node["matrix"], dtype=np.float64).reshape(4, 4).T
    x, y, z, w = node.get("rotation", (0.0, 0.0, 0.0, 1.0))
    turn = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
    matrix = np.eye(4)
    matrix[:3, :3] = turn * np.array(node.get("scale", (1.0, 1.0, 1.0)))
    matrix[:3, 3] = node.get("translation", (0.0, 0.0, 0.0))
    return matrix


def _body(
    document: dict[str, Any],
    binary: memoryview,
    primitive: dict[str, Any],
    matrix: Floats,
    name: str,
    path: tuple[str, ...],
) -> Body:
    attributes = primitive["attributes"]
    accessors = document["accessors"]
    position = at(accessors, attributes["POSITION"])
    stored = in_floats(position, accessor_values(document, binary, attributes["POSITION"]))
    normals = None
    if "NORMAL" in attributes:
        normal = attributes["NORMAL"]
        normals = in_floats(at(accessors, normal), accessor_values(document, binary, normal))
    if "indices" in primitive:
        index = accessor_values(document, binary, primitive["indices"]).astype(np.int64).ravel()
    else:
        index = np.arange(len(stored))
    # glTF (x, y up, z) -> plan (x, -z), height y
    placed = stored @ matrix[:3, :3].T + matrix[:3, 3]
    vertices = placed[:, [0, 2, 1]] * np.array([1000.0, -1000.0, 1000.0])
    if normals is not None:
        turned = normals @ matrix[:3, :3].T / np.linalg.norm(matrix[:3, 0])  # our grids' steps are the same each way
        normals = turned[:, [0, 2, 1]] * np.array([1.0, -1.0, 1.0])
    return Body(name, path, vertices, index.reshape(-1, 3), normals, step_mm(position, stored, matrix))


def accessor_values(document: dict[str, Any], binary: memoryview, index: int) -> NDArray[Any]:
    """What an accessor holds, as stored: (n,) or (n, parts).

    Raises ValueError where it reaches past its view or the file, or has a size that glTF 2.0 does not allow (3.6.2).
    """
    accessor = at(document["accessors"], index)
    view = at(document["bufferViews"], accessor["bufferView"])
    kind = np.dtype(_COMPONENTS[accessor["componentType"]])
    width, count = _WIDTHS[accessor["type"]], _size(accessor["count"])
    size = kind.itemsize * width
    first, long = _size(view.get("byteOffset", 0)), _size(view["byteLength"])
    inside = _size(accessor.get("byteOffset", 0))
    stride = _size(view.get("byteStride", size))
    if stride < size:
        raise ValueError("its numbers overlap")
    if (count and inside + stride * (count - 1) + size > long) or first + long > len(binary):
        raise ValueError("a part of it lies past its end")
    return np.ndarray((count, width), kind, binary, first + inside, (stride, kind.itemsize))


def _size(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        raise ValueError("a size in it is no whole number")
    return value
