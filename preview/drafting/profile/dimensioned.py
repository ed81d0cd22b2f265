"""The dimensioned drawing of a profile: the section, its sizes, its steps and radii, a name and a scale bar."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Literal

import numpy as np

from preview.drafting.profile.chains import Side, Step, chain, measure_along, nearer, overall, steps
from preview.drafting.profile.facts import curves_of
from preview.drafting.profile.radii import Floats, radii
from preview.paper import (
    FAINT,
    FINE,
    INK,
    LINING,
    THICK,
    WHITE,
    WOOD,
    Box,
    Mark,
    Page,
    Placing,
    Trace,
    Words,
    advance,
    both,
    bounds,
    moved,
    patch,
    png_bytes,
    scaled,
    stroke,
    svg_bytes,
    wrapped,
)
from preview.profiles import Line, Profile, flatten, measure

DrawingUnit = Literal["in", "mm"]

SIZE = 5.0
"""mm, the type of dimensions: on a phone's width it is still some 13 pixels."""
MARGIN = 8.0
LEAST_WIDTH = 150.0
ROOMS = ((2.0, (112.0, 84.0)), (1.0, (80.0, 100.0)), (0.0, (66.0, 122.0)))
"""mm, the width and height that the section itself may fill, where it is that many times wider than high."""
SCALES = tuple(
    Fraction(text)
    for text in (
        "10",
        "8",
        "6",
        "5",
        "4",
        "3",
        "2",
        "3/2",
        "1",
        "3/4",
        "1/2",
        "3/8",
        "1/4",
        "1/8",
        "1/16",
        "1/32",
        "1/64",
        "1/128",
    )
)
SIDES: tuple[Side, ...] = ("right", "left", "top", "bottom")
FIRST = 9.0
"""mm between the outline and the first dimension line."""
LINING_STEP = 2.4
"""mm between the lines of section lining."""
BAR = 46.0
"""mm, the longest scale bar."""


def profile_drawing(profile: Profile, unit: DrawingUnit = "in") -> Page:
    """The dimensioned drawing as a page, sized to what is on it; the face is on the right, the wall on the left."""
    size = measure(profile)
    scale = scale_for(size.d_max - size.d_min, size.h_max - size.h_min)
    drawn = list(dimensioned(profile, scaled(float(scale)), unit))
    left, low, right, _ = bounds(drawn)
    width = max(LEAST_WIDTH, right - left + 2 * MARGIN)
    head = heading(profile, unit, width)
    what = "Inches, with millimeters in gray." if unit == "in" else "Millimeters, with inches in gray."
    foot = footing(scale, unit, what, "The wall is on the left.")
    # From the bottom up: footing, drawing, heading, each moved so that its box falls in place.
    foot = list(moved(foot, 0.0, MARGIN - bounds(foot)[1]))
    drawn = list(moved(drawn, (width - right - left) / 2, bounds(foot)[3] + 10.0 - low))
    head = list(moved(head, 0.0, bounds(drawn)[3] + 9.0 - bounds(head)[1]))
    return Page(width, bounds(head)[3] + MARGIN, (*drawn, *head, *foot))


def profile_sheet_svg(profile: Profile, unit: DrawingUnit = "in") -> bytes:
    """The dimensioned drawing as SVG."""
    return svg_bytes(profile_drawing(profile, unit), profile.name, f"Dimensioned section. {sizes_line(profile, unit)}")


def profile_sheet_png(profile: Profile, unit: DrawingUnit = "in", across: int = 1600) -> bytes:
    """The dimensioned drawing as PNG, so many pixels wide."""
    return png_bytes(profile_drawing(profile, unit), across)


def section(profile: Profile, place: Placing, weight: float = THICK, falling: bool = False) -> tuple[Mark, ...]:
    """The section itself: filled, lined at 45 degrees, with a thick outline.

    falling: whether its lining falls to the right, as that of the second of two members side by side does.
    """
    edges = place.edges(profile.edges)
    return (
        Trace(edges, 0.0, WOOD, WOOD),
        Trace(lining(on_page(profile, place), falling), FINE, LINING),
        Trace(edges, weight),
    )


