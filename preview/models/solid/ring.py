"""The ring in which a joint cuts a piece: its edges, in space and in the coordinates of both surfaces they bound.

An edge is exact where an exact form exists: lines, the ellipses in which a saw cuts a round, the conics in which a
curved cut meets flats, slants and fillets. Where an arc of the profile meets a curved cut, or an arc of the run a
plane one, there is none; such an edge, and an edge's track in a curved surface's own coordinates, is a spline that
follows the true curve to 1e-8 mm. The surfaces themselves are always exact.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from preview.joinery import Joint, Piece
from preview.models.solid import curves
from preview.models.solid.conic import Conic, joint_conic
from preview.models.solid.spline import Floats, fit
from preview.models.solid.sweep import Side, Sweep
from preview.profiles import Arc, Edge, Line, measure

FITS = 1e-8
"""How far a fitted curve may stray from the true one, mm."""
LEAST_TOLERANCE = 1e-7
"""The kernel's own: points closer than this, mm, are one."""
EVEN = 1e-12
UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True)
class Ring:
    """The kernel's vertices and edges of one cut, one for each profile edge and in its direction, and its surface."""

    vertices: tuple[Any, ...]
    edges: tuple[Any, ...]
    surface: Any


@dataclass(frozen=True)
class _Cut:
    """A joint seen from one of its pieces.

    way: mm of station from where the sweep begins to the cut for profile points (n, 2). out, up (3,): where the points
    of a plane cut go for each mm out and up, out only where it is the same all along; conic: the curve of a cut that
    is not plane.
    """

    joint: Joint
    way: Callable[[Floats], Floats]
    out: Floats
    up: Floats
    is_linear: bool
    conic: Conic | None

    def points(self, at: Floats) -> Floats:
        """The points in space (n, 3) where profile points (n, 2) stop."""
        return self.joint.ring(at[:, 0], at[:, 1])

    def heights(self, d: Floats, h: Floats) -> Floats:
        """The heights (n,) in space of profile points on an upright cut."""
        return self.joint.height + self.joint.lean * d + h


@dataclass(frozen=True)
class _Curve:
    """An edge's curve in space from one parameter to another.

    fractions: which fractions (n,) of the profile edge stop at parameters (n,). off: how far it strays, mm.
    """

    shape: Any
    first: float
    last: float
    fractions: Callable[[Floats], Floats]
    off: float = 0.0


@dataclass(frozen=True)
class _Sheet:
    """A curved surface beside an edge: its coordinates (n, 2) at fractions (n,) of the profile edge.

    reach (2,): at most so many mm in space for each unit of its coordinates.
    """

    surface: Any
    coordinates: Callable[[Floats], Floats]
    reach: Floats


def ring(
    piece: Piece, swept: Sweep, end: Literal["begin", "end"], other: Ring | None = None, pinched: Sequence[int] = ()
) -> Ring:
    """Cut a swept section at one of its piece's joints.

    pinched: profile corners, by number, at which the piece has no length: there it shares the other ring's vertices,
    and the edges of a line between two of them.
    """
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex

    cut = _cut(piece, swept, end)
    surface = _surface(cut)
    starts = cut.points(np.array([side.edge.start for side in swept.sides]))
    vertices = tuple(
        other.vertices[i] if other and i in pinched else BRepBuilderAPI_MakeVertex(curves.point(at)).Vertex()
        for i, at in enumerate(starts)
    )
    edges: list[Any] = []
    for i, side in enumerate(swept.sides):
        if other and i in pinched and (i + 1) % len(vertices) in pinched and isinstance(side.edge, Line):
            edges.append(other.edges[i])
            continue
        sheets = [] if side.is_plane else [_side_sheet(cut, side)]
        if cut.conic is not None:
            sheets.append(_cut_sheet(cut, cut.conic, side.edge, surface))
        ends = (vertices[i], vertices[(i + 1) % len(vertices)])
        edges.append(_edge(_curve(cut, side.edge), ends, sheets))
    return Ring(vertices, tuple(edges), surface)


def _cut(piece: Piece, swept: Sweep, end: Literal["begin", "end"]) -> _Cut:
    joint = piece.begin if end == "begin" else piece.end
    size = measure(piece.profile)
    conic = None if joint.is_plane else joint_conic(joint, size.d_min, size.d_max)
    ends = joint.ring(np.array([size.d_min, size.d_max]), np.zeros(2))
    out = (ends[1] - ends[0]) / (size.d_max - size.d_min)
    begins = end == "begin"

    def way(at: Floats) -> Floats:
        return piece.stations(at[:, 0], at[:, 1])[0 if begins else 1] - swept.start

    return _Cut(joint, way, out, np.array(joint.up), not piece.curvature and conic is None, conic)


def _surface(cut: _Cut) -> Any:
    """The surface of a cut: a plane whose first axis runs outward, or the conic carried upward."""
    from OCP.Geom import Geom_Plane, Geom_SurfaceOfLinearExtrusion
    from OCP.gp import gp_Ax3

    if cut.conic is not None:
        poles = np.column_stack([cut.conic.poles, np.zeros(3)])
        return Geom_SurfaceOfLinearExtrusion(curves.bezier(poles, cut.conic.weight), curves.direction(UP))
    at = curves.point(np.array([*cut.joint.at, cut.joint.height]))
    return Geom_Plane(gp_Ax3(at, curves.direction(np.cross(cut.out, cut.up)), curves.direction(cut.out)))


