"""What a stock layout is made of: parts to cut, sticks to cut them from, and which part comes from which stick."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Stick:
    """A length (mm) that stock comes in. have: how many there are, None for any number. price: of one stick."""

    length: float
    have: int | None = None
    price: float | None = None


@dataclass(frozen=True)
class Part:
    """A part to cut: length in mm, nothing but its own wood. after: the part that it stands next to on the wall."""

    name: str
    length: float
    after: str | None = None


@dataclass(frozen=True)
class Laid:
    """One stick and what is cut from it.

    parts: names, in the order in which they lie on the stick. offcut: mm of good wood that is left over after them and
    the last kerf, without the far trim and without the share lost to defects.
    """

    stick: Stick
    parts: tuple[str, ...]
    offcut: float


@dataclass(frozen=True)
class Layout:
    """Which part is cut from which stick; the same parts and sticks always give the same layout.

    total: mm bought. waste: mm of it that end in no part: trims, kerfs, defects and offcuts. price: of all sticks, None
    where one of those offered has none. bound: no layout at all takes less, mm, or less money where there is a price.
    gap: the share of what is bought that may be above the least, 0 where it is proven to be the least. method: a
    sentence on how that is known. pairs: how many pairs of neighbors on the wall there are; together: how many of them
    come from one stick.
    """

    used: tuple[Laid, ...]
    total: float
    waste: float
    price: float | None
    bound: float
    gap: float
    method: str
    pairs: int = 0
    together: int = 0
