"""Build-ups: which members lie over each other along which runs, what they meet, and where they leave the wall open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from preview.build import Built
from preview.drafting.scales import length_text
from preview.profiles import Point, Profile, Strip, measure, open_strips
from preview.runs import IN_PLAN, Run
from preview.units import Unit
from preview.vantage import job_of

REACHES = 2.0
"""mm; a ceiling or a floor so near to the molding is the one it meets."""


@dataclass(frozen=True)
class Layered:
    """A build-up: the runs that have it, its members' names with their profiles, mm, and what it meets.

    on_wall: whether the plan of its runs is the face of a wall, which then lies below. floor, ceiling: whether it
    stands on the one or under the other.
    """

    runs: tuple[Run, ...]
    members: tuple[tuple[str, Profile], ...]
    on_wall: bool
    floor: bool
    ceiling: bool

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Least and largest d and h, mm."""
        sizes = [measure(profile) for _, profile in self.members]
        return (
            min(size.d_min for size in sizes),
            min(size.h_min for size in sizes),
            max(size.d_max for size in sizes),
            max(size.h_max for size in sizes),
        )


def layered(built: Built) -> list[Layered]:
    """Every build-up of a job once, with the runs that have it."""
    found: dict[tuple[object, ...], Layered] = {}
    for placed in built.scene.runs:
        run = placed.run
        lines = [line for line in built.lines if line.run is run and line.pieces[0].role != "block"]
        if not lines:
            continue
        level = run.level if run.stand == IN_PLAN else 0.0
        members = tuple((line.member, line.profile.moved(0.0, -level)) for line in lines)
        floor, ceiling = _meets(built, run, members)
        made = Layered((run,), members, run.stand != IN_PLAN, floor, ceiling)
        shape = tuple(
            (name, tuple(tuple(round(v, 6) for v in (*e.start, *e.end)) for e in p.edges)) for name, p in members
        )
        key = (shape, made.on_wall, floor, ceiling)
        found[key] = (
            made if key not in found else Layered((*found[key].runs, run), members, made.on_wall, floor, ceiling)
        )
    return list(found.values())


def _meets(built: Built, run: Run, members: Sequence[tuple[str, Profile]]) -> tuple[bool, bool]:
    """Whether a build-up stands on a floor, and whether it meets a ceiling."""
    if run.stand != IN_PLAN:
        return False, False
    low = run.level + min(measure(profile).h_min for _, profile in members)
    high = run.level + max(measure(profile).h_max for _, profile in members)
    x, y = run.elements[0].start
    under = [t.top for t in built.scene.surroundings if t.kind == "floor"] or [0.0]
    over = [t.bottom for t in built.scene.surroundings if t.kind == "box" and _reaches(t.at, t.size, x, y)]
    if not over and job_of(built).run_look(run.name).slope < 0:
        over = [placed.wall for placed in built.scene.runs if placed.run is run and placed.wall]
    return any(abs(z - low) < REACHES for z in under), any(abs(z - high) < REACHES for z in over)


def _reaches(at: Point, size: Point, x: float, y: float) -> bool:
    return at[0] < x < at[0] + size[0] and at[1] < y < at[1] + size[1]


def gaps(each: Layered) -> tuple[Strip, ...]:
    """Where the members of a build-up leave a strip of wall open between them."""
    return open_strips(each.members, across=each.on_wall)


def gap_text(gap: Strip, unit: Unit) -> str:
    """How wide a gap is, with its unit."""
    return length_text(gap.width, unit) + ("" if unit in ("in", "ft") else " mm")
