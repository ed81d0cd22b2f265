"""A scene file becomes a scene: every mistake in it is told at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from preview import limits
from preview.errors import PreviewError, Problem
from preview.scene.block import read_block
from preview.scene.kinds import UNITS_FIX, Kind, known, length, one_unit, text, within
from preview.scene.looks import WHITE_PAINT, read_finish, read_surrounding
from preview.scene.model import Block, Finish, Member, RunInScene, Scene
from preview.scene.option import read_options
from preview.scene.profile import Sourced, read_profile
from preview.scene.run import Declared, read_run
from preview.scene.shop import read_shop
from preview.scene.site import read_site
from preview.scene.source import Files, parse_toml, read_text
from preview.scene.table import Log, Readings, Table
from preview.scene.title import read_job
from preview.scene.vary import varied
from preview.scene.viewpoint import read_pictures
from preview.scene.written import written
from preview.units import Unit

T = TypeVar("T")
CHORD_RANGE = (0.005, 2.0)
"""How far a mesh may stray from a true curve, mm: the least and the most that may be asked for."""
USUAL_CHORD = 0.05
MOST_STEPS = 20_000
"""Steps and points of all runs together."""
KEYS = (
    "title",
    "units",
    "chord",
    "job",
    "profile",
    "finish",
    "member",
    "block",
    "run",
    "surrounding",
    "site",
    "option",
    "picture",
    "shop",
)


def load_scene(path: Path) -> Scene:
    """Read, check and lay out a scene file.

    Raises PreviewError, with the file in each problem and every mistake of the file, not only the first.
    """
    return parse_scene(read_text(path, "scene file"), path)


def parse_scene(source: str, path: Path) -> Scene:
    """The scene that a text describes; files it names are found from `path`. Raises as `load_scene` does."""
    try:
        return _scene(parse_toml(source, "scene file"), path)
    except PreviewError as error:
        raise error.in_file(path.name) from error.__cause__


def _scene(data: Mapping[str, object], path: Path) -> Scene:
    log, readings, files = Log(), Readings(), Files()
    top = Table(data, "", log)
    drawn = _as_drawn(top, path, readings, files)

    def read(changed: Mapping[str, object]) -> tuple[Scene | None, list[Problem]]:
        told = Log()
        return _as_drawn(Table(changed, "", told), path, readings, files), told.problems

    offered = read_options(top)
    variants = varied(top, offered, drawn, read) if offered else ()
    if log.problems or drawn is None:
        raise PreviewError.several(log.problems)
    return replace(drawn, choices=tuple(each for each, _ in offered), variants=variants)


def _as_drawn(top: Table, path: Path, readings: Readings, files: Files) -> Scene | None:
    """The scene without its options; None when it holds a mistake, which is noted."""
    top.only(KEYS, "at the top of a scene")
    title = top.need("title", text, 'say what this is: title = "Window seat, reading room"')
    unit = top.need("units", one_unit, UNITS_FIX)
    chord = top.take("chord", _chord(unit), USUAL_CHORD)
    profiles = _each(top.named("profile"), readings, lambda label, each: read_profile(label, each, unit, path, files))
    finishes = _each(top.named("finish"), readings, read_finish)
    profile = known(profiles, "profile", all_told=not top.told("profile"))
    finish = known(finishes, "finish", all_told=not top.told("finish"))

    def look(table: Table) -> tuple[Finish | None]:
        wanted = table.data.get("finish")
        return (finishes.get(wanted) if isinstance(wanted, str) else None,)

    members = _each(
        top.named("member"), readings, lambda label, each: _member(label, each, unit, profile, finish), look
    )
    blocks = _each(
        top.named("block"), readings, lambda label, each: read_block(label, each, unit, profile, finish), look
    )
    runs = _runs(top, _declared(top, members, blocks), unit, readings)
    surroundings = [
        readings.once(table, look(table), partial(read_surrounding, table, count, unit, finish))
        for count, table in enumerate(top.headed("surrounding"), 1)
    ]
    site = read_site(top, unit)
    job = read_job(top, path)
    pictures = read_pictures(top, unit)
    shop = read_shop(top, unit, tuple(members), not top.told("member"))
    if top.log.problems or title is None or unit is None:
        return None
    sources = [each for sourced in profiles.values() if sourced for each in (sourced.file, sourced.drawing)]
    named = [path, *(source for source in sources if source)]
    return Scene(
        title,
        path,
        unit,
        chord,
        tuple(member for member in members.values() if member),
        tuple(runs),
        tuple(surrounding for surrounding in surroundings if surrounding),
        tuple(dict.fromkeys(named)),
        site,
        tuple(block for block in blocks.values() if block),
        finishes=tuple(finishes.values()),
        job=job,
        pictures=pictures,
        shop=shop,
    )


def _each(
    tables: Mapping[str, Table],
    readings: Readings,
    read: Callable[[str, Table], T],
    uses: Callable[[Table], Sequence[object]] = lambda _: (),
) -> dict[str, T]:
    """What the tables under headings of one kind are read as, by name. uses: what else each depends on."""
    return {label: readings.once(each, uses(each), partial(read, label, each)) for label, each in tables.items()}


def _chord(unit: Unit | None) -> Kind[float]:
    if unit is None:
        return length("mm")
    return within(
        length(unit),
        *CHORD_RANGE,
        "the model may stray from a true curve by {:g} mm to {:g} mm, and this is {{}}".format(*CHORD_RANGE),
        f'write chord = "{USUAL_CHORD} mm", or leave it out for that',
    )


def _member(
    label: str, table: Table, unit: Unit | None, profile: Kind[Sourced | None], finish: Kind[Finish | None]
) -> Member | None:
    """One [member.NAME]; None when it or its profile holds a mistake, which is noted."""
    table.only(("profile", "out", "up", "finish"), "in a member")
    table.rightly_named(label)
    sourced = table.need("profile", profile, 'name a profile of this scene: profile = "base"')
    out = table.take("out", length(unit), 0.0)
    up = table.take("up", length(unit), 0.0)
    look = table.take("finish", finish, None) or WHITE_PAINT
    if sourced is None:
        return None
    return Member(label, sourced.profile.moved(out, up), out, up, look, sourced.source)


def _declared(top: Table, members: Mapping[str, Member | None], blocks: Mapping[str, Block | None]) -> Declared:
    """What a run can name."""
    every = not top.told("member")
    return Declared(
        known({label: label for label in members}, "member", all_told=every),
        tuple(members) if every else None,
        {label: member.profile for label, member in members.items() if member},
        known(blocks, "block", all_told=not top.told("block")),
        tuple(blocks.values()),
    )


def _runs(top: Table, declared: Declared, unit: Unit | None, readings: Readings) -> list[RunInScene]:
    """All runs that hold no mistake; the others are noted, and so are names used twice."""
    tables = top.headed("run")
    if not top.data.get("run", []) and not top.told("run"):
        top.wrong("run", None, "a scene needs at least one run", "write one under a heading [[run]]")
    steps = sum(
        len(rows) for table in tables for key in ("steps", "points") if isinstance(rows := table.data.get(key), list)
    )
    if steps > MOST_STEPS:
        top.wrong(
            "run",
            None,
            f"the runs have {steps:,} steps and points together, and {MOST_STEPS:,} is the most",
            "split the scene into several files",
        )
        return []
    pieces = sum(
        len(rows) * len(members)
        for table in tables
        for key in ("steps", "points")
        if isinstance(rows := table.data.get(key), list) and isinstance(members := table.data.get("members"), list)
    )
    if top.overfull("run", pieces, limits.PIECES):
        return []
    found: list[RunInScene] = []
    first: dict[str, int] = {}
    for number, table in enumerate(tables, 1):
        run = readings.once(table, declared.used(table), partial(read_run, table, declared, unit))
        if run:
            found.append(run)
        label = table.data.get("name")
        if isinstance(label, str) and first.setdefault(label, number) != number:
            table.wrong(
                "name",
                written(label),
                f"run {first[label]} has this name too",
                "give every run a name of its own",
            )
    return found
