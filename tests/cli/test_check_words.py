"""What `molding check` says of files that are no whole models: what is wrong, in plain words, and nothing else."""

from __future__ import annotations

import json
import os
import re
import struct
import sys
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from preview.cli.app import app

SCENE = """
title = "A board"
units = "mm"
[profile.board]
foot = 20
face = [{ fillet = 90 }]
[member.base]
profile = "board"
[[run]]
name = "north"
room = "left"
steps = [{ straight = 1000 }, { left = 90 }, { straight = 500 }]
"""
CALLED = {"3mf": "3MF", "usdz": "USDZ", "gltf": "glTF", "obj": "OBJ", "ply": "PLY"}
LETTER = b"Dear all, the molding is ready.\n" * 9


def run(*arguments: object) -> Any:
    return CliRunner().invoke(app, [*map(str, arguments)], env={"COLUMNS": "400"})


def refused(path: Path) -> tuple[str, str]:
    """The problem and the fix of the one error there is."""
    done = run("check", path)
    assert done.exit_code == 2, done.output
    assert not done.stdout
    where, problem, fix = (line.strip() for line in done.stderr.strip().splitlines())
    assert where.endswith(path.name)
    return problem, fix


@pytest.fixture(scope="module")
def models(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A scene beside its models in every format that other programs read."""
    home = tmp_path_factory.mktemp("words")
    (home / "board.toml").write_text(SCENE, "utf-8")
    asked = (word for name in ("glb", *CALLED) for word in ("-f", name))
    done = run("export", home / "board.toml", *asked, "--out", home / "out")
    assert done.exit_code == 0, done.output
    (home / "board.toml").rename(home / "out" / "models" / "board.toml")
    return home / "out" / "models"


@pytest.mark.parametrize("name", CALLED)
def test_a_file_that_is_no_whole_model_is_told_in_plain_words(name: str, models: Path, tmp_path: Path) -> None:
    whole = (models / f"board.{name}").read_bytes()
    path = tmp_path / f"board.{name}"
    for data, told in (
        (b"", "the file is empty"),
        (LETTER, "of another kind"),
        (b"\0" * 300, "of another kind, or damaged"),
        (whole[: len(whole) // 2], "its last line does not end" if name == "obj" else "cut short"),
        (whole[:150], "cut short"),
    ):
        path.write_bytes(data)
        problem, fix = refused(path)
        assert problem.startswith(f"this is no {CALLED[name]} that can be read: ")
        assert told in problem
        assert fix == "fix: copy or export it again"


@pytest.mark.parametrize(
    ("mine", "name", "told"),
    [
        ("3mf", "usdz", "its first file is no layer of USD"),
        ("usdz", "3mf", "it has no [Content_Types].xml"),
        ("obj", "ply", "it is of another kind"),
        ("ply", "obj", "it is a PLY"),
        ("glb", "gltf", "it is a GLB"),
        ("gltf", "3mf", "it is a JSON text"),
    ],
)
def test_a_model_under_the_name_of_another_format_is_told(
    mine: str, name: str, told: str, models: Path, tmp_path: Path
) -> None:
    path = tmp_path / f"board.{name}"
    path.write_bytes((models / f"board.{mine}").read_bytes())
    problem, fix = refused(path)
    assert problem.startswith(f"this is no {CALLED[name]} that can be read: ")
    assert told in problem
    assert fix == "fix: copy or export it again"


def test_a_gltf_alone_names_what_it_needs_beside_it(models: Path, tmp_path: Path) -> None:
    path = tmp_path / "board.gltf"
    path.write_bytes((models / "board.gltf").read_bytes())
    assert "board.bin, which it needs beside it, is not there" in refused(path)[0]


def test_a_usdz_is_not_called_damaged_where_nothing_reads_it(models: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pxr", None)
    problem, fix = refused(models / "board.usdz")
    assert problem == "reading USD needs usd-core, which is not installed"
    assert fix.startswith("fix: install it with: pip install")


def test_a_whole_obj_from_elsewhere_is_not_called_damaged(tmp_path: Path) -> None:
    path = tmp_path / "elsewhere.obj"
    for head in ("", "o wedge\n"):
        path.write_text(f"{head}v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n")
        problem, fix = refused(path)
        assert problem.startswith("models whose bodies are measured are read from .stl")
        assert fix == "fix: export elsewhere.stl"


@pytest.mark.parametrize("name", ["stl", "glb", "step", "obj", "usdz"])
def test_a_folder_is_told(name: str, tmp_path: Path) -> None:
    path = tmp_path / f"folder.{name}"
    path.mkdir()
    assert refused(path) == ("this is a folder, not a model", "fix: name the model in it")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_and_a_device_are_told_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.stl")
    (tmp_path / "device.3mf").symlink_to(os.devnull)
    for name in ("pipe.stl", "device.3mf"):
        assert "not a regular file" in refused(tmp_path / name)[0]


def test_a_name_that_leads_nowhere_is_told_as_missing(tmp_path: Path) -> None:
    (tmp_path / "link.stl").symlink_to(tmp_path / "gone.stl")
    assert refused(tmp_path / "link.stl")[0] == "there is no file of this name"


def moved(path: Path) -> bytes:
    """A GLB whose run stands half a meter off as a whole: its own joints still hold."""
    data = path.read_bytes()
    size = struct.unpack_from("<I", data, 12)[0]
    document = json.loads(data[20 : 20 + size])
    (node,) = [each for each in document["nodes"] if each["name"] == "north"]
    x, y, z = node.get("translation", (0.0, 0.0, 0.0))
    node["translation"] = [x + 0.5, y, z]
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    rest = data[20 + size :]
    head = struct.pack("<4sII", b"glTF", 2, 20 + len(text) + len(rest))
    return head + struct.pack("<I4s", len(text), b"JSON") + text + rest


def test_the_last_line_says_that_the_file_holds_its_model_no_longer(models: Path, tmp_path: Path) -> None:
    path = tmp_path / "board.glb"
    path.write_bytes(moved(models / "board.glb"))
    told = json.loads(run("check", path, "--scene", models / "board.toml", "--json").stdout)
    failed, compared = len(told["scene"]["failures"]), told["scene"]["compared"]
    assert 0 < failed < compared
    done = run("check", path, "--scene", models / "board.toml")
    assert done.exit_code == 1
    assert done.stdout.rstrip().endswith(
        f"The file no longer holds the model that it names: {failed} of {compared} comparisons with the scene FAILED."
    )
    assert "checks hold." not in done.stdout
    assert "does not make this model" not in done.stdout
    assert re.search(r"where the build has it: 500 mm, limit \S+$", done.stdout, re.MULTILINE)


def test_the_last_line_of_a_format_that_is_not_measured_says_it_too(models: Path, tmp_path: Path) -> None:
    for beside in models.glob("board*.*"):
        (tmp_path / beside.name).write_bytes(beside.read_bytes())
    path = tmp_path / "board.obj"
    before, first, after = path.read_text("utf-8").partition("\nv ")
    path.write_text(before + first + "9" + after, "utf-8")
    done = run("check", path, "--scene", models / "board.toml")
    assert done.exit_code == 1
    last = done.stdout.rstrip().splitlines()[-1]
    assert last.startswith("The file no longer holds the model that it names: ")
    assert last.endswith(" FAILED.")


def test_the_last_line_names_a_scene_that_makes_another_model(models: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    other.write_text(SCENE.replace("500", "501"), "utf-8")
    for name in ("glb", "obj"):
        done = run("check", models / f"board.{name}", "--scene", other)
        assert done.exit_code == 1
        assert done.stdout.rstrip().endswith("The scene does not make this model.")
        assert "checks hold." not in done.stdout


def test_the_help_names_every_format_that_is_read() -> None:
    said = run("check", "--help").stdout
    for name in ("stl", "glb", "step", "stp", "dxf", *CALLED):
        assert f".{name}" in said


def test_a_step_file_that_was_cut_short_is_told_without_the_kernel(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """ISO 10303-21: the exchange structure ends with END-ISO-10303-21."""

    def reached() -> str:
        return "the kernel was asked for; install it"

    monkeypatch.setattr("preview.models.solid.available", reached)
    path = tmp_path / "room.step"
    path.write_text("ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n#1=CARTESIAN_POINT('',(0.,0.")
    problem, fix = refused(path)
    assert problem == 'the STEP file does not end with "END-ISO-10303-21"'
    assert fix == "fix: it was cut short: copy or export it again"
    whole = "ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n"
    for after in ("", "\n\n", "SIGNATURE;\nTUlJ\nENDSEC;\n"):
        path.write_text(whole + after)
        assert "the kernel was asked for" in refused(path)[0]
