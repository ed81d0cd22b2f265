"""Meshes of what stands round the molding in a preview: floor, boxes, columns, and the wall behind a run.

They are there to be looked at and no check reads them. A floor and a wall are sheets, the rest closed bodies.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from preview.models.mesh.face import Floats
from preview.runs import Element, Run, Vec2
from preview.scene import Finish, RunInScene, Surrounding
from preview.units import cos_sin

ShownKind = Literal["floor", "box", "column", "wall"]

WALL = Finish("wall", (0.83, 0.81, 0.765), roughness=0.95)
"""What a wall behind a run looks like: a warm white, so that painted molding stands off it."""
FLOOR_MARGIN = 600.0
"""How far, mm, a floor without a size reaches past everything else in the scene."""
WIDEST_STEP = math.pi / 8
"""No step round a curve turns further than this, however coarse the chord."""
SIDES = ((0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0))
"""The outward normals of a rectangle's sides, counter-clockwise from the one along x."""


@dataclass(frozen=True)
class SurroundingMesh:
    """One thing to be shown, in mm, z up.

    points, normals (v, 3): one normal for each point, so a sharp edge has its points twice. triangles (t, 3):
    counter-clockwise seen from outside, from above (a floor) or from the room (a wall). origin: a plan point
    near by. both_sides: whether it is a sheet without a thickness, to be shown from behind as well.
    """

    name: str
    kind: ShownKind
    finish: Finish
    points: Floats
    normals: Floats
    triangles: NDArray[np.int32]
    origin: Vec2
    both_sides: bool


def mesh_surroundings(
    surroundings: Sequence[Surrounding], runs: Sequence[RunInScene], chord: float
) -> list[SurroundingMesh]:
    """The surroundings in their order, then the walls that stand behind runs in theirs.

    chord: how far, mm, a curve may stray from its steps. A floor without a size reaches 600 mm past the back
    lines and everything that has a size.
    """
    walls = [mesh_wall(placed.run, placed.wall, chord) for placed in runs if placed.wall]
    found: dict[int, SurroundingMesh] = {}
    endless: list[int] = []
    for i, thing in enumerate(surroundings):
        if thing.kind == "floor" and thing.size == (0.0, 0.0):
            endless.append(i)
        elif thing.kind == "floor":
            found[i] = _floor(thing, thing.size)
        elif thing.kind == "box":
            found[i] = _upright(thing, "box", _box_rim(thing, chord))
        else:
            found[i] = _upright(thing, "column", _column_rim(thing, chord))
    if endless:
        lines = [_back_line(element, chord)[0] for placed in runs for element in placed.run.elements]
        plan = np.concatenate([*lines, *(mesh.points[:, :2] for mesh in found.values()), np.zeros((0, 2))])
        low, high = (plan.min(axis=0), plan.max(axis=0)) if len(plan) else (np.zeros(2), np.zeros(2))
        low, high = low - FLOOR_MARGIN, high + FLOOR_MARGIN
        for i in endless:
            found[i] = _floor(surroundings[i], high - low, low)
    return [found[i] for i in sorted(found)] + walls


def mesh_wall(run: Run, height: float, chord: float, finish: Finish = WALL) -> SurroundingMesh:
    """The wall behind a run: an upright ribbon along its back line from 0 to `height` mm, facing the room."""
    points: list[Floats] = []
    normals: list[Floats] = []
    triangles: list[NDArray[np.int32]] = []
    first = 0
    for element in run.elements:
        line, outward = _back_line(element, chord)
        ribbon = _ribbon(line, outward * run.hand, 0.0, height, first, outside_right=run.hand < 0)
        points.append(ribbon[0])
        normals.append(ribbon[1])
        triangles.append(ribbon[2])
        first += len(ribbon[0])
    return SurroundingMesh(
        f"{run.name} / wall",
        "wall",
        finish,
        np.concatenate(points),
        np.concatenate(normals),
        np.concatenate(triangles),
        run.elements[0].start,
        both_sides=True,
    )


def _back_line(element: Element, chord: float) -> tuple[Floats, Floats]:
    """Points (n, 2) of an element's back line, chords within the tolerance, and the normals to its left."""
    count = _steps(abs(element.sweep), element.radius, chord)
    stations = [element.length * i / count for i in range(count + 1)]
    tangents = np.array([element.tangent_at(s) for s in stations[:-1]] + [element.end_tangent])
    return np.array([element.point(s) for s in stations]), np.column_stack([-tangents[:, 1], tangents[:, 0]])


def _steps(sweep: float, radius: float, chord: float) -> int:
    """Into how many steps to part an arc so that each chord strays by at most `chord`; 1 for a straight."""
    if not sweep:
        return 1
    widest = min(4 * math.asin(math.sqrt(min(chord / (2 * radius), 0.5))), WIDEST_STEP)
    return max(1, math.ceil(sweep / widest - 1e-9))


