"""Text on its way to a terminal: file names and what other programs' files say may hold what a terminal would obey."""

from __future__ import annotations

from preview.errors import UNPRINTABLE


def visible(text: object) -> str:
    """The text with controls, marks that turn the reading round and halves of characters written out; lines stay.

    >>> visible("a\\x1b[2Jb")
    'a[U+001B][2Jb'
    """
    return UNPRINTABLE.sub(lambda found: f"[U+{ord(found[0]):04X}]", str(text))
