"""The cut list as comma-separated values (RFC 4180), safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence

from preview.cutlist.making import CutList
from preview.cutlist.piece import CutPiece
from preview.cutlist.reading import read_length
from preview.cutlist.words import bend_words, end_words
from preview.units import Unit, degrees_text

STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What a spreadsheet takes for a formula at the start of a cell, full-width signs included (OWASP, CSV injection)."""

FINE_INCH, FINE_METRIC = 25.4 / 64, 0.1
"""How finely, mm, sections are read: a board that is milled a hair thin does not fit."""
_LENGTHS = ("back", "face", "long", "short", "inner", "overall", "stick")


def guarded(text: str) -> str:
    """The text with an apostrophe before it where a spreadsheet would take it for a formula.

    >>> guarded("=1+1"), guarded(" @x"), guarded("bench front")
    ("'=1+1", "' @x", 'bench front')
    """
    bare = text.lstrip(" ")
    return f"'{text}" if text.startswith(STARTS_A_FORMULA) or bare.startswith(STARTS_A_FORMULA) else text


def csv_text(cuts: CutList, rounding: float, unit: Unit, longer: Mapping[str, float] | None = None) -> str:
    """The cut list, one row for each piece: CRLF line ends, a header first, quotes doubled.

    Lengths stand twice: as they are read, to `rounding` (mm) in `unit`, and in mm to three decimals, with a point.
    longer: what a piece is to be cut longer than that, mm, by its name.
    """
    gains = longer or {}
    step = read_length(rounding, rounding, unit).text
    head = [
        "group",
        "alike",
        "mirror of group",
        "piece",
        "run",
        "member",
        "kind",
        "profile",
        "thickness",
        "width",
        "rough",
    ]
    head += ["first end at", "first end", "first end meets", "other end at", "other end", "other end meets"]
    head += [f"{name}, to {step}" for name in _LENGTHS] + [f"{name}, mm" for name in _LENGTHS]
    head += [
        "radius of the back, mm",
        "radius of the face, mm",
        "chord, mm",
        "sweep",
        "shape",
        "own size",
        "grain",
        "cut longer, mm",
    ]
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(head)
    group = {name: each for each in cuts.groups for name in each.names}
    for piece in cuts.pieces:
        mine = group[piece.name]
        mirror = "" if mine.mirror_of is None else str(mine.mirror_of)
        row = [str(mine.number), str(mine.count), mirror, *_row(piece, rounding, unit)]
        row.append(f"{gains[piece.name]:.3f}" if piece.name in gains else "")
        writer.writerow([guarded(cell) for cell in row])
    return out.getvalue()


def _row(piece: CutPiece, rounding: float, unit: Unit) -> Sequence[str]:
    def read(mm: float) -> str:
        return read_length(mm, rounding, unit).text

    def size(mm: float) -> str:
        return read_length(mm, min(rounding, FINE_METRIC if unit in ("mm", "cm", "m") else FINE_INCH), unit).text

    row = [piece.name, piece.run, piece.member, piece.kind, piece.profile.name]
    row += [size(piece.stock.thickness), size(piece.stock.width), piece.stock.rough.name]
    for end in piece.ends:
        row += [end.at, "" if piece.kind == "block" else end_words(piece, end), end.meets]
    lengths = [getattr(piece, name) for name in _LENGTHS]
    row += [read(each) for each in lengths] + [f"{each:.3f}" for each in lengths]
    bend = piece.bend
    row += (
        ["", "", "", ""]
        if bend is None
        else [f"{bend.radius_back:.3f}", f"{bend.radius_face:.3f}", f"{bend.chord:.3f}", degrees_text(bend.sweep)]
    )
    block = piece.block
    own = "" if block is None else " × ".join(size(each) for each in (block.wide, block.high, block.out))
    return [*row, bend_words(piece), own, piece.grain]
