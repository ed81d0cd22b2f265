"""A section cut at heights: between two neighboring heights it is a row of four-sided cells, whatever its outline.

An end that follows a face (joinery/faced.py) is straight along d and bends with h, and it jumps where that face has a
level fillet. So both kernels cut the section along level lines: at every height where the outline or the face turns a
corner, and, for a mesh, as often as arcs need it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from preview.joinery.joint import Floats
from preview.profiles import Arc, Edge, Line, Point, Profile

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

EVEN = 1e-10
"""Heights closer than this, mm, are one."""
MEET = 1e-9
"""An edge's end closer to a projection than this, mm, is on it."""
WIDEST_STEP = math.pi / 4
SPARE = 1.25
"""Steps are planned so much shorter than they may be: one may grow where the end of another lies close by."""


@dataclass(frozen=True)
class Cell:
    """The wood between two neighboring heights and two edges of the outline.

    band: the number of the height below it. left, right: the edges beside it, by number. foot, head: the outline's
    points on the lower and the upper height, from left to right; a single one where the cell tapers to a point.
    """

    band: int
    left: int
    right: int
    foot: tuple[int, ...]
    head: tuple[int, ...]


@dataclass(frozen=True)
class Bands:
    """A `banded` section as points and cells.

    points (n, 2): where its edges start, (d, h) in mm. heights (k,): ascending. level (n,): each point's height by
    number. from_above (n, 2): whether what lies beside an edge, at its start and at its end, is the wood above that
    height (else below). ledges: (left, right) pairs of points on one height with wood above and below the line
    between them.
    """

    points: Floats
    heights: Floats
    level: Ints
    from_above: Bools
    cells: tuple[Cell, ...]
    ledges: tuple[tuple[int, int], ...]


def rising_parts(edge: Edge) -> tuple[Edge, ...]:
    """An edge in parts that only rise, only fall or run level: an arc is parted where its circle turns back in h."""
    if not isinstance(edge, Arc):
        return (edge,)
    (cx, cy), radius = edge.center, edge.radius
    turning = []
    for at in ((cx, cy + radius), (cx, cy - radius)):
        angle = edge.angle_to(at)
        if 1e-9 < angle < abs(edge.sweep) - 1e-9:
            turning.append((angle, at))
    return _parted(edge, sorted(turning))


def out_at(edge: Edge, h: Floats) -> Floats:
    """The projections (n,), mm, of a rising or falling edge at heights h (n,) within it; exact at its ends."""
    (d0, h0), (d1, h1) = edge.start, edge.end
    if isinstance(edge, Arc):
        aside = h - edge.center[1]
        reach = np.sqrt(np.maximum((edge.radius - aside) * (edge.radius + aside), 0.0))
        found = edge.center[0] + math.copysign(1.0, edge.sweep * (h1 - h0)) * reach
    else:
        found = d0 + (h - h0) * ((d1 - d0) / (h1 - h0))
    exact: Floats = np.where(h == h0, d0, np.where(h == h1, d1, found))
    return exact


def merged(heights: Iterable[float], near: float = EVEN) -> Floats:
    """Heights in ascending order; those less than `near` above one that is kept are let go."""
    kept: list[float] = []
    for h in np.unique(np.fromiter(heights, dtype=np.float64)).tolist():
        if not kept or h - kept[-1] > near:
            kept.append(h)
    return np.array(kept)


def banded(
    profile: Profile,
    *,
    heights: Sequence[float] = (),
    outs: Sequence[float] = (),
    chord: float | None = None,
    near: float = EVEN,
) -> Profile:
    """The same outline with its edges parted wherever they cross the height of another edge's end, or one of `heights`.

    outs: projections at which it is parted as well. chord: how far, mm, no arc may stray from its chords; then the
    parts of arcs are steps of a mesh, and their ends count as edges' ends. near: ends at heights that differ by less,
    mm, part no edge between them.
    """
    parts = [part for edge in profile.edges for rising in rising_parts(edge) for part in _parted_at(rising, outs)]
    levels = merged([*heights, *(part.start[1] for part in parts)], near)
    if chord is not None:
        levels = _with_steps(parts, levels, chord, near)
    edges = tuple(piece for part in parts for piece in _parted_level(part, levels))
    return replace(profile, edges=edges)


