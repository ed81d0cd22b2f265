"""Closed-form volumes against handbooks, solids cut by another kernel, and areas laid out in plan.

Pappus and Guldin: a section turned about an axis outside it sweeps its area times the way of its centroid (Larson &
Edwards, Calculus, sec. 7.6, theorem 7.1). Figures are scaled by 10, as a profile needs a back of at least 1 mm.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from manifold3d import CrossSection, Manifold

from preview.joinery import MemberRun, exact_volume, exact_volumes, integrated_volume, join, travel
from preview.profiles import Profile, flatten, measure
from preview.runs import Curve, Element, Run, Side, Straight, Vec2
from samples import (
    BASE,
    CROWN,
    RIGHT_ANGLE,
    around,
    block,
    corner,
    cove_spandrel,
    curve,
    half_round,
    meeting,
    quarter_round,
    stepped,
    wedge,
)
from strategies import joined, share

DEGREE = math.pi / 180


def one(run: Run, profile: Profile) -> float:
    return exact_volume(join(run, "m", profile).pieces[0])


def test_a_quarter_round_bulging_from_a_turned_corner() -> None:
    """r 1, square corner 5 from the axis, 90 degrees: 6.6921, derived by Pappus from c.g. 4 r / (3 pi)."""
    assert one(curve(-RIGHT_ANGLE, 50.0), quarter_round()) == pytest.approx(6692.1, abs=0.05)


def test_a_cove_spandrel_on_a_turned_corner() -> None:
    """r 1, square corner 5 from the axis, 90 degrees: 1.7608; Machinery's Handbook, 31st ed., p. 230: 0.2234 r."""
    assert one(curve(-RIGHT_ANGLE, 50.0), cove_spandrel()) == pytest.approx(1760.8, abs=0.05)


@pytest.mark.parametrize(
    ("R", "r", "published", "digits"),
    [
        (20.0, 10.0, 39.478e3, 0.5),  # Larson & Edwards, example 7: (x - 2)² + y² = 1 about y
        (25.0, 7.5, 27.76e3, 5.0),  # Machinery's Handbook, 31st ed., p. 93: D = 5, d = 1.5, 27.76 cubic inches
    ],
)
def test_a_half_round_inside_and_one_outside_make_a_torus(R: float, r: float, published: float, digits: float) -> None:
    quarter = one(curve(-RIGHT_ANGLE, R), half_round(r)) + one(curve(RIGHT_ANGLE, R), half_round(r))
    assert 4 * quarter == pytest.approx(published, abs=digits)
    assert 4 * quarter == pytest.approx(2 * math.pi**2 * R * r * r, rel=1e-14)


@pytest.mark.parametrize("profile", [BASE, CROWN, wedge(), cove_spandrel()], ids=lambda p: p.name)
@pytest.mark.parametrize("turn", [90, 30, -45, -90, -150])
def test_a_mitered_straight_is_its_area_times_its_length_at_the_centroid(profile: Profile, turn: float) -> None:
    """A miter plane is linear in d, so the centroid stands for the section."""
    size = measure(profile)
    first, second = join(corner(turn * DEGREE), "m", profile).pieces
    by_centroid = size.area * (300.0 - size.centroid[0] * math.tan(turn * DEGREE / 2))
    assert exact_volume(first) == pytest.approx(by_centroid, rel=1e-14)
    assert exact_volume(second) == pytest.approx(by_centroid, rel=1e-14)


def test_a_picture_frame_by_hand() -> None:
    """Four strips 20 x 40 mitered round the outside of a 1000 x 600 box: the outer block less the inner one."""
    line = join(around(), "m", block(20.0, 40.0))
    quarter = math.pi * (200.0**2 - 180.0**2) / 4
    area = 1200 * 900 - 1160 * 860 - (4 - math.pi) / 4 * (200.0**2 - 180.0**2)
    assert sum(exact_volumes(line.pieces)) == pytest.approx(40.0 * area, rel=1e-13)
    assert exact_volumes(line.pieces)[3] == pytest.approx(40.0 * quarter, rel=1e-13)


