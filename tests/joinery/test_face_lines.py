"""The outermost line of a face and the cuts that follow it, by hand, wherever the profile stands."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from faced_pieces import lipped, polygon
from preview.joinery import (
    WALL,
    FacedStraight,
    Frame,
    HiddenFace,
    cope,
    face_line,
    faced_integral,
    faced_volume,
    hidden,
    plane_cut,
    self_return,
)
from preview.profiles import Profile
from samples import RIGHT_ANGLE, block, quarter_round, wedge

Floats = NDArray[np.float64]
STEPPED = polygon((0, 0), (20, 0), (20, 30), (12, 30), (12, 50), (0, 50))
MOVES = [(0.0, 0.0), (0.0, 1000.0), (4.0, -1000.0)]


def numbers(*values: float) -> Floats:
    return np.array(values)


@pytest.mark.parametrize("move", MOVES)
def test_a_height_off_by_rounding_stands_at_the_foot_the_ledge_or_the_top(move: tuple[float, float]) -> None:
    out, up = move
    line = face_line(STEPPED.moved(out, up))
    low, ledge, top = 20.0 + out, 12.0 + out, 0.0
    for off in (-1e-12, 0.0, 1e-12):
        at = numbers(up, 30.0 + up, 50.0 + up) + off
        assert line.at(at, "below").tolist() == [0.0, low, ledge]
        assert line.at(at, "above").tolist() == [low, ledge, top]


@pytest.mark.parametrize("move", MOVES)
def test_an_arris_is_no_jump(move: tuple[float, float]) -> None:
    """The face turns at the foot and the head of a slope, and jumps at its own foot and top."""
    out, up = move
    sloped = face_line(polygon((0, 0), (20, 0), (20, 30), (12, 40), (12, 50), (0, 50)).moved(out, up))
    assert sloped.breaks == (up, 30.0 + up, 40.0 + up, 50.0 + up)
    assert sloped.jumps == (up, 50.0 + up)
    assert sloped.most == 20.0 + out
    assert face_line(wedge(30.0, 60.0)).jumps == (0.0,)  # it runs out to nothing at its top


def test_what_stands_behind_a_face_does_not_break_it() -> None:
    rebated = face_line(polygon((0, 0), (20, 0), (20, 30), (12, 40), (0, 40), (0, 25), (5, 25), (5, 10), (0, 10)))
    assert rebated.breaks == (0.0, 30.0, 40.0)
    assert len(rebated.edges) == 2
    assert WALL.at(numbers(-1.0, 0.0, 5.0)).tolist() == [0.0, 0.0, 0.0]
    assert WALL.tangents(numbers(-1.0, 5.0)).tolist() == [[0.0, 1.0], [0.0, 1.0]]


# What no saw can follow.


@pytest.mark.parametrize("move", MOVES)
def test_a_channel_behind_a_lip_is_one_hidden_stretch(move: tuple[float, float]) -> None:
    """The lip hangs from 20 mm down to 8, 28 mm out; behind it the channel's wall stands 10, 14 and 8 mm out."""
    channel = polygon(
        (0, 0),
        (30, 0),
        (30, 4),
        (10, 4),
        (10, 10),
        (14, 10),
        (14, 16),
        (8, 16),
        (8, 20),
        (24, 20),
        (24, 8),
        (28, 8),
        (28, 40),
        (0, 40),
    )
    up = move[1]
    assert hidden(channel.moved(*move)) == (HiddenFace(8.0 + up, 20.0 + up, 20.0),)
    assert hidden(lipped().moved(*move)) == (HiddenFace(12.0 + up, 20.0 + up, 12.0),)


