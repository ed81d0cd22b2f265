"""Files in the making beside those whose place they will take: their names, and what a crash leaves of them."""

from __future__ import annotations

import contextlib
import hashlib
import os
import platform
import re
import secrets
import sys
from pathlib import Path

PART = re.compile(r"\.molding-([0-9a-f]{8})-([0-9]{1,10})-[0-9a-f]{16}\.part")


def name_beside(target: Path) -> Path:
    """A new name in the target's folder, which says what process of what machine it belongs to."""
    return target.with_name(f".molding-{_machine()}-{os.getpid()}-{secrets.token_hex(8)}.part")


def sweep(folder: Path) -> None:
    """Remove what processes of this machine that are no more left in a folder under such names.

    Nothing is said of what cannot be removed. Where it cannot be asked whether a process lives, nothing is removed.
    """
    with contextlib.suppress(OSError):
        for path in folder.iterdir():
            found = PART.fullmatch(path.name)
            if found and found[1] == _machine() and not _lives(int(found[2])):
                with contextlib.suppress(OSError):
                    path.unlink()


def settle(folder: Path) -> None:
    """Wait until a folder's new names have reached the disk, on systems that let a folder be opened."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _machine() -> str:
    return hashlib.sha256(platform.node().encode("utf-8", "surrogatepass")).hexdigest()[:8]


def _lives(process: int) -> bool:
    if sys.platform == "win32":  # there, asking is ending it
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True