def cut_bands(section: Profile, near: float = EVEN) -> Bands:
    """The cells of a section that was `banded` with the same `near`.

    Raises ValueError where an edge passes the height of another's end, or rises steeply between two that are near.
    """
    edges = section.edges
    points = np.array([edge.start for edge in edges])
    heights = merged(points[:, 1], near)
    level = _level(heights, points[:, 1])
    ends = np.roll(level, -1)
    climb = ends - level
    if np.abs(climb).max() > 1:
        raise ValueError("the section is not cut at all of its heights")
    run, rise = np.abs(np.roll(points, -1, axis=0) - points).T
    if (run <= rise)[climb == 0].any():
        raise ValueError("an edge rises between two heights that are too near to one another")
    rightward = (climb == 0) & (np.roll(points[:, 0], -1) > points[:, 0])
    from_above = np.column_stack([(climb > 0) | rightward, (climb < 0) | rightward])
    rows = [np.flatnonzero(level == k) for k in range(len(heights))]
    rows = [row[np.argsort(points[row, 0], kind="stable")] for row in rows]
    sides: list[list[int]] = [[] for _ in heights]
    for i in np.flatnonzero(climb).tolist():
        sides[min(level[i], ends[i])].append(i)
    cells: list[Cell] = []
    for k, beside in enumerate(sides[:-1]):
        beside.sort(key=lambda i: _middle(edges[i]))
        for left, right in zip(beside[::2], beside[1::2], strict=True):
            foot = _between(rows[k], (left + 1) % len(edges), right)
            head = _between(rows[k + 1], left, (right + 1) % len(edges))
            cells.append(Cell(k, left, right, foot, head))
    heads = {pair for cell in cells for pair in pairwise(cell.head)}
    ledges = tuple(pair for cell in cells for pair in pairwise(cell.foot) if pair in heads)
    return Bands(points, heights, level, from_above, tuple(cells), ledges)


def _level(heights: Floats, h: Floats) -> Ints:
    """The number of the kept height that each height belongs to."""
    found: Ints = np.searchsorted(heights, h, side="right") - 1
    return found


def _middle(edge: Edge) -> float:
    """How far out, mm, a rising or falling edge is half way up."""
    return float(out_at(edge, np.array([(edge.start[1] + edge.end[1]) / 2]))[0])


def _between(row: Ints, left: int, right: int) -> tuple[int, ...]:
    """The points of one height from one to another, in order."""
    order = row.tolist()
    return tuple(order[order.index(left) : order.index(right) + 1])


def _parted(arc: Arc, cuts: Sequence[tuple[float, Point]]) -> tuple[Arc, ...]:
    """An arc parted at points, each with the angle that is travelled to it, in ascending order."""
    turn = math.copysign(1.0, arc.sweep)
    angles = [0.0, *(angle for angle, _ in cuts), abs(arc.sweep)]
    places = [arc.start, *(at for _, at in cuts), arc.end]
    return tuple(
        Arc(start, end, arc.center, turn * (last - first))
        for (start, end), (first, last) in zip(pairwise(places), pairwise(angles), strict=True)
    )


