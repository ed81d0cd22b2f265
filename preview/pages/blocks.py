"""What flows down the pages, each with its place in the structure: paragraphs, tables, pictures, drawings, lines to
write on.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import AbstractContextManager
from typing import Any

from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable, Paragraph, Table, TableStyle

from preview.pages.style import BOX, RULE, Styles
from preview.pages.tags import Element, TaggedCanvas
from preview.paper import POINT, Page, paint_page

TICK = 8.2
"""Points, the side of a box to be ticked."""
CAPTION_DOWN = 2.5
"""Points between a picture and the words under it."""
HAIR = 0.4
"""Points, the thinnest line there is."""


class Para(Paragraph):  # type: ignore[misc]
    """A paragraph that is content of an element; drawn a second time, as a table's head is, it is an artifact."""

    element: Element | None = None
    drawn = False
    ticked = False
    outline = -1
    plain = ""

    @classmethod
    def of(cls, element: Element, markup: str, style: Any, **more: Any) -> Para:
        """A paragraph of this element."""
        made = cls(markup, style, **more)
        made.element = element
        return made

    def split(self, availWidth: float, availHeight: float) -> list[Any]:
        parts: list[Any] = super().split(availWidth, availHeight)
        for number, part in enumerate(parts):
            part.element = self.element
            if number == 0:
                part.ticked, part.outline, part.plain = self.ticked, self.outline, self.plain
        return parts

    def draw(self) -> None:
        canvas: TaggedCanvas = self.canv
        if self.outline >= 0:
            canvas.heading(self.plain, self.outline)
        if self.ticked:
            with canvas.artifact():
                canvas.setStrokeColor(BOX)
                canvas.setLineWidth(0.8)
                top = self.height - (self.style.leading - self.style.fontSize) / 2 - 0.6
                canvas.rect(self.style.leftIndent - 19.0 + 0.4, top - TICK - 0.4, TICK, TICK)
        where: AbstractContextManager[None]
        where = canvas.artifact() if self.drawn or self.element is None else canvas.content(self.element)
        self.drawn = True
        with where:
            super().draw()


class Nothing(Flowable):  # type: ignore[misc]
    """An empty cell."""

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:  # noqa: ARG002
        return (0.0, 0.0)

    def draw(self) -> None:
        """Draw nothing."""


class Swatch(Flowable):  # type: ignore[misc]
    """A little field of color, beside the words that name it."""

    def __init__(self, color: Any) -> None:
        super().__init__()
        self.color = color

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:  # noqa: ARG002
        return (9.0, 9.0)

    def draw(self) -> None:
        canvas: TaggedCanvas = self.canv
        with canvas.artifact():
            canvas.setFillColor(self.color)
            canvas.setStrokeColor(BOX)
            canvas.setLineWidth(HAIR)
            canvas.rect(0.0, 0.6, 8.0, 8.0, fill=1)


class Grid(Table):  # type: ignore[misc]
    """A table whose rules and grounds are artifacts; its cells are paragraphs, which know what they belong to."""

    def _drawBkgrnd(self) -> None:  # noqa: N802
        if self._bkgrndcmds:
            with self.canv.artifact():
                super()._drawBkgrnd()

    def _drawLines(self) -> None:  # noqa: N802
        if self._linecmds:
            with self.canv.artifact():
                super()._drawLines()


def table(
    parent: Element,
    head: Sequence[str],
    rows: Sequence[Sequence[Any]],
    widths: Sequence[float],
    styles: Styles,
    *,
    right: Sequence[int] = (),
    gray: Sequence[int] = (),
) -> Grid:
    """A table with a head that every page repeats. Cells are markup; widths: points. right, gray: columns set so."""
    element = parent.child("Table")
    top = element.child("TR")
    cells: list[list[Any]] = [
        [
            Para.of(top.child("TH"), word, styles.head_right if number in right else styles.head)
            for number, word in enumerate(head)
        ]
    ]
    for row in rows:
        line = element.child("TR")
        made: list[Any] = []
        for number, cell in enumerate(row):
            mine = line.child("TD")
            if isinstance(cell, Pair):
                cell.value.element = mine
                made.append(cell)
            elif not cell:
                made.append(Nothing())
            else:
                made.append(Para.of(mine, cell, _cell_style(styles, number in right, number in gray)))
        cells.append(made)
    rules = [
        ("FONTNAME", (0, 0), (-1, -1), styles.regular),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
        ("LEFTPADDING", (0, 0), (-1, -1), 3.0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 3.0),
        ("TOPPADDING", (0, 0), (-1, -1), 2.2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.6),
        ("LINEBELOW", (0, 1), (-1, -1), HAIR, RULE),
        ("LINEBELOW", (0, 0), (-1, 0), 0.9, styles.brand),
    ]
    if styles.tint is not None:
        rules.append(("BACKGROUND", (0, 0), (-1, 0), styles.tint))
    return Grid(
        cells,
        colWidths=list(widths),
        repeatRows=1,
        style=TableStyle(rules),
        hAlign="LEFT",
        splitInRow=1,
        spaceBefore=2.0,
        spaceAfter=6.0,
    )


