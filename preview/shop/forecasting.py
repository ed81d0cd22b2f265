"""The joint forecast: how far each joint may open, from the saw, the wall, the bending and the wood.

A forecast is not a promise. It takes every error as it is given, joints as first drawn, pieces free to slide along
their walls, and boards cut truly flat or on the quarter; glue, nails and paint hold more or less of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from preview.errors import PreviewError
from preview.joinery import Joint, Piece
from preview.profiles import Measures, measure
from preview.scene import Climate, Moisture, Site
from preview.shop.effects import (
    Faces,
    Opening,
    beside_a_curve,
    by_angle,
    by_length,
    by_radius,
    by_swelling,
    faces_in_elevation,
    faces_in_plan,
    of_a_cope,
)
from preview.shop.forecast_words import Ends, told
from preview.shop.spring import lies_on_wall, spring_of
from preview.shop.tolerances import FIELD_GAPS, Grade, Tolerance, best_grade
from preview.shop.wood import Species, change, emc, species
from preview.units import Unit, show

IN_PLAN = ("miter", "curved miter", "tangent", "butt", "scarf")
IN_ELEVATION = ("plumb cut", "elevation miter")
IN_LINE = ("tangent", "butt", "scarf")
LEAST = 1e-9


class Pair(Protocol):
    """A joint with the pieces it stands between, by their index; None where nothing stands."""

    @property
    def joint(self) -> Joint:
        """The joint."""

    @property
    def before(self) -> int | None:
        """The piece before it."""

    @property
    def after(self) -> int | None:
        """The piece after it."""


@dataclass(frozen=True)
class JointForecast:
    """How far one joint may open, mm.

    openings: one for each source that the site names and that moves this joint. worst: all at once and in one sense, at
    the end of the joint where that is most. likely: the root of the sum of squares there, for errors that know nothing
    of each other. grade: the best whose limit `worst` holds, None where it holds none; holds: whether that is the
    grade asked for or better, None where none is asked. source: where the limits come from. line: all of it in one
    sentence.
    """

    joint: str
    kind: str
    openings: tuple[Opening, ...]
    worst: float
    likely: float
    grade: Grade | None
    holds: bool | None
    source: str
    line: str


@dataclass(frozen=True)
class Moves:
    """What the wood does between its two climates: strains of a board's width and thickness, and the change in %."""

    width: float
    thickness: float
    percent: float


def forecast(
    pairs: Sequence[Pair],
    pieces: Sequence[Piece],
    site: Site,
    *,
    unit: Unit = "mm",
    tolerance: Tolerance = FIELD_GAPS,
) -> tuple[JointForecast, ...]:
    """Forecast every joint that stands between two pieces and that something on the site moves.

    pieces: in the order that the pairs count by. unit: how lengths are spoken of in the lines. tolerance: the published
    gaps that each is held against. Joints at blocks are left out. Raises PreviewError at [site] for a wood without
    figures, a climate beyond them, or a radius error that a curve of the scene has no room for.
    """
    try:
        moves = moves_of(site)
    except PreviewError as error:
        raise error.at("[site]") from error
    found: list[JointForecast] = []
    for pair in pairs:
        if pair.before is None or pair.after is None:
            continue
        before, after = pieces[pair.before], pieces[pair.after]
        openings = _openings(pair.joint, before, after, site, moves, unit)
        if openings:
            ends = _ends(pair.joint, before)
            found.append(_summed(pair.joint, openings, site, unit, tolerance, ends))
    return tuple(found)


def moves_of(site: Site) -> Moves | None:
    """How the site's wood moves from where it is worked to where it lives; None where the site does not say.

    Raises PreviewError for a wood without figures and for climates beyond them.
    """
    wood: Species | None = species(site.wood) if site.wood is not None else None
    if wood is None or site.made_at is None or site.lives_at is None:
        return None
    begin, end = _moisture(site.made_at, "made_at"), _moisture(site.lives_at, "lives_at")
    radial, tangential = (change(1.0, each.value, begin, end) for each in (wood.radial, wood.tangential))
    flat = site.sawn == "flat"
    return Moves(tangential if flat else radial, radial if flat else tangential, end - begin)


def _moisture(climate: Climate, key: str) -> float:
    if isinstance(climate, Moisture):
        return climate.percent
    try:
        return emc(climate.temperature, climate.humidity)
    except PreviewError as error:
        raise error.at(key) from error


