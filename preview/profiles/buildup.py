"""A build-up of several members as one: its overall outline, and the gaps between the members."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from preview.errors import PreviewError
from preview.profiles.measures import Measures, measure
from preview.profiles.profile import Profile, make_profile
from preview.profiles.regions import Loop, Region, intersection, union
from preview.units import Unit, show

OVERLAP = 1e-3
"""Members that share more wood than this, mm², cannot both be there."""
TOUCHING = 0.05
"""Members nearer than this, mm, bear on each other."""
MEANT = 75.0
"""mm; members so far apart, as a base and a rail, are meant to be."""


@dataclass(frozen=True)
class Gap:
    """A closed hollow between members: its edges, counter-clockwise, and what it measures."""

    edges: Loop
    measures: Measures


@dataclass(frozen=True)
class Overlap:
    """Two members, by name, that take up the same place, and the area (mm²) they share."""

    first: str
    second: str
    area: float


@dataclass(frozen=True)
class Strip:
    """A strip of wall that shows between two members of a build-up: their names, and how wide it is, mm."""

    below: str
    above: str
    width: float


@dataclass(frozen=True)
class BuildUp:
    """The outline round all members, their gaps closed, the gaps the largest first, and the overlaps."""

    outline: Profile
    gaps: tuple[Gap, ...]
    overlaps: tuple[Overlap, ...]


def overall_outline(name: str, members: Sequence[Profile], *, unit: Unit = "mm") -> BuildUp:
    """The outline round profiles that were moved out and up to where they sit, exact.

    A gap that is open to the wall or the face belongs to the outline. Raises PreviewError when the members
    do not touch along a line, so that there is no one outline, or when it has no back on the wall.
    """
    if not members:
        raise PreviewError("", None, "the build-up has no members", "give at least one")
    regions = [Region((member.edges,)) for member in members]
    whole = union(*regions)
    if len(whole.outlines) > 1:
        main, apart = whole.outlines[0], whole.outlines[1:]
        loose = [
            member.name
            for member, each in zip(members, regions, strict=True)
            if any(intersection(each, Region((loop,))).loops for loop in apart)
        ]
        size = measure(Profile("", main))
        raise PreviewError(
            "",
            None,
            f"the members do not all touch: {' and '.join(loose)} "
            f"{'stand' if len(loose) > 1 else 'stands'} clear of the rest, "
            f"which reaches {show(size.d_max, unit)} out and {show(size.h_max, unit)} up",
            "move it out or up until it lies against another member",
        )
    gaps: list[Gap] = []
    for hole in whole.holes:
        loop = tuple(edge.reversed() for edge in reversed(hole))
        gaps.append(Gap(loop, measure(Profile("gap", loop))))
    overlaps: list[Overlap] = []
    for i, first in enumerate(regions):
        for j in range(i + 1, len(regions)):
            area = intersection(first, regions[j]).area
            if area > OVERLAP:
                overlaps.append(Overlap(members[i].name, members[j].name, area))
    return BuildUp(make_profile(name, whole.outlines[0], unit=unit), tuple(gaps), tuple(overlaps))


def open_strips(members: Sequence[tuple[str, Profile]], *, across: bool = False) -> tuple[Strip, ...]:
    """Where members, by name, leave a strip of wall open between them, from the lowest up: nothing covers it from the
    room. across: they lie on the face of a wall, and the strips run between their d, not their h.
    """
    ends = []
    for name, profile in members:
        size = measure(profile)
        ends.append((size.d_min, size.d_max, name) if across else (size.h_min, size.h_max, name))
    if not ends:
        return ()
    ends.sort()
    found: list[Strip] = []
    _, top, below = ends[0]
    for low, high, name in ends[1:]:
        if TOUCHING < low - top < MEANT:
            found.append(Strip(below, name, low - top))
        if high > top:
            top, below = high, name
    return tuple(found)
