"""Every limit that the messages state, from just inside and from just outside: by four parts in ten thousand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from preview.errors import PreviewError
from preview.profiles import Profile
from preview.runs import (
    BEVELS,
    Arrival,
    Block,
    Corner,
    Curve,
    Easement,
    Reading,
    Splay,
    Step,
    Straight,
    Way,
    adjust,
    boxes,
    lay_out,
    overlapping_pairs,
    run_back,
    scarfed,
    survey_run,
    survey_sentences,
    through_points,
    traverse,
)
from samples import RIGHT_ANGLE, block

IN, OUT = 1 - 4e-4, 1 + 4e-4
DEGREE = math.pi / 180
LONG = Straight(4000.0)


def is_laid(steps: Sequence[Step], *, closed: bool = False) -> bool:
    try:
        lay_out("hall", steps, start=(-320.0, 71.0), heading=0.7, closed=closed)
    except PreviewError:
        return False
    return True


@pytest.mark.parametrize("side", [1, -1])
def test_the_least_and_the_largest_turns(side: int) -> None:
    for least, most, made in (
        (1.0, 150.0, lambda degrees: [LONG, Corner(side * degrees * DEGREE), Straight(600.0)]),
        (2.0, 150.0, lambda degrees: [LONG, Splay(side * degrees * DEGREE, 2, 20.0), Straight(900.0)]),
        (1.0, 330.0, lambda degrees: [Curve(side * degrees * DEGREE, 300.0)]),
    ):
        assert is_laid(made(least * OUT))
        assert not is_laid(made(least * IN))
        assert is_laid(made(most * IN))
        assert not is_laid(made(most * OUT))


@pytest.mark.parametrize(
    ("least", "most", "made"),
    [
        (0.5, None, lambda size: [Straight(size)]),
        (0.5, None, lambda size: [LONG, Block("plinth", size), LONG]),
        (0.5, None, lambda size: [LONG, Splay(RIGHT_ANGLE, 3, size), LONG]),
        (0.5, 1e6, lambda size: [Curve(0.1, size)]),
        (0.5, 1e6, lambda size: [Straight(2e6), Easement(size), Straight(2e6, 0.5)]),
    ],
    ids=["straight", "block", "facet", "radius", "easement"],
)
def test_the_least_and_the_largest_sizes(least: float, most: float | None, made) -> None:  # type: ignore[no-untyped-def]
    assert is_laid(made(least * OUT))
    assert not is_laid(made(least * IN))
    if most is not None:
        assert is_laid(made(most * IN))
        assert not is_laid(made(most * OUT))


@pytest.mark.parametrize("side", [1, -1])
def test_the_steepest_pitch(side: int) -> None:
    assert is_laid([Straight(100.0, side * math.tan(60 * IN * DEGREE))])
    assert not is_laid([Straight(100.0, side * math.tan(60 * OUT * DEGREE))])


def test_the_fewest_and_the_most_facets() -> None:
    for turns in range(1, 12):
        assert is_laid([LONG, Splay(RIGHT_ANGLE, turns, 20.0), LONG]) == (2 <= turns <= 9)


def test_two_points_half_a_mm_apart_make_a_run() -> None:
    for far, laid in ((0.5 * OUT, True), (0.5 * IN, False)):
        points = [(300.0, -7.0), (300.0 + 0.6 * far, -7.0 + 0.8 * far)]
        if laid:
            assert through_points("hall", points).elements[0].length == pytest.approx(far)
        else:
            with pytest.raises(PreviewError, match="too short for a piece of molding"):
                through_points("hall", points)


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_points_turn_by_one_degree_or_more(turn: float) -> None:
    for degrees, laid in ((1.0 * OUT, True), (1.0 * IN, False), (150.0 * IN, True), (150.0 * OUT, False)):
        angle = turn * degrees * DEGREE
        points = [(-900.0, 40.0), (100.0, 40.0), (100.0 + 500 * math.cos(angle), 40.0 + 500 * math.sin(angle))]
        if laid:
            assert through_points("hall", points).turns[1] == pytest.approx(angle)
        else:
            with pytest.raises(PreviewError, match="point 2"):
                through_points("hall", points)


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_closed_run_may_miss_by_a_hundredth(axis: int, sign: int) -> None:
    for miss, closes in ((0.01 * IN, True), (0.01 * OUT, False)):
        walls = [900.0, 700.0, 900.0, 700.0]
        walls[2 + axis] += sign * miss
        steps: list[Step] = []
        for wall in walls:
            steps += [Straight(wall), Corner(RIGHT_ANGLE)]
        assert is_laid(steps, closed=True) == closes


@pytest.mark.parametrize("sign", [1, -1])
def test_a_closed_run_may_rise_by_a_hundredth(sign: int) -> None:
    for miss, closes in ((0.01 * IN, True), (0.01 * OUT, False)):
        steps: list[Step] = [Straight(400.0, 0.5), Corner(RIGHT_ANGLE), Straight(300.0), Corner(RIGHT_ANGLE)]
        steps += [Straight(100.0), Straight(300.0, (sign * miss - 200.0) / 300.0), Corner(RIGHT_ANGLE), Straight(300.0)]
        if closes:
            assert is_laid(steps, closed=True)
        else:
            with pytest.raises(PreviewError, match=f"0.010 mm {'above' if sign > 0 else 'below'} where it started"):
                lay_out("stair", steps, closed=True)


def test_a_last_corner_of_a_degree_is_found() -> None:
    """Eight walls whose seven equal corners leave a degree, or a little less, for the last."""
    for last, closes in ((OUT, True), (IN, False)):
        a = last * DEGREE  # the corner between the last wall and the first
        turns = [(2 * math.pi - a) / 7] * 7
        at, way = complex(0.0), 0.0
        lengths = [300.0] * 6
        for length, turn in zip(lengths, turns, strict=False):
            at += length * complex(math.cos(way), math.sin(way))
            way += turn
        # Two walls more, along the last two directions, that lead back to the start.
        u = complex(math.cos(way), math.sin(way))
        v = complex(math.cos(way + turns[6]), math.sin(way + turns[6]))
        cross = u.real * v.imag - u.imag * v.real
        first = (-at.real * v.imag + at.imag * v.real) / cross
        second = (-at.imag * u.real + at.real * u.imag) / cross
        steps: list[Step] = []
        for length, turn in zip([*lengths, first], turns, strict=True):
            steps += [Straight(length), Corner(turn)]
        steps.append(Straight(second))
        assert min(first, second) > 1.0
        assert is_laid(steps, closed=True) == closes


def test_a_bevel_of_four_to_one_is_the_steepest(monkeypatch: pytest.MonkeyPatch) -> None:
    for sign in (1, -1):
        for size, told in ((4.0 * IN, True), (4.0, True), (4.0 * OUT, False)):

            def back(_profile: Profile, size: float = sign * size) -> float:
                return size

            monkeypatch.setattr(BEVELS, "_entered", dict(BEVELS) | {"raked end": back})
            if told:
                assert run_back("raked end", block()) == sign * size
            else:
                with pytest.raises(PreviewError, match="4 is the most"):
                    run_back("raked end", block())


def test_a_thousand_pieces_of_one_straight_are_the_most() -> None:
    for count, made in ((1000, True), (1001, False)):
        run = lay_out("wall", [Straight(100.0 * count - 1.0)])
        if made:
            assert len(scarfed(run, 100.0, 0.0, 0.0).elements) == count
        else:
            with pytest.raises(PreviewError, match="no scarf fits"):
                scarfed(run, 100.0, 0.0, 0.0)


@pytest.mark.parametrize("side", [1, -1])
def test_a_corner_block_stands_at_a_square_corner_only(side: int) -> None:
    way = Way("block", block="stone")
    assert is_laid([LONG, Corner(side * RIGHT_ANGLE, way), Straight(900.0)])
    for off in (2e-9, -2e-9, 1e-3):
        assert not is_laid([LONG, Corner(side * (RIGHT_ANGLE + off), way), Straight(900.0)])


def test_a_run_without_blocks_or_ways_is_scarfed() -> None:
    """Blocks and ways may be left out of a run that is made by hand."""
    run = replace(lay_out("wall", [Straight(900.0), Corner(RIGHT_ANGLE), Straight(300.0)]), blocks=(), ways=())
    made = scarfed(run, 500.0, 1.0, 0.0)
    assert (made.blocks, [way.kind for way in made.ways]) == ((), ["miter", "scarf", "miter"])
    assert scarfed(replace(run, places=()), 500.0, 1.0, 0.0).places == ()


@pytest.mark.parametrize("rise", [1.0, -1.0])
def test_a_closed_run_whose_last_wall_climbs(rise: float) -> None:
    """It ends where that wall ends, not where it begins."""
    steps: list[Step] = [Straight(400.0, 0.5), Corner(RIGHT_ANGLE), Straight(300.0), Corner(RIGHT_ANGLE)]
    steps += [Straight(400.0), Corner(RIGHT_ANGLE), Straight(100.0), Straight(200.0, -1.0), Corner(RIGHT_ANGLE)]
    assert lay_out("ring", steps, closed=True).elements[-1].end_height == pytest.approx(0.0, abs=1e-9)
    steps[-2] = Straight(200.0, -1.0 + rise / 200.0)
    where = "above" if rise > 0 else "below"
    with pytest.raises(PreviewError, match=f"the run ends 1.000 mm {where} where it started; it may miss by 0.01 mm"):
        lay_out("ring", steps, closed=True)


@pytest.mark.parametrize("sign", [1, -1])
def test_corners_that_are_off_by_30_degrees_are_no_slip(sign: int) -> None:
    for off, told in ((30 * IN, False), (30 * OUT, True)):
        turns = [90.0, 90.0, 90.0, 90.0 + sign * off]
        steps: list[Step] = []
        for wall, turn in zip([3000.0, 2000.0, 3000.0, 2000.0], turns, strict=True):
            steps += [Straight(wall), Corner(turn * DEGREE)]
        walked = traverse(steps, [Reading(1e-3 if isinstance(step, Straight) else 1e-9) for step in steps])
        if told:
            with pytest.raises(PreviewError, match="and a closed run turns 360°"):
                adjust(walked)
        else:
            assert sum(row.adjusted for row in adjust(walked).rows if row.measured.is_angle) == pytest.approx(
                2 * math.pi
            )


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(("within", "least"), [(0.0, 1.0), (0.2, 1.0), (0.7, 2.1), (4.0, 10.0)])
def test_angles_that_leave_a_last_corner_to_be_found(sign: int, within: float, least: float) -> None:
    """From a degree on, or from what the three angles may be off together, but no more than ten degrees."""
    for left, found in ((least * OUT, True), (least * IN, False)):
        steps: list[Step] = []
        for turn in (120.0, 120.0, 120.0 - left):
            steps += [Straight(900.0), Corner(sign * turn * DEGREE)]
        steps.append(Straight(10.0))
        readings = [Reading(0.0 if isinstance(step, Straight) else within * DEGREE) for step in steps]
        assert traverse(steps, readings).whole == (None if found else sign * 2 * math.pi)


def test_one_change_just_over_its_limit_is_the_one_to_blame() -> None:
    """The one wall that may be off, by 3 mm, has to change by 3.0015."""
    steps: list[Step] = []
    for wall in (3003.0015, 2000.0, 3000.0, 2000.0):
        steps += [Straight(wall), Corner(RIGHT_ANGLE)]
    found = survey_run(steps, [Reading(3.0 if i == 0 else 0.0) for i in range(8)])[1]
    assert "do not bear each other out: step 1 has to change by 1 times" in " ".join(survey_sentences(found, "mm"))


def test_a_curve_beside_a_climb_is_seen_across_a_corner_and_not_from_the_other_end() -> None:
    """Either way along the run, with and without a corner between them; an open run does not go round."""
    curve, climb = Curve(0.5, 300.0), Straight(900.0, 0.25)
    corner = Corner(0.4)
    for steps in ([climb, curve], [climb, corner, curve], [climb, corner, curve, LONG]):
        for walked, number in ((steps, steps.index(curve) + 1), (steps[::-1], steps[::-1].index(curve) + 1)):
            with pytest.raises(PreviewError, match=f"climbs, and beside it the curve of step {number} is"):
                lay_out("hall", walked)
    for steps in (
        [curve, LONG, climb],
        [climb, LONG, curve],
        [curve, LONG, corner, climb],
        [climb, corner, LONG, curve],
    ):
        assert is_laid(steps)
        assert is_laid([*steps[:-1], corner, steps[-1]]) or corner in steps


@pytest.mark.parametrize(
    "steps",
    [
        [Straight(0.5)],
        [LONG, Block("plinth", 0.5), LONG],
        [LONG, Splay(RIGHT_ANGLE, 3, 0.5), LONG],
        [LONG, Splay(2 * DEGREE, 2, 9.0), LONG],
        [LONG, Splay(150 * DEGREE, 9, 9.0), Straight(900.0)],
        [LONG, Easement(0.5), Straight(900.0, 0.5)],
        [Straight(2e6), Easement(1e6), Straight(2e6, 0.5)],
        [Straight(100.0, math.tan(60 * DEGREE))],
        [Straight(100.0, -math.tan(60 * DEGREE))],
    ],
)
def test_the_limits_are_allowed_themselves(steps: Sequence[Step]) -> None:
    assert is_laid(steps)


def test_rounding_of_a_long_walk_of_curves_is_no_miss() -> None:
    """Two half circles of 100 m that miss each other by 0.0000002 mm close; of 1 mm they have to come nearer.

    What is allowed for is a billionth of a mm and 1e-12 of the whole walk.
    """
    for radius, closes in ((1e5, True), (10.0, False)):
        steps = [Curve(math.pi, radius), Curve(math.pi, radius + 1e-7)]
        assert is_laid(steps, closed=True) == closes


def test_boxes_beyond_a_dividing_plane_still_meet_those_on_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """A row of ten, each over the next: divided in the middle, the one that lies across has a neighbor on each side."""
    monkeypatch.setattr(boxes, "DIVIDED", 0)
    low = np.arange(10.0)[:, None]
    assert overlapping_pairs(low, low + 1.2).tolist() == [[i, i + 1] for i in range(9)]


@pytest.mark.parametrize("heading", [0.0, 0.8])
def test_how_a_miss_of_an_arrival_changes_with_each_measurement(heading: float) -> None:
    """By small differences: of walls, corners, a curve, and of both figures of the point of arrival."""
    steps: list[Step] = [Straight(900.0), Corner(0.7), Curve(-1.1, 250.0), Straight(400.0)]
    walked = traverse(
        steps, [Reading(1.0, 1.0)] * 4, start=(-50.0, 20.0), heading=heading, arrives=Arrival((1200.0, 500.0), 2.0)
    )
    values = walked.values()
    slopes = walked.linear(values)[1]
    assert slopes.shape == (2, 7)
    for i in range(7):
        step = np.zeros(7)
        step[i] = 1e-5
        change = (walked.misses(values + step) - walked.misses(values - step)) / 2e-5
        assert slopes[:, i] == pytest.approx(change, rel=1e-5, abs=1e-5)
