"""Rakes: every line of a molding that climbs meets its neighbor's at a plumb cut, worked out anew in space.

`stood` puts a profile point in space from a piece's element by itself; `crossed` finds where two walls' offset lines
cross, by solving for it. Neither is taken from the joinery.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from preview.errors import PreviewError
from preview.joinery import Joint, MemberRun, Piece, exact_volume, join, ring_of
from preview.models.mesh import mesh_runs
from preview.profiles import Profile, Shape, flatten, sketch
from preview.runs import Corner, Curve, Easement, Element, Run, Side, Step, Straight, Way, lay_out
from samples import BASE, CROWN, RIGHT_ANGLE, block

Floats = NDArray[np.float64]
ROOMS: tuple[Side, Side] = ("left", "right")
# The angle between the walls, degrees; inside corners +, outside corners -.
CORNERS = [90.0, -90.0, 120.0, -120.0, 75.0, -135.0, 45.0]
INCH = 25.4


def turn_of(walls: float, room: Side) -> float:
    """What the walk turns by, radians, + to the left, for a corner as CORNERS has it."""
    toward = math.copysign(math.radians(180.0 - abs(walls)), walls)
    return toward if room == "left" else -toward


def climbing(steps: list[Step], room: Side, profile: Profile = BASE, **more: object) -> MemberRun:
    run = lay_out("stair", steps, room=room, start=(310.0, -45.0), heading=0.7, level=12.5)
    return join(replace(run, **more), "rail", profile)  # type: ignore[arg-type]


def corner(first: float, walls: float, second: float, room: Side, profile: Profile = BASE) -> MemberRun:
    """Two straights with slopes, and a corner between them."""
    return climbing([Straight(900.0, first), Corner(turn_of(walls, room)), Straight(800.0, second)], room, profile)


def outline(profile: Profile) -> tuple[Floats, Floats]:
    points = flatten(profile, 0.2).points
    return points[:, 0], points[:, 1]


def normal(element: Element, room: Side) -> Floats:
    x, y = element.tangent
    return np.array([-y, x]) if room == "left" else np.array([y, -x])


def stood(piece: Piece, room: Side, stations: Floats, d: Floats, h: Floats) -> Floats:
    """Profile points (n,) of a straight at stations (n,), in space (n, 3): plumb sections that rise with the wall."""
    e = piece.element
    plan = np.array(e.start) + stations[:, None] * np.array(e.tangent) + d[:, None] * normal(e, room)
    return np.column_stack([plan, e.height + e.slope * stations + piece.shear * d + h])


def crossed(one: Element, two: Element, room: Side, d: Floats) -> Floats:
    """The plan points (n, 2) that lie d out from both walls: p . n = d + (a point of the wall) . n, for each wall."""
    normals = np.array([normal(one, room), normal(two, room)])
    walls = np.array([normals[0] @ np.array(one.end), normals[1] @ np.array(two.start)])
    found: Floats = np.linalg.solve(normals, (walls[:, None] + d[None, :])).T
    return found


def along(element: Element, plan: Floats) -> Floats:
    found: Floats = (plan - np.array(element.start)) @ np.array(element.tangent)
    return found


def apart(one: Floats, two: Floats) -> float:
    return float(np.linalg.norm(one - two, axis=1).max())


# Corners.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("profile", [BASE, CROWN], ids=["base", "crown"])
@pytest.mark.parametrize("walls", CORNERS)
def test_level_and_rake_meet_at_every_point_of_the_profile(walls: float, profile: Profile, room: Side) -> None:
    line = corner(0.0, walls, 0.75, room, profile)
    level, rake = line.pieces
    d, h = outline(line.profile)
    first = stood(level, room, level.stations(d, h)[1], d, h)
    second = stood(rake, room, rake.stations(d, h)[0], d, h)
    assert level.shear == 0.0  # the level piece carries the profile as it was drawn
    assert apart(first, second) < 1e-9
    # They meet where both walls' offset lines cross, at the height that the level piece has there.
    plan = crossed(level.element, rake.element, room, d)
    assert apart(first, np.column_stack([plan, h])) < 1e-9
    # A plumb cut: one plane through the corner that holds the upright.
    away = plan - np.array(rake.element.start)
    assert np.linalg.matrix_rank(away, tol=1e-9) == 1


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("walls", CORNERS)
@pytest.mark.parametrize("slopes", [(0.0, 0.6), (0.6, 0.0), (0.4, 0.9), (0.5, -0.5), (-0.3, -0.8)])
def test_the_shear_is_what_space_asks_for(slopes: tuple[float, float], walls: float, room: Side) -> None:
    """A point d out reaches the cut at its own station; the two pieces' heights there are made equal by the shear."""
    line = corner(slopes[0], walls, slopes[1], room)
    one, two = line.pieces
    d = np.array([10.0])
    plan = crossed(one.element, two.element, room, d)
    past = along(one.element, plan) - one.element.length, along(two.element, plan)
    # slope one * past one + shear one * d = slope two * past two + shear two * d
    needed = (slopes[0] * past[0] - slopes[1] * past[1]) / d
    assert two.shear - one.shear == pytest.approx(float(needed[0]), abs=1e-12)
    assert 0.0 in (one.shear, two.shear)


