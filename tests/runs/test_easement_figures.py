"""An easement is an arc of a circle in elevation: its rise, slope and walked length; and what is level unsaid."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preview.runs import (
    IN_PLAN,
    Arrival,
    Element,
    Measured,
    Reading,
    Run,
    Stand,
    Straight,
    Way,
    arc,
    lay_out,
    straight,
)

DEGREE = math.pi / 180
EAST = (1.0, 0.0)


def easement(radius: float, first: float, last: float) -> Element:
    """From one pitch to another, degrees: in plan it is R (sin of the one less sin of the other) long."""
    u, v = math.sin(first * DEGREE), math.sin(last * DEGREE)
    bend = math.copysign(1 / radius, last - first)
    return Element((0.0, 0.0), EAST, radius * abs(v - u), slope=math.tan(first * DEGREE), bend=bend)


@pytest.mark.parametrize("radius", [40.0, 900.0])
@pytest.mark.parametrize(("first", "last"), [(0, 30), (10, 35), (35, 10), (-20, 15), (20, -45), (-50, -10)])
def test_an_easement_by_its_circle(radius: float, first: float, last: float) -> None:
    """At each pitch between: walked R times the angle turned, risen R (cos of the first less cos of this)."""
    element = easement(radius, first, last)
    side = 1 if last > first else -1
    pitches = [first + part * (last - first) for part in (0.0, 0.25, 0.6, 1.0)]
    stations = [side * radius * (math.sin(p * DEGREE) - math.sin(first * DEGREE)) for p in pitches]
    walked = [radius * abs(p - first) * DEGREE for p in pitches]
    risen = [side * radius * (math.cos(first * DEGREE) - math.cos(p * DEGREE)) for p in pitches]
    slopes = [math.tan(p * DEGREE) for p in pitches]
    for found, wanted in ((element.walked, walked), (element.rise, risen), (element.slope_at, slopes)):
        assert [found(station) for station in stations] == pytest.approx(wanted, abs=1e-9)
        assert found(np.array(stations)) == pytest.approx(np.array(wanted), abs=1e-9)
    assert element.end_slope == pytest.approx(slopes[-1], abs=1e-12)
    assert element.end_height == pytest.approx(risen[-1], abs=1e-9)


@pytest.mark.parametrize("slope", [0.0, 0.75, -0.75])
def test_a_straight_is_walked_up_its_slope(slope: float) -> None:
    """3 up for 4 along is 5 walked."""
    element = Element((0.0, 0.0), EAST, 800.0, height=50.0, slope=slope)
    assert element.walked(400.0) == pytest.approx(500.0 if slope else 400.0, abs=1e-12)
    assert (element.rise(400.0), element.slope_at(123.0)) == (400.0 * slope, slope)
    assert element.walked(np.array([0.0, 4.0])).tolist() == pytest.approx([0.0, 5.0 if slope else 4.0])
    assert element.end_height == 50.0 + 800.0 * slope


def test_what_is_not_said_is_level_straight_and_exact() -> None:
    plain = straight((1.0, 2.0), EAST, 9.0)
    assert (plain.sweep, plain.radius, plain.height, plain.slope, plain.bend) == (0.0, math.inf, 0.0, 0.0, 0.0)
    curved = arc((1.0, 2.0), EAST, 9.0, 0.5)
    assert (curved.height, curved.slope, curved.bend) == (0.0, 0.0, 0.0)
    assert (Straight(9.0).slope, Way("scarf").slant) == (0.0, 0.0)
    assert Run("wall", (plain,), (0.0,)).level == lay_out("wall", [Straight(9.0)]).level == 0.0
    assert Stand((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)) == IN_PLAN


def test_a_run_stands_in_the_scene_as_it_was_drawn() -> None:
    stand = Stand()
    assert stand.origin == (0.0, 0.0, 0.0)
    assert np.array_equal([stand.x, stand.y, stand.z], np.eye(3))


def test_a_measurement_of_which_nothing_more_is_said_is_held() -> None:
    assert (Reading().within, Reading().radius_within) == (0.0, 0.0)
    assert Arrival((5.0, 6.0)).within == 0.0
    held = Measured(1, "straight", 800.0)
    assert (held.within, held.sigma, held.stretch) == (0.0, 0.0, 1.0)
    assert held.as_read(800.0) == 800.0
