"""A survey: what a measured run misses by, and what was done about it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from preview.errors import PreviewError
from preview.runs.closing import CLOSES_WITHIN
from preview.runs.element import Vec2
from preview.runs.refusals import refuse_bad_steps
from preview.runs.run import Side
from preview.runs.steps import Block, Corner, Curve, Easement, Splay, Step
from preview.runs.survey_adjust import Adjustment, adjust
from preview.runs.survey_traverse import Arrival, Closing, Closure, Reading, closure, traverse
from preview.units import Unit

TURNS_WITHIN = 1e-6
"""Radians by which the angles of a run laid out as measured may miss one whole turn."""


@dataclass(frozen=True)
class SurveyFigure:
    """One figure to be judged: it is as it should be when it is at most the limit."""

    code: str
    question: str
    value: float
    limit: float
    unit: str


@dataclass(frozen=True)
class Survey:
    """What the measurements of one run tell of each other.

    closure: the miss, as measured. closing: `spread` where the run is laid out with adjusted measurements, `show` where
    it is laid out as measured. closed: whether it should come back to its start; else it should arrive at a point.
    adjustment: what was spread, or what would be; None where nothing may be off, or the miss is too large for it.
    """

    closure: Closure
    closing: Closing
    closed: bool
    adjustment: Adjustment | None

    @property
    def meets(self) -> bool:
        """Whether the run as measured ends where it must, so that nothing had to be done about it."""
        return self.closure.distance <= CLOSES_WITHIN and abs(self.closure.turn or 0.0) <= TURNS_WITHIN

    @property
    def laid_closed(self) -> bool:
        """Whether the run is laid out closed: one shown as measured, with a gap, is not."""
        return self.closed and (self.closing == "spread" or self.meets)

    @property
    def figures(self) -> tuple[SurveyFigure, ...]:
        """What a check of the survey must judge."""
        if self.closing == "spread" and self.adjustment:
            worst, overall, limit = self.adjustment.worst.times, self.adjustment.overall, self.adjustment.limit
            return (
                SurveyFigure(
                    "survey-change", "no measurement is changed by more than it may be off", worst, 1.0, "times"
                ),
                SurveyFigure(
                    "survey-overall", "the measurements agree as well as they should", overall, limit, "chi-square"
                ),
            )
        miss, turn = self.closure.distance, math.degrees(abs(self.closure.turn or 0.0))
        question = f"the run as measured {'comes back to its start' if self.closed else 'arrives'}"
        gap = SurveyFigure("survey-gap", question, miss, CLOSES_WITHIN, "mm")
        if self.closure.turn is None:
            return (gap,)
        question = "its corners and curves make one whole turn"
        return gap, SurveyFigure("survey-turn", question, turn, math.degrees(TURNS_WITHIN), "°")

    @property
    def holds(self) -> bool:
        """Whether every figure is within its limit."""
        return all(figure.value <= figure.limit for figure in self.figures)


def survey_run(
    steps: Sequence[Step],
    readings: Sequence[Reading],
    *,
    start: Vec2 = (0.0, 0.0),
    heading: float = 0.0,
    arrives: Arrival | None = None,
    closing: Closing = "spread",
    room: Side = "left",
    unit: Unit = "mm",
) -> tuple[list[Step], Survey]:
    """The steps to lay out, and the survey. A closed run, or with `arrives` an open one; arguments as for `traverse`.

    A closed run that is shown with its gap has no last corner, so that step is left out. `room` and `unit` are only
    for errors: PreviewError for steps that cannot be laid out, as `lay_out` raises it, and what `adjust` raises when
    the miss is to be spread and cannot be.
    """
    refuse_bad_steps(steps, 1 if room == "left" else -1, arrives is None, unit)
    walked = traverse(steps, readings, start=start, heading=heading, arrives=arrives)
    missed = closure(walked)
    adjustment: Adjustment | None = None
    if any(each.within for each in walked.measured):
        try:
            adjustment = adjust(walked)
        except PreviewError:
            if closing == "spread":
                raise
    found = Survey(missed, closing, arrives is None, adjustment)
    if adjustment and closing == "spread":
        return adjusted_steps(steps, adjustment), found
    last = isinstance(steps[-1], Corner | Splay | Easement) and found.closed and not found.laid_closed
    return list(steps[:-1] if last else steps), found


def adjusted_steps(steps: Sequence[Step], adjustment: Adjustment) -> list[Step]:
    """The steps with what was measured in them adjusted."""
    values = {(row.measured.step, row.measured.kind): row.adjusted for row in adjustment.rows}
    found: list[Step] = []
    for number, step in enumerate(steps, 1):
        if isinstance(step, Corner | Splay):
            found.append(replace(step, turn=values[number, "corner"]))
        elif isinstance(step, Curve):
            found.append(Curve(values[number, "sweep"], values[number, "radius"]))
        elif isinstance(step, Block | Easement):
            found.append(step)
        else:
            found.append(replace(step, length=values[number, "straight"]))
    return found
