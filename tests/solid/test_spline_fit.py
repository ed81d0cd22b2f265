"""The fitted curves: within the tolerance they were asked for, and honest about it where they are not."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preview.models.solid.spline import DEGREE, MOST_SPANS, Floats, fit


def circle(t: Floats) -> Floats:
    return 10 * np.column_stack([np.cos(t), np.sin(t)])


def straying(curve: object, first: float, last: float, tolerance: float) -> tuple[float, int]:
    """The largest distance of a fit from its curve, on a grid of its own, and the spans it took."""
    made = fit(curve, first, last, np.full(curve(np.array([first])).shape[1], tolerance))  # type: ignore[operator]
    t = np.linspace(first, last, 4001)
    return float(np.abs(made.at(t) - curve(t)).max()), len(made.breaks) - 1  # type: ignore[operator]


@pytest.mark.parametrize("tolerance", [1e-5, 1e-8])
def test_a_circle_is_met_to_the_tolerance(tolerance: float) -> None:
    off, spans = straying(circle, 0.3, 3.1, tolerance)
    assert off <= tolerance
    assert spans <= 16


def test_polynomials_up_to_the_degree_are_exact() -> None:
    """A spline of degree 7 holds every polynomial of degree 7."""
    off, spans = straying(lambda t: np.column_stack([t**DEGREE, t**2 - t]), -1.0, 2.0, 1e-9)
    assert off < 1e-10
    assert spans == 4


def test_a_root_takes_short_spans_where_it_bends() -> None:
    """As a cut does near its joint's reach: sqrt(t) from close to 0."""
    made = fit(lambda t: np.sqrt(t)[:, None], 1e-6, 1.0, np.array([1e-8]))
    assert made.residual[0] <= 1e-8
    assert np.diff(made.breaks)[0] < 1e-4 < np.diff(made.breaks)[-1]


def test_a_jump_cannot_be_met_and_it_says_so() -> None:
    made = fit(lambda t: np.where(t < math.pi / 10, 0.0, 1.0)[:, None], 0.0, 1.0, np.array([1e-9]))
    assert 4 < len(made.breaks) - 1 <= MOST_SPANS
    assert made.residual[0] > 0.1


def test_ends_are_exact() -> None:
    made = fit(circle, 0.0, 2.0, np.full(2, 1e-3))
    assert made.at(np.array([0.0, 2.0])) == pytest.approx(circle(np.array([0.0, 2.0])), abs=1e-14)


def test_each_coordinate_has_its_own_tolerance() -> None:
    made = fit(lambda t: np.column_stack([np.sin(9 * t), np.sin(9 * t)]), 0.0, 2.0, np.array([1e-3, 1e-9]))
    assert made.residual[1] <= 1e-9
