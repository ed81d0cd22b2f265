"""What a person reads when something they wrote is wrong."""

from __future__ import annotations

from dataclasses import FrozenInstanceError
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.errors import PreviewError, Problem, nearest

FOLD = Problem(
    'run "north wall", step 3, radius',
    '"1 in"',
    "the curve's back radius 25.4 mm is smaller than the profile's projection 31.8 mm, so its face would fold",
    "use a radius of at least 31.8 mm or a shallower profile",
    "reading-room.toml",
)
SHORT = Problem("step 2", None, "it is too short", "leave it out")


def test_a_whole_problem() -> None:
    assert str(FOLD) == (
        'reading-room.toml: run "north wall", step 3, radius = "1 in"\n'
        "  the curve's back radius 25.4 mm is smaller than the profile's projection 31.8 mm, "
        "so its face would fold\n"
        "  fix: use a radius of at least 31.8 mm or a shallower profile"
    )


HEADS = {  # (file, place, value) -> the first line; None when there is none
    ("a.toml", "step 2", "12"): "a.toml: step 2 = 12",
    ("a.toml", "step 2", None): "a.toml: step 2",
    ("a.toml", "", "12"): "a.toml: 12",
    ("a.toml", "", None): "a.toml",
    (None, "step 2", "12"): "step 2 = 12",
    (None, "step 2", None): "step 2",
    (None, "", "12"): "12",
    (None, "", None): None,
}


def test_every_head_is_tried() -> None:
    assert set(HEADS) == set(product(("a.toml", None), ("step 2", ""), ("12", None)))


@pytest.mark.parametrize("parts", HEADS)
def test_absent_parts_leave_no_punctuation(parts: tuple[str | None, str, str | None]) -> None:
    file, place, value = parts
    head = HEADS[parts]
    lines = str(Problem(place, value, "it is wrong", "mend it", file)).split("\n")
    assert lines == ([head] if head else []) + ["  it is wrong", "  fix: mend it"]


def test_every_line_of_a_long_problem_is_set_in() -> None:
    assert str(Problem("", None, "one\ntwo", "")) == "  one\n  two"


def test_an_error_holds_its_problem() -> None:
    error = PreviewError("radius", "3", "too small", "use 4", "a.toml")
    assert error.problems == (Problem("radius", "3", "too small", "use 4", "a.toml"),)
    assert str(error) == "a.toml: radius = 3\n  too small\n  fix: use 4"
    assert isinstance(error, Exception)


def test_several_are_told_with_an_empty_line_between() -> None:
    error = PreviewError.several(iter([FOLD, SHORT]))
    assert error.problems == (FOLD, SHORT)
    assert str(error) == f"{FOLD}\n\n{SHORT}"
    assert str(error).count("\n\n") == 1


def test_several_needs_one() -> None:
    with pytest.raises(ValueError, match="at least one problem"):
        PreviewError.several([])


def test_places_are_added_from_the_inside_out() -> None:
    error = PreviewError("", '"3..5"', "two points", "use one")
    assert error.at("radius").at("step 3").at('run "a"').problems[0].place == 'run "a", step 3, radius'
    assert error.problems[0].place == "", "the first error was changed"


def test_an_empty_place_adds_nothing() -> None:
    assert PreviewError("radius", None, "wrong", "").at("").problems[0].place == "radius"
    assert PreviewError("", None, "wrong", "").at("").problems[0].place == ""


def test_place_and_file_reach_every_problem() -> None:
    error = PreviewError.several([FOLD, SHORT]).at('run "b"').in_file("other.toml")
    assert [p.place for p in error.problems] == [f'run "b", {FOLD.place}', 'run "b", step 2']
    assert [p.file for p in error.problems] == ["reading-room.toml", "other.toml"], "a file named first stays"
    assert [p.problem for p in error.problems] == [FOLD.problem, SHORT.problem]
    assert [(p.value, p.fix) for p in error.problems] == [(FOLD.value, FOLD.fix), (None, SHORT.fix)]


def test_copies_are_of_the_same_class() -> None:
    error = PreviewError("", None, "wrong", "")
    for copy in (error.at("a"), error.in_file("a"), PreviewError.several(error.problems)):
        assert type(copy) is PreviewError
        assert copy is not error


def test_a_problem_is_a_value() -> None:
    assert Problem("a", None, "b", "c") == Problem("a", None, "b", "c", None)
    assert len({FOLD, SHORT, Problem("step 2", None, "it is too short", "leave it out")}) == 2
    with pytest.raises(FrozenInstanceError):
        FOLD.place = "elsewhere"  # type: ignore[misc]


def test_it_can_be_raised_through_a_with_block() -> None:
    """A frozen exception cannot: Python sets its traceback."""
    with pytest.raises(PreviewError, match="too short") as caught, pytest.MonkeyPatch.context():
        raise PreviewError.several([SHORT])
    assert caught.value.problems == (SHORT,)


KEYS = ("straight", "left", "right", "curve_left", "curve_right", "radius")


@pytest.mark.parametrize(
    ("word", "meant"),
    [
        ("radus", "radius"),
        ("Radius", "radius"),
        ("straigth", "straight"),
        ("curve-left", "curve_left"),
        ("lefft", "left"),
        ("right", "right"),
        ("plinth", None),
        ("", None),
    ],
)
def test_nearest(word: str, meant: str | None) -> None:
    assert nearest(word, KEYS) == meant


def test_nearest_of_nothing() -> None:
    assert nearest("radius", []) is None
    assert nearest("radius", iter(["radius"])) == "radius"


@given(st.text(), st.lists(st.text(), max_size=5))
def test_nearest_is_one_of_those_known(word: str, known: list[str]) -> None:
    assert nearest(word, known) in {*known, None}
    assert not word or nearest(word, [*known, word]) == word


VISIBLE = st.characters(exclude_categories=("Cs", "Cc", "Zl", "Zp"))
PART = st.text(VISIBLE, max_size=12)
SOME = st.text(VISIBLE, min_size=1, max_size=12)
PROBLEMS = st.builds(Problem, PART, st.none() | PART, SOME, PART, st.none() | SOME)


@given(st.lists(PROBLEMS, min_size=1, max_size=4))
def test_every_part_of_every_problem_is_told(problems: list[Problem]) -> None:
    told = str(PreviewError.several(problems).at("here").in_file("f.toml")).split("\n\n")
    assert len(told) == len(problems)
    for text, problem in zip(told, problems, strict=True):
        for part in (
            problem.file or "f.toml",
            "here",
            problem.place,
            problem.value,
            problem.problem,
            problem.fix,
        ):
            assert (part or "") in text
