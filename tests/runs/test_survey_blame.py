"""Whom a survey blames: measurements that cannot be told apart, that are held, or that lie beyond all belief."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from preview.errors import PreviewError
from preview.runs import (
    Arrival,
    Block,
    Closure,
    Corner,
    Corrected,
    Curve,
    Easement,
    Measured,
    Reading,
    Splay,
    Step,
    Straight,
    Survey,
    adjust,
    survey_run,
    survey_sentences,
    traverse,
)
from samples import RIGHT_ANGLE
from survey_samples import read, room, sixsided, through

DEGREE = math.pi / 180
RECTANGLE = room((3000, 90), (2000, 90), (3000, 90), (2000, 90))
SKEW = [(0.0, 0.0), (4000.0, 300.0), (4800.0, 2500.0), (2600.0, 4100.0), (700.0, 2900.0)]


def cross(apart: float, miss: float) -> tuple[float, ...]:
    """Who is suspected of walls along 0, 90, `apart` and 90 + `apart` degrees, with a miss of 60 mm along `miss`.

    Of two pairs at right angles, alike in weight, none leans on another: what one wall has to do with the miss is the
    cosine between the two, and what two walls have to do with each other the cosine between them.
    """
    ways = [0.0, 90.0, apart, 90.0 + apart]
    steps: list[Step] = []
    for i, way in enumerate(ways):
        steps += [Corner((way - ways[i - 1]) * DEGREE)] if i else []
        steps.append(Straight(2000.0))
    end = sum(2000.0 * np.exp(1j * way * DEGREE) for way in ways) - 60.0 * np.exp(1j * miss * DEGREE)
    walls = [Reading(3.0) if isinstance(step, Straight) else Reading() for step in steps]
    found = adjust(traverse(steps, walls, arrives=Arrival((float(end.real), float(end.imag)))))
    assert [row.share for row in found.rows] == pytest.approx([0.5, 0, 0.5, 0, 0.5, 0, 0.5, 0, 0], abs=1e-12)
    normal = [abs(row.normal) for row in found.rows[:7:2]]
    assert normal == pytest.approx([20 * math.sqrt(2) * abs(math.cos((way - miss) * DEGREE)) for way in ways], rel=1e-9)
    return tuple(ways[i // 2] for i in found.suspects)


@pytest.mark.parametrize(
    ("apart", "miss", "wanted"),
    [
        # cos 18.15 is 0.9502 and cos 18.25 is 0.9497: of 0.95 or more cannot be told apart.
        (18.15, -20.0, (0, 18.15)),
        (18.25, -20.0, (0,)),
        (15.0, -20.0, (0, 15)),
        # As likely: cos 20 over cos 10 is 0.9542, cos 21 over cos 9 is 0.9452.
        (30.0, 10.0, (0, 30)),
        (30.0, 9.0, (0,)),
        (30.0, 20.0, (30, 0)),
        (30.0, 100.0, (90, 120)),
        (45.0, 22.5, (0, 45)),
    ],
)
def test_what_cannot_be_told_apart_or_is_as_likely(apart: float, miss: float, wanted: tuple[float, ...]) -> None:
    found = cross(apart, miss)
    assert sorted(found) == sorted(wanted)
    if miss != 22.5:
        assert found == wanted  # the likeliest first


def test_what_is_hardly_checked_is_not_judged() -> None:
    """Of two opposite walls one may be off by 10,000 times as much: 3 mm fall to it, and to the other one in 10^8."""
    steps = room((3003, 90), (2000, 90), (3000, 90), (2000, 90))
    within = {0: 1e-4, 4: 1.0}
    found = adjust(traverse(steps, [Reading(within.get(i, 0.0)) for i in range(8)]))
    sure, rough, held = found.rows[0], found.rows[4], found.rows[2]
    assert sure.correction == pytest.approx(-3e-8, rel=1e-5)
    assert (sure.normal, sure.alone) == (0.0, sure.correction)
    assert rough.alone == pytest.approx(rough.correction) == pytest.approx(3.0)
    assert (held.correction, held.normal, held.alone, held.times, held.times_alone) == (0.0,) * 5
    assert found.suspects == (4,)
    assert all(math.copysign(1.0, row.correction) == 1.0 for row in found.rows if not row.correction)


def test_a_change_as_it_is_read() -> None:
    """Between walls less where the turn is more; along a slope of 3 in 4, 5 for 4; else as it is."""
    corner = Measured(2, "corner", 80 * DEGREE, 1 * DEGREE)
    for measured, adjusted, change in (
        (corner, 80.25 * DEGREE, 0.25),
        (replace(corner, between_walls=True), 80.25 * DEGREE, -0.25),
        (replace(corner, value=-80 * DEGREE), -80.25 * DEGREE, 0.25),
        (Measured(1, "straight", 800.0, 4.0, stretch=1.25), 804.0, 5.0),
        (Measured(1, "straight", 800.0, 4.0), 798.0, -2.0),
    ):
        row = Corrected(measured, adjusted, adjusted - measured.value, 1.0, 1.0, 0.0)
        assert row.change == pytest.approx(change)


def test_what_closes_but_for_rounding_is_left_to_the_last_bit() -> None:
    steps = through(SKEW)
    walk = traverse(steps, read(steps))
    assert np.abs(walk.misses(walk.values())).max() > 0.0
    assert [row.adjusted for row in adjust(walk).rows] == [each.value for each in walk.measured]


def test_rounding_of_a_long_walk_is_no_miss_to_be_spread() -> None:
    """Of 4 km, 4 ten-millionths of a mm are rounding; of 10 m they are not."""
    for scale, left in ((1e6, True), (2500.0, False)):
        steps = [step for wall in (scale + 3e-7, scale, scale, scale) for step in (Straight(wall), Corner(RIGHT_ANGLE))]
        corrections = [row.correction for row in adjust(traverse(steps, read(steps, 3.0, 0.0))).rows]
        assert (corrections == [0.0] * 8) == left


@pytest.mark.parametrize("angle", [0.5, 1e-3, 1e-8])
def test_angles_are_checked_however_well_they_were_read(angle: float) -> None:
    found = adjust(traverse(RECTANGLE, read(RECTANGLE, 3.0, angle)))
    assert found.checks == 3
    assert found.limit == 11.345
    # The four angles are alike in what they add up to, and that is all that lengths far worse leave to them.
    if angle < 0.01:
        assert sum(row.share for row in found.rows[1::2]) == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("slight", [1.1, -1.1])
def test_a_slight_corner_is_adjusted_like_any_other(slight: float) -> None:
    """Two walls out of line by a little over a degree, in a room 5 mm out."""
    at = complex(1500.0, 0.0) + 1500.0 * np.exp(1j * slight * DEGREE)
    steps = through([(0.0, 0.0), (1500.0, 0.0), (float(at.real), float(at.imag)), (3000.0, 2000.0), (0.0, 2000.0)])
    steps[-2] = Straight(2005.0)
    found = adjust(traverse(steps, read(steps, 3.0, 0.2)))
    assert found.credible
    assert found.rows[1].adjusted == pytest.approx(slight * DEGREE, abs=0.2 * DEGREE)


def test_no_length_comes_out_under_half_of_what_was_measured() -> None:
    for length, spread in ((500.2, True), (1499.8, True), (2500.0, True), (499.8, False)):
        walk = traverse([Straight(1000.0)], [Reading(3.0)], arrives=Arrival((length, 0.0)))
        if spread:
            assert adjust(walk).rows[0].adjusted == pytest.approx(length)
        else:
            with pytest.raises(PreviewError, match="too far for what its measurements may be off"):
                adjust(walk)


def refused(steps: list[Step], readings: list[Reading], heading: float, arrives: Arrival | None) -> str:
    with pytest.raises(PreviewError) as told:
        adjust(traverse(steps, readings, heading=heading, arrives=arrives))
    return told.value.problems[0].problem


SAY_OTHERS = ", and what may be off does not change all of that"
TOO_FAR = ", too far for what its measurements may be off"


@pytest.mark.parametrize("degrees", [0.0, 30.0, 75.0, 200.0])
@pytest.mark.parametrize("within", [3.0, 2000.0])
def test_a_wall_can_only_give_along_its_line(degrees: float, within: float) -> None:
    """400 of 1000 mm along it are too far; 0.3 aside are nothing that its length could change."""
    way = complex(math.cos(degrees * DEGREE), math.sin(degrees * DEGREE))
    for end, problem in (
        (400.0 * way, f"the run misses its point of arrival by 600.000 mm{TOO_FAR}"),
        ((1000.0 + 0.3j) * way, f"the run misses its point of arrival by 0.300 mm{SAY_OTHERS}"),
        ((400.0 + 0.3j) * way, f"the run misses its point of arrival by 600.000 mm{SAY_OTHERS}"),
    ):
        arrives = Arrival((end.real, end.imag))
        assert refused([Straight(1000.0)], [Reading(within)], degrees * DEGREE, arrives) == problem


def test_one_corner_cannot_make_up_for_all() -> None:
    """A degree too little in all: the one corner that may be off could turn by it, but then the run does not close."""
    steps = room((3000, 90), (2000, 90), (3000, 90), (2000, 89))
    readings = [Reading(DEGREE if i == 3 else 0.0) for i in range(8)]
    # Turned about the second corner, the end moves; nothing moves it back.
    assert refused(steps, readings, 0.0, None) == f"the run misses its start by 0.000 mm{SAY_OTHERS}"


def test_a_change_just_as_large_as_it_may_be_is_believed() -> None:
    found = adjust(traverse([Straight(1000.0)], [Reading(3.0)], arrives=Arrival((1003.0, 0.0))))
    assert found.rows[0].times == 1.0
    assert found.credible


@pytest.mark.parametrize(
    ("wall", "sweep", "radius", "off", "end"),
    [
        (1400.0, 1.6, 550.0, (10.0, 1.0, 10.0), (1000.0, 2900.0)),
        (1200.0, 0.2, 350.0, (10.0, 0.1, 10.0), (2400.0, 2200.0)),
        (2800.0, -2.2, 100.0, (10.0, 0.1, 100.0), (200.0, -2000.0)),
        (400.0, -0.9, 50.0, (10.0, 0.1, 100.0), (300.0, -1100.0)),  # by a turn and a half
    ],
)
def test_meters_are_no_slip_and_no_curve_is_wound_up_to_make_up_for_them(
    wall: float, sweep: float, radius: float, off: tuple[float, float, float], end: tuple[float, float]
) -> None:
    """A curve of many turns and of another radius would get there."""
    steps: list[Step] = [Straight(wall), Curve(sweep, radius)]
    assert refused(steps, [Reading(off[0]), Reading(*off[1:])], 0.0, Arrival(end)).endswith(TOO_FAR)


@pytest.mark.parametrize("degrees", [20.0, 45.0, 70.0, -20.0])
@pytest.mark.parametrize("radius", [200.0, 400.0, 500.0, 700.0])
def test_a_curve_that_would_have_to_turn_by_nothing_is_refused(degrees: float, radius: float) -> None:
    """An open run that is said to arrive at its own start: there and straight back, were the curve left out."""
    for first, last in ((1100.0, 2100.0), (1100.0, 2500.0), (1500.0, 2500.0)):
        steps: list[Step] = [Straight(first), Curve(degrees * DEGREE, radius), Straight(last)]
        readings = [Reading(100.0), Reading(6 * DEGREE, 10.0), Reading()]
        assert refused(steps, readings, 0.0, Arrival((0.0, 0.0))).endswith(TOO_FAR)


@pytest.mark.parametrize(
    ("wall", "turn", "second", "off", "end"),
    [
        (971.0, -0.575, 609.0, (100.0, 1.0, 1.0), (1669.5, -76.0)),
        (1000.0, -0.7, 600.0, (100.0, 1.0, 1.0), (1650.0, -150.0)),
        (3000.0, 1.2, 2000.0, (3.0, 0.01, 3.0), (3722.0, 1867.0)),
    ],
)
def test_a_wall_a_corner_and_a_wall_by_their_triangle(
    wall: float, turn: float, second: float, off: tuple[float, float, float], end: tuple[float, float]
) -> None:
    """Where the first wall stops says the rest: SciPy's minimum over that one length, whatever way it is walked to."""

    def rest(first: float) -> tuple[float, float, float]:
        return first, math.atan2(end[1], end[0] - first), math.hypot(end[0] - first, end[1])

    def total(first: float) -> float:
        return sum(
            ((now - read) / (within / 2)) ** 2
            for now, read, within in zip(rest(first), (wall, turn, second), off, strict=True)
        )

    best = minimize_scalar(total, bracket=(wall - 1, wall + 1), tol=1e-12)
    found = adjust(
        traverse(
            [Straight(wall), Corner(turn), Straight(second)], [Reading(each) for each in off], arrives=Arrival(end)
        )
    )
    assert [row.adjusted for row in found.rows] == pytest.approx([*rest(best.x), *end], rel=1e-6)
    assert found.overall == pytest.approx(best.fun, rel=1e-9)


