"""Returns, blocks, scarfs and the ends of copes, by closed forms and by the corner's own geometry in plan."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from preview.errors import PreviewError
from preview.joinery import (
    BlockShape,
    MemberRun,
    Piece,
    block_lines,
    exact_volume,
    exact_volumes,
    face_line,
    integrated_volume,
    join,
    ring_of,
)
from preview.profiles import Profile, flatten, measure
from preview.runs import Block, Corner, Curve, EndWay, Run, Side, Stand, Step, Straight, Way, lay_out, scarfed
from samples import BASE, CROWN, RIGHT_ANGLE, block, quarter_round, wedge

Floats = NDArray[np.float64]
ROOMS: tuple[Side, Side] = ("left", "right")
LONG = 400.0


def hand(room: Side) -> int:
    return 1 if room == "left" else -1


def ended(
    begin: EndWay, end: EndWay, profile: Profile, room: Side = "left", steps: list[Step] | None = None
) -> MemberRun:
    run = lay_out("shelf", steps or [Straight(LONG)], room=room, start=(20.0, -70.0), heading=0.9, level=5.0)
    return join(replace(run, begin=begin, end=end), "rail", profile)


def outline(profile: Profile) -> tuple[Floats, Floats]:
    d, h = flatten(profile, 0.1).points.T
    return d, h


# Returns.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize(
    ("profile", "volume"),
    [
        (block(20.0, 40.0), 20.0**2 / 2 * 40.0),  # half a square, as high as the strip
        (wedge(30.0, 60.0), 30.0**2 * 60.0 / 6),  # a pyramid on half a square
        (quarter_round(12.0), 12.0**3 / 3),  # the quarter disc's first moment, r³/3
    ],
    ids=["rectangle", "triangle", "quarter round"],
)
def test_a_return_is_a_wedge_of_known_volume(profile: Profile, volume: float, room: Side) -> None:
    """A point d out travels d back to the wall: the volume is the section's first moment about the wall line."""
    line = ended("return", "return", profile, room)
    begin, middle, end = line.pieces
    assert [piece.kind for piece in line.pieces] == ["return", "straight", "return"]
    assert [piece.name.rsplit(" / ", 1)[1] for piece in line.pieces] == ["begin return", "1 straight", "end return"]
    assert exact_volume(begin) == pytest.approx(volume, rel=1e-12)
    assert exact_volume(end) == pytest.approx(volume, rel=1e-12)
    assert integrated_volume(end) == pytest.approx(volume, rel=1e-12)
    # The piece between is as much longer at its face as its miters ask for: its own two wedges.
    assert exact_volume(middle) == pytest.approx(measure(profile).area * LONG + 2 * volume, rel=1e-12)


@pytest.mark.parametrize("room", ROOMS)
def test_a_return_goes_square_back_to_the_wall(room: Side) -> None:
    line = ended("return", "return", BASE, room)
    begin, middle, end = line.pieces
    travel = np.array(middle.element.tangent)
    out = np.array([-travel[1], travel[0]]) * hand(room)
    assert np.array(end.element.tangent) == pytest.approx(-out, abs=1e-12)
    assert np.array(begin.element.tangent) == pytest.approx(out, abs=1e-12)
    assert begin.element.length == end.element.length == 0.0
    d, h = outline(line.profile)
    # Both pieces of each miter share their rings, and the wedge's free end lies on the wall.
    assert np.array_equal(ring_of(begin, True, d, h), ring_of(middle, False, d, h))
    assert np.array_equal(ring_of(middle, True, d, h), ring_of(end, False, d, h))
    for piece, at_end in ((begin, False), (end, True)):
        wall = (ring_of(piece, at_end, d, h)[:, :2] - np.array(middle.element.start)) @ out
        assert np.abs(wall).max() < 1e-9
    # A point d out stands d beyond the end of the run.
    along = (ring_of(end, False, d, h)[:, :2] - np.array(middle.element.end)) @ travel
    assert along == pytest.approx(d, abs=1e-9)


