"""What each piece of a member follows: an element of the run, what a block leaves of it, or a return into the wall."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from preview.errors import PreviewError, Problem
from preview.joinery.refusals import place
from preview.profiles import Profile
from preview.runs import MITER, Element, Run, Way, turned
from preview.units import Unit, show

QUARTER = math.pi / 2
FULL_CIRCLE = 1e-9
"""Shears of a closed run that come round to within this are the same."""


@dataclass(frozen=True)
class BlockShape:
    """A plinth or corner block as a run sees it, mm.

    section: across the run, (d, h) from the run's own line and plan. width: the side of a corner block in plan, at an
    inside corner. lap: how far one at an outside corner covers each of the two walls; side: how far it stands out from
    them. offset: how far out from the run's line a corner block begins.
    """

    name: str
    section: Profile
    width: float
    lap: float
    side: float
    offset: float = 0.0


@dataclass(frozen=True)
class Part:
    """What one piece follows: an element of the run, or a return's line into the wall.

    index: of the element in the run, or of the one beside a return. turn, way: of the corner just before it. block: the
    name of the block that stands here in place of molding, "" where none does.
    """

    element: Element
    index: int
    label: str
    square: bool = False
    is_return: bool = False
    turn: float = 0.0
    way: Way = MITER
    block: str = ""


def parts_of(run: Run, blocks: Mapping[str, BlockShape]) -> list[Part]:
    """The pieces-to-be along a run, returns and blocks included, each with the corner just before it."""
    same = run.raked == "same"
    parts: list[Part] = []
    for i, element in enumerate(run.elements):
        kind = "curve" if element.curvature else "easement" if element.bend else "straight"
        block = run.blocks[i] if run.blocks else ""
        parts.append(
            Part(
                element,
                i,
                f"{i + 1} {'block' if block else kind}",
                square=same and bool(element.slope) and not element.bend,
                turn=run.hand * run.turns[i],
                way=run.ways[i] if run.ways else MITER,
                block=block,
            )
        )
    if run.begin == "return":
        first = parts[0]
        out = turned(first.element.tangent, run.hand * QUARTER)
        wedge = Element(first.element.start, out, 0.0, height=first.element.height)
        parts[0] = replace(first, turn=-QUARTER)
        parts.insert(0, Part(wedge, 0, "begin return", is_return=True))
    if run.end == "return":
        last = run.elements[-1]
        back = turned(last.end_tangent, -run.hand * QUARTER)
        wedge = Element(last.end, back, 0.0, height=last.end_height)
        parts.append(Part(wedge, len(run.elements) - 1, "end return", is_return=True, turn=-QUARTER))
    return _with_corner_blocks(parts, run.closed, blocks)


def _with_corner_blocks(parts: Sequence[Part], closed: bool, blocks: Mapping[str, BlockShape]) -> list[Part]:
    """The parts with a block at each corner that has one, and the straights beside it that much shorter."""
    found = list(parts)
    for i, part in enumerate(parts):
        if part.way.kind != "block" or not (i or closed):
            continue
        back = set_back(blocks[part.way.block], part.turn)
        found[i - 1] = replace(found[i - 1], element=_without(found[i - 1].element, 0.0, back))
        found[i] = replace(found[i], element=_without(found[i].element, back, 0.0))
    laid: list[Part] = []
    for i, part in enumerate(found):
        if part.way.kind == "block" and (i or closed):
            corner = parts[i].element
            laid.append(
                Part(corner, part.index, f"{part.index + 1} corner block", turn=part.turn, block=part.way.block)
            )
            part = replace(part, way=MITER, turn=0.0)
        laid.append(part)
    return laid


def refuse_blocks(
    run: Run, member: str, parts: Sequence[Part], blocks: Mapping[str, BlockShape], out: float, unit: Unit
) -> None:
    """Refuse corner blocks that molding which stands `out` mm out from the wall would run past."""
    problems: list[Problem] = []
    for part in parts:
        if not part.block or part.turn <= 0:
            continue
        block = blocks[part.block]
        if block.width + block.offset < out - 1e-9:
            aside = f"{show(abs(block.offset), unit)} {'off' if block.offset > 0 else 'into'} the walls"
            stands = f", {aside}," if block.offset else ""
            problems.append(
                Problem(
                    place(run, member, part.index),
                    None,
                    f'the corner block "{part.block}" is {show(block.width, unit)} wide{stands} and the molding stands '
                    f"{show(out, unit)} out, so that the two moldings would run into each other",
                    f"make the block at least {show(out - block.offset, unit)} wide",
                )
            )
    if problems:
        raise PreviewError.several(problems)


def set_back(block: BlockShape, turn: float) -> float:
    """How far from the corner, mm along the wall, molding stops at a corner block."""
    return block.width + block.offset if turn > 0 else block.lap - block.offset


def _without(element: Element, first: float, last: float) -> Element:
    """A straight less some length (mm in plan) at its start and at its end."""
    return replace(
        element,
        start=element.point(first),
        height=element.height + element.rise(first),
        length=element.length - first - last,
    )


def raised(part: Part, by: float) -> Part:
    """A part whose back line stands higher, mm."""
    return replace(part, element=replace(part.element, height=part.element.height + by))


def shears_of(run: Run, member: str, parts: Sequence[Part]) -> list[float]:
    """How much each piece's section is sheared so that all meet at plumb cuts: 0 on the first level one, or where none
    is level on the first of all.

    Across a corner of turn t between slopes m and n the shear falls by (m + n) tan(t/2).
    """
    count = len(parts)
    if run.raked == "same" or not any(part.element.slope or part.element.bend for part in parts):
        return [0.0] * count
    steps = [0.0] * count
    for i in range(count):
        if i or run.closed:
            before, after = parts[i - 1].element, parts[i].element
            slopes = before.end_slope + after.slope
            if parts[i].turn and slopes and (before.curvature or after.curvature):
                raise PreviewError(
                    place(run, member, parts[i].index),
                    None,
                    "a raked profile cannot meet a curve at a corner: no one profile fits all along the cut",
                    "level the run off before this corner, or let the curve follow smoothly",
                )
            steps[i] = -slopes * math.tan(parts[i].turn / 2)
    molding = [i for i, part in enumerate(parts) if not (part.is_return or part.block)]
    level = next((i for i in molding if not (parts[i].element.slope or parts[i].element.bend)), molding[0])
    shears = [0.0] * count
    for i in range(level + 1, count):
        shears[i] = shears[i - 1] + steps[i]
    for i in range(level, 0, -1):
        shears[i - 1] = shears[i] - steps[i]
    if run.closed and abs(shears[-1] + steps[0] - shears[0]) > FULL_CIRCLE:
        off = math.degrees(math.atan(shears[-1] + steps[0] - shears[0]))
        raise PreviewError(
            place(run, member, 0),
            None,
            f"round this closed run the raked profiles do not come back to the first: they are {off:.3g}° off",
            'let the run rise and fall round corners of one kind, or write raked = "same"',
        )
    return shears
