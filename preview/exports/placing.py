"""Many files take their places as one: every move is noted on the disk before the first, so all can be taken back."""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from preview.disk import settle

NOTE = "moves.json"
NEW, OLD = "new", "old"
"""In the folder of the work: the files to be moved, and what stood in their places."""


@dataclass(frozen=True)
class Move:
    """One place in the target, and what happens there.

    name: below the target. stood: whether something stood there before. mark: tells the new file from any other, None
    where a file only goes away.
    """

    name: str
    stood: bool
    mark: tuple[int, int, int] | None


def place_all(home: Path, target: Path, names: Sequence[str], stale: Sequence[str]) -> None:
    """Move files from the new folder of `home` into the target, and those that are stale out of it; all or nothing.

    A place is never empty in between, where the disk has hard links. Raises OSError, with all as it was; should even
    that fail, the note stays, and `take_back` can do it later.
    """
    moves = [Move(name, os.path.lexists(target / name), _mark(home / NEW / name)) for name in names]
    moves += [Move(name, True, None) for name in stale]
    folders = dict.fromkeys(above for name in names for above in _above(target, name))
    made = [str(folder.relative_to(target)) for folder in folders if not folder.exists()]
    (home / OLD).mkdir()
    _write(home, moves, made)
    try:
        for number, move in enumerate(moves):
            place = target / move.name
            place.parent.mkdir(parents=True, exist_ok=True)
            if move.stood:
                _put_aside(place, home / OLD / str(number), keep=move.mark is not None)
            if move.mark is not None:
                (home / NEW / move.name).replace(place)
        for folder in dict.fromkeys((target / name).parent for name in stale):
            if folder != target and not any(folder.iterdir()):
                folder.rmdir()
        for folder in {(target / name).parent for name in names}:
            settle(folder)
        (home / NOTE).unlink()  # from here on it is done
    except BaseException:
        take_back(home, target)
        raise
    settle(home)


def take_back(home: Path, target: Path) -> None:
    """Undo what was begun and not finished, if anything was: in a process that died, or in this one.

    What somebody else has put into a place since then stays. Raises OSError and ValueError.
    """
    try:
        note = json.loads((home / NOTE).read_text("ascii"))
    except FileNotFoundError:
        return
    for number, each in reversed(list(enumerate(note["moves"]))):
        place, kept = target / each["name"], home / OLD / str(number)
        mark = None if each["mark"] is None else tuple(each["mark"])
        now = _mark(place)
        ours = now is None or now == mark or (os.path.lexists(kept) and now == _mark(kept))
        if os.path.lexists(kept) and ours:
            place.parent.mkdir(parents=True, exist_ok=True)
            kept.replace(place)
        elif not each["stood"] and now is not None and now == mark:
            place.unlink()
    for name in reversed(note["made"]):
        with contextlib.suppress(OSError):  # it is not empty: something of somebody else's is in it
            (target / name).rmdir()
    (home / NOTE).unlink()


def _above(target: Path, name: str) -> list[Path]:
    """The folders between the target and one of its places, from above."""
    return [target.joinpath(*Path(name).parts[:count]) for count in range(1, len(Path(name).parts))]


def _put_aside(place: Path, kept: Path, *, keep: bool) -> None:
    """Keep what stands in a place; with `keep` it goes on standing there too, if the disk can do that."""
    if keep:
        try:
            os.link(place, kept, follow_symlinks=False)
            return
        except (OSError, NotImplementedError):
            pass
    place.replace(kept)


def _mark(path: Path) -> tuple[int, int, int] | None:
    """Which file this is, how large, and of when; None where there is none."""
    try:
        found = path.lstat()
    except FileNotFoundError:
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns


def _write(home: Path, moves: Sequence[Move], made: Sequence[str]) -> None:
    """The note, whole or not at all."""
    text = json.dumps({"moves": [asdict(move) for move in moves], "made": made})
    beside = home / f"{NOTE}.part"
    with beside.open("xb") as file:
        file.write(text.encode("ascii"))
        file.flush()
        os.fsync(file.fileno())
    beside.replace(home / NOTE)
    settle(home)
