"""A value replaced, and every other byte kept; Python's own tomllib reads both texts."""

from __future__ import annotations

import re
import tomllib
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from edited_scenes import (
    BAD,
    HERE,
    LAYOUTS,
    RUN,
    START,
    assert_only_value_replaced,
    changed_leaves,
    field_at,
    is_accepted,
    pointed,
    pointer_to,
    scene_texts,
)
from preview.editing import Field, edited, fields
from preview.editing.places import places
from preview.errors import PreviewError
from preview.units import Unit, parse_angle, parse_length

SCENES = {name: (path, text) for name, path, text in scene_texts()}
Edit = tuple[Path, str, Field, str | float]
STRAIGHT = "/run/0/steps/0/straight"


def written(raw: str, value: str | float, *, units: str = "in", key: str = "straight") -> str:
    """What stands in the file in place of `raw` after an edit."""
    other = "" if key == "straight" else "straight = 60 }, { "
    text = START.replace('"in"', f'"{units}"').replace("foot = 1\n", 'foot = "1 in"\n')
    text = re.sub(r"fillet = ([0-9.]+)", r'fillet = "\1 in"', text).replace("foot = 0.5", 'foot = "0.5 in"')
    text += f'[[run]]\nname = "a"\nsteps = [{{ {other}{key} = {raw} }}, {{ straight = "5 ft" }}] # end\n'
    found = next(field for field in fields(text, HERE) if field.label.endswith(f", {key}"))
    new = edited(text, HERE, found.id, value)
    start = text.index(f"{key} = {raw} }}") + len(f"{key} = ")
    assert new[:start] == text[:start]
    assert new[len(new) - (len(text) - start - len(raw)) :] == text[start + len(raw) :]
    return new[start : len(new) - (len(text) - start - len(raw))]


@pytest.mark.parametrize(
    ("raw", "typed", "expected"),
    [
        # A bare number stays one as long as that is exact.
        ("60", "61", "61"),
        ("60", "61.50", "61.50"),
        ("60", " 61 ", "61"),
        ("60", ".5", "0.5"),
        ("60", "007", "7"),
        ("60", "+7", "+7"),
        ("60", "61 1/2", "61.5"),
        ("60", "61-3/8", "61.375"),
        ("60", "61 3/16", '"61 3/16"'),
        ("60", "61 1/3", '"61 1/3"'),
        ("60", "61 ½", "61.5"),
        ("60.5", "60 3/4", "60.75"),
        # A unit makes it text; an inch mark at the end goes where it says nothing new.
        ("60", "5' 3-1/2", '"5\' 3-1/2"'),
        ("60", "5' 3-1/2\"", '"5\' 3-1/2"'),
        ("60", '61"', "61"),
        ("60", '61 1/2"', "61.5"),
        ("60", "1520 mm", '"1520 mm"'),
        ("60", "61 in", '"61 in"'),
        ("60", "5'", '"5\'"'),
        # Text stays text, in its own quotes, unless it is a plain number that nobody put in quotes.
        ('"5\' 3-1/2"', "5' 4", '"5\' 4"'),
        ('"60 1/2"', "60 1/4", '"60 1/4"'),
        ('"60 1/2"', "61", "61"),
        ('"60"', "61", '"61"'),
        ("'60'", "61", "'61'"),
        ("'60 1/2'", "61 1/4", "'61 1/4'"),
        ("'60 1/2'", "5' 4", '"5\' 4"'),
        ('"1520 mm"', "1530 mm", '"1530 mm"'),
        ('"""\n60"""', "61", '"61"'),
        ("'''60'''", "61 1/2", '"61 1/2"'),
        # Other ways to write a number give way to the plain one.
        ("6e1", "61", "61"),
        ("0x3C", "61", "61"),
        ("1_00", "61", "61"),
    ],
)
def test_a_typed_length_takes_the_style_that_stood_there(raw: str, typed: str, expected: str) -> None:
    assert written(raw, typed) == expected


@pytest.mark.parametrize(
    ("raw", "units", "typed", "expected"),
    [
        ("1500", "mm", "1501.5", "1501.5"),
        ("1500", "mm", '61 1/2"', '"61 1/2 in"'),
        ("1500", "mm", "1500 1/2", "1500.5"),
        ("1500", "mm", "1.5 m", '"1.5 m"'),
        ('"1500 mm"', "mm", "1501", "1501"),
        ("1.5", "m", "1 3/4", "1.75"),
        ("5", "ft", "5 1/3", '"5 1/3"'),
        ("5", "ft", "5' 4", '"5\' 4"'),
    ],
)
def test_a_typed_length_in_other_units(raw: str, units: str, typed: str, expected: str) -> None:
    assert written(raw, typed, units=units) == expected