def test_what_is_held_is_not_changed_by_less_than_nothing() -> None:
    """No -0 in a report: where a wall is held and the walk turns to the right."""
    walk = traverse(
        [Straight(3000.0), Corner(-RIGHT_ANGLE), Straight(2000.0)],
        [Reading(), Reading(0.5 * DEGREE), Reading(3.0)],
        arrives=Arrival((3002.0, -2001.0)),
    )
    held = [row.correction for row in adjust(walk).rows if not row.measured.within]
    assert [str(each) for each in held] == ["0.0"] * 3


# What is laid out.


def test_every_kind_of_step_is_adjusted_or_kept() -> None:
    """90.2 degrees of curve and 3 x 90, one splayed: the turn is over by 0.2, and a wall 4 mm too long."""
    steps: list[Step] = [
        Straight(1504.0, 0.1),
        Easement(40.0),
        Straight(1000.0),
        Block("post", 90.0),
        Straight(310.0),
        Curve(90.2 * DEGREE, 100.0),
        Straight(1900.0),
        Splay(RIGHT_ANGLE, 3, 20.0),
        Straight(3000.0),
        Corner(RIGHT_ANGLE),
        Straight(2000.0),
        Corner(RIGHT_ANGLE),
    ]
    laid, found = survey_run(steps, read(steps, 3.0, 0.5, 1.0))
    assert found.adjustment is not None
    assert [type(step) for step in laid] == [type(step) for step in steps]
    assert (laid[1], laid[3]) == (steps[1], steps[3])
    by_step = {(row.measured.step, row.measured.kind): row.adjusted for row in found.adjustment.rows}
    curve, splay, rake = laid[5], laid[7], laid[0]
    assert isinstance(curve, Curve)
    assert (curve.sweep, curve.radius) == (by_step[6, "sweep"], by_step[6, "radius"])
    assert splay == Splay(by_step[8, "corner"], 3, 20.0)
    assert rake == Straight(by_step[1, "straight"], 0.1)
    turns = [step.turn for step in laid if isinstance(step, Corner | Splay)]
    assert math.fsum([curve.sweep, *turns]) == pytest.approx(2 * math.pi, abs=1e-12)


