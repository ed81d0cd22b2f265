"""Vertices and triangles made small by the open specification of EXT_meshopt_compression (Khronos, glTF 2.0
extensions), version 0 of its vertices and version 1 of its triangles. What is decoded is what went in, bit for bit;
a triangle may begin at another of its corners, and keeps its sense.

    vertices    byte by byte: the change from the vertex before, sixteen at a time in as few bits as will do
    triangles   a byte each, where one shares an edge with one of the five before it and goes on where those left off
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Ints = NDArray[np.int64]

VERTICES, TRIANGLES = "ATTRIBUTES", "TRIANGLES"
"""The specification's names for the two modes."""
GROUP = 16
MOST_IN_BLOCK, BLOCK_BYTES = 256, 8192
BITS = (0, 2, 4, 8)
"""How many bits each change of a group takes, by the group's mode."""
LOOK_BACK = 5
"""How many triangles back a shared edge is looked for: of sixteen edges kept, each puts in three at most."""
RECENT = 16
"""How many vertices are kept; the code of a third corner reaches the nearest 13 of them."""
NEXT, BEFORE_LAST, AFTER_LAST, TOLD = 0, 13, 14, 15
"""What stands for a corner: the next vertex not yet met, a neighbor of the last that was told, one that is told."""
PAIRS = bytes(16)
"""The table of frequent pairs of corners at a stream's end: this coder uses its first, two vertices not yet met."""


