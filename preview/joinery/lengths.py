"""How long a piece is, in the ways that a shop asks for."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from preview.joinery.bands import banded
from preview.joinery.joint import UPRIGHT, Floats
from preview.joinery.piece import Piece
from preview.profiles import Profile, flatten, measure

ACROSS = 129
"""Points along an easement, whose box bulges between its ends."""
OUTLINE = 0.001
"""How finely, mm, an outline is followed to find a piece's longest point."""
EVEN = 1e-9


def piece_lengths(piece: Piece) -> Mapping[str, float]:
    """A piece's lengths in mm, each along its own path: on the back line, and the shortest and longest of all.

    back, shortest, longest: on the wall line, and the shortest and longest that any point of the profile travels; for a
    curve they are arcs. overall: from the first to the last point of wood along the run, what the stock must hold; it
    is more than the longest where a piece has an inside corner at one end and an outside corner at the other. Of an
    easement it is along the chord, as `elevation_box` has it.
    """
    d, h = _reaching(piece)
    starts, stops = piece.stations(d, h)
    if piece.is_faced:  # where a face jumps both its places count, as far as there is wood on that side of the ledge
        line = next(end.faced.face for end in (piece.begin, piece.end) if end.faced is not None)
        wood = np.concatenate([d <= line.at(h, side) + EVEN for side in ("below", "above")])
        wood |= np.tile((h <= line.breaks[0]) | (h >= line.breaks[-1]), 2)
        more = piece.stations(d, h, "above")
        starts, stops = np.concatenate([starts, more[0]])[wood], np.concatenate([stops, more[1]])[wood]
        d, h = np.tile(d, 2)[wood], np.tile(h, 2)[wood]
    element = piece.element
    starts, stops = element.walked(starts), element.walked(stops)
    lengths = (stops - starts) * (1 - piece.curvature * d)
    longest = float(lengths.max())
    return {
        "back": element.walked(element.length),
        "shortest": float(lengths.min()),
        "longest": longest,
        "overall": _overall(piece, starts, stops, d, h, longest),
    }


def _reaching(piece: Piece) -> tuple[Floats, Floats]:
    """Profile points (d, h) among which those that begin first and stop last are found."""
    element = piece.element
    upright = piece.begin.up == piece.end.up == UPRIGHT
    if not (element.slope or element.bend or piece.shear) and upright and not piece.is_faced:
        size = measure(piece.profile)
        d = np.linspace(size.d_min, size.d_max, 65)
        return d, np.zeros_like(d)
    return outline_points(piece.profile, piece.is_faced)


def outline_points(profile: Profile, faced: bool) -> tuple[Floats, Floats]:
    """Points (d, h) all along an outline; faced: with one on every edge at the height of each of the others."""
    if faced:
        points = np.array([edge.start for edge in banded(profile, chord=OUTLINE).edges])
    else:
        points = flatten(profile, OUTLINE).points
    return points[:, 0], points[:, 1]


def _overall(piece: Piece, starts: Floats, stops: Floats, d: Floats, h: Floats, longest: float) -> float:
    if piece.curvature:
        # On a curve the stock is the arc that holds both ends, at the radius that travels furthest.
        return max(longest, float((stops.max() - starts.min()) * (1 - piece.curvature * d).max()))
    if piece.element.bend:
        return elevation_box(piece)[0]
    # A plumb section on a slope reaches up it at its top and down it at its foot.
    up = 0.0 if piece.square else piece.element.slope / piece.pace
    along = up * (h + piece.shear * d)
    return float((stops + along).max() - (starts + along).min())


def elevation_box(piece: Piece) -> tuple[float, float]:
    """Along the chord and square to it, mm: the sides of the rectangle in elevation round an easement."""
    element = piece.element
    d, h = outline_points(piece.profile, False)
    foot, top = ((h + piece.shear * d).min(), (h + piece.shear * d).max())
    s = np.linspace(0.0, element.length, ACROSS)
    rise = element.rise(s)
    chord = math.atan2(float(rise[-1]), element.length)
    cos, sin = math.cos(chord), math.sin(chord)
    # It bulges most where it climbs as the chord does.
    middle = (math.sin(chord) - math.sin(math.atan(element.slope))) / element.bend
    s, rise = np.append(s, middle), np.append(rise, element.rise(middle))
    x, z = np.tile(s, 2), np.concatenate([rise + foot, rise + top])
    return float(np.ptp(x * cos + z * sin)), float(np.ptp(z * cos - x * sin))
