"""Sticks drawn to one scale, each with what is cut from it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from preview.paper import FAINT, INK, LINING, SOFT, WHITE, WOOD, Mark, Page, Words, advance, patch, stroke
from preview.sticks import Laid, Layout

WIDE = 118.0
"""mm"""
ROW, BAR = 10.5, 5.2
"""mm from stick to stick, and how high one is drawn."""
NAMED = 20.0
"""mm on the left for a stick's length."""
TYPE, SMALL = 2.5, 2.1
WEIGHT = 0.25

Told = Callable[[float], str]


def sticks_drawing(
    layout: Layout, lengths: Mapping[str, float], tags: Mapping[str, str], tolds: tuple[Told, Told], trim: float
) -> Page:
    """The sticks of a layout, the longest across the whole width: parts with their tags, what is left in gray.

    lengths: of the parts, mm; tags: the numbers of the pieces in the drawings; tolds: how the lengths of parts are
    written, and those of sticks; trim: cut off each end, mm.
    """
    longest = max((laid.stick.length for laid in layout.used), default=1.0)
    scale = (WIDE - NAMED) / longest
    high = ROW * len(layout.used)
    marks: list[Mark] = []
    for number, laid in enumerate(layout.used):
        marks += _stick(laid, lengths, tags, tolds, trim, scale, high - ROW * (number + 1) + 3.4)
    return Page(WIDE, max(high, ROW), tuple(marks))


def _stick(
    laid: Laid,
    lengths: Mapping[str, float],
    tags: Mapping[str, str],
    tolds: tuple[Told, Told],
    trim: float,
    scale: float,
    low: float,
) -> Iterator[Mark]:
    length = laid.stick.length
    told, sold = tolds
    right = NAMED + length * scale
    yield Words(sold(length), (0.0, low + BAR / 2 - 0.35 * TYPE), TYPE, INK, bold=True)
    yield patch([(NAMED, low), (right, low), (right, low + BAR), (NAMED, low + BAR)], LINING)
    # Good wood that nothing is cut from stands between the last part and the end that is trimmed off.
    kerfs = max(len(laid.parts) - 1, 0)
    spare = length - 2 * trim - laid.offcut - sum(lengths[name] for name in laid.parts)
    kerf = max(spare, 0.0) / max(kerfs + (laid.offcut > 0), 1)
    x = trim
    for name in laid.parts:
        begin, end = NAMED + x * scale, NAMED + (x + lengths[name]) * scale
        corners = [(begin, low), (end, low), (end, low + BAR), (begin, low + BAR)]
        yield patch(corners, WOOD)
        yield stroke(*corners, corners[0], weight=WEIGHT, ink=INK)
        if advance(tags[name], TYPE, bold=True) + 0.8 <= end - begin:
            yield _middle(tags[name], (begin + end) / 2, low + BAR / 2 - 0.35 * TYPE, TYPE, INK, True)
        if advance(told(lengths[name]), SMALL) + 0.6 <= end - begin:
            yield _middle(told(lengths[name]), (begin + end) / 2, low - 2.6, SMALL, SOFT)
        x += lengths[name] + kerf
    begin, end = NAMED + x * scale, NAMED + (length - trim) * scale
    left = f"{told(laid.offcut)} left"
    if laid.offcut > 0 and advance(left, SMALL) + 1.0 <= end - begin:
        yield patch([(begin, low), (end, low), (end, low + BAR), (begin, low + BAR)], WHITE)
        yield _middle(left, (begin + end) / 2, low + BAR / 2 - 0.35 * SMALL, SMALL, FAINT)
    outline = [(NAMED, low), (right, low), (right, low + BAR), (NAMED, low + BAR), (NAMED, low)]
    yield stroke(*outline, weight=WEIGHT, ink=INK)


def _middle(text: str, x: float, y: float, size: float, ink: str, bold: bool = False) -> Words:
    return Words(text, (x - advance(text, size, bold=bold) / 2, y), size, ink, bold)
