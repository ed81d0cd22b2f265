"""What the formats written as text share: rows of numbers made with numpy, and names that stay in their place.

Numbers become text three digits at a time, by tables, in a block of bytes with one row for each line; where a
number has no digit the byte is 0, and all of those are left out at last. Millions of lines take seconds so.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Words = NDArray[np.uint32]
"""Text in words of four letters, low byte first; a letter 0 is none."""
Thing = TypeVar("Thing")


def _table(made: Iterable[str]) -> Words:
    return np.frombuffer("".join(made).encode("ascii"), "<u4")


# Three digits for each number below 1,000, behind a letter kept free for a sign or a point.
PLAIN = _table(f"\0{i:03}" for i in range(1000))
LEADING = _table((str(i) if i else "").rjust(4, "\0") for i in range(1000))
UNITS = _table(str(i).rjust(4, "\0") for i in range(1000))
TRAILING = _table("\0" + f"{i:03}".rstrip("0").ljust(3, "\0") for i in range(1000))
MINUS, POINT = np.uint32(ord("-")), np.uint32(ord("."))


def whole(numbers: NDArray[np.integer]) -> Words:
    """The text (..., w) of whole numbers of any shape, 0 or more."""
    return _joined(_leading(_threes(np.asarray(numbers, np.int64))))


def fixed(numbers: NDArray[np.floating], decimals: int) -> Words:
    """The text (..., w) of real numbers of any shape, rounded to so many decimals (3, 6, 9 ...) but without the
    zeros at their end. No number may have more than 18 digits then."""
    scaled = np.rint(np.asarray(numbers, np.float64) * 10.0**decimals).astype(np.int64)
    places = decimals // 3
    parts = _threes(np.abs(scaled), places + 1)
    before = _leading(parts[:-places])
    before[0] = before[0] | np.where(scaled < 0, MINUS, np.uint32(0))
    after: list[Words] = []
    more = np.zeros(scaled.shape, np.bool_)
    for part in reversed(parts[-places:]):
        after.append(np.where(more, PLAIN[part], TRAILING[part]))
        more |= part > 0
    after[-1] = after[-1] | np.where(more, POINT, np.uint32(0))
    return _joined([*before, *reversed(after)])


def rows(before: Sequence[bytes], numbers: Words, end: bytes, counts: Iterable[int]) -> Iterator[bytes]:
    """The text of stretches of rows, `counts` rows each: numbers (n, k, w), each after its own letters.

    >>> list(rows([b"v ", b" "], fixed(np.array([[0.5, -12.0], [-1e-9, 1100.25]]), 6), b";", [1, 1]))
    [b'v 0.5 -12;', b'v 0 1100.25;']
    """
    n, k, w = numbers.shape
    letters = numbers.view(np.uint8)
    block = np.empty((n, sum(map(len, before)) + 4 * k * w + len(end)), np.uint8)
    at = 0
    for column, text in enumerate(before):
        block[:, at : at + len(text)] = np.frombuffer(text, np.uint8)
        at += len(text)
        block[:, at : at + 4 * w] = letters[:, column]
        at += 4 * w
    block[:, at:] = np.frombuffer(end, np.uint8)
    first = 0
    for count in counts:
        yield block[first : first + count].tobytes().translate(None, b"\0")
        first += count


def blocks(things: Iterable[Thing], size: Callable[[Thing], int], most: int) -> Iterator[list[Thing]]:
    """The things in order, in lists whose sizes add up to about `most`."""
    block: list[Thing] = []
    filled = 0
    for thing in things:
        block.append(thing)
        filled += size(thing)
        if filled >= most:
            yield block
            block, filled = [], 0
    if block:
        yield block


def quoted(text: str) -> str:
    """Text in quotes on one line, as JSON has it: every letter that prints as itself, the others as \\uXXXX.

    >>> print(quoted('Βάση "1"' + chr(10) + chr(0x2028)))
    "Βάση \\"1\\"\\n\\u2028"
    """
    plain = json.dumps(text, ensure_ascii=False)
    return "".join(letter if letter.isprintable() else json.dumps(letter)[1:-1] for letter in plain)


def tokens(names: Iterable[str], otherwise: str) -> list[str]:
    """One word for each name, in order, no two alike: its letters and numbers of any alphabet, and hyphens.

    Whatever is between them becomes one underscore. `otherwise`: the word where nothing is left.

    >>> tokens(["bench front / base / 3 curve", "bench front/base/3 curve", "Βάση <1½>", "../.."], "piece")
    ['bench_front_base_3_curve', 'bench_front_base_3_curve_2', 'Βάση_1½', 'piece']
    """
    found: list[str] = []
    taken: set[str] = set()
    last: dict[str, int] = {}
    for name in names:
        word = first = _word(name) or otherwise
        while word in taken:
            last[first] = last.get(first, 1) + 1
            word = f"{first}_{last[first]}"
        taken.add(word)
        found.append(word)
    return found


def _word(name: str) -> str:
    kept = (
        letter if letter == "-" or unicodedata.category(letter)[0] in "LMN" else "_"
        for letter in unicodedata.normalize("NFC", name)
    )
    return re.sub("_+", "_", "".join(kept)).strip("_")


def _threes(numbers: NDArray[np.int64], least: int = 1) -> list[NDArray[np.int64]]:
    """Whole numbers, 0 or more, by three digits, the highest first; as many parts as the longest needs, or `least`."""
    parts: list[NDArray[np.int64]] = []
    left, most = numbers, int(numbers.max(initial=0))
    while most or len(parts) < least:
        rest = left // 1000
        parts.append(left - 1000 * rest)
        left, most = rest, most // 1000
    return parts[::-1]


def _leading(parts: list[NDArray[np.int64]]) -> list[Words]:
    """The words of parts that begin numbers: no zeros before the first digit, but one for a number that is 0."""
    words: list[Words] = []
    begun = np.zeros(parts[0].shape, np.bool_)
    for part in parts[:-1]:
        words.append(np.where(begun, PLAIN[part], LEADING[part]))
        begun |= part > 0
    return [*words, np.where(begun, PLAIN[parts[-1]], UNITS[parts[-1]])]


def _joined(words: list[Words]) -> Words:
    found = np.empty((*words[0].shape, len(words)), "<u4")
    for at, word in enumerate(words):
        found[..., at] = word
    return found