def _side_sheet(cut: _Cut, side: Side) -> _Sheet:
    def coordinates(t: Floats) -> Floats:
        return side.coordinates(t, cut.way(side.edge.point(t)))

    return _Sheet(side.surface, coordinates, side.reach)


def _cut_sheet(cut: _Cut, conic: Conic, edge: Edge, surface: Any) -> _Sheet:
    def coordinates(t: Floats) -> Floats:
        at = edge.point(t)
        return np.column_stack([conic.parameter(at[:, 0]), cut.heights(at[:, 0], at[:, 1])])

    speed = 2 * max(conic.weight, 1 / conic.weight) * float(np.ptp(conic.poles, axis=0).sum())
    return _Sheet(surface, coordinates, np.array([speed, 1.0]))


def _curve(cut: _Cut, edge: Edge) -> _Curve:
    """The curve in space in which a cut ends what one profile edge sweeps."""
    upright, level = edge.start[0] == edge.end[0], edge.start[1] == edge.end[1]
    if isinstance(edge, Arc):
        if cut.is_linear:
            return _ellipse(cut, edge)
    elif upright or cut.is_linear or (level and cut.conic is None and not cut.joint.lean):
        shape, first, last = curves.line(*cut.points(np.array([edge.start, edge.end])))
        # Not so on an arc's level edge, where nobody asks: both surfaces beside it are planes.
        return _Curve(shape, first, last, lambda at: at / last)
    elif cut.conic is not None:
        return _conic(cut, cut.conic, edge)
    fitted = fit(lambda t: cut.points(edge.point(t)), 0.0, 1.0, np.full(3, FITS))
    return _Curve(curves.spline(fitted), 0.0, 1.0, lambda t: t, float(fitted.residual.max()))


def _ellipse(cut: _Cut, edge: Arc) -> _Curve:
    """A plane cut through the cylinder that an arc of the profile sweeps along a straight."""
    d, h = edge.center
    center = cut.points(np.array([edge.center]))[0]
    turn = math.copysign(1.0, edge.sweep)
    shape, shift = curves.ellipse_through(center, edge.radius * cut.out, turn * edge.radius * cut.up)
    first = (turn * math.atan2(edge.start[1] - h, edge.start[0] - d) - shift) % (2 * math.pi)
    size = abs(edge.sweep)
    return _Curve(shape, first, first + size, lambda at: (at - first) / size)


def _conic(cut: _Cut, conic: Conic, edge: Line) -> _Curve:
    """A curved cut through what a level or slanted line of the profile sweeps: the same conic, tilted."""
    (d0, h0), (d1, h1) = edge.start, edge.end
    poles = np.column_stack([conic.poles, cut.heights(conic.d, h0 + (h1 - h0) / (d1 - d0) * (conic.d - d0))])
    first, last = conic.parameter(np.array([d0, d1])).tolist()
    backward = d1 < d0
    if backward:
        poles, first, last = poles[::-1], 1.0 - first, 1.0 - last

    def fractions(at: Floats) -> Floats:
        return (conic.projections(1.0 - at if backward else at) - d0) / (d1 - d0)

    return _Curve(curves.bezier(poles, conic.weight), first, last, fractions)


def _edge(curve: _Curve, ends: tuple[Any, Any], sheets: list[_Sheet]) -> Any:
    """The kernel's edge between two vertices, with its track on each sheet."""
    from OCP.BRep import BRep_Builder
    from OCP.TopLoc import TopLoc_Location

    tracks = [_track(curve, sheet) for sheet in sheets]
    off = max([curve.off, *(strayed for _, strayed in tracks)])
    edge = curves.edge(curve.shape, ends, curve.first, curve.last, max(LEAST_TOLERANCE, 2 * off))
    for sheet, (track, _) in zip(sheets, tracks, strict=True):
        BRep_Builder().UpdateEdge(edge, track, sheet.surface, TopLoc_Location(), LEAST_TOLERANCE)
    return edge


def _track(curve: _Curve, sheet: _Sheet) -> tuple[Any, float]:
    """An edge's curve in a sheet's coordinates, and how far, mm, it strays from the true one."""

    def coordinates(at: Floats) -> Floats:
        return sheet.coordinates(curve.fractions(at))

    start, middle, end = coordinates(np.array([curve.first, (curve.first + curve.last) / 2, curve.last]))
    along = (end - start) / (curve.last - curve.first)
    if abs(np.hypot(*along) - 1.0) < EVEN and np.abs((start + end) / 2 - middle).max() < EVEN:
        return curves.flat_line(start - curve.first * along, along), 0.0
    fitted = fit(coordinates, curve.first, curve.last, FITS / sheet.reach)
    return curves.spline(fitted), float((fitted.residual * sheet.reach).max())
