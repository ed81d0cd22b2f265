"""Solids held against their meshes; what comes out is plain numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from preview.models.solid.kernel import guarded
from preview.models.solid.measures import EASED, Vec3, area_of, box_of, farthest, is_sound, volume_of
from preview.models.solid.solids import Solids
from preview.models.solid.spline import Floats

SAMPLES = 24
"""About so many vertices of a mesh are held against its solid."""


class _Spans(Protocol):
    @property
    def spans(self) -> int: ...


class _Mesh(Protocol):
    """What is asked of a piece's mesh: its points (n, 3), mm, as spans + 1 rings in a row."""

    @property
    def points(self) -> Floats: ...

    @property
    def shape(self) -> _Spans: ...


@dataclass(frozen=True)
class SolidFigures:
    """What one piece's solid measures.

    volume mm³, area mm². low, high: the corners of the exact box, mm. valid: one closed solid of positive volume,
    without a fault by the kernel's own check. farthest: the largest distance, mm, from sampled vertices of the
    piece's mesh to the solid's surface.
    """

    volume: float
    area: float
    low: Vec3
    high: Vec3
    valid: bool
    farthest: float


def figures(solids: Solids, meshes: Sequence[_Mesh]) -> tuple[SolidFigures, ...]:
    """Measure the solids, and hold each against its mesh (a PieceMesh of the mesh kernel); both in one order.

    Raises PreviewError, naming the piece, when the kernel cannot measure one.
    """
    found = []
    for piece, shape, mesh in zip(solids.pieces, solids.shapes, meshes, strict=True):
        with guarded("measuring its solid", piece.name):
            volume = volume_of(shape, EASED)
            low, high = box_of(piece, shape)
            valid = volume > 0.0 and is_sound(shape)
            distance = farthest(shape, sampled(mesh))
            found.append(SolidFigures(volume, area_of(shape), low, high, valid, distance))
    return tuple(found)


def sampled(mesh: _Mesh) -> Floats:
    """About 24 of a mesh's points (n, 3): a third from the ring of each end, a third from all over."""
    count = len(mesh.points)
    ring = count // (mesh.shape.spans + 1)
    share = np.arange(SAMPLES // 3) / (SAMPLES // 3)
    ends = (share * ring).astype(int)
    picked = np.concatenate([ends, count - ring + ends, (share * count).astype(int)])
    found: Floats = mesh.points[np.unique(picked)]
    return found
