"""A short code for a model, to be read over the phone: seven signs of its digest and one that checks them.

The 32 signs are the digits and the letters but I, L, O and U, which are misread and misheard. (That a set of 32 signs
writes five bits each is RFC 4648's base32; the signs and their order here are our own choice.)

The check sign makes the weighted sum of all eight signs 0 in the field of 32 elements. All weights differ and none is
0, so one wrong sign changes the sum by weight times error, and two swapped ones by the difference of their weights
times that of the signs: neither is ever 0 in a field. (The same reasoning is behind ISBN-10's check digit, there in the
field of 11: ISO 2108:1992, from memory. Modulo 32 it would fail, as 32 is no prime.)
"""

from __future__ import annotations

import re
import unicodedata

from preview.errors import PreviewError

SIGNS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
COUNT = 8
FIELD = 0b100101
"""x^5 + x^2 + 1, a primitive polynomial: x runs through all elements but 0 before it comes back to 1."""
MISREAD = str.maketrans({"O": "0", "I": "1", "L": "1"})
BETWEEN = re.compile(r"[\s\-\u2010-\u2015\u2212_.]+")
EXAMPLE = "7KQ4-XM2A"


def times(a: int, b: int) -> int:
    """The product of two elements of the field of 32, each as five bits."""
    found = 0
    while b:
        if b & 1:
            found ^= a
        a <<= 1
        if a & 32:
            a ^= FIELD
        b >>= 1
    return found


def _powers() -> tuple[int, ...]:
    """The weights of the eight signs: x^7 down to x^0, all different."""
    found = [1]
    while len(found) < COUNT:
        found.append(times(found[-1], 2))
    return tuple(reversed(found))


WEIGHTS = _powers()


def check_sum(signs: str) -> int:
    """The weighted sum of eight signs; 0 where they are a code. Raises ValueError for what is no sign."""
    found = 0
    for weight, sign in zip(WEIGHTS, signs, strict=True):
        found ^= times(weight, SIGNS.index(sign))
    return found


def short_code(digest: str) -> str:
    """The code of a model's digest (64 hexadecimal digits of SHA-256): its first 35 bits, and the check sign.

    Raises ValueError for what is no such digest.
    """
    if not re.fullmatch(r"[0-9a-f]{64}", digest):
        raise ValueError("a model's digest has 64 hexadecimal digits")
    bits = int(digest[:9], 16) >> 1
    first = "".join(SIGNS[bits >> 5 * place & 31] for place in reversed(range(COUNT - 1)))
    signs = first + SIGNS[check_sum(first + SIGNS[0])]
    return f"{signs[:4]}-{signs[4:]}"


def read_code(text: str) -> str:
    """A code as a person wrote it down, in the one way that it is shown.

    Capitals or not, with the dash or without, blanks between, O for 0 and I or L for 1. Raises PreviewError for what is
    no code or was copied wrongly.
    """
    signs = BETWEEN.sub("", unicodedata.normalize("NFKC", text)).upper().translate(MISREAD)
    shown = "".join(sign if sign.isprintable() else "?" for sign in text[:40])
    strange = next((sign for sign in signs if sign not in SIGNS), None)
    if strange is not None:
        said = strange if strange.isprintable() else f"U+{ord(strange):04X}"
        raise PreviewError(
            "",
            shown,
            f"no code has the sign {said}",
            f"a code has the digits and all letters but I, L, O and U, such as {EXAMPLE}; ask for it again",
        )
    if len(signs) != COUNT:
        raise PreviewError(
            "",
            shown,
            f"a code has {COUNT} signs, and this has {len(signs)}",
            f"ask for it again; it looks like {EXAMPLE}",
        )
    if check_sum(signs):
        raise PreviewError(
            "",
            shown,
            "a character of this code is wrong, or two are swapped: its check character does not fit",
            "ask for the code again, character by character",
        )
    return f"{signs[:4]}-{signs[4:]}"
