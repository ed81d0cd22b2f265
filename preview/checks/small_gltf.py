"""What small glTF files have in place of plain floats: whole numbers (KHR_mesh_quantization), and streams in place of
vertices and triangles (EXT_meshopt_compression). Both extensions are the Khronos Group's.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from preview.checks.meshopt import decoded

Floats = NDArray[np.float64]
Record = dict[str, Any]

MESHOPT, QUANTIZATION = "EXT_meshopt_compression", "KHR_mesh_quantization"
FLOAT = 5126
GREATEST = {5120: 127, 5121: 255, 5122: 32767, 5123: 65535}
"""What stands for 1 in normalized whole numbers, by their kind."""


def unpacked(document: Record, binary: memoryview) -> tuple[Record, memoryview]:
    """The document and its block with every stream laid out; as they are where there is none.

    Raises ValueError, IndexError, KeyError or TypeError for what is not as the specification has it.
    """
    if MESHOPT not in document.get("extensionsUsed", []):
        return document, binary
    views: list[Record] = []
    data = bytearray()
    for view in document.get("bufferViews", []):
        told = view.get("extensions", {}).get(MESHOPT)
        source = view if told is None else told
        if source.get("buffer", 0):
            raise ValueError("it keeps a part of it in another file")
        begin = source.get("byteOffset", 0)
        plain = binary[begin : begin + source["byteLength"]]
        if len(plain) != source["byteLength"]:
            raise ValueError("a part of it lies past its end")
        laid = {"buffer": 0, "byteOffset": len(data)}
        if told is None:
            data += plain
            views.append(view | laid)
        else:
            count, stride = told["count"], told["byteStride"]
            if not all(isinstance(each, int) for each in (count, stride)):
                raise ValueError("a size in it is no whole number")
            rows = decoded(bytes(plain), told["mode"], count, stride, told.get("filter", "NONE"))
            data += rows.tobytes()
            between = {"byteStride": stride} if told["mode"] == "ATTRIBUTES" else {}
            views.append(laid | {"byteLength": rows.size} | between)
        data += bytes(-len(data) % 4)
    return document | {"bufferViews": views, "buffers": [{"byteLength": len(data)}]}, memoryview(data)


def laid_out(document: Record) -> int:
    """How many bytes all views of a document come to, where there are streams to be laid out. A stream may stand for 64
    times as many as it has, and many views for one stretch of the file."""
    if MESHOPT not in document.get("extensionsUsed", []):
        return 0
    views = document.get("bufferViews", [])
    told = [(view, view.get("extensions", {}).get(MESHOPT)) for view in views]
    sizes = (view["byteLength"] if each is None else each["count"] * each["byteStride"] for view, each in told)
    return sum(max(0, size) for size in sizes)


def in_floats(accessor: Record, stored: NDArray[Any]) -> Floats:
    """An accessor's numbers as they are meant: normalized ones from -1 to 1 (glTF 2.0, 3.11)."""
    values = stored.astype(np.float64)
    if accessor.get("normalized"):
        values = np.maximum(values / GREATEST[accessor["componentType"]], -1.0)
    return values


def step_mm(accessor: Record, stored: NDArray[Any], matrix: Floats) -> float:
    """How far apart neighboring numbers lie at the farthest of the stored positions, mm: matrix (4, 4), in meters."""
    scale = 1000.0 * float(np.linalg.norm(matrix[:3, :3], axis=0).max())
    if accessor["componentType"] != FLOAT:
        return scale / (GREATEST[accessor["componentType"]] if accessor.get("normalized") else 1)
    far = np.abs(stored[np.isfinite(stored)]).max(initial=0.0)
    return scale * float(np.spacing(np.float32(far)))
