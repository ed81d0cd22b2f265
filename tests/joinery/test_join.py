"""Cutting a member to a run: names, kinds, the two sides of a joint, and the stations where points stop."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given

from preview.joinery import MemberRun, into_room, join, passages, stations
from preview.profiles import measure
from preview.runs import Corner, Curve, Side, Straight, lay_out
from samples import BASE, RIGHT_ANGLE, around, block, corner, curve, meeting, stepped
from strategies import joined, share

DEGREE = math.pi / 180


@pytest.mark.parametrize("room", ["left", "right"])
def test_pieces_and_joints_of_a_run(room: Side) -> None:
    line = join(stepped(room), "base", BASE)
    assert line.name == "stepped / base"
    assert [piece.name for piece in line.pieces] == [
        "stepped / base / 1 straight",
        "stepped / base / 2 straight",
        "stepped / base / 3 straight",
        "stepped / base / 4 curve",
        "stepped / base / 5 straight",
        "stepped / base / 6 curve",
        "stepped / base / 7 straight",
    ]
    assert [joint.name for joint in line.joints] == [
        "stepped / base / begin",
        "stepped / base / 1-2 miter",
        "stepped / base / 2-3 miter",
        "stepped / base / 3-4 tangent",
        "stepped / base / 4-5 tangent",
        "stepped / base / 5-6 tangent",
        "stepped / base / 6-7 curved miter",
        "stepped / base / end",
    ]
    turns = [joint.turn for joint in line.joints]
    assert turns == pytest.approx([0, -RIGHT_ANGLE, RIGHT_ANGLE, 0, 0, 0, -40 * DEGREE, 0])
    assert [joint.is_plane for joint in line.joints] == [True] * 6 + [False, True]
    assert [piece.curvature for piece in line.pieces] == pytest.approx([0, 0, 0, -1 / 50.8, 0, 1 / 120, 0])
    for number, piece in enumerate(line.pieces):
        assert piece.begin is line.joints[number]  # one joint, both pieces: they cannot disagree
        assert piece.end is line.joints[number + 1]
        assert (piece.index, piece.run, piece.member) == (number + 1, "stepped", "base")
        assert piece.normal == into_room(piece.element.tangent, piece.hand)
    assert measure(line.pieces[0].profile).h_min == 12.0  # the run's level


def test_a_closed_run_ends_at_its_first_joint() -> None:
    line = join(around(), "base", BASE)
    assert len(line.pieces) == len(line.joints) == 5
    assert line.pieces[-1].end is line.pieces[0].begin is line.joints[0]
    assert line.joints[0].name == "around / base / 5-1 miter"
    assert [joint.kind for joint in line.joints] == ["miter", "miter", "miter", "tangent", "tangent"]


@pytest.mark.parametrize(
    ("first", "turn", "second", "kind"),
    [
        (Straight(100.0), 0.0, Straight(100.0), "butt"),
        (Straight(100.0), 0.0, Curve(1.0, 100.0), "tangent"),
        (Curve(1.0, 100.0), 0.0, Curve(-1.0, 100.0), "tangent"),
        (Straight(100.0), 1.0, Straight(100.0), "miter"),
        (Curve(0.5, 100.0), -0.5, Curve(0.5, 100.0), "miter"),  # equal radius, same sense: a straight cut
        (Curve(0.5, 100.0), -0.5, Curve(-0.5, 100.0), "curved miter"),
        (Curve(0.5, 100.0), -0.5, Curve(0.5, 100.1), "curved miter"),
        (Straight(100.0), -0.5, Curve(0.5, 100.0), "curved miter"),
    ],
)
def test_the_kind_of_a_joint(first: Straight | Curve, turn: float, second: Straight | Curve, kind: str) -> None:
    steps = [first, *([Corner(turn)] if turn else []), second]
    assert join(lay_out("run", steps), "m", block(5.0)).joints[1].kind == kind


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("turn", [90, 45, 133.6, 1, -1, -22.5, -90, -150])
def test_a_miter_shortens_by_d_tan_half_the_turn(room: Side, turn: float) -> None:
    line = join(corner(turn * DEGREE, room), "m", block())
    d = np.array([0.0, 4.0, 20.0])
    cut = d * math.tan(turn * DEGREE / 2)
    first, second = (piece.stations(d) for piece in line.pieces)
    assert np.allclose(first, [0 * d, 300 - cut], atol=1e-12)
    assert np.allclose(second, [cut, 300 + 0 * d], atol=1e-12)


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("toward", [1, -1])
def test_a_curve_met_smoothly_is_cut_square(room: Side, toward: int) -> None:
    hand = 1 if room == "left" else -1
    run = lay_out("run", [Straight(100.0), Curve(hand * toward * RIGHT_ANGLE, 60.0), Straight(100.0)], room=room)
    starts, stops = stations(join(run, "m", BASE).pieces, np.array([0.0, 10.0, 31.75]))
    assert np.allclose(starts, 0.0, atol=1e-12)
    assert np.allclose(stops, [[100.0], [30 * math.pi], [100.0]], atol=1e-12)


@share(0.4)
@given(joined())
def test_both_pieces_stop_at_one_point(line: MemberRun) -> None:
    """Walking each back line to its own station and stepping out d comes to the joint's point, from both sides."""
    size = measure(line.profile)
    d = np.linspace(size.d_min, size.d_max, 5)
    starts, stops = stations(line.pieces, d)
    for first, second, stop, start in zip(line.pieces, line.pieces[1:], stops, starts[1:], strict=False):
        joint = first.end.points(d)
        for piece, at in ((first, stop), (second, start)):
            backs = np.array([piece.element.point(s) for s in at])
            normals = np.array([into_room(piece.element.tangent_at(s), piece.hand) for s in at])
            assert np.abs(backs + d[:, None] * normals - joint).max() < 1e-9
    assert (stops - starts >= 0.1).all()


def test_normals_follow_the_curve() -> None:
    """Carried to a point of a wrapped curve the normal points away from its center; lined, toward it."""
    for sweep, sign in ((-1.0, 1), (1.0, -1)):
        line = join(meeting(Straight(200.0), -0.7, Curve(sweep, 80.0)), "m", block())
        _, after = passages([line.joints[1]])
        points = line.joints[1].points(np.array([0.0, 10.0, 20.0]))
        away = sign * (points - np.array(line.pieces[1].element.center))
        assert after.normals_at(points[None])[0] == pytest.approx(
            away / np.linalg.norm(away, axis=1)[:, None], abs=1e-12
        )


def test_a_base_wraps_a_four_inch_corner_and_clears_its_center() -> None:
    """Common practice: a 4 in by 1 1/4 in base turned to an outside diameter near 4 in still clears its center.

    The turned corner is then 2 in from its center at the face and 3/4 in at the back: it wraps, and nothing folds.
    Lined round the inside of the same 3/4 in it would fold.
    """
    inch = 25.4
    profile = block(1.25 * inch, 4 * inch)
    piece = join(curve(-RIGHT_ANGLE, 0.75 * inch), "base", profile).pieces[0]
    size = measure(profile)
    radii = [piece.element.radius + d for d in (size.d_min, size.d_max)]
    assert radii == pytest.approx([0.75 * inch, 2.0 * inch])
    assert 2 * radii[1] == pytest.approx(4 * inch)
    with pytest.raises(Exception, match="its face would fold"):
        join(curve(RIGHT_ANGLE, 0.75 * inch), "base", profile)