@pytest.mark.parametrize("room", ROOMS)
def test_shears_at_square_corners_are_the_tangent_of_the_pitch(room: Side) -> None:
    """By hand: round a square corner the face stands 1 out of one wall and 1 along the other, where it rises tan t."""
    tan = math.tan(math.radians(35.0))
    assert corner(0.0, 90.0, tan, room).pieces[1].shear == pytest.approx(-tan, abs=1e-12)
    assert corner(0.0, -90.0, tan, room).pieces[1].shear == pytest.approx(tan, abs=1e-12)
    assert corner(tan, 90.0, 0.0, room).pieces[0].shear == pytest.approx(tan, abs=1e-12)
    assert corner(0.0, -90.0, -tan, room).pieces[1].shear == pytest.approx(-tan, abs=1e-12)


@pytest.mark.parametrize("room", ROOMS)
def test_a_chain_of_corners_meets_everywhere(room: Side) -> None:
    steps: list[Step] = [
        Straight(600.0, 0.5),
        Corner(turn_of(-120.0, room)),
        Straight(500.0),
        Corner(turn_of(100.0, room)),
        Straight(400.0, -0.3),
        Corner(turn_of(90.0, room)),
        Straight(450.0, 0.8),
        Straight(300.0),
        Corner(turn_of(-90.0, room)),
        Straight(350.0),
    ]
    line = climbing(steps, room)
    d, h = outline(line.profile)
    for one, two in pairwise(line.pieces):
        first = stood(one, room, one.stations(d, h)[1], d, h)
        second = stood(two, room, two.stations(d, h)[0], d, h)
        assert apart(first, second) < 1e-9
    shears = [piece.shear for piece in line.pieces]
    assert shears[1] == 0.0  # the first level one carries the profile as drawn
    assert shears[3] == shears[4] == shears[5]  # nothing changes where a slope changes in one wall, or between levels
    assert shears[4] != 0.0
    kinds = [joint.kind for joint in line.joints]
    assert kinds == ["square end", "miter", "miter", "miter", "plumb cut", "miter", "square end"]


@given(st.floats(-1.2, 1.2), st.floats(-1.2, 1.2), st.floats(-140.0, 140.0).filter(lambda a: abs(a) > 2), st.booleans())
def test_any_two_slopes_meet_at_any_corner(first: float, second: float, turn: float, left: bool) -> None:
    room: Side = "left" if left else "right"
    line = climbing([Straight(900.0, first), Corner(math.radians(turn)), Straight(800.0, second)], room)
    one, two = line.pieces
    d, h = outline(line.profile)
    meets = stood(one, room, one.stations(d, h)[1], d, h), stood(two, room, two.stations(d, h)[0], d, h)
    assert apart(*meets) < 1e-9
    # The cut itself, as both kernels ask for it, is the same place.
    assert apart(ring_of(one, True, d, h), meets[0]) < 1e-9
    assert apart(ring_of(two, False, d, h), meets[0]) < 1e-9


