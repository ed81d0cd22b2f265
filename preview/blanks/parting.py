"""Sawing a round blank into corner pieces: how many it yields, what the kerfs cost, and what is done about it.

A saw's slot has parallel sides, and a piece's end lies on a plane through the axis. So between two true ends

              |#|    /        the slot, `kerf` wide, lies flush with one end and
              |#|   /         must clear the other where that is nearest: at the
              |#|  /          finished inside radius, where an angle is shortest.
              |#| /
              |#|/   <-- inside radius        kerf angle = asin(kerf / inside radius)

the saw passes twice, once flush with each end. Where a round holds just so many pieces that nothing is left over
for the slots (four true quarters) one pass down the middle takes half a kerf off each end, and the ends stay square to
their neighbors.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from preview.errors import PreviewError
from preview.units import Unit, counted, degrees_text, show

RemedyKind = Literal["spare", "longer neighbors", "fewer pieces", "packed joints", "paper joints"]

SMALLEST_STEP = 0.1
"""A step between faces, mm, that is let pass: the Custom limit for flushness of joints fitted in the shop
(Architectural Woodwork Standards, 1st ed. (2009), section 6, 4.4.1.8.1)."""
SMALLEST_KINK = math.radians(2)
"""A change of direction along the face that sanding takes out; common practice."""
SAME = 1e-9
WHOLE = 1e-6
"""A round that holds a number of pieces to within this part of one holds it."""


@dataclass(frozen=True)
class Remedy:
    """One way to allow for the kerfs; lengths in mm.

    pieces: that the blank yields so. longer: what each neighbor is made longer than on the list. kink, step: how far,
    in radians and mm, a piece's end is out of line with a neighbor, at the radius where that is most. larger: on the
    finished diameters. flat: how far the middle of the arc lies within the true one. words: all of it.
    """

    kind: RemedyKind
    pieces: int
    words: str
    longer: float = 0.0
    kink: float = 0.0
    step: float = 0.0
    larger: float = 0.0
    flat: float = 0.0


@dataclass(frozen=True)
class Parting:
    """How a round is parted; angles in radians.

    kerf_angle: between two true ends with a slot between them. true: how many true pieces the round yields; most: how
    many it would yield if a saw took nothing. loss: what the end of each piece loses, mm, when the most are taken and
    one slot runs between them. lost: how much of the round the kerfs of so many take, at the inside radius.
    remedies: every one that may be used; chosen: the soundest, and why.
    spans: the angles at which each piece begins and ends in the blank, with a glue line at 0. lines: for each piece,
    how far past its beginning glue lines cross its face.
    """

    kerf_angle: float
    true: int
    most: int
    loss: float
    lost: float
    remedies: tuple[Remedy, ...]
    chosen: Remedy
    why: str
    spans: tuple[tuple[float, float], ...]
    lines: tuple[tuple[float, ...], ...]

    @property
    def pieces(self) -> int:
        """How many pieces the blank yields by the chosen way."""
        return self.chosen.pieces

    @property
    def one_stave(self) -> bool:
        """Whether no piece has a glue line in its face."""
        return not any(self.lines)

    @property
    def clear(self) -> int:
        """How many of the pieces have no glue line in the face."""
        return sum(not lines for lines in self.lines)


def part(
    sweep: float,
    outer: float,
    inner: float,
    *,
    kerf: float,
    staves: int,
    face: float | None = None,
    meets_straights: bool = False,
    glued_to_part: bool = True,
    wanted: int | None = None,
    unit: Unit = "in",
) -> Parting:
    """How a round (finished radii, mm) is sawn into pieces that each take `sweep` radians.

    staves: how many glue lines it has, evenly round it. face: the least radius of the face, where a kink shows most.
    meets_straights: whether straights meet both ends, so that they may be longer. glued_to_part: whether its glue lines
    run right through, so that some of them may be packed, or parted without a saw.
    Raises PreviewError when not one piece can be had.
    """
    if kerf >= inner:
        raise PreviewError(
            "blank, kerf",
            show(kerf, unit),
            f"the kerf is as wide as the inside radius, {show(inner, unit)}, so that no two ends can stand beside it",
            "use a thinner blade",
        )
    turn = 2 * math.pi
    kerf_angle = math.asin(kerf / inner)
    true = math.floor(turn / (sweep + kerf_angle) + WHOLE)
    most = math.floor(turn / sweep + WHOLE)
    gap = max(0.0, turn / most - sweep) if most else 0.0
    loss = max(0.0, kerf / 2 * math.cos(gap / 2) - math.sqrt(inner**2 - kerf**2 / 4) * math.sin(gap / 2))
    if not true:
        raise PreviewError(
            "blank, sweep",
            degrees_text(sweep),
            f"the piece takes {degrees_text(sweep)} and the kerf {degrees_text(kerf_angle)} at the inside radius of "
            f"{show(inner, unit)}: together more than the 360° of a round",
            "make it in two pieces, or bend it",
        )
    remedies = _remedies(
        _Round(sweep, outer, inner, kerf, staves, face or outer), true, most, loss, meets_straights, glued_to_part, unit
    )
    chosen, why = _soundest(remedies, unit)
    if wanted is not None and wanted <= true < most:
        few = _few(wanted, sweep)
        if not any(_lines(*span, staves, 0.0) for span in _spans(few, sweep, staves)):
            remedies, chosen = (few, *remedies), few
            why = f"No more than {wanted} is wanted: nothing has to be made longer, and the rest of the round is waste."
    spans = _spans(chosen, sweep, staves)
    near = math.asin(loss / inner) if chosen.kind == "longer neighbors" else 0.0
    lines = tuple(_lines(start, stop, staves, near) for start, stop in spans)
    return Parting(kerf_angle, true, most, loss, most * kerf_angle, remedies, chosen, why, spans, lines)


@dataclass(frozen=True)
class _Round:
    sweep: float
    outer: float
    inner: float
    kerf: float
    staves: int
    face: float


def _remedies(
    r: _Round, true: int, most: int, loss: float, straights: bool, glued: bool, unit: Unit
) -> tuple[Remedy, ...]:
    """Every way to allow for the kerfs of this round."""
    if true == most:
        words = f"The kerfs come out of what is left over: {counted(true, 'true piece')} to a blank."
        return (Remedy("spare", true, words),)
    found: list[Remedy] = []
    if straights:
        step = r.inner - math.sqrt(r.inner**2 - loss**2)
        seen = math.asin(loss / r.face)
        found.append(
            Remedy(
                "longer neighbors",
                most,
                f"{counted(most, 'piece')} to a blank, each end {show(loss, unit)} short; cut each straight beside one "
                f"{show(loss, unit)} longer than listed. The face turns by {degrees_text(seen)} at the joint and the "
                f"surfaces are {_hair(step, unit)} out of line there.",
                longer=loss,
                kink=seen,
                step=step,
            )
        )
    found.append(
        Remedy(
            "fewer pieces",
            true,
            f"{counted(true, 'true piece')} to a blank in place of {most}: nothing is short, and "
            f"{degrees_text(2 * math.pi - true * r.sweep)} of the round are kerfs and waste.",
        )
    )
    if glued and r.staves % most == 0 and abs(most * r.sweep - 2 * math.pi) < WHOLE:
        larger = 2 * (_packed_radius(r.outer, r.sweep, loss) - r.outer)
        flat = r.face + loss / math.sin(r.sweep / 2) - _packed_radius(r.face, r.sweep, loss)
        found.append(
            Remedy(
                "packed joints",
                most,
                f"{counted(most, 'piece')} to a blank: pack each joint that will be sawn with a strip one kerf thick "
                f"and turn all diameters {show(larger, unit)} larger, so that the ends come true; put together, the "
                f"pieces are out of round, the middle of each arc {show(flat, unit)} flat.",
                larger=larger,
                flat=flat,
            )
        )
        found.append(
            Remedy(
                "paper joints",
                most,
                f"{counted(most, 'true piece')} to a blank: glue the joints between pieces with paper in them and "
                f"split them with a chisel, without a kerf. Such a joint is weak by design: it needs end plates or "
                f"clamps and slow turning.",
            )
        )
    return tuple(found)


def _few(wanted: int, sweep: float) -> Remedy:
    """So many true pieces and no more, evenly round the blank."""
    return Remedy(
        "fewer pieces",
        wanted,
        f"{counted(wanted, 'true piece')} to a blank, sawn outside the glue lines that bound it: nothing is short, and "
        f"{degrees_text(2 * math.pi - wanted * sweep)} of the round are kerfs and waste.",
    )


def _packed_radius(radius: float, sweep: float, loss: float) -> float:
    """What a radius is turned to so that a piece that loses `loss` at each end still has its ends on that radius.

    The planes of its ends meet loss / sin(sweep / 2) from the axis; measured from there along them, the ends lie
    sqrt(R² - loss²) - loss / tan(sweep / 2) away.
    """
    return math.hypot(radius + loss / math.tan(sweep / 2), loss)


def _soundest(remedies: tuple[Remedy, ...], unit: Unit) -> tuple[Remedy, str]:
    """The one to use, and why."""
    by = {remedy.kind: remedy for remedy in remedies}
    if "spare" in by:
        return by["spare"], "Nothing is lost: the round has room for the kerfs."
    longer = by.get("longer neighbors")
    if longer and longer.step <= SMALLEST_STEP and longer.kink <= SMALLEST_KINK:
        return longer, (
            f"It loses no piece and weakens no joint, and what it costs can hardly be seen: a turn of "
            f"{degrees_text(longer.kink)} (up to {degrees_text(SMALLEST_KINK)} sands out) and a step of "
            f"{_hair(longer.step, unit)} (shop-fitted joints are allowed {show(SMALLEST_STEP, 'mm')} at Custom grade)."
        )
    because = "no straight meets both of its ends, to be made longer"
    if longer:
        because = (
            f"with longer neighbors the face would turn by {degrees_text(longer.kink)} at the joint and step by "
            f"{_hair(longer.step, unit)}"
        )
    others = (
        "; packed joints leave the arcs flat, and a paper joint may open on the lathe" if "packed joints" in by else ""
    )
    return by["fewer pieces"], f"Every piece is true; {because}{others}."


def _hair(mm: float, unit: Unit) -> str:
    """A very small length."""
    return f'{mm / 25.4:.3f}"' if unit in ("in", "ft") else f"{mm:.2f} mm"


def _spans(chosen: Remedy, sweep: float, staves: int) -> tuple[tuple[float, float], ...]:
    """Where the pieces lie, evenly round the blank, turned so that the fewest have a glue line in the face.

    They may be turned so that a slot falls on a glue line, or a piece on the middle of a stave or on a glue line.
    """
    pitch = 2 * math.pi / chosen.pieces
    width = 2 * math.pi / staves
    best: tuple[tuple[float, float], ...] = ()
    rank: tuple[int, float] | None = None
    for start in ((pitch - sweep) / 2, (width - sweep) / 2, -sweep / 2):
        spans = tuple((start + i * pitch, start + i * pitch + sweep) for i in range(chosen.pieces))
        lines = [_lines(begin, stop, staves, 0.0) for begin, stop in spans]
        from_ends = [min(line, sweep - line) for each in lines for line in each]
        mine = (sum(map(len, lines)), -min(from_ends, default=0.0))
        if rank is None or mine < (rank[0], rank[1] - SAME):
            best, rank = spans, mine
    return best


def _lines(start: float, stop: float, staves: int, near: float) -> tuple[float, ...]:
    """The glue lines between two angles, from the first; none that lies within `near` of an end, where the kerf is."""
    width = 2 * math.pi / staves
    first = math.floor(start / width)
    last = math.ceil(stop / width)
    found = (i * width for i in range(first + 1, last))
    return tuple(line - start for line in found if start + near + SAME < line < stop - near - SAME)
