"""Dimensions put where there is room for them: of straights, radii and angles; and callouts, which point at a place."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import product

import numpy as np

from preview.drafting.labels import (
    CLEAR,
    NO_LINES,
    Field,
    Patch,
    Try,
    lettered,
    readable,
    segments,
    text_size,
)
from preview.paper import INK, SOFT, Mark, Trace, arrowhead, stroke
from preview.profiles import Arc, Line, Point

FIGURE = 2.5
"""mm, the type of dimensions: the least of ISO 3098's series, from memory."""
GAP = 1.0
"""mm between a thing and the extension lines that leave it."""
BEYOND = 1.3
"""mm that an extension line runs past its dimension line."""
TICK = 0.85
"""mm, half the side of the oblique stroke at each end of a dimension line."""
BOLD, THIN = 0.5, 0.18
"""mm: the oblique strokes; extension, dimension and leader lines, thinner than what they tell of."""
ROWS = (7.0, 11.5, 16.0, 20.5, 25.0, 29.5, 34.0)
"""mm: how far from the thing dimension lines may stand."""
FAR = 0.06
"""What a mm of extension line costs that is longer than it has to be."""
LEADERS = (6.0, 8.5, 11.0, 14.0, 18.0, 23.0, 29.0, 36.0)
DOT = 0.55
"""mm, the radius of the dot in which a leader ends on a face."""
ARROW = 2.0

Way = tuple[float, float]


def along(
    field: Field,
    begin: Point,
    end: Point,
    text: str,
    sides: Sequence[tuple[Way, float, float]],
    rows: Sequence[float] = ROWS,
    gap: float = GAP,
    starts: Sequence[tuple[Point, Point]] = (),
    beyond: float = 4.0,
) -> list[Mark] | None:
    """The dimension of a straight from begin to end on the page. None where there is no room for it.

    sides: the unit ways out to which its line may stand, each with how far that side is taken by the thing itself, mm,
    and what that side costs. gap: mm that extension lines leave free.
    starts: for each side where they start, if not at begin and end. beyond: what it costs to stand past the line's end.
    """
    span = math.dist(begin, end)
    if span < 1e-6:
        return None
    way = ((end[0] - begin[0]) / span, (end[1] - begin[1]) / span)
    turn = readable(math.atan2(way[1], way[0]))
    wide, high = text_size(text, FIGURE)
    over = (-math.sin(turn), math.cos(turn))
    every = starts or [(begin, end)] * len(sides)
    lift = 0.8 + high / 2

    def tries() -> Iterator[tuple[Try, Callable[[], list[Mark]]]]:
        for ((out, taken, extra), roots), row in product(zip(sides, every, strict=True), rows):
            off = taken + row
            first, last = _moved(begin, out, off), _moved(end, out, off)
            clear = gap if starts else gap + taken  # past the thing itself, where it lies on that side
            ends = [
                (_moved(roots[0], out, clear), _moved(first, out, BEYOND)),
                (_moved(roots[1], out, clear), _moved(last, out, BEYOND)),
            ]
            middle = ((first[0] + last[0]) / 2, (first[1] + last[1]) / 2)
            base = row + extra + FAR * (math.dist(*ends[0]) + math.dist(*ends[1]) - 2 * (off if starts else row))
            for at, line, more in _spots(first, last, middle, way, over, out, wide, high, lift, span, beyond):
                lines = [*line, *ends]
                patch = Patch(*at, wide / 2 + CLEAR, high / 2 + CLEAR, turn)
                make = partial(_dimension, text, at, turn, lines, (first, last), way)
                yield Try((patch,), np.array([[*a, *b] for a, b in lines]), base + more), make

    return field.place(tries())


def _dimension(
    text: str, at: Point, turn: float, lines: Sequence[tuple[Point, Point]], ends: tuple[Point, Point], way: Way
) -> list[Mark]:
    ticks = [_tick(end, way) for end in ends]
    return [*(stroke(*pair, weight=THIN) for pair in lines), *ticks, lettered(text, FIGURE, at, turn)]


