"""Pages: the front, pages across the whole width, pages in columns, and the strip at the foot of each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from reportlab import rl_config
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageBreak, PageTemplate

from preview.pages.style import FAINT, GAP, INK, STRIP, Plan, Styles, points
from preview.pages.tags import LANGUAGE, Element, TaggedCanvas

FRONT, WIDE, COLUMNS = "front", "wide", "columns"
"""The kinds of pages."""
VERSION = (1, 7)
"""Of PDF: the one whose structure types the tree uses."""
TYPE, SMALL = 7.6, 6.6
"""Points, the type in the strip."""
LAST = 0.09
"""What part of the strip the sheet's number takes."""


@dataclass(frozen=True)
class About:
    """What the document says of itself to who looks at its properties."""

    title: str
    author: str
    subject: str
    keywords: str


@dataclass(frozen=True)
class Strip:
    """What stands at the foot of every page: cells, each with its share of the width and two lines, and a line of the
    shop's own.
    """

    cells: tuple[tuple[float, str, str], ...]
    footer: str


def written(
    story: Sequence[Flowable],
    root: Element,
    plan: Plan,
    front: float | None,
    about: About,
    strip: Strip,
    styles: Styles,
) -> bytes:
    """The story as PDF. front: how wide the first part of a front page is, points; None: it begins in columns."""
    into = BytesIO()
    wide, high = (points(mm) for mm in plan.room)
    left, low = points(plan.margin), points(plan.foot)

    def frame(x: float, width: float) -> Frame:
        return Frame(x, low, width, high, leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0)

    gap, column = points(GAP), points(plan.column)
    fronts = {} if front is None else {FRONT: [frame(left, front), frame(left + front + gap, wide - front - gap)]}
    # A document begins with the first of these.
    frames = fronts | {
        COLUMNS: [frame(left + i * (column + gap), column) for i in range(plan.columns)],
        WIDE: [frame(left, wide)],
    }
    made = BaseDocTemplate(
        into,
        pagesize=(points(plan.width), points(plan.height)),
        pageTemplates=[PageTemplate(kind, row) for kind, row in frames.items()],
        title=about.title,
        author=about.author,
        subject=about.subject,
        keywords=about.keywords,
        creator="molding-preview",
        producer="molding-preview",
        invariant=1,
        lang=LANGUAGE,
        initialFontName=styles.regular,
    )

    def canvas(*args: Any, **kwargs: Any) -> TaggedCanvas:
        started = TaggedCanvas(*args, **kwargs | {"pdfVersion": VERSION})
        started.root = root
        started.setViewerPreference("PrintScaling", "None")
        started.setViewerPreference("DisplayDocTitle", "true")
        started.finish_page = lambda drawn, number, count: paint_strip(drawn, plan, strip, styles, number, count)
        return started

    with plain_streams():
        made.build(list(story), canvasmaker=canvas)
    return into.getvalue()


class OnOnePage(Flowable):  # type: ignore[misc]
    """Begins a new page where the two parts that follow, each no higher than a column, would come on different ones."""

    locChanger = 1  # noqa: N815

    def __init__(self, heights: Sequence[float], column: float) -> None:
        super().__init__()
        self.heights, self.column = heights, column

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:  # noqa: ARG002
        frame = self._doctemplateAttr("frame")
        if frame is None or max(self.heights) > self.column:
            return (0.0, 0.0)
        frames = self._doctemplateAttr("pageTemplate").frames
        free, columns = availHeight, len(frames) - frames.index(frame)
        for height in self.heights:
            if height > free:
                columns, free = columns - 1, self.column
            free -= height
        if columns < 1:
            frame.add_generated_content(PageBreak())
        return (0.0, 0.0)

    def draw(self) -> None:
        """Draw nothing."""


@contextmanager
def plain_streams() -> Iterator[None]:
    """While a document is written: streams as bytes, a fifth smaller than as letters."""
    before = rl_config.useA85
    rl_config.useA85 = 0
    try:
        yield
    finally:
        rl_config.useA85 = before


def paint_strip(canvas: TaggedCanvas, plan: Plan, strip: Strip, styles: Styles, number: int, count: int) -> None:
    """Paint the strip of one page."""
    wide = points(plan.room[0])
    left, top = points(plan.margin), points(plan.margin + STRIP)
    with canvas.artifact("Pagination"):
        canvas.setStrokeColor(styles.brand)
        canvas.setLineWidth(1.2)
        canvas.line(left, top, left + wide, top)
        whole = sum(share for share, _, _ in strip.cells) / (1.0 - LAST)
        x = left
        for place, (share, first, second) in enumerate(strip.cells):
            room = wide * share / whole - 7.0
            rows = ((first, TYPE, 11.5, INK, place == 0), (second, SMALL, 20.5, FAINT, False))
            for text, size, down, ink, bold in rows:
                font = styles.bold if bold else styles.regular
                canvas.setFont(font, size)
                canvas.setFillColor(ink)
                canvas.drawString(x, top - down, fitted(canvas, text, font, size, room))
            x += wide * share / whole
        canvas.setFont(styles.bold, TYPE)
        canvas.setFillColor(INK)
        canvas.drawRightString(left + wide, top - 11.5, f"Sheet {number} of {count}")
        if strip.footer:
            canvas.setFont(styles.regular, SMALL)
            canvas.setFillColor(FAINT)
            canvas.drawString(left, top - 29.5, fitted(canvas, strip.footer, styles.regular, SMALL, wide))


def fitted(canvas: Any, text: str, font: str, size: float, room: float) -> str:
    """As much of a text as there is room for, points, with dots where it is cut."""
    if canvas.stringWidth(text, font, size) <= room:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if canvas.stringWidth(text[:middle].rstrip() + "...", font, size) <= room:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + "..."
