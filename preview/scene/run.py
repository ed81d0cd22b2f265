"""One [[run]] of the scene: read, then laid out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import cast

from preview.errors import PreviewError, Problem
from preview.profiles import Profile, measure
from preview.runs import Block as BlockStep
from preview.runs import Corner, Curve, Run, Side, Splay, Step, Straight, Survey, lay_out, through_points
from preview.scene.block import SQUARE
from preview.scene.kinds import Kind, choice, degrees, entries, flag, length, name, pair, within
from preview.scene.making import KEYS as MAKING
from preview.scene.making import Making, made, read_making
from preview.scene.model import Block, RunInScene
from preview.scene.steps import as_written, read_step
from preview.scene.survey import KEYS as SURVEYING
from preview.scene.survey import read_reading, read_surveying, refuse_surveying, surveyed
from preview.scene.table import Table
from preview.scene.written import written
from preview.units import Unit, angle

KEYS = (
    "name",
    "members",
    "room",
    "start",
    "heading",
    "level",
    "closed",
    "wall",
    "steps",
    "points",
    *MAKING,
    *SURVEYING,
)
USUAL_SIDE: Side = "left"
SIDES: tuple[Side, ...] = ("left", "right")
UPRIGHT = 0.5
"""The sine of its heading from which a straight on the face of a wall is a leg, and not a head."""


@dataclass(frozen=True)
class Declared:
    """What the scene declares that a run can name.

    member, block: read the name of one. members: the names there are; None where a wrong heading hides some.
    profiles: the members' own, by name, as far as they hold no mistake. blocks: all of them.
    """

    member: Kind[str | None]
    members: tuple[str, ...] | None
    profiles: Mapping[str, Profile]
    block: Kind[Block | None]
    blocks: tuple[Block | None, ...] = ()

    def used(self, table: Table) -> tuple[object, ...]:
        """What of all this makes a run what it is, besides its own table: only scarfs ask how far a profile reaches."""
        return (*self.blocks, *(self.profiles.values() if "stock" in table else ()))


@dataclass(frozen=True)
class _Setting:
    """What a run's line needs besides its steps or points."""

    label: str
    room: Side
    level: float
    closed: bool
    unit: Unit | None
    making: Making
    profiles: tuple[Profile, ...]
    block: Kind[Block | None]


def read_run(table: Table, declared: Declared, unit: Unit | None) -> RunInScene | None:
    """One run; None when it holds a mistake, which is noted.

    unit: of bare numbers; None where the scene does not rightly say, and then the run is not laid out.
    """
    noted = len(table.log.problems)
    label = table.need("name", name, 'give the run a name of its own: name = "north wall"')
    followed = _members(table, declared)
    wall = table.take("wall", within(length(unit), 1e-6, math.inf, _WALL, "write how high to show it"), None)
    laid = _line(table, label or "run", followed, declared, unit)
    if laid is None or len(table.log.problems) != noted:
        return None
    run, survey = laid
    return RunInScene(run, followed, wall, survey)


_WALL = "a wall's height is more than 0"
_SIDES = "the room is on the left or the right of the way you walk"


def _members(table: Table, declared: Declared) -> tuple[str, ...]:
    """The members that follow the run; the one there is when none is named."""
    names = declared.members
    if "members" not in table and (names is None or len(names) == 1):
        return tuple(names or ())
    shown = ", ".join(written(each) for each in (names or ())[:3])
    fix = f"list the members that follow this run: members = [{shown}]"
    if not names:
        fix = 'declare a member under a heading [member.base], and list it: members = ["base"]'
    followed = table.need("members", entries(declared.member, "member"), fix)
    if followed is None:
        return ()
    if not followed:
        table.wrong("members", "[]", "the run has no members, so there is nothing to make", fix)
    found = [each for each in followed if each is not None]
    for each in sorted({each for each in found if found.count(each) > 1}):
        table.wrong("members", table.shown("members"), f"{written(each)} is listed twice", "list it once")
    return tuple(found)


def _line(
    table: Table, label: str, followed: Sequence[str], declared: Declared, unit: Unit | None
) -> tuple[Run, Survey | None] | None:
    """The run laid out, and what its measurements tell of each other, where nothing that its line needs is wrong."""
    noted = len(table.log.problems)
    making = read_making(table, unit)
    table.only(KEYS, "in a run")
    room = table.take("room", choice(SIDES, _SIDES), USUAL_SIDE)
    level = table.take("level", length(unit), 0.0)
    closed = table.take("closed", flag, False)
    profiles = tuple(declared.profiles[each] for each in followed if each in declared.profiles)
    setting = _Setting(label, room, level, closed, unit, making, profiles, declared.block)
    given = [key for key in ("steps", "points") if key in table]
    if given == ["steps"]:
        return _along_steps(table, setting, noted)
    if given == ["points"]:
        return _through_points(table, setting, noted)
    if given:
        table.wrong("", None, "the run has both steps and points", "keep the ones that you measured")
    elif not (table.told("steps") or table.told("points")):
        fix = "write the run as steps, or as the points where you measured its corners"
        table.wrong("", None, "the run has neither steps nor points", fix)
    return None


