"""The corpus of wrong scenes: each file tells, word for word, what a person reads when they try it.

A file begins with its expectation as a comment:

    # expect:
    # | bad.toml: run "north wall", step 2, left = 0.5
    # |   the run turns by 0.5° here, less than the 1° a corner needs
    # |   fix: leave the corner out and carry straight on

or has it beside it as a .txt, where the file cannot hold a comment.
"""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from preview.errors import PreviewError, Problem
from preview.joinery import join
from preview.scene import load_scene

CORPUS = Path(__file__).parent.parent / "corpus" / "bad"
SCENES = sorted(path.name for path in CORPUS.glob("*.toml"))


def expected(name: str) -> str:
    beside = CORPUS / Path(name).with_suffix(".txt")
    if beside.exists():
        return beside.read_text("utf-8").removesuffix("\n")
    first, *rest = (CORPUS / name).read_text("utf-8").splitlines()
    assert first == "# expect:", f"{name} does not say what to expect"
    told = []
    for line in rest:
        if not line.startswith("# |"):
            break
        told.append(line.removeprefix("# |").removeprefix(" "))
    assert any(told), f"{name} expects nothing"
    return "\n".join(told)


def try_scene(path: Path) -> None:
    """What every verb does first: read the scene, then cut each member to each run."""
    scene = load_scene(path)
    problems: list[Problem] = []
    for placed in scene.runs:
        for member in placed.members:
            try:
                join(placed.run, member, scene.member(member).profile, unit=scene.units)
            except PreviewError as error:
                problems += error.in_file(scene.path.name).problems
    if problems:
        raise PreviewError.several(problems)


def test_the_corpus_is_there() -> None:
    assert len(SCENES) >= 45


@pytest.mark.parametrize("name", SCENES)
def test_says_exactly_this(name: str, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(CORPUS)
    with pytest.raises(PreviewError) as caught:
        try_scene(Path(name))
    assert str(caught.value) == expected(name)
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("name", SCENES)
def test_reads_well(name: str) -> None:
    """Every problem names its file and a fix, and no word of the program's own shows through."""
    for told in expected(name).split("\n\n"):
        head, *lines = told.splitlines()
        assert re.match(r"[\w/.-]+\.toml(: |$)", head), head
        assert lines[-1].startswith("  fix: ")
        assert len(lines) >= 2
        inside = re.compile(r"\b(None|Fraction|Decimal|dict|float|str|int|Error|object|tuple|mesh)\b|[<`]|\{\}")
        assert not inside.search(told), told


def test_profiles_in_the_corpus_are_used() -> None:
    scenes = "".join((CORPUS / name).read_bytes().decode("utf-8", "replace") for name in SCENES)
    for profile in (CORPUS / "profiles").glob("*.toml"):
        assert f"profiles/{profile.name}" in scenes


def retell() -> None:
    """Write what is told now into every file: run this module as a program, and read the difference aloud."""
    os.chdir(CORPUS)
    for name in SCENES:
        path, beside = Path(name), Path(name).with_suffix(".txt")
        for _ in range(3):  # a line of the file that is told moves with the length of the comment
            try:
                try_scene(path)
                told = "nothing is wrong"
            except PreviewError as error:
                told = str(error)
            if beside.exists():
                beside.write_text(told + "\n", "utf-8")
                break
            lines = path.read_text("utf-8").splitlines(keepends=True)
            body = [line for line in lines if not line.startswith(("# expect:", "# |"))]
            block = "".join(f"# | {line}\n" for line in told.splitlines()).replace("# | \n", "# |\n")
            blank = "\n" if body[0].strip() else ""
            path.write_text("# expect:\n" + block + blank + "".join(body), "utf-8")


if __name__ == "__main__":
    retell()