def on_page(profile: Profile, place: Placing) -> Floats:
    """The flattened outline on the page, (n, 2)."""
    factor = math.hypot(place.a, place.c)
    return np.array([place.point((x, y)) for x, y in flatten(profile, 0.02 / factor).points.tolist()])


def scale_for(wide: float, high: float) -> Fraction:
    """The largest usual scale at which a section of that size, mm, fits the room for it."""
    across, up = next(room for times, room in ROOMS if wide > times * high)
    fitting = [scale for scale in SCALES if wide * scale <= across and high * scale <= up]
    return fitting[0] if fitting else SCALES[-1]


def scale_words(scale: Fraction) -> str:
    """A scale as it is written.

    >>> scale_words(Fraction(3, 4)), scale_words(Fraction(2)), scale_words(Fraction(1))
    ('Scale 3:4', 'Scale 2:1', 'Scale 1:1, full size')
    """
    return f"Scale {scale.numerator}:{scale.denominator}" + (", full size" if scale == 1 else "")


def sizes_line(profile: Profile, unit: DrawingUnit) -> str:
    """Height and projection, in the unit asked for."""
    size = measure(profile)
    high, out = both(size.h_max - size.h_min, unit)[0], both(size.d_max - size.d_min, unit)[0]
    after = " mm" if unit == "mm" else ""
    return f"Height {high}{after}, projection {out}{after}"


def heading(profile: Profile, unit: DrawingUnit, width: float) -> list[Mark]:
    """The name and the two sizes, from the left margin; the last baseline is at 0."""
    lines = wrapped(profile.name, width - 2 * MARGIN, 8.0, bold=True) or [""]
    high = [Words(line, (MARGIN, 7.6 + 9.0 * i), 8.0, INK, bold=True) for i, line in enumerate(reversed(lines))]
    return [*high, Words(sizes_line(profile, unit), (MARGIN, 0.0), SIZE, FAINT)]


def footing(scale: Fraction, unit: DrawingUnit, *notes: str) -> list[Mark]:
    """A scale bar and, right of it, the scale and notes, a line each."""
    right = MARGIN + BAR + 10.0
    lines = [Words(scale_words(scale), (right, 0.2), 4.2, INK)]
    lines += [Words(note, (right, -5.2 * i), 4.2, FAINT) for i, note in enumerate(notes, 1)]
    return [*scale_bar(scale, unit, MARGIN, 0.2), *lines]


def scale_bar(scale: Fraction, unit: DrawingUnit, left: float, low: float) -> list[Mark]:
    """A bar of true lengths at that scale, at most 46 mm on the page, in four parts, the first two marked."""
    steps_mm = (
        [Fraction(127, 5) * Fraction(2) ** k for k in range(-4, 8)]
        if unit == "in"
        else [Fraction(step) * 10**k for k in range(4) for step in (1, 2, 5)]
    )
    whole = max((step for step in steps_mm if step * scale <= BAR), default=steps_mm[0])
    part = float(whole * scale) / 4
    marks: list[Mark] = []
    for i in range(4):
        x = left + i * part
        marks.append(
            patch([(x, low), (x + part, low), (x + part, low + 1.6), (x, low + 1.6)], INK if i % 2 == 0 else WHITE)
        )
    corner = [(left, low), (left + 4 * part, low), (left + 4 * part, low + 1.6), (left, low + 1.6), (left, low)]
    marks.append(stroke(*corner, weight=0.25))
    for share in (0, 2, 4):
        mm = float(whole) * share / 4
        text = "0" if not share else both(mm, unit)[0] + (" mm" if unit == "mm" and share == 4 else "")
        figure = both(mm, unit)[0]
        x = left + share * part - (advance(figure, 3.9) / 2 if share else 0.0)
        marks.append(Words(text, (x, low - 4.4), 3.9, INK))
    return marks


