"""The section through a build-up: every member in its place, lined, with what it stands on and all sizes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.drafting.dimensions import DOT, THIN, edge_lines, thinned_dimensions
from preview.drafting.drawing import (
    EDGE,
    ROOM,
    Canvas,
    Drawing,
    best_fit,
    box_lines,
    finished,
    foot_width,
    footing,
    stem,
)
from preview.drafting.labels import CLEAR, Field, Patch, Try, patch_of, segments, text_size
from preview.drafting.layered import Layered, gap_text, gaps, layered
from preview.drafting.profile import DrawingUnit, Side, Step, chain, dimensioned, overall, scale_bar, section
from preview.drafting.scales import Scale, length_text, scale_of, scales
from preview.drafting.spans import run_names
from preview.drafting.tags import circle
from preview.paper import (
    FAINT,
    INK,
    SOFT,
    Mark,
    Page,
    Trace,
    Words,
    advance,
    bounds,
    patch,
    scaled,
    stroke,
)
from preview.profiles import Point, Profile, flatten, measure

Floats = NDArray[np.float64]

SIZE = 3.0
"""mm, the type of a section's dimensions."""
NAME = 2.8
"""mm, the type of the members' names."""
BEHIND = 4.0
"""mm of wall, floor or ceiling shown."""
PAST = 7.0
"""mm that they run past the molding."""
WALL = 0.5
"""mm, their lines: a step below the outline of what is cut for the drawing's own sake."""
SHADE = "#e4e7ea"
OFF = 8.0
"""mm between the outline and the first dimension line."""
SAME = 0.02
"""mm; levels closer than this are one."""
CHORD = 0.02


def section_drawings(built: Built, room: tuple[float, float] = ROOM) -> list[Drawing]:
    """The section of every build-up of a job."""
    return [_drawing(built, each, room, None) for each in layered(built)]


def section_drawing(built: Built, run: str, room: tuple[float, float] = ROOM, scale: Fraction | None = None) -> Drawing:
    """The section of the build-up of a run, by its name.

    scale: mm on the page for each mm; left out, the largest usual one, full size at most, that fits the room (width,
    height) on paper, mm. Raises KeyError where no molding follows a run of that name.
    """
    for each in layered(built):
        if any(other.name == run for other in each.runs):
            return _drawing(built, each, room, scale)
    raise KeyError(run)


def _drawing(built: Built, each: Layered, room: tuple[float, float], ratio: Fraction | None) -> Drawing:
    unit = built.scene.units
    names = [run.name for run in each.runs]
    name = f"Section of {run_names(names)}"

    def draw(scale: Scale) -> tuple[Canvas, Callable[[Canvas], Page]]:
        tall = footing(name, _notes(built, each, scale), foot_width(0.0, room))[1] + 5.0 + 9.0
        canvas = _drawn(
            each, scale.factor, "mm" if unit not in ("in", "ft") else "in", room[0] - 2 * EDGE, room[1] - tall
        )
        return canvas, partial(_finish, built, each, scale, name, room)

    sizes = [scale_of(ratio, unit)] if ratio is not None else scales(unit)
    scale, canvas, page = best_fit(sizes, room, box_lines(each.box), draw)
    what = "; ".join(f"{member}, {profile.name}" for member, profile in each.members)
    left, low, right, high = each.box
    after = "" if unit in ("in", "ft") else " mm"
    size = f"{length_text(high - low, unit)}{after} high and {length_text(right - min(left, 0.0), unit)}{after} out"
    if each.on_wall:
        size = f"{length_text(right - left, unit)}{after} wide and {length_text(high, unit)}{after} out from the wall"
    words = f"{name}, square to its length: {what}. In all {size}."
    return Drawing(stem("section", *names), name, page, scale.name, words, tuple(canvas.left_out))


