"""The joint curve against published loci, and near tangency against fifty digits.

Points equally far from a line and a circle lie on a parabola with its focus at the circle's center and the line,
moved by the radius, as directrix (Calculus: Early Transcendentals, 1st ed., ch. 10.4, problem 87). Points equally
far from two circles lie on a hyperbola with its foci at the centers when both offsets grow or both shrink, on an
ellipse when one grows as the other shrinks; with equal radii the hyperbola is a straight line (P. Pamfilos,
ConicsFromCir, University of Crete). The trade: only two curves of equal radius take a straight cut (Fairham,
Woodwork Joints; the ICS treatise calls it the hunting miter).
"""

from __future__ import annotations

import math
from decimal import Decimal, localcontext

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from preview.joinery import Joint, Passage, cut_directions, join, joint_points, passages
from preview.runs import Curve, Straight, Vec2
from samples import block, meeting

DEGREE = math.pi / 180


def passage(normal: Vec2, curvature: float = 0.0) -> Passage:
    """The back line whose normal into the room is given, the room on its left."""
    return Passage((normal[1], -normal[0]), normal, curvature)


def on_circle(at: Vec2, center: Vec2, wraps: bool) -> Passage:
    """A circular back line through `at`; the molding wraps it (projects away from its center) or lines it."""
    out = (at[0] - center[0], at[1] - center[1])
    radius = math.hypot(*out)
    sign = 1 if wraps else -1
    return passage((sign * out[0] / radius, sign * out[1] / radius), -sign / radius)


def between(at: Vec2, before: Passage, after: Passage) -> Joint:
    (ax, ay), (bx, by) = before.normal, after.normal
    turn = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
    return Joint("corner", "curved miter", at, before, after, turn)


def far(points: np.ndarray, center: Vec2) -> np.ndarray:
    return np.hypot(points[:, 0] - center[0], points[:, 1] - center[1])


def test_line_and_circle_at_the_published_points() -> None:
    """Circle of radius 10 round 0, line x = 3; derived from the published locus, to the digits given."""
    at = (3.0, math.sqrt(91))
    joint = between(at, passage((-1.0, 0.0)), on_circle(at, (0, 0), wraps=True))
    points = joint.points(np.array([0.0, 1.0, 2.0, 3.0]))
    assert points == pytest.approx(np.array([(3, 9.5394), (2, 10.8167), (1, 11.9583), (0, 13.0)]), abs=5e-5)
    k, y2 = 3.0, points[:, 1] ** 2
    assert y2 == pytest.approx((k + 10) ** 2 - 2 * (k + 10) * points[:, 0], rel=1e-14)


@pytest.mark.parametrize("wraps", [True, False], ids=["wrapping", "lining"])
@pytest.mark.parametrize("toward", [1, -1], ids=["line moves toward the center", "line moves away"])
def test_line_and_circle_meet_on_a_parabola(wraps: bool, toward: int) -> None:
    """Distances to the center and to the line moved by the radius are equal (the directrix)."""
    at = (6.0, 8.0)
    joint = between(at, passage((-toward * 1.0, 0.0)), on_circle(at, (0, 0), wraps))
    d = np.linspace(0.0, 0.9 * min(joint.reach(), 10.0), 40)
    points = joint.points(d)
    assert points[:, 0] == pytest.approx(6 - toward * d, abs=1e-12)
    assert far(points, (0, 0)) == pytest.approx(10 + (1 if wraps else -1) * d, abs=1e-12)
    directrix = 6 + toward * (1 if wraps else -1) * 10
    assert far(points, (0, 0)) == pytest.approx(np.abs(points[:, 0] - directrix), abs=1e-12)
    assert (points[:, 1] > 0).all()  # the branch that starts at the corner


@pytest.mark.parametrize("wraps", [True, False], ids=["both wrapped", "both lined"])
def test_two_circles_of_one_sense_meet_on_a_hyperbola(wraps: bool) -> None:
    """A published example (math Q&A 95518): R 2 at (0, 0) and r 1 at (4, 0) give y = (1/2) (15 (4 x² - 16 x + 15))^1/2.

    Those two lie apart; 2 mm further out both ways they cross, and the corner starts there on the same branch.
    """

    def published(x: np.ndarray) -> np.ndarray:
        return np.asarray(0.5 * np.sqrt(15 * (4 * x**2 - 16 * x + 15)))

    grown = 2.0 if wraps else 11.0  # lined circles shrink toward the published ones
    radii = (2 + grown, 1 + grown)
    x = (radii[0] ** 2 - radii[1] ** 2 + 16) / 8
    at = (x, math.sqrt(radii[0] ** 2 - x**2))
    joint = between(at, on_circle(at, (0, 0), wraps), on_circle(at, (4, 0), wraps))
    d = np.linspace(0.0, 4.5 if wraps else 10.0, 19)
    points = joint.points(d)
    assert far(points, (0, 0)) - far(points, (4, 0)) == pytest.approx(1.0, abs=1e-12)
    assert points[:, 1] == pytest.approx(published(points[:, 0]), abs=1e-10)
    if wraps:
        assert points[-1] == pytest.approx((4.0, 7.5), abs=1e-12)  # 6.5 from both circles
        assert (far(points[-1:], (0, 0)) - 2, far(points[-1:], (4, 0)) - 1) == pytest.approx((6.5, 6.5))


