"""Lengths: figures from outside, exact values, and the whole text of errors."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest
import trimesh

from preview.errors import PreviewError
from preview.units import Unit, inches, length, parse_length, show

F = Fraction


def refusal(read: Callable[[Any], object], value: object) -> str:
    """The whole text of the error that reading a value ends in."""
    with pytest.raises(PreviewError) as caught:
        read(value)
    assert [(problem.place, problem.file) for problem in caught.value.problems] == [("", None)]
    return str(caught.value)


# Against figures from outside.


def test_the_inch_and_the_foot() -> None:
    """NIST SP 811 (2008), appendix B, bold (exact) factors: inch 2.54 cm, foot 0.3048 m. From memory."""
    assert parse_length("1 in") == parse_length("2.54 cm") == F("25.4")
    assert parse_length("1 ft") == parse_length("0.3048 m") == F("304.8")


@pytest.mark.parametrize(
    ("unit", "name"),
    [("in", "inches"), ("ft", "feet"), ("mm", "millimeters"), ("cm", "centimeters"), ("m", "meters")],
)
def test_factors_are_those_of_a_reference_library(unit: Unit, name: str) -> None:
    """trimesh's table of units, which it keeps to place models of different sources together."""
    assert length(1, unit) == pytest.approx(trimesh.units.unit_conversion(name, "mm"), rel=1e-15)


@pytest.mark.parametrize(("inch", "mm"), [(".016", 0.4), (".031", 0.8), (".047", 1.2), (".063", 1.6), (".094", 2.4)])
def test_published_pairs_of_joint_gaps(inch: str, mm: float) -> None:
    """ANSI/AWI 0620-2018 and -2024, 3.4.1.1 c) and d): gaps at field joints, in inches and rounded mm."""
    assert round(length(inch, "in"), 1) == mm


def test_published_pairs_of_lengths() -> None:
    """ANSI/AWI 0620-2024, 3.1 h: 3.2 mm (.125") in 2438 mm (96"); 0622-2024, 3.3.1: 101.6 mm (4")."""
    assert round(length('.125"'), 1) == 3.2
    assert round(length('96"')) == 2438
    assert length('4"') == 101.6


def test_published_nearest_64th() -> None:
    """A stave maker's worked example: 24 in over 1.73205 is 13.85641 in, read on the rule as 13-55/64."""
    assert inches(length("13.85641 in"), 64).text == '13 55/64"'
    assert parse_length("13-55/64", "in") == F(887, 64) * F("25.4")


# Lengths, read.

SPELLINGS: dict[str, Fraction] = {  # with bare numbers in inches -> the same in inches
    "5' 3-1/2\"": F("63.5"),
    "5'3 1/2": F("63.5"),
    "5' 3-1/2": F("63.5"),
    "5'-3 1/2\"": F("63.5"),
    "5' - 3 1/2\"": F("63.5"),
    "5’ 3½”": F("63.5"),
    "5′\u20093½″": F("63.5"),
    "5' 3 1/2''": F("63.5"),
    "5ft 3 1/2in": F("63.5"),
    "5 feet 3.5 inches": F("63.5"),
    "5 FT. 3-1/2 IN.": F("63.5"),
    "63.5": F("63.5"),
    "1 1/4": F(5, 4),
    '1-1/4"': F(5, 4),
    "1\u20111⁄4 in": F(5, 4),
    "5/4": F(5, 4),
    '3/8"': F(3, 8),
    "3∕8": F(3, 8),
    "0 3/8": F(3, 8),
    "3 1/2 in": F(7, 2),
    '3½"': F(7, 2),
    "3\u00a0½": F(7, 2),
    "3-½": F(7, 2),
    "2 ft": F(24),
    "2½'": F(30),
    "2 ft 6 in": F(30),
    "2 foot 6": F(30),
    "0' 6\"": F(6),
    "5' ½": F(121, 2),
    "5' .5": F(121, 2),
    ".5": F(1, 2),
    "007": F(7),
    "0": F(0),
    "+3": F(3),
    "-3/8": F(-3, 8),
    "−1 1/4": F(-5, 4),
    "-½": F(-1, 2),
    "- 5' 3\"": F(-63),
    "-5' 3": F(-63),
    " 3\t": F(3),
    "92.5 mm": F("92.5") / F("25.4"),
    "92.5mm": F("92.5") / F("25.4"),
    "1/2 mm": F("0.5") / F("25.4"),
    "9.25 cm": F("92.5") / F("25.4"),
    "1.2 m": 1200 / F("25.4"),
    "2 Metres": 2000 / F("25.4"),
    "0.1": F(1, 10),
    "3.141592653589793": F(3141592653589793, 10**15),
    **{text: F(n, d) for text, n, d in (("½", 1, 2), ("¼", 1, 4), ("¾", 3, 4), ("⅓", 1, 3), ("⅔", 2, 3))},
    **{text: F(n, 8) for text, n in (("⅛", 1), ("⅜", 3), ("⅝", 5), ("⅞", 7))},
    **{text: F(n, 5) for text, n in (("⅕", 1), ("⅖", 2), ("⅗", 3), ("⅘", 4))},
    **{text: F(1, d) for text, d in (("⅙", 6), ("⅐", 7), ("⅑", 9), ("⅒", 10))},
    "2⅚": F(17, 6),
    "↉": F(0),
}


