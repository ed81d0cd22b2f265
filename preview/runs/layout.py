"""From steps as a person measures them to a run laid out in plan."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from preview.errors import PreviewError
from preview.runs.closing import SAME_DIRECTION, closed_up
from preview.runs.crossings import first_crossing
from preview.runs.element import Element, Vec2, straight, turn_between
from preview.runs.refusals import ALL_THE_WAY, LEAST_LENGTH, corner_problem, refuse_bad_steps
from preview.runs.run import Run, Side
from preview.runs.steps import MITER, Corner, Easement, Splay, Step
from preview.runs.walk import Leg, let_in, walked
from preview.units import Unit, degrees_text, show

BACK_AT_START = 25.0
"""A run that ends within this many mm of its start may be meant to be closed."""


def lay_out(
    name: str,
    steps: Sequence[Step],
    *,
    start: Vec2 = (0.0, 0.0),
    heading: float = 0.0,
    room: Side = "left",
    level: float = 0.0,
    closed: bool = False,
    ends_may_cross: bool = False,
    unit: Unit = "mm",
) -> Run:
    """Walk the steps from `start` along `heading` (radians, counter-clockwise from +x).

    ends_may_cross: the last element may cross the first, as in a run that should close and is shown as measured.
    `unit` is only how lengths are spoken of in errors. Raises PreviewError, with the step in its place, for a
    measurement out of range, a joint without the pieces it needs on each side, straights too short for the splays
    and easements beside them, a closed run that misses its start, or a run that crosses itself.
    """
    refuse_bad_steps(steps, 1 if room == "left" else -1, closed, unit)
    legs, tangent = walked(steps, start, heading)
    if closed:
        legs = _closed(legs, tangent, steps, unit)
    legs = let_in(legs, unit)
    run = Run(
        name,
        tuple(leg.element for leg in legs),
        tuple(leg.turn for leg in legs),
        room,
        level,
        closed,
        tuple(f"step {leg.number}" for leg in legs),
        tuple(leg.way for leg in legs),
        blocks=tuple(leg.block for leg in legs),
    )
    _refuse_crossing(run, unit, ends_may_cross)
    return run


def _closed(legs: Sequence[Leg], tangent: Vec2, steps: Sequence[Step], unit: Unit) -> list[Leg]:
    """The legs of a closed run, made to close, the corner found between the last and the first."""
    last = steps[-1]
    elements, turn = closed_up(
        [leg.element for leg in legs],
        tangent,
        isinstance(last, Corner | Splay),
        [bool(leg.block) for leg in legs],
        unit,
    )
    if turn and isinstance(last, Easement):
        raise PreviewError(
            f"step {len(steps)}",
            None,
            f"an easement lies in one wall, and to close the run turns by {degrees_text(abs(turn))} here",
            "start the run in the middle of a wall, or at a corner without an easement",
        )
    for leg in (legs[-1], legs[0]):
        if turn and leg.block:
            raise PreviewError(
                f"step {leg.number}, block",
                None,
                f"a block stands in line, and to close the run turns by {degrees_text(abs(turn))} beside it",
                "start the run in the middle of a wall, or put a straight between the block and the corner",
            )
    found = [replace(leg, element=element) for leg, element in zip(legs, elements, strict=True)]
    found[0] = replace(found[0], turn=turn)
    return found


def through_points(
    name: str,
    points: Sequence[Vec2],
    *,
    room: Side = "left",
    level: float = 0.0,
    closed: bool = False,
    unit: Unit = "mm",
) -> Run:
    """A run of straights through measured plan points; a closed one returns to the first by itself.

    Raises PreviewError as `lay_out` does, with the point in its place.
    """
    least = 3 if closed else 2
    if len(points) < least:
        raise PreviewError(
            "points",
            str(len(points)),
            f"a{' closed' if closed else ''} run needs at least {least} points",
            "give the plan position of every corner and of both ends"
            if not closed
            else "give the plan position of every corner; the last goes back to the first by itself",
        )
    count = len(points) if closed else len(points) - 1
    elements: list[Element] = []
    problems: list[PreviewError] = []
    for i in range(count):
        a, b = points[i], points[(i + 1) % len(points)]
        length = math.dist(a, b)
        if not length >= LEAST_LENGTH:
            both = f"points {i + 1} and {(i + 1) % len(points) + 1}"
            raise PreviewError(
                both,
                None,
                f"they are {show(length, unit)} apart, too short for a piece of molding",
                "leave one of them out"
                if not (closed and i == count - 1)
                else "leave the last one out: a closed run returns to its first point by itself",
            )
        elements.append(straight(a, ((b[0] - a[0]) / length, (b[1] - a[1]) / length), length))
    turns = [0.0] * count
    for i in range(0 if closed else 1, count):
        turn = turn_between(elements[i - 1].tangent, elements[i].tangent)
        if abs(turn) < SAME_DIRECTION:
            turn = 0.0
            elements[i] = replace(elements[i], tangent=elements[i - 1].tangent)
        else:
            problem = corner_problem(turn)
            if problem:
                problems.append(PreviewError(f"point {i + 1}", None, *problem))
        turns[i] = turn
    if problems:
        raise PreviewError.several([p for error in problems for p in error.problems])
    places = tuple(f"the straight from point {i + 1}" for i in range(count))
    ways, blocks = (MITER,) * count, ("",) * count
    run = Run(name, tuple(elements), tuple(turns), room, level, closed, places, ways, blocks=blocks)
    _refuse_crossing(run, unit)
    return run


def _refuse_crossing(run: Run, unit: Unit, ends_may_cross: bool = False) -> None:
    crossing = first_crossing(run.elements, run.closed, ends_may_cross)
    if crossing:
        x, y = (show(value, unit) for value in crossing.at)
        fix = "check the lengths, and that every corner turns the right way (left or right)"
        if not run.closed and math.dist(run.elements[-1].end, run.elements[0].start) < BACK_AT_START:
            fix = ALL_THE_WAY + fix
        raise PreviewError(
            run.places[crossing.second],
            None,
            f"the run crosses itself: it meets {run.places[crossing.first]} at x = {x}, y = {y}",
            fix,
        )
