"""Shapes as the page draws them: on a fine grid, measured from a point of their own, and each stored once."""

from __future__ import annotations

import hashlib

import numpy as np
from numpy.typing import NDArray

from preview.client.page.container import Arrays, Record
from preview.models.mesh import PieceMesh, SurroundingMesh

Floats = NDArray[np.float64]

GRID = 2048.0
"""Steps of the grid in a millimeter: finer than anyone sees, and few digits to send."""
GRAIN_GRID = 16.0
"""The same for places on the grain."""


class Bodies:
    """The shapes there are; pieces that differ only in where they stand share one, whatever variant they are of.

    records: as the document holds them. digests: what tells the points of one piece's shape from another's.
    """

    def __init__(self, arrays: Arrays) -> None:
        self._arrays = arrays
        self._known: dict[tuple[bytes, int, int], int] = {}
        self.records: list[Record] = []
        self.digests: list[bytes] = []

    def piece(self, mesh: PieceMesh) -> int:
        """The number of a piece's shape, measured from its mesh's first point."""
        local = np.rint((mesh.points - mesh.points[0]) * GRID).astype(np.int32)
        shape = mesh.shape
        key = (local.tobytes(), len(shape.corner_point), len(shape.render_triangles))
        if key not in self._known:
            uvs = (np.rint(mesh.uvs * GRAIN_GRID) / GRAIN_GRID).astype(np.float32)
            self.digests.append(hashlib.blake2b(key[0], digest_size=16).digest())
            self._known[key] = self._add(local[shape.corner_point], mesh.normals, uvs, shape.render_triangles)
        return self._known[key]

    def surrounding(self, mesh: SurroundingMesh) -> int:
        """The number of a surrounding's shape, measured from its origin at height 0."""
        local = np.rint((mesh.points - np.array([*mesh.origin, 0.0])) * GRID).astype(np.int32)
        key = (local.tobytes(), -1, len(mesh.triangles))
        if key not in self._known:
            self.digests.append(b"")
            self._known[key] = self._add(local, mesh.normals, None, mesh.triangles)
        return self._known[key]

    def _add(
        self,
        points: NDArray[np.int32],
        normals: NDArray[np.floating],
        uvs: NDArray[np.float32] | None,
        triangles: NDArray[np.int32],
    ) -> int:
        looks = np.zeros((len(normals), 4), np.int8)
        looks[:, :3] = np.rint(normals * 127.0)
        self.records.append(
            {
                "points": self._arrays.add((points / GRID).astype(np.float32)),
                "normals": self._arrays.add(looks),
                "uvs": None if uvs is None else self._arrays.add(uvs),
                "triangles": self._arrays.add(triangles.astype(np.uint32)),
            }
        )
        return len(self.records) - 1
