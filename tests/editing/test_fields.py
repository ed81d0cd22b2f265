"""Which values a page offers for editing, and in which words."""

from __future__ import annotations

import re
import tomllib
from dataclasses import asdict
from pathlib import Path

import pytest

from edited_scenes import BAD, HERE, LAYOUTS, RUN, SHIPPED, START, field_at, is_accepted, pointed, scene_texts
from preview.editing import MOST_TEXT, Field, edited, fields
from preview.errors import PreviewError
from preview.scene import load_scene
from preview.units import parse_angle, parse_length

SCENES = list(scene_texts())
NAMES = [name for name, *_ in SCENES]
WINDOW_SEAT = next(path for path in SHIPPED if path.name == "window-seat.toml")


def shipped(name: str) -> tuple[Field, ...]:
    path = next(path for path in SHIPPED if path.name == name)
    return fields(path.read_text("utf-8"), path)


@pytest.mark.parametrize(("name", "path", "text"), SCENES, ids=NAMES)
def test_the_samples_are_scenes(name: str, path: Path, text: str) -> None:
    assert is_accepted(text, path)


def test_the_window_seat_offers_its_values_in_the_order_of_the_file() -> None:
    found = shipped("window-seat.toml")
    assert [f"{field.group}, {field.label} = {field.value}" for field in found][:20] == [
        'finish "white", color = #f1eee6',
        'finish "white", roughness = 0.4',
        'finish "oak", color = #b98d5a',
        'finish "oak", roughness = 0.55',
        'finish "stone", color = #a39c90',
        'finish "stone", roughness = 0.9',
        'finish "plaster", color = #cfc8ba',
        'finish "plaster", roughness = 0.95',
        'finish "slate", color = #55534f',
        'finish "slate", roughness = 0.7',
        'finish "sage", color = #8b9485',
        'finish "sage", roughness = 0.5',
        'member "base", profile = base',
        'member "base", finish = white',
        'run "seat", start, x = 0',
        'run "seat", start, y = 0',
        'run "seat", heading = 0',
        'run "seat", step 1, straight = 14',
        'run "seat", step 2, curve_left = 90',
        'run "seat", step 2, radius = 2',
    ]
    assert len({field.id for field in found}) == len(found)


@pytest.mark.parametrize(
    ("scene", "pointer", "expected"),
    [
        # 3' 6 is 42 in or 1066.8 mm; a half and one and a half of that are 533.4 and 1600.2; 1/16 in is 1.5875 mm.
        ("window-seat", "/run/0/steps/8/straight", ("length", "3' 6", 1066.8, 533.4, 1600.2, 1.5875)),
        ("window-seat", "/run/0/steps/1/curve_left", ("angle", "90", 90.0, 0.5, 180.0, 0.5)),
        ("window-seat", "/run/0/steps/3/right", ("angle", "90", 90.0, 0.5, 179.5, 0.5)),
        ("window-seat", "/run/0/heading", ("angle", "0", 0.0, 0.0, 360.0, 0.5)),
        ("window-seat", "/finish/oak/roughness", ("number", "0.55", 0.55, 0.0, 1.0, 0.05)),
        ("window-seat", "/finish/oak/color", ("color", "#b98d5a", None, None, None, None)),
        ("stair-wall", "/run/1/steps/2/rise", ("length", "73 7/32", 1859.75625, 928.6875, 2790.825, 1.5875)),
        ("stair-wall", "/run/0/level", ("length", "34", 863.6, 431.8, 1295.4, 1.5875)),
        ("door-casing", "/member/casing/up", ("length", "3/16", 4.7625, -71.4375, 80.9625, 1.5875)),
        ("door-casing", "/block/plinth/width", ("length", "4", 101.6, 50.8, 152.4, 1.5875)),
        ("hall", "/run/0/steps/3/facet", ("length", "1 1/4", 31.75, 15.875, 47.625, 1.5875)),
    ],
)
def test_a_field_says_what_it_holds(scene: str, pointer: str, expected: tuple[object, ...]) -> None:
    field = asdict(next(each for each in shipped(f"{scene}.toml") if each.id == pointer))
    assert tuple(field[key] for key in ("kind", "value", "number", "low", "high", "step")) == expected


def test_profiles_and_finishes_are_chosen_among_those_of_the_scene() -> None:
    found = {field.id: field for field in shipped("stair-wall.toml")}
    assert found["/member/rail/profile"].choices == ("rail", "cornice")
    assert found["/member/rail/finish"].choices == ("white", "oak", "plaster", "slate")
    assert {field.kind for field in found.values() if field.choices} == {"choice"}


