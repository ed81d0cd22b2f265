"""The folder that files go to: of one scene only, its options told apart by name, every file named."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

import preview
from preview.cli import client_verbs
from preview.cli.app import app
from preview.client import Still
from preview.errors import PreviewError
from preview.exports import picked_of, staged, stem_of, write_file
from preview.jobs.picturing import MadeStill
from preview.scene import Scene, chosen, load_scene

SHELF = """
title = "A shelf"
units = "mm"
[profile.edge]
foot = 20
face = [{ fillet = 30 }]
[finish.oak]
color = "#a08050"
[member.edge]
profile = "edge"
[[run]]
name = "shelf"
members = ["edge"]
room = "right"
steps = [{ straight = 400 }, { outside = 90 }, { straight = 300 }]
"""
OPTION = '[[option]]\nchoice = "{}"\nname = "{}"\nchanges = [{}]\n'
LONG = '{ run = "shelf", step = 1, straight = 500 }'
OAK = '{ member = "edge", finish = "oak" }'
CHOICES = SHELF + OPTION.format("length", "Long, and more", LONG) + OPTION.format("wood", "oak", OAK)


def molding(*arguments: object) -> Result:
    return CliRunner().invoke(app, [str(each) for each in arguments])


def files(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()
    }


def scene(folder: Path, name: str, text: str = SHELF) -> Path:
    path = folder / name
    path.write_text(text, "utf-8")
    return path


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with what was exported of attic.toml, as scripts and people leave it, and picture and sheet with it."""
    folder = tmp_path_factory.mktemp("one")
    done = molding("export", scene(folder, "attic.toml"), "-f", "GLB", "-f", "stl", "--pieces", "-o", folder / "out")
    assert done.exit_code == 0, done.output
    report = json.loads((folder / "out" / "report.json").read_text("utf-8"))
    report["files"] += [{"path": name} for name in ("pictures/whole.png", "attic.pdf")]
    (folder / "out" / "report.json").write_text(json.dumps(report), "utf-8")
    for each in report["files"][-2:]:
        (folder / "out" / each["path"]).parent.mkdir(exist_ok=True)
        (folder / "out" / each["path"]).write_bytes(b"of the attic")
    return folder / "out"


@pytest.mark.parametrize(
    "command",
    [
        "build {scene} --no-solid --no-pictures --out {out}",
        "export {scene} -f glb --out {out}",
        "picture {scene} --view whole --out {out}/pictures",
        "picture {scene} --out {out}/pictures/whole.png",
        "sheet {scene} --no-pictures --out {out}/attic.pdf",
    ],
)
def test_a_folder_of_another_scene_is_left_alone(command: str, built: Path, tmp_path: Path) -> None:
    before = files(built)
    cellar = scene(tmp_path, "cellar.toml", CHOICES)
    done = molding(*(word.format(scene=cellar, out=built) for word in command.split()))
    assert done.exit_code == 2
    expected = (
        f"{built}\n  this folder holds what was made of another scene, attic.toml\n  fix: write to another folder\n"
    )
    assert done.stderr == expected
    assert files(built) == before


def test_the_bench_s_folder_is_of_one_scene_too(tmp_path: Path) -> None:
    out = tmp_path / "bench"
    assert molding("shop", scene(tmp_path, "attic.toml"), "-o", out).exit_code == 0
    before = files(out)
    done = molding("shop", scene(tmp_path, "cellar.toml"), "-o", out)
    assert (done.exit_code, files(out)) == (2, before)
    assert "of another scene, attic.toml" in done.stderr


