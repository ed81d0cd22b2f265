"""Pictures side by side in one: the same size each, with a caption below each, on white."""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from preview.paper import font_file, printable

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

NARROWEST, WIDEST = 1.3, 2.0
"""The width of a tile over its height."""
GUTTER = 0.014
"""The white round each tile, as a share of the picture's width and height together, halved."""
BAND = 0.058
"""The height of a caption, the same way."""
LINES = 2
LARGEST = 0.4
"""The size of a caption's letters at the most, as a share of its height."""
LEADING = 1.2
SMALLEST = 6
"""Letters are no smaller than this, pixels: what does not fit then is left off, with an ellipsis."""
INK = (38, 38, 38)


def grid_of(count: int, size: tuple[int, int]) -> list[tuple[int, int]]:
    """The sizes in pixels of `count` tiles, all alike, that fit with their captions into a picture of `size`."""
    return [_grid(count, size)[1]] * count


def tiled(images: Sequence[bytes], captions: Sequence[str], size: tuple[int, int]) -> bytes:
    """One picture of `size` pixels, a PNG: images (PNG each, of the sizes `grid_of` gives) with a caption each.

    The last row is centered. A caption that is too long is wrapped, then set smaller.
    """
    from PIL import Image, ImageDraw

    columns, (wide, high) = _grid(len(images), size)
    gutter, band = _spaces(size)
    rows = math.ceil(len(images) / columns)
    top = (size[1] - rows * (high + band) - (rows + 1) * gutter) // 2 + gutter
    sheet = Image.new("RGB", size, "white")
    pen = ImageDraw.Draw(sheet)
    for number, (image, caption) in enumerate(zip(images, captions, strict=True)):
        row = number // columns
        mine = min(columns, len(images) - row * columns)
        left = (size[0] - mine * wide - (mine - 1) * gutter) // 2 + number % columns * (wide + gutter)
        above = top + row * (high + band + gutter)
        tile = Image.open(io.BytesIO(image)).convert("RGB")
        if tile.size != (wide, high):
            tile = tile.resize((wide, high), Image.Resampling.LANCZOS)
        sheet.paste(tile, (left, above))
        font, lines = _set(caption, wide, band)
        for line in range(len(lines)):
            at = (left + wide / 2, above + high + (0.55 + line * 1.0) * LEADING * font.size)
            pen.text(at, lines[line], INK, font, anchor="mm")
    out = io.BytesIO()
    sheet.save(out, "PNG")
    return out.getvalue()


def _spaces(size: tuple[int, int]) -> tuple[int, int]:
    """The gutter and the height of a caption, pixels."""
    scale = (size[0] + size[1]) / 2
    return max(2, round(GUTTER * scale)), max(LINES * 8, round(BAND * scale))


def _grid(count: int, size: tuple[int, int]) -> tuple[int, tuple[int, int]]:
    """How many tiles stand in a row, and their size: the grid with the largest tiles of a fair shape."""
    gutter, band = _spaces(size)
    best: tuple[float, int, tuple[int, int]] = (-math.inf, 1, (1, 1))
    for columns in range(1, max(count, 1) + 1):
        rows = math.ceil(count / columns)
        wide = (size[0] - (columns + 1) * gutter) // columns
        room = (size[1] - (rows + 1) * gutter) // max(rows, 1) - band
        if wide < 1 or room < 1:
            continue
        high = min(room, round(wide / NARROWEST))
        wide = min(wide, round(high * WIDEST))
        if min(wide, high) > 0 and wide * high > best[0]:
            best = (float(wide * high), columns, (wide, high))
    return best[1], best[2]


def _set(caption: str, wide: int, band: int) -> tuple[FreeTypeFont, list[str]]:
    """The type and the lines in which a caption fits below a tile."""
    from PIL import ImageFont

    text = " ".join(printable(caption).split())
    size = max(SMALLEST, int(LARGEST * band))
    while True:
        font = ImageFont.truetype(str(font_file(bold=False)), size)
        lines = _wrapped(text, font, wide)
        fits = len(lines) <= LINES and all(font.getlength(line) <= wide for line in lines)
        if fits:
            return font, lines
        if size <= SMALLEST:
            return font, _cut(lines, font, wide)
        size -= 1


def _wrapped(text: str, font: FreeTypeFont, wide: int) -> list[str]:
    """The text in lines, broken at spaces."""
    lines: list[str] = []
    for word in text.split():
        if lines and font.getlength(f"{lines[-1]} {word}") <= wide:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def _cut(lines: list[str], font: FreeTypeFont, wide: int) -> list[str]:
    """As many lines as there is room for, each no wider than that, with an ellipsis where something is left off."""
    found = []
    for number, line in enumerate(lines[:LINES]):
        last = number == LINES - 1 and len(lines) > LINES
        if not last and font.getlength(line) <= wide:
            found.append(line)
            continue
        while line and font.getlength(f"{line}…") > wide:
            line = line[:-1]
        found.append(f"{line}…")
    return found
