"""Compressed vertices and triangles of glTF files, read by the open specification of EXT_meshopt_compression (Khronos,
glTF 2.0 extensions): its three modes, and the filters of vertices.

Whatever is not as the specification has it raises ValueError or IndexError.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Ints = NDArray[np.int64]

ATTRIBUTES, TRIANGLES, INDICES = 0xA0, 0xE1, 0xD1
"""The first byte of a stream in each mode, with its version."""
GROUP = 16
TWOS = bytes(sum((byte >> shift) & 3 == 3 for shift in (0, 2, 4, 6)) for byte in range(256))
FOURS = bytes((byte & 15 == 15) + (byte >> 4 == 15) for byte in range(256))
"""How many of a byte's parts of two, and of four bits say that a whole byte follows."""
TABLE = 16
WHOLE = 2**32 - 1


def decoded(stream: bytes, mode: str, count: int, stride: int, filtered: str = "NONE") -> Bytes:
    """The bytes (count, stride) that a stream stands for. filtered: the name of the filter they went through."""
    if not (0 < stride <= 256 and count >= 0):
        raise ValueError(f"it has a stride of {stride} bytes")
    if mode == "ATTRIBUTES":
        return FILTERS[filtered](_vertices(stream, count, stride))
    if filtered != "NONE" or stride not in (2, 4):
        raise ValueError("its triangles are not as the format has them")
    numbers = _triangles(stream, count) if mode == "TRIANGLES" else _indices(stream, count, mode)
    if numbers and max(numbers) >= 1 << 8 * stride:
        raise ValueError("a triangle names a vertex that is not there")
    return np.array(numbers, np.uint32).astype(f"<u{stride}").view(np.uint8).reshape(count, stride)


