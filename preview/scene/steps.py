"""The steps of a run as a person measures them: straights, rakes, corners, curves, easements and blocks."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Literal

from preview.errors import Problem
from preview.runs import LEAST_TURNS, MITER, MOST_TURNS, Corner, Curve, Easement, Splay, Step, Straight, Way
from preview.runs import Block as BlockStep
from preview.scene.kinds import Kind, choice, degrees, length, whole, within
from preview.scene.model import Block
from preview.scene.table import Table
from preview.scene.written import written
from preview.units import Unit, angle

Joint = Literal["miter", "cope"]
Coped = Literal["before", "after"]
JOINTS: tuple[Joint, ...] = ("miter", "cope")
"""The joints a corner can have."""
COPED: tuple[Coped, ...] = ("before", "after")
"""Which piece is cut to the face of the other, where a corner is coped."""
USUAL_JOINT: Joint = "miter"
USUAL_COPED: Coped = "after"

CORNER = ("joint", "coped", "turns", "facet", "block", "within")
CLIMB = ("rise", "pitch")
STRAIGHT = (*CLIMB, "within")
CURVE = ("radius", "within", "radius_within")
VERBS: dict[str, tuple[str, ...]] = {
    "straight": STRAIGHT,
    "rake": STRAIGHT,
    "left": CORNER,
    "right": CORNER,
    "inside": CORNER,
    "outside": CORNER,
    "curve_left": CURVE,
    "curve_right": CURVE,
    "easement": (),
    "block": (),
}
"""What a step can do, and the other keys that go with it."""
WRITTEN_AS = {"pitch": "rise"}
"""What stands in the file where the layout speaks of a key that does not."""
HALF_TURN = 180
UPRIGHT = 90


def read_step(table: Table, unit: Unit | None, hand: int, block: Kind[Block | None]) -> Step | None:
    """One step of a run; None when it holds a mistake, which is noted.

    hand: +1 when the room is on the left of travel, -1 on the right; inside and outside corners depend on it.
    block: reads the name of a block.
    """
    verb = table.one(VERBS, "step")
    if verb is None:
        return None
    if verb in ("straight", "rake"):
        return _straight(table, verb, unit)
    if verb == "easement":
        radius = table.take(verb, _unsigned(unit, "a radius", EASEMENT_FIX), None)
        return None if radius is None else Easement(radius)
    if verb == "block":
        found = table.take(verb, block, None)
        return None if found is None else BlockStep(found.name, found.width)
    if verb.startswith("curve"):
        return _curve(table, verb, unit)
    return _corner(table, verb, unit, hand, block)


def as_written(problem: Problem, steps: Sequence[Table]) -> Problem:
    """A problem of the layout ("step 3, left") with the key and the value that stand in the file.

    An inside corner is laid out as a turn to the left or right, and a length in mm: neither was written so.
    """
    if problem.place == "steps":
        return replace(problem, value=written([step.data for step in steps]))
    found = re.fullmatch(r"step (\d+)(?:, (\w+))?", problem.place)
    if not found:
        return problem
    table = steps[int(found[1]) - 1]
    if not found[2]:
        return replace(problem, value=written(table.data))
    verb = next(verb for verb in VERBS if verb in table)
    key = next((each for each in (found[2], WRITTEN_AS.get(found[2], "")) if each in table), verb)
    return replace(problem, place=f"step {found[1]}, {key}", value=written(table.data[key]))


STRAIGHT_FIX = "write its length along the wall; the corners say which way it goes"
RAKE_FIX = "write its length along the slope; where it goes down, the minus sign stands at its pitch or rise"
EASEMENT_FIX = "write it without; the slopes say whether the easement bends up or over"
FACET_FIX = "write the length of each short piece along the wall"


def _unsigned(unit: Unit | None, noun: str, fix: str) -> Kind[float]:
    return within(length(unit), 0.0, math.inf, f"{noun} is written without a minus sign", fix)


# Straights and rakes.


def _straight(table: Table, verb: str, unit: Unit | None) -> Straight | None:
    """A straight, level or climbing: measured level with `straight`, along its slope with `rake`."""
    noted = len(table.log.problems)
    noun, fix = ("a straight", STRAIGHT_FIX) if verb == "straight" else ("a rake", RAKE_FIX)
    walked = table.take(verb, _unsigned(unit, noun, fix), None)
    rise = table.take("rise", length(unit), None)
    pitch = table.take("pitch", _pitch, None)
    if "rise" in table and "pitch" in table:
        problem = "the climb is given twice, by its rise and by its pitch"
        table.wrong("", written(table.data), problem, "keep the one that you measured")
    elif verb == "rake" and not any(key in table or table.told(key) for key in CLIMB):
        problem = "a rake is measured along its slope, and nothing says how steep that is"
        fix = 'add its pitch or its rise: { rake = "8\' 4", pitch = 36 }; a level piece is a straight'
        table.wrong("", written(table.data), problem, fix)
    if walked is None or len(table.log.problems) != noted:
        return None
    if pitch is not None:
        cos, sin = math.cos(pitch), math.sin(pitch)
        return Straight(walked * cos if verb == "rake" else walked, sin / cos)
    if rise is None:
        return Straight(walked)
    if verb == "rake" and abs(rise) >= walked > 0:
        problem = "the rise is no less than the length, which is measured along the slope"
        table.wrong("rise", table.shown("rise"), problem, "check both; the level length is written as straight")
        return None
    level = math.sqrt((walked - rise) * (walked + rise)) if verb == "rake" and walked > 0 else walked
    return Straight(level, rise / level if level else 0.0)


def _pitch(value: object) -> float:
    """A pitch in radians, from degrees less than upright."""
    fix = "write the angle between the rake and a level line, or how far it rises: rise = 70"
    problem = "a pitch is measured from level, and is less than 90°"
    return math.radians(within(lambda each: float(degrees(each)), -UPRIGHT + 1e-3, UPRIGHT - 1e-3, problem, fix)(value))


# Curves and corners.


def _curve(table: Table, verb: str, unit: Unit | None) -> Curve | None:
    sweep = _positive(table, verb)
    kind = _unsigned(unit, "a radius", "the words curve_left and curve_right say which way it bends")
    radius = table.need("radius", kind, 'write the radius of the wall beside it: radius = "2 1/2"')
    if sweep is None or radius is None:
        return None
    return Curve(angle(sweep) if verb == "curve_left" else -angle(sweep), radius)


def _corner(table: Table, verb: str, unit: Unit | None, hand: int, block: Kind[Block | None]) -> Corner | Splay | None:
    """A corner by how far the walk turns, or by the angle between its walls; and how it is made."""
    noted = len(table.log.problems)
    way = _way(table, block)
    splay = _splay(table, unit)
    turn = _turn(table, verb, hand)
    if turn is None or len(table.log.problems) != noted:
        return None
    return Corner(turn, way) if splay is None else Splay(turn, *splay)


def _turn(table: Table, verb: str, hand: int) -> float | None:
    """The turn of a corner in radians, + to the left."""
    if verb in ("left", "right"):
        turn = _positive(table, verb)
        return None if turn is None else angle(turn) if verb == "left" else -angle(turn)
    measured = _measured_corner(table, verb)
    if measured is None:
        return None
    turned = angle(HALF_TURN - measured)
    return hand * turned if verb == "inside" else -hand * turned


def _way(table: Table, block: Kind[Block | None]) -> Way:
    """How a corner is made: mitered, coped, or round a block."""
    joint = table.take("joint", choice(JOINTS, "a corner is mitered or coped"), USUAL_JOINT)
    said = "it says which piece is coped: the one before the corner, or the one after it"
    coped = table.take("coped", choice(COPED, said), USUAL_COPED)
    if "coped" in table and table.data.get("joint", USUAL_JOINT) == USUAL_JOINT:
        problem = "it says which piece is coped, and this corner is mitered"
        table.wrong("coped", table.shown("coped"), problem, 'write joint = "cope" beside it, or leave coped out')
    if "block" in table:
        found = table.take("block", block, None)
        if "joint" in table:
            problem = "a block stands in this corner, so the pieces are cut square against it"
            table.wrong("joint", table.shown("joint"), problem, "leave joint out, or block")
        return MITER if found is None else Way("block", block=found.name)
    return Way("cope", coped=coped) if joint == "cope" else MITER


def _splay(table: Table, unit: Unit | None) -> tuple[int, float] | None:
    """Of a splayed corner, how many corners it is made of and the length of each short piece between them."""
    if "turns" not in table and "facet" not in table:
        return None
    few, many = LEAST_TURNS, MOST_TURNS
    said = f"a splayed corner is made of {few} to {many} equal corners"
    fix = "write turns = 2, say, for one short piece between two corners; a round one is a curve"
    turns = table.need("turns", whole(few, many, said, fix), "write how many equal corners it is made of: turns = 2")
    facet = table.need(
        "facet", _unsigned(unit, "a facet", FACET_FIX), 'write how long each short piece is: facet = "1 1/2"'
    )
    for key, made in (("joint", table.data.get("joint") == "cope"), ("block", "block" in table)):
        if made:
            problem = "the corners of a splayed corner are mitered"
            table.wrong(key, table.shown(key), problem, f"leave {key} out, or turns and facet")
    return None if turns is None or facet is None else (turns, facet)


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
