"""Rough stock as yards sell it, and board feet."""

from __future__ import annotations

from dataclasses import dataclass

from preview.units import Unit, inches, show

INCH = 25.4
BOARD_FOOT = 144 * INCH**3
"""144 cubic inches in mm³, reckoned on the nominal, rough thickness (lumber yards' rule)."""
WIDEST_BOARD = 12 * INCH
"""The widest board, mm, that is reckoned with; common practice: few hardwood boards are wider."""
BOARD_LENGTH = 96 * INCH
"""The length of board, mm, for which pieces to a board are counted: 8 ft."""
LARGEST_SWING = 24 * INCH
"""The largest diameter, mm, that a lathe is expected to swing unless told otherwise; common practice for a large
one."""


@dataclass(frozen=True)
class Nominal:
    """A thickness of hardwood as it is sold: by its name in quarters of an inch, rough, and surfaced on two sides,
    mm."""

    name: str
    rough: float
    surfaced: float


def _nominal(quarters: int, surfaced: float) -> Nominal:
    return Nominal(f"{quarters}/4", quarters / 4 * INCH, surfaced * INCH)


NOMINAL = (
    _nominal(4, 13 / 16),
    _nominal(5, 1 + 1 / 16),
    _nominal(6, 1 + 5 / 16),
    _nominal(7, 1 + 1 / 2),
    _nominal(8, 1 + 3 / 4),
    _nominal(12, 2 + 3 / 4),
    _nominal(16, 3 + 3 / 4),
)
"""Hardwood rough and surfaced two sides (engineeringtoolbox.com, d_1462; a second list agrees)."""


def stock_for(thickness: float) -> Nominal | None:
    """The thinnest stock that still holds `thickness` mm when it is surfaced on two sides; None where 16/4 does not.

    >>> stock_for(25.4).name, stock_for(100.0)
    ('5/4', None)
    """
    return next((each for each in NOMINAL if each.surfaced >= thickness - 1e-9), None)


def board_feet(volume: float) -> float:
    """Board feet in a volume of mm³.

    >>> round(board_feet(25.4 * 152.4 * 8 * 304.8), 6)
    4.0
    """
    return volume / BOARD_FOOT


def fine(mm: float, unit: Unit) -> str:
    """A length as calipers are set by it: to 1/64 in, or to 0.1 mm.

    >>> fine(50.8, "in"), fine(50.0, "in"), fine(50.04, "mm")
    ('2"', '1 31/32"', '50 mm')
    """
    return inches(mm, 64).text if unit in ("in", "ft") else show(mm, unit)