def test_metric_lengths_move_by_the_millimeter_and_feet_by_the_sixteenth() -> None:
    found = {field.label: field for field in fields(LAYOUTS["metric"], HERE)}
    assert [found[label].step for label in ("step 1, straight", "level", "step 3, straight")] == [1.0, 1.0, 1.5875]
    straight = found["step 1, straight"]
    assert (straight.number, straight.low, straight.high) == (1200.5, 600.0, 1801.0)


@pytest.mark.parametrize(("name", "path", "text"), SCENES, ids=NAMES)
def test_each_field_holds_what_tomllib_reads_there(name: str, path: Path, text: str) -> None:
    tree = tomllib.loads(text)
    found = fields(text, path)
    assert found
    for field in found:
        leaf = pointed(tree, field.id)
        assert leaf == field.value if isinstance(leaf, str) else leaf == tomllib.loads(f"x = {field.value}")["x"]
        match field.kind:
            case "length":
                assert field.number == float(parse_length(leaf, tree["units"]))
            case "angle":
                assert field.number == float(parse_angle(leaf))
            case "number":
                assert field.number == leaf
            case _:
                assert field.number is None
        if field.low is not None:
            assert field.number is not None
            assert field.high is not None
            assert field.step is not None
            assert field.low <= field.number <= field.high
            assert ((field.high - field.low) / field.step) == pytest.approx(
                round((field.high - field.low) / field.step)
            )


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_nothing_that_can_be_edited_is_forgotten(path: Path) -> None:
    """Another road: a plain search of the file's lines for the keys that are offered."""
    text = path.read_text("utf-8")
    text = re.sub(r"#(?![0-9a-f]{6}\").*", "", text)
    made = re.sub(r"^\[\[surrounding\]\].*?(?=^\[\[(?!surrounding)|\Z)", "", text, flags=re.M | re.S)
    made = re.sub(r"^\[profile\..*?(?=^\[(?!profile))", "", made, flags=re.M | re.S)
    keys = (
        "straight|rake|left|right|inside|outside|curve_left|curve_right|radius|easement|facet|rise|pitch|heading|level"
    )
    keys += "|wall|profile|out|up|finish|width|thickness|height|lap|color|roughness"
    made = re.sub(r"^\[site\].*?(?=^\[)", "", made, flags=re.M | re.S)
    counted = len(re.findall(rf"(?<![\w\"]) *\b(?:{keys}) *= *", made)) + 2 * len(re.findall(r"^start *=", made, re.M))
    points = sum(len(run.get("points", [])) for run in tomllib.loads(text)["run"])
    assert len(fields(text, path)) == counted + 2 * points


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_a_field_is_called_what_the_errors_call_it(path: Path) -> None:
    """Each value is made wrong, and the scene's reader says where."""
    text = path.read_text("utf-8")
    for field in fields(text, path):
        with pytest.raises(PreviewError) as refused:
            edited(text, path, field.id, "no such thing")
        where = re.sub(r"^((start|point \d+)), [xy]$", r"\1", field.label)
        places = [problem.place for problem in refused.value.problems]
        assert f"{field.group}, {where}" in places


def test_headings_that_are_mixed_keep_the_order_of_the_file() -> None:
    found = [f"{field.group}, {field.label}" for field in fields(LAYOUTS["headings mixed"], HERE)]
    assert found == [
        'run "a", step 1, straight',
        'member "base", up',
        'member "base", profile',
        'run "b", start, x',
        'run "b", start, y',
        'run "b", step 1, straight',
        'finish "oak", color',
        'member "cap", up',
        'member "cap", profile',
        'member "cap", finish',
    ]


def test_points_can_be_edited() -> None:
    text = START + '[[run]]\nname = "a"\npoints = [[0, 0], [40, "3 1/2"], [80, 30]]\n'
    found = [(field.label, field.value) for field in fields(text, HERE) if field.group == 'run "a"']
    assert found[2:4] == [("point 2, x", "40"), ("point 2, y", "3 1/2")]
    assert len(found) == 6


def test_every_key_of_a_block_and_a_wall_behind_a_run_can_be_edited() -> None:
    text = START + '[block.one]\nwidth = 4\nthickness = 1\nheight = 8\nlap = 2\nup = 0\nfinish = "oak"\n'
    text += '[block.two]\nwidth = 4\nprofile = "cap"\n' + RUN + "wall = 96\n"
    assert is_accepted(text, HERE)
    found = [f"{field.group}, {field.label}" for field in fields(text, HERE) if field.id.startswith(("/block", "/run"))]
    assert found == [
        'block "one", width',
        'block "one", thickness',
        'block "one", height',
        'block "one", lap',
        'block "one", up',
        'block "one", finish',
        'block "two", width',
        'block "two", profile',
        'run "north wall", step 1, straight',
        'run "north wall", wall',
    ]


