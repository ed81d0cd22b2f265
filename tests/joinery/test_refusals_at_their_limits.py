"""What is just allowed and what is just refused, and that what a refusal asks for is enough."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from faced_pieces import polygon
from preview.errors import PreviewError, Problem
from preview.joinery import join
from preview.profiles import Profile
from preview.runs import Corner, Curve, Run, Side, Step, Straight, Way, lay_out
from preview.units import Unit, degrees_text, show
from samples import RIGHT_ANGLE, block, curve, meeting

ROOMS: tuple[Side, Side] = ("left", "right")
COPED_AFTER, COPED_BEFORE = Way("cope", coped="after"), Way("cope", coped="before")


def refused(run: Run, profile: Profile, unit: Unit = "mm") -> tuple[Problem, ...]:
    with pytest.raises(PreviewError) as caught:
        join(run, "rail", profile, unit=unit)
    return caught.value.problems


# Curves.


@pytest.mark.parametrize(
    ("out", "unit", "least", "told"),
    [
        (1.9, "mm", 2.0, "2 mm"),
        (200.0, "mm", 201.0, "201 mm"),
        (254.0, "in", 321 / 32 * 25.4, '10 1/32"'),  # 10 in and 0.1 mm: the next 32nd of an inch
    ],
)
def test_the_radius_that_a_fold_asks_for_is_enough(out: float, unit: Unit, least: float, told: str) -> None:
    (problem,) = refused(curve(RIGHT_ANGLE, out + 0.09), block(out), unit)
    assert problem.fix == f"use a radius of {told} or more, or a shallower profile"
    assert len(join(curve(RIGHT_ANGLE, least), "rail", block(out), unit=unit).pieces) == 1


@pytest.mark.parametrize("room", ROOMS)
def test_a_back_that_reaches_three_quarters_of_the_way_is_cut(room: Side) -> None:
    """Behind the wall a curve of 40 mm and a straight meet up to 20 mm back (as a niche's face does in front of it)."""
    run = meeting(Straight(300.0), RIGHT_ANGLE, Curve(-1.0, 40.0), room)
    assert len(join(run, "rail", block(40.0).moved(-15.0, 0.0)).pieces) == 2


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("radius", [40.0, 41.4, 7.6])
def test_faces_that_only_touch_at_the_arris_do_not_meet_there(room: Side, radius: float) -> None:
    """Exactly half the radius deep: at its arris a niche's face turns back along the straight's own."""
    deep = radius / 2
    niche = meeting(Straight(300.0), -RIGHT_ANGLE, Curve(1.0, radius), room)
    (problem,) = refused(niche, block(deep))
    assert "the two faces stop meeting at" in problem.problem
    assert problem.problem.endswith("out, and the profile projects a hair more")
    (problem,) = refused(
        meeting(Straight(300.0), RIGHT_ANGLE, Curve(-1.0, radius), room), block(60.0).moved(-deep, 0.0)
    )
    assert "the two faces stop meeting at" in problem.problem
    assert problem.problem.endswith("behind the wall line, and the profile reaches back a hair more")


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize(("out", "back"), [(20.0, 30.0), (30.0, 20.0)])
def test_two_curves_stop_meeting_in_front_or_behind(room: Side, out: float, back: float) -> None:
    """Two curves of 40 mm that bend opposite ways at a square corner stand with their centers 40 sqrt(2) mm apart.

    d out their circles have radii of 40 - d and 40 + d: one touches the other from within where they differ by
    that, 28.28 mm either way.
    """
    run = meeting(Curve(1.0, 40.0), RIGHT_ANGLE, Curve(-1.0, 40.0), room)
    assert len(join(run, "rail", block(45.0).moved(-25.0, 0.0)).pieces) == 2
    (problem,) = refused(run, block(out + back).moved(-back, 0.0))
    where = (
        "28.3 mm behind the wall line, and the profile reaches back 30 mm"
        if back > out
        else "28.3 mm out, and the profile projects 30 mm"
    )
    assert problem.problem == f"at this 90° corner the two faces stop meeting at {where}"
    assert problem.place == 'run "meeting", step 3, member "rail"'
    # Their faces turn by 160 degrees where d^2/(R^2 - d^2) = cos 20, by the law of cosines: R = 1.437 d, or 43.1 mm.
    assert problem.fix.startswith("use radii 1.1 times as large, ")
    larger = meeting(Curve(2.0, 44.0), RIGHT_ANGLE, Curve(-2.0, 44.0), room)
    assert len(join(larger, "rail", block(out + back).moved(-back, 0.0)).pieces) == 2


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize(("deep", "unit"), [(25.0, "mm"), (8.3, "mm"), (25.4, "in"), (0.9, "mm")])
def test_the_radius_that_is_named_will_do(deep: float, unit: Unit, room: Side) -> None:
    """A niche square to a straight: d out one face leaves the other at less than 20 degrees up to d (1 + 1/sin 70)."""
    least = deep * (1 + 1 / math.sin(math.radians(70)))
    step = 1.0 if unit == "mm" else 25.4 / 32
    (problem,) = refused(meeting(Straight(300.0), -RIGHT_ANGLE, Curve(1.0, 1.3 * deep), room), block(deep), unit)
    named = math.ceil(least / step) * step
    assert problem.fix.startswith(f"use a radius of {show(named, unit)} or more, ")
    for radius, fits in ((named, True), (named - step, False)):
        niche = meeting(Straight(300.0), -RIGHT_ANGLE, Curve(1.0, radius), room)
        if fits:
            assert len(join(niche, "rail", block(deep), unit=unit).pieces) == 2
        else:
            refused(niche, block(deep), unit)


# Lengths.


def test_a_piece_of_no_length_at_its_face_has_nothing_left() -> None:
    """Two inside corners of 90 degrees take 20 mm each off a piece of 40 mm."""
    run = lay_out("u", [Straight(90.0), Corner(RIGHT_ANGLE), Straight(40.0), Corner(RIGHT_ANGLE), Straight(90.0)])
    (problem,) = refused(run, block(20.0))
    assert problem.problem == (
        "the straight piece is consumed by its two cuts: 20 mm out from the wall line they leave only 0 mm"
    )
    assert problem.fix == "make it at least 1 mm longer, use a shallower profile, or change its corners"


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize(("long", "fits"), [(34.8, True), (34.0, False), (32.0, False)])
@pytest.mark.parametrize("begins", [True, False])
def test_a_cope_in_a_sharp_corner_reaches_furthest_along_the_back(
    room: Side, long: float, fits: bool, begins: bool
) -> None:
    """At 60 degrees the back stops where the other's ledge, 30 mm out, meets the wall: 30 / sin 60 = 34.64 mm along.

    The back has no corner at the ledge's height, and the piece beside it is not coped.
    """
    jutting = polygon((0, 0), (10, 0), (10, 20), (30, 20), (10, 40), (0, 40))
    hand = 1 if room == "left" else -1
    turn = hand * math.radians(60)
    steps: list[Step] = [Straight(300.0), Corner(turn, COPED_AFTER), Straight(long)]
    if not begins:
        steps = [Straight(long), Corner(turn, COPED_BEFORE), Straight(300.0)]
    run = lay_out("wall", steps, room=room)
    if fits:
        assert len(join(run, "rail", jutting).pieces) == 2
        return
    (problem,) = refused(run, jutting)
    over = "2.6 mm" if long < 33 else "0.6 mm"
    assert problem.problem == (
        f"the straight piece is consumed by its two cuts: at the wall line they overlap by {over}"
    )
    assert problem.place == f'run "wall", step {3 if begins else 1}, member "rail"'


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize(("long", "fits"), [(20.2, True), (15.5, False)])
def test_a_level_piece_in_a_valley_is_consumed_at_its_top(room: Side, long: float, fits: bool) -> None:
    """Down 3 for 4 and up again, the profile square to the rake: each miter halves the angle of 36.87 degrees, and
    takes a third of the height off the piece between them: 10 mm of 30."""
    steps: list[Step] = [Straight(200.0, -0.75), Straight(long), Straight(200.0, 0.75)]
    run = replace(lay_out("stair", steps, room=room, level=5.0), raked="same")
    if fits:
        assert len(join(run, "rail", block(20.0, 30.0)).pieces) == 3
        return
    (problem,) = refused(run, block(20.0, 30.0))
    assert problem.place == 'run "stair", step 2, member "rail"'
    assert "they overlap by 4.5 mm" in problem.problem
    assert problem.fix == "make it at least 6 mm longer, use a shallower profile, or change its corners"


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize(("long", "fits"), [(29.0, True), (20.0, False)])
def test_a_scarf_on_a_climb_takes_most_off_the_top_of_the_lower_piece(room: Side, long: float, fits: bool) -> None:
    """3 up for 4 along: square to the stick's side, it leans back by 0.48 mm for each mm up a plumb section.

    60 mm high that is 28.8 mm at the wall.
    """
    run = lay_out("stair", [Straight(long, 0.75), Straight(300.0, 0.75)], room=room)
    run = replace(run, ways=(Way(), Way("scarf", slant=1.0)))
    if fits:
        assert len(join(run, "rail", block(20.0, 60.0)).pieces) == 2
        return
    (problem,) = refused(run, block(20.0, 60.0))
    assert problem.place == 'run "stair", step 1, member "rail"'
    assert problem.problem == (
        "the straight piece is consumed by its two cuts: at the wall line they overlap by 8.8 mm"
    )


# Copes.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize(("before", "step"), [(True, 3), (False, 3), (None, 5)])
def test_a_coped_piece_meets_no_curve_at_an_angle(room: Side, before: bool | None, step: int) -> None:
    """At its other end; a curve that follows smoothly is none at an angle."""
    hand = 1 if room == "left" else -1
    square, blunt = Corner(hand * RIGHT_ANGLE, COPED_AFTER), Corner(-hand * math.radians(40))
    bow = Curve(hand * 1.0, 100.0)
    steps: list[Step] = [Straight(300.0), square, Straight(200.0), blunt, bow]
    if before is False:
        square = Corner(hand * RIGHT_ANGLE, COPED_BEFORE)
        steps = [bow, blunt, Straight(200.0), square, Straight(300.0)]
    elif before is None:  # a corner further on
        steps = [Straight(400.0), Corner(-hand * RIGHT_ANGLE), *steps]
    run = lay_out("bay", steps, room=room)
    (problem,) = refused(run, block(20.0))
    assert problem.place == f'run "bay", step {step}, member "rail"'
    assert problem.problem == (
        "a piece that is coped or returned on itself at one end cannot meet a curve at an angle at the other"
    )
    assert problem.fix == "miter that end, or let the curve follow smoothly"
    smooth = [each for each in steps if each is not blunt]
    assert join(lay_out("bay", smooth, room=room), "rail", block(20.0)).pieces


@pytest.mark.parametrize("room", ROOMS)
def test_five_degrees_are_enough_for_a_cope(room: Side) -> None:
    hand = 1 if room == "left" else -1
    run = lay_out("hall", [Straight(900.0), Corner(hand * math.radians(5), COPED_AFTER), Straight(900.0)], room=room)
    assert len(join(run, "rail", block(9.0)).pieces) == 2


def test_a_cope_ends_at_the_wall_line() -> None:
    """Each coped corner is told, and the mitered one between them is not; returns count for no step."""
    steps: list[Step] = [
        Straight(300.0),
        Corner(RIGHT_ANGLE, COPED_AFTER),
        Straight(300.0),
        Corner(-RIGHT_ANGLE),
        Straight(300.0),
        Corner(RIGHT_ANGLE, COPED_BEFORE),
        Straight(300.0),
    ]
    run = lay_out("hall", steps)
    for each in (run, replace(run, end="butt")):
        problems = refused(each, block(20.0).moved(-3.5, 0.0))
        assert [problem.place for problem in problems] == [
            'run "hall", step 3, member "rail"',
            'run "hall", step 7, member "rail"',
        ]
        for problem in problems:
            assert problem.problem == "a coped corner ends at the wall line, and the profile reaches 3.5 mm behind it"
            assert problem.fix == "move the member out, or miter the corner"
    assert len(join(run, "rail", block(20.0)).pieces) == 4


@pytest.mark.parametrize("gone", [5.0, 5.3])
def test_an_overlap_is_made_good_with_a_millimeter_to_spare(gone: float) -> None:
    """Two square corners take 20 mm each off a piece: rounding does not ask for one millimeter more."""
    steps: list[Step] = [
        Straight(90.0),
        Corner(RIGHT_ANGLE),
        Straight(40.0 - gone),
        Corner(RIGHT_ANGLE),
        Straight(90.0),
    ]
    (problem,) = refused(lay_out("u", steps), block(20.0 + 1e-9))
    assert problem.fix.startswith(f"make it at least {math.ceil(gone) + 1} mm longer")


@pytest.mark.parametrize("room", ROOMS)
def test_a_feather_behind_the_wall_is_said_to_be_there(room: Side) -> None:
    """Two curves of 40 mm that bend opposite ways touch 28.28 mm behind, and turn by over 160 degrees 28 mm behind."""
    run = meeting(Curve(1.0, 40.0), RIGHT_ANGLE, Curve(-1.0, 40.0), room)
    (problem,) = refused(run, block(48.0).moved(-28.0, 0.0))
    turn = 180 - math.degrees(math.acos(28**2 / (40**2 - 28**2)))
    assert f"is one of {degrees_text(math.radians(turn))} at 28 mm behind the wall line: " in problem.problem
