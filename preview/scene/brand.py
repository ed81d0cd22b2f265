"""The brand file: the shop's name, logo and colors, for every job's papers."""

from __future__ import annotations

import io
import math
import warnings
from collections.abc import Callable
from pathlib import Path

from preview.errors import PreviewError
from preview.scene.kinds import Kind, color, entries, line, text
from preview.scene.model import NEUTRAL, Brand, Color
from preview.scene.source import parse_toml, read_text
from preview.scene.table import Log, Table
from preview.scene.written import written

WHAT = "brand file"
KEYS = ("name", "lines", "logo", "color", "tint", "footer")
LONGEST_NAME, LONGEST_LINE, LONGEST_FOOTER = 80, 120, 200
MOST_LINES = 8
LARGEST_LOGO = 5_000_000
"""Bytes."""
MOST_PIXELS = 40_000_000
"""More than any paper shows: 6,000 by 6,000 is a page of letter paper at 600 to the inch."""
LOGO_KINDS = ("PNG", "JPEG")
"""What a logo may be."""
READABLE = 4.5
"""The least contrast of text with its ground: WCAG 2.2, success criterion 1.4.3."""
LIGHT = 10.0
"""The least contrast of a tint with black, so that dark gray text reads on it too: above the 7 of criterion 1.4.6."""
WHITE: Color = (1.0, 1.0, 1.0)
BLACK: Color = (0.0, 0.0, 0.0)


def load_brand(path: Path) -> Brand:
    """The brand in a file.

    Raises PreviewError, with the file in each problem and every mistake of the file, not only the first.
    """
    return parse_brand(read_text(path, WHAT), path)


def parse_brand(source: str, path: Path) -> Brand:
    """The brand that a text describes; its logo is found from `path`. Raises as `load_brand` does."""
    try:
        return _brand(parse_toml(source, WHAT), path)
    except PreviewError as error:
        raise error.in_file(path.name) from error.__cause__


def contrast(one: Color, other: Color) -> float:
    """The contrast ratio of two sRGB colors, 1 to 21, as WCAG 2.2 defines it."""
    dark, light = sorted((_luminance(one), _luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def _brand(data: dict[str, object], path: Path) -> Brand:
    log = Log()
    top = Table(data, "", log)
    top.only(KEYS, "in a brand file")
    name = top.need("name", line(LONGEST_NAME), 'write what the shop is called: name = "Alder Street Joinery"')
    address: tuple[str, ...] = top.take("lines", _lines, None) or ()
    logo = top.take("logo", lambda value: _logo(path.parent / text(value), value), None)
    main = top.take("color", _text_color, None)
    tint = top.take("tint", color, None)
    if tint is not None:
        _refuse_dark(top, tint, NEUTRAL.color if main is None else main)
    footer = top.take("footer", line(LONGEST_FOOTER), "")
    if log.problems or name is None:
        raise PreviewError.several(log.problems)
    if main is None:
        main = NEUTRAL.color
    if tint is None and NEUTRAL.tint is not None and contrast(main, NEUTRAL.tint) >= READABLE:
        tint = NEUTRAL.tint
    return Brand(name, address, logo, main, tint, footer)


def _lines(value: object) -> tuple[str, ...]:
    if isinstance(value, list) and len(value) > MOST_LINES:
        problem = f"it has {len(value):,} lines, and {MOST_LINES} is the most"
        raise PreviewError("", written(value), problem, "put the street and the town on one line, say")
    read: Kind[tuple[str, ...]] = entries(line(LONGEST_LINE), "lines, entry")
    return read(value)


# Colors.


def _luminance(shade: Color) -> float:
    """The relative luminance of an sRGB color, 0 to 1, as WCAG 2.2 defines it."""
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in shade)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _text_color(value: object) -> Color:
    found = color(value)
    ratio = contrast(found, WHITE)
    if ratio < READABLE:
        told = f"a contrast of {_figure(ratio)} to 1; text needs {READABLE:g} to 1"
        darker = _mixed(found, BLACK, lambda shade: contrast(shade, WHITE) >= READABLE)
        raise PreviewError(
            "",
            written(value),
            f"headings are printed in it on white, with {told}",
            f'make it darker: "{darker}" is near it and reads well',
        )
    return found


def _refuse_dark(top: Table, tint: Color, main: Color) -> None:
    """Note a tint on which text does not read."""
    for ink, least, whose in ((BLACK, LIGHT, "black text"), (main, READABLE, "text in the brand's color")):
        ratio = contrast(ink, tint)
        if ratio < least:
            problem = f"{whose} on it has a contrast of {_figure(ratio)} to 1; on a tint it needs {least:g} to 1"
            lighter = _mixed(
                tint,
                WHITE,
                lambda shade: contrast(BLACK, shade) >= LIGHT and contrast(main, shade) >= READABLE,
            )
            fix = f'make it lighter: "{lighter}" is near it and reads well'
            top.wrong("tint", top.shown("tint"), problem, fix)
            return


def _mixed(shade: Color, end: Color, is_right: Callable[[Color], bool]) -> str:
    """The first color on the way from one to another, in steps of a hundredth, that is right; as it is written."""
    mixed = end
    for step in range(101):
        mixed = _of_bytes(shade, end, step / 100)
        if is_right(mixed):
            break
    return "#" + "".join(f"{round(part * 255):02x}" for part in mixed)


def _of_bytes(shade: Color, end: Color, share: float) -> Color:
    red, green, blue = (round(255 * (a + share * (b - a))) / 255 for a, b in zip(shade, end, strict=True))
    return (red, green, blue)


def _figure(ratio: float) -> str:
    """A contrast, rounded down: what is too little never looks enough."""
    return f"{math.floor(ratio * 100) / 100:g}"


# The logo.


def _logo(path: Path, value: object) -> bytes:
    """The logo's bytes, once they are known to be a picture that can be printed."""

    def wrong(problem: str, fix: str) -> PreviewError:
        return PreviewError("", written(value), problem, fix)

    try:
        if not path.is_file():
            if path.is_dir():
                raise wrong("this is a folder, not a picture", "name the PNG or JPEG file in it")
            raise wrong("there is no such file", "check the name; it is looked for from the brand file's folder")
        with path.open("rb") as file:
            data = file.read(LARGEST_LOGO + 1)
        if len(data) > LARGEST_LOGO:
            size = max(path.stat().st_size, len(data))
            problem = f"the logo has {size / 1e6:.1f} MB, and {LARGEST_LOGO / 1e6:g} MB is the most"
            raise wrong(problem, "save it smaller: 1,200 pixels across are enough for print")
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise wrong(f"the logo cannot be read: {why}", "check its name and who may read it") from error
    why_not = unprintable(data)
    if why_not:
        raise wrong(why_not, "save it again as a PNG or a JPEG")
    return data


def unprintable(data: bytes) -> str | None:
    """What is wrong with the bytes of a logo; None for a whole PNG or JPEG, whatever its file is called."""
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of its size, which is asked for below
            with Image.open(io.BytesIO(data), formats=LOGO_KINDS) as image:
                wide, high = image.size
                if wide * high > MOST_PIXELS:
                    return f"the logo has {wide:,} by {high:,} pixels, more than any paper shows"
                image.load()
    except UnidentifiedImageError:
        return "what is in this file is not a PNG or a JPEG"
    except Image.DecompressionBombError:
        return f"the logo has more than {MOST_PIXELS / 1e6:g} million pixels, more than any paper shows"
    except (OSError, ValueError, SyntaxError, EOFError, MemoryError):  # what the library raises on damaged files
        return "the picture in this file is damaged, or breaks off"
    return None
