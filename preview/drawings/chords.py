"""Lines and arcs said by their chord and the rise over it: how far points are off them, where they head, and how
both change with the ends and the rise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preview.drawings.curves import Floats
from preview.drawings.segments import Ints

LEAST_CHORD = 1e-9
"""A shorter chord, mm, is taken as this long, so that nothing is divided by nothing."""


@dataclass(frozen=True)
class Chords:
    """Edges of a chain, each a line (rise 0) or an arc whose top is `rise` mm to the right of its chord's middle.

    own: (n, 5), of each edge x, y of its start, its rise, x, y of its end, mm; derivatives are in this order.
    """

    own: Floats
    length: Floats
    along: Floats
    right: Floats

    def off(self, points: Floats, counts: Ints) -> Floats:
        """The signed distances (m,) of points (m, 2), mm, from the edge's line or circle: + to the right of a line, and
        on the outside of an arc that rises to the right. counts: (n,), the points of each edge, one edge after another.
        """
        u, q, bend = self._from_top(points, counts)
        out = bend * q + 1
        return np.asarray((u * u * bend + q * (out + 1)) / (1 + np.sqrt(bend * bend * u * u + out * out)))

    def pulls(self, points: Floats, counts: Ints) -> tuple[Floats, Floats]:
        """The products of the distances' derivatives with each other, summed over the points of each edge, (n, 5, 5),
        and with the distances, (n, 5): what Gauss's normal equations are made of."""
        u, q, bend = self._from_top(points, counts)
        from_top, out = u * u + q * q, bend * q + 1
        away = np.maximum(np.sqrt(bend * bend * u * u + out * out), 1e-12)  # from the center, as a part of the radius
        off = (bend * from_top + 2 * q) / (1 + away)
        by_u, by_q = bend * u / away, out / away
        by_bend = (from_top - off * (by_u * u + by_q * q)) / (1 + away)
        rows = np.stack([by_u, by_q, by_bend, by_u * q - by_q * u, off])
        ends = np.cumsum(counts)
        sums = np.array([part @ part.T for part in np.split(rows, ends[:-1], axis=1)])
        inner = self._inner()
        turned = np.swapaxes(inner, 1, 2)
        return turned @ sums[:, :4, :4] @ inner, (turned @ sums[:, :4, 4:])[:, :, 0]

    def _inner(self) -> Floats:
        """How the ends and the rise (n, 4, 5) change where a point lies from the arc's top, along the chord and across
        it, the curvature, and the turn of the chord times one over its length."""
        rise, square = self.own[:, 2], self.length**2 / 4 + self.own[:, 2] ** 2
        inner = np.zeros((len(self.own), 4, 5))
        # Moving an end moves the middle by half, makes the chord longer, and turns it about the middle.
        turn = self.right / self.length[:, None]
        for first, sign in ((0, -1.0), (3, 1.0)):
            both = slice(first, first + 2)
            inner[:, 0, both] = -self.along / 2 + sign * rise[:, None] * turn
            inner[:, 1, both] = -self.right / 2
            inner[:, 2, both] = -sign * (rise * self.length / square**2)[:, None] * self.along
            inner[:, 3, both] = sign * turn
        inner[:, 1, 2] = -1.0
        inner[:, 2, 2] = 2 * (self.length**2 / 4 - rise * rise) / square**2
        return inner

    def _from_top(self, points: Floats, counts: Ints) -> tuple[Floats, Floats, Floats]:
        """Of points and the arcs they lie by: how far along the chord from its middle, how far past the arc's top,
        mm, and the arc's curvature, 2 rise / (length²/4 + rise²), with which a line is an arc like others."""
        rise = self.own[:, 2]
        top = (self.own[:, :2] + self.own[:, 3:]) / 2 + rise[:, None] * self.right
        bend = 2 * rise / (self.length**2 / 4 + rise * rise)
        of_edges = np.column_stack([top, self.along, self.right, bend]).T
        top_x, top_y, along_x, along_y, right_x, right_y, bend = np.repeat(of_edges, counts, axis=1)
        x, y = points[:, 0] - top_x, points[:, 1] - top_y
        return x * along_x + y * along_y, x * right_x + y * right_y, bend

    def heading(self, end: float) -> tuple[Floats, Floats]:
        """The directions of travel (n,), radians, at the starts (-1) or the ends (1), and their derivatives (n, 5)."""
        rise = self.own[:, 2]
        heading = np.arctan2(self.along[:, 1], self.along[:, 0]) + end * 2 * np.arctan2(2 * rise, self.length)
        square = self.length**2 + 4 * rise * rise
        turned = -self.right / self.length[:, None]
        longer = (-4 * end * rise / square)[:, None] * self.along
        return heading, np.column_stack([-turned - longer, 4 * end * self.length / square, turned + longer])


def chords(own: Floats) -> Chords:
    """The edges by their numbers (n, 5): see Chords."""
    along = own[:, 3:] - own[:, :2]
    length = np.maximum(np.hypot(along[:, 0], along[:, 1]), LEAST_CHORD)
    along = along / length[:, None]
    return Chords(own, length, along, np.column_stack([along[:, 1], -along[:, 0]]))
