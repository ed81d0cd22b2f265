"""A corner cut out of its run: the elements beside it cut off short, built again, so that its joints are exact."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from preview.build import Built, build
from preview.drafting.tags import travel_order
from preview.errors import PreviewError
from preview.joinery import Piece
from preview.profiles import measure
from preview.runs import Element, Run
from preview.scene import Scene
from preview.vantage import Corner, Job

LEGS = 1.7
"""How long what is shown beside a corner is, as a multiple of the molding's larger side."""
SHORTEST = 60.0
"""mm"""
HALF = 0.5
"""Of a straight that leads to another corner no more than this part is shown."""
SAME = 1e-6


@dataclass(frozen=True)
class Snippet:
    """A corner by itself.

    built: the little job that is only the corner. pieces: for each of its pieces the piece of the whole job that it is
    cut from. cut: which ends of the little run were cut off (begin, end). shape: the same for corners that look alike.
    """

    built: Built
    pieces: tuple[int, ...]
    cut: tuple[bool, bool]
    shape: tuple[object, ...]


def snippet(job: Job, corner: Corner) -> Snippet | None:
    """A corner cut out of its run; None where what is left of it cannot be built by itself."""
    run = job.runs[list(job.paths)[corner.path]]
    numbers = around(job, corner, run)
    for times in (1.0, 1.6, 2.6):
        made = _cut_out(job, corner, run, numbers, times)
        try:
            little = build(made[0])
        except PreviewError:
            continue
        pieces = tuple(_original(job.built, run, piece, numbers) for piece in little.pieces)
        return Snippet(little, pieces, made[1], _shape(little, corner))
    return None


def around(job: Job, corner: Corner, run: Run) -> list[int]:
    """The elements of a run that make a corner, by number, in the order of travel."""
    count = len(run.elements)
    mine = [job.built.pieces[i] for spot in corner.spots for i in spot.pieces]
    curves = [piece for piece in mine if piece.kind in ("curve", "block")]
    if len(mine) and all(piece.kind == "curve" for piece in mine):
        middle = curves[0].index - 1
        found = [middle - 1, middle, middle + 1]
    elif any(piece.role == "block" and piece.stand == run.stand for piece in curves):
        middle = next(piece.index - 1 for piece in curves if piece.role == "block")
        found = [middle - 1, middle, middle + 1]
    else:
        path = job.paths[run.name]
        starts = [*path.starts, path.length]
        at = min(range(len(starts)), key=lambda i: abs(starts[i] - corner.station))
        found = [at - 1, at]
    if run.closed:
        return [i % count for i in found]
    return [i for i in found if 0 <= i < count]


def _cut_out(
    job: Job, corner: Corner, run: Run, numbers: Sequence[int], times: float
) -> tuple[Scene, tuple[bool, bool]]:
    """The scene that is only a corner, and which of its run's ends were cut off."""

    scene = job.built.scene
    placed = next(each for each in scene.runs if each.run is run)
    members = {member.name: member for member in scene.members}
    sizes = [measure(members[name].profile) for name in placed.members]
    large = max((max(s.d_max - min(s.d_min, 0.0), s.h_max - s.h_min) for s in sizes), default=SHORTEST)
    out = max((size.d_max for size in sizes), default=0.0)
    legs = max(LEGS * large, SHORTEST) * times
    count = len(run.elements)
    first, last = numbers[0], numbers[-1]
    elements = [run.elements[i] for i in numbers]
    free = (not run.closed and first == 0, not run.closed and last == count - 1)
    cut = [False, False]
    path = job.paths[run.name]
    alone = len(numbers) == 1  # a return, at one end of the one element
    at_begin = alone and corner.station - path.starts[first] < elements[0].walked(elements[0].length) / 2
    whole = [bool(run.blocks and run.blocks[i]) for i in numbers]
    if not at_begin and not whole[0]:
        keep = _kept(elements[0], legs, out, free[0])
        if keep < elements[0].length - SAME:
            elements[0] = trimmed(elements[0], elements[0].length - keep, elements[0].length)
            cut[0] = True
    if (not alone or at_begin) and not whole[-1]:
        keep = _kept(elements[-1], legs, out, free[1])
        if keep < elements[-1].length - SAME:
            elements[-1] = trimmed(elements[-1], 0.0, keep)
            cut[1] = True
    little = replace(
        run,
        elements=tuple(elements),
        turns=(0.0, *(run.turns[i] for i in numbers[1:])),
        closed=False,
        places=tuple(run.places[i] for i in numbers) if run.places else (),
        ways=tuple(run.ways[i] for i in numbers) if run.ways else (),
        begin=run.begin if free[0] and not cut[0] else "square",
        end=run.end if free[1] and not cut[1] else "square",
        blocks=tuple(run.blocks[i] for i in numbers) if run.blocks else (),
    )
    only = replace(
        scene,
        runs=(replace(placed, run=little, wall=None, survey=None),),
        surroundings=(),
        site=None,
        choices=(),
        variants=(),
    )
    return only, ((cut[0] or not free[0]), (cut[1] or not free[1]))


def _kept(element: Element, legs: float, out: float, free: bool) -> float:
    """How much of an element beside a corner is shown, mm in plan: less where it leads to another corner."""
    if free:
        return min(element.length, legs)
    return min(legs, max(HALF * element.length, min(1.5 * out + 10.0, element.length)))


def trimmed(element: Element, begin: float, end: float) -> Element:
    """The part of an element between two stations, mm in plan."""
    share = (end - begin) / element.length
    return replace(
        element,
        start=element.point(begin),
        tangent=element.tangent_at(begin) if begin else element.tangent,
        length=end - begin,
        sweep=element.sweep * share,
        height=element.height + element.rise(begin),
        slope=element.slope_at(begin),
    )


def _original(built: Built, run: Run, piece: Piece, numbers: Sequence[int]) -> int:
    """The piece of the whole job that a little one is cut from."""
    index = numbers[piece.index - 1] + 1
    part = travel_order(piece) - piece.index
    for number, other in enumerate(built.pieces):
        same = other.run == run.name and other.member == piece.member and other.index == index
        if same and other.role == piece.role and abs(travel_order(other) - other.index - part) < SAME:
            return number
    raise KeyError(piece.name)


def _shape(little: Built, corner: Corner) -> tuple[object, ...]:
    """What makes two corners look alike, whichever way they are walked past."""
    (placed,) = little.scene.runs
    run = placed.run
    row: list[tuple[object, ...]] = []
    for turn, element in zip(run.turns, run.elements, strict=True):
        if turn:
            row.append(("turn", round(run.hand * turn, 6)))
        bend = round(run.hand * element.curvature, 9)
        climb = (round(abs(element.slope), 6), round(abs(element.bend), 9))
        row.append(("element", bend, round(abs(element.sweep), 6) if bend else 0.0, climb))
    forward, backward = tuple(row), tuple(reversed(row))
    kinds = tuple(
        sorted({pair.joint.kind for pair in little.joints if pair.before is not None and pair.after is not None})
    )
    return (tuple(corner.words), placed.members, run.stand.z, kinds, min(forward, backward, key=str))


def turn_of(run: Run) -> float:
    """How much a little run turns in all, radians, + toward the room."""
    return run.hand * (math.fsum(run.turns) + math.fsum(element.sweep for element in run.elements))
