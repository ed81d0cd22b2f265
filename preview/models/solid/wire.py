"""The pen that draws a profile as the CAD kernel's own wire: exact lines and arcs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from preview.profiles import Point

Vec3 = tuple[float, float, float]


class Wire:
    """Draws a section in space; `place` says where a profile point (d, h) stands, as (x, y, z) in mm.

    After `close`, `shape` is the closed cadquery.Wire; iterated, it gives its edges in the order and the direction
    drawn.
    """

    def __init__(self, place: Callable[[float, float], Vec3]) -> None:
        self.shape: Any = None
        self._place = place
        self._at: Vec3 = (0.0, 0.0, 0.0)
        self._edges: list[Any] = []

    def start(self, at: Point) -> None:
        self._at = self._place(*at)

    def line(self, to: Point) -> None:
        import cadquery

        end = self._place(*to)
        self._edges.append(cadquery.Edge.makeLine(self._at, end))
        self._at = end

    def arc(self, via: Point, to: Point) -> None:
        import cadquery

        end = self._place(*to)
        self._edges.append(cadquery.Edge.makeThreePointArc(self._at, self._place(*via), end))
        self._at = end

    def close(self) -> None:
        import cadquery

        self.shape = cadquery.Wire.assembleEdges(self._edges)
        if not self.shape.IsClosed():
            raise ValueError("the section's outline does not close")
