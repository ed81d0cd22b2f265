"""The papers in the making: how lengths are written on them, and what keeps together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from reportlab.platypus import CondPageBreak, Flowable

from preview.bench.layouts import stick_text
from preview.bench.templates import TemplateEntry
from preview.cutlist import ShopJob, read_length
from preview.pages import Writing, typeset

FINE = 25.4 / 64
FINE_METRIC = 0.1
"""mm: sections are read no coarser, as a board that is milled a hair thin does not fit."""
ROOM_TO_SPARE = 6.0
"""Points that what keeps together has under it."""


@dataclass(frozen=True)
class Bench(Writing):
    """The papers in the making.

    tags: the pieces' numbers, as in the drawings, by name. notes, warnings: what stands at the head of it all.
    templates: those that go with it.
    """

    job: ShopJob
    tags: Mapping[str, str]
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    templates: tuple[TemplateEntry, ...] = field(default=())

    @property
    def is_imperial(self) -> bool:
        """Whether the shop reads inches."""
        return self.job.built.scene.units in ("in", "ft")

    def told(self, mm: float) -> str:
        """A length as it is written, to the rounding of the shop."""
        return typeset(read_length(mm, self.job.shop.rounding, self.job.built.scene.units).text)

    def stick(self, mm: float) -> str:
        """The length of a stick as it is sold: in feet where the shop reads inches."""
        return typeset(stick_text(self.job, mm))

    def fine(self, mm: float) -> str:
        """A size of a section as it is written, never coarser than 1/64 in or 0.1 mm."""
        least = FINE if self.is_imperial else FINE_METRIC
        return typeset(read_length(mm, min(self.job.shop.rounding, least), self.job.built.scene.units).text)

    def signs(self, name: str) -> list[TemplateEntry]:
        """The templates that a piece, or one of its ends, needs."""
        return [entry for entry in self.templates if any(_is_of(each, name) for each in entry.template.pieces)]

    def numbered(self, served: str) -> str:
        """What a template serves, a piece by its number, with the end that is meant; a run's curve as it is named."""
        name = next((name for name in self.tags if _is_of(served, name)), "")
        end = served.removeprefix(f"{name}, ") if name and served != name else ""
        return f"{self.tags[name]} ({end})" if end else self.tags.get(name, served)

    def numbers(self, names: Sequence[str]) -> list[str]:
        """The numbers of pieces in the drawings."""
        return [self.tags[name] for name in names]


def _is_of(served: str, name: str) -> bool:
    """Whether a template that serves `served` serves a piece: by its name, or by its name and which end."""
    return served == name or (served.startswith(f"{name}, ") and served.endswith(" end"))


def together(bench: Writing, *flow: Flowable) -> list[Flowable]:
    """What is not to be parted by the end of a column; where it is higher than a column it runs on.

    What is given may hold headings' own conditions, which count for nothing here.
    """
    row = [each for each in flow if not isinstance(each, CondPageBreak)]
    width, column = bench.room_of_column
    high = ROOM_TO_SPARE
    for each in row:
        high += each.wrap(width, column)[1] + each.getSpaceBefore() + each.getSpaceAfter()
    return [CondPageBreak(min(high, column)), *row]
