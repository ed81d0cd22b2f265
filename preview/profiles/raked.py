"""The raked section: what a molding that climbs must look like, cut square, to meet a level one at a plumb miter."""

from __future__ import annotations

import math
from itertools import pairwise

from preview.errors import PreviewError
from preview.profiles.biarcs import Fitted, fit_arcs
from preview.profiles.curves import Ellipse
from preview.profiles.edges import Arc, Edge, Line
from preview.profiles.pens import Point
from preview.profiles.profile import Profile, make_profile

TOLERANCE = 0.002
"""How far, mm, tangent arcs may stray from the elliptical arcs that a sheared round is."""
STEEPEST = math.tan(math.radians(80))


def raked_section(profile: Profile, slope: float, shear: float, tolerance: float = TOLERANCE) -> tuple[Profile, float]:
    """The section square to its length of a piece that climbs by `slope`, and how far its arcs stray, mm.

             plumb section            square to the rake
              (d, h + shear d)    ->  (d, (h + shear d) cos t),    tan t = slope

    `profile` is the level section, (d, h) in mm; `shear` is what the piece adds in height for each mm out from
    the wall, so that its edges meet the level ones in a plumb miter. At a square outside corner it is tan t, and
    every point has the same projection as before and the height z cos t + x sin t: the handbooks' construction
    (American House Carpenter, art. 323). A level return at the top of the climb is slope 0 and shear 2 tan t.

    Lines stay lines and the back stays on the wall. A round becomes a part of an ellipse, and here tangent arcs
    within `tolerance` mm of it, measured. Raises PreviewError for a slope over 80 degrees, and where the section
    is no profile, as when the back becomes shorter than 1 mm.
    """
    if not (math.isfinite(slope) and math.isfinite(shear) and abs(slope) <= STEEPEST):
        raise PreviewError(
            "",
            None,
            f"a molding cannot climb by {slope:g} for each 1 along, with a shear of {shear:g}",
            "use a climb of no more than 80°",
        )
    across, up = (shear, 1.0)
    if slope:
        across, up = shear / math.hypot(1.0, slope), 1.0 / math.hypot(1.0, slope)

    def onto(at: Point) -> Point:
        return (at[0], across * at[0] + up * at[1])

    edges: list[Edge] = []
    deviation = 0.0
    for edge in profile.edges:
        fitted = _sheared(edge, across, up, tolerance) if isinstance(edge, Arc) and (across or up != 1.0) else None
        if fitted is None:
            edges.append(Line(onto(edge.start), onto(edge.end)) if isinstance(edge, Line) else edge)
        else:
            edges += fitted.edges
            deviation = max(deviation, fitted.deviation)
    return make_profile(f"{profile.name}, raked", edges), deviation


def _sheared(arc: Arc, across: float, up: float, tolerance: float) -> Fitted:
    """The elliptical arc that (d, across d + up h) makes of a circular one, as tangent arcs."""

    def vector(x: float, y: float) -> Point:
        return (x, across * x + up * y)

    ux, uy = arc.start[0] - arc.center[0], arc.start[1] - arc.center[1]
    ellipse = Ellipse(vector(*arc.center), vector(ux, uy), vector(-uy, ux), 0.0, arc.sweep)
    parts = [fit_arcs(ellipse, start, end, tolerance) for start, end in pairwise(ellipse.corners)]
    return Fitted(tuple(edge for part in parts for edge in part.edges), max(part.deviation for part in parts))
