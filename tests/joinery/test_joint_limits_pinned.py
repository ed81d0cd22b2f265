"""The limits of joints, from just inside and from just outside: by four parts in ten thousand."""

from __future__ import annotations

import cmath
import math

import pytest

from preview.errors import PreviewError
from preview.joinery import banded, join, meeting_ends
from preview.profiles import Arc, Line, Profile, make_profile
from preview.runs import Corner, Curve, Run, Side, Straight, Way, lay_out
from samples import RIGHT_ANGLE, block, curve, half_round, meeting, quarter_round

IN, OUT = 1 - 4e-4, 1 + 4e-4
ROOMS: tuple[Side, Side] = ("left", "right")


def refused(run: Run, profile: Profile) -> str:
    with pytest.raises(PreviewError) as caught:
        join(run, "rail", profile)
    return str(caught.value)


@pytest.mark.parametrize("room", ROOMS)
def test_a_piece_keeps_a_tenth_of_a_mm(room: Side) -> None:
    """Two inside corners take 2 mm each."""
    hand = 1 if room == "left" else -1
    for left, cut in ((0.1 * OUT, True), (0.1 * IN, False)):
        corner = Corner(hand * RIGHT_ANGLE)
        run = lay_out("u", [Straight(9.0), corner, Straight(4.0 + left), corner, Straight(9.0)], room=room)
        if cut:
            assert len(join(run, "rail", block(2.0)).pieces) == 3
        else:
            assert "they leave only 0.1 mm" in refused(run, block(2.0))


@pytest.mark.parametrize("room", ROOMS)
def test_a_face_turns_on_a_tenth_of_a_mm(room: Side) -> None:
    for left, cut in ((0.1 * OUT, True), (0.1 * IN, False)):
        inside, behind = curve(RIGHT_ANGLE, 2.0 + left, room), curve(-RIGHT_ANGLE, 3.0 + left, room)
        if cut:
            assert join(inside, "rail", block(2.0)).pieces
            assert join(behind, "rail", block(9.0).moved(-3.0, 0.0)).pieces
        else:
            assert "than the profile's projection 2 mm, so its face would come" in refused(inside, block(2.0))
            said = refused(behind, block(9.0).moved(-3.0, 0.0))
            assert "than the profile's depth behind the wall line 3 mm, so its face would come to a point" in said


@pytest.mark.parametrize("room", ROOMS)
def test_two_faces_turn_by_160_degrees_at_most(room: Side) -> None:
    """A niche of 40 mm at an outside square corner: d out the faces turn by 180° - arccos(d/(40 - d))."""
    for most, cut in ((160 * IN, True), (160 * OUT, False)):
        part = math.cos(math.radians(180 - most))
        run = meeting(Straight(300.0), -RIGHT_ANGLE, Curve(1.0, 40.0), room)
        profile = block(40 * part / (1 + part))
        if cut:
            assert join(run, "rail", profile).pieces
        else:
            assert f"is one of {most:.2f}° at" in refused(run, profile)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("coped", ["before", "after"])
def test_a_cope_needs_5_degrees(room: Side, coped: str) -> None:
    hand = 1 if room == "left" else -1
    for turn, cut in ((5 * OUT, True), (5 * IN, False)):
        way = Way("cope", coped=coped)  # type: ignore[arg-type]
        run = lay_out("hall", [Straight(900.0), Corner(hand * math.radians(turn), way), Straight(900.0)], room=room)
        if cut:
            assert join(run, "rail", block(9.0)).pieces
        else:
            assert "and a cope needs 5°" in refused(run, block(9.0))


# Ends of different runs.


def walls(gap: complex, up: float = 0.0, off: float = 0.0, *, back: bool = False, far: complex = 0j) -> list[Run]:
    """Two walls in one line but for a gap, the second higher, off by an angle or walked the other way."""
    u = cmath.exp(0.6j)
    start = complex(120.0, -45.0) + far
    first = lay_out("one", [Straight(300.0)], start=(start.real, start.imag), heading=0.6)
    at = start + 300.0 * u + gap * u
    heading, room = 0.6 + off, "left"
    if back:
        at, heading, room = at + 200.0 * u, heading + math.pi, "right"
    second = lay_out(
        "two",
        [Straight(200.0)],
        start=(at.real, at.imag),
        heading=heading,
        room=room,  # type: ignore[arg-type]
        level=up,
    )
    return [first, second]


