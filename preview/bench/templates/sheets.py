"""Templates on paper at full size: as many sheets as it takes, each with bars to check the print by.

The head says what the template is, the foot and the right-hand side hold a bar each way; what is left between them is
the window. A template larger than the window comes on sheets that lap by 12 mm: round marks in the laps fall on each
other, and the sheet is cut along the broken line in the middle of the lap.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from preview.bench.templates.bars import BESIDE, FOOT, bars
from preview.bench.templates.template import Role, Template, TemplateLabel, TemplateLine, box_of
from preview.errors import PreviewError
from preview.paper import (
    FAINT,
    INK,
    SHEETS,
    Box,
    Clipped,
    Mark,
    Page,
    Trace,
    Words,
    advance,
    ink_box,
    patch,
    printable,
    scaled,
    stroke,
    wrapped,
)
from preview.profiles import Arc, Point
from preview.scene import PaperName
from preview.units import Unit, counted, show

MARGIN = 10.0
"""mm on every side that printers may leave blank."""
LAP = 12.0
"""mm that neighboring sheets have in common."""
MARKS_APART = 45.0
"""mm between the round marks of a lap."""
CLEAR = 3.0
"""mm that lines keep from the window's edge."""
MOST_SHEETS = 24
SHIFTS = (0.5, 0.4, 0.6, 0.25, 0.75, 0.1, 0.9)
"""Where the spare room of all the sheets goes, as shares of it: the first that cuts the fewest labels in two."""
TITLE, TEXT, SMALL = 5.2, 3.6, 3.2
"""mm, the type of the heading, of the words below it, and of the job's name."""
MAP = 26.0
"""mm at the right of the head that the map of the sheets may take."""
PARAGRAPH = 250.0
"""Paper wider than this, mm, has its words in one paragraph."""
MOST_NAMES = 3
"""Lines of piece names on a sheet; the index has them all."""
WEIGHTS: dict[Role, tuple[float, str, tuple[float, ...]]] = {
    "cut": (0.4, INK, ()),
    "profile": (0.25, INK, ()),
    "back": (0.25, INK, ()),
    "face": (0.25, INK, ()),
    "edge": (0.25, INK, ()),
    "wall": (0.25, INK, (5.0, 1.5)),
    "guide": (0.18, FAINT, (2.5, 1.5)),
    "center": (0.18, INK, ()),
}
"""Weight (mm), color and dash of each line; its middle is the line."""


@dataclass(frozen=True)
class Layout:
    """How a template lies on paper, mm.

    width, height: of the paper as it is turned. window: (left, low, right, high) on each sheet. grid: sheets across
    and up. origin: where the template's own (0, 0) lies on the lower left sheet. cells: the (column, row from below)
    that hold any of it, in the order of the sheets; the rest are left out.
    """

    width: float
    height: float
    window: Box
    grid: tuple[int, int]
    origin: Point
    cells: tuple[tuple[int, int], ...]

    @property
    def step(self) -> tuple[float, float]:
        """From one sheet's window to the next."""
        left, low, right, high = self.window
        return (right - left - LAP, high - low - LAP)

    def at(self, cell: tuple[int, int]) -> Point:
        """Where the template's (0, 0) lies on one sheet."""
        return (self.origin[0] - cell[0] * self.step[0], self.origin[1] - cell[1] * self.step[1])


def sheet_pages(template: Template, paper: PaperName, unit: Unit, job: str = "") -> tuple[Page, ...]:
    """A template's sheets, row by row from the top left.

    job: the name of the job, on every sheet. Raises PreviewError for a template that takes more than 24 sheets.
    """
    lines, layout = laid_out(template, paper, unit, job)
    pages = []
    for i, cell in enumerate(layout.cells):
        across, up = layout.at(cell)
        place = scaled(1.0, across, up)
        inside: list[Mark] = [
            Trace(place.edges(line.edges), WEIGHTS[line.role][0], WEIGHTS[line.role][1], dash=WEIGHTS[line.role][2])
            for line in sorted(lines, key=lambda line: line.role == "cut")
        ]
        words = [_label(template, label, across, up) for label in template.labels]
        inside += [word for word in words if _inside(ink_box(word), layout.window)]
        around: list[Mark] = [*_head(template, layout, i, job), *bars(layout.width, MARGIN)]
        if len(layout.cells) > 1:
            around += _seams(layout, cell)
        pages.append(Page(layout.width, layout.height, (Clipped(layout.window, tuple(inside)), *around)))
    return tuple(pages)