def test_returned_at_both_ends_a_strip_fills_its_box() -> None:
    """A rectangle 20 x 40, 400 long on the wall: with its wedges it fills 440 x 20 x 40 to the last mm³."""
    line = ended("return", "return", block(20.0, 40.0))
    assert float(exact_volumes(line.pieces).sum()) == pytest.approx(440.0 * 20.0 * 40.0, rel=1e-12)


def test_what_reaches_behind_the_wall_is_not_returned() -> None:
    with pytest.raises(PreviewError, match="a return runs back to the wall line, and the profile reaches 2 mm behind"):
        ended("square", "return", block(20.0, 40.0).moved(-2.0, 0.0))


# Blocks.


def shape(width: float = 60.0, high: float = 90.0, side: float = 30.0, lap: float | None = None) -> BlockShape:
    return BlockShape("plinth", block(side, high), width, width if lap is None else lap, side)


CORNER = Way("block", block="plinth")


def cornered(turn: float, room: Side, made: BlockShape, heading: float = 0.0) -> tuple[Run, MemberRun, MemberRun]:
    """A corner block where the first wall ends at (400, 0); turn + toward the room. The run, the base, the block."""
    steps: list[Step] = [Straight(LONG), Corner(hand(room) * turn, CORNER), Straight(300.0)]
    run = lay_out("wall", steps, room=room, heading=heading, level=10.0)
    (standing,) = block_lines(run, {"plinth": made})
    return run, join(run, "base", block(20.0, 70.0), blocks={"plinth": made}), standing


def footprint(piece: Piece) -> set[tuple[float, float]]:
    """The corners of an upright block in the scene, from its own frame and stand, rounded to 1e-9 mm."""
    d, h = np.array([edge.start for edge in piece.profile.edges]).T
    low = ring_of(piece, False, d, h)
    stand = piece.stand
    scene = low @ np.array([stand.x, stand.y, stand.z]) + np.array(stand.origin)
    assert np.ptp(scene[:, 2]) < 1e-9
    return {(round(x, 9) + 0.0, round(y, 9) + 0.0) for x, y, _ in scene.tolist()}


@pytest.mark.parametrize("room", ROOMS)
def test_an_inside_corner_block_stands_in_the_corner(room: Side) -> None:
    """A square, 60 mm a side, between the two walls; molding stops at its faces, square."""
    _run, line, standing = cornered(RIGHT_ANGLE, room, shape())
    y = 60.0 * hand(room)
    (piece,) = standing.pieces
    assert footprint(piece) == {(400.0, 0.0), (340.0, 0.0), (340.0, y), (400.0, y)}
    assert exact_volume(piece) == pytest.approx(60.0 * 60.0 * 90.0, rel=1e-12)
    assert [p.element.length for p in line.pieces] == [340.0, 240.0]
    assert line.pieces[1].element.start == pytest.approx((400.0, y), abs=1e-12)
    assert [joint.kind for joint in line.joints] == ["square end", "block", "block", "square end"]
    assert all(cut.is_square for p in line.pieces for cut in (p.begin, p.end))


@pytest.mark.parametrize("room", ROOMS)
def test_an_outside_corner_block_covers_the_arris(room: Side) -> None:
    """An L that covers 50 mm of each wall and stands 30 mm out from both."""
    _run, line, standing = cornered(-RIGHT_ANGLE, room, shape(lap=50.0))
    s = hand(room)
    (piece,) = standing.pieces
    corners = {(350.0, 0.0), (400.0, 0.0), (400.0, -50.0), (430.0, -50.0), (430.0, 30.0), (350.0, 30.0)}
    assert footprint(piece) == {(x, s * y + 0.0) for x, y in corners}
    assert exact_volume(piece) == pytest.approx((80.0**2 - 50.0**2) * 90.0, rel=1e-12)
    assert [p.element.length for p in line.pieces] == [350.0, 250.0]
    # The molding's end stands within the block's own face: 20 mm out, and the block 30.
    assert measure(line.profile).d_max == 20.0


