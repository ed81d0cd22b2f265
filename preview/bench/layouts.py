"""Sticks drawn to one scale, each with what is cut from it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from preview.cutlist import ShopJob, read_length
from preview.paper import (
    FAINT,
    INK,
    LINING,
    SOFT,
    WHITE,
    WOOD,
    Clipped,
    Mark,
    Page,
    Words,
    advance,
    patch,
    shifted,
    stroke,
)
from preview.sticks import Laid, Layout

WIDE = 118.0
"""mm"""
BAR = 5.2
"""mm, how high a stick is drawn."""
UNDER, TIER = 3.2, 2.9
"""mm from a bar down to the first line of figures, and from line to line."""
BETWEEN = 2.4
"""mm from the last line of figures to the next stick."""
NAMED = 20.0
"""mm on the left for a stick's length."""
TYPE, SMALL = 2.5, 2.1
CLEAR = 1.2
"""mm between figures."""
SOLD_TO = 25.4 / 16
WEIGHT = 0.25
TOUCHING = 1e-6

Told = Callable[[float], str]
Figure = tuple[str, str, float]
"""A figure under its part, the same where it has to say whose it is, and the middle of the part, mm."""
Placed = tuple[str, float]
"""A figure, and where it begins, mm."""


def stick_text(job: ShopJob, mm: float) -> str:
    """The length of a stick as it is sold: in feet where the shop reads inches, whole feet without inches, and mm."""
    unit = job.built.scene.units
    if unit in ("in", "ft"):
        read = read_length(mm, SOLD_TO, "ft")
        if read.exact:
            return read.text.removesuffix(' 0"')
    return read_length(mm, job.shop.rounding, unit).text if unit in ("cm", "m") else f"{mm:g} mm"


def sticks_drawings(
    layout: Layout,
    lengths: Mapping[str, float],
    tags: Mapping[str, str],
    tolds: tuple[Told, Told],
    lost: tuple[float, float],
    room: float,
) -> list[Page]:
    """The sticks of a layout, the longest across the whole width: parts with their tags, what is left over in white.

    lengths: of the parts, mm; tags: the numbers of the pieces in the drawings; tolds: how the lengths of parts are
    written, and those of sticks; lost: what is trimmed off each end, and what each cut takes, mm. What is reckoned for
    defects stands at the far end. room: how high a page may be at most, mm; there are as many as it takes.
    """
    longest = max((laid.stick.length for laid in layout.used), default=1.0)
    scale = (WIDE - NAMED) / longest
    pages: list[list[Page]] = [[]]
    for laid in layout.used:
        row = _stick(laid, lengths, tags, tolds, lost, scale)
        if pages[-1] and sum(each.height for each in pages[-1]) + row.height > room:
            pages.append([])
        pages[-1].append(row)
    return [_stacked(rows) for rows in pages if rows]


def _stacked(rows: Sequence[Page]) -> Page:
    high = sum(row.height for row in rows)
    marks: list[Mark | Clipped] = []
    y = high
    for row in rows:
        y -= row.height
        marks += shifted(row.marks, 0.0, y)
    return Page(WIDE, high, tuple(marks))


def _stick(
    laid: Laid,
    lengths: Mapping[str, float],
    tags: Mapping[str, str],
    tolds: tuple[Told, Told],
    lost: tuple[float, float],
    scale: float,
) -> Page:
    """One stick, as high as its lines of figures need."""
    told, sold = tolds
    right = NAMED + laid.stick.length * scale
    figures: list[Figure] = []
    bars: list[tuple[float, float, str]] = []
    trim, kerf = lost
    x = trim
    for name in laid.parts:
        begin, end = NAMED + x * scale, NAMED + (x + lengths[name]) * scale
        inside = advance(tags[name], TYPE, bold=True) + 0.8 <= end - begin
        bars.append((begin, end, tags[name] if inside else ""))
        length, full = told(lengths[name]), f"{tags[name]}: {told(lengths[name])}"
        figures.append((length if inside else full, full, (begin + end) / 2))
        x += lengths[name] + kerf
    begin, end = NAMED + x * scale, NAMED + (x + laid.offcut) * scale
    is_left = laid.offcut > TOUCHING
    left = f"{told(laid.offcut)} left"
    left_inside = is_left and advance(left, SMALL) + 1.0 <= end - begin
    if is_left and not left_inside:
        figures.append((left, left, (begin + end) / 2))
    lines = _tiers(figures)
    high = BAR + UNDER + TIER * (len(lines) - 1) + BETWEEN
    low = high - BAR - 0.4
    return Page(
        WIDE, high, tuple(_marks(laid, sold, bars, (begin, end, left, is_left, left_inside), lines, low, right))
    )


def _marks(
    laid: Laid,
    sold: Told,
    bars: Sequence[tuple[float, float, str]],
    offcut: tuple[float, float, str, bool, bool],
    lines: Sequence[Sequence[Placed]],
    low: float,
    right: float,
) -> Iterator[Mark]:
    middle = low + BAR / 2 - 0.35 * TYPE
    yield Words(sold(laid.stick.length), (0.0, middle), TYPE, INK, bold=True)
    yield patch(_box(NAMED, right, low), LINING)
    for begin, end, tag in bars:
        corners = _box(begin, end, low)
        yield patch(corners, WOOD)
        yield stroke(*corners, corners[0], weight=WEIGHT, ink=INK)
        if tag:
            yield Words(tag, ((begin + end - advance(tag, TYPE, bold=True)) / 2, middle), TYPE, INK, True)
    begin, end, left, is_left, left_inside = offcut
    if is_left:
        yield patch(_box(begin, end, low), WHITE)
    if left_inside:
        at = ((begin + end - advance(left, SMALL)) / 2, low + BAR / 2 - 0.35 * SMALL)
        yield Words(left, at, SMALL, FAINT)
    corners = _box(NAMED, right, low)
    yield stroke(*corners, corners[0], weight=WEIGHT, ink=INK)
    for number, line in enumerate(lines):
        y = low - UNDER + 0.5 - TIER * number
        for text, x in line:
            yield Words(text, (x, y), SMALL, SOFT)


def _box(begin: float, end: float, low: float) -> list[tuple[float, float]]:
    return [(begin, low), (end, low), (end, low + BAR), (begin, low + BAR)]


def _tiers(figures: Sequence[Figure]) -> list[list[Placed]]:
    """Figures in as few lines as keep them apart, each as near as it gets to the middle of what it is of.

    In the first line a figure stands under its own part; further down it says whose it is.
    """
    lines: list[list[Placed]] = [[]]
    for short, full, middle in figures:
        for number in range(len(lines) + 1):
            text = full if number else short
            wide = advance(text, SMALL)
            x = min(max(middle - wide / 2, NAMED), WIDE - wide)
            if number == len(lines):
                lines.append([])
            line = lines[number]
            if not line or line[-1][1] + advance(line[-1][0], SMALL) + CLEAR <= x:
                line.append((text, x))
                break
    return lines
