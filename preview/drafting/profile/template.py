"""The paper template: the outline at full size as a PDF, with bars to check the print by."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from preview.drafting.profile.dimensioned import DrawingUnit, sizes_line
from preview.errors import PreviewError
from preview.paper import FAINT, INK, Clipped, Mark, Page, Trace, Words, advance, pdf_bytes, scaled, stroke, wrapped
from preview.profiles import Profile, measure
from preview.units import show

Paper = Literal["letter", "a4"]
PAPERS: dict[Paper, tuple[float, float]] = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
"""mm, upright. Letter is 8 1/2 by 11 in (ANSI/ASME Y14.1, size A), A4 is ISO 216; both from memory."""
MARGIN = 10.0
"""mm on every side that printers may leave blank."""
HEAD, FOOT = 24.0, 27.0
"""mm kept for the name above, and for the bars below."""
LAP = 10.0
"""mm that neighboring sheets have in common."""
CROSSES = 50.0
"""mm between the crosses that sheets are laid over each other by; also a check of the print."""
MOST_SHEETS = 24
OUTLINE = 0.25
"""mm, thinner than in a drawing: the middle of the line is the profile."""


@dataclass(frozen=True)
class _Sheets:
    """How a template is laid out: the paper, turned or not, and how many sheets across and up."""

    width: float
    height: float
    across: int
    up: int

    @property
    def window(self) -> tuple[float, float]:
        return (self.width - 2 * MARGIN, self.height - 2 * MARGIN - HEAD - FOOT)


def profile_pdf(profile: Profile, paper: Paper = "letter", unit: DrawingUnit = "in") -> bytes:
    """The outline at full size on letter or A4, as PDF that asks to be printed without scaling.

    An outline larger than the paper comes on several sheets that lap by 10 mm. Raises PreviewError for one that
    takes more than 24 sheets.
    """
    return pdf_bytes(
        template_pages(profile, paper, unit), f"{profile.name}: template", "Full size; print at 100 %, without scaling"
    )


def template_pages(profile: Profile, paper: Paper = "letter", unit: DrawingUnit = "in") -> tuple[Page, ...]:
    """The template's sheets, row by row from the top left; raises what `profile_pdf` does."""
    size = measure(profile)
    wide, high = size.d_max - size.d_min, size.h_max - size.h_min
    sheets = _sheets(wide, high, PAPERS[paper], unit)
    window_wide, window_high = sheets.window
    step = (window_wide - LAP, window_high - LAP)
    # The outline stands in the middle of all the sheets laid together.
    spare_across = window_wide + (sheets.across - 1) * step[0] - wide
    spare_up = window_high + (sheets.up - 1) * step[1] - high
    pages = []
    for row in reversed(range(sheets.up)):
        for column in range(sheets.across):
            across = MARGIN + spare_across / 2 - size.d_min - column * step[0]
            up = MARGIN + FOOT + spare_up / 2 - size.h_min - row * step[1]
            inside: list[Mark] = [Trace(scaled(1.0, across, up).edges(profile.edges), OUTLINE)]
            window = (MARGIN, MARGIN + FOOT, MARGIN + window_wide, MARGIN + FOOT + window_high)
            count = sheets.across * sheets.up
            place = ""
            if count > 1:
                inside += _crosses(window, across, up)
                inside += _laps(window, column, row, sheets)
                number = (sheets.up - 1 - row) * sheets.across + column + 1
                place = f"Sheet {number} of {count}: row {sheets.up - row} from the top, column {column + 1}"
            around = [*_head(profile, unit, sheets, place), *_check_bars()]
            pages.append(Page(sheets.width, sheets.height, (Clipped(window, tuple(inside)), *around)))
    return tuple(pages)


def _sheets(wide: float, high: float, paper: tuple[float, float], unit: DrawingUnit) -> _Sheets:
    """The paper upright or turned, whichever takes fewer sheets."""

    def laid(width: float, height: float) -> _Sheets:
        window = _Sheets(width, height, 1, 1).window
        clear = 2.0  # keeps the outline's own line off the window's edge
        counts = [
            max(1, math.ceil((size + clear - LAP) / (room - LAP)))
            for size, room in zip((wide, high), window, strict=True)
        ]
        return _Sheets(width, height, counts[0], counts[1])

    best = min((laid(*paper), laid(*reversed(paper))), key=lambda sheets: sheets.across * sheets.up)
    count = best.across * best.up
    if count > MOST_SHEETS:
        raise PreviewError(
            "",
            None,
            f"a full-size template of {show(wide, unit)} by {show(high, unit)} would take {count} sheets of paper, "
            f"and {MOST_SHEETS} is the most",
            "write the DXF or the SVG, and have it plotted",
        )
    return best


