"""Counts as they are written in a sentence."""

from __future__ import annotations


def counted(number: int, word: str, words: str | None = None) -> str:
    """A number with its noun; words: the plural, where that does not end in s alone.

    >>> counted(1, "piece"), counted(2, "piece"), counted(3, "body", "bodies")
    ('1 piece', '2 pieces', '3 bodies')
    >>> counted(2000, "triangle")
    '2,000 triangles'
    """
    return f"{number:,} {word if number == 1 else words or word + 's'}"