@pytest.mark.parametrize("room", ROOMS)
def test_a_frame_puts_points_where_the_wall_has_them(room: Side) -> None:
    line = corner(0.2, 110.0, -0.7, room)
    d, h = outline(line.profile)
    for piece in line.pieces:
        stations = np.linspace(-5.0, 900.0, len(d))
        assert apart(piece.frame.points(stations, d, h), stood(piece, room, stations, d, h)) < 1e-9


# Level returns and closed runs.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize(
    ("pitch", "rake", "top"), [(4, 4.2691, 5.375), (8, 4.4723, 7.125), (12, 4.4194, 8.875)], ids=["4", "8", "12"]
)
def test_a_level_return_at_the_top_has_twice_the_shear(pitch: int, rake: float, top: float, room: Side) -> None:
    """Outside corners at the foot and at the top of the rake: three profiles, as the handbooks have it.

    The construction is that of The American House Carpenter, art. 323: the same projections on the level, on the rake
    and on the level return. The figures, worked from it apart from this program, are for the top point of a crown
    2 5/8 in out and 3 5/8 in high: its height square to the rake, and in the return.
    """
    tan, (x, z) = pitch / 12, (2.625, 3.625)
    crown = sketch("crown", 0.01, [Shape("bevel", z * INCH, x * INCH - 0.01)])
    line = climbing([Straight(900.0), Corner(turn_of(-90.0, room)), Straight(800.0, tan)], room, crown, end="return")
    level, raked, back = line.pieces
    assert (level.shear, back.kind) == (0.0, "return")
    assert raked.shear == pytest.approx(tan, abs=1e-12)
    assert back.shear == pytest.approx(2 * tan, abs=1e-12)
    cos = 1 / math.hypot(1.0, tan)
    assert cos * (z + raked.shear * x) == pytest.approx(rake, abs=5e-5)
    assert z + back.shear * x == pytest.approx(top, abs=1e-9)
    # And they meet in space: the return's wall runs square back from the end of the rake.
    d, h = outline(line.profile)
    ends = stood(raked, room, raked.stations(d, h)[1], d, h)
    begins = stood(back, room, back.stations(d, h)[0], d, h)
    assert apart(ends, begins) < 1e-9
    assert np.array(back.element.tangent) @ normal(raked.element, room) == pytest.approx(-1.0, abs=1e-12)


def loop(slopes: list[float], walls: list[float], lengths: list[float]) -> Run:
    """A closed run, the room on its left."""
    steps: list[Step] = []
    for slope, wall, length in zip(slopes, walls, lengths, strict=True):
        steps += [Straight(length, slope), Corner(turn_of(wall, "left"))]
    return lay_out("round", steps, closed=True)


SQUARE = [90.0] * 4
ELL = [90.0, 90.0, -90.0, 90.0, 90.0, 90.0]


def test_a_closed_run_of_one_kind_of_corner_comes_round() -> None:
    """Up one wall of a square room and down the one across: each wall's two corners change the shear alike."""
    line = join(loop([0.5, 0.0, -0.5, 0.0], SQUARE, [1000.0] * 4), "rail", BASE)
    assert [piece.shear for piece in line.pieces] == pytest.approx([0.5, 0.0, 0.5, 1.0], abs=1e-12)
    d, h = outline(line.profile)
    for one, two in pairwise([*line.pieces, line.pieces[0]]):
        first = stood(one, "left", one.stations(d, h)[1], d, h)
        assert apart(first, stood(two, "left", two.stations(d, h)[0], d, h)) < 1e-9


