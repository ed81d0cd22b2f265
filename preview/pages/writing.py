"""What all parts of a document are made with: the page, the type, the tree; and headings, lists and notes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.platypus import CondPageBreak, Flowable

from preview.pages.blocks import Para
from preview.pages.style import Plan, Styles, points
from preview.pages.tags import Element
from preview.pages.words import clean, said

ROOM_UNDER_HEADING = 26.0
"""mm that a heading has under it, or it goes to the next column."""


@dataclass(frozen=True)
class Writing:
    """A document in the making."""

    plan: Plan
    styles: Styles
    root: Element

    @property
    def room(self) -> tuple[float, float]:
        """What there is between the margins, points."""
        wide, high = self.plan.room
        return points(wide), points(high)

    @property
    def column(self) -> float:
        """The width of a column, points."""
        return points(self.plan.column)

    @property
    def room_of_column(self) -> tuple[float, float]:
        """Width and height of a column, points."""
        return self.column, self.room[1]

    def section(self, title: str, room: float = ROOM_UNDER_HEADING) -> tuple[Element, list[Flowable]]:
        """A new part of the document and its heading. room: mm that it needs under it."""
        part = self.root.child("Sect")
        head = Para.of(part.child("H2"), said(title), self.styles.section)
        head.outline, head.plain = 0, clean(title)
        return part, [CondPageBreak(points(room)), head]


def sub(writing: Writing, part: Element, title: str, room: float = 16.0) -> list[Flowable]:
    """A heading inside a part."""
    return [CondPageBreak(points(room)), Para.of(part.child("H3"), said(title), writing.styles.sub)]


def note(part: Element, text: str, style: Any) -> Para:
    """A paragraph of plain text."""
    return Para.of(part.child("P"), said(text), style)


def bullets(part: Element, items: Iterable[str], style: Any) -> list[Flowable]:
    """A list."""
    row: Sequence[str] = [item for item in items if item.strip()]
    if not row:
        return []
    whole = part.child("L")
    return [Para.of(whole.child("LI").child("LBody"), said(item), style, bulletText="•") for item in row]
