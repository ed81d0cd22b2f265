"""What else a scene says: members, finishes, surroundings, and what stands where nothing is said."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError
from pathlib import Path

import pytest

from preview.errors import PreviewError
from preview.profiles import measure
from preview.scene import Finish, parse_scene
from scene_sample import MEMBER, PROFILE, RUN, TOP, scene


def test_what_is_left_out() -> None:
    made = scene()
    assert (made.title, made.units, made.chord) == ("Pantry", "in", 0.05)
    assert made.path == Path("pantry.toml")
    assert made.files == (Path("pantry.toml"),)
    assert made.surroundings == ()
    (placed,) = made.runs
    assert placed.members == ("base",)
    assert placed.wall is None
    assert (placed.run.room, placed.run.level, placed.run.closed) == ("left", 0.0, False)
    assert placed.run.elements[0].start == (0.0, 0.0)
    assert placed.run.elements[0].tangent == (1.0, 0.0)
    base = made.member("base")
    assert (base.out, base.up, base.source) == (0.0, 0.0, "sketched in the scene")
    assert base.finish.name == "white paint"
    assert min(base.finish.color) > 0.85
    with pytest.raises(KeyError):
        made.member("shoe")
    with pytest.raises(FrozenInstanceError):
        made.title = "x"  # type: ignore[misc]


def test_chord_is_a_length() -> None:
    assert scene(top=TOP + 'chord = "1/64"\n').chord == pytest.approx(25.4 / 64, rel=1e-15)
    assert scene(top=TOP + 'chord = "0.005 mm"\n').chord == 0.005
    assert scene(top=TOP + 'chord = "2 mm"\n').chord == 2.0


def test_members_are_moved_out_and_up() -> None:
    made = scene(member=MEMBER + 'out = "1/2"\nup = -1\n')
    size = measure(made.member("base").profile)
    moved = (size.d_min, size.d_max, size.h_min, size.h_max)
    assert moved == pytest.approx((12.7, 38.1, -25.4, 76.2), rel=1e-15)
    assert (made.member("base").out, made.member("base").up) == (12.7, -25.4)


def test_finishes() -> None:
    """8-bit sRGB: each pair of hexadecimal digits is a part of 255 (CSS Color, hex notation)."""
    more = """
[finish.linen]
color = "#fF8000"
roughness = 1
[finish.brass]
color = "#000033"
kind = "metal"
roughness = 0.25
"""
    made = scene(member=MEMBER + 'finish = "linen"\n', more=more)
    assert made.member("base").finish == Finish("linen", (1.0, 128 / 255, 0.0), 1.0, 0.0, "paint")
    made = scene(member=MEMBER + 'finish = "brass"\n', more=more)
    assert made.member("base").finish == Finish("brass", (0.0, 0.0, 0.2), 0.25, 1.0, "metal")


def test_surroundings() -> None:
    more = """
[finish.brick]
color = "#804020"
kind = "stone"

[[surrounding]]
kind = "floor"

[[surrounding]]
kind = "box"
name = "bench"
at = [1, "2 ft"]
size = [48, "18 1/2"]
radius = 2
bottom = 4
top = 18
turn = 90
finish = "brick"

[[surrounding]]
kind = "column"
at = [0, 0]
radius = 5
top = "8'"

[[surrounding]]
kind = "floor"
name = "step"
at = [10, 10]
size = [20, 30]
top = 7
"""
    floor, box, column, step = scene(more=more).surroundings
    assert (floor.name, floor.kind, floor.at, floor.size) == ("floor 1", "floor", (0, 0), (0, 0))
    assert (floor.bottom, floor.top, floor.finish.name) == (0, 0, "plain plaster")
    assert (box.name, box.kind, box.at, box.size) == ("bench", "box", (25.4, 609.6), (1219.2, 469.9))
    assert (box.radius, box.bottom, box.top, box.turn) == (50.8, 101.6, 457.2, math.pi / 2)
    assert box.finish == Finish("brick", (128 / 255, 64 / 255, 32 / 255), 0.5, 0.0, "stone")
    assert (column.name, column.at, column.radius, column.size) == ("column 3", (0, 0), 127, (254, 254))
    assert (column.bottom, column.top) == (0, 2438.4)
    assert (step.name, step.at, step.size, step.bottom, step.top) == (
        "step",
        (254, 254),
        (508, 762),
        177.8,
        177.8,
    )


def test_profiles_members_and_finishes_may_wait_unused() -> None:
    more = '[profile.shoe]\nfoot = "1/2"\nface = [{ fillet = 1 }]\n'
    more += '[finish.oak]\ncolor = "#b08850"\nkind = "clear"\n'
    made = scene('members = ["base"]\nsteps = [{ straight = 60 }]', more=more + '[member.shoe]\nprofile = "shoe"\n')
    assert [member.name for member in made.members] == ["base", "shoe"]


def test_names_with_blanks_and_accents() -> None:
    text = (
        (TOP + PROFILE + MEMBER + RUN)
        .replace("north wall", "Küche, Südwand")
        .replace("member.base", 'member."base, 4 in"')
    )
    made = parse_scene(text + "steps = [{ straight = 60 }]", Path("k.toml"))
    assert made.runs[0].run.name == "Küche, Südwand"
    assert made.runs[0].members == ("base, 4 in",)


@pytest.mark.parametrize(
    "value",
    ["nan", "inf", "-inf", "1e400", "1e-400", "0x" + "f" * 5000, "9" * 4000, "2001-01-01", "07:30:00", "{}"],
)
def test_numbers_that_measure_nothing(value: str) -> None:
    with pytest.raises(PreviewError) as caught:
        scene(f"steps = [{{ straight = {value} }}]")
    (problem,) = caught.value.problems
    assert problem.place == 'run "north wall", step 1, straight'
    assert problem.value is not None
    assert len(problem.value) <= 80


def test_values_are_told_as_written() -> None:
    with pytest.raises(PreviewError) as caught:
        scene(
            'steps = [{ straight = -1.50 }]\nlevel = "\\"5\\u0007"\nstart = [true, "a"]\n'
            'wall = [1.0, {b = "c"}]\nclosed = 1_0'
        )
    values = {problem.place.removeprefix('run "north wall", '): problem.value for problem in caught.value.problems}
    assert values == {
        "step 1, straight": "-1.50",
        "level": '"\\"5\\u0007"',
        "start": '[true, "a"]',
        "wall": '[1.0, { b = "c" }]',
        "closed": "10",
    }
