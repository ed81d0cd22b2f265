"""The steps of a run as a person measures them: straights, corners and curves."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from preview.errors import Problem
from preview.runs import Corner, Curve, Step, Straight
from preview.scene.kinds import Kind, choice, degrees, length, within
from preview.scene.table import Table
from preview.scene.written import written
from preview.units import Unit, angle

JOINTS = ("miter",)
"""The joints a corner can have."""

VERBS: dict[str, tuple[str, ...]] = {
    "straight": (),
    "left": ("joint",),
    "right": ("joint",),
    "inside": ("joint",),
    "outside": ("joint",),
    "curve_left": ("radius",),
    "curve_right": ("radius",),
}
"""What a step can do, and the other keys that go with it."""
HALF_TURN = 180


def read_step(table: Table, unit: Unit | None, hand: int) -> Step | None:
    """One step of a run; None when it holds a mistake, which is noted.

    hand: +1 when the room is on the left of travel, -1 on the right; inside and outside corners depend on it.
    """
    verb = table.one(VERBS, "step")
    if verb is None:
        return None
    if verb == "straight":
        walked = table.take(verb, _unsigned(unit, "a straight", STRAIGHT_FIX), None)
        return None if walked is None else Straight(walked)
    if verb.startswith("curve"):
        sweep = _positive(table, verb)
        kind = _unsigned(unit, "a radius", "the words curve_left and curve_right say which way it bends")
        radius = table.need("radius", kind, 'write the radius of the wall beside it: radius = "2 1/2"')
        if sweep is None or radius is None:
            return None
        return Curve(angle(sweep) if verb == "curve_left" else -angle(sweep), radius)
    table.take("joint", choice(JOINTS, "a corner is mitered; no other joint can be made yet"), JOINTS[0])
    if verb in ("left", "right"):
        turn = _positive(table, verb)
        return None if turn is None else Corner(angle(turn) if verb == "left" else -angle(turn))
    measured = _measured_corner(table, verb)
    if measured is None:
        return None
    turned = angle(HALF_TURN - measured)
    return Corner(hand * turned if verb == "inside" else -hand * turned)


def as_written(problem: Problem, steps: Sequence[Table]) -> Problem:
    """A problem of the layout ("step 3, left") with the key and the value that stand in the file.

    An inside corner is laid out as a turn to the left or right, and a length in mm: neither was written so.
    """
    if problem.place == "steps":
        return replace(problem, value="[]")
    found = re.fullmatch(r"step (\d+)(?:, (\w+))?", problem.place)
    if not found:
        return problem
    table = steps[int(found[1]) - 1]
    verb = next(verb for verb in VERBS if verb in table)
    key = found[2] if found[2] in table else verb
    if not found[2]:
        return replace(problem, value=written(table.data))
    return replace(problem, place=f"step {found[1]}, {key}", value=written(table.data[key]))


STRAIGHT_FIX = "write its length along the wall; the corners say which way it goes"


def _unsigned(unit: Unit | None, noun: str, fix: str) -> Kind[float]:
    return within(length(unit), 0.0, math.inf, f"{noun} is written without a minus sign", fix)


def _positive(table: Table, verb: str) -> Fraction | None:
    """A turn's degrees, more than 0: the word says which way."""
    turn = table.take(verb, degrees, None)
    if turn is not None and turn < 0:
        other = verb.replace("left", "right") if "left" in verb else verb.replace("right", "left")
        table.wrong(
            verb,
            written(table.data[verb]),
            f"a turn to the {verb.removeprefix('curve_')} is written without a minus sign",
            f"to turn the other way, write {other} = {_plain(-turn)}",
        )
        return None
    return turn


def _measured_corner(table: Table, verb: str) -> Fraction | None:
    """The angle between the two walls of a corner, degrees."""
    measured = table.take(verb, degrees, None)
    if measured is None or 0 < measured < HALF_TURN:
        return measured
    other = "outside" if verb == "inside" else "inside"
    if HALF_TURN < measured < 2 * HALF_TURN:
        fix = f"write {other} = {_plain(2 * HALF_TURN - measured)}, measured on the other side of the walls"
    elif measured == HALF_TURN:
        fix = "leave the corner out: the wall goes straight on"
    else:
        fix = f"write the angle between the two walls: {verb} = 90 for a square corner"
    table.wrong(
        verb,
        written(table.data[verb]),
        f"an {verb} corner measures less than 180° between its walls, and more than 0°",
        fix,
    )
    return None


def _plain(value: Fraction) -> str:
    return f"{float(value):.10g}"
