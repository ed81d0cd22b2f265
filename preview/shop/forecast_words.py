"""A joint's forecast in one sentence, as one would tell it to whoever cuts and hangs the molding."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from preview.joinery import Joint
from preview.scene import Moisture, Site
from preview.shop.effects import Opening
from preview.shop.tolerances import Grade, Tolerance
from preview.units import Unit, degrees_text, show

Ends = Literal["wall", "edge", "height"]
"""What a joint's heel and toe are to the eye: at the wall and at the face; a casing's two edges; foot and top."""

ADVICE = "Measure the corner again and cut a test joint."
"""What is said where a joint may open by more than any grade allows."""

_NAMES: dict[Ends, tuple[str, str]] = {
    "wall": ("at the wall", "at the face"),
    "edge": ("at the edge on the run's line", "at the outer edge"),
    "height": ("at the foot", "at the top"),
}


def told(
    joint: Joint,
    openings: Sequence[Opening],
    worst: float,
    likely: float,
    grade: Grade | None,
    site: Site,
    unit: Unit,
    tolerance: Tolerance,
    ends: Ends,
) -> str:
    """The sentence: what each source opens, all of them together, and the grade that this holds."""
    felt = [opening for opening in openings if _largest(opening) >= LEAST_TOLD]
    if not felt:
        return f"This {_named(joint)} stays closed as far as can be told."
    parts = [_one(opening, joint, site, unit, ends) for opening in felt]
    if felt[1:]:
        chance = f", or {gap_text(likely, unit)} as chance mixes them" if likely >= LEAST_SHOWN else ""
        parts.append(f"all together up to {gap_text(worst, unit)}{chance}")
    return f"This {_named(joint)} may open {'; '.join(parts)}: {_judged(worst, grade, tolerance, unit)}"


LEAST_TOLD = 0.01
"""An opening below this, mm, is no opening."""
LEAST_SHOWN = 0.05
"""One below this, mm, is given no number."""


def gap_text(mm: float, unit: Unit) -> str:
    """A gap in words: to 0.1 mm, or to a thousandth of an inch, as the published limits are.

    >>> gap_text(0.83, "mm"), gap_text(0.83, "in"), gap_text(0.02, "mm"), gap_text(0.02, "in")
    ('0.8 mm', '0.033"', 'a hair', 'a hair')
    """
    if mm < LEAST_SHOWN:
        return "a hair"
    return f'{mm / 25.4:.3f}"' if unit in ("in", "ft") else show(mm, "mm")


def _one(opening: Opening, joint: Joint, site: Site, unit: Unit, ends: Ends) -> str:
    gap = gap_text(_largest(opening), unit)
    heel, toe = _NAMES[ends]
    where = {"heel": f" {heel}", "toe": f" {toe}", "either": " at one end", "both": ""}[opening.opens]
    if opening.source == "saw":
        return f"{gap}{where} if each cut is {degrees_text(site.saw or 0.0)} off"
    if opening.source == "wall":
        noun = "pitch" if ends == "height" else "wall's turn" if joint.kind == "tangent" else "corner"
        return f"{gap}{where} if the {noun} is {degrees_text(site.wall or 0.0)} out"
    if opening.source == "radius":
        what = "or step as much" if opening.opens == "both" else "at one end"
        return f"{gap} {what} if the curve is made {gap_text(site.radius or 0.0, unit)} off its radius"
    if opening.source == "wood":
        return f"{gap}{where} when the {site.wood} has come to rest {_climates(site)}"
    return f"{gap} as the pieces shorten {_climates(site)}"


def _climates(site: Site) -> str:
    if isinstance(site.lives_at, Moisture):
        return f"at {site.lives_at.percent:g} % moisture"
    return "in the air of the room"


def _judged(worst: float, grade: Grade | None, tolerance: Tolerance, unit: Unit) -> str:
    """What the standard calls an opening."""
    name, limit = tolerance.limits[-1] if grade is None else (grade, tolerance.limit(grade) or 0.0)
    allowed = f"({gap_text(limit, unit)}; {tolerance.source})"
    if grade is not None:
        return f"within {name} grade {allowed}."
    just = "just " if gap_text(worst, unit) == gap_text(limit, unit) else ""
    return f"{just}more than {name} grade allows {allowed}. {ADVICE}"


def _named(joint: Joint) -> str:
    if joint.kind in ("miter", "curved miter"):
        return f"{'inside' if joint.turn > 0 else 'outside'} {joint.kind}"
    return f"{joint.kind} joint" if joint.kind in ("butt", "tangent") else joint.kind


def _largest(opening: Opening) -> float:
    return max(opening.heel, opening.toe)
