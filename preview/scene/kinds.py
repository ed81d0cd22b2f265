"""Kinds of value: each turns what stands in the file into what it means, or says what is wrong with it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction
from typing import TypeVar

from preview import limits
from preview.errors import UNPRINTABLE, PreviewError, nearest
from preview.runs import Vec2
from preview.scene.written import what, written
from preview.units import Unit, parse_angle, parse_length, show

T = TypeVar("T")
W = TypeVar("W", bound=str)
Kind = Callable[[object], T]
"""Takes a value of the file; raises PreviewError, whose place is "" or the entry of a list ("point 3")."""

LONGEST_NAME, LONGEST_TEXT = 80, 500
UNSEEN = ("Cc", "Cs", "Zl", "Zp")
"""Unicode categories: controls, halves of characters, and line breaks."""
LENGTHS = 'a number, or text such as "1 1/4", "5\' 3-1/2" or "32 mm"'


UNITS: tuple[Unit, ...] = ("in", "ft", "mm", "cm", "m")
UNITS_FIX = 'say what bare numbers mean: units = "in", "ft", "mm", "cm" or "m"'


def one_unit(value: object) -> Unit:
    """The unit of bare numbers."""
    return choice(UNITS, "this is not a unit of length that the file can be in")(value)


def length(unit: Unit | None) -> Kind[float]:
    """A length in mm; a bare number is in `unit`, which is None where the file does not rightly say."""

    def read(value: object) -> float:
        return float(parse_length(_plain(_one_value(value, f"a length is {LENGTHS}")), unit or "mm"))

    return read


def degrees(value: object) -> Fraction:
    """An angle in degrees, exactly as written."""
    return parse_angle(_plain(_one_value(value, 'an angle is a number of degrees, or text such as "22 1/2"')))


def number(least: float, most: float) -> Kind[float]:
    """A plain number between two limits."""

    def read(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
            raise _wrong(value, f"it must be a number from {least:g} to {most:g}", f"write {(least + most) / 2:g}, say")
        return float(value)

    return read


def whole(least: int, most: int, problem: str, fix: str) -> Kind[int]:
    """A whole number between two limits, both allowed; else the problem and the fix given."""

    def read(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            raise _wrong(value, problem, fix)
        return value

    return read


def within(kind: Kind[float], least: float, most: float, problem: str, fix: str) -> Kind[float]:
    """A length (mm) of a kind that lies between two limits, both allowed.

    Else the problem and the fix given; {} in the problem stands for the length in mm.
    """

    def read(value: object) -> float:
        found = kind(value)
        if not least <= found <= most:
            raise _wrong(value, problem.format(show(found, "mm")), fix)
        return found

    return read


def length_within(unit: Unit | None, least: float, most: float, problem: str, fix: str) -> Kind[float]:
    """A length between two limits, as `within` says; of any size where the file does not rightly say its unit."""
    return within(length(unit), least, most, problem, fix) if unit else length(None)


def line(most: int) -> Kind[str]:
    """One line of text that is not empty and has at most so many letters."""

    def read(value: object) -> str:
        if not isinstance(value, str):
            raise _wrong(value, f"it must be text, not {what(value)}", f"put it in quotes: {_quoted(value)}")
        if len(value) > most:
            raise _wrong(value, f"it has {len(value):,} letters, and {most} is the most", "write less")
        if not value.strip():
            raise _wrong(value, "the text is empty", "write something between the quotes")
        if UNPRINTABLE.search(value) or any(unicodedata.category(character) in UNSEEN for character in value):
            raise _wrong(
                value,
                "it must be one line, without tabs or other marks that do not print",
                "write it on one line",
            )
        return value

    return read


def text(value: object) -> str:
    """One line of text that is not empty, of the usual length."""
    return line(LONGEST_TEXT)(value)


def name(value: object) -> str:
    """A name: text that can stand between the slashes of a piece's name, `run / member / 3 curve`."""
    found = text(value)
    if len(found) > LONGEST_NAME:
        raise _wrong(value, f"a name may have {LONGEST_NAME} letters; this has {len(found)}", "use a shorter name")
    if " / " in found:
        raise _wrong(
            value,
            'a name may not hold " / ", which stands between the parts of a piece\'s name',
            f"write {written(found.replace(' / ', ' - '))}, say",
        )
    if found != found.strip():
        raise _wrong(value, "the name begins or ends with a blank", f"write {written(found.strip())}")
    return found


def choice(words: Sequence[W], said: str) -> Kind[W]:
    """One of a few words; `said` is the problem when it is another."""

    def read(value: object) -> W:
        for word in words:
            if word == value:
                return word
        meant = suggested(value, words) if isinstance(value, str) else None
        fix = f"did you mean {written(meant)}?" if meant else f"write {in_a_row([written(w) for w in words])}"
        raise _wrong(value, said, fix)

    return read


def flag(value: object) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise _wrong(value, "it must be true or false", "write true or false, in small letters and without quotes")
    return value


