"""What the page is asked to show: each combination of a scene's alternatives, built, and what is known of it."""

from __future__ import annotations

from dataclasses import dataclass

from preview.build import Built
from preview.checks import JOINT_CHECKS, Inspection
from preview.vantage import listed_joints


@dataclass(frozen=True)
class Shown:
    """One variant of a scene.

    picks: one number for each of the scene's choices. changes: what differs from the scene as drawn, in sentences.
    inspection: None while nothing has been measured. failures: sentences about what failed. code: names the model,
    short enough for the phone.
    """

    built: Built
    picks: tuple[int, ...] = ()
    changes: tuple[str, ...] = ()
    inspection: Inspection | None = None
    failures: tuple[str, ...] = ()
    code: str = ""

    @property
    def holds(self) -> bool | None:
        """Whether every check holds; None while nothing has been measured."""
        if self.inspection is None:
            return None
        return all(finding.holds for finding in self.inspection.findings)

    @property
    def listed(self) -> list[int]:
        """The joints that are listed, by number: where pieces meet, or one meets something else; no free ends."""
        return listed_joints(self.built)

    def joints_hold(self) -> dict[str, bool]:
        """Whether all that was measured at a joint holds, by the joint's name."""
        held: dict[str, bool] = {}
        for finding in self.inspection.findings if self.inspection else ():
            if finding.check.code in JOINT_CHECKS:
                held[finding.subject] = held.get(finding.subject, True) and finding.holds
        return held
