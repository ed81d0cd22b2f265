"""A small drawing of a piece as it is marked for cutting: its two lines, its ends, and what either end is.

A straight is seen from above with the wall at the top, so that its left end is on the left of one who faces the wall; a
casing from the front, its foot on the left or lying as a head does. A climbing piece is shown from the front as well,
laid level as it lies on the bench. Lengths that the drawing has no room for are broken, ends and depth keep one scale.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from preview.cutlist import CutEnd, CutPiece, end_words
from preview.joinery import Piece
from preview.paper import (
    INK,
    SOFT,
    WHITE,
    WOOD,
    Mark,
    Page,
    Trace,
    Words,
    advance,
    arrowhead,
    moved,
    patch,
    stroke,
    wrapped,
)
from preview.profiles import Line, Point, measure
from preview.units import degrees_text

Floats = NDArray[np.float64]

SIZE = (118.0, 21.5)
"""mm, width of a card's drawing, and height of one view."""
FRONT = 17.6
"""mm that the view from the front adds."""
FIGURE, SMALL = 2.5, 2.2
"""mm, the type of figures and of the words beside an end (ISO 3098's series, from memory; the small one is ours)."""
ASIDE = 29.0
"""mm kept on either side for what is said of an end."""
ROWS = 56.0
"""mm from the left at which the figures of a curve, an easement or a block stand."""
DEPTH = 7.0
"""mm, the most that a piece is drawn deep."""
EVEN = 1e-6
OUTLINE, FINE = 0.35, 0.18
ZIGZAG = 1.6
DASHED = (1.2, 0.8)
"""An end that no saw setting makes."""

Told = Callable[[float], str]
"""How a length (mm) is written on the list."""
Asides = tuple[Sequence[str], Sequence[str]]
"""What else is said of the left end, and of the right one."""


def card(piece: CutPiece, shape: Piece, told: Told, asides: Asides = ((), ())) -> Page:
    """The drawing of one piece, `SIZE` wide. shape: the same piece in the model. told: how lengths are written."""
    if piece.block is not None:
        return _with_rows(list(_block(piece)), _block_rows(piece, told))
    if piece.bend is not None:
        return _with_rows(list(_bent(piece, shape)), [*_bent_rows(piece, told), *_end_rows(piece, asides)])
    if piece.easing is not None:
        return _with_rows(list(_eased(piece)), [*_eased_rows(piece, told), *_end_rows(piece, asides)])
    marks = list(_straight(piece, told, asides))
    if not piece.pitch:
        return Page(*SIZE, tuple(marks))
    # The view from the front stands under the one from above.
    raised = [_up(mark, FRONT) for mark in marks]
    return Page(SIZE[0], SIZE[1] + FRONT, (*raised, *_front(piece, shape, told)))


def end_lines(piece: CutPiece, end: CutEnd) -> tuple[str, str]:
    """What an end is in two short lines: how it is made and at which corner, and where its long point is."""
    said = [words for words in end_words(piece, end).split(", ") if words != "by template"]
    long = next((words for words in said if words.startswith("long point")), "")
    return ", ".join(words for words in said if words != long), long


def _faces_up(piece: CutPiece) -> bool:
    """Whether the face, or the outer edge, is drawn at the top.

    In plan it never is: the wall is. On the face of a wall it is as one sees it who stands before the piece, turned
    so that its left end, or its foot, is on the left.
    """
    return piece.on_wall and (piece.hand > 0) == (piece.ends[0].end == "begin")


