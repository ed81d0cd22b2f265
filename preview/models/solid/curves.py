"""The CAD kernel's curves, made from numbers."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from preview.models.solid.spline import DEGREE, Floats, Spline
from preview.runs import Stand

ROUND = 1e-12
"""An ellipse whose axes differ by less than this share is a circle."""


def point(at: Floats) -> Any:
    """A point in space, mm."""
    from OCP.gp import gp_Pnt

    return gp_Pnt(float(at[0]), float(at[1]), float(at[2]))


def direction(along: Floats) -> Any:
    """A direction in space; its length does not matter."""
    from OCP.gp import gp_Dir

    return gp_Dir(float(along[0]), float(along[1]), float(along[2]))


def line(start: Floats, end: Floats) -> tuple[Any, float, float]:
    """The line between two points in space, with its first and last parameter."""
    from OCP.Geom import Geom_Line

    return Geom_Line(point(start), direction(end - start)), 0.0, float(np.linalg.norm(end - start))


def ellipse(center: Floats, major: Floats, minor: Floats) -> Any:
    """The ellipse center + major cos(t) + minor sin(t) in space; `major` is the longer, square to `minor`.

    Where both are one length to rounding it is the kernel's circle, with which it measures more surely.
    """
    from OCP.Geom import Geom_Circle, Geom_Ellipse
    from OCP.gp import gp_Ax2

    axes = gp_Ax2(point(center), direction(np.cross(major, minor)), direction(major))
    most, least = float(np.linalg.norm(major)), float(np.linalg.norm(minor))
    if most - least < ROUND * most:
        return Geom_Circle(axes, most)
    return Geom_Ellipse(axes, most, least)


def ellipse_through(center: Floats, u: Floats, v: Floats) -> tuple[Any, float]:
    """The ellipse center + u cos(t) + v sin(t), for any two vectors, and how far its own parameter runs behind t."""
    shift = 0.5 * math.atan2(2 * float(u @ v), float(u @ u - v @ v))
    cos, sin = math.cos(shift), math.sin(shift)
    return ellipse(center, cos * u + sin * v, cos * v - sin * u), shift


def bezier(poles: Floats, weight: float) -> Any:
    """The rational quadratic Bezier curve in space with poles (3, 3), the middle one of the given weight."""
    from OCP.Geom import Geom_BezierCurve
    from OCP.TColgp import TColgp_Array1OfPnt
    from OCP.TColStd import TColStd_Array1OfReal

    points, weights = TColgp_Array1OfPnt(1, 3), TColStd_Array1OfReal(1, 3)
    for i, w in enumerate((1.0, weight, 1.0), start=1):
        points.SetValue(i, point(poles[i - 1]))
        weights.SetValue(i, w)
    return Geom_BezierCurve(points, weights)


def spline(fitted: Spline) -> Any:
    """A fitted curve: in space where it has three coordinates, in a surface's own where it has two."""
    from OCP.Geom import Geom_BSplineCurve
    from OCP.Geom2d import Geom2d_BSplineCurve
    from OCP.gp import gp_Pnt2d
    from OCP.TColgp import TColgp_Array1OfPnt, TColgp_Array1OfPnt2d
    from OCP.TColStd import TColStd_Array1OfInteger, TColStd_Array1OfReal

    count, knots = len(fitted.poles), len(fitted.breaks)
    values, times = TColStd_Array1OfReal(1, knots), TColStd_Array1OfInteger(1, knots)
    for i, knot in enumerate(fitted.breaks.tolist(), start=1):
        values.SetValue(i, knot)
        times.SetValue(i, DEGREE + 1 if i in (1, knots) else 1)
    if fitted.poles.shape[1] == 3:
        poles = TColgp_Array1OfPnt(1, count)
        for i, at in enumerate(fitted.poles, start=1):
            poles.SetValue(i, point(at))
        return Geom_BSplineCurve(poles, values, times, DEGREE)
    flat = TColgp_Array1OfPnt2d(1, count)
    for i, (u, v) in enumerate(fitted.poles.tolist(), start=1):
        flat.SetValue(i, gp_Pnt2d(u, v))
    return Geom2d_BSplineCurve(flat, values, times, DEGREE)


def flat_line(start: Floats, along: Floats) -> Any:
    """The line start + t along (a unit vector) in a surface's own coordinates."""
    from OCP.Geom2d import Geom2d_Line
    from OCP.gp import gp_Dir2d, gp_Pnt2d

    return Geom2d_Line(gp_Pnt2d(*start.tolist()), gp_Dir2d(*along.tolist()))


def edge(shape: Any, ends: tuple[Any, Any], first: float, last: float, tolerance: float) -> Any:
    """The edge along a curve between two vertices, at exactly these parameters (a circle's may be negative)."""
    from OCP.BRep import BRep_Builder
    from OCP.TopAbs import TopAbs_FORWARD, TopAbs_REVERSED
    from OCP.TopoDS import TopoDS_Edge

    builder, made = BRep_Builder(), TopoDS_Edge()
    builder.MakeEdge(made, shape, tolerance)
    builder.Add(made, ends[0].Oriented(TopAbs_FORWARD))
    builder.Add(made, ends[1].Oriented(TopAbs_REVERSED))
    builder.Range(made, first, last)
    return made


def standing(stand: Stand) -> Any:
    """The kernel's location that moves what was made in a run's own plan to where that plan lies."""
    from OCP.gp import gp_Trsf
    from OCP.TopLoc import TopLoc_Location

    x, y, z, at = stand.x, stand.y, stand.z, stand.origin
    moved = gp_Trsf()
    moved.SetValues(x[0], y[0], z[0], at[0], x[1], y[1], z[1], at[1], x[2], y[2], z[2], at[2])
    return TopLoc_Location(moved)
