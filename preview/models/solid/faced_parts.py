"""The exact curves and surfaces of an end that follows a face, from (station, d, h) in a piece's own frame.

A round of the section swept along the piece is a round cylinder, and so is a round of the face carried along the
other wall. Where a round meets a plane, or another round of one height and radius, the edge is an ellipse.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from preview.joinery import Faced, Frame, out_at
from preview.models.solid import curves
from preview.models.solid.spline import Floats, fit
from preview.profiles import Arc, Edge, Line

FITS = 1e-8
"""How far a fitted curve may stray from the true one, mm."""
SAME = 1e-11
"""Rounds whose heights and radii differ by less, mm, are one."""
LEVEL = 1e-10
STEEPEST = 1e3
"""A line flatter than this many mm out for each mm up meets a round in a curve that is fitted."""
EVEN = 1e-12


@dataclass(frozen=True)
class Curve:
    """A curve in space from one parameter to another; place: the (station, d, h) (n, 3) at parameters (n,)."""

    shape: Any
    first: float
    last: float
    place: Callable[[Floats], Floats]
    off: float = 0.0


@dataclass(frozen=True)
class Sheet:
    """A surface of the solid.

    coordinates: its own (n, 2) for (station, d, h) (n, 3); None on a plane, which needs none. reach (2,): at most so
    many mm for each unit of them. inward: whether the surface's own normal looks into the wood.
    """

    surface: Any
    coordinates: Callable[[Floats], Floats] | None = None
    reach: tuple[float, float] = (1.0, 1.0)
    inward: bool = False


@dataclass(frozen=True)
class End:
    """One end: 0 is the beginning. at: its joint's station, mm."""

    number: int
    at: float
    cut: Faced

    def place(self, d: float, h: float, above: bool) -> Floats:
        """Where a profile point stops, as (station, d, h)."""
        station = self.cut.stations(np.array([d]), np.array([h]), "above" if above else "below")[0]
        return np.array([self.at + station, d, h])

    @property
    def look(self) -> float:
        """+1 where the cap looks along the travel."""
        return 1.0 if self.number else -1.0


def in_space(frame: Frame, places: Floats) -> Floats:
    """The points (n, 3) of (station, d, h) (n, 3)."""
    return frame.points(places[:, 0], places[:, 1], places[:, 2])


def line_between(frame: Frame, start: Floats, end: Floats) -> Curve:
    """The line between two places (3,)."""
    shape, first, last = curves.line(*in_space(frame, np.array([start, end])))
    return Curve(shape, first, last, lambda t: start + np.outer(t / last, end - start))


def _ellipse(frame: Frame, center: Floats, across: Floats, up: Floats, first: float, last: float) -> Curve:
    """center + across cos(t) + up sin(t), from one angle to another, either way."""
    turn = math.copysign(1.0, last - first)
    up = turn * up
    shift = 0.5 * math.atan2(2 * float(across @ up), float(across @ across - up @ up))
    cos, sin = math.cos(shift), math.sin(shift)
    major, minor = cos * across + sin * up, cos * up - sin * across
    minor *= min(1.0, float(np.linalg.norm(major) / np.linalg.norm(minor)))  # a circle's, but for rounding
    begin = (turn * first - shift) % (2 * math.pi)
    axes = frame.axes
    shape = curves.ellipse(in_space(frame, center[None])[0], major @ axes, minor @ axes)

    def place(t: Floats) -> Floats:
        found: Floats = center + np.outer(np.cos(t + shift), across) + np.outer(np.sin(t + shift), up)
        return found

    return Curve(shape, begin, begin + abs(last - first), place)