@pytest.mark.parametrize("text", SPELLINGS)
def test_spellings(text: str) -> None:
    assert parse_length(text, "in") == SPELLINGS[text] * F("25.4")


@pytest.mark.parametrize(
    ("unit", "mm"),
    [("mm", F(7, 2)), ("cm", F(35)), ("m", F(3500)), ("in", F("88.9")), ("ft", F("1066.8"))],
)
def test_a_bare_number_is_in_the_unit_of_the_scene(unit: Unit, mm: Fraction) -> None:
    for value in (3.5, "3.5", "3 1/2", "7/2", F(7, 2)):
        assert parse_length(value, unit) == mm
        assert length(value, unit) == float(mm)


def test_numbers_are_taken_as_written() -> None:
    assert parse_length(0.1, "in") == F("2.54")
    assert parse_length(0.1 + 0.2, "in") == F("0.30000000000000004") * F("25.4")
    assert parse_length(12) == 12
    assert parse_length(-1e-3) == F(-1, 1000)
    assert parse_length(F(1, 3), "in") == F(127, 15)
    assert parse_length(10_000_000) == parse_length("10000 m") == 10**7


def test_a_float_of_another_library_is_a_float() -> None:
    """numpy's float64 is a float whose repr is not a number."""
    import numpy as np

    assert parse_length(np.float64(0.1), "in") == F("2.54")
    assert inches(np.float64(31.75)).text == '1 1/4"'