@pytest.mark.parametrize("back", [False, True])
@pytest.mark.parametrize("way", [1, -1, 1j, -1j])
def test_ends_meet_within_a_hundredth_of_a_mm(back: bool, way: complex) -> None:
    for gap, meets in ((0.01 * IN, True), (0.01 * OUT, False)):
        lines = [join(run, "rail", block()) for run in walls(gap * way, back=back)]
        for both in (lines, lines[::-1]):
            found, near = meeting_ends(both)
            assert (len(found), len(near)) == ((1, 0) if meets else (0, 1))
            if not meets:
                assert near[0].apart == pytest.approx(gap)
                assert near[0].why == "a gap is left between them"


def test_ends_within_a_centimeter_are_told() -> None:
    for far, told in ((10 * IN, 1), (10 * OUT, 0)):
        lines = [join(run, "rail", block()) for run in walls(far * cmath.exp(0.9j))]
        found, near = meeting_ends(lines)
        assert (len(found), len(near)) == (0, told)
        lines = [join(run, "rail", block()) for run in walls(0j, up=far)]
        assert len(meeting_ends(lines)[0]) == told  # a butt of two heights, for a check to judge


def test_ends_at_an_angle_do_not_lie_in_one_line() -> None:
    for off, meets in ((9e-7, True), (1.1e-6, False)):
        found, near = meeting_ends([join(run, "rail", block()) for run in walls(0j, off=off)])
        assert (len(found), [each.why for each in near]) == ((1, []) if meets else (0, ["they do not lie in one line"]))


# Steps of a mesh.


def test_no_step_of_a_round_turns_by_more_than_36_degrees() -> None:
    """However coarse the mesh: 45 degrees, and a quarter of that to spare."""
    assert sum(isinstance(edge, Arc) for edge in banded(quarter_round(10.0), chord=1e3).edges) == 3
    assert sum(isinstance(edge, Arc) for edge in banded(half_round(10.0), chord=1e3).edges) == 5
    for degrees, steps in ((72 * IN, 2), (72 * OUT, 3), (36 * IN, 1), (36 * OUT, 2)):
        angle = math.radians(degrees)
        start, top = (10.0, 0.0), (10.0 * math.cos(angle), 10.0 * math.sin(angle))
        profile = make_profile(
            "sector",
            [
                Line((0.0, 0.0), start),
                Arc(start, top, (0.0, 0.0), angle),
                Line(top, (0.0, top[1])),
                Line((0.0, top[1]), (0.0, 0.0)),
            ],
        )
        assert sum(isinstance(edge, Arc) for edge in banded(profile, chord=1e3).edges) == steps


@pytest.mark.parametrize(("steps", "chord"), [(4, 0.02), (9, 0.004)])
def test_a_round_takes_as_many_steps_as_its_chord_asks(steps: int, chord: float) -> None:
    """A step of angle a about r strays from its chord by r (1 - cos(a/2)); a quarter of its length is to spare."""
    a = 2 * math.acos(1 - chord / 10.0) / 1.25
    for angle, count in ((steps * a * IN, steps), (steps * a * OUT, steps + 1)):
        top = (10.0 * math.cos(angle), 10.0 * math.sin(angle))
        corners = [(0.0, 0.0), (10.0, 0.0)]
        profile = make_profile(
            "sector",
            [
                Line(*corners),
                Arc((10.0, 0.0), top, (0.0, 0.0), angle),
                Line(top, (0.0, top[1])),
                Line((0.0, top[1]), (0.0, 0.0)),
            ],
        )
        assert sum(isinstance(edge, Arc) for edge in banded(profile, chord=chord).edges) == count
