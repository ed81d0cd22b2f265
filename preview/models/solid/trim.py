"""A piece as an exact solid: its swept section, with every face cut at the joints."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

import numpy as np

from preview.joinery import Piece
from preview.models.solid import curves
from preview.models.solid.curves import standing
from preview.models.solid.easement import easement_solid
from preview.models.solid.faced import solid_of_faced
from preview.models.solid.ring import LEAST_TOLERANCE, Ring, ring
from preview.models.solid.sweep import Sweep, sweep
from preview.runs import IN_PLAN


def solid_of(piece: Piece) -> Any:
    """The kernel's solid of a piece, in the scene's coordinates, mm, z up.

    Where both ends are square to the travel the sweep is the piece. Otherwise its sides, which are whole planes,
    cylinders, cones and tori, are bounded anew by the joints' rings: no boolean operation, no search for
    intersections.
    """
    if piece.element.bend:
        return _stood(piece, easement_solid(piece))
    if piece.is_faced:
        return _stood(piece, solid_of_faced(piece.faced))
    swept = sweep(piece)
    if piece.begin.is_square and piece.end.is_square:
        return _stood(piece, swept.solid)
    wedge = piece.role == "return"
    pinched = [i for i, side in enumerate(swept.sides) if wedge and side.edge.start[0] == 0.0]
    if wedge and not piece.end.is_plane:
        # What both ends share is made for the curved one, which needs to know its edges' tracks.
        end: Ring | None = ring(piece, swept, "end")
        begin: Ring | None = ring(piece, swept, "begin", end, pinched)
    else:
        begin = ring(piece, swept, "begin") if wedge or not piece.begin.is_square else None
        end = ring(piece, swept, "end", begin, pinched) if wedge or not piece.end.is_square else None
    return _stood(piece, _assembled(piece, swept, begin, end, pinched))


def _stood(piece: Piece, solid: Any) -> Any:
    """A solid made in its run's own plan, moved to where that plan lies in the scene."""
    return solid if piece.stand == IN_PLAN else solid.Moved(standing(piece.stand))


def _assembled(piece: Piece, swept: Sweep, begin: Ring | None, end: Ring | None, pinched: Collection[int]) -> Any:
    from OCP.BRep import BRep_Builder
    from OCP.TopAbs import TopAbs_FACE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS, TopoDS_Shell, TopoDS_Solid

    firsts = begin.edges if begin else swept.first
    lasts = end.edges if end else swept.last
    rails = _rails(piece, swept, begin, end, pinched)
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
            if i in pinched and j in pinched and swept.sides[i].is_plane:
                continue  # the piece has no length here
            old = (swept.first[i], swept.rails[j], swept.last[i], swept.rails[i])
            new = _bounded(face, swept.sides[i].surface, old, (firsts[i], rails[j], lasts[i], rails[i]))
        builder.Add(shell, new)
    shell.Closed(True)
    solid = TopoDS_Solid()
    builder.MakeSolid(solid)
    builder.Add(solid, shell)
    return solid


def _rails(piece: Piece, swept: Sweep, begin: Ring | None, end: Ring | None, pinched: Collection[int]) -> list[Any]:
    """The edges along which the profile's corners travel, from cut to cut; None where one has no length."""
    from OCP.BRep import BRep_Builder, BRep_Tool
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.TopExp import TopExp
    from OCP.TopLoc import TopLoc_Location

    corners = np.array([side.edge.start for side in swept.sides])
    starts, stops = piece.stations(corners[:, 0], corners[:, 1])
    builder = BRep_Builder()
    rails: list[Any] = []
    for i, old in enumerate(swept.rails):
        if i in pinched:
            rails.append(None)
            continue
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
        if new[i] is not None:
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
