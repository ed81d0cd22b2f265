"""A small drawing of a piece as it is marked for cutting: its two lines, its ends, and what either end is.

A straight is seen from above with the wall at the top, so that its left end is on the left of one who faces the wall; a
casing from the front. Lengths that the drawing has no room for are broken, ends and depth keep one scale.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from preview.cutlist import CutEnd, CutPiece, end_words
from preview.paper import INK, SOFT, WHITE, WOOD, Mark, Page, Trace, Words, advance, arrowhead, patch, stroke
from preview.profiles import Arc, Line, Point
from preview.units import degrees_text, listed

SIZE = (118.0, 21.5)
"""mm, width and height of a card's drawing."""
FIGURE, SMALL = 2.5, 2.2
"""mm, the type of figures and of the words beside an end (ISO 3098's series, from memory; the small one is ours)."""
ASIDE = 29.0
"""mm kept on either side for what is said of an end."""
DEPTH = 7.0
"""mm, the most that a piece is drawn deep."""
EVEN = 1e-6
OUTLINE, FINE = 0.35, 0.18
ZIGZAG = 1.6


Told = Callable[[float], str]
"""How a length (mm) is written on the list."""


def card(piece: CutPiece, told: Told) -> Page:
    """The drawing of one piece, `SIZE` large. told: how lengths are written."""
    if piece.block is not None:
        marks = list(_block(piece, told))
    elif piece.bend is not None:
        marks = list(_bent(piece, told))
    elif piece.easing is not None:
        marks = list(_eased(piece, told))
    else:
        marks = list(_straight(piece, told))
    return Page(*SIZE, tuple(marks))


def _straight(piece: CutPiece, told: Told) -> Iterator[Mark]:
    left, right = piece.ends
    depth = max(piece.out_face - piece.out_back, EVEN)
    room = SIZE[0] - 2 * ASIDE
    aside = max(abs(left.gain), abs(right.gain))
    scale = min(DEPTH / depth, 0.3 * room / max(aside, EVEN), 1.0)
    whole = max(piece.back, piece.face) * scale
    broken = whole > room
    # What is drawn of the back: as much as leaves both ends their room.
    back = piece.back * scale
    if broken:
        back = room - scale * (max(left.gain, 0.0) + max(right.gain, 0.0))
    begin = ASIDE + (room - max(back, back + scale * (left.gain + right.gain))) / 2 + scale * max(left.gain, 0.0)
    top = SIZE[1] / 2 + DEPTH / 2
    foot = top - depth * scale
    corners = [
        (begin, top),
        (begin + back, top),
        (begin + back + right.gain * scale, foot),
        (begin - left.gain * scale, foot),
    ]
    yield patch(corners, WOOD)
    # The wall line is drawn heavier: there the wood lies on its back.
    yield stroke(corners[0], corners[1], weight=2 * OUTLINE, ink=INK)
    yield stroke(corners[2], corners[3], weight=OUTLINE, ink=INK)
    for end, (a, b) in ((right, corners[1:3]), (left, (corners[3], corners[0]))):
        dash = () if end.settings is not None and end.kind != "cope" else (1.2, 0.8)
        yield Trace((Line(a, b),), OUTLINE, INK, None, dash)
    if broken:
        yield from _break((corners[0][0] + corners[1][0]) / 2, foot, top)
    names = piece.line_words
    yield from _dimension(corners[0][0], corners[1][0], top + 2.8, f"{names[0]} {told(piece.back)}", True)
    yield from _dimension(corners[3][0], corners[2][0], foot - 2.8, f"{names[1]} {told(piece.face)}", False)
    yield from _end_words(piece, left, 0.0, top, False)
    yield from _end_words(piece, right, SIZE[0], top, True)