def _straight(piece: CutPiece, told: Told, asides: Asides) -> Iterator[Mark]:
    left, right = piece.ends
    depth = max(piece.out_face - piece.out_back, EVEN)
    room = SIZE[0] - 2 * ASIDE
    aside = max(abs(left.gain), abs(right.gain))
    scale = min(DEPTH / depth, 0.3 * room / max(aside, EVEN), 1.0)
    broken = max(piece.back, piece.face) * scale > room
    # What is drawn of the back: as much as leaves both ends their room.
    back = piece.back * scale
    if broken:
        back = room - scale * (max(left.gain, 0.0) + max(right.gain, 0.0))
    first, last = -left.gain * scale, back + right.gain * scale
    begin = SIZE[0] / 2 - (min(first, 0.0) + max(last, back)) / 2
    half = depth * scale / 2
    up = -1.0 if _faces_up(piece) else 1.0
    on_back, on_face = SIZE[1] / 2 + up * half, SIZE[1] / 2 - up * half
    corners = [
        (begin, on_back),
        (begin + back, on_back),
        (begin + last, on_face),
        (begin + first, on_face),
    ]
    yield patch(corners, WOOD)
    # The wall line is drawn heavier: there the wood lies on its back.
    yield stroke(corners[0], corners[1], weight=OUTLINE if piece.on_wall else 2 * OUTLINE, ink=INK)
    yield stroke(corners[2], corners[3], weight=OUTLINE, ink=INK)
    for end, (a, b) in ((right, corners[1:3]), (left, (corners[3], corners[0]))):
        dash = () if end.settings is not None and end.kind != "cope" else DASHED
        yield Trace((Line(a, b),), OUTLINE, INK, None, dash)
    if broken:
        yield from _break(begin + back / 2, SIZE[1] / 2 - half, SIZE[1] / 2 + half)
    names = piece.line_words
    yield from _dimension(corners[0][0], corners[1][0], on_back + up * 2.8, f"{names[0]} {told(piece.back)}", up)
    yield from _dimension(corners[3][0], corners[2][0], on_face - up * 2.8, f"{names[1]} {told(piece.face)}", -up)
    for end, more, is_right in ((left, asides[0], False), (right, asides[1], True)):
        yield from _beside(piece, end, more, is_right)


def _break(middle: float, foot: float, top: float) -> Iterator[Mark]:
    """A break: a white band between two zigzag lines."""
    half = (top - foot) / 2
    rows = [
        (0.0, top + 0.6),
        (0.0, foot + half + 0.5),
        (ZIGZAG / 2, foot + half + 0.2),
        (-ZIGZAG / 2, foot + half - 0.2),
        (0.0, foot + half - 0.5),
        (0.0, foot - 0.6),
    ]
    one = [(middle - ZIGZAG + x, y) for x, y in rows]
    two = [(middle + ZIGZAG + x, y) for x, y in rows]
    yield patch([*one, *reversed(two)], WHITE)
    yield stroke(*one, weight=FINE, ink=INK)
    yield stroke(*two, weight=FINE, ink=INK)


def _dimension(begin: float, end: float, y: float, text: str, up: float) -> Iterator[Mark]:
    """A dimension line between two places, its figure beyond it (up: 1 above, -1 below), arrows where they fit."""
    yield stroke((begin, y), (end, y), weight=FINE)
    if end - begin > 6.0:
        yield arrowhead((begin, y), math.pi, 1.8)
        yield arrowhead((end, y), 0.0, 1.8)
    for x in (begin, end):
        yield stroke((x, y - 1.0), (x, y + 1.0), weight=FINE)
    yield _centered(text, (begin + end) / 2, y + 1.4 if up > 0 else y - 1.6 - 0.75 * FIGURE, FIGURE, INK)


def _beside(piece: CutPiece, end: CutEnd, more: Sequence[str], right: bool) -> Iterator[Mark]:
    """What is said of an end, on its side of the drawing; which end it is, where that is not left or right."""
    made, long = end_lines(piece, end)
    named = f"{end.at}: {made}" if end.at in ("foot", "top") else made
    rows = [(text, INK) for text in wrapped(named, ASIDE - 1.0, SMALL)]
    rows += [(text, SOFT) for each in (long, *more) if each for text in wrapped(each, ASIDE - 1.0, SMALL)]
    y = SIZE[1] / 2 + 1.5 * len(rows) - 2.2
    for text, ink in rows:
        yield Words(text, (SIZE[0] - advance(text, SMALL) if right else 0.0, y), SMALL, ink)
        y -= 3.0


def leans(piece: CutPiece, shape: Piece) -> tuple[float, float, float]:
    """How far, mm, the top of a climbing piece's left and right end stands to the right of its foot, as it lies level.

    The third figure is how high the piece is there, square to its slope.
    """
    size = measure(shape.profile)
    d, h = np.full(2, size.d_max), np.array([size.h_min, size.h_max])
    starts, stops = shape.stations(d, h)
    slope = 0.0 if shape.square else shape.element.slope
    along = slope / shape.pace * (size.h_max - size.h_min)
    both = (shape.pace * float(at[1] - at[0]) + along for at in (starts, stops))
    by_end = dict(zip(("begin", "end"), both, strict=True))
    to_right = 1.0 if piece.ends[0].end == "begin" else -1.0
    high = (size.h_max - size.h_min) / (1.0 if shape.square else shape.pace)
    left, right = (to_right * by_end[end.end] for end in piece.ends)
    return left, right, high


