"""How a run is made: its ends, what becomes of the profile on a rake, scarfs, and the wall that it lies on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from preview.errors import PreviewError, Problem
from preview.profiles import Profile, measure
from preview.runs import BEVELS, ENDS, IN_PLAN, RETURNED, EndWay, Run, Stand, scarfed
from preview.scene.cut_profile import part
from preview.scene.kinds import choice, degrees, length, length_within, triple, within
from preview.scene.table import Table
from preview.scene.written import written
from preview.units import Unit, angle, cos_sin

Raked = Literal["derived", "same"]
KEYS = ("begin", "end", "raked", "stock", "scarf", "on_wall")
RAKED: tuple[Raked, ...] = ("derived", "same")
"""What the profile of a climbing straight is: derived from the level one, or the same."""
USUAL_RAKED: Raked = "derived"
LEAST_STOCK = 300.0
"""Shorter stock than this, mm, is given in the wrong unit."""
MOST_SCARF = 75
USUAL_SCARF = 45.0
"""Degrees that a scarf is turned from square."""


@dataclass(frozen=True)
class Making:
    """What a run is given once its line is laid out. stock, from_corner: mm. slant: mm along for each mm out."""

    begin: EndWay = "square"
    end: EndWay = "square"
    raked: Raked = "derived"
    stand: Stand = IN_PLAN
    stock: float | None = None
    slant: float = 1.0
    from_corner: float = 0.0


def read_making(table: Table, unit: Unit | None) -> Making:
    """The keys of a run that say how it is made; mistakes are noted."""
    on_wall = "on_wall" in table
    begin, end = (_end(table, key, on_wall) for key in ("begin", "end"))
    said = "on a rake the profile is derived from the level one, so that they meet, or it is the same"
    raked = table.take("raked", choice(RAKED, said), USUAL_RAKED)
    least = f"stock is at least {LEAST_STOCK:g} mm, about a foot, and this is {{}}"
    stock = table.take(
        "stock", length_within(unit, LEAST_STOCK, math.inf, least, "write the longest piece you can get"), None
    )
    slant, from_corner = _scarf(table, unit)
    return Making(begin, end, raked, _stand(table, unit), stock, slant, from_corner)


def made(run: Run, making: Making, profiles: Sequence[Profile], unit: Unit) -> Run:
    """The run, made so; profiles: those of its members, from which follows how far a scarfed piece reaches.

    Raises PreviewError for a block that is to be returned, for an easement in a run that keeps one profile, and for a
    straight that cannot be scarfed.
    """
    run = replace(run, begin=making.begin, end=making.end, raked=making.raked, stand=making.stand)
    _refuse_returned_blocks(run)
    if run.raked == "same" and any(element.bend for element in run.elements):
        problem = "an easement's section stands plumb, and one profile for all would stand square to the rake beside it"
        raise PreviewError("raked", written("same"), problem, "leave raked out, or the easement")
    if making.stock is None:
        return run
    sizes = [measure(profile) for profile in profiles]
    if making.stand is IN_PLAN:
        spans = [(size.d_min, size.d_max) for size in sizes]
    else:  # the profile lies with its back on the wall, its height across it
        spans = [(size.h_min, size.h_max) for size in sizes]
    # Plumb cuts make a climbing piece longer, along its slope, by its height times the sine of the pitch.
    steepest = max(abs(element.slope) for element in run.elements)
    high = max((size.h_max - size.h_min for size in sizes), default=0.0)
    allowance = high * steepest / math.hypot(1.0, steepest)
    return scarfed(
        run, making.stock, making.slant, making.from_corner, allowance, spans or [(0.0, 0.0)], unit, profiles
    )


def _end(table: Table, key: str, on_wall: bool) -> EndWay:
    """How one end is cut."""
    said = "an end is cut square or beveled, returned to the wall by a piece of its own or by its own wood, or butted"
    way = table.take(key, choice((*ENDS, *BEVELS), said), ENDS[0])
    if key in table and table.data.get("closed") is True:
        table.wrong(key, table.shown(key), "a closed run has no ends to cut", f"leave {key} out, or closed")
    elif on_wall and way in RETURNED:
        problem = "a run that lies on a wall has no end to return to it"
        table.wrong(key, table.shown(key), problem, f'write {key} = "square", or leave it out')
    return way


def _refuse_returned_blocks(run: Run) -> None:
    ends = (("begin", run.begin, run.blocks[0]), ("end", run.end, run.blocks[-1]))
    problems = [
        Problem(key, written(way), "the run stops with a block there, which has no end to return", f"leave {key} out")
        for key, way, block in ends
        if block and way in RETURNED
    ]
    if problems:
        raise PreviewError.several(problems)


def _scarf(table: Table, unit: Unit | None) -> tuple[float, float]:
    """The slant of a scarf, mm along for each mm out, and how far from a corner it has to lie, mm."""
    turned, from_corner = USUAL_SCARF, 0.0
    if "scarf" not in table:
        return _slant(turned), from_corner
    keys = part(table, "scarf", '{ angle = 45, from_corner = "24" }')
    if keys is not None:
        keys.only(("angle", "from_corner"), "in a scarf")
        turned = keys.take("angle", _turned, turned)
        fix = "write how far a joint has to lie from the nearest corner"
        from_corner = keys.take(
            "from_corner",
            within(length(unit), 0.0, math.inf, "a distance is written without a minus sign", fix),
            from_corner,
        )
    if "stock" not in table and not table.told("stock"):
        fix = 'write the longest piece you can get: stock = "12\'"'
        table.wrong("stock", None, "scarfs are made where a straight is longer than the stock, which is missing", fix)
    return _slant(turned), from_corner


def _turned(value: object) -> float:
    """Degrees that a scarf is turned from square."""
    said = f"a scarf is turned from square by more than 0° and at most {MOST_SCARF}°"
    return within(lambda each: float(degrees(each)), 0.1, MOST_SCARF, said, "write angle = 45, or 30")(value)


def _slant(turned: float) -> float:
    """mm along for each mm out; 1 at 45 degrees."""
    cos, sin = cos_sin(math.radians(turned))
    return 1.0 if turned == USUAL_SCARF else sin / cos


def _stand(table: Table, unit: Unit | None) -> Stand:
    """Where the run's plan lies: level, or on the face of a wall."""
    if "on_wall" not in table:
        return IN_PLAN
    keys = part(table, "on_wall", "{ origin = [0, 0, 0], along = 0 }")
    for key, fix in (("level", "write its height into origin"), ("wall", "show the wall as a [[surrounding]]")):
        if key in table:
            problem = "the run lies on the face of a wall, not at the foot of one"
            table.wrong(key, table.shown(key), problem, f"leave {key} out; {fix}")
    if keys is None:
        return IN_PLAN
    keys.only(("origin", "along"), "in on_wall")
    fix = "write where on the wall its x and y are 0: origin = [12, 0, 0]"
    origin = keys.need("origin", triple(unit), fix) or (0.0, 0.0, 0.0)
    cos, sin = cos_sin(angle(keys.take("along", degrees, degrees(0))))
    # z = x cross y: to the right of the way along the wall.
    return Stand(origin, (cos, sin, 0.0), (0.0, 0.0, 1.0), (sin, -cos, 0.0))
