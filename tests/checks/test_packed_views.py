"""Compressed views laid out again: vertices keep their stride, indices have none (EXT_meshopt_compression, mode;
glTF 2.0, 5.11.4: byteStride is for vertex attributes)."""

from __future__ import annotations

import numpy as np

from preview.checks.readers import accessor_values
from preview.checks.small_gltf import MESHOPT, unpacked
from preview.exports.meshopt import encoded_triangles, encoded_vertices


def test_vertices_keep_their_stride_and_indices_have_none() -> None:
    """Positions of three 16-bit numbers are stored every 8 bytes (glTF 2.0, 3.6.2.4: strides are multiples of 4)."""
    rows = np.zeros((5, 4), "<i2")
    rows[:, :3] = np.arange(15).reshape(5, 3) - 7
    triangles = np.array([[0, 1, 2], [2, 1, 3], [2, 3, 4]], np.uint32)
    streams = encoded_vertices(rows), encoded_triangles(triangles)
    first = streams[0] + bytes(-len(streams[0]) % 4)
    sizes = [("ATTRIBUTES", 5, 8, 0, len(streams[0])), ("TRIANGLES", 9, 4, len(first), len(streams[1]))]
    views = [
        {
            "buffer": 1,
            "byteLength": count * stride,
            "extensions": {
                MESHOPT: {
                    "buffer": 0,
                    "byteOffset": at,
                    "byteLength": long,
                    "byteStride": stride,
                    "count": count,
                    "mode": mode,
                }
            },
        }
        for mode, count, stride, at, long in sizes
    ]
    accessors = [
        {"bufferView": 0, "componentType": 5122, "count": 5, "type": "VEC3"},
        {"bufferView": 1, "componentType": 5125, "count": 9, "type": "SCALAR"},
    ]
    document = {"extensionsUsed": [MESHOPT], "bufferViews": views, "accessors": accessors}
    plain, binary = unpacked(document, memoryview(first + streams[1]))
    assert [view.get("byteStride") for view in plain["bufferViews"]] == [8, None]
    assert accessor_values(plain, binary, 0).tolist() == rows[:, :3].tolist()
    found = accessor_values(plain, binary, 1).reshape(3, 3).tolist()
    turned = [[tuple(np.roll(triangle, -i).tolist()) for i in range(3)] for triangle in triangles]
    assert all(tuple(mine) in theirs for mine, theirs in zip(found, turned, strict=True))
