"""A blank of staves from its end: the staves, the round that is turned from it, and where it is sawn apart."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from preview.blanks import StavedBlank
from preview.paper import INK, LINING, SOFT, WHITE, WOOD, Mark, Page, Trace, Words, patch, stroke, wrapped
from preview.profiles import Arc, Line, Point

WIDE, HIGH = 118.0, 44.0
"""mm"""
ROWS = 56.0
TYPE = 2.5
TURN = math.tau

Told = Callable[[float], str]


def blank_drawing(blank: StavedBlank, told: Told) -> Page:
    """The blank seen from its end, and its figures beside it. told: how lengths are written, as in its sentences."""
    scale = (HIGH - 3.0) / blank.diagonal
    middle = (HIGH / 2 + 2.0, HIGH / 2)

    def at(radius: float, angle: float) -> Point:
        return (middle[0] + radius * scale * math.cos(angle), middle[1] + radius * scale * math.sin(angle))

    lines = [line for row in blank_rows(blank, told) for line in wrapped(row, WIDE - ROWS, TYPE)]
    y = HIGH / 2 + 3.8 * (len(lines) - 1) / 2 - 0.8
    words = [Words(text, (ROWS, y - 3.8 * number), TYPE, INK) for number, text in enumerate(lines)]
    return Page(WIDE, HIGH, (*_rings(blank, at), *words))


def blank_rows(blank: StavedBlank, told: Told) -> list[str]:
    """The figures of the drawing."""
    pieces = blank.parting.pieces
    sawn = f"sawn into {pieces} pieces; white is lost" if pieces > 1 else "one piece is sawn out of it"
    return [
        f"seen from its end: {blank.staves} staves, edges at {180 / blank.staves:g}°",
        f"stave: {told(blank.thickness)} thick, {told(blank.face_width)} wide, {told(blank.length)} long",
        f"rough round {told(blank.rough_diameter)}, over the points {told(blank.diagonal)}",
        f"finished outside {told(blank.outside_diameter)}, inside {told(blank.inside_diameter)}",
        sawn,
    ]


def _rings(blank: StavedBlank, at: Callable[[float, float], Point]) -> Iterator[Mark]:
    # A glue line is at 0, and so a corner of the blank.
    corners = [TURN * i / blank.staves for i in range(blank.staves)]
    outside, inside = (flat / math.cos(math.pi / blank.staves) for flat in (blank.flat, blank.opening))
    yield patch([at(outside, angle) for angle in corners], LINING)
    for begin, end in blank.parting.spans[: blank.parting.pieces]:
        angles = np.linspace(begin, end, 33)
        ring = [at(blank.outer, a) for a in angles] + [at(blank.inner, a) for a in angles[::-1]]
        yield patch(ring, WOOD)
    yield patch([at(inside, angle) for angle in corners], WHITE)
    for begin, end in _slots(blank.parting.spans[: blank.parting.pieces]):
        angles = np.linspace(begin, end, 17)
        yield patch([at(blank.outer, a) for a in angles] + [at(blank.inner, a) for a in angles[::-1]], WHITE)
    for angle in corners:
        yield Trace((Line(at(inside, angle), at(outside, angle)),), 0.18, SOFT)
    for radius in (outside, inside):
        row = [at(radius, angle) for angle in corners]
        yield stroke(*row, row[0], weight=0.35, ink=INK)
    for radius in (blank.outer, blank.inner):
        near, far = at(radius, 0.0), at(radius, math.pi)
        halves = (Arc(near, far, at(0.0, 0.0), math.pi), Arc(far, near, at(0.0, 0.0), math.pi))
        yield Trace(halves, 0.25, INK, None, (1.2, 0.8))


def _slots(spans: Sequence[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    """Between the pieces, where the saw goes; as narrow as they are they are drawn wide enough to be seen."""
    least = math.radians(3.0)
    for (_, end), (begin, _) in zip(spans, [*spans[1:], *spans[:1]], strict=True):
        gap = (begin - end) % TURN
        if gap > TURN - 1e-9:
            gap = 0.0
        half = max(gap, least) / 2
        yield end + gap / 2 - half, end + gap / 2 + half
