"""The index of a job's templates: what there is, for which pieces, on how many sheets, in which files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from preview.bench.templates.sheets import MARGIN
from preview.bench.templates.template import Template
from preview.paper import FAINT, INK, SHEETS, Mark, Page, Words, stroke, wrapped
from preview.scene import PaperName
from preview.units import counted

TITLE, TEXT, SMALL = 6.0, 3.8, 3.2
COLUMNS = (0.0, 12.0, 152.0)
"""mm from the margin: the sign, what it is, and the sheets."""
NONE = (
    "This job needs no templates: every piece is straight, and every cut is a plane that a saw is set to. "
    "The saw's settings are on the cut list."
)


@dataclass(frozen=True)
class TemplateEntry:
    """One template of the set. sheets: of paper, 0 where it is too large for paper; files: its PDF, if any, and DXF."""

    template: Template
    sheets: int
    files: tuple[str, ...]
    left_out: str = ""


def index_pages(entries: Sequence[TemplateEntry], paper: PaperName, job: str) -> tuple[Page, ...]:
    """The index as pages of paper; one page that says so where there are no templates."""
    width, height = SHEETS[paper]
    head = [
        Words(text, (MARGIN, height - MARGIN - TITLE * (1 + 1.2 * i)), TITLE, INK, bold=True)
        for i, text in enumerate(wrapped(f"Templates: {job}", width - 2 * MARGIN, TITLE, bold=True)[:2])
    ]
    top = head[-1].at[1] - 5.0
    count = sum(entry.sheets for entry in entries)
    told = f"{counted(len(entries), 'template')} on {counted(count, 'sheet')}, at full size. Print at 100 %."
    pages: list[Page] = []
    marks: list[Mark] = [*head, Words(told if entries else "", (MARGIN, top), TEXT, FAINT)] if entries else [*head]
    y = top - 4.0
    if not entries:
        marks += [
            Words(text, (MARGIN, y - 5.0 * i), TEXT, INK)
            for i, text in enumerate(wrapped(NONE, width - 2 * MARGIN, TEXT))
        ]
    for entry in entries:
        rows = list(_rows(entry, width))
        tall = sum(size * 1.3 for _, _, size, _ in rows) + 4.0
        if y - tall < MARGIN:
            pages.append(Page(width, height, tuple(marks)))
            marks, y = [], height - MARGIN
        marks.append(stroke((MARGIN, y), (width - MARGIN, y), weight=0.18, ink=FAINT))
        sheets = counted(entry.sheets, "sheet") if entry.sheets else "DXF only"
        marks.append(Words(entry.template.sign, (MARGIN, y - 5.0), TEXT, INK, bold=True))
        marks.append(Words(sheets, (MARGIN + COLUMNS[2], y - 5.0), TEXT, INK))
        at = y - 5.0
        for i, (text, x, size, bold) in enumerate(rows):
            at -= size * 1.3 if i else 0.0
            marks.append(Words(text, (MARGIN + x, at), size, INK if bold else FAINT, bold))
        y = at - 4.0
    pages.append(Page(width, height, tuple(marks)))
    return tuple(pages)


def _rows(entry: TemplateEntry, width: float) -> Iterator[tuple[str, float, float, bool]]:
    room = COLUMNS[2] - COLUMNS[1] - 4.0
    template = entry.template
    for text in wrapped(template.title, room, TEXT, bold=True):
        yield text, COLUMNS[1], TEXT, True
    wide = width - 2 * MARGIN - COLUMNS[1]
    if len(template.pieces) > 1:
        for text in wrapped(f"For {', '.join(template.pieces)}", wide, SMALL):
            yield text, COLUMNS[1], SMALL, False
    for text in wrapped(", ".join(entry.files) + (f". {entry.left_out}" if entry.left_out else ""), wide, SMALL):
        yield text, COLUMNS[1], SMALL, False