def test_runs_of_one_name_are_told_by_number() -> None:
    text = START + RUN + "level = 1\n" + RUN + "level = 2\n" + RUN.replace("north", "south") + "level = 3\n"
    groups = [field.group for field in fields(text, HERE) if field.label == "level"]
    assert groups == ["run 1", "run 2", 'run "south wall"']


def test_options_offer_what_they_change() -> None:
    text = START + RUN + '[[option]]\nname = "round"\nchanges = [{ run = "north wall", radius = "3" }, '
    text += '{ member = "base", profile = "cap" }, { run = "north wall", steps = [{ straight = 5 }] }, '
    text += '{ finish = "oak", color = "#102030" }, { surrounding = "x", finish = "oak" }]\n'
    found = [field for field in fields(text, HERE) if field.id.startswith("/option")]
    assert [(field.group, field.label, field.value) for field in found] == [
        ('option "round"', "change 1, radius", "3"),
        ('option "round"', "change 2, profile", "cap"),
        ('option "round"', "change 3, step 1, straight", "5"),
        ('option "round"', "change 4, color", "#102030"),
        ('option "round"', "change 5, finish", "oak"),
    ]
    assert found[1].choices == ("base", "cap")


WRONG = START.replace('"#b98d5a"', "12").replace("out = 0", "out = [1]") + (
    '[[run]]\nname = "a"\nlevel = true\nheading = 1979-05-27\nwall = "tall"\nstart = 3\n'
    "steps = [{ straight = {} }, 5, { left = inf }, { straight = -4 }]\n"
)


def test_a_scene_with_mistakes_is_offered_as_far_as_it_can_be() -> None:
    """So that a wrong value can be put right where it is seen."""
    assert not is_accepted(WRONG, HERE)
    found = {f"{field.group}, {field.label}": field for field in fields(WRONG, HERE)}
    assert list(found) == [
        'member "base", profile',
        'member "base", finish',
        'run "a", wall',
        'run "a", step 3, left',
        'run "a", step 4, straight',
    ]
    for label in ('run "a", wall', 'run "a", step 3, left'):
        assert (found[label].number, found[label].low) == (None, None)
    assert (found['run "a", step 4, straight'].number, found['run "a", step 4, straight'].low) == (-101.6, None)


def test_without_a_unit_lengths_have_no_slider() -> None:
    for units in ("", 'units = "yd"\n', "units = 3\n"):
        text = START.replace('units = "in"\n', units) + RUN
        straight = field_at(text, HERE, "/run/0/steps/0/straight")
        assert (straight.value, straight.number, straight.low) == ("60", None, None)


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.stem)
def test_a_scene_that_is_refused_is_offered_or_refused_in_the_same_words(path: Path) -> None:
    """Text that is not TOML is told as every verb tells it; the rest can be edited."""
    data = path.read_bytes()
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        return
    try:
        tomllib.loads(text)
        is_toml = bool(text.strip())
    except tomllib.TOMLDecodeError:
        is_toml = False
    if is_toml:
        fields(text, path)
        return
    with pytest.raises(PreviewError) as refused:
        fields(text, path)
    with pytest.raises(PreviewError) as told:
        load_scene(path)
    assert str(refused.value) == str(told.value)


def test_a_very_long_scene_is_refused_by_its_size() -> None:
    text = START + '[[run]]\nname = "long"\nsteps = [\n' + "  { straight = 14 },\n" * 20_000 + "]\n"
    with pytest.raises(PreviewError, match=f"{len(text):,} characters, and {MOST_TEXT:,} is the most"):
        fields(text, HERE)
    with pytest.raises(PreviewError, match="is the most"):
        edited(text, HERE, "/run/0/steps/0/straight", "15")


@pytest.mark.parametrize(
    "text",
    ["a = [" * 5000, "a = " + "{a = " * 3000, ".".join("a" * 5000) + " = 1\n", "[" + ".".join("a" * 5000) + "]\n"],
    ids=["lists", "braces", "dots", "heading"],
)
def test_a_text_that_is_nested_beyond_reason_is_refused(text: str) -> None:
    with pytest.raises(PreviewError):
        fields(text, HERE)
