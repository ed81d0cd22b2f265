"""The volume of a piece in closed form, from neither kernel.

A piece is swept by its section, so its volume is the integral over the section of how far each point travels. On a
straight cut by planes the travel is linear in d, and the integral is the area times the travel of the centroid. On an
arc cut square it is the theorem of Pappus and Guldin. Elsewhere the travel is integrated outward from the wall and
carried round the exact outline by Green's theorem, with Gauss-Legendre points, to about 1e-12; within a hundredth
of a joint's reach to about 1e-8.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from preview.joinery.faced import faced_volume
from preview.joinery.joint import Floats
from preview.joinery.piece import Piece, stations
from preview.profiles import Arc, measure

NODES = 40


def travel(piece: Piece, d: Floats) -> Floats:
    """How far, mm, profile points at projections d (n,) travel along the piece in plan, on their own radius."""
    starts, stops = piece.stations(d)
    return (stops - starts) * (1.0 - piece.curvature * d)


def exact_volumes(pieces: Sequence[Piece]) -> Floats:
    """The volumes, mm³, of pieces that carry one profile: (P,)."""
    if not pieces:
        return np.empty(0)
    size = measure(pieces[0].profile)
    d, h = np.array([size.centroid[0]]), np.array([size.centroid[1]])
    starts, stops = stations(pieces, d, h)
    bend = np.array([piece.curvature for piece in pieces])
    volumes: Floats = size.area * (stops - starts)[:, 0] * (1.0 - bend * d[0])
    for i, piece in enumerate(pieces):
        if piece.is_faced:
            volumes[i] = faced_volume(piece.faced)
        elif not _is_linear(piece):
            volumes[i] = integrated_volume(piece)
        elif piece.square:
            # A section square to the rake: a mm of station is longer than a mm by the pitch's secant.
            volumes[i] *= piece.pace
    return volumes


def exact_volume(piece: Piece) -> float:
    """The volume of one piece, mm³."""
    return float(exact_volumes([piece])[0])


def _is_linear(piece: Piece) -> bool:
    """Whether the travel is linear in d, so that the section's centroid stands for the whole section."""
    if piece.curvature:
        return piece.begin.is_square and piece.end.is_square
    return piece.begin.is_plane and piece.end.is_plane


def integrated_volume(piece: Piece) -> float:
    """The volume of any piece, mm³, by Green's theorem round the exact outline.

    With F(d) the integral of the travel from the wall line outward, the volume is the integral of F dh round the
    outline.
    """
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    t, w = (nodes + 1) / 2, weights / 2
    outs: list[Floats] = []
    rises: list[Floats] = []
    for edge in piece.profile.edges:
        # An arc is taken in parts of at most a quarter turn, where the rule is exact to rounding.
        parts = max(1, int(np.ceil(abs(edge.sweep) / (np.pi / 2)))) if isinstance(edge, Arc) else 1
        for part in range(parts):
            at = (part + t) / parts
            points, tangents = edge.point(at), edge.tangent(at)
            outs.append(points[:, 0])
            rises.append(tangents[:, 1] * edge.length * w / parts)
    d = np.concatenate(outs)
    # Near a joint's reach the travel ends like a square root: in u = (1 - inner / d)^1/2 it is smooth again.
    u, v = _toward_the_wall(piece, float(np.abs(d).max()), t, w)
    inner = (d[:, None] * (1 - (1 - u) ** 2)[None, :]).ravel()
    outward = travel(piece, inner).reshape(len(d), len(u)) @ (v * 2 * (1 - u)) * d
    return float(outward @ np.concatenate(rises))


def _toward_the_wall(piece: Piece, out: float, t: Floats, w: Floats) -> tuple[Floats, Floats]:
    """Places from 0, at the wall, to 1, `out` mm from it, and their weights, by a rule (t, w) for the span from 0 to 1.

    Beside a curve much smaller than the molding is deep the travel bends within about its radius of the wall: spans
    that halve from one to the next come as near to it as that.
    """
    sides = (side for end in (piece.begin, piece.end) for side in (end.before, end.after))
    sharpest = max(abs(piece.curvature), *(abs(side.curvature) for side in sides))
    halvings = max(0, math.ceil(math.log2(max(1.0, 2 * sharpest * out))))
    bounds = np.concatenate([[0.0], 0.5 ** np.arange(halvings, -1, -1)])
    spans = np.diff(bounds)
    return (bounds[:-1, None] + spans[:, None] * t).ravel(), (spans[:, None] * w).ravel()