def test_of_which_nothing_may_be_off_nothing_is_adjusted() -> None:
    for steps in (RECTANGLE, room((3004, 90), (2000, 90), (3000, 90), (2003, 90))):
        laid, found = survey_run(steps, [Reading()] * 8)
        assert (laid, found.adjustment, found.laid_closed) == (steps, None, True)
        (told,) = survey_sentences(found, "mm")
        assert told.startswith("As measured, the run ")


def test_a_run_starts_at_the_origin_and_along_x_unless_it_is_said() -> None:
    wall: list[Step] = [Straight(3000.0), Corner(RIGHT_ANGLE), Straight(2000.0)]
    for arrives, options in (
        (Arrival((3000.0, 2000.0)), {}),
        (Arrival((-1990.0, 3005.0)), {"start": (10.0, 5.0), "heading": RIGHT_ANGLE}),
    ):
        missed = survey_run(wall, [Reading()] * 3, arrives=arrives, closing="show", **options)[1].closure
        assert (missed.dx, missed.dy) == (0.0, 0.0)


def test_what_cannot_be_spread_is_refused_or_shown() -> None:
    steps = room((3000, 90), (2000, 90), (900, 90), (2000, 90))
    readings = [Reading(3.0 if i == 0 else 0.0) for i in range(8)]
    with pytest.raises(PreviewError, match="too far for what its measurements may be off"):
        survey_run(steps, readings)
    laid, found = survey_run(steps, readings, closing="show")
    assert (laid, found.adjustment) == (steps[:-1], None)


