"""`molding check` on files that molding wrote: which model they say they are, and whether a scene makes it."""

from __future__ import annotations

import json
import re
import struct
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from preview.approval import short_code
from preview.build import Built
from preview.checks import digest_in
from preview.cli.app import app
from preview.exports import obj_files
from preview.jobs import building
from preview.models import solid
from preview.review import build_every
from preview.scene import load_scene

SCENE = """
title = "A board, painted or oiled, model 0123456789abcdef"
units = "mm"
[profile.board]
foot = 20
face = [{ fillet = 90 }]
[finish.white]
color = "#f0f0f0"
[finish.oak]
color = "#804020"
[member.base]
profile = "board"
finish = "white"
[[run]]
name = "north"
room = "left"
steps = [{ straight = 1000 }, { left = 90 }, { straight = LENGTH }]
[[option]]
choice = "finish"
name = "painted"
[[option]]
choice = "finish"
name = "oiled"
changes = [{ member = "base", finish = "oak" }]
"""
FORMATS = ("glb", "stl", "gltf", "obj", "ply", "3mf", "usdz", *(() if solid.available() else ("step",)))
READ = {"glb", "stl", "step"}


def run(*arguments: object) -> Any:
    return CliRunner().invoke(app, [*map(str, arguments)])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two scenes, and everything exported from the first."""
    found = tmp_path_factory.mktemp("digests")
    (found / "board.toml").write_text(SCENE.replace("LENGTH", "500"), "utf-8")
    (found / "other.toml").write_text(SCENE.replace("LENGTH", "501"), "utf-8")
    done = run("export", found / "board.toml", *(word for name in FORMATS for word in ("-f", name)), "--out", found)
    assert done.exit_code == 0, done.output
    return found


@pytest.fixture(scope="module")
def every(folder: Path) -> tuple[Built, ...]:
    built = build_every(load_scene(folder / "board.toml"))
    assert len(built) == 2
    assert len({each.digest for each in built}) == 2
    return built


@pytest.mark.parametrize("name", FORMATS)
def test_the_digest_is_in_every_format(name: str, folder: Path, every: tuple[Built, ...]) -> None:
    path = folder / "models" / f"board.{name}"
    digest = every[0].digest
    assert digest_in(path) == digest
    done = run("check", path)
    said = f"model code {short_code(digest)}, digest {digest}"
    assert done.exit_code == 0, done.output
    assert said in done.stdout


@pytest.mark.parametrize("name", FORMATS)
def test_a_scene_is_told_from_another(name: str, folder: Path) -> None:
    path = folder / "models" / f"board.{name}"
    mine = run("check", path, "--scene", folder / "board.toml")
    assert mine.exit_code == 0, mine.output
    assert "board.toml makes this very model, as drawn" in mine.stdout
    other = run("check", path, "--scene", folder / "other.toml")
    assert other.exit_code == 1
    assert "FAILED  other.toml: neither the scene nor an option of it makes this model" in other.stdout


def test_an_option_is_named(folder: Path, every: tuple[Built, ...], tmp_path: Path) -> None:
    for file, data in obj_files(every[1], "oiled"):
        (tmp_path / file).write_bytes(data)
    done = run("check", tmp_path / "oiled.obj", "--scene", folder / "board.toml")
    assert done.exit_code == 0
    assert 'board.toml makes this very model, with "oiled" for finish' in done.stdout
    told = json.loads(run("check", tmp_path / "oiled.obj", "--scene", folder / "board.toml", "--json").stdout)
    codes = [short_code(each.digest) for each in every]
    assert told["scene"].pop("compared") > 10
    assert told["scene"] == {
        "file": "board.toml", "makes": True, "options": ['"oiled" for finish'], "codes": codes, "failures": [],
    }  # fmt: skip
    assert (told["digest"], told["code"], told["holds"]) == (every[1].digest, codes[1], True)


def test_the_json_of_a_model_says_it_too(folder: Path, every: tuple[Built, ...]) -> None:
    path = folder / "models" / "board.glb"
    told = json.loads(run("check", path, "--json").stdout)
    assert (told["digest"], told["code"]) == (every[0].digest, short_code(every[0].digest))
    assert "scene" not in told
    done = run("check", path, "--json", "--scene", folder / "other.toml")
    told = json.loads(done.stdout)
    assert done.exit_code == 1
    assert (told["holds"], told["scene"]["makes"], told["scene"]["options"]) == (False, False, None)


@pytest.mark.parametrize("name", FORMATS)
def test_a_file_without_a_digest_names_no_model(
    name: str, folder: Path, every: tuple[Built, ...], tmp_path: Path
) -> None:
    whole = (folder / "models" / f"board.{name}").read_bytes()
    digest = every[0].digest.encode()
    faults = [b"", b"\0" * 200, whole[:7], whole[: len(whole) // 2] if name in ("3mf", "usdz", "gltf") else whole[:40]]
    if digest in whole:  # not packed
        faults += [whole.replace(digest, digest[:-1] + b"g"), whole.replace(digest, digest.upper())]
    path = tmp_path / f"board.{name}"
    for data in faults:
        path.write_bytes(data)
        assert digest_in(path) == ""
    assert digest_in(tmp_path / f"none.{name}") == ""


def smaller(name: str, path: Path) -> None:
    """Spoil one length in a file, and nothing of what it says of itself."""
    data = bytearray(path.read_bytes())
    if name == "stl":
        first = struct.unpack_from("<f", data, 84 + 12)[0]
        struct.pack_into("<f", data, 84 + 12, first + 1.0)
    elif name in ("obj", "ply", "gltf", "3mf", "usdz"):
        del data[len(data) * 6 // 10 :]
    elif name == "step":
        data = bytearray(bytes(data).replace(b"(1.E+03,", b"(1.01E+03,"))
    else:
        size = struct.unpack_from("<I", data, 12)[0]
        document = json.loads(data[20 : 20 + size])
        node = next(each for each in document["nodes"] if each["name"].endswith("1 straight"))
        text = json.dumps(document).replace(json.dumps(node), json.dumps(node | {"scale": [0.9, 0.9, 0.9]})).encode()
        text += b" " * (-len(text) % 4)
        rest = bytes(data[20 + size :])
        data = bytearray(struct.pack("<4sII", b"glTF", 2, 20 + len(text) + len(rest)))
        data += struct.pack("<I4s", len(text), b"JSON") + text + rest
    path.write_bytes(data)


@pytest.mark.parametrize("name", FORMATS)
def test_a_file_that_was_changed_is_not_taken_at_its_word(name: str, folder: Path, tmp_path: Path) -> None:
    for path in (folder / "models").glob("board*"):
        if path.is_file():
            (tmp_path / path.name).write_bytes(path.read_bytes())
    path = tmp_path / f"board.{name}"
    smaller(name, path)
    done = run("check", path, "--scene", folder / "board.toml")
    assert done.exit_code in (1, 2), done.output
    assert "makes this very model" not in done.output
    if digest_in(path) and name in READ - {"stl"}:
        assert "the file does not hold it" in done.stdout


def test_a_drawing_and_a_piece_say_it_too(folder: Path, every: tuple[Built, ...], tmp_path: Path) -> None:
    done = run("export", folder / "board.toml", "-f", "dxf", "-f", "stl", "--pieces", "-f", "levels", "--out", tmp_path)
    assert done.exit_code == 0, done.output
    models = tmp_path / "models"
    for path in (
        models / "board-plan.dxf",
        models / "pieces" / "north-base-1-straight.stl",
        models / "board-level-1.glb",
    ):
        found = run("check", path, "--scene", folder / "board.toml")
        assert found.exit_code == 0, found.output
        assert "board.toml makes this very model, as drawn" in found.stdout
    plan = models / "board-plan.dxf"
    assert "by the file's word alone" in run("check", plan, "--scene", folder / "board.toml").stdout
    half = plan.read_bytes()
    plan.write_bytes(half[: len(half) // 2])
    done = run("check", plan, "--scene", folder / "board.toml")
    assert done.exit_code == 2
    assert 'the DXF does not end with "EOF"' in done.output
    assert "makes this very model" not in done.output


@pytest.mark.parametrize(("name", "told"), [("none.usdz", "no file of this name"), ("board.mtl", "neither a scene")])
def test_what_is_no_model_is_told(name: str, told: str, folder: Path, tmp_path: Path) -> None:
    if name != "none.usdz":
        (tmp_path / name).write_text("newmtl white\n")
    done = run("check", tmp_path / name)
    assert done.exit_code == 2
    assert told in done.output


def test_a_foreign_stl_is_checked_as_before(folder: Path, tmp_path: Path) -> None:
    data = (folder / "models" / "board.stl").read_bytes()
    path = tmp_path / "foreign.stl"
    path.write_bytes(b"made elsewhere".ljust(80) + data[80:])
    done = run("check", path)
    assert done.exit_code == 0
    assert "digest" not in done.stdout
    done = run("check", path, "--scene", folder / "board.toml")
    assert done.exit_code == 1
    assert "the file names no model" in done.stdout


def test_scene_is_for_models_only(folder: Path) -> None:
    done = run("check", folder / "board.toml", "--scene", folder / "board.toml")
    assert done.exit_code == 2
    assert "this option is for a model" in done.output


def test_a_mistake_in_the_scene_is_told(folder: Path, tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text("units = 'cubits'\n", "utf-8")
    done = run("check", folder / "models" / "board.glb", "--scene", bad)
    assert done.exit_code == 2
    assert "bad.toml" in done.output


def test_export_reports_the_round_trip(folder: Path) -> None:
    report = json.loads((folder / "report.json").read_text("utf-8"))
    mine = {check["code"]: check for check in report["checks"] if check["code"].startswith("file-")}
    assert len(mine) == 11
    assert all(check["count"] and not check["failed"] and check["limit_from"] for check in mine.values())
    assert mine["file-points"]["count"] == 7 * len(report["pieces"])  # all that it wrote but STEP, which has no points


def test_a_fault_in_what_is_written_fails_the_export(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def one_vertex_moved(built: Built, stem: str) -> tuple[tuple[str, bytes], ...]:
        (first, data), *others = obj_files(built, stem)
        return ((first, re.sub(rb"^v \S+ ", b"v -0.001 ", data, count=1, flags=re.MULTILINE)), *others)

    monkeypatch.setattr(building.FORMATS, "_entered", {**building.FORMATS, "obj": one_vertex_moved})
    done = run("export", folder / "board.toml", "-f", "obj", "--out", tmp_path)
    assert done.exit_code == 1
    assert "board.obj: north / base / 1 straight" in done.stdout
    report = json.loads((tmp_path / "report.json").read_text("utf-8"))
    assert not report["holds"]
