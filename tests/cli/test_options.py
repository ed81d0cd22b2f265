"""A scene with options, as the command builds, checks and tells it."""

from __future__ import annotations

import json
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
import trimesh

ROOT = Path(__file__).parents[2]
SCENE = """\
title = "Two choices"
units = "in"
[profile.base]
library = "cove-and-bead-base"
[finish.oak]
color = "#b98d5a"
kind = "clear"
[member.base]
profile = "base"
[[run]]
name = "wall"
room = "right"
start = [0, 0]
heading = 0
steps = [{ straight = 14 }, { curve_left = 90, radius = 2 }, { straight = 20 }]
[[option]]
choice = "corner"
name = "mitered"
changes = [{ run = "wall", curves = "miter" }]
[[option]]
choice = "finish"
name = "oak"
changes = [{ member = "base", finish = "oak" }]
"""


def molding(*arguments: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from preview.cli import main; main()", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("scene") / "two.toml"
    path.write_text(SCENE, "utf-8")
    return path


@pytest.fixture(scope="module")
def out(scene: Path) -> tuple[Path, dict[str, Any], str]:
    folder = scene.parent / "out"
    result = molding("build", scene, "--no-solid", "--no-pictures", "--out", folder)
    assert result.returncode == 0, result.stdout + result.stderr
    return folder, json.loads((folder / "report.json").read_text("utf-8")), result.stdout


def test_every_combination_is_built_checked_and_told(out: tuple[Path, dict[str, Any], str]) -> None:
    _, report, printed = out
    picks = [tuple(option["picks"].values()) for option in report["options"]]
    assert picks == [("as drawn", "oak"), ("mitered", "as drawn"), ("mitered", "oak")]
    digests = {report["digest"], *(option["digest"] for option in report["options"])}
    codes = {report["code"], *(option["code"] for option in report["options"])}
    assert len(digests) == len(codes) == 4
    for option in report["options"]:
        assert option["holds"] is True
        assert option["changes"]
        assert {"closed", "gap", "step", "volume"} <= {check["code"] for check in option["checks"]}
        assert option["code"] in printed
        assert all(sentence in printed for sentence in option["changes"])


def test_the_options_models_are_what_they_say(out: tuple[Path, dict[str, Any], str]) -> None:
    """Another library reads them: mitered, the two straights reach the corner, 14 + 2 in and 20 + 2 in."""
    folder, report, _ = out
    mitered = next(option for option in report["options"] if option["picks"] == {"corner": "mitered", "finish": "oak"})
    model = trimesh.load_scene(folder / mitered["model"])
    assert len(model.geometry) == 2
    low, high = model.bounds
    # In meters, y up. The walls' corner stands at (16, 0) in; the molding is 1 1/4 in deep.
    assert low == pytest.approx([0.0, 0.0, -22 * 0.0254], abs=1e-6)
    assert high[0] == pytest.approx((16 + 1.25) * 0.0254, abs=1e-6)
    assert high[2] == pytest.approx(1.25 * 0.0254, abs=1e-6)


def test_option_takes_an_alternative_for_the_scene(scene: Path, out: tuple[Path, dict[str, Any], str]) -> None:
    report = json.loads(molding("check", scene, "--option", "mitered", "--option", "oak", "--json").stdout)
    assert report["options"] == []
    assert report["digest"] == out[1]["options"][2]["digest"]


def test_an_option_that_there_is_not_ends_with_two(scene: Path) -> None:
    result = molding("check", scene, "--option", "mitred")
    assert (result.returncode, result.stdout) == (2, "")
    assert "mitered" in result.stderr
    assert "Traceback" not in result.stderr


def test_a_failing_option_fails_the_scene(tmp_path: Path) -> None:
    """A raked corner whose option keeps the profile as it is cannot meet: the option fails, and so does the command."""
    path = tmp_path / "stairs.toml"
    path.write_text(
        SCENE.split("[[run]]")[0]
        + '[[run]]\nname = "stair"\nroom = "left"\nstart = [0, 0]\nheading = 0\n'
        + "steps = [{ rake = 40, pitch = 35 }, { left = 90 }, { straight = 20 }]\n"
        + '[[option]]\nname = "one profile"\nchanges = [{ run = "stair", raked = "same" }]\n',
        "utf-8",
    )
    result = molding("check", path, "--json")
    report = json.loads(result.stdout)
    assert result.returncode == 1
    assert report["holds"] is False
    assert report["options"][0]["holds"] is False
    assert all(check["failed"] == 0 for check in report["checks"])
    printed = molding("check", path)
    assert printed.returncode == 1
    assert "FAILED on 1 of 1 option" in printed.stdout


class _Page(HTMLParser):
    """What is outside of scripts and styles, and every address that the page would load."""

    def __init__(self) -> None:
        super().__init__()
        self.text = ""
        self.addresses: list[str] = []
        self._silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._silent += tag in ("script", "style")
        self.addresses += [value or "" for name, value in attrs if name in ("src", "href", "srcset", "data", "action")]

    def handle_endtag(self, tag: str) -> None:
        self._silent -= tag in ("script", "style")

    def handle_data(self, data: str) -> None:
        self.text += "" if self._silent else data


def test_the_page_says_without_scripts_what_the_report_says(out: tuple[Path, dict[str, Any], str]) -> None:
    folder, report, _ = out
    page = _Page()
    page.feed((folder / "two.html").read_text("utf-8"))
    assert report["scene"]["title"] in page.text
    for piece in report["pieces"]:
        assert piece["name"] in page.text
    for code in [report["code"], *(option["code"] for option in report["options"])]:
        assert code in page.text
    assert all(address.startswith(("data:", "#")) for address in page.addresses)


def test_a_build_of_one_option_removes_the_files_of_the_others(scene: Path, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    for arguments, models in (((), 3), (("--option", "oak", "--option", "mitered"), 0)):
        result = molding("build", scene, "--no-solid", "--no-pictures", "--out", folder, *arguments)
        assert result.returncode == 0, result.stderr
        assert len(list((folder / "models").glob("options/*.glb"))) == models


def test_an_option_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    """Inside a curve of 1 in a base 1 1/4 in deep folds: the scene as drawn is right, the option is not."""
    path = tmp_path / "fold.toml"
    fold = '[[option]]\nname = "tight"\nchanges = [{ run = "wall", radius = 1 }]\n'
    path.write_text(SCENE.split("[[option]]")[0].replace('room = "right"', 'room = "left"') + fold, "utf-8")
    result = molding("check", path)
    assert (result.returncode, result.stdout) == (2, "")
    assert result.stderr.startswith('fold.toml: with the options "tight", run "wall", step 2')
    assert "fold" in result.stderr
    assert "Traceback" not in result.stderr
