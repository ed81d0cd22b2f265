"""Runs that stop where another starts."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from preview.joinery import BlockShape, MemberRun, join, meeting_ends
from preview.runs import Block, Corner, Side, Stand, Straight, lay_out
from samples import BASE, RIGHT_ANGLE, around, block


def wall(
    name: str, x: float, member: str = "base", heading: float = 0.0, y: float = 0.0, room: Side = "left", **other: Any
) -> MemberRun:
    run = lay_out(name, [Straight(100.0)], start=(x, y), heading=heading, room=room, **other)
    return join(run, member, BASE)


def names(*lines: MemberRun) -> list[tuple[str, str, str]]:
    return [(m.joint.name, m.first.piece.name, m.second.piece.name) for m in meeting_ends(lines)[0]]


def misses(*lines: MemberRun) -> list[tuple[float, str]]:
    return [(round(miss.apart, 6), miss.why) for miss in meeting_ends(lines)[1]]


def test_two_runs_in_one_line_meet() -> None:
    lines = (wall("north", 0.0), wall("alcove", 100.0))
    expected = [("north / base to alcove / base butt", "north / base / 1 straight", "alcove / base / 1 straight")]
    assert names(*lines) == names(*lines[::-1]) == expected
    joint = meeting_ends(lines)[0][0].joint
    assert (joint.kind, joint.at, joint.turn) == ("butt", (100.0, 0.0), 0.0)
    assert joint.before is joint.after is lines[0].joints[-1].before
    assert misses(*lines) == []


def test_runs_walked_toward_each_other_meet() -> None:
    """The same wall measured from its two ends: the room is on the left of one and on the right of the other."""
    lines = (wall("north", 0.0), wall("alcove", 200.0, heading=math.pi, room="right"))
    ((joint, first, second),) = names(*lines)
    assert joint == "north / base to alcove / base butt"
    assert (first, second) == ("north / base / 1 straight", "alcove / base / 1 straight")
    (found,) = meeting_ends(lines)[0]
    assert (found.first.at_end, found.second.at_end) == (True, True)


def test_ends_that_come_close_and_are_no_joint_are_told() -> None:
    line, gap = "they do not lie in one line", "a gap is left between them"
    assert misses(wall("north", 0.0), wall("alcove", 101.5)) == [(1.5, gap)]
    assert misses(wall("north", 0.0), wall("alcove", 100.0, heading=math.pi / 2)) == [(0.0, line)]
    assert misses(wall("north", 0.0), wall("alcove", 100.0, room="right")) == [(0.0, line)]
    assert misses(wall("north", 0.0), wall("alcove", 110.1)) == []


def test_three_runs_in_a_row_meet_twice() -> None:
    assert len(names(wall("a", 0.0), wall("b", 100.0), wall("c", 200.0))) == 2


@pytest.mark.parametrize(
    "other",
    [
        wall("alcove", 100.02),
        wall("alcove", 100.0, y=0.02),
        wall("alcove", 100.0, heading=1e-5),
        wall("alcove", 100.0, room="right"),
        wall("alcove", 200.0, heading=math.pi),
    ],
    ids=["gap", "step", "turn", "other side", "other way"],
)
def test_runs_that_do_not_go_on_do_not_meet(other: MemberRun) -> None:
    assert not names(wall("north", 0.0), other)


def test_within_a_hundredth_they_meet() -> None:
    assert names(wall("north", 0.0), wall("alcove", 100.009, heading=5e-7))


def test_members_pair_by_name() -> None:
    def two(name: str, x: float, second: str) -> list[MemberRun]:
        run = lay_out(name, [Straight(100.0)], start=(x, 0.0))
        return [join(run, "base", BASE), join(run, second, block(5.0, 5.0))]

    found = names(*two("north", 0.0, "shoe"), *two("alcove", 100.0, "cap"))
    assert [name for name, _, _ in found] == ["north / base to alcove / base butt"]


def test_single_members_pair_whatever_their_names() -> None:
    assert names(wall("north", 0.0, "base"), wall("alcove", 100.0, "plinth"))
    # But not where one of the runs has more to choose from.
    both = [wall("alcove", 100.0, "plinth"), wall("alcove", 100.0, "shoe")]
    assert not names(wall("north", 0.0, "base"), *both)


def test_a_run_does_not_meet_itself() -> None:
    assert not names(wall("north", 0.0))


def test_a_difference_in_level_is_left_to_the_checks() -> None:
    assert names(wall("north", 0.0), wall("alcove", 100.0, level=3.0))


def test_a_base_and_a_rail_of_one_profile_have_nothing_to_do_with_one_another() -> None:
    lines = (wall("north", 0.0), wall("alcove", 100.0, level=900.0))
    assert (names(*lines), misses(*lines)) == ([], [])


def test_runs_in_different_planes_do_not_meet() -> None:
    """A casing's plan is the face of its wall: its numbers happen to be those of a run along the floor."""
    floor = wall("floor", 0.0)
    face = Stand((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0))
    flat = lay_out("door", [Straight(100.0)], start=(100.0, 0.0))
    assert names(floor, join(flat, "base", BASE)) != []
    upright = join(replace(flat, stand=face), "base", BASE)
    assert names(floor, upright) == []
    assert misses(floor, upright) == []