def _vertices(stream: bytes, count: int, stride: int) -> Bytes:
    if stride % 4 or not stream or stream[0] != ATTRIBUTES:
        raise ValueError("its vertices are not as the format has them")
    end = len(stream) - max(32, stride)
    per_block = min(8192 // stride // GROUP * GROUP, 256)
    at = 1
    places: list[int] = []
    kinds = bytearray()
    for first in range(0, count, per_block):
        groups = -(-min(per_block, count - first) // GROUP)
        for _ in range(stride):
            heads = stream[at : at + -(-groups // 4)]
            at += len(heads)
            for group in range(groups):
                kind = heads[group >> 2] >> 2 * (group & 3) & 3
                kinds.append(kind)
                places.append(at)
                if kind == 1:
                    at += 4 + sum(stream[at : at + 4].translate(TWOS))
                elif kind == 2:
                    at += 8 + sum(stream[at : at + 8].translate(FOURS))
                elif kind == 3:
                    at += GROUP
            if at > end:
                raise ValueError("its vertices end early")
    if at != end:
        raise ValueError("its vertices end late")
    changes = _changes(np.frombuffer(stream, np.uint8), np.array(places), np.frombuffer(kinds, np.uint8))
    rows: list[Bytes] = [np.frombuffer(stream, np.uint8)[None, len(stream) - stride :]]
    done = 0
    for first in range(0, count, per_block):
        size = min(per_block, count - first)
        groups = -(-size // GROUP)
        block = changes[done : done + groups * stride].reshape(stride, groups * GROUP)
        rows.append(block[:, :size].T)
        done += groups * stride
    found: Bytes = np.ascontiguousarray(np.cumsum(np.concatenate(rows), axis=0, dtype=np.uint8)[1:])
    return found


def _changes(data: Bytes, places: Ints, kinds: Bytes) -> Bytes:
    """The changes (groups, 16) from one vertex to the next, signs unfolded."""
    found = np.zeros((len(places), GROUP), np.uint8)
    for kind, bits in ((1, 2), (2, 4)):
        mine = np.flatnonzero(kinds == kind)
        packed = data[places[mine, None] + np.arange(2 * bits)]
        parts = packed[:, :, None] >> np.arange(8 - bits, -1, -bits) & (1 << bits) - 1
        values = parts.reshape(len(mine), GROUP).astype(np.uint8)
        told = values == (1 << bits) - 1
        nth = np.cumsum(told, axis=1) - 1
        values[told] = data[(places[mine, None] + 2 * bits + nth)[told]]
        found[mine] = values
    mine = np.flatnonzero(kinds == 3)
    found[mine] = data[places[mine, None] + np.arange(GROUP)]
    return (found >> 1 ^ np.where(found & 1, 0xFF, 0)).astype(np.uint8)


class _Told:
    """The numbers that are told in a stream as distances from one another: seven bits to a byte, lowest first."""

    def __init__(self, stream: bytes, at: int, end: int) -> None:
        self.stream, self.at, self.end = stream, at, end

    def byte(self) -> int:
        if self.at >= self.end:
            raise ValueError("its triangles end early")
        self.at += 1
        return self.stream[self.at - 1]

    def number(self) -> int:
        found = 0
        for shift in range(0, 35, 7):
            byte = self.byte()
            found |= (byte & 0x7F) << shift
            if byte < 0x80:
                return found
        raise ValueError("a number in it is too long")


def _moved(last: int, number: int) -> int:
    """A number of 32 bits, which go round, at a distance from the last whose sign is its lowest bit."""
    return last + (number >> 1 ^ -(number & 1)) & WHOLE


def _triangles(stream: bytes, count: int) -> list[int]:
    if count % 3 or len(stream) < 1 + count // 3 + TABLE or stream[0] != TRIANGLES:
        raise ValueError("its triangles are not as the format has them")
    codes = stream[1 : 1 + count // 3]
    told = _Told(stream, 1 + count // 3, len(stream) - TABLE)
    table = stream[-TABLE:]
    # Edges and vertices are only ever added: what lies further back than the format reaches is never asked for.
    edges: list[tuple[int, int]] = [(0, 0)] * 16
    vertices: list[int] = [0] * 16
    found: list[int] = []
    fresh = last = 0
    for code in codes:
        high, low = code >> 4, code & 15
        if high < 15:
            a, b = edges[-1 - high]
            if low == 0:
                c = fresh
                fresh += 1
            elif low < 13:
                c = vertices[-1 - low]
            else:
                last = _moved(last, told.number() if low == 15 else 2 if low == 14 else 1)
                c = last
            if not 0 < low < 13:
                vertices.append(c)
            edges += ((c, b), (a, c))
        else:
            pair = table[low] if low < 14 else told.byte()
            if low >= 14 and pair == 0:
                fresh = 0
            corners = []
            kinds = (15 if low == 15 else 0, pair >> 4, pair & 15)
            for kind in kinds:
                if kind == 0:
                    corners.append(fresh)
                    fresh += 1
                else:  # 15 is told below, after the vertices not yet met
                    corners.append(vertices[-kind] if kind < 15 else 0)
            for place, kind in enumerate(kinds):
                if kind == 15:
                    last = _moved(last, told.number())
                    corners[place] = last
            a, b, c = corners
            vertices += (corner for corner, kind in zip(corners, kinds, strict=True) if kind in (0, 15))
            edges += ((b, a), (c, b), (a, c))
        found += (a, b, c)
    if told.at != told.end:
        raise ValueError("its triangles end late")
    return found


def _indices(stream: bytes, count: int, mode: str) -> list[int]:
    if mode != "INDICES" or not stream or stream[0] != INDICES:
        raise ValueError("its triangles are not as the format has them")
    told = _Told(stream, 1, len(stream) - 4)
    lasts = [0, 0]
    found = []
    for _ in range(count):
        number = told.number()
        lasts[number & 1] = _moved(lasts[number & 1], number >> 1)
        found.append(lasts[number & 1])
    if told.at != told.end:
        raise ValueError("its triangles end late")
    return found


def _octahedral(rows: Bytes) -> Bytes:
    """Unit vectors folded onto an octahedron: x, y, and what stands for 1; the fourth part stays as it is."""
    kind = {4: "i1", 8: "<i2"}[rows.shape[1]]
    numbers: NDArray[Any] = rows.view(kind)
    stored = numbers.astype(np.float64)
    plane = stored[:, :2] / stored[:, 2:3]
    z = 1 - np.abs(plane).sum(axis=1)
    under = np.maximum(-z, 0)[:, None]
    ways = np.column_stack([plane - np.where(plane >= 0, under, -under), z])
    ways *= np.iinfo(kind).max / np.linalg.norm(ways, axis=1, keepdims=True)
    numbers = numbers.copy()
    numbers[:, :3] = np.floor(np.abs(ways) + 0.5) * np.sign(ways)
    found: Bytes = numbers.view(np.uint8)
    return found


def _exponential(rows: Bytes) -> Bytes:
    """Numbers as a power of two (the highest byte) times a whole number (the other three), both signed."""
    stored = rows.view("<i4")
    floats = np.ldexp((stored << 8 >> 8).astype(np.float64), stored >> 24).astype("<f4")
    found: Bytes = floats.view(np.uint8)
    return found


def _refused(_: Bytes) -> Bytes:
    raise ValueError("it holds turns (QUATERNION), which are not read")


FILTERS: dict[str, Callable[[Any], Bytes]] = {
    "NONE": lambda rows: rows,
    "OCTAHEDRAL": _octahedral,
    "EXPONENTIAL": _exponential,
    "QUATERNION": _refused,
}
"""The filters, by their names in the specification."""
