"""A scene file on the disk being edited: written whole or not at all, and never over somebody else's change."""

from __future__ import annotations

import codecs
import contextlib
import errno
import hashlib
import os
import stat
import threading
from collections import deque
from dataclasses import dataclass, replace
from pathlib import Path

from preview.disk import name_beside, settle, sweep
from preview.editing.edit import edited
from preview.editing.field import Field, fields
from preview.errors import PreviewError
from preview.scene import load_scene

MOST_UNDONE = 100
"""How many edits can be undone."""


class Conflict(PreviewError):  # noqa: N818 -- an outcome to be told, not a fault of the program
    """The file on the disk is not the one that the edit was meant for; it is left as it is.

    version: the one that stands there now.
    """

    version: str = ""


@dataclass(frozen=True)
class Sheet:
    """What a page needs to offer a file for editing, all read at the same moment.

    version: SHA-256 of the bytes, in hex. undo: how many edits can be undone as things stand.
    """

    version: str
    undo: int
    fields: tuple[Field, ...]


@dataclass(frozen=True)
class _Edit:
    """One edit made here: the bytes before it, their version, and the version after it."""

    before: bytes
    version: str
    after: str


class Desk:
    """One scene file, edited here value by value; several threads may ask at once.

    Each call raises PreviewError where the file cannot be read, or is no text. Between the last look at the file and
    the moment when a new one takes its place lie some microseconds, in which somebody else's change would not be seen.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._edits: deque[_Edit] = deque(maxlen=MOST_UNDONE)
        self._offered: dict[str, Field] = {}
        self._known = ""
        self._lock = threading.Lock()

    def version(self) -> str:
        """SHA-256 of the file's bytes, in hex."""
        return _version(self._bytes())

    def fields(self) -> tuple[Field, ...]:
        """The values that can be edited; raises what `fields` of a text raises."""
        return self.sheet().fields

    def sheet(self) -> Sheet:
        """Version, undo and fields of one and the same text; raises what `fields` of a text raises.

        A slider keeps the range it had before an edit made here, as long as the value lies inside it: else it would
        run away from the hand that moves it.
        """
        with self._lock:
            data = self._bytes()
            version = _version(data)
            before = self._offered if version == self._known else {}
            found = tuple(_steady(each, before.get(each.id)) for each in fields(self._text(data), self.path))
            self._offered, self._known = {each.id: each for each in found}, version
            return Sheet(version, self._undoable(version), found)

    def edit(self, version: str, identity: str, value: str | float) -> str:
        """Replace the value of one field, and give the new version.

        Raises Conflict where the file is not of this version any more, and PreviewError where the new scene would be
        refused or the file cannot be written; in each case nothing is written. identity, value: as of `edited`.
        """
        with self._lock:
            data = self._expected(version)
            new = edited(self._text(data), self.path, identity, value)
            mark = codecs.BOM_UTF8 if data.startswith(codecs.BOM_UTF8) else b""
            encoded = mark + new.encode("utf-8")
            if encoded != data:
                self._replace(data, encoded)
                self._edits.append(_Edit(data, version, _version(encoded)))
                self._follow(version, _version(encoded))
            return _version(encoded)

    def undo(self, version: str) -> str:
        """Put back the bytes from before the last edit made here, and give their version.

        Raises Conflict where the file is not of this version any more, or was changed elsewhere since that edit;
        PreviewError where there is nothing to undo, or the file cannot be written.
        """
        with self._lock:
            data = self._expected(version)
            if not self._edits:
                problem = "nothing has been changed here, so there is nothing to undo"
                raise PreviewError("", None, problem, "undo in the editor in which it was changed", self.path.name)
            last = self._edits[-1]
            if last.after != version:
                raise self._conflict(version, "the file was changed elsewhere after the last edit made here")
            self._replace(data, last.before)
            self._edits.pop()
            self._follow(version, last.version)
            return last.version

    def _follow(self, version: str, now: str) -> None:
        """What was offered of one version holds for what became of it here."""
        if self._known == version:
            self._known = now

    def _undoable(self, version: str) -> int:
        """How many edits lead back from a version, one after the other."""
        count = 0
        for edit in reversed(self._edits):
            if edit.after != version:
                break
            version = edit.version
            count += 1
        return count

    def _expected(self, version: str) -> bytes:
        """The file's bytes, if they are of this version."""
        data = self._bytes()
        if _version(data) != version:
            raise self._conflict(_version(data), "the file was changed elsewhere after it was read for this page")
        return data

    def _conflict(self, now: str, problem: str) -> Conflict:
        fix = "nothing was written; look at the file as it is now, and make the change again if it is still wanted"
        conflict = Conflict("", None, problem, fix, self.path.name)
        conflict.version = now
        return conflict

    def _bytes(self) -> bytes:
        try:
            if self.path.is_file():
                return self.path.read_bytes()
        except (OSError, ValueError):
            pass
        load_scene(self.path)  # says in the command's words what is wrong with it
        raise PreviewError("", None, "the file could not be read", "try again", self.path.name)

    def _text(self, data: bytes) -> str:
        try:
            return data.removeprefix(codecs.BOM_UTF8).decode("utf-8")
        except UnicodeDecodeError as error:
            load_scene(self.path)
            raise PreviewError(
                "", None, "the file is not UTF-8 text", "save it again as UTF-8", self.path.name
            ) from error

    def _replace(self, old: bytes, new: bytes) -> None:
        """Put new bytes in the place of the old ones, in one step and with the same permissions.

        The link to a file stays, and the file it leads to is replaced.
        """
        beside: Path | None = None
        try:
            target = self.path.resolve(strict=True)
            was = target.stat()
            if not was.st_mode & 0o222 or not os.access(target, os.W_OK):
                raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
            sweep(target.parent)
            beside = name_beside(target)
            with beside.open("xb") as file:
                beside.chmod(stat.S_IMODE(was.st_mode))
                file.write(new)
                file.flush()
                os.fsync(file.fileno())
            if hasattr(os, "chown"):
                with contextlib.suppress(OSError):  # a file of somebody else becomes ours, as in any editor
                    os.chown(beside, was.st_uid, was.st_gid)
            now = target.read_bytes()
            if now != old:
                raise self._conflict(_version(now), "the file was changed elsewhere while it was being written here")
            beside.replace(target)
            beside = None
            settle(target.parent)
        except OSError as error:
            raise PreviewError("", None, *_reason(error), self.path.name) from error
        finally:
            if beside is not None:
                with contextlib.suppress(OSError):
                    beside.unlink()


def _steady(field: Field, before: Field | None) -> Field:
    """The field with the range of the slider that stood there before, if it still fits."""
    if before is None or before.low is None or before.high is None or field.low is None or field.number is None:
        return field
    fits = before.step == field.step and before.low < field.number < before.high
    return replace(field, low=before.low, high=before.high) if fits else field


def _version(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _reason(error: OSError) -> tuple[str, str]:
    """What is wrong, and the fix."""
    match error.errno:
        case errno.ENOSPC | errno.EDQUOT:
            return "the disk is full, so nothing was written", "make some room on it, and make the change again"
        case errno.EACCES | errno.EPERM | errno.EROFS:
            return (
                "the file or its folder is read-only, so nothing was written",
                "allow writing there, or work on a copy of the scene",
            )
        case _:
            return (
                f"the file cannot be written: {error.strerror or error}",
                "see to that, and make the change again",
            )