def _along_steps(table: Table, setting: _Setting, noted: int) -> tuple[Run, Survey | None] | None:
    start = table.take("start", pair(setting.unit), (0.0, 0.0))
    heading = table.take("heading", degrees, Fraction())
    surveying = read_surveying(table, setting.unit, setting.closed)
    rows = table.rows("steps", "step", "{ straight = 12 }")
    steps = [read_step(row, setting.unit, 1 if setting.room == "left" else -1, setting.block) for row in rows]
    readings = [read_reading(row, step, setting.unit, surveying.usual) for row, step in zip(rows, steps, strict=True)]
    if "on_wall" in table:
        _refuse_off_the_wall(rows, steps)
        steps = _blocks_upright(rows, steps, angle(heading), setting.block)
    if setting.unit is None or len(table.log.problems) != noted:
        return None
    try:
        laid, survey = surveyed(
            table,
            [step for step in steps if step is not None],
            readings,
            surveying,
            start=start,
            heading=angle(heading),
            room=setting.room,
            closed=setting.closed,
            unit=setting.unit,
        )
        closed = survey.laid_closed if survey else setting.closed
        run = lay_out(
            setting.label,
            laid,
            start=start,
            heading=angle(heading),
            room=setting.room,
            level=setting.level,
            closed=closed,
            ends_may_cross=setting.closed and not closed,
            unit=setting.unit,
        )
        return made(run, setting.making, setting.profiles, setting.unit), survey
    except PreviewError as error:
        _note(table, [as_written(problem, rows) for problem in error.problems])
    return None


def _refuse_off_the_wall(rows: Sequence[Table], steps: Sequence[Step | None]) -> None:
    """A run that lies on a wall does not climb off it, and its corners lie in one plane."""
    for row, step in zip(rows, steps, strict=True):
        key = next((key for key in ("pitch", "rise") if key in row), "")
        if isinstance(step, Straight) and step.slope:
            problem = "the run lies flat on the face of a wall, and a rise would lead off it"
            row.wrong(key, row.shown(key), problem, "a slope on the wall itself is a corner: left or right")
        elif isinstance(step, Corner) and step.way.kind == "cope":
            problem = "a run that lies on a wall has no corner to cope: both faces look into the room"
            row.wrong("joint", row.shown("joint"), problem, 'write joint = "miter", or set a corner block there')


def _blocks_upright(
    rows: Sequence[Table], steps: Sequence[Step | None], heading: float, block: Kind[Block | None]
) -> list[Step | None]:
    """On the face of a wall a block stays upright: where the run climbs a leg, its height lies along the run."""
    found: list[Step | None] = []
    for row, step in zip(rows, steps, strict=True):
        if isinstance(step, Corner | Splay):
            heading += step.turn
        elif isinstance(step, Curve):
            heading += step.sweep
        elif isinstance(step, BlockStep) and abs(math.sin(heading)) > UPRIGHT:
            one = block(row.data["block"])
            if one and one.source != SQUARE:
                problem = "a block with a profile cannot stand in a leg on the face of a wall: its face would be lost"
                row.wrong(
                    "block", row.shown("block"), problem, "give it a thickness and a height in place of its profile"
                )
            size = measure(one.profile) if one else None
            step = replace(step, width=size.h_max - size.h_min) if size else step
        found.append(step)
    return found


def _through_points(table: Table, setting: _Setting, noted: int) -> tuple[Run, None] | None:
    refuse_surveying(table)
    for key in ("start", "heading"):
        if key in table:
            problem = "a run of points starts at its first point and heads for the second"
            table.wrong(key, table.shown(key), problem, "leave it out")
    points = table.take("points", entries(pair(setting.unit), "point"), None)
    if points is None or setting.unit is None or len(table.log.problems) != noted:
        return None
    try:
        run = through_points(
            setting.label,
            points,
            room=setting.room,
            level=setting.level,
            closed=setting.closed,
            unit=setting.unit,
        )
        return made(run, setting.making, setting.profiles, setting.unit), None
    except PreviewError as error:
        _note(table, [_point_as_written(problem, table) for problem in error.problems])
    return None


def _note(table: Table, problems: Sequence[Problem]) -> None:
    table.log.add(PreviewError.several(problems).at(table.place))


def _point_as_written(problem: Problem, table: Table) -> Problem:
    """A problem of the layout at `points` or `point 3`, showing what stands in the file."""
    points = cast("list[object]", table.data["points"])
    first, _, number = problem.place.partition(" ")
    if first == "points" and not number:
        return replace(problem, value=written(points))
    if first == "point":
        return replace(problem, value=written(points[int(number) - 1]))
    return problem
