"""The arrays of a glTF file: one block of bytes, laid out beforehand and filled mesh by mesh.

    positions | normals | texture coordinates | tangents | 32-bit indices | 16-bit indices | picture | picture ...

Each part is one buffer view, and each mesh has its stretch of it; every part starts at a multiple of 4 bytes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from preview.errors import PreviewError

FLOAT, UINT16, UINT32 = 5126, 5123, 5125
ARRAY_BUFFER, ELEMENT_ARRAY_BUFFER = 34962, 34963
REACH_OF_UINT16 = 65535
"""The most vertices that 16-bit indices serve; the format keeps the index 65535 for other uses."""
MOST_BYTES = 2**32 - 1
JSON_PER_MESH = 2000
"""About how many bytes the document has for a mesh."""
WIDE, NARROW, FIRST_PICTURE = 4, 5, 6
"""The places of the indices and of the pictures among the parts."""

Reals = NDArray[np.floating]
Triangles = NDArray[np.int32]
Record = dict[str, Any]


class Arrays:
    """Vertex and index arrays in one block (`data`), with their accessors and buffer views.

    Meshes are announced beforehand as (vertices, triangles), in any order; then each is added once. One array
    of triangles (the same object) is stored once, whoever uses it. tangents: how many vertices have one. pictures:
    files that are kept as they are.
    """

    def __init__(
        self,
        textured: Sequence[tuple[int, Triangles]],
        plain: Sequence[tuple[int, Triangles]] = (),
        *,
        tangents: int = 0,
        pictures: Sequence[bytes] = (),
    ) -> None:
        self.accessors: list[Record] = []
        self.views: list[Record] = []
        vertices = sum(count for count, _ in (*textured, *plain))
        once = {id(triangles): (count, triangles) for count, triangles in (*textured, *plain)}
        wide = sum(triangles.size for count, triangles in once.values() if count > REACH_OF_UINT16)
        narrow = sum(triangles.size for count, triangles in once.values() if count <= REACH_OF_UINT16)
        parts: list[tuple[np.dtype[Any], int, int, int]] = [
            (np.dtype("<f4"), 3, vertices, ARRAY_BUFFER),
            (np.dtype("<f4"), 3, vertices, ARRAY_BUFFER),
            (np.dtype("<f4"), 2, sum(count for count, _ in textured), ARRAY_BUFFER),
            (np.dtype("<f4"), 4, tangents, ARRAY_BUFFER),
            (np.dtype("<u4"), 1, wide, ELEMENT_ARRAY_BUFFER),
            (np.dtype("<u2"), 1, narrow, ELEMENT_ARRAY_BUFFER),
            *((np.dtype("u1"), 1, len(picture), 0) for picture in pictures),
        ]
        starts = [0]
        for kind, width, count, _ in parts:
            starts.append(starts[-1] + _padded(kind.itemsize * width * count))
        refuse_too_large(starts[-1] + JSON_PER_MESH * (len(textured) + len(plain)))
        self.data = bytearray(starts[-1])
        self._places: list[_Place] = []
        for (kind, width, count, target), start in zip(parts, starts, strict=False):
            self._places.append(_Place(self.data, kind, width, count, start, len(self.views)))
            if count:
                self.views.append(_view(start, kind.itemsize * width, count, target))
        for place, picture in zip(self._places[FIRST_PICTURE:], pictures, strict=True):
            place.put(np.frombuffer(picture, np.uint8)[:, None])
        self._stored: dict[int, int] = {}

    @property
    def picture_views(self) -> list[int]:
        """The buffer views of the pictures, in their order."""
        return [place.view for place in self._places[FIRST_PICTURE:]]

    def add_vertices(
        self, points: Reals, normals: Reals, uvs: Reals | None = None, tangents: Reals | None = None
    ) -> dict[str, int]:
        """Store one mesh's vertices: points and normals (v, 3), texture coordinates (v, 2), tangents (v, 4); returns
        its attributes.

        The bounds are those of the points as stored.
        """
        positions, directions, texture, lie, *_ = self._places
        at, stored = positions.put(points)
        bounds = {"min": stored.min(axis=0).tolist(), "max": stored.max(axis=0).tolist()}
        attributes = {
            "POSITION": self._accessor(positions, at, FLOAT, len(points), "VEC3", bounds),
            "NORMAL": self._accessor(directions, directions.put(normals)[0], FLOAT, len(points), "VEC3"),
        }
        if uvs is not None:
            attributes["TEXCOORD_0"] = self._accessor(texture, texture.put(uvs)[0], FLOAT, len(points), "VEC2")
        if tangents is not None:
            attributes["TANGENT"] = self._accessor(lie, lie.put(tangents)[0], FLOAT, len(points), "VEC4")
        return attributes

    def add_triangles(self, triangles: Triangles, vertices: int) -> int:
        """The accessor of a mesh's indices: (t, 3) into that many vertices; stored when first asked for."""
        if id(triangles) not in self._stored:
            wide = vertices > REACH_OF_UINT16
            place = self._places[WIDE if wide else NARROW]
            at, _ = place.put(triangles.reshape(-1, 1))
            kind = UINT32 if wide else UINT16
            self._stored[id(triangles)] = self._accessor(place, at, kind, triangles.size, "SCALAR")
        return self._stored[id(triangles)]

    def _accessor(
        self, place: _Place, at: int, component: int, count: int, shape: str, bounds: Record | None = None
    ) -> int:
        record = {"bufferView": place.view, "byteOffset": at, "componentType": component, "count": count}
        self.accessors.append(record | {"type": shape} | (bounds or {}))
        return len(self.accessors) - 1


class _Place:
    """One part of the block: rows of one kind, filled from the front."""

    def __init__(self, data: bytearray, kind: np.dtype[Any], width: int, count: int, start: int, view: int) -> None:
        self.view = view
        self._rows = np.ndarray((count, width), kind, data, start) if count else np.empty((0, width), kind)
        self._filled = 0

    def put(self, rows: NDArray[Any]) -> tuple[int, NDArray[Any]]:
        """Store rows; returns their byte offset in this part, and the rows as stored."""
        begin = self._filled
        self._filled += len(rows)
        stored = self._rows[begin : self._filled]
        stored[:] = rows
        return begin * self._rows.strides[0], stored


def _view(start: int, stride: int, count: int, target: int) -> Record:
    view: Record = {"buffer": 0, "byteOffset": start, "byteLength": stride * count}
    if target == ARRAY_BUFFER:
        view["byteStride"] = stride  # several accessors share the view
    return view | ({"target": target} if target else {})


def _padded(size: int) -> int:
    return size + -size % 4


def refuse_too_large(size: int) -> None:
    """Raise PreviewError for a file of so many bytes that a GLB cannot have them."""
    if size > MOST_BYTES:
        raise PreviewError(
            "",
            None,
            f"the model takes {size / 2**30:.1f} GiB, and a GLB holds less than 4",
            "use a coarser chord, or split the scene in two",
        )
