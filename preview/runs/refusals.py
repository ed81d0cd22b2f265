"""What cannot be laid out: measurements out of range, and steps that cannot stand beside one another."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from preview.errors import PreviewError, Problem
from preview.runs.steps import LEAST_TURNS, MOST_TURNS, Block, Corner, Curve, Easement, Splay, Step, Straight
from preview.units import Unit, degrees_text, show

LEAST_TURN, MOST_TURN = math.radians(1), math.radians(150)
ALL_THE_WAY = "if the run goes all the way round, write closed = true; else "
"""Before what helps an open run that may be meant to be closed."""
LEAST_SWEEP, MOST_SWEEP = math.radians(1), math.radians(330)
LEAST_RADIUS, MOST_RADIUS = 0.5, 1e6
LEAST_LENGTH = 0.5
MOST_PITCH = math.radians(60)
ANGLE_SLACK = 1e-12
SAME_SLOPE = 1e-9
SQUARE_WITHIN = 1e-9

Joining = Corner | Splay | Easement
"""Steps that have no place of their own in the walk: they join the ones beside them."""
NOUNS: dict[type[Step], str] = {
    Straight: "a straight",
    Corner: "a corner",
    Curve: "a curve",
    Splay: "a corner",
    Easement: "an easement",
    Block: "a block",
}


def corner_problem(turn: float) -> tuple[str, str] | None:
    """What is wrong with a corner's turn (radians), and the fix; None when it can be mitered."""
    if LEAST_TURN - ANGLE_SLACK <= abs(turn) <= MOST_TURN + ANGLE_SLACK:
        return None
    said = f"the run turns by {degrees_text(abs(turn))} here"
    if abs(turn) < LEAST_TURN:
        return f"{said}, less than the 1° a corner needs", "leave the corner out and carry straight on"
    return (
        f"{said}, more than the 150° a miter can serve",
        "split the corner in two with a short piece between them, or end the run and start another",
    )


def refuse_bad_steps(steps: Sequence[Step], hand: int, closed: bool, unit: Unit) -> None:
    """Raise PreviewError with every mistake, each at its step; `hand` is +1 where the room is on the left."""
    if not any(isinstance(step, Straight | Curve) for step in steps):
        raise PreviewError(
            "steps",
            None,
            "the run has no straight and no curve",
            'add a step such as { straight = "5\' 3-1/2" }',
        )
    problems: list[Problem] = []
    for i, step in enumerate(steps):
        problems += _alone(step, i + 1, unit)
        problems += _beside(steps, i, hand, closed)
    if problems:
        raise PreviewError.several(problems)


def _at(number: int, key: str, value: str | None, problem: str, fix: str) -> Problem:
    return Problem(f"step {number}" + (f", {key}" if key else ""), value, problem, fix)


def _alone(step: Step, number: int, unit: Unit) -> Iterator[Problem]:
    """What is wrong with a step whatever stands beside it."""
    match step:
        case Corner() | Splay():
            yield from _turn(step, number, unit)
        case Straight():
            yield from _straight(step, number, unit)
        case Curve():
            yield from _curve(step, number, unit)
        case Easement():
            if not LEAST_RADIUS <= step.radius <= MOST_RADIUS:
                problem = f"an easement has a radius of {show(LEAST_RADIUS, unit)} to 1 km"
                yield _at(
                    number, "easement", show(step.radius, unit), problem, "check the radius, or leave the step out"
                )
        case Block():
            if not step.width >= LEAST_LENGTH:
                least = f"a block must be at least {show(LEAST_LENGTH, unit)} wide"
                yield _at(number, "block", show(step.width, unit), least, "give its width along the wall")


def _turn(step: Corner | Splay, number: int, unit: Unit) -> Iterator[Problem]:
    problem = corner_problem(step.turn)
    if problem:
        key = "left" if step.turn > 0 else "right"
        yield _at(number, key, degrees_text(abs(step.turn)), *problem)
    elif isinstance(step, Splay):
        yield from _splay(step, number, unit)


def _straight(step: Straight, number: int, unit: Unit) -> Iterator[Problem]:
    if not step.length >= LEAST_LENGTH:
        yield _at(
            number,
            "straight",
            show(step.length, unit),
            f"a straight must be at least {show(LEAST_LENGTH, unit)} long",
            "give its length along the wall, or leave the step out",
        )
    pitch = math.atan(abs(step.slope))
    if not pitch <= MOST_PITCH + ANGLE_SLACK:
        yield _at(
            number,
            "pitch",
            degrees_text(pitch),
            f"the pitch here is {degrees_text(pitch)}, more than the 60° a rake may have",
            "check the rise and the length, or the pitch, which is measured from level",
        )


