"""From steps as a person measures them to a run laid out in plan."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from preview.errors import PreviewError
from preview.runs.crossings import first_crossing
from preview.runs.element import Element, Vec2, arc, straight, turn_between, turned
from preview.units import Unit, degrees_text, show

Side = Literal["left", "right"]

LEAST_TURN, MOST_TURN = math.radians(1), math.radians(150)
LEAST_SWEEP, MOST_SWEEP = math.radians(1), math.radians(330)
LEAST_RADIUS, MOST_RADIUS = 0.5, 1e6
LEAST_LENGTH = 0.5
CLOSES_WITHIN = 0.01
"""A closed run must come back to its start within this many mm; the rest is spread over its straights."""
SAME_DIRECTION = 1e-9
SAME_POINT = 1e-9
ANGLE_SLACK = 1e-12


@dataclass(frozen=True)
class Straight:
    """Walk straight on for a length in mm."""

    length: float


@dataclass(frozen=True)
class Corner:
    """Turn on the spot by an angle in radians, + to the left."""

    turn: float


@dataclass(frozen=True)
class Curve:
    """Walk an arc of the back line: a sweep in radians, + to the left, on a radius in mm."""

    sweep: float
    radius: float


Step = Straight | Corner | Curve


@dataclass(frozen=True)
class Run:
    """An unbroken path of molding, laid out on its back line (the wall line).

    elements: straights and arcs in the order of travel, end to end.
    turns: one per element, the corner angle in radians just before it, + to the left; 0 where the path goes on
        smoothly. In an open run the first is 0; in a closed one it is the corner between the last and the first.
    room: the side of travel the molding projects to. level: the height of the members' foot, mm.
    places: one per element, where it was written ("step 3"), for messages.
    """

    name: str
    elements: tuple[Element, ...]
    turns: tuple[float, ...]
    room: Side = "left"
    level: float = 0.0
    closed: bool = False
    places: tuple[str, ...] = ()

    @property
    def hand(self) -> int:
        """+1 when the molding projects to the left of travel, -1 to the right."""
        return 1 if self.room == "left" else -1


def lay_out(
    name: str,
    steps: Sequence[Step],
    *,
    start: Vec2 = (0.0, 0.0),
    heading: float = 0.0,
    room: Side = "left",
    level: float = 0.0,
    closed: bool = False,
    unit: Unit = "mm",
) -> Run:
    """Walk the steps from `start` along `heading` (radians, counter-clockwise from +x).

    `unit` is only how lengths are spoken of in errors. Raises PreviewError, with the step in its place, for a
    measurement out of range, a corner without a piece on each side, a closed run that misses its start, or a
    run that crosses itself.
    """
    _refuse_bad_steps(steps, closed, unit)
    elements: list[Element] = []
    turns: list[float] = []
    step_of: list[int] = []
    at, tangent, turn = start, turned((1.0, 0.0), heading), 0.0
    for number, step in enumerate(steps, start=1):
        if isinstance(step, Corner):
            turn = step.turn
            tangent = turned(tangent, turn)
            continue
        if isinstance(step, Straight):
            element = straight(at, tangent, step.length)
        else:
            element = arc(at, tangent, step.radius, step.sweep)
        elements.append(element)
        turns.append(turn)
        step_of.append(number)
        at, tangent, turn = element.end, element.end_tangent, 0.0
    if closed:
        elements, turns[0] = _close(elements, tangent, isinstance(steps[-1], Corner))
    places = tuple(f"step {number}" for number in step_of)
    run = Run(name, tuple(elements), tuple(turns), room, level, closed, places)
    _refuse_crossing(run, unit)
    return run


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
            problem = _corner_problem(turn)
            if problem:
                problems.append(PreviewError(f"point {i + 1}", None, *problem))
        turns[i] = turn
    if problems:
        raise PreviewError.several([p for error in problems for p in error.problems])
    places = tuple(f"the straight from point {i + 1}" for i in range(count))
    run = Run(name, tuple(elements), tuple(turns), room, level, closed, places)
    _refuse_crossing(run, unit)
    return run


def _corner_problem(turn: float) -> tuple[str, str] | None:
    """What is wrong with a corner's turn, and the fix; None when it can be mitered."""
    if LEAST_TURN - ANGLE_SLACK <= abs(turn) <= MOST_TURN + ANGLE_SLACK:
        return None
    said = f"the run turns by {degrees_text(abs(turn))} here"
    if abs(turn) < LEAST_TURN:
        return f"{said}, less than the 1° a corner needs", "leave the corner out and carry straight on"
    return (
        f"{said}, more than the 150° a miter can serve",
        "split the corner in two with a short piece between them, or end the run and start another",
    )


