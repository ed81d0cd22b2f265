"""The adjustment of a measured run, against closed forms, a handbook's traverse and an optimizer."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares
from scipy.stats import chi2

from preview.errors import PreviewError
from preview.runs import (
    Adjustment,
    Arrival,
    Block,
    Corner,
    Curve,
    Easement,
    Reading,
    Splay,
    Step,
    Straight,
    adjust,
    closure,
    lay_out,
    survey_run,
    traverse,
)
from preview.runs.survey_adjust import CHI_SQUARE_99
from samples import RIGHT_ANGLE
from survey_samples import Floats, misses, read, room, sixsided, slopes, through, walked

DEGREE = math.pi / 180

# Closures.


def seconds(degrees: int, minutes: int, more: float) -> float:
    return math.radians(degrees + minutes / 60 + more / 3600)


# A five-sided traverse as printed in P. R. Wolf and C. D. Ghilani, Elementary Surveying, in the chapter on traverse
# computations (from memory; its azimuths, angles and sums agree among themselves). Feet.
COURSES = (647.25, 203.03, 720.35, 610.24, 285.13)
AZIMUTHS = tuple(seconds(*each) for each in ((126, 55, 17), (178, 18, 58), (15, 31, 54), (284, 35, 20), (206, 9, 41)))
INTERIOR = tuple(seconds(*each) for each in ((231, 23, 43), (17, 12, 59), (89, 3, 28), (101, 34, 24), (100, 45, 37)))


def test_the_closure_of_a_handbook_traverse() -> None:
    steps: list[Step] = []
    for i, length in enumerate(COURSES):
        turn = AZIMUTHS[i] - AZIMUTHS[(i + 1) % 5]  # azimuths go clockwise from north
        steps += [Straight(length), Corner(math.remainder(turn, 2 * math.pi))]
    found = closure(traverse(steps, heading=RIGHT_ANGLE - AZIMUTHS[0]))
    assert found.distance == pytest.approx(0.08, abs=0.0005)
    assert 30_000 < found.precision < 31_000  # printed as 1/30,000
    assert (found.dx, found.dy) == pytest.approx((0.026, 0.077), abs=0.002)  # printed with its courses rounded
    assert found.length == pytest.approx(2466.00, abs=1e-9)
    assert found.turn == pytest.approx(0.0, abs=1e-12)


def test_the_angular_misclosure_of_the_same_traverse() -> None:
    """Its angles add up to 540°00'11": 11 seconds too many, so that the walk turns 11 seconds too little."""
    steps = [
        step for L, angle in zip(COURSES, INTERIOR, strict=True) for step in (Straight(L), Corner(math.pi - angle))
    ]
    turn = closure(traverse(steps)).turn
    assert turn == pytest.approx(-seconds(0, 0, 11), abs=1e-12)
    mirrored = [Corner(-step.turn) if isinstance(step, Corner) else step for step in steps]
    assert closure(traverse(mirrored)).turn == pytest.approx(-seconds(0, 0, 11), abs=1e-12)


def test_a_closure_by_hand() -> None:
    found = closure(traverse(room((3004, 90), (2000, 90), (3000, 90), (2003, 90)), start=(70.0, -5.0)))
    assert (found.dx, found.dy) == pytest.approx((4, -3), abs=1e-9)
    assert (found.distance, found.precision) == pytest.approx((5, 10_007 / 5), abs=1e-9)
    assert math.degrees(found.direction) == pytest.approx(-36.8699, abs=1e-4)  # 3-4-5
    perfect = closure(traverse(room((300, 90), (200, 90), (300, 90), (200, 90))))
    assert (perfect.distance, perfect.precision, perfect.turn) == (0.0, math.inf, 0.0)