@pytest.mark.parametrize(
    ("raw", "units", "mm", "expected"),
    [
        # 1/16 in is 1.5875 mm exactly; eighths stay bare numbers, sixteenths read better as fractions.
        ("60", "in", 1549.4, "61"),
        ("60", "in", 1562.1, "61.5"),
        ("60", "in", 1527.175, "60.125"),
        ("60", "in", 1525.5875, '"60 1/16"'),
        ("60", "in", 1525.9, '"60 1/16"'),
        ("60", "in", 1524.00000001, "60"),
        ('"60 1/2"', "in", 1525.5875, '"60 1/16"'),
        ("'60 1/2'", "in", 1525.5875, "'60 1/16'"),
        ('"60 in"', "in", 1525.5875, '"60 1/16 in"'),
        ('"60 1/2 inches"', "in", 1524, '"60 inches"'),
        ('"5\' 3-1/2"', "in", 1525.5875, '"5\' 0-1/16"'),
        ('"5\' 3 1/2"', "in", 1525.5875, '"5\' 0 1/16"'),
        ('"5 ft 3"', "in", 1625.6, '"5\' 4"'),
        ('"5\' 3"', "in", 1524, '"5\'"'),
        ('"5\' 3"', "in", 279.4, '"11"'),
        ('"5\' 3"', "mm", 279.4, '"11 in"'),
        ('"60 in"', "mm", 1525.5875, '"60 1/16 in"'),
        # Metric lengths go by the millimeter, in the unit that they were in.
        ("1500", "mm", 1503.0, "1503"),
        ("1500.5", "mm", 1502.9, "1503"),
        ('"1500 mm"', "in", 1503.0, '"1503 mm"'),
        ('"1500mm"', "in", 1503.0, '"1503mm"'),
        ('"150 cm"', "in", 1503.0, '"150.3 cm"'),
        ('"1500 ½"', "mm", 1503.0, '"1503"'),
        ("150", "cm", 1503.0, "150.3"),
        ("1.5", "m", 1503.0, "1.503"),
        ('"1500"', "mm", 1503.0, '"1503"'),
        ("5", "ft", 1676.4, "5.5"),
        ("5", "ft", 1525.5875, '"5\' 0 1/16"'),
    ],
)
def test_a_slider_writes_tidy_lengths(raw: str, units: str, mm: float, expected: str) -> None:
    assert written(raw, mm, units=units) == expected


@pytest.mark.parametrize(
    ("raw", "value", "expected"),
    [
        ("90", "45", "45"),
        ("90", "22 1/2", "22.5"),
        ("90", "33.69", "33.69"),
        ("90", "22.5°", '"22.5°"'),
        ("90", "45 deg", '"45 deg"'),
        ("90", "33 1/3", '"33 1/3"'),
        ('"22 1/2"', "23 1/2", '"23 1/2"'),
        ('"22 1/2"', "23", "23"),
        ("90", 45.0, "45"),
        ("90", 22.5, "22.5"),
        ("90", 22.4, "22.5"),
        ('"22 1/2"', 33.5, '"33 1/2"'),
        ('"22 1/2"', 33.0, '"33"'),
        ('"90°"', 33.5, '"33.5°"'),
        ("'90 deg'", 33.0, "'33 deg'"),
    ],
)
def test_angles(raw: str, value: str | float, expected: str) -> None:
    assert written(raw, value, key="left") == expected


@pytest.mark.parametrize(
    ("pointer", "value", "expected"),
    [
        ("/finish/oak/color", "#102030", 'color = "#102030"'),
        ("/member/base/profile", "cap", 'profile = "cap"'),
        ("/finish/oak/roughness", "0.35", "roughness = 0.35"),
        ("/finish/oak/roughness", ".4", "roughness = 0.4"),
        ("/finish/oak/roughness", 0.30000000000000004, "roughness = 0.3"),
        ("/finish/oak/roughness", 0.35, "roughness = 0.35"),
        ("/finish/oak/roughness", 1.0, "roughness = 1"),
        ("/member/base/out", -38.1, "out = -1.5"),
        ("/member/base/out", -1.5875, 'out = "-1/16"'),
        ("/member/base/out", "-1 3/4", "out = -1.75"),
    ],
)
def test_words_colors_and_numbers(pointer: str, value: str | float, expected: str) -> None:
    text = START.replace('color = "#b98d5a"\n', 'color = "#b98d5a"\nroughness = 0.5\n') + RUN
    new = edited(text, HERE, pointer, value)
    key = pointer.rpartition("/")[2]
    old = next(line for line in text.splitlines() if re.match(rf"{key} = ", line) and line != 'profile = "cap"')
    assert new == text.replace(old, expected)


