"""Laying out a run: exact where the trade is exact, and closed runs that close."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.runs import Corner, Curve, Run, Side, Step, Straight, Vec2, lay_out, through_points
from samples import RIGHT_ANGLE

ROOM: list[Step] = [Straight(3000.0), Corner(RIGHT_ANGLE), Straight(2000.0), Corner(RIGHT_ANGLE), Straight(3000.0)]
ROOM += [Corner(RIGHT_ANGLE), Straight(2000.0)]


def corners_of(run: Run) -> list[Vec2]:
    return [element.start for element in run.elements] + [run.elements[-1].end]


@pytest.mark.parametrize("last", [[], [Corner(RIGHT_ANGLE)]], ids=["corner found", "corner given"])
@pytest.mark.parametrize("heading", [0, 1, 2, 3])
def test_a_square_room_in_whole_mm_closes_bit_for_bit(last: list[Step], heading: int) -> None:
    run = lay_out("room", [*ROOM, *last], start=(40.0, -70.0), heading=heading * RIGHT_ANGLE, closed=True)
    assert run.elements[-1].end == (40.0, -70.0)
    assert run.turns == (RIGHT_ANGLE,) * 4
    assert [element.length for element in run.elements] == [3000.0, 2000.0, 3000.0, 2000.0]
    assert run.elements[0].tangent == ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[heading]


def test_a_rounded_room_in_whole_mm_closes_bit_for_bit() -> None:
    side: list[Step] = [Straight(901.0), Curve(RIGHT_ANGLE, 49.0)]  # 1 / (1 / 49) is not 49
    run = lay_out("room", side * 4, start=(12.0, 8.0), closed=True)
    assert run.elements[-1].end == (12.0, 8.0)
    assert run.turns == (0.0,) * 8
    assert run.elements[-1].end_tangent == run.elements[0].tangent


def test_a_square_room_off_the_whole_mm_closes_within_rounding() -> None:
    run = lay_out("room", ROOM, start=(0.1, 0.2), closed=True)
    assert run.elements[-1].end == pytest.approx((0.1, 0.2), abs=1e-12)


def test_steps_are_walked_one_after_another() -> None:
    """An office base: out, in, round an outside curve (left turn, room right) and round an inside one."""
    steps: list[Step] = [
        Straight(500.0),
        Corner(-RIGHT_ANGLE),
        Straight(100.0),
        Corner(RIGHT_ANGLE),
        Curve(RIGHT_ANGLE, 50.0),
        Straight(20.0),
        Curve(-RIGHT_ANGLE, 75.0),
    ]
    run = lay_out("base", steps, room="right", level=5.0)
    assert corners_of(run) == [(0, 0), (500, 0), (500, -100), (550, -50), (550, -30), (625, 45)]
    assert run.turns == (0.0, -RIGHT_ANGLE, RIGHT_ANGLE, 0.0, 0.0)
    assert run.places == ("step 1", "step 3", "step 5", "step 6", "step 7")
    assert (run.hand, run.level, run.closed, run.name) == (-1, 5.0, False, "base")


@pytest.mark.parametrize(("room", "hand"), [("left", 1), ("right", -1)])
def test_the_hand_of_a_room(room: Side, hand: int) -> None:
    assert lay_out("wall", [Straight(10.0)], room=room).hand == hand


def test_points_and_steps_lay_out_one_run() -> None:
    points = [(0.0, 0.0), (300.0, 0.0), (300.0, 400.0), (0.0, 800.0)]
    steps: list[Step] = [
        Straight(300.0),
        Corner(RIGHT_ANGLE),
        Straight(400.0),
        Corner(math.atan2(3, 4)),
        Straight(500.0),
    ]
    by_points, by_steps = through_points("wall", points, room="right", level=3.0), lay_out("wall", steps)
    assert np.allclose(corners_of(by_points), corners_of(by_steps), atol=1e-12)
    assert by_points.turns == pytest.approx(by_steps.turns, abs=1e-15)
    assert by_points.places == tuple(f"the straight from point {i}" for i in (1, 2, 3))
    assert (by_points.room, by_points.level, by_points.closed) == ("right", 3.0, False)


def test_points_in_one_line_go_on_without_a_corner() -> None:
    run = through_points("wall", [(0.0, 0.0), (100.0, 30.0), (200.0, 60.0), (400.0, 120.0)])
    assert run.turns == (0.0, 0.0, 0.0)
    assert {element.tangent for element in run.elements} == {run.elements[0].tangent}


def test_closed_points_return_to_the_first() -> None:
    run = through_points("room", [(0.0, 0.0), (300.0, 0.0), (300.0, 200.0), (0.0, 200.0)], closed=True)
    assert run.elements[-1].end == (0.0, 0.0)
    assert run.turns == (RIGHT_ANGLE,) * 4


def test_a_stadium_closes_smoothly() -> None:
    run = lay_out("stadium", [Straight(100.0), Curve(math.pi, 60.0)] * 2, closed=True)
    assert run.turns == (0.0,) * 4
    assert run.elements[-1].end == (0.0, 0.0)


def test_two_half_circles_close() -> None:
    run = lay_out("ring", [Curve(-math.pi, 49.0)] * 2, closed=True)
    assert run.elements[-1].end == (0.0, 0.0)


def test_three_thirds_of_a_circle_close_within_rounding() -> None:
    run = lay_out("ring", [Curve(2 * math.pi / 3, 60.0)] * 3, closed=True)
    assert run.elements[-1].end == pytest.approx((0.0, 0.0), abs=1e-12)
    assert run.turns == (0.0,) * 3


def test_a_small_miss_is_shared_by_the_straights_that_run_its_way() -> None:
    """0.004 mm too far along x: the two straights along x give half each, the other two nothing."""
    steps: list[Step] = [*ROOM]
    steps[0] = Straight(3000.004)
    run = lay_out("room", steps, closed=True)
    assert [element.length for element in run.elements] == pytest.approx([3000.002, 2000, 3000.002, 2000], abs=1e-12)
    assert math.dist(run.elements[-1].end, (0, 0)) < 1e-12
    assert run.turns == pytest.approx((RIGHT_ANGLE,) * 4, abs=1e-15)


def test_curves_keep_their_size_when_a_miss_is_shared() -> None:
    steps: list[Step] = [Straight(100.0), Curve(math.pi, 60.0), Straight(100.006), Curve(math.pi, 60.0)]
    run = lay_out("stadium", steps, closed=True)
    assert [element.length for element in run.elements[::2]] == pytest.approx([100.003, 100.003], abs=1e-12)
    assert [element.radius for element in run.elements[1::2]] == [60.0, 60.0]
    assert math.dist(run.elements[-1].end, (0, 0)) < 1e-11


@pytest.mark.parametrize(("extra", "closes"), [(0.0099, True), (0.01, True), (0.0101, False)])
def test_a_closed_run_may_miss_by_a_hundredth_of_a_mm(extra: float, closes: bool) -> None:
    steps: list[Step] = [Straight(3000.0 + extra), *ROOM[1:]]
    if closes:
        assert math.dist(lay_out("room", steps, closed=True).elements[-1].end, (0, 0)) < 1e-11
    else:
        with pytest.raises(PreviewError, match="misses its start"):
            lay_out("room", steps, closed=True)


@st.composite
def rooms(draw: st.DrawFn) -> list[Vec2]:
    """Corners round a middle, each further round than the last, so that the walls never cross."""
    count = draw(st.integers(3, 8))
    return [
        (round(r * math.cos(a), 3), round(r * math.sin(a), 3))
        for i in range(count)
        for a in [2 * math.pi * (i + draw(st.floats(0.0, 0.5))) / count]
        for r in [draw(st.floats(800.0, 3000.0))]
    ]


def steps_through(points: Sequence[Vec2]) -> tuple[list[Step], float]:
    """The steps a person would write for the same closed walls, and the first heading; complex numbers, not ours."""
    at = [complex(*point) for point in points]
    ways = [b - a for a, b in zip(at, [*at[1:], at[0]], strict=True)]
    steps: list[Step] = []
    for way, onward in zip(ways, [*ways[1:], ways[0]], strict=True):
        turn = onward / way
        steps += [Straight(abs(way)), Corner(math.atan2(turn.imag, turn.real))]
    return steps, math.atan2(ways[0].imag, ways[0].real)


@given(rooms())
def test_any_room_closes_by_steps_and_by_points_alike(points: list[Vec2]) -> None:
    steps, heading = steps_through(points)
    try:
        by_points = through_points("room", points, closed=True)
    except PreviewError:  # a corner under 1 or over 150 degrees: then both refuse
        with pytest.raises(PreviewError, match="the run turns by"):
            lay_out("room", steps, start=points[0], heading=heading, closed=True)
        return
    by_steps = lay_out("room", steps, start=points[0], heading=heading, closed=True)
    assert np.allclose(corners_of(by_steps), corners_of(by_points), atol=1e-8)
    for run in (by_steps, by_points):
        assert math.dist(run.elements[-1].end, points[0]) < 1e-8
        assert math.fsum(run.turns) == pytest.approx(2 * math.pi, abs=1e-9)
