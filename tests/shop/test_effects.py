"""First-order openings against brute force: wood drawn as polygons, turned, pushed together, and the gaps measured.

Only the plan geometry of a corner is shared with the code; each error is built here as what it is, and the pieces slide
along their walls until they touch.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from shapely import LineString, Point, Polygon
from shapely.affinity import translate

from preview.joinery import Joint, Passage, Piece, join
from preview.runs import Curve, Element, Run, Side, Straight
from preview.shop.effects import (
    beside_a_curve,
    by_angle,
    by_radius,
    by_swelling,
    faces_in_elevation,
    faces_in_plan,
    of_a_cope,
)
from samples import block, corner, meeting

WIDE = 31.75
TURNS = [90, -90, 45, -45, 110, -110, 8]
DEGREES = [0.25, 0.5, 1.0]


def turned(v: np.ndarray, angle: float) -> np.ndarray:
    cos, sin = math.cos(angle), math.sin(angle)
    return np.array([v[0] * cos - v[1] * sin, v[0] * sin + v[1] * cos])


def pushed(turn: float, *, wall: float = 0.0, saw: float = 0.0, strain: float = 0.0) -> tuple[float, float]:
    """The gaps (heel, toe), mm, of two strips WIDE mm wide whose walls turn by `turn` (+ toward the room) and are out
    by `wall`, each cut `saw` too steep at the heel, and grown across by `strain`."""
    t1, n1 = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    t2, n2 = turned(t1, turn + wall), turned(n1, turn + wall)
    b = (math.pi - turn) / 2 + saw  # between the cut and the wall, on the wood's side
    setback, width = WIDE / math.tan(b), WIDE * (1 + strain)
    toe1, toe2 = -setback * t1 + width * n1, setback * t2 + width * n2
    origin = np.zeros(2)
    first = Polygon([origin, toe1, toe1 - 500 * t1, -500 * t1])
    second = Polygon([origin, toe2, toe2 + 500 * t2, 500 * t2])

    def apart(slide: float) -> tuple[Polygon, Polygon]:
        return translate(first, *(-slide * t1)), translate(second, *(slide * t2))

    def overlap(slide: float) -> float:
        one, two = apart(slide)
        return float(one.intersection(two).area)

    slide = 0.0
    if overlap(0.0) > 1e-9:
        low, high = 0.0, 50.0
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if overlap(middle) > 1e-9 else (low, middle)
        slide = high
    heels = (-slide * t1, slide * t2)
    toes = (toe1 - slide * t1, toe2 + slide * t2)
    return float(np.linalg.norm(heels[1] - heels[0])), float(np.linalg.norm(toes[1] - toes[0]))


def worst(measure: Callable[[float], tuple[float, float]], error: float) -> tuple[float, float]:
    """The larger gap at heel and at toe, of an error either way."""
    there, back = measure(error), measure(-error)
    return max(there[0], back[0]), max(there[1], back[1])


def the_joint(turn: float, room: Side = "left") -> Joint:
    return join(corner(math.radians(turn), room), "m", block(WIDE)).joints[1]


@pytest.mark.parametrize("degrees", DEGREES)
@pytest.mark.parametrize("turn", TURNS)
def test_saw(turn: float, degrees: float) -> None:
    error = math.radians(degrees)
    found = by_angle(faces_in_plan(the_joint(turn), 0, WIDE), 2 * error, "saw")
    heel, toe = worst(lambda e: pushed(math.radians(turn), saw=e), error)
    assert found.opens == "either"
    assert (found.heel, found.toe) == pytest.approx((heel, toe), rel=0.05)


@pytest.mark.parametrize("degrees", DEGREES)
@pytest.mark.parametrize("turn", TURNS)
def test_wall(turn: float, degrees: float) -> None:
    error = math.radians(degrees)
    found = by_angle(faces_in_plan(the_joint(turn), 0, WIDE), error, "wall")
    heel, toe = worst(lambda e: pushed(math.radians(turn), wall=e), error)
    assert (found.heel, found.toe) == pytest.approx((heel, toe), rel=0.05)


@pytest.mark.parametrize("strain", [0.004, -0.004, 0.015, -0.015])
@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("turn", TURNS)
def test_swelling(turn: float, room: Side, strain: float) -> None:
    """Which end opens too: the sharp point of the pieces where they swell, the other one where they shrink."""
    found = by_swelling(faces_in_plan(the_joint(turn, room), 0, WIDE), strain)
    heel, toe = pushed(math.radians(turn), strain=strain)
    assert (found.heel, found.toe) == pytest.approx((heel, toe), rel=0.02, abs=1e-5)
    assert found.opens == ("heel" if heel > toe else "toe")
    assert found.opens == ("heel" if (strain > 0) == (turn > 0) else "toe")


def test_brute_force_measures_what_it_should() -> None:
    """Nothing wrong, nothing open; and a corner out by 2° on a joint of 44.9 mm leaves 44.9 x 2 sin 1°."""
    assert pushed(math.pi / 2) == pytest.approx((0.0, 0.0), abs=1e-9)
    heel, toe = pushed(math.pi / 2, wall=math.radians(-2))
    assert (heel, toe) == pytest.approx((0.0, WIDE * math.sqrt(2) * 2 * math.sin(math.radians(1))), abs=1e-9)


@pytest.mark.parametrize("degrees", [0.5, -0.5])
@pytest.mark.parametrize("turn", [90, 60, 120])
def test_cope_and_a_wall_that_is_out(turn: float, degrees: float) -> None:
    """The coped edge carried round with its wall, at every height; where it stands off the face it was cut to."""
    phi, w = math.radians(turn), math.radians(degrees)
    f = np.linspace(0.0, WIDE, 50)
    along = f / math.sin(phi) - f / math.tan(phi)
    edge = along[:, None] * turned(np.array([1.0, 0.0]), phi + w) + f[:, None] * turned(np.array([0.0, 1.0]), phi + w)
    gap = edge[:, 1] - f
    gap -= gap.min()
    (found,) = of_a_cope(phi, WIDE, abs(w), None)
    assert found.opens == "either"
    assert max(gap[0], gap[-1]) == pytest.approx(found.toe, rel=0.02)
    miter = by_angle(faces_in_plan(the_joint(turn), 0, WIDE), abs(w), "wall")
    assert found.toe < miter.toe


@pytest.mark.parametrize("strain", [0.01, -0.01])
@pytest.mark.parametrize("turn", [90, 60, 120])
def test_cope_and_wood_that_moves(turn: float, strain: float) -> None:
    phi = math.radians(turn)
    f = np.linspace(0.0, WIDE, 50)
    along = f / math.sin(phi) - f / math.tan(phi)
    grown = f * (1 + strain)
    edge = along[:, None] * turned(np.array([1.0, 0.0]), phi) + grown[:, None] * turned(np.array([0.0, 1.0]), phi)
    gap = edge[:, 1] - grown
    gap -= gap.min()
    (found,) = of_a_cope(phi, WIDE, None, strain)
    assert (found.heel, found.toe) == pytest.approx((gap[0], gap[-1]), abs=1e-9)
    assert found.opens == ("toe" if strain < 0 else "heel")


@pytest.mark.parametrize("off", [0.5, -0.5])
@pytest.mark.parametrize("sweep", [30, 60, 89, 120, 180])
def test_beside_a_curve(sweep: float, off: float) -> None:
    """A piece of a wrong radius pushed along its middle line from the wall's center, its end measured in the frame of
    the straight that it should meet."""
    half, R = math.radians(sweep) / 2, 300.0

    def mismatch(u: float) -> tuple[float, float]:
        """Step and gap at the end, for the wall's center at (0, 0) and the middle line along y."""
        end = np.array([(R + off) * math.sin(half), (R + off) * math.cos(half) - u])
        true = np.array([R * math.sin(half), R * math.cos(half)])
        radial, ahead = np.array([math.sin(half), math.cos(half)]), np.array([math.cos(half), -math.sin(half)])
        return float((end - true) @ radial), float((end - true) @ ahead)

    found = beside_a_curve(math.radians(sweep), off)
    step, gap = mismatch(0.0)
    assert (abs(step), gap) == pytest.approx((abs(off), 0.0), abs=1e-9)
    u = 0.2
    assert mismatch(u) == pytest.approx((off - u * math.cos(half), u * math.sin(half)), abs=1e-9)
    if sweep < 90:
        flush = off / math.cos(half)
        step, gap = mismatch(flush)
        assert step == pytest.approx(0.0, abs=1e-9)
        assert found.heel == found.toe == pytest.approx(abs(gap), rel=1e-6)
    else:
        assert found.heel == found.toe == pytest.approx(abs(off))
    assert found.opens == "both"


