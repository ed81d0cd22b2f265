"""The area of a piece that is finished: what is seen of it when it stands in its place.

What counts as seen is read from the section, which is followed once round:

    - not the back: all that lies between the top of the back and its foot, with any groove in it; of a sprung molding
      all from its flat on the ceiling round to its flat on the wall
    - not a foot that lies level on the floor, at height 0
    - not a straight edge that lies as a whole on another member of the same run
    - everything else, a covered part of an edge included: it is finished before it is fitted

Each point of what is seen travels as far as its line is long, so the area is the integral of that travel along the
outline: of a straight its developed width times its length at the width's own middle, of a curve the theorem of Pappus
and Guldin. Saw cuts do not count; an end that is worked back on itself counts as the return that it looks like.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from preview.cutlist.stock import on_wall_face
from preview.joinery import Piece
from preview.profiles import TOUCHING, Arc, Edge, Line, Profile, distance_to, lying, measure
from preview.runs import Run
from preview.shop import spring_of

Floats = NDArray[np.float64]

ON_A_LINE = 1e-6
NODES = 20


def seen_edges(piece: Piece, others: Sequence[Profile] = ()) -> tuple[Edge, ...]:
    """The edges of a piece's section, as placed, that are seen. others: the other members of its run, as placed."""
    on_wall = on_wall_face(piece.stand)
    profile = lying(piece.profile) if on_wall else piece.profile
    near = [lying(other) for other in others] if on_wall else others
    size = measure(profile)
    first = _back_begins(profile)
    front = [
        edge
        for edge in profile.edges[:first]
        if not (
            _lies(edge, 0, size.d_min)
            or (not on_wall and _on_floor(piece, edge, size.h_min))
            or any(_bears_on(edge, other) for other in near)
        )
    ]
    if not on_wall:
        return tuple(front)
    return tuple(_swapped(edge) for edge in front)


def seen_area(piece: Piece, others: Sequence[Profile] = ()) -> float:
    """The area of a piece of molding that is seen, mm², as the module says."""
    edges = seen_edges(piece, others)
    area = math.fsum(swept(piece, edge) for edge in edges)
    least = measure(piece.profile).d_min
    for end in (piece.begin, piece.end):
        if end.kind == "self-return":
            area += math.fsum(_moment(edge, least) for edge in edges)
    return area


def developed_width(piece: Piece, others: Sequence[Profile] = ()) -> float:
    """How long what is seen of the section is, mm, measured round it."""
    return math.fsum(_sum(piece, edge, np.ones(NODES)) for edge in seen_edges(piece, others))


def block_area(piece: Piece, run: Run) -> float:
    """The area of a block that is seen, mm²: every face but its back, and its foot where that stands on the floor.

    The sides count as a whole, though molding butts against part of them.
    """
    size, long = measure(piece.profile), piece.element.length
    if piece.stand != run.stand:  # at a corner: its outline in the run's plan, carried square to that
        if on_wall_face(run.stand):
            return size.perimeter * long + size.area
        sides = size.perimeter - _wall_sides(piece, run)
        return sides * long + size.area * (1.0 if abs(piece.stand.origin[2]) <= TOUCHING else 2.0)
    caps = 2.0
    if on_wall_face(run.stand):
        stand, ends = run.stand, (piece.element.start, piece.element.end)
        heights = [stand.origin[2] + x * stand.x[2] + y * stand.y[2] for x, y in ends]
        upright = abs(heights[1] - heights[0]) > long / 2
        caps -= upright and min(abs(z) for z in heights) <= TOUCHING
    return math.fsum(edge.length for edge in seen_edges(piece)) * long + caps * size.area


def _wall_sides(piece: Piece, run: Run) -> float:
    """How long the sides of a corner block are, mm, that lie on the two walls of its corner."""
    i = piece.index - 1
    before, after = run.elements[i - 1], run.elements[i]
    found = 0.0
    for at, tangent in ((before.end, before.end_tangent), (after.start, after.tangent)):
        out = (-tangent[1] * run.hand, tangent[0] * run.hand)
        for edge in piece.profile.edges:
            off = [(p[0] - at[0]) * out[0] + (p[1] - at[1]) * out[1] for p in (edge.start, edge.end)]
            if max(abs(each) for each in off) <= ON_A_LINE:
                found += edge.length
    return found


