"""Drawings on the sheet: plans and the like at their scale, profiles at full size, and images as they are printed."""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from reportlab.lib.utils import ImageReader

from preview.drafting import SCALES, DrawingUnit, dimensioned, thinned_dimensions
from preview.pages import Item, clean
from preview.paper import (
    FAINT,
    INK,
    THICK,
    WOOD,
    Mark,
    Page,
    Placing,
    Trace,
    Words,
    both,
    bounds,
    moved,
    scaled,
    stroke,
    wrapped,
)
from preview.profiles import Profile, measure
from preview.units import Unit

if TYPE_CHECKING:
    from PIL import Image

DOTS = 300
"""The most pixels of a picture to the inch of paper."""
QUALITY = 88
TYPE, NAME, NOTE = 2.8, 3.5, 2.5
"""mm, the type of a profile's dimensions, of its name and of the notes under it (ISO 3098's series, from memory)."""
LEADING = 3.7
OFF: dict[Literal["right", "left", "top", "bottom"], float] = {"top": 6.0, "bottom": 6.5, "left": 7.0, "right": 7.0}
"""mm between a profile and its first dimension lines."""
LEAST_WIDTH = 66.0
"""mm: what stands with a profile is never set narrower."""
ABOVE, ASIDE = 6.0, 7.0
"""mm between a profile and the words under it, or beside it."""
TOO_LARGE = "This paper is too small for it at full size; the full-size template is a file of its own."
BAR = 0.2
"""mm, the lines of the check bars."""
CHECK_MM, CHECK_IN = 50.0, 2 * 25.4


def printed_image(data: bytes, width: float, lossless: bool = False) -> ImageReader:
    """An image as it is printed that wide, points: of no more pixels than paper shows, a JPEG unless it is to be
    lossless. Raises OSError or ValueError for what is no image.
    """
    from PIL import Image

    with Image.open(io.BytesIO(data)) as opened:
        most = max(1, round(width / 72 * DOTS))
        if opened.format == "JPEG" and opened.mode in ("RGB", "L") and opened.width <= most and not lossless:
            return ImageReader(io.BytesIO(data))
        image = _on_white(opened)
    if image.width > most:
        image = image.resize((most, max(1, round(image.height * most / image.width))), Image.Resampling.LANCZOS)
    if lossless:
        return ImageReader(image)
    into = io.BytesIO()
    image.save(into, "JPEG", quality=QUALITY, optimize=True)
    return ImageReader(io.BytesIO(into.getvalue()))


def _on_white(image: Image.Image) -> Image.Image:
    from PIL import Image

    whole = image.convert("RGBA")
    ground = Image.new("RGBA", whole.size, "white")
    return Image.alpha_composite(ground, whole).convert("RGB")


@dataclass(frozen=True)
class Section:
    """A profile that is to be shown. whose: which members or options have it. fitted: of arcs that stand for other
    curves, so that its steps have no sizes that a shop works to.
    """

    profile: Profile
    whose: str
    fitted: bool = False


@dataclass(frozen=True)
class Layout:
    """How a profile is set on paper.

    told: what is said of its scale. lying: turned to be read from the right. beside: the words on its right, not below.
    dimensions: its own, or none. bars: to check the print by.
    """

    scale: float
    told: str
    lying: bool = False
    beside: bool = False
    dimensions: bool = True
    bars: bool = True


def full_size(section: Section, unit: Unit, room: tuple[float, float]) -> list[Item]:
    """A profile at full size with its dimensions: upright or lying, the words below it or beside it.

    Where the paper has room for the section but not for its dimensions, these come in a drawing of their own; where it
    has none for the section either, that drawing is all there is, and says so. room: width and height, mm.
    """
    size = measure(section.profile)
    sizes = f"height {both_ways(size.h_max - size.h_min, unit)}, projection {both_ways(size.d_max - size.d_min, unit)}"
    words = f"Profile {clean(section.profile.name)}: {sizes}. {clean(section.whose)}."
    high, wide = size.h_max - size.h_min, size.d_max - size.d_min
    fitting = [lying for lying in (False, True) if _fits((high, wide) if lying else (wide, high), room)]
    dimensions = [
        Layout(1.0, "Full size, 1:1.", lying=lying, beside=beside) for lying in fitting for beside in (False, True)
    ]
    bare = [replace(layout, dimensions=False) for layout in dimensions]
    for layout in bare if section.fitted else (*dimensions, *bare):
        page = _page(section, unit, layout)
        if _fits((page.width, page.height), room):
            found = Item(page, f"{words} Full size{', lying' if layout.lying else ''}.")
            return [found] if layout.dimensions or section.fitted else [found, _smaller(section, unit, room, words, "")]
    return [_smaller(section, unit, room, words, TOO_LARGE)]