@pytest.mark.parametrize("behind", [0.0, 20.0])
@pytest.mark.parametrize("sweep", [70, -70])
@pytest.mark.parametrize("turn", [40, -40])
def test_radius_at_a_curved_miter(turn: float, sweep: float, behind: float) -> None:
    """The curve drawn again on a wrong radius with every point at its own station: how far its end then stands from
    the other's, by shapely.

    A point moves by the square of its projection, so a piece that reaches behind the wall line opens at one end by
    what its face moves more than its back, at the other by all that its face moves.
    """
    off, R = 1.5, 200.0
    run = meeting(Straight(400.0), math.radians(turn), Curve(math.radians(sweep), R))
    straight, curve = join(run, "m", block(WIDE + behind).moved(-behind, 0.0)).pieces
    d = np.linspace(-behind, WIDE, 200)
    edge = straight.end.points(d) - np.array(straight.end.at)
    stations = curve.stations(d)[0]
    line = LineString(edge)
    side = np.array(straight.end.before.tangent) + np.array(straight.end.after.tangent)

    def drawn(radius: float) -> np.ndarray:
        """The curved piece's end on a back line of a radius, from its center."""
        k = math.copysign(1.0 / radius, sweep)
        normal, tangent = np.array(curve.normal), np.array(curve.element.tangent)
        ring = [turned(np.array([0.0, d_i - 1 / k]), k * s) for d_i, s in zip(d, stations, strict=True)]
        return np.array([normal / k + x * tangent + y * normal for x, y in ring])

    assert np.abs(drawn(R) - edge).max() < 1e-9
    heel = toe = 0.0
    for radius in (R + off, R - off):
        moved = drawn(radius)
        away = np.array([line.distance(Point(*point)) for point in moved])
        away *= np.sign((moved - edge) @ side)
        away -= away.min()
        heel, toe = max(heel, away[0]), max(toe, away[-1])
    found = by_radius(straight.end, faces_in_plan(straight.end, -behind, WIDE), off)
    assert (found.heel, found.toe) == pytest.approx((heel, toe), rel=0.1, abs=0.003)
    assert max(heel, toe) > 0.01
    if behind:
        assert min(heel, toe) < 0.75 * max(heel, toe)  # 1 - (20 / 31.75)² = 0.60 to first order