def test_the_length_of_a_walk_is_that_of_its_lines_and_arcs() -> None:
    """R times the sweep for an arc, to the left or to the right; a corner has none."""
    steps: list[Step] = [Straight(900.0), Curve(1.2, 50.0), Corner(0.3), Curve(-0.5, 300.0), Straight(80.0)]
    found = closure(traverse(steps))
    assert found.length == pytest.approx(900.0 + 60.0 + 150.0 + 80.0)
    end, _ = walked(traverse(steps).measured, [900.0, 1.2, 50.0, 0.3, -0.5, 300.0, 80.0])
    assert (found.dx, found.dy) == pytest.approx((end.real, end.imag))
    assert found.precision == pytest.approx(found.length / abs(end))


def test_a_last_corner_that_is_not_written_leaves_no_angle_to_check() -> None:
    *steps, _ = room((3000, 91), (2000, 90), (3000, 90), (2000, 90))
    assert closure(traverse(steps)).turn is None
    # A smooth close is checked: 4 x 89.8 degrees of curve, each of which may be off by 0.5.
    smooth: list[Step] = [Straight(900.0), Curve(89.8 * DEGREE, 50.0)] * 4
    assert closure(traverse(smooth, read(smooth))).turn == pytest.approx(-0.8 * DEGREE)


def test_what_a_splay_an_easement_and_a_block_are_to_a_survey() -> None:
    """A splay is measured to the corner it would be if sharp, an easement moves nothing, a block is held."""
    steps: list[Step] = [Straight(3000.0, 0.1), Easement(50.0), Block("plinth", 90.0), Splay(RIGHT_ANGLE, 3, 40.0)]
    kinds = [(each.step, each.kind, each.value, each.within) for each in traverse(steps, read(steps)).measured]
    assert kinds == [
        (1, "straight", 3000.0, pytest.approx(3.175)),
        (3, "straight", 90.0, 0.0),
        (4, "corner", RIGHT_ANGLE, pytest.approx(0.5 * DEGREE)),
    ]


@pytest.mark.parametrize("angles", [True, False])
def test_how_a_miss_changes_with_each_measurement(angles: bool) -> None:
    """By small differences of a walk in complex numbers; a point of arrival takes off what it is moved by."""
    steps = [Straight(700.0), Curve(70 * DEGREE, 250.0), Straight(90.0), Curve(-25 * DEGREE, 800.0), *sixsided()]
    made = traverse(steps, read(steps, radius=2.0) if angles else [Reading(1.0)] * len(steps))
    values = made.values()
    missed, found = made.linear(values)
    assert found.shape == (3, len(values))
    wanted = slopes(made.measured, values)[: len(missed)]
    assert found == pytest.approx(wanted, rel=1e-6, abs=1e-6)
    assert missed == pytest.approx(misses(made.measured, values.tolist())[: len(missed)], abs=1e-9)


# Closed forms.


def corrections(found: Adjustment) -> list[float]:
    return [row.correction for row in found.rows]


@pytest.mark.parametrize(("first", "third"), [(1.0, 1.0), (1.0, 3.0), (4.0, 0.5), (2.0, 0.0)])
def test_two_opposite_walls_share_a_miss_by_the_squares_of_what_they_may_be_off(first: float, third: float) -> None:
    steps = room((3003, 90), (2000, 90), (3000, 90), (2000, 90))
    within = {0: first, 4: third}
    found = adjust(traverse(steps, [Reading(within.get(i, 0.0)) for i in range(8)]))
    share = first**2 / (first**2 + third**2)
    assert corrections(found)[::2] == pytest.approx([-3 * share, 0, 3 * (1 - share), 0], abs=1e-9)
    assert corrections(found)[1::2] == [0, 0, 0, 0]
    assert found.checks == 1
    # Of one check, the miss over its own standard deviation is the whole story.
    assert found.overall == pytest.approx((3 / math.hypot(first / 2, third / 2)) ** 2, rel=1e-9)


