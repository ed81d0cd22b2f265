"""Files that appear whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from preview.disk import name_beside, settle, sweep
from preview.errors import PreviewError

Content = bytes | Iterable[bytes]
"""A file's bytes, at once or block by block."""
WAITING = 16
"""How many files may wait for the disk at a time."""


def write_file(path: Path, content: Content) -> None:
    """Write one file so that it appears whole or not at all; missing folders are made.

    The bytes go beside the file under another name, reach the disk, and then take the file's place in one
    step. Whatever stops that (an interruption as well) leaves an earlier file as it was and no trace of the
    new one. Raises PreviewError where the disk or the folder will not take the file, or where an earlier one
    is marked read-only.
    """
    write_files([(path, content)])


def write_files(files: Iterable[tuple[Path, Content]]) -> None:
    """Write several files as `write_file` does; they are asked for one at a time.

    All are written beside their places first, and only then do they take them: where one cannot be written,
    none is.
    """
    staged: list[tuple[Path, Path]] = []
    swept: set[Path] = set()
    try:
        # Waiting for the disk file by file would take many times as long as writing thousands of small ones.
        with ThreadPoolExecutor(WAITING) as pool:
            waits = []
            for path, content in files:
                with told(path):
                    target = path.resolve() if path.is_symlink() else path
                    _refuse_taken(target)
                    target.parent.mkdir(parents=True, exist_ok=True)
                    if target.parent not in swept:
                        sweep(target.parent)
                        swept.add(target.parent)
                    beside = name_beside(target)
                    staged.append((beside, target))
                    with beside.open("xb") as file:
                        file.writelines([content] if isinstance(content, bytes) else content)
                waits.append(pool.submit(_see_onto_disk, beside, path))
            for wait in waits:
                wait.result()
        for beside, target in staged:
            with told(target):
                beside.replace(target)
        for folder in {target.parent for _, target in staged}:
            settle(folder)
    except BaseException:
        for beside, _ in staged:
            with contextlib.suppress(OSError):
                beside.unlink()
        raise


def _see_onto_disk(beside: Path, path: Path) -> None:
    """Wait until the bytes of a file beside its place have reached the disk."""
    with told(path), beside.open("r+b") as file:
        os.fsync(file.fileno())


def refuse_unwritable(paths: Iterable[Path]) -> None:
    """Raise PreviewError, before long work, where it is known that a file cannot be written."""
    for path in paths:
        with told(path):
            _refuse_taken(path)
            above = next(folder for folder in path.absolute().parents if folder.exists())
            if not above.is_dir():
                raise OSError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
            if not os.access(above, os.W_OK):
                raise OSError(errno.EACCES, os.strerror(errno.EACCES))


def _refuse_taken(target: Path) -> None:
    """Refuse a place that holds a folder, or a file marked read-only (which a rename would not mind)."""
    if target.is_dir():
        raise OSError(errno.EISDIR, os.strerror(errno.EISDIR))
    if target.exists() and not os.access(target, os.W_OK):
        raise OSError(errno.EACCES, os.strerror(errno.EACCES))


@contextlib.contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn what the operating system says about a file into our own error."""
    try:
        yield
    except OSError as error:
        if error.errno is None:  # no word of the system's on a file, but of a library that it cannot load
            raise
        raise PreviewError("", None, *_reason(error, path), str(path)) from error


ELSEWHERE = "write to another folder"


def _reason(error: OSError, path: Path) -> tuple[str, str]:
    """What is wrong, and the fix."""
    match error.errno:
        case errno.ENOSPC | errno.EDQUOT:
            return "the disk is full, so nothing was written", f"make some room on it, or {ELSEWHERE}"
        case errno.EFBIG:
            return "the file would be larger than this disk or account allows", ELSEWHERE
        case errno.EACCES | errno.EPERM | errno.EROFS:
            return (
                "the file or its folder is read-only",
                f"allow writing there, close any program that has the file open, or {ELSEWHERE}",
            )
        case errno.EISDIR:
            return (
                "a folder of this name stands where the file should go",
                f"rename that folder, or {ELSEWHERE}",
            )
        case errno.ENOTDIR | errno.EEXIST:
            return f'"{_file_above(path)}" is a file, not a folder', f"rename that file, or {ELSEWHERE}"
        case errno.ENOENT | errno.ESTALE:
            return (
                "the folder went away while it was being written to",
                f"see who moved or removed it, or {ELSEWHERE}",
            )
        case errno.ENAMETOOLONG:
            return "the name is longer than this disk allows", "give a shorter name"
        case _:
            return f"it cannot be written: {error.strerror or error}", ELSEWHERE


def _file_above(path: Path) -> Path:
    """The file that stands where a folder is needed: the path itself, or what is nearest above it."""
    return next((at for at in (path, *path.parents) if at.exists() and not at.is_dir()), path)
