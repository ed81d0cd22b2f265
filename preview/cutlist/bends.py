"""What a curved piece measures: a curve in plan, an easement in elevation, and the box that either is cut from."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from preview.cutlist.piece import Bend, Easing
from preview.joinery import Piece, elevation_box, piece_lengths
from preview.profiles import measure

Floats = NDArray[np.float64]
ACROSS = 129
"""Points across a cut that may be curved."""


def bend_of(piece: Piece) -> Bend | None:
    """What makes a piece a curve in plan; None for what is none."""
    if not piece.curvature:
        return None
    size, element = measure(piece.profile), piece.element
    back, face = size.d_min, size.d_max
    d = np.array([back, face])
    starts, stops = piece.stations(d)
    scale = 1.0 - piece.curvature * d
    arcs = (stops - starts) * scale
    radii = element.radius * scale
    chord, depth = _plan_box(piece)
    return Bend(
        wraps=piece.curvature < 0,
        radius=element.radius,
        radius_back=float(radii[0]),
        radius_face=float(radii[1]),
        sweep=abs(element.sweep),
        arc_back=float(arcs[0]),
        arc_face=float(arcs[1]),
        arc=piece_lengths(piece)["overall"],
        chord=chord,
        depth=depth,
    )


def _plan_box(piece: Piece) -> tuple[float, float]:
    """Along the chord and square to it, mm: the sides of the rectangle in plan round a curve.

    The plan of the piece lies between two circles and its two cuts, so it is widest on a cut or where a circle turns
    back.
    """
    size = measure(piece.profile)
    d = np.linspace(size.d_min, size.d_max, ACROSS)
    starts, stops = piece.stations(d)
    radius = piece.element.radius
    radii = radius * (1.0 - piece.curvature * d)
    first, last = starts / radius, stops / radius
    middle = (first.min() + last.max()) / 2  # the chord is square to the radius half way along
    angles, at = np.concatenate([first, last]) - middle, np.tile(radii, 2)
    for k in (0, -1):
        turning = np.arange(-4, 5) * (np.pi / 2)
        inside = turning[(turning > first[k] - middle) & (turning < last[k] - middle)]
        angles, at = np.concatenate([angles, inside]), np.concatenate([at, np.full(len(inside), radii[k])])
    along, out = at * np.sin(angles), at * np.cos(angles)
    return float(np.ptp(along)), float(np.ptp(out))


def easing_of(piece: Piece) -> Easing | None:
    """What makes a piece an easement; None for what is none."""
    element = piece.element
    if not element.bend:
        return None
    first, last = math.atan(element.slope), math.atan(element.end_slope)
    chord, depth = elevation_box(piece)
    return Easing(
        radius=1.0 / abs(element.bend),
        pitch_begin=first,
        pitch_end=last,
        level=element.length,
        rise=element.rise(element.length),
        chord=chord,
        depth=depth,
    )
