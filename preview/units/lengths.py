"""Lengths, read and shown. Millimeters inside.

The inch is the international inch of 1959, 25.4 mm exactly, and the foot 12 of them (NIST Special Publication
811, appendix B; figures from memory, and compared in the tests).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from preview.errors import PreviewError, nearest
from preview.units.entry import Entry, bit, decimal
from preview.units.spelling import AMOUNT, UNIT, amount, clean, match

Unit = Literal["in", "ft", "mm", "cm", "m"]

INCH = Fraction(127, 5)
"""Millimeters in an inch."""
DENOMINATORS = (1, 2, 4, 8, 16, 32, 64)
"""The fractions of an inch that rules and tapes are marked with."""
MOST_LENGTH = 10_000_000
"""Millimeters, 10 km: a longer length is taken for a slip."""
ABOUT = 0.05
"""Millimeters that a length shown in inches may be off without saying "about"."""
SHOWN_PARTS = 32
"""Parts of an inch that `show` goes to."""
A_HAIR = 0.01
"""Millimeters that inches show as nothing: less than a paper's thickness, and mostly rounding."""

_MM_PER: dict[Unit, Fraction] = {
    "in": INCH,
    "ft": 12 * INCH,
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
}
_NAMES: dict[Unit, str] = {
    "in": "inches",
    "ft": "feet",
    "mm": "millimeters",
    "cm": "centimeters",
    "m": "meters",
}
_PLACES: dict[Unit, int] = {"mm": 1, "cm": 2, "m": 4}
_UNITS: dict[str, Unit] = {
    **dict.fromkeys(('"', "in", "inch", "inches"), "in"),
    **dict.fromkeys(("'", "ft", "foot", "feet"), "ft"),
    **dict.fromkeys(("mm", "millimeter", "millimeters", "millimetre", "millimetres"), "mm"),
    **dict.fromkeys(("cm", "centimeter", "centimeters", "centimetre", "centimetres"), "cm"),
    **dict.fromkeys(("m", "meter", "meters", "metre", "metres"), "m"),
}
_LENGTH = re.compile(
    rf"(?P<sign>[-+]?) ?(?:(?P<first>{AMOUNT}) ?(?P<first_unit>{UNIT})(?: - |-| ?))?"
    rf"(?P<last>{AMOUNT})(?: ?(?P<last_unit>{UNIT}))?"
)


def parse_length(value: str | int | float | Fraction, unit: Unit = "mm") -> Fraction:
    """A length in millimeters, exactly. A bare number is in `unit`; after feet it is inches.

    A float stands for the decimal it is written as, so 0.1 in is 2.54 mm and no hair more.
    Raises PreviewError (place "") for what cannot be read in one way only, and for more than 10 km.

    >>> parse_length("5' 3-1/2"), parse_length("1 ¼", "in"), parse_length("92.5 mm", "in")
    (Fraction(16129, 10), Fraction(127, 4), Fraction(185, 2))
    """
    entry = Entry(value, "a length", "3 1/2 in, 5' 3-1/2, 63.5 or 92.5 mm")
    exact = _read(entry, clean(value), unit) if isinstance(value, str) else entry.number() * _MM_PER[unit]
    if abs(exact) > MOST_LENGTH:
        raise entry.wrong(
            "it is longer than 10 km, the most a length may be",
            f"check the number and its unit; a bare number here is in {_NAMES[unit]}",
        )
    return exact


def length(value: str | int | float | Fraction, unit: Unit = "mm") -> float:
    """A length in millimeters, as the float nearest to `parse_length`; raises what that raises.

    >>> length("3 1/2 in"), length(0.1, "in")
    (88.9, 2.54)
    """
    return float(parse_length(value, unit))


@dataclass(frozen=True)
class Fractional:
    """A length as feet, inches and a fraction, and what that leaves out: true minus shown, mm."""

    text: str
    remainder: float


