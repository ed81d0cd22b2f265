"""How a joint opens when something is not as it was drawn: small errors, carried through the joint's own geometry.

    an inside corner in plan              an outside corner in plan

      w |       , toe                      room         , toe
      a |     ,                                       ,
      l |   ,      room                      - - - -,- - - face
      l | ,                                  ______,
        |_____________                        wall |heel
       heel   wall                                 |

The heel is where the cut meets the wall (the least d), the toe its outer end (the largest d). Both pieces' cut faces
run along the joint curve P(d) from heel to toe; N(d) is its unit normal, from the piece before to the piece after.
An error moves each face a little, by D1(d) and D2(d), and the joint opens by

    o(d) = (D2(d) - D1(d)) . N(d)

to first order. Pushed together the pieces touch where o is least, so what is seen is o(d) - min o. An error meant
either way opens the toe when it goes one way and the heel when it goes the other. The tests hold this against brute
force: polygons drawn, turned and pushed together, and the gap between them measured.

A change of slope in one wall is the same figure in elevation: its heel is the foot of the profile, its toe the top.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from preview.joinery import Joint, Passage, cut_directions, meet, passages
from preview.shop.wood import FIBER_SATURATION

Floats = NDArray[np.float64]
Source = Literal["saw", "wall", "radius", "wood", "length"]
Opens = Literal["heel", "toe", "either", "both"]

POINTS = 33
LONGITUDINAL = 0.2 / 100.0
"""Shrinkage along the grain from green to ovendry: 0.1 to 0.2 % (Wood Handbook, from memory); the larger is taken."""


@dataclass(frozen=True)
class Opening:
    """What one source does to a joint: mm that it opens at the heel and at the toe, never negative.

    opens: the one end for sure, `either` as the error may go (the figures are then not both true at once), or `both`
    alike.
    """

    source: Source
    heel: float
    toe: float
    opens: Opens


@dataclass(frozen=True)
class Faces:
    """The curve in which a joint's two faces meet, from heel to toe: arrays (n, 2), mm.

    points: from the corner on the wall line. normals: unit, from the piece before to the piece after. before, after:
    how far each piece's points move for a strain of 1 across it.
    """

    points: Floats
    normals: Floats
    before: Floats
    after: Floats


def faces_in_plan(joint: Joint, d_min: float, d_max: float) -> Faces:
    """A joint's faces in plan, between two projections (mm)."""
    d = np.linspace(d_min, d_max, POINTS)
    before, after = passages([joint])
    found = meet(before, after, d)
    runs = cut_directions(before, after, found)[0]
    normals = np.column_stack([runs[:, 1], -runs[:, 0]])
    (ax, ay), (bx, by) = joint.before.tangent, joint.after.tangent
    backward = normals @ np.array([ax + bx, ay + by]) < 0
    normals[backward] *= -1.0
    moves = [side.normals_at(found)[0] * d[:, None] for side in (before, after)]
    return Faces(found[0] - np.array(joint.at), normals, *moves)


def faces_in_elevation(joint: Joint, slope: float, slope_after: float, h_min: float, h_max: float) -> Faces:
    """The faces of a change of slope in one wall, in its elevation (along the travel, up), between two heights (mm)."""
    h = np.linspace(h_min, h_max, POINTS)[:, None]
    tx, ty = joint.after.tangent
    along, rise = joint.up[0] * tx + joint.up[1] * ty, joint.up[2]
    size = math.hypot(along, rise)
    moves: list[Floats] = []
    for m in (slope, slope_after):
        square = np.array([-m, 1.0]) / math.hypot(1.0, m)
        moves.append(h * float(square @ np.array([along, rise])) * square)
    normals = np.broadcast_to(np.array([rise, -along]) / size, (POINTS, 2))
    return Faces(h * np.array([along, rise]), normals, *moves)


def by_angle(shape: Faces, angle: float, source: Source) -> Opening:
    """An angle between the two faces, radians, meant either way: of the wall, or of both cuts together."""
    away = shape.points - shape.points[0]
    swung = np.column_stack([-away[:, 1], away[:, 0]])
    return _either(source, angle * _across(swung, shape))


def by_swelling(shape: Faces, strain: float) -> Opening:
    """Both pieces grown across, away from the wall line, by a part `strain` of their size; - where they shrink.

    A plane miter of width w at a corner C opens by 2 w |strain| cos(C/2): at the sharp point of the pieces where they
    swell (the heel of an inside corner, the toe of an outside one), at the other end where they shrink.
    """
    return _one_way("wood", strain * _across(shape.after - shape.before, shape))


