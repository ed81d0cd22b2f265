"""What all parts of the sheet are made with, beside what any document is: the job."""

from __future__ import annotations

from dataclasses import dataclass

from preview.build import Built
from preview.client import Shown
from preview.pages import Writing
from preview.sheet.job import SheetJob


@dataclass(frozen=True)
class Making(Writing):
    """A sheet in the making."""

    job: SheetJob

    @property
    def first(self) -> Shown:
        """The scene as drawn."""
        return self.job.shown[0]

    @property
    def built(self) -> Built:
        """The scene as drawn, built."""
        return self.first.built


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
