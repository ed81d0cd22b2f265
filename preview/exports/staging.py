"""A build's folder: files are made beside it, measured there, and only then moved into place together."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import shutil
import sys
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from preview.disk import CannotLockError, alone, hold
from preview.errors import PreviewError
from preview.exports.placing import NEW, NOTE, OLD, place_all, take_back
from preview.exports.report import REPORT, WrittenFile
from preview.exports.writing import told

PREFIX = ".molding-"
LOCK = "lock"
OURS = {LOCK, NEW, OLD, NOTE, f"{NOTE}.part"}
"""What there may be in a folder of ours; in another of such a name there is something else, and it is left alone."""


@dataclass(frozen=True)
class Published:
    """The files that now stand in the target, and how many of an earlier build were removed.

    other: the title of that build where it was another one, "" else: the scene's was changed, or it was built of a
    scene file of the same name in another folder.
    """

    files: list[Path]
    removed: int
    other: str = ""


@dataclass(frozen=True)
class Stage:
    """A folder in the making: files are written below `folder`, and `publish` moves them to `target`.

    A stage to be published is made by `staged`, which gives it a folder of its own and one around that.
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

    def publish(self, scene: str | None = None, title: str = "", *, whole: bool = True) -> Published:
        """Move every staged file into the target, the report last; all of them or, when something stops it, none.

        scene, title: the scene file this is built of, and its title. whole: all that there is of it. Files that an
        earlier report of the same scene lists and that are no longer made are removed then, so that the folder never
        mixes two builds of it; nothing else is touched. A process that dies in the middle leaves a note by which the
        next one takes back what was begun. Raises PreviewError, before anything moves, where a file cannot take its
        place, and where the folder holds what was made of another scene.
        """
        home = self.folder.parent
        with told(self.target):
            (home / LOCK).stat()  # a stage that was moved away, and made anew by who wrote into it next, is not whole
        names = sorted((file.path for file in self.files()), key=lambda name: name == self.report)
        with told(self.target), _alone(self.target):
            earlier = _earlier(self.target / self.report)
            _refuse_other(earlier, scene, self.target)
            stale = sorted(earlier.files - set(names)) if whole and earlier.scene == scene else []
            removed = [name for name in stale if (self.target / name).is_file()]
            for name in names:
                with told(self.target / name):
                    _refuse_taken(self.target / name)
            try:
                place_all(home, self.target, names, removed)
            except OSError as error:
                if not (home / NOTE).exists():
                    raise
                problem = "the folder could not be put back as it was: what stood there before is kept inside it"
                fix = f"see to the disk and do this again, which puts it back from {home.name}"
                raise PreviewError("", None, problem, fix, str(self.target)) from error
        other = earlier.title if title and earlier.title != title else ""
        return Published([self.target / name for name in names], len(removed), other)


@contextmanager
def staged(target: Path, report: str = REPORT) -> Iterator[Stage]:
    """A stage for `target`, inside it and so on the same disk; whatever is left in it is removed at the end.

    report: the name of the file that says what an earlier build wrote. What a process that died left in the target is
    cleared first: its own files go, and the earlier ones stand in their places again.

    Raises PreviewError when the target is not a folder that can be written in, or the disk fills up on the way. A
    target that did not exist and received nothing is removed again.
    """
    _earlier(target / report)
    new = not target.exists()
    home: Path | None = None
    lock: int | None = None
    with told(target):
        try:
            target.mkdir(parents=True, exist_ok=True)
            with _alone(target) as locked:
                if locked:
                    _clear(target)
                home = Path(tempfile.mkdtemp(prefix=PREFIX, dir=target))
                (home / LOCK).touch()
                lock = hold(home / LOCK) if locked else None
            folder = home / NEW
            folder.mkdir()
            try:
                yield Stage(folder, target, report)
            except PreviewError as error:
                raise _in_place(error, folder, target) from error.__cause__
        finally:
            if lock is not None and sys.platform == "win32":  # there an open file cannot be removed
                os.close(lock)
            if home is not None and not (home / NOTE).exists():
                shutil.rmtree(home, ignore_errors=True)
            if lock is not None and sys.platform != "win32":
                os.close(lock)
            if new and target.is_dir() and not any(target.iterdir()):
                target.rmdir()