def test_a_closed_run_whose_shears_do_not_come_round_is_refused() -> None:
    """Up between two inside corners (-1/2 twice), down between an inside and an outside one (+ and - 1): -1 in all."""
    lengths = [1000.0, 1500.0, 500.0, 500.0, 500.0, 2000.0]
    slopes = [0.5, 0.0, -1.0, 0.0, 0.0, 0.0]
    run = loop(slopes, ELL, lengths)
    with pytest.raises(PreviewError, match="do not come back to the first: they are -45° off") as refused:
        join(run, "rail", BASE)
    (problem,) = refused.value.problems
    assert problem.place == 'run "round", step 1, member "rail"'
    assert 'raked = "same"' in problem.fix
    assert {piece.shear for piece in join(replace(run, raked="same"), "rail", BASE).pieces} == {0.0}


# The same profile on the rake.


def square_stood(piece: Piece, room: Side, stations: Floats, d: Floats, h: Floats) -> Floats:
    """Profile points whose section stands square to the slope of the wall; stations where they are, in plan."""
    e, t = piece.element, math.atan(piece.element.slope)
    tangent = np.array([*e.tangent, 0.0])
    rise = np.array([0.0, 0.0, 1.0])
    travel, up = math.cos(t) * tangent + math.sin(t) * rise, math.cos(t) * rise - math.sin(t) * tangent
    out = np.array([*normal(e, room), 0.0])
    start = np.array([*e.start, e.height])
    walked = stations / math.cos(t)
    found: Floats = start + walked[:, None] * travel + d[:, None] * out + h[:, None] * up
    return found


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("slopes", [(0.0, 0.7), (0.7, 0.0), (0.9, -0.4), (-0.2, -0.8), (0.3, 1.1)])
def test_a_change_of_slope_with_one_profile_is_mitered_in_elevation(slopes: tuple[float, float], room: Side) -> None:
    line = climbing([Straight(700.0, slopes[0]), Straight(600.0, slopes[1])], room, raked="same")
    one, two = line.pieces
    d, h = outline(line.profile)
    meets = square_stood(one, room, one.stations(d, h)[1], d, h), square_stood(two, room, two.stations(d, h)[0], d, h)
    assert line.joints[1].kind == "elevation miter"
    assert apart(*meets) < 1e-9
    assert apart(ring_of(one, True, d, h), meets[0]) < 1e-9
    # In the plane that halves the change: square to the mean of both travels, and it holds the way out.
    travels = [np.array([*p.element.tangent, p.element.slope]) * math.cos(p.pitch) for p in (one, two)]
    at = np.array([*two.element.start, two.element.height])
    assert np.abs((meets[0] - at) @ (travels[0] + travels[1])).max() < 1e-9


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("walls", CORNERS)
def test_one_profile_on_level_and_rake_misses_at_a_corner_by_the_closed_form(walls: float, room: Side) -> None:
    """On the plumb plane that halves a corner of turn phi, a point (d, h) of the level piece stands at h. The raked
    piece's line lies h / cos t straight above its foot, and has come d tan(phi/2) up its wall: it is too high by

        d tan(phi/2) tan t + h (1 / cos t - 1)
    """
    tan = 0.6
    turn, cos = turn_of(walls, "left"), 1 / math.hypot(1.0, 0.6)
    line = climbing([Straight(900.0), Corner(turn_of(walls, room)), Straight(800.0, tan)], room, raked="same")
    level, rake = line.pieces
    d, h = outline(line.profile)
    first, second = ring_of(level, True, d, h), ring_of(rake, False, d, h)
    drawn = square_stood(rake, room, rake.stations(d, h)[0], d, h)
    assert apart(second, drawn) < 1e-9
    missed = d * math.tan(turn / 2) * tan + h * (1 / cos - 1)
    assert np.abs(first[:, :2] - second[:, :2]).max() < 1e-9
    assert second[:, 2] - first[:, 2] == pytest.approx(missed, abs=1e-9)
    assert h.min() == 0.0  # the profile's own heights, whatever level the run is at
    assert np.ptp(h) > 50.0
    assert np.abs(missed).max() > 1.0


