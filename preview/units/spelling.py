"""Numbers in text: whole, decimal, fraction, whole and fraction; and what is wrong with text that is none."""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction

from preview.units.entry import Entry, bit

LONGEST_TEXT = 80

# One sign each for the many that keyboards, word processors and drawings give.
_SAME_SIGN = str.maketrans(
    {
        **dict.fromkeys("\u2032\u2018\u2019\u02b9\u02bc\uff07", "'"),  # prime, curly quotes, letter primes
        **dict.fromkeys("\u2033\u201c\u201d\u02ba\u301e\uff02", '"'),
        **dict.fromkeys("\u2212\u2010\u2011\u2012\u2013", "-"),  # minus, hyphens, figure dash, en dash
        **dict.fromkeys("\u2044\u2215", "/"),  # fraction slash, division slash
        **dict.fromkeys("\u00b0\u00ba\u02da", " deg "),  # degree sign, and two signs that look like it
    }
)

AMOUNT = r"(?:[0-9]+(?: |- ?))?[0-9]+/[0-9]+|[0-9]+\.[0-9]+|[0-9]+|\.[0-9]+"
"""Pattern of a number without sign or unit."""
UNIT = r"""["']|(?!e[-+ ]*[0-9])[a-z]++(?:\.(?![0-9])|(?!\.))"""
"""Pattern of a unit. `ft.5` may be feet and .5 or `ft.` and 5; `1e5` is a power of ten: neither holds one."""

# What text that does not fit has wrong with it: the first that is found is told. {} is what was found.
_SLIPS: tuple[tuple[str, str, str], ...] = (
    (r"^$", "there is nothing in it", ""),
    (r"^[^0-9]*$", "there is no number in it", ""),
    (
        r",",
        "a comma may mean decimals or thousands",
        "use a point for decimals, as in 3.5, and leave other commas out",
    ),
    (r"[^-+0-9a-z .'\"/]", "{} has no meaning here", ""),
    (r"[0-9]*\.[0-9]*\.[0-9.]*", "{} has more than one point", "use one point, as in 3.5"),
    (
        r"[0-9.]+ ?e ?[-+]?[0-9]+",
        "{} is a power of ten, which is not read here",
        "write the number out, as in 1000",
    ),
    (r"[0-9]*/[0-9]*/[0-9/]*", "{} has more than one fraction slash", "use one slash, as in 3/8"),
    (
        r"[0-9]*\.[0-9]*[ -]+[0-9]+/[0-9]+|[0-9]*\.[0-9]+/[0-9.]+|[0-9]+/[0-9]*\.[0-9]+",
        "{} mixes a decimal and a fraction",
        "use one of the two, as in 3.5 or 3 1/2",
    ),
    (r"[0-9]+\.(?![0-9])", "{} has no digit after its point", "write 3.0 or 3 in place of 3."),
    (
        r"(?<![0-9])/|/(?![0-9])",
        "a fraction needs a number right before its slash and one right after",
        "write it like 3/8",
    ),
    (r"[0-9]+/[0-9]+[- ]+[0-9][0-9/]*", "{} has a number after a fraction", ""),
    (r"[0-9.]+ [0-9.]+(?![0-9./])", "{} is two numbers side by side", ""),
    (r"^[-+]? ?([a-z]+|[\"'])", "{} stands in front of the number", ""),
    (
        r"(?<=.)(?<![a-z.'\"])(?<![a-z.'\"] )[-+](?! ?[0-9]+/)",
        "a minus or a plus may only stand in front of it",
        "",
    ),
)


def clean(text: str) -> str:
    """The text in small letters, with one plain sign for each of its lookalikes, and single spaces.

    >>> clean("5′  3–½″"), clean("2¼''")
    ('5\\' 3-1/2 "', '2 1/4 "')
    """
    plain = text.translate(_SAME_SIGN).lower().replace("''", '"')
    return " ".join(re.sub(r"(-?)([^\x00-\x7f])", _spelled_out, plain).split())


def match(pattern: re.Pattern[str], entry: Entry, text: str) -> re.Match[str]:
    """The match of clean text with a pattern made of AMOUNT and UNIT.

    Raises PreviewError, saying what is wrong, when it does not fit.
    """
    if len(text) > LONGEST_TEXT:
        raise entry.wrong(f"its {len(text)} characters are too many for {entry.noun}")
    whole = pattern.fullmatch(text)
    if whole:
        return whole
    for slip, problem, fix in _SLIPS:
        found = re.search(slip, text)
        if found:
            raise entry.wrong(problem.format(bit(found[0])), fix)
    start = pattern.match(text)
    rest = text[start.end() :].strip() if start else ""
    raise entry.wrong(f"{bit(rest)} has no meaning after {entry.noun}" if rest else f"this is not {entry.noun}")


def amount(entry: Entry, text: str) -> Fraction:
    """The value of what AMOUNT matches.

    Raises PreviewError for a fraction over zero, and for one that is not less than 1 after a whole number.
    """
    if "/" not in text:
        return Fraction(text)
    *whole, fraction = re.split("[- ]+", text)
    top, bottom = map(int, fraction.split("/"))
    if bottom == 0:
        raise entry.wrong(f"{fraction} divides by zero", "use a fraction such as 3/8")
    size = Fraction(top, bottom) + (int(whole[0]) if whole else 0)
    if whole and top >= bottom:
        more = size - int(size)
        meant = f"{int(size)} {more}" if more else f"{size}"
        raise entry.wrong(
            f"the fraction {fraction} after a whole number is one or more",
            f"write {meant} in place of {text} if that is meant, or correct the fraction",
        )
    return size


def _spelled_out(found: re.Match[str]) -> str:
    """A one-character fraction such as ¾ as 3/4, kept apart from a whole number before it."""
    dash, character = found.groups()
    if not re.fullmatch(r"<fraction> 003. 2044( 003.)+", unicodedata.decomposition(character)):
        return found[0]
    exact = Fraction(unicodedata.numeric(character)).limit_denominator(100)
    return f"{dash or ' '}{exact.numerator}/{exact.denominator} "
