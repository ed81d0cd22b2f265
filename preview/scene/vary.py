"""The variants of a scene: its tables are changed as its options say, and read again like any scene."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import cast

from preview.errors import Problem
from preview.scene.kinds import in_a_row, length, whole, within
from preview.scene.model import RunInScene, Scene, Variant
from preview.scene.option import BENDS, PATHS, Change, Offered, Option
from preview.scene.steps import CORNER, STRAIGHT, VERBS
from preview.scene.table import Table
from preview.scene.walls import CURVES, Rebuilt, Wanted, rebuilt
from preview.scene.written import written
from preview.units import Unit

Tables = Mapping[str, object]
Read = Callable[[Tables], tuple[Scene | None, Sequence[Problem]]]
"""Reads the tables of a scene: the scene, or None and what is wrong."""
RADIUS_FIX = "write the radius of the wall itself"


def varied(top: Table, offered: Offered, drawn: Scene | None, read: Read) -> tuple[Variant, ...]:
    """Every combination of the choices, as drawn first; none, and noted, where one cannot be.

    First each option is read alone. Where one has a mistake, combinations would only repeat it.
    """
    log = top.log
    maker, noted = _Maker(top, set(log.problems), read), len(log.problems)
    every = [(at, pick, option) for at, (_, options) in enumerate(offered) for pick, option in enumerate(options)]
    found: dict[tuple[int, ...], Scene | None] = {(0,) * len(offered): drawn}
    for at, pick, option in every:
        if option and pick:
            made, problems = maker.made(option.changes)
            log.problems += [_placed(problem, option) for problem in problems]
            if drawn is not None and made == drawn:
                problem = "the scene as drawn is so already, so there is nothing to choose"
                option.table.wrong("changes", option.table.shown("changes"), problem, "write what is different")
            found[tuple(pick if i == at else 0 for i in range(len(offered)))] = made
    if len(log.problems) != noted or drawn is None:
        return ()
    failed: list[set[tuple[int, int]]] = []
    combinations = list(itertools.product(*(range(len(options)) for _, options in offered)))
    for picks in sorted(combinations, key=lambda each: sum(map(bool, each))):
        pairs = {(at, pick) for at, pick in enumerate(picks) if pick}
        if picks in found or any(each <= pairs for each in failed):
            continue
        options = [option for at, pick, option in every if option and (at, pick) in pairs]
        found[picks], problems = maker.made([change for option in options for change in option.changes])
        log.problems += [_together(problem, options) for problem in problems]
        failed += [pairs] if problems else []
    return tuple(Variant(picks, scene) for picks in combinations if (scene := found.get(picks)))


def _placed(problem: Problem, option: Option) -> Problem:
    """A problem at an option: where no change of its own is to blame, at the option as a whole."""
    if problem.place.startswith(option.table.place):
        return problem
    return replace(problem, place=f"{option.table.place}, {problem.place}" if problem.place else option.table.place)


def _together(problem: Problem, options: Sequence[Option]) -> Problem:
    """A problem that none of the options has alone."""
    own = [each for each in options if problem.place.startswith(f"{each.table.place}, ")] or [options[-1]]
    others = in_a_row([f"option {written(each.alternative.name)}" for each in options if each is not own[-1]], "and")
    return replace(_placed(problem, own[-1]), problem=f"together with {others}: {problem.problem}")


class _Maker:
    """Makes variants of the scene whose tables stand in `top`.

    known: the mistakes of the scene as drawn. A table that several variants change alike is changed once, so that it is
    read once.
    """

    def __init__(self, top: Table, known: set[Problem], read: Read) -> None:
        self._top, self._known, self._read = top, known, read
        self._changed: dict[tuple[int, ...], Tables] = {}
        self._bent: dict[tuple[int, ...], tuple[RunInScene, Rebuilt]] = {}

    def made(self, changes: Sequence[Change]) -> tuple[Scene | None, list[Problem]]:
        """The scene with these changes; None and what is wrong, placed at the changes."""
        problems = self._top.log.problems
        noted = len(problems)
        called: dict[str, Sequence[str]] = {}
        tables = self._with_keys(changes)
        scene, wrong = self._read(tables)
        if scene is not None and len(problems) == noted:
            bent = self._with_curves(tables, scene, changes)
            if bent:
                called = {each.place: bent[each.at].called for each in changes if each.at in bent}
                runs = {at: new.keys for at, new in bent.items()}
                again, wrong = self._read({**tables, "run": _replaced(tables["run"], runs)})
                scene = again and _as_called(again, bent, scene)
        own = problems[noted:]
        del problems[noted:]
        own += [_at_change(problem, changes, called) for problem in wrong if problem not in self._known]
        return (None if own else scene), own

    def _with_keys(self, changes: Sequence[Change]) -> Tables:
        """The tables of the scene with the keys that are given new values; curves are as they were."""
        found = dict(self._top.data)
        for mine in _by_what(changes).values():
            section, at = found[mine[0].noun], mine[0].at
            key = tuple(id(each.row) for each in mine)
            if key not in self._changed:
                self._changed[key] = _with_values(_entry(section, at), mine)
            found[mine[0].noun] = _replaced(section, {at: self._changed[key]})
        return found

    def _with_curves(self, tables: Tables, scene: Scene, changes: Sequence[Change]) -> dict[str | int, Rebuilt]:
        """The runs whose curves become something else, by their place in the file."""
        found: dict[str | int, Rebuilt] = {}
        for mine in _by_what(changes).values():
            if mine[0].noun != "run":
                continue
            at, placed = mine[0].at, scene.runs[int(mine[0].at)]
            key = (id(placed), *(id(each.row) for each in mine))
            if key not in self._bent:
                run = _entry(tables["run"], at)
                curves = _wanted(mine, run, scene.units)
                new = rebuilt(run, placed, scene.units, curves) if curves else None
                if new is None:
                    continue
                self._bent[key] = placed, new
            found[at] = self._bent[key][1]
        return found


def _by_what(changes: Sequence[Change]) -> dict[tuple[str, str | int], list[Change]]:
    """The changes by what they change, in the order of the file."""
    found: dict[tuple[str, str | int], list[Change]] = {}
    for change in changes:
        found.setdefault((change.noun, change.at), []).append(change)
    return found


# What is written is changed.


def _with_values(table: Tables, changes: Sequence[Change]) -> Tables:
    """A table with new values; the table itself where none of the changes gives one."""
    for change in changes:
        if change.step is not None:
            steps = _with_step(change, table)
            put: dict[str, object] = {} if steps is None else {"steps": steps}
        else:
            put = {key: value for key, value in change.keys.items() if change.noun != "run" or key not in BENDS}
        if put:
            gone = PATHS if any(path in put for path in PATHS) else ()
            table = {**{key: value for key, value in table.items() if key not in gone}, **put}
    return table


def _entry(section: object, at: str | int) -> Tables:
    return cast("Mapping[str | int, Tables]", section)[at]


def _replaced(section: object, new: Mapping[str | int, Tables] | Mapping[int, Tables]) -> object:
    """A section of the scene, by name or by place, with some of its tables replaced."""
    by_place = cast("Mapping[str | int, Tables]", new)
    if isinstance(section, Mapping):
        return {at: by_place.get(at, table) for at, table in section.items()}
    return [by_place.get(at, table) for at, table in enumerate(cast("list[Tables]", section))]


def _with_step(change: Change, table: Tables) -> list[object] | None:
    """The steps of a run with one of them changed; None where only its curve changes, or where it cannot be changed."""
    row, steps = change.row, table.get("steps")
    if not isinstance(steps, list):
        if "points" in table:
            problem = "the run is written as points, and has no steps"
            row.wrong("step", row.shown("step"), problem, "write the points of this option: points = [[0, 0], ...]")
        return None
    few = f"the run has {len(steps)} steps, counted from 1"
    number = row.take("step", whole(1, len(steps), few, f"write a number from 1 to {len(steps)}"), None)
    if number is None or not isinstance(steps[number - 1], Mapping):
        return None
    old = steps[number - 1]
    put = {key: value for key, value in change.keys.items() if key not in _of_curves(change, old)}
    if not put:
        return None
    was, now = _verb(old), _verb(put)
    if now == "block" and "block" in VERBS.get(was, ()):
        now = ""  # a block is set in this corner
    if VERBS.get(was) is CORNER and VERBS.get(now) is STRAIGHT:
        straights = [
            str(i)
            for i, each in enumerate(steps, 1)
            if isinstance(each, Mapping) and VERBS.get(_verb(each)) is STRAIGHT
        ]
        problem = f"step {number} is a corner, and a straight cannot stand in its place"
        row.wrong(
            "step",
            row.shown("step"),
            problem,
            f"steps are counted from 1, corners too, and the straights are {in_a_row(straights, 'and')}; "
            "to lay the run another way, give this option all of its steps: steps = [...]",
        )
        return None
    if now and VERBS[now] is not VERBS.get(was):
        new = put  # another kind of step
    else:
        new = {**{key: value for key, value in old.items() if not now or key != was}, **put}
    return [*steps[: number - 1], new, *steps[number:]]


def _verb(step: Tables) -> str:
    """The word that says what a step is; "" where there is none."""
    given = [verb for verb in VERBS if verb in step]
    return next((verb for verb in given if not any(verb in VERBS[other] for other in given)), "")


def _of_curves(change: Change, step: Tables) -> tuple[str, ...]:
    """The keys of a change of a step that move what is beside it too, since its walls stay where they are."""
    radius = ("radius",) if _verb(step) in CURVES and not _verb(change.keys) else ()
    return ("curves", *(("turns",) if "curves" in change.row else ()), *radius)


# Curves are changed, and what is beside them.


def _wanted(changes: Sequence[Change], run: Tables, unit: Unit) -> dict[int, Wanted]:
    """What the changes make of the curves of a run, by their place among its steps."""
    found: dict[int, Wanted] = {}
    # What is said of one step goes before what is said of all.
    for change in sorted(changes, key=lambda each: each.step is not None):
        curves, keys = _curves(change, cast("list[Tables]", run.get("steps", [])))
        row, radius, turns = change.row, None, None
        if "radius" in keys:
            kind = within(length(unit), 0.0, math.inf, "a radius is written without a minus sign", RADIUS_FIX)
            radius = None if row.take("radius", kind, None) is None else (row.data["radius"], row)
        if "curves" in keys:
            turns = (1 if row.data["curves"] == "miter" else cast("int", row.data["turns"]), row)
        for at in curves if radius or turns else ():
            before = found.get(at, Wanted())
            found[at] = Wanted(radius or before.radius, turns or before.turns)
    return found


def _curves(change: Change, steps: Sequence[Tables]) -> tuple[list[int], list[str]]:
    """The curves that a change speaks of, by place, and the keys by which it does; mistakes are noted."""
    row = change.row
    if change.step is None:
        keys = [key for key in BENDS if key in row]
        curves = [at for at, step in enumerate(steps) if _verb(step) in CURVES]
        if keys and not curves:
            row.wrong(keys[0], row.shown(keys[0]), "the run has no curves", "take this out, or name another run")
        return curves, keys
    at = cast("int", change.step) - 1
    keys = [key for key in _of_curves(change, steps[at]) if key in row]
    if "curves" in keys and _verb(steps[at]) not in CURVES:
        fix = "name a step with curve_left or curve_right"
        row.wrong("curves", row.shown("curves"), f"step {at + 1} of the run is no curve", fix)
        return [], []
    return [at], keys


def _as_called(scene: Scene, bent: Mapping[str | int, Rebuilt], before: Scene) -> Scene:
    """The scene read again, its steps called as in the file, its surveys those of what was measured."""
    runs = list(scene.runs)
    for at, new in bent.items():
        placed = runs[int(at)]
        places = tuple(_called(place, new.called) for place in placed.run.places)
        survey = before.runs[int(at)].survey
        if places != placed.run.places or survey is not placed.survey:
            runs[int(at)] = replace(placed, run=replace(placed.run, places=places), survey=survey)
    return replace(scene, runs=tuple(runs))


# Mistakes find their place in the file.


def _called(said: str, steps: Sequence[str]) -> str:
    """Words that count the steps of a changed run, with the steps called as in the file."""

    def call(found: re.Match[str]) -> str:
        number = int(found[1])
        return steps[number - 1] if 0 < number <= len(steps) else found[0]

    return re.sub(r"\bstep (\d+)\b", call, said)


def _at_change(problem: Problem, changes: Sequence[Change], called: Mapping[str, Sequence[str]]) -> Problem:
    """A problem of what was read, placed at the change that it comes from where one is to blame."""
    mine = [each for each in changes if f"{problem.place}, ".startswith(f"{each.place}, ")]
    if not mine:
        return problem
    rest = problem.place.removeprefix(mine[0].place).removeprefix(", ")
    if mine[0].place in called:
        steps = called[mine[0].place]
        rest, said, fix = (_called(words, steps) for words in (rest, problem.problem, problem.fix))
        problem = replace(problem, problem=said, fix=fix)
    said_by = [each for each in mine if rest.split(", ")[0] in each.keys]
    step = [each for each in mine if rest.startswith(f"step {each.step}, ") or rest == f"step {each.step}"]
    change = (step or said_by or mine)[-1]
    if step:
        rest = rest.removeprefix(f"step {change.step}").removeprefix(", ")
    return replace(problem, place=", ".join(part for part in (change.row.place, rest) if part))
