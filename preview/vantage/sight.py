"""Whether one thing is seen from another: segments against boxes, and then against the triangles in them."""

from __future__ import annotations

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
TRIANGLES = 5_000
"""How many pairs of a segment and a triangle."""


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
            for body in np.unique(bodies).tolist():
                mine = [
                    ray for ray in (rays[bodies == body] + first).tolist() if found[ray] and body not in ignored[ray]
                ]
                found[mine] = ~_crossed(self._obstacles[body], targets[mine], eyes[mine])
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


def _crossed(body: Obstacle, starts: Floats, ends: Floats) -> NDArray[np.bool_]:
    """Whether segments (n, 3) pass through a triangle of the body, whichever way that faces."""
    found = np.zeros(len(starts), bool)
    size = max(1, TRIANGLES // len(body.triangles))
    for first in range(0, len(starts), size):
        part = slice(first, first + size)
        found[part] = _some_crossed(body, starts[part], ends[part])
    return found


def _some_crossed(body: Obstacle, starts: Floats, ends: Floats) -> NDArray[np.bool_]:
    way = ends - starts
    long = np.sqrt((way**2).sum(axis=1))
    seen = (body.points - starts[:, None]) @ _looking_along(way / long[:, None])
    x, y = (seen[..., i][:, body.triangles] for i in (0, 1))
    # Twice the areas, in the picture, of what the way makes with the sides: of one sign where it passes through.
    sides = [x[..., i] * y[..., j] - x[..., j] * y[..., i] for i, j in ((1, 2), (2, 0), (0, 1))]
    least, most = np.minimum(np.minimum(*sides[:2]), sides[2]), np.maximum(np.maximum(*sides[:2]), sides[2])
    ray, triangle = np.nonzero((least >= 0.0) | (most <= 0.0))
    corners = seen[ray[:, None], body.triangles[triangle]]
    weights = np.stack([side[ray, triangle] for side in sides], axis=1)
    shown = weights.sum(axis=1)
    (ax, ay, az), (bx, by, bz) = (corners[:, 1] - corners[:, 0]).T, (corners[:, 2] - corners[:, 0]).T
    whole = np.sqrt((ay * bz - az * by) ** 2 + (az * bx - ax * bz) ** 2 + (ax * by - ay * bx) ** 2)
    faces = np.abs(shown) > EDGE_ON * whole
    depth = (weights * corners[:, :, 2]).sum(axis=1) / np.where(faces, shown, 1.0)
    found = np.zeros(len(starts), bool)
    found[ray[faces & (depth > START) & (depth < long[ray])]] = True
    return found


def _looking_along(way: Floats) -> Floats:
    """Axes (n, 3, 3), as columns: two across each of unit directions (n, 3), and itself."""
    level = np.hypot(way[:, 0], way[:, 1])
    flat = level > 1e-9
    level = np.where(flat, level, 1.0)
    right = np.stack(
        [np.where(flat, way[:, 1] / level, 1.0), np.where(flat, -way[:, 0] / level, 0.0), np.zeros(len(way))], axis=1
    )
    up = np.stack(
        [
            right[:, 1] * way[:, 2],
            -right[:, 0] * way[:, 2],
            right[:, 0] * way[:, 1] - right[:, 1] * way[:, 0],
        ],
        axis=1,
    )
    return np.stack([right, up, way], axis=2)
