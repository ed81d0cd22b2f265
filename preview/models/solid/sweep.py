"""A section swept along one element: the exact sides of a piece, before its joints."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from preview.joinery import Piece, into_room
from preview.models.solid.spline import Floats
from preview.models.solid.wire import Wire
from preview.profiles import Edge, measure

SAMPLES = 65
SPARE = 0.01
"""How far a sweep goes beyond a cut, as a share of its length."""
ALMOST_ROUND = 0.999 * 2 * math.pi
"""The most that a section is revolved, radians: a sweep that closes on itself has other faces."""


@dataclass(frozen=True)
class Side:
    """The face that one edge of the profile sweeps.

    face, surface: the kernel's. corner, across, along (2,): the surface's own coordinates at the start of the edge
    where the sweep begins, and how they grow over the whole edge and with each mm of the way (all 0 on a plane,
    which needs none). reach (2,): at most so many mm in space for each unit of the surface's coordinates.
    """

    edge: Edge
    face: Any
    surface: Any
    is_plane: bool
    corner: Floats
    across: Floats
    along: Floats
    reach: Floats

    def coordinates(self, t: Floats, way: Floats) -> Floats:
        """The surface's coordinates (n, 2) at fractions t (n,) of the edge, (n,) mm on from where the sweep begins."""
        return self.corner + t[:, None] * self.across + way[:, None] * self.along


@dataclass(frozen=True)
class Sweep:
    """The section swept between two stations, mm, with what came from what.

    start, length: the station where it begins, and how far it goes, mm along the back line. sides: one for each
    profile edge. The kernel's: solid; first, last: the edges of the two ends, in the same order; rails: the edges
    along which the profile's corners travel, each from the start of its profile edge; begin, end: the end faces.
    """

    start: float
    length: float
    solid: Any
    sides: tuple[Side, ...]
    first: tuple[Any, ...]
    last: tuple[Any, ...]
    rails: tuple[Any, ...]
    begin: Any
    end: Any


def sweep(piece: Piece) -> Sweep:
    """Extrude the exact section along a straight, or revolve it about the upright axis through an arc's center.

    It stops where the piece does at an end that is square to the travel in plan, and beyond the longest point
    elsewhere.
    """
    import cadquery
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism, BRepPrimAPI_MakeRevol
    from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Vec
    from OCP.TopExp import TopExp
    from OCP.TopoDS import TopoDS

    element = piece.element
    start, length = _extent(piece)
    (x, y), (tx, ty) = element.point(start), element.tangent_at(start)
    nx, ny = into_room((tx, ty), piece.hand)
    z, (ux, uy, uz) = element.height + element.rise(start), piece.up
    pen = Wire(lambda d, h: (x + d * nx + h * ux, y + d * ny + h * uy, z + d * piece.shear + h * uz), bool(piece.shear))
    piece.profile.draw(pen)
    first = tuple(edge.wrapped for edge in pen.shape)
    section = cadquery.Face.makeFromWires(pen.shape).wrapped
    if element.curvature:
        axis = gp_Ax1(gp_Pnt(*element.center, 0.0), gp_Dir(0.0, 0.0, math.copysign(1.0, element.curvature)))
        made: Any = BRepPrimAPI_MakeRevol(section, axis, length * abs(element.curvature))
    else:
        made = BRepPrimAPI_MakePrism(section, gp_Vec(tx * length, ty * length, element.slope * length))
    rails = tuple(TopoDS.Edge_s(made.Generated(TopExp.FirstVertex_s(edge)).First()) for edge in first)
    sides = tuple(
        _side(piece, length, drawn, edge, TopoDS.Face_s(made.Generated(edge).First()), rail)
        for drawn, edge, rail in zip(piece.profile.edges, first, rails, strict=True)
    )
    last = tuple(TopoDS.Edge_s(made.LastShape(edge)) for edge in first)
    begin, end = (TopoDS.Face_s(face) for face in (made.FirstShape(), made.LastShape()))
    return Sweep(start, length, TopoDS.Solid_s(made.Shape()), sides, first, last, rails, begin, end)


def _extent(piece: Piece) -> tuple[float, float]:
    """Where to begin a sweep, and how far to go, mm.

    No part of the piece may lie before its beginning: the kernel measures circles in parameters from 0 up. Beyond
    its end it may, as the sides are whole surfaces.
    """
    size = measure(piece.profile)
    d = np.linspace(size.d_min, size.d_max, SAMPLES)
    low, high = (np.concatenate(piece.stations(d, np.full_like(d, h))) for h in (size.h_min, size.h_max))
    starts = np.minimum(low, high)[:SAMPLES]
    stops = np.maximum(low, high)[SAMPLES:]
    spare = SPARE * float(stops.max() - starts.min())
    start = 0.0 if piece.begin.is_square else float(starts.min()) - spare
    end = piece.element.length if piece.end.is_square else float(stops.max()) + spare
    return start, min(end - start, ALMOST_ROUND * piece.element.radius)


def _side(piece: Piece, length: float, drawn: Edge, edge: Any, face: Any, rail: Any) -> Side:
    """Read a swept face's coordinates off the two of its edges that meet at its first corner."""
    from OCP.BRep import BRep_Tool
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_Plane

    surface = BRep_Tool.Surface_s(face)
    if BRepAdaptor_Surface(face, False).GetType() == GeomAbs_Plane:
        none = np.zeros(2)
        return Side(drawn, face, surface, True, none, none, none, none)
    (corner, corner_on), (_, ahead) = _ends(edge, face), _ends(rail, face)
    across, along = corner_on - corner, (ahead - corner) / length
    # One coordinate runs along the travel, the other along the edge.
    least, _, most, _ = drawn.bounds
    longest = max(abs(1 - piece.curvature * least), abs(1 - piece.curvature * most)) * piece.pace
    travels = np.abs(along) == np.abs(along).max()
    reach = np.where(
        travels, longest / np.abs(along).max(), drawn.length * (1 + abs(piece.shear)) / np.abs(across).max()
    )
    return Side(drawn, face, surface, False, corner, across, along, reach)


def _ends(edge: Any, face: Any) -> tuple[Floats, Floats]:
    """A face's coordinates at the two ends of one of its edges."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve2d

    curve = BRepAdaptor_Curve2d(edge, face)
    found = [curve.Value(t) for t in (curve.FirstParameter(), curve.LastParameter())]
    return np.array([found[0].X(), found[0].Y()]), np.array([found[1].X(), found[1].Y()])