@pytest.mark.parametrize("raked", ["derived", "same"])
def test_a_run_s_level_is_plumb_and_moves_no_corner(raked: str) -> None:
    """A rail 900 mm up turns up the stair where the wall's slopes meet, and its foot stays 900 mm plumb above them."""
    run = lay_out("stair", [Straight(700.0), Straight(600.0, 0.7)], level=900.0)
    line = join(replace(run, raked="same" if raked == "same" else "derived"), "rail", BASE)
    level, rake = line.pieces
    low = line.profile.moved(0.0, 0.0).edges[0].start[1]
    foot = (np.zeros(1), np.full(1, low))
    assert ring_of(level, True, *foot) == pytest.approx(np.array([[700.0, 0.0, 900.0]]), abs=1e-9)
    assert ring_of(rake, True, *foot) == pytest.approx(np.array([[1300.0, 0.0, 900.0 + 420.0]]), abs=1e-9)


@pytest.mark.parametrize("coped", ["after", "before"])
def test_no_cope_and_no_self_return_where_the_profile_is_raked(coped: str) -> None:
    """A landing after a climb round a corner carries a raked profile, and both follow the profile as it was drawn."""
    way = Way("cope", coped="after" if coped == "after" else "before")
    around: list[Step] = [Straight(400.0), Corner(-RIGHT_ANGLE), Straight(500.0, 0.6), Straight(300.0)]
    steps: list[Step] = [*around, Corner(RIGHT_ANGLE, way), Straight(300.0)]
    with pytest.raises(PreviewError, match="a cope follows the profile as it was drawn"):
        climbing(steps, "left")
    with pytest.raises(PreviewError, match="not where the molding is raked to meet a climb round a corner"):
        climbing(around, "left", end="self-return")
    straight: list[Step] = [Straight(400.0), Straight(500.0, 0.6), Straight(300.0), Corner(RIGHT_ANGLE, way)]
    assert climbing([*straight, Straight(300.0)], "left").pieces[2].is_faced == (coped == "before")


@pytest.mark.parametrize("coped", [True, False], ids=["coped", "self-return"])
@pytest.mark.parametrize("room", ROOMS)
def test_a_piece_that_follows_a_face_is_cut_in_elevation_at_its_other_end(room: Side, coped: bool) -> None:
    """A board of 25 by 100 mm with one level end, and one that leans by half of a pitch of 30 degrees.

    By hand: its length on the wall line less what the lean takes, 100/2 tan 15, and less the neighbor's thickness at a
    cope; a self-return of a board is its square end, 25 mm on.
    """
    hand = 1.0 if room == "left" else -1.0
    before: list[Step] = [Straight(300.0), Corner(hand * RIGHT_ANGLE, Way("cope"))] if coped else []
    run = lay_out("r", [*before, Straight(500.0), Straight(400.0, math.tan(math.pi / 6))], room=room)
    run = replace(run, raked="same", begin="square" if coped else "self-return")
    line = join(run, "rail", block(25.0, 100.0))
    number = 1 if coped else 0
    lean = 100.0 * math.tan(math.pi / 12)
    expected = 25.0 * 100.0 * (500.0 + (-25.0 if coped else 25.0) - lean / 2)
    assert exact_volume(line.pieces[number]) == pytest.approx(expected, rel=1e-12)
    mesh = mesh_runs([line])[number]
    assert mesh.volume == pytest.approx(expected, rel=1e-9)
    d, h = np.array([0.0, 25.0, 25.0]), np.array([0.0, 0.0, 100.0])
    apart = ring_of(line.pieces[number], True, d, h) - ring_of(line.pieces[number + 1], False, d, h)
    assert np.abs(apart).max() < 1e-9


