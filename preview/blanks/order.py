"""In which order a staved blank is roughed and finished, each step with the diameter to stop at."""

from __future__ import annotations

from dataclasses import dataclass

from preview.blanks.landmarks import Landmark, Mark, landmarks
from preview.blanks.staved import StavedBlank
from preview.blanks.stock import fine
from preview.profiles import Profile, thin_webs
from preview.units import Unit, counted, show

ALLOWANCE = 0.8
"""What is left on the radius for the finishing cut, mm, where there is so much (common practice: 1/32 in)."""
THIN = 6.0
"""Wood thinner than this, mm, is told of before it is turned; common practice: about 1/4 in."""

_NAMES: dict[Mark, str] = {
    "fillet": "the fillet",
    "arris": "the arris",
    "inside corner": "the inside corner",
    "crest": "the crest of the round",
    "hollow": "the bottom of the hollow",
    "reverse": "the line where round and hollow meet",
    "foot": "the foot of the face",
    "top": "the top of the face",
}


@dataclass(frozen=True)
class Step:
    """One step: what is done, and the diameter it stops at, mm; None where nothing is measured.

    landmark: the place on the profile that it sizes, where it sizes one.
    """

    words: str
    diameter: float | None = None
    landmark: Landmark | None = None


def turning_order(blank: StavedBlank, profile: Profile, back_radius: float, unit: Unit = "in") -> tuple[Step, ...]:
    """The steps from the glued-up blank to the pieces; profile: placed, in (d, h), back_radius: of its back line, mm.

    The surface beside the wall is made first, so that the face can be turned true to it, and the face is sized from the
    part nearest the tool inward.
    """
    marks = landmarks(profile, back_radius, blank.wraps)
    left = min(ALLOWANCE, blank.clean)

    rough = Step(
        f"Glue up and let it cure fully. Plug or plate both ends so that it can be held, saw the points off, mount it, "
        f"turn it once by hand, and rough it round: the flats just go at {fine(blank.rough_diameter, unit)}. Mark the "
        f"foot {fine((blank.length - blank.height) / 2, unit)} in from one end: the heights below are up from there.",
        blank.rough_diameter,
    )
    if blank.wraps:
        back, first = blank.inside_diameter, blank.outside_diameter + 2 * left
        before = (
            Step(f"Bore the inside, the back of the pieces, to {fine(back, unit)} while the wall is thick.", back),
            Step(
                f"Plug the bore or mount it on an arbor, and turn the outside to {fine(first, unit)}: the largest "
                f"diameter of the profile, {fine(blank.outside_diameter, unit)}, and {fine(2 * left, unit)} to finish.",
                first,
            ),
        )
        ordered = sorted(marks, key=lambda mark: (-mark.diameter, mark.low))
        tool = "parting tool and outside calipers"
    else:
        back, first = blank.outside_diameter, blank.inside_diameter - 2 * left
        before = (
            Step(
                f"Turn the outside, the back of the pieces, to {fine(back, unit)}, and hold it there in a steady.", back
            ),
            Step(
                f"Bore the inside to {fine(first, unit)}: the least diameter of the profile, "
                f"{fine(blank.inside_diameter, unit)}, less {fine(2 * left, unit)} to finish.",
                first,
            ),
        )
        ordered = sorted(marks, key=lambda mark: (mark.diameter, mark.low))
        tool = "boring tool and inside calipers"
    sized = tuple(
        Step(
            f"Size {_where(mark, unit)} to {fine(mark.diameter, unit)}, {_deep(mark, unit)}, with {tool}.",
            mark.diameter,
            mark,
        )
        for mark in ordered
    )
    finish = Step(
        f"Cut the shapes between the landmarks to a template of the profile, sand, and compare "
        f"{fine(first_of(blank), unit)} again.",
        first_of(blank),
    )
    pieces = counted(blank.parting.pieces, "piece")
    saw = Step(
        f"Part the chucking off, square, and saw the round into {pieces} in a cradle, at the marks of an index plate."
    )
    return (rough, *before, *sized, finish, saw)


def first_of(blank: StavedBlank) -> float:
    """The finished diameter of the part of the face that stands out furthest, mm."""
    return blank.outside_diameter if blank.wraps else blank.inside_diameter


def thin_words(profile: Profile, unit: Unit) -> str:
    """What to mind where the wall that is left is thin; "" where it is thick enough."""
    webs = thin_webs(profile, THIN)
    if not webs:
        return ""
    foot = min(edge.bounds[1] for edge in profile.edges)
    at = webs[0]
    return (
        f"The wall is left {show(at.thickness, unit)} thick, {show(at.at[1] - foot, unit)} from the foot: keep the "
        f"bore supported there, and cut that part last."
    )


def _where(mark: Landmark, unit: Unit) -> str:
    name = _NAMES[mark.mark]
    if mark.high > mark.low:
        return f"{name} from {fine(mark.low, unit)} to {fine(mark.high, unit)} up"
    return f"{name} {fine(mark.low, unit)} up"


def _deep(mark: Landmark, unit: Unit) -> str:
    return f"{fine(mark.depth, unit)} deep" if mark.depth > 1e-6 else "where the face stands out furthest"
