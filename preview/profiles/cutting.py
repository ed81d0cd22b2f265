"""A profile from cutters: a blank less the union of the cuts made in it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from preview import limits
from preview.errors import PreviewError, Problem
from preview.profiles.cutters import Cutter, check_cutter
from preview.profiles.measures import measure
from preview.profiles.placement import Blank, Place, check_blank, check_place, set_in_place
from preview.profiles.profile import LEAST_BACK, Profile, make_profile
from preview.profiles.regions import Loop, Region, difference, region
from preview.units import Unit, show


@dataclass(frozen=True)
class Cut:
    """One pass of a cutter along the blank.

    diameter: of the largest circle that the cutter's edges run on, mm, where it is known: it says how tight
    a curve the cutter can follow.
    """

    cutter: Cutter
    place: Place
    diameter: float | None = None

    def region(self, blank: Blank) -> Region:
        """What the cutter sweeps, set in place on the blank; it may reach out of the wood."""
        middle = self.cutter.arris if self.place.center is None else self.place.center
        place = replace(self.place, center=middle)
        return region(set_in_place(self.cutter.section().loops[0], place, blank))


def cut_profile(name: str, blank: Blank, cuts: Sequence[Cut], *, unit: Unit = "mm") -> Profile:
    """The profile that is left of a blank when every cut has been made, exact: arcs stay arcs.

    Cuts are measured from the blank's own faces, so their order does not matter. Raises PreviewError with
    every cut that is wrong (its place is such as `cut 3 (cove), radius`), or else with what is wrong about
    the whole: wood cut in two, nothing left, no back left.
    """
    check_blank(blank, unit)
    problems: list[Problem] = []
    for number, cut in enumerate(cuts, 1):
        try:
            check_cut(cut, unit)
        except PreviewError as error:
            problems += error.at(f"cut {number} ({cut.cutter.word})").problems
    if problems:
        raise PreviewError.several(problems)
    taken = [cut.region(blank) for cut in cuts]
    edges = sum(len(loop) for each in taken for loop in each.loops)
    limits.CUT_EDGES.refuse(edges, "the cut section", "leave cuts out, or draw the profile and read the drawing")
    left = difference(blank.region(), *taken)
    return profile_left(name, left, "the cuts", unit)


def check_cut(cut: Cut, unit: Unit = "mm") -> None:
    """Refuse a cut that cannot be placed. Raises PreviewError; its place is a field of the cutter, or empty."""
    check_cutter(cut.cutter, unit)
    check_place(cut.place)
    word, place = cut.cutter.word, cut.place
    if place.center is None and cut.cutter.arris is None:
        raise PreviewError(
            "",
            None,
            f"a {word} works in a face, and this one is put at an arris",
            f"give the {place.face} and how far the middle of the cutter is from an edge of it",
        )
    if place.center is not None and cut.cutter.only_arris:
        raise PreviewError(
            "",
            None,
            f"{_a(word)} works at an arris, and this one is put on the {place.face}",
            f"name the arris by its two faces, such as {place.face} {place.by}",
        )
    if place.center is not None and not math.isfinite(place.center):
        raise PreviewError("", None, "the cutter's middle is nowhere", "give its distance from a face")
    if cut.diameter is not None and not 0.0 < cut.diameter < math.inf:
        raise PreviewError(
            "diameter",
            None,
            f"the diameter is {show(cut.diameter, unit)}",
            "give the diameter of the cutter's largest cutting circle, or leave it out",
        )


def profile_left(name: str, left: Region, by: str, unit: Unit) -> Profile:
    """The one piece of wood that is left, as a profile.

    `by` says what cut it, such as "the cuts". Raises PreviewError when nothing, several pieces or a closed
    hollow is left, or what `make_profile` refuses.
    """
    if not left.loops:
        raise PreviewError("", None, f"{by} leave no wood", "make them shallower, or the blank larger")
    outlines = left.outlines
    if len(outlines) > 1:
        pieces = " and ".join(_sized(loop, unit) for loop in outlines)
        raise PreviewError(
            "",
            None,
            f"{by} sever the wood into {len(outlines)} pieces: {pieces}",
            "make the cut between them shallower, or move it",
        )
    if left.holes:
        raise PreviewError(
            "",
            None,
            f"{by} leave a closed hollow {_sized(left.holes[0], unit)}, which no cutter gets into",
            "open it to a face",
        )
    if not any(edge.start[0] == edge.end[0] == 0.0 for edge in outlines[0]):
        raise PreviewError(
            "",
            None,
            f"{by} leave nothing of the back, d = 0",
            f"let a strip of it stay, at least {show(LEAST_BACK, unit)} high",
        )
    return make_profile(name, outlines[0], unit=unit)


def _sized(loop: Loop, unit: Unit) -> str:
    """A piece by its size and where it is."""
    size = measure(Profile("", loop))
    wide, high = show(size.d_max - size.d_min, unit), show(size.h_max - size.h_min, unit)
    return f"{wide} by {high}, from {show(size.h_min, unit)} up"


def _a(word: str) -> str:
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"
