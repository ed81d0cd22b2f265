"""A scene's files, kept within a record so that what was approved can be built again."""

from __future__ import annotations

import base64
import binascii
import os
import tempfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from preview.approval.reading import wrong
from preview.errors import PreviewError

LARGEST = 8_000_000
"""Bytes of one file, unpacked."""
LARGEST_TOGETHER = 32_000_000
GZIP = 16 + zlib.MAX_WBITS


@dataclass(frozen=True)
class KeptFile:
    """One file. path: from the folder that holds them all, with / between its parts, such as profiles/base.toml.

    packed: its bytes, compressed (gzip) and written as base64.
    """

    path: str
    packed: str


def keep(scene: Path, files: Iterable[Path]) -> tuple[KeptFile, ...]:
    """Copies of a scene's files, the scene's own first.

    Raises PreviewError where one cannot be read or is too large.
    """
    every = list(dict.fromkeys(_in_full(file) for file in (scene, *files)))
    found: list[KeptFile] = []
    for file in every:
        try:
            root = os.path.commonpath([one.parent for one in every])
            path = file.relative_to(root).as_posix()
            data = file.read_bytes()
        except (OSError, ValueError) as error:
            problem = "this file of the scene cannot be read to keep a copy of it"
            raise PreviewError("", None, problem, "check who may read it", str(file)) from error
        if len(data) > LARGEST:
            problem = f"this file of the scene is larger than {LARGEST // 1_000_000} MB, too large to keep a copy of it"
            raise PreviewError("", None, problem, "use a smaller file", str(file))
        found.append(KeptFile(path, base64.b64encode(_packed(data)).decode("ascii")))
    return tuple(found)


@contextmanager
def restored(files: Sequence[KeptFile]) -> Iterator[Path]:
    """The kept files in a temporary folder, laid out as they were; gives the scene's path in it.

    Raises PreviewError where a copy is damaged or its path leads elsewhere.
    """
    if not files:
        raise wrong("", None, "the record keeps no copy of the scene", "compare with a copy of your own")
    with tempfile.TemporaryDirectory(prefix="molding-") as root:
        together = 0
        for file in files:
            place = Path(root, *_parts(file))
            data = _unpacked(file)
            together += len(data)
            try:
                if together > LARGEST_TOGETHER:
                    raise ValueError
                place.parent.mkdir(parents=True, exist_ok=True)
                place.write_bytes(data)
            except (OSError, ValueError) as error:
                raise _damaged(file) from error
        yield Path(root, *_parts(files[0]))


def _in_full(path: Path) -> Path:
    """A path from the root, as it is written: links are not followed, as the scene's own paths are read beside it."""
    return Path(os.path.normpath(path.absolute()))


def _parts(file: KeptFile) -> tuple[str, ...]:
    """The folders and the name in a kept file's path, none of which may lead out of the folder."""
    parts = tuple(file.path.split("/"))
    if any(part in ("", ".", "..") or set(part) & set("\\:\0") for part in parts):
        raise _damaged(file)
    return parts


def _packed(data: bytes) -> bytes:
    packer = zlib.compressobj(9, zlib.DEFLATED, GZIP)
    return packer.compress(data) + packer.flush()


def _unpacked(file: KeptFile) -> bytes:
    try:
        unpacker = zlib.decompressobj(GZIP)
        data = unpacker.decompress(base64.b64decode(file.packed, validate=True), LARGEST)
    except (binascii.Error, ValueError, zlib.error) as error:
        raise _damaged(file) from error
    if not unpacker.eof:
        raise _damaged(file)
    return data


def _damaged(file: KeptFile) -> PreviewError:
    name = "".join(letter if letter.isprintable() else "?" for letter in file.path[:80])
    return wrong(
        "", None, f"the kept copy of {name} is damaged, so that version cannot be built", "use a copy of your own"
    )
