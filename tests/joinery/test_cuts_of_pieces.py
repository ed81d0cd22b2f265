"""Pieces and joints one by one, by hand: what a piece says of itself, and where its points begin and stop."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from faced_pieces import polygon
from preview.joinery import (
    UPRIGHT,
    BlockShape,
    Joint,
    JointKind,
    Passage,
    block_lines,
    cut_directions,
    exact_volume,
    face_line,
    join,
    joint_points,
    joint_rings,
    passages,
    ring_of,
    self_return,
    stations,
    turned_on_curves,
)
from preview.joinery.joint import joint_kind
from preview.runs import Block, Corner, Side, Step, Straight, Way, lay_out, scarfed
from samples import RIGHT_ANGLE, block

Floats = NDArray[np.float64]
ROOMS: tuple[Side, Side] = ("left", "right")
LEDGED = polygon((0, 0), (10, 0), (10, 20), (30, 20), (10, 40), (0, 40))
"""It stands 10 mm out up to 20 mm, then juts out to 30 and slopes back to 10 mm at the top, 40 mm up."""


def numbers(*values: float) -> Floats:
    return np.array(values)


# Pieces.


def test_a_piece_is_level_where_nothing_lifts_it() -> None:
    """A higher foot, a slope, an easement or a shear: any of them by itself."""
    (piece,) = join(lay_out("hall", [Straight(90.0)]), "m", block()).pieces
    assert piece.is_level is True
    wall = piece.element
    for lifted in (replace(wall, height=5.0), replace(wall, slope=0.5), replace(wall, bend=0.01)):
        assert replace(piece, element=lifted).is_level is False
    assert replace(piece, shear=0.2).is_level is False
    stone = {"stone": BlockShape("stone", block(3.0, 9.0), 5.0, 4.0, 3.0)}
    (line,) = block_lines(lay_out("door", [Straight(90.0), Block("stone", 5.0)]), stone)
    assert [each.is_level for each in line.pieces] == [True]


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("heading", [0.0, 1.1, -2.5])
def test_a_section_square_to_the_rake_leans_back_along_the_climb(room: Side, heading: float) -> None:
    """3 up for 4 along: a point 5 mm up the section stands 4 up and 3 back along the travel."""
    run = replace(lay_out("stair", [Straight(90.0, 0.75)], room=room, heading=heading), raked="same")
    (piece,) = join(run, "m", block()).pieces
    back = -0.6 * np.array([math.cos(heading), math.sin(heading)])
    assert piece.up == pytest.approx((*back, 0.8), abs=1e-12)
    (plumb,) = join(replace(run, raked="derived"), "m", block()).pieces
    assert plumb.up == UPRIGHT


@pytest.mark.parametrize("room", ROOMS)
def test_a_coped_piece_as_its_two_cuts(room: Side) -> None:
    """Coped where it begins and mitered round an outside corner where it ends: 1 mm further on for each mm out."""
    hand = 1 if room == "left" else -1
    corner = Corner(hand * RIGHT_ANGLE, Way("cope", coped="after"))
    steps: list[Step] = [Straight(90.0), corner, Straight(80.0), Corner(-hand * RIGHT_ANGLE), Straight(70.0)]
    through, coped, last = join(lay_out("hall", steps, room=room), "m", LEDGED).pieces
    assert [piece.is_faced for piece in (through, coped, last)] == [False, True, False]
    straight = coped.faced
    assert (straight.begin, straight.end, straight.end_cut.is_plane) == (0.0, 80.0, True)
    assert (straight.begin_cut.per_face, straight.begin_cut.per_out) == pytest.approx((1.0, 0.0), abs=1e-15)
    cut = straight.end_cut
    assert (cut.per_face, cut.per_out, cut.per_up) == pytest.approx((0.0, 1.0, 0.0), abs=1e-14)


def test_every_cut_of_a_run_is_counted_once() -> None:
    """A miter is one cut for both of its pieces, a cope two."""
    steps: list[Step] = [Straight(90.0), Corner(RIGHT_ANGLE), Straight(80.0), Corner(-1.0), Straight(70.0)]
    found, begins, ends = join(lay_out("hall", steps), "m", block()).cuts
    assert (len(found), begins, ends) == (4, [0, 1, 2], [1, 2, 3])
    steps[1] = Corner(RIGHT_ANGLE, Way("cope", coped="after"))
    found, begins, ends = join(lay_out("hall", steps), "m", block()).cuts
    assert (len(found), begins, ends) == (5, [0, 2, 3], [1, 3, 4])


# Where points begin and stop.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("coped", ["before", "after"])
def test_points_on_a_ledge_stop_just_below_it_or_just_above(room: Side, coped: str) -> None:
    """In a square corner the coped piece stops where the other's face stands; at its foot and at its top, there is
    wood on one side only."""
    hand = 1 if room == "left" else -1
    way = Way("cope", coped=coped)  # type: ignore[arg-type]
    run = lay_out("hall", [Straight(80.0), Corner(hand * RIGHT_ANGLE, way), Straight(70.0)], room=room)
    pieces = join(run, "m", LEDGED).pieces
    d, h = numbers(0.0, 5.0, 10.0, 7.0, 3.0), numbers(0.0, 10.0, 20.0, 30.0, 40.0)
    for side, face in (
        ("below", numbers(10.0, 10.0, 10.0, 20.0, 10.0)),
        ("above", numbers(10.0, 10.0, 30.0, 20.0, 10.0)),
    ):
        starts, stops = stations(pieces, d, h, side)  # type: ignore[arg-type]
        whole = np.zeros(5)
        if coped == "after":
            want = [(whole, whole + 80.0), (face, whole + 70.0)]
        else:
            want = [(whole, 80.0 - face), (whole, whole + 70.0)]
        for found, (first, last) in zip(zip(starts, stops, strict=True), want, strict=True):
            assert found[0] == pytest.approx(first, abs=1e-9)
            assert found[1] == pytest.approx(last, abs=1e-9)
    # Left out, a height is that of the foot.
    starts, stops = stations(pieces, d)
    cut = pieces[1] if coped == "after" else pieces[0]
    assert [cut.stations(d, np.zeros(5))[i].tolist() for i in (0, 1)] == [
        each[pieces.index(cut)].tolist() for each in (starts, stops)
    ]


@pytest.mark.parametrize("room", ROOMS)
def test_the_ring_of_a_coped_end_lies_on_the_other_s_face(room: Side) -> None:
    """The second wall runs square off the first's end: along it, y, the other's face stands f(h) out."""
    hand = 1 if room == "left" else -1
    corner = Corner(hand * RIGHT_ANGLE, Way("cope", coped="after"))
    run = lay_out("hall", [Straight(80.0), corner, Straight(70.0)], room=room, start=(5.0, -3.0))
    through, coped = join(run, "m", LEDGED).pieces
    d, h = numbers(0.0, 5.0, 7.0, 10.0), numbers(10.0, 10.0, 30.0, 25.0)
    face = numbers(10.0, 10.0, 20.0, 25.0)
    corner_at = complex(85.0, -3.0)
    want = np.column_stack([corner_at.real - d, corner_at.imag + hand * face, h])
    assert ring_of(coped, False, d, h) == pytest.approx(want, abs=1e-9)
    want = np.column_stack([corner_at.real - d, np.full(4, corner_at.imag + hand * 70.0), h])
    assert ring_of(coped, True, d, h) == pytest.approx(want, abs=1e-9)
    want = np.column_stack([np.full(4, corner_at.real), corner_at.imag + hand * d, h])
    assert ring_of(through, True, d, h) == pytest.approx(want, abs=1e-9)
    # f stands over a width of f: 10 * 10 * 20 below the ledge, and (30³ - 10³) / 3 above it.
    assert exact_volume(coped) == pytest.approx(600.0 * 70.0 - 2000.0 - 26000.0 / 3, rel=1e-12)
    assert exact_volume(through) == pytest.approx(600.0 * 80.0, rel=1e-12)


@pytest.mark.parametrize("room", ROOMS)
def test_only_one_end_of_a_climb_leans(room: Side) -> None:
    """Scarfed square to the side of the stick, plumb at its two far ends: 3 up for 4 along, for each mm up the section
    a point of the scarf stands 0.8 * 0.6 mm back along the plan, and of the plumb ends none."""
    run = scarfed(lay_out("stair", [Straight(900.0, 0.75)], room=room), 600.0, 1.0, 100.0, 0.0, [(0.0, 20.0)])
    first, second = join(run, "m", block()).pieces
    assert run.ways[1].kind == "scarf"
    d, h = numbers(0.0, 0.0, 20.0), numbers(0.0, 30.0, 30.0)
    starts, stops = stations([first, second], d, h)
    assert starts[0] == pytest.approx(np.zeros(3), abs=1e-9)
    assert stops[1] == pytest.approx(np.full(3, second.element.length), abs=1e-9)
    slant = 1.0 / 1.25  # 1 mm along the stick for each mm out
    leaning = numbers(0.0, -0.48 * 30.0, -0.48 * 30.0 + slant * 20.0)
    assert stops[0] - first.element.length == pytest.approx(leaning, abs=1e-9)
    assert starts[1] == pytest.approx(leaning, abs=1e-9)
    # Left out, a height is that of the foot.
    starts, stops = stations([first, second], numbers(0.0, 20.0))
    assert stops[0] - first.element.length == pytest.approx([0.0, slant * 20.0], abs=1e-9)
    assert starts[1] == pytest.approx([0.0, slant * 20.0], abs=1e-9)


def test_a_self_return_is_followed_at_either_end() -> None:
    """The profile's own face, outward past both ends of the wall."""
    line = join(replace(lay_out("sill", [Straight(80.0)]), begin="self-return", end="self-return"), "m", LEDGED)
    (piece,) = line.pieces
    d, h = numbers(0.0, 5.0), numbers(30.0, 5.0)
    starts, stops = stations([piece], d, h)
    assert starts[0].tolist() == [-20.0, -10.0]
    assert stops[0].tolist() == [100.0, 90.0]
    assert piece.faced.begin_cut == self_return(face_line(LEDGED), begins=True)


