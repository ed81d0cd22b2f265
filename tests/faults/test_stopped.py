"""Stopped by a signal in the middle: the exit code that a shell expects, one line said, no process and no file left."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from test_kills import AFTER, BEFORE, left, standing

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
# The command sends itself the signal at the stage named; who started it may have it ignore signals.
SENDING = """
import os, signal, sys
number, ignored, stage = getattr(signal, sys.argv[1]), sys.argv[2] == "ignored", sys.argv[3]
for each in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
    signal.signal(each, signal.SIG_DFL)
signal.signal(signal.SIGINT, signal.default_int_handler)
if ignored:
    signal.signal(number, signal.SIG_IGN)
del sys.argv[1:4]
from preview.cli import main, show
step = show.Progress.step
def sending(self, name, done, total):
    step(self, name, done, total)
    if name == stage:
        os.kill(os.getpid(), number)
show.Progress.step = sending
main()
"""


def sent(name: str, ignored: str, stage: str, folder: Path, *args: object) -> subprocess.CompletedProcess[str]:
    """The command, and its temporary folder at the end: its output comes to an end only when every process has."""
    temporary = folder / "temporary"
    temporary.mkdir()
    done = subprocess.run(
        [sys.executable, "-c", SENDING, name, ignored, stage, *map(str, args)],
        capture_output=True,
        text=True,
        check=False,
        timeout=240,
        env=os.environ | {"TMPDIR": str(temporary)},
    )
    assert list(temporary.iterdir()) == []
    temporary.rmdir()
    return done


def test_a_build_that_is_stopped_leaves_the_one_before(tmp_path: Path) -> None:
    """A signal that is ignored from the start, as with nohup, or & in a script, stops nothing."""
    scene, out = tmp_path / "shelf.toml", tmp_path / "out"
    scene.write_text(BEFORE)
    args = ("export", scene, "-f", "glb", "-f", "obj", "--out", out)
    assert sent("SIGHUP", "ignored", "reading OBJ back", tmp_path, *args).returncode == 0
    before = standing(out)
    scene.write_text(AFTER)
    for name in ("SIGTERM", "SIGHUP"):
        done = sent(name, "heeded", "reading OBJ back", tmp_path, *args)
        assert (done.returncode, done.stderr) == (128 + getattr(signal, name), "stopped; nothing was written\n")
        assert standing(out) == before
        assert left(out) == []


def test_moving_into_place_is_not_stopped(tmp_path: Path) -> None:
    scene, out = tmp_path / "shelf.toml", tmp_path / "out"
    scene.write_text(BEFORE)
    done = sent("SIGTERM", "heeded", "moving into place", tmp_path, "export", scene, "-f", "glb", "--out", out)
    assert (done.returncode, done.stderr) == (0, "")
    assert "models/shelf.glb" in standing(out)


def test_a_picture_that_is_stopped_takes_the_renderer_along(tmp_path: Path) -> None:
    scene = tmp_path / "shelf.toml"
    scene.write_text(BEFORE)
    args = ("picture", scene, "--size", "2000x2000", "--out", tmp_path / "one.png")
    done = sent("SIGTERM", "heeded", "pictures", tmp_path, *args)
    assert (done.returncode, done.stderr) == (128 + signal.SIGTERM, "stopped; nothing is half-written\n")
    assert list(tmp_path.iterdir()) == [scene]


WORKING = """
import sys, time
from preview.checks.workers import Workers
with Workers(time.sleep, 2) as workers:
    print("at work", flush=True)
    list(workers.each([0.2] * 500))
"""


def test_workers_end_with_who_is_killed() -> None:
    """After the task that they are at, and without a word: the error stream, which they share, comes to an end."""
    parent = subprocess.Popen([sys.executable, "-c", WORKING], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert parent.stdout is not None
    assert parent.stdout.readline() == b"at work\n"
    parent.kill()
    _, said = parent.communicate(timeout=60)
    assert said == b""


LOADING = """
import signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)
class Pressed:
    def find_spec(self, name, path=None, target=None):
        if name == "preview.cli.app":
            signal.raise_signal(signal.SIGINT)
sys.meta_path.insert(0, Pressed())
from preview.cli import main
main()
"""


def test_stopped_while_it_is_loaded() -> None:
    done = subprocess.run(
        [sys.executable, "-c", LOADING, "--version"], capture_output=True, text=True, check=False, timeout=120
    )
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "stopped; nothing is half-written\n")
