"""Profiles as files and as sketches in the scene: the same keys, and the same reader."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from preview.drawings import Drawn
from preview.errors import PreviewError, Problem
from preview.profiles import SHAPES, Blank, Cut, Profile, Shape, Sprung, sketch
from preview.scene.cut_profile import CUT, read_cut_profile, read_cuts
from preview.scene.drawn_profile import DRAWING, read_drawn
from preview.scene.kinds import UNITS_FIX, degrees, in_a_row, length, name, one_unit, suggested, text
from preview.scene.relief import RELIEF, read_relief
from preview.scene.source import Files, parse_toml
from preview.scene.spring import SPRING, read_spring
from preview.scene.table import Log, Table
from preview.scene.written import written
from preview.shipped import folder
from preview.units import Unit, angle, degrees_text

SKETCH = ("foot", "face", "wall", "ceiling")
SOURCES = ("file", "library", "face", "drawing")
DRAWN = {
    "face": (SKETCH, "in a sketched profile", "sketched in the scene"),
    "blank": (CUT, "in a profile cut from a blank", "cut from a blank in the scene"),
    "drawing": (DRAWING, "in a profile from a drawing", "from a drawing"),
}
"""How a scene draws a profile in place: the keys, where they are, and the words for where it came from."""
FACE = 'list its shapes from the foot up: face = [{ fillet = "2 1/2" }, { cove = "3/4", in = "3/4" }]'
PROFILE_FILE = "name a profile file, which holds name, units, and foot and face, or blank and cuts, or a drawing"


@dataclass(frozen=True)
class Sourced:
    """A profile and where it came from: the words for it, and the file and the drawing if there are any.

    notes: what was done to lay it at its spring angle, a sentence each.
    """

    profile: Profile
    source: str
    file: Path | None
    drawing: Path | None = None
    notes: tuple[str, ...] = ()


def load_profile(path: Path, files: Files | None = None) -> Profile:
    """Read a profile file: name, units, and the sketch, the cuts in a blank or the drawing.

    files: what was read already, where other things are made of the same file. Raises PreviewError, with the file in
    each problem and every mistake of the file.
    """
    return _loaded(path, files or Files()).profile


def load_spring_notes(path: Path, files: Files | None = None) -> tuple[str, ...]:
    """What was done to lay the profile of a file at its spring angle; nothing where it gives none.

    Raises PreviewError as `load_profile` does.
    """
    return _loaded(path, files or Files()).notes


def load_drawn(path: Path, files: Files | None = None) -> Drawn | None:
    """The drawing of a profile file as it was read, with its notes; None where the profile comes from no drawing.

    Raises PreviewError as `load_profile` does. The profile is as drawn: no arris eased, no back relieved, not sprung.
    """
    files = files or Files()
    top = _checked(path, files)
    return read_drawn(path.stem, top, _unit(top), path.parent, files) if "drawing" in top else None


def load_cuts(path: Path, files: Files | None = None) -> tuple[Blank, list[Cut]] | None:
    """The blank and the cuts of a profile file, in their order; None where the profile is not cut from a blank.

    Raises PreviewError as `load_profile` does.
    """
    top = _checked(path, files or Files())
    return read_cuts(top, _unit(top), _sketched) if _is_cut(top) else None


def _loaded(path: Path, files: Files) -> Sourced:
    return _read(files.text(path, "profile file"), path.name, path.parent, files)


def _checked(path: Path, files: Files) -> Table:
    """The keys of a profile file that holds no mistake; raises what `load_profile` raises where it does."""
    _loaded(path, files)
    return Table(parse_toml(files.text(path, "profile file"), "profile file"), "", Log())


def read_profile(label: str, table: Table, unit: Unit | None, scene: Path, files: Files) -> Sourced | None:
    """One [profile.NAME] of a scene: a file beside it, one of the library, or drawn in place.

    None when it holds a mistake, which is noted.
    """
    given = [key for key in SOURCES if key in table] + (["blank"] if any(key in table for key in CUT) else [])
    if len(given) > 1 or not given:
        table.only((*SOURCES, *SKETCH, *CUT, *RELIEF, *DRAWING, *SPRING), "in a profile")
        if given:
            table.wrong(
                "",
                None,
                f"the profile comes from {len(given)} places: {in_a_row(given, 'and')}",
                "keep one of them",
            )
        elif not any(table.told(key) for key in SOURCES):
            table.wrong(
                "",
                None,
                "the profile has no shape",
                "name a file, or a library profile, or sketch it with foot and face",
            )
        return None
    if given[0] in DRAWN:
        keys, here, source = DRAWN[given[0]]
        table.only((*keys, *RELIEF, *SPRING), here)
        drawn = _drawn(label, table, unit, scene.parent, files)
        if drawn is None:
            return None
        return Sourced(drawn.profile, source + _at(table), None, _drawing(table, scene.parent), drawn.notes)
    table.only((given[0], *SPRING), f"in a profile from a {'file' if given == ['file'] else 'library'}")
    path = table.take("file", lambda value: scene.parent / text(value), None) if given == ["file"] else None
    path = table.take("library", lambda value: library_path(text(value)), path)
    if path is None:
        return None
    source = str(table.data["file"]) if given == ["file"] else f"{path.name} in the library"
    try:
        content = files.text(path, "profile file")
    except PreviewError as error:
        problem = error.problems[0]
        table.wrong(given[0], table.shown(given[0]), problem.problem, problem.fix)
        return None
    try:
        found = _read(content, source, path.parent, files)
    except PreviewError as error:
        table.log.add(error)
        return None
    if "spring" in table and found.notes:
        twice = "the profile is laid at its spring angle in its own file, and once more here"
        table.wrong("spring", table.shown("spring"), twice, "leave spring out here, or in the file")
        return None
    laid = read_spring(found.profile, table, unit)
    if laid is None:
        return None
    return replace(found, profile=laid.profile, source=source + _at(table), file=path, notes=found.notes + laid.notes)


def library_path(profile: str) -> Path:
    """The file of a profile that ships with the program. Raises PreviewError, naming the nearest one."""
    try:
        shipped = sorted(path.stem for path in folder("profiles").glob("*.toml"))
    except FileNotFoundError as error:
        raise PreviewError("", written(profile), str(error), "install the program again") from error
    if profile not in shipped:
        meant = suggested(profile, shipped)
        fix = f"did you mean {written(meant)}?" if meant else f"the library has {in_a_row(shipped, 'and')}"
        raise PreviewError("", written(profile), "the library has no profile of that name", fix)
    return folder("profiles") / f"{profile}.toml"


def _read(content: str, file: str, beside: Path, files: Files) -> Sourced:
    """The profile in a file's text, its drawing found from `beside`; errors call the file `file`."""
    try:
        log = Log()
        top = Table(parse_toml(content, "profile file"), "", log)
        if any(isinstance(top.data.get(key), list | dict) for key in ("run", "member")):
            raise PreviewError("", None, "this is a scene, not a profile", PROFILE_FILE)
        top.only(
            ("name", "units", *(DRAWING if "drawing" in top else (*SKETCH, *CUT, "drawing")), *RELIEF, *SPRING),
            "in a profile file",
        )
        if any(key in top for key in SKETCH) and any(key in top for key in CUT):
            both = in_a_row([key for key in top.data if key in (*SKETCH, *CUT)], "and")
            problem = f"the profile is sketched and cut from a blank at once, by {both}"
            top.wrong("", None, problem, "keep foot and face, or blank and cuts")
        label = top.need("name", name, 'say what it is called: name = "Cove and bead base"')
        unit = _unit(top)
        drawn = _drawn(label or "", top, unit, beside, files)
        if drawn is None or log.problems:
            raise PreviewError.several(log.problems)
        return Sourced(drawn.profile, file, None, _drawing(top, beside), drawn.notes)
    except PreviewError as error:
        raise error.in_file(file) from error.__cause__


