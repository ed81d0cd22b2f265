"""What a turner sets calipers by: every fillet, arris, crest and hollow of a profile as a diameter at a height."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from preview.profiles import Arc, Edge, Line, Point, Profile, measure, projection_at

Mark = Literal["fillet", "arris", "inside corner", "crest", "hollow", "reverse", "foot", "top"]
NEAR = 1e-6
"""How far above and below a point, mm, the section is looked at, to see whether the point lies on the face."""
SEEN = 0.01
"""A point this little, mm, behind the face there still lies on it."""
SMOOTH = math.radians(2)
"""Edges that meet at less than this turn into one another without an arris."""
SAME = 1e-7
EVEN = 0.05
"""A crest or a hollow this little, mm, past a fillet that it runs into is not sized by itself."""


@dataclass(frozen=True)
class Landmark:
    """One place on the face to size, mm.

    low, high: over which heights from the foot (equal at a point). diameter: finished. depth: how far in from the part
    of the face that stands out furthest, on the radius. d: the projection. mark: a fillet (a flat band), an arris, the
    inside corner of a ledge, the crest of a round, the bottom of a hollow, where the two meet, or where the face ends
    below or above.
    """

    mark: Mark
    low: float
    high: float
    d: float
    diameter: float
    depth: float


def landmarks(profile: Profile, back_radius: float, wraps: bool) -> tuple[Landmark, ...]:
    """The landmarks of a face that runs round a curve, from the foot up.

    profile: placed, (d, h) in mm. back_radius: of the back line, mm. wraps: the face is on the outside of the round.
    """
    size = measure(profile)

    def landmark(mark: Mark, d: float, low: float, high: float) -> Landmark:
        radius = back_radius + d if wraps else back_radius - d
        return Landmark(mark, low - size.h_min, high - size.h_min, d, 2 * radius, size.d_max - d)

    fillets = [
        (edge.start[0], *sorted((edge.start[1], edge.end[1])))
        for edge in profile.edges
        if isinstance(edge, Line)
        and abs(edge.start[0] - edge.end[0]) < SAME
        and _on_face(profile, (edge.start[0], (edge.start[1] + edge.end[1]) / 2), size.h_min, size.h_max)
    ]
    found = [landmark("fillet", *fillet) for fillet in fillets]
    taken: list[Point] = []
    for mark, (d, h) in [*_crests(profile), *_corners(profile), *_ends(profile)]:
        near = EVEN if mark in ("crest", "hollow") else SAME
        beside = 20 * EVEN if mark in ("crest", "hollow") else SAME
        on_fillet = any(abs(d - at) < near and low - beside <= h <= high + beside for at, low, high in fillets)
        if on_fillet or any(math.dist((d, h), each) < SAME for each in taken):
            continue
        if _on_face(profile, (d, h), size.h_min, size.h_max):
            taken.append((d, h))
            found.append(landmark(mark, d, max(h, size.h_min), max(h, size.h_min)))
    return tuple(sorted(found, key=lambda each: (each.low, each.high, -each.d)))


def _on_face(profile: Profile, at: Point, least: float, most: float) -> bool:
    """Whether a point can be seen from the room, just above it or just below."""
    d, h = at
    return any(d >= projection_at(profile, level)[1] - SEEN for level in (h - NEAR, h + NEAR) if least < level < most)


def _crests(profile: Profile) -> Iterator[tuple[Mark, Point]]:
    """Where arcs stand out furthest or go in deepest, between their ends."""
    for edge in profile.edges:
        if isinstance(edge, Arc):
            (cx, cy), radius = edge.center, edge.radius
            at = (cx + math.copysign(radius, edge.sweep), cy)
            if SAME < edge.angle_to(at) < abs(edge.sweep) - SAME:
                yield _turning(edge), at


def _corners(profile: Profile) -> Iterator[tuple[Mark, Point]]:
    """Where edges meet: at an arris, in an inside corner, where a round turns into a hollow, or at its crest."""
    edges = profile.edges
    for before, after in zip(edges, (*edges[1:], edges[0]), strict=True):
        (ax, ay), (bx, by) = _direction(before, 1.0), _direction(after, 0.0)
        turn = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
        if abs(turn) >= SMOOTH:
            yield ("arris" if turn > 0 else "inside corner"), after.start
        elif isinstance(before, Arc) and isinstance(after, Arc):
            if before.sweep * after.sweep < 0:
                yield "reverse", after.start
            elif abs(bx) < SAME:
                yield _turning(after), after.start


def _turning(arc: Arc) -> Mark:
    return "crest" if arc.sweep > 0 else "hollow"


def _ends(profile: Profile) -> Iterator[tuple[Mark, Point]]:
    """Where the face begins at the foot and ends at the top."""
    heights = [edge.start[1] for edge in profile.edges]
    ends: tuple[tuple[Mark, float], ...] = (("foot", min(heights)), ("top", max(heights)))
    for mark, level in ends:
        yield mark, (max(edge.start[0] for edge in profile.edges if abs(edge.start[1] - level) < SAME), level)


def _direction(edge: Edge, t: float) -> Point:
    x, y = edge.tangent([t])[0].tolist()
    return (x, y)
