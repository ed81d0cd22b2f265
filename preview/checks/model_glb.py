"""GLB files from anywhere (glTF 2.0, ISO/IEC 12113:2022): all their triangles, node by node, in mm and z up.

Whole numbers (KHR_mesh_quantization) and streams (EXT_meshopt_compression) are read as well. What would be passed over
in silence is refused instead: other compression, sparse vertices, strips and fans, other files. A mesh's primitives
(one for each material) are one body; lines and points are none.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from preview import limits
from preview.checks.readers import Body, Floats, Ints, accessor_values, at, chunks, once, placement, read_glb
from preview.checks.small_gltf import QUANTIZATION, in_floats, laid_out, step_mm, unpacked
from preview.errors import PreviewError

OURS = "molding-preview "
NOT_READ = {
    "EXT_mesh_gpu_instancing": "copies of one mesh",
    "KHR_draco_mesh_compression": "compressed meshes",
    "KHR_meshopt_compression": "compressed meshes",
}
"""Extensions that change where vertices are, and what they hold."""
FLOAT = 5126
SMALLER = "export it in parts, or with coarser facets"


def read_any_glb(path: Path) -> tuple[tuple[Body, ...], tuple[str, ...]]:
    """The bodies of a GLB file, and remarks on what was read. Of our own files the surroundings are left out.

    Raises PreviewError, naming the file, when it is cut short or holds what cannot be read.
    """
    data = path.read_bytes()
    try:
        _whole(path, data)
        document, binary = chunks(data)
        limits.MODEL_BYTES.refuse(laid_out(document), "the GLB, laid out,", SMALLER)
        if str(document.get("asset", {}).get("generator", "")).startswith(OURS):
            return _ours(path)
        document, binary = unpacked(document, binary)
        _refuse(path, document)
        bodies = tuple(_bodies(document, binary))
    except PreviewError as error:
        raise error.in_file(str(path)) from error.__cause__
    except (struct.error, ArithmeticError, AttributeError, LookupError, RecursionError, TypeError, ValueError) as cause:
        said = str(cause).strip() or type(cause).__name__
        raise _fault(path, f"the file is not a GLB model that can be read ({said[:200]})", "export it again") from cause
    return bodies, ("everything in the file is judged, surroundings too",)


def _fault(path: Path, problem: str, fix: str) -> PreviewError:
    return PreviewError("", None, problem, fix, str(path))


def _whole(path: Path, data: bytes) -> None:
    _, version, length = struct.unpack_from("<4sII", data, 0)
    if version != 2:
        raise _fault(path, "the file is not a GLB model of glTF 2.0", "export it again as glTF 2.0, binary")
    if length != len(data):
        problem = f"the GLB says that it has {length} bytes; it has {len(data)}"
        raise _fault(path, problem, "it was cut short or changed on the way: copy or export it again")


def _ours(path: Path) -> tuple[tuple[Body, ...], tuple[str, ...]]:
    found = read_glb(path)
    bodies = tuple(body for body in found if "surroundings" not in body.path)
    left = len(found) - len(bodies)
    if not left:
        return bodies, ()
    things = "1 thing that is" if left == 1 else f"{left} things that are"
    return bodies, (f"its surroundings, {things} only there to be looked at, left out",)


def _refuse(path: Path, document: dict[str, Any]) -> None:
    for name, what in NOT_READ.items():
        if name in document.get("extensionsUsed", []):
            raise _fault(path, f"the GLB holds {what} ({name}), which are not read", "export it without")
    accessors, views = document.get("accessors", []), document.get("bufferViews", [])
    for mesh in document.get("meshes", []):
        for primitive in mesh["primitives"]:
            if primitive.get("mode", 4) in (5, 6):
                raise _fault(path, "the GLB holds strips or fans of triangles, which are not read", "export triangles")
            position = primitive["attributes"].get("POSITION")
            used = [at(accessors, i) for i in (position, primitive.get("indices")) if i is not None]
            if any("sparse" in accessor or "bufferView" not in accessor for accessor in used):
                problem = "the GLB holds vertices that are told as changes to others (sparse), which are not read"
                raise _fault(path, problem, "export it without")
            if any(at(views, accessor["bufferView"]).get("buffer", 0) for accessor in used):
                raise _fault(path, "the GLB keeps vertices in another file", "export it as one file")
            rounded = position is not None and at(accessors, position)["componentType"] != FLOAT
            if rounded and QUANTIZATION not in document.get("extensionsUsed", []):
                raise _fault(path, "the GLB holds rounded coordinates, which are not read", "export it without")


def _bodies(document: dict[str, Any], binary: memoryview) -> Iterator[Body]:
    nodes = document.get("nodes", [])
    if document.get("scenes"):
        roots = at(document["scenes"], document.get("scene", 0)).get("nodes", [])
    else:
        below = {child for node in nodes for child in node.get("children", [])}
        roots = [i for i in range(len(nodes)) if i not in below]
    names: dict[str, int] = {}
    limits.NODES.refuse(len(nodes), "the GLB", SMALLER)
    left = [(root, np.eye(4)) for root in reversed(roots)]
    seen: set[int] = set()
    triangles = bodies = 0
    while left:
        index, above = left.pop()
        once(seen, index)
        node = at(nodes, index)
        matrix = above @ placement(node)
        left += [(child, matrix) for child in reversed(node.get("children", []))]
        if "mesh" not in node:
            continue
        mesh = at(document["meshes"], node["mesh"])
        name = str(node.get("name") or mesh.get("name") or f"node {index}")
        names[name] = names.get(name, 0) + 1
        told = name if names[name] == 1 else f"{name} ({names[name]})"
        parts = []
        for primitive in mesh["primitives"]:
            if primitive.get("mode", 4) != 4:
                continue
            parts.append(_primitive(document, binary, primitive, matrix))
            # A mesh may stand in many nodes, and a view in many meshes.
            triangles += max(len(part) for part in parts[-1][:2])
            limits.TRIANGLES.refuse(triangles, "the GLB", SMALLER)
        if parts:
            bodies += 1
            limits.BODIES.refuse(bodies, "the GLB", SMALLER)
            yield _body(told, parts, matrix)


def _primitive(
    document: dict[str, Any], binary: memoryview, primitive: dict[str, Any], matrix: Floats
) -> tuple[Floats, Ints, float]:
    """The vertices, as stored, the triangles, and the step of the numbers, mm, of one primitive below a matrix."""
    if "POSITION" not in primitive["attributes"]:
        return np.empty((0, 3)), np.empty((0, 3), dtype=np.int64), 0.0
    place = primitive["attributes"]["POSITION"]
    accessor = at(document["accessors"], place)
    stored = in_floats(accessor, accessor_values(document, binary, place))
    step = step_mm(accessor, stored, matrix)
    if "indices" not in primitive:
        return stored, np.arange(len(stored)).reshape(-1, 3), step
    index = accessor_values(document, binary, primitive["indices"]).astype(np.int64)
    if len(index) and not 0 <= index.min() <= index.max() < len(stored):
        raise ValueError("a triangle names a vertex that is not there")
    return stored, index.reshape(-1, 3), step


def _body(name: str, parts: list[tuple[Floats, Ints, float]], matrix: Floats) -> Body:
    first = np.cumsum([0, *(len(stored) for stored, *_ in parts[:-1])]).tolist()
    stored = np.concatenate([points for points, *_ in parts])
    triangles = np.concatenate([corners + at for (_, corners, _), at in zip(parts, first, strict=True)])
    if np.linalg.det(matrix[:3, :3]) < 0:
        triangles = triangles[:, ::-1]  # a mirrored node's triangles are wound the other way (3.7.4)
    # One matrix takes equal positions to equal positions, so they are still one when they are welded.
    placed = stored @ matrix[:3, :3].T + matrix[:3, 3]
    step = max(step for *_, step in parts)
    return Body(name, (), placed[:, [0, 2, 1]] * np.array([1000.0, -1000.0, 1000.0]), triangles, None, step)