@pytest.mark.parametrize("count", [3, 4, 5, 8, 13])
def test_a_regular_polygon_in_lengths_only(count: int) -> None:
    """With equal weights the correction of each side is -2/n of the miss along it: the pseudo-inverse of the
    directions, whose products with themselves add up to n/2 times the identity."""
    turn = 2 * math.pi / count
    errors = np.random.default_rng(count).normal(0, 1, count)
    steps = [step for e in errors.tolist() for step in (Straight(1000 + e), Corner(turn))]
    found = adjust(traverse(steps, read(steps, 3.0, 0.0)))
    directions = np.array([[math.cos(i * turn), math.sin(i * turn)] for i in range(count)])
    miss = directions.T @ (1000 + errors)
    assert corrections(found)[::2] == pytest.approx((-2 / count * directions @ miss).tolist(), abs=1e-9)
    assert found.checks == 2
    assert sum(row.share for row in found.rows) == pytest.approx(2, abs=1e-12)
    assert [row.share for row in found.rows[::2]] == pytest.approx([2 / count] * count, abs=1e-9)


def test_where_the_lengths_can_give_the_angles_share_their_sum_alike() -> None:
    """Surveyors first spread the angular misclosure in equal parts (common practice); so do angles alike in weight,
    where lengths that may be off by far more take up the rest."""
    steps = sixsided()
    found = adjust(traverse(steps, read(steps, 2000.0, 0.001)))
    turns = [row.correction for row in found.rows if row.measured.is_angle]
    assert turns == pytest.approx([-0.8 / 6 * DEGREE] * 6, rel=1e-5)


def test_along_one_line_it_is_the_compass_rule() -> None:
    """N. Bowditch's rule of 1808 (from memory): a miss is spread in proportion to the lengths. Where all walls lie in
    one line, and the square of what each may be off grows with its length, least squares says the same."""
    lengths = [400.0, 1600.0, 2500.0, 900.0]
    steps: list[Step] = [Straight(length) for length in lengths]
    readings = [Reading(0.1 * math.sqrt(length)) for length in lengths]
    found = adjust(traverse(steps, readings, arrives=Arrival((5394.6, 0.0))))
    assert corrections(found)[:4] == pytest.approx([-5.4 * length / 5400 for length in lengths], abs=1e-9)
    assert found.checks == 1


@pytest.mark.parametrize(("wall", "point"), [(1.0, 1.0), (2.0, 0.5), (3.0, 0.0)])
def test_a_point_of_arrival_may_be_off_as_well(wall: float, point: float) -> None:
    """Of two measurements of one length, the adjusted one is the weighted mean."""
    found = adjust(traverse([Straight(1000.0)], [Reading(wall)], arrives=Arrival((1004.0, 0.0), point)))
    weights = (point**2 / (wall**2 + point**2), wall**2 / (wall**2 + point**2))
    mean = 1000.0 * weights[0] + 1004.0 * weights[1]
    assert [row.adjusted for row in found.rows] == pytest.approx([mean, mean, 0.0], abs=1e-9)
    assert [row.measured.place for row in found.rows] == ["step 1", "arrives", "arrives"]


def test_the_limits_are_those_of_chi_square() -> None:
    assert CHI_SQUARE_99[1:] == pytest.approx([chi2.ppf(0.99, checks) for checks in (1, 2, 3)], abs=5e-4)
    assert CHI_SQUARE_99[2] == pytest.approx(-2 * math.log(0.01), abs=5e-4)


# Against an optimizer.

CURVED: list[Step] = [
    Straight(3000.0),
    Curve(90.4 * DEGREE, 410.0),
    Straight(1200.5),
    Corner(-30.2 * DEGREE),
    Straight(800.0),
    Corner(120.1 * DEGREE),
    Straight(2538.0),
    Curve(-44.8 * DEGREE, 300.0),
    Straight(1500.0),
    Corner(134.7 * DEGREE),
    Straight(3450.0),
    Corner(90.1 * DEGREE),
]


