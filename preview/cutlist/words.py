"""The ends and pieces of a cut list in a shop's words."""

from __future__ import annotations

import math

from preview.cutlist.piece import CutEnd, CutPiece, Easing
from preview.units import degrees_text

LEVEL = 1e-9
_MADE = {
    "square end": "square",
    "butt end": "square, butts",
    "beveled end": "beveled",
    "butt": "square, butts",
    "tangent": "square to the curve",
    "plumb cut": "plumb cut",
    "elevation miter": "miter where the slope changes",
    "scarf": "scarf",
    "butt to wall": "square, runs to the corner",
    "cope": "cope",
    "self-return": "returned on itself",
    "block": "square, to the block",
    "miter": "miter",
    "curved miter": "curved miter, by template",
}


def end_words(piece: CutPiece, end: CutEnd) -> str:
    """What one end is, in words: how it is made, the corner, and where its long point is.

    A square end of a climbing piece whose section stands plumb is a plumb cut.
    """
    made = _MADE[end.kind]
    if end.kind == "tangent" and end.meets_kind == "easement":
        made = "square, to the easement"
    if piece.pitch and not piece.square:
        made = made.replace("square", "plumb cut", 1)
    if piece.easing is not None:
        made = "plumb cut"
    said = [made]
    if end.corner is not None:
        said.append(f"{'inside' if end.inside else 'outside'} {degrees_text(end.corner)}")
    if end.long_at != "square" and end.kind not in ("self-return", "cope"):
        back, face = piece.line_words
        said.append(f"long point at the {face if end.long_at == 'face' else back}")
    return ", ".join(said)


def bend_words(piece: CutPiece) -> str:
    """How a piece curves or climbs, as one who faces the wall sees it; "" for a level straight."""
    if piece.bend is not None:
        way = "wraps the outside" if piece.bend.wraps else "lines the inside"
        return f"{way} of a curve through {degrees_text(piece.bend.sweep)}"
    if piece.easing is not None:
        first, last = _from_the_left(piece.easing, piece.hand)
        way = "turns up" if last > first else "turns over"
        return f"{way}, {_pitched(first)} at its left end and {_pitched(last)} at its right"
    if piece.pitch:
        to = "right" if (piece.pitch > 0) == (piece.hand < 0) else "left"
        return f"climbs to the {to} at {degrees_text(abs(piece.pitch))}"
    return "" if not piece.shear else f"its section raked by {degrees_text(abs(math.atan(piece.shear)))}"


def _from_the_left(easing: Easing, hand: int) -> tuple[float, float]:
    """The pitches at an easement's left and right end, radians, + where it climbs from the left to the right."""
    if hand < 0:  # it travels from the left to the right of one who faces the wall
        return easing.pitch_begin, easing.pitch_end
    return -easing.pitch_end, -easing.pitch_begin


def _pitched(pitch: float) -> str:
    if abs(pitch) < LEVEL:
        return "level"
    return f"{'climbing' if pitch > 0 else 'falling'} {degrees_text(abs(pitch))}"
