"""Where things of a run lie in the scene: points of its pieces, and the outlines in which they meet."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from preview.joinery import Piece
from preview.models.mesh import PieceMesh, Shape
from preview.runs import IN_PLAN, Stand

Floats = NDArray[np.float64]


def in_scene(stand: Stand, points: Floats) -> Floats:
    """Points (..., 3) of a run's own frame, mm, where they lie in the scene."""
    return points if stand == IN_PLAN else directed(stand, points) + np.array(stand.origin)


def directed(stand: Stand, ways: Floats) -> Floats:
    """Directions (..., 3) of a run's own frame in the scene's."""
    found: Floats = ways if stand == IN_PLAN else ways @ np.array([stand.x, stand.y, stand.z])
    return found


def on_piece(piece: Piece, station: float, d: float, h: float) -> Floats:
    """The point (3,) of the scene at a station of a piece, d mm out and h mm up its profile."""
    element = piece.element
    (x, y), (tx, ty) = element.point(station), element.tangent_at(station)
    back, rise = piece.tilt * h, piece.up[2] * h
    point = np.array(
        [
            x - piece.hand * ty * d - back * tx,
            y + piece.hand * tx * d - back * ty,
            element.height + element.rise(station) + piece.shear * d + rise,
        ]
    )
    return in_scene(piece.stand, point)


def end_outline(mesh: PieceMesh, at_end: bool) -> Floats:
    """The outline (n, 3) of a piece's end face, mm, in the order of its section's points and not closed."""
    shape, piece = mesh.shape, mesh.piece
    n = len(shape.face.d)
    if isinstance(shape, Shape):
        return mesh.points[-n:] if at_end else mesh.points[:n]
    # An end that follows a face jumps where that has a ledge: each side of the section stops on its own side of it.
    d, h = shape.face.d, shape.face.h
    after = np.roll(np.arange(n), -1)
    rising = np.where(h[after] == h, d[after] > d, h[after] > h)  # or level with the wood above it
    below, above = (piece.stations(d, h, side)[int(at_end)] for side in ("below", "above"))
    level = h[after] == h
    first = np.where(rising, above, below)
    last = np.where(rising ^ level, below[after], above[after])
    index = np.column_stack([np.arange(n), after]).ravel()
    station = np.column_stack([first, last]).ravel()
    kept = (index != np.roll(index, 1)) | (np.abs(station - np.roll(station, 1)) > 1e-9)
    points = piece.frame.points(station[kept], d[index][kept], h[index][kept])
    return in_scene(piece.stand, points)
