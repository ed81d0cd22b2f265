"""The values of a scene file that a page offers for editing, in the words of the file and of the errors."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Literal

import tomlkit

from preview.editing.places import Keys, Place, places
from preview.editing.style import HALF_DEGREE, IMPERIAL, style_of
from preview.errors import PreviewError
from preview.units import Unit, parse_angle, parse_length

FieldKind = Literal["length", "angle", "choice", "number", "color"]
Rule = Literal["size", "offset", "position", "turn", "sweep", "heading", "pitch", "part", "profile", "finish", "color"]
"""What a value is, from which follow its kind and how far its slider goes."""

STEP: dict[str, Rule] = {
    "straight": "size",
    "rake": "size",
    "left": "turn",
    "right": "turn",
    "inside": "turn",
    "outside": "turn",
    "curve_left": "sweep",
    "curve_right": "sweep",
    "radius": "size",
    "easement": "size",
    "facet": "size",
    "rise": "offset",
    "pitch": "pitch",
}
RUN: dict[str, Rule] = {"heading": "heading", "level": "offset", "wall": "size"}
NAMED: dict[str, dict[str, Rule]] = {
    "member": {"profile": "profile", "out": "offset", "up": "offset", "finish": "finish"},
    "block": {
        "width": "size",
        "thickness": "size",
        "height": "size",
        "lap": "size",
        "up": "offset",
        "profile": "profile",
        "finish": "finish",
    },
    "finish": {"color": "color", "roughness": "part"},
}
"""By heading and key."""
CHANGE: dict[str, Rule] = {**STEP, **RUN, **NAMED["block"], **NAMED["member"], **NAMED["finish"]}
"""What a change of an option may hold of these, whatever it changes."""
KINDS: dict[Rule, FieldKind] = {
    "size": "length",
    "offset": "length",
    "position": "length",
    "turn": "angle",
    "sweep": "angle",
    "heading": "angle",
    "pitch": "angle",
    "part": "number",
    "profile": "choice",
    "finish": "choice",
    "color": "color",
}
REACH: dict[Rule, tuple[int, int]] = {"size": (12, 300), "offset": (3, 75), "position": (12, 300)}
"""Inches and mm that a slider covers at least: a size of 0 up to this, others as much to either side."""
STEEP = 60
"""Degrees: as steep as a slider goes."""


@dataclass(frozen=True)
class Field:
    """One value that can be edited.

    id: a JSON Pointer (RFC 6901) to it. group and label: its place as errors tell it, `run "seat"` and
    `step 3, straight`. value: as it is written, without quotes. number: in mm or degrees, or a plain number; None where
    it is none. low, high, step: of a slider, in the same; all None where there is none. choices: the words to choose
    from.
    """

    id: str
    group: str
    label: str
    kind: FieldKind
    value: str
    number: float | None = None
    low: float | None = None
    high: float | None = None
    step: float | None = None
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Found:
    """A field, and where it stands."""

    field: Field
    place: Place


def fields(text: str, path: Path) -> tuple[Field, ...]:
    """The values of a scene's text that can be edited, in the order of the file.

    The scene may hold mistakes; what is not of the kind that it should be is left out. path: the file, for errors.
    Raises PreviewError where the text is not TOML, or too long to be edited here.
    """
    return tuple(found.field for found in find(places(text, path)))


def unit_of(written: Mapping[Keys, Place]) -> Unit | None:
    """The unit of bare numbers; None where the scene does not rightly say."""
    said = written.get(("units",))
    units: tuple[Unit, ...] = ("in", "ft", "mm", "cm", "m")
    return next((unit for unit in units if said and said.value == unit), None)


def find(written: Mapping[Keys, Place]) -> Iterator[Found]:
    """The fields among all values of a file."""
    unit = unit_of(written)
    choices: dict[Rule, tuple[str, ...]] = {
        "profile": _declared(written, "profile"),
        "finish": _declared(written, "finish"),
    }
    runs, options = _groups(written, "run"), _groups(written, "option")
    for keys, place in written.items():
        offered = _offered(keys, runs, options)
        if offered is None or _names_what_is_changed(keys, written):
            continue
        rule, where, label = offered
        kind = KINDS[rule]
        if kind in ("choice", "color") and not isinstance(place.value, str):
            continue
        number = _number(kind, place, unit)
        low, high, step = _slider(rule, number, place, unit)
        shown = place.value if isinstance(place.value, str) else place.raw
        identity = "".join(f"/{str(key).replace('~', '~0').replace('/', '~1')}" for key in keys)
        told = None if number is None else float(number)
        yield Found(
            Field(identity, where, label, kind, shown, told, low, high, step, choices.get(rule, ())),
            place,
        )


def _offered(keys: Keys, run: Callable[[int], str], option: Callable[[int], str]) -> tuple[Rule, str, str] | None:
    """What a value is, its group and its label; None where it is not offered."""
    match keys:
        case ("run", int(number), "steps", int(step), str(key)) if key in STEP:
            return STEP[key], run(number), f"step {step + 1}, {key}"
        case ("run", int(number), "points", int(point), 0 | 1 as axis):
            return "position", run(number), f"point {point + 1}, {'xy'[axis]}"
        case ("run", int(number), "start", 0 | 1 as axis):
            return "position", run(number), f"start, {'xy'[axis]}"
        case ("run", int(number), str(key)) if key in RUN:
            return RUN[key], run(number), key
        case ("option", int(number), "changes", int(change), str(key)) if key in CHANGE:
            return CHANGE[key], option(number), f"change {change + 1}, {key}"
        case ("option", int(number), "changes", int(change), "steps", int(step), str(key)) if key in STEP:
            return STEP[key], option(number), f"change {change + 1}, step {step + 1}, {key}"
        case (str(heading), str(name), str(key)) if key in NAMED.get(heading, ()):
            return NAMED[heading][key], f"{heading} {_quoted(name)}", key
    return None


def _names_what_is_changed(keys: Keys, written: Mapping[Keys, Place]) -> bool:
    """Whether it is the finish in a change like { finish = "oak", color = "#102030" }, which says what is changed."""
    changed = keys[0] == "option" and keys[-1] == "finish"
    return changed and not any((*keys[:-1], noun) in written for noun in ("run", "member", "block", "surrounding"))


def _declared(written: Mapping[Keys, Place], heading: str) -> tuple[str, ...]:
    """The names declared under a heading."""
    named = (keys[1] for keys in written if keys[0] == heading and len(keys) > 2)
    return tuple(dict.fromkeys(name for name in named if isinstance(name, str)))


def _groups(written: Mapping[Keys, Place], heading: str) -> Callable[[int], str]:
    """Tells the place of a [[heading]] by its name where no other has it, else by its number, as the reader does."""
    names = {keys[1]: place.value for keys, place in written.items() if keys[0] == heading and keys[2:] == ("name",)}
    held = list(names.values())

    def group(number: int) -> str:
        name = names.get(number)
        alone = isinstance(name, str) and name.strip() and held.count(name) == 1
        return f"{heading} {_quoted(name) if alone else number + 1}"

    return group


def _quoted(name: object) -> str:
    return tomlkit.string(str(name)).as_string()


def _number(kind: FieldKind, place: Place, unit: Unit | None) -> Fraction | None:
    """A value in mm, in degrees or plain; None where it is not of the kind that it should be."""
    try:
        if kind == "length":
            return None if unit is None else parse_length(place.value, unit)
        if kind == "angle":
            return parse_angle(place.value)
        if kind == "number" and not isinstance(place.value, str) and math.isfinite(place.value):
            return Fraction(place.value)
    except PreviewError:
        pass
    return None


_Slider = tuple[float | None, float | None, float | None]
NO_SLIDER: _Slider = (None, None, None)


def _slider(rule: Rule, number: Fraction | None, place: Place, unit: Unit | None) -> _Slider:
    """From where to where a slider goes and in which steps; none where the value would not be on it."""
    if number is None:
        return NO_SLIDER
    low, high, step = Fraction(0), Fraction(180), HALF_DEGREE
    match rule:
        case "size" | "offset" | "position":
            if unit is None:
                return NO_SLIDER
            style = style_of(place, unit)
            step = style.step
            low, high = _along(rule, number, step, imperial=style.unit in IMPERIAL)
        case "turn":  # a corner of neither 0 nor 180 degrees
            low, high = step, high - step
        case "sweep":
            low, high = step, high if number <= high else 2 * high
        case "heading":
            low, high = (-high, high) if number < 0 else (low, 2 * high)
        case "pitch":
            low, high = Fraction(-STEEP if number < 0 else 0), Fraction(STEEP)
        case "part":
            high, step = Fraction(1), Fraction(1, 20)
        case _:
            return NO_SLIDER
    return (float(low), float(high), float(step)) if low <= number <= high else NO_SLIDER


def _along(rule: Rule, mm: Fraction, step: Fraction, *, imperial: bool) -> tuple[Fraction, Fraction]:
    """A slider for a length: half of it to one and a half, in whole steps; a size stays above 0 where it is."""
    reach = REACH[rule][0] * parse_length(1, "in") if imperial else Fraction(REACH[rule][1])
    if rule == "size":
        low = max(math.floor(mm / 2 / step), 1 if mm else 0)
        high = math.ceil((mm * 3 / 2 or reach) / step)
        return min(low * step, max(mm, Fraction(0))), high * step
    span = max(abs(mm) / 2, reach)
    return math.floor((mm - span) / step) * step, math.ceil((mm + span) / step) * step
