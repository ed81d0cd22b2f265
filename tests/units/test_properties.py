"""What holds for every length and angle: any good spelling is exact, any text is read or refused."""

from __future__ import annotations

import re
import tomllib
from fractions import Fraction

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.units import Unit, degrees_text, inches, length, parse_angle, parse_length, show

MM: dict[Unit, Fraction] = {
    "in": Fraction("25.4"),
    "ft": Fraction("304.8"),
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
}
WORDS: dict[Unit, tuple[str, ...]] = {
    "in": ('"', "''", "″", "”", "in", "in.", "inch", "inches", "IN"),
    "ft": ("'", "′", "’", "ft", "ft.", "foot", "feet", "Feet"),
    "mm": ("mm", "millimeters", "millimetre", "MM"),
    "cm": ("cm", "centimeter", "centimetres"),
    "m": ("m", "meters", "metre"),
}
ONE_SIGN = {Fraction(n, d): sign for sign, n, d in (("½", 1, 2), ("¼", 1, 4), ("¾", 3, 4), ("⅓", 1, 3), ("⅞", 7, 8))}
SPACES = ("", " ", "  ", "\u00a0", "\u2009", "\u202f")
SLASHES = ("/", "\u2044", "\u2215")
UNITS: st.SearchStrategy[Unit] = st.sampled_from(tuple(MM))

Spelled = tuple[str, Fraction]


@st.composite
def fractions(draw: st.DrawFn) -> Spelled:
    """A fraction under one, in ASCII, with another slash, or as one character."""
    bottom = draw(st.integers(2, 64))
    top = draw(st.integers(0, bottom - 1))
    value = Fraction(top, bottom)
    plain = f"{top}{draw(st.sampled_from(SLASHES))}{bottom}"
    return draw(st.sampled_from((plain, ONE_SIGN.get(value, plain)))), value


@st.composite
def amounts(draw: st.DrawFn, most: int = 99) -> Spelled:
    """A number below `most` + 1 as a whole, a decimal, a fraction, or a whole number and a fraction."""
    kind = draw(st.sampled_from(("whole", "decimal", "fraction", "mixed")))
    whole = draw(st.integers(0, most))
    if kind == "whole":
        return str(whole), Fraction(whole)
    if kind == "decimal":
        digits = draw(st.text("0123456789", min_size=1, max_size=9))
        shown = f"{whole or draw(st.sampled_from(('', '0')))}.{digits}"
        return shown, whole + Fraction(int(digits), 10 ** len(digits))
    text, value = draw(fractions())
    if kind == "fraction":
        return text, value
    between = draw(
        st.sampled_from(("", " ", "-", "\u2011", "\u00a0", "  ") if text in ONE_SIGN.values() else (" ", "-"))
    )
    return f"{whole}{between}{text}", whole + value


@st.composite
def spellings(draw: st.DrawFn, unit: Unit) -> Spelled:
    """A good spelling of a length whose bare numbers are in `unit`, and its millimeters."""
    space = st.sampled_from(SPACES)
    if draw(st.booleans()):
        named = draw(st.none() | UNITS)
        text, value = draw(amounts())
        text += draw(space) + draw(st.sampled_from(WORDS[named])) if named else ""
        size = value * MM[named or unit]
    else:
        feet = draw(st.integers(0, 99))
        mark = draw(st.sampled_from(WORDS["ft"]))
        more, value = draw(amounts(most=11))
        joint = draw(st.sampled_from((" ", "-", " - ", "\u2009", "")))
        if (joint == "" and mark[-1] == ".") or more[0] == ".":
            joint = " "  # ft.5 could mean two things
        inch = draw(st.sampled_from(("", *WORDS["in"])))
        text = f"{feet}{draw(space)}{mark}{joint}{more}{draw(space)}{inch}"
        size = feet * MM["ft"] + value * MM["in"]
    sign = draw(st.sampled_from(("", "", "+", "-", "\u2212", "- ")))
    return f"{draw(space)}{sign}{text}{draw(space)}", -size if sign[:1] in ("-", "\u2212") else size


@given(st.data(), UNITS)
def test_every_good_spelling_is_exact(data: st.DataObject, unit: Unit) -> None:
    text, size = data.draw(spellings(unit))
    assert parse_length(text, unit) == size
    assert length(text, unit) == float(size)


@given(
    amounts(),
    st.sampled_from(("", " deg", "°", " °", "º", " Degrees", "deg.")),
    st.sampled_from(("", "-", "−")),
)
def test_every_good_angle_is_exact(spelled: Spelled, word: str, sign: str) -> None:
    text, value = spelled
    assert parse_angle(sign + text + word) == (-value if sign else value)


LIKELY = st.text("0123456789 ./-+'\"½inftmced,°x\u00a0", max_size=14)


