"""How far a run's measurements may be off, and what becomes of what they miss by."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from preview.errors import PreviewError
from preview.runs import (
    CLOSES_WITHIN,
    Arrival,
    Closing,
    Corner,
    Curve,
    Reading,
    Side,
    Splay,
    Step,
    Straight,
    Survey,
    Vec2,
    survey_run,
)
from preview.scene.cut_profile import part
from preview.scene.kinds import Kind, choice, degrees, length, pair, within
from preview.scene.table import Table
from preview.units import Unit

KEYS = ("measured", "closing", "arrives")
EXAMPLE = '{ lengths = "1/8", angles = 0.5 }'
CLOSINGS: tuple[Closing, ...] = ("spread", "show")
USUAL_CLOSING: Closing = "spread"
MOST_ANGLE = 15
"""Degrees: an angle that may be off by more was not measured."""
MOST_PART = 0.5
"""The part of a length that it may be off by."""
UNSIGNED = "how far a measurement may be off is written without a sign: it is meant both ways"


@dataclass(frozen=True)
class Usual:
    """How far measurements may be off where they do not say so themselves: mm and radians, 0 not at all."""

    lengths: float = 0.0
    angles: float = 0.0
    radii: float = 0.0
    arrives: float = 0.0


@dataclass(frozen=True)
class Surveying:
    """What a run says of how it was measured. closing: None where it does not say."""

    usual: Usual = Usual()
    closing: Closing | None = None
    arrives: Vec2 | None = None


def read_surveying(table: Table, unit: Unit | None, closed: bool) -> Surveying:
    """The keys of a run of steps that speak of its measurements; mistakes are noted."""
    arrives = table.take("arrives", pair(unit), None)
    if closed and "arrives" in table:
        problem, fix = "a closed run arrives where it starts", "leave arrives out, or closed"
        table.wrong("arrives", table.shown("arrives"), problem, fix)
    said = "what a run misses by is spread over its measurements, or shown as it is"
    closing = table.take("closing", choice(CLOSINGS, said), None)
    if "closing" in table and not _checked(table, closed):
        problem = "the run neither closes nor arrives at a known point, so nothing shows what it misses by"
        fix = "leave closing out, or write closed = true, or where the run ends: arrives = [120, 48]"
        table.wrong("closing", table.shown("closing"), problem, fix)
    return Surveying(_usual(table, unit), closing, arrives)


def refuse_surveying(table: Table) -> None:
    """Note the keys of measuring in a run of points, where nothing is measured twice."""
    for key in KEYS:
        if key in table:
            problem = "a run of points goes where its points are, so there is nothing to spread or to show"
            table.wrong(key, table.shown(key), problem, "leave it out, or write the run as steps")


def read_reading(row: Table, step: Step | None, unit: Unit | None, usual: Usual) -> Reading:
    """How far the measurements of one step may be off; `step` is None where it holds a mistake already."""
    if "straight" in row or "rake" in row:
        off = row.take("within", _off(unit), usual.lengths)
        if isinstance(step, Straight):
            along = math.hypot(1.0, step.slope) if "rake" in row else 1.0
            _refuse_large(row, "within", off, step.length * along, "straight")
        return Reading(off, along_slope="rake" in row)
    radius_off = row.take("radius_within", _off(unit), usual.radii)
    if isinstance(step, Curve):
        _refuse_large(row, "radius_within", radius_off, step.radius, "radius")
    if isinstance(step, Corner | Splay | Curve):
        between_walls = "inside" in row or "outside" in row
        return Reading(row.take("within", _angle_off, usual.angles), radius_off, between_walls)
    return Reading()


def surveyed(
    table: Table,
    steps: Sequence[Step],
    readings: Sequence[Reading],
    surveying: Surveying,
    *,
    start: Vec2,
    heading: float,
    room: Side,
    closed: bool,
    unit: Unit,
) -> tuple[list[Step], Survey | None]:
    """The steps to lay out, and the survey; None where the run says nothing of its measurements.

    Raises PreviewError for what cannot be spread, and for a run without uncertainties that does not arrive.
    """
    may_be_off = any(read.within or read.radius_within for read in readings)
    arrives = None if surveying.arrives is None else Arrival(surveying.arrives, surveying.usual.arrives)
    if may_be_off and not (closed or arrives):
        place = "measured" if "measured" in table else ""
        raise PreviewError(
            place,
            table.shown(place),
            "nothing checks the measurements of this run, so it makes no difference how far they may be off",
            "say where its end has to be: arrives = [120, 48], or closed = true, or leave within and measured out",
        )
    may_be_off = may_be_off or bool(arrives and arrives.within)
    if surveying.closing == "spread" and not may_be_off:
        raise PreviewError(
            "closing",
            table.shown("closing"),
            "none of the measurements may be off, so there is nothing to spread over",
            f"say how far they may be off: measured = {EXAMPLE}",
        )
    if not (may_be_off or surveying.closing or arrives):
        return list(steps), None
    closing = surveying.closing or USUAL_CLOSING
    try:
        laid, found = survey_run(
            steps, readings, start=start, heading=heading, room=room, arrives=arrives, closing=closing, unit=unit
        )
    except PreviewError as error:
        told = [replace(p, value=table.shown(p.place)) if p.place == "arrives" else p for p in error.problems]
        raise PreviewError.several(told) from error
    if not (may_be_off or surveying.closing or found.meets):
        missed = found.closure
        raise PreviewError(
            "arrives",
            table.shown("arrives"),
            f"the run misses this point by {missed.distance:.3f} mm ({missed.dx:+.3f} mm in x, "
            f"{missed.dy:+.3f} mm in y); it may miss by {CLOSES_WITHIN} mm",
            "check the measured lengths and corners, or say how far they may be off and the miss is spread over them: "
            f"measured = {EXAMPLE}",
        )
    return laid, found


def _checked(table: Table, closed: bool) -> bool:
    """Whether anything checks the measurements of a run, or was meant to."""
    return closed or any(key in table or table.told(key) for key in ("closed", "arrives"))


def _usual(table: Table, unit: Unit | None) -> Usual:
    if "measured" not in table:
        return Usual()
    keys = part(table, "measured", EXAMPLE)
    if keys is None:
        return Usual()
    keys.only(("lengths", "angles", "radii", "arrives"), "in measured")
    if not keys.data:
        table.wrong(
            "measured", None, "it says nothing of the measurements", f"write measured = {EXAMPLE}, or leave it out"
        )
    if "arrives" in keys and "arrives" not in table and not table.told("arrives"):
        problem = "the run does not say where it arrives"
        fix = "write that as well: arrives = [120, 48], or leave this out"
        keys.wrong("arrives", keys.shown("arrives"), problem, fix)
    return Usual(
        keys.take("lengths", _off(unit), 0.0),
        keys.take("angles", _angle_off, 0.0),
        keys.take("radii", _off(unit), 0.0),
        keys.take("arrives", _off(unit), 0.0),
    )


def _off(unit: Unit | None) -> Kind[float]:
    """mm by which a length may be off."""
    return within(length(unit), 0.0, math.inf, UNSIGNED, 'write it like "1/8", or 0 to hold the measurement as it is')


def _angle_off(value: object) -> float:
    """Radians by which an angle may be off, from degrees."""
    fix = "write it in degrees, like 0.5, or 0 to hold the measurement as it is"
    unsigned = within(lambda each: float(degrees(each)), 0.0, math.inf, UNSIGNED, fix)
    most = f"an angle that may be off by more than {MOST_ANGLE}° was not measured"
    return math.radians(within(unsigned, 0.0, MOST_ANGLE, most, fix)(value))


def _refuse_large(row: Table, key: str, off: float, size: float, noun: str) -> None:
    """Note that a length may be off by more than half of it."""
    if key in row and off > MOST_PART * size > 0.0:
        problem = f"a {noun} that may be off by more than half of it was not measured"
        row.wrong(key, row.shown(key), problem, 'check both; how far it may be off is small, like "1/8"')
