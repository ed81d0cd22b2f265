"""Points laid out by plane geometry and carried back: lines, circles, climbs and easements, for either side of the
room, wherever a run starts and stands."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from preview.checks.place import carried_back, in_plan, in_scene, laid
from preview.joinery import Piece, join
from preview.runs import Corner, Curve, Element, Side, Stand, Straight, lay_out
from samples import RIGHT_ANGLE, block

Array = np.ndarray
START = (130.0, -75.0)
STAND = Stand((500.0, -20.0, 300.0), (0.0, 0.6, 0.8), (0.0, -0.8, 0.6), (1.0, 0.0, 0.0))
"""A run on a wall that leans: its z, out of the wall, is the scene's x."""


def piece(element: Element, hand: int, **more: object) -> Piece:
    made = join(lay_out("wall", [Straight(300.0)]), "base", block(20.0)).pieces[0]
    return replace(made, element=element, hand=hand, **more)


def measures(count: int = 40) -> tuple[Array, Array, Array]:
    """Projections, heights and stations, mm."""
    random = np.random.default_rng(9)
    return random.uniform(-3.0, 40.0, count), random.uniform(-10.0, 90.0, count), random.uniform(-20.0, 320.0, count)


def frame(heading: float, hand: int) -> tuple[Array, Array]:
    """The direction of travel and the one into the room, in plan."""
    tangent = np.array((math.cos(heading), math.sin(heading)))
    return tangent, hand * np.array((-tangent[1], tangent[0]))


HANDS = pytest.mark.parametrize("hand", [1, -1])
HEADINGS = pytest.mark.parametrize("heading", [0.0, 2.2, -1.1])


@HANDS
@HEADINGS
@pytest.mark.parametrize(
    ("height", "slope", "shear"), [(0.0, 0.0, 0.0), (45.0, 0.0, 0.0), (0.0, 0.6, 0.0), (-12.0, -0.4, 0.3)]
)
def test_a_straight_that_climbs_or_not(heading: float, hand: int, height: float, slope: float, shear: float) -> None:
    d, h, station = measures()
    tangent, into = frame(heading, hand)
    plan = np.array(START) + station[:, None] * tangent + d[:, None] * into
    points = np.column_stack([plan, height + slope * station + shear * d + h])
    made = piece(Element(START, tuple(tangent.tolist()), 300.0, height=height, slope=slope), hand, shear=shear)
    assert np.array(carried_back(made, points)) == pytest.approx(np.array((d, h, station)), abs=1e-9)
    there = laid(made, points)
    assert np.array((there.d, there.h, there.station)) == pytest.approx(np.array((d, h, station)), abs=1e-9)
    assert (there.points == points).all()
    assert [cut.tolist() for cut in there.cuts] == [[0.0] * 40, [300.0] * 40]


@HANDS
@pytest.mark.parametrize("slope", [0.5, -0.75])
def test_a_profile_square_to_the_rake(hand: int, slope: float) -> None:
    """Up is square to the slope; the station is where the foot of that square stands in plan."""
    d, h, station = measures()
    tangent, into = frame(0.7, hand)
    pitch = math.atan(slope)
    plan = np.array(START) + (station - h * math.sin(pitch))[:, None] * tangent + d[:, None] * into
    points = np.column_stack([plan, 25.0 + station * slope + h * math.cos(pitch)])
    made = piece(Element(START, tuple(tangent.tolist()), 300.0, height=25.0, slope=slope), hand, square=True)
    assert np.array(carried_back(made, points)) == pytest.approx(np.array((d, h, station)), abs=1e-9)


@HANDS
@pytest.mark.parametrize("radius", [700.0, -700.0])
@pytest.mark.parametrize("slope", [0.0, 0.25, -0.3])
def test_an_easement_rises_by_a_circle(hand: int, radius: float, slope: float) -> None:
    """The pitch turns by the way walked over the radius, so across goes R (sin b - sin a), up R (cos a - cos b)."""
    random = np.random.default_rng(2)
    d, h = random.uniform(0.0, 30.0, 30), random.uniform(0.0, 80.0, 30)
    first = math.atan(slope)
    pitch = first + np.sign(radius) * random.uniform(0.0, 0.4, 30)
    station = radius * (np.sin(pitch) - math.sin(first))
    rise = radius * (math.cos(first) - np.cos(pitch))
    tangent, into = frame(-0.4, hand)
    plan = np.array(START) + station[:, None] * tangent + d[:, None] * into
    points = np.column_stack([plan, 15.0 + rise + 0.2 * d + h])
    element = Element(START, tuple(tangent.tolist()), 200.0, height=15.0, slope=slope, bend=1 / radius)
    assert np.array(carried_back(piece(element, hand, shear=0.2), points)) == pytest.approx(
        np.array((d, h, station)), abs=1e-9
    )


