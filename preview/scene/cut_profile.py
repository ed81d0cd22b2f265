"""Profiles cut from a blank: the blank, and the cuts as a person says them at the machine."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import get_args

from preview.errors import PreviewError, Problem
from preview.profiles import (
    Bead,
    Blank,
    BlankFace,
    Chamfer,
    CoreBox,
    Cove,
    Cut,
    Cutter,
    Drawn,
    Ogee,
    Place,
    Profile,
    Roundover,
    Straight,
    Vee,
    cut_profile,
    intersection,
)
from preview.scene.kinds import choice, degrees, in_a_row, length, suggested, text
from preview.scene.table import Table
from preview.scene.written import written
from preview.units import Unit, angle, show

CUT = ("blank", "cuts")
PLACING = ("at", "on", "up", "down", "out", "in", "diameter")
SHOULDERS = ("step", "inset")
CUTS: dict[str, tuple[str, ...]] = {
    "roundover": (*PLACING, *SHOULDERS),
    "cove": (*PLACING, *SHOULDERS),
    "chamfer": (*PLACING, "angle", *SHOULDERS),
    "ogee": (*PLACING, "hollow", *SHOULDERS),
    "reverse-ogee": (*PLACING, "hollow", *SHOULDERS),
    "core_box": (*PLACING, "depth"),
    "v": (*PLACING, "depth"),
    "bead": (*PLACING, "quirk", "depth"),
    "straight": (*PLACING, "depth"),
    "cutter": (*PLACING, "depth"),
}
"""The cutters by their key, and the other keys that go with each."""
AT_ARRIS = ("roundover", "cove", "chamfer", "ogee", "reverse-ogee", "bead", "straight")
FACES: tuple[BlankFace, ...] = get_args(BlankFace)
SIDEWAYS = ("top", "foot")
FROM: dict[str, BlankFace] = {"up": "foot", "down": "top", "out": "back", "in": "face"}
"""The keys that place a cutter's middle on a face, and the face of the blank each is measured from."""
BLANK = 'give the stock before the cuts: blank = { width = "4", thickness = "1 1/4" }'
EXAMPLE = '{ roundover = "1/4", at = "face top" }'
FACES_FIX = 'name two faces that meet, the one the cutter works from first: at = "face top"'

Drawing = Callable[[str, Table, Unit | None], Profile | None]


def read_cut_profile(label: str, table: Table, unit: Unit | None, sketched: Drawing) -> Profile | None:
    """The profile that blank and cuts make; None when they hold a mistake, which is noted.

    sketched: reads a drawn cutter's half section.
    """
    found = read_cuts(table, unit, sketched)
    if found is None or unit is None:
        return None
    try:
        profile = cut_profile(label, *found, unit=unit)
        _refuse_idle(*found, unit)
        return profile
    except PreviewError as error:
        rows = table.rows("cuts", "cut", EXAMPLE)
        problems = [_as_written(problem, table, rows) for problem in error.problems]
        table.log.add(PreviewError.several(problems).at(table.place))
        return None


def _refuse_idle(blank: Blank, cuts: Sequence[Cut], unit: Unit) -> None:
    """Refuse cuts that pass beside the wood: a figure or a face is not what was meant."""
    wood = blank.region()
    size = f"{show(blank.width, unit)} wide and {show(blank.thickness, unit)} thick"
    idle = [
        Problem(
            f"cut {number} ({cut.cutter.word})",
            None,
            f"it takes no wood: it passes beside the blank, which is {size}",
            "check where the cut is made, or leave it out",
        )
        for number, cut in enumerate(cuts, 1)
        if not intersection(wood, cut.region(blank)).area
    ]
    if idle:
        raise PreviewError.several(idle)


