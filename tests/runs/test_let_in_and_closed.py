"""What splays and easements take of a straight, said with the numbers; and what a closed run may be off."""

from __future__ import annotations

import math

import pytest

from preview.errors import PreviewError
from preview.runs import Corner, Curve, Easement, Splay, Step, Straight, lay_out, through_points
from samples import RIGHT_ANGLE

DEGREE = math.pi / 180
RAKE = 0.75
"""3 up for 4 along: the pitch's half has a tangent of 1/3, so that an easement from level takes a third of its radius
along either slope."""
TAKES_100 = Splay(RIGHT_ANGLE, 2, 100.0 * math.sqrt(2.0))
"""One facet, the hypotenuse of what it takes of either wall."""

SPLAY_ONLY = "use a shorter facet, or check the length, which is measured to the sharp corner"
EASED_ONLY = "use a smaller radius, or check the length, which is measured to where the slopes would meet"
FACET_FIRST = "use a shorter facet and a smaller radius, or check the length, which is measured to the sharp corner"
RADIUS_FIRST = "use a smaller radius and a shorter facet, or check the length, which is measured to the sharp corner"


@pytest.mark.parametrize(
    ("steps", "place", "value", "problem", "fix"),
    [
        (
            [Straight(199.0), Easement(600.0), Straight(900.0, RAKE)],
            "step 1, straight",
            "199 mm",
            "this straight is 199 mm long, of which the easement of step 2 takes 200 mm: nothing is left",
            EASED_ONLY,
        ),
        (
            [Straight(900.0), Easement(600.0), Straight(156.0, RAKE)],
            "step 3, straight",
            "156 mm",
            (
                "this straight is 195 mm long along its slope, of which the easement of step 2 takes 200 mm: "
                "nothing is left"
            ),
            EASED_ONLY,
        ),
        (
            [Straight(900.0), Easement(300.0), Straight(200.0, RAKE), Easement(450.0), Straight(900.0)],
            "step 3, straight",
            "200 mm",
            (
                "this straight is 250 mm long along its slope, of which the easement of step 2 takes 100 mm and the "
                "easement of step 4 takes 150 mm: nothing is left"
            ),
            EASED_ONLY,
        ),
        (
            [Straight(900.0), TAKES_100, Straight(300.0), Easement(600.0), Straight(900.0, RAKE)],
            "step 3, straight",
            "300 mm",
            (
                "this straight is 300 mm long, of which the splayed corner of step 2 takes 100 mm and the easement of "
                "step 4 takes 200 mm: nothing is left"
            ),
            FACET_FIRST,
        ),
        (
            [Straight(900.0, RAKE), Easement(600.0), Straight(250.0), TAKES_100, Straight(900.0)],
            "step 3, straight",
            "250 mm",
            (
                "this straight is 250 mm long, of which the easement of step 2 takes 200 mm and the splayed corner of "
                "step 4 takes 100 mm: nothing is left"
            ),
            RADIUS_FIRST,
        ),
        (
            [Straight(900.0), TAKES_100, Straight(199.0), TAKES_100, Straight(900.0)],
            "step 3, straight",
            "199 mm",
            (
                "this straight is 199 mm long, of which the splayed corner of step 2 takes 100 mm and the splayed "
                "corner of step 4 takes 100 mm: nothing is left"
            ),
            SPLAY_ONLY,
        ),
    ],
)
def test_a_straight_too_short_for_what_is_let_in(
    steps: list[Step], place: str, value: str, problem: str, fix: str
) -> None:
    with pytest.raises(PreviewError) as refused:
        lay_out("stair", steps)
    (told,) = refused.value.problems
    assert (told.place, told.value, told.problem, told.fix) == (place, value, problem, fix)


@pytest.mark.parametrize("left", [0.6, 0.4])
def test_half_a_mm_must_be_left_along_the_slope(left: float) -> None:
    steps: list[Step] = [Straight(900.0), Easement(300.0), Straight((250.0 + left) * 0.8, RAKE), Easement(450.0)]
    steps.append(Straight(900.0))
    if left > 0.5:
        rake = lay_out("stair", steps).elements[2]
        assert rake.walked(rake.length) == pytest.approx(left, abs=1e-9)
    else:
        with pytest.raises(PreviewError, match=r"nothing is left"):
            lay_out("stair", steps)


def test_round_a_closed_run_the_first_wall_gives_at_both_ends() -> None:
    """A room of four walls, each corner splayed with 100 mm: a wall of 200.4 has 0.4 left, the first as the last."""
    for walls, numbers in (((200.4, 900.0) * 2, [1, 5]), ((900.0, 200.4) * 2, [3, 7])):
        steps = [step for wall in walls for step in (Straight(wall), TAKES_100)]
        with pytest.raises(PreviewError) as refused:
            lay_out("room", steps, closed=True)
        assert [problem.place for problem in refused.value.problems] == [f"step {n}, straight" for n in numbers]
        for number, problem in zip(numbers, refused.value.problems, strict=True):
            before = number - 1 or 8
            assert f"of step {before} takes 100 mm and the splayed corner of step {number + 1} takes" in problem.problem