# Joints.


@pytest.mark.parametrize(
    ("turn", "before", "after", "climbs", "kind"),
    [
        (0.0, 0.0, 0.0, True, "plumb cut"),
        (0.0, 0.0, 0.02, True, "plumb cut"),
        (0.0, 0.0, 0.0, False, "butt"),
        (0.0, 0.02, 0.02, False, "tangent"),
        (0.0, 0.0, 0.02, False, "tangent"),
        (1.0, 0.0, 0.0, False, "miter"),
        (1.0, 0.0, 0.0, True, "miter"),
        (-1.0, 0.02, 0.02, False, "miter"),
        (-1.0, 0.02, -0.02, False, "curved miter"),
        (0.5, 0.02, 0.0, True, "curved miter"),
        (0.5, 0.0, 1e-9, False, "curved miter"),
    ],
)
def test_kinds_of_joints(turn: float, before: float, after: float, climbs: bool, kind: JointKind) -> None:
    assert joint_kind(turn, before, after, climbs) == kind


def straights(heading: float, turn: float, slant: float = 0.0) -> Joint:
    """A corner of two straights, or a cut across one, far from the origin, the room on the left."""
    tangents = [(math.cos(a), math.sin(a)) for a in (heading, heading + turn)]
    before, after = (Passage(t, (-t[1], t[0])) for t in tangents)
    return Joint("corner", "scarf" if slant else "miter", (310.0, -120.0), before, after, turn, slant=slant)