@pytest.mark.parametrize("move", MOVES)
def test_two_lips_hide_two_stretches(move: tuple[float, float]) -> None:
    """Each with a step behind it: the parts of one are told together, those of the other apart from it."""
    two = polygon(
        (0, 0),
        (10, 0),
        (10, 6),
        (12, 6),
        (12, 10),
        (20, 10),
        (20, 4),
        (22, 4),
        (22, 14),
        (10, 14),
        (10, 22),
        (6, 22),
        (6, 30),
        (20, 30),
        (20, 18),
        (24, 18),
        (24, 40),
        (0, 40),
    )
    up = move[1]
    assert hidden(two.moved(*move)) == (
        HiddenFace(4.0 + up, 10.0 + up, 12.0),
        HiddenFace(18.0 + up, 30.0 + up, 18.0),
    )


def test_a_foot_that_rises_behind_a_lip_is_hidden() -> None:
    """From 5 mm up at the wall to 8 mm up, 10 mm out, behind a lip 20 mm out: all of that deep at the wall itself."""
    (foot,) = hidden(polygon((0, 5), (10, 8), (14, 8), (14, 0), (20, 0), (20, 40), (0, 40)))
    assert (foot.low, foot.high) == (5.0, 8.0)
    assert foot.depth == pytest.approx(20.0, abs=0.002)


# Cuts.


def test_a_cut_on_the_bare_wall_is_a_saw_s() -> None:
    assert plane_cut(0.4, -0.3).is_plane is True
    assert cope(face_line(block()), 1.0, begins=True).is_plane is False
    assert self_return(face_line(block()), begins=False).is_plane is False


def test_a_cope_is_level_at_the_crown_of_a_round() -> None:
    """There the face runs level, toward the wall: the cut is seen from above only."""
    cut = cope(face_line(quarter_round(10.0)), RIGHT_ANGLE, begins=True)
    assert cut.normals(numbers(10.0)).tolist() == [pytest.approx([0.0, 0.0, 1.0], abs=1e-12)]
    # At its foot it stands upright: square to the wall that it butts.
    assert cut.normals(numbers(0.0), "above").tolist() == [pytest.approx([1.0, 0.0, 0.0], abs=1e-12)]


def test_a_cope_on_walls_all_but_in_line_runs_on_and_on() -> None:
    """A point d out of one is d / tan of the turn past it: 2 km for each meter."""
    cut = cope(WALL, 0.0005, begins=False)
    assert cut.stations(numbers(1.0), numbers(0.0)) == pytest.approx([1 / math.tan(0.0005)], rel=1e-12)


@pytest.mark.parametrize("move", MOVES)
@pytest.mark.parametrize("degrees", [90.0, 60.0, 120.0])
def test_the_wood_of_a_cope_on_a_ledge(move: tuple[float, float], degrees: float) -> None:
    """f stands over the whole width of each course: area by f for the face, less the moment by cot for the turn."""
    out, up = move
    profile, turn = STEPPED.moved(out, up), math.radians(degrees)
    # width, height, how far out its middle and its face stand
    courses = [(20.0, 30.0, 10.0 + out, 20.0 + out), (12.0, 20.0, 6.0 + out, 12.0 + out)]
    want = sum(w * h * (face / math.sin(turn) - middle / math.tan(turn)) for w, h, middle, face in courses)
    cut = cope(face_line(profile), turn, begins=True)
    assert faced_integral(profile, cut) == pytest.approx(want, rel=1e-12)


def test_a_straight_is_measured_from_its_first_cut_to_its_last() -> None:
    """From 25 mm on to 100, returned on itself at its end: the board is 20 x 40."""
    frame = Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))

    def volume(profile: Profile, begin: float, end: float) -> float:
        return faced_volume(
            FacedStraight(profile, frame, begin, plane_cut(), end, self_return(face_line(profile), begins=False))
        )

    assert volume(block(), 25.0, 100.0) == pytest.approx(800.0 * 95.0, rel=1e-13)
    assert volume(block(), -25.0, 100.0) == pytest.approx(800.0 * 145.0, rel=1e-13)
    assert frame.mirrored is False
    assert Frame((9.0, 0.0, 0.0), (1.0, 0.0, 0.3), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0)).mirrored is True
