"""A piece as an exact solid: its swept section, with every face cut at the joints."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from preview.joinery import Piece
from preview.models.solid import curves
from preview.models.solid.ring import LEAST_TOLERANCE, Ring, ring
from preview.models.solid.sweep import Sweep, sweep


def solid_of(piece: Piece) -> Any:
    """The kernel's solid of a piece, in the scene's coordinates, mm, z up.

    Where both ends are square to the travel the sweep is the piece. Otherwise its sides, which are whole planes,
    cylinders, cones and tori, are bounded anew by the joints' rings: no boolean operation, no search for
    intersections.
    """
    swept = sweep(piece)
    if not piece.begin.turn and not piece.end.turn:
        return swept.solid
    begin = ring(piece, swept, "begin") if piece.begin.turn else None
    end = ring(piece, swept, "end") if piece.end.turn else None
    return _assembled(piece, swept, begin, end)


def _assembled(piece: Piece, swept: Sweep, begin: Ring | None, end: Ring | None) -> Any:
    from OCP.BRep import BRep_Builder
    from OCP.TopAbs import TopAbs_FACE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS, TopoDS_Shell, TopoDS_Solid

    firsts = begin.edges if begin else swept.first
    lasts = end.edges if end else swept.last
    rails = _rails(piece, swept, begin, end)
    builder = BRep_Builder()
    shell = TopoDS_Shell()
    builder.MakeShell(shell)
    faces = TopExp_Explorer(swept.solid, TopAbs_FACE)
    while faces.More():
        face = TopoDS.Face_s(faces.Current())
        faces.Next()
        if face.IsSame(swept.begin):
            new = _cap(face, swept.first, begin) if begin else face
        elif face.IsSame(swept.end):
            new = _cap(face, swept.last, end) if end else face
        else:
            i = next(i for i, side in enumerate(swept.sides) if side.face.IsSame(face))
            j = (i + 1) % len(swept.sides)
            old = (swept.first[i], swept.rails[j], swept.last[i], swept.rails[i])
            new = _bounded(face, swept.sides[i].surface, old, (firsts[i], rails[j], lasts[i], rails[i]))
        builder.Add(shell, new)
    shell.Closed(True)
    solid = TopoDS_Solid()
    builder.MakeSolid(solid)
    builder.Add(solid, shell)
    return solid


def _rails(piece: Piece, swept: Sweep, begin: Ring | None, end: Ring | None) -> list[Any]:
    """The edges along which the profile's corners travel, from cut to cut."""
    from OCP.BRep import BRep_Builder, BRep_Tool
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.TopExp import TopExp
    from OCP.TopLoc import TopLoc_Location

    starts, stops = piece.stations(np.array([side.edge.start[0] for side in swept.sides]))
    builder = BRep_Builder()
    rails = []
    for i, old in enumerate(swept.rails):
        whole = BRepAdaptor_Curve(old)
        first, last = whole.FirstParameter(), whole.LastParameter()
        curve = BRep_Tool.Curve_s(old, first, last)
        step = (last - first) / swept.length
        ends = (
            begin.vertices[i] if begin else TopExp.FirstVertex_s(old),
            end.vertices[i] if end else TopExp.LastVertex_s(old),
        )
        begins, stops_at = (first + step * (float(stations[i]) - swept.start) for stations in (starts, stops))
        rail = curves.edge(curve, ends, begins, stops_at, LEAST_TOLERANCE)
        for side in (swept.sides[i], swept.sides[i - 1]):
            if not side.is_plane:
                track = BRep_Tool.CurveOnSurface_s(old, side.face, first, last)
                builder.UpdateEdge(rail, track, side.surface, TopLoc_Location(), LEAST_TOLERANCE)
        rails.append(rail)
    return rails


def _bounded(face: Any, surface: Any, old: Sequence[Any], new: Sequence[Any]) -> Any:
    """A face like another, with each of its edges exchanged for a new one that runs the same way."""
    from OCP.BRep import BRep_Builder
    from OCP.TopAbs import TopAbs_EDGE, TopAbs_FORWARD
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS_Face, TopoDS_Wire

    builder = BRep_Builder()
    wire = TopoDS_Wire()
    builder.MakeWire(wire)
    edges = TopExp_Explorer(face.Oriented(TopAbs_FORWARD), TopAbs_EDGE)
    while edges.More():
        edge = edges.Current()
        edges.Next()
        i = next(i for i, each in enumerate(old) if each.IsSame(edge))
        builder.Add(wire, new[i].Oriented(edge.Orientation()))
    wire.Closed(True)
    found = TopoDS_Face()
    builder.MakeFace(found, surface, TopLoc_Location(), LEAST_TOLERANCE)
    builder.Add(found, wire)
    return found.Oriented(face.Orientation())


def _cap(face: Any, old: Sequence[Any], cut: Ring) -> Any:
    """The cut's own face, facing the way the square end did."""
    from OCP.BRep import BRep_Builder
    from OCP.TopAbs import TopAbs_EDGE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS_Face, TopoDS_Wire

    builder = BRep_Builder()
    wire = TopoDS_Wire()
    builder.MakeWire(wire)
    # The profile runs counter-clockwise in the surface's coordinates, as it does in (d, h).
    for edge in cut.edges:
        builder.Add(wire, edge)
    wire.Closed(True)
    found = TopoDS_Face()
    builder.MakeFace(found, cut.surface, TopLoc_Location(), LEAST_TOLERANCE)
    builder.Add(found, wire)
    edges = TopExp_Explorer(face, TopAbs_EDGE)
    while not edges.Current().IsSame(old[0]):
        edges.Next()
    return found.Oriented(edges.Current().Orientation())