def test_a_value_that_is_typed_as_it_stands_changes_nothing() -> None:
    for path, text in SCENES.values():
        for field in fields(text, path)[::6]:
            assert edited(text, path, field.id, f" {field.value} ") == text
            if field.number is not None:
                assert edited(text, path, field.id, field.number) == text


# Refused.


@pytest.mark.parametrize(
    ("pointer", "value", "said"),
    [
        (STRAIGHT, "-5", "a straight is written without a minus sign"),
        (STRAIGHT, "five", "there is no number in it"),
        (STRAIGHT, "", "there is nothing in it"),
        (STRAIGHT, "6,5", "a comma may mean decimals or thousands"),
        (STRAIGHT, "60\nlevel = 5", ""),
        (STRAIGHT, '60 }, { left = 90 }, { straight = "1', ""),
        (STRAIGHT, "\ud800", ""),
        (STRAIGHT, "9" * 400, "it is longer than 10 km"),
        ("/finish/oak/color", "oak", "a color is # and six digits"),
        ("/member/base/profile", "bse", 'did you mean "base"?'),
        ("/member/base/finish", 'a"\nb', "it must be one line"),
        ("/member/base/finish", 'oak"', 'did you mean "oak"?'),
    ],
)
def test_what_the_reader_refuses_is_told_in_its_own_words(pointer: str, value: str, said: str) -> None:
    text = START + RUN
    with pytest.raises(PreviewError) as refused:
        edited(text, HERE, pointer, value)
    (problem,) = refused.value.problems
    assert problem.file == HERE.name
    field = field_at(text, HERE, pointer)
    assert problem.place == f"{field.group}, {field.label}"
    assert said in str(problem)


@pytest.mark.parametrize("value", [float("inf"), float("nan"), -float("inf"), 1e300, 10**5000, True], ids=range(6))
def test_a_slider_writes_no_number_that_is_none(value: float) -> None:
    with pytest.raises(PreviewError, match="no slider sets this value"):
        edited(START + RUN, HERE, STRAIGHT, value)


def test_a_slider_sets_no_word() -> None:
    with pytest.raises(PreviewError, match="no slider sets this value"):
        edited(START + RUN, HERE, "/finish/oak/color", 3.0)


@pytest.mark.parametrize("pointer", ["", "/", "/title", "/run/0/name", "/run/1/steps/0/straight", "/profile/base/foot"])
def test_only_what_is_offered_is_changed(pointer: str) -> None:
    with pytest.raises(PreviewError, match="nothing that can be edited stands at"):
        edited(START + RUN, HERE, pointer, "5")


def test_very_long_text_is_refused() -> None:
    with pytest.raises(PreviewError, match="it has 501 characters, and 500 is the most"):
        edited(START + RUN, HERE, STRAIGHT, "5" * 501)


def test_an_edit_puts_a_wrong_scene_right_and_not_half_right() -> None:
    """A scene is written only when all of it is accepted."""
    one = START + RUN.replace("60", "-60")
    assert is_accepted(edited(one, HERE, STRAIGHT, "60"), HERE)
    two = one.replace("out = 0", "out = -1000000000000")
    with pytest.raises(PreviewError) as refused:
        edited(two, HERE, STRAIGHT, "60")
    assert [problem.place for problem in refused.value.problems] == ['member "base", out']


# Hard layouts, word for word.


