"""The exact solid of an easement: a plumb section carried along an arc in elevation, without turning.

Every face is the sum of two curves: a profile edge, and the arc that the back line takes. A line's is a plane or the
arc extruded; an arc's is a rational B-spline surface, which holds the sum of two conics exactly.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from preview.joinery import Piece
from preview.models.solid import curves
from preview.models.solid.spline import Floats
from preview.models.solid.wire import Wire
from preview.profiles import Line

SEWN = 1e-6
"""Edges closer than this, mm, are sewn to one."""


def easement_solid(piece: Piece) -> Any:
    """The kernel's solid of an easement in its run's own plan, mm, z up; its ends are plumb and square in plan."""
    import cadquery
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeSolid, BRepBuilderAPI_Sewing
    from OCP.BRepLib import BRepLib
    from OCP.TopoDS import TopoDS

    frame = piece.frame
    out, up = np.array(frame.out), np.array(frame.up)
    end = np.array([*piece.element.end, piece.element.end_height]) - np.array(frame.origin)

    def pen(at: Floats) -> Wire:
        drawn = Wire(lambda d, h: tuple((np.array(frame.origin) + at + d * out + h * up).tolist()), bool(piece.shear))
        piece.profile.draw(drawn)
        return drawn

    first, last = pen(np.zeros(3)), pen(end)
    sewing = BRepBuilderAPI_Sewing(SEWN)
    for section in (first, last):
        sewing.Add(cadquery.Face.makeFromWires(section.shape).wrapped)
    for edge, drawn, there in zip(piece.profile.edges, first.edges, last.edges, strict=True):
        start, stop = (np.array(frame.origin) + d * out + h * up for d, h in (edge.start, edge.end))
        if isinstance(edge, Line) and edge.start[0] == edge.end[0]:
            face = _plane((drawn, climbing_path(piece, stop), there, climbing_path(piece, start)))
        elif isinstance(edge, Line):
            face = _extruded(climbing_path(piece, start), stop - start)
        else:
            face = _sum(drawn, climbing_path(piece, start), start)
        sewing.Add(face)
    sewing.Perform()
    solid = BRepBuilderAPI_MakeSolid(TopoDS.Shell_s(sewing.SewedShape())).Solid()
    BRepLib.OrientClosedSolid_s(solid)
    return solid


def climbing_path(piece: Piece, start: Floats) -> Any:
    """The arc in elevation that a point travels from `start`, as a cadquery.Edge."""
    import cadquery
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge
    from OCP.Geom import Geom_Circle
    from OCP.gp import gp_Ax2

    element = piece.element
    radius = 1 / abs(element.bend)
    turn = math.copysign(1.0, element.bend)
    first, last = math.atan(element.slope), math.atan(element.end_slope)
    tangent = np.array([*element.tangent, 0.0])
    rise = np.array([0.0, 0.0, 1.0])
    center = start + turn * radius * (math.cos(first) * rise - math.sin(first) * tangent)
    # From the center the arc starts straight below (or above), turned by the pitch.
    square = curves.direction(turn * np.cross(-rise, tangent))
    circle = Geom_Circle(gp_Ax2(curves.point(center), square, curves.direction(-turn * rise)), radius)
    return cadquery.Edge(BRepBuilderAPI_MakeEdge(circle, turn * first, turn * last).Edge())


def _plane(edges: tuple[Any, ...]) -> Any:
    import cadquery

    return cadquery.Face.makeFromWires(cadquery.Wire.assembleEdges(list(edges))).wrapped


def _extruded(path: Any, side: Floats) -> Any:
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
    from OCP.gp import gp_Vec

    return BRepPrimAPI_MakePrism(path.wrapped, gp_Vec(*side.tolist())).Shape()


def _sum(section: Any, path: Any, start: Floats) -> Any:
    """The surface of all sums of a point of one curve and a point of another, less the point where they meet."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
    from OCP.Geom import Geom_BSplineSurface
    from OCP.TColgp import TColgp_Array2OfPnt
    from OCP.TColStd import TColStd_Array2OfReal

    one, other = _rational(section), _rational(path)
    rows, columns = one.NbPoles(), other.NbPoles()
    poles, weights = TColgp_Array2OfPnt(1, rows, 1, columns), TColStd_Array2OfReal(1, rows, 1, columns)
    for i in range(1, rows + 1):
        for j in range(1, columns + 1):
            a, b = one.Pole(i), other.Pole(j)
            x, y, z = start.tolist()
            poles.SetValue(i, j, curves.point(np.array([a.X() + b.X() - x, a.Y() + b.Y() - y, a.Z() + b.Z() - z])))
            weights.SetValue(i, j, one.Weight(i) * other.Weight(j))
    surface = Geom_BSplineSurface(
        poles,
        weights,
        one.Knots(),
        other.Knots(),
        one.Multiplicities(),
        other.Multiplicities(),
        one.Degree(),
        other.Degree(),
    )
    return BRepBuilderAPI_MakeFace(surface, SEWN).Face()


def _rational(edge: Any) -> Any:
    """An edge's curve as an exact rational B-spline."""
    from OCP.BRep import BRep_Tool
    from OCP.Geom import Geom_TrimmedCurve
    from OCP.GeomConvert import GeomConvert

    wrapped = edge.wrapped
    curve = BRep_Tool.Curve_s(wrapped, 0.0, 1.0)
    bounds = edge._bounds()
    return GeomConvert.CurveToBSplineCurve_s(Geom_TrimmedCurve(curve, *bounds))