def test_the_same_scene_again_is_written_over(built: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    for chord in ("0.05", "0.1"):
        done = molding("export", built.parent / "attic.toml", "-f", "glb", "--chord", chord, "-o", out)
        assert done.exit_code == 0, done.output
    assert json.loads((out / "report.json").read_text("utf-8"))["scene"]["chord_mm"] == 0.1


def test_a_damaged_report_is_kept(tmp_path: Path) -> None:
    (tmp_path / "report.json").write_text('{"program": ', "utf-8")
    before = files(tmp_path)
    done = molding("export", scene(tmp_path.parent, "attic.toml"), "-f", "glb", "-o", tmp_path)
    assert (done.exit_code, files(tmp_path)) == (2, before)
    assert "that molding did not write" in done.stderr


def test_another_scene_that_comes_first_keeps_the_folder(tmp_path: Path) -> None:
    """Two commands at once: whoever is second to move its files in finds the other's report, and moves none."""
    program = '{"program": {"name": "molding-preview"}, "scene": {"file": "%s"}, "files": []}'
    out = tmp_path / "out"
    with staged(out) as stage:
        write_file(stage.folder / "report.json", (program % "cellar.toml").encode())
        write_file(out / "report.json", (program % "attic.toml").encode())
        with pytest.raises(PreviewError, match=r"another scene, attic\.toml"):
            stage.publish("cellar.toml")
    assert files(out) == {"report.json": (program % "attic.toml").encode()}


def test_an_option_s_files_stand_beside_the_scene_s(tmp_path: Path) -> None:
    attic, out = scene(tmp_path, "attic.toml", CHOICES), tmp_path / "out"
    asked = ("-f", "glb", "-f", "stl", "--pieces", "-f", "obj", "-o", out)
    assert molding("export", attic, *asked).exit_code == 0
    before = files(out)
    done = molding("export", attic, *asked, "--option", "oak", "--option", "length=Long, and more")
    assert done.exit_code == 0, done.output
    after = files(out)
    assert {name: after[name] for name in before if name != "report.json"} == {
        name: content for name, content in before.items() if name != "report.json"
    }
    stem, report = "models/attic-long-and-more-oak", json.loads(after["report.json"])
    added = {f"{stem}.{end}" for end in ("glb", "stl", "obj", "mtl")}
    pieces = {name for name in after.keys() - before.keys() if name.startswith("models/pieces-long-and-more-oak/")}
    assert after.keys() - before.keys() == added | pieces
    assert {piece["stl"] for piece in report["pieces"]} == pieces
    assert report["scene"]["picked"] == {"length": "Long, and more", "wood": "oak"}
    assert json.loads(before["report.json"])["scene"]["picked"] == {}
    assert [path.name for path in preview.load(attic).option("oak").export(out, "glb")] == [
        "attic-oak.glb",
        "report.json",
    ]


def test_a_build_of_an_option_has_its_name_throughout(tmp_path: Path) -> None:
    attic, out = scene(tmp_path, "attic.toml", CHOICES), tmp_path / "out"
    done = molding("build", attic, "--no-solid", "--no-pictures", "-o", out, "--option", "oak")
    assert done.exit_code == 0, done.output
    named = {name for name in files(out) if "attic" in name}
    assert named == {"attic-oak.html", "attic-oak.pdf", "models/attic-oak.glb", "models/attic-oak.stl"}
    assert molding("shop", attic, "-o", tmp_path / "bench", "--option", "oak").exit_code == 0
    assert {name for name in files(tmp_path / "bench") if "attic" in name} >= {"attic-oak-shop.pdf"}


def picked(*names: str, text: str = CHOICES, folder: Path) -> Scene:
    return chosen(load_scene(scene(folder, "attic.toml", text)), names)


def test_no_two_picks_have_one_name(tmp_path: Path) -> None:
    twice = SHELF + OPTION.format("top", "a", LONG) + OPTION.format("top", "A!", LONG) + OPTION.format("wood", "a", OAK)
    named = [(), ("top=a",), ("A!",), ("wood=a",), ("top=a", "wood=a"), ("A!", "wood=a"), ("top=as drawn",)]
    stems = [stem_of(picked(*names, text=twice, folder=tmp_path)) for names in named]
    assert stems[:4] == ["attic", "attic-top-a", "attic-a", "attic-wood-a"]
    assert len(set(stems)) == len(stems)
    long = SHELF + OPTION.format("wood", "y" * 79, OAK)
    long += "".join(OPTION.format("top", f"{'x' * 78}{i}", LONG) for i in range(3))
    found = {picked_of(picked(f"{'x' * 78}{i}", "y" * 79, text=long, folder=tmp_path)) for i in range(3)}
    assert len(found) == 3
    assert max(map(len, found)) <= 101


@pytest.mark.parametrize(
    ("name", "end"),
    [
        ("compact", "-option-compact"),  # attic-compact.glb is the compact form of the scene as drawn
        ("Level 1", "-option-level-1"),
        ("plan", "-option-plan"),
        ("../../x", "-x"),
        ("CON", "-con-piece"),
        ("...", "-piece"),
    ],
)
def test_an_option_called_like_a_file_or_a_format(name: str, end: str, tmp_path: Path) -> None:
    text = SHELF + OPTION.format("top", name, LONG)
    assert stem_of(picked(name, text=text, folder=tmp_path)) == f"attic{end}"


def test_an_option_and_what_a_format_adds_are_told_apart(tmp_path: Path) -> None:
    text = SHELF + OPTION.format("top", "compact", LONG) + OPTION.format("top", "option compact", OAK)
    stems = [stem_of(picked(name, text=text, folder=tmp_path)) for name in ("compact", "option compact")]
    assert stems == ["attic-option-compact", "attic-option-compact-2"]


def test_pictures_of_an_option_bear_its_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """So they never take the place of those of the scene as drawn."""

    class Work:
        def made(self, progress: object) -> list[MadeStill]:
            return [MadeStill(still, b"a picture", (16, 16)) for still in wanted]

    wanted: list[Still] = []

    @contextmanager
    def making(every: object, stills: list[Still], *_: object) -> Iterator[Work]:
        wanted[:] = stills
        yield Work()

    monkeypatch.setattr(client_verbs, "making", making)
    attic, out = scene(tmp_path, "attic.toml", CHOICES), tmp_path / "out"
    for option in ((), ("--option", "oak")):
        done = molding("picture", attic, "--view", "whole", *option, "-o", out)
        assert done.exit_code == 0, done.output
    assert files(out).keys() == {"whole.png", "whole-oak.png"}


def test_every_file_is_named_and_told_in_the_report(tmp_path: Path) -> None:
    out = tmp_path / "out"
    asked = ("glb", "stl", "levels", "compact", "obj", "gltf", "dxf")
    done = molding(
        "export", scene(tmp_path, "attic.toml"), *(word for name in asked for word in ("-f", name)), "-o", out
    )
    assert done.exit_code == 0, done.output
    for path in out.rglob("*.*"):
        assert path.name in done.stdout
    lines = done.stdout[done.stdout.index("wrote\n") :].splitlines()
    assert lines[1:3] == [f"  {out}/report.json", f"  {out}/models:"]
    assert max(len(line) for line in lines[3:5]) <= 110
    told = {each["path"]: each for each in json.loads((out / "report.json").read_text("utf-8"))["files"]}
    assert {each["format"] for each in told.values()} == set(asked)
    assert told["models/attic.mtl"]["format"] == "obj"
    assert told["models/attic.bin"]["format"] == "gltf"
    level = told["models/attic-level-1.glb"]
    assert (level["format"], level["level"], level["chord_mm"]) == ("levels", 1, pytest.approx(4 * 0.05))
    assert "level" not in told["models/attic-compact.glb"]


def test_pieces_need_stl(tmp_path: Path) -> None:
    done = molding("export", scene(tmp_path, "attic.toml"), "-f", "glb", "--pieces", "-o", tmp_path / "out")
    assert done.exit_code == 2
    assert done.stderr.startswith("--pieces\n  each piece by itself is written as STL")
    assert not (tmp_path / "out").exists()


def test_the_help_says_that_packages_add_formats() -> None:
    said = " ".join(molding("export", "--help").output.replace("│", " ").split())
    assert "installed package adds" in said