@pytest.mark.parametrize("heading", [0.0, 0.7, 4.0])
def test_the_axes_of_a_plane_cut(heading: float) -> None:
    """Round a square outside corner a mm out is a mm on; on a scarf of 45 degrees as well, plumb or leaning."""
    travel, out = np.array([math.cos(heading), math.sin(heading)]), np.array([-math.sin(heading), math.cos(heading)])
    for joint in (straights(heading, -RIGHT_ANGLE), straights(heading, 0.0, 1.0)):
        leaning = replace(joint, height=9.0, lean=0.25, up=(0.1, 0.2, 0.9))
        each, up = leaning.axes()
        assert each == pytest.approx([*(travel + out), 0.25], abs=1e-12)
        assert up.tolist() == [0.1, 0.2, 0.9]


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("radius", [1.0, 0.02, 300.0])
def test_a_niche_as_small_as_you_like_is_followed_to_half_its_radius(room: Side, radius: float) -> None:
    """Its face meets a straight's round a square outside corner as far out as half its radius."""
    passage, curved = Passage((1.0, 0.0), (0.0, 1.0)), Passage((0.0, -1.0), (1.0, 0.0), 1 / radius)
    joint = Joint("corner", "curved miter", (0.0, 0.0), passage, curved, -RIGHT_ANGLE)
    assert joint.reach() == pytest.approx(radius / 2, rel=1e-12)
    back = replace(joint, before=curved, after=passage)
    assert back.reach() == pytest.approx(radius / 2, rel=1e-12)


