"""Lines and arcs against plane geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Line, arc_of_sweep, arc_through

QUARTER = Arc((10.0, 0.0), (0.0, 10.0), (0.0, 0.0), math.pi / 2)
HOLLOW = Arc((10.0, 0.0), (0.0, 10.0), (10.0, 10.0), -math.pi / 2)
SLOPE = Line((1.0, 2.0), (4.0, 6.0))
FRACTIONS = np.linspace(0.0, 1.0, 9)


def test_a_line_measures_three_four_five() -> None:
    assert SLOPE.length == 5.0
    assert SLOPE.bounds == (1.0, 2.0, 4.0, 6.0)
    assert SLOPE.point(0.5) == pytest.approx([2.5, 4.0], abs=1e-15)
    assert SLOPE.tangent(0.5) == pytest.approx([0.6, 0.8], abs=1e-15)


def test_an_arc_measures_as_its_circle() -> None:
    assert QUARTER.radius == 10.0
    assert QUARTER.length == pytest.approx(5 * math.pi, abs=1e-14)
    assert QUARTER.via == pytest.approx((math.sqrt(50), math.sqrt(50)), abs=1e-14)
    assert HOLLOW.via == pytest.approx((10 - math.sqrt(50), 10 - math.sqrt(50)), abs=1e-14)
    assert QUARTER.tangent([0.0, 1.0]) == pytest.approx(np.array([[0.0, 1.0], [-1.0, 0.0]]), abs=1e-15)
    assert HOLLOW.tangent([0.0, 1.0]) == pytest.approx(np.array([[-1.0, 0.0], [0.0, 1.0]]), abs=1e-15)


@pytest.mark.parametrize("edge", [QUARTER, HOLLOW, SLOPE])
def test_ends_are_exact_and_shapes_follow_the_question(edge: Edge) -> None:
    points = edge.point(FRACTIONS)
    assert points.shape == edge.tangent(FRACTIONS).shape == (9, 2)
    assert edge.point(0.5).shape == edge.tangent(0.5).shape == (2,)
    assert tuple(points[0]) == edge.start
    assert tuple(points[-1]) == edge.end


def test_a_level_line_stays_level_bit_for_bit() -> None:
    """An interpolation that weighs both ends would not: 0.1 x (1 - t) + 0.1 t is not always 0.1."""
    line = Line((0.1, 0.3), (7.7, 0.3))
    assert set(line.point(np.linspace(0, 1, 101))[:, 1]) == {0.3}


@pytest.mark.parametrize("edge", [QUARTER, HOLLOW, SLOPE, arc_of_sweep((3.0, 1.0), (9.0, 4.0), -4.0)])
def test_tangents_are_the_way_the_points_go(edge: Edge) -> None:
    step = 1e-6
    inside = FRACTIONS[1:-1]
    ahead = (edge.point(inside + step) - edge.point(inside - step)) / (2 * step * edge.length)
    assert edge.tangent(inside) == pytest.approx(ahead, abs=1e-8)
    assert np.hypot(*edge.tangent(FRACTIONS).T) == pytest.approx(np.ones(9), abs=1e-15)


@pytest.mark.parametrize(
    ("sweep", "bounds"),
    [
        (math.pi / 2, (0.0, 0.0, 10.0, 10.0)),
        (math.pi, (-10.0, 0.0, 10.0, 10.0)),
        (3 * math.pi / 2, (-10.0, -10.0, 10.0, 10.0)),
        (-math.pi / 2, (0.0, -10.0, 10.0, 0.0)),
        (math.pi / 3, (5.0, 0.0, 10.0, 10 * math.sin(math.pi / 3))),
    ],
)
def test_bounds_reach_where_the_circle_turns_back(sweep: float, bounds: tuple[float, float, float, float]) -> None:
    arc = Arc((10.0, 0.0), (10 * math.cos(sweep), 10 * math.sin(sweep)), (0.0, 0.0), sweep)
    assert arc.bounds == pytest.approx(bounds, abs=1e-14)


def test_bounds_of_a_quarter_are_its_ends_bit_for_bit() -> None:
    assert QUARTER.bounds == HOLLOW.bounds == (0.0, 0.0, 10.0, 10.0)


# Machinery's Handbook, 31st ed., p. 79: a segment with chord 16 and height 6 belongs to a radius of 8 1/3.
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_an_arc_through_three_points(side: float) -> None:
    arc = arc_through((0.0, 0.0), (side * 6.0, 8.0), (0.0, 16.0))
    assert arc.radius == pytest.approx(25 / 3, abs=1e-13)
    assert arc.center == pytest.approx((side * (6 - 25 / 3), 8.0), abs=1e-13)
    assert math.copysign(1.0, arc.sweep) == side
    assert 2 * arc.radius * math.sin(abs(arc.sweep) / 2) == pytest.approx(16.0, abs=1e-12)


def test_an_arc_of_more_than_half_a_turn() -> None:
    arc = arc_through((0.0, -1.0), (1.0 + math.sqrt(2), 0.0), (0.0, 1.0))
    assert arc.sweep == pytest.approx(3 * math.pi / 2, abs=1e-14)
    assert arc.center == pytest.approx((1.0, 0.0), abs=1e-15)


coordinates = st.floats(-100.0, 100.0)


@given(coordinates, coordinates, st.floats(1.0, 100.0), st.floats(0.0, 6.3), st.floats(0.01, 6.2), st.booleans())
def test_arcs_come_back_from_three_of_their_points(
    d: float, h: float, radius: float, first: float, sweep: float, clockwise: bool
) -> None:
    def at(angle: float) -> tuple[float, float]:
        return (d + radius * math.cos(angle), h + radius * math.sin(angle))

    signed = -sweep if clockwise else sweep
    arc = arc_through(at(first), at(first + 0.4 * signed), at(first + signed))
    assert arc.sweep == pytest.approx(signed, abs=1e-9)
    assert arc.center == pytest.approx((d, h), abs=1e-6)
    assert arc_of_sweep(arc.start, arc.end, signed).center == pytest.approx((d, h), abs=1e-6)


@pytest.mark.parametrize(
    "points",
    [
        ((0.0, 0.0), (1.0, 1.0), (2.0, 2.0)),
        ((0.0, 0.0), (0.0, 0.0), (2.0, 2.0)),
        ((0.0, 0.0), (1.0, 5.0), (0.0, 0.0)),
        ((0.0, 0.0), (50.0, 1e-4), (100.0, 0.0)),  # a radius of 12.5 km
        ((0.0, 0.0), (math.nan, 1.0), (2.0, 2.0)),
        ((0.0, 0.0), (math.inf, 1.0), (2.0, 2.0)),
    ],
)
def test_points_that_make_no_arc_are_refused(points: tuple[tuple[float, float], ...]) -> None:
    with pytest.raises(PreviewError, match="no arc runs through"):
        arc_through(*points)


def test_the_refusal_says_which_points() -> None:
    with pytest.raises(PreviewError) as caught:
        arc_through((0.0, 0.0), (1.0, 1.5), (2.0, 3.0))
    assert str(caught.value) == (
        "  no arc runs through (0, 0), (1, 1.5) and (2, 3): the three points lie on one line, or two of them "
        "coincide\n"
        "  fix: move the middle point off the line, or draw a straight line"
    )


@pytest.mark.parametrize("edge", [QUARTER, HOLLOW, SLOPE])
def test_moving_and_turning_round(edge: Edge) -> None:
    moved = edge.moved(3.0, -2.0)
    assert moved.point(FRACTIONS) == pytest.approx(edge.point(FRACTIONS) + np.array([3.0, -2.0]), abs=1e-14)
    back = edge.reversed()
    assert back.point(FRACTIONS) == pytest.approx(edge.point(1 - FRACTIONS), abs=1e-14)
    assert back.reversed() == edge


@given(
    st.sampled_from([QUARTER, HOLLOW, SLOPE, arc_of_sweep((3.0, 1.0), (9.0, 4.0), -4.5)]),
    coordinates,
    coordinates,
)
def test_distance_is_to_the_nearest_of_many_points(edge: Edge, d: float, h: float) -> None:
    many = edge.point(np.linspace(0, 1, 4001))
    nearest = float(np.hypot(*(many - [d, h]).T).min())
    distance = float(edge.distance(np.array([[d, h]]))[0])
    assert distance <= nearest + 1e-12
    assert nearest - distance <= edge.length / 8000
