"""The blank, and where on it a cut is made: by which face, and how far from which other."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from preview.errors import PreviewError
from preview.profiles.edges import Arc, Edge, Line
from preview.profiles.pens import Point
from preview.profiles.profile import LARGEST, THINNEST
from preview.profiles.regions import Region, region
from preview.units import Unit, show

BlankFace = Literal["face", "back", "top", "foot"]
PROUD = 1.0
"""How far, mm, what is cut away is drawn past the outside of the wood, so that no skin is left."""
Placing = Callable[[Point], Point]


@dataclass(frozen=True)
class Blank:
    """The stock before the cuts, mm: its width is the profile's height, and its back lies on d = 0.

           top
         .-------.  h = width
    back |       | face
         '-------'  h = 0
           foot   d = thickness
    """

    width: float
    thickness: float

    def region(self) -> Region:
        """The whole blank."""
        w, t = self.width, self.thickness
        corners = [(0.0, 0.0), (t, 0.0), (t, w), (0.0, w)]
        return region([Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)])


@dataclass(frozen=True)
class Place:
    """Where a cut is made: the cutter works from `face`, and lies by the neighboring face `by`.

    center: how far its axis is from `by`, mm. None: at the arris of the two.
    """

    face: BlankFace
    by: BlankFace
    center: float | None = None


def check_blank(blank: Blank, unit: Unit = "mm") -> None:
    """Refuse a blank that is no piece of wood. Raises PreviewError; its place is `width` or `thickness`."""
    for key, length in (("width", blank.width), ("thickness", blank.thickness)):
        if not math.isfinite(length) or not THINNEST <= length <= LARGEST:
            said = show(length, unit) if math.isfinite(length) else str(length)
            raise PreviewError(key, None, f"the {key} of the blank is {said}", f"give the {key} of the stock")


def check_place(place: Place) -> None:
    """Refuse two faces that do not meet. Raises PreviewError without a place."""
    if (place.face in ("face", "back")) == (place.by in ("face", "back")):
        raise PreviewError(
            "",
            None,
            f"the {place.face} and the {place.by} of a blank do not meet in an arris",
            "name the face or the back, and the top or the foot",
        )


def set_in_place(edges: Sequence[Edge], place: Place, blank: Blank) -> tuple[Edge, ...]:
    """Edges in the frame of a cut (s along its face from `by`, z into the wood) as edges of the profile."""
    t, w = blank.thickness, blank.width
    deep: Callable[[float], float] = {
        "face": lambda z: t - z,
        "back": lambda z: z,
        "top": lambda z: w - z,
        "foot": lambda z: z,
    }[place.face]
    aside: Callable[[float], float] = {
        "face": lambda s: t - s,
        "back": lambda s: s,
        "top": lambda s: w - s,
        "foot": lambda s: s,
    }[place.by]
    center = place.center or 0.0
    sideways = place.face in ("top", "foot")

    def onto(at: Point) -> Point:
        along, into = aside(center + at[0]), deep(at[1])
        return (along, into) if sideways else (into, along)

    flips = (place.face in ("face", "top")) + (place.by in ("face", "top")) + (not sideways)
    return placed(edges, onto, mirrors=flips % 2 == 1)


def out_of(face: BlankFace) -> Point:
    """The unit direction out of the wood through a face of the blank, (d, h)."""
    return {"face": (1.0, 0.0), "back": (-1.0, 0.0), "top": (0.0, 1.0), "foot": (0.0, -1.0)}[face]


def placed(edges: Sequence[Edge], onto: Placing, *, mirrors: bool) -> tuple[Edge, ...]:
    """A loop of edges in another frame, counter-clockwise as before; `onto` turns, shifts and may mirror."""
    turn = -1.0 if mirrors else 1.0
    moved: list[Edge] = []
    for edge in edges:
        start, end = onto(edge.start), onto(edge.end)
        if isinstance(edge, Arc):
            moved.append(Arc(start, end, onto(edge.center), turn * edge.sweep))
        else:
            moved.append(Line(start, end))
    return tuple(edge.reversed() for edge in reversed(moved)) if mirrors else tuple(moved)
