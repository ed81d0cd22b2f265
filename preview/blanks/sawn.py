"""Arcs sawn from the flat of a board.

 ______ board ______        The board's grain runs along the chord, so at the ends of a piece it runs out of the
|   .-'''''''-.    |        curve by half the piece's angle. What the standard allows says into how many pieces an
| .'  .-''''-. '.  |        arc has to be divided.
|/__.'________'._\\|        width = depth + the sagitta of the inside
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from preview.blanks.polygon import chord
from preview.blanks.refusals import need
from preview.blanks.rings import MOST_RUN_OUT, segment_width
from preview.blanks.stock import BOARD_LENGTH, NOMINAL, WIDEST_BOARD, Nominal, board_feet, stock_for
from preview.errors import PreviewError
from preview.units import Unit, counted, degrees_text, show


@dataclass(frozen=True)
class Sawn:
    """Arcs sawn from a board, mm and radians.

    segments: into how many an arc is divided. angle: of each. width, length: of the board that one takes. pitch: how
    much wider the board is for each further one nested behind it. run_out: of the grain at their ends; in_one: what it
    would be at the ends of the arc in one piece. across, along: how many a board yields each way. wood: board feet for
    one finished arc, nested as they are on the board.
    """

    segments: int
    angle: float
    width: float
    length: float
    pitch: float
    stock: Nominal
    run_out: float
    in_one: float
    across: int
    along: int
    board_length: float
    wood: float

    @property
    def per_board(self) -> int:
        """How many finished arcs a board yields."""
        return self.across * self.along // self.segments

    @property
    def joints(self) -> int:
        """End joints in the face of one arc."""
        return self.segments - 1


def segments_within(sweep: float, run_out: float = MOST_RUN_OUT) -> int:
    """Into how many pieces an arc of `sweep` radians is divided so that grain runs out by no more than `run_out`.

    >>> segments_within(math.pi / 3), segments_within(math.pi / 2), segments_within(math.pi)
    (1, 2, 3)
    """
    return max(1, math.ceil(sweep / (2 * run_out) - 1e-9))


def nesting(outer: float, inner: float, angle: float, kerf: float) -> float:
    """How far apart, mm, equal arcs lie on a board, one behind another along the bisector, with a kerf between.

    The inside corner of the one behind comes nearest: it has to stay outside the outer radius and the kerf.
    """
    x, y = inner * math.sin(angle / 2), inner * math.cos(angle / 2)
    return math.sqrt((outer + kerf) ** 2 - x * x) - y


def sawn(
    outer_radius: float,
    inner_radius: float,
    height: float,
    sweep: float,
    *,
    kerf: float = 3.175,
    clean: float = 1.5875,
    board_width: float = WIDEST_BOARD,
    board_length: float = BOARD_LENGTH,
    unit: Unit = "in",
) -> Sawn:
    """Arcs of `sweep` radians between finished radii (mm), sawn from boards as thick as the profile is high.

    Raises PreviewError, with the numbers, when no stock or no board holds them.
    """
    need(outer_radius, inner_radius, height, sweep, kerf=kerf, clean=clean, unit=unit)
    stock = stock_for(height)
    if stock is None:
        thickest = NOMINAL[-1]
        raise PreviewError(
            "sawn, height",
            show(height, unit),
            f"the profile is {show(height, unit)} high, and {thickest.name} stock gives "
            f"{show(thickest.surfaced, unit)}",
            "stack it of rings, turn it, or bend it",
        )
    out, inside = outer_radius + clean, inner_radius - clean
    for segments in range(segments_within(sweep), 49):
        angle = sweep / segments
        width, length = segment_width(out, inside, angle), chord(out, angle)
        if width <= board_width and length <= board_length:
            break
    else:
        raise PreviewError(
            "sawn, board width",
            show(board_width, unit),
            f"the section alone is {show(out - inside, unit)} deep, and the boards are {show(board_width, unit)} wide",
            "use wider boards, or glue boards edge to edge",
        )
    pitch = nesting(out, inside, angle, kerf)
    across = 1 + math.floor((board_width - width) / pitch + 1e-9)
    along = math.floor((board_length + kerf) / (length + kerf) + 1e-9)
    strip = (width + (across - 1) * pitch + kerf) * (length + kerf)
    return Sawn(
        segments=segments,
        angle=angle,
        width=width,
        length=length,
        pitch=pitch,
        stock=stock,
        run_out=angle / 2,
        in_one=sweep / 2,
        across=across,
        along=along,
        board_length=board_length,
        wood=board_feet(stock.rough * strip / across * segments),
    )


def sawn_words(arc: Sawn, unit: Unit) -> tuple[str, ...]:
    """The sawing in sentences."""
    parts = "in one piece," if arc.segments == 1 else f"in {arc.segments} pieces joined end to end, each"
    grain = f"the grain runs out of the curve by {degrees_text(arc.run_out)} at their ends"
    if arc.segments > 1:
        grain += f" ({degrees_text(arc.in_one)} if it were one piece)"
    wide = show(arc.width + (arc.across - 1) * arc.pitch, unit)
    nested = f", {arc.across} nested {show(arc.pitch, unit)} apart," if arc.across > 1 else ""
    return (
        (
            f"Sawn {parts} of {degrees_text(arc.angle)} from {arc.stock.name} stock: each takes a board "
            f"{show(arc.width, unit)} wide and {show(arc.length, unit)} long."
        ),
        f"With it along the chord, {grain} (ANSI/AWI 0622, clause 3.3.2 e allows 30° at the face).",
        (
            f"A board {wide} wide and {show(arc.board_length, unit)} long{nested} gives "
            f"{counted(arc.per_board, 'finished arc')}."
        ),
        "The profile has then to be worked on the sawn blank, on a shaper or by hand, guided by its curve.",
    )
