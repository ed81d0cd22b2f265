"""Finishes and surroundings: what makes a preview readable and never enters a check."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

from preview.runs import Vec2
from preview.scene.kinds import Kind, choice, color, degrees, length, name, number, pair, within
from preview.scene.model import Finish, FinishKind, Surrounding, SurroundingKind
from preview.scene.table import Table
from preview.units import Unit, angle, show

WHITE_PAINT = Finish("white paint", (0.93, 0.92, 0.89), 0.45)
"""The finish of a member that names none."""
PLASTER = Finish("plain plaster", (0.76, 0.74, 0.70), 0.9)
"""The finish of a surrounding that names none."""

LEAST_RADIUS = 0.01
"""A column has at least this radius, mm."""
USUAL_KIND: FinishKind = "paint"
FINISH_KINDS: tuple[FinishKind, ...] = ("paint", "clear", "stone", "metal")
FINISH_WORDS: dict[FinishKind, str] = {
    "paint": "painted",
    "clear": "clear finish",
    "stone": "stone",
    "metal": "metal",
}
"""What a kind of finish is called where a client reads of it."""
SURROUNDING_KINDS: tuple[SurroundingKind, ...] = ("floor", "box", "column")
KEYS: dict[SurroundingKind, tuple[str, ...]] = {
    "floor": ("name", "kind", "finish", "at", "size", "top"),
    "box": ("name", "kind", "finish", "at", "size", "radius", "bottom", "top", "turn"),
    "column": ("name", "kind", "finish", "at", "radius", "bottom", "top"),
}


def read_finish(label: str, table: Table) -> Finish:
    """One [finish.NAME]; white paint under that name where its color is wrong."""
    table.only(("color", "roughness", "metallic", "kind"), "in a finish")
    kind = table.take("kind", choice(FINISH_KINDS, "a finish is paint, clear, stone or metal"), USUAL_KIND)
    shade = table.need("color", color, 'write its color in quotes: color = "#f4f1ea"')
    return Finish(
        label,
        shade or WHITE_PAINT.color,
        table.take("roughness", number(0, 1), 0.5),
        table.take("metallic", number(0, 1), 1.0 if kind == "metal" else 0.0),
        kind,
    )


def read_surrounding(table: Table, count: int, unit: Unit | None, look: Kind[Finish | None]) -> Surrounding | None:
    """One [[surrounding]], the count-th; None when it holds a mistake, which is noted."""
    noted = len(table.log.problems)
    kind = table.need(
        "kind",
        choice(SURROUNDING_KINDS, "a surrounding is a floor, a box or a column"),
        'write kind = "floor", "box" or "column"',
    )
    if kind is None:
        return None
    table.only(KEYS[kind], f"in a {kind}")
    made = Surrounding(
        table.take("name", name, f"{kind} {count}"),
        kind,
        at=(0.0, 0.0),
        size=(0.0, 0.0),
        radius=0.0,
        bottom=0.0,
        top=0.0,
        turn=0.0,
        finish=table.take("finish", look, None) or PLASTER,
    )
    made = _floor(made, table, unit) if kind == "floor" else _standing(made, table, unit)
    return made if len(table.log.problems) == noted else None


def _floor(made: Surrounding, table: Table, unit: Unit | None) -> Surrounding:
    top = table.take("top", length(unit), 0.0)
    at = table.take("at", pair(unit), (0.0, 0.0))
    return replace(made, at=at, top=top, bottom=top, size=_size(table, unit) if "size" in table else (0.0, 0.0))


def _standing(made: Surrounding, table: Table, unit: Unit | None) -> Surrounding:
    """The place, size and height of a box or a column."""
    at = table.need("at", pair(unit), f"write where {_AT[made.kind]} stands in plan: at = [0, 12]")
    bottom = table.take("bottom", length(unit), 0.0)
    top = table.need("top", length(unit), 'write the height of its top: top = "30 1/4"')
    if top is not None and top <= bottom:
        table.wrong(
            "top",
            table.shown("top"),
            "its top is not above its bottom",
            "write a top above the bottom, which is 0 where none is given",
        )
    fix = "write the measured radius"
    if made.kind == "column":
        radius = within(length(unit), LEAST_RADIUS, math.inf, "a column's radius is more than 0", fix)
        round_to = table.need("radius", radius, "write the column's radius: radius = 5") or 0.0
        size = (2 * round_to, 2 * round_to)
    else:
        size = _size(table, unit)
        radius = within(length(unit), 0.0, math.inf, "a radius is written without a minus sign", fix)
        round_to = table.take("radius", radius, 0.0)
        if 2 * round_to > min(size) + 1e-9:
            table.wrong(
                "radius",
                table.shown("radius"),
                f"the box is {show(min(size), unit or 'mm')} across, too narrow for corners of this radius",
                f"use at most half of that, {show(min(size) / 2, unit or 'mm')}",
            )
    return replace(
        made,
        at=at or (0.0, 0.0),
        size=size,
        radius=round_to,
        bottom=bottom,
        top=bottom if top is None else top,
        turn=angle(table.take("turn", degrees, Fraction())),
    )


_AT = {"box": "its corner with the least x and y", "column": "its center"}


def _size(table: Table, unit: Unit | None) -> Vec2:
    """The size of a box or floor, mm; a mistake is noted and read as endless, so that no more is blamed."""
    size = table.need(
        "size",
        pair(unit, "a size is two lengths, [along x, along y]"),
        "write its size along x and along y: size = [48, 24]",
    )
    if size is not None and min(size) <= 0:
        table.wrong(
            "size",
            table.shown("size"),
            "a size is more than 0 both ways",
            "write the measured lengths, from the corner at which it stands",
        )
    return size if size is not None and min(size) > 0 else (math.inf, math.inf)
