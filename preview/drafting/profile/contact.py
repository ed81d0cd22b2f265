"""The contact sheet: every profile of a library side by side, all to one scale, with its name and its size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from preview.drafting.profile.dimensioned import (
    SCALES,
    DrawingUnit,
    footing,
    section,
)
from preview.paper import FAINT, INK, Mark, Page, Words, both, bounds, moved, png_bytes, scaled, svg_bytes, wrapped
from preview.profiles import Profile, measure

WIDTH = 279.4
"""mm, the long side of letter paper."""
MARGIN = 10.0
CELL = 43.0
"""mm, the least width of a column, with its gap."""
GAP = 7.0
"""mm between two names side by side."""
SNUG = 4.0
"""mm between two sections side by side."""
NAME, FIGURE = 4.2, 3.8
"""mm, the type of names and of sizes."""
TALLEST = 100.0
"""mm that the tallest section may take on the sheet."""
BETWEEN = 11.0
"""mm between rows."""


@dataclass(frozen=True)
class _Cell:
    """One profile on the sheet: its text, its size at the sheet's scale (mm), and the columns it takes."""

    profile: Profile
    lines: tuple[str, ...]
    figures: str
    wide: float
    high: float
    columns: int


def contact_sheet(profiles: Sequence[Profile], unit: DrawingUnit = "in", title: str = "Profiles") -> Page:
    """All profiles to one scale, in the order given, row by row; every foot stands on its row's line.

    Raises ValueError when there are none.
    """
    if not profiles:
        raise ValueError("a contact sheet needs at least one profile")
    sizes = [measure(profile) for profile in profiles]
    tallest = max(size.h_max - size.h_min for size in sizes)
    widest = max(size.d_max - size.d_min for size in sizes)
    scale = next(
        (s for s in SCALES if s <= 1 and tallest * s <= TALLEST and widest * s <= WIDTH - 2 * MARGIN), SCALES[-1]
    )
    count = int((WIDTH - 2 * MARGIN + GAP) // CELL)
    pitch = (WIDTH - 2 * MARGIN + GAP) / count
    rows = _rows([_cell(profile, float(scale), pitch, count, unit) for profile in profiles], count)
    what = f"Height × projection, in {'inches' if unit == 'in' else 'millimeters'}."
    marks: list[Mark] = []
    y = 0.0
    for row in rows:
        y -= max(cell.high for cell in row)
        column = 0
        for cell in row:
            marks += _drawn(cell, MARGIN + column * pitch, y, float(scale))
            column += cell.columns
        y -= 6.8 + max(len(cell.lines) for cell in row) * 4.9 + BETWEEN
    foot = list(moved(footing(scale, unit, what), MARGIN - 8.0, 0.0))
    foot = list(moved(foot, 0.0, MARGIN - bounds(foot)[1]))
    up = bounds(foot)[3] + 10.0 - bounds(marks)[1]
    head = Words(title, (MARGIN, bounds(marks)[3] + up + 9.0), 8.0, INK, bold=True)
    return Page(WIDTH, head.at[1] + 6.0 + MARGIN, (*moved(marks, 0.0, up), head, *foot))


def contact_sheet_svg(profiles: Sequence[Profile], unit: DrawingUnit = "in") -> bytes:
    """The contact sheet as SVG; raises what `contact_sheet` does."""
    page = contact_sheet(profiles, unit)
    return svg_bytes(page, "Profiles", f"{len(profiles)} profiles to one scale: {', '.join(p.name for p in profiles)}")


def contact_sheet_png(profiles: Sequence[Profile], unit: DrawingUnit = "in", across: int = 2400) -> bytes:
    """The contact sheet as PNG, so many pixels wide; raises what `contact_sheet` does."""
    return png_bytes(contact_sheet(profiles, unit), across)


def _cell(profile: Profile, scale: float, pitch: float, most: int, unit: DrawingUnit) -> _Cell:
    size = measure(profile)
    wide, high = (size.d_max - size.d_min) * scale, (size.h_max - size.h_min) * scale
    columns = min(most, max(1, int(-(-(wide + SNUG) // pitch))))
    lines = tuple(wrapped(profile.name, columns * pitch - GAP, NAME, bold=True))
    tall, out = both(size.h_max - size.h_min, unit)[0], both(size.d_max - size.d_min, unit)[0]
    return _Cell(profile, lines, f"{tall} × {out}" + (" mm" if unit == "mm" else ""), wide, high, columns)


def _rows(cells: Sequence[_Cell], count: int) -> list[list[_Cell]]:
    rows: list[list[_Cell]] = [[]]
    for cell in cells:
        if sum(other.columns for other in rows[-1]) + cell.columns > count:
            rows.append([])
        rows[-1].append(cell)
    return rows


def _drawn(cell: _Cell, left: float, foot: float, scale: float) -> list[Mark]:
    size = measure(cell.profile)
    place = scaled(scale, left - size.d_min * scale, foot - size.h_min * scale)
    marks: list[Mark] = list(section(cell.profile, place, weight=0.5))
    y = foot - 6.0
    for line in cell.lines:
        marks.append(Words(line, (left, y), NAME, INK, bold=True))
        y -= 4.9
    return [*marks, Words(cell.figures, (left, y + 0.1), FIGURE, FAINT)]
