"""What a shop does to any profile before it goes up: arrises eased, the back relieved or beveled."""

from __future__ import annotations

from dataclasses import replace

from preview.errors import PreviewError
from preview.profiles import BACK_STRIP, Profile, back_bevel, back_relief, ease
from preview.scene.cut_profile import part
from preview.scene.kinds import degrees, length
from preview.scene.table import Table
from preview.scene.written import written
from preview.units import Unit, angle

RELIEF = ("ease", "back_relief", "back_bevel")


def read_relief(profile: Profile | None, table: Table, unit: Unit | None) -> Profile | None:
    """The profile with its arrises eased, then its back relieved and beveled, as far as the keys ask for it.

    None when the profile is None, or when a key holds a mistake, which is noted. The arrises that a relief
    or a bevel makes in the back are left sharp.
    """
    noted = len(table.log.problems)
    of_length = length(unit)
    radius = table.take("ease", of_length, None)
    depth = margin = slope = None
    strip = BACK_STRIP
    if "back_relief" in table and (keys := part(table, "back_relief", '{ depth = "1/16", margin = "1/2" }')):
        keys.only(("depth", "margin"), "in a back relief")
        depth = keys.need("depth", of_length, 'write how deep the back is hollowed: depth = "1/16"')
        margin = keys.need("margin", of_length, 'write how much at either end stays on the wall: margin = "1/2"')
    if "back_bevel" in table and (keys := part(table, "back_bevel", "{ angle = 2 }")):
        keys.only(("angle", "strip"), "in a back bevel")
        slope = keys.need("angle", degrees, "write how far the back leans from the wall, in degrees: angle = 2")
        strip = keys.take("strip", of_length, strip)
    if profile is None or unit is None or len(table.log.problems) != noted:
        return None
    done = "ease"
    try:
        if radius is not None:
            profile = ease(profile, radius, unit=unit)
        done = "back_relief"
        if depth is not None and margin is not None:
            profile = back_relief(profile, depth, margin, unit=unit)
        done = "back_bevel"
        if slope is not None:
            profile = back_bevel(profile, angle(slope), strip, unit=unit)
    except PreviewError as error:
        table.log.add(_as_written(error, table, done).at(table.place))
        return None
    return profile


def _as_written(error: PreviewError, table: Table, key: str) -> PreviewError:
    """An error of one of the keys, with the value that stands in the file."""
    value = table.data[key]
    inside = value if isinstance(value, dict) else {}
    return PreviewError.several(
        replace(problem, place=f"{key}, {problem.place}", value=written(inside[problem.place]))
        if problem.place in inside
        else replace(problem, place=key, value=written(value))
        for problem in error.problems
    )
