"""The arrays of a glTF file: one block of bytes, laid out beforehand and filled mesh by mesh.

    positions | normals | texture coordinates | tangents | positions in floats | indices ... | picture | picture ...

Positions in floats are those of small files that do not go into 16 bits.

Each part is one buffer view, and each mesh has its stretch of it; every part starts at a multiple of 4 bytes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from preview.errors import PreviewError

INT8, UINT16, UINT32, FLOAT = 5120, 5123, 5125, 5126
ARRAY_BUFFER, ELEMENT_ARRAY_BUFFER = 34962, 34963
REACH_OF_UINT16 = 65535
"""The most vertices that 16-bit indices serve; the format keeps the index 65535 for other uses."""
MOST_BYTES = 2**32 - 1
JSON_PER_MESH = 2000
"""About how many bytes the document has for a mesh."""
MANY_TRIANGLES = 400
"""As many have a buffer view of their own where files are to be small: its stream then costs less than the view."""

Numbers = NDArray[Any]
Triangles = NDArray[np.int32]
Record = dict[str, Any]


@dataclass(frozen=True)
class Stored:
    """How an attribute is stored: numbers of one kind, so many for a vertex, and so many bytes from one to the next."""

    kind: str
    width: int
    stride: int
    component: int
    normalized: bool = False

    @property
    def shape(self) -> str:
        """What the format calls so many numbers."""
        return f"VEC{self.width}"


@dataclass(frozen=True)
class Layout:
    """How vertices are stored. parted: large arrays of triangles have buffer views of their own."""

    positions: Stored
    normals: Stored
    texture: Stored
    tangents: Stored
    parted: bool = False


IN_FLOATS = Stored("<f4", 3, 12, FLOAT)
EXACT = Layout(IN_FLOATS, IN_FLOATS, Stored("<f4", 2, 8, FLOAT), Stored("<f4", 4, 16, FLOAT))
SMALL = Layout(
    Stored("<u2", 3, 8, UINT16),
    Stored("i1", 3, 4, INT8, normalized=True),
    Stored("<u2", 2, 4, UINT16),
    Stored("i1", 4, 4, INT8, normalized=True),
    parted=True,
)
"""Whole numbers (KHR_mesh_quantization); vertices start at multiples of 4 bytes, as the format wants."""


class Arrays:
    """Vertex and index arrays in one block (`data`), with their accessors and buffer views.

    Meshes are announced beforehand as (vertices, triangles), in any order; then each is added once. One array
    of triangles (the same object) is stored once, whoever uses it; so are equal normals, texture coordinates and
    tangents, for which `close` takes out the room that was kept. tangents: how many vertices have one. in_floats:
    how many have their positions in floats where the layout has whole numbers. pictures: files that are kept as they
    are.
    """

    def __init__(
        self,
        textured: Sequence[tuple[int, Triangles]],
        plain: Sequence[tuple[int, Triangles]] = (),
        *,
        tangents: int = 0,
        in_floats: int = 0,
        pictures: Sequence[bytes] = (),
        layout: Layout = EXACT,
    ) -> None:
        self.accessors: list[Record] = []
        self.views: list[Record] = []
        self._layout = layout
        vertices = sum(count for count, _ in (*textured, *plain))
        with_texture = sum(count for count, _ in textured)
        kinds = (layout.positions, layout.normals, layout.texture, layout.tangents, IN_FLOATS)
        counts = (vertices - in_floats, vertices, with_texture, tangents, in_floats)
        parts = [
            _Part(np.dtype(kind.kind), kind.stride, count, ARRAY_BUFFER)
            for kind, count in zip(kinds, counts, strict=True)
        ]
        shares = _shares((*textured, *plain), parted=layout.parted)
        parts += [_Part(kind, kind.itemsize, count, ELEMENT_ARRAY_BUFFER) for kind, count, _ in shares]
        parts += [_Part(np.dtype("u1"), 1, len(picture), 0) for picture in pictures]
        starts = [0]
        for part in parts:
            starts.append(starts[-1] + _padded(part.stride * part.count))
        refuse_too_large(starts[-1] + JSON_PER_MESH * (len(textured) + len(plain)))
        self.data = bytearray(starts[-1])
        places: list[_Place] = []
        for part, start in zip(parts, starts, strict=False):
            places.append(_Place(self.data, part, start, len(self.views)))
            if part.count:
                self.views.append(_view(start, part))
        self._all = places
        self._places, self._pictures = places[: len(kinds)], places[len(kinds) + len(shares) :]
        self._shares = {
            triangles: place
            for place, (_, _, those) in zip(places[len(kinds) :], shares, strict=False)
            for triangles in those
        }
        for place, picture in zip(self._pictures, pictures, strict=True):
            place.put(np.frombuffer(picture, np.uint8)[:, None])
        self._stored: dict[int, int] = {}

    @property
    def picture_views(self) -> list[int]:
        """The buffer views of the pictures, in their order."""
        return [place.view for place in self._pictures]

    def add_vertices(
        self, points: Numbers, normals: Numbers, uvs: Numbers | None = None, tangents: Numbers | None = None
    ) -> dict[str, int]:
        """Store one mesh's vertices: points and normals (v, 3), texture coordinates (v, 2), tangents (v, 4); returns
        its attributes.

        The numbers are those to be stored. The bounds are those of the points as stored.
        """
        positions, directions, texture, lie, in_floats = self._places
        layout = self._layout
        kind = layout.positions
        if points.dtype == np.float32 and kind != IN_FLOATS:
            positions, kind = in_floats, IN_FLOATS
        at, stored = positions.put(points)
        bounds = {"min": stored.min(axis=0).tolist(), "max": stored.max(axis=0).tolist()}
        count = len(points)
        attributes = {
            "POSITION": self._attribute(positions, at, kind, count) | bounds,
            "NORMAL": self._attribute(directions, directions.put_once(normals), layout.normals, count),
        }
        if uvs is not None:
            attributes["TEXCOORD_0"] = self._attribute(texture, texture.put_once(uvs), layout.texture, count)
        if tangents is not None:
            attributes["TANGENT"] = self._attribute(lie, lie.put_once(tangents), layout.tangents, count)
        return {name: self._added(record) for name, record in attributes.items()}

    def add_triangles(self, triangles: Triangles, vertices: int) -> int:
        """The accessor of a mesh's indices: (t, 3) into that many vertices; stored when first asked for."""
        if id(triangles) not in self._stored:
            place = self._shares[id(triangles)]
            at, _ = place.put(triangles.reshape(-1, 1))
            kind = UINT32 if vertices > REACH_OF_UINT16 else UINT16
            record = _accessor(place, at, kind, triangles.size, "SCALAR")
            self._stored[id(triangles)] = self._added(record)
        return self._stored[id(triangles)]

    def close(self) -> None:
        """Leave out what was announced and not stored; after that nothing is added."""
        if all(place.is_full for place in self._all):
            return
        data = bytearray()
        for place in self._all:
            stored = place.stored
            if len(stored):
                view = self.views[place.view]
                view["byteOffset"], view["byteLength"] = len(data), stored.nbytes
                data += stored.reshape(-1).view(np.uint8).data
                data += bytes(-len(data) % 4)
        self.data = data

    def _attribute(self, place: _Place, at: int, kind: Stored, count: int) -> Record:
        record = _accessor(place, at, kind.component, count, kind.shape)
        return record | ({"normalized": True} if kind.normalized else {})

    def _added(self, record: Record) -> int:
        self.accessors.append(record)
        return len(self.accessors) - 1


