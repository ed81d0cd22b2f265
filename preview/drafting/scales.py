"""The scales drawings are made at, their names, and lengths as a drawing gives them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from preview.paper import fraction, metric
from preview.units import Unit

INCH = 25.4
FOOT = 12 * INCH
INCH_SCALES = (
    ("full size", Fraction(1)),
    ("6″ = 1′-0″", Fraction(1, 2)),
    ("3″ = 1′-0″", Fraction(1, 4)),
    ("1 1/2″ = 1′-0″", Fraction(1, 8)),
    ("1″ = 1′-0″", Fraction(1, 12)),
    ("3/4″ = 1′-0″", Fraction(1, 16)),
    ("1/2″ = 1′-0″", Fraction(1, 24)),
    ("3/8″ = 1′-0″", Fraction(1, 32)),
    ("1/4″ = 1′-0″", Fraction(1, 48)),
    ("3/16″ = 1′-0″", Fraction(1, 64)),
    ("1/8″ = 1′-0″", Fraction(1, 96)),
    ("1/16″ = 1′-0″", Fraction(1, 192)),
    ("1/32″ = 1′-0″", Fraction(1, 384)),
    ("1/64″ = 1′-0″", Fraction(1, 768)),
)
"""The usual architectural scales, inches on paper to a foot; common practice."""
METRIC_SCALES = tuple(Fraction(1, n) for n in (1, 2, 5, 10, 20, 25, 50, 100, 200, 500, 1000))
"""ISO 5455, from memory, with 1:25, which shops use."""
LARGER = tuple(Fraction(n) for n in (10, 5, 4, 3, 2))
"""Scales of enlargement."""


@dataclass(frozen=True)
class Scale:
    """A scale: mm on the page for each mm of the thing, and its name."""

    ratio: Fraction
    name: str

    @property
    def factor(self) -> float:
        """The ratio as a float."""
        return float(self.ratio)


def scales(unit: Unit, enlarged: bool = False) -> Iterator[Scale]:
    """The usual scales for a scene in that unit, the largest first.

    >>> [scale.name for scale in scales("in")][:4]
    ['full size', '6″ = 1′-0″ (1:2)', '3″ = 1′-0″ (1:4)', '1 ¹⁄₂″ = 1′-0″ (1:8)']
    """
    if enlarged:
        yield from (Scale(ratio, f"{ratio}:1") for ratio in LARGER)
    if unit in ("in", "ft"):
        yield from (scale_of(ratio, unit) for _, ratio in INCH_SCALES)
    else:
        yield from (scale_of(ratio, unit) for ratio in METRIC_SCALES)


def largest(sizes: Iterable[Scale], size: tuple[float, float], room: tuple[float, float]) -> Scale:
    """The first of some scales at which a size fits a room (both width and height, mm); the last where none does."""
    found = list(sizes)
    fits = (s for s in found if size[0] * s.factor <= room[0] and size[1] * s.factor <= room[1])
    return next(fits, found[-1])


def scale_of(ratio: Fraction, unit: Unit) -> Scale:
    """Any ratio as a scale, by the name that it has in that unit.

    >>> scale_of(Fraction(1, 8), "mm").name, scale_of(Fraction(1), "mm").name, scale_of(Fraction(2), "in").name
    ('1:8', '1:1, full size', '2:1')
    """
    plain = f"{ratio.numerator}:{ratio.denominator}"
    named = {each: name for name, each in INCH_SCALES}
    if unit not in ("in", "ft") or ratio not in named:
        return Scale(ratio, plain + (", full size" if ratio == 1 else ""))
    if ratio == 1:
        return Scale(ratio, named[ratio])
    inches, _, foot = named[ratio].partition("″")
    *whole, last = inches.split(" ")
    set_last = fraction(float(Fraction(last)) * INCH).removesuffix("″")
    return Scale(ratio, f"{' '.join([*whole, set_last])}″{foot} ({plain})")


def length_text(mm: float, unit: Unit) -> str:
    """A length as a dimension gives it: inches, feet and inches, or millimeters, without the unit's name.

    >>> length_text(1612.9, "in"), length_text(1612.9, "ft"), length_text(320, "cm"), length_text(304.8, "ft")
    ('63¹⁄₂″', '5′ 3¹⁄₂″', '320', '1′ 0″')
    """
    if unit == "in":
        return fraction(mm)
    if unit == "ft":
        about = fraction(mm).startswith("≈")
        grid = INCH / 32
        shown = round(mm / grid) * grid
        feet = int(shown / FOOT + 1e-9)
        rest = fraction(max(shown - feet * FOOT, 0.0))
        return ("≈" if about else "") + (f"{feet}′ {rest}" if feet else rest)
    return metric(mm)
