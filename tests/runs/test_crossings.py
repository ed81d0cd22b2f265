"""Where a back line crosses or touches itself: exact cases, and shapely on the drawn polylines."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.runs import Corner, Curve, Element, Step, Straight, Vec2, arc, lay_out, straight, turned
from preview.runs.crossings import Crossing, bounds, first_crossing, meeting_points
from samples import RIGHT_ANGLE
from strategies import share

DEGREE = math.pi / 180
EAST, NORTH, WEST = (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)


def walked(steps: list[Step]) -> list[Element]:
    """The elements of steps without any check."""
    elements: list[Element] = []
    at, way = (0.0, 0.0), EAST
    for step in steps:
        if isinstance(step, Corner):
            way = turned(way, step.turn)
            continue
        new = straight(at, way, step.length) if isinstance(step, Straight) else arc(at, way, step.radius, step.sweep)
        elements.append(new)
        at, way = new.end, new.end_tangent
    return elements


def only_meeting(a: Element, b: Element) -> Vec2:
    """The one place where two elements meet, whichever is asked about the other."""
    found = np.array(meeting_points(a, b) + meeting_points(b, a))
    assert np.ptp(found, axis=0).max() < 1e-3
    return float(found[0, 0]), float(found[0, 1])


def test_line_meets_line() -> None:
    assert only_meeting(straight((0, 0), EAST, 10), straight((4, -3), NORTH, 10)) == (4, 0)
    assert not meeting_points(straight((0, 0), EAST, 10), straight((10.1, -3), NORTH, 10))


def test_line_meets_curve() -> None:
    """A half circle of radius 5 round (0, 0), from (5, 0) over (0, 5); the line y = 3 meets it at x = 4 and -4."""
    curve = arc((5, 0), NORTH, 5, math.pi)
    assert np.allclose(sorted(meeting_points(straight((-10, 3), EAST, 20), curve)), [(-4, 3), (4, 3)])
    assert only_meeting(straight((0, 3), EAST, 20), curve) == pytest.approx((4, 3))
    assert not meeting_points(straight((-10, -3), EAST, 20), curve)
    assert not meeting_points(straight((-10, 5.1), EAST, 20), curve)


def test_curve_meets_curve() -> None:
    """Circles of radius 5 round (0, 0) and (6, 0) meet at (3, 4) and (3, -4)."""
    left, right = arc((5, 0), NORTH, 5, math.pi), arc((11, 0), NORTH, 5, math.pi)
    assert only_meeting(left, right) == pytest.approx((3, 4))
    whole = arc((11, 0), NORTH, 5, 1.9 * math.pi)
    assert only_meeting(arc((5, 0), (0.0, -1.0), 5, -0.9 * math.pi), whole) == pytest.approx((3, -4))
    assert not meeting_points(arc((5, 0), NORTH, 5, 0.9), right)


def test_a_line_that_only_touches_a_curve_meets_it() -> None:
    curve = arc((5, 0), NORTH, 5, math.pi)
    assert only_meeting(straight((-10, 5), EAST, 20), curve) == pytest.approx((0, 5), abs=1e-3)
    assert not meeting_points(straight((-10, 5 + 1e-5), EAST, 20), curve)


@pytest.mark.parametrize(("x", "sweep"), [(15.0, math.pi), (7.0, math.pi)], ids=["outside", "one in the other"])
def test_curves_that_only_touch_meet(x: float, sweep: float) -> None:
    """A circle round (0, 0) of radius 5 and one that touches it at (5, 0), from outside or from within."""
    other = arc((x, 0), (0, -1), abs(x - 5) / 2, -sweep if x > 5 else sweep)
    curve = arc((0, -5), EAST, 5, math.pi)
    assert only_meeting(curve, other) == pytest.approx((5, 0), abs=1e-3)


def test_elements_that_run_over_one_another_meet() -> None:
    assert meeting_points(straight((0, 0), EAST, 10), straight((15, 0), WEST, 10))
    assert meeting_points(straight((0, 0), EAST, 10), straight((2, 0), EAST, 3))
    assert not meeting_points(straight((0, 0), EAST, 10), straight((10.1, 0), EAST, 3))
    assert not meeting_points(straight((0, 0), EAST, 10), straight((0, 0.1), EAST, 10))
    ring = arc((5, 0), NORTH, 5, math.pi)
    assert meeting_points(ring, arc((0, 5), WEST, 5, math.pi))
    assert meeting_points(ring, arc((5, 0), NORTH, 5, 1.0))
    assert not meeting_points(ring, arc((0, -5), EAST, 5, 1.5))
    assert not meeting_points(ring, arc((5.1, 0), NORTH, 5.1, math.pi))


@pytest.mark.parametrize(
    ("steps", "found"),
    [
        ([Straight(100.0), Corner(RIGHT_ANGLE), Straight(50.0)], None),
        ([Straight(100.0), Curve(RIGHT_ANGLE, 20.0), Straight(50.0)], None),
        ([Straight(100.0), Straight(50.0)], None),
        ([Curve(math.pi, 40.0), Curve(RIGHT_ANGLE, 40.0)], None),
        ([Curve(math.pi, 40.0), Curve(-math.pi, 40.0)], None),
        # A curve that comes round onto the straight before it: they share their corner, and cross 10 mm from it.
        # From (100, 0) a circle of radius 10, entered at 150 degrees, cuts the straight 2 x 10 cos 60 = 10 mm back.
        ([Straight(100.0), Corner(150 * DEGREE), Curve(200 * DEGREE, 10.0)], Crossing(0, 1, (90.0, 0.0))),
        # 300 degrees round (0, 20), then level across: out again at (20 cos 30, 10).
        (
            [Curve(300 * DEGREE, 20.0), Corner(60 * DEGREE), Straight(60.0)],
            Crossing(0, 1, (10 * math.sqrt(3), 10.0)),
        ),
        ([Straight(100.0), *[Corner(RIGHT_ANGLE), Straight(40.0)] * 3], Crossing(0, 3, (60.0, 0.0))),
        # Stops on the first straight: touching is crossing.
        (
            [
                *(Straight(100.0), Corner(RIGHT_ANGLE), Straight(40.0), Corner(RIGHT_ANGLE), Straight(50.0)),
                *(Corner(RIGHT_ANGLE), Straight(40.0)),
            ],
            Crossing(0, 3, (50.0, 0.0)),
        ),
    ],
)
def test_the_first_crossing_of_a_run(steps: list[Step], found: Crossing | None) -> None:
    crossing = first_crossing(walked(steps), closed=False)
    if found is None:
        assert crossing is None
        return
    assert crossing is not None
    assert (crossing.first, crossing.second) == (found.first, found.second)
    assert crossing.at == pytest.approx(found.at, abs=1e-9)


def test_a_closed_run_shares_its_start() -> None:
    sides: list[Step] = [Straight(50.0), Corner(RIGHT_ANGLE)] * 4
    square = walked(sides)
    assert first_crossing(square, closed=True) is None
    assert first_crossing(square, closed=False) == Crossing(0, 3, (0.0, 0.0))
    ring = walked([Curve(math.pi, 40.0)] * 2)
    assert first_crossing(ring, closed=True) is None
    assert first_crossing(ring, closed=False) is not None


def test_a_closed_run_is_still_searched() -> None:
    """A figure of eight: its two long sides cross in the middle."""
    steps: list[Step] = [Straight(100.0), Corner(135 * DEGREE), Straight(100 * math.sqrt(2)), Corner(-135 * DEGREE)]
    with pytest.raises(PreviewError, match=r"meets step 3 at x = 50 mm, y = 50 mm"):
        lay_out("eight", [*steps, Straight(100.0), Corner(-135 * DEGREE), Straight(100 * math.sqrt(2))], closed=True)


@given(
    st.lists(
        st.tuples(st.sampled_from([0.5, 3.0, 100.0, 1e4, 1e6]), st.integers(1, 60), st.sampled_from([1, -1])),
        min_size=1,
        max_size=4,
    ),
    st.sampled_from([1.0, 1e3, 1e6]),
    st.floats(0.0, 6.3),
)
def test_smooth_joints_raise_no_alarm(curves: list[tuple[float, int, int]], long: float, heading: float) -> None:
    """Straights and curves of any radius, one leading smoothly into the next and never round onto itself."""
    steps: list[Step] = [Straight(long)]
    turned_by = 0
    for radius, degrees, side in curves:
        side = side if abs(turned_by + side * degrees) <= 80 else -side
        turned_by += side * degrees
        steps += [Curve(side * degrees * DEGREE, radius)]
        if degrees % 2:
            steps += [Straight(long)]
    # It goes forward all the way, so it cannot come back: any crossing is a false alarm.
    assert abs(turned_by) < 90
    assert lay_out("smooth", steps, start=(1234.5, -987.6), heading=heading).elements


@given(st.floats(-math.pi, math.pi), st.floats(0.02, 5.75), st.sampled_from([1, -1]), st.floats(0.5, 1e4))
def test_the_box_of_a_curve_is_exact(heading: float, sweep: float, side: int, radius: float) -> None:
    element = arc((3.0, -7.0), (math.cos(heading), math.sin(heading)), radius, side * sweep)
    points = np.array([element.point(s) for s in np.linspace(0, element.length, 500)])
    low, high = bounds([element])
    assert (low[0] <= points.min(axis=0) + 1e-9 * radius).all()
    assert (high[0] >= points.max(axis=0) - 1e-9 * radius).all()
    assert np.allclose([low[0], high[0]], [points.min(axis=0), points.max(axis=0)], atol=radius * 2e-5)


def drawn(element: Element) -> shapely.LineString:
    """The element as a polyline, an arc in steps of about half a degree."""
    count = 2 if not element.sweep else 2 + math.ceil(abs(element.sweep) / (0.5 * DEGREE))
    return shapely.LineString([element.point(s) for s in np.linspace(0.0, element.length, count)])


lengths = st.integers(20, 200).map(float)
bends = st.tuples(st.integers(20, 300), st.sampled_from([1, -1])).map(lambda t: t[0] * t[1] * DEGREE)
corners = st.tuples(st.integers(20, 140), st.sampled_from([1, -1])).map(lambda t: t[0] * t[1] * DEGREE)


@share(1.5)
@given(st.lists(st.tuples(st.none() | bends, lengths, corners), min_size=2, max_size=6))
def test_crossings_agree_with_shapely(parts: list[tuple[float | None, float, float]]) -> None:
    steps: list[Step] = []
    for sweep, size, corner in parts:
        steps += [Straight(size) if sweep is None else Curve(sweep, size), Corner(corner)]
    elements = walked(steps)
    lines = [drawn(element) for element in elements]
    meets, near = False, False
    for i, a in enumerate(lines):
        for j in range(i + 1, len(lines)):
            touch = shapely.get_coordinates(shapely.intersection(a, lines[j]))
            if j == i + 1:
                away = np.linalg.norm(touch - np.array(elements[j].start), axis=1)
                touch = touch[away > 1e-6]
                # Two curves at a corner, or one that comes back to it: too close to tell from polylines.
                near |= bool(((away > 1e-6) & (away < 0.5)).any())
            meets |= bool(len(touch))
    found = first_crossing(elements, closed=False)
    if found is None:
        assert near or not meets
        return
    assert all(shapely.Point(found.at).distance(lines[i]) < 0.02 for i in (found.first, found.second))
    if found.second == found.first + 1:
        assert math.dist(found.at, elements[found.second].start) > 1e-3
