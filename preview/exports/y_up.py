"""From the scene's frame (mm, z up) to that of formats in meters with y up: plan x -> X, z -> Y, plan y -> -Z.

The pieces of one run are measured from one origin near by: points that they have in common are stored as the same
numbers, and 32-bit floats keep their digits.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from preview.joinery import Piece
from preview.runs import Vec2

Floats = NDArray[np.float64]
Reals = NDArray[np.floating]


def run_origins(pieces: Iterable[Piece]) -> dict[str, Vec2]:
    """For each run, in the order met, the point of the scene's plan over which its first element starts."""
    found: dict[str, tuple[int, Vec2]] = {}
    for piece in pieces:
        first = (piece.index, _over(piece))
        found[piece.run] = min(found.get(piece.run, first), first)
    return {run: start for run, (_, start) in found.items()}


def _over(piece: Piece) -> Vec2:
    """Where a piece's element starts, in the scene's plan: a run may lie in a plan of its own, as on a wall."""
    (x, y), stand = piece.element.start, piece.stand
    return (stand.origin[0] + x * stand.x[0] + y * stand.y[0], stand.origin[1] + x * stand.x[1] + y * stand.y[1])


def translation(origin: Vec2) -> tuple[float, float, float]:
    """Where a plan origin stands, in meters."""
    return (origin[0] / 1000, 0.0, 0.0 - origin[1] / 1000)


def near_points(points: Floats, origin: Vec2) -> Floats:
    """Points (n, 3) in mm, z up, as meters from a plan origin, y up."""
    near = np.empty(points.shape)
    near[:, 0] = (points[:, 0] - origin[0]) / 1000
    near[:, 1] = points[:, 2] / 1000
    near[:, 2] = (origin[1] - points[:, 1]) / 1000
    return near


def stored_points(points: Floats, origin: Vec2) -> NDArray[np.float32]:
    """The same in 32 bits."""
    return near_points(points, origin).astype(np.float32)


def turned_up(normals: Reals) -> Reals:
    """Directions (n, 3), z up, as y up."""
    turned = normals[:, [0, 2, 1]]
    turned[:, 2] = 0.0 - turned[:, 2]
    return turned
