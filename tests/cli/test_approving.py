"""`molding approve` and `molding compare`, and what `molding check` says afterwards, as a shop would use them."""

from __future__ import annotations

import json
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

SCENE = """\
title = "A corner to approve"
units = "in"
[profile.base]
library = "cove-and-bead-base"
[finish.oak]
color = "#b98d5a"
[member.base]
profile = "base"
[[run]]
name = "wall"
room = "right"
steps = [{ straight = 14 }, { curve_left = 90, radius = 2 }, { straight = 20 }]
[[option]]
name = "mitered"
changes = [{ run = "wall", curves = "miter" }]
"""
Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def molding(tmp_path: Path) -> Run:
    (tmp_path / "corner.toml").write_text(SCENE, "utf-8")

    def run(*arguments: object) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-c", "from preview.cli import main; main()", *map(str, arguments)]
        result = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, check=False, timeout=300)
        assert "Traceback" not in result.stderr
        return result

    return run


def report(molding: Run) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(molding("check", "corner.toml", "--json").stdout)
    return found


def answered(folder: Path, option: dict[str, Any], **other: object) -> Path:
    """An answer file as the page saves it."""
    answer = {
        "schema": 1,
        "kind": "molding answer",
        "title": "A corner to approve",
        "file": "corner.toml",
        "digest": option["digest"],
        "code": option["code"],
        "picks": option["picks"],
        "answer": "yes",
        "client": "Jo Ash",
        "remarks": "",
        "finishes": {},
        "answered": "2026-11-25",
    }
    path = folder / "corner-answer.json"
    path.write_text(json.dumps({**answer, **other}), "utf-8")
    return path


def test_an_answer_is_recorded_and_then_watched_over(molding: Run, tmp_path: Path) -> None:
    (option,) = report(molding)["options"]
    done = molding("approve", "corner.toml", answered(tmp_path, option))
    assert (done.returncode, done.stderr) == (0, "")
    for said in ("an approval", "Jo Ash", "2026-11-25", "option  mitered", option["code"], "no legal force"):
        assert said in done.stdout
    (record,) = report(molding)["approvals"]
    assert (record["approved"], record["client"], record["digest"]) == (True, "Jo Ash", option["digest"])
    assert (record["unchanged"], record["changes"]) == (True, [])
    assert "unchanged since" in molding("check", "corner.toml").stdout

    (tmp_path / "corner.toml").write_text(SCENE.replace("straight = 20", "straight = 24"), "utf-8")
    (record,) = report(molding)["approvals"]
    assert record["unchanged"] is False
    assert record["changes"] == ['1 straight of wall is 4" longer (22" to 26")']
    checked = molding("check", "corner.toml")
    assert "approved 2026-11-25 by Jo Ash" in checked.stdout
    assert "changed since" in checked.stdout
    assert checked.returncode == 0  # every check holds: it is a note to the shop, not a fault of the model

    compared = molding("compare", "corner.toml", "--approved", "--out", "drawn")
    assert compared.returncode == 0
    assert record["changes"][0] in compared.stdout
    assert ET.parse(tmp_path / "drawn" / "overlay.svg").getroot().tag == "{http://www.w3.org/2000/svg}svg"

    (tmp_path / "corner.toml").write_text(SCENE, "utf-8")  # put back: it is the approved one again
    assert report(molding)["approvals"][0]["unchanged"] is True


def test_a_code_serves_for_an_answer(molding: Run) -> None:
    code = report(molding)["code"]
    done = molding("approve", "corner.toml", "--code", code.lower().replace("-", " "), "--name", "Sam Lee")
    assert done.returncode == 0, done.stderr
    assert "Sam Lee" in done.stdout
    assert report(molding)["approvals"][0]["code"] == code


@pytest.mark.parametrize("other", [{"answer": "changes", "remarks": "a bit taller"}, {"finishes": {"base": "oak"}}])
def test_what_asks_for_something_else_is_a_request(other: dict[str, object], molding: Run, tmp_path: Path) -> None:
    (option,) = report(molding)["options"]
    done = molding("approve", "corner.toml", answered(tmp_path, option, **other))
    assert done.returncode == 1
    assert "not an approval" in done.stdout
    (record,) = report(molding)["approvals"]
    assert (record["approved"], record["unchanged"]) == (False, None)


def test_an_answer_for_another_model_is_refused_and_nothing_written(molding: Run, tmp_path: Path) -> None:
    (option,) = report(molding)["options"]
    answer = answered(tmp_path, option)
    (tmp_path / "corner.toml").write_text(SCENE.replace("straight = 20", "straight = 24"), "utf-8")
    now = report(molding)
    refused = molding("approve", "corner.toml", answer)
    assert (refused.returncode, refused.stdout) == (2, "")
    for said in (
        option["digest"][:12],
        option["code"],
        "the scene has changed",
        now["code"],
        now["options"][0]["code"],
    ):
        assert said in refused.stderr
    assert not (tmp_path / "corner.approvals.json").exists()


WRONG = {
    "no answer": (["approve", "corner.toml"], "neither an answer file nor a code"),
    "both": (["approve", "corner.toml", "a.json", "--code", "1111-1111"], "both an answer file and a code"),
    "a code mistyped": (["approve", "corner.toml", "--code", "1111-1112", "--name", "x"], "check sign"),
    "no such answer": (["approve", "corner.toml", "a.json"], "a.json"),
    "nobody's code": (["approve", "corner.toml", "--code", "0000-0000"], "name"),
    "nothing to compare": (["compare", "corner.toml"], "nothing to compare with"),
    "nothing approved": (["compare", "corner.toml", "--approved"], "approv"),
    "one not there": (["compare", "corner.toml", "corners.toml"], "corner.toml"),
}


@pytest.mark.parametrize("case", WRONG)
def test_wrong_use_is_told_in_a_sentence(case: str, molding: Run, tmp_path: Path) -> None:
    arguments, said = WRONG[case]
    before = sorted(tmp_path.iterdir())
    refused = molding(*arguments)
    assert (refused.returncode, refused.stdout) == (2, "")
    assert said in refused.stderr
    assert "fix: " in refused.stderr
    assert sorted(tmp_path.iterdir()) == before


def test_two_scenes_are_compared_in_words(molding: Run, tmp_path: Path) -> None:
    (tmp_path / "other.toml").write_text(SCENE.replace("cove-and-bead-base", "ogee-base"), "utf-8")
    compared = molding("compare", "corner.toml", "other.toml")
    assert compared.returncode == 0
    assert 'profile Ogee base (was Cove and bead base), 5 1/4" high (was 4")' in compared.stdout
    same = molding("compare", "corner.toml", "corner.toml")
    assert (same.returncode, "Nothing that a client sees" in same.stdout) == (0, True)
    option = molding("compare", "corner.toml", "other.toml", "--option", "mitered")
    assert option.returncode == 0


def test_a_damaged_record_is_told_and_kept(molding: Run, tmp_path: Path) -> None:
    (tmp_path / "corner.approvals.json").write_text("{", "utf-8")
    for arguments in (["check", "corner.toml"], ["approve", "corner.toml", "--code", "0000-0000", "--name", "x"]):
        refused = molding(*arguments)
        assert refused.returncode == 2
        assert "corner.approvals.json" in refused.stderr
    assert (tmp_path / "corner.approvals.json").read_text("utf-8") == "{"
