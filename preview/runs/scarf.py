"""Straights longer than the stock, made of several pieces with scarf joints between them.

A scarf is an upright cut through the wall line at a slant; the piece before it laps the one after. How far a piece
reaches beyond its length on the wall line depends on how far out the molding stands and on how both its ends are cut:

      wall ____________________________       out at a scarf's first side:   slant
           \\   before      /  after            out at its second:            -slant
            \\_____________/_________           out at a miter:               -tan(turn/2), the turn + toward the room

so a molding that stands from d1 to d2 out needs  length + sum over both ends of max(out d1, out d2)  of stock.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from preview.errors import PreviewError, Problem
from preview.profiles import Profile
from preview.runs.element import Element
from preview.runs.ends import ENDS, EndWay, run_back
from preview.runs.run import Run
from preview.runs.steps import MITER, Way
from preview.units import Unit, show

ON_THE_WALL_LINE = ((0.0, 0.0),)
MOST_PIECES = 1000
"""A straight of more pieces than this is given in the wrong unit, or its stock is."""
FITS_WITHIN = 1e-6
"""A piece may be longer than the stock by this many mm, which is rounding."""

Spans = Sequence[tuple[float, float]]


def scarfed(
    run: Run,
    stock: float,
    slant: float,
    from_corner: float,
    allowance: float = 0.0,
    spans: Spans = ON_THE_WALL_LINE,
    unit: Unit = "mm",
    profiles: Sequence[Profile] = (),
) -> Run:
    """The run with every straight that is longer than the stock made of the fewest pieces, as equal as can be.

    stock: the longest piece there is, mm. slant: of the scarfs, mm along the run for each mm out. from_corner: no joint
    lies nearer, mm on the wall line, to an end of its straight. allowance: mm that every piece needs besides. spans:
    for each member, how far out its back and its face stand, mm. profiles: of the members, by which ends
    are beveled. A curve, an easement or a block is never scarfed.
    Raises PreviewError, with the numbers, for a straight that cannot be made so.
    """
    problems: list[Problem] = []
    made: list[tuple[Element, int, float, Way]] = []
    ends = _end_out(run.begin, profiles), _end_out(run.end, profiles)
    for i, element in enumerate(run.elements):
        parts: list[float] | None = [element.length]
        if not (element.curvature or element.bend or (run.blocks and run.blocks[i])):
            parts = _parts(run, i, stock, slant, from_corner, allowance, spans, ends)
        if parts is None:
            problems.append(_too_long(run, i, stock, from_corner, unit))
            continue
        station = 0.0
        for count, length in enumerate(parts):
            piece = element if len(parts) == 1 else _part(element, station, length)
            way = Way("scarf", slant=slant) if count else _way(run, i)
            made.append((piece, i, 0.0 if count else run.turns[i], way))
            station += length
    if problems:
        raise PreviewError.several(problems)
    of = [i for _, i, _, _ in made]
    return replace(
        run,
        elements=tuple(piece for piece, _, _, _ in made),
        turns=tuple(turn for _, _, turn, _ in made),
        places=tuple(run.places[i] for i in of) if run.places else (),
        ways=tuple(way for _, _, _, way in made),
        blocks=tuple(run.blocks[i] for i in of) if run.blocks else (),
    )


def _part(element: Element, station: float, length: float) -> Element:
    return replace(element, start=element.point(station), length=length, height=element.height + element.rise(station))


def _way(run: Run, i: int) -> Way:
    return run.ways[i] if run.ways else MITER


def _parts(
    run: Run,
    i: int,
    stock: float,
    slant: float,
    from_corner: float,
    allowance: float,
    spans: Spans,
    ends: tuple[float, float],
) -> list[float] | None:
    """The lengths, mm on the wall line, of the pieces of a straight; None when there are none that fit."""
    element = run.elements[i]
    level = 1 / math.hypot(1.0, element.slope)

    def room(begin: float, end: float) -> float:
        """The longest a piece may be on the wall line, with the outs of its two ends."""
        reach = max(sum(max(out * back, out * face) for out in (begin, end)) for back, face in spans)
        return (stock - allowance) * level - reach

    begin, end = _outs(run, i, ends)
    if element.length <= room(begin, end) + FITS_WITHIN:
        return [element.length]
    first, middle, last = room(begin, slant), room(-slant, slant), room(-slant, end)
    if min(first, last) < from_corner - FITS_WITHIN or min(first, last) <= 0:
        return None
    count, missing = 2, element.length - first - last - FITS_WITHIN
    if missing > 0:
        if middle <= 0:
            return None
        count += math.ceil(missing / middle)
    if count > MOST_PIECES:
        return None
    return _shared([first, *[middle] * (count - 2), last], element.length, from_corner)


def _shared(rooms: list[float], length: float, from_corner: float) -> list[float] | None:
    """A length shared out so that all pieces have as much stock to spare, the two at the ends not under a least."""
    parts = dict.fromkeys(range(len(rooms)), 0.0)
    free, left = list(parts), length
    while free:
        spare = (sum(rooms[i] for i in free) - left) / len(free)
        for i in free:
            parts[i] = rooms[i] - spare
        short = [i for i in free if i in (0, len(rooms) - 1) and parts[i] < from_corner]
        for i in short:
            parts[i] = from_corner
        left -= from_corner * len(short)
        free = [i for i in free if i not in short]
        if not short:
            break
    found = list(parts.values())
    fits = all(0 < part <= most + FITS_WITHIN for part, most in zip(found, rooms, strict=True))
    return found if fits and abs(sum(found) - length) < FITS_WITHIN else None


def _outs(run: Run, i: int, ends: tuple[float, float]) -> tuple[float, float]:
    """How much longer, mm for each mm out, a straight is at its begin and its end than on the wall line."""
    count = len(run.elements)
    begin = _corner_out(run, i, "after") if i or run.closed else ends[0]
    end = _corner_out(run, (i + 1) % count, "before") if i + 1 < count or run.closed else ends[1]
    return begin, end


def _end_out(way: EndWay, profiles: Sequence[Profile]) -> float:
    if way not in ENDS:
        return max((-run_back(way, profile) for profile in profiles), default=0.0)
    return 1.0 if way == "return" else 0.0


def _corner_out(run: Run, i: int, side: str) -> float:
    """The same at the joint just before element i, for the piece on one side of it."""
    turn, way = run.hand * run.turns[i], _way(run, i)
    if way.kind == "cope":  # the coped piece stops at the other's face; the other runs on to the wall
        return 0.0 if way.coped == side else 1 / math.tan(turn)
    if way.kind == "block":
        return 0.0
    if way.kind == "scarf":
        return way.slant if side == "before" else -way.slant
    return -math.tan(turn / 2)


def _too_long(run: Run, i: int, stock: float, from_corner: float, unit: Unit) -> Problem:
    element = run.elements[i]
    long = element.length * math.hypot(1.0, element.slope)
    said = f"this straight is {show(long, unit)} long and the stock {show(stock, unit)}"
    if from_corner:
        said += f", and a joint has to lie at least {show(from_corner, unit)} from each of its ends"
    return Problem(
        run.places[i] if run.places else f"element {i + 1}",
        None,
        f"{said}: no scarf fits",
        "use longer stock" + (" or a smaller from_corner" if from_corner else ""),
    )
