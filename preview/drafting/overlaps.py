"""Which of many lines and triangles overlap in a picture, or nearly: the pairs that are worth working out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

WAYS = np.array([(np.cos(a), np.sin(a)) for a in np.arange(6) * np.pi / 6])
"""The directions in which extents are compared: long lines of elevations and isometrics part in one of these."""
LEAF = 16
"""How many triangles, neighbors in the list, are looked at as one first."""
ROOM = 2e-3
"""Extents are taken this much, mm (tangents where the view has an eye), wider."""


@dataclass(frozen=True)
class Boxes:
    """Extents of things in the picture, least and largest (n, 6) in each of the six ways."""

    low: Floats
    high: Floats

    def meet(self, box: tuple[float, float, float, float]) -> Bools:
        """Which of them (n,) reach into a box: least x and y, largest x and y."""
        x, y = 0, len(WAYS) // 2
        found: Bools = (self.low[:, x] <= box[2]) & (self.high[:, x] >= box[0])
        found &= (self.low[:, y] <= box[3]) & (self.high[:, y] >= box[1])
        return found


def boxes_of(points: Floats, empty: Bools, endless: Bools) -> Boxes:
    """The extents of things with points (n, k, 2); nothing of some, everything of others."""
    along = points @ WAYS.T
    low, high = along.min(axis=1, initial=np.inf) - ROOM, along.max(axis=1, initial=-np.inf) + ROOM
    low[empty], high[empty] = np.inf, -np.inf
    low[endless], high[endless] = -np.inf, np.inf
    return Boxes(low, high)


def overlapping(lines: Boxes, triangles: Boxes, block: int) -> Iterator[tuple[Ints, Ints]]:
    """Numbers (k,), (k,) of lines and triangles whose extents overlap in every way, `block` pairs or so at a time."""
    count, most = len(triangles.low), len(lines.low)
    if not count or not most:
        return
    leaves = np.arange(0, count, LEAF)
    low, high = np.minimum.reduceat(triangles.low, leaves), np.maximum.reduceat(triangles.high, leaves)
    rows = max(1, 4 * block // len(leaves))
    waiting: list[tuple[Ints, Ints]] = []
    size = 0
    for first in range(0, most, rows):
        a, b = lines.low[first : first + rows], lines.high[first : first + rows]
        near = np.ones((len(a), len(leaves)), dtype=np.bool_)
        for way in range(len(WAYS)):
            near &= (a[:, way, None] <= high[None, :, way]) & (b[:, way, None] >= low[None, :, way])
        line, leaf = np.nonzero(near)
        line += first
        for part in range(0, len(line), max(1, block // LEAF)):
            pair = _pairs(
                lines, triangles, line[part : part + block // LEAF], leaves[leaf[part : part + block // LEAF]]
            )
            waiting.append(pair)
            size += len(pair[0])
            if size >= block:
                yield np.concatenate([p[0] for p in waiting]), np.concatenate([p[1] for p in waiting])
                waiting, size = [], 0
    if size:
        yield np.concatenate([p[0] for p in waiting]), np.concatenate([p[1] for p in waiting])


def _pairs(lines: Boxes, triangles: Boxes, line: Ints, first: Ints) -> tuple[Ints, Ints]:
    """The pairs among lines and the triangles of the leaves beside them."""
    triangle = (first[:, None] + np.arange(LEAF)).ravel()
    line = np.repeat(line, LEAF)
    inside = triangle < len(triangles.low)
    line, triangle = line[inside], triangle[inside]
    for way in range(len(WAYS)):
        near = (lines.low[line, way] <= triangles.high[triangle, way]) & (
            lines.high[line, way] >= triangles.low[triangle, way]
        )
        line, triangle = line[near], triangle[near]
    return line, triangle
