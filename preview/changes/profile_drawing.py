"""The profiles of a member before and now, laid over each other and measured."""

from __future__ import annotations

import math

from preview.changes.outlines import Apart, apart, bounds, same_outline
from preview.changes.pairs import Pairs, plain
from preview.changes.plan_drawing import Drawn
from preview.changes.saying import TINY, long
from preview.changes.sheet import (
    BEFORE,
    BEFORE_LINE,
    FAINT,
    INK,
    NOW,
    NOW_LINE,
    ONLY_ONE,
    SAME_WOOD,
    SOFT,
    Line,
    Placing,
    Sheet,
    number,
    scale_words,
    wrapped,
)
from preview.profiles import Profile, measure
from preview.scene import Member
from preview.units import Unit

SCALES = (4.0, 3.0, 2.0, 1.0, 1 / 2, 1 / 4, 1 / 8, 1 / 16, 1 / 32)
ROOM = (60.0, 90.0)
"""mm, the width and height that a section may fill."""
BESIDE, BELOW = 34.0, 16.0
"""mm kept free on the left and below, for dimensions."""
COLUMN = 118.0
"""mm, the width of one drawing."""
THIN = Line(SOFT, 0.25)
WALL = Line(SOFT, 0.35)


def profile_drawings(members: Pairs[Member], unit: Unit) -> list[Drawn]:
    """One drawing for each member whose profile changed."""
    found = []
    for before, after in members:
        if before is not None and after is not None and not same_outline(plain(before), plain(after)):
            one, other = plain(before), plain(after)
            far = apart(one, other)
            if far.distance > TINY:
                title = after.name if before.name == after.name else f"{after.name} in place of {before.name}"
                found.append(_drawing(title, one, other, far, unit))
    return found


def _drawing(title: str, one: Profile, other: Profile, far: Apart, unit: Unit) -> Drawn:
    box = bounds([one, other])
    low, high, right = box[1], box[3], box[2]
    scale = next((s for s in SCALES if right * s <= ROOM[0] and (high - low) * s <= ROOM[1]), SCALES[-1])
    sheet = Sheet()
    sheet.words(f"Profile of {title}", (0.0, 4.0), 4.2, INK, bold=True)
    rows = [("Now", other, NOW), ("Before", one, BEFORE)]
    top = 9.5
    for word, profile, ink in rows:
        for text in wrapped(f"{word}: {profile.name}", COLUMN - 4.0, 3.2):
            sheet.words(text, (0.0, top), 3.2, ink)
            top += 4.2
    top += 4.0
    place = Placing(scale, BESIDE, top + scale * high)
    foot = top + scale * (high - low)
    sheet.stroke([(BESIDE, top - 4.0), (BESIDE, foot + 4.0)], WALL)
    sheet.words("wall", (BESIDE - 1.5, top - 1.5), 2.8, FAINT, anchor="end")
    old, new = place.outline(one.edges), place.outline(other.edges)
    sheet.path(new, None, SAME_WOOD)
    sheet.path(f"{old} {new}", None, ONLY_ONE, rule="evenodd")
    sheet.path(new, NOW_LINE)
    sheet.path(old, BEFORE_LINE)
    _dimensions(sheet, place, one, other, foot, unit)
    _furthest(sheet, place, far, box, unit)
    sheet.words(f"Scale {scale_words(scale)}", (0.0, foot + BELOW + 4.0), 3.2, FAINT)
    return Drawn(sheet, COLUMN, foot + BELOW + 6.0)


def _dimensions(sheet: Sheet, place: Placing, one: Profile, other: Profile, foot: float, unit: Unit) -> None:
    """Heights on the left and depths below, of the new one next to it and of the old one outside that."""
    first, second = measure(one), measure(other)
    heights = [(second.h_min, second.h_max, NOW), (first.h_min, first.h_max, BEFORE)]
    depths = [(second.d_max, NOW), (first.d_max, BEFORE)]
    if abs(heights[0][0] - heights[1][0]) <= TINY and abs(heights[0][1] - heights[1][1]) <= TINY:
        heights = [(*heights[0][:2], SOFT)]
    if abs(depths[0][0] - depths[1][0]) <= TINY:
        depths = [(depths[0][0], SOFT)]
    for row, (low, high, ink) in enumerate(heights):
        x = BESIDE - 6.0 - 12.0 * row
        ends = [place.point((0.0, h)) for h in (low, high)]
        line = Line(ink, 0.25, ink == BEFORE)
        sheet.stroke([(x, ends[0][1]), (x, ends[1][1])], line)
        for end in ends:
            sheet.stroke([(x - 1.2, end[1]), (min(end[0], BESIDE) - 0.8, end[1])], Line(ink, 0.18))
        text = long(high - low, unit)
        middle = (ends[0][1] + ends[1][1]) / 2
        sheet.marks.append(f'<g transform="rotate(-90 {number(x - 1.2)} {number(middle)})">')
        sheet.words(text, (x - 1.2, middle), 3.2, ink, bold=True, anchor="middle")
        sheet.marks.append("</g>")
    beyond = max(place.point((deep, 0.0))[0] for deep, _ in depths) + 1.8
    for row, (deep, ink) in enumerate(depths):
        y = foot + 6.0 + 6.5 * row
        left, right = place.point((0.0, 0.0))[0], place.point((deep, 0.0))[0]
        sheet.stroke([(left, y), (right, y)], Line(ink, 0.25, ink == BEFORE))
        for x in (left, right):
            sheet.stroke([(x, foot + 1.0), (x, y + 1.2)], Line(ink, 0.18))
        sheet.words(long(deep, unit), (beyond, y + 1.1), 3.2, ink, bold=True)


def _furthest(sheet: Sheet, place: Placing, far: Apart, box: tuple[float, float, float, float], unit: Unit) -> None:
    """Where the two outlines are furthest apart, and by how much."""
    at, to = place.point(far.at), place.point(far.to)
    sheet.stroke([at, to], Line(INK, 0.35))
    middle = ((at[0] + to[0]) / 2, (at[1] + to[1]) / 2)
    radius = max(1.6, math.dist(at, to) / 2 + 0.8)
    if radius <= 3.0:
        x, y, r = number(middle[0]), number(middle[1]), number(radius)
        sheet.marks.append(f'<circle cx="{x}" cy="{y}" r="{r}" fill="none" stroke="{INK}" stroke-width="0.25"/>')
    else:
        for end in (at, to):
            x, y = number(end[0]), number(end[1])
            sheet.marks.append(f'<circle cx="{x}" cy="{y}" r="0.7" fill="{INK}"/>')
    column = place.point((box[2], 0.0))[0] + 8.0
    text = ("furthest apart:", long(far.distance, unit))
    sheet.stroke([middle, (column - 1.0, middle[1])], THIN)
    sheet.words(text[0], (column, middle[1] - 0.8), 3.0, INK)
    sheet.words(text[1], (column, middle[1] + 3.2), 3.2, INK, bold=True)