def _finish(built: Built, each: Layered, scale: Scale, name: str, room: tuple[float, float], canvas: Canvas) -> Page:
    """The page, with a scale bar between the drawing and its words."""
    left, low, _, _ = bounds(canvas.marks)
    unit: DrawingUnit = "in" if built.scene.units in ("in", "ft") else "mm"
    bar = [_smaller(mark) for mark in scale_bar(scale.ratio, unit, left, low - 7.0)]
    return finished(Canvas([*canvas.marks, *bar]), name, _notes(built, each, scale), room)


def _smaller(mark: Mark) -> Mark:
    """A mark of the scale bar, its lettering no larger than the dimensions'; figures stay under their places."""
    if not isinstance(mark, Words) or mark.size <= SIZE:
        return mark
    x, y = mark.at
    figure = mark.text.removesuffix(" mm")
    if figure != "0":  # which begins where the bar does
        x += (advance(figure, mark.size) - advance(figure, SIZE)) / 2
    return replace(mark, at=(x, y + (mark.size - SIZE) / 2), size=SIZE)


def _notes(built: Built, each: Layered, scale: Scale) -> list[str]:
    unit = built.scene.units
    both = "Inches, with millimeters in gray." if unit in ("in", "ft") else "Millimeters, with inches in gray."
    where = "The wall is below, the opening on the left." if each.on_wall else "The wall is on the left."
    if each.ceiling and not each.on_wall:
        where = "The wall is on the left, the ceiling above."
    levels = {round(run.level, 6) for run in each.runs}
    after = "" if unit in ("in", "ft") else " mm"
    level = f" Foot at {length_text(levels.pop(), unit)}{after}." if len(levels) == 1 and not each.floor else ""
    if each.on_wall or level.startswith(" Foot at 0"):
        level = ""
    told = [f"Open between {gap.below} and {gap.above}: {gap_text(gap, unit)}." for gap in gaps(each)]
    return [f"Scale: {scale.name}. {both}", " ".join([f"{where}{level}", *told])]


def _drawn(each: Layered, factor: float, unit: DrawingUnit, wide: float, tall: float) -> Canvas:
    place = scaled(factor)
    left, low, right, high = (value * factor for value in each.box)
    marks = list(_surfaces(each, left, low, right, high))
    off: dict[Side, float] = {"right": OFF, "left": OFF, "top": OFF, "bottom": OFF}
    if not each.on_wall:
        off["left"] += BEHIND + min(left, 0.0)
    if each.floor or each.on_wall:
        off["bottom"] += BEHIND + 2.0
    if each.ceiling:
        off["top"] += BEHIND + 2.0
    if len(each.members) == 1:
        ((_, profile),) = each.members
        marks += dimensioned(profile, place, unit, SIZE, off)
        return Canvas(list(thinned_dimensions(marks)))
    for number, (_, profile) in enumerate(each.members):
        marks += section(profile, place, falling=number % 2 == 1)
    row = _Together([profile for _, profile in each.members])
    fixed, boxes = _chains(row, factor, unit, off, each)
    marks = thinned_dimensions([*marks, *fixed])
    canvas = Canvas(list(marks))
    field = Field((left - wide, low - tall, left - wide + 2 * wide, low + tall))
    field.patches += [Patch((b[0] + b[2]) / 2, (b[1] + b[3]) / 2, (b[2] - b[0]) / 2, (b[3] - b[1]) / 2) for b in boxes]
    for mark in marks:
        if isinstance(mark, Trace) and mark.fill is None and mark.weight >= 0.35:
            field.draw(np.concatenate([edge_lines(edge) for edge in mark.edges]), 8.0, 0.4)
        elif isinstance(mark, Trace) and mark.weight and mark.ink == SOFT:
            field.draw(np.concatenate([edge_lines(edge) for edge in mark.edges]), 8.0, 1.0)
        elif isinstance(mark, Words):
            field.patches.append(patch_of(mark))
    _names(canvas, field, each, factor, min(left, 0.0 if each.on_wall else -BEHIND))
    return canvas