@pytest.mark.parametrize(
    ("layout", "pointer", "value", "old", "new"),
    [
        ("comments inside a list", "/run/0/start/1", "2", '  "1 1/2" # y', "  2 # y"),
        ("comments inside a list", "/run/0/start/0", "3", "  0 , # x", "  3 , # x"),
        (
            "comments inside a list",
            "/run/0/steps/0/straight",
            "13",
            "\n  { straight = 12 } ,",
            "\n  { straight = 13 } ,",
        ),
        ("comments inside a list", "/run/0/steps/2/straight", "13", "   '12'   }", "   '13'   }"),
        ("comments inside a list", "/run/0/steps/3/facet", "2", '"1 1/4" }', "2 }"),
        ("dotted keys", "/member/base/out", "3", 'member."base".out = 2', 'member."base".out = 3'),
        ("dotted keys", "/finish/oak/color", "#000000", "#b98d5a", "#000000"),
        ("tables in braces", "/member/base/up", "2", ",up=1}", ",up=2}"),
        ("tables in braces", '/member/q "r/out', "1/2", '"1/4"', '"1/2"'),
        ("tables in braces", "/run/1/start/1", "31", "[0,30]", "[0,31]"),
        ("headings mixed", "/run/1/start/1", "41", "[0, 40]", "[0, 41]"),
        ("headings mixed", "/member/cap/up", "6", "up = 5", "up = 6"),
        ("steps under headings", "/run/0/steps/2/straight", "13", "  straight = 12\n", "  straight = 13\n"),
        ("steps under headings", "/run/1/steps/0/straight", "5", "straight = 4\n", "straight = 5\n"),
        ("carriage returns", STRAIGHT, "6", "straight = 5 },\r\n", "straight = 6 },\r\n"),
        ("text of several lines", STRAIGHT, "61", '"""\n60"""', '"61"'),
        ("no line at the end", STRAIGHT, "61", "{straight=60}", "{straight=61}"),
        ("the same everywhere", "/run/0/wall", "61", "wall = 60", "wall = 61"),
        (
            "the same everywhere",
            "/run/0/steps/2/straight",
            "61",
            "left = 60 }, { straight = 60",
            "left = 60 }, { straight = 61",
        ),
        ("numbers of all sorts", "/member/base/out", "1", "out = +0.5", "out = 1"),
        ("numbers of all sorts", "/run/0/wall", "11", "1_0.2_5", "11"),
        ("strange names", "/member/a.b~1c~0d/up", "4", "up = 3\n", "up = 4\n"),
        ("strange names", '/member/é "q"/up', "4 1/2", '"3 1/2"', '"4 1/2"'),
        ("strange names", "/run/0/steps/0/rise", "2", "'rise' = 1", "'rise' = 2"),
        ("metric", "/run/0/level", "11 cm", '"10 cm"', '"11 cm"'),
    ],
)
def test_hard_layouts_stay(layout: str, pointer: str, value: str, old: str, new: str) -> None:
    text = LAYOUTS[layout]
    assert text.count(old) == 1
    assert edited(text, HERE, pointer, value) == text.replace(old, new)


# Any value of any scene.


@st.composite
def lengths(draw: st.DrawFn, field: Field) -> str | float:
    """A length near the field's, written in one of the ways that people write one, or a stop of its slider."""
    mm = Fraction(field.number or 0)
    way = draw(st.sampled_from(["decimal", "fraction", "mixed", "feet", "mm", "cm", "mark", "slider"]))
    near = mm + draw(st.sampled_from([-1, 1])) * draw(st.integers(1, 64)) * Fraction(127, 320)
    inch = abs(near) / Fraction(127, 5)
    whole, part = divmod(round(inch * 64), 64)
    sign = "-" if near < 0 else ""
    match way:
        case "decimal":
            return f"{sign}{float(inch):.{draw(st.integers(0, 4))}f}"
        case "fraction":
            return f"{sign}{whole * 64 + part}/64"
        case "mixed":
            return f"{sign}{whole}{draw(st.sampled_from(' -'))}{part}/64" if part else f"{sign}{whole}"
        case "feet":
            return f"{sign}{whole // 12}' {whole % 12}-{part}/64" if part else f"{sign}{whole // 12}'{whole % 12}\""
        case "mark":
            return f'{sign}{whole}"'
        case "mm" | "cm":
            return f"{sign}{float(abs(near)):.{draw(st.integers(0, 2))}f} {way}"
    if field.low is None or field.high is None or field.step is None:
        return f"{sign}{whole}"
    return field.low + field.step * draw(st.integers(0, round((field.high - field.low) / field.step)))


@st.composite
def values(draw: st.DrawFn, field: Field) -> str | float:
    """Something that a person might type into a field, or set with its slider."""
    match field.kind:
        case "length":
            return draw(lengths(field))
        case "angle":
            near = (field.number or 0.0) + draw(st.integers(-8, 8)) / 4
            unit = draw(st.sampled_from(["", "", "°", " deg"]))
            return draw(st.sampled_from([f"{near:g}{unit}", round(near * 2) / 2]))
        case "number":
            return draw(st.sampled_from(["0.25", ".5", "1", 0.35]))
        case "choice":
            return draw(st.sampled_from(field.choices))
        case "color":
            return f"#{draw(st.integers(0, 0xFFFFFF)):06x}"


@st.composite
def edits(draw: st.DrawFn) -> Edit:
    path, text = SCENES[draw(st.sampled_from(sorted(SCENES)))]
    field = draw(st.sampled_from(fields(text, path)))
    return path, text, field, draw(values(field))