def _front(piece: CutPiece, shape: Piece, told: Told) -> Iterator[Mark]:
    """A climbing piece from the front, laid level."""
    left, right, high = leans(piece, shape)
    room = SIZE[0] - 2 * ASIDE
    scale = min(DEPTH / max(high, EVEN), 0.3 * room / max(abs(left), abs(right), EVEN), 1.0)
    foot = 7.1
    top = foot + high * scale
    long = piece.overall * scale
    broken = long > room
    first, last = SIZE[0] / 2 - min(long, room) / 2, SIZE[0] / 2 + min(long, room) / 2
    corners = [
        (first + max(-left, 0.0) * scale, foot),
        (last - max(right, 0.0) * scale, foot),
        (last - max(-right, 0.0) * scale, top),
        (first + max(left, 0.0) * scale, top),
    ]
    yield patch(corners, WOOD)
    yield stroke(*corners, corners[0], weight=OUTLINE, ink=INK)
    if broken:
        yield from _break(SIZE[0] / 2, foot, top)
    yield from _dimension(first, last, foot - 2.8, f"overall {told(piece.overall)}", -1.0)
    for x, lean, is_right in ((0.0, left, False), (SIZE[0], right, True)):
        off = math.atan2(abs(lean), high)
        words = "square from the front" if off < EVEN else f"{degrees_text(off)} off square"
        seen = "from the front, laid level"
        for text, y, ink in ((seen, (foot + top) / 2 + 0.6, SOFT), (words, (foot + top) / 2 - 2.4, INK)):
            if is_right and text == seen:
                continue
            yield Words(text, (x - advance(text, SMALL) if is_right else x, y), SMALL, ink)


def bend_outline(piece: CutPiece, shape: Piece) -> tuple[Floats, Floats]:
    """The two cuts of a curve in plan, each (n, 2) from the back to the face, mm; the left one first.

    The wall is at the top, so that left is left: the middle of a curve that lines an inside is below it, that of one
    that wraps an outside above. Its own middle is at (0, 0).
    """
    bend = piece.bend
    assert bend is not None
    d = np.linspace(piece.out_back, piece.out_face, 17)
    starts, stops = (at / bend.radius for at in shape.stations(d))
    if piece.ends[0].end == "end":
        starts, stops = bend.sweep - stops, bend.sweep - starts
    radii = bend.radius * (1.0 - shape.curvature * d)
    way = 1.0 if bend.wraps else -1.0
    angles = [way * (at - bend.sweep / 2 - math.pi / 2) for at in (starts, stops)]
    left, right = (np.column_stack([radii * np.cos(a), radii * np.sin(a)]) for a in angles)
    return left, right


def _bent(piece: CutPiece, shape: Piece) -> Iterator[Mark]:
    left, right = bend_outline(piece, shape)
    back, face = (_round(left[row], right[row], piece) for row in (0, -1))
    every = np.concatenate([back, face, left, right])
    low, high = every.min(axis=0), every.max(axis=0)
    box = (46.0, SIZE[1] - 3.0)
    scale = min(box[0] / max(high[0] - low[0], EVEN), box[1] / max(high[1] - low[1], EVEN))
    middle = (low + high) / 2

    def on_page(points: Floats) -> list[Point]:
        return [(28.0 + (x - middle[0]) * scale, SIZE[1] / 2 + (y - middle[1]) * scale) for x, y in points]

    yield patch(on_page(np.concatenate([back, right, face[::-1], left[::-1]])), WOOD)
    yield stroke(*on_page(back), weight=2 * OUTLINE, ink=INK)
    yield stroke(*on_page(face), weight=OUTLINE, ink=INK)
    for end, side in zip(piece.ends, (left, right), strict=True):
        row = on_page(side)
        edges = tuple(Line(a, b) for a, b in pairwise(row))
        yield Trace(edges, OUTLINE, INK, None, DASHED if end.by_template else ())


def _round(first: Floats, last: Floats, piece: CutPiece) -> Floats:
    """Points (n, 2) round (0, 0) from the left end of a line to its right end."""
    radius = math.hypot(*first)
    begin, end = (math.atan2(at[1], at[0]) for at in (first, last))
    assert piece.bend is not None
    if piece.bend.wraps:  # its middle is above, so it goes round counter-clockwise
        end += 2 * math.pi if end < begin else 0.0
    else:
        end -= 2 * math.pi if end > begin else 0.0
    angles = np.linspace(begin, end, 65)
    return np.column_stack([radius * np.cos(angles), radius * np.sin(angles)])


