"""What cannot stand beside what: every mistake of a joint told once, at its step, with the step that is in its way."""

from __future__ import annotations

import math
from typing import Any

import pytest

from preview.errors import PreviewError
from preview.runs import Block, Corner, Curve, Easement, Side, Splay, Step, Straight, Way, lay_out, survey_run
from samples import RIGHT_ANGLE

DEGREE = math.pi / 180
WALL, RAKE, BEND = Straight(900.0), Straight(800.0, 0.25), Curve(0.5, 300.0)
SQUARE, SLIGHT = Corner(RIGHT_ANGLE), Corner(0.5)
SPLAYED, EASED, POST = Splay(RIGHT_ANGLE, 3, 20.0), Easement(40.0), Block("post", 90.0)
COPED, STONE = Way("cope"), Way("block", block="stone")

NEEDS = "which needs a piece on each side"
SPLAY_LIES = "a splayed corner lies between two level straights, and beside this one"
COPE_LIES = "a cope lies between two level straights, and beside this one"
EASEMENT_LIES = "an easement lies between two straights, and beside this one is"
IN_LINE = "a block stands in line, and beside this one is a corner"
BETWEEN = "put a straight between them"
LEVEL_BETWEEN = "put a level straight between them"
OF_ONE_WALL = f"an easement lies between two straights of one wall: {BETWEEN}"
ONE_CORNER = f"make them one corner of the whole angle, or {BETWEEN}"
ONE_BLOCK = f"make them one block, or {BETWEEN}"
INTO_CORNER = f'{BETWEEN}, or write the block into the corner: {{ inside = 90, block = "corner" }}'
EASE_NOTHING = "leave the easement out, or give one of the straights its rise or pitch"
MITER = 'write joint = "miter"'

Told = tuple[str, str, str]

