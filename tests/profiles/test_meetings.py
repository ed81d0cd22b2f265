"""Where edges meet, by plane geometry: circles that touch inside one another, from either one's side."""

from __future__ import annotations

import math

import pytest

from preview.profiles import Arc
from preview.profiles.splitting import meetings, split

# Circles of radius 3 round (0, 0) and 5 round (2, 0) touch at (-3, 0): the larger holds the smaller.
SMALL = Arc((0.0, 3.0), (0.0, -3.0), (0.0, 0.0), math.pi)
LARGE = Arc((2.0, 5.0), (2.0, -5.0), (2.0, 0.0), math.pi)


@pytest.mark.parametrize(("one", "other"), [(SMALL, LARGE), (LARGE, SMALL)])
def test_circles_that_touch_inside_one_another(one: Arc, other: Arc) -> None:
    (at,) = meetings(one, other)
    assert at == pytest.approx((-3.0, 0.0), abs=1e-12)
    parts, points = split([one, other])
    assert [part.source for part in parts] == [0, 0, 1, 1]
    assert points[parts[0].end] == points[parts[2].end] == pytest.approx((-3.0, 0.0), abs=1e-12)


def test_circles_that_touch_from_outside() -> None:
    """Radius 3 round (0, 0) and 2 round (5, 0): (3, 0)."""
    one = Arc((0.0, -3.0), (0.0, 3.0), (0.0, 0.0), math.pi)
    other = Arc((5.0, 2.0), (5.0, -2.0), (5.0, 0.0), math.pi)
    for pair in ((one, other), (other, one)):
        assert meetings(*pair) == [pytest.approx((3.0, 0.0), abs=1e-12)]


def test_circles_that_cross() -> None:
    """Radius 5 round (0, 0) and (6, 0): (3, 4) and (3, -4); radius 13 round (0, 0), 15 round (14, 0): (5, ±12)."""
    for radius, other_radius, apart, x, y in ((5.0, 5.0, 6.0, 3.0, 4.0), (13.0, 15.0, 14.0, 5.0, 12.0)):
        one = Arc((0.0, -radius), (0.0, radius), (0.0, 0.0), math.pi)
        other = Arc((apart, other_radius), (apart, -other_radius), (apart, 0.0), math.pi)
        for pair in ((one, other), (other, one)):
            assert sorted(meetings(*pair)) == [pytest.approx((x, -y), abs=1e-12), pytest.approx((x, y), abs=1e-12)]