def cut_curve(frame: Frame, end: End, edge: Edge) -> Curve:
    """The curve in which an end cuts off what an edge of the section sweeps; the edge lies between two breaks."""
    cut, (d0, h0), (d1, h1) = end.cut, edge.start, edge.end
    face = cut.face.edge_at((h0 + h1) / 2) if not cut.is_plane else None
    a, b, c = cut.per_face, cut.per_out, cut.per_up
    # Where the face is a line, f = level + slope h.
    level, slope = 0.0, 0.0
    if isinstance(face, Line):
        (f0, g0), (f1, g1) = face.start, face.end
        slope = (f1 - f0) / (g1 - g0)
        level = f0 - slope * g0
    if isinstance(edge, Arc):
        (cx, cy), r = edge.center, edge.radius
        if not isinstance(face, Arc):
            center = np.array([end.at + a * (level + slope * cy) + b * cx + c * cy, cx, cy])
            first = math.atan2(h0 - cy, d0 - cx)
            across, up = np.array([b * r, r, 0.0]), np.array([(a * slope + c) * r, 0.0, r])
            return _ellipse(frame, center, across, up, first, first + edge.sweep)
        if abs(face.center[1] - cy) < SAME and abs(face.radius - r) < SAME:
            mine, other = _hand(edge), _hand(face)
            center = np.array([end.at + a * face.center[0] + b * cx + c * cy, cx, cy])
            across, up = np.array([(a * other + b * mine) * r, mine * r, 0.0]), np.array([c * r, 0.0, r])
            return _ellipse(frame, center, across, up, *_climb(edge, (h0, h1)))
    elif abs(h1 - h0) <= LEVEL or not isinstance(face, Arc):
        side = "above" if d1 > d0 else "below"
        places = [end.place(d0, h0, side == "above"), end.place(d1, h1, side == "above")]
        if abs(h1 - h0) > LEVEL:
            places = [end.place(*at, (h1 > h0) == first) for at, first in ((edge.start, True), (edge.end, False))]
        return line_between(frame, *places)
    else:
        lean = (d1 - d0) / (h1 - h0)
        if abs(lean) < STEEPEST:
            (fx, fy), r = face.center, face.radius
            out = d0 + lean * (fy - h0)
            center = np.array([end.at + a * fx + b * out + c * fy, out, fy])
            across, up = np.array([a * _hand(face) * r, 0.0, 0.0]), np.array([(b * lean + c) * r, lean * r, r])
            return _ellipse(frame, center, across, up, *_climb(face, (h0, h1)))
    return _fitted(frame, end, edge, face)


def _fitted(frame: Frame, end: End, edge: Edge, face: Edge) -> Curve:
    """The course of an edge over a round of another kind, near enough: smooth also where a circle turns back."""
    h0, h1 = edge.start[1], edge.end[1]
    cut = end.cut

    def place(t: Floats) -> Floats:
        h = np.where(t >= math.pi, h1, h0 + (h1 - h0) * np.sin(np.minimum(t, math.pi) / 2) ** 2)
        d = out_at(edge, h)
        return np.column_stack([end.at + cut.per_face * out_at(face, h) + cut.per_out * d + cut.per_up * h, d, h])

    fitted = fit(lambda t: in_space(frame, place(t)), 0.0, math.pi, np.full(3, FITS))
    return Curve(curves.spline(fitted), 0.0, math.pi, place, float(fitted.residual.max()))


def _hand(arc: Arc) -> float:
    """+1 where a rising or falling arc is the right of its circle, -1 where it is the left."""
    return math.copysign(1.0, arc.sweep * (arc.end[1] - arc.start[1]))


def _climb(arc: Arc, heights: tuple[float, float]) -> tuple[float, float]:
    """The angles at two heights, from the right- or leftmost point of a rising or falling arc's circle, upward."""
    at = np.array(heights)
    across, up = np.abs(out_at(arc, at) - arc.center[0]), at - arc.center[1]
    first, last = np.arctan2(up, across).tolist()
    return first, last


def course_of(curve: Curve, sheet: Sheet, own: Callable[[Floats], Floats]) -> tuple[Any, float]:
    """A curve in a sheet's coordinates, and how far, mm, it strays from the true one."""
    start, middle, end = own(curve.place(np.array([curve.first, (curve.first + curve.last) / 2, curve.last])))
    along = (end - start) / (curve.last - curve.first)
    if abs(np.hypot(*along) - 1.0) < EVEN and np.abs((start + end) / 2 - middle).max() < EVEN:
        return curves.flat_line(start - curve.first * along, along), 0.0
    reach = np.array(sheet.reach)
    fitted = fit(lambda t: own(curve.place(t)), curve.first, curve.last, FITS / reach)
    return curves.spline(fitted), float((fitted.residual * reach).max())