@pytest.mark.parametrize("read", [parse_length, parse_angle])
@given(text=LIKELY | st.text(max_size=200) | st.text(st.characters(), max_size=20))
@example("9" * 5000)
@example("1/" + "9" * 70)
@example("\ud800 3")
@example("{} {0} 3")
def test_any_text_is_read_or_refused(read: object, text: str) -> None:
    assert callable(read)
    try:
        size = read(text)
    except PreviewError as error:
        (problem,) = error.problems
        assert problem.place == ""
        assert problem.problem
        assert problem.fix
        assert problem.value is not None
        assert len(problem.value) <= 72
        if not problem.value.endswith(" ...") and not re.search("[\ud800-\udfff]", text):
            assert tomllib.loads(f"value = {problem.value}") == {"value": text}, "not as it was written"
    else:
        assert isinstance(size, Fraction)
        assert re.search("[0-9½]", text) or not text.isascii()


@given(LIKELY, UNITS)
def test_text_means_the_same_with_other_spaces_and_sign(text: str, unit: Unit) -> None:
    try:
        size = parse_length(text, unit)
    except PreviewError:
        return
    assert parse_length(f"\u00a0{text.replace(' ', chr(0x2009))} ", unit) == size
    if text.strip()[0] not in "-+":
        assert parse_length(f"-{text.strip()}", unit) == -size


@given(st.floats() | st.integers() | st.fractions(), UNITS)
def test_any_number_is_read_or_refused(value: float | Fraction, unit: Unit) -> None:
    try:
        size = parse_length(value, unit)
    except PreviewError as error:
        (problem,) = error.problems
        assert value != value or abs(float(value)) * float(MM[unit]) >= 9_999_999
        assert problem.problem in (
            f"{value} is not a length",
            "it is longer than 10 km, the most a length may be",
        )
    else:
        assert size == Fraction(str(value)) * MM[unit]


DENOMINATORS = st.sampled_from((1, 2, 4, 8, 16, 32, 64))
SIZES = st.floats(-9e6, 9e6) | st.fractions(-9_000_000, 9_000_000, max_denominator=10**6)


@given(SIZES, DENOMINATORS, st.booleans())
def test_what_is_shown_reads_back_as_the_value_less_the_remainder(
    mm: float | Fraction, denominator: int, feet: bool
) -> None:
    shown = inches(mm, denominator, feet)
    left_out = Fraction(str(mm)) - parse_length(shown.text)
    assert float(left_out) == shown.remainder
    assert abs(left_out) <= MM["in"] / denominator / 2
    assert parse_length(shown.text) / MM["in"] * denominator % 1 == 0


@given(SIZES, DENOMINATORS, st.booleans())
def test_fractions_are_reduced_and_inches_carried(mm: float | Fraction, denominator: int, feet: bool) -> None:
    text = inches(mm, denominator, feet).text
    found = re.fullmatch(r"-?(?:([1-9]\d*)' )?(0|[1-9]\d*)?(?: ?([1-9]\d*)/(\d+))?\"", text)
    assert found, text
    foot, whole, top, bottom = found.groups()
    if top:
        assert Fraction(int(top), int(bottom)).denominator == int(bottom)
        assert int(top) < int(bottom)
        assert whole != "0" or foot
    if feet:
        assert int(whole or 0) < 12
    else:
        assert foot is None
    assert text != '-0"'


@given(st.integers(-10_000, 10_000), DENOMINATORS)
def test_halfway_goes_to_the_even_count(below: int, denominator: int) -> None:
    halfway = Fraction(2 * below + 1, 2 * denominator) * MM["in"]
    shown = inches(halfway, denominator)
    count = parse_length(shown.text) / MM["in"] * denominator
    assert count % 2 == 0
    assert count in (below, below + 1)
    assert inches(float(halfway), denominator) == shown, "a float stands for the decimal it is written as"


@given(st.floats(-9e6, 9e6), UNITS)
def test_messages_tell_lengths_closely(mm: float, unit: Unit) -> None:
    text = show(mm, unit)
    told = parse_length(text.removeprefix("about "))
    assert abs(told - Fraction(mm)) <= (Fraction("0.4") if unit in ("in", "ft") else Fraction("0.0501"))
    if unit in ("in", "ft"):
        assert text.startswith("about ") == (abs(inches(mm, 32).remainder) > 0.05)
    if abs(mm) > 0.051:
        assert told != 0
        assert (told < 0) == (mm < 0)


@given(st.floats(-62, 62))
def test_messages_tell_angles_closely(radians: float) -> None:
    told = float(parse_angle(degrees_text(radians)))
    assert abs(told - radians * 180 / 3.141592653589793) <= 0.005001
    assume(abs(radians) > 1e-7)
    assert (told < 0) == (radians < 0)
    assert told != 0
