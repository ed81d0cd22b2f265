"""A bent lamination: strips glued together round a form, and the profile worked on the bent blank afterwards.

The strips lie round the curve one over another, as deep together as the section, and as wide as the profile is high.
Off the form the bend opens a little: of a rise x, n strips lose x / n².
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from preview.blanks.polygon import sagitta
from preview.blanks.refusals import need
from preview.blanks.stock import INCH, board_feet, fine
from preview.errors import PreviewError
from preview.units import Unit, counted, show

STRIPS: tuple[tuple[float, float, float], ...] = (
    (2 * INCH, 4 * INCH, 3 / 32 * INCH),
    (4 * INCH, 8 * INCH, 1 / 8 * INCH),
    (8 * INCH, 12 * INCH, 3 / 16 * INCH),
    (12 * INCH, math.inf, 1 / 4 * INCH),
)
"""Inside radius from, to, and the thickest strip, mm (a magazine's table for furniture woods, quoted at
sawmillcreek.org, 35209; stiff woods thinner)."""
COLD_RATIO = (20.0, 30.0)
"""Inside radius over thickness that wood bends to cold, at the least (E. Wengert, summary of 2012-03-02)."""
USED_RATIO = 25.0
"""The middle of it: 2 % strain on the outside. Used where the table does not begin."""
THINNEST_STRIP = 1 / 32 * INCH
"""Thinner strips, mm, are veneer, and take veneer's ways; common practice."""
SPARE = 3 * INCH
"""What is left at each end, mm, for the strips to slide and the ends to be trimmed; common practice."""
LEAST_STRIPS = 2


@dataclass(frozen=True)
class Lamination:
    """A bent lamination, mm.

    radius: of the bend, on the inside of the first strip. depth, width: of the bent blank before it is worked. limit:
    the thickest strip that the rule allows; rule: which. strips, strip: how many and how thick. ratio: radius over
    thickness. strain: of the outside of the first strip. form_radius: of the form, so that it comes off true. opens:
    how much the rise springs back. inner_length, outer_length: of the first and the last strip along the arc. spare: at
    each end. wood: board feet.
    """

    radius: float
    depth: float
    width: float
    limit: float
    rule: str
    strips: int
    strip: float
    ratio: float
    strain: float
    form_radius: float
    opens: float
    inner_length: float
    outer_length: float
    spare: float
    wood: float

    @property
    def length(self) -> float:
        """What every strip is cut to, mm."""
        return self.outer_length + 2 * self.spare


def thickest_strip(radius: float, unit: Unit = "in") -> tuple[float, str]:
    """The thickest strip, mm, that bends cold to an inside radius (mm), and the rule that says so.

    Raises PreviewError for a radius that only veneer follows.

    >>> round(thickest_strip(254.0)[0] / 25.4, 4)
    0.1875
    """
    for low, high, strip in STRIPS:
        if low - 1e-9 <= radius < high - 1e-9 or (radius >= low - 1e-9 and math.isinf(high)):
            return strip, "the usual table of strip thickness by radius"
    strip = radius / USED_RATIO
    if strip < THINNEST_STRIP:
        raise PreviewError(
            "lamination, radius",
            show(radius, unit),
            f"bent cold, wood follows this radius up to {strip:.2f} mm thick (radius / {USED_RATIO:g}), thinner than "
            f"the {show(THINNEST_STRIP, unit)} ({THINNEST_STRIP:.2f} mm) that strips are sawn to",
            "turn the piece, or make it of veneer on a form",
        )
    return strip, f"radius / {USED_RATIO:g}, as the usual table begins at {show(STRIPS[0][0], unit)}"


def spring_back(rise: float, strips: int) -> float:
    """How much of a bend's rise (mm) is lost off the form: rise / strips² (boatbuilders' and furniture makers' rule).

    >>> round(spring_back(76.2, 4) / 25.4, 4)
    0.1875
    """
    return rise / strips**2


def form_radius(radius: float, strips: int) -> float:
    """The radius of the form, mm, so that a bend comes off it with `radius`: radius (1 - 1 / strips²), from elastic
    beams.

    >>> form_radius(24.0, 4)
    22.5
    """
    return radius * (1.0 - 1.0 / strips**2)


def laminated(
    outer_radius: float,
    inner_radius: float,
    height: float,
    sweep: float,
    *,
    kerf: float = 3.175,
    clean: float = 1.5875,
    spare: float = SPARE,
    wraps: bool = True,
    unit: Unit = "in",
) -> Lamination:
    """The strips and the form for one piece between finished radii (mm), `sweep` radians long.

    wraps: the face is outside, else inside. The face and both edges get `clean` to be worked; the back is left as it
    comes off the form, or as the last strip. Raises PreviewError, with the numbers, when it cannot be bent.
    """
    need(outer_radius, inner_radius, height, sweep, kerf=kerf, clean=clean, unit=unit)
    depth, width = outer_radius - inner_radius + clean, height + 2 * clean
    inside = inner_radius if wraps else inner_radius - clean
    limit, rule = thickest_strip(inside, unit)
    strips = max(LEAST_STRIPS, math.ceil(depth / limit - 1e-9))
    strip = depth / strips
    inner_length, outer_length = inside * sweep, (inside + depth) * sweep
    return Lamination(
        radius=inside,
        depth=depth,
        width=width,
        limit=limit,
        rule=rule,
        strips=strips,
        strip=strip,
        ratio=inside / strip,
        strain=strip / 2 / (inside + strip / 2),
        form_radius=form_radius(inside, strips),
        opens=spring_back(sagitta(inside, sweep), strips),
        inner_length=inner_length,
        outer_length=outer_length,
        spare=spare,
        wood=board_feet(strips * (strip + kerf) * width * (outer_length + 2 * spare)),
    )


def lamination_words(bend: Lamination, unit: Unit) -> tuple[str, ...]:
    """The lamination in sentences."""
    return (
        (
            f"{counted(bend.strips, 'strip')} {_strip(bend.strip, unit)} thick (at most {_strip(bend.limit, unit)}: "
            f"{bend.rule}), {show(bend.width, unit)} wide and {show(bend.length, unit)} long, with "
            f"{show(bend.spare, unit)} spare at each end; the outer one is "
            f"{show(bend.outer_length - bend.inner_length, unit)} longer round the bend than the inside."
        ),
        (
            f"Form radius {fine(bend.form_radius, unit)} for a bend of {fine(bend.radius, unit)}: off the form the "
            f"rise opens by about {_strip(bend.opens, unit)}. Wood and glue differ: bend a trial first."
        ),
        "The profile has then to be worked on the bent blank, on a shaper or by hand, guided by its curve.",
        f"The grain follows the curve, and the glue lines run along the piece, {_strip(bend.strip, unit)} apart.",
    )


def _strip(mm: float, unit: Unit) -> str:
    """A thickness of strip, which a sixteenth is too coarse for."""
    return f'{mm / INCH:.3f}"' if unit in ("in", "ft") else f"{mm:.2f} mm"