def test_a_run_that_climbs_meets_one_at_that_level() -> None:
    up = join(lay_out("up", [Straight(100.0, 0.5)]), "base", BASE)
    (met,) = meeting_ends([up, wall("landing", 100.0, level=50.0)])[0]
    assert met.joint.height == 50.0
    assert (met.first.foot, met.second.foot) == (50.0, 50.0)


@pytest.mark.parametrize("reverse", [False, True])
def test_a_run_of_several_walls_meets_another_with_its_last_end(reverse: bool) -> None:
    """Three walls end at (0, 0), going east; of another three the first sets out from there."""
    into = lay_out(
        "into",
        [Straight(90.0), Corner(-RIGHT_ANGLE), Straight(80.0), Corner(RIGHT_ANGLE), Straight(70.0)],
        start=(-160.0, 80.0),
    )
    away = lay_out("away", [Straight(70.0), Corner(RIGHT_ANGLE), Straight(90.0), Corner(RIGHT_ANGLE), Straight(50.0)])
    lines = [join(into, "base", BASE), join(away, "base", BASE)]
    (met,) = meeting_ends(lines[::-1] if reverse else lines)[0]
    assert met.joint.at == pytest.approx((0.0, 0.0), abs=1e-9)
    assert (met.first.piece.name, met.second.piece.name) == ("into / base / 3 straight", "away / base / 1 straight")


@pytest.mark.parametrize("way", ["butt", "return", "self-return", "beveled"])
def test_an_end_that_is_not_left_square_meets_nothing(way: str) -> None:
    """It is made to stand by itself, or against a wall."""
    north = lay_out("north", [Straight(100.0)])
    for line in (wall("alcove", 100.0), wall("alcove", 101.0)):
        assert names(join(replace(north, end=way), "base", BASE), line) == []
        assert misses(join(replace(north, end=way), "base", BASE), line) == []
    alcove = lay_out("alcove", [Straight(100.0)], start=(100.0, 0.0))
    assert names(wall("north", 0.0), join(replace(alcove, begin=way), "base", BASE)) == []


def test_a_run_that_ends_in_a_block_meets_nothing() -> None:
    plinth = {"plinth": BlockShape("plinth", block(40.0, 90.0), 60.0, 60.0, 40.0)}
    run = lay_out("north", [Straight(95.0), Block("plinth", 5.0)])
    ended = join(run, "base", BASE, blocks=plinth)
    assert (names(ended, wall("alcove", 100.0)), misses(ended, wall("alcove", 100.0))) == ([], [])


def test_a_closed_run_has_no_end_to_meet() -> None:
    closed = join(around("right"), "base", BASE)
    beside = wall("alcove", 0.0, heading=math.pi / 2)
    assert (names(closed, beside), misses(closed, beside)) == ([], [])


def test_ends_are_near_up_to_ten_millimeters_and_meet_up_to_a_hundredth() -> None:
    """At just that as well, along the wall and in height."""
    line = join(lay_out("north", [Straight(100.0)], start=(-100.0, 0.0)), "base", BASE)
    assert line.joints[-1].at == (0.0, 0.0)
    assert misses(line, wall("alcove", 10.0)) == [(10.0, "a gap is left between them")]
    assert names(line, wall("alcove", 0.01)) != []
    assert names(line, wall("alcove", 0.0, level=10.0)) != []
    assert names(line, wall("alcove", 0.0, level=10.005)) == []
    assert misses(line, wall("alcove", 10.005)) == []
    assert names(line, wall("alcove", 0.010005)) == []
