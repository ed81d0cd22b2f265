"""Pieces seen square to a plane: in plan from above, or on the face of a wall from the front; exact, in mm.

A piece that lies in the plane shows its back, its face and its two cuts: lines, arcs, and for a curved miter a polyline
through points of the conic. One that runs straight toward the looker shows its section; any other the oblong that it
fills.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from preview.exports.dxf_page import straightened
from preview.joinery import Joint, Piece, banded, into_room, turned_on_curves
from preview.joinery import passages as passages_of
from preview.paper import Placing
from preview.profiles import Arc, Edge, Line, Point, measure
from preview.runs import Element, Stand

Floats = NDArray[np.float64]
Vec3 = tuple[float, float, float]

NEAR = 0.005
"""mm that a polyline may stray from its curve."""
SQUARE = 1e-9


@dataclass(frozen=True)
class Facing:
    """How a drawing looks at the scene: unit ways to its right and up, and the scene's point that is its (0, 0), mm."""

    right: Vec3 = (1.0, 0.0, 0.0)
    up: Vec3 = (0.0, 1.0, 0.0)
    origin: Vec3 = (0.0, 0.0, 0.0)

    def flat(self, points: Floats) -> Floats:
        """Ways (..., 3) of the scene as they are seen: (..., 2)."""
        found: Floats = points @ np.array([self.right, self.up]).T
        return found

    def placing(self, origin: Floats, x: Floats, y: Floats) -> Placing:
        """Where a plane with its own origin and axes (3,) of the scene lies in the drawing."""
        (a, c), (b, d) = self.flat(x).tolist(), self.flat(y).tolist()
        across, up = self.flat(origin - np.array(self.origin)).tolist()
        return Placing(a, b, c, d, across, up)

    def of_stand(self, stand: Stand) -> Placing:
        """Where a run's own plan lies in the drawing."""
        return self.placing(np.array(stand.origin), np.array(stand.x), np.array(stand.y))

    def sees_square(self, way: Sequence[float]) -> bool:
        """Whether a unit way of the scene points straight at the looker, or away."""
        return bool(np.abs(self.flat(np.array(way))).max() < SQUARE)


@dataclass(frozen=True)
class Cut:
    """The line in which a piece begins or ends, from its back to its face."""

    edges: tuple[Edge, ...]

    @property
    def back(self) -> Point:
        """Its point on the back."""
        return self.edges[0].start

    @property
    def face(self) -> Point:
        """Its point on the face."""
        return self.edges[-1].end


@dataclass(frozen=True)
class FlatPiece:
    """A piece that lies in the plane: its two long lines and its two cuts, in the run's own plan."""

    back: Edge
    face: Edge
    begin: Cut
    end: Cut

    @property
    def outline(self) -> tuple[Edge, ...]:
        """All round."""
        return (self.back, *self.end.edges, self.face, *self.begin.edges)


def flat_piece(piece: Piece) -> FlatPiece:
    """The outline of a piece in its run's own plan."""
    size = measure(piece.profile)
    begin, end = (cut_line(piece, at_end) for at_end in (False, True))
    back = line_at(piece, begin.back, end.back, size.d_min)
    face = line_at(piece, begin.face, end.face, size.d_max)
    return FlatPiece(back, face, begin, end)


def line_at(piece: Piece, first: Point, last: Point, d: float) -> Edge:
    """The line of a piece at d out from its first to its last point, exactly."""
    element = piece.element
    if not element.sweep:
        return Line(first, last)
    starts, stops = piece.stations(np.array([d]))
    return Arc(first, last, element.center, float(stops[0] - starts[0]) * element.curvature)


def line_of(piece: Piece, d: float) -> Edge:
    """The same, its ends found where plane cuts and curved miters stop it."""
    first, last = (_points(cut, np.array([d]))[0] for cut in (piece.begin, piece.end))
    return line_at(piece, first, last, d)


def cut_line(piece: Piece, at_end: bool) -> Cut:
    """Where a piece begins or ends in plan; where that depends on the height, as far as any of it reaches."""
    cut = piece.end if at_end else piece.begin
    size = measure(piece.profile)
    if cut.faced is not None or max(abs(cut.up[0]), abs(cut.up[1])) > SQUARE:
        return Cut(straightened(_furthest(piece, at_end).tolist()))
    if not turned_on_curves(*passages_of([cut]))[0]:
        first, last = _points(cut, np.array([size.d_min, size.d_max]))
        return Cut((Line(first, last),))
    count = 4
    while True:
        d = np.linspace(size.d_min, size.d_max, 2 * count + 1)
        points = cut.points(d)
        middle = (points[:-1:2] + points[2::2]) / 2
        if float(np.hypot(*(points[1::2] - middle).T).max()) <= NEAR:
            return Cut(straightened(points.tolist()))
        count *= 2