@HANDS
@HEADINGS
@pytest.mark.parametrize("sweep", [0.6, -0.6, 2.5, -5.9, 6.2])
def test_a_curve_to_nearly_all_round(heading: float, hand: int, sweep: float) -> None:
    """About its center, a radius to the left or the right of the start; the molding inside or outside of it."""
    radius, turns = 150.0, math.copysign(1.0, sweep)
    d, h, _ = measures()
    along = np.linspace(-0.01, abs(sweep) + 0.01, 40)
    tangent, into = frame(heading, 1)
    center = np.array(START) + turns * radius * into
    reach = radius - turns * hand * d
    spoke = -turns * into
    angle = turns * along
    cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
    turned = spoke * cos + np.array((-spoke[1], spoke[0])) * sin
    points = np.column_stack([center + reach[:, None] * turned, h])
    made = piece(Element(START, tuple(tangent.tolist()), radius * abs(sweep), sweep, radius), hand)
    assert np.array(carried_back(made, points)) == pytest.approx(np.array((d, h, along * radius)), abs=1e-9)


@HANDS
@pytest.mark.parametrize("ends", [0, 1])
def test_a_curve_nearly_all_round_whose_cut_runs_on_past_its_end(hand: int, ends: int) -> None:
    """A niche of 100 mm, 326 degrees round, square to the wall beside it: d out, the wall's face passes d from the
    center, so the face of the niche runs on by arcsin(d / (100 - d)), to 30 degrees past where its back line ends."""
    side: Side = "left" if hand > 0 else "right"
    long = [Corner(-hand * RIGHT_ANGLE), Curve(hand * 5.69, 100.0)]
    steps = [Straight(400.0), *long] if not ends else [long[1], long[0], Straight(400.0)]
    curve = join(lay_out("niche", steps, room=side), "base", block(33.0)).pieces[1 - ends]
    d = np.linspace(0.0, 33.0, 12)
    past = np.arcsin(d / (100.0 - d)) * 100.0
    cut = curve.end if ends else curve.begin
    out, up, station = carried_back(curve, cut.ring(d, np.full(12, 7.0)))
    assert out == pytest.approx(d, abs=1e-9)
    assert up == pytest.approx(np.full(12, 7.0))
    assert station == pytest.approx(569.0 + past if ends else -past, abs=1e-9)


def test_a_run_that_stands_elsewhere_is_measured_in_its_own_frame() -> None:
    """x, y and z of the run along three directions of the scene from its origin."""
    made = piece(Element(START, (1.0, 0.0), 300.0), 1, stand=STAND)
    points = np.array([(0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 10.0, 0.0), (0.0, 0.0, 100.0), (1.0, 10.0, 100.0)])
    wanted = [
        (500.0, -20.0, 300.0),
        (500.0, -19.4, 300.8),
        (500.0, -28.0, 306.0),
        (600.0, -20.0, 300.0),
        (600.0, -27.4, 306.8),
    ]
    assert in_scene(made, points) == pytest.approx(np.array(wanted), abs=1e-12)
    assert in_plan(made, np.array(wanted)) == pytest.approx(points, abs=1e-12)
    there = laid(made, np.array(wanted))
    assert there.points == pytest.approx(points, abs=1e-12)
    assert there.d == pytest.approx(points[:, 1] + 75.0)
    assert there.h == pytest.approx(points[:, 2])
    assert there.station == pytest.approx(points[:, 0] - 130.0)
    flat = piece(Element(START, (1.0, 0.0), 300.0), 1)
    assert (in_scene(flat, points) == points).all()
    assert (in_plan(flat, points) == points).all()
