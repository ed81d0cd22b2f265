"""The pen that draws a profile as the CAD kernel's own wire: exact lines and arcs."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np

from preview.models.solid.curves import ellipse_through
from preview.profiles import Arc, Point, arc_through

Vec3 = tuple[float, float, float]


class Wire:
    """Draws a section in space; `place` says where a profile point (d, h) stands, as (x, y, z) in mm.

    `place` keeps straight lines straight. Where it does not keep circles round, `is_sheared` has arcs drawn as
    ellipses. After `close`, `shape` is the closed cadquery.Wire; iterated, it gives its edges in the order and the
    direction drawn.
    """

    def __init__(self, place: Callable[[float, float], Vec3], is_sheared: bool = False) -> None:
        self.shape: Any = None
        self._place = place
        self._is_sheared = is_sheared
        self._from: Point = (0.0, 0.0)
        self._at: Vec3 = (0.0, 0.0, 0.0)
        self._edges: list[Any] = []

    @property
    def edges(self) -> list[Any]:
        """The edges (cadquery.Edge), in the order and the direction drawn."""
        return self._edges

    def start(self, at: Point) -> None:
        self._from, self._at = at, self._place(*at)

    def line(self, to: Point) -> None:
        import cadquery

        end = self._place(*to)
        self._edges.append(cadquery.Edge.makeLine(self._at, end))
        self._from, self._at = to, end

    def arc(self, via: Point, to: Point) -> None:
        import cadquery

        end = self._place(*to)
        if self._is_sheared:
            self._edges.append(self._ellipse(arc_through(self._from, via, to)))
        else:
            self._edges.append(cadquery.Edge.makeThreePointArc(self._at, self._place(*via), end))
        self._from, self._at = to, end

    def _ellipse(self, arc: Arc) -> Any:
        """The arc of an ellipse that an arc of the profile becomes."""
        import cadquery
        from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge

        center, out, up = (
            np.array(self._place(*at))
            for at in (arc.center, _beside(arc.center, 1.0, 0.0), _beside(arc.center, 0.0, 1.0))
        )
        turn = math.copysign(1.0, arc.sweep)
        u, v = arc.radius * (out - center), turn * arc.radius * (up - center)
        shape, shift = ellipse_through(center, u, v)
        d, h = arc.start[0] - arc.center[0], arc.start[1] - arc.center[1]
        first = (turn * math.atan2(h, d) - shift) % (2 * math.pi)
        return cadquery.Edge(BRepBuilderAPI_MakeEdge(shape, first, first + abs(arc.sweep)).Edge())

    def close(self) -> None:
        import cadquery

        self.shape = cadquery.Wire.assembleEdges(self._edges)
        if not self.shape.IsClosed():
            raise ValueError("the section's outline does not close")


def _beside(at: Point, d: float, h: float) -> Point:
    return (at[0] + d, at[1] + h)