def dimensioned(
    profile: Profile,
    place: Placing,
    unit: DrawingUnit,
    size: float = SIZE,
    stand_off: Mapping[Side, float] | None = None,
) -> list[Mark]:
    """The section with its dimensions, in the placing's own coordinates.

    size: of the type, mm. stand_off: how far, mm, the first dimension line on a side stands off the outline.
    """
    off = dict.fromkeys(SIDES, FIRST) | dict(stand_off or {})
    outline = on_page(profile, place)
    left, low = outline.min(axis=0).tolist()
    right, high = outline.max(axis=0).tolist()
    seen = {side: steps(profile, side) for side in SIDES}
    column = right + off["right"]
    crossing = [step.along * place.a for step in seen["right"]]
    told = radii(curves_of(profile), place, column, crossing, outline, unit, size)
    lines: dict[Side, float] = {
        "right": column + (told.width + 4.5 if told.marks else 0.0),
        "left": left - off["left"],
        "top": high + off["top"],
        "bottom": low - off["bottom"],
    }
    chained = {
        **seen,
        "top": nearer(seen["top"], seen["bottom"], yields=True),
        "bottom": nearer(seen["bottom"], seen["top"]),
    }
    marks: list[Mark] = list(section(profile, place))
    boxes: dict[Side, tuple[Box, ...]] = {}
    for side in SIDES:
        levels = chained[side]
        # A chain of one length that is the whole says nothing that the overall dimension does not.
        if len(levels) > 2 or (len(levels) == 2 and levels[-1] != seen[side][-1]):
            lengths = [b.along - a.along for a, b in pairwise(levels)]
            added = chain(_on_page(levels, place), lengths, side, lines[side], unit, size, told.boxes)
            marks += added.marks
            boxes[side] = added.boxes
            lines[side] = _beyond(side, bounds(added.marks))
    marks += told.marks
    # The overall projection goes to the side that the furthest point is nearer to.
    reach_top, reach_bottom = seen["top"][-1].reach, -seen["bottom"][-1].reach
    whole = measure(profile)
    level: Side = "bottom" if reach_bottom - whole.h_min <= whole.h_max - reach_top else "top"
    for side in ("left", level):
        begin, end = measure_along(profile, side)
        first, *_, last = _on_page(seen[side], place)
        marks += overall(first, last, end - begin, side, lines[side], unit, size, boxes.get(side, ()))
    return marks


def _on_page(levels: Sequence[Step], place: Placing) -> list[Step]:
    return [Step(step.along * place.a, step.reach * place.a) for step in levels]


def _beyond(side: Side, box: Box) -> float:
    """Where the next dimension line stands, past a chain that fills the box."""
    left, low, right, high = box
    return {"right": right + 6.0, "left": left - 9.0, "top": high + 5.0, "bottom": low - 5.0}[side]


def lining(outline: Floats, falling: bool = False) -> tuple[Line, ...]:
    """Lines at 45 degrees inside a flattened outline (n, 2), mm on the page; falling: to the right."""
    mirror = -1.0 if falling else 1.0
    x, y = mirror * outline[:, 0], outline[:, 1]
    u, v = x - y, x + y
    u_next, v_next = np.roll(u, -1), np.roll(v, -1)
    step = LINING_STEP * math.sqrt(2)
    lines: list[Line] = []
    for k in range(math.ceil(u.min() / step), math.floor(u.max() / step) + 1):
        at = k * step + 1e-7  # off the corners, which stand on round numbers
        crossed = (u < at) != (u_next < at)
        share = (at - u[crossed]) / (u_next[crossed] - u[crossed])
        found = np.sort(v[crossed] + share * (v_next[crossed] - v[crossed]))
        for begin, end in zip(found[0::2].tolist(), found[1::2].tolist(), strict=True):
            first, last = (mirror * (at + begin) / 2, (begin - at) / 2), (mirror * (at + end) / 2, (end - at) / 2)
            lines.append(Line(first, last))
    return tuple(lines)
