"""Killed at any write: what stood there stands there still or the new is complete, and the next run clears up.

The kill is real (SIGKILL), at a change of the disk chosen by its number. MOLDING_KILLS=500 says how many, of each job,
and lets whole commands be killed so often too: they write what they always write, but what takes them long is computed
once (see `halting`).
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from halting import Doomed
from preview.approval import records
from preview.exports import staged

POINTS = int(os.environ.get("MOLDING_KILLS", "25"))
LONG = "MOLDING_KILLS" in os.environ
THROUGH = 6
"""After every so many kills the whole command is run again; after the others what it does first."""
pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that fork")

SCENE = """
title = "Shelf edge"
units = "mm"
[profile.edge]
library = "ogee-base"
[member.edge]
profile = "edge"
"""
RUN = """
[[run]]
name = "{name}"
members = ["edge"]
room = "right"
start = [0, {start}]
steps = [{{ straight = 400 }}, {{ left = 90 }}, {{ straight = {last} }}]
"""
BEFORE = SCENE + RUN.format(name="front", start=0, last=300) + RUN.format(name="back", start=2000, last=250)
AFTER = SCENE + RUN.format(name="front", start=0, last=310) + RUN.format(name="side", start=2000, last=250)
MINE = {"notes.txt": b"mine", "models/mine.txt": b"mine too"}


def points(count: int, most: int = POINTS) -> list[int]:
    """The numbers of the changes to be killed at: as many as are wanted, spread over all, the first and the last."""
    if count <= most:
        return list(range(1, count + 1))
    return sorted({1 + round(k * (count - 1) / (most - 1)) for k in range(most)})


def standing(folder: Path) -> dict[str, bytes]:
    """Every file that a person sees in a folder."""
    found = {path.relative_to(folder).as_posix(): path for path in folder.rglob("*") if path.is_file()}
    return {name: path.read_bytes() for name, path in found.items() if not name.startswith(".molding")}


def left(folder: Path) -> list[str]:
    """What is left of staging."""
    return sorted(path.name for path in folder.rglob(".*"))


@dataclass(frozen=True)
class Twice:
    """One job before and after what it writes has changed: the folder as it was, and as it should be."""

    job: dict[str, Any]
    before: Path
    old: dict[str, bytes]
    new: dict[str, bytes]
    count: int
    report: str


def report_of(files: dict[str, str]) -> str:
    """A report by which the next build knows what this one wrote."""
    listed = [{"path": name} for name in files]
    return json.dumps({"program": {"name": "molding-preview"}, "scene": {"file": "shelf.toml"}, "files": listed})


OLD_FILES = {f"models/pieces/{k}.stl": f"old piece {k} " * 50 for k in range(5)}
OLD_FILES |= {"models/shelf.glb": "an old model " * 500, "models/same": "the same", "only/old.svg": "a drawing"}
NEW_FILES = {f"models/pieces/{k}.stl": f"new piece {k} " * 40 for k in range(3)}
NEW_FILES |= {"models/shelf.glb": "a new model " * 500, "models/same": "the same", "only new/new.svg": "another"}
WRITTEN = [{**files, "report.json": report_of(files)} for files in (OLD_FILES, NEW_FILES)]

COMMANDS = {
    "export": ["export", "SCENE", "-f", "glb", "-f", "stl", "-f", "usdz", "-f", "dxf", "--pieces"],
    "build": ["build", "SCENE", "--quick"],
    "shop": ["shop", "SCENE"],
}


def twice(doomed: Doomed, folder: Path, what: str) -> Twice:
    scene, before, after, out = (folder / name for name in ("shelf.toml", "before", "after", "out"))
    args = [str(scene) if word == "SCENE" else word for word in COMMANDS.get(what, [])]

    def job(out: Path, number: int) -> dict[str, Any]:
        if what == "publish":
            return {"do": "publish", "out": str(out), "files": WRITTEN[number]}
        scene.write_text((BEFORE, AFTER)[number])
        return {"do": "command", "args": [*args, "--out", str(out)]}

    first = doomed.run(before, **job(before, 0))
    assert first.code == 0, first.said
    for name, data in MINE.items():
        (before / name).parent.mkdir(exist_ok=True)
        (before / name).write_bytes(data)
    shutil.copytree(before, after)
    second = doomed.run(after, **job(after, 1))
    assert second.code == 0, second.said
    again, count = job(out, 1), second.count
    if what in COMMANDS:
        for learning in ({"learn": what}, {"repeat": what}):
            shutil.copytree(before, out)
            taught = doomed.run(out, **again, **learning)
            assert taught.code == 0, taught.said
            assert standing(out) == standing(after)
            shutil.rmtree(out)
        again, count = {**again, "repeat": what}, taught.count
    old, new = standing(before), standing(after)
    assert left(before) == left(after) == []
    assert MINE.items() <= old.items() & new.items()
    assert sum(old.get(name) != data for name, data in new.items()) > 2
    return Twice(again, before, old, new, count, "shop.json" if what == "shop" else "report.json")


def kill(doomed: Doomed, twice: Twice, out: Path, at: int, through: bool) -> bool:
    """Kill a job at one change and look at what stands there, before and after the next run; whether it was done.

    through: the next run is the whole job again, else only what any job does first.
    """
    shutil.copytree(twice.before, out)
    ended = doomed.run(out, at, **twice.job)
    assert ended.code == -9, (at, ended)
    now = standing(out)
    for name, data in now.items():
        assert data in (twice.old.get(name), twice.new.get(name)), (at, name, "is not whole")
    missing = twice.old.keys() - now.keys()
    assert missing <= twice.old.keys() - twice.new.keys(), (at, missing, "are lost")
    if through:
        ended = doomed.run(out, **twice.job)
        assert ended.code == 0, (at, ended.said)
        assert standing(out) == twice.new, at
    else:
        with staged(out, twice.report):
            pass
        assert standing(out) in (twice.old, twice.new), at
    assert left(out) == [], at
    done = standing(out) == twice.new
    shutil.rmtree(out)
    return done


def test_a_folder_holds_one_build_or_the_other(doomed: Doomed, tmp_path: Path) -> None:
    """A folder with files of two builds, some of one name, some only of the first, some only of the second."""
    job = twice(doomed, tmp_path, "publish")
    assert {"models/pieces/4.stl", "only/old.svg"} <= job.old.keys() - job.new.keys()
    assert not (tmp_path / "after" / "only").exists()
    outcomes = [kill(doomed, job, tmp_path / "out", at, False) for at in points(job.count)]
    assert outcomes[0] is False
    assert outcomes[-1] is True
    assert outcomes == sorted(outcomes), "there is one change at which the new build takes the old one's place"
    assert all(kill(doomed, job, tmp_path / "out", at, True) for at in points(job.count, max(4, POINTS // 4)))


@pytest.mark.skipif(not LONG, reason="minutes: on request, MOLDING_KILLS=500")
@pytest.mark.parametrize("what", COMMANDS)
def test_whole_commands(doomed: Doomed, tmp_path: Path, what: str) -> None:
    job = twice(doomed, tmp_path, what)
    assert job.count > 50
    for number, at in enumerate(points(job.count)):
        kill(doomed, job, tmp_path / "out", at, number % THROUGH == 0)
    computing = replace(job, job={name: value for name, value in job.job.items() if name != "repeat"})
    for at in points(job.count, 4):
        kill(doomed, computing, tmp_path / "out", at, False)


def test_a_record_is_added_or_not(doomed: Doomed, tmp_path: Path) -> None:
    folder = tmp_path / "scenes"
    folder.mkdir()
    scene = folder / "shelf.toml"
    scene.write_text(BEFORE)
    for client in ("Ada", "Bo"):
        assert doomed.run(folder, do="approve", scene=str(scene), client=client).code == 0
    before = tmp_path / "before"
    shutil.copytree(folder, before)
    count = doomed.run(folder, do="approve", scene=str(scene), client="Cy").count
    assert count > 5
    for at in points(count):
        shutil.rmtree(folder)
        shutil.copytree(before, folder)
        assert doomed.run(folder, at, do="approve", scene=str(scene), client="Cy").code == -9
        names = [each.answer.client for each in records(scene)]
        assert names in (["Ada", "Bo"], ["Ada", "Bo", "Cy"])
        ended = doomed.run(folder, do="approve", scene=str(scene), client="Di")
        assert ended.code == 0, ended.said
        assert [each.answer.client for each in records(scene)] == [*names, "Di"]
        assert left(folder) == []


def test_a_scene_is_edited_or_not(doomed: Doomed, tmp_path: Path) -> None:
    folder = tmp_path / "scenes"
    folder.mkdir()
    scene = folder / "shelf.toml"
    job = {"do": "edit", "scene": str(scene), "id": "/run/0/steps/0/straight", "value": "410"}
    old, new = BEFORE.encode(), BEFORE.replace("400", "410", 1).encode()
    scene.write_bytes(old)
    count = doomed.run(folder, **job).count
    assert scene.read_bytes() == new
    assert count > 4
    seen = set()
    for at in points(count):
        scene.write_bytes(old)
        assert doomed.run(folder, at, **job).code == -9
        assert scene.read_bytes() in (old, new)
        seen.add(scene.read_bytes())
        scene.write_bytes(old)
        assert doomed.run(folder, **job).code == 0
        assert [path.name for path in folder.iterdir()] == ["shelf.toml"]
    assert seen == {old, new}


def test_a_file_of_its_own_is_new_or_not_there(doomed: Doomed, tmp_path: Path) -> None:
    """A starter scene: written in place of nothing, and never half."""
    path = tmp_path / "scenes" / "first.toml"
    path.parent.mkdir()
    job = {"do": "command", "args": ["new", str(path)]}
    whole = doomed.run(path.parent, **job)
    starter = hashlib.sha256(path.read_bytes()).digest()
    for at in points(whole.count):
        path.unlink(missing_ok=True)
        assert doomed.run(path.parent, at, **job).code == -9
        there = path.exists()
        assert not there or hashlib.sha256(path.read_bytes()).digest() == starter
        path.unlink(missing_ok=True)
        assert doomed.run(path.parent, **job).code == 0
        assert [each.name for each in path.parent.iterdir()] == ["first.toml"]


def test_what_somebody_put_there_since_stays(doomed: Doomed, tmp_path: Path) -> None:
    """Killed while files take their places, then a person saves another file in one of these places: it stays."""
    out = tmp_path / "out"
    job = {"do": "publish", "out": str(out), "files": WRITTEN[0]}
    placed = out / "models" / "shelf.glb"
    for at in range(doomed.run(out, **job).count, 0, -1):
        shutil.rmtree(out)
        assert doomed.run(out, at, **job).code == -9
        notes = list(out.glob(".molding-*/moves.json"))
        if notes and placed.exists():
            assert len(json.loads(notes[0].read_text())["moves"]) == len(WRITTEN[0])
            placed.write_bytes(b"a person's own")
            with staged(out):
                pass
            assert standing(out) == {"models/shelf.glb": b"a person's own"}
            assert left(out) == []
            return
    raise AssertionError("it was never killed in between")


def test_a_folder_of_such_a_name_that_is_not_ours_stays(tmp_path: Path) -> None:
    theirs = tmp_path / ".molding-notes"
    theirs.mkdir()
    (theirs / "lengths.txt").write_text("mine")
    with staged(tmp_path):
        pass
    assert (theirs / "lengths.txt").read_text() == "mine"
