"""Scenes that are wrong on purpose, checked as a user checks them: what is said, what is written, how it ends."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest

TOP = """
title = "A stair hall"
units = "in"
[profile.thick]
foot = "1 1/4"
face = [{ fillet = 3 }, { bevel = 1, in = "3/4" }]
[profile.thin]
foot = "1 1/8"
face = [{ fillet = 3 }, { bevel = 1, in = "5/8" }]
[member.old]
profile = "thick"
[member.new]
profile = "thin"
"""
STAIR = """
[[run]]
name = "stair"
members = ["old"]
level = 30
raked = "{raked}"
steps = [{{ straight = 40 }}, {{ outside = 90 }}, {{ straight = 84, rise = 56 }}]
"""
MEETING = """
[[run]]
name = "hall"
members = ["old"]
{hall}
[[run]]
name = "porch"
members = ["new"]
{porch}
"""
PLINTH = """
[block.plinth]
width = 4
thickness = "1 1/2"
height = 6
"""
ROOM = """
[[run]]
name = "room"
members = ["old"]
closed = true
closing = "{closing}"
measured = {{ lengths = "1/8", angles = 0.5 }}
steps = [
  {{ straight = 144 }}, {{ inside = 90 }}, {{ straight = {blunder} }}, {{ inside = 90 }},
  {{ straight = 96 }}, {{ outside = 90 }}, {{ straight = 30 }}, {{ inside = 90 }},
  {{ straight = 48 }}, {{ inside = 90 }}, {{ straight = 150 }}, {{ inside = 90 }},
]
"""


def molding(*arguments: object) -> subprocess.CompletedProcess[str]:
    """Run the command as its own process, piped, as a script would."""
    command = [sys.executable, "-c", "from preview.cli import main; main()", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)


def built(folder: Path, text: str) -> tuple[subprocess.CompletedProcess[str], Path, dict[str, Any]]:
    """`molding build --no-solid` of a scene: how it ended, the folder, and its report."""
    scene, out = folder / "scene.toml", folder / "out"
    scene.write_text(TOP + text, "utf-8")
    result = molding("build", scene, "--no-solid", "--no-pictures", "--out", out)
    report: dict[str, Any] = json.loads((out / "report.json").read_text("utf-8"))
    assert "Traceback" not in result.stderr
    return result, out, report


def checked(folder: Path, text: str, *options: str) -> subprocess.CompletedProcess[str]:
    scene = folder / "scene.toml"
    scene.write_text(TOP + text, "utf-8")
    result = molding("check", scene, *options)
    assert result.stderr == ""
    return result


def drawn(out: Path, joint: dict[str, Any]) -> str:
    """The text of a joint's drawing, which must be an SVG that is read without fault."""
    assert joint["drawing"]
    text = Path(out, joint["drawing"]).read_text("utf-8")
    assert ET.fromstring(text).tag == "{http://www.w3.org/2000/svg}svg"
    return text


# A stair corner.


def test_one_profile_round_a_stair_s_corner_fails_and_draws_the_mismatch(tmp_path: Path) -> None:
    result, out, report = built(tmp_path, STAIR.format(raked="same"))
    assert result.returncode == 1
    assert re.search(
        r"FAILED  stair / old / 1-2 miter: both profiles stand flush at the joint: .* worst ", result.stdout
    )
    assert re.search(r"\d+ of \d+ checks FAILED\.", result.stdout)
    assert report["holds"] is False
    (joint,) = (each for each in report["joints"] if each["name"] == "stair / old / 1-2 miter")
    # By hand: at its foot and 1 1/4 in out the raked one stands 56/84 of that lower: 0.83 in.
    assert joint["step_mm"] == pytest.approx(1.25 * 25.4 * 56 / 84, abs=0.01)
    assert joint["drawing"] == "joints/stair-old-1-2-miter.svg"
    assert "Does not meet" in drawn(out, joint)


def test_the_derived_profile_round_the_same_corner_holds(tmp_path: Path) -> None:
    result, out, report = built(tmp_path, STAIR.format(raked="derived"))
    assert result.returncode == 0
    assert report["holds"] is True
    (joint,) = (each for each in report["joints"] if each["name"] == "stair / old / 1-2 miter")
    assert "Both profiles agree" in drawn(out, joint)
    assert "a profile of its own for stair / old / 2 straight" in result.stdout
    (raked,) = report["raked_profiles"]
    assert all((out / name).is_file() for name in raked["files"])


# Different profiles that meet.


def test_different_profiles_that_meet_fail_and_are_drawn(tmp_path: Path) -> None:
    runs = MEETING.format(hall="steps = [{ straight = 20 }]", porch="start = [20, 0]\nsteps = [{ straight = 20 }]")
    result, out, report = built(tmp_path, runs)
    assert result.returncode == 1
    (joint,) = (each for each in report["joints"] if each["kind"] == "butt")
    assert joint["name"] == "hall / old to porch / new butt"
    assert joint["step_mm"] == pytest.approx(25.4 / 8, abs=1e-3)  # 1 1/4 in against 1 1/8 in
    assert "Does not meet: step" in drawn(out, joint)
    assert 'worst 1 1/4" out from the wall' in result.stdout