def _curve(step: Curve, number: int, unit: Unit) -> Iterator[Problem]:
    if not LEAST_SWEEP - ANGLE_SLACK <= abs(step.sweep) <= MOST_SWEEP + ANGLE_SLACK:
        yield _at(
            number,
            "curve_left" if step.sweep > 0 else "curve_right",
            degrees_text(abs(step.sweep)),
            "a curve must turn by 1° to 330°",
            "write a longer way round as two curves, a smaller one as a straight",
        )
    if not step.radius >= LEAST_RADIUS:
        yield _at(
            number,
            "radius",
            show(step.radius, unit),
            f"a back radius under {show(LEAST_RADIUS, unit)} is a sharp corner",
            "use a corner step (left or right) instead, or a larger radius",
        )
    elif step.radius > MOST_RADIUS:
        yield _at(
            number,
            "radius",
            show(step.radius, unit),
            "a back radius over 1 km is a straight",
            "use a straight step instead, or a smaller radius",
        )


def _splay(step: Splay, number: int, unit: Unit) -> Iterator[Problem]:
    if not LEAST_TURNS <= step.turns <= MOST_TURNS:
        yield _at(
            number,
            "turns",
            str(step.turns),
            f"a splayed corner is made of {LEAST_TURNS} to {MOST_TURNS} equal corners",
            "write turns = 2, say, for one short piece between two corners; a round one is a curve",
        )
    elif abs(step.turn) / step.turns < LEAST_TURN - ANGLE_SLACK:
        each = degrees_text(abs(step.turn) / step.turns)
        problem = f"each of the {step.turns} corners turns by {each}, less than the 1° a corner needs"
        yield _at(number, "turns", str(step.turns), problem, "write fewer turns")
    if not step.facet >= LEAST_LENGTH:
        yield _at(
            number,
            "facet",
            show(step.facet, unit),
            f"a facet must be at least {show(LEAST_LENGTH, unit)} long",
            "write the length of each short piece along the wall",
        )


# What stands beside a step.


def _beside(steps: Sequence[Step], i: int, hand: int, closed: bool) -> Iterator[Problem]:
    step, number = steps[i], i + 1
    if isinstance(step, Joining):
        yield from _joining_ends(steps, i, closed)
        pair = _pieces_beside(steps, i, closed)
        if len(pair) == 2:
            yield from _joined(step, number, pair, hand)
    elif isinstance(step, Block):
        yield from _block(steps, i, closed)
    elif isinstance(step, Straight) and step.slope:
        for other in _nearest_pieces(steps, i, closed):
            if isinstance(steps[other], Curve):
                problem = f"this straight climbs, and beside it the curve of step {other + 1} is level"
                fix = "the rake must end before the curve: put a level straight between them"
                yield _at(number, "pitch", None, problem, fix)


def _neighbors(steps: Sequence[Step], i: int, closed: bool) -> list[int]:
    """The steps just before and after one, as indices; a closed run goes round."""
    count = len(steps)
    return [j % count for j in (i - 1, i + 1) if closed or 0 <= j < count]


def _pieces_beside(steps: Sequence[Step], i: int, closed: bool) -> list[tuple[int, Straight | Curve | Block]]:
    """The neighbors of a step that are no joints themselves, with their numbers."""
    found = ((j + 1, steps[j]) for j in _neighbors(steps, i, closed))
    return [(number, step) for number, step in found if not isinstance(step, Joining)]


def _nearest_pieces(steps: Sequence[Step], i: int, closed: bool) -> Iterator[int]:
    """The pieces that a piece meets, directly or at a joint, as indices."""
    for j, ahead in ((i - 1, -1), (i + 1, 1)):
        for at in (j, j + ahead):
            if not (closed or 0 <= at < len(steps)):
                break
            if not isinstance(steps[at % len(steps)], Joining):
                yield at % len(steps)
                break


def _comes_round(steps: Sequence[Step]) -> bool:
    """Whether the corners and curves turn about once in all, as in a run that is meant to be closed."""
    turns = [
        step.sweep if isinstance(step, Curve) else step.turn
        for step in steps
        if isinstance(step, Curve | Corner | Splay)
    ]
    return abs(abs(sum(turns)) - math.tau) < MOST_TURN / 2


def _where_to(noun: str, pieces: str, beyond: str, closed: bool, comes_round: bool) -> str:
    if closed:
        return f"write this {noun} as the last step"
    fix = f"leave this step out, or add {pieces} {beyond} it"
    return ALL_THE_WAY + fix if comes_round else fix