# Easements.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("slopes", [(0.0, 0.8), (0.8, 0.0), (-0.6, 0.5), (0.9, 0.2)])
def test_an_easement_is_a_circle_in_elevation_and_follows_smoothly(slopes: tuple[float, float], room: Side) -> None:
    radius = 150.0
    line = climbing([Straight(700.0, slopes[0]), Easement(radius), Straight(600.0, slopes[1])], room)
    before, eased, after = line.pieces
    assert [piece.kind for piece in line.pieces] == ["straight", "easement", "straight"]
    assert [joint.kind for joint in line.joints] == ["square end", "tangent", "tangent", "square end"]
    e = eased.element
    stations = np.linspace(0.0, e.length, 25)
    heights = e.height + e.rise(stations)
    # The circle through both ends that is tangent to the first slope: its center, by the slope's own normal.
    turn = math.copysign(1.0, slopes[1] - slopes[0])
    t = math.atan(slopes[0])
    center = np.array([0.0, e.height]) + turn * radius * np.array([-math.sin(t), math.cos(t)])
    assert np.hypot(stations - center[0], heights - center[1]) == pytest.approx(radius, abs=1e-9)
    # Smooth at both ends: the radius there is square to the neighbor's slope.
    for station, height, slope in ((0.0, heights[0], slopes[0]), (e.length, heights[-1], slopes[1])):
        spoke = np.array([station, height]) - center
        assert spoke @ np.array([1.0, slope]) == pytest.approx(0.0, abs=1e-9)
    assert [e.slope, e.end_slope] == pytest.approx(list(slopes), abs=1e-12)
    # End to end with its neighbors, in space.
    assert (*e.start, e.height) == pytest.approx((*before.element.end, before.element.end_height), abs=1e-9)
    assert (*after.element.start, after.element.height) == pytest.approx((*e.end, e.end_height), abs=1e-9)


@pytest.mark.parametrize("room", ROOMS)
def test_an_easement_s_section_is_plumb_and_its_ends_are_its_neighbors(room: Side) -> None:
    """After an outside corner, so that all of the wall's pieces are sheared alike."""
    steps: list[Step] = [Straight(400.0), Corner(turn_of(-90.0, room)), Straight(700.0, 0.5)]
    line = climbing([*steps, Easement(200.0), Straight(600.0)], room)
    _, rake, eased, level = line.pieces
    assert rake.shear == eased.shear == level.shear == pytest.approx(0.5, abs=1e-12)
    d, h = outline(line.profile)
    begin, end = ring_of(eased, False, d, h), ring_of(eased, True, d, h)
    assert apart(begin, stood(rake, room, np.full_like(d, rake.element.length), d, h)) < 1e-9
    assert apart(end, stood(level, room, np.zeros_like(d), d, h)) < 1e-9
    tangent = np.array(eased.element.tangent)
    for ring in (begin, end):
        assert np.ptp(ring[:, :2] @ tangent) < 1e-9  # plumb: all of it over one place along the wall
    starts, stops = eased.stations(d, h)
    assert np.abs(starts).max() < 1e-12
    assert stops == pytest.approx(eased.element.length, abs=1e-12)


def test_a_raked_profile_is_not_carried_into_a_curve_at_a_corner() -> None:
    """Steps are refused before it comes to this; a run that is put together by hand must be as well."""
    run = lay_out("stair", [Straight(400.0), Corner(RIGHT_ANGLE / 2), Curve(1.0, 300.0)])
    run = replace(run, elements=(replace(run.elements[0], slope=0.5), run.elements[1]))
    with pytest.raises(PreviewError, match="no one profile fits all along the cut"):
        join(run, "rail", block(10.0, 20.0))


def test_a_joint_s_axes_are_its_plane() -> None:
    """Where a plane cut goes for each mm out and up: through the rings that both pieces share."""
    line = corner(0.3, 110.0, 0.8, "left")
    joint: Joint = line.joints[1]
    out, up = joint.axes()
    d, h = outline(line.profile)
    corner_at = np.array([*joint.at, joint.height])
    ring = corner_at + d[:, None] * out + h[:, None] * up
    assert apart(ring, ring_of(line.pieces[1], False, d, h)) < 1e-9
