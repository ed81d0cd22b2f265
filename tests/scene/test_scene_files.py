"""Reading files: the ones a scene names, and the ones that cannot be read at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from preview.errors import PreviewError, Problem
from preview.profiles import measure
from preview.scene import library_path, load_profile, load_scene
from scene_sample import MEMBER, PROFILE, RUN, TOP

STEPS = "steps = [{ straight = 60 }]\n"
WHOLE = TOP + PROFILE + MEMBER + RUN + STEPS
PROFILE_FILE = '# Plain base\nname = "Plain base"\nunits = "mm"\nfoot = 20\nface = [{ fillet = 90 }]\n'


def put(path: Path, text: str | bytes) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def problem_of(path: Path) -> Problem:
    with pytest.raises(PreviewError) as caught:
        load_scene(path)
    (problem,) = caught.value.problems
    return problem


@pytest.mark.parametrize("text", [WHOLE.replace("\n", "\r\n"), "\ufeff" + WHOLE, WHOLE.rstrip("\n")])
def test_line_ends_and_byte_order_marks_do_not_matter(tmp_path: Path, text: str) -> None:
    made = load_scene(put(tmp_path / "a.toml", text))
    assert made.runs[0].run.elements[0].length == 1524.0


def test_the_line_of_a_mistake_is_the_same_with_carriage_returns(tmp_path: Path) -> None:
    text = WHOLE.replace("foot = 1\n", "foot = 1 1/2\n")
    for ends in ("\n", "\r\n"):
        problem = problem_of(put(tmp_path / "a.toml", text.replace("\n", ends)))
        assert problem.place == "line 4"
        assert problem.problem.startswith("it reads: foot = 1 1/2\n")


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    put(tmp_path / "window-seat.toml", WHOLE)
    problem = problem_of(tmp_path / "window-seet.toml")
    assert problem.problem == "there is no such scene file"
    assert problem.fix == "did you mean window-seat.toml?"
    assert problem.file == str(tmp_path / "window-seet.toml")
    assert problem_of(tmp_path / "nowhere" / "x.toml").fix == "check the name and the folder"


def test_a_folder(tmp_path: Path) -> None:
    assert problem_of(tmp_path).problem == "this is a folder, not a scene file"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    assert problem_of(tmp_path / "pipe.toml").problem == "this is not a file that can be read"


def test_a_name_that_no_file_can_have(tmp_path: Path) -> None:
    assert "there is no such" in problem_of(tmp_path / "a\0b").problem or "cannot be read" in (
        problem_of(tmp_path / "a\0b").problem
    )
    assert "cannot be read" in problem_of(tmp_path / ("x" * 5000)).problem


@pytest.mark.parametrize("text", ["", "   \n\n", "\ufeff"])
def test_an_empty_file(tmp_path: Path, text: str) -> None:
    problem = problem_of(put(tmp_path / "a.toml", text))
    assert (problem.problem, problem.file) == ("the file is empty", "a.toml")


def test_a_file_in_another_encoding(tmp_path: Path) -> None:
    problem = problem_of(put(tmp_path / "a.toml", WHOLE.replace("Pantry", "Café").encode("latin-1")))
    assert problem.problem == "the file is not UTF-8 text: line 1 holds other bytes"


def test_a_file_that_is_too_large(tmp_path: Path) -> None:
    limit = 4_000_000
    full = WHOLE + "#" * (limit - len(WHOLE))
    assert load_scene(put(tmp_path / "a.toml", full)).title == "Pantry"
    problem = problem_of(put(tmp_path / "b.toml", full + "#"))
    assert problem.problem == "the scene file is larger than 4 MB"


@pytest.mark.parametrize("text", ["a" + ".a" * 100_000 + " = 1", "a = " + "[" * 100_000, "a = {b = " * 5000])
def test_nesting_without_end_comes_back_with_an_error(tmp_path: Path, text: str) -> None:
    assert problem_of(put(tmp_path / "a.toml", text)).fix


# Profiles.


def test_a_profile_file_is_found_from_the_scene(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir("/")
    profile = put(tmp_path / "profiles" / "plain.toml", PROFILE_FILE)
    source = '[profile.base]\nfile = "../profiles/plain.toml"\n[profile.cap]\nfile = "../profiles/plain.toml"\n'
    path = put(tmp_path / "scenes" / "a.toml", TOP + source + MEMBER + RUN + STEPS)
    made = load_scene(path)
    assert made.files == (path, path.parent / "../profiles/plain.toml")
    assert made.files[1].resolve() == profile.resolve()
    base = made.member("base")
    assert (base.profile.name, base.source) == ("Plain base", "../profiles/plain.toml")
    size = measure(base.profile)
    assert (size.d_max, size.h_max) == (20.0, 90.0)  # the profile file's own unit, not the scene's inches


def test_a_profile_of_the_library(tmp_path: Path) -> None:
    source = '[profile.base]\nlibrary = "quarter-round-shoe"\n'
    path = put(tmp_path / "a.toml", TOP + source + MEMBER + RUN + STEPS)
    made = load_scene(path)
    assert made.files == (path, library_path("quarter-round-shoe"))
    assert made.member("base").source == "quarter-round-shoe.toml in the library"
    assert made.member("base").profile == load_profile(library_path("quarter-round-shoe"))


def test_the_library_is_not_a_way_out_of_its_folder() -> None:
    for name in ("../scenes/x", "quarter-round-shoe.toml", "", "/etc/hosts"):
        with pytest.raises(PreviewError, match="the library has no profile of that name"):
            library_path(name)


def test_every_shipped_profile_loads() -> None:
    files = sorted(library_path("quarter-round-shoe").parent.glob("*.toml"))
    assert len(files) >= 3
    names = [load_profile(file).name for file in files]
    assert len(set(names)) == len(names)


def test_a_sketch_in_the_scene_and_the_same_in_a_file_are_one_profile(tmp_path: Path) -> None:
    sketch = """