@pytest.mark.parametrize("room", ROOMS)
def test_an_outside_corner_block_without_a_lap_stands_beyond_the_arris(room: Side) -> None:
    _, line, standing = cornered(-RIGHT_ANGLE, room, shape(lap=0.0))
    s = hand(room)
    (piece,) = standing.pieces
    assert footprint(piece) == {(400.0, 0.0), (430.0, 0.0), (430.0, 30.0 * s), (400.0, 30.0 * s)}
    assert [p.element.length for p in line.pieces] == [400.0, 300.0]


@pytest.mark.parametrize("room", ROOMS)
def test_a_corner_block_stands_on_the_run_s_level_to_its_own_height(room: Side) -> None:
    _, _, standing = cornered(RIGHT_ANGLE, room, shape())
    (piece,) = standing.pieces
    assert piece.stand.origin == pytest.approx((0.0, 0.0, 10.0))
    assert piece.element.length == 90.0
    x, y, z = (np.array(axis) for axis in (piece.stand.x, piece.stand.y, piece.stand.z))
    assert x == pytest.approx([0.0, 0.0, 1.0])
    assert np.cross(x, y) == pytest.approx(z)  # a stand is right-handed, or the block would be inside out


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("raked", ["derived", "same"])
def test_a_rake_stops_plumb_against_a_block(raked: str, room: Side) -> None:
    """A block's sides are plumb, whether the rake's own section is plumb or square to it."""
    steps: list[Step] = [Block("plinth", 60.0), Straight(LONG, 0.75), Block("plinth", 60.0)]
    run = replace(lay_out("stair", steps, room=room), raked="same" if raked == "same" else "derived")
    line = join(run, "rail", BASE, blocks={"plinth": shape()})
    (piece,) = line.pieces
    d, h = outline(line.profile)
    for at_end, x in ((False, 60.0), (True, 60.0 + LONG)):
        assert np.abs(ring_of(piece, at_end, d, h)[:, 0] - x).max() < 1e-9
    # Sheared along its travel, a plumb section and one square to it hold area times their own length.
    length = LONG * (1.25 if raked == "same" else 1.0)
    assert exact_volume(piece) == pytest.approx(measure(BASE).area * length, rel=1e-12)


def test_blocks_in_line_and_the_names_that_joints_use() -> None:
    steps: list[Step] = [Block("plinth", 60.0), Straight(LONG), Corner(RIGHT_ANGLE, CORNER), Straight(300.0)]
    steps += [Block("plinth", 60.0), Straight(200.0)]
    run = lay_out("wall", steps, level=10.0)
    line = join(run, "base", block(20.0, 70.0), blocks={"plinth": shape()})
    standing = block_lines(run, {"plinth": shape()})
    labels = [made.pieces[0].name.rsplit(" / ", 1)[1] for made in standing]
    assert labels == ["1 block", "3 corner block", "4 block"]
    assert [made.pieces[0].name for made in standing] == [f"wall / plinth / {label}" for label in labels]
    assert [name for name in line.blocks if name] == [
        "1 block",
        "3 corner block",
        "3 corner block",
        "4 block",
        "4 block",
    ]
    # Block, molding, corner, molding, block, molding: five joints on blocks, and one free end.
    assert [joint.kind for joint in line.joints] == ["block"] * 5 + ["square end"]
    assert line.between == ((None, 0), (0, None), (None, 1), (1, None), (None, 2), (2, None))
    # A block in line is its own section, carried along the wall for its width.
    assert exact_volume(standing[0].pieces[0]) == pytest.approx(60.0 * 30.0 * 90.0, rel=1e-12)
    assert standing[2].pieces[0].element.start == pytest.approx((60.0 + LONG, 300.0))