@pytest.mark.parametrize(
    ("first", "last"), [(0.0, RAKE), (RAKE, 0.0), (-RAKE, 0.0), (0.0, -RAKE), (RAKE, 0.2), (-RAKE, -0.2), (-0.2, RAKE)]
)
def test_both_ends_of_an_easement_are_where_its_straights_stop(first: float, last: float) -> None:
    run = lay_out("stair", [Straight(900.0, first), Easement(300.0), Straight(700.0, last)], heading=0.3)
    one, eased, two = run.elements
    along = 300.0 * math.tan(abs(math.atan(last) - math.atan(first)) / 2)
    assert one.length == pytest.approx(900.0 - along * math.cos(math.atan(first)), abs=1e-9)
    assert two.length == pytest.approx(700.0 - along * math.cos(math.atan(last)), abs=1e-9)
    assert eased.length == pytest.approx(1600.0 - one.length - two.length, abs=1e-9)
    assert eased.end == pytest.approx(two.start, abs=1e-9)
    assert eased.end_height == pytest.approx(two.height, abs=1e-9)
    assert (eased.slope, eased.end_slope) == pytest.approx((first, last), abs=1e-12)
    assert eased.bend == pytest.approx(math.copysign(1 / 300.0, last - first))
    assert run.turns == (0.0, 0.0, 0.0)


# Closed runs, and runs by points.


@pytest.mark.parametrize("sign", [1, -1])
def test_a_closed_run_may_rise_by_just_a_hundredth(sign: int) -> None:
    steps: list[Step] = [Straight(400.0, 0.5), Corner(RIGHT_ANGLE), Straight(300.0), Corner(RIGHT_ANGLE)]
    steps += [Straight(100.0), Straight(300.0, (sign * 0.01 - 200.0) / 300.0), Corner(RIGHT_ANGLE), Straight(300.0)]
    run = lay_out("ring", [*steps, Corner(RIGHT_ANGLE)], closed=True, level=7.0)
    assert run.elements[-1].end_height == pytest.approx(0.0, abs=1e-9)
    assert run.level == 7.0


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("last", [1, -1])
def test_a_last_corner_of_just_a_degree_is_found(sign: int, last: int) -> None:
    """A room of 1200 by 1000, one of whose long walls is bent in the middle by a degree, outward or inward."""
    half, deep = 600.0 / math.cos(0.5 * DEGREE), 1000.0 + last * 600.0 * math.tan(0.5 * DEGREE)
    beside, square = Corner(sign * (90.0 - last * 0.5) * DEGREE), Corner(sign * RIGHT_ANGLE)
    steps: list[Step] = [Straight(half), beside, Straight(1000.0), square, Straight(1200.0), square, Straight(1000.0)]
    run = lay_out("room", [*steps, beside, Straight(half)], heading=0.4, closed=True)
    assert run.turns[0] == pytest.approx(sign * last * DEGREE, abs=1e-12)
    middle = run.elements[2].point(600.0)
    assert math.dist(middle, run.elements[0].start) == pytest.approx(deep, abs=1e-9)


def test_points_half_a_mm_apart() -> None:
    run = through_points("wall", [(0.0, 0.0), (0.3, 0.4), (100.3, 0.4)])
    assert (run.elements[0].length, run.level) == (0.5, 0.0)


def test_points_in_one_line_after_a_corner_go_on_as_the_wall_before_them() -> None:
    points = [(0.0, 0.0), (100.0, 0.0), (130.0, 40.0), (160.0, 80.0), (190.0, 120.0), (90.0, 120.0)]
    run = through_points("wall", points)
    assert [element.tangent for element in run.elements[1:4]] == [(0.6, 0.8)] * 3
    assert run.turns[2:4] == (0.0, 0.0)
    assert run.turns[1] == pytest.approx(math.atan2(4, 3))
    closed = through_points("room", [(50.0, 0.0), (100.0, 0.0), (100.0, 70.0), (0.0, 70.0), (0.0, 0.0)], closed=True)
    assert (closed.turns[0], closed.elements[0].tangent) == (0.0, (1.0, 0.0))


def test_a_curve_beside_what_is_let_in_elsewhere_keeps_its_size() -> None:
    steps: list[Step] = [Curve(1.2, 300.0), Straight(500.0), TAKES_100, Straight(700.0), Easement(60.0)]
    run = lay_out("wall", [*steps, Straight(400.0, RAKE), Straight(100.0), Curve(-0.3, 80.0)], start=(5.0, 6.0))
    assert (run.elements[0].start, run.elements[0].radius, run.elements[0].sweep) == ((5.0, 6.0), 300.0, 1.2)
    assert (run.elements[-1].radius, run.elements[-1].sweep, run.elements[-1].length) == (80.0, -0.3, 24.0)
