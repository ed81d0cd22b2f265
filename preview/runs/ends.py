"""How the ends of an open run are cut. A plumb, plane cut is one function here, entered in BEVELS.

wall ______________________        square: no function          0
                         /         beveled: back at 45 degrees  1 mm for each mm out
face ___________________/
"""

from __future__ import annotations

import math
from collections.abc import Callable
from numbers import Real

from preview.entries import Entries
from preview.profiles import Profile

EndWay = str
"""One of ENDS, or a name in BEVELS."""
RETURNED: tuple[EndWay, ...] = ("return", "self-return")
ENDS: tuple[EndWay, ...] = ("square", *RETURNED, "butt")
"""The ends that are more than a plane, or square."""
Bevel = Callable[[Profile], float]
"""How far back from the measured end a cut runs on a profile, mm for each mm out from the wall: the tangent of its
angle from square, - where it runs on past the end instead."""
STEEPEST = 4.0
"""The most that a bevel runs back, mm for each mm out: about 76 degrees from square."""


def _beveled(_profile: Profile) -> float:
    """Back at 45 degrees, so that molding dies into a thinner casing or ends without a blunt face (common practice)."""
    return 1.0


BEVELS: Entries[Bevel] = Entries("cut of an end", "molding.ends", {"beveled": _beveled}, taken=ENDS)
"""The plane ends that are not square, by name."""


def run_back(way: EndWay, profile: Profile) -> float:
    """How far back a plane end runs on a profile, mm for each mm out.

    Raises PreviewError, naming the end, where its function fails, or gives no number or one over STEEPEST.
    """
    with BEVELS.asking(way):
        back: object = BEVELS[way](profile)
    if not isinstance(back, Real):
        raise BEVELS.error(way, f"gives {type(back).__name__}, and a number is wanted")
    if not abs(float(back)) <= STEEPEST:
        told = f"{float(back)} mm" if math.isfinite(back) else str(float(back))
        raise BEVELS.error(way, f"runs back {told} for each mm out, and {STEEPEST:g} is the most")
    return float(back)
