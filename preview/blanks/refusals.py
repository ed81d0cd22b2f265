"""What no blank can be made of, whatever the way."""

from __future__ import annotations

import math

from preview.errors import PreviewError, Problem
from preview.units import Unit, degrees_text, show


def need(
    outer: float,
    inner: float,
    height: float,
    sweep: float,
    *,
    kerf: float = 0.0,
    clean: float = 0.0,
    chucking: float = 0.0,
    unit: Unit = "in",
) -> None:
    """Raise PreviewError with everything that is wrong with a round's sizes (mm, radians)."""
    sizes = {"outside radius": outer, "inside radius": inner, "height": height, "sweep": sweep}
    spare = {"kerf": kerf, "clean": clean, "chucking": chucking}
    problems = [
        Problem(f"blank, {name}", f"{value:g}", f"the {name} is not a number above 0", "give it one")
        for name, value in sizes.items()
        if not (math.isfinite(value) and value > 0)
    ]
    problems += [
        Problem(f"blank, {name}", f"{value:g}", f"the {name} is less than nothing", "give 0 or more")
        for name, value in spare.items()
        if not (math.isfinite(value) and value >= 0)
    ]
    if not problems and inner >= outer:
        problems.append(
            Problem(
                "blank, inside radius",
                show(inner, unit),
                f"the inside radius is not less than the outside radius, {show(outer, unit)}",
                "exchange the two, or check the profile's projection",
            )
        )
    if not problems and clean >= inner:
        problems.append(
            Problem(
                "blank, clean",
                show(clean, unit),
                f"so much to clean up leaves nothing of an inside radius of {show(inner, unit)}",
                "leave less, or use a larger radius",
            )
        )
    if not problems and sweep >= 2 * math.pi:
        problems.append(
            Problem(
                "blank, sweep",
                degrees_text(sweep),
                "a piece that goes all round is never sawn out of its blank",
                "make it in two pieces",
            )
        )
    if problems:
        raise PreviewError.several(problems)
