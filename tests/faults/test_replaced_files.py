"""Files that are replaced while they are read: each is read once, so that all that is made of it is of one state.

A file is replaced the moment that it has been opened: who has it open reads the old one, who opens it again the new.
"""

from __future__ import annotations

import builtins
import io
import json
import os
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from typer.testing import CliRunner

from preview.approval import records, records_path, short_code
from preview.build import build
from preview.cli import serving
from preview.cli.app import app
from preview.profiles import measure
from preview.scene import load_scene
from test_kills import AFTER, BEFORE, standing


class Replacing:
    """Counts how often files are opened to be read, and puts others into their places after the first time."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, others: dict[Path, bytes]) -> None:
        self.count = dict.fromkeys(others, 0)
        self._others = dict(others)
        self._open = io.open
        monkeypatch.setattr(io, "open", self.open)
        monkeypatch.setattr(builtins, "open", self.open)

    def open(self, file: Any, mode: str = "r", *args: Any, **kwargs: Any) -> Any:
        opened = self._open(file, mode, *args, **kwargs)
        path = Path(file) if isinstance(file, str | os.PathLike) else None
        if path in self.count and not set(mode) & set("wxa+"):
            assert path is not None
            self.count[path] += 1
            if path in self._others:
                beside = path.with_name("another")
                with self._open(beside, "wb") as new:
                    new.write(self._others.pop(path))
                beside.replace(path)
        return opened


def molding(*args: object) -> tuple[int, str]:
    done = CliRunner().invoke(app, [str(each) for each in args])
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done.exit_code, done.stderr if done.exit_code else done.stdout


PROFILE = 'name = "Edge"\nunits = "mm"\nfoot = 20\nface = [{ fillet = 30 }]\n'
DRAWN = 'name = "Edge"\nunits = "mm"\ndrawing = "edge.svg"\nback = "left"\n'
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="60mm" viewBox="0 0 40 60">'
    '<path d="M0 0 H20 V30 H0 Z"/></svg>'
)
DXF = "0\nSECTION\n2\nENTITIES\n" + "".join(
    f"0\nLINE\n8\n0\n10\n{a}\n20\n{b}\n11\n{c}\n21\n{d}\n"
    for a, b, c, d in [(0, 0, 20, 0), (20, 0, 20, 30), (20, 30, 0, 30), (0, 30, 0, 0)]
)
DXF += "0\nENDSEC\n0\nEOF\n"
CSV = "d (mm), h (mm)\n" + "".join(f"20, {height}\n" for height in (0, 4, 8, 12, 16, 20, 24, 28, 30))
TWICE = """
title = "Twice"
units = "mm"
[profile.one]
file = "edge.toml"
[profile.other]
file = "edge.toml"
[member.one]
profile = "one"
[member.other]
profile = "other"
up = 100
[[run]]
name = "wall"
members = ["one", "other"]
room = "right"
steps = [{ straight = 400 }]
[[option]]
name = "longer"
changes = [{ run = "wall", step = 1, straight = 500 }]
"""


@pytest.mark.parametrize("how", ["sketched", "svg", "dxf", "csv"])
def test_a_profile_in_two_places(how: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    profile, drawing = tmp_path / "edge.toml", tmp_path / f"edge.{how}"
    profile.write_text(PROFILE if how == "sketched" else DRAWN.replace("svg", how))
    if how == "csv":
        profile.write_text(profile.read_text().replace("back", "#"))
    text = {"svg": SVG, "dxf": DXF, "csv": CSV}.get(how, "")
    drawing.write_text(text)
    scene = tmp_path / "twice.toml"
    scene.write_text(TWICE)
    others = {profile: PROFILE.replace("30", "50").encode(), drawing: text.replace("30", "50").encode()}
    replacing = Replacing(monkeypatch, {path: data for path, data in others.items() if data})
    loaded = load_scene(scene)
    assert set(replacing.count.values()) == {1}
    for each in (loaded, loaded.variants[0].scene):
        assert [measure(member.profile).h_max - member.up for member in each.members] == [30.0, 30.0]


@pytest.mark.parametrize("how", ["svg", "dxf"])
def test_a_profile_of_a_drawing_is_told_of_one_reading(
    how: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    profile, drawing = tmp_path / "edge.toml", tmp_path / f"edge.{how}"
    profile.write_text(DRAWN.replace("svg", how))
    drawing.write_text(SVG if how == "svg" else DXF)
    replacing = Replacing(monkeypatch, {profile: b"", drawing: b""})
    code, said = molding("profile", profile, "--unit", "mm")
    assert code == 0, said
    assert set(replacing.count.values()) == {1}


def test_an_approval_keeps_what_was_approved(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The copies are of the model that the answer is for; where they cannot be, nothing is recorded."""
    scene = tmp_path / "shelf.toml"
    scene.write_text(BEFORE)
    approved = build(load_scene(scene))
    args = ("approve", scene, "--code", short_code(approved.digest), "--name", "Ada")
    with monkeypatch.context() as patch:
        Replacing(patch, {scene: AFTER.encode()})
        code, said = molding(*args)
    assert code == 2
    assert "a file was changed meanwhile" in said
    assert "nothing was recorded" in said
    assert not records_path(scene).exists()
    scene.write_text(BEFORE)
    assert molding(*args)[0] == 0
    assert [each.answer.digest for each in records(scene)] == [approved.digest]