def meant(field: Field, value: str | float, units: Unit) -> object:
    """What the scene's reader should find: mm, degrees, a number or a word."""
    match field.kind:
        case "length":
            return parse_length(value, units) if isinstance(value, str) else pytest.approx(value, abs=0.8)
        case "angle":
            return parse_angle(value) if isinstance(value, str) else pytest.approx(value, abs=0.26)
        case "number":
            return float(value)
        case _:
            return value


def found(field: Field, leaf: object, units: Unit) -> object:
    """The same, of what stands in the file."""
    assert isinstance(leaf, str | int | float)
    match field.kind:
        case "length":
            return parse_length(leaf, units)
        case "angle":
            return parse_angle(leaf)
        case "number":
            return float(leaf)
        case _:
            return leaf


@given(edits())
def test_an_edit_changes_one_value_and_nothing_else(edit: Edit) -> None:
    path, text, field, value = edit
    try:
        new = edited(text, path, field.id, value)
    except PreviewError:
        return
    assert is_accepted(new, path)
    changed = changed_leaves(text, new)
    if new == text:
        changed = {field.id: pointed(tomllib.loads(text), field.id)}
    else:
        assert_only_value_replaced(text, new, field)
    assert list(changed) in ([field.id], [])  # none where only the quotes are others
    units = tomllib.loads(text)["units"]
    now = found(field, pointed(tomllib.loads(new), field.id), units)
    assert now == meant(field, value, units)
    # The other fields offer what they did, and this one what was set.
    for before, after in zip(fields(text, path), fields(new, path), strict=True):
        assert (before.id, before.group, before.label) == (after.id, after.group, after.label)
        assert before == after or before.id == field.id


@settings(max_examples=50)
@given(edits(), st.integers(1, 9))
def test_a_value_typed_back_gives_the_bytes_of_before(edit: Edit, quarters: int) -> None:
    """Where it was written as this room writes it, and the value in between was of the same sort: bare, or text."""
    path, text, field, value = edit
    raw = next(place.raw for keys, place in places(text, path).items() if pointer_to(keys) == field.id)
    plain = re.fullmatch(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?", field.value)
    assume(raw in ([field.value, f'"{field.value}"'] if plain else [f'"{field.value}"']))
    if field.kind not in ("choice", "color"):
        assume(field.number is not None)
        near = (field.number or 0.0) / (25.4 if field.kind == "length" else 1.0)
        value = f"{near + quarters / 4:g}" if plain else f"{abs(int(near)) + 1} 1/3"
    try:
        new = edited(text, path, field.id, value)
    except PreviewError:
        assume(False)
    assert edited(new, path, field.id, field.value) == text


@given(st.sampled_from([path for path in BAD if path.name not in ("not-utf8.toml",)]), st.data())
def test_an_edit_of_a_wrong_scene_is_refused_or_puts_it_right(path: Path, data: st.DataObject) -> None:
    text = path.read_bytes().decode("utf-8")
    try:
        offered = fields(text, path)
    except PreviewError:
        return
    if not offered:
        return
    field = data.draw(st.sampled_from(offered))
    if field.kind == "choice" and not field.choices:
        return
    value = data.draw(values(field))
    try:
        new = edited(text, path, field.id, value)
    except PreviewError:
        return
    if new != text:
        assert is_accepted(new, path)
        assert set(changed_leaves(text, new)) <= {field.id}
        assert_only_value_replaced(text, new, field)


@settings(max_examples=50)
@given(edits(), st.sampled_from(["\r\n", "\n"]), st.booleans(), st.sampled_from(["", "\n\n", "  # end", "\t"]))
def test_line_ends_blanks_and_the_last_line_stay(edit: Edit, newline: str, stripped: bool, tail: str) -> None:
    path, text, field, value = edit
    text = (text.rstrip() if stripped else text.replace("\r\n", "\n")) + tail
    text = text.replace("\r\n", "\n").replace("\n", newline)
    try:
        new = edited(text, path, field.id, value)
    except PreviewError:
        return
    if new != text:
        assert_only_value_replaced(text, new, field)
    assert new.endswith(tail.replace("\n", newline))
    if newline == "\r\n":
        assert "\n" not in new.replace("\r\n", "")


def test_most_random_edits_are_accepted() -> None:
    """The property tests above pass over what is refused; that must not be nearly everything."""
    tried = accepted = 0
    for path, text in SCENES.values():
        for field in fields(text, path)[::4]:
            if field.kind == "length" and field.number is not None and field.low is not None and field.step is not None:
                tried += 1
                try:
                    edited(text, path, field.id, field.number + field.step)
                except PreviewError:
                    continue
                accepted += 1
    assert tried > 40
    assert accepted > 0.8 * tried
