"""How a molding sits on the wall: on its back, on its foot as a casing does, or sprung between wall and ceiling."""

from __future__ import annotations

import math
from collections.abc import Sequence

from preview.joinery import Piece
from preview.profiles import Edge, Line, Profile, measure

ON_A_FLAT = 1e-3
"""A line this near, mm, to the wall or to the ceiling lies on it."""


def spring_of(profile: Profile) -> float | None:
    """The angle between a sprung profile's back and the wall, radians; None when it is not sprung.

    d = least
    | __ ceiling flat ___ h = most
    |  .              |
    |   .   wood    ,'       sprung: a flat on the wall, a flat on the ceiling, and between the two a straight
    |s / . slanted ,         back, longer than either flat. s is the angle returned.
    | /  back   .'
    |/       ,'
    |wall  ,'
    |flat |
    """
    edges = profile.edges
    back = _longest([e for e in edges if isinstance(e, Line) and _is_slanted_back(e)])
    if back is None:
        return None
    size = measure(profile)
    on_wall = [e for e in edges if isinstance(e, Line) and _lies(e, 0, size.d_min)]
    on_ceiling = [e for e in edges if isinstance(e, Line) and _lies(e, 1, size.h_max)]
    wall, ceiling = _longest(on_wall), _longest(on_ceiling)
    if wall is None or ceiling is None or back.length <= max(wall.length, ceiling.length):
        return None
    (top_d, top_h), (low_d, low_h) = back.start, back.end
    return math.atan2(top_d - low_d, top_h - low_h)


def lies_on_wall(piece: Piece) -> bool:
    """Whether the run's plan is the face of a wall, as a casing's is: its boards lie flat on it."""
    return abs(piece.stand.z[2]) < 0.5


def _lies(edge: Edge, axis: int, at: float) -> bool:
    return max(abs(edge.start[axis] - at), abs(edge.end[axis] - at)) <= ON_A_FLAT


def _is_slanted_back(line: Line) -> bool:
    """Whether the wood's outside is toward the wall and the ceiling; the outline runs with the wood on its left."""
    return line.end[0] < line.start[0] - ON_A_FLAT and line.end[1] < line.start[1] - ON_A_FLAT


def _longest(lines: Sequence[Line]) -> Line | None:
    return max(lines, key=lambda line: line.length, default=None)
