"""A reader of exchange structures, written from the grammar of ISO 10303-21 and strict about it.

It shares nothing with the kernel: what it makes of a file is what any other reader of the standard may make of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

TOKEN = re.compile(
    r"""\s*(?:
        (?P<keyword>[A-Z_][A-Z0-9_]*(?:-[A-Z0-9]+)*)
      | (?P<name>\#[0-9]+)
      | (?P<real>[+-]?[0-9]+\.[0-9]*(?:E[+-]?[0-9]+)?)
      | (?P<integer>[+-]?[0-9]+)
      | '(?P<string>(?:[ -&(-~]|'')*)'
      | \.(?P<enumeration>[A-Z_][A-Z0-9_]*)\.
      | (?P<sign>[$*(),;=])
    )""",
    re.VERBOSE,
)


@dataclass(frozen=True)
class Ref:
    """#number."""

    number: int


@dataclass(frozen=True)
class Word:
    """.WORD., or * for a value that follows from others."""

    text: str


@dataclass(frozen=True)
class Entity:
    keyword: str
    values: list[Any]


@dataclass(frozen=True)
class Structure:
    """A file: its header's entities, and its instances by number; a complex instance has several parts."""

    header: dict[str, list[Any]]
    instances: dict[int, list[Entity]]

    def all(self, keyword: str) -> dict[int, list[Any]]:
        """The values of all instances, or parts of such, of one keyword, by the number of the instance, in order."""
        return {n: each.values for n, parts in self.instances.items() for each in parts if each.keyword == keyword}

    def of(self, ref: Ref, keyword: str) -> list[Any]:
        """The values of the instance that a reference leads to, which must have the keyword."""
        (values,) = (each.values for each in self.instances[ref.number] if each.keyword == keyword)
        return values


def references(values: Any) -> Iterator[Ref]:
    if isinstance(values, Ref):
        yield values
    elif isinstance(values, Entity):
        yield from references(values.values)
    elif isinstance(values, list):
        for value in values:
            yield from references(value)


CHARACTERS = re.compile(
    r"(?P<X2>\\X2\\(?:[0-9A-F]{4})+\\X0\\)|(?P<X4>\\X4\\(?:[0-9A-F]{8})+\\X0\\)|''|(?P<other>\\[^\\])|\\\\"
)


def decoded(raw: str) -> str:
    r"""A string as it is meant: '' is ', \\ is \, and \X2\...\X0\ and \X4\...\X0\ hold code points.

    >>> print(decoded(r"L\X2\00E4\X0\nge ''A'' \X2\00C4\X0\\\X2"))
    Länge 'A' Ä\X2
    """

    def meant(found: re.Match[str]) -> str:
        assert not found["other"], f"{found[0]} is no escape that we write"
        digits = {"X2": 4, "X4": 8}.get(found.lastgroup or "")
        if digits is None:
            return found[0][0]
        points = found[0][4:-4]
        return "".join(chr(int(points[i : i + digits], 16)) for i in range(0, len(points), digits))

    return CHARACTERS.sub(meant, raw)


class Tokens:
    def __init__(self, text: str) -> None:
        self.text = text.rstrip()
        self.at = 0

    def next(self) -> tuple[str, str]:
        found = TOKEN.match(self.text, self.at)
        assert found, f"no token of Part 21: {self.text[self.at : self.at + 60]!r}"
        self.at = found.end()
        assert found.lastgroup
        return found.lastgroup, found[found.lastgroup]

    def take(self, *wanted: str) -> None:
        for each in wanted:
            _, token = self.next()
            assert token == each, f"{token} for {each} before {self.text[self.at : self.at + 60]!r}"

    def peek(self) -> str:
        before = self.at
        _, token = self.next()
        self.at = before
        return token


def structure(text: str) -> Structure:
    """The exchange structure in a text; an AssertionError where it is none, or where two instances have one number."""
    tokens = Tokens(text)
    tokens.take("ISO-10303-21", ";", "HEADER", ";")
    header: dict[str, list[Any]] = {}
    while tokens.peek() != "ENDSEC":
        entity = _entity(tokens)
        header[entity.keyword] = entity.values
        tokens.take(";")
    tokens.take("ENDSEC", ";", "DATA", ";")
    instances: dict[int, list[Entity]] = {}
    while tokens.peek() != "ENDSEC":
        kind, name = tokens.next()
        assert kind == "name", name
        number = int(name[1:])
        assert number not in instances, f"{name} twice"
        tokens.take("=")
        parts = []
        if tokens.peek() == "(":
            tokens.take("(")
            while tokens.peek() != ")":
                parts.append(_entity(tokens))
            tokens.take(")")
        else:
            parts.append(_entity(tokens))
        tokens.take(";")
        instances[number] = parts
    tokens.take("ENDSEC", ";", "END-ISO-10303-21", ";")
    assert tokens.at == len(tokens.text)
    return Structure(header, instances)


def _entity(tokens: Tokens) -> Entity:
    kind, keyword = tokens.next()
    assert kind == "keyword", keyword
    tokens.take("(")
    return Entity(keyword, _list(tokens))


def _list(tokens: Tokens) -> list[Any]:
    """The values up to the closing parenthesis."""
    values: list[Any] = []
    if tokens.peek() == ")":
        tokens.take(")")
        return values
    while True:
        values.append(_value(tokens))
        kind, sign = tokens.next()
        if (kind, sign) == ("sign", ")"):
            return values
        assert (kind, sign) == ("sign", ","), sign


def _value(tokens: Tokens) -> Any:
    kind, token = tokens.next()
    if kind == "keyword":
        tokens.take("(")
        return Entity(token, _list(tokens))
    if (kind, token) == ("sign", "("):
        return _list(tokens)
    made = {
        "name": lambda: Ref(int(token[1:])),
        "real": lambda: float(token),
        "integer": lambda: int(token),
        "string": lambda: decoded(token),
        "enumeration": lambda: Word(token),
        "sign": lambda: {"$": None, "*": Word("*")}[token],
    }
    return made[kind]()