def laid_out(
    template: Template, paper: PaperName, unit: Unit, job: str = ""
) -> tuple[tuple[TemplateLine, ...], Layout]:
    """The lines that are drawn and how they lie: the paper upright or turned, whichever takes fewer sheets."""
    whole = (*template.lines, *template.more)
    ways = [
        _settled(template, lines, width, height, job)
        for lines in (whole, template.lines)
        for width, height in (SHEETS[paper], SHEETS[paper][::-1])
    ]
    best = min(ways, key=lambda way: len(way.cells))
    if len(best.cells) > MOST_SHEETS:
        left, low, right, high = box_of(template.lines)
        raise PreviewError(
            template.title,
            None,
            f"at full size it is {show(right - left, unit)} by {show(high - low, unit)} and takes more than "
            f"{MOST_SHEETS} sheets of paper",
            "have its DXF plotted, or set it out with the figures given",
        )
    return (whole if ways.index(best) < 2 else template.lines), best


def _settled(template: Template, lines: tuple[TemplateLine, ...], width: float, height: float, job: str) -> Layout:
    """How a template lies on paper of that size, with the words on joining in the head where there is more than one."""
    layout = _laid(template, lines, width, height, _head_height(template, width, job, joined=False))
    if layout.grid == (1, 1):
        return layout
    return _laid(template, lines, width, height, _head_height(template, width, job, joined=True))


def _laid(template: Template, lines: tuple[TemplateLine, ...], width: float, height: float, head: float) -> Layout:
    high = height - MARGIN - head
    window = (MARGIN, MARGIN + FOOT, width - MARGIN - BESIDE, high)
    left, low, right, top = _extent(template, lines)
    room = (window[2] - window[0], window[3] - window[1])
    size = (right - left, top - low)
    count = [max(1, math.ceil((long - LAP) / (each - LAP))) for long, each in zip(size, room, strict=True)]
    spare = [each + (n - 1) * (each - LAP) - long for long, each, n in zip(size, room, count, strict=True)]
    shifts = SHIFTS if max(count) <= MOST_SHEETS else SHIFTS[:1]
    tried = [
        Layout(
            width,
            height,
            window,
            (count[0], count[1]),
            (window[0] + spare[0] * across - left, window[1] + spare[1] * up - low),
            tuple((column, row) for row in reversed(range(count[1])) for column in range(count[0])),
        )
        for across in (shifts if count[0] > 1 else SHIFTS[:1])
        for up in (shifts if count[1] > 1 else SHIFTS[:1])
    ]
    labels = [ink_box(_label(template, label, 0.0, 0.0)) for label in template.labels]
    layout = min(tried, key=lambda each: sum(not _whole(each, box) for box in labels))
    if len(layout.cells) == 1:
        return layout
    # A sheet with nothing but guides on it is not worth its paper, unless they are what was added.
    needed = [line for line in lines if line.role not in ("guide", "center") or line in template.more]
    held = _held(layout, needed)
    return replace(layout, cells=tuple(cell for cell in layout.cells if cell in held))


def _whole(layout: Layout, box: Box) -> bool:
    """Whether one of the sheets shows all of a box, clear of its laps."""
    left, low, right, high = layout.window
    for column, row in layout.cells:
        across, up = layout.at((column, row))
        sides = (
            left + LAP * (column > 0) <= box[0] + across,
            box[2] + across <= right - LAP * (column < layout.grid[0] - 1),
            low + LAP * (row > 0) <= box[1] + up,
            box[3] + up <= high - LAP * (row < layout.grid[1] - 1),
        )
        if all(sides):
            return True
    return False


def _extent(template: Template, lines: tuple[TemplateLine, ...]) -> tuple[float, float, float, float]:
    boxes = [box_of(lines), *(ink_box(_label(template, label, 0.0, 0.0)) for label in template.labels)]
    low, high = np.array(boxes)[:, :2].min(axis=0) - CLEAR, np.array(boxes)[:, 2:].max(axis=0) + CLEAR
    return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))


def _held(layout: Layout, lines: Iterable[TemplateLine]) -> set[tuple[int, int]]:
    """The sheets on which anything of the lines is to be seen: points of them, 2 mm apart at most."""
    found: set[tuple[int, int]] = set()
    corner, step = np.array(layout.window[:2]) - layout.origin, np.array(layout.step)
    for edge in (edge for line in lines for edge in line.edges):
        place = (edge.point(np.linspace(0.0, 1.0, 2 + int(edge.length / 2.0))) - corner) / step
        first = np.floor(place).astype(int)
        lapped = (place - first) * step < LAP  # what lies in a lap is on the sheet before as well
        for back in ((0, 0), (1, 0), (0, 1), (1, 1)):
            here = first[(lapped | (np.array(back) == 0)).all(axis=1)] - back
            found |= {(int(column), int(row)) for column, row in np.unique(here, axis=0)}
    return found


def _inside(box: Box, window: Box) -> bool:
    return window[0] <= box[0] and window[1] <= box[1] and box[2] <= window[2] and box[3] <= window[3]


def _label(template: Template, label: TemplateLabel, across: float, up: float) -> Words:
    text = printable(label.text.replace("{sign}", template.sign))
    wide = advance(text, label.size, label.bold)
    return Words(text, (label.at[0] + across - wide / 2, label.at[1] + up), label.size, INK, label.bold)