def in_one_wall(pitch: float) -> tuple[Piece, Piece]:
    """A level straight and one that climbs in the same wall, their sections square to their length."""
    first = Element((0.0, 0.0), (1.0, 0.0), 500.0)
    second = Element((500.0, 0.0), (1.0, 0.0), 400.0, slope=math.tan(pitch))
    run = Run("stair", (first, second), (0.0, 0.0), places=("step 1", "step 2"), raked="same")
    one, two = join(run, "m", block(20.0, WIDE)).pieces
    return one, two


@pytest.mark.parametrize("degrees", [30, -30])
def test_a_miter_in_elevation_is_a_miter(degrees: float) -> None:
    """The same polygons stood upright: the foot is the heel, the top the toe, the climb the turn."""
    pitch, error = math.radians(degrees), math.radians(0.5)
    one, two = in_one_wall(pitch)
    shape = faces_in_elevation(one.end, one.element.end_slope, two.element.slope, 0, WIDE)
    saw = by_angle(shape, 2 * error, "saw")
    assert (saw.heel, saw.toe) == pytest.approx(worst(lambda e: pushed(pitch, saw=e), error), rel=0.05)
    swelling = by_swelling(shape, -0.01)
    assert (swelling.heel, swelling.toe) == pytest.approx(pushed(pitch, strain=-0.01), rel=0.02, abs=1e-5)


def test_a_tangent_joint_opens_like_a_butt() -> None:
    along = Passage((1.0, 0.0), (0.0, 1.0))
    curved = Passage((1.0, 0.0), (0.0, 1.0), 1 / 300)
    joint = Joint("j", "tangent", (0.0, 0.0), along, curved)
    shape = faces_in_plan(joint, 0.0, WIDE)
    found = by_angle(shape, 0.01, "saw")
    assert (found.heel, found.toe) == pytest.approx((WIDE * 0.01, WIDE * 0.01))
    assert by_swelling(shape, 0.01).toe == pytest.approx(0.0, abs=1e-12)
