"""One [[run]] of the scene: read, then laid out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import cast

from preview.errors import PreviewError, Problem
from preview.runs import Run, Side, lay_out, through_points
from preview.scene.kinds import Kind, choice, degrees, entries, flag, length, name, pair, within
from preview.scene.model import RunInScene
from preview.scene.steps import as_written, read_step
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
    "begin",
    "end",
    "closed",
    "wall",
    "steps",
    "points",
)
USUAL_SIDE: Side = "left"
SIDES: tuple[Side, ...] = ("left", "right")
ENDS = ("square",)
"""How an end of a run can be cut."""


@dataclass(frozen=True)
class _Setting:
    """What a run's line needs besides its steps or points."""

    label: str
    room: Side
    level: float
    closed: bool
    unit: Unit | None


def read_run(
    table: Table, member: Kind[str | None], declared: Sequence[str] | None, unit: Unit | None
) -> RunInScene | None:
    """One run; None when it holds a mistake, which is noted.

    member: reads the name of a member. declared: the names there are; None where a wrong heading hides some.
    unit: of bare numbers; None where the scene does not rightly say, and then the run is not laid out.
    """
    noted = len(table.log.problems)
    label = table.need("name", name, 'give the run a name of its own: name = "north wall"')
    followed = _members(table, member, declared)
    wall = table.take("wall", within(length(unit), 1e-6, math.inf, _WALL, "write how high to show it"), None)
    for end in ("begin", "end"):
        table.take(end, choice(ENDS, _SQUARE), ENDS[0])
        if end in table and table.data.get("closed") is True:
            problem, fix = "a closed run has no ends to cut", f"leave {end} out, or closed"
            table.wrong(end, table.shown(end), problem, fix)
    run = _line(table, label or "run", unit)
    if run is None or len(table.log.problems) != noted:
        return None
    return RunInScene(run, followed, wall)


_WALL = "a wall's height is more than 0"
_SIDES = "the room is on the left or the right of the way you walk"
_SQUARE = "an end is cut square; no other end can be made yet"


def _members(table: Table, member: Kind[str | None], declared: Sequence[str] | None) -> tuple[str, ...]:
    """The members that follow the run; the one there is when none is named."""
    if "members" not in table and (declared is None or len(declared) == 1):
        return tuple(declared or ())
    shown = ", ".join(written(each) for each in (declared or ())[:3])
    fix = f"list the members that follow this run: members = [{shown}]"
    if not declared:
        fix = 'declare a member under a heading [member.base], and list it: members = ["base"]'
    followed = table.need("members", entries(member, "member"), fix)
    if followed is None:
        return ()
    if not followed:
        table.wrong("members", "[]", "the run has no members, so there is nothing to make", fix)
    names = [each for each in followed if each is not None]
    for each in sorted({each for each in names if names.count(each) > 1}):
        table.wrong("members", table.shown("members"), f"{written(each)} is listed twice", "list it once")
    return tuple(names)


def _line(table: Table, label: str, unit: Unit | None) -> Run | None:
    """The run laid out, where nothing that its line needs is wrong."""
    noted = len(table.log.problems)
    table.only(KEYS, "in a run")
    room = table.take("room", choice(SIDES, _SIDES), USUAL_SIDE)
    level = table.take("level", length(unit), 0.0)
    closed = table.take("closed", flag, False)
    setting = _Setting(label, room, level, closed, unit)
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


def _along_steps(table: Table, setting: _Setting, noted: int) -> Run | None:
    start = table.take("start", pair(setting.unit), (0.0, 0.0))
    heading = table.take("heading", degrees, Fraction())
    rows = table.rows("steps", "step", "{ straight = 12 }")
    steps = [read_step(row, setting.unit, 1 if setting.room == "left" else -1) for row in rows]
    if setting.unit is None or len(table.log.problems) != noted:
        return None
    try:
        return lay_out(
            setting.label,
            [step for step in steps if step is not None],
            start=start,
            heading=angle(heading),
            room=setting.room,
            level=setting.level,
            closed=setting.closed,
            unit=setting.unit,
        )
    except PreviewError as error:
        _note(table, [as_written(problem, rows) for problem in error.problems])
    return None


def _through_points(table: Table, setting: _Setting, noted: int) -> Run | None:
    for key in ("start", "heading"):
        if key in table:
            problem = "a run of points starts at its first point and heads for the second"
            table.wrong(key, table.shown(key), problem, "leave it out")
    points = table.take("points", entries(pair(setting.unit), "point"), None)
    if points is None or setting.unit is None or len(table.log.problems) != noted:
        return None
    try:
        return through_points(
            setting.label,
            points,
            room=setting.room,
            level=setting.level,
            closed=setting.closed,
            unit=setting.unit,
        )
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