def _fits(size: tuple[float, float], room: tuple[float, float]) -> bool:
    return size[0] <= room[0] and size[1] <= room[1]


def _smaller(section: Section, unit: Unit, room: tuple[float, float], words: str, why: str) -> Item:
    """A profile with its dimensions at the largest usual scale below full size that there is room for."""
    told = ""
    for scale in (each for each in SCALES if each < 1):
        told = f"Scale {scale.numerator}:{scale.denominator}."
        page = _page(section, unit, Layout(float(scale), f"{told} {why}".strip(), bars=False))
        if _fits((page.width, page.height), room):
            break
    fits = min(1.0, room[0] / page.width, room[1] / page.height)
    return Item(page, f"{words} With its dimensions. {told} {why}".strip(), fits)


def both_ways(mm: float, unit: Unit) -> str:
    """A length in the unit that the profile is dimensioned in, as text."""
    drawn_in = dimension_unit(unit)
    return both(mm, drawn_in)[0] + (" mm" if drawn_in == "mm" else "")


def dimension_unit(unit: Unit) -> DrawingUnit:
    """Profiles are dimensioned in inches or in millimeters."""
    return "in" if unit in ("in", "ft") else "mm"


def _page(section: Section, unit: Unit, layout: Layout) -> Page:
    """A section with its name and notes."""
    profile, drawn_in = section.profile, dimension_unit(unit)
    size = measure(profile)
    place = scaled(layout.scale)
    edges = place.edges(profile.edges)
    marks: Sequence[Mark] = [Trace(edges, 0.0, WOOD, WOOD), Trace(edges, THICK)]
    if layout.dimensions:
        marks = thinned_dimensions(dimensioned(profile, place, drawn_in, TYPE, OFF))
    if layout.lying:
        marks = [_turned(mark) for mark in marks]
    left, low, right, high = bounds(marks)
    width = LEAST_WIDTH if layout.beside else max(LEAST_WIDTH, right - left)
    other = "millimeters in gray" if drawn_in == "in" else "inches in gray"
    sizes = f"Height {both_ways(size.h_max - size.h_min, unit)}, projection {both_ways(size.d_max - size.d_min, unit)}"
    foot: list[Mark] = []
    y = -NAME
    for line in wrapped(clean(profile.name), width, NAME, bold=True):
        foot.append(Words(line, (0.0, y), NAME, INK, bold=True))
        y -= NAME + 1.2
    y += 0.2
    where = "below" if layout.lying else "on the left"
    beneath = f"{layout.told} {sizes}" + (f"; {other}." if layout.dimensions else ".")
    for text in (beneath, f"{clean(section.whose)}. The wall is {where}."):
        for line in wrapped(text, width, NOTE):
            foot.append(Words(line, (0.0, y), NOTE, FAINT))
            y -= LEADING
    if layout.bars:
        y -= 9.6
        foot += moved(check_bars(), 0.0, y)
    tall, edge = -y + 0.6, 0.4
    if layout.beside:
        lines = moved(marks, edge - left, edge - low)
        words = moved(foot, right - left + ASIDE, edge + tall)
        return Page(right - left + ASIDE + width + edge, max(high - low, tall) + 2 * edge, (*lines, *words))
    lines = moved(marks, edge - left + (width - (right - left)) / 2, tall + ABOVE - low)
    return Page(width + 2 * edge, tall + ABOVE + high - low + edge, (*lines, *moved(foot, edge, tall)))


def _turned(mark: Mark) -> Mark:
    """A mark a quarter turned, counter-clockwise."""
    quarter = Placing(0.0, -1.0, 1.0, 0.0)
    if isinstance(mark, Words):
        return replace(mark, at=quarter.point(mark.at), turn=mark.turn + math.pi / 2)
    return replace(mark, edges=quarter.edges(mark.edges))


def check_bars() -> list[Mark]:
    """50 mm in fives and 2 in in eighths, one over the other, from end tick to end tick; the upper right is free.

    They stand on y = 0; what is said of them comes to 9.6.
    """
    marks: list[Mark] = [Words("Print at 100 % and check both bars with a rule:", (0.0, 9.6), NOTE, INK)]
    for y, length, parts, major, words in ((4.6, CHECK_MM, 10, 2, "50 mm"), (0.0, CHECK_IN, 16, 8, "2 in")):
        marks.append(stroke((0.0, y), (length, y), weight=BAR, ink=INK))
        for i in range(parts + 1):
            x = length * i / parts
            tall = 2.4 if i % major == 0 else 1.4
            marks.append(stroke((x, y), (x, y + tall), weight=BAR, ink=INK))
        marks.append(Words(words, (length + 2.0, y + 0.1), NOTE, INK))
    return marks