foot = "1/2"
wall = "5/8"
ceiling = "1/2"
face = [
  { fillet = "1/4" },
  { cove = 1.5, out = "1 1/2", radius = 2 },
  { bead = "3/8" },
  { fillet = 0, in = "1/16" },
  { reverse-ogee = 1, out = 0.75 },
]
"""
    file = put(tmp_path / "crown.toml", 'name = "base"\nunits = "in"\n' + sketch)
    scene = put(tmp_path / "a.toml", TOP + "[profile.base]\n" + sketch + MEMBER + RUN + STEPS)
    assert load_scene(scene).member("base").profile == load_profile(file)


def test_profile_file_errors_name_the_file_and_every_mistake(tmp_path: Path) -> None:
    file = put(tmp_path / "p.toml", 'units = "inn"\nfoot = "x"\nface = [{ fillett = 1 }, 5]\n')
    with pytest.raises(PreviewError) as caught:
        load_profile(file)
    told = [(problem.file, problem.place, problem.value) for problem in caught.value.problems]
    assert told == [
        ("p.toml", "name", None),
        ("p.toml", "units", '"inn"'),
        ("p.toml", "foot", '"x"'),
        ("p.toml", "shape 2", "5"),
        ("p.toml", "shape 1", "{ fillett = 1 }"),
    ]


def test_a_broken_profile_file_is_told_beside_the_scenes_own_mistakes(tmp_path: Path) -> None:
    put(tmp_path / "p.toml", 'name = "P"\nunits = "in"\nfoot = 0\nface = [{ fillet = 1 }]\n')
    path = put(
        tmp_path / "a.toml",
        TOP + '[profile.base]\nfile = "p.toml"\n' + MEMBER + RUN + "steps = [{ straight = 0 }]\n",
    )
    with pytest.raises(PreviewError) as caught:
        load_scene(path)
    assert [(problem.file, problem.place, problem.value) for problem in caught.value.problems] == [
        ("p.toml", "foot", "0"),
        ("a.toml", 'run "north wall", step 1, straight', "0"),
    ]


@pytest.mark.parametrize(
    ("old", "new", "line", "problem"),
    [
        ("foot = 1", "foot =\u00a01", 4, "an unusual space (U+00A0) stands at column 7"),
        ("foot = 1", "foot = 1\u200b", 4, "an unusual space (U+200B) stands at column 9"),
        ("foot = 1", "\u00a0\nfoot = 1", 4, "an unusual space (U+00A0) stands at column 1"),
        ("foot = 1", "foot\u2009= 1", 4, "an unusual space (U+2009) stands at column 5"),
        ("[{ straight", "[{\u00a0straight", 10, "an unusual space (U+00A0) stands at column 11"),
    ],
)
def test_an_unusual_space_is_named_and_placed(tmp_path: Path, old: str, new: str, line: int, problem: str) -> None:
    """Character codes as Unicode gives them; TOML 1.0 takes the tab and U+0020 alone for white space."""
    told = problem_of(put(tmp_path / "a.toml", WHOLE.replace(old, new)))
    assert told.place == f"line {line}"
    assert told.problem.endswith(f"\n{problem}")
    assert told.fix == "delete it, and type a plain space if one belongs there"


def test_an_unusual_space_in_text_or_a_note_is_no_mistake(tmp_path: Path) -> None:
    text = WHOLE.replace('"Pantry"', '"Pan\u00a0try"  # a\u00a0note')
    assert load_scene(put(tmp_path / "a.toml", text)).title == "Pan\u00a0try"
    text = text.replace("foot = 1", "foot = 1 1/2  # a\u00a0note")
    assert "without quotes" in problem_of(put(tmp_path / "a.toml", text)).problem


@pytest.mark.parametrize("first", ["", "# a note\n"])
def test_lines_that_end_with_cr_alone(tmp_path: Path, first: str) -> None:
    """TOML 1.0 takes LF and CRLF alone for the end of a line."""
    told = problem_of(put(tmp_path / "a.toml", (first + WHOLE).replace("\n", "\r")))
    assert told.place == ""
    assert told.problem == "the file's lines end as on very old machines, with CR alone"
    assert told.fix == "save it again from the editor with the line ends of today, LF or CRLF"
    told = problem_of(put(tmp_path / "a.toml", WHOLE.replace("foot = 1\n", "foot = 1\r")))
    assert told.place == "line 4"
    assert told.problem.endswith("with CR alone, here at least")


def test_a_long_file_that_is_no_toml_is_told_soon(tmp_path: Path) -> None:
    for text in (
        "x = { " + "a" * 500_000 + " = 1 b = 2 }",
        "x = 1" + "\u00a0" * 500_000,
        "x = [\n" + "'''\n" * 100_001,
    ):
        assert problem_of(put(tmp_path / "a.toml", text)).place.startswith("line ")


@pytest.mark.parametrize("key", ["run", "member"])
def test_a_scene_is_no_profile(tmp_path: Path, key: str) -> None:
    text = {"run": RUN + STEPS, "member": MEMBER}[key]
    path = put(tmp_path / "a.toml", TOP + text)
    with pytest.raises(PreviewError) as caught:
        load_profile(path)
    (told,) = caught.value.problems
    assert (told.file, told.place, told.problem) == ("a.toml", "", "this is a scene, not a profile")
    assert "foot and face" in told.fix