def _back_begins(profile: Profile) -> int:
    """The number of the edge at which the back begins; from there to the last edge nothing is seen."""
    size = measure(profile)
    sprung = spring_of(profile) is not None
    for i, edge in enumerate(profile.edges):
        if _lies(edge, 0, size.d_min) or (sprung and _lies(edge, 1, size.h_max)):
            return i
    return len(profile.edges)


def _lies(edge: Edge, axis: int, at: float) -> bool:
    return isinstance(edge, Line) and max(abs(edge.start[axis] - at), abs(edge.end[axis] - at)) <= ON_A_LINE


def _on_floor(piece: Piece, edge: Edge, foot: float) -> bool:
    """Whether an edge is the level foot of a section that stands on the floor."""
    if piece.element.slope or piece.element.bend or not _lies(edge, 1, foot):
        return False
    return abs(foot + piece.element.height + piece.stand.origin[2]) <= TOUCHING


def _bears_on(edge: Edge, other: Profile) -> bool:
    """Whether a straight edge lies as a whole on another section."""
    if not isinstance(edge, Line):
        return False
    return bool((distance_to(other, edge.point(np.linspace(0.0, 1.0, 9))) <= TOUCHING).all())


def _swapped(edge: Edge) -> Edge:
    start, end = edge.end[::-1], edge.start[::-1]
    return Arc(start, end, edge.center[::-1], edge.sweep) if isinstance(edge, Arc) else Line(start, end)


def swept(piece: Piece, edge: Edge) -> float:
    """The area that an edge sweeps, mm²."""
    return _sum(piece, edge, None)


def _sum(piece: Piece, edge: Edge, travel: Floats | None) -> float:
    """The integral along an edge, on the section square to the piece's length, of a travel (that of its points)."""
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    parts = max(1, math.ceil(abs(edge.sweep) / (math.pi / 2))) if isinstance(edge, Arc) else 1
    total = 0.0
    for part in range(parts):
        t = (part + (nodes + 1) / 2) / parts
        points, tangents = edge.point(t), edge.tangent(t)
        far = _travel(piece, points[:, 0], points[:, 1]) if travel is None else travel
        total += float((far * _stretch(piece, tangents)) @ weights) / 2 * edge.length / parts
    return total


def _stretch(piece: Piece, tangents: Floats) -> Floats:
    """How much of an edge's length, in these directions (n, 2) of the placed section, is across the piece's length."""
    if piece.is_level or piece.square:
        return np.ones(len(tangents))
    out, up = tangents[:, 0], tangents[:, 1] + piece.shear * tangents[:, 0]
    if not piece.element.bend:
        steady: Floats = np.hypot(out, up / piece.pace)
        return steady
    nodes, weights = np.polynomial.legendre.leggauss(NODES)  # along an easement the pitch changes evenly
    first, last = math.atan(piece.element.slope), math.atan(piece.element.end_slope)
    pitch = first + (last - first) * (nodes + 1) / 2
    mean: Floats = np.hypot(out[:, None], up[:, None] * np.cos(pitch)) @ weights / 2
    return mean


def _travel(piece: Piece, d: Floats, h: Floats) -> Floats:
    """How far points of the face travel, mm; at a cope or a self-return as far as the miter that it looks like."""
    starts, stops = piece.stations(d, h)
    if piece.begin.faced is not None:
        starts = (piece.begin.faced.per_face + piece.begin.faced.per_out) * d
    if piece.end.faced is not None:
        stops = piece.element.length + (piece.end.faced.per_face + piece.end.faced.per_out) * d
    walked = piece.element.walked
    far: Floats = (walked(stops) - walked(starts)) * (1.0 - piece.curvature * d)
    return far


def _moment(edge: Edge, least: float) -> float:
    """The integral along an edge of how far out from the back it lies, mm²."""
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    parts = max(1, math.ceil(abs(edge.sweep) / (math.pi / 2))) if isinstance(edge, Arc) else 1
    at = [edge.point((part + (nodes + 1) / 2) / parts)[:, 0] - least for part in range(parts)]
    return math.fsum(float(out @ weights) / 2 * edge.length / parts for out in at)
