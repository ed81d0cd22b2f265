"""Lettering: how wide and how high text comes out, its outlines, and lengths set with proper fractions.

The type is Source Sans Pro (SIL Open Font License), from the package font-source-sans-pro. It has the raised and
lowered figures and the fraction slash that a shop's fractions are set from.
"""

from __future__ import annotations

import functools
import importlib.util
import math
import struct
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from preview.errors import PreviewError
from preview.paper.marks import FAINT, INK, Box, Clipped, Mark, Words
from preview.units import inches

RAISED = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
LOWERED = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
GRID = 32
"""Lengths are set to the nearest 1/32 in."""
CLOSE = 0.05
"""mm that a length set as a fraction may be off without saying so."""
AGAIN = "install it again: pip install --force-reinstall font-source-sans-pro"
BESIDE = 0.76
"""The size of the second unit, as a share of the first's."""


@dataclass(frozen=True)
class Label:
    """A length as it is set: words from (0, 0) up and right, and the box they fill."""

    words: tuple[Words, ...]
    width: float
    height: float

    def at(self, x: float, y: float) -> tuple[Words, ...]:
        """The words with the box's lower left corner at (x, y)."""
        return tuple(replace(word, at=(word.at[0] + x, word.at[1] + y)) for word in self.words)


def font_file(bold: bool) -> Path:
    """The TrueType file that text is set from.

    Raises PreviewError where it is missing, or not whole by its own checksums (ISO/IEC 14496-22, 4.3).
    """
    found = importlib.util.find_spec("font_source_sans_pro")
    if found is None or found.origin is None:
        raise PreviewError("", None, "the Python package font-source-sans-pro is not installed", AGAIN)
    file = Path(found.origin).parent / "files" / f"SourceSansPro-{'Semibold' if bold else 'Regular'}.ttf"
    _see_whole(file)
    return file


def printable(text: str) -> str:
    """The text with what the type lacks as question marks."""
    known = _font(False).getBestCmap()
    return "".join(letter if ord(letter) in known else "?" for letter in text)


def advance(text: str, size: float, bold: bool = False) -> float:
    """How far a line of text moves the pen, mm."""
    font = _font(bold)
    known, widths = font.getBestCmap(), font["hmtx"]
    return float(sum(widths[known[ord(letter)]][0] for letter in text)) * size / float(font["head"].unitsPerEm)


def ink_box(words: Words) -> Box:
    """The box that the letters themselves fill, mm; of turned words the upright box round theirs."""
    if words.turn:
        left, low, right, high = ink_box(replace(words, at=(0.0, 0.0), turn=0.0))
        cos, sin = math.cos(words.turn), math.sin(words.turn)
        xs = [words.at[0] + x * cos - y * sin for x in (left, right) for y in (low, high)]
        ys = [words.at[1] + x * sin + y * cos for x in (left, right) for y in (low, high)]
        return (min(xs), min(ys), max(xs), max(ys))
    font = _font(words.bold)
    known, widths, glyphs = font.getBestCmap(), font["hmtx"], font["glyf"]
    scale = words.size / font["head"].unitsPerEm
    x, boxes = 0, []
    for letter in words.text:
        name = known[ord(letter)]
        glyph = glyphs[name]
        if glyph.numberOfContours:
            boxes.append((x + glyph.xMin, glyph.yMin, x + glyph.xMax, glyph.yMax))
        x += widths[name][0]
    if not boxes:
        return (*words.at, *words.at)
    left, low, right, high = (
        pick(side) for pick, side in zip((min, min, max, max), zip(*boxes, strict=True), strict=True)
    )
    (across, up) = words.at
    return (across + scale * left, up + scale * low, across + scale * right, up + scale * high)


def bounds(marks: Iterable[Mark | Clipped]) -> Box:
    """The box round marks: lines without their weight, letters as they are inked, of clipped marks their window."""
    boxes: list[Box] = []
    for mark in marks:
        if isinstance(mark, Clipped):
            boxes.append(mark.box)
        elif isinstance(mark, Words):
            boxes.append(ink_box(mark))
        else:
            boxes += [edge.bounds for edge in mark.edges]
    return (
        min(box[0] for box in boxes),
        min(box[1] for box in boxes),
        max(box[2] for box in boxes),
        max(box[3] for box in boxes),
    )


