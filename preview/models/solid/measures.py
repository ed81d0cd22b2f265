"""What one solid measures, by the CAD kernel. Shapes are cadquery's."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from preview.joinery import Piece, into_room
from preview.models.solid.curves import standing
from preview.models.solid.easement import climbing_path
from preview.models.solid.spline import Floats
from preview.profiles import Arc
from preview.runs import IN_PLAN

Vec3 = tuple[float, float, float]

RELATIVE = 1e-9


def volume_of(shape: Any) -> float:
    """The volume, mm³, to about 1e-9 of it.

    Summed as upright columns under each face (Gauss-Kronrod). Upright faces then add nothing, and no error either,
    however far they lie from the middle of a long piece.
    """
    from OCP.BRepGProp import BRepGProp
    from OCP.gp import gp_Dir, gp_Pln, gp_Pnt
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    ground = gp_Pln(gp_Pnt(0.0, 0.0, 0.0), gp_Dir(0.0, 0.0, 1.0))
    BRepGProp.VolumePropertiesGK_s(shape.wrapped, found, ground, RELATIVE, True, False, False, False, False)
    return float(found.Mass())


def area_of(shape: Any) -> float:
    """The area of the surface, mm², to about 1e-9 of it."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.SurfaceProperties_s(shape.wrapped, found, RELATIVE)
    return float(found.Mass())


def is_sound(shape: Any) -> bool:
    """Whether a shape is one solid with one closed shell in which the kernel's own check finds no fault."""
    shells = shape.Shells()
    return len(shape.Solids()) == len(shells) == 1 and bool(shells[0].wrapped.Closed()) and bool(shape.isValid())


def box_of(piece: Piece, shape: Any) -> tuple[Vec3, Vec3]:
    """The low and the high corner of the exact box round a piece's solid, mm; at most 1e-6 mm too wide.

    A swept shape is widest on its edges, but for the rounds of a profile that bulge between the corners of a
    curve: there it is widest on the circle that the round's outermost point travels. (The kernel's own search over
    the faces finds the same box, and takes some fifty milliseconds for every torus.)
    """
    import cadquery
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib

    found = Bnd_Box()
    bulges = list(_bulges(piece))
    if piece.stand != IN_PLAN:
        bulges = [bulge.moved(cadquery.Location(standing(piece.stand))) for bulge in bulges]
    for edge in [*shape.Edges(), *bulges]:
        BRepBndLib.AddOptimal_s(edge.wrapped, found, False, False)
    low, high = found.CornerMin(), found.CornerMax()
    return (low.X(), low.Y(), low.Z()), (high.X(), high.Y(), high.Z())


def _bulges(piece: Piece) -> Iterator[Any]:
    """The circles that the points of a curve's profile travel where an arc of it turns back in d."""
    import cadquery

    if piece.element.bend:
        yield from _crests(piece)
    if not piece.curvature:
        return
    for edge in piece.profile.edges:
        least, _, most, _ = edge.bounds
        for d in sorted({least, most} - {edge.start[0], edge.end[0]}):
            starts, stops = piece.stations(np.array([d]))
            h = float(edge.point(0.5)[1])  # any height will do: the ends of the piece have them all
            track = []
            for station in (starts[0], (starts[0] + stops[0]) / 2, stops[0]):
                (x, y), tangent = piece.element.point(float(station)), piece.element.tangent_at(float(station))
                nx, ny = into_room(tangent, piece.hand)
                track.append((x + d * nx, y + d * ny, piece.element.height + piece.shear * d + h))
            yield cadquery.Edge.makeThreePointArc(*track)


def _crests(piece: Piece) -> Iterator[Any]:
    """The arcs in elevation that the highest and lowest points of an easement's rounds travel, where those lie within
    a round: its ends are as high there as anywhere on them, but it may be higher or lower between."""
    frame = piece.frame
    steepest = math.atan2(1.0, piece.shear)
    for edge in piece.profile.edges:
        if not isinstance(edge, Arc):
            continue
        first = math.atan2(edge.start[1] - edge.center[1], edge.start[0] - edge.center[0])
        for angle in (steepest, steepest + math.pi):
            walked = (angle - first) * math.copysign(1.0, edge.sweep) % (2 * math.pi)
            if walked < abs(edge.sweep):
                d = edge.center[0] + edge.radius * math.cos(angle)
                h = edge.center[1] + edge.radius * math.sin(angle)
                yield climbing_path(piece, frame.points(np.zeros(1), np.array([d]), np.array([h]))[0])


def farthest(shape: Any, points: Floats) -> float:
    """The largest distance, mm, from points (n, 3) to the surface of a solid."""
    import cadquery

    shell = shape.Shells()[0]
    return max(float(cadquery.Vertex.makeVertex(*point).distance(shell)) for point in points.tolist())
