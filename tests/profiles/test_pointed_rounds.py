"""Easing an arris between two rounds, by plane geometry."""

from __future__ import annotations

import math

import pytest

from preview.profiles import Arc, Line, ease, make_profile

APEX = (math.sqrt(600.0), 20.0)
LOWER, UPPER = (0.0, 25.0), (0.0, 15.0)


def test_a_pointed_arch_is_eased_by_a_circle_that_touches_both_rounds() -> None:
    """Radii 25 round (0, 25) and (0, 15) cross at (sqrt 600, 20). A circle of radius 3 inside both has its center 22
    from either: (sqrt(22² - 5²), 20). It touches them on the lines through the centers, 25 out."""
    half = math.asin(5.0 / 25.0)
    sweep = math.pi / 2 - half
    edges = [
        Arc((0.0, 0.0), APEX, LOWER, sweep),
        Arc(APEX, (0.0, 40.0), UPPER, sweep),
        Line((0.0, 40.0), (0.0, 0.0)),
    ]
    eased = ease(make_profile("arch", edges), 3.0, at=[APEX])
    (new,) = [edge for edge in eased.edges if isinstance(edge, Arc) and edge.radius == pytest.approx(3.0)]
    middle = math.sqrt(22.0**2 - 5.0**2)
    assert new.center == pytest.approx((middle, 20.0), abs=1e-12)
    assert new.start == pytest.approx((middle * 25 / 22, 25.0 - 5.0 * 25 / 22), abs=1e-12)
    assert new.end == pytest.approx((middle * 25 / 22, 15.0 + 5.0 * 25 / 22), abs=1e-12)
    assert new.sweep == pytest.approx(2 * math.asin(5.0 / 22.0), abs=1e-12)


def test_rounds_whose_centers_lie_askew() -> None:
    """Radius 25 round (0, 25), and round (2, 16) through (0, 40): a circle of radius 3 inside is 3 nearer to both."""
    lower, upper = (0.0, 25.0), (2.0, 16.0)
    ra, rb = 25.0, math.hypot(2.0, 24.0)
    apart = math.dist(lower, upper)
    along = (apart**2 + ra**2 - rb**2) / (2 * apart)
    ux, uy = (upper[0] - lower[0]) / apart, (upper[1] - lower[1]) / apart
    aside = math.sqrt(ra**2 - along**2)
    apex = (lower[0] + along * ux - aside * uy, lower[1] + along * uy + aside * ux)
    assert math.dist(apex, lower) == pytest.approx(ra)
    assert math.dist(apex, upper) == pytest.approx(rb)

    def turned(center: tuple[float, float], start: tuple[float, float], end: tuple[float, float]) -> float:
        first, last = (math.atan2(at[1] - center[1], at[0] - center[0]) for at in (start, end))
        return (last - first) % (2 * math.pi)

    edges = [
        Arc((0.0, 0.0), apex, lower, turned(lower, (0.0, 0.0), apex)),
        Arc(apex, (0.0, 40.0), upper, turned(upper, apex, (0.0, 40.0))),
        Line((0.0, 40.0), (0.0, 0.0)),
    ]
    eased = ease(make_profile("arch", edges), 3.0, at=[apex])
    (new,) = [edge for edge in eased.edges if isinstance(edge, Arc) and edge.radius == pytest.approx(3.0)]
    assert math.dist(new.center, lower) == pytest.approx(ra - 3.0, abs=1e-12)
    assert math.dist(new.center, upper) == pytest.approx(rb - 3.0, abs=1e-12)
    assert math.dist(new.center, apex) < 6.0
