"""Where each number and each text stands in a scene file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Float, Integer, Item, String
from tomlkit.parser import Parser

from preview.errors import PreviewError
from preview.scene import parse_scene

Keys = tuple[str | int, ...]
"""The way from the top of the file to a value: keys, and numbers in lists, from 0."""
MOST_TEXT = 100_000
"""Characters: about 3,000 steps. A longer file takes tomlkit, at worst, more than the second a page can wait for."""


@dataclass(frozen=True)
class Place:
    """A number or a text of the file: its value, and text[start:end] as it is written, quotes included."""

    value: int | float | str
    start: int
    end: int
    raw: str


def places(text: str, path: Path) -> dict[Keys, Place]:
    """Every number and text of a scene file, in the order of the file.

    path: the file, for errors. Raises PreviewError where the text is not TOML, in the words of `parse_scene`, and for
    a text of more than MOST_TEXT characters.
    """
    if len(text) > MOST_TEXT:
        problem = f"the file has {len(text):,} characters, and {MOST_TEXT:,} is the most that can be edited here"
        raise PreviewError("", None, problem, "change it in a text editor, or split it into several scenes", path.name)
    if not text.strip():
        parse_scene(text, path)
    parser = _Noting(text)
    try:
        found = {
            keys: Place(item.unwrap(), *parser.span(item), item.as_string())
            for keys, item in _leaves(parser.parse(), ())
        }
    except (TOMLKitError, ValueError, KeyError, RecursionError) as error:
        parse_scene(text, path)
        problem = "this way of writing the file is not known here, so it cannot be changed safely"
        raise PreviewError("", None, problem, "change it in a text editor", path.name) from error
    return dict(sorted(found.items(), key=lambda entry: entry[1].start))


class _Noting(Parser):
    """tomlkit's parser, noting where each value begins and ends.

    Its own way to change a value is to set it in the document and to write that out again, which puts headings that
    are mixed ([[run]], [finish.oak], [[run]]) into another order. Replacing only the text of the value cannot.
    What stands where is known by the identity of the values, which releases before 0.15.1 copied.
    """

    def __init__(self, text: str) -> None:
        super().__init__(text)
        # The values are kept, so that no other can take over the identity of one.
        self._noted: dict[int, tuple[Item, int, int]] = {}

    def span(self, item: Item) -> tuple[int, int]:
        """Where a value of the document begins and ends. Raises KeyError for one that was not read from the text."""
        _, start, end = self._noted[id(item)]
        return start, end

    def _parse_value(self) -> Item:
        start = self._idx
        item = super()._parse_value()
        self._noted[id(item)] = (item, start, self._idx)
        return item


def _leaves(value: Any, keys: Keys) -> Iterator[tuple[Keys, Integer | Float | String]]:
    """The numbers and texts in a table or a list."""
    if isinstance(value, Integer | Float | String):
        yield keys, value
    elif isinstance(value, dict):
        for key, entry in value.items():
            yield from _leaves(entry, (*keys, str(key)))
    elif isinstance(value, list):
        for number, entry in enumerate(value):
            yield from _leaves(entry, (*keys, number))