def test_a_block_on_the_face_of_a_wall_stands_where_the_wall_is() -> None:
    """The run's plan is the wall x-z plane at y = 50: a corner block there is carried out from the wall, along -y."""
    wall = Stand((0.0, 50.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0))
    run, _, _ = cornered(-RIGHT_ANGLE, "left", shape(lap=0.0))
    run = replace(run, stand=wall, level=0.0)
    (standing,) = block_lines(run, {"plinth": shape(lap=0.0)})
    (piece,) = standing.pieces
    d, h = np.array([edge.start for edge in piece.profile.edges]).T
    stand = piece.stand
    ends = [
        ring_of(piece, at_end, d, h) @ np.array([stand.x, stand.y, stand.z]) + np.array(stand.origin)
        for at_end in (False, True)
    ]
    assert ends[0][:, 1] == pytest.approx(50.0)
    assert ends[1][:, 1] == pytest.approx(50.0 - 90.0)
    assert {(round(x), round(z)) for x, _, z in ends[0].tolist()} == {(400, 0), (430, 0), (430, 30), (400, 30)}


# Scarfs.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("slant", [1.0, -1.0, 0.5])
@pytest.mark.parametrize("slope", [0.0, 0.4])
def test_scarfs_lap_by_their_slant(slant: float, slope: float, room: Side) -> None:
    """A point d out is cut slant * d further along the stick, square to its side: what one gains the next has not.

    On a climb a mm along the stick is cos(pitch) mm in plan; square to the side, h up is h sin(pitch) cos(pitch) back.
    """
    run = scarfed(lay_out("long", [Straight(1000.0, slope)], room=room, heading=0.4), 500.0, slant, 100.0)
    line = join(run, "base", BASE)
    assert len(line.pieces) >= 2
    d, h = outline(line.profile)
    for one, two in pairwise(line.pieces):
        assert one.end.kind == "scarf"
        cut = ring_of(one, True, d, h)
        # Measured along the stick: the saw stands square to its side, whatever it climbs.
        tx, ty = two.element.tangent
        stick = np.array([tx, ty, slope]) / math.hypot(1.0, slope)
        joint_at = np.array([*two.element.start, two.element.height])
        up = np.array([0.0, 0.0, line.run.level])
        assert (cut - joint_at - up) @ stick == pytest.approx(slant * d, abs=1e-9)
        if not slope:
            assert one.stations(d, h)[1] - one.element.length == pytest.approx(slant * d, abs=1e-9)
            assert two.stations(d, h)[0] == pytest.approx(slant * d, abs=1e-9)
        assert np.array_equal(cut, ring_of(two, False, d, h))
        for piece, stations in ((one, one.stations(d, h)[1]), (two, two.stations(d, h)[0])):
            assert np.linalg.norm(cut - piece.frame.points(stations, d, h), axis=1).max() < 1e-9
    assert sum(piece.element.length for piece in line.pieces) == pytest.approx(1000.0, abs=1e-9)
    assert float(exact_volumes(line.pieces).sum()) == pytest.approx(measure(BASE).area * 1000.0, rel=1e-12)


def test_a_scarf_on_one_profile_square_to_the_rake_laps_as_well() -> None:
    run = scarfed(lay_out("long", [Straight(1000.0, 0.5)]), 600.0, 1.0, 100.0)
    line = join(replace(run, raked="same"), "base", BASE)
    d, h = outline(line.profile)
    one, two = line.pieces[:2]
    cut = ring_of(one, True, d, h)
    assert np.array_equal(cut, ring_of(two, False, d, h))
    for piece, stations in ((one, one.stations(d, h)[1]), (two, two.stations(d, h)[0])):
        assert np.linalg.norm(cut - piece.frame.points(stations, d, h), axis=1).max() < 1e-9