@pytest.mark.parametrize("profile", [BASE, CROWN, half_round()], ids=lambda p: p.name)
@pytest.mark.parametrize("room", ["left", "right"])
def test_integration_gives_what_the_centroid_gives(profile: Profile, room: Side) -> None:
    """On pieces whose travel is linear in d both roads hold; they share no line of code."""
    for run in (stepped(room), around(room), curve(2.0, 40.0, room), curve(-2.0, 0.5, room)):
        for piece in join(run, "m", profile).pieces:
            if piece.begin.is_plane and piece.end.is_plane:
                assert integrated_volume(piece) == pytest.approx(exact_volume(piece), rel=1e-12)


@share(0.4)
@given(joined())
def test_volumes_of_many_are_volumes_of_each(line: MemberRun) -> None:
    together = exact_volumes(line.pieces)
    assert together == pytest.approx([exact_volume(piece) for piece in line.pieces], rel=1e-14)
    assert together == pytest.approx([integrated_volume(piece) for piece in line.pieces], rel=1e-8)


@pytest.mark.usefixtures("to_the_reach")
@pytest.mark.parametrize("short_of_it", [0.1, 1e-3, 2e-9])
@pytest.mark.parametrize("first", [Straight(1500.0), Curve(-1.0, 400.0)], ids=["straight", "wrapped"])
def test_integration_holds_up_to_the_reach(first: Straight | Curve, short_of_it: float) -> None:
    """There the travel ends like a square root: d = w - u² takes it away, and 400 Gauss points are plenty."""
    run = meeting(first, -150 * DEGREE, Curve(1.0, 400.0))
    width = join(run, "m", block(0.5)).joints[1].reach() * (1 - short_of_it)
    nodes, weights = np.polynomial.legendre.leggauss(400)
    u = (nodes + 1) / 2 * math.sqrt(width)
    for piece in join(run, "m", block(width, 40.0)).pieces:
        by_hand = 40.0 * math.sqrt(width) / 2 * float(weights @ (travel(piece, width - u * u) * 2 * u))
        assert integrated_volume(piece) == pytest.approx(by_hand, rel=2e-9)


def test_no_pieces_have_no_volumes() -> None:
    assert exact_volumes([]).shape == (0,)


def test_travel_is_along_a_points_own_radius() -> None:
    d = np.array([0.0, 10.0, 20.0])
    assert travel(join(curve(-RIGHT_ANGLE, 50.0), "m", block()).pieces[0], d) == pytest.approx(
        RIGHT_ANGLE * np.array([50.0, 60.0, 70.0])
    )
    assert travel(join(curve(RIGHT_ANGLE, 50.0), "m", block()).pieces[0], d) == pytest.approx(
        RIGHT_ANGLE * np.array([50.0, 40.0, 30.0])
    )


# Another kernel: manifold3d extrudes or revolves the section and trims it by the miter's plane.


def section(profile: Profile, out: float) -> CrossSection:
    return CrossSection([flatten(profile, 5e-3).points + np.array([out, 0.0])])


@pytest.mark.parametrize("profile", [BASE, CROWN], ids=lambda p: p.name)
@pytest.mark.parametrize("turn", [135, 60, -60, -135])
def test_a_mitered_straight_against_a_trimmed_extrusion(profile: Profile, turn: float) -> None:
    """The section along z from 0 to 600, cut by the plane z + d tan(turn / 2) = 300."""
    half = turn * DEGREE / 2
    bar = Manifold.extrude(section(profile, 0.0), 600.0)
    cut = bar.trim_by_plane((-math.sin(half), 0.0, -math.cos(half)), -300.0 * math.cos(half))
    assert one(corner(turn * DEGREE), profile) == pytest.approx(cut.volume(), rel=3e-5)