def strains(piece: Piece, moves: Moves, size: Measures) -> tuple[float, float]:
    """How a piece's projection d and its height h grow, as parts, from its boards' strains.

    A board on edge against the wall (base, casing in plan) has its thickness along d; one that lies on the wall, its
    width; a sprung one leans between, and a point of it moves along d by its width and its thickness both: what counts
    is the way from the foot on the wall to the farthest point out.
    """
    if lies_on_wall(piece):
        return moves.width, moves.thickness
    spring = spring_of(piece.profile)
    if spring is None:
        return moves.thickness, moves.width
    sin, cos = math.sin(spring), math.cos(spring)
    out, up = size.d_max - size.d_min, size.h_max - size.h_min
    wide, thick = out * sin + up * cos, up * sin - out * cos
    along_d = moves.width * wide * sin - moves.thickness * thick * cos
    along_h = moves.width * wide * cos + moves.thickness * thick * sin
    return along_d / out, along_h / up


def _ends(joint: Joint, piece: Piece) -> Ends:
    if joint.kind in IN_ELEVATION:
        return "height"
    return "edge" if lies_on_wall(piece) else "wall"


def _openings(
    joint: Joint, before: Piece, after: Piece, site: Site, moves: Moves | None, unit: Unit
) -> tuple[Opening, ...]:
    """What each source that the site names does to a joint; nothing for kinds that are not forecast."""
    size = measure(before.profile)
    strain = strains(before, moves, size) if moves else None
    if joint.kind == "cope":
        return tuple(of_a_cope(joint.turn, size.d_max, site.wall, strain[0] if strain else None))
    if joint.kind in IN_ELEVATION:
        shape = faces_in_elevation(joint, before.element.end_slope, after.element.slope, size.h_min, size.h_max)
    elif joint.kind in IN_PLAN:
        shape = faces_in_plan(joint, size.d_min, size.d_max)
    else:
        return ()
    found: list[Opening] = []
    if site.saw is not None:
        found.append(by_angle(shape, 2 * site.saw, "saw"))
    # A return hangs on its neighbor and a butt lies in one wall: neither has a corner of walls to be out.
    if site.wall is not None and joint.kind not in ("butt", "scarf") and "return" not in (before.role, after.role):
        found.append(by_angle(shape, site.wall, "wall"))
    if site.radius is not None:
        found += _by_radius(joint, shape, (before, after), site.radius, unit)
    if moves and strain:
        swelling = by_swelling(shape, strain[1] if joint.kind in IN_ELEVATION else strain[0])
        found += [swelling] if max(swelling.heel, swelling.toe) > LEAST else []
        if joint.kind in IN_LINE:
            # Each piece is taken to be held in its middle.
            length = sum(piece.element.length * piece.pace for piece in (before, after)) / 2
            found.append(by_length(shape, joint, length, moves.percent))
    return tuple(found)


def _by_radius(joint: Joint, shape: Faces, beside: tuple[Piece, Piece], off: float, unit: Unit) -> list[Opening]:
    """What a radius error does to a joint with a curve beside it."""
    curves = [piece for piece in beside if piece.curvature]
    for piece in curves:
        if off >= piece.element.radius:
            raise PreviewError(
                "[site], radius",
                show(off, unit),
                f"a curve of the scene has a radius of {show(piece.element.radius, unit)}, no more than this",
                "write how far off a bent or turned piece may come out, a small part of its radius",
            )
    if not curves:
        return []
    if joint.kind != "tangent":
        return [by_radius(joint, shape, off)]
    gaps = [beside_a_curve(piece.element.sweep, off).heel for piece in curves]
    return [Opening("radius", sum(gaps), sum(gaps), "both")]


def _summed(
    joint: Joint, openings: tuple[Opening, ...], site: Site, unit: Unit, tolerance: Tolerance, ends: Ends
) -> JointForecast:
    """The openings of a joint taken together, and what the standard calls that."""
    sides = [[each.heel for each in openings], [each.toe for each in openings]]
    largest = max(sides, key=sum)
    worst, likely = sum(largest), math.hypot(*largest)
    grade = best_grade(worst, tolerance)
    limit = tolerance.limit(site.grade) if site.grade else None
    holds = None if limit is None else worst <= limit + LEAST
    line = told(joint, openings, worst, likely, grade, site, unit, tolerance, ends)
    return JointForecast(joint.name, joint.kind, openings, worst, likely, grade, holds, tolerance.source, line)
