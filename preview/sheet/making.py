"""What all parts of the sheet are made with: the job, the page, the type, the tree; and headings, lists and notes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.platypus import CondPageBreak, Flowable

from preview.build import Built
from preview.client import Shown
from preview.sheet.blocks import Para
from preview.sheet.job import SheetJob
from preview.sheet.style import Plan, Styles, points
from preview.sheet.tags import Element
from preview.sheet.words import clean, said

ROOM_UNDER_HEADING = 26.0
"""mm that a heading has under it, or it goes to the next column."""


@dataclass(frozen=True)
class Making:
    """A sheet in the making."""

    job: SheetJob
    plan: Plan
    styles: Styles
    root: Element

    @property
    def first(self) -> Shown:
        """The scene as drawn."""
        return self.job.shown[0]

    @property
    def built(self) -> Built:
        """The scene as drawn, built."""
        return self.first.built

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
        """A new part of the sheet and its heading. room: mm that it needs under it."""
        part = self.root.child("Sect")
        head = Para.of(part.child("H2"), said(title), self.styles.section)
        head.outline, head.plain = 0, clean(title)
        return part, [CondPageBreak(points(room)), head]


def sub(making: Making, part: Element, title: str, room: float = 16.0) -> list[Flowable]:
    """A heading inside a part."""
    return [CondPageBreak(points(room)), Para.of(part.child("H3"), said(title), making.styles.sub)]


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


def option_name(making: Making, number: int) -> str:
    """What a variant is called: "As drawn", or its number and what it picks beside that."""
    if number == 0:
        return "As drawn"
    names = picked(making, number)
    return f"Option {number}: {names}" if names else f"Option {number}"


def picked(making: Making, number: int) -> str:
    """The alternatives of a variant that are not those of the scene as drawn."""
    picks = zip(making.job.scene.choices, making.job.shown[number].picks, strict=False)
    return ", ".join(choice.alternatives[pick].name for choice, pick in picks if pick)


def code_of(shown: Shown) -> str:
    """A model's code; where it has none, how its digest begins."""
    return shown.code or shown.built.digest[:12]