def _surfaces(each: Layered, left: float, low: float, right: float, high: float) -> Iterator[Mark]:
    """The wall, and the floor or the ceiling where there is one, mm on the page."""
    if each.on_wall:
        yield patch(_corners(left - PAST, -BEHIND, right + PAST, 0.0), SHADE)
        yield stroke((left - PAST, 0.0), (right + PAST, 0.0), weight=WALL, ink=INK)
        return
    bottom = low if each.floor else low - PAST
    top = high if each.ceiling else high + PAST
    yield patch(
        _corners(-BEHIND, bottom - (BEHIND if each.floor else 0.0), 0.0, top + (BEHIND if each.ceiling else 0.0)), SHADE
    )
    if each.floor:
        yield patch(_corners(0.0, low - BEHIND, right + PAST, low), SHADE)
        yield stroke((0.0, low), (right + PAST, low), weight=WALL, ink=INK)
    if each.ceiling:
        yield patch(_corners(0.0, high, right + PAST, high + BEHIND), SHADE)
        yield stroke((0.0, high), (right + PAST, high), weight=WALL, ink=INK)
    yield stroke((0.0, bottom), (0.0, top), weight=WALL, ink=INK)


def _corners(left: float, low: float, right: float, high: float) -> list[Point]:
    return [(left, low), (right, low), (right, high), (left, high)]


class _Together:
    """Several members seen from the sides: where each begins and ends, and how far out all of them reach there."""

    def __init__(self, profiles: Sequence[Profile]) -> None:
        self.sizes = [measure(profile) for profile in profiles]
        self.outlines = [flatten(profile, CHORD).points for profile in profiles]

    def levels(self, side: Side) -> list[Step]:
        """The heights (or, below and above, the projections) at which members begin and end, as steps of that side."""
        upright = side in ("right", "left")
        ends = [
            value
            for size in self.sizes
            for value in ((size.h_min, size.h_max) if upright else (max(size.d_min, 0.0), size.d_max))
        ]
        if not upright:
            ends.append(0.0)
        found: list[Step] = []
        for value in sorted(ends):
            if not found or value - found[-1].along > SAME:
                found.append(Step(value, self.reach(side, value)))
        return found

    def reach(self, side: Side, at: float) -> float:
        """How far out on a side the members reach at a height or a projection, mm in the profile's own axis."""
        axis = 1 if side in ("right", "left") else 0
        sign = 1.0 if side in ("right", "top") else -1.0
        best = -np.inf
        for outline in self.outlines:
            one, two = outline, np.roll(outline, -1, axis=0)
            low, high = np.minimum(one[:, axis], two[:, axis]), np.maximum(one[:, axis], two[:, axis])
            hit = (low <= at + SAME) & (high >= at - SAME)
            step = two[hit, axis] - one[hit, axis]
            share = np.clip((at - one[hit, axis]) / np.where(np.abs(step) < 1e-12, np.inf, step), 0.0, 1.0)
            other = one[hit, 1 - axis] + share * (two[hit, 1 - axis] - one[hit, 1 - axis])
            flat = np.abs(step) < 1e-12
            other = np.concatenate([other, one[hit][flat, 1 - axis], two[hit][flat, 1 - axis]])
            if len(other):
                best = max(best, float((sign * other).max()))
        return best  # out on that side is positive, as steps of profile chains have it


def _chains(
    row: _Together, factor: float, unit: DrawingUnit, off: dict[Side, float], each: Layered
) -> tuple[list[Mark], list[tuple[float, float, float, float]]]:
    """The chains of heights and projections with the overall dimensions, and their labels' boxes."""
    _, low, right, high = (value * factor for value in each.box)
    marks: list[Mark] = []
    boxes: list[tuple[float, float, float, float]] = []
    level: Side = "top" if each.floor and not each.ceiling else "bottom"
    if each.on_wall:
        level = "bottom"
    if each.ceiling:
        level = "bottom"
    for side, line in (
        ("right", right + off["right"]),
        (level, low - off["bottom"] if level == "bottom" else high + off["top"]),
    ):
        chosen: Side = "right" if side == "right" else level
        steps = row.levels(chosen)
        placed = [Step(step.along * factor, step.reach * factor) for step in steps]
        if len(steps) > 2:
            added = chain(placed, [b.along - a.along for a, b in pairwise(steps)], chosen, line, unit, SIZE)
            marks += added.marks
            boxes += added.boxes
            box = bounds(added.marks)
            line = {"bottom": box[1] - 5.0, "top": box[3] + 4.0, "right": box[2] + 9.0}[chosen]
        marks += overall(placed[0], placed[-1], steps[-1].along - steps[0].along, chosen, line, unit, SIZE, boxes)
    return marks, boxes