def _bent_rows(piece: CutPiece, told: Told) -> list[str]:
    bend = piece.bend
    assert bend is not None
    return [
        f"back radius {told(bend.radius_back)}, {degrees_text(bend.sweep)}",
        f"face radius {told(bend.radius_face)}",
        f"arc at the back {told(bend.arc_back)}, at the face {told(bend.arc_face)}",
        f"fits {told(bend.chord)} × {told(bend.depth)} in plan",
    ]


def _end_rows(piece: CutPiece, asides: Asides) -> list[str]:
    ends = [
        ", ".join(filter(None, (*end_lines(piece, end), *more))) for end, more in zip(piece.ends, asides, strict=True)
    ]
    return [f"both ends {ends[0]}"] if ends[0] == ends[1] else [f"left end {ends[0]}", f"right end {ends[1]}"]


def eased_line(piece: CutPiece) -> Floats:
    """The foot of an easement from the left to the right of one who faces the wall: points (n, 2), mm."""
    easing = piece.easing
    assert easing is not None
    first, last = easing.pitch_begin, easing.pitch_end
    if piece.ends[0].end == "end":
        first, last = -last, -first
    pitches = np.linspace(first, last, 49)
    radius = easing.radius * (1.0 if last > first else -1.0)
    x, y = radius * (np.sin(pitches) - math.sin(first)), radius * (math.cos(first) - np.cos(pitches))
    return np.column_stack([x, y])


def _eased(piece: CutPiece) -> Iterator[Mark]:
    line, size = eased_line(piece), measure(piece.profile)
    every = np.concatenate([line, line[::-1] + np.array([0.0, size.h_max - size.h_min])])
    low, high = every.min(axis=0), every.max(axis=0)
    scale = min(46.0 / max(high[0] - low[0], EVEN), (SIZE[1] - 3.0) / max(high[1] - low[1], EVEN))
    middle = (low + high) / 2
    outline = [(28.0 + (x - middle[0]) * scale, SIZE[1] / 2 + (y - middle[1]) * scale) for x, y in every]
    yield patch(outline, WOOD)
    yield stroke(*outline, outline[0], weight=OUTLINE, ink=INK)


def _eased_rows(piece: CutPiece, told: Told) -> list[str]:
    easing = piece.easing
    assert easing is not None
    return [
        f"seen from the front; radius {told(easing.radius)}",
        f"{told(easing.level)} along the level, {told(abs(easing.rise))} of rise",
        f"fits {told(easing.chord)} × {told(easing.depth)} in elevation",
    ]


def _block(piece: CutPiece) -> Iterator[Mark]:
    block = piece.block
    assert block is not None
    scale = min((SIZE[1] - 2.0) / block.high, 40.0 / block.wide)
    left, low = 28.0 - block.wide * scale / 2, (SIZE[1] - block.high * scale) / 2
    right, high = left + block.wide * scale, low + block.high * scale
    corners = [(left, low), (right, low), (right, high), (left, high)]
    yield patch(corners, WOOD)
    yield stroke(*corners, corners[0], weight=OUTLINE, ink=INK)


def _block_rows(piece: CutPiece, told: Told) -> list[str]:
    block = piece.block
    assert block is not None
    rows = [f"seen from the front: {told(block.wide)} wide, {told(block.high)} high", f"{told(block.out)} thick"]
    if block.at_corner:
        side = "an inside" if block.turn > 0 else "an outside"
        rows.append(f"stands in {side} corner and takes {told(block.takes)} of each wall")
    return rows


def _with_rows(marks: Sequence[Mark], rows: Sequence[str]) -> Page:
    """A drawing with its figures beside it, the page as high as both need."""
    lines = [line for row in rows for line in wrapped(row, SIZE[0] - ROWS, FIGURE)]
    high = max(SIZE[1], 3.8 * len(lines) + 1.5)
    up = (high - SIZE[1]) / 2
    y = high / 2 + 3.8 * (len(lines) - 1) / 2 - 0.8
    words = [Words(text, (ROWS, y - 3.8 * number), FIGURE, INK) for number, text in enumerate(lines)]
    return Page(SIZE[0], high, (*(_up(mark, up) for mark in marks), *words))


def _up(mark: Mark, by: float) -> Mark:
    (found,) = moved((mark,), 0.0, by)
    return found


def _centered(text: str, x: float, y: float, size: float, ink: str) -> Words:
    return Words(text, (x - advance(text, size) / 2, y), size, ink)
