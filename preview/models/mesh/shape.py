"""What a piece's mesh is made of: the triangles that all pieces of one shape share, and the piece's own numbers.

    station j+1   d---c      section edges run from point i to point i + 1 (counter-clockwise in (d, h)),
                  |  /|      stations along the travel; their cross product points out of the wood, so the
                  | / |      two triangles (a, d', c) and (a, c, b) below face outward. Where the room is on
    station j     a---b      the right of travel the frame is mirrored and every triangle is turned over.

A piece is closed because its triangles are, by index, whatever its numbers.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from preview.joinery import Piece
from preview.models.mesh.face import Face, Floats, Ints

if TYPE_CHECKING:
    from preview.models.mesh.faced import FacedShape

Stored = NDArray[np.float32]


@dataclass(frozen=True)
class Shape:
    """What all pieces with one face and one count of spans share; index arrays, no coordinates.

    triangles (t, 3): into a piece's points. corner_point (v,): the point under each render vertex.
    render_triangles (t, 3): the same triangles, into the render vertices. pinched: points of the profile, by number, at
    which the piece has no length, as a return has none on the wall line: there both ends share their points.
    """

    face: Face
    spans: int
    mirrored: bool
    pinched: tuple[int, ...] = ()

    @cached_property
    def triangles(self) -> NDArray[np.int32]:
        """The closed surface, by point index, outward."""
        return self._whole if not self.pinched else self._whole[self._kept]

    @cached_property
    def _whole(self) -> NDArray[np.int32]:
        """All triangles that the grid has, by point index; a pinched point is its own first one."""
        n = len(self.face.d)
        i = np.arange(n)
        whole = self._grid(n, i, np.roll(i, -1), 0, self.spans * n)
        if self.pinched:
            one = np.arange((self.spans + 1) * n, dtype=np.int32).reshape(-1, n)
            one[:, list(self.pinched)] = one[0, list(self.pinched)]
            whole = one.ravel()[whole]
        return whole

    @cached_property
    def _kept(self) -> NDArray[np.bool_]:
        """Which triangles keep three corners."""
        a, b, c = self._whole.T
        kept: NDArray[np.bool_] = (a != b) & (b != c) & (c != a)
        return kept

    @cached_property
    def render_triangles(self) -> NDArray[np.int32]:
        """The same triangles in the same order, by render vertex."""
        columns, n = len(self.face.column_point), len(self.face.d)
        sides = (self.spans + 1) * columns
        whole = self._grid(columns, self.face.left, self.face.right, sides, sides + n)
        return whole if not self.pinched else whole[self._kept]

    @cached_property
    def corner_point(self) -> NDArray[np.int32]:
        """The point index under each render vertex: sides by station and column, then the two caps."""
        n = len(self.face.d)
        sides = (np.arange(self.spans + 1)[:, None] * n + self.face.column_point).ravel()
        caps = np.concatenate([np.arange(n), self.spans * n + np.arange(n)])
        return np.concatenate([sides, caps]).astype(np.int32)

    def _grid(self, row: int, left: Ints, right: Ints, begin: int, end: int) -> NDArray[np.int32]:
        base = (np.arange(self.spans) * row)[:, None]
        a, d = base + left, base + right
        b, c = a + row, d + row
        sides = np.stack([np.stack([a, c, b], axis=-1), np.stack([a, d, c], axis=-1)], axis=2).reshape(-1, 3)
        caps = [begin + self.face.triangles[:, ::-1], end + self.face.triangles]
        whole = np.concatenate([sides, *caps]).astype(np.int32)
        return whole[:, ::-1] if self.mirrored else whole


@dataclass(frozen=True)
class PieceMesh:
    """One piece's closed mesh, in mm, z up.

    points (p, 3): shared topology; `shape.triangles` indexes them. normals (v, 3) and uvs (v, 2, in mm: along the
    grain, round the profile) belong to the render vertices, `points[shape.corner_point]`.
    """

    piece: Piece
    shape: Shape | FacedShape
    points: Floats
    normals: Stored
    uvs: Stored

    @property
    def triangles(self) -> NDArray[np.int32]:
        """(t, 3) indices into the points, outward."""
        return self.shape.triangles

    @property
    def volume(self) -> float:
        """The mesh's own volume, mm³, by the divergence theorem."""
        return mesh_volume(self.points, self.triangles)

    @property
    def area(self) -> float:
        """The mesh's own surface, mm²."""
        a, b, c = (self.points[self.triangles[:, i]] for i in range(3))
        return float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2)


def mesh_volume(points: Floats, triangles: NDArray[np.integer]) -> float:
    """The signed volume inside a closed mesh, taken from near its middle so that no digits are lost far from 0."""
    centered = points - points.mean(axis=0)
    a, b, c = (centered[triangles[:, i]] for i in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def pinched(piece: Piece, face: Face) -> tuple[int, ...]:
    """The points of a return's face that lie on the wall line, where it has no length."""
    if piece.role != "return":
        return ()
    return tuple(np.flatnonzero(face.d == 0.0).tolist())


def stood(mesh: PieceMesh) -> PieceMesh:
    """A mesh made in its run's own plan, moved to where that plan lies in the scene."""
    stand = mesh.piece.stand
    axes = np.array([stand.x, stand.y, stand.z])
    turned = mesh.normals.astype(np.float64) @ axes
    return replace(mesh, points=mesh.points @ axes + np.array(stand.origin), normals=turned.astype(np.float32))