def _cell_style(styles: Styles, right: bool, gray: bool) -> Any:
    if right:
        return styles.cell_right_gray if gray else styles.cell_right
    return styles.cell_gray if gray else styles.cell


class Figure(Flowable):  # type: ignore[misc]
    """Something to look at, with what it shows in words. Sizes in points."""

    def __init__(self, element: Element, width: float, height: float) -> None:
        super().__init__()
        self.element = element
        self.width, self.height = width, height

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:  # noqa: ARG002
        return (self.width, self.height)

    def paint(self) -> None:
        """Paint it, its lower left corner at (0, 0)."""
        raise NotImplementedError

    def draw(self) -> None:
        canvas: TaggedCanvas = self.canv
        left, low = canvas.absolutePosition(0.0, 0.0)
        self.element.box = (left, low, left + self.width, low + self.height)
        with canvas.content(self.element):
            self.paint()


class Picture(Figure):
    """An image."""

    def __init__(self, element: Element, image: ImageReader, width: float, height: float) -> None:
        super().__init__(element, width, height)
        self.image = image

    def paint(self) -> None:
        self.canv.drawImage(self.image, 0.0, 0.0, self.width, self.height, mask="auto")


class Drawn(Figure):
    """A page of marks at a scale."""

    def __init__(self, element: Element, page: Page, scale: float = 1.0) -> None:
        super().__init__(element, page.width * POINT * scale, page.height * POINT * scale)
        self.page, self.scale = page, scale

    def paint(self) -> None:
        paint_page(self.canv, self.page, scale=self.scale)


class Stacks(Flowable):  # type: ignore[misc]
    """Columns of figures side by side, in the middle of what is free, their feet on one line. Sizes in points."""

    MOST_APART = 60.0

    def __init__(self, columns: Sequence[Sequence[Figure]], widths: Sequence[float], gap: float, under: float) -> None:
        super().__init__()
        self.columns, self.widths, self.gap, self.spaceAfter = columns, widths, gap, under
        self.height = max(sum(each.height + under for each in column) - under for column in columns)

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:  # noqa: ARG002
        self.width = availWidth
        return (availWidth, self.height)

    def draw(self) -> None:
        free, count = self.width - sum(self.widths), len(self.widths)
        gap = max(self.gap, min(free / (count + 1), self.MOST_APART)) if count > 1 else 0.0
        x = max((free - gap * (count - 1)) / 2, 0.0)
        for column, width in zip(self.columns, self.widths, strict=True):
            y = sum(each.height + self.spaceAfter for each in column)
            for figure in column:
                y -= figure.height + self.spaceAfter
                figure.drawOn(self.canv, x + (width - figure.width) / 2, y)
            x += width + gap


class Captioned(Flowable):  # type: ignore[misc]
    """Figures of one width side by side, their feet on one line, each over its caption. Sizes in points."""

    def __init__(self, items: Sequence[tuple[Figure, Para]], width: float, gap: float, after: float) -> None:
        super().__init__()
        self.items, self.each, self.gap, self.spaceAfter = items, width, gap, after
        self.tall = max(figure.height for figure, _ in items)

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:
        self.under = max(caption.wrapOn(self.canv, self.each, availHeight)[1] for _, caption in self.items)
        return (availWidth, self.tall + CAPTION_DOWN + self.under)

    def draw(self) -> None:
        x = 0.0
        for figure, caption in self.items:
            figure.drawOn(self.canv, x, CAPTION_DOWN + self.under)
            caption.drawOn(self.canv, x, self.under - caption.height)
            x += self.each + self.gap


