"""Eased arrises: every sharp outside arris rounded with an arc tangent to both of its edges."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from preview.errors import PreviewError
from preview.profiles.edges import Arc, Edge, Line
from preview.profiles.outline import ARRIS
from preview.profiles.pens import Point
from preview.profiles.profile import Profile, make_profile
from preview.profiles.splitting import part_of
from preview.units import Unit, show, shown_step

PICKED = 0.5
"""An arris asked for by a point, mm, is no further from it than this."""
ROOM = 1e-9
"""How far, mm, two eased arrises may run into each other by rounding."""


@dataclass(frozen=True)
class _Round:
    """The arc that eases one arris, and how far from it, along each edge, it starts and ends, mm."""

    arc: Arc
    before: float
    after: float


def arrises(profile: Profile) -> tuple[Point, ...]:
    """The sharp outside arrises of a profile that are not on the wall, d = 0, in the order of its edges."""
    return tuple(profile.edges[i].start for i in _sharp(profile))


def ease(profile: Profile, radius: float, at: Sequence[Point] | None = None, *, unit: Unit = "mm") -> Profile:
    """The profile with its outside arrises rounded to `radius` mm: those `at` points, or all not on the wall.

    The arcs are exact and tangent to the lines and arcs they join. Raises PreviewError, with the numbers,
    where no such arc fits: an edge too short for it, or a round too small to hold it.
    """
    if not math.isfinite(radius) or radius <= 0.0:
        raise PreviewError("", None, f"an arris cannot be eased to {radius:g} mm", "give a radius above 0")
    edges = profile.edges
    chosen = _sharp(profile)
    if at is not None:
        chosen = sorted({_picked(profile, chosen, point, unit) for point in at})
    rounds = {i: _round(edges[i - 1], edges[i], radius, unit) for i in chosen}
    eased: list[Edge] = []
    for i, edge in enumerate(edges):
        start, end = rounds.get(i), rounds.get((i + 1) % len(edges))
        taken = (start.after if start else 0.0) + (end.before if end else 0.0)
        if taken > edge.length + ROOM:
            count = "easing at its ends takes" if start and end else "easing takes"
            raise PreviewError(
                "",
                None,
                f"the edge from {_at(edge.start, unit)} to {_at(edge.end, unit)} is {show(edge.length, unit)} long, "
                f"and {count} {show(taken, unit)} of it",
                _smaller(radius * edge.length / taken, unit) if isinstance(edge, Line) else "use a smaller radius",
            )
        if start:
            eased.append(start.arc)
        if edge.length - taken > ROOM:
            first = start.arc.end if start else edge.start
            last = end.arc.start if end else edge.end
            eased.append(edge if not start and not end else part_of(edge, first, last))
    # An edge used up wholly leaves its two arcs end to end, within rounding.
    for i, edge in enumerate(eased):
        before = eased[i - 1].end
        if edge.start != before:
            eased[i] = (
                Line(before, edge.end) if isinstance(edge, Line) else Arc(before, edge.end, edge.center, edge.sweep)
            )
    return make_profile(profile.name, eased, unit=unit)


def _sharp(profile: Profile) -> list[int]:
    """The numbers of the edges that start at a sharp outside arris which is not on the back."""
    edges = profile.edges
    found: list[int] = []
    for i, edge in enumerate(edges):
        (ux, uy), (vx, vy) = edges[i - 1].tangent(1.0).tolist(), edge.tangent(0.0).tolist()
        turn = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
        if turn > ARRIS and edge.start[0] != 0.0:
            found.append(i)
    return found


def _picked(profile: Profile, sharp: Sequence[int], point: Point, unit: Unit) -> int:
    """The sharp arris at a point."""
    found = min(sharp, key=lambda i: math.dist(profile.edges[i].start, point), default=None)
    if found is None or math.dist(profile.edges[found].start, point) > PICKED:
        near = "" if found is None else f"; the nearest is {_at(profile.edges[found].start, unit)}"
        raise PreviewError(
            "",
            None,
            f"the profile has no outside arris {_at(point, unit)}{near}",
            "name an arris that is there",
        )
    return found


def _round(before: Edge, after: Edge, radius: float, unit: Unit) -> _Round:
    """The arc of a radius tangent to two edges, inside the wood at the arris between them."""
    corner = after.start
    centers = [at for at in _both_away(before, after, radius, unit) if math.dist(at, corner) > 0.0]
    rounds = [found for center in centers if (found := _tangent_arc(before, after, center))]
    if not rounds:
        raise PreviewError(
            "",
            None,
            f"no arc of radius {show(radius, unit)} touches both edges of the arris {_at(corner, unit)}",
            "use a smaller radius",
        )
    return min(rounds, key=lambda found: found.before + found.after)


def _tangent_arc(before: Edge, after: Edge, center: Point) -> _Round | None:
    """The arc about a center from one edge to the next, when it lies on the edges' own side of the arris."""
    start, end = _foot(before, center), _foot(after, center)
    used = (_length_back(before, start), _length_on(after, end))
    ux, uy, vx, vy = start[0] - center[0], start[1] - center[1], end[0] - center[0], end[1] - center[1]
    sweep = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
    if sweep <= 0.0 or min(used) <= 0.0:
        return None
    return _Round(Arc(start, end, center, sweep), *used)


