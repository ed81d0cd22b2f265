"""What the report says of a scene's options: each combination of alternatives, checked like the scene."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from preview.build import Built
from preview.checks import Finding, Inspection


@dataclass(frozen=True)
class OptionReport:
    """One combination of a scene's alternatives, beside the scene as drawn.

    picks: (choice, alternative) in the scene's order. changes: what differs from the scene as drawn, in sentences.
    code: names this model, short enough for the phone. model: its GLB below the output folder, "" where none is kept.
    """

    picks: tuple[tuple[str, str], ...]
    built: Built
    inspection: Inspection
    changes: Sequence[str] = ()
    code: str = ""
    model: str = ""

    @property
    def name(self) -> str:
        """Its picks in words: `corners: mitered, finish: oak`."""
        return ", ".join(f"{choice}: {alternative}" for choice, alternative in self.picks)

    @property
    def failures(self) -> list[Finding]:
        """The findings that do not hold."""
        return [finding for finding in self.inspection.findings if not finding.holds]

    @property
    def holds(self) -> bool:
        """Whether every check of it passed."""
        return not self.failures
