"""Blocks in line and in corners, and how each joint of a run is to be made."""

from __future__ import annotations

import math

import pytest

from preview.errors import PreviewError
from preview.runs import MITER, Block, Corner, Curve, Side, Step, Straight, Way, lay_out, through_points
from samples import RIGHT_ANGLE

COPE = Way("cope", coped="before")
ROSETTE = Way("block", block="rosette")


def test_a_block_stands_in_line_in_place_of_molding() -> None:
    run = lay_out("wall", [Block("plinth", 100.0), Straight(300.0), Block("post", 80.0), Curve(RIGHT_ANGLE, 50.0)])
    assert run.blocks == ("plinth", "", "post", "")
    assert [element.start for element in run.elements] == [(0, 0), (100, 0), (400, 0), (480, 0)]
    assert [element.length for element in run.elements[:3]] == [100.0, 300.0, 80.0]
    assert run.ways == (MITER,) * 4
    assert run.places == ("step 1", "step 2", "step 3", "step 4")


def test_a_block_is_level_between_two_rakes() -> None:
    run = lay_out("stair", [Straight(100.0, 0.5), Block("newel", 40.0), Straight(60.0, 1.0)])
    assert [element.height for element in run.elements] == [0.0, 50.0, 50.0]
    assert [element.slope for element in run.elements] == [0.5, 0.0, 1.0]


def test_every_joint_has_its_way() -> None:
    steps: list[Step] = [Straight(400.0), Corner(RIGHT_ANGLE, COPE), Straight(300.0), Corner(-RIGHT_ANGLE, ROSETTE)]
    run = lay_out("wall", [*steps, Straight(200.0), Straight(100.0)])
    assert run.ways == (MITER, COPE, ROSETTE, MITER)
    assert run.blocks == ("",) * 4
    assert through_points("wall", [(0.0, 0.0), (9.0, 0.0), (9.0, 9.0)]).ways == (MITER,) * 2


def test_the_way_of_the_closing_corner_stands_at_the_first_element() -> None:
    side: list[Step] = [Straight(400.0), Corner(RIGHT_ANGLE)]
    run = lay_out("room", [*side * 3, Straight(400.0), Corner(RIGHT_ANGLE, COPE)], closed=True)
    assert run.ways == (COPE, MITER, MITER, MITER)
    assert run.turns == (RIGHT_ANGLE,) * 4


def test_a_small_miss_is_not_taken_from_a_block() -> None:
    steps: list[Step] = [Straight(100.0), Block("post", 50.0), Straight(250.0), Corner(RIGHT_ANGLE), Straight(300.0)]
    steps += [Corner(RIGHT_ANGLE), Straight(400.006), Corner(RIGHT_ANGLE), Straight(300.0)]
    run = lay_out("room", steps, closed=True)
    assert run.elements[1].length == 50.0
    assert run.elements[0].length == pytest.approx(100.002, abs=1e-9)


@pytest.mark.parametrize(("room", "turn"), [("left", RIGHT_ANGLE), ("right", -RIGHT_ANGLE)])
def test_a_cope_is_cut_at_inside_corners(room: Side, turn: float) -> None:
    steps: list[Step] = [Straight(400.0), Corner(turn, COPE), Straight(300.0)]
    assert lay_out("wall", steps, room=room).ways[1] == COPE
    with pytest.raises(PreviewError, match="a cope is cut at inside corners, and this is an outside one"):
        lay_out("wall", [steps[0], Corner(-turn, COPE), steps[2]], room=room)


@pytest.mark.parametrize(
    ("steps", "place", "said"),
    [
        ([Block("plinth", 0.0), Straight(9.0)], "step 1, block", "a block must be at least 0.5 mm wide"),
        ([Block("plinth", 9.0)], "steps", "the run has no straight and no curve"),
        (
            [Straight(9.0), Corner(math.radians(89), ROSETTE), Straight(9.0)],
            "step 2, block",
            "a corner block stands at a square corner, and here the run turns by 89°",
        ),
        (
            [Straight(9.0), Block("a", 9.0), Block("b", 9.0)],
            "step 2, block",
            "this block and the next (step 3) have no piece between them",
        ),
        (
            [Straight(9.0), Block("a", 9.0), Corner(RIGHT_ANGLE), Straight(9.0)],
            "step 2, block",
            "a block stands in line, and beside this one is a corner (step 3)",
        ),
    ],
)
def test_blocks_are_refused(steps: list[Step], place: str, said: str) -> None:
    with pytest.raises(PreviewError) as refused:
        lay_out("wall", steps)
    (problem,) = refused.value.problems
    assert (problem.place, problem.problem) == (place, said)