def pair(unit: Unit | None, meaning: str = "a plan position is two lengths, [x, y]") -> Kind[Vec2]:
    """Two lengths in mm, [x, y]."""

    def read(value: object) -> Vec2:
        x, y = _lengths(value, "xy", unit, meaning, 'write two lengths between brackets: [12, "3 1/2"]')
        return (x, y)

    return read


def triple(unit: Unit | None) -> Kind[tuple[float, float, float]]:
    """Three lengths in mm, [x, y, z]."""
    meaning = "a place in the room is three lengths, [x, y, z], z up"

    def read(value: object) -> tuple[float, float, float]:
        x, y, z = _lengths(value, "xyz", unit, meaning, 'write three lengths between brackets: [12, "3 1/2", 0]')
        return (x, y, z)

    return read


def _lengths(value: object, axes: str, unit: Unit | None, meaning: str, fix: str) -> list[float]:
    """A list of one length (mm) for each axis; `meaning` is the problem of what is no such list."""
    if not isinstance(value, list) or len(value) != len(axes):
        count = f", not {len(value)}" if isinstance(value, list) else ""
        raise _wrong(value, f"{meaning}{count}", fix)
    one, found = length(unit), list[float]()
    for axis, entry in zip(axes, value, strict=True):
        try:
            found.append(one(entry))
        except PreviewError as error:
            problem = error.problems[0]
            raise _wrong(value, f"its {axis}, {written(entry)}: {problem.problem}", problem.fix) from error
    return found


def color(value: object) -> tuple[float, float, float]:
    """An sRGB color "#rrggbb" as three parts from 0 to 1."""
    if not isinstance(value, str) or not re.fullmatch(r"#[0-9A-Fa-f]{6}", value):
        raise _wrong(
            value,
            "a color is # and six digits 0-9 or a-f: two each for red, green and blue",
            'write it like "#f4f1ea", a warm white',
        )
    return (int(value[1:3], 16) / 255, int(value[3:5], 16) / 255, int(value[5:7], 16) / 255)


def entries(kind: Kind[T], noun: str) -> Kind[tuple[T, ...]]:
    """A list whose entries are all of one kind; mistakes are placed by noun and number ("point 3")."""

    def read(value: object) -> tuple[T, ...]:
        if not isinstance(value, list):
            raise _wrong(value, f"it must be a list, not {what(value)}", "write it between brackets: [..., ...]")
        limits.ENTRIES.refuse(len(value), "it", "split the scene into several files")
        found: list[T] = []
        problems: list[PreviewError] = []
        for i, entry in enumerate(value, 1):
            try:
                found.append(kind(entry))
            except PreviewError as error:
                problems.append(with_value(error, entry).at(f"{noun} {i}"))
        if problems:
            raise PreviewError.several(p for error in problems for p in error.problems)
        return tuple(found)

    return read


def known(values: Mapping[str, T], noun: str, *, all_told: bool = True) -> Kind[T | None]:
    """The name of something declared under a heading [noun.NAME], read as what was declared.

    all_told: whether `values` holds every name; where a heading was wrong, another may have been meant by it,
    and is read as None.
    """

    def read(value: object) -> T | None:
        found = text(value)
        if found in values or not all_told:
            return values.get(found)
        meant = suggested(found, values)
        if meant:
            fix = f"did you mean {written(meant)}?"
        elif values and len(values) <= 12:
            fix = f"write {in_a_row([written(each) for each in values])}, or add a heading [{noun}.NAME]"
        else:
            fix = f"add a heading [{noun}.NAME] for it"
        raise _wrong(value, f"there is no {noun} of that name", fix)

    return read


def with_value(error: PreviewError, value: object) -> PreviewError:
    """The error with problems that stand at the value itself showing it as written."""
    return PreviewError.several(
        problem if problem.place else type(problem)("", written(value), problem.problem, problem.fix, problem.file)
        for problem in error.problems
    )


def suggested(word: str, words: Iterable[str]) -> str | None:
    """The known word nearest to one that is not known, whatever its case."""
    by_case = {each.casefold(): each for each in words}
    found = nearest(word.casefold(), by_case)
    return by_case[found] if found else None


def in_a_row(parts: Sequence[str], last: str = "or") -> str:
    """`a`, `a or b`, `a, b or c`."""
    return f" {last} ".join(part for part in (", ".join(parts[:-1]), *parts[-1:]) if part)


def _one_value(value: object, problem: str) -> int | float | str:
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise _wrong(value, f"{problem}, not {what(value)}", "write one value, without brackets or braces")
    return value


def _plain(value: int | float | str) -> int | float | str:
    """The value, which holds no dash that is longer than those that a hyphen is taken for."""
    dash = re.search("[\u2014\u2015]", value) if isinstance(value, str) else None
    if isinstance(value, str) and dash:
        meant = written(re.sub(r"\s*[\u2014\u2015]\s*", "-", value))
        raise _wrong(value, f"{dash[0]} (U+{ord(dash[0]):04X}) is a long dash", f"write a plain hyphen: {meant}")
    return value


def _quoted(value: object) -> str:
    return written(written(value)) if not isinstance(value, list | Mapping) else '"like this"'


def _wrong(value: object, problem: str, fix: str) -> PreviewError:
    return PreviewError("", written(value), problem, fix)