def test_the_last_step_is_left_out_with_a_gap_and_only_if_it_joins_the_first() -> None:
    nothing = [Reading()] * 8
    open_room = room((3004, 90), (2000, 90), (3000, 90), (2000, 90))[:-1]
    assert survey_run(RECTANGLE, nothing, closing="show")[0] == RECTANGLE
    assert survey_run(open_room, nothing[:-1], closing="show")[0] == open_room
    wall: list[Step] = [Straight(3000.0), Corner(RIGHT_ANGLE), Straight(2000.0)]
    for end in ((3000.0, 2000.0), (3004.0, 2000.0)):
        assert survey_run(wall, nothing[:3], closing="show", arrives=Arrival(end))[0] == wall


# Words.


def test_what_may_be_missed_is_no_miss_yet() -> None:
    """A hundredth of a mm, and a millionth of a radian, just as much as they may be."""
    for turn in (None, 1e-6, -1e-6):
        found = Survey(Closure(0.01, 0.0, turn, 9000.0), "show", True, None)
        assert (found.meets, found.holds, found.laid_closed) == (True, True, True)
        told = ["As measured, the run closes.", "It is laid out as measured."]
        assert survey_sentences(found, "mm") == told
    off = Survey(Closure(0.01, 0.0, 2e-6, 9000.0), "show", True, None)
    assert survey_sentences(off, "mm")[0].startswith("As measured, the run ends at its start; its corners and curves ")
    assert not off.holds


