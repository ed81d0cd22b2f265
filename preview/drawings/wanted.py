"""What may be said of a drawing beside its file, and what comes of reading it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from preview.drawings.curves import Floats
from preview.errors import PreviewError
from preview.profiles import Profile
from preview.units import Unit

LIMITS = {"tolerance": (1e-4, 1.0), "fit": (1e-3, 5.0), "heal": (0.0, 1.0), "thickness": (0.1, 2000.0)}
"""The least and the most that may be asked for, mm."""


@dataclass(frozen=True)
class Wanted:
    """What a drawing leaves open; lengths in mm.

    layer: the layer (DXF) or the group (SVG, by its id or label) that holds the outline. units: what one unit
    of the file is, where the file does not say. back, foot: the side of the drawing that lies on the wall and
    the one that is down. tolerance: how far lines and arcs may stray from a drawn curve. fit: how far from
    measured points. heal: the widest gap that is closed. thickness, of points only: from the back to the
    point that stands out furthest; without it they are measured from the back.
    """

    layer: str | None = None
    units: Unit | None = None
    back: Literal["left", "right"] | None = None
    foot: Literal["bottom", "top"] | None = None
    tolerance: float = 0.002
    fit: float = 0.1
    heal: float = 0.05
    thickness: float | None = None


@dataclass(frozen=True)
class Drawn:
    """A profile from a drawing.

    notes: what was found, chosen or put right, a sentence each. deviation: the largest distance, mm, from the
    drawn curves, or from the measured points, to the profile, as measured; 0 where all was lines and arcs.
    samples: the measured points (n, 2), (d, h) in mm; None for a drawing.
    """

    profile: Profile
    notes: tuple[str, ...]
    deviation: float
    samples: Floats | None = None


def refuse_out_of_range(wanted: Wanted) -> None:
    """Raise PreviewError, placed at its key, for a length that makes no sense."""
    for key, (least, most) in LIMITS.items():
        value = getattr(wanted, key)
        if value is not None and not least <= value <= most:
            raise PreviewError(
                key, None, f"the {key} is {value:g} mm", f"use from {least:g} mm to {most:g} mm, or leave it out"
            )