def _refuse_bad_steps(steps: Sequence[Step], closed: bool, unit: Unit) -> None:
    problems: list[PreviewError] = []

    def refuse(number: int, key: str, value: str | None, problem: str, fix: str) -> None:
        place = f"step {number}" + (f", {key}" if key else "")
        problems.append(PreviewError(place, value, problem, fix))

    if not any(not isinstance(step, Corner) for step in steps):
        raise PreviewError(
            "steps",
            None,
            "the run has no straight and no curve",
            'add a step such as { straight = "5\' 3-1/2" }',
        )
    for number, step in enumerate(steps, start=1):
        last = number == len(steps)
        if isinstance(step, Corner):
            key = "left" if step.turn > 0 else "right"
            problem = _corner_problem(step.turn)
            if problem:
                refuse(number, key, degrees_text(abs(step.turn)), *problem)
            if number == 1 or (last and not closed):
                where, beyond = ("starts", "before") if number == 1 else ("ends", "after")
                refuse(
                    number,
                    "",
                    None,
                    f"the run {where} with a corner, which needs a piece on each side",
                    "write this corner as the last step"
                    if closed
                    else f"leave this step out, or add a straight or a curve {beyond} it",
                )
            elif not last and isinstance(steps[number], Corner):
                refuse(
                    number,
                    "",
                    None,
                    f"this corner and the next (step {number + 1}) have no piece between them",
                    "make them one corner of the whole angle, or put a straight between them",
                )
        elif isinstance(step, Straight):
            if not step.length >= LEAST_LENGTH:
                refuse(
                    number,
                    "straight",
                    show(step.length, unit),
                    f"a straight must be at least {show(LEAST_LENGTH, unit)} long",
                    "give its length along the wall, or leave the step out",
                )
        else:
            key = "curve_left" if step.sweep > 0 else "curve_right"
            if not LEAST_SWEEP - ANGLE_SLACK <= abs(step.sweep) <= MOST_SWEEP + ANGLE_SLACK:
                refuse(
                    number,
                    key,
                    degrees_text(abs(step.sweep)),
                    "a curve must turn by 1° to 330°",
                    "write a longer way round as two curves, a smaller one as a straight",
                )
            if not step.radius >= LEAST_RADIUS:
                refuse(
                    number,
                    "radius",
                    show(step.radius, unit),
                    f"a back radius under {show(LEAST_RADIUS, unit)} is a sharp corner",
                    "use a corner step (left or right) instead, or a larger radius",
                )
            elif step.radius > MOST_RADIUS:
                refuse(
                    number,
                    "radius",
                    show(step.radius, unit),
                    "a back radius over 1 km is a straight",
                    "use a straight step instead, or a smaller radius",
                )
    if problems:
        raise PreviewError.several([p for error in problems for p in error.problems])


def _close(elements: list[Element], tangent: Vec2, corner_given: bool) -> tuple[list[Element], float]:
    """Check that a walked run comes back to its start; returns its elements, made to close exactly, and the last turn.

    `tangent` is the direction after the last step. A closing corner that was not written is found here.
    """
    left_over = turn_between(tangent, elements[0].tangent)
    if corner_given and abs(left_over) > 1e-6:
        raise PreviewError(
            "closed",
            "true",
            f"after the last corner the run heads {degrees_text(abs(left_over))} away from where it started",
            "check the corners: they and the curves must add up to one whole turn; or leave the last corner out "
            "and it is found for you",
        )
    start = elements[0].start
    miss = (elements[-1].end[0] - start[0], elements[-1].end[1] - start[1])
    far = math.hypot(*miss)
    if far > CLOSES_WITHIN + SAME_POINT:
        raise PreviewError(
            "closed",
            "true",
            f"the run misses its start by {far:.3f} mm ({miss[0]:+.3f} mm in x, {miss[1]:+.3f} mm in y); "
            f"it may miss by {CLOSES_WITHIN} mm",
            "check the measured lengths and corners, or give the corners as points",
        )
    elements = _spread(elements, miss)
    turn = turn_between(elements[-1].end_tangent, elements[0].tangent)
    if abs(turn) < SAME_DIRECTION:
        return elements, 0.0
    if abs(turn) < LEAST_TURN - ANGLE_SLACK:
        raise PreviewError(
            "closed",
            "true",
            f"the corners and curves miss one whole turn by {degrees_text(abs(turn))}, too little for a last corner",
            "check the angles: they must add up to 360°, or leave at least 1° for a last corner",
        )
    problem = _corner_problem(turn)
    if problem:
        raise PreviewError("closed", "true", "to close, " + problem[0], problem[1])
    return elements, turn


def _spread(elements: list[Element], miss: Vec2) -> list[Element]:
    """Change the straights' lengths by the least amounts that close the run exactly (all directions are kept)."""
    if math.hypot(*miss) == 0.0:
        return elements
    straights = [i for i, e in enumerate(elements) if not e.curvature]
    change = np.zeros(len(elements))
    if straights:
        directions = np.array([elements[i].tangent for i in straights]).T
        change[straights] = np.linalg.lstsq(directions, -np.array(miss), rcond=1e-9)[0]
    laid: list[Element] = []
    at = elements[0].start
    for element, more in zip(elements, change.tolist(), strict=True):
        laid.append(replace(element, start=at, length=element.length + more))
        at = laid[-1].end
    left = math.dist(at, elements[0].start)
    if left > SAME_POINT + 1e-12 * sum(e.length for e in elements):
        raise PreviewError(
            "closed",
            "true",
            f"the run misses its start by {left:.1g} mm in a direction that none of its straights runs in",
            "check the curves' radii and angles",
        )
    return laid


def _refuse_crossing(run: Run, unit: Unit) -> None:
    crossing = first_crossing(run.elements, run.closed)
    if crossing:
        x, y = (show(value, unit) for value in crossing.at)
        raise PreviewError(
            run.places[crossing.second],
            None,
            f"the run crosses itself: it meets {run.places[crossing.first]} at x = {x}, y = {y}",
            "check the lengths, and that every corner turns the right way (left or right)",
        )