def test_with_a_plinth_block_between_they_need_not_be_alike(tmp_path: Path) -> None:
    hall = 'end = "square"\nsteps = [{ straight = 20 }, { block = "plinth" }]'
    porch = 'start = [24, 0]\nbegin = "butt"\nsteps = [{ straight = 20 }]'
    result, out, report = built(tmp_path, PLINTH + MEETING.format(hall=hall, porch=porch))
    assert result.returncode == 0, result.stdout
    joints = {each["kind"]: each for each in report["joints"]}
    assert joints["block"]["gap_mm"] == pytest.approx(0.0, abs=1e-3)
    assert joints["butt end"]["gap_mm"] == pytest.approx(0.0, abs=1e-3)
    assert "The end lies within the block" in drawn(out, joints["block"])


def test_a_block_lower_than_the_molding_fails(tmp_path: Path) -> None:
    low = PLINTH.replace("height = 6", "height = 3")
    run = '[[run]]\nname = "hall"\nmembers = ["old"]\nsteps = [{ straight = 20 }, { block = "plinth" }]\n'
    result, out, report = built(tmp_path, low + run)
    assert result.returncode == 1
    (joint,) = (each for each in report["joints"] if each["kind"] == "block")
    assert joint["step_mm"] == pytest.approx(25.4, abs=1e-3)  # the molding is 4 in high
    assert "Does not meet: step" in drawn(out, joint)


def test_an_end_that_butts_against_nothing_fails(tmp_path: Path) -> None:
    run = '[[run]]\nname = "hall"\nmembers = ["old"]\nend = "butt"\nsteps = [{ straight = 20 }]\n'
    result = checked(tmp_path, run)
    assert result.returncode == 1
    assert "nothing stands there" in result.stdout


# Surveys.


def test_a_measured_room_that_holds(tmp_path: Path) -> None:
    result = checked(tmp_path, ROOM.format(closing="spread", blunder="120 1/16").replace("120 1/16", '"120 1/16"'))
    assert result.returncode == 0, result.stdout
    assert "survey of room" in result.stdout


def test_a_blunder_of_six_inches_is_caught_and_its_wall_named(tmp_path: Path) -> None:
    """The wall of step 3 was read 6 in too long: no spreading makes that good."""
    result = checked(tmp_path, ROOM.format(closing="spread", blunder=126))
    assert result.returncode == 1
    assert "no measurement is changed by more than it may be off" in result.stdout
    said = next(line for line in result.stdout.splitlines() if "again" in line)
    assert "step 3" in said
    as_json = json.loads(checked(tmp_path, ROOM.format(closing="spread", blunder=126), "--json").stdout)
    (survey,) = as_json["surveys"]
    assert survey["holds"] is False
    assert survey["credible"] is False
    assert "step 3" in survey["suspects"]
    # The wall across and the one in line with it would explain the same miss, and no other.
    assert set(survey["suspects"]) == {"step 3", "step 7", "step 11"}
    (wall,) = (row for row in survey["measurements"] if row["place"] == "step 3")
    assert wall["times_alone"] == pytest.approx(48.0, rel=0.01)  # 6 in, at 1/8 in
    assert as_json["holds"] is False


def test_a_room_shown_as_it_was_measured_fails_by_its_gap(tmp_path: Path) -> None:
    result = checked(tmp_path, ROOM.format(closing="show", blunder=126))
    assert result.returncode == 1
    assert re.search(r"FAILED  room: the run as measured ends where it should: 152\.4 mm", result.stdout)


# Saw settings.


def test_saw_settings_in_words(tmp_path: Path) -> None:
    run = '[[run]]\nname = "hall"\nmembers = ["old"]\nsteps = [{ straight = 40 }, { inside = 88 }, { straight = 40 }]\n'
    plain = checked(tmp_path, run)
    told = checked(tmp_path, run, "--saw")
    assert told.returncode == plain.returncode == 0
    assert "swing the table" not in plain.stdout
    # Half of what the walk turns: (180 - 88) / 2 = 46 degrees.
    lines = [line for line in told.stdout.splitlines() if "Inside corner of 88°" in line]
    assert lines
    assert any("swing the table 46°" in line and "blade upright" in line for line in lines)
    assert "hall / old / 1 straight, right end" in told.stdout
    assert "cut a test corner from scrap first" in told.stdout


def test_saw_settings_of_a_crown_are_compound(tmp_path: Path) -> None:
    """A square corner and a crown laid at 38°: 31.62° and 33.86°, as compound miter saws have them printed."""
    crown = """
[profile.crown]
foot = "5/8"
face = [{ fillet = "3 5/8" }]
spring = 38
[member.crown]
profile = "crown"
[[run]]
name = "crown"
members = ["crown"]
steps = [{ straight = 40 }, { inside = 90 }, { straight = 40 }]
"""
    told = checked(tmp_path, crown, "--saw")
    assert told.returncode == 0
    lines = [line for line in told.stdout.splitlines() if "flat on its back" in line and "corner of 90°" in line]
    assert lines
    assert all("swing the table 31.62°" in line and "tilt the blade 33.86°" in line for line in lines)


@pytest.mark.parametrize("options", [("--saw",), ()])
def test_a_model_has_no_saw_settings(tmp_path: Path, options: tuple[str, ...]) -> None:
    stl = tmp_path / "part.stl"
    stl.write_bytes(b"solid nothing\nendsolid nothing\n")
    result = molding("check", stl, *options)
    assert result.returncode == 2
    assert ("--saw" in result.stderr) == bool(options)
