"""Notices that a file was saved, whichever way an editor saves it and wherever the file lies.

Folders are watched, not files, as most editors put a new file in the old one's place. Events are hints: a slow look at
every file's size and time finds what they miss (network drives, a folder that was replaced, no watches left).
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterable
from pathlib import Path

from watchfiles import watch

from preview.live.limits import Limits
from preview.live.worker import LAST_WAIT

LOG = logging.getLogger("preview.live")
MOST_LINKS = 40

Stamp = tuple[int, int, int] | None


def stamp(path: Path) -> Stamp:
    """What changes when a file does: time, size, and which file it is; None while it cannot be read."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


def links(path: Path) -> list[Path]:
    """The path and, where it is a symbolic link, every path that it leads through."""
    found = [path]
    try:
        while found[-1].is_symlink() and len(found) < MOST_LINKS:
            found.append(found[-1].parent / found[-1].readlink())
    except (OSError, ValueError):
        pass
    return found


def places(files: Iterable[Path]) -> tuple[frozenset[Path], frozenset[str]]:
    """The folders to watch, and the names in them that matter.

    Of a folder that is not there yet, the nearest one above it that is; then the missing folder's name matters.
    """
    folders: set[Path] = set()
    names: set[str] = set()
    for file in files:
        for path in links(file.absolute()):
            while True:
                names.add(path.name)
                if path.parent.is_dir() or path.parent == path:
                    break
                path = path.parent
            folders.add(path.parent)
    return frozenset(folders), frozenset(names)


class Watch:
    """A thread that calls `changed` when one of the files may have changed, and once whenever it begins to watch.

    That first call closes the gap between the reading of a file and the watch over it. It may be called for nothing.
    """

    def __init__(self, changed: Callable[[], None], limits: Limits) -> None:
        self._changed = changed
        self._limits = limits
        self._files: tuple[Path, ...] = ()
        self._again = threading.Event()  # ends the present wait, to begin a new one
        self._stopped = False
        self._thread = threading.Thread(target=self._run, name="molding watch", daemon=True)

    def follow(self, files: Iterable[Path]) -> None:
        """Watch these files from now on; from any thread."""
        wanted = tuple(dict.fromkeys(files))
        if wanted != self._files:
            self._files = wanted
            self._again.set()
        if not self._thread.is_alive() and not self._stopped:
            self._thread.start()

    def stop(self) -> None:
        """Stop watching, and wait for the thread: compiled code must not be in it when the program ends."""
        self._stopped = True
        self._again.set()
        if self._thread.is_alive():
            self._thread.join(LAST_WAIT)

    def _run(self) -> None:
        while not self._stopped:
            self._again.clear()
            files = self._files
            try:
                self._watch(files, *places(files))
            except Exception as error:  # a folder that went or may not be read, or no watches left in the system
                LOG.info("files are looked at by time: %s", error)
                self._changed()
                self._look(files)

    def _watch(self, files: tuple[Path, ...], folders: frozenset[Path], names: frozenset[str]) -> None:
        """Wait for events until the files or their folders are others."""
        limits = self._limits
        watched = {folder: stamp_of_folder(folder) for folder in folders}
        seen: dict[Path, Stamp] = {}
        due = 0.0
        begun = False
        for changes in watch(
            *sorted(folders),
            watch_filter=None,
            debounce=round(1000 * limits.burst),
            step=max(1, round(1000 * limits.step)),
            rust_timeout=round(1000 * limits.look),
            yield_on_timeout=True,
            stop_event=self._again,
            recursive=False,
            raise_interrupt=False,
        ):
            hint = any(Path(path).name in names for _, path in changes)
            now = time.monotonic()
            if self._stopped:
                return
            if begun and not hint and now < due:
                continue
            due = now + limits.poll
            stamps = {file: stamp(file) for file in files}
            if hint or not begun or stamps != seen:
                self._changed()
            begun, seen = True, stamps
            if {folder: stamp_of_folder(folder) for folder in folders} != watched or places(files) != (folders, names):
                return

    def _look(self, files: tuple[Path, ...]) -> None:
        """Do without events for a while."""
        seen = {file: stamp(file) for file in files}
        until = time.monotonic() + 10 * self._limits.poll
        while time.monotonic() < until and not self._again.wait(self._limits.blind):
            stamps = {file: stamp(file) for file in files}
            if stamps != seen:
                self._changed()
            seen = stamps


def stamp_of_folder(path: Path) -> tuple[int, int] | None:
    """Which folder stands at this path: a watch stays with a folder that was moved away."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
