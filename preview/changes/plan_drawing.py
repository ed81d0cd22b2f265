"""The plan of both versions laid over each other, and the corners that are made otherwise, larger."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

from preview.build import Built
from preview.changes.features import Feature, features
from preview.changes.footprints import Footprint, footprints, side, sorted_out
from preview.changes.matching import matched
from preview.changes.pairs import run_pairs
from preview.changes.pieces import corner_words, same_turn
from preview.changes.saying import TINY, long, two
from preview.changes.sheet import (
    BEFORE_LINE,
    FAINT,
    INK,
    NEW_WOOD,
    NOW,
    NOW_LINE,
    SAME_LINE,
    SAME_WOOD,
    Line,
    Placing,
    Sheet,
    polyline,
    scale_words,
    width_of,
    wrapped,
)
from preview.joinery import Piece
from preview.profiles import Point, measure
from preview.runs import IN_PLAN, Run, Stand
from preview.units import Unit

INCH_SCALES = (1.0, 1 / 2, 1 / 4, 1 / 8, 1 / 12, 1 / 16, 1 / 24, 1 / 32, 1 / 48, 1 / 96, 1 / 192, 1 / 384)
METRIC_SCALES = (1.0, 1 / 2, 1 / 5, 1 / 10, 1 / 20, 1 / 25, 1 / 50, 1 / 100, 1 / 200, 1 / 500)
ROOM = (214.0, 120.0)
"""mm, the width and height that a plan may fill."""
AROUND = 14.0
"""mm kept free round a plan, for its figures."""
DETAIL = 66.0
"""mm, the side of a corner drawn larger."""
MOST_DETAILS = 3
FIGURE = 3.2
MOST_FIGURES = 60
"""Straights of one plan that get a figure; more could not be read."""
LEAST_EXTENT = 25.0
"""mm; a plan is drawn as if it were at least so large."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Drawn:
    """A part of the drawing, from (0, 0) down and to the right: what it takes, mm."""

    sheet: Sheet
    width: float
    height: float


def plans(before: Built, after: Built, width: float) -> list[Drawn]:
    """One drawing for each plan in which something is not where it was; and the corners made otherwise."""
    same, gone, new = sorted_out(footprints(before), footprints(after))
    found: list[Drawn] = []
    for stand in dict.fromkeys(one.stand for one in (*new, *gone)):
        layers = tuple([one for one in row if one.stand == stand] for row in (same, gone, new))
        found.append(_plan(before, after, stand, layers, width))
    details = list(_details(before, after, (same, gone, new)))
    if details:
        found.append(_in_a_row(details, width))
    return found


def _plan(before: Built, after: Built, stand: Stand, layers: Sequence[Sequence[Footprint]], width: float) -> Drawn:
    unit = after.scene.units
    box = _box([one for row in layers for one in row])
    wide, high = max(LEAST_EXTENT, box[2] - box[0]), max(LEAST_EXTENT, box[3] - box[1])
    scale = _fitting(unit, wide, high, ROOM)
    sheet = Sheet()
    title = "Plan, seen from above" if stand == IN_PLAN else "On the face of the wall"
    sheet.words(title, (0.0, 4.0), 4.2, INK, bold=True)
    sheet.words(f"Scale {scale_words(scale)}", (width, 4.0), 3.2, FAINT, anchor="end")
    left = (width - scale * (box[2] - box[0])) / 2 - scale * box[0]
    top = 8.0 + AROUND + scale * box[3]
    place = Placing(scale, left, top)
    _layers(sheet, place, layers)
    _figures(sheet, place, before, after, stand, layers)
    return Drawn(sheet, width, 8.0 + 2 * AROUND + scale * (box[3] - box[1]))


def _layers(sheet: Sheet, place: Placing, layers: Sequence[Sequence[Footprint]]) -> None:
    same, gone, new = layers
    for one in same:
        sheet.path(_ring(one, place), SAME_LINE, SAME_WOOD)
    for one in new:
        sheet.path(_ring(one, place), NOW_LINE, NEW_WOOD)
    for one in gone:
        sheet.path(_ring(one, place), BEFORE_LINE)


def _ring(one: Footprint, place: Placing) -> str:
    return polyline((place.point(at) for at in one.points), closed=True)


def _figures(
    sheet: Sheet, place: Placing, before: Built, after: Built, stand: Stand, layers: Sequence[Sequence[Footprint]]
) -> None:
    """At each straight that is longer, shorter or new, how long it is, where there is room for that."""
    taken = [_box([replace(one, points=tuple(place.point(at) for at in one.points))]) for row in layers for one in row]
    unit = after.scene.units
    tried = 0
    for one, other in run_pairs(before, after):
        if other is None or other.run.stand != stand:
            continue
        earlier = features(one.run) if one else ()
        out = _out(after.pieces, other.run)
        for then, now in matched(earlier, features(other.run)):
            if now is None or now.kind != "straight" or (then and abs(then.length - now.length) <= TINY):
                continue
            tried += 1
            if tried > MOST_FIGURES:
                return
            if then is None:
                text = long(now.length, unit)
            else:
                was, is_ = two(then.length, now.length, unit)
                text = f"{is_} (was {was})"
            _figure(sheet, place, text, other.run, now, out, taken)