def _break(middle: float, foot: float, top: float) -> Iterator[Mark]:
    """A break: a white band between two zigzag lines."""
    half = (top - foot) / 2
    rows = [
        (-0.0, top + 0.6),
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


def _dimension(begin: float, end: float, y: float, text: str, above: bool) -> Iterator[Mark]:
    """A dimension line between two places, its figure beyond it, arrows at both ends."""
    yield stroke((begin, y), (end, y), weight=FINE)
    if end - begin > 6.0:
        yield arrowhead((begin, y), math.pi, 1.8)
        yield arrowhead((end, y), 0.0, 1.8)
    for x in (begin, end):
        yield stroke((x, y - 1.0), (x, y + 1.0), weight=FINE)
    yield _centered(text, (begin + end) / 2, y + 1.2 if above else y - 1.2 - 0.7 * FIGURE, FIGURE, INK)


def end_lines(piece: CutPiece, end: CutEnd) -> tuple[str, str]:
    """What an end is in two short lines: how it is made and at which corner, and where its long point is."""
    made, *more = end_words(piece, end).split(", ")
    corner = "" if end.corner is None else f" {'inside' if end.inside else 'outside'} {degrees_text(end.corner)}"
    return f"{made}{corner}", next((words for words in more if words.startswith("long point")), "")


def _end_words(piece: CutPiece, end: CutEnd, edge: float, top: float, right: bool) -> Iterator[Mark]:
    for row, text in enumerate(filter(None, end_lines(piece, end))):
        x = edge - advance(text, SMALL) if right else edge
        yield Words(text, (x, top - 2.2 - 3.2 * row), SMALL, INK if row == 0 else SOFT)


def _bent(piece: CutPiece, told: Told) -> Iterator[Mark]:
    bend = piece.bend
    assert bend is not None
    large, small = max(bend.radius_back, bend.radius_face), min(bend.radius_back, bend.radius_face)
    half = min(bend.sweep / 2, math.pi)
    reach = large * (1.0 if half >= math.pi / 2 else math.sin(half))
    rise = large - small * math.cos(half) if half < math.pi / 2 else large - large * math.cos(half)
    scale = min((SIZE[1] - 3.0) / max(rise, EVEN), 46.0 / max(2 * reach, EVEN))
    middle = (28.0, SIZE[1] - 1.5 - large * scale)
    first, last = math.pi / 2 + half, math.pi / 2 - half

    def at(radius: float, angle: float) -> Point:
        return (middle[0] + radius * scale * math.cos(angle), middle[1] + radius * scale * math.sin(angle))

    outer = Arc(at(large, first), at(large, last), middle, -2 * half)
    inner = Arc(at(small, last), at(small, first), middle, 2 * half)
    sides = (Line(outer.end, inner.start), Line(inner.end, outer.start))
    yield Trace((outer, sides[0], inner, sides[1]), 0.0, WOOD, WOOD)
    back = inner if bend.wraps else outer
    yield Trace((back,), 2 * OUTLINE, INK)
    yield Trace((outer if bend.wraps else inner,), OUTLINE, INK)
    for end, side in zip((piece.begin, piece.end), (sides[1], sides[0]), strict=True):
        yield Trace((side,), OUTLINE, INK, None, (1.2, 0.8) if end.by_template else ())
    rows = [
        f"back radius {told(bend.radius_back)}, {degrees_text(bend.sweep)}",
        f"face radius {told(bend.radius_face)}",
        f"arc at the back {told(bend.arc_back)}, at the face {told(bend.arc_face)}",
        f"fits {told(bend.chord)} × {told(bend.depth)} in plan",
        _both_ends(piece),
    ]
    yield from _rows(rows, 56.0)


def _both_ends(piece: CutPiece) -> str:
    ends = [end_words(piece, end) for end in piece.ends]
    return f"both ends {ends[0]}" if ends[0] == ends[1] else f"ends: {listed(ends)}"


def _eased(piece: CutPiece, told: Told) -> Iterator[Mark]:
    easing = piece.easing
    assert easing is not None
    points = [(x * easing.level, _height(easing.pitch_begin, easing.pitch_end, x, easing.level)) for x in _shares(24)]
    high, low = max(y for _, y in points), min(y for _, y in points)
    scale = min(44.0 / max(easing.level, EVEN), (SIZE[1] - 6.0) / max(high - low, EVEN))
    yield stroke(*((4.0 + x * scale, 3.0 + (y - low) * scale) for x, y in points), weight=2 * OUTLINE, ink=INK)
    rows = [
        f"radius {told(easing.radius)}, seen from the front",
        f"from {degrees_text(easing.pitch_begin)} to {degrees_text(easing.pitch_end)}",
        f"{told(easing.level)} along the level, {told(easing.rise)} up",
        f"fits {told(easing.chord)} × {told(easing.depth)} in elevation",
        _both_ends(piece),
    ]
    yield from _rows(rows, 56.0)


def _shares(count: int) -> list[float]:
    return [i / count for i in range(count + 1)]


def _height(begin: float, end: float, share: float, level: float) -> float:
    """How high a line that turns evenly from one pitch to another has come at a share of its level length."""
    if abs(end - begin) < EVEN:
        return math.tan(begin) * share * level
    radius = level / (math.sin(end) - math.sin(begin))
    now = math.asin(math.sin(begin) + share * (math.sin(end) - math.sin(begin)))
    return radius * (math.cos(begin) - math.cos(now))


def _block(piece: CutPiece, told: Told) -> Iterator[Mark]:
    block = piece.block
    assert block is not None
    scale = min((SIZE[1] - 2.0) / block.high, 40.0 / block.wide)
    left, low = 28.0 - block.wide * scale / 2, (SIZE[1] - block.high * scale) / 2
    corners = [
        (left, low),
        (left + block.wide * scale, low),
        (left + block.wide * scale, low + block.high * scale),
        (left, low + block.high * scale),
    ]
    yield patch(corners, WOOD)
    yield stroke(*corners, corners[0], weight=OUTLINE, ink=INK)
    rows = [
        f"{told(block.wide)} wide, {told(block.high)} high",
        f"{told(block.out)} thick, seen from the front",
    ]
    if block.at_corner:
        side = "an inside" if block.turn > 0 else "an outside"
        rows.append(f"stands in {side} corner and takes {told(block.takes)} of each wall")
    yield from _rows(rows, 56.0)


def _rows(rows: Sequence[str], x: float) -> Iterator[Mark]:
    y = SIZE[1] / 2 + 3.6 * (len(rows) - 1) / 2 - 0.8
    for text in rows:
        yield Words(text, (x, y), FIGURE, INK)
        y -= 3.8


def _centered(text: str, x: float, y: float, size: float, ink: str) -> Words:
    return Words(text, (x - advance(text, size) / 2, y), size, ink)
