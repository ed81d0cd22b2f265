"""Options: what a client may choose, its combinations, and where its mistakes are told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from preview.errors import PreviewError
from preview.scene import Alternative, Choice, Scene, chosen, every_variant, load_scene, parse_scene
from preview.scene.table import Log, Readings, Table

SCENES = Path(__file__).parents[2] / "scenes"
BASE = """
title = "Landing"
units = "in"

[profile.base]
foot = 1
face = [{ fillet = 4 }]

[profile.tall]
foot = 1
face = [{ fillet = 6 }]

[finish.oak]
color = "#b98d5a"

[block.plinth]
width = 4
thickness = 2
height = 7

[member.base]
profile = "base"

[member.cap]
profile = "base"
up = 4

[[run]]
name = "landing"
members = ["base"]
steps = [
  { straight = 14 },
  { curve_left = 90, radius = 2 },
  { straight = 6 },
  { right = 90 },
  { straight = 18 },
]

[[surrounding]]
kind = "floor"

[[surrounding]]
kind = "box"
name = "pier"
at = [30, 30]
size = [10, 10]
top = 20
"""


def read(options: str, base: str = BASE) -> Scene:
    return parse_scene(base + options, Path("landing.toml"))


def option(changes: str = "", name: str = "other", choice: str = "") -> str:
    said = f'choice = "{choice}"\n' if choice else ""
    return f'\n[[option]]\n{said}name = "{name}"\n' + (f"changes = [{changes}]\n" if changes else "")


def changed(change: str) -> Scene:
    return read(option(change)).variants[1].scene


MITERED = '{ run = "landing", curves = "miter" }'


# Choices and their combinations.


def test_a_scene_without_options_is_its_only_variant() -> None:
    made = read("")
    assert (made.choices, made.variants) == ((), ())
    (only,) = every_variant(made)
    assert only.picks == ()
    assert only.scene is made
    assert chosen(made, []) is made


def test_the_scene_as_drawn_comes_first() -> None:
    made = read(option(MITERED, "mitered"))
    assert made.choices == (Choice("option", (Alternative("as drawn"), Alternative("mitered"))),)
    made = read(option(MITERED, "mitered") + option("", "turned") + 'says = "As the wall is"\n')
    assert made.choices == (Choice("option", (Alternative("turned", "As the wall is"), Alternative("mitered"))),)
    assert [each.picks for each in made.variants] == [(0,), (1,)]
    assert made.variants[0].scene == read("")
    assert len(made.variants[1].scene.runs[0].run.elements) == 3


def test_choices_are_combined() -> None:
    made = read(
        option(MITERED, "mitered", "corners")
        + option('{ member = "base", profile = "tall" }', "tall", "profile")
        + option('{ run = "landing", radius = 3 }', "wide", "corners")
    )
    assert [each.name for each in made.choices] == ["corners", "profile"]
    assert [each.picks for each in made.variants] == [(0, 0), (0, 1), (1, 0), (1, 1), (2, 0), (2, 1)]
    seen = [(len(v.scene.runs[0].run.elements), v.scene.members[0].profile.name) for v in made.variants]
    assert seen == [(4, "base"), (4, "tall"), (3, "base"), (3, "tall"), (4, "base"), (4, "tall")]
    assert all(each.scene.choices == () and each.scene.variants == () for each in made.variants)
    assert every_variant(made) is made.variants
    assert all(each.scene.files == made.files for each in made.variants)


def test_lengths_are_measured_as_drawn_whatever_the_other_choices_are() -> None:
    """A step of one choice and the curves of another do not depend on their order in the file."""
    length = option('{ run = "landing", step = 1, straight = 20 }', "long", "length")
    corner = option(MITERED, "mitered", "corners")
    for text in (length + corner, corner + length):
        both = chosen(read(text), ["long", "mitered"]).runs[0].run
        assert [round(e.length / 25.4, 9) for e in both.elements] == [22, 8, 18]


def test_a_radius_of_one_choice_and_the_miter_of_another() -> None:
    """A mitered corner stands in the same place, whatever radius the curve would have."""
    made = read(option('{ run = "landing", radius = 4 }', "wide", "radius") + option(MITERED, "mitered", "corners"))
    runs = [chosen(made, names).runs[0].run for names in (["mitered"], ["mitered", "wide"])]
    assert [e.length for e in runs[0].elements] == pytest.approx([e.length for e in runs[1].elements])


def test_what_an_option_leaves_alone_is_shared() -> None:
    """It is read once: pieces of the scene are the same objects in all variants."""
    made = load_scene(SCENES / "window-seat.toml")
    assert len(made.variants) == 8
    runs = {id(each.scene.runs[0].run) for each in made.variants}
    assert len(runs) == 2  # turned and mitered
    assert len({id(each.scene.surroundings[2]) for each in made.variants}) == 1


def test_readings_are_told_once_and_their_mistakes_each_time() -> None:
    readings, first, second = Readings(), Log(), Log()
    data = {"finish": "oak"}
    asked = []

    def reads(table: Table) -> str:
        asked.append(table)
        table.wrong("finish", None, "it is wrong", "put it right")
        return "read"

    for log in (first, second):
        table = Table(data, "member", log)
        assert readings.once(table, ("uses",), lambda table=table: reads(table)) == "read"
        assert len(log.problems) == 1
    assert len(asked) == 1
    table = Table(data, "member", first)
    readings.once(table, ([],), lambda: reads(table))
    assert len(asked) == 2  # it uses something else


# What can be changed.


def test_keys_of_everything() -> None:
    assert changed('{ member = "base", profile = "tall" }').member("base").profile.name == "tall"
    assert changed('{ member = "base", finish = "oak" }').member("base").finish.name == "oak"
    assert changed('{ block = "plinth", width = 5 }').blocks[0].width == 127.0
    assert changed('{ surrounding = "pier", top = 10 }').surroundings[1].top == 254.0
    assert changed('{ surrounding = "floor 1", top = 10 }').surroundings[0].top == 254.0
    assert changed('{ run = "landing", members = ["base", "cap"] }').runs[0].members == ("base", "cap")
    assert changed('{ run = "landing", level = 10, wall = 96 }').runs[0].run.level == 254.0
    assert len(changed('{ run = "landing", steps = [{ straight = 9 }] }').runs[0].run.elements) == 1
    assert len(changed('{ run = "landing", points = [[0, 0], [9, 0]] }').runs[0].run.elements) == 1
    several = changed('{ finish = "oak", color = "#000000" }, { member = "base", finish = "oak" }')
    assert several.member("base").finish.color == (0.0, 0.0, 0.0)


def test_keys_of_one_step() -> None:
    drawn = read("").runs[0].run
    run = changed('{ run = "landing", step = 5, straight = 20 }').runs[0].run
    assert run.elements[-1].length == 508.0
    assert run.elements[:-1] == drawn.elements[:-1]
    base = BASE.replace("right = 90", 'inside = 90, joint = "cope"')
    coped = read(option('{ run = "landing", step = 4, inside = 80 }'), base)
    assert coped.variants[1].scene.runs[0].run.ways[-1].kind == "cope"  # another angle is the same corner still
    blocked = changed('{ run = "landing", step = 4, block = "plinth" }').runs[0].run
    assert blocked.ways[-1].block == "plinth"
    turned = changed('{ run = "landing", step = 4, turns = 2, facet = 1 }').runs[0].run
    assert len(turned.elements) == len(drawn.elements) + 1


def test_changes_follow_each_other() -> None:
    """Later ones count; steps of a run that is written anew are those of the new run."""
    run = changed('{ member = "base", up = 1 }, { member = "base", up = 2 }').member("base")
    assert run.up == 50.8
    anew = '{ run = "landing", steps = [{ straight = 9 }, { curve_left = 90, radius = 3 }, { straight = 9 }] }'
    made = changed(anew + ', { run = "landing", step = 1, straight = 12 }, ' + MITERED).runs[0].run
    assert [round(e.length / 25.4, 9) for e in made.elements] == [15, 12]


# Mistakes.


def problems(text: str, base: str = BASE) -> list[str]:
    with pytest.raises(PreviewError) as caught:
        read(text, base)
    return [f"{each.place} = {each.value}: {each.problem}" for each in caught.value.problems]


def test_all_mistakes_are_told_at_once() -> None:
    told = problems(
        option('{ finish = "oak", color = "brown" }, { member = "base", profile = "x" }')
        + option('{ run = "landing", radius = 30 }', "wide"),
        BASE.replace('color = "#b98d5a"', 'colour = "#b98d5a"\ncolor = "#b98d5a"'),
    )
    assert [each.split(" = ")[0] for each in told] == [
        'finish "oak", colour',
        'option "other", change 1, color',
        'option "other", change 2, profile',
    ]
    told = problems(option('{ run = "landing", radius = 30 }', "wide") + option('{ run = "lading", wall = 8 }', "x"))
    assert [each.split(" = ")[0] for each in told] == ['option "x", change 1, run']


def test_mistakes_that_no_change_names_stand_at_the_option() -> None:
    """Another profile for a member whose run is scarfed: it reaches too far for the stock."""
    base = BASE.replace('members = ["base"]', 'members = ["base"]\nstock = 12\nscarf = { angle = 75 }')
    base = base.replace("foot = 1\nface = [{ fillet = 6 }]", "foot = 11\nface = [{ fillet = 6 }]")
    told = problems(option('{ member = "base", profile = "tall" }'), base)
    assert told
    assert all(each.startswith('option "other", run "landing", step ') for each in told)


def test_steps_are_called_as_in_the_file() -> None:
    """A straight is put in before step 1, and still the corner at step 4 is step 4."""
    steps = "{ curve_left = 90, radius = 2 }, { straight = 6 }, { block = 'plinth' }, { straight = 110 }"
    base = BASE[: BASE.index("steps = [")] + f"steps = [{steps}]\n"
    text = option('{ run = "landing", stock = 100, scarf = { from_corner = 60 } }, ' + MITERED)
    told = problems(text, base)
    assert told[0].startswith('option "other", change 2, step 4 = { straight = 110 }: this straight is')


def test_two_choices_that_cannot_both_be() -> None:
    told = problems(
        option('{ run = "landing", step = 3, straight = 3 }', "short", "depth")
        + option('{ run = "landing", radius = 6 }', "wide", "radius")
        + option('{ member = "base", finish = "oak" }', "oak", "finish")
    )
    assert len(told) == 1  # and not once more for each finish
    assert told[0].startswith('option "wide", change 1, radius = 6: together with option "short": step 3 is 3" long')


@pytest.mark.parametrize(
    ("one", "other", "key"),
    [
        ("radius = 3", "step = 2, radius = 4", "radius"),
        ("step = 2, curves = 'miter'", "curves = 'turns', turns = 3", "curves"),
        ("step = 1, straight = 20", "step = 1, straight = 21", "straight"),
        ("level = 3", "wall = 90, level = 4", "level"),
        ("steps = [{ straight = 9 }]", "step = 1, straight = 20", "step"),
        ("step = 1, straight = 20", "steps = [{ straight = 9 }]", "steps"),
        ("curves = 'miter'", "points = [[0, 0], [9, 0]]", "points"),
        ("steps = [{ straight = 9 }]", "radius = 3", "radius"),
        ("steps = [{ straight = 9 }]", "points = [[0, 0], [9, 0]]", "points"),
    ],
)
def test_choices_do_not_change_the_same_thing(one: str, other: str, key: str) -> None:
    told = problems(
        option(f'{{ run = "landing", {one} }}', "first", "a") + option(f'{{ run = "landing", {other} }}', "second", "b")
    )
    assert len(told) == 1
    assert told[0].startswith(f'option "second", change 1, {key} = ')
    assert 'choice "a", option "first", changes this too' in told[0]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("radius = 3", "curves = 'turns', turns = 3"),
        ("step = 1, straight = 20", "step = 5, straight = 20"),
        ("step = 2, radius = 1", "step = 5, straight = 20"),
        ("level = 3", "curves = 'miter'"),
    ],
)
def test_choices_may_change_the_same_run(one: str, other: str) -> None:
    made = read(
        option(f'{{ run = "landing", {one} }}', "first", "a") + option(f'{{ run = "landing", {other} }}', "second", "b")
    )
    assert len(made.variants) == 4
    assert len({each.scene.runs[0].run for each in made.variants}) == 4


# By name.

SEVERAL = (
    option(MITERED, "mitered", "corners")
    + option('{ member = "base", finish = "oak" }', "oak", "base")
    + option('{ surrounding = "pier", finish = "oak" }', "oak", "pier")
)


def test_variants_by_their_names() -> None:
    made = read(SEVERAL)
    by_picks = {each.picks: each.scene for each in made.variants}
    assert chosen(made, []) is by_picks[0, 0, 0]
    for names, picks, named in (
        (["mitered"], (1, 0, 0), (1, None, None)),
        (["corners=mitered", "pier=oak"], (1, 0, 1), (1, None, 1)),
        (["Mitered", "base=as drawn", "mitered"], (1, 0, 0), (1, 0, None)),
    ):
        found = chosen(made, names)
        assert found.picked is not None
        assert (found.picked.choices, found.picked.picks) == (made.choices, named)
        assert replace(found, picked=None) == by_picks[picks]


@pytest.mark.parametrize(
    ("names", "problem", "fix"),
    [
        (["mitred"], "the scene has no option of that name", 'did you mean "mitered"?'),
        (["corner=mitered"], "the scene has no option of that name", 'did you mean "corners=mitered"?'),
        (["x"], "the scene has no option of that name", 'choose "as drawn", "mitered" or "oak"'),
        (["oak"], "2 choices have an option of that name", 'say which: "base=oak" or "pier=oak"'),
        (["mitered", "corners=as drawn"], '"mitered" is of the same choice, "corners"', "choose one of the two"),
    ],
)
def test_names_that_mean_nothing(names: list[str], problem: str, fix: str) -> None:
    with pytest.raises(PreviewError) as caught:
        chosen(read(SEVERAL), names)
    (told,) = caught.value.problems
    assert (told.problem, told.fix, told.file, told.value) == (problem, fix, "landing.toml", f'"{names[-1]}"')


def test_a_scene_without_options_has_none_to_choose() -> None:
    with pytest.raises(PreviewError, match="this scene has no options"):
        chosen(read(""), ["mitered"])