def _drawn(label: str, table: Table, unit: Unit | None, beside: Path, files: Files) -> Sprung | None:
    """The profile that a sketch, cuts in a blank or a drawing draw: eased, relieved, and laid at its spring angle."""
    if "drawing" in table:
        found = read_drawn(label, table, unit, beside, files)
        made = found.profile if found else None
    else:
        made = read_cut_profile(label, table, unit, _sketched) if _is_cut(table) else _sketched(label, table, unit)
    return read_spring(read_relief(made, table, unit), table, unit)


def _at(table: Table) -> str:
    """The spring angle, as words that follow where a profile came from."""
    return f", sprung at {degrees_text(angle(degrees(table.data['spring'])))}" if "spring" in table else ""


def _drawing(table: Table, beside: Path) -> Path | None:
    """The drawing that a table names, if it does."""
    return beside / str(table.data["drawing"]) if "drawing" in table else None


def _unit(top: Table) -> Unit | None:
    """The unit of a profile file; one with a drawing, which may say it, needs none but for lengths of its own."""
    if "drawing" in top and "units" not in top and not any(key in top for key in (*RELIEF, "flats")):
        return "mm"
    return top.need("units", one_unit, UNITS_FIX)


def _is_cut(table: Table) -> bool:
    """Whether a profile is cut from a blank, or was meant to be."""
    return any(key in table or table.told(key) for key in CUT) and "face" not in table


