"""Thin webs: where a profile has little wood between two parts of its outline."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from preview.profiles.edges import Arc, Edge, Line
from preview.profiles.pens import Point
from preview.profiles.profile import Profile
from preview.profiles.regions import Region
from preview.profiles.splitting import away, meetings

LEAST_WEB = 25.4 / 8
"""The least thickness of wood, mm, that is left without a word: 1/8 in (common practice)."""
APART = 0.01
"""Two webs nearer to each other than this, mm, are one."""
STEP = 0.01
"""How far along the outline, mm, a web is compared with what lies beside it."""


@dataclass(frozen=True)
class Web:
    """The least thickness (mm) of wood between two points of the outline, (d, h), and the one half way."""

    thickness: float
    start: Point
    end: Point

    @property
    def at(self) -> Point:
        """The middle of the web."""
        return ((self.start[0] + self.end[0]) / 2, (self.start[1] + self.end[1]) / 2)


def thin_webs(profile: Profile, limit: float = LEAST_WEB) -> tuple[Web, ...]:
    """Every web thinner than `limit` mm, the thinnest first, exact.

    A web is where the distance through the wood between two edges is least: from a hollow to a face it is
    square to both, from an inside corner square to one. Where two edges run side by side it stands half way
    along. A sharp arris tapers to nothing and is no web.
    """
    edges = profile.edges
    wood = Region((edges,))
    found: list[Web] = []
    beside: list[tuple[Edge, Edge]] = []
    for a, b in combinations(edges, 2):
        for p, q, runs_along in _candidates(a, b):
            thick = math.dist(p, q)
            if not 1e-6 < thick < limit:
                continue
            if not runs_along and any(away(x, p) + away(y, q) < 1e-6 for x, y in beside):
                continue
            if not _least(edges, a, b, p, q) or not _through_wood(wood, p, q):
                continue
            if runs_along:
                beside += [(a, b), (b, a)]
            found.append(Web(thick, p, q))
    found = [web for web in found if not _on_the_way(web, beside)] if beside else found
    webs: list[Web] = []
    for web in sorted(found, key=lambda web: (web.thickness, web.at[1], web.at[0])):
        if all(math.dist(web.at, other.at) > APART for other in webs):
            webs.append(web)
    return tuple(webs)


def _on_the_way(web: Web, beside: Sequence[tuple[Edge, Edge]]) -> bool:
    """Whether a web is only one place of a pair of edges that run side by side, and not its middle."""
    for a, b in beside:
        if away(a, web.start) + away(b, web.end) < 1e-6:
            return all(math.dist(web.start, p) + math.dist(web.end, q) > 1e-6 for p, q, _ in _squares(a, b))
    return False


def _candidates(a: Edge, b: Edge) -> Iterator[tuple[Point, Point, bool]]:
    """Points of two edges between which their distance may be least, and whether they stand for a stretch."""
    yield from _squares(a, b)
    for end in (a.start, a.end):
        for at in _feet(b, end):
            yield end, at, False
    for end in (b.start, b.end):
        for at in _feet(a, end):
            yield at, end, False


def _feet(edge: Edge, at: Point) -> Iterator[Point]:
    """The points of an edge nearest to another: where it is square to it, and its ends."""
    if isinstance(edge, Arc):
        away_from = math.dist(at, edge.center)
        if away_from > 0.0:
            ux, uy = (at[0] - edge.center[0]) / away_from, (at[1] - edge.center[1]) / away_from
            for r in (edge.radius, -edge.radius):
                foot = (edge.center[0] + r * ux, edge.center[1] + r * uy)
                if edge.angle_to(foot) <= abs(edge.sweep):
                    yield foot
    else:
        t = _fraction(edge, at)
        if 0.0 < t < 1.0:
            yield _at(edge, t)
    yield edge.start
    yield edge.end


def _squares(a: Edge, b: Edge) -> Iterator[tuple[Point, Point, bool]]:
    """Points inside two edges whose join is square to both; half way where there is a stretch of them."""
    if isinstance(a, Line) and isinstance(b, Line):
        (ux, uy), (vx, vy) = _unit(a), _unit(b)
        if abs(ux * vy - uy * vx) < 1e-9:
            low, high = sorted((_fraction(a, b.start), _fraction(a, b.end)))
            low, high = max(low, 0.0), min(high, 1.0)
            if (high - low) * a.length > APART:
                p = _at(a, (low + high) / 2)
                yield p, _at(b, _fraction(b, p)), True
    elif isinstance(a, Arc) and isinstance(b, Arc):
        apart = math.dist(a.center, b.center)
        if apart < 1e-9:
            yield from _concentric(a, b)
        else:
            u = ((b.center[0] - a.center[0]) / apart, (b.center[1] - a.center[1]) / apart)
            yield from ((p, q, False) for p in _on_arc(a, u) for q in _on_arc(b, u))
    elif isinstance(a, Arc):
        yield from ((p, q, along) for q, p, along in _squares(b, a))
    else:
        assert isinstance(b, Arc)
        t = _fraction(a, b.center)
        if 0.0 <= t <= 1.0:
            ux, uy = _unit(a)
            yield from ((_at(a, t), q, False) for q in _on_arc(b, (-uy, ux)))


def _concentric(a: Arc, b: Arc) -> Iterator[tuple[Point, Point, bool]]:
    """The middle of the stretch where two arcs about one center lie side by side."""
    first = a if a.sweep > 0 else a.reversed()
    other = b if b.sweep > 0 else b.reversed()
    start = first.angle_to(other.start)
    for low in (start, start - 2 * math.pi):
        low, high = max(low, 0.0), min(low + other.sweep, first.sweep)
        if (high - low) * first.radius > APART:
            p = tuple(first.point((low + high) / 2 / first.sweep).tolist())
            q_turn = other.radius / first.radius
            q = (a.center[0] + (p[0] - a.center[0]) * q_turn, a.center[1] + (p[1] - a.center[1]) * q_turn)
            yield (p[0], p[1]), q, True


def _on_arc(arc: Arc, u: Point) -> Iterator[Point]:
    """The points of an arc in the unit direction u from its center, and against it."""
    for r in (arc.radius, -arc.radius):
        at = (arc.center[0] + r * u[0], arc.center[1] + r * u[1])
        if arc.angle_to(at) <= abs(arc.sweep):
            yield at


def _least(edges: Sequence[Edge], a: Edge, b: Edge, p: Point, q: Point) -> bool:
    """Whether no pair of points beside p and q on the outline is nearer than they are."""
    thick = math.dist(p, q)
    beside_p, beside_q = _beside(edges, a, p), _beside(edges, b, q)
    return all(math.dist(x, y) >= thick - 1e-9 for x in [p, *beside_p] for y in [q, *beside_q])


def _beside(edges: Sequence[Edge], edge: Edge, at: Point) -> list[Point]:
    """Points a small step either way along the outline."""
    i = edges.index(edge)
    found: list[Point] = []
    for one, end, there in (
        (edge if math.dist(at, edge.end) > 1e-9 else edges[(i + 1) % len(edges)], edge.end, 1),
        (edge if math.dist(at, edge.start) > 1e-9 else edges[i - 1], edge.start, -1),
    ):
        done = _traveled(one, at) if one is edge else (0.0 if there > 0 else one.length)
        t = (done + there * min(STEP, one.length / 2)) / one.length
        x, y = one.point(min(1.0, max(0.0, t))).tolist()
        found.append((x, y) if 0.0 <= t <= 1.0 else end)
    return found


def _traveled(edge: Edge, at: Point) -> float:
    if isinstance(edge, Arc):
        angle = edge.angle_to(at)
        # A point on the start may come out a whole turn ahead.
        return 0.0 if math.dist(at, edge.start) < 1e-9 else angle * edge.radius
    return _fraction(edge, at) * edge.length


def _through_wood(wood: Region, p: Point, q: Point) -> bool:
    """Whether the straight way from p to q runs through wood alone."""
    way = Line(p, q)
    for edge in wood.edges:
        if any(min(math.dist(at, p), math.dist(at, q)) > 1e-6 for at in meetings(way, edge)):
            return False
    return wood.holds(((p[0] + q[0]) / 2, (p[1] + q[1]) / 2))


def _unit(line: Line) -> Point:
    length = line.length
    return ((line.end[0] - line.start[0]) / length, (line.end[1] - line.start[1]) / length)


def _fraction(line: Line, at: Point) -> float:
    """How far along a line the foot of a point is, 0 to 1 within it."""
    (x0, y0), (x1, y1) = line.start, line.end
    return ((at[0] - x0) * (x1 - x0) + (at[1] - y0) * (y1 - y0)) / line.length**2


def _at(line: Line, t: float) -> Point:
    return (line.start[0] + t * (line.end[0] - line.start[0]), line.start[1] + t * (line.end[1] - line.start[1]))