def encoded_vertices(rows: NDArray[np.generic]) -> bytes:
    """Vertices (n, bytes each), n at least 1, as a stream in mode ATTRIBUTES.

    rows: any numbers in the bytes that they are to be read as; a row has a multiple of 4 bytes, at most 256.
    """
    plain = np.ascontiguousarray(rows).view(np.uint8).reshape(len(rows), -1)
    count, stride = plain.shape
    size = min(BLOCK_BYTES // stride // GROUP * GROUP, MOST_IN_BLOCK)
    blocks = -(-count // size)
    changes = np.zeros((blocks * size, stride), np.uint8)
    changes[1:count] = plain[1:] - plain[:-1]
    folded = (changes << 1 ^ np.where(changes & 0x80, 0xFF, 0)).astype(np.uint8)
    # One row for each group, in the order of the stream: block, byte of the vertex, group.
    groups: Bytes = folded.reshape(blocks, size // GROUP, GROUP, stride).transpose(0, 3, 1, 2).reshape(-1, GROUP)
    last = -(-(count - (blocks - 1) * size) // GROUP)
    held = np.full(blocks, size // GROUP)
    held[-1] = last
    used = np.broadcast_to((np.arange(size // GROUP) < held[:, None])[:, None], (blocks, stride, size // GROUP)).ravel()
    body = _streams(groups, used, held, stride, size // GROUP)
    tail = np.zeros(max(32, stride), np.uint8)
    tail[-stride:] = plain[0]
    return b"\xa0" + body.tobytes() + tail.tobytes()


def _streams(groups: Bytes, used: NDArray[np.bool_], held: Ints, stride: int, most: int) -> Bytes:
    """The data of all blocks: for each byte of a vertex the modes of its groups, then the groups."""
    over = [(groups >= 2**bits - 1).sum(axis=1) for bits in BITS[1:3]]
    sizes = np.stack(
        [
            np.where(groups.any(axis=1), 255, 0),
            4 + over[0],
            8 + over[1],
            np.full(len(groups), GROUP),
        ]
    )
    modes = np.argmin(sizes, axis=0)
    size = np.where(used, sizes.min(axis=0), 0)
    modes[~used] = 0
    heads = np.repeat(-(-held // 4), stride)  # bytes of modes before the groups of one byte
    in_stream = size.reshape(-1, most)
    begins = np.concatenate([[0], np.cumsum(heads + in_stream.sum(axis=1))])
    out = np.zeros(begins[-1], np.uint8)
    padded = np.zeros((len(heads), -(-most // 4) * 4), np.uint8)
    padded[:, :most] = modes.reshape(-1, most)
    packed = (padded.reshape(len(heads), -1, 4) << np.array([0, 2, 4, 6], np.uint8)).sum(axis=2, dtype=np.uint8)
    row, column = np.nonzero(np.arange(packed.shape[1]) < heads[:, None])
    out[begins[row] + column] = packed[row, column]
    starts = (begins[:-1, None] + heads[:, None] + np.cumsum(in_stream, axis=1) - in_stream).ravel()
    for mode in (1, 2):
        mine = np.flatnonzero((modes == mode) & used)
        _put_packed(out, starts[mine], groups[mine], BITS[mode])
    mine = np.flatnonzero((modes == 3) & used)
    out[starts[mine, None] + np.arange(GROUP)] = groups[mine]
    return out


def _put_packed(out: Bytes, starts: Ints, groups: Bytes, bits: int) -> None:
    """Groups in few bits each, the first change highest in its byte; what does not go in follows in whole bytes."""
    limit = 2**bits - 1
    each = 8 // bits
    over = groups >= limit
    low = np.minimum(groups, np.uint8(limit)).reshape(len(groups), GROUP // each, each)
    shifts = np.arange(8 - bits, -1, -bits).astype(np.uint8)
    packed = (low << shifts).sum(axis=2, dtype=np.uint8)
    out[starts[:, None] + np.arange(packed.shape[1])] = packed
    place = starts[:, None] + packed.shape[1] + np.cumsum(over, axis=1) - 1
    out[place[over]] = groups[over]


def encoded_triangles(triangles: NDArray[np.integer]) -> bytes:
    """Triangles (t, 3) of vertex numbers below 2^32 as a stream in mode TRIANGLES, in their order.

    One array after another may be given as one, each counting its vertices from 0.
    """
    turned, edges, offsets = _shared_edges(np.asarray(triangles, np.int64).reshape(-1, 3))
    coder = _Corners()
    for (a, b, c), edge, fresh in zip(turned.tolist(), offsets.tolist(), (edges < 0).tolist(), strict=True):
        if fresh:
            coder.begin(a, b, c)
        else:
            coder.go_on(edge, c)
    return b"\xe1" + bytes(coder.codes) + bytes(coder.data) + PAIRS


def _shared_edges(triangles: Ints) -> tuple[Ints, Ints, Ints]:
    """For each triangle: its corners, from a shared edge on where it has one; which of an earlier triangle's edges
    that is (-1: none); and how many edges were kept since."""
    count = len(triangles)
    follows = np.roll(triangles, -1, axis=1)
    earlier = np.full(count, -1)
    theirs, mine = np.zeros(count, np.int64), np.zeros(count, np.int64)
    for back in range(1, LOOK_BACK + 1):
        if back >= count:
            break
        # An edge is shared where one triangle runs along it forward and the other backward.
        same = (triangles[back:, :, None] == follows[:-back, None, :]) & (
            follows[back:, :, None] == triangles[:-back, None, :]
        )
        flat = same.reshape(-1, 9)
        found = flat.any(axis=1) & (earlier[back:] < 0)
        at = np.flatnonzero(found)
        pair = flat[at].argmax(axis=1)
        earlier[at + back] = at
        mine[at + back], theirs[at + back] = pair // 3, pair % 3
    # The corners are turned so that the shared edge comes first; what is not shared starts at its lowest corner,
    # which the vertices not yet met begin with.
    mine = np.where(earlier < 0, triangles.argmin(axis=1), mine)
    number = np.arange(count)
    edge = (theirs - mine[earlier]) % 3
    # A triangle that goes on from an edge does not keep it for others.
    lost = (earlier >= 0) & (edge == 0) & (earlier[earlier] >= 0)
    shared = np.where(lost, -1, earlier)
    kept = np.where(shared < 0, 3, 2)
    before = np.cumsum(kept) - kept
    place = before[earlier] + np.where(shared[earlier] < 0, edge, edge - 1)
    turned = triangles[number[:, None], (mine[:, None] + np.arange(3)) % 3]
    return turned, shared, before - 1 - place


class _Corners:
    """The stream as it grows: a code for each triangle, and what is told besides."""

    def __init__(self) -> None:
        self.codes = bytearray()
        self.data = bytearray()
        self._next = self._last = 0
        self._recent: list[int] = []

    def go_on(self, edge: int, c: int) -> None:
        """A triangle on an edge that was kept so many edges ago, with another corner."""
        if c == self._next:
            code = NEXT
            self._next += 1
        elif c == self._last + 1:
            code = AFTER_LAST
        elif c == self._last - 1:
            code = BEFORE_LAST
        else:
            code = self._place(c, first=1, last=12)
        self.codes.append(edge << 4 | code)
        if code == TOLD:
            self._tell(c)
        elif code >= BEFORE_LAST:
            self._last = c
        if code == NEXT or code >= BEFORE_LAST:
            self._keep(c)

    def begin(self, a: int, b: int, c: int) -> None:
        """A triangle by all of its corners."""
        if a == 0 and b == 1 and c == 2 and self._next:
            self.codes.append(0xFE)  # vertices are counted from 0 again
            self.data.append(0)
            self._next = 3
            for corner in (a, b, c):
                self._keep(corner)
            return
        codes: list[int] = []
        for corner in (a, b, c):
            if corner == self._next and codes != [TOLD, NEXT]:  # told and two zeros would count from 0 again
                codes.append(NEXT)
                self._next += 1
            else:
                place = self._place(corner, first=0, last=13) if codes else TOLD
                codes.append(place + 1 if place != TOLD else TOLD)
        first, second, third = codes
        if first == second == third == NEXT:
            self.codes.append(0xF0)  # the first of the table's pairs
        else:
            self.codes.append(0xFE if first == NEXT else 0xFF)
            self.data.append(second << 4 | third)
        for code, corner in zip((first, second, third), (a, b, c), strict=True):
            if code == TOLD:
                self._tell(corner)
        for code, corner in zip((first, second, third), (a, b, c), strict=True):
            if code in (NEXT, TOLD):
                self._keep(corner)

    def _place(self, vertex: int, first: int, last: int) -> int:
        """How many vertices were kept since this one, if so few; else TOLD."""
        recent = self._recent
        for place in range(first, min(last + 1, len(recent))):
            if recent[-1 - place] == vertex:
                return place
        return TOLD

    def _keep(self, vertex: int) -> None:
        self._recent.append(vertex)
        if len(self._recent) > 4 * RECENT:
            del self._recent[:-RECENT]

    def _tell(self, vertex: int) -> None:
        """A vertex by its distance from the last that was told, seven bits to a byte, the lowest first."""
        change = (vertex - self._last + 2**31) % 2**32 - 2**31  # numbers of 32 bits, which go round
        self._last = vertex
        left = change << 1 if change >= 0 else (-change << 1) - 1
        while left > 0x7F:
            self.data.append(left & 0x7F | 0x80)
            left >>= 7
        self.data.append(left)
