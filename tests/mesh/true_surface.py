"""The true surface of a piece, measured by another road than the mesh kernel's, and facts about closed meshes.

A plan point is read against a back line with a dot product (a straight) or a center and a radius (a curve), which
gives its station and its projection; then the side surface is the profile's exact outline at (projection, height),
and a joint's surface is where both back lines give one projection.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preview.joinery import MemberRun, Piece
from preview.models.mesh import PieceMesh
from preview.profiles import Arc, Profile, distance_to

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def read_back(piece: Piece, plan: Floats) -> tuple[Floats, Floats, Floats]:
    """The stations (n,), projections (n,) and normals into the room (n, 2) of plan points (n, 2)."""
    element, hand = piece.element, piece.hand
    tangent = np.array(element.tangent)
    normal = hand * np.array([-tangent[1], tangent[0]])
    away = plan - np.array(element.start)
    if not element.sweep:
        return away @ tangent, away @ normal, np.tile(normal, (len(plan), 1))
    radius = element.length / abs(element.sweep)
    inward = 1.0 if (element.sweep > 0) == (hand > 0) else -1.0  # the center lies on the room's side
    spokes = away - inward * radius * normal
    length = np.hypot(spokes[:, 0], spokes[:, 1])
    angles = np.arctan2(spokes @ tangent, -inward * (spokes @ normal))
    # Cuts may lie before the start or past the end: the whole turn nearest the middle of the sweep.
    middle = abs(element.sweep) / 2
    angles += 2 * math.pi * np.round((middle - angles) / (2 * math.pi))
    return angles * radius, inward * (radius - length), -inward * spokes / length[:, None]


def from_side(piece: Piece, points: Floats) -> Floats:
    """The distances (n,), mm, from points (n, 3) to the untrimmed side surface; exact, as it is a plane problem."""
    _, d, _ = read_back(piece, points[:, :2])
    return distance_to(piece.profile, np.column_stack([d, points[:, 2]]))


def from_cut(piece: Piece, other: Piece | None, at_end: bool, points: Floats) -> Floats:
    """The distances (n,), mm, from points (n, 3) to the cut between a piece and its neighbor, to first order."""
    stations, d, normals = read_back(piece, points[:, :2])
    joint = piece.end if at_end else piece.begin
    if other is None or not joint.turn:  # square to the run
        past = stations - (piece.element.length if at_end else 0.0)
        return np.asarray(np.abs(past * (1 - piece.curvature * d)))
    _, d_other, normals_other = read_back(other, points[:, :2])
    return np.asarray(np.abs(d - d_other) / np.linalg.norm(normals - normals_other, axis=1))


@dataclass(frozen=True)
class Parts:
    """A mesh's triangles (t, 3), into its points: its sides, the cap at its start and the cap at its end."""

    sides: Ints
    begin: Ints
    end: Ints


def parts(mesh: PieceMesh) -> Parts:
    """The triangles in the kernel's order: sides first, then the two caps of equal size."""
    triangles = np.asarray(mesh.triangles, dtype=np.int64)
    count = len(mesh.shape.face.triangles)
    return Parts(triangles[: -2 * count], triangles[-2 * count : -count], triangles[-count:])


def inside_points(corners: Floats, seed: int = 0, each: int = 3) -> Floats:
    """Points (m, 3) on triangles (t, 3, 3): their middles, the middles of their edges, and some at random."""
    weights = np.random.default_rng(seed).dirichlet([1, 1, 1], each)
    weights = np.vstack([weights, [[1 / 3] * 3, [0.5, 0.5, 0.0], [0.0, 0.5, 0.5], [0.5, 0.0, 0.5]]])
    return np.asarray(np.einsum("kw,twc->tkc", weights, corners).reshape(-1, 3))


def strays(line: MemberRun, meshes: list[PieceMesh], most: int = 1500) -> tuple[float, float]:
    """How far, mm, points on the triangles lie from the true surface: the worst on the sides and on the cuts.

    Of a mesh's sides at most `most` triangles are looked at, taken at random.
    """
    side, cut = 0.0, 0.0
    count = len(meshes)
    for i, mesh in enumerate(meshes):
        part = parts(mesh)
        chosen = part.sides
        if len(chosen) > most:
            chosen = chosen[np.random.default_rng(i).permutation(len(chosen))[:most]]
        side = max(side, float(from_side(mesh.piece, inside_points(mesh.points[chosen], i)).max()))
        earlier = line.pieces[i - 1] if i or line.run.closed else None
        later = line.pieces[(i + 1) % count] if i + 1 < count or line.run.closed else None
        for triangles, other, at_end in ((part.begin, earlier, False), (part.end, later, True)):
            points = inside_points(mesh.points[triangles], i)
            cut = max(cut, float(from_cut(mesh.piece, other, at_end, points).max()))
    return side, cut


def open_edges(triangles: NDArray[np.integer]) -> int:
    """How many directed edges lack their one reverse; 0 for a closed surface, each edge used exactly twice."""
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]).astype(np.int64)
    scale = int(edges.max()) + 1
    forward = np.sort(edges[:, 0] * scale + edges[:, 1])
    backward = np.sort(edges[:, 1] * scale + edges[:, 0])
    if len(np.unique(forward)) != len(forward):
        return len(forward) - len(np.unique(forward)) + len(np.setxor1d(forward, backward))
    return len(np.setdiff1d(forward, backward))


def bodies(triangles: NDArray[np.integer]) -> int:
    """How many pieces the surface falls into, by shared points."""
    parent = np.arange(int(triangles.max()) + 1)
    while True:
        least = parent[triangles].min(axis=1)
        before = parent.copy()
        for column in range(3):
            np.minimum.at(parent, triangles[:, column], least)
        parent = parent[parent]
        if np.array_equal(parent, before):
            return len(np.unique(parent[np.unique(triangles)]))


def signed_volume(points: Floats, triangles: NDArray[np.integer]) -> float:
    """By the prisms between each triangle and the floor: the project goes by tetrahedra."""
    a, b, c = (points[triangles[:, i]] for i in range(3))
    plan = ((b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])) / 2
    return float((plan * (a[:, 2] + b[:, 2] + c[:, 2]) / 3).sum())


def outward_normals(profile: Profile, points: Floats, within: float = 1e-6) -> list[list[Floats]]:
    """For each (d, h) point of the outline, the exact outward unit normals of the edges it lies on: one or two."""
    found: list[list[Floats]] = [[] for _ in points]
    for edge in profile.edges:
        near = edge.distance(points) < within
        for i in np.flatnonzero(near).tolist():
            if isinstance(edge, Arc):
                out = (points[i] - np.array(edge.center)) * math.copysign(1.0, edge.sweep)
            else:
                out = np.array([edge.end[1] - edge.start[1], edge.start[0] - edge.end[0]])
            found[i].append(out / np.linalg.norm(out))
    return found