@contextmanager
def _alone(target: Path) -> Iterator[bool]:
    """The only process that changes what stands in a folder; False where its disk has no locks."""
    with ExitStack() as stack:
        try:
            stack.enter_context(alone(target / "molding"))
            locked = True
        except CannotLockError:
            locked = False
        except PreviewError as error:
            if isinstance(error.__cause__, OSError):
                raise error.__cause__ from None  # told as of any other file
            raise
        yield locked


def _in_place(error: PreviewError, folder: Path, target: Path) -> PreviewError:
    """The error with the place named that a file was to take, not where it was made."""
    begin = f"{folder}{os.sep}"
    return PreviewError.several(
        replace(each, file=each.file.replace(begin, f"{target}{os.sep}", 1) if each.file else None)
        for each in error.problems
    )


def _clear(target: Path) -> None:
    """Undo and remove what processes that are no more left in a folder."""
    for home in sorted(target.glob(f"{PREFIX}*")):
        lock = _left_behind(home)
        if lock is None:
            continue
        try:
            take_back(home, target)
        except (ValueError, KeyError, TypeError) as cause:
            problem = "what an earlier command left in it is damaged"
            fix = f"look into {home.name} for files to be kept, and remove it"
            raise PreviewError("", None, problem, fix, str(target)) from cause
        finally:
            os.close(lock)
        shutil.rmtree(home, ignore_errors=True)


def _left_behind(home: Path) -> int | None:
    """The lock on a folder of ours in which nobody is at work any more; None for any other."""
    try:
        if home.is_symlink() or not home.is_dir() or not {each.name for each in home.iterdir()} <= OURS:
            return None
        return hold(home / LOCK)
    except FileNotFoundError:  # whoever worked in it is just removing it
        return None
    except PreviewError as error:
        if isinstance(error.__cause__, FileNotFoundError):
            return None
        raise


def refuse_other_scene(target: Path, scene: str, report: str = REPORT) -> None:
    """Raise PreviewError, before any work, where a folder holds what was made of another scene, as its report says."""
    _refuse_other(_earlier(target / report), scene, target)


def refuse_listed(paths: Iterable[Path], scene: str, report: str = REPORT) -> None:
    """Raise PreviewError where one of the files to be written is listed by a report of another scene.

    The report may stand beside the file or in the folder above. One that cannot be read lists nothing.
    """
    for path in (path.resolve() for path in paths):
        for folder in (path.parent, path.parent.parent):
            try:
                earlier = _earlier(folder / report)
            except PreviewError:
                continue
            if path.relative_to(folder).as_posix() in earlier.files:
                _refuse_other(earlier, scene, folder)


def _refuse_other(earlier: _Earlier, scene: str | None, target: Path) -> None:
    if scene is not None and earlier.scene not in ("", scene):
        problem = f"this folder holds what was made of another scene, {earlier.scene}"
        raise PreviewError("", None, problem, "write to another folder", str(target))


@dataclass(frozen=True)
class _Earlier:
    """What a report in the folder says: the scene it is of, by its file and its title, and the files it wrote."""

    scene: str = ""
    title: str = ""
    files: frozenset[str] = frozenset()


def _earlier(report: Path) -> _Earlier:
    """The report in a folder; nothing where there is none.

    Raises PreviewError when a file of that name is there that this program did not write.
    """
    if not os.path.lexists(report):
        return _Earlier()
    try:
        document = json.loads(report.read_text(encoding="utf-8"))
        if document["program"]["name"] != "molding-preview":
            raise KeyError("program")
        names = {str(entry["path"]) for entry in document["files"]}
        scene, title = str(document["scene"]["file"]), str(document["scene"].get("title", ""))
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as cause:
        raise PreviewError(
            "", None, "a file of this name is there that molding did not write", "name another folder", str(report)
        ) from cause
    inside = {name for name in names if not Path(name).is_absolute() and ".." not in Path(name).parts}
    return _Earlier(scene, title, frozenset(inside))


def _refuse_taken(place: Path) -> None:
    """Raise OSError where a folder stands in a file's place, or a file in the place of a folder above it."""
    if place.is_dir():
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(place))
    for above in place.parents:
        if above.exists():
            if not above.is_dir():
                raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(above))
            return
