"""One process at a time: a lock that the operating system takes back by itself when its holder dies."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from preview.errors import PreviewError

PATIENCE = 20.0
"""Seconds to wait for another process."""
PAUSE = 0.02
LONGEST_NAME = 200
"""Bytes of a file's name that its side file takes over; of a longer one, a digest."""


class CannotLockError(PreviewError):
    """The folder takes a side file, but its disk has no locks."""


@contextmanager
def alone(path: Path, patience: float = PATIENCE) -> Iterator[None]:
    """Hold the lock on a file to be changed, through a side file next to it which goes when it is done with.

    Raises PreviewError when another process keeps it too long, or the folder takes no side file; CannotLockError where
    the disk has no locks.
    """
    side = path.with_name(f".{_short(path.name)}.lock")
    until = time.monotonic() + patience
    handle = _taken(side, path)
    while handle is None:
        if time.monotonic() > until:
            problem = "another molding command has been writing to this file for too long"
            raise PreviewError("", None, problem, "wait for it to end, and do this again", str(path))
        time.sleep(PAUSE)
        handle = _taken(side, path)
    try:
        yield
    finally:
        if sys.platform == "win32":  # there an open file cannot be removed: it is only closed
            os.close(handle)
            with contextlib.suppress(OSError):
                side.unlink()
        else:
            with contextlib.suppress(OSError):
                side.unlink()
            os.close(handle)


def hold(side: Path) -> int | None:
    """Make or open a side file and lock it, for as long as the handle is open; None while somebody else holds it.

    Raises what `alone` does.
    """
    return _taken(side, side.parent)


def _short(name: str) -> str:
    data = os.fsencode(name)
    return name if len(data) <= LONGEST_NAME else hashlib.sha256(data).hexdigest()


def _taken(side: Path, path: Path) -> int | None:
    """The side file, open and locked by us alone; None while somebody else has it."""
    try:
        handle = os.open(side, os.O_RDWR | os.O_CREAT, 0o600)
    except PermissionError as error:
        if sys.platform == "win32":  # it is being removed
            return None
        raise _refused(error, path) from error
    except OSError as error:
        raise _refused(error, path) from error
    try:
        if _locked(handle) and _still_there(side, handle):
            return handle
    except OSError as error:
        os.close(handle)
        with contextlib.suppress(OSError):
            side.unlink()
        why = error.strerror or str(error)
        problem = f"its disk has no locks, by which commands that write at once wait for each other: {why}"
        raise CannotLockError("", None, problem, "keep it on another disk", str(path)) from error
    os.close(handle)
    return None


def _refused(error: OSError, path: Path) -> PreviewError:
    why = error.strerror or str(error)
    fix = "make some room on its disk" if error.errno in (errno.ENOSPC, errno.EDQUOT) else "allow writing there"
    return PreviewError("", None, f"its folder cannot be written in: {why}", fix, str(path))


def _still_there(side: Path, handle: int) -> bool:
    """Whether the side file of that name is still the one we hold: its last holder may have removed it."""
    try:
        return os.path.samestat(side.stat(), os.fstat(handle))
    except OSError:
        return False


if sys.platform == "win32":
    import msvcrt

    def _locked(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _locked(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except (BlockingIOError, PermissionError):  # another has it; some disks say the latter
            return False
        return True
