"""Regular polygons: what a ring of staves or of segments is before it is made round.

   _________          side: the long face of a stave
  /    |    \\         flat: from the center square to a side (half the size across flats)
 /     | flat         point: from the center to a corner (half the size across points)
(      +     )        the largest round that can be turned has the radius `flat`;
 \\      `.  /         the lathe has to swing `point`
  \\____ point
"""

from __future__ import annotations

import math


def edge_angle(sides: int) -> float:
    """The angle, radians, at which each edge of a stave or each end of a segment is cut from square: 180° / sides."""
    return math.pi / sides


def side_of(flat: float, sides: int) -> float:
    """The length of a side whose middle is `flat` from the center.

    >>> round(side_of(50.0, 6), 3)
    57.735
    """
    return 2.0 * flat * math.tan(edge_angle(sides))


def point_of(flat: float, sides: int) -> float:
    """How far the corners are from the center.

    >>> round(point_of(1.0, 8), 4)
    1.0824
    """
    return flat / math.cos(edge_angle(sides))


def flat_of(point: float, sides: int) -> float:
    """How far the middles of the sides are from the center, of the polygon whose corners are `point` from it."""
    return point * math.cos(edge_angle(sides))


def sagitta(radius: float, sweep: float) -> float:
    """The rise of an arc over its chord; of more than a half turn, that of the half.

    >>> round(sagitta(60.0, 2 * math.acos(52 / 60)), 9)
    8.0
    """
    return radius * (1.0 - math.cos(min(sweep, math.pi) / 2))


def chord(radius: float, sweep: float) -> float:
    """The straight distance between the ends of an arc; of more than a half turn, the diameter."""
    return 2.0 * radius * math.sin(min(sweep, math.pi) / 2)
