"""Text as it is set on the sheet: only letters that the type has, fractions as a person writes them, markup escaped."""

from __future__ import annotations

import re
import unicodedata

from preview.drafting import length_text
from preview.paper import printable, stacked
from preview.units import Unit, show

FRACTION = re.compile(r"(?<![\d/])(?:(\d+)[ -])?(\d+)/(\d+)(?=\s?(?:\"|″|in\b))")
"""A length that is written with a fraction: 3 1/2", 5'-3 1/4", 3/4 in. A bare 3/4 may be a date, or a page."""
PRIMES = ((re.compile(r"(?<=[\d⁄₀-₉])\""), "″"), (re.compile(r"(?<=\d)'(?=$|[\s\d\-)\],;.×])"), "′"))
DROPPED = "\u200b\u200c\u200d\u200e\u200f\u2060\ufeff\ufe0e\ufe0f\u00ad"
"""Signs that only tell how others are to be joined: nothing is lost without them."""


def clean(text: str) -> str:
    """One line of text in letters that the type has: what it lacks becomes a question mark.

    >>> clean("Cafe\\u0301\\n 3\\u200b1"), clean("櫃台 A")
    ('Café 31', '?? A')
    """
    whole = unicodedata.normalize("NFC", "".join(letter for letter in text if letter not in DROPPED))
    spaced = "".join(letter if letter.isprintable() else " " for letter in whole)
    return printable(" ".join(spaced.split()))


def has_all(text: str) -> bool:
    """Whether the type has every letter of a text."""
    return clean(text).count("?") == text.count("?")


def typeset(text: str) -> str:
    """Text with fractions of an inch raised over lowered figures, and feet and inches with their primes.

    >>> typeset('4 straights of seat are 3/4" longer, 14 1/16" to 5\\' 2-1/2"; 3/4/2026')
    '4 straights of seat are ³⁄₄″ longer, 14¹⁄₁₆″ to 5′ 2¹⁄₂″; 3/4/2026'
    """

    def together(found: re.Match[str]) -> str:
        whole, top, bottom = found.groups()
        return (whole or "") + stacked(top, bottom)

    done = FRACTION.sub(together, text)
    for pattern, prime in PRIMES:
        done = pattern.sub(prime, done)
    return done


def said(text: str) -> str:
    """A text as markup of a paragraph: clean, typeset, escaped."""
    return escaped(typeset(clean(text)))


def escaped(text: str) -> str:
    """Without what a paragraph would take for markup.

    >>> escaped("a < b & <b>c</b>")
    'a &lt; b &amp; &lt;b&gt;c&lt;/b&gt;'
    """
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def length(mm: float, unit: Unit) -> str:
    """A length in the scene's unit as the drawings have it: inches to 1/32.

    >>> length(463.55, "in"), length(1600.99375, "ft"), length(38.1, "mm")
    ('18¹⁄₄″', '5′ 3¹⁄₃₂″', '38.1 mm')
    """
    return length_text(mm, unit) if unit in ("in", "ft") else typeset(show(mm, unit))


def cut(text: str, fits: int) -> str:
    """A text of at most so many letters, with dots where it is cut."""
    return text if len(text) <= fits else text[: max(fits - 3, 1)].rstrip() + "..."
