"""Bars to check a print by, across and up: 100 mm and 4 in each way, with the words that go with them."""

from __future__ import annotations

import math
from collections.abc import Iterator

from preview.paper import INK, Mark, Words, advance, stroke, wrapped

FOOT = 25.0
"""mm that the bars across take at the foot of a sheet."""
BESIDE = 22.0
"""mm that the bars up take at its right."""
TYPE = 3.0
BARS = ((4 * 25.4, 32, 8, ("0", "1", "2", "3", "4 in")), (100.0, 20, 4, ("0", "20", "40", "60", "80", "100 mm")))
"""For each its length, mm, its parts, how many of them to a figure, and the figures."""
WORDS = (
    (
        "Print at actual size (100 %), not fitted to the page. Measure a bar across and a bar up with a steel rule: "
        "where one is off, do not use the sheet."
    ),
    (
        "Guards in place; short and curved pieces in a jig; scrap first. Local rules and the machine's own "
        "instructions go before this sheet."
    ),
)


def bars(width: float, margin: float) -> Iterator[Mark]:
    """The bars of a sheet that is `width` wide: two across from its lower left, two up on its right; and the words."""
    for i, (length, parts, major, words) in enumerate(BARS):
        y = margin + 12.5 - 11.5 * i
        yield stroke((margin, y), (margin + length, y), weight=0.2, ink=INK)
        x = width - margin - 1.0 - 11.0 * i
        yield stroke((x, margin), (x, margin + length), weight=0.2, ink=INK)
        for part in range(parts + 1):
            at = margin + length * part / parts
            tall = 3.2 if part % major == 0 else 2.2 if part % 2 == 0 else 1.4
            yield stroke((at, y), (at, y + tall), weight=0.2, ink=INK)
            yield stroke((x, at), (x - tall, at), weight=0.2, ink=INK)
        for part, word in enumerate(words):
            at = margin + length * part * major / parts
            half = advance(word.split()[0], TYPE) / 2 if part else 0.0
            yield Words(word, (at - half, y + 4.2), TYPE, INK)
            yield Words(word, (x - 4.2, at - half), TYPE, INK, turn=math.pi / 2)
    left = margin + 4 * 25.4 + 14.0
    room = width - margin - BESIDE - 2.0 - left
    y = margin + FOOT - 4.0
    for text, size in zip(WORDS, (3.0, 2.6), strict=True):
        for line in wrapped(text, room, size):
            yield Words(line, (left, y), size, INK)
            y -= 1.15 * size
        y -= 0.8