def read_cuts(table: Table, unit: Unit | None, sketched: Drawing) -> tuple[Blank, list[Cut]] | None:
    """The blank and the cuts in it, in their order; None when they hold a mistake, which is noted."""
    noted = len(table.log.problems)
    blank = _blank(table, unit)
    if "cuts" not in table and not table.told("cuts"):
        table.wrong("cuts", None, "this key is missing", f"list what the cutters do: cuts = [{EXAMPLE}]")
    cuts = [_cut(row, unit, sketched) for row in table.rows("cuts", "cut", EXAMPLE)]
    if blank is None or unit is None or len(table.log.problems) != noted:
        return None
    return blank, [cut for cut in cuts if cut is not None]


def part(table: Table, key: str, example: str) -> Table | None:
    """The table between braces at a key; None, and noted, when it is something else."""
    data = table.data[key]
    if not isinstance(data, dict):
        table.wrong(key, written(data), "its keys stand between braces", f"write {key} = {example}")
        return None
    return Table(data, ", ".join(word for word in (table.place, key) if word), table.log)


def _blank(table: Table, unit: Unit | None) -> Blank | None:
    if "blank" not in table:
        if not table.told("blank"):
            table.wrong("blank", None, "this key is missing", BLANK)
        return None
    sizes = part(table, "blank", '{ width = "4", thickness = "1 1/4" }')
    if sizes is None:
        return None
    sizes.only(("width", "thickness"), "in a blank")
    width = sizes.need("width", length(unit), 'write how high the molding will stand: width = "4"')
    thickness = sizes.need("thickness", length(unit), 'write it from back to face: thickness = "1 1/4"')
    return None if width is None or thickness is None else Blank(width, thickness)


def _cut(table: Table, unit: Unit | None, sketched: Drawing) -> Cut | None:
    """One cut: { cove = radius, at = arris } or { core_box = radius, on = face, up = ..., depth = ... }."""
    noted = len(table.log.problems)
    word = table.one(CUTS, "cut")
    if word is None:
        return None
    cutter = _cutter(word, table, unit, sketched)
    place = _place(word, table, unit)
    diameter = table.take("diameter", length(unit), None)
    if cutter is None or place is None or len(table.log.problems) != noted:
        return None
    return Cut(cutter, place, diameter)


def _cutter(word: str, table: Table, unit: Unit | None, sketched: Drawing) -> Cutter | None:
    """The cutter that a cut's word and sizes say; None when it holds a mistake."""
    of_length = length(unit)
    if word == "cutter":
        half = _drawn(table, unit, sketched)
        depth = _depth(table, unit)
        return None if half is None or depth is None else Drawn(half, depth)
    if word == "v":
        between = table.take("v", _radians, None)
        depth = _depth(table, unit)
        return None if between is None or depth is None else Vee(between, depth)
    size = table.take(word, of_length, None)
    if word in ("core_box", "straight"):
        depth = _depth(table, unit)
        if size is None or depth is None:
            return None
        return CoreBox(size, depth) if word == "core_box" else Straight(size, depth)
    if word == "bead":
        fix = 'write how wide the groove beside the bead is: quirk = "1/16", or 0'
        quirk = table.need("quirk", of_length, fix)
        deep = table.take("depth", of_length, None)
        return None if size is None or quirk is None else Bead(size, quirk, deep)
    step, inset = (table.take(key, of_length, 0.0) for key in SHOULDERS)
    slope = table.take("angle", _radians, angle(Fraction(45)))
    hollow = table.take("hollow", of_length, size)
    if size is None or hollow is None:
        return None
    if word == "chamfer":
        return Chamfer(size, slope, step, inset)
    if word in ("ogee", "reverse-ogee"):
        return Ogee(size, hollow, word == "reverse-ogee", step, inset)
    return Roundover(size, step, inset) if word == "roundover" else Cove(size, step, inset)


def _radians(value: object) -> float:
    return angle(degrees(value))


def _depth(table: Table, unit: Unit | None) -> float | None:
    return table.need("depth", length(unit), 'write how deep below the face it cuts: depth = "1/4"')


def _drawn(table: Table, unit: Unit | None, sketched: Drawing) -> Profile | None:
    """Half a cutter's section: a sketch from its tip up, its back on the cutter's axis."""
    half = part(table, "cutter", '{ foot = "1/8", face = [{ bevel = "1/4", out = "1/8" }] }')
    if half is None:
        return None
    half.only(("foot", "face"), "in a drawn cutter")
    return sketched("cutter", half, unit)