def inches(mm: float | Fraction, denominator: int = 16, feet: bool = False) -> Fractional:
    """A length (mm) to the nearest 1/denominator of an inch, reduced; with feet=True in feet from 12 in up.

    Halfway between two marks it takes the one whose count of 1/denominator is even; a float stands for the
    decimal it is written as. `parse_length` reads the text back.
    Raises PreviewError for a denominator that is not a power of two from 1 to 64, and for a length that is no
    number.

    >>> inches(32)
    Fractional(text='1 1/4"', remainder=0.25)
    >>> inches(1612.9, feet=True).text, inches(-9.525).text
    ('5\\' 3 1/2"', '-3/8"')
    """
    if denominator not in DENOMINATORS:
        raise PreviewError(
            "",
            str(denominator),
            "an inch is divided into halves and halves again, down to 64ths",
            f"use {', '.join(map(str, DENOMINATORS[:-1]))} or {DENOMINATORS[-1]}",
        )
    exact = Entry(mm if isinstance(mm, Fraction) else float(mm), "a length", "63.5").number()
    count = round(exact / INCH * denominator)
    whole, part = divmod(abs(count), denominator)
    whole_feet, whole = divmod(whole, 12) if feet else (0, whole)
    words = [f"{whole_feet}'"] if whole_feet else []
    words += [str(whole)] if whole or whole_feet or not part else []
    words += [str(Fraction(part, denominator))] if part else []
    text = ("-" if count < 0 else "") + " ".join(words) + '"'
    return Fractional(text, float(exact - count * INCH / denominator))


def show(mm: float | Fraction, unit: Unit) -> str:
    """A length (mm) for a message, in the unit a person works in.

    Metric to 0.1 mm; inches and feet to the nearest 1/32 in, with "about" where that is over 0.05 mm off.
    What would read as nothing gets the decimals it needs, in inches from 0.01 mm on. Never raises.

    >>> show(31.75, "mm"), show(31.75, "in"), show(32, "in"), show(0.3, "in"), show(0.03, "in")
    ('31.8 mm', '1 1/4"', 'about 1 1/4"', 'about 0.01"', '0.001"')
    """
    value = float(mm)
    if not math.isfinite(value):
        return f"{value} mm"
    if unit in _PLACES:
        return f"{decimal(value / float(_MM_PER[unit]), _PLACES[unit])} {unit}"
    shown = inches(value, SHOWN_PARTS, feet=unit == "ft")
    text = f'{decimal(value / float(INCH), 2)}"' if shown.text == '0"' and abs(value) > A_HAIR else shown.text
    return text if abs(shown.remainder) <= ABOUT else f"about {text}"


def shown_step(unit: Unit, metric: float = 0.1) -> float:
    """The mm between lengths that `show` tells as they are, without "about": a part of an inch, or `metric`."""
    return float(INCH) / SHOWN_PARTS if unit in ("in", "ft") else metric


def _read(entry: Entry, text: str, unit: Unit) -> Fraction:
    """Millimeters of clean text."""
    found = match(_LENGTH, entry, text)
    last_unit = _unit(entry, found["last_unit"]) if found["last_unit"] else None
    if found["first"] is None:
        size = amount(entry, found["last"]) * _MM_PER[last_unit or unit]
    else:
        size = _feet_and_inches(entry, found, _unit(entry, found["first_unit"]), last_unit)
    return -size if found["sign"] == "-" else size


def _feet_and_inches(entry: Entry, found: re.Match[str], first: Unit, last: Unit | None) -> Fraction:
    """Millimeters of two amounts, which have to be whole feet and less than 12 inches."""
    if (first, last) == ("in", "ft"):
        raise entry.wrong(
            "the inches stand in front of the feet",
            "write the feet first, as in 5' 3-1/2",
        )
    if last == first:
        raise entry.wrong(f"it gives {_NAMES[first]} twice", "add the two numbers up")
    if first != "ft" or last not in ("in", None):
        raise entry.wrong(
            f"after {_NAMES[first]} it goes on with {_NAMES[last] if last else 'another number'}",
            "use one unit, or feet with inches after them, as in 5' 3-1/2",
        )
    whole, more = amount(entry, found["first"]), amount(entry, found["last"])
    if whole.denominator != 1:
        raise entry.wrong("it has part of a foot and inches too", "write whole feet and then inches, as in 5' 3-1/2")
    size = (12 * whole + more) * INCH
    if more >= 12:
        meant = inches(size, 64, feet=True)
        raise entry.wrong(
            f"after feet the inches stay under 12, and these are {found['last']}",
            "carry every 12 inches over to the feet, or correct the inches"
            if meant.remainder
            else f"write {found['sign']}{meant.text[:-1]} if that is meant, or correct the inches",
        )
    return size


def _unit(entry: Entry, word: str) -> Unit:
    unit = _UNITS.get(word.rstrip("."))
    if unit:
        return unit
    meant = nearest(word, _UNITS) if len(word) > 2 else None
    raise entry.wrong(
        f"{bit(word)} is not a unit of length known here",
        (f"did you mean {meant}? " if meant else "") + "the units are in, ft, mm, cm and m",
    )