@pytest.mark.parametrize("first_wraps", [True, False])
def test_two_circles_of_opposite_senses_meet_on_an_ellipse(first_wraps: bool) -> None:
    """a = (R + r)/2 and b² = a² - c², foci at the centers."""
    radii, c = (30.0, 40.0), 25.0
    x = (radii[0] ** 2 - radii[1] ** 2) / (4 * c)
    at = (x, math.sqrt(radii[0] ** 2 - (x + c) ** 2))
    joint = between(at, on_circle(at, (-c, 0), first_wraps), on_circle(at, (c, 0), not first_wraps))
    d = np.linspace(0.0, 0.999 * joint.reach(), 40)
    points = joint.points(d)
    assert far(points, (-c, 0)) + far(points, (c, 0)) == pytest.approx(70.0, abs=1e-10)
    a, b = 35.0, math.sqrt(35.0**2 - c**2)
    assert (points[:, 0] / a) ** 2 + (points[:, 1] / b) ** 2 == pytest.approx(1.0, abs=1e-12)


def test_two_circles_of_equal_radius_and_sense_take_a_straight_cut() -> None:
    at = (0.0, 4.0)
    joint = between(at, on_circle(at, (-3, 0), wraps=True), on_circle(at, (3, 0), wraps=True))
    points = joint.points(np.linspace(0.0, 50.0, 11))
    assert np.abs(points[:, 0]).max() == 0.0
    assert far(points, (3, 0)) == pytest.approx(5 + np.linspace(0.0, 50.0, 11), abs=1e-12)


@pytest.mark.parametrize("turn", [150, 90, 45, 1, -1, -30, -90, -133.6, -150])
def test_two_straights_meet_on_a_plane(turn: float) -> None:
    """The plane miter: a point d out stops d tan(half the turn) short of the corner, or past it outside."""
    joint = between((5.0, -2.0), passage((0.0, 1.0)), passage((-math.sin(turn * DEGREE), math.cos(turn * DEGREE))))
    d = np.array([-4.0, 0.0, 0.5, 17.0, 120.0])
    past = -d * math.tan(turn * DEGREE / 2)
    assert joint.points(d) == pytest.approx(np.column_stack([5 + past, -2 + d]), rel=1e-13, abs=1e-13)
    assert joint.reach() == math.inf


def solved(tau: float, k1: float, k2: float, d: float) -> tuple[float, float]:
    """Where the offsets of two back lines through (0, 0) meet, in fifty digits, by Newton's steps from the corner.

    The first has its normal along y, the second is turned by tau; |p - n/k| = 1/k - d, cleared of the fraction.
    """
    with localcontext() as context:
        context.prec = 50
        # A series for small angles: the floats' own cosine would already have lost what is asked for here.
        t = Decimal(tau)
        nx = -sum((-1) ** n * t ** (2 * n + 1) / math.factorial(2 * n + 1) for n in range(20))
        ny = sum((-1) ** n * t ** (2 * n) / math.factorial(2 * n) for n in range(20))
        a, b, out = Decimal(k1), Decimal(k2), Decimal(d)
        x, y = Decimal(0), out
        for _ in range(60):
            bend = (x * x + y * y - out * out) / 2
            f = y - out - a * bend
            g = nx * x + ny * y - out - b * bend
            fx, fy, gx, gy = -a * x, 1 - a * y, nx - b * x, ny - b * y
            det = fx * gy - fy * gx
            step = ((f * gy - fy * g) / det, (fx * g - f * gx) / det)
            x, y = x - step[0], y - step[1]
            if abs(step[0]) + abs(step[1]) < Decimal(10) ** -40:
                break
        return float(x), float(y)