class Pair(Flowable):  # type: ignore[misc]
    """A label, or a swatch, and beside it what it is the label of; under it, where that is very long."""

    def __init__(self, label: Para | Swatch, value: Para, across: float) -> None:
        super().__init__()
        self.label, self.value, self.across = label, value, across
        self.spaceAfter = 1.5

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:
        self.heights = (
            self.label.wrapOn(self.canv, self.across, availHeight)[1],
            self.value.wrapOn(self.canv, availWidth - self.across, availHeight)[1],
        )
        self.height = max(self.heights)
        return (availWidth, self.height)

    def split(self, availWidth: float, availHeight: float) -> list[Flowable]:  # noqa: ARG002
        return [self.label, self.value]

    def draw(self) -> None:
        # The first lines stand on one line, though their sizes differ.
        down = 0.6
        if isinstance(self.label, Para):
            small, large = self.label.style, self.value.style
            down = (large.leading - small.leading) / 2 + (large.fontSize - small.fontSize) * 0.35
        self.label.drawOn(self.canv, 0.0, self.height - self.heights[0] - down)
        self.value.drawOn(self.canv, self.across, self.height - self.heights[1])


class Rule(Flowable):  # type: ignore[misc]
    """A line across the column."""

    def __init__(self, ink: Any, weight: float, before: float, after: float) -> None:
        super().__init__()
        self.ink, self.weight = ink, weight
        self.spaceBefore, self.spaceAfter = before, after

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:  # noqa: ARG002
        self.width = availWidth
        return (availWidth, self.weight)

    def draw(self) -> None:
        canvas: TaggedCanvas = self.canv
        with canvas.artifact():
            canvas.setStrokeColor(self.ink)
            canvas.setLineWidth(self.weight)
            canvas.line(0.0, self.weight / 2, self.width, self.weight / 2)


class Lines(Flowable):  # type: ignore[misc]
    """Ruled lines to write on, each with a word in front, or none. gap: points from one to the next."""

    def __init__(
        self, parent: Element, words: Sequence[str], styles: Styles, gap: float = 20.0, left: float = 0.0
    ) -> None:
        super().__init__()
        self.words, self.styles, self.gap, self.left = list(words), styles, gap, left
        self.elements = [parent.child("P") if word else None for word in words]

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:  # noqa: ARG002
        self.width = availWidth
        return (availWidth, self.gap * len(self.words) + 2.0)

    def draw(self) -> None:
        canvas: TaggedCanvas = self.canv
        font, size = self.styles.regular, self.styles.fill.fontSize
        wide = max(canvas.stringWidth(word, font, size) + 6.0 if word else 0.0 for word in self.words)
        for number, (word, element) in enumerate(zip(self.words, self.elements, strict=True), start=1):
            y = self.gap * (len(self.words) - number) + 2.0
            if element is not None:
                with canvas.content(element):
                    canvas.setFont(font, size)
                    canvas.setFillColor(self.styles.fill.textColor)
                    canvas.drawString(self.left, y + 1.5, word)
            with canvas.artifact():
                canvas.setStrokeColor(BOX)
                canvas.setLineWidth(0.5)
                canvas.line(self.left + wide, y, self.width, y)


def panel(blocks: Sequence[Flowable], width: float, styles: Styles) -> Grid:
    """Blocks on a tinted ground; width: points."""
    rules = [
        ("FONTNAME", (0, 0), (-1, -1), styles.regular),
        ("LEFTPADDING", (0, 0), (-1, -1), 8.0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 8.0),
        ("TOPPADDING", (0, 0), (-1, -1), 6.0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 7.0),
        ("LINEBEFORE", (0, 0), (0, -1), 2.0, styles.brand, "butt"),
    ]
    if styles.tint is not None:
        rules.append(("BACKGROUND", (0, 0), (-1, -1), styles.tint))
    return Grid(
        [[list(blocks)]],
        colWidths=[width],
        style=TableStyle(rules),
        hAlign="LEFT",
        splitInRow=1,
        spaceBefore=4.0,
        spaceAfter=5.0,
    )
