"""A build's folder: files are made beside it, measured there, and only then moved into place together."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from preview.errors import PreviewError
from preview.exports.report import REPORT, WrittenFile
from preview.exports.writing import told


@dataclass(frozen=True)
class Published:
    """The files that now stand in the target, and how many of an earlier build were removed."""

    files: list[Path]
    removed: int


@dataclass(frozen=True)
class Stage:
    """A folder in the making: files are written below `folder`, and `publish` moves them to `target`.

    report: the name of the file that says what was written.
    """

    folder: Path
    target: Path
    report: str = REPORT

    def files(self) -> list[WrittenFile]:
        """Every staged file with its size and digest, in the order of their paths."""
        found = []
        for path in sorted(self.folder.rglob("*")):
            if path.is_file():
                name = path.relative_to(self.folder).as_posix()
                with path.open("rb") as stream:
                    digest = hashlib.file_digest(stream, "sha256").hexdigest()
                found.append(WrittenFile(name, path.stat().st_size, digest))
        return found

    def publish(self, scene: str | None = None) -> Published:
        """Move every staged file into the target, the report last; all of them or, when something stops it, none.

        scene: the scene file this is a whole build of. Files that an earlier report of the same scene lists and that
        are no longer made are removed then, so that the folder never mixes two builds of it; nothing else is touched.
        Raises PreviewError, before anything moves, where a file cannot take its place.
        """
        names = sorted((file.path for file in self.files()), key=lambda name: name == self.report)
        earlier = _earlier(self.target / self.report)
        stale = sorted(earlier.files - set(names)) if scene is not None and earlier.scene == scene else []
        for name in names:
            with told(self.target / name):
                _refuse_taken(self.target / name)
        old = Path(tempfile.mkdtemp(prefix="old-", dir=self.folder))
        moved: list[tuple[Path, Path | None]] = []
        try:
            for number, name in enumerate(names):
                place = self.target / name
                with told(place):
                    place.parent.mkdir(parents=True, exist_ok=True)
                    kept = old / str(number) if place.exists() else None
                    if kept is not None:
                        place.replace(kept)
                    moved.append((place, kept))
                    (self.folder / name).replace(place)
        except BaseException:
            for place, kept in reversed(moved):
                if kept is not None:
                    kept.replace(place)
                else:
                    place.unlink(missing_ok=True)
            raise
        removed = [name for name in stale if (self.target / name).is_file()]
        for name in removed:
            (self.target / name).unlink()
        for folder in {(self.target / name).parent for name in removed}:
            if folder != self.target and not any(folder.iterdir()):
                folder.rmdir()
        return Published([self.target / name for name in names], len(removed))


@contextmanager
def staged(target: Path, report: str = REPORT) -> Iterator[Stage]:
    """A stage for `target`, inside it and so on the same disk; whatever is left in it is removed at the end.

    report: the name of the file that says what an earlier build wrote.

    Raises PreviewError when the target is not a folder that can be written in, or the disk fills up on the way. A
    target that did not exist and received nothing is removed again.
    """
    _earlier(target / report)
    new = not target.exists()
    folder: Path | None = None
    with told(target):
        try:
            target.mkdir(parents=True, exist_ok=True)
            folder = Path(tempfile.mkdtemp(prefix=".molding-", dir=target))
            yield Stage(folder, target, report)
        finally:
            if folder is not None:
                shutil.rmtree(folder, ignore_errors=True)
            if new and target.is_dir() and not any(target.iterdir()):
                target.rmdir()


@dataclass(frozen=True)
class _Earlier:
    """What a report already in the folder says: the scene it is of, and the files it wrote."""

    scene: str = ""
    files: frozenset[str] = frozenset()


def _earlier(report: Path) -> _Earlier:
    """The report in a folder; nothing where there is none.

    Raises PreviewError when a file of that name is there that this program did not write.
    """
    if not report.exists():
        return _Earlier()
    try:
        document = json.loads(report.read_text(encoding="utf-8"))
        if document["program"]["name"] != "molding-preview":
            raise KeyError("program")
        names = {str(entry["path"]) for entry in document["files"]}
        scene = str(document["scene"]["file"])
    except (OSError, ValueError, KeyError, TypeError) as cause:
        raise PreviewError(
            "", None, "a file of this name is there that molding did not write", "name another folder", str(report)
        ) from cause
    inside = {name for name in names if not Path(name).is_absolute() and ".." not in Path(name).parts}
    return _Earlier(scene, frozenset(inside))


def _refuse_taken(place: Path) -> None:
    """Raise OSError where a folder stands in a file's place, or a file in the place of a folder above it."""
    if place.is_dir():
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(place))
    for above in place.parents:
        if above.exists():
            if not above.is_dir():
                raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(above))
            return