@pytest.mark.parametrize("tau", [1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9])
@pytest.mark.parametrize("side", [1, -1], ids=["inside", "outside"])
@pytest.mark.parametrize("bends", [(0.0, -0.02), (0.01, 0.0), (-0.02, -0.005), (0.01, -0.02)])
def test_no_digit_is_lost_toward_tangency(tau: float, side: int, bends: tuple[float, float]) -> None:
    """The offsets graze; the textbook quadratic loses half its digits here."""
    after = passage((-math.sin(side * tau), math.cos(side * tau)), bends[1])
    joint = between((0.0, 0.0), passage((0.0, 1.0), bends[0]), after)
    for d in (0.5, 10.0, 31.75):
        # A grazing corner of two curves reaches no further than where they part.
        if d < 0.999 * joint.reach():
            x, y = joint.points(np.array([d]))[0]
            assert (x, y) == pytest.approx(solved(side * tau, *bends, d), abs=2e-15 * d, rel=2e-12)


def test_a_tangent_joint_is_the_limit() -> None:
    """Turn 0 is the same formula: the cut runs square out from the wall."""
    joint = Joint("smooth", "tangent", (3.0, 4.0), passage((0.0, 1.0)), passage((0.0, 1.0), -0.02))
    d = np.array([0.0, 1.0, 30.0])
    assert joint.points(d).tolist() == [[3.0, 4.0], [3.0, 5.0], [3.0, 34.0]]


kinds = st.sampled_from([0.0, 1 / 15, -1 / 15, 1 / 60, -1 / 60, 1 / 60.5, 1 / 300, -1 / 2, -1e-6])


@given(kinds, kinds, st.integers(-150, 150), st.floats(0.0, 2 * math.pi))
def test_every_point_lies_its_projection_from_both_back_lines(k1: float, k2: float, turn: int, heading: float) -> None:
    """The definition itself, measured with centers and radii; at any heading, on either side of the wall."""
    assume(turn)
    normals = [(-math.sin(heading + a), math.cos(heading + a)) for a in (0.0, turn * DEGREE)]
    at = (120.0, -45.0)
    joint = between(at, passage(normals[0], k1), passage(normals[1], k2))
    most = min([0.98 * joint.reach(), 60.0] + [0.98 / k for k in (k1, k2) if k > 0])
    d = np.linspace(0.0, most, 9)
    points = joint.points(d)
    for normal, k in zip(normals, (k1, k2), strict=True):
        away = points - at
        if k:
            center = np.array(normal) / k
            out = np.copysign(1.0, k) * (abs(1 / k) - np.linalg.norm(away - center, axis=1))
        else:
            out = away @ np.array(normal)
        assert out == pytest.approx(d, abs=1e-9 if abs(k) > 1e-5 else 1e-8)


@given(kinds, kinds, st.integers(-140, 140), st.floats(0.0, 2 * math.pi))
def test_cut_directions_are_those_of_the_curve(k1: float, k2: float, turn: int, heading: float) -> None:
    """Against differences of the points themselves."""
    assume(turn)
    normals = [(-math.sin(heading + a), math.cos(heading + a)) for a in (0.0, turn * DEGREE)]
    joint = between((0.0, 0.0), passage(normals[0], k1), passage(normals[1], k2))
    most = min([0.8 * joint.reach(), 40.0] + [0.9 / k for k in (k1, k2) if k > 0])
    d = np.linspace(0.1 * most, most, 7)
    step = 1e-4 * most
    along = joint.points(d + step) - joint.points(d - step)
    before, after = passages([joint])
    found = cut_directions(before, after, joint_points([joint], d))[0]
    assert found == pytest.approx(along / np.linalg.norm(along, axis=1)[:, None], abs=1e-5)


@pytest.mark.parametrize("turn", [-150, -100, -40, 40, 100, 150])
@pytest.mark.parametrize("wraps", [True, False])
def test_a_walked_joint_is_the_drawn_one(turn: int, wraps: bool) -> None:
    """`join` reads the passages off a run; here they are drawn from the corner."""
    sweep = 30 * DEGREE * (-1 if wraps else 1)
    joint = join(meeting(Straight(900.0), turn * DEGREE, Curve(sweep, 800.0)), "m", block(10.0)).joints[1]
    drawn = between((900.0, 0.0), passage((0.0, 1.0)), passage(joint.after.normal, sweep / abs(sweep) / 800.0))
    d = np.linspace(0.0, 10.0, 5)
    assert joint.kind == "curved miter"
    assert joint.turn == pytest.approx(turn * DEGREE, abs=1e-15)
    assert joint.points(d) == pytest.approx(drawn.points(d), abs=1e-11)
    assert joint.after.normal == pytest.approx((-math.sin(turn * DEGREE), math.cos(turn * DEGREE)), abs=1e-15)
