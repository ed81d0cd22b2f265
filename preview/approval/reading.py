"""JSON from outside, read strictly: every value of the kind it has to be, every key known, nothing twice."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Literal

from preview.errors import PreviewError

UNSEEN = ("Cc", "Zl", "Zp")
"""Unicode categories that no name in a scene has: controls and line breaks."""
JOINERS = "\u200c\u200d\u200e\u200f"
"""Marks that print nothing and that names in some scripts need."""
SHOWN = 60
Marks = Literal["none", "in line", "any"]
DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def read_bytes(path: Path, what: str, most: int) -> bytes:
    """The bytes of a file. Raises PreviewError, with the path as its file, where it cannot be read or is too large."""
    try:
        if path.is_dir():
            raise wrong("", None, f"this is a folder, not {what}", "name the file in it").in_file(str(path))
        if not path.exists():
            raise wrong("", None, f"there is no such file: {what} was expected", "check its name").in_file(str(path))
        if not path.is_file():
            raise wrong("", None, "this is not a file that can be read", f"name {what}").in_file(str(path))
        with path.open("rb") as file:
            data = file.read(most + 1)
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise PreviewError("", None, f"it cannot be read: {why}", "check who may read it", str(path)) from error
    if len(data) > most:
        limit = f"{most // 1000} kB" if most < 1_000_000 else f"{most // 1_000_000} MB"
        raise wrong("", None, f"it is larger than {limit}, so it is not {what}", "check the file").in_file(str(path))
    return data


def parse_object(data: bytes, what: str) -> dict[str, object]:
    """The one object of a JSON text. Raises PreviewError for all that strict JSON forbids, keys given twice as well."""

    def pairs(found: list[tuple[str, object]]) -> dict[str, object]:
        made: dict[str, object] = {}
        for key, value in found:
            if key in made:
                raise wrong("", None, f"the key {shown(key)} stands in it twice", again(what))
            made[key] = value
        return made

    def no_number(word: str) -> object:
        raise wrong("", None, f"{word} is not a number that JSON has", again(what))

    def whole(word: str) -> int:
        if len(word) > 20:
            raise wrong("", None, "it holds a number of more than 20 digits", again(what))
        return int(word)

    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise wrong("", None, "it is not UTF-8 text", again(what)) from error
    try:
        made = json.loads(text, object_pairs_hook=pairs, parse_constant=no_number, parse_int=whole)
    except RecursionError as error:
        raise wrong("", None, f"its brackets are nested deeper than in {what}", again(what)) from error
    except json.JSONDecodeError as error:
        raise wrong("", None, f"it is not JSON: line {error.lineno}, column {error.colno}", again(what)) from error
    if not isinstance(made, dict):
        raise wrong("", None, f"it holds {kind_of(made)}, not {what}", again(what))
    return made


class Fields:
    """The keys of one object of a file, each taken once; `place` is how errors speak of the object."""

    def __init__(self, data: Mapping[str, object], what: str, place: str = "") -> None:
        self.data = data
        self.what = what
        self.place = place

    def only(self, keys: Sequence[str]) -> None:
        """Refuse a key that is not one of these, and one of these that is missing."""
        for key in self.data:
            if key not in keys:
                raise self._wrong(shown(key), f"no key of {self.what} has this name")
        for key in keys:
            if key not in self.data:
                raise self._wrong(shown(key), "this key is missing")

    def text(self, key: str, most: int, *, marks: Marks = "none", empty: bool = False) -> str:
        """Text of at most so many letters, without blanks round it.

        marks: of those that do not print, it may have none, those that a scene lets stand in one line, or any.
        """
        value = self.data[key]
        if not isinstance(value, str):
            raise self._wrong(key, f"it has to be text, and is {kind_of(value)}")
        if any(unicodedata.category(letter) == "Cs" for letter in value):
            raise self._wrong(key, "it holds half of a character")
        if len(value) > most:
            raise self._wrong(key, f"it has {len(value):,} letters, and {most:,} is the most")
        found = (value.replace("\r\n", "\n").replace("\r", "\n") if marks == "any" else value).strip()
        if not found and not empty:
            raise self._wrong(key, "it is empty")
        refused = hidden if marks == "none" else _unseen
        strange = None if marks == "any" else next((each for each in found if refused(each)), None)
        if strange is not None:
            raise self._wrong(key, f"it holds a mark that does not print, U+{ord(strange):04X}")
        return found

    def one_of(self, key: str, words: Sequence[str]) -> str:
        """One of a few words."""
        value = self.data[key]
        if not isinstance(value, str) or value not in words:
            said = shown(value) if isinstance(value, str) else kind_of(value)
            raise self._wrong(key, f"it has to be {' or '.join(map(shown, words))}, and is {said}")
        return value

    def number(self, key: str, only: int) -> None:
        """A whole number that can be but one."""
        value = self.data[key]
        if isinstance(value, bool) or not isinstance(value, int):
            raise self._wrong(key, f"it has to be {only}, and is {kind_of(value)}")
        if value != only:
            raise self._wrong(
                key, f"it was written by another version of the program: {value}, and this one reads {only}"
            )

    def day(self, key: str) -> str:
        """A date as ISO 8601 writes it, such as 2026-11-25."""
        value = self.text(key, 40)
        try:
            if not DAY.fullmatch(value):
                raise ValueError
            return date.fromisoformat(value).isoformat()
        except ValueError:
            raise self._wrong(key, f"{shown(value)} is not a date such as 2026-11-25") from None

    def pairs(self, key: str, most: int, letters: int) -> tuple[tuple[str, str], ...]:
        """An object whose keys and values are names."""
        value = self.data[key]
        if not isinstance(value, dict):
            raise self._wrong(key, f"it has to be names and their values, and is {kind_of(value)}")
        if len(value) > most:
            raise self._wrong(key, f"it has {len(value)} entries, and {most} is the most")
        inner = Fields(value, self.what, self._at(key))
        named = Fields({name: name for name in value}, self.what, self._at(key))
        return tuple(
            (named.text(name, letters, marks="in line"), inner.text(name, letters, marks="in line")) for name in value
        )

    def _at(self, key: str) -> str:
        return ", ".join(part for part in (self.place, key) if part)

    def _wrong(self, key: str, problem: str) -> PreviewError:
        place = "".join("?" if hidden(letter) else letter for letter in self._at(key[:SHOWN]))
        return wrong(place, None, problem, again(self.what))


def hidden(letter: str) -> bool:
    """Whether a letter prints nothing, or turns the reading of those after it."""
    if letter in JOINERS or unicodedata.category(letter) == "Zs":
        return False
    return not letter.isprintable()


def _unseen(letter: str) -> bool:
    return unicodedata.category(letter) in UNSEEN


def harmless(text: str) -> str:
    """Text for a terminal or a page: marks that do not print are written out, line breaks are one blank."""
    words = " ".join(text.split())
    return "".join(f"[U+{ord(letter):04X}]" if hidden(letter) else letter for letter in words)


def shown(text: str) -> str:
    """Text in quotes, as an error shows it."""
    kept = text if len(text) <= SHOWN else text[: SHOWN - 3] + "..."
    return json.dumps("".join("?" if hidden(letter) else letter for letter in kept), ensure_ascii=False)


def kind_of(value: object) -> str:
    """What kind of value this is, in words."""
    if isinstance(value, bool):
        return "true or false"
    if value is None:
        return "null"
    if isinstance(value, int | float):
        return "a number"
    if isinstance(value, str):
        return "text"
    return "a list" if isinstance(value, list) else "an object"


def again(what: str) -> str:
    """The fix for a file that is not as it has to be."""
    return f"use {what} as the page saved it, unchanged" if what == ANSWER else f"restore {what} from a copy"


ANSWER = "an answer"


def wrong(place: str, value: str | None, problem: str, fix: str) -> PreviewError:
    """One mistake of a file."""
    return PreviewError(place, value, problem, fix)
