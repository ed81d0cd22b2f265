"""A drawing as a reader hands it over: shapes in its own units, and what it says of them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from preview.drawings.curves import Affine, Shape, Spline, mapped
from preview.errors import PreviewError, nearest
from preview.profiles import Arc, Ellipse
from preview.units import Unit, length

MOST_BYTES = 20_000_000
MOST_EDGES = 20_000
MOST_CURVES = 1_000
LISTED = 20
"""Kinds of things left out that are told by name."""
FURTHEST = 10_000.0
"""A coordinate over this, mm, is no molding."""


@dataclass(frozen=True)
class Item:
    """A shape and the layer it lies on."""

    shape: Shape
    layer: str


@dataclass(frozen=True)
class Sheet:
    """Shapes in the file's units, y up. unit_mm: how many mm one unit is, or None where the file does not say.

    asks: what the file says of its units where that is not enough, for the error. skipped: what was left out,
    for the notes.
    """

    items: tuple[Item, ...]
    unit_mm: float | None
    asks: str
    skipped: tuple[str, ...] = ()
    y_down: bool = False


def sheet_of(
    items: Iterable[Item],
    skipped: Counter[str],
    unit: tuple[float | None, str],
    *,
    looked_for: str,
    fix: str,
    y_down: bool = False,
) -> Sheet:
    """What a reader found. unit: of the file in mm, and what it says of it. skipped: what was left out, by kind.

    Raises PreviewError, told with `looked_for` and `fix`, where nothing was found.
    """
    found = tuple(items)
    kinds = [f"{count} {kind}" for kind, count in sorted(skipped.items())]
    more = f" and {len(kinds) - LISTED} kinds more" if len(kinds) > LISTED else ""
    left_out = ", ".join(kinds[:LISTED]) + more
    if not found:
        held = f"; it has {left_out}" if left_out else ""
        raise PreviewError("", None, f"the drawing has no {looked_for}{held}", fix)
    return Sheet(found, *unit, (f"left out {left_out}",) if left_out else (), y_down)


@dataclass(frozen=True)
class Frame:
    """How places of the drawing are spoken of: in its own units and its own axes."""

    unit_mm: float
    y_down: bool = False

    def spot(self, at: tuple[float, float]) -> str:
        """A point in mm as a person finds it in the drawing."""
        x, y = at[0] / self.unit_mm, at[1] / self.unit_mm
        return f"x {_short(x)}, y {_short(-y if self.y_down else y)}"


def scale_of(sheet: Sheet, units: Unit | None) -> float:
    """Millimeters in one unit of the file: what it says, or else what was said of it; both must not differ."""
    said = None if units is None else length(1, units)
    if sheet.unit_mm is None:
        if said is None:
            raise PreviewError("units", None, sheet.asks, 'say what one unit of it is: units = "mm" or "in", say')
        return said
    if said is not None and not math.isclose(said, sheet.unit_mm, rel_tol=1e-6):
        raise PreviewError(
            "units",
            None,
            f"one unit of the drawing is {sheet.unit_mm:g} mm by its own word, and here {said:g} mm",
            "leave units out to take the drawing's word, or set the units in the drawing",
        )
    return sheet.unit_mm


def in_mm(items: Iterable[Item], unit_mm: float) -> list[Item]:
    """The shapes in mm; refuses what is no number, lies too far away or is too much."""
    by = Affine(a=unit_mm, d=unit_mm)
    found = [Item(shape, item.layer) for item in items for shape in mapped(item.shape, by)]
    if len(found) > MOST_EDGES:
        raise too_much()
    if sum(item.shape.parts for item in found if isinstance(item.shape, Spline | Ellipse)) > MOST_CURVES:
        raise too_much(f"{MOST_CURVES:,} pieces of splines and ellipses")
    for item in found:
        numbers = _numbers(item.shape)
        if not np.isfinite(numbers).all():
            raise PreviewError(
                "",
                None,
                f"an edge on {layer_said(item.layer)} has a coordinate that is not a number",
                "draw that edge again, and save the file again",
            )
        if np.abs(numbers).max() > FURTHEST:
            raise PreviewError(
                "",
                None,
                f"an edge on {layer_said(item.layer)} lies {_short(float(np.abs(numbers).max()) / 1000)} m away from "
                f"the origin, and {FURTHEST / 1000:g} m is the most",
                "move the drawing near its origin, and check its units",
            )
    return found


def too_much(what: str = f"{MOST_EDGES:,} edges") -> PreviewError:
    """The error for a drawing that is no single profile."""
    return PreviewError(
        "", None, f"the drawing has more than {what}, which is no molding", "save the profile alone in a file"
    )


def whole(path: Path) -> bytes:
    """The bytes of a drawing's file. Raises PreviewError where it is missing, a folder, empty, or larger than 20 MB."""
    try:
        if path.is_dir():
            raise PreviewError("", None, "this is a folder, not a drawing", "name the drawing in it")
        if not path.exists():
            beside = sorted(path.parent.iterdir()) if path.parent.is_dir() else []
            meant = nearest(path.name, (each.name for each in beside if each.suffix.lower() == path.suffix.lower()))
            fix = f"did you mean {meant}?" if meant else "check the name and the folder"
            raise PreviewError("", None, "there is no such drawing", fix)
        if not path.is_file():
            raise PreviewError("", None, "this is not a file that can be read", "name a drawing")
        size = path.stat().st_size
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise PreviewError(
            "", None, f"the drawing cannot be read: {why}", "check its name and who may read it"
        ) from error
    if not data:
        raise PreviewError("", None, "the file is empty", "save the drawing again")
    if len(data) > MOST_BYTES:
        raise PreviewError(
            "",
            None,
            f"the file has {max(size, len(data)) / 1e6:.0f} MB, and {MOST_BYTES / 1e6:.0f} MB is the most",
            "save the profile alone in a file",
        )
    return data


def layer_said(layer: str) -> str:
    """A layer as an error speaks of it."""
    return f'layer "{layer if len(layer) <= 60 else layer[:56] + " ..."}"' if layer else "no layer"


def _numbers(shape: Shape) -> np.ndarray:
    if isinstance(shape, Spline):
        flat = shape.controls.reshape(-1, 3)
        if not (np.isfinite(flat).all() and (flat[:, 2] > 1e-9).all()):
            return np.array([math.nan])
        return np.asarray(flat[:, :2] / flat[:, 2:]).ravel()
    if isinstance(shape, Ellipse):
        return np.array([*shape.center, *shape.u, *shape.v, shape.start, shape.sweep])
    # An arc's center may lie far away where the arc is flat, but is a number.
    far = [0.0 * shape.sweep, 0.0 * shape.center[0], 0.0 * shape.center[1]] if isinstance(shape, Arc) else []
    return np.array([*shape.start, *shape.end, *far])


def _short(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
