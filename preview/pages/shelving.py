"""Drawings on shelves: how they share pages, in rows and columns, and how a row is set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.platypus import Flowable

from preview.drafting import Drawing
from preview.pages.blocks import Drawn, Stacks
from preview.pages.style import points
from preview.pages.tags import Element
from preview.pages.words import clean
from preview.paper import Page

BETWEEN = 10.0
"""mm between drawings side by side."""
UNDER = 8.0
"""mm between rows of them."""
FITS = 1e-6
HEADING = 11.0
"""mm, what the heading over drawings takes."""


@dataclass(frozen=True)
class Item:
    """A drawing that is to stand in a row: its page, at which scale it is painted, what it shows, and whether it is one
    of a series that is to be read in order.
    """

    page: Page
    words: str
    scale: float = 1.0
    series: bool = False

    @property
    def width(self) -> float:
        """As painted, mm."""
        return self.page.width * self.scale

    @property
    def height(self) -> float:
        """As painted, mm."""
        return self.page.height * self.scale


Column = list[Item]
"""Drawings over each other."""
Row = list[Column]


def drawn(drawing: Drawing, room: tuple[float, float], series: bool = False) -> Item:
    """A drawing, smaller than drawn only where it has no room, mm; what is written on it then says so."""
    scale = min(1.0, room[0] / drawing.page.width, room[1] / drawing.page.height)
    return Item(drawing.page, drawing.words, scale, series)


def packed(items: Sequence[Item], room: tuple[float, float]) -> list[list[Row]]:
    """Drawings on as few pages as first fit finds, in rows; filled in their own order, or the tallest first.

    On each page they stand in their own order as far as that goes. Those of a series, as corners, come after all
    others, each right of, under or after the one before it.
    """
    free = [item for item in items if not item.series]
    tallest = sorted(free, key=lambda item: -item.height)
    series = [item for item in items if item.series]
    return min((_packed(each, series, items, room) for each in (free, tallest)), key=len)


def _packed(
    free: Sequence[Item], series: Sequence[Item], items: Sequence[Item], room: tuple[float, float]
) -> list[list[Row]]:
    pages = _first_fit(free, room)
    number = {id(item): i for i, item in enumerate(items)}

    def first(row: Row) -> int:
        return min(number[id(item)] for column in row for item in column)

    for page in pages:
        for row in page:
            row.sort(key=lambda column: first([column]))
        page.sort(key=first)
    pages.sort(key=lambda page: min(first(row) for row in page))
    at = (0, 0)
    for item in series:
        at = _append(pages, item, room, at)
    return pages


def _append(pages: list[list[Row]], item: Item, room: tuple[float, float], at: tuple[int, int]) -> tuple[int, int]:
    """Put an item of a series at a page and a row from `at` on, last in its row; its page and row."""
    wide, high = room[0] + FITS, room[1] + FITS
    for p in range(at[0], len(pages)):
        page = pages[p]
        for r in range(at[1] if p == at[0] else 0, len(page)):
            row = page[r]
            (across, tall), spare = row_size(row), high - page_height(page)
            if across + BETWEEN + item.width <= wide and item.height - tall <= spare:
                row.append([item])
                return p, r
            widest, stacked = column_size(row[-1])
            if not row[-1][-1].series or row[0][0].series:  # a row of nothing else goes on in a row below
                continue
            if across + max(item.width - widest, 0.0) <= wide and stacked + UNDER + item.height - tall <= spare:
                row[-1].append(item)
                return p, r
        if page_height(page) + UNDER + item.height <= high:
            page.append([[item]])
            return p, len(page) - 1
    pages.append([[[item]]])
    return len(pages) - 1, 0


def column_size(column: Column) -> tuple[float, float]:
    """How wide and how high drawings over each other are, mm."""
    return max(item.width for item in column), sum(item.height + UNDER for item in column) - UNDER


def row_size(row: Row) -> tuple[float, float]:
    """How wide and how high columns beside each other are, mm."""
    sizes = [column_size(column) for column in row]
    return sum(size[0] + BETWEEN for size in sizes) - BETWEEN, max(size[1] for size in sizes)


def page_height(rows: Sequence[Row]) -> float:
    """How high rows over each other are, mm."""
    return sum(row_size(row)[1] + UNDER for row in rows) - UNDER


def page_area(rows: Sequence[Row]) -> float:
    """What drawings fill of a page, mm²."""
    return sum(item.width * item.height for row in rows for column in row for item in column)


def _first_fit(items: Sequence[Item], room: tuple[float, float]) -> list[list[Row]]:
    pages: list[list[Row]] = []
    for item in items:
        found = next((tried for page in pages if (tried := _with(page, item, room))), None)
        if found is None:
            pages.append([[[item]]])
        else:
            page, row, column = found
            if row is None:
                page.append([[item]])
            elif column is None:
                row.append([item])
            else:
                column.append(item)
    return pages


def _with(page: list[Row], item: Item, room: tuple[float, float]) -> tuple[list[Row], Row | None, Column | None] | None:
    """Where on a page there is room for one more: in a row, under a column, in a row of its own; None where nowhere."""
    wide, high = room[0] + FITS, room[1] + FITS
    for row in page:
        across, tall = row_size(row)
        spare = high - page_height(page)
        if across + BETWEEN + item.width <= wide and item.height - tall <= spare:
            return page, row, None
        for column in row if row[1:] else ():
            widest, stacked = column_size(column)
            grown = max(item.width - widest, 0.0)
            if across + grown <= wide and stacked + UNDER + item.height - tall <= spare:
                return page, row, column
    if page_height(page) + UNDER + item.height <= high:
        return page, None, None
    return None


def shelves(part: Element, rows: Sequence[Row]) -> list[Flowable]:
    """The rows of a page."""
    flow: list[Flowable] = []
    for row in rows:
        blocks = [[Drawn(part.child("Figure", clean(i.words)), i.page, i.scale) for i in column] for column in row]
        widths = [points(column_size(column)[0]) for column in row]
        flow.append(Stacks(blocks, widths, points(BETWEEN), points(UNDER)))
    return flow
