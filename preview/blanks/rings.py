"""Rings of segments, stacked like bricks: turned as a whole ring, or built up as an arc and shaped to a template.

    layer 2     |____:____|____:____|         each layer is turned by half a segment, so that no joint
    layer 1   __:____|____:____|____:__       lies over another

A segment is sawn from the flat of a board, its grain along its chord. Its straight edges stand `clean` outside the
finished round and inside it, so the board is R_out - R_in cos(half the segment's angle) wide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from preview.blanks.parting import Parting, part
from preview.blanks.polygon import chord, sagitta
from preview.blanks.refusals import need
from preview.blanks.stock import LARGEST_SWING, NOMINAL, Nominal, board_feet
from preview.errors import PreviewError
from preview.units import Unit, counted, degrees_text, show

MOST_RUN_OUT = math.radians(30)
"""How far grain may run out of the curve at the face (ANSI/AWI 0622-2024, clause 3.3.2 e)."""
SEGMENT_BOARD = 152.4
"""The widest board, mm, that segments are sawn from unless told otherwise; common practice: 6 in is to be had
anywhere."""
LEAST_SEGMENTS = 6
"""The fewest in a whole ring: half of 60° is the most that grain may run out."""
MOST_SEGMENTS = 48


@dataclass(frozen=True)
class RingStack:
    """Segments stacked in rings, mm and radians.

    whole: whether the rings go all round and are turned; else only the arc is built up. segments: to a ring, or to a
    layer of an arc. angle: of a segment. cut: of each of its ends, from square. offset: of the next layer.
    layers, layer: how many, and how thick each is dressed. width: the board's. length: the segment's long edge.
    run_out: the grain at the ends of a segment. joints: end joints in the face of one piece. chord: of the built-up
    piece. diagonal: what the lathe has to swing, 0 for an arc. parts: segments to saw for the blank. wood: board feet.
    """

    outer: float
    inner: float
    whole: bool
    segments: int
    angle: float
    cut: float
    offset: float
    layers: int
    layer: float
    width: float
    length: float
    stock: Nominal
    run_out: float
    joints: int
    diagonal: float
    parts: int
    wood: float
    parting: Parting | None

    @property
    def pieces(self) -> int:
        """How many pieces one stack yields."""
        return self.parting.pieces if self.parting else 1


def segment_width(outer: float, inner: float, angle: float) -> float:
    """The board width, mm, that a segment of `angle` radians needs between radii (mm): the sagitta inside and the
    depth.

    >>> round(segment_width(100.0, 80.0, math.pi / 3), 3)
    30.718
    """
    return outer - inner + sagitta(inner, angle)


def rings(
    outer_radius: float,
    inner_radius: float,
    height: float,
    sweep: float,
    *,
    segments: int | None = None,
    kerf: float = 3.175,
    clean: float = 1.5875,
    least_face: float | None = None,
    meets_straights: bool = False,
    board_width: float = SEGMENT_BOARD,
    stock: Nominal = NOMINAL[0],
    swing: float = LARGEST_SWING,
    unit: Unit = "in",
) -> RingStack:
    """Stacked rings for pieces of `sweep` radians between finished radii (mm).

    segments: to a whole ring, from 6; None for the fewest whose boards are no wider than `board_width`. A ring that the
    lathe cannot swing is built up as an arc. Raises PreviewError, with the numbers, when it cannot be made.
    """
    need(outer_radius, inner_radius, height, sweep, kerf=kerf, clean=clean, unit=unit)
    out, inside = outer_radius + clean, inner_radius - clean
    count = segments or _fewest(out, inside, 2 * math.pi, LEAST_SEGMENTS, board_width, unit)
    if not LEAST_SEGMENTS <= count <= MOST_SEGMENTS:
        raise PreviewError(
            "rings, segments",
            str(count),
            f"in {counted(count, 'segment')} the grain runs out by {degrees_text(math.pi / max(1, count))} at their "
            f"ends"
            if count < LEAST_SEGMENTS
            else f"a ring of {count} segments is more joint than wood",
            f"use {LEAST_SEGMENTS} to {MOST_SEGMENTS} segments",
        )
    whole = 2 * out / math.cos(math.pi / count) <= swing
    if whole:
        angle = 2 * math.pi / count
        in_piece = math.ceil(sweep / angle - 1e-9)
    else:
        least = math.ceil(sweep / (2 * math.pi / segments) - 1e-9) if segments else 1
        count = in_piece = _fewest(
            out, inside, sweep, max(least, math.ceil(sweep / (2 * MOST_RUN_OUT) - 1e-9)), board_width, unit
        )
        angle = sweep / count
    width, length = segment_width(out, inside, angle), 2 * out * math.tan(angle / 2)
    if width > board_width + 1e-9:
        raise _too_wide(width, board_width, unit)
    if not whole:
        length = chord(out, angle)
    bricks = whole or count > 1
    layers = max(2, math.ceil((height + 2 * clean) / stock.surfaced - 1e-9))
    # An arc's every other layer begins and ends with half a segment, unless it is one segment long.
    parts = layers * count + (layers // 2 if bricks and not whole else 0)
    parting = None
    if whole:
        parting = part(
            sweep,
            outer_radius,
            inner_radius,
            kerf=kerf,
            staves=count,
            face=least_face,
            meets_straights=meets_straights,
            glued_to_part=False,
            unit=unit,
        )
    joints = layers * (in_piece if whole else in_piece - 1) + (layers // 2 if bricks and not whole else 0)
    return RingStack(
        outer_radius,
        inner_radius,
        whole,
        count,
        angle,
        angle / 2,
        angle / 2 if bricks else 0.0,
        layers,
        (height + 2 * clean) / layers,
        width,
        length,
        stock,
        angle / 2,
        joints,
        2 * out / math.cos(angle / 2) if whole else 0.0,
        parts,
        board_feet(parts * stock.rough * (width + kerf) * (length + kerf)),
        parting,
    )


def _fewest(out: float, inside: float, sweep: float, least: int, board: float, unit: Unit) -> int:
    """The fewest segments, from `least` up, that boards of a width hold."""
    for count in range(least, max(least, MOST_SEGMENTS) + 1):
        if segment_width(out, inside, sweep / count) <= board + 1e-9:
            return count
    raise _too_wide(out - inside, board, unit)


def _too_wide(width: float, board: float, unit: Unit) -> PreviewError:
    return PreviewError(
        "rings, board width",
        show(board, unit),
        f"a segment is {show(width, unit)} wide, and the boards are {show(board, unit)}",
        "use more segments, wider boards, or glue boards edge to edge",
    )


def ring_words(stack: RingStack, unit: Unit) -> tuple[str, ...]:
    """The stack in sentences."""
    to = "a ring" if stack.whole else "a layer"
    first = (
        f"{counted(stack.layers, 'layer')} of {stack.stock.name} stock dressed to {show(stack.layer, unit)}, "
        f"{counted(stack.segments, 'segment')} to {to}, each of {degrees_text(stack.angle)}: its ends cut at "
        f"{degrees_text(stack.cut)}, {show(stack.length, unit)} long, from a board {show(stack.width, unit)} wide."
    )
    if stack.offset:
        first += f" Turn each layer by {degrees_text(stack.offset)} from the one below, as bricks are laid."
    told = f"{counted(stack.joints, 'end joint')} and" if stack.joints else "no end joint, but"
    grain = (
        f"The grain runs out of the curve by {degrees_text(stack.run_out)} at the ends of a segment "
        f"(ANSI/AWI 0622, clause 3.3.2 e allows 30° at the face); {told} the lines "
        "between the layers show in each face."
    )
    if stack.parting is None:
        how = "Too large for the lathe: build up the arc alone, shape it to a template, and work the profile on it."
        return (first, grain, how)
    lathe = f"Turn it on a faceplate that swings {show(stack.diagonal, unit)}."
    return (first, grain, lathe, f"{stack.parting.chosen.words} {stack.parting.why}")