@pytest.mark.parametrize(
    ("steps", "radius", "solved"),
    [
        (sixsided(), 0.0, (8, 10, 11)),
        (CURVED, 4.0, (7, 12, 13)),
        (room((400, 121), (402, 119.5), (397, 119)), 0.0, (2, 4, 5)),
    ],
    ids=["six-sided", "curved", "triangle"],
)
def test_an_optimizer_finds_the_same(steps: list[Step], radius: float, solved: tuple[int, int, int]) -> None:
    """SciPy's least_squares, on another walk and without conditions: it varies all measurements but three, two lengths
    and the last corner, which are solved for so that the run closes."""
    walk = traverse(steps, read(steps, 3.0, 0.5, radius))
    found = adjust(walk)
    values = np.array([each.value for each in walk.measured])
    sigma = np.array([each.sigma for each in walk.measured])
    varied = [i for i in range(len(values)) if i not in solved and sigma[i]]
    a, b, corner = solved

    def closing(u: Floats) -> Floats:
        now = values.copy()
        now[varied] += sigma[varied] * u
        now[corner] = 0.0
        now[corner] = 2 * math.pi - walked(walk.measured, now.tolist())[1]
        ends = []
        for lengths in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0)):
            now[[a, b]] = lengths
            ends.append(walked(walk.measured, now.tolist())[0])
        one, other = ends[1] - ends[0], ends[2] - ends[0]
        now[[a, b]] = np.linalg.solve([[one.real, other.real], [one.imag, other.imag]], [-ends[0].real, -ends[0].imag])
        return now

    def residuals(u: Floats) -> Floats:
        return (closing(u) - values)[sigma > 0] / sigma[sigma > 0]

    # It takes differences in proportion to its variables, which must not stand near 0.
    tight = 1e-15
    best = least_squares(lambda x: residuals(x - 10), np.full(len(varied), 10.0), "3-point", ftol=tight, xtol=tight)
    assert found.checks == 3
    assert found.overall == pytest.approx(2 * best.cost, rel=1e-9)
    assert corrections(found) == pytest.approx((closing(best.x - 10) - values).tolist(), abs=1e-6)
    assert [row.adjusted - row.measured.value for row in found.rows] == pytest.approx(corrections(found), abs=1e-12)


# Any room.

JITTER = st.floats(-1, 1)
CORNERS = st.lists(st.tuples(st.floats(1500, 4000), st.floats(-0.35, 0.35)), min_size=3, max_size=9)


