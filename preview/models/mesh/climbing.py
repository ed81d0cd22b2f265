"""Pieces whose points do not keep the profile's own heights: rakes, easements, and what meets them.

The section stands plumb and rises with the back line, or square to the rake; either way a vertex is

    origin + station travel + d out + h up    (an easement's travel is the back line's own arc in elevation)

and a normal of the section is carried by the inverse transpose of that map.
"""

from __future__ import annotations

import numpy as np

from preview.joinery import Joint, Piece, into_room, ring_of
from preview.models.mesh.face import Floats
from preview.models.mesh.shape import PieceMesh, Shape


def climbing_mesh(piece: Piece, shape: Shape, caps: tuple[Floats, Floats]) -> PieceMesh:
    """The mesh of one such piece. caps: the plan directions (n, 2) in which plumb end cuts look."""
    face, rings = shape.face, shape.spans + 1
    n, c = len(face.d), len(face.column_point)
    starts, stops = piece.stations(face.d, face.h)
    u = np.linspace(0.0, 1.0, rings)[:, None]
    stations = starts * (1 - u) + stops * u  # (rings, n)
    back, travel, normal = _back_line(piece, stations)
    points = (
        back + face.d[:, None] * (normal + np.array([0.0, 0.0, piece.shear])) + face.h[:, None] * np.array(piece.up)
    )
    points[0] = ring_of(piece, False, face.d, face.h)
    points[-1] = ring_of(piece, True, face.d, face.h)

    normals = np.zeros((rings * c + 2 * n, 3))
    at = face.column_point
    normals[: rings * c] = _carried(piece, travel[:, at], normal[:, at], face.column_normal).reshape(-1, 3)
    for rows, cut, cap, look in (
        (slice(rings * c, -n), piece.begin, caps[0], -1.0),
        (slice(rings * c + n, None), piece.end, caps[1], 1.0),
    ):
        normals[rows] = _cap(piece, cut, cap, look)
    uvs = np.empty((rings * c + 2 * n, 2))
    sides = uvs[: rings * c].reshape(rings, c, 2)
    middle = 1 - piece.curvature * (face.d.min() + face.d.max()) / 2
    sides[..., 0] = (piece.element.walked(stations) * middle)[:, at]
    sides[..., 1] = face.column_around
    uvs[rings * c : -n] = uvs[-n:] = face.outline.points
    return PieceMesh(piece, shape, points.reshape(-1, 3), normals.astype(np.float32), uvs.astype(np.float32))


def _back_line(piece: Piece, stations: Floats) -> tuple[Floats, Floats, Floats]:
    """The back line's points, its travel (rising) and its normal into the room at stations (any shape): (..., 3)."""
    element, k = piece.element, piece.curvature
    tangent, normal = (np.array([*v, 0.0]) for v in (element.tangent, into_room(element.tangent, piece.hand)))
    half = k * stations / 2
    chord = stations * np.sinc(half / np.pi)
    ahead, aside = chord * np.cos(half), chord * np.sin(half)
    points = np.array([*element.start, element.height]) + ahead[..., None] * tangent + aside[..., None] * normal
    points[..., 2] += element.rise(stations)
    cos, sin = np.cos(2 * half)[..., None], np.sin(2 * half)[..., None]
    forward = cos * tangent + sin * normal
    forward[..., 2] = element.slope_at(stations)
    return points, forward, cos * normal - sin * tangent


def _carried(piece: Piece, travel: Floats, normal: Floats, section: Floats) -> Floats:
    """Unit normals of the sides, for unit normals (c, 2) of the section: square to the travel, and to the section's
    own tangent as it stands in space."""
    out = normal + np.array([0.0, 0.0, piece.shear])
    up = np.broadcast_to(np.array(piece.up), travel.shape)
    found = section[:, :1] * np.cross(up, travel) + section[:, 1:] * np.cross(travel, out)
    found *= piece.hand
    long: Floats = found / np.linalg.norm(found, axis=-1, keepdims=True)
    return long


def _cap(piece: Piece, cut: Joint, plan: Floats, look: float) -> Floats:
    """The unit normals (n, 3) of an end cut, out of the wood; `look` is +1 at the end, -1 at the begin."""
    if cut.is_plane and not piece.curvature:
        out, up = cut.axes()
        square = np.cross(out, up)
        travel = np.array(piece.frame.travel)
        square *= look * np.sign(square @ travel) / np.linalg.norm(square)
        return np.broadcast_to(square, (len(plan), 3))
    return np.column_stack([plan, np.zeros(len(plan))])
