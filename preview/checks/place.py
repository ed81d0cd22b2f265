"""Carry points of a model back into the run's own measures, by plain geometry of lines and circles.

This is written again here on purpose, without the joinery's or the mesh kernel's formulas: a check must take another
road than the builder.
"""

from __future__ import annotations

import numpy as np

from preview.checks.readers import Floats
from preview.joinery import Piece


def carried_back(piece: Piece, points: Floats) -> tuple[Floats, Floats, Floats]:
    """Projection d, height h and station (each (n,), mm) of points (n, 3) by the piece's element of the run."""
    element = piece.element
    tangent = np.array(element.tangent)
    left = np.array([-tangent[1], tangent[0]])
    away = points[:, :2] - np.array(element.start)
    if not element.curvature:
        return piece.hand * (away @ left), points[:, 2], away @ tangent
    center = np.array(element.center)
    spoke = points[:, :2] - center
    radius = np.hypot(spoke[:, 0], spoke[:, 1])
    first = np.array(element.start) - center
    swept = np.arctan2(first[0] * spoke[:, 1] - first[1] * spoke[:, 0], spoke @ first)
    turns = np.sign(element.sweep)
    # Angles are taken nearest the middle of the sweep, so that a long curve does not wrap round.
    middle = abs(element.sweep) / 2
    walked = turns * swept
    walked += 2 * np.pi * np.round((middle - walked) / (2 * np.pi))
    out = element.radius - radius if turns == piece.hand else radius - element.radius
    return out, points[:, 2], walked * element.radius