def two_curves(bends: tuple[float, float], turn: float, heading: float = 0.0) -> Joint:
    """A corner at (310, -120) between back lines of these curvatures, + toward the room, on the left."""
    tangents = [(math.cos(a), math.sin(a)) for a in (heading, heading + turn)]
    before, after = (Passage(t, (-t[1], t[0]), k) for t, k in zip(tangents, bends, strict=True))
    return Joint("corner", "curved miter", (310.0, -120.0), before, after, turn)


@pytest.mark.parametrize(
    "bends", [(0.0, 1e-6), (1e-6, 0.0), (0.02, -0.02), (-0.02, 0.02), (0.02, 0.02 * (1 + 1e-9)), (0.01, -0.03)]
)
@pytest.mark.parametrize("turn", [1.2, -0.9])
def test_points_of_a_joint_lie_their_projection_out_from_both_walls(bends: tuple[float, float], turn: float) -> None:
    """From the lines and circles themselves: curves that bend as much opposite ways, and one of a kilometer."""
    joint = two_curves(bends, turn, 0.4)
    d = numbers(0.0, 4.0, 11.0)
    away = joint.points(d) - np.array(joint.at)
    for side in (joint.before, joint.after):
        n, k = np.array(side.normal), side.curvature
        found = away @ n if not k else (1 - np.linalg.norm(away * k - n, axis=1)) / k
        # Beside a kilometer, rounding leaves less than a tenth of a nanometer.
        assert found == pytest.approx(d, abs=1e-8 if abs(k) < 1e-3 else 1e-10)


def test_joints_of_every_kind_are_cut_alike_alone_and_together() -> None:
    """A scarf, miters, and curved miters at once; the directions of their cuts by differences."""
    plane = [straights(0.0, 0.0, 0.8), straights(0.7, 1.1), straights(2.0, -1.1), straights(0.3, 0.0, -1.5)]
    curved = [two_curves((0.0, -0.02), 0.9), two_curves((0.01, -0.01), -0.7, 1.0), two_curves((0.004, 0.0), 1.0, 3.0)]
    d, h = numbers(0.5, 3.0, 9.0), numbers(1.0, 2.0, 3.0)
    for joints in (plane, curved, [*plane, *curved], plane[1:3], [curved[0], plane[1]]):
        together = joint_points(joints, d)
        rings = joint_rings(joints, d, h)
        assert np.array_equal(rings[..., :2], together)
        assert (rings[..., 2] == h).all()  # level, unless it is told to lean
        directions = cut_directions(*passages(joints), together)
        for joint, points, found in zip(joints, together, directions, strict=True):
            assert points == pytest.approx(joint.points(d), abs=1e-12)
            step = joint.points(d + 1e-5) - joint.points(d - 1e-5)
            assert found == pytest.approx(step / np.linalg.norm(step, axis=1, keepdims=True), abs=1e-8)


def test_only_corners_on_curves_are_bent() -> None:
    """On either side, and where the two normals share a figure: a corner whose half lies along y."""
    one, two = Passage((0.8, 0.6), (-0.6, 0.8)), Passage((0.8, -0.6), (0.6, 0.8))
    lined = Passage((0.8, -0.6), (0.6, 0.8), 0.02)
    unit = Passage((0.8, -0.6), (0.6, 0.8), 1.0)
    pairs = [(one, two), (one, lined), (lined, one), (one, unit), (unit, one), (lined, lined), (one, one), (two, lined)]
    joints = [Joint("corner", "miter", (0.0, 0.0), before, after) for before, after in pairs]
    bent = [False, True, True, True, True, False, False, False]
    assert turned_on_curves(*passages(joints)).tolist() == bent
    assert [bool(turned_on_curves(*passages([joint]))[0]) for joint in joints] == bent
