"""The [site] of a scene: how true the shop saws and measures, what the wall is like, and the air the wood lives in."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from preview.errors import PreviewError
from preview.scene.cut_profile import part
from preview.scene.kinds import Kind, choice, degrees, length, text, within
from preview.scene.table import Table
from preview.scene.written import written
from preview.units import Unit, angle

Sawn = Literal["flat", "quarter"]
GapGrade = Literal["premium", "custom", "economy"]

SAWN: tuple[Sawn, ...] = ("flat", "quarter")
USUAL_SAWN: Sawn = "flat"
GAP_GRADES: tuple[GapGrade, ...] = ("premium", "custom", "economy")
KEYS = ("saw", "wall", "radius", "wood", "cut", "made_at", "lives_at", "grade")
MOST_ANGLE = 10.0
"""Degrees: a saw or a wall that is further out is put right, not forecast."""
MOST_RADIUS = 100.0
"""The same for a radius, mm."""
WARMTH = (30.0, 120.0)
"""Degrees Fahrenheit: a shop or a room is no colder and no warmer."""
TEMPERATURE = re.compile(r"(-?[0-9]+(?:\.[0-9]+)?) ?(?:° ?|deg )?([FC])", re.IGNORECASE)


@dataclass(frozen=True)
class Air:
    """Air by its temperature (°C) and relative humidity (%)."""

    temperature: float
    humidity: float


@dataclass(frozen=True)
class Moisture:
    """The moisture content that wood was measured at, %."""

    percent: float


Climate = Air | Moisture


@dataclass(frozen=True)
class Site:
    """What a joint forecast reckons with. Whatever is None is left out of it.

    saw: how far each cut may be off, radians. wall: how far a corner may be off, radians. radius: how far a curved
    piece's radius may be off, mm. All three are meant either way. wood: the species as it was written. sawn: how its
    boards were cut from the log. made_at, lives_at: the climates of the shop and of the room. grade: the one the
    joints are to hold.
    """

    saw: float | None = None
    wall: float | None = None
    radius: float | None = None
    wood: str | None = None
    sawn: Sawn = USUAL_SAWN
    made_at: Climate | None = None
    lives_at: Climate | None = None
    grade: GapGrade | None = None


def read_site(top: Table, unit: Unit | None) -> Site | None:
    """The scene's [site] table; None when it has none, or one that holds a mistake, which is noted."""
    table = top.alone("site")
    if table is None:
        return None
    noted = len(table.log.problems)
    table.only(KEYS, "in a site")
    site = Site(
        saw=_angle(table, "saw", "a cut"),
        wall=_angle(table, "wall", "a corner"),
        radius=table.take("radius", _off(length(unit), MOST_RADIUS), None),
        wood=table.take("wood", text, None),
        sawn=table.take("cut", choice(SAWN, "boards are cut flat or on the quarter"), USUAL_SAWN),
        made_at=_climate(table, "made_at"),
        lives_at=_climate(table, "lives_at"),
        grade=table.take("grade", choice(GAP_GRADES, "the grades are premium, custom and economy"), None),
    )
    for here, there in (("made_at", "lives_at"), ("lives_at", "made_at")):
        if here in table and not (there in table or table.told(there)):
            fix = f'write {there} too: {there} = {{ temperature = "70 F", humidity = 45 }}, or {{ moisture = 8 }}'
            table.wrong(here, table.shown(here), f"wood moves between two climates, and {there} is missing", fix)
    if "made_at" in table and not ("wood" in table or table.told("wood")):
        table.wrong("wood", None, "how far wood moves depends on which wood it is", 'write wood = "red oak", say')
    return site if len(table.log.problems) == noted else None


def _angle(table: Table, key: str, noun: str) -> float | None:
    """How far something may be off, in radians."""

    def read(value: object) -> Fraction:
        found = degrees(value)
        if not 0 <= found <= MOST_ANGLE:
            raise PreviewError(
                "",
                written(value),
                f"{noun} is off by 0° to {MOST_ANGLE:g}°, meant either way, so without a sign",
                f"write how far off {noun} may be in degrees: {key} = 0.5",
            )
        return found

    found = table.take(key, read, None)
    return None if found is None else angle(found)


def _off(kind: Kind[float], most: float) -> Kind[float]:
    return within(
        kind,
        0.0,
        most,
        f"a curve is off its radius by 0 mm to {most:g} mm, meant either way, and this is {{}}",
        'write how far off the radius may be: radius = "1/16"',
    )


def _climate(table: Table, key: str) -> Climate | None:
    """One climate: the air's temperature and humidity, or the wood's own moisture content."""
    if key not in table:
        return None
    keys = part(table, key, '{ temperature = "70 F", humidity = 45 }')
    if keys is None:
        return None
    keys.only(("temperature", "humidity", "moisture"), "in a climate")
    if "moisture" in keys:
        for other in ("temperature", "humidity"):
            if other in keys:
                problem = "the moisture of the wood says it all"
                keys.wrong(other, keys.shown(other), problem, f"leave {other} out, or moisture")
        percent = keys.take("moisture", _percent("moisture content", 0.0, 30.0, 8), None)
        return None if percent is None else Moisture(percent)
    warm = keys.need("temperature", _temperature, 'write it with its unit: temperature = "70 F" or "21 C"')
    damp = keys.need("humidity", _percent("relative humidity", 5.0, 95.0, 45), "write it in percent: humidity = 45")
    return None if warm is None or damp is None else Air(warm, damp)


def _percent(noun: str, least: float, most: float, example: int) -> Kind[float]:
    def read(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
            raise PreviewError(
                "",
                written(value),
                f"the {noun} is a number of percent from {least:g} to {most:g}",
                f"write it without a sign or a unit, such as {example}",
            )
        return float(value)

    return read


def _temperature(value: object) -> float:
    """A temperature in °C, from text with its unit: a bare number could be either."""
    found = TEMPERATURE.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is None:
        shown = written(value)
        fix = f'write "{shown} F" or "{shown} C"' if _is_number(value) else 'write it like "70 F" or "21 C"'
        raise PreviewError("", shown, "a temperature is a number and its unit, in quotes", fix)
    degree = float(found[1])
    fahrenheit = degree if found[2] in "Ff" else degree * 1.8 + 32
    least, most = WARMTH
    if not least - 1e-9 <= fahrenheit <= most + 1e-9:
        low, high = ((each - 32) / 1.8 for each in WARMTH)
        raise PreviewError(
            "",
            written(value),
            f"a shop or a room is from {least:g} °F to {most:g} °F ({low:.0f} °C to {high:.0f} °C)",
            "check the number and its unit",
        )
    return (fahrenheit - 32) / 1.8


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
