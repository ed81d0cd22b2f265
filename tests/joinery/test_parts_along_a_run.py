"""What a run is parted into before anything is cut: labels, corners, blocks, and the shears of raked profiles."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from preview.errors import PreviewError
from preview.joinery import BlockShape, join
from preview.joinery.parts import parts_of, shears_of
from preview.runs import MITER, Block, Corner, Curve, Easement, Run, Side, Step, Straight, Way, lay_out
from samples import RIGHT_ANGLE, block

ROOMS: tuple[Side, Side] = ("left", "right")
STONE = {"stone": BlockShape("stone", block(3.0, 9.0), 5.0, 4.0, 3.0, offset=1.0)}
"""5 mm square and 1 mm off the wall; over an outside corner it laps 4 mm, of which 1 mm is that."""


def test_parts_are_labelled_by_what_they_are() -> None:
    steps: list[Step] = [
        Straight(100.0),
        Easement(60.0),
        Straight(100.0, 0.5),
        Straight(50.0),
        Curve(1.0, 80.0),
        Block("stone", 5.0),
        Straight(50.0),
    ]
    run = replace(lay_out("hall", steps, room="right"), begin="return", end="return")
    parts = parts_of(run, STONE)
    assert [part.label for part in parts] == [
        "begin return",
        "1 straight",
        "2 easement",
        "3 straight",
        "4 straight",
        "5 curve",
        "6 block",
        "7 straight",
        "end return",
    ]
    # A return is counted with the piece that it is worked on.
    assert [part.index for part in parts] == [0, 0, 1, 2, 3, 4, 5, 6, 6]
    # It turns back to the wall as round an outside corner, on either hand.
    assert [part.turn for part in parts] == [0.0, -RIGHT_ANGLE, *[0.0] * 6, -RIGHT_ANGLE]
    assert [part.is_return for part in parts] == [True, *[False] * 7, True]
    assert [part.block for part in parts] == [*[""] * 6, "stone", "", ""]


def test_a_run_that_tells_of_no_joints_and_no_blocks_is_mitered() -> None:
    told = lay_out("hall", [Straight(100.0), Corner(RIGHT_ANGLE), Straight(80.0)])
    parts = parts_of(replace(told, ways=(), blocks=()), {})
    assert [(part.way, part.block, part.turn) for part in parts] == [(MITER, "", 0.0), (MITER, "", RIGHT_ANGLE)]


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize(("turn", "back"), [(90.0, 6.0), (-90.0, 3.0)])
def test_a_corner_block_takes_its_share_of_both_walls(room: Side, turn: float, back: float) -> None:
    """Inside a corner it is 5 mm wide and begins 1 mm off both walls; outside it reaches 4 mm back from 1 mm out."""
    angle = math.radians(turn)
    hand = 1 if room == "left" else -1
    steps: list[Step] = [Straight(40.0, 0.5), Corner(hand * angle, Way("block", block="stone")), Straight(30.0, 0.25)]
    before, stone, after = parts_of(lay_out("hall", steps, room=room), STONE)
    assert [(part.label, part.index) for part in (before, stone, after)] == [
        ("1 straight", 0),
        ("2 corner block", 1),
        ("2 straight", 1),
    ]
    assert (before.element.length, after.element.length) == (40.0 - back, 30.0 - back)
    assert (before.element.height, after.element.height) == (0.0, 20.0 + 0.25 * back)
    assert math.dist(after.element.start, (40.0, 0.0)) == pytest.approx(back, rel=1e-12)
    assert (stone.block, stone.turn) == ("stone", angle)
    assert stone.element.start == (40.0, 0.0)
    # What comes after the block begins square: the corner is the block's.
    assert (after.turn, after.way, after.block) == (0.0, MITER, "")


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize(
    ("turn", "out", "fits"),
    [(90.0, 6.0, True), (90.0, 6.5, False), (-90.0, 6.5, True)],
)
def test_a_corner_block_inside_a_corner_is_as_wide_as_the_molding(
    room: Side, turn: float, out: float, fits: bool
) -> None:
    """It fills the corner as far out as it is wide and stands off; outside a corner the moldings run apart."""
    hand = 1 if room == "left" else -1
    corner = Corner(hand * math.radians(turn), Way("block", block="stone"))
    run = lay_out("hall", [Straight(90.0), corner, Straight(80.0)], room=room)
    if fits:
        assert len(join(run, "rail", block(out), blocks=STONE).pieces) == 2
        return
    with pytest.raises(PreviewError) as refused:
        join(run, "rail", block(out), blocks=STONE)
    (problem,) = refused.value.problems
    assert problem.place == 'run "hall", step 3, member "rail"'
    assert problem.problem == (
        'the corner block "stone" is 5 mm wide, 1 mm off the walls, and the molding stands 6.5 mm out, so that the two '
        "moldings would run into each other"
    )
    assert problem.fix == "make the block at least 5.5 mm wide"


def test_a_plinth_block_may_be_narrower_than_the_molding_stands_out() -> None:
    run = lay_out("door", [Straight(90.0), Block("stone", 5.0)])
    assert len(join(run, "rail", block(20.0), blocks=STONE).pieces) == 1


# Shears.


def shears(run: Run) -> list[float]:
    return shears_of(run, "rail", parts_of(run, STONE))


@pytest.mark.parametrize("room", ROOMS)
def test_the_returns_of_a_climb_are_sheared_and_not_the_climb(room: Side) -> None:
    """By itself it keeps its profile. A point d out is d past either end of the wall: half of that lower and higher."""
    run = lay_out("stair", [Straight(100.0, 0.5)], room=room)
    assert shears(replace(run, begin="return", end="return")) == pytest.approx([-0.5, 0.0, 0.5], abs=1e-15)


@pytest.mark.parametrize("room", ROOMS)
def test_the_first_level_molding_keeps_its_profile(room: Side) -> None:
    """Round an inside square corner a shear falls by the sum of the two slopes. A block is no molding, if level."""
    hand = 1 if room == "left" else -1
    corner = Corner(hand * RIGHT_ANGLE)
    steps: list[Step] = [Straight(100.0, 0.5), corner, Straight(80.0, 0.25), corner, Straight(160.0)]
    run = lay_out("stair", steps, room=room)
    assert shears(run) == pytest.approx([1.0, 0.25, 0.0], abs=1e-12)
    run = lay_out("stair", [*steps, Corner(-hand * RIGHT_ANGLE), Straight(70.0, 0.75)], room=room)
    assert shears(run) == pytest.approx([1.0, 0.25, 0.0, 0.75], abs=1e-12)
    assert shears(replace(run, raked="same")) == [0.0] * 4  # square to the rake, each keeps it
    run = lay_out("stair", [Block("stone", 5.0), *steps], room=room)
    assert shears(run) == pytest.approx([1.0, 1.0, 0.25, 0.0], abs=1e-12)


def round_walls(slopes: list[float], walls: list[float], lengths: list[float], first: int) -> Run:
    """A closed run with the room on its left, walked from any of its corners."""
    steps: list[Step] = []
    for i in [(first + k) % len(slopes) for k in range(len(slopes))]:
        steps += [Straight(lengths[i], slopes[i]), Corner(math.radians(walls[i]))]
    return lay_out("round", steps, closed=True)


@pytest.mark.parametrize("first", range(4))
def test_a_room_that_climbs_and_comes_down_closes_from_any_of_its_corners(first: int) -> None:
    """Each corner of a square room takes the sum of the slopes beside it: what the climb adds the descent takes."""
    slopes = [0.5, 0.0, -0.5, 0.0]
    found = shears(round_walls(slopes, [90.0] * 4, [1000.0] * 4, first))
    want = [0.5, 0.0, 0.5, 1.0]
    level = want[min((first + k) % 4 for k in range(2) if slopes[(first + k) % 4] == 0.0)]
    assert found == pytest.approx([want[(first + k) % 4] - level for k in range(4)], abs=1e-12)


@pytest.mark.parametrize("first", range(6))
def test_a_room_that_does_not_come_round_is_off_by_the_same_from_any_of_its_corners(first: int) -> None:
    """Up between two inside corners, down between an inside and an outside one: the four sum to -0.7.

    (+0.35 twice for the climb, -0.7 and +0.7 for the descent, each falling at an inside corner.)
    """
    lengths = [1000.0, 1500.0, 500.0, 500.0, 500.0, 2000.0]
    walls = [90.0, 90.0, -90.0, 90.0, 90.0, 90.0]
    run = round_walls([0.35, 0.0, -0.7, 0.0, 0.0, 0.0], walls, lengths, first)
    with pytest.raises(PreviewError) as refused:
        shears(run)
    (problem,) = refused.value.problems
    assert problem.place == 'run "round", step 1, member "rail"'
    off = math.degrees(math.atan(0.7))
    assert problem.problem == (
        f"round this closed run the raked profiles do not come back to the first: they are -{off:.3g}° off"
    )
