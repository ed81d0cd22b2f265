"""The records beside a scene: whole or not at all, never fewer than before, and able to bring the scene back."""

from __future__ import annotations

import base64
import errno
import gzip
import hashlib
import json
import os
import random
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

import preview
from preview.approval import (
    Answer,
    KeptFile,
    Record,
    Says,
    add_record,
    keep,
    records,
    records_path,
    restored,
    short_code,
)
from preview.disk import alone
from preview.errors import PreviewError

DAY = date(2026, 11, 26)


def answer(number: int = 0, says: Says = "yes") -> Answer:
    digest = hashlib.sha256(str(number).encode()).hexdigest()
    picks = (("corner", "mitered"),)
    return Answer(
        digest,
        short_code(digest),
        picks,
        says,
        f"Client {number}",
        "",
        (),
        "2026-11-25",
        "Seat",
        "seat.toml",
    )


@pytest.fixture
def scene(tmp_path: Path) -> Path:
    """A scene, by name only: nothing here reads what is in it."""
    path = tmp_path / "scenes" / "seat.toml"
    path.parent.mkdir()
    path.write_text('title = "Seat"\n', "utf-8")
    (tmp_path / "profiles").mkdir()
    (tmp_path / "profiles" / "base.toml").write_text('name = "Base"\n', "utf-8")
    return path


def add(scene: Path, number: int = 0) -> tuple[Record, bool]:
    files = [scene, scene.parent / ".." / "profiles" / "base.toml"]
    return add_record(scene, answer(number), answer(number).picks, keep(scene, files), today=DAY)


def test_a_record_is_kept_beside_the_scene(scene: Path) -> None:
    assert records(scene) == ()
    record, new = add(scene)
    assert new
    assert records_path(scene) == scene.parent / "seat.approvals.json"
    assert sorted(path.name for path in scene.parent.iterdir()) == ["seat.approvals.json", "seat.toml"]
    assert records(scene) == (record,)
    assert (record.answer, record.picks) == (answer(), (("corner", "mitered"),))
    assert (record.recorded, record.version) == ("2026-11-26", preview.__version__)
    assert [file.path for file in record.files] == ["scenes/seat.toml", "profiles/base.toml"]


def test_today_is_the_day_of_this_machine(scene: Path) -> None:
    before = date.today()
    record, _ = add_record(scene, answer(), (), keep(scene, [scene]))
    assert date.fromisoformat(record.recorded) in (before, date.today())


def test_earlier_records_stay(scene: Path) -> None:
    for number in range(4):
        add(scene, number)
    assert [record.answer for record in records(scene)] == [answer(number) for number in range(4)]


def test_the_same_answer_is_recorded_once(scene: Path) -> None:
    first, _ = add(scene)
    before = records_path(scene).read_bytes()
    assert add_record(scene, answer(), answer().picks, keep(scene, [scene])) == (first, False)
    assert records_path(scene).read_bytes() == before
    assert add_record(scene, replace(answer(), remarks="and soon"), answer().picks, keep(scene, [scene]))[1]


def test_what_could_not_be_read_again_is_not_written(scene: Path) -> None:
    add(scene)
    before = records_path(scene).read_bytes()
    for bad in (
        replace(answer(1), client="Jo\nAsh"),
        replace(answer(1), title="\ud800"),
        replace(answer(1), client=""),
    ):
        with pytest.raises((ValueError, PreviewError)):
            add_record(scene, bad, (), keep(scene, [scene]))
    assert records_path(scene).read_bytes() == before


def test_an_answer_for_changes_approves_nothing(scene: Path) -> None:
    record, _ = add_record(scene, answer(says="changes"), (), keep(scene, [scene]))
    assert not record.approves
    assert add(scene)[0].approves


# What is kept of the scene.


def test_the_scene_s_files_come_back_where_they_were(scene: Path) -> None:
    record, _ = add(scene)
    scene.write_text("changed", "utf-8")
    with restored(record.files) as path:
        assert path.read_text("utf-8") == 'title = "Seat"\n'
        assert (path.parent / "../profiles/base.toml").read_text("utf-8") == 'name = "Base"\n'
        root = path.parent.parent
    assert not root.exists()


def test_a_path_through_the_scene_s_own_folder_comes_back(scene: Path) -> None:
    """A scene may name ../scenes/rail.toml for a file beside it."""
    (scene.parent / "rail.toml").write_text("rail", "utf-8")
    with restored(keep(scene, [scene, scene.parent / "../profiles/base.toml", scene.parent / "rail.toml"])) as path:
        assert (path.parent / "../scenes/rail.toml").read_text("utf-8") == "rail"