OPEN: dict[str, tuple[list[Step], list[Told]]] = {
    "starts with a splay": (
        [SPLAYED, WALL],
        [
            (
                "step 1",
                f"the run starts with a corner, {NEEDS}",
                "leave this step out, or add a straight or a curve before it",
            )
        ],
    ),
    "starts with an easement": (
        [EASED, WALL],
        [("step 1", f"the run starts with an easement, {NEEDS}", "leave this step out, or add a straight before it")],
    ),
    "ends with an easement": (
        [WALL, EASED],
        [("step 2", f"the run ends with an easement, {NEEDS}", "leave this step out, or add a straight after it")],
    ),
    "a corner and a splay": (
        [BEND, SLIGHT, SPLAYED, WALL],
        [("step 2", "this corner and the next (step 3) have no piece between them", ONE_CORNER)],
    ),
    "a splay after a curve, and a corner": (
        [BEND, SPLAYED, SLIGHT, WALL],
        [("step 2", "this corner and the next (step 3) have no piece between them", ONE_CORNER)],
    ),
    "a corner and an easement": (
        [WALL, SLIGHT, EASED, RAKE],
        [("step 2", "this corner and the easement after it (step 3) have no piece between them", OF_ONE_WALL)],
    ),
    "an easement and a corner": (
        [WALL, EASED, SLIGHT, RAKE],
        [("step 2", "this easement and the corner after it (step 3) have no piece between them", OF_ONE_WALL)],
    ),
    "two easements": (
        [WALL, EASED, EASED, RAKE],
        [("step 2", "this easement and the easement after it (step 3) have no piece between them", OF_ONE_WALL)],
    ),
    "a splay before a curve": (
        [WALL, SPLAYED, BEND],
        [("step 2, turns", f"{SPLAY_LIES} is a curve (step 3)", LEVEL_BETWEEN)],
    ),
    "a splay between a curve and a rake": (
        [WALL, BEND, SPLAYED, WALL, SPLAYED, RAKE],
        [
            ("step 3, turns", f"{SPLAY_LIES} is a curve (step 2)", LEVEL_BETWEEN),
            ("step 5, turns", f"{SPLAY_LIES} step 6 climbs", LEVEL_BETWEEN),
        ],
    ),
    "a cope beside a curve": (
        [BEND, Corner(RIGHT_ANGLE, COPED), WALL],
        [("step 2, joint", f"{COPE_LIES} is a curve (step 1)", MITER)],
    ),
    "a cope beside a rake": (
        [WALL, Corner(RIGHT_ANGLE, COPED), RAKE],
        [("step 2, joint", f"{COPE_LIES} step 3 climbs", MITER)],
    ),
    "a corner block beside a curve": (
        [BEND, Corner(RIGHT_ANGLE, STONE), WALL],
        [
            (
                "step 2, block",
                "a corner block lies between two straights, and beside this one is a curve (step 1)",
                BETWEEN,
            )
        ],
    ),
    "an easement beside a curve": (
        [WALL, EASED, BEND],
        [("step 2", f"{EASEMENT_LIES} a curve (step 3)", BETWEEN)],
    ),
    "an easement beside a block": (
        [POST, EASED, RAKE],
        [("step 2", f"{EASEMENT_LIES} a block (step 1)", BETWEEN)],
    ),
    "an easement between level straights": (
        [WALL, EASED, Straight(500.0)],
        [("step 2", "both straights beside it are level, so there is nothing to ease", EASE_NOTHING)],
    ),
    "an easement in one rake": (
        [Straight(900.0, 1.0), EASED, Straight(400.0, 1.0)],
        [("step 2", "both straights beside it have a pitch of 45°, so there is nothing to ease", EASE_NOTHING)],
    ),
    "an easement in one rake that falls": (
        [Straight(900.0, -1.0), EASED, Straight(400.0, -1.0)],
        [("step 2", "both straights beside it have a pitch of -45°, so there is nothing to ease", EASE_NOTHING)],
    ),
    "a corner before a block": (
        [WALL, SQUARE, POST, Straight(300.0)],
        [("step 3, block", f"{IN_LINE} (step 2)", INTO_CORNER)],
    ),
    "blocks side by side": (
        [WALL, POST, POST, POST],
        [
            ("step 2, block", "this block and the next (step 3) have no piece between them", ONE_BLOCK),
            ("step 3, block", "this block and the next (step 4) have no piece between them", ONE_BLOCK),
        ],
    ),
}

CLOSED: dict[str, tuple[list[Step], list[Told]]] = {
    "starts with an easement": (
        [EASED, WALL, RAKE],
        [("step 1", f"the run starts with an easement, {NEEDS}", "write this easement as the last step")],
    ),
    "a splay that leads to a curve at the start": (
        [BEND, WALL, SPLAYED],
        [("step 3, turns", f"{SPLAY_LIES} is a curve (step 1)", LEVEL_BETWEEN)],
    ),
    "a block at the end and one at the start": (
        [POST, WALL, POST],
        [("step 3, block", "this block and the next (step 1) have no piece between them", ONE_BLOCK)],
    ),
    "a block at the start, after the last corner": (
        [POST, WALL, SQUARE],
        [("step 1, block", f"{IN_LINE} (step 3)", INTO_CORNER)],
    ),
}


def told(steps: list[Step], **options: Any) -> list[Told]:
    with pytest.raises(PreviewError) as refused:
        lay_out("wall", steps, **options)
    return [(problem.place, problem.problem, problem.fix) for problem in refused.value.problems]


@pytest.mark.parametrize("name", OPEN)
def test_what_stands_beside_a_joint(name: str) -> None:
    steps, wanted = OPEN[name]
    assert told(steps) == wanted


@pytest.mark.parametrize("name", CLOSED)
def test_a_closed_run_goes_round(name: str) -> None:
    steps, wanted = CLOSED[name]
    assert told(steps, closed=True) == wanted


