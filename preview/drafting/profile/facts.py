"""What a shop asks of a profile: its edges from the foot up, each with its name in the trade's words, and its sizes."""

from __future__ import annotations

import math
from dataclasses import dataclass

from preview.profiles import Arc, Edge, Line, Point, Profile

LEVEL = 1e-6
"""mm; a line that rises no more is level."""
HALF = math.radians(0.5)
"""An arc within this of half a turn is a half round."""


@dataclass(frozen=True)
class EdgeFacts:
    """One edge, travelled from the foot up the face, over the top and down the back; mm and radians.

    kind: foot, fillet, ledge, bevel, bead (a half round), round, hollow (a half round the other way), cove, top,
    back, back bevel. rise: negative where it goes down; out: negative where it goes in. radius, sweep: of an arc,
    the sweep always positive; None for a line.
    """

    kind: str
    rise: float
    out: float
    length: float
    radius: float | None
    sweep: float | None


@dataclass(frozen=True)
class Curve:
    """Arcs dimensioned as one: a single arc, or the two of an ogee, which are equal and flow into each other."""

    arcs: tuple[Arc, ...]

    @property
    def radius(self) -> float:
        """The radius of each, mm."""
        return self.arcs[0].radius


def edge_facts(profile: Profile) -> tuple[EdgeFacts, ...]:
    """The facts of every edge, in the profile's own order: the foot first, the back last."""
    kinds = _kinds(profile)
    return tuple(
        EdgeFacts(
            kind,
            edge.end[1] - edge.start[1],
            edge.end[0] - edge.start[0],
            edge.length,
            edge.radius if isinstance(edge, Arc) else None,
            abs(edge.sweep) if isinstance(edge, Arc) else None,
        )
        for kind, edge in zip(kinds, profile.edges, strict=True)
    )


def curves_of(profile: Profile) -> tuple[Curve, ...]:
    """The arcs of a profile from the foot up, equal ones that make an ogee together."""
    found: list[Curve] = []
    for before, edge in zip((profile.edges[-1], *profile.edges), profile.edges, strict=False):
        if not isinstance(edge, Arc):
            continue
        if found and found[-1].arcs[-1] is before and len(found[-1].arcs) == 1 and flows(before, edge):
            found[-1] = Curve((found[-1].arcs[0], edge))
        else:
            found.append(Curve((edge,)))
    return tuple(found)


def flows(before: Edge, after: Edge) -> bool:
    """Whether two edges are the arcs of an ogee: equal, turning opposite ways, tangent where they meet."""
    if not isinstance(before, Arc) or not isinstance(after, Arc) or before.sweep * after.sweep > 0:
        return False
    if abs(before.radius - after.radius) > LEVEL * max(1.0, before.radius):
        return False
    # Tangent where they meet: the centers lie opposite each other, two radii apart.
    return abs(math.dist(before.center, after.center) - 2 * before.radius) < 1e-4 * before.radius


def corners(profile: Profile) -> tuple[Point, ...]:
    """The ends of edges that a drawing dimensions: all but the middle of an ogee."""
    before = (profile.edges[-1], *profile.edges[:-1])
    return tuple(edge.start for last, edge in zip(before, profile.edges, strict=True) if not flows(last, edge))


def _kinds(profile: Profile) -> list[str]:
    names = []
    behind = _first_behind(profile)
    for i, edge in enumerate(profile.edges):
        if isinstance(edge, Arc):
            half = abs(abs(edge.sweep) - math.pi) < HALF
            names.append(("bead" if half else "round") if edge.sweep > 0 else ("hollow" if half else "cove"))
        elif i == len(profile.edges) - 1:
            names.append("back")
        else:
            names.append(_line_kind(edge, i == 0, i >= behind))
    return names


def _first_behind(profile: Profile) -> int:
    """The first of the lines that lead from the top of the face over and down the back, none of them up or out."""
    first = len(profile.edges)
    while first and isinstance(line := profile.edges[first - 1], Line):
        rise, out = line.end[1] - line.start[1], line.end[0] - line.start[0]
        if rise > LEVEL or out > LEVEL:
            break
        first -= 1
    return first


def _line_kind(line: Line, first: bool, behind: bool) -> str:
    rise, out = line.end[1] - line.start[1], line.end[0] - line.start[0]
    if abs(rise) <= LEVEL:
        return "foot" if first else "top" if behind and out < 0 else "ledge"
    if behind:
        return "back" if abs(out) <= LEVEL else "back bevel"
    return "fillet" if abs(out) <= LEVEL else "bevel"