def _spots(
    first: Point,
    last: Point,
    middle: Point,
    way: Way,
    over: Way,
    out: Way,
    wide: float,
    high: float,
    lift: float,
    span: float,
    beyond: float,
) -> Iterator[tuple[Point, list[tuple[Point, Point]], float]]:
    """Where the figure may stand: its middle, the lines that go with it, and what that costs."""
    if wide + 1.2 <= span:
        for share in (0.5, 0.35, 0.65, 0.22, 0.78):
            at = _moved(first, way, span * share)
            if min(share, 1 - share) * span >= wide / 2 + 0.6:
                yield _moved(at, over, lift), [(first, last)], 8.0 * abs(share - 0.5)
        return
    for point, sign in ((last, 1.0), (first, -1.0)):
        far = _moved(point, way, sign * (wide + 2.2))
        line = [(first, far)] if sign > 0 else [(far, last)]
        yield _moved(_moved(point, way, sign * (wide / 2 + 1.6)), over, lift), line, beyond
    for away, aside in product((3.2, 6.5, 10.0), (0.0, 1.0, -1.0)):
        foot = _moved(_moved(middle, out, away), way, aside * (wide / 2 + 0.4))
        side = 1.0 if over[0] * out[0] + over[1] * out[1] > 0 else -1.0
        at = _moved(foot, over, side * (high / 2 + 0.7))
        yield at, [(first, last), (middle, foot)], 7.0 + away


def radius(field: Field, arc: Arc, text: str, taken: tuple[float, float] = (0.0, 0.0)) -> list[Mark] | None:
    """The radius of an arc on the page, with an arrow that points along it. None where there is no room.

    taken: how far, mm, the thing reaches outside and inside the arc.
    """
    wide, high = text_size(text, FIGURE)

    def tries() -> Iterator[tuple[Try, Callable[[], list[Mark]]]]:
        for share, sign, long in product((0.5, 0.35, 0.65, 0.2, 0.8), (1.0, -1.0), LEADERS):
            ((x, y),) = arc.point([share])
            tip = (float(x), float(y))
            out = (sign * (tip[0] - arc.center[0]) / arc.radius, sign * (tip[1] - arc.center[1]) / arc.radius)
            reach = long + taken[0 if sign > 0 else 1]
            if sign < 0 and reach > arc.radius * 0.92:
                continue
            elbow = _moved(tip, out, reach)
            toward = 1.0 if out[0] >= 0 else -1.0
            foot = (elbow[0] + toward * 1.6, elbow[1])
            at = (foot[0] + toward * (wide / 2 + 0.7), foot[1])
            cost = long + 12.0 * abs(share - 0.5) + (0.0 if sign > 0 else 2.0)
            patch = Patch(*at, wide / 2 + CLEAR, high / 2 + CLEAR)
            yield Try((patch,), segments([foot, elbow, tip]), cost), partial(_pointed, text, at, foot, elbow, tip)

    return field.place(tries())


def _pointed(text: str, at: Point, foot: Point, elbow: Point, tip: Point) -> list[Mark]:
    head = arrowhead(tip, math.atan2(tip[1] - elbow[1], tip[0] - elbow[0]), ARROW)
    return [stroke(foot, elbow, tip, weight=THIN), head, lettered(text, FIGURE, at)]


def angle(field: Field, corner: Point, one: Way, other: Way, text: str, least: float = 0.0) -> list[Mark] | None:
    """The angle at a corner on the page between two unit ways, on the side they enclose. None where there is no room.

    least: the least radius, mm, that its arc may have.
    """
    cross = one[0] * other[1] - one[1] * other[0]
    sweep = math.atan2(cross, one[0] * other[0] + one[1] * other[1])
    begin = math.atan2(one[1], one[0])
    wide, high = text_size(text, FIGURE)

    def tries() -> Iterator[tuple[Try, Callable[[], list[Mark]]]]:
        for far in (5.0, 7.0, 9.5, 12.5, 16.0):
            size = max(far, least + far - 3.0)
            first, last = (_moved(corner, (math.cos(a), math.sin(a)), size) for a in (begin, begin + sweep))
            arc = Arc(first, last, corner, sweep)
            lines = segments(arc.point(np.linspace(0.0, 1.0, max(4, round(abs(sweep) * 6)) + 1)))
            for off, beyond in product((0.0, 0.25, -0.25, 0.4, -0.4), (True, False)):
                way = begin + (0.5 + off) * sweep
                reach = abs(math.cos(way)) * wide / 2 + abs(math.sin(way)) * high / 2 + 0.9
                at = _moved(corner, (math.cos(way), math.sin(way)), size + (reach if beyond else -reach))
                cost = far + 6.0 * abs(off) + (0.0 if beyond else 1.5)
                patch = Patch(*at, wide / 2 + CLEAR, high / 2 + CLEAR)
                yield Try((patch,), lines, cost), partial(_turned, text, at, arc, begin)

    return field.place(tries())


def _turned(text: str, at: Point, arc: Arc, begin: float) -> list[Mark]:
    """An angle's arc with its arrowheads, which lie along their own chords."""
    sign, end = math.copysign(1.0, arc.sweep), begin + arc.sweep
    long = min(ARROW, abs(arc.sweep) * arc.radius / 3)
    bend = sign * (long / (2 * arc.radius) - math.pi / 2)
    heads = [arrowhead(arc.start, begin + bend, long), arrowhead(arc.end, end - bend, long)]
    return [Trace((arc,), THIN, SOFT), *heads, lettered(text, FIGURE, at)]