def test_a_scene_alone_is_kept_by_its_name(scene: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(scene.parent)
    (kept,) = keep(Path("seat.toml"), [Path("seat.toml")])
    assert kept.path == "seat.toml"
    assert gzip.decompress(base64.b64decode(kept.packed)) == scene.read_bytes()  # the standard library's own reading
    assert keep(scene, [scene]) == (kept,)  # the same bytes whenever it is packed


def test_a_file_that_is_gone_cannot_be_kept(scene: Path) -> None:
    gone = scene.parent / "gone.toml"
    with pytest.raises(PreviewError) as caught:
        add_record(scene, answer(), (), keep(scene, [scene, gone]))
    assert str(caught.value) == (
        f"{gone}\n  this file of the scene cannot be read to keep a copy of it\n  fix: check who may read it"
    )
    assert not records_path(scene).exists()


def packed(data: bytes) -> str:
    return base64.b64encode(gzip.compress(data)).decode()


HOSTILE = {
    "up": KeptFile("../seat.toml", packed(b"x")),
    "within": KeptFile("a/../../seat.toml", packed(b"x")),
    "root": KeptFile("/etc/seat.toml", packed(b"x")),
    "drive": KeptFile("C:/seat.toml", packed(b"x")),
    "backslash": KeptFile("..\\seat.toml", packed(b"x")),
    "nothing": KeptFile("", packed(b"x")),
    "zero": KeptFile("seat\0.toml", packed(b"x")),
    "no base64": KeptFile("seat.toml", "%%%"),
    "no gzip": KeptFile("seat.toml", base64.b64encode(b"plain").decode()),
    "cut short": KeptFile("seat.toml", base64.b64encode(gzip.compress(b"x" * 99)[:-9]).decode()),
    "a bomb": KeptFile("seat.toml", packed(bytes(9_000_000))),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_damaged_copy_is_not_unpacked(name: str, tmp_path: Path) -> None:
    with pytest.raises(PreviewError, match="is damaged, so that version cannot be built"), restored([HOSTILE[name]]):
        pass
    assert list(tmp_path.iterdir()) == []


def test_a_record_without_copies_says_so() -> None:
    with pytest.raises(PreviewError, match="the record keeps no copy of the scene"), restored([]):
        pass


# Damage.


def document(scene: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(records_path(scene).read_text("utf-8"))
    return found


DAMAGE: dict[str, tuple[Callable[[str], str], str]] = {
    "cut short": (lambda text: text[: len(text) // 2], "it is not JSON: line "),
    "empty": (lambda _: "", "it is not JSON: line 1, column 1"),
    "another file": (lambda _: '{"hello": 1}', "molding did not write this file"),
    "a list": (lambda _: "[]", "it holds a list, not the record of approvals"),
    "no records": (
        lambda text: text.replace('"records"', '"record"'),
        "no key of the record of approvals has this name",
    ),
    "records a number": (
        lambda _: '{"schema": 1, "kind": "molding approvals", "records": 7}',
        "it has to be a list, and is a number",
    ),
    "a record a text": (
        lambda _: '{"schema": 1, "kind": "molding approvals", "records": ["x"]}',
        "it has to be a list of objects, and is text",
    ),
    "another schema": (
        lambda text: text.replace('"schema": 1,\n "kind": "molding app', '"schema": 2,\n "kind": "molding app'),
        "2, and this one reads 1",
    ),
    "another digest": (
        lambda text: text.replace(answer().digest, "0" * 64),
        "it does not belong to the digest beside it",
    ),
    "no day": (lambda text: text.replace("2026-11-26", "yesterday"), '"yesterday" is not a date such as 2026-11-25'),
}


@pytest.mark.parametrize("name", DAMAGE)
def test_a_damaged_record_is_never_written_over(name: str, scene: Path) -> None:
    spoil, why = DAMAGE[name]
    add(scene)
    path = records_path(scene)
    spoiled = spoil(path.read_text("utf-8"))
    path.write_text(spoiled, "utf-8")
    for attempt in (lambda: add(scene, 1), lambda: records(scene)):
        with pytest.raises(PreviewError) as caught:
            attempt()
        assert str(caught.value).startswith(str(path))
        assert why in str(caught.value)
        assert len(caught.value.problems) == 1
    assert path.read_text("utf-8") == spoiled
    assert sorted(each.name for each in scene.parent.iterdir()) == ["seat.approvals.json", "seat.toml"]


def test_a_folder_in_its_place_is_left_alone(scene: Path) -> None:
    records_path(scene).mkdir()
    with pytest.raises(PreviewError, match="this is a folder, not the record of approvals"):
        add(scene)


def test_a_full_disk_loses_nothing(scene: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    add(scene)
    before = records_path(scene).read_bytes()

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(PreviewError) as caught:
        add(scene, 1)
    assert str(caught.value) == (
        f"{records_path(scene)}\n  the record cannot be written: No space left on device; nothing was recorded\n"
        "  fix: make room, or allow writing there"
    )
    assert records_path(scene).read_bytes() == before
    assert sorted(each.name for each in scene.parent.iterdir()) == ["seat.approvals.json", "seat.toml"]


def test_a_read_only_record_is_left_alone(scene: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    add(scene)
    before = records_path(scene).read_bytes()
    monkeypatch.setattr(os, "access", lambda *_: False)  # root may write what is marked read-only
    with pytest.raises(PreviewError, match="it is marked read-only; nothing was recorded"):
        add(scene, 1)
    assert records_path(scene).read_bytes() == before


def test_the_file_keeps_its_rights_and_its_place(scene: Path, tmp_path: Path) -> None:
    add(scene)
    elsewhere = tmp_path / "kept.json"
    records_path(scene).rename(elsewhere)
    elsewhere.chmod(0o640)
    records_path(scene).symlink_to(elsewhere)
    add(scene, 1)
    assert records_path(scene).is_symlink()
    assert stat.S_IMODE(elsewhere.stat().st_mode) == 0o640
    assert len(records(scene)) == 2


def test_a_link_to_nothing_is_told(scene: Path, tmp_path: Path) -> None:
    records_path(scene).symlink_to(tmp_path / "gone.json")
    with pytest.raises(PreviewError, match="there is no such file"):
        add(scene)


# More than one process.

ADD = """
import os, sys
from pathlib import Path
sys.path.insert(0, sys.argv[1])
from test_approval_records import add
scene = Path(sys.argv[2])
print("ready", flush=True)
for line in sys.stdin:
    first, count = map(int, line.split())
    child = os.fork()
    if not child:
        print(os.getpid(), flush=True)
        for number in range(first, first + count):
            add(scene, number)
            print(number, flush=True)
        os._exit(0)
    os.waitpid(child, 0)
    print("ended", flush=True)
"""
forking = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that fork")


class Adding:
    """A process that adds records in a child of its own, which can be ended at any moment."""

    def __init__(self, scene: Path) -> None:
        command = [sys.executable, "-c", ADD, str(Path(__file__).parent), str(scene)]
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        assert self.line() == "ready"

    def line(self) -> str:
        assert self.process.stdout is not None
        return self.process.stdout.readline().strip()

    def start(self, first: int, count: int) -> int:
        """The id of the child that adds so many."""
        assert self.process.stdin is not None
        self.process.stdin.write(f"{first} {count}\n")
        self.process.stdin.flush()
        return int(self.line())

    def added(self) -> list[int]:
        """What the child said it recorded, once it ended."""
        return [int(line) for line in iter(self.line, "ended") if line]

    def end(self) -> None:
        self.process.communicate(timeout=30)


@forking
def test_processes_at_once_lose_no_record(scene: Path) -> None:
    together = [Adding(scene) for _ in range(3)]
    for k, process in enumerate(together):
        process.start(100 * k, 12)
    for k, process in enumerate(together):
        assert process.added() == [100 * k + n for n in range(12)]
        process.end()
    names = {record.answer.client for record in records(scene)}
    assert names == {f"Client {100 * k + n}" for k in range(3) for n in range(12)}
    assert len(records(scene)) == 36
    assert sorted(each.name for each in scene.parent.iterdir()) == ["seat.approvals.json", "seat.toml"]


@forking
def test_a_process_killed_at_any_moment_leaves_the_file_whole(scene: Path) -> None:
    """50 times, ended by its id without warning, at some moment of adding: what it said it recorded is there, nothing
    recorded earlier is lost, and whoever comes next is not kept waiting by what it left behind."""
    moments = random.Random(7)
    recorded: set[str] = set()
    process = Adding(scene)
    for round_ in range(50):
        child = process.start(10_000 * round_, 10_000)
        if round_ % 3 == 0:  # on a slow disk too some get through
            recorded.add(f"Client {process.line()}")
        time.sleep(moments.uniform(0.0, 0.04))
        os.kill(child, signal.SIGKILL)
        recorded |= {f"Client {number}" for number in process.added()}
        names = [record.answer.client for record in records(scene)]
        assert recorded <= set(names)
        assert len(names) == len(set(names))
        recorded = set(names)
    process.end()
    assert len(recorded) >= 17
    began = time.monotonic()
    assert add(scene, 999_999)[1]
    assert time.monotonic() - began < 5  # nobody holds the lock of a dead process
    assert len(records(scene)) == len(recorded) + 1
    assert sorted(each.name for each in scene.parent.iterdir()) == ["seat.approvals.json", "seat.toml"]


def test_a_lock_held_too_long_is_told(tmp_path: Path) -> None:
    path = tmp_path / "seat.approvals.json"
    with (
        alone(path),
        pytest.raises(PreviewError, match="another molding command has been writing to this file for too long"),
        alone(path, patience=0.1),
    ):
        pass
    with alone(path, patience=0.1):
        assert [each.name for each in tmp_path.iterdir()] == [".seat.approvals.json.lock"]
    assert list(tmp_path.iterdir()) == []


def test_a_lock_file_left_behind_is_no_lock(tmp_path: Path) -> None:
    path = tmp_path / "seat.approvals.json"
    (tmp_path / ".seat.approvals.json.lock").write_text("")
    with alone(path, patience=0.1):
        pass
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_cannot_lock_is_told_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))

    monkeypatch.setattr(pytest.importorskip("fcntl"), "flock", refuse)
    with pytest.raises(PreviewError, match="No locks available"), alone(tmp_path / "seat.approvals.json"):
        pass


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    path = tmp_path / "none" / "seat.approvals.json"
    with pytest.raises(PreviewError) as caught, alone(path):
        pass
    assert str(caught.value) == (
        f"{path}\n  its folder cannot be written in: No such file or directory\n  fix: allow writing there"
    )