def test_a_run_that_ends_where_it_should_and_heads_elsewhere() -> None:
    steps = room((3000, 90), (2000, 90), (3000, 90), (2000, 89))
    found = survey_run(steps, [Reading()] * 8, closing="show")[1]
    found = replace(found, closure=replace(found.closure, dx=0.0, dy=0.0))
    assert survey_sentences(found, "mm") == [
        "As measured, the run ends at its start; its corners and curves turn 1° less than one whole turn.",
        (
            "It is laid out as measured: its end lies where it should be, and no joint is made between its last piece "
            "and its first."
        ),
    ]


def test_each_may_be_right_and_all_together_are_not() -> None:
    """7.2 mm over along both ways of a room: four walls change by 3.6 of the 4 that they may be off, 0.9 times.

    A limit is two standard deviations, so that the overall figure is 4 (2 x 0.9)² = 12.96.
    """
    steps = room((3007.2, 90), (2007.2, 90), (3000, 90), (2000, 90))
    found = survey_run(steps, read(steps, 4.0, 0.0))[1]
    assert found.adjustment is not None
    assert [row.times for row in found.adjustment.rows[::2]] == pytest.approx([0.9] * 4)
    assert survey_sentences(found, "mm")[2] == (
        "The measurements do not bear each other out: together they disagree by more than they may be off, and the "
        "overall figure is 13, which good measurements keep under 9.21 99 times in 100."
    )
    assert [(each.value, each.limit) for each in found.figures] == [
        (pytest.approx(0.9), 1.0),
        (pytest.approx(12.96), 9.21),
    ]


@pytest.mark.parametrize(("count", "said"), [(1, "one measurement"), (2, "2 measurements"), (3, "3 measurements")])
def test_how_many_measurements_share_a_miss(count: int, said: str) -> None:
    steps: list[Step] = [Straight(1000.0), Straight(1000.0), Straight(1002.0)]
    readings = [Reading(3.0 if i < count else 0.0) for i in range(3)]
    told = survey_sentences(survey_run(steps, readings, arrives=Arrival((3000.0, 0.0)))[1], "mm")
    assert f"The miss is spread over {said} by least squares" in told[1]


def test_six_walls_keep_their_turns_apart() -> None:
    found = adjust(traverse(sixsided(), read(sixsided())))
    assert sum(row.change for row in found.rows if row.measured.is_angle and row.measured.value > 0) < 0.0
    assert found.rows[7].change > 0.0  # the one that turns to the right turns more
