"""Sprung moldings: a section given flat on its back, laid at its spring angle against the wall and the ceiling."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from preview.errors import PreviewError
from preview.profiles.edges import Edge, Line
from preview.profiles.measures import measure, projection_at
from preview.profiles.pens import Point
from preview.profiles.placement import PROUD, placed
from preview.profiles.profile import LEAST_BACK, Profile, make_profile
from preview.profiles.regions import Region, difference, region
from preview.units import Unit, cos_sin, degrees_text, show

FLAT = 25.4 / 8
"""The flat on the wall and on the ceiling, mm, that is cut where a section has none: 1/8 in (common practice)."""
LEAST_SPRING, MOST_SPRING = math.radians(20), math.radians(70)
TRUED = math.radians(0.2)
"""A bevel this near to plumb or level, radians, is meant to be so, and is made so."""
ALMOST = math.radians(8)
"""A bevel this near to plumb or level, radians, was made for another spring angle, and is told."""
SHOWN = math.radians(0.005)
"""Less than this, radians, is not worth a word."""
ROUNDING = 1e-7
"""Ends of a bevel that differ by less than this, mm, are put on the wall or the ceiling without a cut."""
LAID = 0.5
"""A section lies flat on its back when at least this share of its width does."""


@dataclass(frozen=True)
class Sprung:
    """A sprung profile in position, its flats on the wall and on the ceiling (mm), and what was done, in words."""

    profile: Profile
    wall: float
    ceiling: float
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Bearing:
    """How a section turned to its spring comes to bear: `at` is the plane, mm; `edge` the number of its bevel.

    off: how far the bevel is from the plane's direction, radians; where edge is None, of one that is no good, or 0.
    taken: what is cut off, mm.
    """

    at: float
    edge: int | None
    off: float
    taken: float


def sprung(profile: Profile, spring: float, flats: float | None = None, *, unit: Unit = "mm") -> Sprung:
    """A profile that lies flat on its back, laid so that the back makes the angle `spring` (radians) with the wall.

        flat  .--.          ceiling     .-----.     Flat: d is how far out from the back, h is across the width,
         back |   )         --.---------'    (      and the foot is the edge that comes to lie on the wall.
              |  (      wall  |  back .'    /       In position the least height is 0 again, as with any profile.
              |   )           |     .'    .'
              '--'            |___.'__.--'   spring = the angle between the back and the wall, not the ceiling

    An edge with a bevel that comes to stand plumb (at the foot) or level (at the top) bears by that bevel; one
    within 0.2 degrees is trued. Where an edge has none it would bear along a line, so just as much is cut off
    it as gives a flat of `flats` mm, 1/8 in unless given. What was done is in the notes.

    Raises PreviewError, its place `spring` or `flats`, when the angle is not from 20 to 70 degrees, when the
    profile does not lie on its back, and when a flat does not fit; and what `make_profile` raises.
    """
    _refuse_angle(spring)
    _refuse_standing(profile, unit)
    size = measure(profile)
    least, most = LEAST_BACK, size.d_max - size.d_min
    if flats is not None and not least <= flats <= most:
        raise PreviewError(
            "flats",
            None,
            f"the flats on the wall and on the ceiling are {_said(flats, unit)}, and the molding is "
            f"{show(most, unit)} thick",
            f"give from {show(least, unit)} to {show(most, unit)}",
        )
    cos, sin = cos_sin(spring)
    edges = placed(profile.edges, lambda at: (at[0] * cos + at[1] * sin, at[1] * cos - at[0] * sin), mirrors=False)
    want = (FLAT if flats is None else flats) + 1e-9  # so that rounding leaves no less
    on_wall = _bearing(placed(edges, lambda at: (at[1], -at[0]), mirrors=False), want, "wall", unit)
    on_ceiling = _bearing(edges, want, "ceiling", unit)
    wall, ceiling = -on_wall.at, on_ceiling.at
    edges = _set(edges, on_wall, 0, wall)
    edges = _set(edges, on_ceiling, 1, ceiling)
    edges = _cut(edges, wall if on_wall.taken else None, ceiling if on_ceiling.taken else None)
    foot = min(edge.bounds[1] for edge in edges)
    laid = make_profile(profile.name, [edge.moved(-wall, -foot) for edge in edges], unit=unit)
    found = (_flat(laid, 0, 0.0), _flat(laid, 1, ceiling - foot))
    notes = []
    for key, bearing, length in (("wall", on_wall, found[0]), ("ceiling", on_ceiling, found[1])):
        if length < LEAST_BACK:
            raise PreviewError(
                "flats", None, f"a flat of {show(want, unit)} on the {key} does not fit the edge", "use smaller flats"
            )
        notes.append(_note(key, bearing, length, spring, unit))
    return Sprung(laid, *found, tuple(notes))


def _refuse_angle(spring: float) -> None:
    if not LEAST_SPRING - 1e-12 <= spring <= MOST_SPRING + 1e-12:
        said = degrees_text(spring) if math.isfinite(spring) else str(spring)
        raise PreviewError(
            "spring",
            None,
            f"the back would stand at {said} to the wall, and a sprung molding stands at "
            f"{degrees_text(LEAST_SPRING)} to {degrees_text(MOST_SPRING)}",
            "give the angle between the back and the wall, such as 38 or 45; or leave spring out",
        )


def _refuse_standing(profile: Profile, unit: Unit) -> None:
    """Refuse a section that is drawn in position: little of it lies on d = 0."""
    size = measure(profile)
    heights = [
        end[1]
        for edge in profile.edges
        if isinstance(edge, Line) and edge.start[0] == edge.end[0] == 0.0
        for end in (edge.start, edge.end)
    ]
    lies, width = max(heights, default=0.0) - min(heights, default=0.0), size.h_max - size.h_min
    if lies < LAID * width:
        raise PreviewError(
            "spring",
            None,
            f"a profile that is given a spring lies flat on its back, and only {show(lies, unit)} of the "
            f"{show(width, unit)} of this one does",
            "draw it flat on its back; or leave spring out, if it is drawn as it stands in the corner",
        )


def _bearing(edges: Sequence[Edge], want: float, key: str, unit: Unit) -> _Bearing:
    """Where an outline that is to bear upwards does: by the bevel it has, or by a flat `want` mm long."""
    top = max(edge.bounds[3] for edge in edges)
    almost = 0.0
    for number, edge in enumerate(edges):
        if not isinstance(edge, Line) or edge.length < LEAST_BACK or edge.end[0] >= edge.start[0]:
            continue
        low, high = sorted((edge.start[1], edge.end[1]))
        off = math.asin(min(1.0, (high - low) / edge.length))
        if high < top - ROUNDING or off > ALMOST:
            continue
        if off <= TRUED:
            taken = high - low
            return _Bearing(low, number, off, taken if taken > ROUNDING else 0.0)
        almost = min(off, almost or off)
    outline = Profile("", tuple(edges))

    def chord(at: float) -> float:
        left, right = projection_at(outline, at)
        return right - left

    low, high = top - (top - min(edge.bounds[1] for edge in edges)) / 2, top
    widest = chord(low)
    if widest < want:
        raise PreviewError(
            "flats",
            None,
            f"the edge at the {key} gives no flat of {show(want, unit)}, at most {show(widest, unit)}",
            "use smaller flats",
        )
    for _ in range(100):
        middle = (low + high) / 2
        if not low < middle < high:
            break
        low, high = (middle, high) if chord(middle) >= want else (low, middle)
    return _Bearing(low, None, almost, top - low)


def _set(edges: Sequence[Edge], bearing: _Bearing, axis: int, at: float) -> tuple[Edge, ...]:
    """The edges with a bevel that is true but for rounding put on its plane: d = at (axis 0) or h = at (axis 1)."""
    if bearing.edge is None or bearing.taken:
        return tuple(edges)

    def onto(point: Point) -> Point:
        return (at, point[1]) if axis == 0 else (point[0], at)

    found = list(edges)
    number = bearing.edge
    before, after = number - 1, (number + 1) % len(found)
    found[number] = Line(onto(found[number].start), onto(found[number].end))
    found[before] = replace(found[before], end=found[number].start)
    found[after] = replace(found[after], start=found[number].end)
    return tuple(found)


def _cut(edges: Sequence[Edge], wall: float | None, ceiling: float | None) -> tuple[Edge, ...]:
    """The edges less what lies left of d = wall and above h = ceiling."""
    boxes = [edge.bounds for edge in edges]
    left, low = min(box[0] for box in boxes) - PROUD, min(box[1] for box in boxes) - PROUD
    right, high = max(box[2] for box in boxes) + PROUD, max(box[3] for box in boxes) + PROUD
    planes = []
    if wall is not None:
        planes.append(_box(left, low, wall, high))
    if ceiling is not None:
        planes.append(_box(left, ceiling, right, high))
    if not planes:
        return tuple(edges)
    left_over = difference(Region((tuple(edges),)), *planes).loops
    if len(left_over) != 1:
        raise PreviewError("flats", None, "cutting the flats severs the wood", "use smaller flats")
    return left_over[0]


def _box(left: float, low: float, right: float, high: float) -> Region:
    corners = [(left, low), (right, low), (right, high), (left, high)]
    return region([Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)])


def _flat(profile: Profile, axis: int, at: float) -> float:
    """The length of the longest line of a profile on d = at (axis 0) or h = at (axis 1), mm."""
    return max(
        (
            edge.length
            for edge in profile.edges
            if isinstance(edge, Line) and max(abs(edge.start[axis] - at), abs(edge.end[axis] - at)) <= 1e-9
        ),
        default=0.0,
    )


def _note(key: str, bearing: _Bearing, length: float, spring: float, unit: Unit) -> str:
    """What was done at one edge."""
    edge, true = ("foot", "plumb") if key == "wall" else ("top", "level")
    if bearing.edge is None:
        lacks = f"at {degrees_text(spring)} no bevel of its {edge} is {true}"
        if bearing.off:
            lacks += f", the nearest {degrees_text(bearing.off)} off (check the spring)"
        return f"{lacks}: it is cut for a flat of {show(length, unit)} on the {key}"
    trued = f", trued by {degrees_text(bearing.off)}" if bearing.off > SHOWN else ""
    return f"the bevel of its {edge} lies on the {key} with {show(length, unit)}{trued}"


def _said(length: float, unit: Unit) -> str:
    return show(length, unit) if math.isfinite(length) else str(length)