def _head(profile: Profile, unit: DrawingUnit, sheets: _Sheets, place: str) -> list[Mark]:
    top = sheets.height - MARGIN
    name = wrapped(profile.name, sheets.width - 2 * MARGIN, 6.5, bold=True)
    more = name[0] + "..." if len(name) > 1 else name[0]
    told = f"{sizes_line(profile, unit)}. Full size: the middle of the line is the profile; the wall is on the left."
    texts = [told, "Print at actual size (100 %), then check both bars with a rule before use."]
    marks: list[Mark] = [Words(more, (MARGIN, top - 5.5), 6.5, INK, bold=True)]
    marks += [Words(text, (MARGIN, top - 11.5 - 5.0 * i), 4.0, FAINT) for i, text in enumerate(texts)]
    return [*marks, Words(place, (MARGIN, top - 21.5), 4.0, INK)] if place else marks


def _check_bars() -> list[Mark]:
    """100 mm in tenths, 4 in in eighths: from end tick to end tick."""
    marks: list[Mark] = []
    for low, length, parts, major, words in (
        (MARGIN + 13.5, 4 * 25.4, 32, 8, ("0", "1", "2", "3", "4 in")),
        (MARGIN + 1.0, 100.0, 20, 4, ("0", "20", "40", "60", "80", "100 mm")),
    ):
        marks.append(stroke((MARGIN, low), (MARGIN + length, low), weight=0.2, ink=INK))
        for i in range(parts + 1):
            x = MARGIN + length * i / parts
            tall = 3.4 if i % major == 0 else 2.2 if i % 2 == 0 else 1.4
            marks.append(stroke((x, low), (x, low + tall), weight=0.2, ink=INK))
        for i, word in enumerate(words):
            figure = advance(word.split()[0], 3.4)
            marks.append(
                Words(word, (MARGIN + length * i * major / parts - (figure / 2 if i else 0.0), low + 4.4), 3.4, INK)
            )
    return marks


def _crosses(window: Sequence[float], across: float, up: float) -> Iterator[Mark]:
    """Crosses every 50 mm of the profile's own frame, alike on all sheets."""
    left, low, right, high = window
    for i in range(math.ceil((left - across) / CROSSES), math.floor((right - across) / CROSSES) + 1):
        for j in range(math.ceil((low - up) / CROSSES), math.floor((high - up) / CROSSES) + 1):
            x, y = across + i * CROSSES, up + j * CROSSES
            yield stroke((x - 2.5, y), (x + 2.5, y), weight=0.18, ink=FAINT)
            yield stroke((x, y - 2.5), (x, y + 2.5), weight=0.18, ink=FAINT)


def _laps(window: Sequence[float], column: int, row: int, sheets: _Sheets) -> Iterator[Mark]:
    """Broken lines in the middle of each lap, where one sheet is cut and laid on its neighbor."""
    left, low, right, high = window
    for there, x in ((column > 0, left + LAP / 2), (column < sheets.across - 1, right - LAP / 2)):
        if there:
            yield _broken((x, low), (x, high))
    for there, y in ((row > 0, low + LAP / 2), (row < sheets.up - 1, high - LAP / 2)):
        if there:
            yield _broken((left, y), (right, y))


def _broken(begin: tuple[float, float], end: tuple[float, float]) -> Trace:
    """A broken line of 4 mm dashes."""
    count = int(math.dist(begin, end) / 4) | 1
    points = [
        (begin[0] + (end[0] - begin[0]) * i / count, begin[1] + (end[1] - begin[1]) * i / count)
        for i in range(count + 1)
    ]
    dashes = [stroke(a, b).edges[0] for a, b in list(pairwise(points))[::2]]
    return Trace(tuple(dashes), 0.18, FAINT)
