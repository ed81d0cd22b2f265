"""One straight or arc of a run, against complex numbers: an arc is a point turned about its center."""

from __future__ import annotations

import cmath
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.runs import Element, Vec2, arc, straight, turn_between, turned

HEADINGS: list[Vec2] = [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)]
angles = st.floats(-math.pi, math.pi)
far = st.floats(-1e4, 1e4)


def as_complex(at: Vec2) -> complex:
    return complex(*at)


@pytest.mark.parametrize("tangent", HEADINGS)
@pytest.mark.parametrize("side", [1, -1])
def test_a_quarter_curve_of_whole_radius_lands_on_whole_numbers(tangent: Vec2, side: int) -> None:
    """No digit is lost for any radius: 1 / (1 / 49) is not 49, so the radius itself must be kept."""
    for radius in range(1, 1000):
        element = arc((7.0, -3.0), tangent, float(radius), side * math.pi / 2)
        ahead = (tangent[0] * radius, tangent[1] * radius)
        aside = (-side * tangent[1] * radius, side * tangent[0] * radius)
        assert element.end == (7 + ahead[0] + aside[0], -3 + ahead[1] + aside[1])
        assert element.center == (7 + aside[0], -3 + aside[1])
        assert element.end_tangent == (-side * tangent[1], side * tangent[0])
        assert element.radius == radius


@pytest.mark.parametrize("quarters", [1, 2, 3, 4, -1, -2, -3])
def test_quarter_turns_are_exact(quarters: int) -> None:
    assert turned((1.0, 0.0), quarters * math.pi / 2) == HEADINGS[quarters % 4]


@given(
    st.tuples(far, far), angles, st.floats(0.5, 1e5), st.floats(0.02, 5.7), st.sampled_from([1, -1]), st.floats(0, 1)
)
def test_an_arc_is_its_start_turned_about_its_center(
    start: Vec2, heading: float, radius: float, sweep: float, side: int, along: float
) -> None:
    tangent = cmath.rect(1.0, heading)
    center = as_complex(start) + 1j * side * radius * tangent
    element = arc(start, (tangent.real, tangent.imag), radius, side * sweep)
    angle = side * sweep * along
    there = center + (as_complex(start) - center) * cmath.exp(1j * angle)
    close = 1e-12 * (radius + abs(as_complex(start)) + 1)
    assert abs(as_complex(element.center) - center) <= close
    assert abs(as_complex(element.point(element.length * along)) - there) <= 4 * close
    assert abs(as_complex(element.tangent_at(element.length * along)) - tangent * cmath.exp(1j * angle)) <= 1e-12
    assert element.length == pytest.approx(radius * sweep, rel=1e-15)
    assert element.curvature == pytest.approx(side / radius, rel=1e-15)
    assert element.end == element.point(element.length)


def test_a_straight_has_no_curvature() -> None:
    element = straight((1.0, 2.0), (0.0, 1.0), 30.0)
    assert (element.curvature, element.radius, element.sweep) == (0.0, math.inf, 0.0)
    assert element.point(12.5) == (1.0, 14.5)
    assert element.end == (1.0, 32.0)
    assert element.tangent_at(5.0) == element.end_tangent == (0.0, 1.0)
    assert all(math.isnan(value) for value in element.center)


@given(angles, angles)
def test_turn_between_undoes_turned(heading: float, turn: float) -> None:
    before = (math.cos(heading), math.sin(heading))
    found = turn_between(before, turned(before, turn))
    assert abs(math.remainder(found - turn, 2 * math.pi)) < 1e-14


def test_elements_are_values() -> None:
    assert straight((0.0, 0.0), (1.0, 0.0), 5.0) == Element((0.0, 0.0), (1.0, 0.0), 5.0)
    assert len({arc((0.0, 0.0), (1.0, 0.0), 5.0, 1.0), arc((0.0, 0.0), (1.0, 0.0), 5.0, 1.0)}) == 1