def _place(word: str, table: Table, unit: Unit | None) -> Place | None:
    """Where a cut is made: at an arris, or on a face with its middle so far from an edge of it."""
    moves = [key for key in FROM if key in table]
    if "at" in table:
        if "on" in table:
            fix = "keep on for a cut in a face, or at for one at an arris"
            table.wrong("", written(table.data), "the cut is both on a face and at an arris", fix)
            return None
        if word not in AT_ARRIS:
            fix = f'write on = "face", and how far up its middle is: {{ {word} = ..., on = "face", up = "1 1/2" }}'
            table.wrong("at", table.shown("at"), "this cutter works in a face, not at an arris", fix)
            return None
        if moves:
            problem = f"at an arris there is nothing to measure, and this cut goes {in_a_row(moves, 'and')}"
            table.wrong(moves[0], table.shown(moves[0]), problem, "leave it out; step and inset set a cutter in")
            return None
        return table.take("at", _arris, None)
    if "on" not in table:
        fix = FACES_FIX if word in AT_ARRIS else 'write the face it works in: on = "face", up = "1 1/2"'
        table.wrong("", written(table.data), "nothing says where the cut is made", fix)
        return None
    face = table.take("on", choice(FACES, "a blank has a face, a back, a top and a foot"), None)
    if face is None:
        return None
    if word in AT_ARRIS and word not in ("bead", "straight"):
        fix = f'name the arris by its two faces: at = "{face} {"face" if face in SIDEWAYS else "top"}"'
        table.wrong("on", table.shown("on"), "this cutter works at an arris, not in a face", fix)
        return None
    ways = ("out", "in") if face in SIDEWAYS else ("up", "down")
    given = [key for key in moves if key in ways]
    if len(moves) != 1 or not given:
        problem = f"this does not say how far {in_a_row(ways)} the middle of the cutter is on the {face}"
        fix = f'write {ways[0]} = "1 1/2", say, from the {FROM[ways[0]]}, or {ways[1]} from the {FROM[ways[1]]}'
        if len(moves) > 1 and len(given) == len(moves):
            problem, fix = f"{in_a_row(given, 'and')} both say where the middle of the cutter is", "keep one of them"
        table.wrong("", written(table.data), problem, fix)
        return None
    center = table.take(given[0], length(unit), None)
    return None if center is None else Place(face, FROM[given[0]], center)


def _arris(value: object) -> Place:
    """Two faces of the blank that meet, as in "face top"."""
    words = text(value).split()
    for word in words:
        if word not in FACES:
            meant = suggested(word, FACES)
            fix = f"did you mean {meant}?" if meant else FACES_FIX
            raise PreviewError("", written(value), f'a blank has no side called "{word}"', fix)
    chosen = [face for word in words for face in FACES if face == word]
    if len(chosen) != 2 or (chosen[0] in SIDEWAYS) == (chosen[1] in SIDEWAYS):
        raise PreviewError("", written(value), "an arris is where a face or back meets a top or foot", FACES_FIX)
    return Place(chosen[0], chosen[1])


def _as_written(problem: Problem, table: Table, rows: Sequence[Table]) -> Problem:
    """A problem of the cuts ("cut 3 (cove), radius") with the key and the value that stand in the file."""
    if problem.place in ("width", "thickness"):
        blank = table.data["blank"]
        value = written(blank[problem.place]) if isinstance(blank, dict) else None
        return replace(problem, place=f"blank, {problem.place}", value=value)
    found = re.fullmatch(r"cut (\d+)[^,]*(?:, (\w+))?", problem.place)
    if not found:
        return problem
    row = rows[int(found[1]) - 1]
    if not found[2]:
        return replace(problem, place=f"cut {found[1]}", value=written(row.data))
    key = found[2] if found[2] in row else next(word for word in row.data if word in CUTS)
    return replace(problem, place=f"cut {found[1]}, {key}", value=row.shown(key))
