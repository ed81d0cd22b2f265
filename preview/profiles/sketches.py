"""Sketching a profile from the foot up its face, shape by shape."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from preview import limits
from preview.errors import PreviewError, Problem
from preview.profiles.edges import Edge, Line
from preview.profiles.pens import Point
from preview.profiles.profile import SNAP, Profile, make_profile
from preview.profiles.shapes import SHAPES, Shape, draw_shape
from preview.units import Unit, show


def sketch(
    name: str,
    foot: float,
    shapes: Sequence[Shape],
    *,
    wall: float | None = None,
    ceiling: float | None = None,
    unit: Unit = "mm",
) -> Profile:
    """The profile whose face starts `foot` mm out from the wall and is made of shapes, from the foot up.

        plain  ________         sprung       ceiling
              |        )                   .---------    The top is level back to the wall. On a sprung
              |       (                  .'        (     molding it is only `ceiling` mm long, then a
              |        \\          wall  .'       .-'      bevel runs to the wall, `wall` mm up; below
              |         |              |     .-'         that the back lies on the wall.
              |_________|              |____|
                  foot                  foot

    `unit` is how lengths are spoken of in errors. Raises PreviewError with every shape that is wrong, or
    else with what is wrong about the whole; a shape's place is such as `shape 3 (ogee), rise`.
    """
    limits.SHAPES.refuse(len(shapes), "the face", "draw the profile and read the drawing")
    _refuse_foot(foot, shapes, unit)
    face: list[list[Edge]] = []
    problems: list[Problem] = []
    at: Point = (foot, 0.0)
    for number, shape in enumerate(shapes, 1):
        try:
            face.append(draw_shape(shape, at, unit))
        except PreviewError as error:
            problems += error.at(_place(number, shape)).problems
        at = (at[0] + shape.out, at[1] + shape.rise)
    if problems:
        raise PreviewError.several(problems)
    _refuse_behind(face, shapes, unit)
    outline = [edge for part in face for edge in part]
    back = [at, *_back(at, wall, ceiling, unit), (foot, 0.0)]
    outline += [Line(here, there) for here, there in pairwise(back)]
    return make_profile(name, outline, unit=unit)


def _place(number: int, shape: Shape) -> str:
    return f"shape {number} ({shape.kind})" if shape.kind in list(SHAPES) else f"shape {number}"


def _refuse_foot(foot: float, shapes: Sequence[Shape], unit: Unit) -> None:
    if not math.isfinite(foot) or foot <= SNAP:
        length = show(foot, unit) if math.isfinite(foot) else str(foot)
        raise PreviewError(
            "foot",
            None,
            f"the face starts {length} out from the wall, which leaves no wood behind it",
            "give the thickness at the foot, more than 0",
        )
    if not shapes:
        raise PreviewError("", None, "the face has no shapes", "give at least one, such as a fillet")


def _refuse_behind(face: Sequence[Sequence[Edge]], shapes: Sequence[Shape], unit: Unit) -> None:
    """The face stays clear of the wall; only its very top may end on it."""
    for number, (part, shape) in enumerate(zip(face, shapes, strict=True), 1):
        least = min(edge.bounds[0] for edge in part)
        if least < -SNAP or (least <= SNAP and number < len(shapes)):
            how = "reaches the wall" if least >= -SNAP else f"goes {show(-least, unit)} behind the wall"
            raise PreviewError(
                _place(number, shape),
                None,
                f"the face {how} here, and only its top may end on the wall",
                "use a greater foot, or move the face in by less",
            )


def _back(top: Point, wall: float | None, ceiling: float | None, unit: Unit) -> list[Point]:
    """The corners of the outline between the top of the face and its foot, round the back."""
    d, h = top
    if h <= SNAP:
        raise PreviewError("", None, "the face does not rise", "give at least one shape a rise")
    if wall is None and ceiling is None:
        return [(0.0, h), (0.0, 0.0)]  # where the face ends on the wall, the top has no length and is dropped
    if wall is None or ceiling is None:
        given, lacking = ("ceiling", "wall") if wall is None else ("wall", "ceiling")
        raise PreviewError(
            given,
            None,
            f"a sprung molding lies on the wall and on the ceiling, and only its {given} is given",
            f"give {lacking} too, or neither",
        )
    for key, flat, whole, name in (("wall", wall, h, "rises"), ("ceiling", ceiling, d, "projects")):
        if not 0.0 < flat < whole - SNAP:
            raise PreviewError(
                key,
                None,
                f"the flat on the {key} is {_said(flat, unit)}, and the face {name} {show(whole, unit)}",
                f"use more than 0 and less than {show(whole, unit)}",
            )
    return [(d - ceiling, h), (0.0, wall), (0.0, 0.0)]


def _said(length: float, unit: Unit) -> str:
    return show(length, unit) if math.isfinite(length) else str(length)