def star(corners: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """A room seen whole from one point inside it: convex or re-entrant, and never crossing itself."""
    n = len(corners)
    angles = [(i + jitter) * 2 * math.pi / n for i, (_, jitter) in enumerate(corners)]
    return [(r * math.cos(a), r * math.sin(a)) for (r, _), a in zip(corners, angles, strict=True)]


def off_by(step: Step, error: float) -> Step:
    return Straight(step.length + 2 * error) if isinstance(step, Straight) else Corner(step.turn + 0.3 * DEGREE * error)


@given(CORNERS, st.data())
@settings(max_examples=60)
def test_any_room_closes_by_the_smallest_changes(corners: list[tuple[float, float]], data: st.DataObject) -> None:
    drawn = through(star(corners))
    # A corner of nearly no turn is no corner: an error of half a degree may turn it the other way, which is refused.
    assume(min(abs(step.turn) for step in drawn if isinstance(step, Corner)) > math.radians(3))
    steps = [off_by(step, data.draw(JITTER)) for step in drawn]
    readings = [Reading(within.within * data.draw(st.floats(0.3, 3))) for within in read(steps)]
    walk = traverse(steps, readings)
    found = adjust(walk)
    values = np.array([row.adjusted for row in found.rows])
    far = misses(walk.measured, values.tolist())
    assert np.abs(far[:2]).max() < 1e-9
    assert abs(far[2]) < 1e-12
    # Of the least sum: in units of sigma, the corrections lie in the span of the conditions' slopes.
    sigma = np.array([each.sigma for each in walk.measured])
    rows = slopes(walk.measured, values) * sigma
    rows /= np.linalg.norm(rows, axis=1)[:, None]
    u = np.array(corrections(found)) / sigma
    along = rows.T @ np.linalg.lstsq(rows.T, u, rcond=None)[0]
    assert u == pytest.approx(along, abs=1e-5 * (1 + float(np.linalg.norm(u))))
    assert found.overall == pytest.approx(u @ u, rel=1e-9, abs=1e-20)
    assert sum(row.share for row in found.rows) == pytest.approx(3, abs=1e-9)
    assert all(row.normal**2 <= found.overall * (1 + 1e-9) + 1e-20 for row in found.rows)


@given(CORNERS, st.data(), st.floats(0.01, 50))
@settings(max_examples=30)
def test_only_the_proportions_count(corners: list[tuple[float, float]], data: st.DataObject, scale: float) -> None:
    drawn = through(star(corners))
    assume(min(abs(step.turn) for step in drawn if isinstance(step, Corner)) > math.radians(3))
    steps = [off_by(step, data.draw(JITTER)) for step in drawn]
    one = adjust(traverse(steps, read(steps)))
    other = adjust(traverse(steps, read(steps, 25.4 / 8 * scale, 0.5 * scale)))
    assert corrections(other) == pytest.approx(corrections(one), abs=1e-9)
    assert other.overall == pytest.approx(one.overall / scale**2, rel=1e-6)


@given(CORNERS)
@settings(max_examples=30)
def test_what_closes_is_left_alone(corners: list[tuple[float, float]]) -> None:
    steps = through(star(corners))
    found = adjust(traverse(steps, read(steps)))
    assert max(abs(each) for each in corrections(found)) < 1e-9
    assert found.credible
    assert found.suspects == ()


def test_what_closes_exactly_is_left_as_it_is_to_the_last_bit() -> None:
    steps = room((3000, 90), (2000, 90), (3000, 90), (2000, 90))
    laid, found = survey_run(steps, read(steps))
    assert laid == steps
    assert found.meets
    assert found.holds
    assert found.adjustment is not None
    assert corrections(found.adjustment) == [0.0] * 8


@given(CORNERS, st.data())
@settings(max_examples=30)
def test_the_adjusted_run_is_laid_out_closed(corners: list[tuple[float, float]], data: st.DataObject) -> None:
    steps = [off_by(step, data.draw(JITTER)) for step in through(star(corners))]
    assume(all(2 * DEGREE < abs(step.turn) < 148 * DEGREE for step in steps if isinstance(step, Corner)))
    laid, found = survey_run(steps, read(steps))
    run = lay_out("room", laid, closed=True)
    assert run.closed
    assert found.laid_closed
    assert math.dist(run.elements[-1].end, run.elements[0].start) < 1e-9
    for before, after in pairwise(run.elements):
        assert math.dist(before.end, after.start) < 1e-9


# Blunders.

SKEW = [(0.0, 0.0), (4000.0, 300.0), (4800.0, 2500.0), (2600.0, 4100.0), (700.0, 2900.0)]


@pytest.mark.parametrize("number", [0, 2, 4, 6, 8])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_blunder_of_twenty_times_is_found(number: int, sign: int) -> None:
    """In a room with five walls in five directions, and angles read well, one bad length stands out."""
    steps = through(SKEW)
    bad = 20 * 3.0 * sign
    steps[number] = Straight(steps[number].length + bad)  # type: ignore[union-attr]
    found = adjust(traverse(steps, read(steps, 3.0, 0.02)))
    assert not found.credible
    first = found.rows[found.suspects[0]]
    assert first.measured.place == f"step {number + 1}"
    assert first.alone == pytest.approx(-bad, rel=0.05)
    assert abs(first.normal) == max(abs(row.normal) for row in found.rows)
    assert first.normal**2 == pytest.approx(found.overall, rel=0.02)  # it accounts for all of it


def test_opposite_walls_of_a_rectangle_cannot_be_told_apart() -> None:
    steps = room((3060, 90), (2000, 90), (3000, 90), (2000, 90))
    found = adjust(traverse(steps, read(steps, 3.0, 0.0)))
    assert sorted(found.suspects) == [0, 4]
    assert [found.rows[i].alone for i in (0, 4)] == pytest.approx([-60, 60], abs=1e-6)
    assert [found.rows[i].times_alone for i in (0, 4)] == pytest.approx([20, 20], abs=1e-6)
    assert found.overall == pytest.approx((60 / math.hypot(1.5, 1.5)) ** 2)


def test_one_change_beyond_its_limit_is_not_credible_though_the_whole_is() -> None:
    steps = room((3003.5, 90), (2000, 90), (3000, 90), (2000, 90))
    readings = read(steps, 0.0, 0.0)
    readings[0] = Reading(3.0)
    found = adjust(traverse(steps, readings))
    assert found.overall == pytest.approx((3.5 / 1.5) ** 2)
    assert found.overall < found.limit
    assert found.worst.times == pytest.approx(3.5 / 3)
    assert not found.credible


def test_good_measurements_are_seldom_doubted() -> None:
    """Normal errors with `within` two of their standard deviations: the overall figure is chi-square with 3 degrees of
    freedom. Of 400 rooms its mean is 3 and 1 in 100 is over the limit (four standard errors allowed)."""
    exact = through([(0, 0), (4000, 0), (4000, 2500), (2500, 2500), (2500, 3400), (0, 3400)])
    random = np.random.default_rng(7)
    overall = []
    for _ in range(400):
        steps: list[Step] = []
        for step in exact:
            error = float(random.normal())
            steps.append(
                Straight(step.length + 1.5 * error)
                if isinstance(step, Straight)
                else Corner(step.turn + 0.25 * DEGREE * error)
                if isinstance(step, Corner)
                else step
            )
        overall.append(adjust(traverse(steps, read(steps, 3.0, 0.5))).overall)
    assert np.mean(overall) == pytest.approx(3, abs=4 * math.sqrt(6 / 400))
    over = sum(each > CHI_SQUARE_99[3] for each in overall)
    assert abs(over - 4) <= 4 * math.sqrt(4)


# Refusals.


CHECK_STEPS = "check that no step is missing, and that every corner turns the right way"
SAY_THE_OTHERS = 'say how far the others may be off: measured = { lengths = "1/8", angles = 0.5 }'


@pytest.mark.parametrize(
    ("steps", "off", "problem", "fix"),
    [
        (
            room((3000, 90), (2000, 90), (3000, 90)),
            (3.0, 0.5),
            "the corners and curves turn 270° in all, and a closed run turns 360°",
            "check that no corner is missing and that each turns the right way",
        ),
        (
            room((3000, 90), (2000, 90), (3000, 90), (2000, 89)),
            (3.0, 0.0),
            "the corners and curves miss one whole turn by 1°, and none of their angles may be off",
            "say how far the angles may be off: measured = { angles = 0.5 }, or check them",
        ),
        (
            room((3004, 90), (2000, 90), (3000, 90), (2003, 90)),
            (0.0, 0.0),
            "the run misses its start by 5.000 mm, and what may be off does not change all of that",
            SAY_THE_OTHERS,
        ),
        (
            [*room((3000, 90), (2000, 90), (3000, 90)), Block("chest", 300.0), Corner(RIGHT_ANGLE)],
            (3.0, 0.0),
            "the run misses its start by 1700.000 mm, too far for what its measurements may be off",
            CHECK_STEPS,
        ),
    ],
    ids=["a corner is missing", "no angle may be off", "nothing may be off", "most of a wall is missing"],
)
def test_what_cannot_be_spread(steps: list[Step], off: tuple[float, float], problem: str, fix: str) -> None:
    with pytest.raises(PreviewError) as caught:
        adjust(traverse(steps, read(steps, *off)))
    assert str(caught.value) == f"closed = true\n  {problem}\n  fix: {fix}"


def test_an_arrival_that_cannot_be_spread() -> None:
    with pytest.raises(PreviewError) as caught:
        adjust(traverse([Straight(1000.0)], [Reading(3.0)], arrives=Arrival((1000.0, 2.0))))
    assert str(caught.value) == (
        "arrives\n  the run misses its point of arrival by 2.000 mm, and what may be off does not change all of that\n"
        f"  fix: {SAY_THE_OTHERS}"
    )