def _points(cut: Joint, d: Floats) -> list[Point]:
    return [(float(x), float(y)) for x, y in cut.points(d)]


def _furthest(piece: Piece, at_end: bool) -> Floats:
    """The points (n, 2), from the back to the face, of a cut that leans or follows a face, as its shadow has them."""
    outline = np.array([edge.start for edge in banded(piece.profile, chord=NEAR).edges])
    heights, level = np.unique(np.round(outline[:, 1], 9), return_inverse=True)
    low, high = np.full(len(heights), np.inf), np.full(len(heights), -np.inf)
    np.minimum.at(low, level, outline[:, 0])
    np.maximum.at(high, level, outline[:, 0])
    d = np.unique(outline[:, 0])
    d = d[np.append(True, np.diff(d) > SQUARE)]
    rows, columns = np.nonzero((d[None, :] >= low[:, None] - SQUARE) & (d[None, :] <= high[:, None] + SQUARE))
    out, up = d[columns], heights[rows]
    cut = piece.end if at_end else piece.begin
    reach = np.full(len(d), -np.inf)
    sign = 1.0 if at_end else -1.0
    for side in ("below", "above"):
        station = piece.stations(out, up, "above" if side == "above" else "below")[int(at_end)] - piece.tilt * up
        wood = np.ones(len(out), dtype=np.bool_)
        if cut.faced is not None:
            face = cut.faced.face
            wood = out <= face.at(up, "above" if side == "above" else "below") + SQUARE
            wood |= (up <= face.breaks[0]) | (up >= face.breaks[-1])
        np.maximum.at(reach, columns[wood], sign * station[wood])
    found: Floats = _in_plan(piece, sign * reach, d)
    return found


def _in_plan(piece: Piece, station: Floats, d: Floats) -> Floats:
    """Points (n, 2) of a straight in plan."""
    start, tangent, normal = (np.array(each) for each in (piece.element.start, piece.element.tangent, piece.normal))
    found: Floats = start + station[:, None] * tangent + d[:, None] * normal
    return found


def section_in(facing: Facing, piece: Piece) -> tuple[Edge, ...]:
    """The section of a piece that runs straight toward the looker."""
    stand = piece.stand
    frame = np.array([stand.x, stand.y])
    start, out = (np.array(each) @ frame for each in (piece.element.start, piece.normal))
    place = facing.placing(np.array(stand.origin) + start, out, np.array(stand.z))
    return place.edges(piece.profile.edges)


def oblong_of(facing: Facing, piece: Piece, points: Floats) -> tuple[Edge, ...]:
    """The oblong that a piece on a wall fills as it is seen along that wall; points (n, 3): of its mesh.

    Exact where the wall is square to what is looked at; else the oblong round the mesh.
    """
    stand = piece.stand
    deep = facing.flat(np.array(stand.z))
    if abs(float(np.hypot(*deep)) - 1.0) > SQUARE:
        low, high = (getattr(facing.flat(points - np.array(facing.origin)), f)(axis=0) for f in ("min", "max"))
        return _oblong(np.zeros(2), (1.0, 0.0), (0.0, 1.0), (low[0], high[0]), (low[1], high[1]))
    along = np.array([-deep[1], deep[0]])
    wx, wy = (float(facing.flat(np.array(axis)) @ along) for axis in (stand.x, stand.y))
    turn = Placing(wx, wy, -wy, wx)
    boxes = [turn.edge(edge).bounds for edge in flat_piece(piece).outline]
    size = measure(piece.profile)
    origin = facing.flat(np.array(stand.origin) - np.array(facing.origin))
    return _oblong(
        origin,
        (float(along[0]), float(along[1])),
        (float(deep[0]), float(deep[1])),
        (min(box[0] for box in boxes), max(box[2] for box in boxes)),
        (size.h_min, size.h_max),
    )


def _oblong(
    origin: Floats, x: Point, y: Point, across: tuple[float, float], up: tuple[float, float]
) -> tuple[Edge, ...]:
    corners = [(across[0], up[0]), (across[1], up[0]), (across[1], up[1]), (across[0], up[1]), (across[0], up[0])]
    places = [(float(origin[0]) + a * x[0] + b * y[0], float(origin[1]) + a * x[1] + b * y[1]) for a, b in corners]
    return tuple(Line(a, b) for a, b in pairwise(places))


def wall_edges(elements: Sequence[Element]) -> tuple[Edge, ...]:
    """The back line of a run in its own plan, exactly."""
    return tuple(
        Arc(element.start, element.end, element.center, element.sweep)
        if element.sweep
        else Line(element.start, element.end)
        for element in elements
    )


def middle_of(piece: Piece) -> tuple[Point, Point, Point]:
    """The middle of a piece's back line in its run's plan, the way of travel there, and the way into the room."""
    element = piece.element
    station = element.length / 2
    tangent = element.tangent_at(station)
    return element.point(station), tangent, into_room(tangent, piece.hand)