LIKE = "\n  fix: write a length like 3 1/2 in, 5' 3-1/2, 63.5 or 92.5 mm"
TWO = "\n  fix: use one unit, or feet with inches after them, as in 5' 3-1/2"
KNOWN = "the units are in, ft, mm, cm and m"
FAR = (
    "\n  it is longer than 10 km, the most a length may be"
    "\n  fix: check the number and its unit; a bare number here is in inches"
)
MINUS = f"\n  a minus or a plus may only stand in front of it{LIKE}"
BAR = "\n  a fraction needs a number right before its slash and one right after\n  fix: write it like 3/8"
MIXED = " mixes a decimal and a fraction\n  fix: use one of the two, as in 3.5 or 3 1/2"
COMMA = "\n  a comma may mean decimals or thousands"
COMMA += "\n  fix: use a point for decimals, as in 3.5, and leave other commas out"
REFUSED: dict[object, str] = {  # bare numbers in inches
    "": f'""\n  there is nothing in it{LIKE}',
    " \u00a0": f'" \u00a0"\n  there is nothing in it{LIKE}',
    "five": f'"five"\n  there is no number in it{LIKE}',
    "nan": f'"nan"\n  there is no number in it{LIKE}',
    "inf": f'"inf"\n  there is no number in it{LIKE}',
    "3..5": '"3..5"\n  "3..5" has more than one point\n  fix: use one point, as in 3.5',
    "1.2.3 in": '"1.2.3 in"\n  "1.2.3" has more than one point\n  fix: use one point, as in 3.5',
    "3. in": '"3. in"\n  "3." has no digit after its point\n  fix: write 3.0 or 3 in place of 3.',
    "3,5": f'"3,5"{COMMA}',
    "1,200 mm": f'"1,200 mm"{COMMA}',
    "1/0": '"1/0"\n  1/0 divides by zero\n  fix: use a fraction such as 3/8',
    "1/4/8": '"1/4/8"\n  "1/4/8" has more than one fraction slash\n  fix: use one slash, as in 3/8',
    "1 / 4": f'"1 / 4"{BAR}',
    "1/": f'"1/"{BAR}',
    "3.5 1/2": f'"3.5 1/2"\n  "3.5 1/2"{MIXED}',
    "1.5/2": f'"1.5/2"\n  "1.5/2"{MIXED}',
    "1/2.5": f'"1/2.5"\n  "1/2.5"{MIXED}',
    "1 5/4": '"1 5/4"\n  the fraction 5/4 after a whole number is one or more\n'
    "  fix: write 2 1/4 in place of 1 5/4 if that is meant, or correct the fraction",
    "-1-4/4 in": '"-1-4/4 in"\n  the fraction 4/4 after a whole number is one or more\n'
    "  fix: write 2 in place of 1-4/4 if that is meant, or correct the fraction",
    "1/2 3": f'"1/2 3"\n  "1/2 3" has a number after a fraction{LIKE}',
    "½½": f'"½½"\n  "1/2 1/2" has a number after a fraction{LIKE}',
    "1 2": f'"1 2"\n  "1 2" is two numbers side by side{LIKE}',
    "1e400": '"1e400"\n  "1e400" is a power of ten, which is not read here\n  fix: write the number out, as in 1000',
    "1.5e-3 m": '"1.5e-3 m"\n  "1.5e-3" is a power of ten, which is not read here\n'
    "  fix: write the number out, as in 1000",
    "3 - 4": f'"3 - 4"{MINUS}',
    "--3": f'"--3"{MINUS}',
    "5' -3": f'"5\' -3"\n  "-3" has no meaning after a length{LIKE}',
    "5' 14\"": '"5\' 14\\""\n  after feet the inches stay under 12, and these are 14\n'
    "  fix: write 6' 2 if that is meant, or correct the inches",
    "-1' 12 1/2": '"-1\' 12 1/2"\n  after feet the inches stay under 12, and these are 12 1/2\n'
    "  fix: write -2' 0 1/2 if that is meant, or correct the inches",
    "5' 12": '"5\' 12"\n  after feet the inches stay under 12, and these are 12\n'
    "  fix: write 6' 0 if that is meant, or correct the inches",
    "5' 12.1": '"5\' 12.1"\n  after feet the inches stay under 12, and these are 12.1\n'
    "  fix: carry every 12 inches over to the feet, or correct the inches",
    "5.5' 3": '"5.5\' 3"\n  it has part of a foot and inches too\n'
    "  fix: write whole feet and then inches, as in 5' 3-1/2",
    "4\" 3'": '"4\\" 3\'"\n  the inches stand in front of the feet\n  fix: write the feet first, as in 5\' 3-1/2',
    "5' 3'": "\"5' 3'\"\n  it gives feet twice\n  fix: add the two numbers up",
    '5" 3': f'"5\\" 3"\n  after inches it goes on with another number{TWO}',
    "2 m 30 cm": f'"2 m 30 cm"\n  after meters it goes on with centimeters{TWO}',
    "5' 30 mm": f'"5\' 30 mm"\n  after feet it goes on with millimeters{TWO}',
    "3 yd": f'"3 yd"\n  "yd" is not a unit of length known here\n  fix: {KNOWN}',
    "3 milimeter": '"3 milimeter"\n  "milimeter" is not a unit of length known here\n'
    f"  fix: did you mean millimeter? {KNOWN}",
    "45°": f'"45°"\n  "deg" is not a unit of length known here\n  fix: {KNOWN}',
    "3 in long": f'"3 in long"\n  "long" has no meaning after a length{LIKE}',
    "2'-6\" x 4'": f'"2\'-6\\" x 4\'"\n  "x 4\'" has no meaning after a length{LIKE}',
    "5'''": f"\"5'''\"\n  a foot mark has no meaning after a length{LIKE}",
    "5 ft.5 in": f'"5 ft.5 in"\n  "ft.5 in" has no meaning after a length{LIKE}',
    "about 3": f'"about 3"\n  "about" stands in front of the number{LIKE}',
    '"3"': f'"\\"3\\""\n  an inch mark stands in front of the number{LIKE}',
    "3 in (rough)": f'"3 in (rough)"\n  "(" has no meaning here{LIKE}',
    "3\u200b1/2": f'"3\\u200B1/2"\n  "\\u200B" has no meaning here{LIKE}',
    "⅟8": f'"⅟8"\n  "⅟" has no meaning here{LIKE}',
    "٣": f'"٣"\n  there is no number in it{LIKE}',
    "10001 m": f'"10001 m"{FAR}',
    "-400000": f'"-400000"{FAR}',
    1e8: f"100000000.0{FAR}",
    10**5000: f"a number of very many digits{FAR}",
    "9" * 90: f'"{"9" * 67} ...\n  its 90 characters are too many for a length{LIKE}',
    True: f"true\n  true or false is not a length{LIKE}",
    math.nan: f"nan\n  nan is not a length{LIKE}",
    -math.inf: f"-inf\n  -inf is not a length{LIKE}",
    None: f"None\n  a length is a number or text{LIKE}",
}


