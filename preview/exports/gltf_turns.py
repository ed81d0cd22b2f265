"""From the scene's axes to those of glTF, and turns: x, y, z in plan with z up become x, z, -y with y up."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Reals = NDArray[np.floating]

UP = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])


def quaternion(turn: Floats) -> tuple[float, float, float, float]:
    """The unit quaternion (x, y, z, w), w not below 0, of a rotation matrix (3, 3) for column vectors.

    >>> quaternion(np.diag([-1.0, 1.0, -1.0]))
    (0.0, 1.0, 0.0, 0.0)
    """
    # Its largest part is taken from the diagonal, the others through it (the products of two parts are in `turn`).
    a, b, c = np.diag(turn).tolist()
    squares = [1 + a - b - c, 1 - a + b - c, 1 - a - b + c, 1 + a + b + c]  # four times x, y, z, w squared
    most = int(np.argmax(squares))
    double = math.sqrt(squares[most])  # twice the largest part
    (_, xy, xz), (yx, _, yz), (zx, zy, _) = turn.tolist()
    rows = {
        0: (double * double, yx + xy, zx + xz, zy - yz),
        1: (yx + xy, double * double, zy + yz, xz - zx),
        2: (zx + xz, zy + yz, double * double, yx - xy),
        3: (zy - yz, xz - zx, yx - xy, double * double),
    }
    x, y, z, w = (part / (2 * double) for part in rows[most])
    sign = -1.0 if w < 0 else 1.0
    return sign * x, sign * y, sign * z, sign * w