def _names(canvas: Canvas, field: Field, each: Layered, factor: float, edge: float) -> None:
    """The members' names on the left, where no dimension stands, each with a leader to its member.

    edge: the left end of everything else, mm.
    """
    targets = [_inside(profile) for _, profile in each.members]
    order = sorted(range(len(targets)), key=lambda i: -targets[i][1])
    low, high = each.box[1] * factor - 10.0, each.box[3] * factor + 10.0
    for i in order:
        member, profile = each.members[i]
        first, second = f"{member}", profile.name if profile.name != member else ""
        wide = max(text_size(first, NAME, True)[0], text_size(second, NAME)[0] if second else 0.0)
        tall = NAME * (2.05 if second else 0.75)
        x, y = targets[i][0] * factor, targets[i][1] * factor

        def tries(
            x: float = x, y: float = y, wide: float = wide, tall: float = tall, first: str = first, second: str = second
        ) -> Iterator[tuple[Try, Callable[[], list[Mark]]]]:
            for column in (edge - 6.0, edge - 12.0):
                for at in np.arange(low, high + 0.1, 1.0).tolist():
                    foot = (column + 1.0, at)
                    patch = Patch(column - wide / 2, at, wide / 2 + CLEAR, tall / 2 + CLEAR)
                    lines = segments([(x, y), (column + 4.0, at), foot])
                    cost = 0.6 * abs(at - y) + (edge - column) / 3
                    yield Try((patch,), lines, cost), partial(_named, first, second, (x, y), foot)

        canvas.add(field.place(tries(), covered=8.0, crossed=6.0), member)


def _named(first: str, second: str, target: Point, foot: Point) -> list[Mark]:
    """A member's name, what its profile is called, and a leader that ends in a dot."""
    marks: list[Mark] = [stroke(foot, (foot[0] + 3.0, foot[1]), target, weight=THIN)]
    marks.append(Trace(circle(target, DOT), 0.0, INK, INK))
    x, y = foot[0] - 1.0, foot[1]
    wide = text_size(first, NAME, True)[0]
    if not second:
        return [*marks, Words(first, (x - wide, y - 0.33 * NAME), NAME, INK, bold=True)]
    marks.append(Words(first, (x - wide, y + 0.28 * NAME), NAME, INK, bold=True))
    marks.append(Words(second, (x - text_size(second, NAME)[0], y - 0.95 * NAME), NAME, FAINT))
    return marks


def _inside(profile: Profile) -> Point:
    """A point well inside a profile: the middle of the widest stretch of wood, of the level lines through it."""
    outline = flatten(profile, CHORD).points
    one, two = outline, np.roll(outline, -1, axis=0)
    low, high = float(outline[:, 1].min()), float(outline[:, 1].max())
    best = (-1.0, (0.0, 0.0))
    for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8):
        h = low + share * (high - low) + 1e-7
        crossed = (one[:, 1] < h) != (two[:, 1] < h)
        across = one[crossed, 0] + (h - one[crossed, 1]) / (two[crossed, 1] - one[crossed, 1]) * (
            two[crossed, 0] - one[crossed, 0]
        )
        row = np.sort(across)
        for begin, end in zip(row[0::2].tolist(), row[1::2].tolist(), strict=True):
            wide = (end - begin) * (1.0 if share == 0.5 else 0.8)
            if wide > best[0]:
                best = (wide, ((begin + end) / 2, h))
    return best[1]