def letter_paths(words: Words, height: float) -> str:
    """The outlines of a line of text as SVG path data on a page of that height, y down."""
    from fontTools.pens.svgPathPen import SVGPathPen
    from fontTools.pens.transformPen import TransformPen

    font = _font(words.bold)
    known, widths, glyphs = font.getBestCmap(), font["hmtx"], font.getGlyphSet()
    scale = words.size / font["head"].unitsPerEm
    pen = SVGPathPen(glyphs, ntos=lambda value: f"{value:.2f}".rstrip("0").rstrip("."))
    along = (scale * math.cos(words.turn), scale * math.sin(words.turn))
    x, y = words.at
    for letter in words.text:
        name = known[ord(letter)]
        glyphs[name].draw(TransformPen(pen, (along[0], -along[1], -along[1], -along[0], x, height - y)))
        x, y = x + along[0] * widths[name][0], y + along[1] * widths[name][0]
    return str(pen.getCommands())


def stacked(top: str, bottom: str) -> str:
    """A fraction of raised over lowered figures.

    >>> stacked("7", "16")
    '⁷⁄₁₆'
    """
    return top.translate(RAISED) + "⁄" + bottom.translate(LOWERED)


def fraction(mm: float) -> str:
    """A length in inches as it is set: whole, raised over lowered figures, inch mark; ≈ where it is off the grid.

    >>> fraction(61.9125), fraction(12.7), fraction(101.6), fraction(18)
    ('2⁷⁄₁₆″', '¹⁄₂″', '4″', '≈²³⁄₃₂″')
    """
    shown = inches(mm, GRID)
    words = shown.text.removesuffix('"').split(" ")
    parts = []
    for word in words:
        top, slash, bottom = word.partition("/")
        parts.append(stacked(top, bottom) if slash else word)
    return ("≈" if abs(shown.remainder) > CLOSE else "") + "".join(parts) + "″"


def metric(mm: float) -> str:
    """A length in mm to a tenth, as it is set.

    >>> metric(19.05), metric(25.4), metric(12)
    ('19.1', '25.4', '12')
    """
    # A float stands for the decimal it is written as, so 19.05 rounds up as a person does it.
    text = f"{round(mm, 6) + 1e-9:.1f}"
    return text.removesuffix(".0")


def both(mm: float, unit: str) -> tuple[str, str]:
    """A length in the unit asked for, and in the other."""
    return (metric(mm), fraction(mm)) if unit == "mm" else (fraction(mm), metric(mm))


def one_line(mm: float, unit: str, size: float, before: str = "") -> Label:
    """A length and, beside it in gray, the same in the other unit."""
    first, second = both(mm, unit)
    main = Words(before + first, (0.0, 0.0), size, INK, bold=True)
    beside = Words(second, (advance(main.text, size, bold=True) + 0.3 * size, 0.0), size * BESIDE, FAINT)
    return _boxed((main, beside))


def two_lines(mm: float, unit: str, size: float) -> Label:
    """A length and, under it in gray, the same in the other unit; both centered."""
    first, second = both(mm, unit)
    wide, wide_below = advance(first, size, bold=True), advance(second, size * BESIDE)
    whole = max(wide, wide_below)
    return _boxed(
        (
            Words(second, ((whole - wide_below) / 2, 0.0), size * BESIDE, FAINT),
            Words(first, ((whole - wide) / 2, size * 0.86), size, INK, bold=True),
        )
    )


def wrapped(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """The text in lines no wider than `width`, mm, broken at spaces, and inside a word only where one is wider."""
    lines = [""]
    for word in printable(text).split():
        longer = f"{lines[-1]} {word}".strip()
        if advance(longer, size, bold) <= width:
            lines[-1] = longer
            continue
        lines += [""] if lines[-1] else []
        for letter in word:
            if lines[-1] and advance(lines[-1] + letter, size, bold) > width:
                lines.append("")
            lines[-1] += letter
    return lines


def _boxed(words: Sequence[Words]) -> Label:
    boxes = [ink_box(word) for word in words]
    left, low = min(box[0] for box in boxes), min(box[1] for box in boxes)
    right, high = max(box[2] for box in boxes), max(box[3] for box in boxes)
    moved = tuple(replace(word, at=(word.at[0] - left, word.at[1] - low)) for word in words)
    return Label(moved, right - left, high - low)


@functools.cache
def _see_whole(file: Path) -> None:
    from fontTools.ttLib import TTFont, TTLibError

    try:
        with TTFont(file, lazy=True, checkChecksums=2) as font:
            for name in font.reader.keys():  # noqa: SIM118 - a reader, not a dict
                font.reader[name]
            missing = {"cmap", "glyf", "head", "hmtx"} - set(font.reader.keys())
    except (OSError, TTLibError, AssertionError, KeyError, ValueError, struct.error) as error:
        raise PreviewError("", None, "the type that text is set from cannot be read", AGAIN, str(file)) from error
    if missing:
        raise PreviewError("", None, "the type that text is set from is not whole", AGAIN, str(file))


@functools.cache
def _font(bold: bool) -> Any:
    from fontTools.ttLib import TTFont

    return TTFont(font_file(bold), lazy=True)