def callout(
    field: Field,
    targets: Sequence[tuple[Point, Way]],
    half: tuple[float, float],
    least: float = 3.0,
    dot: bool = True,
    turns: Sequence[float] = (0.0, 0.3, -0.3, 0.6, -0.6, 0.95, -0.95, 1.35, -1.35),
    back: float = 9.0,
    reaches: Sequence[float] = LEADERS,
) -> tuple[Point, list[Mark]] | None:
    """A place for something `half` its sides large that points at one of the targets: its middle, and the leader.

    targets: places on the page, the best first, each with the unit way in which the leader would best leave it. back:
    what it costs to leave the other way.
    """

    ways = product(enumerate(targets), reaches, ((0.0, 0.0), (math.pi, back)), turns)
    places: list[tuple[float, int, float, float]] = []
    for (number, (_, way)), far, (flip, worse), aside in ways:
        long = max(far - LEADERS[0] + least, 0.0)
        cost = long + 4.0 * abs(aside) + worse + 1.5 * number
        places.append((cost, number, long, math.atan2(way[1], way[0]) + flip + aside))
    places.sort()
    row = np.array(places)
    starts = np.array([target for target, _ in targets])[row[:, 1].astype(int)]
    toward = np.column_stack([np.cos(row[:, 3]), np.sin(row[:, 3])])
    edges = (np.array(half) / np.maximum(np.abs(toward), 1e-9)).min(axis=1)
    middles = starts + (row[:, 2] + edges)[:, None] * toward
    feet = starts + row[:, 2:3] * toward
    kept = np.flatnonzero(field.free(middles, (half[0] + CLEAR, half[1] + CLEAR)))

    def tries() -> Iterator[tuple[Try, Callable[[], tuple[Point, list[Mark]]]]]:
        for i in kept.tolist():
            cost, number, long, _ = places[i]
            target, middle, foot = targets[number][0], (middles[i, 0], middles[i, 1]), (feet[i, 0], feet[i, 1])
            lines = segments([target, foot]) if long > 0 else NO_LINES
            patch = Patch(float(middle[0]), float(middle[1]), half[0] + CLEAR, half[1] + CLEAR)
            end = (float(foot[0]), float(foot[1]))
            yield Try((patch,), lines, cost), partial(_led, (patch.x, patch.y), target, end, dot, long > 0)

    return field.place(tries(), covered=4.0, crossed=2.0, ordered=True)


def _led(middle: Point, target: Point, foot: Point, dot: bool, led: bool) -> tuple[Point, list[Mark]]:
    marks: list[Mark] = [stroke(target, foot, weight=THIN)] if led else []
    if dot:
        marks.append(Trace(_circle(target, DOT), 0.0, INK, INK))
    return middle, marks


def note(field: Field, targets: Sequence[tuple[Point, Way]], text: str) -> list[Mark] | None:
    """Words with a leader to one of the targets. None where there is no room."""
    wide, high = text_size(text, FIGURE)
    found = callout(field, targets, (wide / 2 + 0.6, high / 2 + 0.6))
    if found is None:
        return None
    middle, leader = found
    return [*leader, lettered(text, FIGURE, middle)]


def thinned_dimensions(marks: Iterable[Mark]) -> list[Mark]:
    """Marks with their extension, dimension and leader lines as thin as those of all other drawings."""
    return [
        replace(mark, weight=THIN) if isinstance(mark, Trace) and mark.ink == SOFT and 0 < mark.weight < BOLD else mark
        for mark in marks
    ]


def edge_lines(edge: Line | Arc) -> np.ndarray:
    """An edge as segments (n, 4), for what labels keep clear of."""
    if isinstance(edge, Line):
        return np.array([[*edge.start, *edge.end]])
    return segments(edge.point(np.linspace(0.0, 1.0, max(2, round(abs(edge.sweep) * 8) + 1))))


def _circle(middle: Point, radius: float) -> tuple[Arc, Arc]:
    (x, y) = middle
    right, left = (x + radius, y), (x - radius, y)
    return (Arc(right, left, middle, math.pi), Arc(left, right, middle, math.pi))


def _tick(at: Point, way: Way) -> Trace:
    """The oblique stroke at 45 degrees to a dimension line."""
    x, y = (way[0] - way[1]) * TICK, (way[1] + way[0]) * TICK
    return stroke((at[0] - x, at[1] - y), (at[0] + x, at[1] + y), weight=BOLD)


def _moved(at: Point, way: Way, by: float) -> Point:
    return (at[0] + way[0] * by, at[1] + way[1] * by)
