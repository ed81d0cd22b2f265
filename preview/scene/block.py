"""Blocks: what stands in place of molding at its foot, in line or in a corner."""

from __future__ import annotations

from preview.errors import PreviewError
from preview.profiles import Line, Profile, make_profile
from preview.scene.kinds import Kind, length, length_within
from preview.scene.looks import WHITE_PAINT
from preview.scene.model import Block, Finish
from preview.scene.profile import Sourced
from preview.scene.table import Table
from preview.units import Unit

KEYS = ("width", "thickness", "height", "profile", "lap", "up", "finish")
LEAST, MOST = 1.0, 10_000.0
"""No side of a block is shorter or longer than these, mm."""
SQUARE = "a square-edged block"
FIXES = {
    "width": "write how wide it is along the wall: width = 4",
    "thickness": 'write how far it stands out from the wall: thickness = "1 1/4"',
    "height": "write how high it is: height = 7",
    "lap": "write how far it covers each of the two walls, or leave lap out",
}


def read_block(
    label: str, table: Table, unit: Unit | None, profile: Kind[Sourced | None], finish: Kind[Finish | None]
) -> Block | None:
    """One [block.NAME]: as wide as it is along the wall, its section a rectangle or a profile of the scene.

    None when it or its profile holds a mistake, which is noted.
    """
    noted = len(table.log.problems)
    table.only(KEYS, "in a block")
    table.rightly_named(label)
    width = table.need("width", _size("width", unit), FIXES["width"])
    lap = table.take("lap", _size("lap", unit), None)
    up = table.take("up", length(unit), None)
    look = table.take("finish", finish, None) or WHITE_PAINT
    section = _profile(table, profile) if "profile" in table else _rectangle(label, table, unit)
    if width is None or section is None or len(table.log.problems) != noted:
        return None
    return Block(label, width, section[0], look, section[1], lap, up)


def _size(key: str, unit: Unit | None) -> Kind[float]:
    said = f"a block's {key} is {LEAST:g} mm to {MOST / 1000:g} m, and this is {{}}"
    return length_within(unit, LEAST, MOST, said, FIXES[key])


def _profile(table: Table, profile: Kind[Sourced | None]) -> tuple[Profile, str] | None:
    """The section that a profile of the scene gives, and where that came from."""
    for key in ("thickness", "height"):
        if key in table:
            problem = f"the block's profile says its {key} already"
            table.wrong(key, table.shown(key), problem, f"leave {key} out, or the profile")
    found = table.take("profile", profile, None)
    return None if found is None else (found.profile, found.source)


def _rectangle(label: str, table: Table, unit: Unit | None) -> tuple[Profile, str] | None:
    out = table.need("thickness", _size("thickness", unit), FIXES["thickness"])
    high = table.need("height", _size("height", unit), FIXES["height"])
    if out is None or high is None:
        return None
    corners = [(0.0, 0.0), (out, 0.0), (out, high), (0.0, high)]
    try:
        sides = [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]
        return make_profile(label, sides, unit=unit or "mm"), SQUARE
    except PreviewError as error:
        table.log.add(error.at(table.place))
        return None
