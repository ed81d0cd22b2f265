"""The volumes of pieces that meet a curve at an angle, by the integral of the line and the circle that meet there."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from scipy.integrate import quad

from preview.joinery import exact_volume, exact_volumes, join
from preview.profiles import Arc, Line, Profile, make_profile
from preview.runs import Curve, Side, Straight
from samples import block, meeting

ROOMS: tuple[Side, Side] = ("left", "right")


def segment(deep: float, degrees: float) -> tuple[Profile, Callable[[Callable[[float], float]], float]]:
    """A round of so many degrees on its chord, and the integral over it of what depends on d alone.

    t off its nose a point is r cos t - r cos(half of it all) out, on a level line of 2 r sin t from top to bottom.
    """
    half = math.radians(degrees) / 2
    back = math.cos(half)
    r = deep / (1 - back)
    top = 2 * r * math.sin(half)
    arc = Arc((0.0, 0.0), (0.0, top), (-r * back, top / 2), 2 * half)
    profile = make_profile("round", [arc, Line((0.0, top), (0.0, 0.0))])

    def integral(of: Callable[[float], float]) -> float:
        def strip(t: float) -> float:
            return of(r * (math.cos(t) - back)) * 2 * (r * math.sin(t)) ** 2

        return float(quad(strip, 0.0, half, epsabs=1e-11, epsrel=1e-13, limit=200)[0])

    return profile, integral


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("radius", [40.0, 3.0, 0.5])
@pytest.mark.parametrize("degrees", [90.0, 50.0, -50.0])
def test_a_strip_against_a_curve_much_smaller_than_it_is_deep(room: Side, radius: float, degrees: float) -> None:
    """A strip 20 mm deep and 3 high, and round its end a curve that it wraps.

    The wall along x, the corner at the origin, and the curve's center at r (sin a, -cos a): d out the circle of r + d
    and the line y = d meet where x = r sin a -+ sqrt(r² sin² a + 2 r d (1 - cos a)): a parabola, integrated by hand.
    """
    angle, deep, high, long = math.radians(degrees), 20.0, 3.0, 90.0
    run = meeting(Straight(long), angle, Curve(-2.6, radius), room)
    straight, _ = join(run, "m", block(deep, high)).pieces
    a, b = 2 * radius * (1 - math.cos(angle)), (radius * math.sin(angle)) ** 2
    root = 2 / (3 * a) * ((a * deep + b) ** 1.5 - b**1.5)
    past = deep * radius * math.sin(angle) - math.copysign(root, angle)
    assert exact_volume(straight) == pytest.approx(high * (long * deep + past), rel=1e-11)


def aside(d: float) -> float:
    """How far a point d out on a niche of 40 mm stands from its center along the wall, where a straight meets it."""
    return math.sqrt(1600.0 - 80.0 * d)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize(("deep", "degrees"), [(19.3, 180.0), (19.3, 170.0), (12.0, 180.0), (12.0, 60.0)])
def test_a_round_all_but_as_deep_as_its_corner_goes(room: Side, deep: float, degrees: float) -> None:
    """At an outside square corner of a niche of 40 mm the two faces meet up to 20 mm out.

    The niche's center stands on the wall's line, 40 mm past the corner: d out the circle of 40 - d meets the line
    y = d at x = 40 - sqrt(1600 - 80 d).
    """
    profile, integral = segment(deep, degrees)
    run = meeting(Straight(300.0), -math.pi / 2, Curve(1.0, 40.0), room)
    straight = integral(lambda d: 340.0 - aside(d))
    curve = integral(lambda d: (40.0 - d) * (1.0 + math.atan2(d, aside(d))))
    assert exact_volumes(join(run, "m", profile).pieces) == pytest.approx([straight, curve], rel=2e-12)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("inside", [False, True])
def test_two_curves_of_one_radius_are_parted_by_a_straight_cut(room: Side, inside: bool) -> None:
    """Niches of 40 mm round an outside corner, or bows of 40 mm in an inside one, of 50 degrees: a plane, and yet not
    square to the curves.

    On a circle of radius p the cut is asin(40 sin 25° / p) from the middle of the two centers, and 25 degrees at the
    wall.
    """
    profile, integral = segment(12.0, 180.0)
    half, bend = math.radians(25.0), -1.0 if inside else 1.0
    run = meeting(Curve(bend, 40.0), 2 * half * -bend, Curve(bend, 40.0), room)

    def walked(d: float) -> float:
        on = 40.0 - bend * d
        return on * (1.0 + math.asin(40.0 * math.sin(half) / on) - half)

    assert exact_volumes(join(run, "m", profile).pieces) == pytest.approx([integral(walked)] * 2, rel=2e-12)


def test_no_pieces_have_no_volumes() -> None:
    assert exact_volumes([]).shape == (0,)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("begins", [True, False])
def test_one_curved_cut_is_enough(room: Side, begins: bool) -> None:
    """A curve of 40 mm and a straight: either is curved at one end, first or last, and square at the other."""
    steps: list[Straight | Curve] = [Straight(90.0), Curve(1.0, 40.0)]
    first, last = steps if begins else steps[::-1]
    profile, integral = segment(12.0, 180.0)
    pieces = join(meeting(first, -math.pi / 2, last, room), "m", profile).pieces
    both = exact_volumes(pieces if begins else pieces[::-1])
    want = [
        integral(lambda d: 130.0 - aside(d)),
        integral(lambda d: (40.0 - d) * (1.0 + math.atan2(d, aside(d)))),
    ]
    assert both == pytest.approx(want, rel=2e-12)
    assert [exact_volume(piece) for piece in pieces] == exact_volumes(pieces).tolist()
