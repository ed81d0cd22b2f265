"""Whether one thing is seen from another: segments against boxes, and then against the triangles in them."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.integer]

START = 0.5
"""How far from its start, mm, a segment starts to count: its own surface does not hide a point."""
EDGE_ON = 2e-3
"""What is seen under a smaller angle, radians, hides nothing: square on, a miter is looked at along its plane."""
BLOCK = 2_000_000
"""How many pairs of a segment and a box are held against each other at a time."""


@dataclass(frozen=True)
class Obstacle:
    """Something that hides what is behind it: triangles (t, 3) of points (p, 3), mm."""

    points: Floats
    triangles: Ints


class Sight:
    """What may stand in the way, ready to be asked."""

    def __init__(self, obstacles: Sequence[Obstacle]) -> None:
        self._obstacles = obstacles
        none = np.zeros((0, 3))
        self._low = np.array([each.points.min(axis=0) for each in obstacles]) if obstacles else none
        self._high = np.array([each.points.max(axis=0) for each in obstacles]) if obstacles else none

    def clear(self, eyes: Floats, targets: Floats, ignored: Sequence[Collection[int]]) -> NDArray[np.bool_]:
        """For each eye and target (n, 3) whether nothing stands between; ignored: obstacles that do not count there."""
        found = np.ones(len(eyes), dtype=bool)
        if not len(self._low):
            return found
        size = max(1, BLOCK // len(self._low))
        for first in range(0, len(eyes), size):
            part = slice(first, first + size)
            rays, bodies = self._boxes_on_the_way(eyes[part], targets[part])
            for ray, body in zip((rays + first).tolist(), bodies.tolist(), strict=True):
                if found[ray] and body not in ignored[ray]:
                    found[ray] = not _crossed(self._obstacles[body], targets[ray], eyes[ray])
        return found

    def _boxes_on_the_way(self, eyes: Floats, targets: Floats) -> tuple[Ints, Ints]:
        """The pairs of a segment and a box that it passes through, by their numbers."""
        low, high = np.minimum(eyes, targets), np.maximum(eyes, targets)
        near = np.ones((len(eyes), len(self._low)), dtype=bool)
        for axis in range(3):
            near &= low[:, axis, None] <= self._high[:, axis]
            near &= high[:, axis, None] >= self._low[:, axis]
        rays, bodies = np.nonzero(near)
        way = (eyes - targets)[rays]
        way = np.where(np.abs(way) < 1e-12, 1e-12, way)
        one, other = ((side[bodies] - targets[rays]) / way for side in (self._low, self._high))
        enters = np.minimum(one, other).max(axis=1)
        leaves = np.maximum(one, other).min(axis=1)
        passed = (enters <= leaves) & (leaves >= 0.0) & (enters <= 1.0)
        return rays[passed], bodies[passed]


def _crossed(body: Obstacle, start: Floats, end: Floats) -> bool:
    """Whether the segment passes through a triangle of the body, whichever way that faces."""
    way = end - start
    long = float(np.linalg.norm(way))
    seen = (body.points - start) @ _looking_along(way / long)
    x, y = seen[:, 0][body.triangles], seen[:, 1][body.triangles]
    # Twice the areas, in the picture, of what the way makes with the sides: of one sign where it passes through.
    sides = [x[:, i] * y[:, j] - x[:, j] * y[:, i] for i, j in ((1, 2), (2, 0), (0, 1))]
    least, most = np.minimum(np.minimum(*sides[:2]), sides[2]), np.maximum(np.maximum(*sides[:2]), sides[2])
    hit = np.flatnonzero((least >= 0.0) | (most <= 0.0))
    if not len(hit):
        return False
    corners = seen[body.triangles[hit]]
    weights = np.stack([side[hit] for side in sides], axis=1)
    shown = weights.sum(axis=1)
    whole = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    faces = np.abs(shown) > EDGE_ON * whole
    depth = (weights * corners[:, :, 2]).sum(axis=1) / np.where(faces, shown, 1.0)
    return bool((faces & (depth > START) & (depth < long)).any())


def _looking_along(way: Floats) -> Floats:
    """Axes (3, 3), as columns: two across a unit direction, and itself."""
    x, y, z = way
    level = math.hypot(x, y)
    right = (y / level, -x / level, 0.0) if level > 1e-9 else (1.0, 0.0, 0.0)
    up = (right[1] * z, -right[0] * z, right[0] * y - right[1] * x)
    return np.array([right, up, way]).T