def by_radius(joint: Joint, shape: Faces, off: float) -> Opening:
    """Curved pieces at a corner, bent to a radius `off` mm out, either way, and cut at the stations that were drawn.

    At a tangent joint nothing moves to first order while the joint is held: see `beside_a_curve`.
    """
    both: list[tuple[float, float]] = []
    for sign in (1.0, -1.0):
        moved = np.zeros_like(shape.points)
        for side, passage in ((-1.0, joint.before), (1.0, joint.after)):
            if passage.curvature:
                radius = 1.0 / passage.curvature
                bent = radius + math.copysign(off, radius) * sign
                moved += side * (_bent(shape.points, passage, 1.0 / bent) - shape.points)
        both.append(_gaps(_across(moved, shape)))
    return Opening("radius", max(each[0] for each in both), max(each[1] for each in both), "either")


def beside_a_curve(sweep: float, off: float) -> Opening:
    """A curved piece of a true sweep (radians) whose radius is `off` mm out, where it meets straights smoothly.

    Set on its wall's own center it stands off by the error: a step of `off` at both ends, and no gap. Pushed along its
    middle line by u, it has a step of off - u cos(sweep / 2) and a gap of u sin(sweep / 2). Pushed until its faces are
    flush it is left with a gap of off tan(sweep / 2) at each end, or with that much to trim where it came out too
    large. The smaller mismatch is given: the gap up to a quarter turn, the step beyond.
    """
    off, half = abs(off), abs(sweep) / 2
    mismatch = off * math.tan(half) if half < math.pi / 4 else off
    return Opening("radius", mismatch, mismatch, "both")


def by_length(shape: Faces, joint: Joint, length: float, change: float) -> Opening:
    """Two pieces end to end, free in all to move over a `length` in mm, whose moisture changes by `change` percent.

    Shorter pieces part, longer ones press and open nothing. Along the grain wood moves very little; the figure is from
    memory.
    """
    shrunk = max(0.0, -change) * length * LONGITUDINAL / FIBER_SATURATION
    gap = shrunk * abs(float(shape.normals[0] @ np.array(joint.before.tangent)))
    return Opening("length", gap, gap, "both")


def of_a_cope(turn: float, projection: float, wall: float | None, strain: float | None) -> list[Opening]:
    """A coped inside corner of a turn (radians): a wall error (radians) and a strain across the pieces.

    The coped end follows the other's face: at a height where both stand f out, its visible edge is f from the other's
    wall. A corner out by w moves it there by f tan(turn / 2) sin w: nothing at the heel, most where the profile stands
    out most, and less than a miter, which opens by f w / cos(turn / 2). Pressed home, the thin edge of a cope takes up
    some of that; how much depends on the wood, and none is counted. Wood that shrinks by a part e draws the face back
    by e f (1 - cos(turn)). The cope is cut to its line by hand, so no error of a saw enters.
    """
    found: list[Opening] = []
    if wall is not None:
        gap = projection * math.tan(turn / 2) * abs(math.sin(wall))
        found.append(Opening("wall", gap, gap, "either"))
    if strain is not None:
        found.append(_one_way("wood", np.array([0.0, -strain * projection * (1 - math.cos(turn))])))
    return found


def _across(moved: Floats, shape: Faces) -> Floats:
    found: Floats = np.einsum("nk,nk->n", moved, shape.normals)
    return found


def _bent(points: Floats, passage: Passage, curvature: float) -> Floats:
    """Where plan points (n, 2) beside a back line go when it is bent to another curvature, signed toward the room."""
    tangent, normal, k = np.array(passage.tangent), np.array(passage.normal), passage.curvature
    ahead, aside = points @ tangent, points @ normal
    turned = np.arctan2(k * ahead, 1.0 - k * aside)
    d = (1.0 - np.hypot(k * ahead, 1.0 - k * aside)) / k
    turned = turned * curvature / k
    along = np.sin(turned) / curvature * (1.0 - curvature * d)
    out = d * np.cos(turned) + (1.0 - np.cos(turned)) / curvature
    found: Floats = along[:, None] * tangent + out[:, None] * normal
    return found


def _gaps(opening: Floats) -> tuple[float, float]:
    """What is seen at heel and toe when the pieces are pushed together until they touch."""
    seen = opening - opening.min()
    return float(seen[0]), float(seen[-1])


def _either(source: Source, opening: Floats) -> Opening:
    there, back = _gaps(opening), _gaps(-opening)
    return Opening(source, max(there[0], back[0]), max(there[1], back[1]), "either")


def _one_way(source: Source, opening: Floats) -> Opening:
    heel, toe = _gaps(opening)
    return Opening(source, heel, toe, "heel" if heel > toe else "toe")
