"""Vertices in whole numbers, as KHR_mesh_quantization has them: a grid for each run, one for texture coordinates.

positions             16 bits on one grid for all pieces of a run, so that what they share stays one stored number;
                      the run's node has the grid's step as its scale, and where the grid begins as its place.
                      Where 16 bits would be too coarse, whole numbers in 32-bit floats
normals, tangents     8 bits a part, 127 for 1: within half a degree
texture coordinates   16 bits on a grid for the whole file; KHR_texture_transform leads back to mm
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Reals = NDArray[np.floating]

MOST, MOST_WHOLE = 2**16 - 1, 2**24
"""The greatest number of 16 bits, and the one up to which 32-bit floats have every whole number."""
ONE = 127
FINEST = 0.01
"""No grid is finer than this, mm."""
COARSEST = 0.15
"""A grid for positions in 16 bits is no coarser, mm: it reaches 9.8 m."""
IN_FLOATS = 0.05
"""The step of the grids that reach further, mm: the usual chord. It holds for 839 m."""


@dataclass(frozen=True)
class Grid:
    """Numbers k per axis stand for low + k * step. low, step: for each axis, in the unit of what is stored.

    floats: the numbers are stored in 32-bit floats, not in 16 bits.
    """

    low: Floats
    step: Floats
    floats: bool = False

    def stored(self, values: Reals) -> NDArray[np.uint16] | NDArray[np.float32]:
        """The nearest numbers of values (n, axes) that lie within the grid."""
        whole = np.rint((values.astype(np.float64) - self.low) / self.step)
        return whole.astype(np.float32) if self.floats else whole.astype(np.uint16)


def texture_grid(values: Iterable[Reals]) -> Grid:
    """A grid over all texture coordinates, arrays (n, 2) in mm, with a step of its own for each axis."""
    low, reach = _box(values, FINEST)
    return Grid(low, np.array([_step(float(each) / MOST, FINEST) for each in reach]))


def place_grid(points: Iterable[Floats]) -> Grid:
    """A grid over all points, arrays (n, 3) in meters, with one step for all axes."""
    low, reach = _box(points, FINEST / 1000)
    furthest = float(reach.max())
    floats = furthest > MOST * COARSEST / 1000
    step = _step(furthest / MOST_WHOLE, IN_FLOATS / 1000) if floats else _step(furthest / MOST, FINEST / 1000)
    return Grid(low, np.full(3, step), floats)


def _box(values: Iterable[Reals], finest: float) -> tuple[Floats, Floats]:
    """Where a grid over all arrays (n, axes) begins, and how far it reaches."""
    boxes = [(each.min(axis=0), each.max(axis=0)) for each in values]
    least = np.min([low for low, _ in boxes], axis=0).astype(np.float64)
    low = np.round(np.floor(least / finest) * finest, 12)
    return low, np.max([high for _, high in boxes], axis=0) - low


def _step(least: float, finest: float) -> float:
    """A step of three digits, no smaller than either.

    >>> _step(6000.0 / 65535, 0.01), _step(100.0 / 65535, 0.01)
    (0.0916, 0.01)
    """
    least = max(least, finest)
    digit = 10.0 ** (math.floor(math.log10(least)) - 2)
    return float(f"{math.ceil(least / digit - 1e-9) * digit:.12g}")


def stored_directions(directions: Reals) -> NDArray[np.int8]:
    """Unit vectors (n, 3), or those with a sign (n, 4), in signed bytes: 127 for 1."""
    return np.rint(directions * ONE).astype(np.int8)
