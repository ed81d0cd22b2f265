"""Angles, read and shown in degrees; radians inside, with square corners exactly square."""

from __future__ import annotations

import math
import re
from fractions import Fraction

from preview.units.entry import Entry, bit, decimal
from preview.units.spelling import AMOUNT, UNIT, amount, clean, match

MOST_ANGLE = 3600
"""Degrees, ten whole turns: a larger angle is taken for a slip."""
QUARTER_TURN = math.pi / 2
ULPS = 4
"""How many steps of a float an angle may stand off a quarter turn and still be taken for one."""

_DEGREES = ("deg", "degs", "degree", "degrees")
_ANGLE = re.compile(rf"(?P<sign>[-+]?) ?(?P<size>{AMOUNT})(?: ?(?P<unit>{UNIT}))?")


def parse_angle(value: str | int | float | Fraction) -> Fraction:
    """An angle in degrees, exactly.

    Raises PreviewError (place "") for what is not an angle in degrees, and for more than ten turns.

    >>> parse_angle("22 1/2"), parse_angle("133.6°"), parse_angle(-45)
    (Fraction(45, 2), Fraction(668, 5), Fraction(-45, 1))
    """
    entry = Entry(value, "an angle", "45, 22.5 or 22 1/2")
    exact = _read(entry, clean(value)) if isinstance(value, str) else entry.number()
    if abs(exact) > MOST_ANGLE:
        raise entry.wrong(f"it is more than {MOST_ANGLE} degrees, ten whole turns", "check the number")
    return exact


def angle(value: str | int | float | Fraction) -> float:
    """An angle in radians, from degrees; raises what `parse_angle` raises.

    It is the float nearest to math.pi / 180 times the exact degrees, so k quarter turns are k * math.pi / 2.

    >>> angle("270 deg") == 3 * math.pi / 2
    True
    """
    return float(parse_angle(value) * Fraction(math.pi) / 180)


def cos_sin(angle: float) -> tuple[float, float]:
    """Cosine and sine of an angle in radians, exactly 0 or ±1 within 4 ulp of a quarter turn.

    The ulp is that of the angle, or of a quarter turn where the angle is smaller: what rounding leaves of
    turns that add up to nothing is forgotten. Raises ValueError for an infinite angle.

    >>> cos_sin(math.pi / 2), cos_sin(-math.pi)
    ((0.0, 1.0), (-1.0, 0.0))
    """
    if abs(angle) < 1e6:  # beyond, the steps between floats are too coarse to say what was meant
        turns = round(angle / QUARTER_TURN)
        if abs(angle - turns * math.pi / 2) <= ULPS * math.ulp(max(abs(angle), QUARTER_TURN)):
            return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[turns % 4]
    return math.cos(angle), math.sin(angle)


def degrees_text(angle: float) -> str:
    """An angle in radians for a message: degrees with two decimals at most, or what it takes not to read 0.

    >>> degrees_text(math.pi / 4), degrees_text(math.atan2(2, 3)), degrees_text(1e-5)
    ('45°', '33.69°', '0.0006°')
    """
    return f"{decimal(math.degrees(angle), 2)}°"


def _read(entry: Entry, text: str) -> Fraction:
    """Degrees of clean text."""
    if re.search(r"[0-9] ?['\"]", text):
        raise entry.wrong(
            "feet, inches or minutes are marked in it, and an angle is in degrees only",
            f"write minutes as a decimal or a fraction of a degree, as in {entry.examples}",
        )
    found = match(_ANGLE, entry, text)
    if found["unit"] and found["unit"].rstrip(".") not in _DEGREES:
        raise entry.wrong(
            f"{bit(found['unit'])} is not a unit of angle known here", f"use degrees, as in {entry.examples}"
        )
    size = amount(entry, found["size"])
    return -size if found["sign"] == "-" else size
