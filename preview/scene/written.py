"""Values as a person wrote them in TOML, for messages."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date, datetime, time

LONGEST = 72
"""A longer value is cut short in a message."""

_ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r"}


class Decimal(float):
    """A decimal number from the file that remembers how it was written: `1.50`."""

    text: str

    def __new__(cls, text: str) -> Decimal:
        number = super().__new__(cls, text)
        number.text = text
        return number


def written(value: object) -> str:
    """A value as it stands in TOML, cut short where it is long.

    >>> written([1, "5' 3", {"straight": 2}])
    '[1, "5\\' 3", { straight = 2 }]'
    """
    text = _written(value, LONGEST)
    return text if len(text) <= LONGEST else text[: LONGEST - 4].rstrip() + " ..."


def key_written(key: str) -> str:
    """A key as it stands in TOML: bare where it may be, cut short where it is long."""
    return key if len(key) <= LONGEST and re.fullmatch(r"[A-Za-z0-9_-]+", key) else written(key)


def what(value: object) -> str:
    """What sort of value this is, with its article."""
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, int | float):
        return "a number"
    if isinstance(value, str):
        return "text"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, Mapping):
        return "a table of keys"
    return "a date or a time"


def _written(value: object, room: int) -> str:
    """TOML text; a list or table, which may have thousands of entries, stops after `room` characters."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Decimal):
        return value.text
    if isinstance(value, int):
        return str(value) if value.bit_length() < 200 else hex(value)
    if isinstance(value, str):
        if value.isprintable() and '"' not in value and "\\" not in value:
            return f'"{value[: room + 1]}"'
        return '"' + "".join(_ESCAPES.get(c) or _plain(c) for c in value[: room + 1]) + '"'
    if isinstance(value, list):
        return "[" + _series((_written(entry, room) for entry in value), room) + "]"
    if isinstance(value, Mapping):
        inside = _series((f"{key_written(key)} = {_written(entry, room)}" for key, entry in value.items()), room)
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, date | datetime | time):
        return value.isoformat()
    return str(value)


def _plain(character: str) -> str:
    if character.isprintable():
        return character
    return f"\\u{ord(character):04X}" if ord(character) < 0x10000 else f"\\U{ord(character):08X}"


def _series(parts: Iterator[str], room: int) -> str:
    found: list[str] = []
    for part in parts:
        found.append(part)
        room -= len(part) + 2
        if room < 0:
            break
    return ", ".join(found)