def _written(template: Template, width: float, job: str, joined: bool) -> list[tuple[str, float, bool]]:
    """The head, line by line: text, size, bold."""
    room = width - 2 * MARGIN - MAP
    lines = [(text, SMALL, False) for text in wrapped(job, room, SMALL)[:1] if text]
    lines += [(text, TITLE, True) for text in wrapped(f"{template.sign}  {template.title}", room, TITLE, bold=True)[:2]]
    names = wrapped(f"For {counted(len(template.pieces), 'piece')}: {', '.join(template.pieces)}", room, TEXT)
    if template.kind == "curve rod":
        names = wrapped(f"For {', '.join(template.pieces)}", room, TEXT)
    if len(names) > MOST_NAMES:
        names = [*names[: MOST_NAMES - 1], "and more, which the index names"]
    if len(template.pieces) > 1:
        lines += [(text, TEXT, False) for text in names]
    told = list(template.words)
    if template.strays:
        told.append(f"Drawn within {max(template.strays, 0.001):.3f} mm of the true curve, at the middle of the line.")
    if joined:
        told.append(
            "Lay the round marks of neighboring sheets on each other, cut one along its broken line, and tape them."
            + (f" They are joined right where {template.check} measures true." if template.check else "")
        )
    if width > PARAGRAPH:  # paper that lies on its side has lines to spare across, and none up
        told = [" ".join(told)]
    return lines + [(text, TEXT, False) for words in told for text in wrapped(words, room, TEXT)]


def _head_height(template: Template, width: float, job: str, joined: bool) -> float:
    return sum(size * 1.25 for _, size, _ in _written(template, width, job, joined)) + 3.0


def _head(template: Template, layout: Layout, number: int, job: str) -> Iterator[Mark]:
    y = layout.height - MARGIN
    for text, size, bold in _written(template, layout.width, job, layout.grid != (1, 1)):
        y -= size * 1.25
        yield Words(text, (MARGIN, y + size * 0.3), size, INK, bold)
    count = len(layout.cells)
    right, y = layout.width - MARGIN, layout.height - MARGIN - TEXT
    text = f"Sheet {number + 1} of {count}"
    yield Words(text, (right - advance(text, SMALL), y), SMALL, INK)
    y -= 2.0
    if count > 1:
        yield from _map(layout, number, right, y)


def _map(layout: Layout, number: int, right: float, top: float) -> Iterator[Mark]:
    """How the sheets lie together, this one filled; those with nothing on them are left out."""
    across, up = layout.grid
    shape = layout.step[1] / layout.step[0]
    wide = min((MAP - 4.0) / across, 12.0 / (up * shape))
    for i, (column, row) in enumerate(layout.cells):
        x, y = right - (across - column) * wide, top - (up - row) * wide * shape
        box = [(x, y), (x + wide, y), (x + wide, y + wide * shape), (x, y + wide * shape)]
        if i == number:
            yield patch(box, FAINT)
        yield stroke(*box, box[0], weight=0.18, ink=INK)


def _seams(layout: Layout, cell: tuple[int, int]) -> Iterator[Mark]:
    """In the middle of each lap the broken line to cut along, and round marks that both sheets have."""
    left, low, right, high = layout.window
    column, row = cell
    for beside, x in ((-1, left + LAP / 2), (1, right - LAP / 2)):
        if (column + beside, row) in layout.cells:
            yield _broken((x, low), (x, high))
            for y in _spread(low, high):
                yield from _round_mark((x, y))
    for beside, y in ((-1, low + LAP / 2), (1, high - LAP / 2)):
        if (column, row + beside) in layout.cells:
            yield _broken((left, y), (right, y))
            for x in _spread(left, right):
                yield from _round_mark((x, y))


def _spread(low: float, high: float) -> list[float]:
    """Places along a lap, clear of its ends; the same on both its sheets, whose windows stand alike."""
    count = max(2, int((high - low - 2 * LAP) / MARKS_APART) + 1)
    return [float(at) for at in np.linspace(low + 1.5 * LAP, high - 1.5 * LAP, count)]


def _round_mark(at: Point) -> Iterator[Mark]:
    (x, y), r = at, 2.5
    circle = (Arc((x + r, y), (x - r, y), at, math.pi), Arc((x - r, y), (x + r, y), at, math.pi))
    yield Trace(circle, 0.18, INK)
    yield stroke((x - 4.0, y), (x + 4.0, y), weight=0.18, ink=INK)
    yield stroke((x, y - 4.0), (x, y + 4.0), weight=0.18, ink=INK)


def _broken(begin: Point, end: Point) -> Trace:
    return Trace(tuple(stroke(a, b).edges[0] for a, b in pairwise([begin, end])), 0.18, FAINT, dash=(4.0, 4.0))