# Copes.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("coped", ["after", "before"])
@pytest.mark.parametrize("walls", [75.0, 90.0, 135.0])
@pytest.mark.parametrize("profile", [BASE, CROWN], ids=["base", "crown"])
def test_at_a_cope_one_piece_runs_to_the_wall_and_the_other_to_its_face(
    profile: Profile, walls: float, coped: str, room: Side
) -> None:
    turn = math.radians(180.0 - walls)
    way = Way("cope", coped="after" if coped == "after" else "before")
    run = lay_out("wall", [Straight(LONG), Corner(hand(room) * turn, way), Straight(300.0)], room=room, heading=0.9)
    line = join(run, "base", profile)
    through, cope = line.pieces if coped == "after" else line.pieces[::-1]
    d, h = outline(line.profile)

    def out_from(piece: Piece, points: Floats) -> Floats:
        tx, ty = piece.element.tangent
        found: Floats = (points[:, :2] - np.array(piece.element.start)) @ (hand(room) * np.array([-ty, tx]))
        return found

    # The through piece ends on the other's wall: 0 out from it, whatever its own projection.
    end = ring_of(through, coped == "after", d, h)
    assert np.abs(out_from(cope, end)).max() < 1e-9
    assert (through.end if coped == "after" else through.begin).kind == "butt to wall"
    # The coped one ends on the other's face: as far out from its wall as the profile stands at that height.
    cut = ring_of(cope, coped == "before", d, h)
    face = face_line(line.profile)
    away = out_from(through, cut)
    below, above = face.at(h, "below"), face.at(h, "above")
    assert (away >= np.minimum(below, above) - 1e-9).all()
    assert (away <= np.maximum(below, above) + 1e-9).all()
    assert line.joints[1].kind == "cope"
    if walls == 90.0:
        # By hand at a square corner: the through piece ends square, the coped one stops the face's own out short.
        stations = through.stations(d, h)[1 if coped == "after" else 0]
        assert stations == pytest.approx(LONG if coped == "after" else 0.0, abs=1e-9)


@pytest.mark.parametrize("room", ROOMS)
def test_a_cope_at_a_square_corner_of_strips_is_a_butt_joint(room: Side) -> None:
    """Rectangles: the coped one stops 20 mm from the wall all the way up, and the two fill the corner once."""
    run = lay_out("wall", [Straight(LONG), Corner(hand(room) * RIGHT_ANGLE, Way("cope")), Straight(300.0)], room=room)
    line = join(run, "base", block(20.0, 40.0))
    assert exact_volumes(line.pieces) == pytest.approx([400 * 20 * 40, (300 - 20) * 20 * 40], rel=1e-12)


# Beveled ends.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("profile", [BASE, CROWN, quarter_round(12.0)], ids=["base", "crown", "quarter round"])
def test_a_beveled_end_stops_as_far_back_as_it_stands_out(profile: Profile, room: Side) -> None:
    """At 45 degrees: the wall line keeps its length, and each end takes off the section's first moment about the wall.

    The moment from the flattened outline, by the shoelace formula's next order (a polygon's centroid, from memory).
    """
    piece = ended("beveled", "beveled", profile, room).pieces[0]
    d, h = outline(profile)
    starts, stops = piece.stations(d, h)
    assert starts == pytest.approx(d, abs=1e-9)
    assert stops == pytest.approx(LONG - d, abs=1e-9)
    fine = flatten(profile, 1e-5).points
    x, y = fine.T
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y
    moment = float(((x + np.roll(x, -1)) * cross).sum() / 6)
    assert exact_volume(piece) == pytest.approx(measure(profile).area * LONG - 2 * moment, rel=1e-5)
    assert exact_volume(piece) == pytest.approx(integrated_volume(piece), rel=1e-9)
    for end in (piece.begin, piece.end):
        assert (end.kind, end.is_plane, end.is_square) == ("beveled end", True, False)


def test_on_a_slope_a_beveled_end_is_measured_along_the_stick() -> None:
    run = replace(lay_out("stair", [Straight(LONG, 0.75)]), end="beveled")
    piece = join(run, "rail", block(20.0, 40.0)).pieces[0]
    face = piece.stations(np.array([20.0]), np.array([0.0]))[1][0]
    assert (LONG - face) * 1.25 == pytest.approx(20.0, abs=1e-9)  # 3-4-5: the stick is 5/4 of what lies level


def test_a_curve_is_not_beveled() -> None:
    with pytest.raises(PreviewError, match="an end is beveled on a straight only"):
        ended("beveled", "square", BASE, steps=[Curve(0.5, 300.0), Straight(LONG)])
