"""A disk that fills up, becomes read-only or goes away in the middle: one message, exit code 2, and nothing lost.

What the system does then is made to happen in a process of its own at a chosen change (see `halting`); where mounting
is allowed, also for real.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from halting import Doomed, Ended
from preview.approval import records
from preview.cli.app import app
from preview.exports import staged
from test_kills import BEFORE, WRITTEN, left, points, standing

POINTS = 10
pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that fork")


def one_message(ended: Ended) -> str:
    """What was said: a mistake that a person can see to, and how; nothing of the program's inside."""
    assert ended.code == 2, ended
    assert ended.said.count("  fix: ") == 1, ended.said
    for word in ("Traceback", "Errno", "Error:", 'File "'):
        assert word not in ended.said
    return ended.said


@pytest.fixture
def job(tmp_path: Path, doomed: Doomed) -> dict[str, Any]:
    """Files to be written into a folder that holds an earlier build."""
    out = tmp_path / "out"
    assert doomed.run(out, do="publish", out=str(out), files=WRITTEN[0]).code == 0
    return {"do": "publish", "out": str(out), "files": WRITTEN[1]}


def built(number: int) -> dict[str, bytes]:
    return {name: text.encode() for name, text in WRITTEN[number].items()}


def test_a_full_disk_changes_nothing(tmp_path: Path, doomed: Doomed, job: dict[str, Any]) -> None:
    out = tmp_path / "out"
    count = counted(out, doomed, job)
    outcomes = set()
    for at in points(count, POINTS):
        ended = doomed.run(out, at, "full", **job)
        if ended.code == 0:  # only what is removed at the end was left to do
            assert standing(out) == built(1)
            assert doomed.run(out, do="publish", out=str(out), files=WRITTEN[0]).code == 0
        else:
            said = one_message(ended)
            assert "the disk is full, so nothing was written" in said or "No space left on device" in said
            assert "room" in said
            assert standing(out) == built(0)
        outcomes.add(ended.code)
        assert left(out) == []
    assert 2 in outcomes


def counted(out: Path, doomed: Doomed, job: dict[str, Any]) -> int:
    """How many changes the job makes; the folder is as before."""
    shutil.copytree(out, out.with_name("kept"))
    count = doomed.run(out, **job).count
    shutil.rmtree(out)
    out.with_name("kept").rename(out)
    assert count > 30
    return count


def test_a_disk_that_becomes_read_only_loses_nothing(tmp_path: Path, doomed: Doomed, job: dict[str, Any]) -> None:
    """Then nothing can be put back either: it is kept, and put back by the next run."""
    out = tmp_path / "out"
    waits = 0
    for at in points(counted(out, doomed, job), POINTS):
        ended = doomed.run(out, at, "locked", **job)
        if ended.code == 0:
            assert standing(out) == built(1)
        else:
            said = one_message(ended)
            assert "read-only" in said or "Read-only" in said or "is kept inside it" in said
            waits += "is kept inside it" in said
        with staged(out):
            pass
        assert standing(out) == built(1 if ended.code == 0 else 0)
        assert left(out) == []
        assert doomed.run(out, do="publish", out=str(out), files=WRITTEN[0]).code == 0
    assert waits


def test_a_folder_that_is_moved_away_is_told(tmp_path: Path, doomed: Doomed, job: dict[str, Any]) -> None:
    out, gone = tmp_path / "out", tmp_path / "out gone"
    for at in points(counted(out, doomed, job), POINTS):
        ended = doomed.run(out, at, "gone", **job)
        if ended.code:
            assert str(out) in one_message(ended)
        shutil.rmtree(out, ignore_errors=True)
        gone.rename(out)
        with staged(out):
            pass
        assert standing(out) in ([built(0)] if ended.code else [built(0), built(1)])
        assert left(out) == []
        assert doomed.run(out, do="publish", out=str(out), files=WRITTEN[0]).code == 0


@pytest.mark.parametrize("fault", ["full", "locked"])
def test_a_record_is_not_added_in_part(tmp_path: Path, doomed: Doomed, fault: str) -> None:
    scene = tmp_path / "scenes" / "shelf.toml"
    scene.parent.mkdir()
    scene.write_text(BEFORE)
    count = doomed.run(scene.parent, do="approve", scene=str(scene), client="Ada").count
    for at in points(count, 8):
        ended = doomed.run(scene.parent, at, fault, do="approve", scene=str(scene), client="Bo")
        names = [each.answer.client for each in records(scene)]
        if ended.code == 0:
            assert names == ["Ada", "Bo"]
        else:
            one_message(ended)
            assert names == ["Ada"]
    assert doomed.run(scene.parent, do="approve", scene=str(scene), client="Cy").code == 0
    assert left(scene.parent) == []


@pytest.mark.parametrize("fault", ["full", "locked", "gone"])
def test_a_scene_is_not_edited_in_part(tmp_path: Path, doomed: Doomed, fault: str) -> None:
    folder = tmp_path / "scenes"
    folder.mkdir()
    scene = folder / "shelf.toml"
    job = {"do": "edit", "scene": str(scene), "id": "/run/0/steps/0/straight", "value": "410"}
    old, new = BEFORE.encode(), BEFORE.replace("400", "410", 1).encode()
    scene.write_bytes(old)
    for at in points(doomed.run(folder, **job).count):
        scene.write_bytes(old)
        ended = doomed.run(folder, at, fault, **job)
        if fault == "gone" and not folder.exists():
            folder.with_name("scenes gone").rename(folder)
        if ended.code:
            one_message(ended)
            assert scene.read_bytes() == old
        else:
            assert scene.read_bytes() == new
    scene.write_bytes(old)
    assert doomed.run(folder, **job).code == 0
    assert [path.name for path in folder.iterdir()] == ["shelf.toml"]


# For real.


@contextmanager
def mounted(place: Path, *options: str) -> Iterator[Path]:
    """A small disk of its own; skips where that is not allowed."""
    place.mkdir()
    done = (
        subprocess.run(["mount", "-t", "tmpfs", *options, "tmpfs", str(place)], capture_output=True, check=False)
        if shutil.which("mount") and hasattr(os, "geteuid") and os.geteuid() == 0
        else None
    )
    if done is None or done.returncode:
        pytest.skip("mounting is not allowed here")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


def molding(*args: str) -> Ended:
    done = CliRunner().invoke(app, list(args))
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return Ended(done.exit_code, done.stderr if done.exit_code else done.stdout, 0)


def test_a_small_disk(tmp_path: Path) -> None:
    scene = tmp_path / "shelf.toml"
    scene.write_text(BEFORE)
    with mounted(tmp_path / "small", "-o", "size=400k") as disk:
        out = disk / "out"
        assert molding("export", str(scene), "-f", "glb", "-o", str(out)).code == 0
        before = standing(out)
        assert len(before) == 2
        (disk / "other").write_bytes(bytes(max(0, free(disk) - 8192)))
        said = one_message(molding("export", str(scene), "-f", "glb", "--chord", "0.02", "-o", str(out)))
        assert "the disk is full, so nothing was written" in said
        assert standing(out) == before
        assert left(out) == []
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        said = one_message(molding("export", str(scene), "-f", "glb", "-o", str(out)))
        assert "the file or its folder is read-only" in said
        assert standing(out) == before


def free(disk: Path) -> int:
    found = os.statvfs(disk)
    return found.f_bavail * found.f_frsize
