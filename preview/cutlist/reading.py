"""Lengths as they are read off a rule, and what that rounding adds up to. The model itself is never rounded."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from preview.cutlist.making import CutList
from preview.cutlist.walk import reassembled
from preview.errors import PreviewError
from preview.runs import Run
from preview.units import Unit, counted, inches

INCH = 25.4
FINEST = 64
ROUND = 1e-9
EXACT = 1e-6
"""A length this near to its reading, mm, is read as it is."""
_MM_PER: dict[Unit, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": Fraction(254, 10),
    "ft": Fraction(3048, 10),
}


@dataclass(frozen=True)
class ReadLength:
    """A length as it is read. text: as a shop writes it. read: that, mm. error: true minus read, mm."""

    text: str
    read: float
    error: float

    @property
    def exact(self) -> bool:
        """Whether nothing was rounded."""
        return abs(self.error) <= EXACT

    @property
    def told(self) -> str:
        """The reading with what it leaves out, + where the piece is really longer."""
        return self.text if self.exact else f"{self.text} ({self.error:+.2f} mm)"


def read_length(mm: float, rounding: float, unit: Unit) -> ReadLength:
    """A length (mm) read to the nearest multiple of `rounding` (mm), half a step to the even one.

    In inches by halves of halves it is written as a fraction, else as a decimal in the unit. Raises PreviewError for a
    rounding that is not more than nothing.

    >>> read_length(355.6, 1.5875, "in"), read_length(32, 1.5875, "in").told
    (ReadLength(text='14"', read=355.6, error=0.0), '1 1/4" (+0.25 mm)')
    >>> read_length(62.83185, 0.5, "mm")
    ReadLength(text='63.0 mm', read=63.0, error=-0.16815)
    """
    if not 0.0 < rounding < float("inf"):
        raise PreviewError(
            "rounding", f"{rounding:g} mm", "lengths cannot be read to nothing", 'write a fraction such as "1/16"'
        )
    parts = INCH / rounding
    denominator = round(parts)
    fractional = abs(parts - denominator) < ROUND * parts and denominator in (1, 2, 4, 8, 16, 32, FINEST)
    if unit in ("in", "ft") and fractional:
        shown = inches(mm, denominator, feet=unit == "ft")
        return ReadLength(shown.text, float(Fraction(repr(float(mm))) - Fraction(shown.remainder)), shown.remainder)
    true, step = Fraction(repr(float(mm))), Fraction(repr(float(rounding)))
    read = round(true / step) * step
    places = _places(step / _MM_PER[unit])
    return ReadLength(f"{float(read / _MM_PER[unit]):.{places}f} {unit}", float(read), float(true - read))


def _places(step: Fraction) -> int:
    """How many decimals a multiple of a step needs; no more than four."""
    for places in range(4):
        if (step * 10**places).denominator == 1:
            return places
    return 4


@dataclass(frozen=True)
class RoundedRun:
    """What reading its lengths does to one member of a run.

    lengths: how many are read. total: all that is rounded off along the run, true minus read, mm: + where the pieces
    come out short. most: what it could have been at the worst. opens: how far, mm, the run's end (of a closed run, its
    start) would be missed in plan and height if every piece were cut to its reading. sentence: all of it.
    """

    run: str
    member: str
    lengths: int
    total: float
    most: float
    opens: float
    sentence: str


def roundings(cuts: CutList, runs: Iterable[Run], rounding: float, unit: Unit) -> tuple[RoundedRun, ...]:
    """What the rounding of lengths adds up to along every member of every run, on the back of the wood.

    Curves and easements are made to a template and are not read.
    """
    pieces = {piece.name: piece for piece in cuts.pieces}
    # On the back, which is what is read; where no one line of it can be walked, on the wall line.
    walked = {
        (each.run, each.member): each.error
        for each in reassembled(cuts, runs, read=lambda mm: read_length(mm, rounding, unit).read)
        if each.line != "face"
    }
    step = read_length(rounding, rounding, unit).text
    found: list[RoundedRun] = []
    for order in cuts.orders:
        lengths = [pieces[name].back for name in order.names if pieces[name].kind in ("straight", "return")]
        total = sum(read_length(each, rounding, unit).error for each in lengths)
        opens = walked[order.run, order.member]
        sentence = f"{order.run} / {order.member}: {counted(len(lengths), 'length')} read to {step}"
        if abs(total) > EXACT or opens > EXACT:
            way = "misses its start by" if order.closed else "misses its measured end by"
            sentence += (
                f", together {abs(total):.2f} mm {'short' if total > 0 else 'long'}; "
                f"cut so, the run {way} {opens:.2f} mm"
            )
        else:
            sentence += ", and nothing is lost by it"
        found.append(
            RoundedRun(order.run, order.member, len(lengths), total, len(lengths) * rounding / 2, opens, sentence)
        )
    return tuple(found)
