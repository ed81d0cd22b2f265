"""Lengths, angles and counts as a millworker writes and reads them: the one room that knows an inch.

Reading is exact: a length becomes a fraction of millimeters, an angle a fraction of degrees. Text that
could mean two things is refused.

    entry -> spelling -> lengths, angles
"""

from preview.units.angles import angle, cos_sin, degrees_text, parse_angle
from preview.units.counts import counted, listed
from preview.units.lengths import Fractional, Unit, inches, length, parse_length, show, shown_step

__all__ = [
    "Fractional",
    "Unit",
    "angle",
    "cos_sin",
    "counted",
    "degrees_text",
    "inches",
    "length",
    "listed",
    "parse_angle",
    "parse_length",
    "show",
    "shown_step",
]
