"""One value that a person gave: its exact number, how errors speak of it, and decimals for messages."""

from __future__ import annotations

import math
import unicodedata
from dataclasses import dataclass
from fractions import Fraction

from preview.errors import PreviewError

LONGEST_SHOWN = 72
"""Characters of a value that a message shows."""


@dataclass(frozen=True)
class Entry:
    """What a person gave, what it should be ("a length"), and spellings of that to copy from."""

    value: object
    noun: str
    examples: str

    def wrong(self, problem: str, fix: str = "") -> PreviewError:
        """The error to raise; unless a better fix is known it gives the examples."""
        return PreviewError("", written(self.value), problem, fix or f"write {self.noun} like {self.examples}")

    def number(self) -> Fraction:
        """The exact value of a number. A float stands for the decimal that it is written as.

        Raises PreviewError for anything else.
        """
        value = self.value
        if isinstance(value, bool):
            raise self.wrong(f"true or false is not {self.noun}")
        if isinstance(value, int | Fraction):
            return Fraction(value)
        if not isinstance(value, float):
            raise self.wrong(f"{self.noun} is a number or text")
        if not math.isfinite(value):
            raise self.wrong(f"{float(value)} is not {self.noun}")
        return Fraction(repr(float(value)))


def written(value: object) -> str:
    """A value as it stands in TOML."""
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return repr(float(value))
    if isinstance(value, int | Fraction) and max(abs(value.numerator), value.denominator) >= 10**LONGEST_SHOWN:
        return "a number of very many digits"  # which Python may refuse to spell
    return str(value)[:LONGEST_SHOWN]


def quoted(text: str) -> str:
    """Text as TOML writes it, with what cannot be seen spelled out, cut short where it is long."""
    room = text[: LONGEST_SHOWN + 1]
    shown = '"' + "".join(_escaped(character) for character in room) + '"'
    return shown if len(shown) <= LONGEST_SHOWN else shown[: LONGEST_SHOWN - 4].rstrip() + " ..."


def bit(text: str) -> str:
    """A bit of what was written, to speak of in a sentence."""
    text = text.strip()
    marks = {'"': "an inch mark", "'": "a foot mark"}
    if text in marks:
        return marks[text]
    return quoted(text) if '"' not in text else f"'{text}'" if "'" not in text else text


def decimal(value: float, places: int) -> str:
    """A number with at most `places` decimals and no idle zeros; more where it would read as nothing.

    >>> decimal(31.75, 1), decimal(40.0, 1), decimal(0.0031, 1), decimal(-1e-9, 1)
    ('31.8', '40', '0.003', '0')
    """
    if 1e-6 <= abs(value) < 0.5 * 10**-places:
        places = -math.floor(math.log10(abs(value)))
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _escaped(character: str) -> str:
    if character in '"\\':
        return "\\" + character
    if character.isprintable() or unicodedata.category(character) == "Zs":
        return character
    return f"\\u{ord(character):04X}" if ord(character) < 0x10000 else f"\\U{ord(character):08X}"
