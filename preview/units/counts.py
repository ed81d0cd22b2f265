"""Counts and lists as they are written in a sentence."""

from __future__ import annotations

from collections.abc import Iterable


def counted(number: int, word: str, words: str | None = None) -> str:
    """A number with its noun; words: the plural, where that does not end in s alone.

    >>> counted(1, "piece"), counted(2, "piece"), counted(3, "body", "bodies")
    ('1 piece', '2 pieces', '3 bodies')
    >>> counted(2000, "triangle")
    '2,000 triangles'
    """
    return f"{number:,} {word if number == 1 else words or word + 's'}"


def listed(words: Iterable[str]) -> str:
    """Several in a row.

    >>> listed(["a", "b", "c"]), listed(["a"]), listed([])
    ('a, b and c', 'a', '')
    """
    row = list(words)
    return " and ".join([", ".join(row[:-1]), row[-1]] if len(row) > 1 else row)
