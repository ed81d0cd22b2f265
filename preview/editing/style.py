"""How a value is written into the file: in the style of the one that stood there."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

import tomlkit

from preview.editing.places import Place
from preview.errors import PreviewError
from preview.units import Unit, inches, parse_angle, parse_length

SIXTEENTH = Fraction(127, 80)
"""1/16 in, in mm: the step of a slider where a length is in inches or feet."""
MILLIMETER = Fraction(1)
"""The step where it is metric."""
HALF_DEGREE = Fraction(1, 2)
MOST_PLACES = 3
"""Decimals of a bare number that stands for a fraction: eighths of an inch; sixteenths read better as fractions."""
PLAIN = re.compile(r"([-+]?)([0-9]*)(\.[0-9]+)?")
INCH_MARKS = '"\u2033\u201d'
IMPERIAL: tuple[Unit, ...] = ("in", "ft")


@dataclass(frozen=True)
class Style:
    """How a length is written. quoted: as text. unit: the one it is in. suffix: how that is named, "" where it is not.

    feet: as feet and inches. dash: with a dash before the fraction.
    """

    quoted: bool
    unit: Unit
    suffix: str = ""
    feet: bool = False
    dash: bool = False

    @property
    def step(self) -> Fraction:
        """mm that a slider moves at a time."""
        return SIXTEENTH if self.unit in IMPERIAL else MILLIMETER


def style_of(place: Place, unit: Unit) -> Style:
    """The style of a length; unit: that of bare numbers."""
    if not isinstance(place.value, str):
        return Style(False, unit)
    text = place.value.strip()
    feet = bool(re.search(r"(?<!['\u2032\u2019])['\u2032\u2019](?!['\u2032\u2019])|ft|foot|feet", text.lower()))
    suffix = re.sub(r"^.*[0-9]", "", text, flags=re.DOTALL)
    named = _unit_named(suffix)
    own: Unit = "ft" if feet else named or unit
    return Style(True, own, suffix if named else "", feet or own == "ft", bool(re.search(r"[0-9]-[0-9]+/", text)))


def slid_length(mm: float, place: Place, unit: Unit) -> str:
    """A length from a slider as it is written in the file: on the step of its style."""
    style = style_of(place, unit)
    exact = round(Fraction(mm) / style.step) * style.step
    amount = exact / parse_length(1, style.unit)
    plain = decimal_text(amount, MOST_PLACES if style.unit in IMPERIAL else 6)
    if not style.quoted and plain is not None:
        return plain
    if style.unit not in IMPERIAL:
        return quoted(f"{plain}{style.suffix}", place)
    feet = style.feet or style.unit == "ft"
    text = inches(exact, 16, feet).text.removesuffix('"')
    if style.dash:
        text = re.sub(r"(?<=[0-9]) (?=[0-9]+/)", "-", text)
    if "'" in text:
        return quoted(text.removesuffix(" 0"), place)
    named = style.suffix if _unit_named(style.suffix) == "in" else ""
    return quoted(text + (named or ("" if unit == "in" else " in")), place)


def slid_angle(degrees: float, place: Place) -> str:
    """An angle from a slider as it is written in the file, to half a degree."""
    exact = round(Fraction(degrees) / HALF_DEGREE) * HALF_DEGREE
    text = decimal_text(exact, 1) or "0"
    if not isinstance(place.value, str):
        return text
    suffix = re.sub(r"^.*[0-9]", "", place.value.strip(), flags=re.DOTALL)
    if "/" in place.value and exact.denominator != 1:
        whole = int(abs(exact))
        text = ("-" if exact < 0 else "") + (f"{whole} 1/2" if whole else "1/2")
    return quoted(f"{text}{suffix}" if _is_degrees(suffix) else text, place)


def slid_number(number: float) -> str:
    """A plain number from a slider, with two decimals at most."""
    return decimal_text(Fraction(round(number * 100), 100), 2) or "0"


def typed_length(text: str, place: Place, unit: Unit) -> str:
    """A length that a person typed, as it is written in the file.

    What is no length is put in quotes, for the scene's reader to refuse in its own words.
    """
    text = _unmarked(text.strip(), unit)
    plain = plain_number(text)
    if plain is not None:
        # Text that holds a fraction or a unit had to be text; a plain number in quotes was somebody's choice.
        by_choice = isinstance(place.value, str) and plain_number(place.value) is not None
        return quoted(text, place) if by_choice else plain
    if isinstance(place.value, str):
        return quoted(text, place)
    try:
        amount = parse_length(text, "mm")
        bare = amount != parse_length(text, "cm")
    except PreviewError:
        return quoted(text, place)
    return (decimal_text(amount, MOST_PLACES) if bare else None) or quoted(text, place)


def typed_angle(text: str, place: Place) -> str:
    """An angle that a person typed, likewise."""
    text = text.strip()
    plain = plain_number(text)
    if plain is not None:
        by_choice = isinstance(place.value, str) and plain_number(place.value) is not None
        return quoted(text, place) if by_choice else plain
    if isinstance(place.value, str) or _is_degrees(re.sub(r"^.*[0-9]", "", text, flags=re.DOTALL), named=True):
        return quoted(text, place)
    try:
        return decimal_text(parse_angle(text), MOST_PLACES) or quoted(text, place)
    except PreviewError:
        return quoted(text, place)


def typed_number(text: str, place: Place) -> str:
    """A plain number that a person typed; anything else in quotes, to be refused."""
    return plain_number(text.strip()) or quoted(text.strip(), place)


def quoted(text: str, place: Place) -> str:
    """Text in quotes: single ones where the old text has them and the new one can, else double ones."""
    single = place.raw.startswith("'") and not place.raw.startswith("'''")
    if single and "'" not in text and text.isprintable():
        return f"'{text}'"
    return tomlkit.string(text).as_string()


def plain_number(text: str) -> str | None:
    """A decimal number as TOML writes it, with the digits that were typed; None where the text is something else.

    >>> plain_number("14.50"), plain_number(".5"), plain_number("007"), plain_number("1/2")
    ('14.50', '0.5', '7', None)
    """
    found = PLAIN.fullmatch(text)
    if not found or not (found[2] or found[3]):
        return None
    return f"{found[1]}{found[2].lstrip('0') or '0'}{found[3] or ''}"


def decimal_text(value: Fraction, places: int) -> str | None:
    """A number as a decimal of at most so many places; None where that is not exact.

    >>> decimal_text(Fraction(29, 2), 3), decimal_text(Fraction(14), 3), decimal_text(Fraction(1, 16), 3)
    ('14.5', '14', None)
    """
    count = value * 10**places
    if count.denominator != 1:
        return None
    whole, part = divmod(abs(count.numerator), 10**places)
    text = f"{whole}.{part:0{places}d}".rstrip("0").rstrip(".")
    return f"-{text}" if value < 0 else text


def _unit_named(suffix: str) -> Unit | None:
    """The unit that the words behind a number name; None where there are none, or none that are known."""
    if not suffix.strip():
        return None
    try:
        one = parse_length(f"1{suffix}", "mm")
    except PreviewError:
        return None
    units: tuple[Unit, ...] = ("in", "ft", "mm", "cm", "m")
    return next((unit for unit in units if parse_length(1, unit) == one), None)


def _is_degrees(suffix: str, *, named: bool = False) -> bool:
    """Whether the words behind a number are degrees; named: and are there at all."""
    if not suffix.strip():
        return not named
    try:
        return parse_angle(f"1{suffix}") == 1
    except PreviewError:
        return False


def _unmarked(text: str, unit: Unit) -> str:
    """The text without an inch mark at its end, which would have to be escaped; with "in" where it is needed."""
    if not text or text[-1] not in INCH_MARKS:
        return text
    bare = text[:-1].rstrip()
    try:
        meant = parse_length(text, unit)
        return next((each for each in (bare, f"{bare} in") if parse_length(each, unit) == meant), text)
    except PreviewError:
        return text
