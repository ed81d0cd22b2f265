"""A profile given flat on its back, laid at its spring angle."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

from preview.errors import PreviewError
from preview.profiles import Profile, Sprung, sprung
from preview.scene.kinds import degrees, length
from preview.scene.table import Table
from preview.scene.written import written
from preview.units import Unit, angle

SPRING = ("spring", "flats")


def read_spring(profile: Profile | None, table: Table, unit: Unit | None) -> Sprung | None:
    """The profile laid at `spring`, as it was where that key is not there; None when a mistake is noted.

    `flats`: how wide the flats on the wall and on the ceiling are cut where its edges have no bevels for them.
    """
    noted = len(table.log.problems)
    spring = table.take("spring", _spring, None)
    flats = table.take("flats", length(unit), None)
    if "flats" in table and "spring" not in table and not table.told("spring"):
        problem = "flats are cut on a molding that is laid at its spring angle, and no spring is given"
        table.wrong("flats", table.shown("flats"), problem, "add spring = 38, say, or leave flats out")
    if "spring" in table and "back_bevel" in table:
        problem = "the back of a sprung molding stands off the wall, so a bevel of its back has nothing to bear on"
        table.wrong("back_bevel", table.shown("back_bevel"), problem, "keep spring, or back_bevel")
    if "spring" in table and (drawn := [key for key in ("wall", "ceiling") if key in table]):
        problem = f"its {' and '.join(drawn)} draw it as it stands in the corner, and spring lays it there once more"
        table.wrong("spring", table.shown("spring"), problem, f"keep spring, or {' and '.join(drawn)}")
    if profile is None or len(table.log.problems) != noted:
        return None
    if spring is None:
        return Sprung(profile, 0.0, 0.0, ())
    try:
        return sprung(profile, angle(spring), flats, unit=unit or "mm")
    except PreviewError as error:
        table.log.add(
            PreviewError.several(
                replace(problem, place=place, value=table.shown(place))
                for problem in error.problems
                for place in ["flats" if problem.place == "flats" and "flats" in table else "spring"]
            ).at(table.place)
        )
        return None


def _spring(value: object) -> Fraction:
    """An angle in degrees; the trade's way of naming both, 38/52, is no fraction of one."""
    both = re.fullmatch(r"\s*(\d+)\s*/\s*(\d+)\s*", value) if isinstance(value, str) else None
    if both and int(both[1]) + int(both[2]) == 90:
        raise PreviewError(
            "",
            written(value),
            "it names two angles, that to the wall and that to the ceiling",
            f"write the one between the back and the wall alone: {both[1]} or {both[2]}; a usual 38/52 crown has 38",
        )
    return degrees(value)
