"""The words that changes are told in: lengths, counts and lists."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from preview.scene import Color
from preview.units import Unit, show

TINY = 0.01
"""mm; what differs by less is neither seen nor cut."""
TINY_ANGLE = math.radians(0.005)
LISTED = 3
"""Of more things than this only the first are listed."""


def long(mm: float, unit: Unit) -> str:
    """A length as it is told."""
    return show(mm, unit)


def two(before: float, after: float, unit: Unit) -> tuple[str, str]:
    """Two lengths in words that can be told apart."""
    first, second = show(before, unit), show(after, unit)
    return (first, second) if first != second else (f"{before:.2f} mm", f"{after:.2f} mm")


def degrees(angle: float, places: int = 2) -> str:
    """An angle (radians) in degrees, with the decimals that say something."""
    text = f"{math.degrees(angle):.{places}f}".rstrip("0").rstrip(".") if places else f"{math.degrees(angle):.0f}"
    return f"{'0' if text in ('-0', '') else text}°"


def two_angles(before: float, after: float) -> tuple[str, str]:
    """Two angles in words that can be told apart."""
    first, second = degrees(before), degrees(after)
    return (first, second) if first != second else (degrees(before, 4), degrees(after, 4))


def hexadecimal(color: Color) -> str:
    """A color as it is written in a scene."""
    return "#" + "".join(f"{round(255 * part):02x}" for part in color)


def count(number: int, noun: str) -> str:
    """`1 straight`, `4 straights`."""
    return f"{number} {noun}" if number == 1 else f"{number} {plural(noun)}"


def plural(noun: str) -> str:
    """`straights`, `corners with a block`."""
    first, space, rest = noun.partition(" with ")
    return f"{first}s{space}{rest}"


def is_are(number: int) -> str:
    """The verb for so many."""
    return "is" if number == 1 else "are"


def was_were(number: int) -> str:
    """The verb for so many, before."""
    return "was" if number == 1 else "were"


def in_a_row(parts: Sequence[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return " and ".join(part for part in (", ".join(parts[:-1]), *parts[-1:]) if part)


def some(parts: Iterable[str], listed: int = LISTED) -> str:
    """Different things in a row, the first few."""
    found = list(dict.fromkeys(parts))
    return ", ".join([*found[:listed], *(["..."] if len(found) > listed else [])])


def ordinal(number: int) -> str:
    """`1st`, `2nd`, `11th`."""
    suffix = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{suffix}"