def _sketched(label: str, table: Table, unit: Unit | None) -> Profile | None:
    """The profile that foot, face, wall and ceiling draw."""
    noted = len(table.log.problems)
    of_length = length(unit)
    foot = table.need("foot", of_length, 'write how far the face starts from the wall: foot = "3/4"')
    if "face" not in table and not table.told("face"):
        table.wrong("face", None, "this key is missing", FACE)
    rows = table.rows("face", "shape", '{ cove = "3/4", in = "3/4" }')
    shapes = [_shape(row, unit) for row in rows]
    wall = table.take("wall", of_length, None)
    ceiling = table.take("ceiling", of_length, None)
    if foot is None or unit is None or len(table.log.problems) != noted:
        return None
    try:
        drawn = [shape for shape in shapes if shape is not None]
        return sketch(label, foot, drawn, wall=wall, ceiling=ceiling, unit=unit)
    except PreviewError as error:
        problems = [_as_written(problem, table, rows) for problem in error.problems]
        table.log.add(PreviewError.several(problems).at(table.place))
        return None


def _shape(table: Table, unit: Unit | None) -> Shape | None:
    """One shape of a face: { cove = rise, in = ..., radius = ... }."""
    noted = len(table.log.problems)
    kind = table.one(dict.fromkeys(SHAPES, ("in", "out", "radius")), "shape")
    if kind is None:
        return None
    of_length = length(unit)
    rise = table.take(kind, of_length, 0.0)
    moves = {key: table.take(key, of_length, 0.0) for key in ("in", "out")}
    if "in" in table and "out" in table:
        table.wrong("", written(table.data), "the shape goes both in and out", "keep one of the two")
    for key, other in (("in", "out"), ("out", "in")):
        if moves[key] < 0:
            shown = table.shown(key) or ""
            fix = f"to go the other way, write {other} = {shown.replace('-', '', 1)}"
            table.wrong(key, shown, f"{key} is written without a minus sign", fix)
    radius = table.take("radius", of_length, None)
    return Shape(kind, rise, moves["out"] - moves["in"], radius) if len(table.log.problems) == noted else None


def _as_written(problem: Problem, table: Table, rows: Sequence[Table]) -> Problem:
    """A problem of the sketch ("shape 3 (ogee), rise") with the key and the value that stand in the file."""
    found = re.fullmatch(r"shape (\d+)[^,]*(?:, (\w+))?", problem.place)
    if not found:
        return replace(problem, value=table.shown(problem.place) if problem.place else None)
    number, row = found[1], rows[int(found[1]) - 1]
    if not found[2]:
        return replace(problem, place=f"shape {number}", value=written(row.data))
    key = next(key for key in row.data if key in SHAPES) if found[2] == "rise" else found[2]
    return replace(problem, place=f"shape {number}, {key}", value=row.shown(key))
