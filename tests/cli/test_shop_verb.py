"""`molding shop`: what it writes, says, refuses, and leaves alone."""

from __future__ import annotations

import csv
import hashlib
import json
import subprocess
import sys
from pathlib import Path

import pytest

SMALL = """
title = "Small room"
units = "in"
[profile.base]
library = "ogee-base"
[member.base]
profile = "base"
{shop}
[[run]]
name = "wall"
members = ["base"]
room = "right"
start = [0, 0]
heading = 0
steps = [{{ straight = 60 }}, {{ {corner} }}, {{ straight = 40 }}]
"""
CURVE, MITER = "curve_left = 90, radius = 2", "left = 90"


def molding(*arguments: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from preview.cli import main; main()", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)


def scene(folder: Path, corner: str = MITER, shop: str = "") -> Path:
    path = folder / "small.toml"
    path.write_text(SMALL.format(corner=corner, shop=shop), encoding="utf-8")
    return path


def files(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def test_a_folder_of_papers_and_a_second_run_into_it(tmp_path: Path) -> None:
    """The second run takes away what only the first one needed, and nothing that somebody else put there."""
    out = tmp_path / "shop"
    first = molding("shop", scene(tmp_path, CURVE), "--out", out)
    assert first.returncode == 0, first.stderr
    assert "base: 1 of 10'" in first.stdout
    assert "wall / base / 2 curve: turned from a staved blank" in first.stdout
    assert "No approval of this model is on record" in first.stdout
    papers = {"shop.json", "small-shop.pdf", "small-cut-list.csv", "templates/all-templates.pdf"}
    curve = files(out) - papers
    assert papers <= files(out)
    assert len(curve) == 4
    told = json.loads((out / "shop.json").read_text("utf-8"))
    assert told["holds"] is True
    assert {each["path"] for each in told["files"]} == files(out) - {"shop.json"}
    for each in told["files"]:
        data = (out / each["path"]).read_bytes()
        assert (each["bytes"], each["sha256"]) == (len(data), hashlib.sha256(data).hexdigest())
    rows = list(csv.DictReader((out / "small-cut-list.csv").read_text("utf-8").splitlines()))
    assert [row["piece"] for row in rows] == [each["name"] for each in told["pieces"]]
    longer = [float(row["cut longer, mm"] or 0) for row in rows]
    assert longer == [each["longer_mm"] for each in told["pieces"]] == [0, 0, 0]
    (out / "mine.txt").write_text("mine")
    (out / "templates" / "mine.dxf").write_text("mine")
    second = molding("shop", scene(tmp_path, MITER), "--out", out)
    assert second.returncode == 0, second.stderr
    assert second.stdout.splitlines()[-1] == f"wrote 4 files to {out}, 4 old files removed"
    assert files(out) == papers | {"mine.txt", "templates/mine.dxf"}


@pytest.mark.parametrize(
    ("shop", "corner", "place", "said"),
    [
        ('[shop]\nsticks = [{ length = "6 ft", have = 1 }]', MITER, "[shop], sticks", "cannot give all the parts"),
        ('[shop.turning]\nmethod = "sawn"', CURVE, '[shop], turning, method = "sawn"', "wall / base / 2 curve"),
    ],
)
def test_what_cannot_be_made_is_refused_and_nothing_is_written(
    tmp_path: Path, shop: str, corner: str, place: str, said: str
) -> None:
    result = molding("shop", scene(tmp_path, corner, shop), "--out", tmp_path / "out")
    assert result.returncode == 2
    assert result.stdout == ""
    assert result.stderr.startswith(f"small.toml: {place}")
    assert said in result.stderr
    assert "fix: " in result.stderr
    assert "Traceback" not in result.stderr
    assert not (tmp_path / "out").exists()


def test_an_option_there_is_not(tmp_path: Path) -> None:
    result = molding("shop", scene(tmp_path), "--out", tmp_path / "out", "--frobnicate")
    assert result.returncode == 2
    assert "--frobnicate" in result.stderr
    assert not (tmp_path / "out").exists()


def test_a_file_where_the_folder_is_to_be(tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("mine")
    result = molding("shop", scene(tmp_path), "--out", taken)
    assert result.returncode == 2
    assert "is a file, not a folder" in result.stderr
    assert taken.read_text() == "mine"


def test_the_record_of_another_program_is_left_alone(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "shop.json").write_text('{"opens": "at nine"}')
    result = molding("shop", scene(tmp_path), "--out", out)
    assert result.returncode == 2
    assert "a file of this name is there that molding did not write" in result.stderr
    assert files(out) == {"shop.json"}
    assert (out / "shop.json").read_text() == '{"opens": "at nine"}'
