"""Rooms as measured, and a second way to walk them: complex numbers, sharing nothing with the code under test."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from preview.runs import Corner, Measured, Reading, Step, Straight, Vec2

Floats = NDArray[np.float64]
EIGHTH = 25.4 / 8


def room(*sides: tuple[float, float]) -> list[Step]:
    """Straights of a length in mm, each with the corner after it: what the walk turns by, degrees, + to the left."""
    return [step for length, turn in sides for step in (Straight(length), Corner(math.radians(turn)))]


def read(steps: Sequence[Step], length: float = EIGHTH, angle: float = 0.5, radius: float = 0.0) -> list[Reading]:
    """How far each step may be off: mm, degrees, mm."""
    return [Reading(length) if isinstance(step, Straight) else Reading(math.radians(angle), radius) for step in steps]


def through(points: Sequence[Vec2]) -> list[Step]:
    """The sides of a closed polygon and its corners, the last one too; exact to rounding."""
    count = len(points)
    sides = [complex(*points[(i + 1) % count]) - complex(*points[i]) for i in range(count)]
    return [
        step
        for i, side in enumerate(sides)
        for step in (Straight(abs(side)), Corner(cmath.phase(sides[(i + 1) % count] / side)))
    ]


def walked(measured: Sequence[Measured], values: Sequence[float]) -> tuple[complex, float]:
    """Where a walk from 0 along +x ends, and the sum of its turns."""
    at, way, total, sweep = 0j, 1 + 0j, 0.0, 0.0
    for each, value in zip(measured, values, strict=True):
        if each.kind == "straight":
            at += way * value
        elif each.kind == "corner":
            way *= cmath.exp(1j * value)
            total += value
        elif each.kind == "sweep":
            sweep, total = value, total + value
        elif each.kind == "radius":  # the arc is the integral of its direction
            at += way * value * math.copysign(1, sweep) * (cmath.exp(1j * sweep) - 1) / 1j
            way *= cmath.exp(1j * sweep)
    return at, total


def misses(measured: Sequence[Measured], values: Sequence[float]) -> Floats:
    """By how much a closed walk, turning left, misses its start (mm) and one whole turn (radians)."""
    at, total = walked(measured, values)
    return np.array([at.real, at.imag, total - 2 * math.pi])


def slopes(measured: Sequence[Measured], values: Floats) -> Floats:
    """(3, n): the same by small differences."""
    columns = []
    for i in range(len(values)):
        step = np.zeros(len(values))
        step[i] = 1e-6 if measured[i].is_angle else 1e-3
        columns.append((misses(measured, (values + step).tolist()) - misses(measured, (values - step).tolist())) / 2)
        columns[-1] /= step[i]
    return np.array(columns).T


def sixsided() -> list[Step]:
    """A room with a re-entrant corner whose measured angles add up to 719.2 degrees; 720 is Euclid's (I.32)."""
    angles = (89.8, 90.1, 89.7, 269.7, 89.9, 90.0)
    assert math.isclose(sum(angles), 719.2)
    lengths = (4000.5, 2499.0, 1500.8, 900.5, 2500.6, 1599.0)
    return room(*((length, 180 - angle) for length, angle in zip(lengths, angles, strict=True)))
