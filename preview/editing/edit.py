"""One value of a scene's text replaced."""

from __future__ import annotations

from pathlib import Path

from preview.editing.field import Field, Found, find, unit_of
from preview.editing.places import Place, places
from preview.editing.style import (
    quoted,
    slid_angle,
    slid_length,
    slid_number,
    typed_angle,
    typed_length,
    typed_number,
)
from preview.errors import PreviewError
from preview.scene import parse_scene
from preview.units import Unit

LONGEST = 500
"""Characters of a value that a person may type: as many as any text in a scene."""
LARGEST = 1e9
"""A number that no slider reaches, mm or degrees."""


def edited(text: str, path: Path, identity: str, value: str | float) -> str:
    """The text of a scene with the value of one field replaced, and every other character as it was.

    identity: the `id` of one of `fields(text, path)`. value: text is what a person typed, a number is a slider's, in mm
    or degrees like the field's `number`. It is written in the style of the value that stood there: a bare number stays
    one as long as that is exact, text with a unit stays text. path: the scene file, from which files that it names are
    found.

    Raises PreviewError for a field that is not there, for whatever `parse_scene` refuses in the new text, and where
    `fields` does.
    """
    written = places(text, path)
    found = next((each for each in find(written) if each.field.id == identity), None)
    if found is None:
        problem = f"nothing that can be edited stands at {identity[:LONGEST]} in this scene"
        raise PreviewError("", None, problem, "look at the scene as it is now, and choose again", path.name)
    if _is_unchanged(found.field, value):
        return text
    raw = _written(found, value, unit_of(written), path)
    new = text[: found.place.start] + raw + text[found.place.end :]
    parse_scene(new, path)
    return new


def _is_unchanged(field: Field, value: str | float) -> bool:
    return value.strip() == field.value if isinstance(value, str) else value == field.number


def _written(found: Found, value: str | float, unit: Unit | None, path: Path) -> str:
    """The new value as it stands in the file."""
    field, place = found.field, found.place
    at = f"{field.group}, {field.label}"
    if isinstance(value, str):
        if len(value) > LONGEST:
            problem = f"it has {len(value):,} characters, and {LONGEST} is the most"
            raise PreviewError(at, None, problem, "write less", path.name)
        return _typed(field, value, place, unit)
    if field.number is None or isinstance(value, bool) or not abs(value) < LARGEST:
        raise PreviewError(at, place.raw, "no slider sets this value", "type the new value", path.name)
    return _slid(field, value, place, unit)


def _typed(field: Field, value: str, place: Place, unit: Unit | None) -> str:
    match field.kind:
        case "length":
            return typed_length(value, place, unit or "mm")
        case "angle":
            return typed_angle(value, place)
        case "number":
            return typed_number(value, place)
        case _:
            return quoted(value.strip(), place)


def _slid(field: Field, value: float, place: Place, unit: Unit | None) -> str:
    match field.kind:
        case "length":
            return slid_length(value, place, unit or "mm")
        case "angle":
            return slid_angle(value, place)
        case _:
            return slid_number(value)
