"""Stations times profile points, in numbers: where the vertices lie, their normals, and how the grain runs.

Every point of a piece lies at its projection d along the normal that stands on the back line at its station. Where
both ends are cut square to the run the station is the same for all points of a ring, so the back line and its normal
are worked out once a ring; beside a miter on a curve they are worked out at every point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preview.models.mesh.face import Face, Floats

Stored = NDArray[np.float32]
SQUARE = 1e-9
"""Stations of one ring that differ by less than this, mm, are one station."""


@dataclass(frozen=True)
class Grid:
    """g pieces of one face and one count of spans.

    frames (g, 6): start, tangent, normal. bends (g,): curvature toward the room. starts, stops (g, m): stations in
    mm, m = n (one for each profile point) or 1 (the same for all).
    """

    face: Face
    spans: int
    frames: Floats
    bends: Floats
    starts: Floats
    stops: Floats

    @property
    def stations(self) -> Floats:
        """(g, spans + 1, m): evenly between the cuts, for each profile point on its own path."""
        u = np.linspace(0.0, 1.0, self.spans + 1)[None, :, None]
        return self.starts[:, None, :] * (1 - u) + self.stops[:, None, :] * u

    def back_line(self, stations: Floats) -> tuple[Floats, Floats]:
        """The back line's points and its normals into the room at stations (g, s, m): two (g, s, m, 2) arrays."""
        start, tangent, normal = (self.frames[:, None, None, i : i + 2] for i in (0, 2, 4))
        angle = self.bends[:, None, None] * stations
        half = angle / 2
        # sin(k s)/k and (1 - cos(k s))/k, whole for k = 0 as well
        chord = stations * np.sinc(half / np.pi)
        ahead, aside = (chord * turn(half) for turn in (np.cos, np.sin))
        points = start + ahead[..., None] * tangent + aside[..., None] * normal
        return points, normal * np.cos(angle)[..., None] - tangent * np.sin(angle)[..., None]

    def vertices(self, first: Floats, last: Floats, ends: tuple[Floats, Floats]) -> tuple[Floats, Stored, Stored]:
        """Points (g, (spans + 1) n, 3), normals (g, v, 3) and UVs (g, v, 2) of the pieces.

        first, last (g, n, 2): the joints' rings, taken as they are. ends: the plan directions (g, n, 2) in which the
        two caps look. The sides have the true surface's normals, the caps the joint surface's.
        """
        g, n, c, rings = len(self.frames), len(self.face.d), len(self.face.column_point), self.spans + 1
        points = np.empty((g, rings, n, 3))
        normals = np.empty((g, rings * c + 2 * n, 3), dtype=np.float32)
        uvs = np.empty((g, rings * c + 2 * n, 2), dtype=np.float32)
        side_normals = normals[:, : rings * c].reshape(g, rings, c, 3)
        side_uvs = uvs[:, : rings * c].reshape(g, rings, c, 2)
        stations = self.stations
        around = self.face.column_point if stations.shape[2] > 1 else [0]

        points[..., 2] = self.face.h
        side_normals[..., 2] = self.face.column_normal[:, 1]
        if self.bends.any() or self.spans > 1:
            back, normal = self.back_line(stations)
            for axis in (0, 1):
                np.multiply(normal[..., axis], self.face.d, out=points[..., axis])
                points[..., axis] += back[..., axis]
                np.multiply(normal[:, :, around, axis], self.face.column_normal[:, 0], out=side_normals[..., axis])
        else:
            out = self.face.column_normal[:, 0]
            side_normals[..., :2] = self.frames[:, None, None, 4:6] * out[:, None]
        points[:, 0, :, :2] = first
        points[:, -1, :, :2] = last

        # Grain is measured at the middle of the profile: a turned piece's neither bunches nor stretches there.
        middle = 1 - self.bends * (self.face.d.min() + self.face.d.max()) / 2
        side_uvs[..., 0] = (stations * middle[:, None, None])[:, :, around]
        side_uvs[..., 1] = self.face.column_around
        normals[:, rings * c :, 2] = 0.0
        normals[:, rings * c : -n, :2], normals[:, -n:, :2] = ends
        uvs[:, rings * c : -n] = uvs[:, -n:] = self.face.outline.points
        return points.reshape(g, -1, 3), normals, uvs


def one_station(starts: Floats, stops: Floats) -> tuple[Floats, Floats]:
    """Stations (g, n) as (g, 1) where they are the same all along each ring."""
    if all(np.abs(part - part[:, :1]).max(initial=0.0) < SQUARE for part in (starts, stops)):
        return starts[:, :1], stops[:, :1]
    return starts, stops
