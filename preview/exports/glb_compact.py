"""A GLB for the web and for phones: whole numbers for floats (KHR_mesh_quantization), and all vertices and triangles as
compressed streams (EXT_meshopt_compression); both extensions are the Khronos Group's.

    buffer 0    the file's own block: streams, then the pictures as they are
    buffer 1    where the streams are laid out when they are decoded; the file holds none of it ("fallback")
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from preview.build import Built
from preview.exports.glb import glb_of
from preview.exports.gltf_arrays import ARRAY_BUFFER
from preview.exports.gltf_document import Document, document_of
from preview.exports.gltf_grain import COMPACT, Detail
from preview.exports.gltf_model import Model, model_of
from preview.exports.meshopt import TRIANGLES, VERTICES, encoded_triangles, encoded_vertices

MESHOPT = "EXT_meshopt_compression"
Record = dict[str, Any]


def compact_glb(built: Built) -> bytes:
    """The compact GLB of a built scene. It says its chord, and on each run's node the step of its grid, in mm.

    Raises PreviewError as `built_glb` does.
    """
    return compact_bytes(model_of(built), {"chord_mm": built.scene.chord})


def compact_bytes(model: Model, extras: Record | None = None, detail: Detail = COMPACT) -> bytes:
    """A model as a compact GLB. extras: what it says of itself besides. detail: how fine the grain of wood is. The
    same values give the same bytes."""
    return glb_of(compressed(document_of(model, small=True, detail=detail, extras=extras)))


def compressed(found: Document) -> Document:
    """A document whose buffer views of vertices and of triangles are streams."""
    document = dict(found.document)
    views: list[Record] = []
    data = bytearray()
    laid_out = 0
    for view in document.get("bufferViews", []):
        begin, size = view["byteOffset"], view["byteLength"]
        plain = found.data[begin : begin + size]
        stream = _stream(view, plain, document["accessors"], len(views))
        at = len(data)
        if stream is None:  # a picture
            data += plain
            views.append(view | {"byteOffset": at})
        else:
            told, coded = stream
            data += coded
            place = {"buffer": 0, "byteOffset": at, "byteLength": len(coded)}
            views.append(view | {"buffer": 1, "extensions": {MESHOPT: place | told}})
            laid_out = max(laid_out, begin + size)
        data += bytes(-len(data) % 4)
    if not laid_out:
        return found
    fallback = {"byteLength": laid_out, "extensions": {MESHOPT: {"fallback": True}}}
    document |= {
        "bufferViews": views,
        "buffers": [{"byteLength": len(data)}, fallback],
        "extensionsUsed": [*document["extensionsUsed"], MESHOPT],
        "extensionsRequired": [*document["extensionsRequired"], MESHOPT],
    }
    return replace(found, document=document, data=data)


def _stream(view: Record, plain: bytearray, accessors: list[Record], number: int) -> tuple[Record, bytes] | None:
    """What a view's stream is, as the extension says it, and the stream; None for a picture."""
    if "target" not in view:
        return None
    if view["target"] == ARRAY_BUFFER:
        stride = view["byteStride"]
        rows = np.frombuffer(plain, np.uint8).reshape(-1, stride)
        return {"byteStride": stride, "count": len(rows), "mode": VERTICES}, encoded_vertices(rows)
    count = sum(each["count"] for each in accessors if each["bufferView"] == number)
    stride = len(plain) // count
    numbers = np.frombuffer(plain, f"<u{stride}")
    return {"byteStride": stride, "count": count, "mode": TRIANGLES}, encoded_triangles(numbers.reshape(-1, 3))