def _figure(sheet: Sheet, place: Placing, text: str, run: Run, straight: Feature, out: float, taken: list[Box]) -> None:
    """One figure, behind the wall line or else before the molding, at the middle or else to one side of it."""
    element = run.elements[straight.first]
    level = abs(element.tangent[0]) > 0.5
    wide = width_of(text, FIGURE)
    for part, clear, away in product((0.5, 0.3, 0.7), (2.0, 5.5), (0.0, out)):
        station = element.length * straight.lengths * part
        way = 1.0 if away else -1.0
        on, off = (place.point(side(element, run.hand, station, d)) for d in (away, away + way))
        gap = math.dist(on, off)
        across, down = (off[0] - on[0]) / gap, (off[1] - on[1]) / gap
        # Beside an upright straight the words stand next to it, along a level one above or below it.
        x = on[0] + across * (clear + (0.0 if level else wide / 2))
        y = on[1] + down * (clear + (FIGURE / 2 if level else 0.0)) + FIGURE * 0.36
        box = (x - wide / 2 - 1.0, y - FIGURE * 0.8, x + wide / 2 + 1.0, y + FIGURE * 0.2)
        if all(box[2] < b[0] or b[2] < box[0] or box[3] < b[1] or b[3] < box[1] for b in taken):
            taken.append(box)
            sheet.words(text, (x, y), FIGURE, NOW, anchor="middle")
            return


def _details(before: Built, after: Built, layers: Sequence[Sequence[Footprint]]) -> Iterator[Drawn]:
    """Corners that are made otherwise, one of each kind."""
    unit = after.scene.units
    told: set[str] = set()
    for one, other in run_pairs(before, after):
        if one is None or other is None:
            continue
        out = max(_out(before.pieces, one.run), _out(after.pieces, other.run))
        for then, now in matched(features(one.run), features(other.run)):
            if then is None or now is None or now.kind != "turn" or same_turn(then, now) or then.turn * now.turn < 0:
                continue
            words = corner_words(then, now, unit)
            if words in told or len(told) == MOST_DETAILS:
                continue
            told.add(words)
            mine = [[each for each in row if each.stand == other.run.stand] for row in layers]
            yield _detail(one.run, other.run, then, now, words, mine, out, unit, len(told))


def _detail(
    before: Run,
    after: Run,
    then: Feature,
    now: Feature,
    words: str,
    layers: Sequence[Sequence[Footprint]],
    out: float,
    unit: Unit,
    number: int,
) -> Drawn:
    spots = [*_turn_points(before, then, out), *_turn_points(after, now, out)]
    low = [min(at[axis] for at in spots) for axis in (0, 1)]
    high = [max(at[axis] for at in spots) for axis in (0, 1)]
    extent = max(high[0] - low[0], high[1] - low[1], LEAST_EXTENT) + 1.2 * out
    scale = _fitting(unit, extent, extent, (DETAIL, DETAIL))
    middle = ((low[0] + high[0]) / 2, (low[1] + high[1]) / 2)
    sheet, inside = Sheet(), Sheet()
    lines = wrapped(f"{after.name}: {words}", DETAIL + 8.0, 3.0)
    for row, text in enumerate(lines):
        sheet.words(text, (0.0, 3.6 + 4.2 * row), 3.0, INK)
    top, edge = 3.6 + 4.2 * (len(lines) - 1) + 2.6, scale * extent
    place = Placing(scale, edge / 2 - scale * middle[0], top + edge / 2 + scale * middle[1])
    _layers(inside, place, layers)
    sheet.clipped(f"corner-{number}", (0.0, top, edge, edge), inside)
    sheet.path(f"M0 {top:.3f}h{edge:.3f}v{edge:.3f}h{-edge:.3f}Z", Line(FAINT, 0.18))
    sheet.words(f"Scale {scale_words(scale)}", (0.0, top + edge + 4.4), 3.2, FAINT)
    return Drawn(sheet, DETAIL, top + edge + 6.0)


def _turn_points(run: Run, turn: Feature, out: float) -> list[Point]:
    """The wall line at a turn, and how far the molding reaches from it."""
    element = run.elements[turn.first]
    stations = [0.0, element.length / 2, element.length] if turn.treatment == "turned" else [0.0]
    points = [side(element, run.hand, station, d) for station in stations for d in (0.0, out)]
    for i in range(turn.first, turn.first + max(0, turn.facets - 1)):
        facet = run.elements[i % len(run.elements)]
        points += [side(facet, run.hand, facet.length, d) for d in (0.0, out)]
    return points


def _out(pieces: Sequence[Piece], run: Run) -> float:
    """How far the molding of a run stands out, mm."""
    profiles = {piece.member: piece.profile for piece in pieces if piece.run == run.name}
    return max((measure(profile).d_max for profile in profiles.values()), default=0.0)


def _in_a_row(parts: Sequence[Drawn], width: float) -> Drawn:
    """Drawings beside each other under one heading."""
    sheet = Sheet()
    sheet.words("Corners that change", (0.0, 4.0), 4.2, INK, bold=True)
    apart = (width - sum(part.width for part in parts)) / max(1, len(parts) - 1) if len(parts) > 1 else 0.0
    apart = min(apart, 12.0)
    left = 0.0
    for part in parts:
        sheet.marks += [f'<g transform="translate({left:g} 8)">', *part.sheet.marks, "</g>"]
        left += part.width + apart
    return Drawn(sheet, width, 8.0 + max(part.height for part in parts))


def _fitting(unit: Unit, wide: float, high: float, room: tuple[float, float]) -> float:
    scales = INCH_SCALES if unit in ("in", "ft") else METRIC_SCALES
    fits = (scale for scale in scales if wide * scale <= room[0] and high * scale <= room[1])
    return next(fits, min(room[0] / wide, room[1] / high))


def _box(rows: Sequence[Footprint]) -> Box:
    xs = [x for one in rows for x, _ in one.points]
    ys = [y for one in rows for _, y in one.points]
    return (min(xs), min(ys), max(xs), max(ys))
