"""Tangents, which say for each vertex which way the pictures on a surface lie; normal maps are read by them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.floating]
Floats = NDArray[np.float64]


def tangents(points: Reals, normals: Reals, uvs: Reals, triangles: NDArray[np.integer]) -> Floats:
    """The tangents (v, 4) of a mesh: unit vectors along +u, square to the normals, and the sign of the third axis.

    points, normals (v, 3), uvs (v, 2), triangles (t, 3). The sign is such that sign * (normal x tangent) runs toward
    the picture's top, which is -v (glTF 2.0, 3.7.2.1 and 3.9.3). A vertex on no triangle with an area gets any
    direction square to its normal.
    """
    at, lie = points.astype(np.float64), uvs.astype(np.float64)
    a, b, c = triangles.T
    one, other = at[b] - at[a], at[c] - at[a]
    (u1, v1), (u2, v2) = (lie[b] - lie[a]).T, (lie[c] - lie[a]).T
    sign = np.sign(u1 * v2 - u2 * v1)
    along = (one * v2[:, None] - other * v1[:, None]) * sign[:, None]
    corners = triangles.ravel()

    def gathered(values: Floats) -> Floats:
        return np.asarray(np.bincount(corners, np.repeat(values, 3), len(at)), np.float64)

    sums = np.stack([gathered(along[:, axis]) for axis in range(3)], axis=1)
    up = normals.astype(np.float64)
    return np.column_stack([_square_to(up, sums), np.where(gathered(sign) > 0, -1.0, 1.0)])


def _square_to(normals: Floats, ways: Floats) -> Floats:
    """Unit vectors (n, 3) square to normals, nearest to `ways`; where that is along the normal, any."""
    flat = ways - normals * np.einsum("ij,ij->i", ways, normals)[:, None]
    long = np.linalg.norm(flat, axis=1)
    lost = long <= 1e-9 * np.linalg.norm(ways, axis=1)
    if lost.any():
        least = np.eye(3)[np.argmin(np.abs(normals[lost]), axis=1)]
        flat[lost] = np.cross(normals[lost], least)
        long[lost] = np.linalg.norm(flat[lost], axis=1)
    result: Floats = flat / long[:, None]
    return result
