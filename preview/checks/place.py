"""Carry points of a model back into the run's own measures, by plain geometry of lines and circles.

This is written again here on purpose, without the joinery's or the mesh kernel's formulas: a check must take another
road than the builder.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from preview.checks.readers import Floats
from preview.joinery import Piece
from preview.runs import IN_PLAN


@dataclass(frozen=True)
class Laid:
    """Points carried back into their run's own measures: points (n, 3) in its frame, d, h and station (n,), mm.

    cuts: the stations (n,) at which the piece begins and ends on their lines, as its joints have it.
    """

    points: Floats
    d: Floats
    h: Floats
    station: Floats
    cuts: tuple[Floats, Floats]


def laid(piece: Piece, points: Floats) -> Laid:
    """Points (n, 3) of the scene, carried back by the piece they should belong to."""
    d, h, station = carried_back(piece, points)
    return Laid(in_plan(piece, points), d, h, station, piece.stations(d, h))


def carried_back(piece: Piece, points: Floats) -> tuple[Floats, Floats, Floats]:
    """Projection d, height h and station (each (n,), mm) of points (n, 3) by the piece's element of the run."""
    points = in_plan(piece, points)
    d, z, station = _in_plan_place(piece, points)
    if piece.is_level:
        return d, z, station
    return _off_the_climb(piece, d, z, station)


def in_plan(piece: Piece, points: Floats) -> Floats:
    """Points (n, 3) of the scene in the run's own frame."""
    stand = piece.stand
    if stand == IN_PLAN:
        return points
    found: Floats = (points - np.array(stand.origin)) @ np.array([stand.x, stand.y, stand.z]).T
    return found


def in_scene(piece: Piece, points: Floats) -> Floats:
    """Points (n, 3) of the run's own frame in the scene."""
    stand = piece.stand
    if stand == IN_PLAN:
        return points
    found: Floats = points @ np.array([stand.x, stand.y, stand.z]) + np.array(stand.origin)
    return found


def _off_the_climb(piece: Piece, d: Floats, z: Floats, station: Floats) -> tuple[Floats, Floats, Floats]:
    """Undo what a climb does to a section: rising with the back line, leaning with the shear or square to the rake."""
    element = piece.element
    if piece.square:
        # Along and square to the slope, by its pitch.
        pitch = math.atan(element.slope)
        up = z - element.height
        square = up * math.cos(pitch) - station * math.sin(pitch)
        return d, square, (station * math.cos(pitch) + up * math.sin(pitch)) * math.cos(pitch)
    if element.bend:
        # On a circle in elevation: its center stands above (or under) the point where the slope is level.
        radius, first = 1 / element.bend, math.atan(element.slope)
        across = station + radius * math.sin(first)
        rise = radius * math.cos(first) - math.copysign(1.0, radius) * np.sqrt(radius**2 - across**2)
    else:
        rise = station * element.slope
    return d, z - element.height - rise - piece.shear * d, station


def _in_plan_place(piece: Piece, points: Floats) -> tuple[Floats, Floats, Floats]:
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
    out = element.radius - radius if turns == piece.hand else radius - element.radius
    # Angles are taken nearest the middle of the way, so that a long curve does not wrap round.
    walked = turns * swept
    walked += 2 * np.pi * np.round((_middle(piece, out) - walked) / (2 * np.pi))
    return out, points[:, 2], walked * element.radius


def _middle(piece: Piece, out: Floats) -> Floats:
    """The angle, radians, halfway along a curve at projections `out` (n,), from cut to cut where it ends at corners."""
    halfway = np.full_like(out, abs(piece.element.sweep) / 2)
    if piece.begin.turn or piece.end.turn:
        starts, stops = piece.stations(out)
        halfway = np.where(np.isfinite(starts + stops), (starts + stops) / 2 / piece.element.radius, halfway)
    return halfway
