"""A scene in a notebook: what a cell shows, what is said elsewhere, and how mistakes are told.

A browser looks at the shown page in tests/page/test_notebook_shown.py.
"""

from __future__ import annotations

import contextlib
import html.parser
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from preview.cli.app import app
from preview.errors import PreviewError
from preview.notebook import Preview, load

SCENES = Path(__file__).parent.parent / "scenes"
STRIP = """
title = 'A "strip" & <more>'
units = "mm"
[profile.strip]
file = "../profiles/quarter-round.toml"
[member.strip]
profile = "strip"
[[run]]
name = "wall"
members = ["strip"]
room = "left"
start = [0, 0]
steps = [{ straight = 500 }, { left = 90 }, { straight = 300 }]
"""


@pytest.fixture(scope="module")
def bay() -> Preview:
    return load(SCENES / "bay.toml")


class Frames(html.parser.HTMLParser):
    """The attributes of each element, as a browser would read them."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def test_a_cell_shows_the_page_in_a_frame(bay: Preview) -> None:
    """What a notebook asks an object for is the method alone (IPython, Rich display)."""
    ((tag, attributes),) = Frames(bay._repr_html_()).found
    assert tag == "iframe"
    assert attributes["srcdoc"] == bay.page.decode("utf-8")
    assert attributes["sandbox"] == "allow-scripts allow-downloads allow-modals"
    assert attributes["title"] == bay.title
    assert 400 <= int(attributes["height"] or "") <= 1000


def test_the_page_is_the_whole_page(bay: Preview) -> None:
    assert bay.page.startswith(b"<!doctype html>") or bay.page.startswith(b"<!DOCTYPE html>")
    assert b'id="model"' in bay.page
    assert b"\r" not in bay.page, "a frame's text loses these, and the hash of the script would be wrong"


def test_names_cannot_break_out() -> None:
    nasty = Preview('"><script>x</script>', 1, 1, 1, (), b'<!doctype html><p title="\'">&amp;</p>')
    ((tag, attributes),) = Frames(nasty._repr_html_()).found
    assert tag == "iframe"
    assert attributes["title"] == '"><script>x</script>'
    assert attributes["srcdoc"] == '<!doctype html><p title="\'">&amp;</p>'


def test_elsewhere_it_says_what_was_found(bay: Preview) -> None:
    assert re.fullmatch(r"Chair rail round a bay, breakfast room: \d+ pieces, all \d+ checks hold", repr(bay))
    failed = replace(bay, variants=2, failures=("mitered: a / b: the gap: 1 mm, limit 0.01",))
    assert repr(failed).splitlines()[1:] == ["  mitered: a / b: the gap: 1 mm, limit 0.01"]
    assert re.search(r"pieces, 2 variants, 1 of \d+ checks FAILED$", repr(failed).splitlines()[0])
    assert (bay.holds, failed.holds) == (True, False)


def test_a_scene_of_ones_own(tmp_path: Path) -> None:
    path = tmp_path / "strip.toml"
    path.write_text(STRIP.replace("../profiles", (SCENES.parent / "profiles").as_posix()), "utf-8")
    found = load(str(path))
    assert found.title == 'A "strip" & <more>'
    assert (found.pieces, found.variants) == (2, 1)
    assert found.holds


@pytest.mark.parametrize(
    ("right", "wrong"),
    [("straight = 500", "strait = 500"), ("[member.strip]", "[member.strip"), ("left = 90", "left = 179.99")],
)
def test_mistakes_are_told_in_the_words_of_the_command(tmp_path: Path, right: str, wrong: str) -> None:
    path = tmp_path / "strip.toml"
    text = STRIP.replace("../profiles", (SCENES.parent / "profiles").as_posix())
    path.write_text(text.replace(right, wrong), "utf-8")
    with pytest.raises(PreviewError) as told:
        load(path)
    said = CliRunner().invoke(app, ["check", str(path)])
    assert said.exit_code == 2
    assert str(told.value) == said.stderr.rstrip("\n")


def test_a_missing_file_is_told_likewise(tmp_path: Path) -> None:
    with contextlib.chdir(tmp_path), pytest.raises(PreviewError) as told:
        load("nowhere.toml")
    with contextlib.chdir(tmp_path):
        assert str(told.value) == CliRunner().invoke(app, ["check", "nowhere.toml"]).stderr.rstrip("\n")


def test_importing_it_is_quick() -> None:
    code = "import sys, preview.notebook; print(sorted(name for name in sys.modules if name.startswith('numpy')))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout == "[]\n"
