"""Closed runs: they come back to their start, and what measuring leaves over is spread over the straights."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from preview.errors import PreviewError
from preview.runs.element import Element, Vec2, turn_between
from preview.runs.refusals import ANGLE_SLACK, LEAST_TURN, corner_problem
from preview.units import Unit, degrees_text, show

CLOSES_WITHIN = 0.01
"""A closed run must come back to its start within this many mm; the rest is spread over its straights."""
SAME_DIRECTION = 1e-9
ALL_BUT_NONE = 1e-3
"""A direction that straights run in by no more than this share of their length is one that none runs in."""
SAME_POINT = 1e-9


def closed_up(
    elements: Sequence[Element], tangent: Vec2, corner_given: bool, fixed: Sequence[bool], unit: Unit = "mm"
) -> tuple[list[Element], float]:
    """Check that a walked run comes back to its start; returns its elements, made to close exactly, and the last turn.

    `tangent` is the direction after the last step. A closing corner that was not written is found here. fixed: one
    per element, whether its length may not be changed. Raises PreviewError when the run misses its start.
    """
    left_over = turn_between(tangent, elements[0].tangent)
    if corner_given and abs(left_over) > 1e-6:
        raise _wrong(
            f"after the last corner the run heads {degrees_text(abs(left_over))} away from where it started",
            "check the corners: they and the curves must add up to one whole turn; or leave the last corner out "
            "and it is found for you, or say how far they may be off: measured = { angles = 0.5 }",
        )
    start = elements[0].start
    miss = (elements[-1].end[0] - start[0], elements[-1].end[1] - start[1])
    far = math.hypot(*miss)
    if far > CLOSES_WITHIN + SAME_POINT:
        raise _wrong(
            f"the run misses its start by {_said(far, unit)} ({miss[0]:+.3f} mm in x, {miss[1]:+.3f} mm in y); "
            f"it may miss by {CLOSES_WITHIN} mm",
            "check the measured lengths and corners, or say how far they may be off and the miss is spread over them: "
            'measured = { lengths = "1/8", angles = 0.5 }',
        )
    risen = elements[-1].end_height - elements[0].height
    if abs(risen) > CLOSES_WITHIN + SAME_POINT:
        raise _wrong(
            f"the run ends {_said(abs(risen), unit)} {'above' if risen > 0 else 'below'} where it started; "
            f"it may miss by {CLOSES_WITHIN} mm",
            "check the rises and pitches: what the run climbs it must come down again",
        )
    closed = _spread(elements, (*miss, risen), fixed)
    turn = turn_between(closed[-1].end_tangent, closed[0].tangent)
    if abs(turn) < SAME_DIRECTION:
        return closed, 0.0
    if abs(turn) < LEAST_TURN - ANGLE_SLACK:
        raise _wrong(
            f"the corners and curves miss one whole turn by {degrees_text(abs(turn))}, too little for a last corner",
            "check the angles: they must add up to 360°, or leave at least 1° for a last corner",
        )
    problem = corner_problem(turn)
    if problem:
        raise _wrong("to close, " + problem[0], problem[1])
    return closed, turn


def _wrong(problem: str, fix: str) -> PreviewError:
    return PreviewError("closed", "true", problem, fix)


def _said(length: float, unit: Unit) -> str:
    """A miss in mm, and before it in the unit of the scene where that is another."""
    exact = f"{length:.3f} mm"
    return exact if unit == "mm" else f"{show(length, unit)} or {exact}"


def _spread(elements: Sequence[Element], miss: tuple[float, float, float], fixed: Sequence[bool]) -> list[Element]:
    """Change the straights' lengths by the least amounts that close the run exactly; directions and slopes are kept."""
    if math.hypot(*miss) == 0.0:
        return list(elements)
    straights = [i for i, e in enumerate(elements) if not (e.curvature or fixed[i])]
    change = np.zeros(len(elements))
    if straights:
        climbs = any(element.slope for element in elements)
        rows = 3 if climbs else 2
        directions = np.array([(*elements[i].tangent, elements[i].slope)[:rows] for i in straights]).T
        change[straights] = np.linalg.lstsq(directions, -np.array(miss[:rows]), rcond=ALL_BUT_NONE)[0]
    laid: list[Element] = []
    at, height = elements[0].start, elements[0].height
    for element, more in zip(elements, change.tolist(), strict=True):
        laid.append(replace(element, start=at, length=element.length + more, height=height))
        at, height = laid[-1].end, laid[-1].end_height
    left = math.dist((*at, height), (*elements[0].start, elements[0].height))
    if left > SAME_POINT + 1e-12 * sum(e.length for e in elements):
        raise _wrong(
            f"the run misses its start by {left:.1g} mm in a direction that none of its straights runs in",
            "check the curves' radii and angles",
        )
    return laid