def _both_away(a: Edge, b: Edge, r: float, unit: Unit) -> list[Point]:
    """The points r from the lines or circles of two edges, on the side of the wood."""
    if isinstance(a, Line) and isinstance(b, Line):
        (ax, ay), (ux, uy) = _aside(a, r)
        (bx, by), (vx, vy) = _aside(b, r)
        t = ((bx - ax) * vy - (by - ay) * vx) / (ux * vy - uy * vx)
        return [(ax + t * ux, ay + t * uy)]
    if isinstance(a, Line) or isinstance(b, Line):
        line, arc = (a, b) if isinstance(a, Line) else (b, a)
        assert isinstance(line, Line)
        assert isinstance(arc, Arc)
        (x, y), (ux, uy) = _aside(line, r)
        reach = _inner(arc, r, unit)
        dx, dy = arc.center[0] - x, arc.center[1] - y
        along, aside = dx * ux + dy * uy, dy * ux - dx * uy
        half2 = (reach - aside) * (reach + aside)
        half = math.sqrt(half2) if half2 > 0.0 else math.nan
        found = [(x + s * ux, y + s * uy) for s in (along - half, along + half)]
    else:
        assert isinstance(a, Arc)
        assert isinstance(b, Arc)
        ra, rb = _inner(a, r, unit), _inner(b, r, unit)
        apart = math.dist(a.center, b.center)
        if apart == 0.0:
            return []
        along = (apart**2 + (ra - rb) * (ra + rb)) / (2 * apart)
        half2 = (ra - along) * (ra + along)
        half = math.sqrt(half2) if half2 > 0.0 else math.nan
        ux, uy = (b.center[0] - a.center[0]) / apart, (b.center[1] - a.center[1]) / apart
        x, y = a.center[0] + along * ux, a.center[1] + along * uy
        found = [(x + s * uy, y - s * ux) for s in (-half, half)]
    return [at for at in found if math.isfinite(at[0])]


def _aside(line: Line, r: float) -> tuple[Point, Point]:
    """A point r to the left of a line, and the line's direction."""
    ux, uy = (line.end[0] - line.start[0]) / line.length, (line.end[1] - line.start[1]) / line.length
    return (line.start[0] - r * uy, line.start[1] + r * ux), (ux, uy)


def _inner(arc: Arc, r: float, unit: Unit) -> float:
    """The radius of the circle r inside the wood from an arc: smaller in a round, larger round a hollow."""
    inner = arc.radius - r if arc.sweep > 0.0 else arc.radius + r
    if inner <= 0.0:
        raise PreviewError(
            "",
            None,
            f"the round from {_at(arc.start, unit)} to {_at(arc.end, unit)} has a radius of {show(arc.radius, unit)}, "
            f"and cannot be eased to {show(r, unit)}",
            "use a smaller radius",
        )
    return inner


def _foot(edge: Edge, at: Point) -> Point:
    """The point of an edge's line or circle nearest to another."""
    if isinstance(edge, Arc):
        scale = edge.radius / math.dist(at, edge.center)
        return (
            edge.center[0] + scale * (at[0] - edge.center[0]),
            edge.center[1] + scale * (at[1] - edge.center[1]),
        )
    (x0, y0), (x1, y1) = edge.start, edge.end
    ux, uy = (x1 - x0) / edge.length, (y1 - y0) / edge.length
    t = (at[0] - x0) * ux + (at[1] - y0) * uy
    return (x0 + t * ux, y0 + t * uy)


def _length_on(edge: Edge, at: Point) -> float:
    """How far from its start a point of an edge's line or circle is, + on the edge's own side."""
    if isinstance(edge, Arc):
        angle = edge.angle_to(at)
        return edge.radius * (angle if angle <= math.pi else angle - 2 * math.pi)
    (x0, y0), (x1, y1) = edge.start, edge.end
    return ((at[0] - x0) * (x1 - x0) + (at[1] - y0) * (y1 - y0)) / edge.length


def _length_back(edge: Edge, at: Point) -> float:
    return _length_on(edge.reversed(), at)


def _at(point: Point, unit: Unit) -> str:
    return f"{show(point[0], unit)} out, {show(point[1], unit)} up"


def _smaller(most: float, unit: Unit) -> str:
    """A radius that fits, rounded down to what a person can write, so that writing it is enough."""
    step = shown_step(unit)
    fits = math.floor(most / step + 1e-9) * step
    return f"use a radius of {show(fits, unit)} or less" if fits > 0.0 else "leave this arris sharp"
