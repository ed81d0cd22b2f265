"""From a file on disk to TOML tables, with one clear error where it cannot be read."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from preview.drawings import whole
from preview.errors import PreviewError, nearest
from preview.scene.syntax import syntax_error
from preview.scene.written import Decimal

BREAK = b"\n"
DOTTED = re.compile(r"(?<![\w-])(?:[\w-]++[ \t]*+\.[ \t]*+){50}")
"""A key of so many parts that the parser, whose work grows with their square, might not come back."""
LARGEST_FILE = 4_000_000
"""Bytes. A scene with 20,000 steps has about a quarter of this."""


class Files:
    """The files of one reading: each is read once, so that all that is made of it is made of the same bytes."""

    def __init__(self) -> None:
        self._texts: dict[Path, str] = {}
        self._drawings: dict[Path, bytes] = {}

    def text(self, path: Path, what: str) -> str:
        """What `read_text` gives of a file, and gave when it was read first."""
        if path not in self._texts:
            self._texts[path] = read_text(path, what)
        return self._texts[path]

    def drawing(self, path: Path) -> bytes:
        """The bytes of a drawing's file, as they were when it was read first. Raises what `whole` raises."""
        if path not in self._drawings:
            self._drawings[path] = whole(path)
        return self._drawings[path]


def read_text(path: Path, what: str) -> str:
    """The text of a file, which errors call `what` ("scene file").

    Raises PreviewError, with the path as its file and no place, for a missing or unreadable file, a folder,
    and a file that is over 4 MB or not UTF-8.
    """
    try:
        path.name.encode("utf-8")
    except UnicodeEncodeError as error:  # what is written from it is named after it
        problem = "the file's name holds bytes that are not UTF-8 text"
        raise PreviewError("", None, problem, "give the file another name", ascii(str(path))[1:-1]) from error
    try:
        if path.is_dir():
            raise PreviewError("", None, f"this is a folder, not a {what}", f"name the {what} in it", str(path))
        if not path.exists():
            raise _missing(path, what)
        if not path.is_file():
            raise PreviewError("", None, "this is not a file that can be read", f"name a {what}", str(path))
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise PreviewError(
            "", None, f"the {what} cannot be read: {why}", "check its name and who may read it", str(path)
        ) from error
    return _decoded(data, path, what)


def parse_toml(text: str, what: str) -> dict[str, object]:
    """The tables of a TOML text; decimals keep how they were written.

    Raises PreviewError, with the line and what it says, where the text is not TOML.
    """
    if not text.strip():
        raise PreviewError(
            "",
            None,
            "the file is empty",
            f"start from a {what} that works: one that ships, or a copy of your own",
        )
    dotted = DOTTED.search(text)
    if dotted:
        line = text.count("\n", 0, dotted.start()) + 1
        problem = "names are strung together with more dots than any key has"
        raise PreviewError(f"line {line}", None, problem, "take the dots out, or put quotes around text")
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except RecursionError as error:
        raise PreviewError(
            "",
            None,
            "brackets or braces are nested deeper than any scene needs",
            "look for an opening bracket [ or brace { that is typed too often",
        ) from error
    except ValueError as error:
        raise syntax_error(str(error), text) from error


def _missing(path: Path, what: str) -> PreviewError:
    meant = None
    if path.parent.is_dir():
        meant = nearest(path.name, (each.name for each in sorted(path.parent.glob("*.toml"))))
    fix = f"did you mean {meant}?" if meant else "check the name and the folder"
    return PreviewError("", None, f"there is no such {what}", fix, str(path))


def _decoded(data: bytes, path: Path, what: str) -> str:
    if len(data) > LARGEST_FILE:
        raise PreviewError("", None, f"the {what} is larger than 4 MB", "split it into several files", str(path))
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # Text saved as UTF-16 starts with a mark of its own, and no line of it can be told.
        utf_16 = data[:2] in (b"\xff\xfe", b"\xfe\xff")
        line = "" if utf_16 else f": line {data.count(BREAK, 0, error.start) + 1} holds other bytes"
        raise PreviewError(
            "",
            None,
            f"the file is not UTF-8 text{line}",
            "save it again from the editor with the encoding set to UTF-8",
            str(path),
        ) from error
