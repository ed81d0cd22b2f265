"""Binary STL: triangles without names, millimeters, z up, in the scene's own coordinates.

    80 bytes   text, which must not begin with "solid" (that is how the text form of STL begins)
    uint32     count of triangles
    50 bytes   for each: normal, three corners (12 float32), and two bytes that are 0; all little-endian

The format holds no unit and shares no corner. Equal points of neighboring pieces are stored as equal numbers.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from preview.models.mesh import PieceMesh

FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
BLOCK = 200_000
"""How many triangles are worked out at a time."""
THIN = 1e-3
"""The square of the sine of the angle at its first corner below which a triangle is thin."""
HEADER = "binary STL in millimeters, z up: "
MODEL = "mm, z up, model "
"""What stands before a model's digest of 64 digits: together they fill the header, and leave no room for a title."""


def stl_bytes(meshes: Sequence[PieceMesh], header: str) -> bytes:
    """One STL file that holds every mesh. `header`: text for its first 80 bytes, such as the title."""
    return b"".join(stl_blocks(meshes, header))


def stl_blocks(meshes: Sequence[PieceMesh], header: str, digest: str = "") -> Iterator[bytes]:
    """The bytes of `stl_bytes` block by block, so that memory does not grow with the job.

    digest: of a whole model; it stands in the header instead of the text.
    """
    said = MODEL + digest if digest else HEADER + header
    text = "".join(letter if letter.isprintable() else " " for letter in said)
    count = sum(len(mesh.triangles) for mesh in meshes)
    yield text.encode("ascii", "replace")[:80].ljust(80) + struct.pack("<I", count)
    block: list[PieceMesh] = []
    size = 0
    for mesh in meshes:
        block.append(mesh)
        size += len(mesh.triangles)
        if size >= BLOCK:
            yield _facets(block).tobytes()
            block, size = [], 0
    if block:
        yield _facets(block).tobytes()


def _facets(meshes: Sequence[PieceMesh]) -> NDArray[np.void]:
    """The records of several meshes' triangles, in order.

    A normal is worked out in float64 from the corners as stored. A triangle that has no area once stored gets
    the zero vector, which readers of the format take for "work it out yourself". So that one who does so in float32
    finds the same, a thin triangle begins at the corner opposite its longest side: of two sides that are meters long
    and some hundredths of a millimeter apart, the product in float32 is rounding for the most part.
    """
    points = np.concatenate([mesh.points for mesh in meshes]).astype(np.float32)
    first = np.cumsum([0, *(len(mesh.points) for mesh in meshes[:-1])])
    triangles = np.concatenate([mesh.triangles + at for mesh, at in zip(meshes, first.tolist(), strict=True)])
    a, b, c = (points[triangles[:, i]].astype(np.float64).T for i in range(3))
    (x1, y1, z1), (x2, y2, z2) = ab, ac = b - a, c - a
    normal = np.stack([y1 * z2 - z1 * y2, z1 * x2 - x1 * z2, x1 * y2 - y1 * x2], axis=1)
    square = np.einsum("ij,ij->i", normal, normal)
    thin = np.flatnonzero(square < THIN * _square(ab) * _square(ac))
    sides = np.stack([_square(ac[:, thin] - ab[:, thin]), _square(ac[:, thin]), _square(ab[:, thin])])
    turned = (sides.argmax(axis=0)[:, None] + np.arange(3)) % 3
    triangles[thin] = np.take_along_axis(triangles[thin], turned, axis=1)
    facets = np.zeros(len(triangles), FACET)
    facets["corners"] = points[triangles]
    length = np.sqrt(square)[:, None]
    facets["normal"] = np.divide(normal, length, out=np.zeros_like(normal), where=length > 0)
    return facets


def _square(vectors: NDArray[np.float64]) -> NDArray[np.float64]:
    x, y, z = vectors
    return np.asarray(x * x + y * y + z * z)
