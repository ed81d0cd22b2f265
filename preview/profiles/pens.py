"""The pen: how a profile is drawn on any surface, be it a mesh, a CAD wire, a picture or a sheet."""

from __future__ import annotations

from typing import Protocol

Point = tuple[float, float]
"""A point of a profile, (d, h) in mm: d = projection out from the back line, h = height."""


class Pen(Protocol):
    """Receives one closed outline, in mm, counter-clockwise.

    One `start`, then one `line` or `arc` for each edge, then one `close`. The last edge is drawn too, and
    ends on the start bit for bit, so `close` never adds a length.
    """

    def start(self, at: Point) -> None:
        """Put the pen down."""

    def line(self, to: Point) -> None:
        """Draw straight from where the pen is."""

    def arc(self, via: Point, to: Point) -> None:
        """Draw the circular arc from where the pen is, through `via` (its middle), to `to`."""

    def close(self) -> None:
        """Lift the pen; the outline is complete."""
