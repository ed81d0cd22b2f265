"""The back of a profile as a shop leaves it: relieved between two bearing strips, or beveled to bear at its top."""

from __future__ import annotations

import math

from preview.errors import PreviewError
from preview.profiles.cutting import profile_left
from preview.profiles.edges import Line
from preview.profiles.measures import measure
from preview.profiles.placement import PROUD
from preview.profiles.profile import LEAST_BACK, Profile
from preview.profiles.regions import Region, difference, region
from preview.units import Unit, show

BACK_STRIP = 25.4 / 8
"""The strip at the top of a beveled back that stays on the wall, mm: 1/8 in (common practice)."""
STEEPEST = math.radians(45)


def back_relief(profile: Profile, depth: float, margin: float, *, unit: Unit = "mm") -> Profile:
    """The profile with a flat hollow in its back, `depth` mm deep, between two bearing strips `margin` mm high.

        |                  The back reaches from the foot of its lowest line on the wall to the top of its
        '--.   margin      highest; what lies between the strips goes away to `depth`, a hollow that is
           |               there already included.
        .--'   margin
        |  depth

    Raises PreviewError, its place `depth` or `margin`, when the strips do not fit or no wood is left in front.
    """
    _refuse_nothing("depth", depth, unit)
    _refuse_nothing("margin", margin, unit)
    low, high = _back(profile)
    if margin < LEAST_BACK:
        raise PreviewError(
            "margin",
            None,
            f"the bearing strips are {show(margin, unit)}, too narrow to bear",
            f"leave at least {show(LEAST_BACK, unit)}",
        )
    if high - low <= 2 * margin:
        raise PreviewError(
            "margin",
            None,
            f"the back is {show(high - low, unit)} high, and two strips of {show(margin, unit)} leave nothing "
            "to relieve",
            f"use a margin of less than {show((high - low) / 2, unit)}",
        )
    corners = [(-PROUD, low + margin), (depth, low + margin), (depth, high - margin), (-PROUD, high - margin)]
    hollow = region([Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)])
    return _less(profile, hollow, "depth", "the back relief would", unit)


def back_bevel(profile: Profile, angle: float, strip: float = BACK_STRIP, *, unit: Unit = "mm") -> Profile:
    """The profile with its back planed at `angle` (radians) so that only a strip at its top stays on the wall.

        |  strip           A profile needs a back to stand on, so the plane does not start at the very top
        \\                  but `strip` mm below it, 1/8 in unless given; from there down the back leaves
         \\                 the wall by tan(angle) times the way down.

    Raises PreviewError, its place `angle` or `strip`, when the strip does not fit or no wood is left in front.
    """
    _refuse_nothing("strip", strip, unit)
    if not 0.0 < angle <= STEEPEST:
        raise PreviewError(
            "angle",
            None,
            f"the back is planed at {math.degrees(angle):.6g}°",
            f"give an angle of more than 0° and no more than {math.degrees(STEEPEST):g}°; 1° to 5° is usual",
        )
    low, high = _back(profile)
    if not LEAST_BACK <= strip < high - low:
        raise PreviewError(
            "strip",
            None,
            f"the back is {show(high - low, unit)} high, and a strip of {show(strip, unit)} is to stay on the wall",
            f"give a strip of at least {show(LEAST_BACK, unit)} and less than {show(high - low, unit)}",
        )
    foot = measure(profile).h_min - PROUD
    reach = math.tan(angle) * (high - strip - foot)
    corners = [(0.0, high - strip), (-PROUD, high - strip), (-PROUD, foot), (reach, foot)]
    wedge = region([Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)])
    return _less(profile, wedge, "angle", "the back bevel would", unit)


def _refuse_nothing(key: str, length: float, unit: Unit) -> None:
    if not math.isfinite(length) or length <= 0.0:
        said = show(length, unit) if math.isfinite(length) else str(length)
        raise PreviewError(key, None, f"the {key} is {said}", f"give a {key} above 0, or leave the whole out")


def _back(profile: Profile) -> tuple[float, float]:
    """The lowest and the highest height at which lines of the profile lie on the wall."""
    on_wall = [
        end[1]
        for edge in profile.edges
        if isinstance(edge, Line) and edge.start[0] == edge.end[0] == 0.0
        for end in (edge.start, edge.end)
    ]
    if not on_wall:
        raise PreviewError(
            "",
            None,
            "the profile has no back on the wall, d = 0",
            "relieve or bevel its back before it is moved out",
        )
    return min(on_wall), max(on_wall)


def _less(profile: Profile, cut: Region, key: str, what: str, unit: Unit) -> Profile:
    """The profile less a cut in its back, which must leave one piece."""
    left = difference(Region((profile.edges,)), cut)
    if len(left.outlines) != 1:
        size = measure(profile)
        raise PreviewError(
            key,
            None,
            f"{what} cut through the wood, which is {show(size.d_max, unit)} at its thickest",
            f"use a smaller {key}",
        )
    return profile_left(profile.name, left, "the cut in the back", unit)