@pytest.mark.parametrize("value", REFUSED, ids=lambda value: str(value)[:12] if value != 10**5000 else "10**5000")
def test_refused_lengths(value: object) -> None:
    assert refusal(lambda v: parse_length(v, "in"), value) == REFUSED[value]


# Lengths, shown.


@pytest.mark.parametrize(
    ("mm", "denominator", "feet", "text", "remainder"),
    [
        (31.75, 16, False, '1 1/4"', 0.0),
        (32, 16, False, '1 1/4"', 0.25),
        (1612.9, 16, True, "5' 3 1/2\"", 0.0),
        (1612.9, 16, False, '63 1/2"', 0.0),
        (0, 16, True, '0"', 0.0),
        (-0.0, 16, True, '0"', 0.0),
        (0.5, 16, False, '0"', 0.5),
        (-0.5, 16, False, '0"', -0.5),
        (-9.525, 16, False, '-3/8"', 0.0),
        (-323.85, 16, True, "-1' 0 3/4\"", 0.0),
        (304.8, 16, True, "1' 0\"", 0.0),
        (304.7, 16, True, "1' 0\"", -0.1),
        (303.2125, 16, True, '11 15/16"', 0.0),
        (12.7, 1, False, '0"', 12.7),
        (38.1, 1, False, '2"', -12.7),
        (0.396875, 64, False, '1/64"', 0.0),
        (F(127, 15), 16, False, '5/16"', float(F(127, 15) - F("7.9375"))),
        (2.54, 2, False, '0"', 2.54),
    ],
)
def test_inches(mm: float | Fraction, denominator: int, feet: bool, text: str, remainder: float) -> None:
    shown = inches(mm, denominator, feet)
    assert (shown.text, shown.remainder) == (text, remainder)


@pytest.mark.parametrize("denominator", [0, 3, 10, 12, 128, -16])
def test_refused_denominators(denominator: int) -> None:
    assert refusal(lambda d: inches(31.75, d), denominator) == (
        f"{denominator}\n  an inch is divided into halves and halves again, down to 64ths\n"
        "  fix: use 1, 2, 4, 8, 16, 32 or 64"
    )


def test_what_is_no_number_has_no_inches() -> None:
    assert refusal(inches, math.nan) == "nan\n  nan is not a length\n  fix: write a length like 63.5"


@pytest.mark.parametrize(
    ("mm", "unit", "text"),
    [
        (31.75, "mm", "31.8 mm"), (40, "mm", "40 mm"), (-3.04, "mm", "-3 mm"), (0, "mm", "0 mm"),
        (-1e-12, "mm", "0 mm"), (0.031, "mm", "0.03 mm"), (F(127, 5), "mm", "25.4 mm"),
        (31.76, "cm", "3.18 cm"), (30, "cm", "3 cm"), (1234.56, "m", "1.2346 m"), (1200, "m", "1.2 m"),
        (31.75, "in", '1 1/4"'), (31.79, "in", '1 1/4"'), (31.81, "in", 'about 1 1/4"'),
        (1612.9, "in", '63 1/2"'), (1612.9, "ft", "5' 3 1/2\""), (1613, "ft", "about 5' 3 1/2\""),
        (0, "in", '0"'), (0.04, "in", '0.002"'), (0.3, "in", 'about 0.01"'), (-0.3, "ft", 'about -0.01"'),
        (math.nan, "in", "nan mm"), (math.inf, "mm", "inf mm"),
    ],
)  # fmt: skip
def test_show(mm: float, unit: Unit, text: str) -> None:
    assert show(mm, unit) == text