@pytest.mark.parametrize(
    "steps",
    [
        [POST, WALL, POST],
        [POST, Straight(900.0, 0.25), POST, WALL],
        [BEND, WALL, POST],
        [RAKE, WALL, BEND],
        [BEND, WALL, RAKE],
        [WALL, SPLAYED, WALL, BEND],
        [WALL, EASED, RAKE, EASED, WALL],
        [POST, WALL, EASED, RAKE],
        [WALL, Corner(RIGHT_ANGLE, STONE), Straight(300.0), Straight(300.0, 0.5)],
        [RAKE, Corner(RIGHT_ANGLE, STONE), Straight(300.0)],
        [BEND, SLIGHT, BEND],
        [RAKE, POST, WALL],
    ],
)
def test_an_open_run_does_not_go_round(steps: list[Step]) -> None:
    assert lay_out("wall", steps).elements


@pytest.mark.parametrize("degrees", [1, 10, 45, 57, 60, 90, 120, 150])
@pytest.mark.parametrize(("room", "hand"), [("left", 1), ("right", -1)])
def test_any_inside_corner_may_be_coped_and_no_outside_one(degrees: int, room: Side, hand: int) -> None:
    way = Way("cope")
    steps: list[Step] = [WALL, Corner(hand * degrees * DEGREE, way), Straight(300.0)]
    assert lay_out("wall", steps, room=room).ways[1] == way
    outside: list[Step] = [WALL, Corner(-hand * degrees * DEGREE, way), Straight(300.0)]
    wanted = ("step 2, joint", "a cope is cut at inside corners, and this is an outside one", MITER)
    assert told(outside, room=room) == [wanted]
    with pytest.raises(PreviewError, match="inside corners, and this is an outside one"):
        survey_run([*outside, SQUARE], [], room=room)


def test_an_easement_is_for_slopes_that_differ_by_more_than_rounding() -> None:
    for apart, eased in ((1e-6, True), (1e-10, False)):
        steps: list[Step] = [Straight(900.0, 0.25), Easement(300.0), Straight(900.0, 0.25 + apart)]
        if eased:
            assert len(lay_out("wall", steps).elements) == 3
        else:
            assert told(steps)[0][1].startswith("both straights beside it have a pitch of 14.04°")


def test_a_curve_that_turns_neither_way_is_refused() -> None:
    assert told([WALL, Curve(0.0, 50.0), WALL])[0][1] == "a curve must turn by 1° to 330°"


# A run that closes with a corner, where something stands that a corner cannot stand beside.

EASED_TO_CLOSE = "start the run in the middle of a wall, or at a corner without an easement"
BLOCK_TO_CLOSE = "start the run in the middle of a wall, or put a straight between the block and the corner"


def three_walls(first: list[Step], last: list[Step]) -> list[Step]:
    """Three corners of a rectangle, 900 by 700; the fourth is found."""
    return [*first, SQUARE, Straight(700.0), SQUARE, WALL, SQUARE, *last]


def test_an_easement_is_no_corner_to_close_with() -> None:
    steps = three_walls([RAKE, Straight(100.0)], [Straight(700.0, -200 / 700), EASED])
    wanted = "an easement lies in one wall, and to close the run turns by 90° here"
    assert told(steps, closed=True) == [("step 9", wanted, EASED_TO_CLOSE)]


@pytest.mark.parametrize(
    ("first", "last", "number"),
    [([POST, Straight(810.0)], [Straight(700.0)], 1), ([WALL], [Straight(610.0), POST], 8)],
    ids=["the first", "the last"],
)
def test_a_block_does_not_stand_beside_the_corner_that_closes_a_run(
    first: list[Step], last: list[Step], number: int
) -> None:
    wanted = "a block stands in line, and to close the run turns by 90° beside it"
    assert told(three_walls(first, last), closed=True) == [(f"step {number}, block", wanted, BLOCK_TO_CLOSE)]


def test_a_block_within_a_wall_is_not_beside_the_corner_that_closes_the_run() -> None:
    steps = three_walls([Straight(400.0), POST, Straight(410.0)], [Straight(300.0), POST, Straight(310.0)])
    assert lay_out("room", steps, closed=True).turns[0] == pytest.approx(RIGHT_ANGLE)
