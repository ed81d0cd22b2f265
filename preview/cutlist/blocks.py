"""Plinth blocks and corner blocks as they are cut: by their own three sizes."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from preview.cutlist.piece import BlockSize
from preview.cutlist.stock import Lumber, Stock, on_wall_face, rough_for
from preview.joinery import Piece
from preview.profiles import Line, Profile, measure
from preview.runs import Run, Vec2

SQUARE = 1e-9


def block_size(piece: Piece, run: Run, beside: Sequence[Piece]) -> BlockSize:
    """A block's sizes as it stands. beside: the pieces of molding along its run, to tell how much wall it takes."""
    section, long = measure(piece.profile), piece.element.length
    sides = section.d_max - section.d_min, section.h_max - section.h_min
    if piece.stand == run.stand:
        if not on_wall_face(run.stand):
            return BlockSize(long, sides[0], sides[1], long)
        tangent, stand = piece.element.tangent, run.stand
        climbs = abs(tangent[0] * stand.x[2] + tangent[1] * stand.y[2]) > math.sin(math.radians(45))
        wide, high = (sides[0], long) if climbs else (long, sides[0])
        return BlockSize(wide, sides[1], high, long)
    i = piece.index - 1
    along, across = _in_plan(piece.profile, run, i)
    takes, turn = next(_taken(run.elements[i].start, piece.index, beside), 0.0), run.hand * run.turns[i]
    if on_wall_face(run.stand):
        return BlockSize(along, long, across, takes, turn)
    return BlockSize(along, across, long, takes, turn)


def _taken(corner: Vec2, index: int, beside: Sequence[Piece]) -> Iterator[float]:
    """How far from a corner the pieces beside it stop, mm along their walls; - where they run on past it."""
    for other in beside:
        e = other.element
        if other.index == index:
            yield (e.start[0] - corner[0]) * e.tangent[0] + (e.start[1] - corner[1]) * e.tangent[1]
        elif other.index == index - 1:
            (x, y), (tx, ty) = e.end, e.end_tangent
            yield (corner[0] - x) * tx + (corner[1] - y) * ty


def _in_plan(outline: Profile, run: Run, i: int) -> tuple[float, float]:
    """The sides of a corner block's outline, along the wall after its corner and out from it, mm."""
    points = np.array([edge.start for edge in outline.edges])
    tx, ty = run.elements[i].tangent
    return float(np.ptp(points @ np.array((tx, ty)))), float(np.ptp(points @ np.array((-ty, tx))))


def block_stock(piece: Piece, run: Run, size: BlockSize, lumber: Lumber) -> tuple[Stock, float, bool]:
    """The stock of a block, its length along the grain (mm), and whether the grain runs up and down.

    A plain block's grain runs up and down, as that of the casing on it does; one with a molded section is run along
    the wall with its grain.
    """
    upright = piece.stand != run.stand or on_wall_face(run.stand) or is_plain(piece.profile)
    sides, long = ((size.wide, size.out), size.high) if upright else ((size.out, size.high), size.wide)
    thickness, width = sorted(sides)
    return Stock(thickness, width, "on its back", 0.0, rough_for(thickness, width, lumber)), long, upright


def is_plain(profile: Profile) -> bool:
    """Whether a section is a plain rectangle."""
    size = measure(profile)
    box = (size.d_max - size.d_min) * (size.h_max - size.h_min)
    return all(isinstance(edge, Line) for edge in profile.edges) and abs(size.area / box - 1.0) < SQUARE
