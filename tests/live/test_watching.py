"""A save is noticed, whichever way it is made: each test saves, and waits until it is told."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from fake_job import PATIENCE, by_rename, in_place
from preview.live import watching
from preview.live.limits import Limits
from preview.live.watching import Watch, places

EVENTS_ONLY = Limits(poll=10_000, look=0.02)
BY_TIME = Limits(poll=0.05, look=0.02)


class Noticed:
    """Counts what the watch says."""

    def __init__(self, limits: Limits) -> None:
        self.told = threading.Event()
        self.watch = Watch(self.told.set, limits)

    def follow(self, *files: Path) -> None:
        """Watch these, and wait until the watch has begun, which it tells by a call."""
        self.told.clear()
        self.watch.follow(files)
        self.wait()

    def wait(self) -> None:
        assert self.told.wait(PATIENCE), "nobody noticed"
        time.sleep(0.1)  # what else comes of the same save
        self.told.clear()


@pytest.fixture
def make() -> Iterator[Callable[[Limits], Noticed]]:
    made: list[Noticed] = []

    def one(limits: Limits) -> Noticed:
        made.append(Noticed(limits))
        return made[-1]

    yield one
    for each in made:
        each.watch.stop()
        assert not each.watch._thread.is_alive()


@pytest.fixture
def events(make: Callable[[Limits], Noticed]) -> Noticed:
    return make(EVENTS_ONLY)


def test_saves_in_place_and_by_rename(events: Noticed, tmp_path: Path) -> None:
    file = tmp_path / "a.toml"
    in_place(file, "1")
    events.follow(file)
    for save in (in_place, by_rename, in_place, by_rename, by_rename):
        save(file, str(time.time()))
        events.wait()


def test_other_names_in_the_folder_are_nothing(events: Noticed, tmp_path: Path) -> None:
    file = tmp_path / "a.toml"
    in_place(file, "1")
    events.follow(file)
    for name in ("b.toml", "a.toml~", ".a.toml.swp", "4913"):
        in_place(tmp_path / name, "1")
    assert not events.told.wait(0.3)
    (tmp_path / "b.toml").replace(file)
    events.wait()


def test_deleted_and_made_again(events: Noticed, tmp_path: Path) -> None:
    file = tmp_path / "a.toml"
    in_place(file, "1")
    events.follow(file)
    file.unlink()
    events.wait()
    in_place(file, "2")
    events.wait()
    in_place(file, "3")
    events.wait()


def test_a_file_in_folders_that_come_later(events: Noticed, tmp_path: Path) -> None:
    file = tmp_path / "profiles" / "new" / "base.toml"
    events.follow(tmp_path / "a.toml", file)
    file.parent.mkdir(parents=True)
    in_place(file, "1")
    events.wait()
    for text in ("2", "3"):
        in_place(file, text)
        events.wait()


def test_other_files_than_before(events: Noticed, tmp_path: Path) -> None:
    first, second = tmp_path / "a.toml", tmp_path / "profiles" / "b.toml"
    second.parent.mkdir()
    in_place(first, "1")
    in_place(second, "1")
    events.follow(first)
    events.follow(first, second)
    in_place(second, "2")
    events.wait()
    events.follow(first)
    in_place(second, "3")
    assert not events.told.wait(0.3)
    in_place(first, "2")
    events.wait()


@pytest.mark.skipif(os.name == "nt", reason="links need a right of their own there")
def test_linked_files(events: Noticed, tmp_path: Path) -> None:
    """A link in one folder, through a second, to a file in a third."""
    for name in ("a", "b", "c"):
        (tmp_path / name).mkdir()
    true, other = tmp_path / "c" / "true.toml", tmp_path / "c" / "other.toml"
    in_place(true, "1")
    in_place(other, "1")
    (tmp_path / "b" / "middle.toml").symlink_to("../c/true.toml")
    link = tmp_path / "a" / "link.toml"
    link.symlink_to(tmp_path / "b" / "middle.toml")
    events.follow(link)
    in_place(true, "2")
    events.wait()
    by_rename(true, "3")
    events.wait()
    (tmp_path / "b" / "new").symlink_to("../c/other.toml")
    (tmp_path / "b" / "new").replace(tmp_path / "b" / "middle.toml")
    events.wait()
    in_place(other, "2")
    events.wait()


@pytest.mark.skipif(os.name == "nt", reason="links need a right of their own there")
def test_links_that_lead_nowhere_end(tmp_path: Path) -> None:
    (tmp_path / "a").symlink_to("b")
    (tmp_path / "b").symlink_to("a")
    (tmp_path / "c").symlink_to("gone/c")
    folders, names = places([tmp_path / "a", tmp_path / "c"])
    assert folders == {tmp_path}
    assert {"a", "b", "c", "gone"} <= names


def test_a_folder_that_is_replaced(
    make: Callable[[Limits], Noticed], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its watch stays with the old one; the look by time finds that out, and the new one is watched."""
    begun = threading.Semaphore(0)
    watch = watching.watch

    def counted(*folders: Path, **settings: Any) -> Iterator[set[Any]]:
        begun.release()
        return watch(*folders, **settings)

    monkeypatch.setattr(watching, "watch", counted)
    noticed = make(BY_TIME)
    folder = tmp_path / "scenes"
    folder.mkdir()
    in_place(folder / "a.toml", "1")
    noticed.follow(folder / "a.toml")
    assert begun.acquire(timeout=PATIENCE)
    folder.rename(tmp_path / "old")
    folder.mkdir()
    in_place(folder / "a.toml", "22")
    noticed.wait()
    assert begun.acquire(timeout=PATIENCE)
    in_place(folder / "a.toml", "333")
    noticed.wait()


def test_a_file_system_without_events(
    make: Callable[[Limits], Noticed], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def silent(*folders: Path, stop_event: threading.Event, **settings: Any) -> Iterator[set[Any]]:
        while not stop_event.wait(0.01):
            yield set()

    monkeypatch.setattr(watching, "watch", silent)
    noticed = make(BY_TIME)
    file = tmp_path / "a.toml"
    in_place(file, "1")
    noticed.follow(file)
    for number, save in enumerate((in_place, by_rename, in_place)):
        save(file, "2" * (number + 2))
        noticed.wait()
    file.unlink()
    noticed.wait()


def test_a_system_with_no_watches_left(
    make: Callable[[Limits], Noticed], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none_left(*folders: Path, **settings: Any) -> Iterator[set[Any]]:
        raise OSError(28, "no space left on device")  # what inotify_add_watch(2) says then

    monkeypatch.setattr(watching, "watch", none_left)
    noticed = make(Limits(poll=0.1, blind=0.02))
    first, second = tmp_path / "a.toml", tmp_path / "b.toml"
    in_place(first, "1")
    noticed.follow(first)
    in_place(first, "22")
    noticed.wait()
    noticed.follow(first, second)
    in_place(second, "22")
    noticed.wait()


def test_a_wait_is_over_at_once_when_it_is_stopped(events: Noticed, tmp_path: Path) -> None:
    events.follow(tmp_path / "a.toml")
    events.watch.stop()
    assert not events.watch._thread.is_alive()
    events.watch.follow([tmp_path / "b.toml"])
    assert not events.watch._thread.is_alive(), "it does not begin again"
