"""Angles: exact values, quarter turns that stay square, and the whole text of errors."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.units import angle, cos_sin, degrees_text, parse_angle

F = Fraction


def refusal(read: Callable[[Any], object], value: object) -> str:
    """The whole text of the error that reading a value ends in."""
    with pytest.raises(PreviewError) as caught:
        read(value)
    assert [(problem.place, problem.file) for problem in caught.value.problems] == [("", None)]
    return str(caught.value)


@pytest.mark.parametrize(
    ("value", "degrees"),
    [
        ("45", F(45)), (45, F(45)), (22.5, F(45, 2)), ("22 1/2", F(45, 2)), ("22-1/2°", F(45, 2)),
        ("22½°", F(45, 2)), ("45°", F(45)), ("45º", F(45)), ("45 deg", F(45)), ("45 Degrees", F(45)),
        ("133.6", F("133.6")), (133.6, F("133.6")), ("-30", F(-30)), ("−30°", F(-30)), (F(360, 7), F(360, 7)),
        ("0", F(0)), (3600, F(3600)), (-3600.0, F(-3600)),
    ],
)  # fmt: skip
def test_angles(value: str | int | float | Fraction, degrees: Fraction) -> None:
    assert parse_angle(value) == degrees
    assert angle(value) == pytest.approx(math.radians(float(degrees)), rel=4e-16, abs=0)


LIKE_ANGLE = "\n  fix: write an angle like 45, 22.5 or 22 1/2"
MARKS = (
    "\n  feet, inches or minutes are marked in it, and an angle is in degrees only"
    "\n  fix: write minutes as a decimal or a fraction of a degree, as in 45, 22.5 or 22 1/2"
)
TURNS = "\n  it is more than 3600 degrees, ten whole turns\n  fix: check the number"
REFUSED_ANGLES: dict[object, str] = {
    "": f'""\n  there is nothing in it{LIKE_ANGLE}',
    "square": f'"square"\n  there is no number in it{LIKE_ANGLE}',
    "45° 30'": f'"45° 30\'"{MARKS}',
    '45"': f'"45\\""{MARKS}',
    "1.5 rad": '"1.5 rad"\n  "rad" is not a unit of angle known here\n  fix: use degrees, as in 45, 22.5 or 22 1/2',
    "45:30": f'"45:30"\n  ":" has no meaning here{LIKE_ANGLE}',
    "45 deg left": f'"45 deg left"\n  "left" has no meaning after an angle{LIKE_ANGLE}',
    "22 3/2": '"22 3/2"\n  the fraction 3/2 after a whole number is one or more\n'
    "  fix: write 23 1/2 in place of 22 3/2 if that is meant, or correct the fraction",
    "3600 1/100": f'"3600 1/100"{TURNS}',
    -3601: f"-3601{TURNS}",
    False: f"false\n  true or false is not an angle{LIKE_ANGLE}",
    math.inf: f"inf\n  inf is not an angle{LIKE_ANGLE}",
}


@pytest.mark.parametrize("value", REFUSED_ANGLES)
def test_refused_angles(value: object) -> None:
    assert refusal(parse_angle, value) == REFUSED_ANGLES[value]
    assert refusal(angle, value) == REFUSED_ANGLES[value]


@pytest.mark.parametrize("turns", range(-40, 41))
def test_quarter_turns_are_exact(turns: int) -> None:
    assert angle(90 * turns) == angle(f"{90 * turns}°") == turns * math.pi / 2
    square = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[turns % 4]
    near = angle(90 * turns)
    for _ in range(3):
        assert cos_sin(near) == (cos_sin(-near)[0], square[1]) == square
        near = math.nextafter(near, math.inf)


def test_turns_that_add_up_to_square_are_square() -> None:
    twelfth = math.pi / 6
    assert sum([twelfth] * 6) != math.pi, "else this test shows nothing"
    assert cos_sin(sum([twelfth] * 6)) == (-1.0, 0.0)
    assert cos_sin(twelfth + twelfth + twelfth - math.pi / 2) == (1.0, 0.0)
    assert cos_sin(math.radians(133.6) + math.radians(46.4)) == (-1.0, 0.0)


def test_an_angle_near_square_stays_what_it_is() -> None:
    for off in (1e-14, -1e-14, 1e-9, 1e-3):
        cos, sin = cos_sin(math.pi / 2 + off)
        assert cos == pytest.approx(-off, rel=0.1)
        assert sin <= 1.0
        assert cos_sin(off) == (math.cos(off), math.sin(off))


def test_where_floats_are_far_apart_nothing_is_made_square() -> None:
    for far in (1e16, -1e300):
        assert cos_sin(far) == (math.cos(far), math.sin(far))


def test_cosines_known_as_roots() -> None:
    """Closed forms of the elementary angles."""
    assert cos_sin(angle(30)) == pytest.approx((math.sqrt(3) / 2, 0.5), rel=1e-15)
    assert cos_sin(angle(45)) == pytest.approx((math.sqrt(0.5), math.sqrt(0.5)), rel=1e-15)
    cos_15, sin_15 = (math.sqrt(6) + math.sqrt(2)) / 4, (math.sqrt(6) - math.sqrt(2)) / 4
    assert cos_sin(angle(-165)) == pytest.approx((-cos_15, -sin_15), rel=1e-15)
    assert cos_sin(angle(36))[0] == pytest.approx((1 + math.sqrt(5)) / 4, rel=1e-15)


def test_angles_that_are_none() -> None:
    assert all(math.isnan(part) for part in cos_sin(math.nan))
    with pytest.raises(ValueError, match=r"math domain error|finite"):
        cos_sin(math.inf)


@given(st.floats(-1e9, 1e9))
def test_cos_and_sin_are_right_everywhere(radians: float) -> None:
    cos, sin = cos_sin(radians)
    close = 8 * math.ulp(max(abs(radians), 2.0))
    assert abs(cos - math.cos(radians)) <= close
    assert abs(sin - math.sin(radians)) <= close
    assert str(cos) != "-0.0"


@pytest.mark.parametrize(
    ("degrees", "text"),
    [
        (33.7, "33.7°"),
        (45, "45°"),
        (33.6901, "33.69°"),
        (-90, "-90°"),
        (0, "0°"),
        (0.0004, "0.0004°"),
        (360, "360°"),
    ],
)
def test_degrees_text(degrees: float, text: str) -> None:
    assert degrees_text(math.radians(degrees)) == text