@dataclass(frozen=True)
class _Part:
    """One part of the block, before it has a place: rows of so many bytes."""

    kind: np.dtype[Any]
    stride: int
    count: int
    target: int


def _shares(
    meshes: Sequence[tuple[int, Triangles]], *, parted: bool
) -> list[tuple[np.dtype[Any], int, tuple[int, ...]]]:
    """The parts of the indices: their kind, their count, and the arrays (by id) that each has, 32 bits before 16."""
    found: dict[tuple[int, int], list[Triangles]] = {(4, 0): [], (2, 0): []}
    for triangles, count in {id(each): (each, count) for count, each in meshes}.values():
        own = id(triangles) if parted and len(triangles) >= MANY_TRIANGLES else 0
        found.setdefault((4 if count > REACH_OF_UINT16 else 2, own), []).append(triangles)
    return [
        (np.dtype(f"<u{size}"), sum(each.size for each in those), tuple(id(each) for each in those))
        for (size, _), those in sorted(found.items(), key=lambda item: -item[0][0])
    ]


class _Place:
    """One part of the block: rows of one kind, filled from the front."""

    def __init__(self, data: bytearray, part: _Part, start: int, view: int) -> None:
        self.view = view
        width = part.stride // part.kind.itemsize
        shape = (part.count, width)
        self._rows = np.ndarray(shape, part.kind, data, start) if part.count else np.empty((0, width), part.kind)
        self._filled = 0
        self._known: dict[bytes, int] = {}

    @property
    def stored(self) -> NDArray[Any]:
        """The rows that were put."""
        return self._rows[: self._filled]

    @property
    def is_full(self) -> bool:
        """Whether all that was announced was put."""
        return self._filled == len(self._rows)

    def put_once(self, rows: NDArray[Any]) -> int:
        """Store rows unless the same are there; returns their byte offset in this part."""
        at, stored = self.put(rows)
        key = hashlib.blake2b(stored.tobytes(), digest_size=16).digest()
        if key in self._known:
            self._filled -= len(rows)
        return self._known.setdefault(key, at)

    def put(self, rows: NDArray[Any]) -> tuple[int, NDArray[Any]]:
        """Store rows; returns their byte offset in this part, and the rows as stored."""
        begin = self._filled
        self._filled += len(rows)
        stored = self._rows[begin : self._filled, : rows.shape[1]]
        stored[:] = rows
        return begin * self._rows.strides[0], stored


def _accessor(place: _Place, at: int, component: int, count: int, shape: str) -> Record:
    return {"bufferView": place.view, "byteOffset": at, "componentType": component, "count": count, "type": shape}


def _view(start: int, part: _Part) -> Record:
    view: Record = {"buffer": 0, "byteOffset": start, "byteLength": part.stride * part.count}
    if part.target == ARRAY_BUFFER:
        view["byteStride"] = part.stride  # several accessors share the view
    return view | ({"target": part.target} if part.target else {})


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