@pytest.mark.parametrize(
    ("profile", "radius", "sweep", "turn"),
    [(BASE, 120.0, -50, 70), (CROWN, 120.0, -50, -70), (CROWN, 90.0, 60, -40), (BASE, 200.0, 60, 30)],
)
def test_equal_curves_mitered_against_a_trimmed_revolution(
    profile: Profile, radius: float, sweep: float, turn: float
) -> None:
    """Two curves of one radius and sense take a plane cut: half of the corner, through the corner and upright."""
    one_curve = Curve(sweep * DEGREE, radius)
    piece = join(meeting(one_curve, turn * DEGREE, one_curve), "m", profile).pieces[0]
    (cx, cy), (x, y) = piece.element.center, piece.element.end
    wraps = sweep < 0
    flat = section(profile, radius) if wraps else section(profile, -radius).mirror((1.0, 0.0))
    ring = Manifold.revolve(flat, 720, abs(sweep) + 35.0)  # from +x toward +y
    # The piece starts square, at the start of its curve; turned so that it begins with the ring.
    start = math.atan2(-cy, -cx)
    ring = ring.rotate((0, 0, math.degrees(start) - (abs(sweep) + 35.0 if wraps else 0.0))).translate((cx, cy, 0))
    way = math.atan2(*piece.element.end_tangent[::-1]) + turn * DEGREE / 2
    normal = (-math.cos(way), -math.sin(way), 0.0)
    cut = ring.trim_by_plane(normal, normal[0] * x + normal[1] * y)
    assert exact_volume(piece) == pytest.approx(cut.volume(), rel=5e-5)


# In plan: the footprint of a strip of one height is its volume over that height; shapely finds the joint.


def offset_line(element: Element, d: float, low: float, high: float) -> list[Vec2]:
    """Points 0.2 mm apart or less that lie d into the room, on the left, between two stations."""
    stations = np.linspace(low, high, 2 + math.ceil(abs(high - low) / 0.2))
    line = [(*element.point(s), *element.tangent_at(s)) for s in stations.tolist()]
    return [(x - d * ty, y + d * tx) for x, y, tx, ty in line]


@pytest.mark.parametrize(
    ("first", "turn", "second"),
    [
        (Straight(300.0), -70, Curve(1.2, 150.0)),
        (Straight(300.0), 70, Curve(-1.2, 150.0)),
        (Straight(300.0), -40, Curve(-1.2, 150.0)),
        (Straight(300.0), 40, Curve(1.2, 150.0)),
        (Curve(-1.0, 200.0), 55, Curve(-1.0, 120.0)),
        (Curve(-1.0, 200.0), -55, Curve(1.0, 120.0)),
        (Curve(1.0, 200.0), -25, Curve(1.0, 150.0)),
    ],
)
def test_curved_miters_against_footprints_in_plan(
    first: Straight | Curve, turn: float, second: Straight | Curve
) -> None:
    """The offset lines of both sides are drawn past the corner; where they meet, one d after another, is the joint."""
    line = join(meeting(first, turn * DEGREE, second), "m", block(30.0, 40.0))
    before, after = (piece.element for piece in line.pieces)
    joint = [line.joints[1].at]
    for d in np.linspace(0.0, 30.0, 41)[1:].tolist():
        near = shapely.LineString(offset_line(before, d, before.length - 60.0, before.length + 60.0))
        meets = shapely.get_coordinates(near.intersection(shapely.LineString(offset_line(after, d, -60.0, 60.0))))
        x, y = meets[np.argmin(np.linalg.norm(meets - joint[-1], axis=1))]
        joint.append((float(x), float(y)))
    (_, stop), (start, _) = (piece.stations(np.array([30.0])) for piece in line.pieces)
    outlines = (
        offset_line(before, 0.0, 0.0, before.length) + joint + offset_line(before, 30.0, float(stop[0]), 0.0),
        joint[::-1]
        + offset_line(after, 0.0, 0.0, after.length)
        + offset_line(after, 30.0, after.length, float(start[0])),
    )
    for piece, outline in zip(line.pieces, outlines, strict=True):
        assert exact_volume(piece) == pytest.approx(40.0 * shapely.Polygon(outline).area, rel=1e-5)