def _joining_ends(steps: Sequence[Step], i: int, closed: bool) -> Iterator[Problem]:
    """A corner or an easement needs a piece on each side."""
    step, number, last = steps[i], i + 1, i + 1 == len(steps)
    noun = NOUNS[type(step)].split()[-1]
    if number == 1 or (last and not closed):
        where, beyond = ("starts", "before") if number == 1 else ("ends", "after")
        pieces = "a straight" if isinstance(step, Easement) else "a straight or a curve"
        yield _at(
            number,
            "",
            None,
            f"the run {where} with {NOUNS[type(step)]}, which needs a piece on each side",
            _where_to(noun, pieces, beyond, closed, number > 1 and _comes_round(steps)),
        )
    elif not last and isinstance(steps[number], Joining):
        both = Corner | Splay
        if isinstance(step, both) and isinstance(steps[number], both):
            said = "this corner and the next", "make them one corner of the whole angle, or put a straight between them"
        else:
            said = (
                f"this {noun} and the {NOUNS[type(steps[number])].split()[-1]} after it",
                "an easement lies between two straights of one wall: put a straight between them",
            )
        yield _at(number, "", None, f"{said[0]} (step {number + 1}) have no piece between them", said[1])


def _joined(
    step: Joining, number: int, pair: Sequence[tuple[int, Straight | Curve | Block]], hand: int
) -> Iterator[Problem]:
    """What is wrong with a joint between the two pieces beside it."""
    if isinstance(step, Easement):
        yield from _easement(number, pair)
    elif isinstance(step, Splay):
        said = "a splayed corner lies between two level straights"
        yield from _level_straights(number, "turns", pair, said, "put a level straight between them")
    elif step.way.kind == "cope":
        if step.turn * hand <= 0:
            problem = "a cope is cut at inside corners, and this is an outside one"
            yield _at(number, "joint", None, problem, 'write joint = "miter"')
        said = "a cope lies between two level straights"
        yield from _level_straights(number, "joint", pair, said, 'write joint = "miter"')
    elif step.way.kind == "block":
        if abs(abs(step.turn) - math.pi / 2) > SQUARE_WITHIN:
            problem = (
                f"a corner block stands at a square corner, and here the run turns by {degrees_text(abs(step.turn))}"
            )
            yield _at(number, "block", None, problem, "leave the block out: a corner of any angle can be mitered")
        for other, piece in pair:
            if isinstance(piece, Curve):
                problem = f"a corner block lies between two straights, and beside this one is a curve (step {other})"
                yield _at(number, "block", None, problem, "put a straight between them")


def _level_straights(
    number: int, key: str, pair: Sequence[tuple[int, Straight | Curve | Block]], said: str, fix: str
) -> Iterator[Problem]:
    for other, piece in pair:
        if isinstance(piece, Curve):
            yield _at(number, key, None, f"{said}, and beside this one is a curve (step {other})", fix)
        elif isinstance(piece, Straight) and piece.slope:
            yield _at(number, key, None, f"{said}, and beside this one step {other} climbs", fix)


def _easement(number: int, pair: Sequence[tuple[int, Straight | Curve | Block]]) -> Iterator[Problem]:
    straights = [piece for _, piece in pair if isinstance(piece, Straight)]
    for other, piece in pair:
        if not isinstance(piece, Straight):
            problem = (
                f"an easement lies between two straights, and beside this one is {NOUNS[type(piece)]} (step {other})"
            )
            yield _at(number, "", None, problem, "put a straight between them")
    if len(straights) == 2 and abs(straights[0].slope - straights[1].slope) <= SAME_SLOPE:
        pitch = math.atan(straights[0].slope)
        both = f"have a pitch of {degrees_text(pitch)}" if abs(pitch) > SAME_SLOPE else "are level"
        problem = f"both straights beside it {both}, so there is nothing to ease"
        yield _at(number, "", None, problem, "leave the easement out, or give one of the straights its rise or pitch")


def _block(steps: Sequence[Step], i: int, closed: bool) -> Iterator[Problem]:
    """A block stands in line with what is beside it."""
    for j in _neighbors(steps, i, closed):
        other = steps[j]
        if isinstance(other, Corner | Splay):
            problem = f"a block stands in line, and beside this one is a corner (step {j + 1})"
            fix = 'put a straight between them, or write the block into the corner: { inside = 90, block = "corner" }'
            yield _at(i + 1, "block", None, problem, fix)
        elif isinstance(other, Block) and j == (i + 1) % len(steps):
            problem = f"this block and the next (step {j + 1}) have no piece between them"
            yield _at(i + 1, "block", None, problem, "make them one block, or put a straight between them")
