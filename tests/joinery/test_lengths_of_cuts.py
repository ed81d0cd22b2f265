"""What the cutter measures on each piece: shortest, longest and overall, by right triangles, circles and hand sums."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np
import pytest

from preview.joinery import Piece, join, piece_lengths, ring_of
from preview.joinery.lengths import elevation_box
from preview.profiles import Line, Profile, make_profile
from preview.runs import Corner, Curve, Easement, Side, Step, Straight, Way, lay_out
from samples import RIGHT_ANGLE, block

ROOMS: tuple[Side, Side] = ("left", "right")
TAN, PACE = 3 / 4, 5 / 4
"""The climb of a right triangle of 3, 4 and 5: its slope, and its long side for each mm in plan."""


def hand_of(room: Side) -> int:
    return 1 if room == "left" else -1


def drawn(name: str, *corners: tuple[float, float]) -> Profile:
    return make_profile(name, [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)])


LIP = drawn("lip", (0.0, 0.0), (10.0, 0.0), (10.0, 60.0), (30.0, 60.0), (10.0, 100.0), (0.0, 100.0))
"""A board of 10 mm with a lip over its lower 60: it jumps out to 30, and slopes back to 10 at its top."""
SHELF = drawn("shelf", (0.0, 0.0), (10.0, 0.0), (30.0, 40.0), (10.0, 40.0), (10.0, 100.0), (0.0, 100.0))
"""The same upside down: it leans out to 30 at 40 mm up, and there is a ledge."""


# Easements: the rectangle in elevation that holds one.

SLOPES = [(0.0, 0.75), (0.75, 0.0), (-0.6, 0.5), (0.9, 0.2), (-0.2, -0.8), (0.4, -0.4)]


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("slopes", SLOPES)
def test_an_easement_is_cut_from_its_chord_its_sagitta_and_its_own_height(
    slopes: tuple[float, float], room: Side
) -> None:
    """A circle's chord is 2 R sin(a/2), its sagitta R (1 - cos(a/2)) (Machinery's Handbook, segments of circles).

    Its chord climbs by the mean of both pitches; a plumb section of 40 mm on it is 40 sin along it and 40 cos across.
    """
    radius, high, out = 150.0, 40.0, 20.0
    run = lay_out(
        "stair", [Straight(700.0, slopes[0]), Easement(radius), Straight(600.0, slopes[1])], room=room, level=12.5
    )
    eased = join(run, "rail", block(out, high)).pieces[1]
    first, last = (math.atan(slope) for slope in slopes)
    chord, half = (first + last) / 2, abs(last - first) / 2
    long = 2 * radius * math.sin(half) + high * abs(math.sin(chord))
    wide = radius * (1 - math.cos(half)) + high * math.cos(chord)
    assert elevation_box(eased) == pytest.approx((long, wide), rel=1e-12)
    told = piece_lengths(eased)
    assert told["overall"] == pytest.approx(long, rel=1e-12)
    # Along its own line it is the arc itself, at every point of a plumb section.
    assert [told["back"], told["longest"], told["shortest"]] == pytest.approx([radius * 2 * half] * 3, rel=1e-12)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("turn", [RIGHT_ANGLE, -RIGHT_ANGLE], ids=["inside", "outside"])
def test_an_easement_that_is_sheared_by_a_corner_is_as_much_higher(turn: float, room: Side) -> None:
    """Round a square corner onto 1 in 2 the face stands 20/2 = 10 mm lower or higher than the back: 50 mm in all."""
    steps: list[Step] = [Straight(400.0), Corner(hand_of(room) * turn), Straight(700.0, 0.5)]
    run = lay_out("stair", [*steps, Easement(200.0), Straight(600.0)], room=room)
    eased = join(run, "rail", block(20.0, 40.0)).pieces[2]
    half = math.atan(0.5) / 2
    high = 40.0 + 20.0 * 0.5
    long = 2 * 200.0 * math.sin(half) + high * math.sin(half)
    wide = 200.0 * (1 - math.cos(half)) + high * math.cos(half)
    assert elevation_box(eased) == pytest.approx((long, wide), rel=1e-12)


# Cuts that lean.


@pytest.mark.parametrize("room", ROOMS)
def test_a_level_after_a_climb_of_one_section_is_shorter_at_its_top(room: Side) -> None:
    """Down 3 in 4 onto a level: the miter takes a third of the height, 20 mm of 60, and its other end is square."""
    run = replace(lay_out("dip", [Straight(400.0, -TAN), Straight(300.0)], room=room), raked="same")
    told = piece_lengths(join(run, "rail", block(20.0, 60.0)).pieces[1])
    assert told == pytest.approx({"back": 300.0, "shortest": 280.0, "longest": 300.0, "overall": 300.0}, rel=1e-12)
    hump = replace(lay_out("hump", [Straight(300.0), Straight(400.0, -TAN)], room=room), raked="same")
    told = piece_lengths(join(hump, "rail", block(20.0, 60.0)).pieces[0])
    assert told == pytest.approx({"back": 300.0, "shortest": 300.0, "longest": 320.0, "overall": 320.0}, rel=1e-12)


@pytest.mark.parametrize("slope", [TAN, -TAN])
def test_a_level_between_two_climbs_leans_alike_at_both_ends(slope: float) -> None:
    """Every line of it is 300 mm; its stock holds the lean of 60/3 as well."""
    run = lay_out("landing", [Straight(400.0, slope), Straight(300.0), Straight(400.0, slope)])
    told = piece_lengths(join(replace(run, raked="same"), "rail", block(20.0, 60.0)).pieces[1])
    assert told == pytest.approx({"back": 300.0, "shortest": 300.0, "longest": 300.0, "overall": 320.0}, rel=1e-12)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("turn", [1.1, -1.1])
def test_a_climb_after_a_corner_holds_every_point_of_both_its_ends(turn: float, room: Side) -> None:
    """From the first to the last of its corners, along the direction in which it climbs."""
    steps: list[Step] = [Straight(300.0), Corner(hand_of(room) * turn), Straight(500.0, TAN)]
    piece = join(lay_out("stair", steps, room=room, heading=0.4), "rail", block(20.0, 60.0)).pieces[1]
    assert piece.shear == pytest.approx(-TAN * math.tan(turn / 2))
    d, h = np.array([0.0, 20.0, 20.0, 0.0]), np.array([0.0, 0.0, 60.0, 60.0])
    travel = np.array([*piece.element.tangent, TAN]) / PACE
    first, last = (ring_of(piece, at_end, d, h) @ travel for at_end in (False, True))
    told = piece_lengths(piece)
    assert told["overall"] == pytest.approx(last.max() - first.min(), rel=1e-12)
    assert told["longest"] == pytest.approx((last - first).max(), rel=1e-12)
    assert told["shortest"] == pytest.approx((last - first).min(), rel=1e-12)


# Curves.


def crossed(d: float, turn: float, radius: float, way: int, hand: int) -> float:
    """How far along a curve of `radius`, mm on its back line, a point d out stands on the wall that it turns from.

    The curve sets out from 0 along +x, its center on the left (`way` +1) or the right; the wall came in `turn` before.
    """
    wall = cmath.exp(-1j * turn)
    center = 1j * way * radius
    foot = 1j * hand * d * wall - center
    # |foot + t wall| = the circle of the same projection: the root that is nearer to the corner.
    along = (foot * wall.conjugate()).real
    root = math.sqrt(along**2 - abs(foot) ** 2 + (radius - way * hand * d) ** 2)
    point = foot + min((-along + root, -along - root), key=abs) * wall
    return radius * way * cmath.phase(point / -center)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize("turns", [(0.9, 0.5), (-0.9, 0.5), (0.4, -0.8), (-0.7, -0.4)])
def test_the_stock_of_a_curve_is_the_arc_that_holds_both_its_ends(
    turns: tuple[float, float], way: int, room: Side
) -> None:
    """At the radius that travels furthest: that of its back where it lines a curve, of its face where it wraps one."""
    hand, radius, sweep, deep = hand_of(room), 90.0, 1.6, 24.0
    steps: list[Step] = [
        Straight(200.0),
        Corner(hand * turns[0]),
        Curve(way * sweep, radius),
        Corner(hand * turns[1]),
        Straight(200.0),
    ]
    curve = join(lay_out("bow", steps, room=room), "rail", block(deep, 10.0)).pieces[1]
    d = np.linspace(0.0, deep, 65)
    starts = np.array([crossed(out, hand * turns[0], radius, way, hand) for out in d.tolist()])
    # Walked from its other end, the curve has its center and the room on the other side.
    stops = radius * sweep - np.array([crossed(out, -hand * turns[1], radius, -way, -hand) for out in d.tolist()])
    pace = 1 - way * hand * d / radius
    told = piece_lengths(curve)
    assert told["overall"] == pytest.approx((stops.max() - starts.min()) * pace.max(), rel=1e-9)
    assert told["longest"] == pytest.approx(((stops - starts) * pace).max(), rel=1e-9)
    assert told["shortest"] == pytest.approx(((stops - starts) * pace).min(), rel=1e-9)


def test_a_straight_is_shortest_halfway_out_between_a_square_corner_and_a_niche() -> None:
    """The corner takes d of it, and beside the niche it ends at R sin t - sqrt(R² sin² t - 2 R d (1 - cos t)).

    For R = 400 and t = 60 degrees that is 400 sin 60 - sqrt(120000 - 400 d), and least in all where its root is 200:
    at d = 200.
    """
    steps: list[Step] = [
        Straight(900.0),
        Corner(RIGHT_ANGLE),
        Straight(500.0),
        Corner(-math.radians(60.0)),
        Curve(1.0, 400.0),
    ]
    told = piece_lengths(join(lay_out("niche", steps), "rail", block(256.0)).pieces[1])
    assert told["shortest"] == pytest.approx(500.0 + 400.0 * math.sin(math.radians(60.0)) - 200.0 - 200.0, abs=1e-9)
    assert told["longest"] == pytest.approx(500.0, abs=1e-9)


# Ends that follow a face.


def coped(profile: Profile, turn: float, cut: str, room: Side) -> Piece:
    way = Way("cope", coped="after" if cut == "after" else "before")
    steps: list[Step] = [Straight(300.0), Corner(hand_of(room) * turn, way), Straight(300.0)]
    return join(lay_out("hall", steps, room=room), "rail", profile).pieces[1 if cut == "after" else 0]


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("cut", ["after", "before"])
@pytest.mark.parametrize("profile", [LIP, SHELF], ids=lambda profile: profile.name)
def test_a_cope_is_measured_on_both_sides_of_a_ledge(profile: Profile, cut: str, room: Side) -> None:
    """A point d out stops (f - d cos t)/sin t from the corner, f the other's face at its height: 10 to 30 mm.

    Where the walls turn by less than a square corner, most is taken at the back, behind the lip, and least on the face
    where it stands 10 mm out; where they turn by more, most on the lip's edge and least at the back. There is no wood
    in front of the face: below a lip, or over a ledge, the cut stops there.
    """
    for degrees, most, least in ((90.0, 30.0, 10.0), (60.0, 30.0 * 2, 10.0 * 1), (120.0, 30.0 * 3, 10.0 * 2)):
        # Thirds of the equilateral triangle: 1/sin 60 = 2/sqrt 3, tan 30 = 1/sqrt 3 and tan 60 = 3/sqrt 3.
        scale = 1.0 if degrees == 90.0 else 1 / math.sqrt(3)
        told = piece_lengths(coped(profile, math.radians(degrees), cut, room))
        assert told["shortest"] == pytest.approx(300.0 - most * scale, abs=1e-9), degrees
        assert told["longest"] == pytest.approx(300.0 - least * scale, abs=1e-9), degrees
        assert told["overall"] == pytest.approx(300.0 - least * scale, abs=1e-9), degrees


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("profile", [LIP, SHELF], ids=lambda profile: profile.name)
def test_a_self_return_reaches_as_far_as_the_face_stands_out(profile: Profile, room: Side) -> None:
    run = replace(lay_out("hall", [Straight(300.0)], room=room), begin="self-return", end="self-return")
    told = piece_lengths(join(run, "rail", profile).pieces[0])
    assert told == pytest.approx({"back": 300.0, "shortest": 320.0, "longest": 360.0, "overall": 360.0}, abs=1e-9)