def _parted_at(edge: Edge, outs: Sequence[float]) -> tuple[Edge, ...]:
    """A rising or falling edge parted where it crosses projections, with those d bit for bit."""
    if not len(outs):
        return (edge,)
    (d0, h0), (d1, h1) = edge.start, edge.end
    if isinstance(edge, Arc):
        crossed: list[tuple[float, Point]] = []
        for d in outs:
            away = d - edge.center[0]
            if abs(away) < edge.radius:
                reach = math.sqrt((edge.radius - away) * (edge.radius + away))
                for at in ((d, edge.center[1] + reach), (d, edge.center[1] - reach)):
                    angle = edge.angle_to(at)
                    within = EVEN / edge.radius < angle < abs(edge.sweep) - EVEN / edge.radius
                    if within and not _repeats_an_end(edge, at):
                        crossed.append((angle, at))
        return _parted(edge, sorted(crossed))
    inside = [d for d in outs if min(d0, d1) + EVEN < d < max(d0, d1) - EVEN]
    places = sorted(((d, h0 + (d - d0) / (d1 - d0) * (h1 - h0)) for d in inside), key=lambda at: abs(at[0] - d0))
    return tuple(Line(a, b) for a, b in pairwise([edge.start, *places, edge.end]))


def _repeats_an_end(arc: Arc, at: Point) -> bool:
    """Whether a crossing with a projection is an end of the arc over again.

    Where an arc turns back in d, an end that is off by rounding is crossed some way further along.
    """
    along = 2 * math.sqrt(2 * arc.radius * MEET) + MEET
    return any(abs(at[0] - d) <= MEET and abs(at[1] - h) < along for d, h in (arc.start, arc.end))


def _parted_level(edge: Edge, levels: Floats) -> tuple[Edge, ...]:
    """A rising or falling edge parted at all heights between those that its ends belong to."""
    first, last = _level(levels, np.array([edge.start[1], edge.end[1]])).tolist()
    inside = levels[first + 1 : last] if first < last else levels[last + 1 : first][::-1]
    if not len(inside):
        return (edge,)
    places: list[Point] = list(zip(out_at(edge, inside).tolist(), inside.tolist(), strict=True))
    if isinstance(edge, Arc):
        return _parted(edge, [(edge.angle_to(at), at) for at in places])
    return tuple(Line(a, b) for a, b in pairwise([edge.start, *places, edge.end]))


def _with_steps(parts: Sequence[Edge], levels: Floats, chord: float, near: float) -> Floats:
    """More heights between the given ones, so that no arc strays from its chords by more than `chord` mm.

    Arcs further out come first: theirs are even steps, and those behind take over their heights.
    """
    arcs = [part for part in parts if isinstance(part, Arc) and np.ptp(_level(levels, _heights(part)))]
    arcs.sort(key=lambda arc: -_middle(arc))
    found: list[float] = []
    for low, high in pairwise(levels.tolist()):
        steps = [low, high]
        for arc in arcs:
            if min(_heights(arc)) < (low + high) / 2 < max(_heights(arc)):
                steps = _stepped(arc, steps, chord, near)
        found += steps[:-1]
    return np.array([*found, levels[-1]])


def _heights(edge: Edge) -> Floats:
    return np.array([edge.start[1], edge.end[1]])


def _stepped(arc: Arc, heights: list[float], chord: float, near: float) -> list[float]:
    """Ascending heights, with more between any two that are too many degrees of the arc apart."""
    widest = min(4 * math.asin(math.sqrt(min(chord / (2 * arc.radius), 0.5))), WIDEST_STEP) / SPARE
    low, high = np.sort(_heights(arc)).tolist()
    at = np.clip(heights, low, high)
    # From the circle's rightmost or leftmost point, up: a rising or falling arc keeps to one side.
    angles = np.arctan2(at - arc.center[1], np.abs(out_at(arc, at) - arc.center[0]))
    found = [heights[0]]
    for top, (first, last) in zip(heights[1:], pairwise(angles.tolist()), strict=True):
        count = max(1, math.ceil((last - first) / widest - 1e-9))
        for h in (arc.center[1] + arc.radius * np.sin(np.linspace(first, last, count + 1)[1:-1])).tolist():
            if found[-1] + near < h < top - near:
                found.append(h)
        found.append(top)
    return found
