"""Runs that climb: heights that add up, and easements that move nothing but themselves."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.runs import Corner, Curve, Easement, Element, Run, Step, Straight, lay_out
from samples import RIGHT_ANGLE

PITCHES = st.floats(-55.0, 55.0)


def ends(run: Run) -> tuple[float, float, float]:
    last = run.elements[-1]
    return (*last.end, last.end_height)


def test_heights_add_up_along_a_run() -> None:
    """Up 3 in 4, level round a corner, down 1 in 2: 75 up, 75 up still, 25 up."""
    steps: list[Step] = [
        Straight(100.0, 0.75),
        Straight(40.0),
        Corner(RIGHT_ANGLE),
        Straight(30.0),
        Straight(100.0, -0.5),
        Corner(-RIGHT_ANGLE),
        Straight(10.0, 1.0),
    ]
    run = lay_out("stair", steps)
    assert [element.height for element in run.elements] == [0.0, 75.0, 75.0, 75.0, 25.0]
    assert [element.slope for element in run.elements] == [0.75, 0.0, 0.0, -0.5, 1.0]
    assert ends(run) == (150.0, 130.0, 35.0)
    assert run.turns == (0.0, 0.0, RIGHT_ANGLE, 0.0, -RIGHT_ANGLE)


def test_an_easement_from_level_to_45_degrees() -> None:
    """Its tangents are R tan(22 1/2°) = R (sqrt 2 - 1) long, and it is R sin 45° long in plan."""
    run = lay_out("stair", [Straight(500.0), Easement(200.0), Straight(300.0, 1.0)])
    level, eased, rake = run.elements
    tangent = 200.0 * (math.sqrt(2.0) - 1.0)
    assert level.length == pytest.approx(500.0 - tangent, abs=1e-12)
    assert eased.length == pytest.approx(200.0 * math.sqrt(0.5), abs=1e-12)
    assert rake.length == pytest.approx(300.0 - tangent * math.sqrt(0.5), abs=1e-12)
    assert eased.bend == 1.0 / 200.0
    assert (eased.slope, eased.end_slope) == pytest.approx((0.0, 1.0), abs=1e-14)
    assert ends(run) == pytest.approx((800.0, 0.0, 300.0), abs=1e-12)
    assert run.places == ("step 1", "step 2", "step 3")
    assert run.turns == (0.0, 0.0, 0.0)


def elevation(element: Element, part: float) -> tuple[float, float]:
    """How far along the wall and how high a point of an element along +x stands."""
    station = part * element.length
    return element.point(station)[0], element.height + element.rise(station)


@given(PITCHES, PITCHES, st.floats(5.0, 300.0))
def test_an_easement_moves_nothing_but_itself(before: float, after: float, radius: float) -> None:
    slopes = [math.tan(math.radians(each)) for each in (before, after)]
    assume(abs(before - after) > 0.1)
    straights = [Straight(1000.0, slope) for slope in slopes]
    plain = lay_out("wall", straights)
    run = lay_out("wall", [straights[0], Easement(radius), straights[1]])
    one, eased, two = run.elements
    assert (one.start, one.height, one.slope) == ((0.0, 0.0), 0.0, slopes[0])
    assert ends(run) == pytest.approx(ends(plain), abs=1e-9)
    for earlier, later in ((one, eased), (eased, two)):
        assert earlier.end == pytest.approx(later.start, abs=1e-9)
        assert earlier.end_height == pytest.approx(later.height, abs=1e-9)
        assert earlier.end_slope == pytest.approx(later.slope, abs=1e-9)
    # The center stands square to the first slope, on the side that the run turns to; all points are R from it.
    turns_up = after > before
    assert math.copysign(1.0, eased.bend) == (1.0 if turns_up else -1.0)
    x, z = elevation(eased, 0.0)
    t = math.radians(before)
    to_center = radius if turns_up else -radius
    center = (x - to_center * math.sin(t), z + to_center * math.cos(t))
    for part in (0.0, 0.2, 0.5, 0.9, 1.0):
        assert math.dist(elevation(eased, part), center) == pytest.approx(radius, abs=1e-8)


@given(st.lists(st.tuples(st.floats(300.0, 900.0), PITCHES), min_size=2, max_size=6), st.data())
def test_easements_along_a_stair_change_no_height(legs: list[tuple[float, float]], data: st.DataObject) -> None:
    plain: list[Step] = []
    eased: list[Step] = []
    risen, last = 0.0, math.nan
    for length, pitch in legs:
        straight = Straight(length, math.tan(math.radians(pitch)))
        if abs(pitch - last) > 0.1 and data.draw(st.booleans()):
            eased.append(Easement(data.draw(st.floats(1.0, 80.0))))
        plain.append(straight)
        eased.append(straight)
        risen += length * straight.slope
        last = pitch
    run = lay_out("stair", eased)
    assert ends(run) == pytest.approx(ends(lay_out("stair", plain)), abs=1e-8)
    assert ends(run)[2] == pytest.approx(risen, abs=1e-8)


@pytest.mark.parametrize("last", [[], [Corner(RIGHT_ANGLE)]], ids=["corner found", "corner given"])
def test_a_closed_run_climbs_and_comes_down_again(last: list[Step]) -> None:
    steps: list[Step] = [Straight(400.0, 0.5), Corner(RIGHT_ANGLE), Straight(300.0), Corner(RIGHT_ANGLE)]
    steps += [Straight(400.0, -0.5), Corner(RIGHT_ANGLE), Straight(300.0), *last]
    run = lay_out("ring", steps, closed=True)
    assert [element.height for element in run.elements] == [0.0, 200.0, 200.0, 0.0]
    assert ends(run) == (0.0, 0.0, 0.0)


def test_an_easement_may_close_a_run() -> None:
    """Started at the foot of the rake: the easement lies between the last straight and the first."""
    half: list[Step] = [Straight(400.0, 0.5), Easement(60.0), Straight(300.0), Corner(RIGHT_ANGLE), Straight(300.0)]
    steps: list[Step] = [*half, Corner(RIGHT_ANGLE), Straight(700.0, -2 / 7), Corner(RIGHT_ANGLE), Straight(300.0)]
    steps += [Corner(RIGHT_ANGLE), Straight(100.0), Easement(50.0)]
    steps[6] = Straight(800.0, -0.25)
    run = lay_out("ring", steps, closed=True)
    closing = run.elements[-1]
    assert closing.bend == 1.0 / 50.0
    assert closing.end == pytest.approx(run.elements[0].start, abs=1e-9)
    assert closing.end_height == pytest.approx(run.elements[0].height, abs=1e-9)
    assert closing.end_slope == pytest.approx(0.5, abs=1e-12)
    assert run.places[-1] == "step 12"


def test_a_small_miss_in_height_is_shared_by_the_straights() -> None:
    """0.004 mm too high: the climbing straights change, and those along them make room."""
    steps: list[Step] = [Straight(400.0, 0.5), Corner(RIGHT_ANGLE), Straight(300.0), Corner(RIGHT_ANGLE)]
    steps += [Straight(100.0), Straight(300.0, -199.996 / 300.0), Corner(RIGHT_ANGLE), Straight(300.0)]
    run = lay_out("ring", steps, closed=True)
    assert ends(run) == pytest.approx((0.0, 0.0, 0.0), abs=1e-11)
    assert [element.slope for element in run.elements][3] == -199.996 / 300.0
    assert max(abs(a.length - b) for a, b in zip(run.elements, (400, 300, 100, 300, 300), strict=True)) < 0.01


def test_rises_that_do_not_come_back_are_refused() -> None:
    steps: list[Step] = [Straight(400.0, 0.5), Corner(RIGHT_ANGLE), Straight(300.0), Corner(RIGHT_ANGLE)]
    steps += [Straight(400.0, -0.49), Corner(RIGHT_ANGLE), Straight(300.0)]
    with pytest.raises(PreviewError, match=r"the run ends 4\.000 mm above where it started; it may miss by 0\.01 mm"):
        lay_out("ring", steps, closed=True)


def test_the_limits_of_a_pitch_are_allowed() -> None:
    for slope in (math.tan(math.radians(60)), -math.tan(math.radians(60))):
        assert lay_out("wall", [Straight(100.0, slope)]).elements[0].slope == slope
    with pytest.raises(PreviewError, match=r"the pitch here is 60\.1°"):
        lay_out("wall", [Straight(100.0, math.tan(math.radians(60.1)))])
    with pytest.raises(PreviewError, match="the pitch here is nan°"):
        lay_out("wall", [Straight(100.0, math.nan)])


def test_a_rake_may_end_in_a_level_straight_before_a_curve() -> None:
    steps: list[Step] = [Straight(100.0, 0.5), Straight(20.0), Curve(RIGHT_ANGLE, 50.0)]
    run = lay_out("wall", steps)
    assert [element.height for element in run.elements] == [0.0, 50.0, 50.0]
    with pytest.raises(PreviewError, match="this straight climbs, and beside it the curve of step 2 is level"):
        lay_out("wall", [steps[0], steps[2]])


def test_a_closed_run_looks_round_for_the_curve_beside_a_rake() -> None:
    steps: list[Step] = [Straight(100.0, 0.5), Straight(100.0, -0.5), Curve(math.pi, 60.0)]
    steps += [Straight(200.0), Curve(math.pi, 60.0)]
    with pytest.raises(PreviewError) as refused:
        lay_out("ring", steps, closed=True)
    assert [problem.place for problem in refused.value.problems] == ["step 1, pitch", "step 2, pitch"]