def test_a_brand_and_its_logo_are_read_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A sheet shows the logo that was found to be one, whatever became of it while the scene was built."""
    scene, brand, logo = tmp_path / "shelf.toml", tmp_path / "brand.toml", tmp_path / "logo.png"
    scene.write_text(BEFORE)
    brand.write_text('name = "Alder Street Joinery"\nlogo = "logo.png"\n')
    Image.new("RGB", (40, 20), "navy").save(logo)
    replacing = Replacing(monkeypatch, {brand: b"no = brand", logo: b"no picture"})
    code, said = molding("sheet", scene, "--no-pictures", "--brand", brand, "--out", tmp_path / "sheet.pdf")
    assert code == 0, said
    assert set(replacing.count.values()) == {1}


def test_a_brand_that_is_missing_is_told_by_check(tmp_path: Path) -> None:
    scene = tmp_path / "shelf.toml"
    scene.write_text(f'{BEFORE}\n[job]\nbrand = "brand.toml"\n')
    code, said = molding("check", scene)
    assert code == 2
    assert "there is no such brand file" in said


def test_a_model_that_is_replaced_while_it_is_checked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    models = []
    for number, text in enumerate((BEFORE, AFTER)):
        scene = tmp_path / f"{number}.toml"
        scene.write_text(text)
        assert molding("export", scene, "-f", "glb", "-f", "3mf", "-o", tmp_path / str(number))[0] == 0
        models.append(tmp_path / str(number) / "models" / f"{number}.glb")
    for suffix in (".glb", ".3mf"):
        one, other = (path.with_suffix(suffix) for path in models)
        with monkeypatch.context() as patch:
            Replacing(patch, {one: other.read_bytes()})
            code, said = molding("check", one, "--scene", tmp_path / "0.toml")
        assert code == 2
        assert "the file was changed while it was being read" in said
        assert "fix: do this again" in said


def test_a_page_forgets_what_was_there_for_a_moment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Replaced, read and put back: the page is not left with what stands in the file no more."""
    scene = tmp_path / "shelf.toml"
    scene.write_text(BEFORE)
    right = serving.SceneJob(scene).model().version
    job = serving.SceneJob(scene)

    def between(path: Path) -> Any:
        scene.write_text(AFTER)
        found = load_scene(path)
        scene.write_text(BEFORE)
        return found

    with monkeypatch.context() as patch:
        patch.setattr(serving, "load_scene", between)
        assert job.model().version != right
    assert job.model().version == right


def test_another_scene_of_the_same_name_is_told(tmp_path: Path) -> None:
    """It stands in the other's place, as after a change of its title: which of the two it was, a person knows."""
    out = tmp_path / "out"
    scenes = [tmp_path / folder / "shelf.toml" for folder in ("mine", "theirs")]
    for scene, title in zip(scenes, ("Shelf, mine", "Shelf, theirs"), strict=True):
        scene.parent.mkdir()
        lines = BEFORE.strip().splitlines()
        scene.write_text("\n".join(f'title = "{title}"' if line.startswith("title") else line for line in lines))
    told = []
    for scene in (scenes[0], scenes[0], scenes[1]):
        code, said = molding("export", scene, "-f", "glb", "-o", out)
        assert code == 0, said
        told.append('note: the folder held "Shelf, mine", built of a scene file of the same name' in said)
    assert told == [False, False, True]
    assert json.loads(standing(out)["report.json"])["scene"]["title"] == "Shelf, theirs"
