"""Pieces as they are seen from above, or on the wall that they lie on: closed outlines in the plan of their run."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.joinery import Piece, into_room
from preview.profiles import Point, flatten, measure
from preview.runs import Element, Stand

STEP = math.radians(3)
"""How far a curve turns from one drawn point to the next, at most."""
ACROSS = 9
"""Points of a cut that is not straight."""
CHORD = 0.1
ALIKE = 0.02
"""mm; outlines that differ by less are one."""
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Footprint:
    """A piece seen along the upright of its run's plan: its name, where that plan lies, and points (n, 2), mm."""

    piece: str
    stand: Stand
    points: tuple[Point, ...]


def footprints(built: Built) -> list[Footprint]:
    """All pieces of a version."""
    found = []
    for line in built.lines:
        for piece in line.pieces:
            points = _upright(piece, line.run.stand) if piece.stand != line.run.stand else _along(piece)
            found.append(Footprint(piece.name, line.run.stand, tuple(points)))
    return found


def sorted_out(
    before: Sequence[Footprint], after: Sequence[Footprint]
) -> tuple[list[Footprint], list[Footprint], list[Footprint]]:
    """What is in both, what only in the first, and what only in the second."""
    waiting: dict[tuple[Stand, int, int], list[Footprint]] = {}
    for one in before:
        waiting.setdefault(_bucket(one), []).append(one)
    same: list[Footprint] = []
    new: list[Footprint] = []
    for other in after:
        found = next((one for key in _near(other) for one in waiting.get(key, ()) if _alike(one, other)), None)
        if found is None:
            new.append(other)
        else:
            same.append(other)
            waiting[_bucket(found)].remove(found)
    left = {id(one) for row in waiting.values() for one in row}
    return same, [one for one in before if id(one) in left], new


def side(element: Element, hand: int, station: float, out: float) -> Point:
    """The plan point that lies `out` mm into the room at a station of an element."""
    x, y = element.point(station)
    nx, ny = into_room(element.tangent_at(station), hand)
    return (x + out * nx, y + out * ny)


def _along(piece: Piece) -> Iterator[Point]:
    size = measure(piece.profile)
    count = 2 if piece.begin.is_plane and piece.end.is_plane else ACROSS
    d = np.linspace(size.d_min, size.d_max, count)
    starts, stops = piece.stations(d, np.full(count, size.h_min) if piece.is_faced else None)
    for k in range(count):
        yield side(piece.element, piece.hand, float(starts[k]), float(d[k]))
    yield from _between(piece, float(starts[-1]), float(stops[-1]), size.d_max)
    for k in reversed(range(count)):
        yield side(piece.element, piece.hand, float(stops[k]), float(d[k]))
    yield from _between(piece, float(stops[0]), float(starts[0]), size.d_min)


def _between(piece: Piece, start: float, stop: float, out: float) -> Iterator[Point]:
    """The points between two stations of a curve; none on a straight."""
    parts = math.ceil(abs(stop - start) * abs(piece.curvature) / STEP)
    for k in range(1, parts):
        yield side(piece.element, piece.hand, start + (stop - start) * k / parts, out)


def _upright(piece: Piece, stand: Stand) -> Iterator[Point]:
    """A corner block, whose section is its outline in the plan."""
    away = np.array(piece.stand.origin) - np.array(stand.origin)
    x, y = float(away @ np.array(stand.x)), float(away @ np.array(stand.y))
    for d, h in flatten(piece.profile, CHORD).points.tolist():
        yield (x + d, y + h)


def _bucket(one: Footprint) -> tuple[Stand, int, int]:
    x, y = one.points[0]
    return (one.stand, round(x), round(y))


def _near(one: Footprint) -> Iterator[tuple[Stand, int, int]]:
    stand, x, y = _bucket(one)
    for across in (0, -1, 1):
        for up in (0, -1, 1):
            yield (stand, x + across, y + up)


def _alike(one: Footprint, other: Footprint) -> bool:
    if len(one.points) != len(other.points):
        return False
    away: Floats = np.abs(np.array(one.points) - np.array(other.points))
    return float(away.max()) <= ALIKE
