"""The records beside a scene: who answered what, when and for which model, and a copy of what was answered for."""

from __future__ import annotations

import contextlib
import errno
import json
import os
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import preview
from preview.approval.answer import Answer, answer_object, answer_of
from preview.approval.kept import KeptFile
from preview.approval.reading import Fields, kind_of, parse_object, read_bytes, wrong
from preview.disk import alone, name_beside, settle, sweep
from preview.errors import PreviewError

SUFFIX = ".approvals.json"
KIND = "molding approvals"
SCHEMA = 1
WHAT = "the record of approvals"
LARGEST = 200_000_000
"""Bytes."""
KEYS = ("answer", "picks", "recorded", "version", "files")
NOT_A_SIGNATURE = "This is a record of what was answered. It is not a signature, and has no legal force by itself."


@dataclass(frozen=True)
class Record:
    """One answer as it was recorded.

    picks: what the scene called the model then, for each choice. recorded: the day, ISO 8601, on the machine that did
    it. version: of the program. files: the scene's, as they were.
    """

    answer: Answer
    picks: tuple[tuple[str, str], ...]
    recorded: str
    version: str
    files: tuple[KeptFile, ...]

    @property
    def approves(self) -> bool:
        """Whether it is an approval, and not a request for changes."""
        return self.answer.approves


def records_path(scene: Path) -> Path:
    """Where a scene's records are: beside it, under its name."""
    name = scene.name.removesuffix(".toml") if scene.name != ".toml" else scene.name
    return scene.with_name(name + SUFFIX)


def records(scene: Path) -> tuple[Record, ...]:
    """The records of a scene, the oldest first; none where there is no file.

    Raises PreviewError, with the file named, where that is damaged.
    """
    path = records_path(scene)
    if not os.path.lexists(path):
        return ()
    data = read_bytes(path, WHAT, LARGEST)
    try:
        return _records(data)
    except PreviewError as error:
        raise error.in_file(str(path)) from error.__cause__


def add_record(
    scene: Path,
    answer: Answer,
    picks: Iterable[tuple[str, str]],
    kept: Iterable[KeptFile],
    *,
    today: date | None = None,
) -> tuple[Record, bool]:
    """Put an answer on record beside the scene: the record, and whether it is a new one.

    kept: copies of the scene's files, which make the model that the answer is for. The same answer is not recorded
    twice. The file is written whole or not at all; earlier records stay as they are, also when two processes do this
    at once. Raises PreviewError where the records there cannot be read, which are then left alone, or where the disk
    will not take the file. Raises ValueError for an answer that no file can hold.
    """
    path = records_path(scene)
    made = Record(answer, tuple(picks), (today or date.today()).isoformat(), preview.__version__, tuple(kept))
    target = path.resolve() if path.is_symlink() else path
    with alone(target):
        earlier = records(scene)
        same = next((one for one in earlier if one.answer == answer and one.picks == made.picks), None)
        if same is not None:
            return same, False
        document = _document([*earlier, made])
        if _records(document) != (*earlier, made):  # never write what cannot be read again
            raise ValueError("this answer would not be read back as it is")
        _write(target, document)
    return made, True


def _records(data: bytes) -> tuple[Record, ...]:
    document = parse_object(data, WHAT)
    fields = Fields(document, WHAT)
    if document.get("kind") != KIND:
        raise wrong("", None, "molding did not write this file", "move it away, or restore the record from a copy")
    fields.only(("schema", "kind", "records"))
    fields.number("schema", SCHEMA)
    return tuple(_record(each, f"record {n}") for n, each in enumerate(_objects(document["records"], "records"), 1))


def _record(data: dict[str, object], place: str) -> Record:
    fields = Fields(data, WHAT, place)
    fields.only(KEYS)
    answer = data["answer"]
    if not isinstance(answer, dict):
        raise _not("answer", "an object", answer, place)
    files = []
    for each in _objects(data["files"], f"{place}, files"):
        one = Fields(each, WHAT, f"{place}, files")
        one.only(("path", "gzip"))
        files.append(KeptFile(one.text("path", 1000), one.text("gzip", 12_000_000, empty=True)))
    return Record(
        answer_of(answer, f"{place}, answer"),
        fields.pairs("picks", 8, 120),
        fields.day("recorded"),
        fields.text("version", 40),
        tuple(files),
    )


def _objects(value: object, place: str) -> list[dict[str, object]]:
    if not isinstance(value, list):
        raise _not("", "a list", value, place)
    for each in value:
        if not isinstance(each, dict):
            raise _not("", "a list of objects", each, place)
    return value


def _not(key: str, wanted: str, value: object, place: str) -> PreviewError:
    at = ", ".join(part for part in (place, key) if part)
    return wrong(at, None, f"it has to be {wanted}, and is {kind_of(value)}", f"restore {WHAT} from a copy")


def _document(kept: Iterable[Record]) -> bytes:
    rows = [
        {
            "answer": answer_object(one.answer),
            "picks": dict(one.picks),
            "recorded": one.recorded,
            "version": one.version,
            "files": [{"path": file.path, "gzip": file.packed} for file in one.files],
        }
        for one in kept
    ]
    text = json.dumps({"schema": SCHEMA, "kind": KIND, "records": rows}, indent=1, ensure_ascii=True)
    return (text + "\n").encode("ascii")


def _write(path: Path, data: bytes) -> None:
    """The bytes go beside the file, reach the disk, and then take its place in one step. Nobody else does this now."""
    beside = name_beside(path)
    try:
        if path.exists() and not os.access(path, os.W_OK):
            raise PermissionError(errno.EACCES, "it is marked read-only")
        sweep(path.parent)
        with beside.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            beside.chmod(path.stat().st_mode & 0o777)
        beside.replace(path)
        settle(path.parent)
    except OSError as error:
        problem = f"the record cannot be written: {error.strerror or error}; nothing was recorded"
        raise PreviewError("", None, problem, "make room, or allow writing there", str(path)) from error
    finally:
        with contextlib.suppress(OSError):
            beside.unlink()
