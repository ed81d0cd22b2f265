"""Profiles from a drawing: its file, and what the drawing leaves open."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from preview.drawings import Drawn, Wanted, read_drawing
from preview.errors import PreviewError
from preview.scene.kinds import choice, length, one_unit, text
from preview.scene.source import Files
from preview.scene.table import Table
from preview.units import Unit

ALLOWANCES = ("tolerance", "fit", "heal", "thickness")
DRAWING = ("drawing", "layer", "units", "back", "foot", *ALLOWANCES)
"""The keys that go with a drawing."""
BACKS: tuple[Literal["left", "right"], ...] = ("left", "right")
FEET: tuple[Literal["bottom", "top"], ...] = ("bottom", "top")


def read_drawn(label: str, table: Table, unit: Unit | None, folder: Path, files: Files) -> Drawn | None:
    """The profile of `drawing`, a file found from `folder`; None when there is a mistake, which is noted.

    `units` is that of the drawing, where it does not say; bare numbers of the other keys are in `unit`.
    """
    noted = len(table.log.problems)
    file = table.take("drawing", text, None)
    layer = table.take("layer", text, None)
    # The unit of a profile file, already read, is the drawing's too; in a scene the drawing may have one of its own.
    own = unit if "units" in table else None
    units = table.take("units", one_unit, None) if table.place else own
    back = table.take("back", choice(BACKS, "the back is one side of the drawing"), None)
    foot = table.take("foot", choice(FEET, "the foot of a drawing is its bottom or its top"), None)
    given = {key: table.take(key, length(unit), None) for key in ALLOWANCES}
    if file is None or len(table.log.problems) != noted:
        return None
    lengths = {key: value for key, value in given.items() if value is not None}
    try:
        return read_drawing(folder / file, Wanted(layer, units, back, foot, **lengths), label, files.drawing)
    except PreviewError as error:
        for problem in error.problems:
            key = problem.place if problem.place in DRAWING else "drawing"
            table.wrong(key, table.shown(key), problem.problem, problem.fix)
        return None
