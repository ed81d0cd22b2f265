"""Files appear whole or not at all, whatever goes wrong on the way."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from preview.errors import PreviewError
from preview.exports import write_file, write_files

OLD, NEW = b"the file of yesterday", b"the file of today"


def blocks() -> Iterator[bytes]:
    yield NEW[:5]
    yield NEW[5:]


@pytest.mark.parametrize("content", [NEW, [NEW], pytest.param(None, id="blocks")])
def test_a_file_is_written_whole(content: Any, tmp_path: Path) -> None:
    path = tmp_path / "new" / "folder" / "model.glb"
    write_file(path, blocks() if content is None else content)
    assert path.read_bytes() == NEW
    assert list(path.parent.iterdir()) == [path]


def test_an_earlier_file_is_replaced(tmp_path: Path) -> None:
    path = tmp_path / "model.glb"
    path.write_bytes(OLD)
    write_file(path, NEW)
    assert path.read_bytes() == NEW
    assert list(tmp_path.iterdir()) == [path]


def test_a_new_file_may_be_read_as_any_other(tmp_path: Path) -> None:
    write_file(tmp_path / "ours", NEW)
    (tmp_path / "plain").write_bytes(NEW)
    modes = [stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("ours", "plain")]
    assert modes[0] == modes[1]


def test_a_link_stays_and_its_file_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "far").mkdir()
    target, link = tmp_path / "far" / "model.glb", tmp_path / "model.glb"
    target.write_bytes(OLD)
    link.symlink_to(target)
    write_file(link, NEW)
    assert link.is_symlink()
    assert target.read_bytes() == NEW


def failing(error: BaseException) -> Iterator[bytes]:
    yield NEW[:5]
    raise error


@pytest.mark.parametrize("error", [KeyboardInterrupt(), MemoryError(), ValueError("no"), SystemExit(2)])
def test_an_interruption_changes_nothing(error: BaseException, tmp_path: Path) -> None:
    path = tmp_path / "model.glb"
    path.write_bytes(OLD)
    with pytest.raises(type(error)):
        write_file(path, failing(error))
    assert path.read_bytes() == OLD
    assert list(tmp_path.iterdir()) == [path]


def test_where_one_of_several_fails_none_is_written(tmp_path: Path) -> None:
    first, second = tmp_path / "first", tmp_path / "second"
    first.write_bytes(OLD)
    with pytest.raises(KeyboardInterrupt):
        write_files([(first, NEW), (second, failing(KeyboardInterrupt()))])
    assert first.read_bytes() == OLD
    assert list(tmp_path.iterdir()) == [first]
    write_files([(first, NEW), (second, blocks())])
    assert (first.read_bytes(), second.read_bytes()) == (NEW, NEW)


def refused(path: Path, content: Any = NEW) -> str:
    """What a person is told when a file cannot be written."""
    with pytest.raises(PreviewError) as caught:
        write_file(path, content)
    (problem,) = caught.value.problems
    assert problem.file == str(path)
    assert problem.fix
    return problem.problem


def test_a_file_larger_than_the_system_allows(tmp_path: Path) -> None:
    """A real failure in the middle of writing: the process may make no file over 64 kB."""
    resource = pytest.importorskip("resource")
    path = tmp_path / "model.glb"
    path.write_bytes(OLD)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (65536, hard))
    try:
        said = refused(path, [b"x" * 40000] * 3)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert "larger than this disk or account allows" in said
    assert path.read_bytes() == OLD
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (errno.ENOSPC, "the disk is full"),
        (errno.EROFS, "read-only"),
        (errno.EACCES, "read-only"),
        (errno.EIO, "cannot be written"),
    ],
)
def test_what_the_system_refuses_is_told(
    number: int, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(handle: int) -> None:
        raise OSError(number, os.strerror(number))

    path = tmp_path / "model.glb"
    path.write_bytes(OLD)
    monkeypatch.setattr(os, "fsync", refuse)
    assert said in refused(path)
    assert path.read_bytes() == OLD
    assert list(tmp_path.iterdir()) == [path]


def test_a_place_that_is_taken_at_the_last_moment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: Path, target: Path) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    path = tmp_path / "model.glb"
    path.write_bytes(OLD)
    monkeypatch.setattr(Path, "replace", refuse)
    assert "read-only" in refused(path)
    assert path.read_bytes() == OLD
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_stands_there(tmp_path: Path) -> None:
    path = tmp_path / "model.glb"
    (path / "kept").mkdir(parents=True)
    assert "a folder of this name" in refused(path)
    assert (path / "kept").is_dir()


@pytest.mark.parametrize("below", ["model.glb", "deep/model.glb"])
def test_a_file_is_no_folder(below: str, tmp_path: Path) -> None:
    blocking = tmp_path / "out"
    blocking.write_bytes(OLD)
    said = refused(blocking / below)
    assert said == f'"{blocking}" is a file, not a folder'
    assert blocking.read_bytes() == OLD


def test_a_name_that_is_too_long(tmp_path: Path) -> None:
    assert "longer than this disk allows" in refused(tmp_path / ("x" * 300))
    assert list(tmp_path.iterdir()) == []


def test_a_file_marked_read_only_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "model.glb"
    path.write_bytes(OLD)
    path.chmod(0o444)
    if os.access(path, os.W_OK):  # an administrator may write anywhere: ask as anyone else
        monkeypatch.setattr(os, "access", lambda path, _: bool(Path(path).stat().st_mode & 0o200))
    assert "read-only" in refused(path)
    assert path.read_bytes() == OLD
