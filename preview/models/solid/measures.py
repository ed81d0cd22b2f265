"""What one solid measures, by the CAD kernel. Shapes are cadquery's."""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Iterator, Sequence
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
EASED = 1e-6
"""What the columns under an easement are asked for, where they take seconds for RELATIVE: see `volume_sums`."""
SEEMS_OFF, HAIR = 1e-4, 1e-7
"""mm."""


def volume_of(shape: Any, relative: float = RELATIVE) -> float:
    """The volume, mm³, to about 1e-7 of it at worst, most to 1e-9: the middle one of three sums (`volume_sums`)."""
    return statistics.median(volume_sums(shape, relative))


def volume_sums(shape: Any, relative: float = RELATIVE) -> tuple[float, float, float]:
    """The volume, mm³, summed by the kernel in three ways, each of which is far off now and then, and no two together.

    Upright columns under the faces (Gauss and Kronrod), until no more than `relative` changes; cones from a corner to
    the faces, by the rule of Gauss that fits the kind of surface; the same, parted until no more than 1e-9 changes.
    The columns miss by 1e-8 where a flat face has curved edges, the cones by 1e-3 on the free-form surfaces of an
    easement, the parted ones by 1e-5 where two estimates happen to agree. Measured from a corner, since from a floor
    far below columns would cancel.
    """
    from OCP.BRepGProp import BRepGProp
    from OCP.gp import gp_Dir, gp_Pln, gp_Pnt
    from OCP.GProp import GProp_GProps

    stands = _at_origin(shape)
    columns, cones, parted = (GProp_GProps() for _ in range(3))
    ground = gp_Pln(gp_Pnt(0.0, 0.0, 0.0), gp_Dir(0.0, 0.0, 1.0))
    BRepGProp.VolumePropertiesGK_s(stands, columns, ground, relative, True, False, False, False, False)
    BRepGProp.VolumeProperties_s(stands, cones)
    BRepGProp.VolumeProperties_s(stands, parted, RELATIVE, True, False)
    return float(columns.Mass()), float(cones.Mass()), float(parted.Mass())


def _at_origin(shape: Any) -> Any:
    """The kernel's shape, moved so that one of its corners is the origin; as it is where it has none."""
    from OCP.BRep import BRep_Tool
    from OCP.gp import gp_Trsf, gp_Vec
    from OCP.TopAbs import TopAbs_VERTEX
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS

    corners = TopExp_Explorer(shape.wrapped, TopAbs_VERTEX)
    if not corners.More():
        return shape.wrapped
    corner = BRep_Tool.Pnt_s(TopoDS.Vertex_s(corners.Current()))
    back = gp_Trsf()
    back.SetTranslation(gp_Vec(-corner.X(), -corner.Y(), -corner.Z()))
    return shape.wrapped.Moved(TopLoc_Location(back))


def area_of(shape: Any) -> float:
    """The area of the surface, mm², to about 1e-5 of it at worst, most to 1e-9.

    By Gauss's rule, which the kernel fits to the kind of surface; on the free-form surfaces of an easement by halving
    until it rests, which on faces cut aslant may rest too soon, by 1e-3.
    """
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    if _is_free_form(shape):
        BRepGProp.SurfaceProperties_s(shape.wrapped, found, RELATIVE)
    else:
        BRepGProp.SurfaceProperties_s(shape.wrapped, found)
    return float(found.Mass())


def _is_free_form(shape: Any) -> bool:
    return any(face.geomType() == "BSPLINE" for face in shape.Faces())


def is_sound(shape: Any) -> bool:
    """Whether a shape is one solid with one closed shell in which the kernel's own check finds no fault."""
    shells = shape.Shells()
    return len(shape.Solids()) == len(shells) == 1 and bool(shells[0].wrapped.Closed()) and bool(shape.isValid())


def box_of(piece: Piece, shape: Any) -> tuple[Vec3, Vec3]:
    """The low and the high corner of the exact box round a piece's solid, mm; at most 1e-6 mm too wide.

    A swept shape is widest on its edges, but for the rounds of a profile that bulge between the corners of a
    curve: there it is widest on the circle that the round's widest point travels. (The kernel's own search over
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
    """The circles that points of a curve's profile travel where an arc of it is widest along an axis of the scene."""
    import cadquery

    if piece.element.bend:
        yield from _crests(piece)
    if not piece.curvature:
        return
    facing = _facing(piece)
    for edge in piece.profile.edges:
        if not isinstance(edge, Arc):
            continue
        for d, h in _tangent_points(edge, facing):
            starts, stops = piece.stations(np.array([d]))
            track = []
            for station in (starts[0], (starts[0] + stops[0]) / 2, stops[0]):
                (x, y), tangent = piece.element.point(float(station)), piece.element.tangent_at(float(station))
                nx, ny = into_room(tangent, piece.hand)
                track.append((x + d * nx, y + d * ny, piece.element.height + piece.shear * d + h))
            yield cadquery.Edge.makeThreePointArc(*track)


def _facing(piece: Piece) -> list[float]:
    """The angles, radians, at which a curve's section looks, (out, up), where it may be widest along an axis.

    In its own plan that is straight out and back. Where it lies on a wall that stands askew, an axis of the scene leads
    along the wall and out of it at once.
    """
    found = set()
    for x, y, z in zip(piece.stand.x, piece.stand.y, piece.stand.z, strict=True):
        level = math.hypot(x, y)
        if level:
            found |= {math.atan2(up, out) for out in (level, -level) for up in (z, -z)}
    return sorted(found)


def _tangent_points(arc: Arc, facing: Iterable[float]) -> Iterator[tuple[float, float]]:
    """The points within an arc at which it looks, outward or inward, at one of some angles."""
    first = math.atan2(arc.start[1] - arc.center[1], arc.start[0] - arc.center[0])
    for angle in facing:
        if 0.0 < (angle - first) * math.copysign(1.0, arc.sweep) % (2 * math.pi) < abs(arc.sweep):
            yield arc.center[0] + arc.radius * math.cos(angle), arc.center[1] + arc.radius * math.sin(angle)


def _crests(piece: Piece) -> Iterator[Any]:
    """The arcs in elevation that the highest and lowest points of an easement's rounds travel, where those lie within
    a round: its ends are as high there as anywhere on them, but it may be higher or lower between."""
    frame = piece.frame
    steepest = math.atan2(1.0, piece.shear)
    for edge in piece.profile.edges:
        if isinstance(edge, Arc):
            for d, h in _tangent_points(edge, (steepest, steepest + math.pi)):
                yield climbing_path(piece, frame.points(np.zeros(1), np.array([d]), np.array([h]))[0])


def farthest(shape: Any, points: Floats) -> float:
    """The largest distance, mm, from points (n, 3) to the surface of a solid; to 1e-7 mm."""
    shell = shape.Shells()[0]
    return max(_distance(shell, point) for point in points.tolist())


def _distance(shell: Any, point: Sequence[float]) -> float:
    """How far, mm, a point lies from a shell.

    Exactly on a line along which a round runs into a flat the kernel may miss both and find something further away: a
    point that seems to lie off is asked about again, a hair aside.
    """
    import cadquery

    found = float(cadquery.Vertex.makeVertex(*point).distance(shell))
    if found <= SEEMS_OFF:
        return found
    asides = (np.array(point) + HAIR * axis for axis in np.eye(3))
    return min(found, *(float(cadquery.Vertex.makeVertex(*aside.tolist()).distance(shell)) for aside in asides))