def plane(frame: Frame, place: Floats, normal: Floats) -> Sheet:
    """A plane through a place (3,), looking along a normal (3,) out of the wood."""
    from OCP.Geom import Geom_Plane

    return Sheet(Geom_Plane(curves.point(in_space(frame, place[None])[0]), curves.direction(normal @ frame.axes)))


def side_sheet(frame: Frame, edge: Edge) -> Sheet:
    """What an edge of the profile sweeps along the piece."""
    if isinstance(edge, Arc):
        travel, axes = np.array([1.0, 0.0, 0.0]), (np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0]))
        center = np.array([0.0, *edge.center])
        middle = np.array(edge.via) - np.array(edge.center)

        def across(places: Floats) -> tuple[Floats, Floats]:
            return places[:, 1] - center[1], places[:, 2] - center[2]

        inward = edge.sweep < 0
        return _cylinder(frame, edge.radius, center, travel, axes, middle, across, inward)
    out, up = edge.end[1] - edge.start[1], edge.start[0] - edge.end[0]
    return plane(frame, np.array([0.0, *edge.start]), np.array([0.0, out, up]))


def plane_sheet(frame: Frame, end: End, edge: Edge | None, low: float) -> Sheet:
    """A plane cut, or what a line of the face is in a cut (None: the wall)."""
    at = end.place(0.0, low, True)
    normal = end.cut.normals(np.array([low]), "above")[0]
    if edge is None:
        at[0] = end.at + end.cut.per_up * low
        normal = np.array([1.0, -end.cut.per_out, -end.cut.per_up])
    return plane(frame, at, end.look * normal)


def cap_sheet(frame: Frame, end: End, edge: Edge | None, low: float) -> Sheet:
    """What an edge of the face is in a cut, seen from the piece that it cuts off."""
    if not isinstance(edge, Arc):
        return plane_sheet(frame, end, edge, low)
    cut = end.cut
    if abs(cut.per_face**2 - 1.0 - cut.per_out**2) > 1e-9 or cut.per_up:
        raise ValueError("a round of this face is no round of the cut")
    ruling = np.array([cut.per_out, 1.0, 0.0]) / abs(cut.per_face)
    out = np.array([cut.per_face, 0.0, 0.0])
    out = out - (out @ ruling) * ruling
    (cx, cy), turn = edge.center, math.copysign(1.0, cut.per_face)
    center = np.array([end.at + cut.per_face * cx, 0.0, cy])
    middle = np.array(edge.via) - np.array(edge.center)

    def across(places: Floats) -> tuple[Floats, Floats]:
        f = (places[:, 0] - end.at - cut.per_out * places[:, 1]) / cut.per_face
        return f - cx, places[:, 2] - cy

    # Out of the coped wood is into the other piece: its round is hollow there. The wood of a self-return is its own.
    outward = edge.sweep * turn * end.look > 0
    return _cylinder(frame, edge.radius, center, ruling, (out, np.array([0.0, 0.0, 1.0])), middle, across, not outward)


def _cylinder(
    frame: Frame,
    radius: float,
    center: Floats,
    axis: Floats,
    axes: tuple[Floats, Floats],
    middle: Floats,
    across: Callable[[Floats], tuple[Floats, Floats]],
    inward: bool,
) -> Sheet:
    """A round of a section carried along an axis; all in (station, d, h).

    axes: where the section's two directions lie; middle (2,): the way from the round's center to its own middle. The
    surface begins opposite to that, so that its angles run round pi and never past 0.
    """
    from OCP.Geom import Geom_CylindricalSurface
    from OCP.gp import gp_Ax3

    back = -(middle[0] * axes[0] + middle[1] * axes[1]) / np.linalg.norm(middle)
    space = frame.axes
    along, x = axis @ space, back @ space
    y = np.cross(along, x)
    out, up = axes[0] @ space, axes[1] @ space
    at = curves.point(in_space(frame, center[None])[0])
    surface = Geom_CylindricalSurface(gp_Ax3(at, curves.direction(along), curves.direction(x)), radius)

    def coordinates(places: Floats) -> Floats:
        one, other = across(places)
        angle = np.arctan2(-(one * (out @ y) + other * (up @ y)), -(one * (out @ x) + other * (up @ x))) + math.pi
        return np.column_stack([angle, (places - center) @ axis])

    return Sheet(surface, coordinates, (radius, 1.0), inward)
