"""The [[picture]]s of a scene: from where it is to be seen, or which corner, or what the tool is to frame by itself."""

from __future__ import annotations

import math
import unicodedata
from fractions import Fraction

from preview.errors import PreviewError
from preview.scene.kinds import LONGEST_NAME, choice, degrees, in_a_row, line, triple, whole
from preview.scene.model import USUAL_ACROSS, PictureHeight, PictureView, Viewpoint
from preview.scene.table import Table
from preview.scene.written import written
from preview.units import Unit, angle

KEYS = ("name", "eye", "target", "across", "corner", "height", "view")
WAYS: dict[str, tuple[str, ...]] = {"eye": ("eye", "target", "across"), "corner": ("corner", "height"), "view": ()}
"""What says what a picture shows, with the keys that go with it and with nothing else."""
HEIGHTS: tuple[PictureHeight, ...] = ("eye", "knee")
VIEWS: tuple[PictureView, ...] = ("whole", "end", "options")
"""What a `view` may be; that of a corner is asked for by the corner's number."""
EXAMPLES = {
    "eye": "write where one stands, and the height of the eye: eye = [60, -80, 62]",
    "target": "write the place that is looked at: target = [30, 0, 4]",
}
MOST_PICTURES = 24
LAST_CORNER = 9_999
ACROSS = (10, 100)
"""Degrees from side to side, the least and the most: beyond, a picture is a telescope's or bent at its edges."""
APART = 1.0
"""The target is at least this far from the eye, mm ..."""
STEEPEST = math.radians(89.0)
"""... and no steeper above or below it: the camera stands upright."""


def read_pictures(top: Table, unit: Unit | None) -> tuple[Viewpoint, ...]:
    """The scene's [[picture]]s without those that hold a mistake, which is noted."""
    tables = top.headed("picture")
    if len(tables) > MOST_PICTURES:
        problem = f"the scene asks for {len(tables)} pictures, and {MOST_PICTURES} is the most"
        top.wrong("picture", None, problem, "take some out")
        return ()
    has_options = bool(top.data.get("option"))
    found = [each for table in tables if (each := _picture(table, unit, has_options))]
    _refuse_same_names(tables)
    return tuple(found)


def _picture(table: Table, unit: Unit | None, has_options: bool) -> Viewpoint | None:
    """One [[picture]]; None when it holds a mistake, which is noted."""
    noted = len(table.log.problems)
    table.only(KEYS, "in a picture")
    label = table.need("name", _name, 'say what it shows: name = "From the door"')
    made = Viewpoint(
        label or "",
        table.take("eye", triple(unit), None),
        table.take("target", triple(unit), None),
        table.take("across", _across, USUAL_ACROSS),
        table.take(
            "corner",
            whole(1, LAST_CORNER, "corners are numbered 1, 2, 3 and so on", "write corner = 1, say"),
            None,
        ),
        table.take("height", choice(HEIGHTS, "a corner is seen from the height of an eye or of a knee"), None),
        table.take("view", _view, None),
    )
    way = _way(table)
    if way is not None:
        _refuse_strays(table, way)
    for key in ("eye", "target") if way == "eye" else ():
        if key not in table and not table.told(key):
            table.wrong(key, None, "this key is missing", EXAMPLES[key])
    if way == "view" and made.view == "options" and not has_options:
        problem = "the scene has no options to be shown side by side"
        table.wrong("view", table.shown("view"), problem, "take this picture out, or write an option: [[option]]")
    if made.eye is not None and made.target is not None:
        _refuse_looking_nowhere(table, made.eye, made.target)
    if way is None or len(table.log.problems) != noted:
        return None
    return made if way != "corner" else Viewpoint(made.name, corner=made.corner, height=made.height, view="corner")


def _way(table: Table) -> str | None:
    """The one key that says what a picture shows; None, and noted, when there is none or several."""
    words = {"eye": "eye (with target)", "corner": "corner", "view": "view"}
    mine = {"eye": ("eye", "target"), "corner": ("corner",), "view": ("view",)}
    given = [way for way, keys in mine.items() if any(key in table or table.told(key) for key in keys)]
    if len(given) == 1:
        return given[0]
    if given:
        problem = f"these are {len(given)} pictures in one: {in_a_row([words[way] for way in given], 'and')}"
        table.wrong("", None, problem, "keep one of them, and give the other a heading [[picture]] of its own")
    else:
        fix = 'write eye and target, or corner = 1, or view = "whole", "end" or "options"'
        table.wrong("", None, "nothing in it says what the picture shows", fix)
    return None


def _refuse_strays(table: Table, way: str) -> None:
    """Note a key that means nothing in a picture of this kind."""
    if "across" in table and "across" not in WAYS[way]:
        problem = "across goes with eye and target; other pictures are framed to what they show"
        table.wrong("across", table.shown("across"), problem, "leave across out, or write eye and target instead")
    if "height" in table and "height" not in WAYS[way]:
        problem = "height goes with a corner"
        fix = "leave height out; the third number of eye is its height" if way == "eye" else "leave height out"
        table.wrong("height", table.shown("height"), problem, fix)


def _refuse_looking_nowhere(table: Table, eye: tuple[float, ...], target: tuple[float, ...]) -> None:
    aside, rise = math.hypot(target[0] - eye[0], target[1] - eye[1]), target[2] - eye[2]
    if math.hypot(aside, rise) < APART:
        problem = "the target is where the eye is, so that nothing says which way to look"
        table.wrong("target", table.shown("target"), problem, "write the place that is looked at")
    elif math.atan2(abs(rise), aside) > STEEPEST:
        problem = (
            f"the target is straight {'above' if rise > 0 else 'below'} the eye, or within 1° of it, "
            "and the camera stands upright"
        )
        table.wrong("target", table.shown("target"), problem, "move the target or the eye to the side")


def _refuse_same_names(tables: list[Table]) -> None:
    """Note names that would be the same as names of files."""
    first: dict[str, tuple[int, str]] = {}
    for number, table in enumerate(tables, 1):
        label = table.data.get("name")
        if not isinstance(label, str) or not (bare := _bare(label)):
            continue
        other, same = first.setdefault(bare, (number, label))
        if other != number:
            so = (
                "picture {} has this name too"
                if same == label
                else "but for capitals and signs, picture {} is called so"
            )
            problem = f"{so.format(other)}, and files are called after it"
            table.wrong("name", written(label), problem, "give every picture a name of its own")


def _bare(label: str) -> str:
    """The letters and digits of a name, without accents, in small letters."""
    return "".join(sign for sign in unicodedata.normalize("NFKD", label.casefold()) if sign.isalnum())


def _name(value: object) -> str:
    found = line(LONGEST_NAME)(value)
    if not _bare(found):
        problem = "a name needs a letter or a digit, since a file is called after it"
        raise PreviewError("", written(value), problem, 'say what it shows: name = "From the door"')
    return found


def _view(value: object) -> PictureView:
    if value == "corner":
        problem = "a corner is asked for by its number"
        raise PreviewError("", written(value), problem, "write corner = 1, say, and leave view out")
    return choice(VIEWS, "a picture that is framed for you shows the whole, the end or the options")(value)


def _across(value: object) -> float:
    """An angle of view in radians."""
    found: Fraction = degrees(value)
    least, most = ACROSS
    if not least <= found <= most:
        problem = f"a picture takes in {least}° to {most}° from side to side"
        raise PreviewError("", written(value), problem, "write across = 34, or leave it out for that")
    return angle(found)