def _ribbon(
    line: Floats, normals: Floats, bottom: float, top: float, first: int, *, outside_right: bool
) -> tuple[Floats, Floats, NDArray[np.int32]]:
    """An upright strip over a plan line (n, 2): points, normals, triangles that count from `first`."""
    n = len(line)
    points = np.empty((2 * n, 3))
    points[:, :2] = np.tile(line, (2, 1))
    points[:n, 2], points[n:, 2] = bottom, top
    faced = np.zeros((2 * n, 3))
    faced[:, :2] = np.tile(normals, (2, 1))
    a = np.arange(n - 1) + first
    b, c, d = a + 1, a + n + 1, a + n
    triangles = np.stack([np.column_stack([a, b, c]), np.column_stack([a, c, d])], axis=1).reshape(-1, 3)
    return points, faced, (triangles if outside_right else triangles[:, ::-1]).astype(np.int32)


def _floor(thing: Surrounding, size: Sequence[float] | Floats, corner: Floats | None = None) -> SurroundingMesh:
    """A rectangle at the floor's top, facing up; laid and turned as a box is where no corner is given."""
    square = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]) * np.asarray(size)
    plan = _placed(thing, square) if corner is None else corner + square
    points = np.column_stack([plan, np.full(4, thing.top)])
    triangles = np.array([(0, 1, 2), (0, 2, 3)], dtype=np.int32)
    normals = np.tile((0.0, 0.0, 1.0), (4, 1))
    return SurroundingMesh(thing.name, "floor", thing.finish, points, normals, triangles, _first(plan), both_sides=True)


@dataclass(frozen=True)
class _Rim:
    """A footprint, counter-clockwise: strips of plan points (n, 2) with their outward normals (n, 2).

    Each strip starts where the one before it stops; where they meet smoothly they are one strip.
    """

    strips: tuple[tuple[Floats, Floats], ...]

    @property
    def outline(self) -> Floats:
        """The footprint's points, each once."""
        return np.concatenate([line[:-1] for line, _ in self.strips])


def _box_rim(thing: Surrounding, chord: float) -> _Rim:
    (wide, deep), radius = thing.size, thing.radius
    corners = np.array([(wide, 0.0), (wide, deep), (0.0, deep), (0.0, 0.0)])  # corner i ends side i
    if radius <= 0.0:
        sides = [np.array([corners[i - 1], corners[i]]) for i in range(4)]
        flat = [np.tile(SIDES[i], (2, 1)) for i in range(4)]
        return _Rim(tuple((_placed(thing, sides[i]), _turned(flat[i], thing.turn)) for i in range(4)))
    parts = _steps(math.pi / 2, radius, chord)
    inset = np.clip(corners, radius, (wide - radius, deep - radius))
    # Round corner i the normal goes from side i's to the next's.
    turns = np.array([cos_sin(math.pi / 2 * part / parts) for part in range(parts + 1)])
    normals = np.concatenate([turns @ np.array([SIDES[i], SIDES[(i + 1) % 4]]) for i in range(4)])
    line = np.repeat(inset, parts + 1, axis=0) + radius * normals
    # Where no flat is left between two corners, one's last point is the next's first.
    apart = np.linalg.norm(line - np.roll(line, 1, axis=0), axis=1) > 1e-9
    line, normals = line[apart], normals[apart]
    line, normals = np.vstack([line, line[:1]]), np.vstack([normals, normals[:1]])
    return _Rim(((_placed(thing, line), _turned(normals, thing.turn)),))


def _column_rim(thing: Surrounding, chord: float) -> _Rim:
    parts = _steps(2 * math.pi, thing.radius, chord)
    around = np.array([cos_sin(2 * math.pi * part / parts) for part in range(parts)])
    around = np.vstack([around, around[:1]])
    return _Rim(((np.array(thing.at) + thing.radius * around, around),))


def _upright(thing: Surrounding, kind: ShownKind, rim: _Rim) -> SurroundingMesh:
    """A closed upright body over a convex footprint, with its lid and its foot."""
    points: list[Floats] = []
    normals: list[Floats] = []
    triangles: list[NDArray[np.int32]] = []
    first = 0
    for line, outward in rim.strips:
        side = _ribbon(line, outward, thing.bottom, thing.top, first, outside_right=True)
        points.append(side[0])
        normals.append(side[1])
        triangles.append(side[2])
        first += len(side[0])
    outline = rim.outline
    n = len(outline)
    fan = np.column_stack([np.zeros(n - 2), np.arange(1, n - 1), np.arange(2, n)]).astype(np.int32)
    for height, up, faces in ((thing.bottom, -1.0, fan[:, ::-1]), (thing.top, 1.0, fan)):
        points.append(np.column_stack([outline, np.full(n, height)]))
        normals.append(np.tile((0.0, 0.0, up), (n, 1)))
        triangles.append(faces + np.int32(first))
        first += n
    return SurroundingMesh(
        thing.name,
        kind,
        thing.finish,
        np.concatenate(points),
        np.concatenate(normals),
        np.concatenate(triangles),
        thing.at,
        both_sides=False,
    )


def _placed(thing: Surrounding, plan: Floats) -> Floats:
    """Plan points of a rectangle's own frame, turned about its corner and moved to where it stands."""
    return np.array(thing.at) + _turned(plan, thing.turn)


def _turned(vectors: Floats, angle: float) -> Floats:
    cos, sin = cos_sin(angle)
    return np.column_stack([vectors[:, 0] * cos - vectors[:, 1] * sin, vectors[:, 0] * sin + vectors[:, 1] * cos])


def _first(plan: Floats) -> Vec2:
    return (float(plan[0, 0]), float(plan[0, 1]))
