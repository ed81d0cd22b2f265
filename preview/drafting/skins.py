"""The surfaces of a job as drawings need them: pieces welded where they meet flush, and what stands around them.

Where two pieces share the ring of a joint, bit for bit, their two end faces lie within the wood: they are left out, and
the sides beside the ring are neighbors across one edge. So a joint is one line, and nothing is seen through it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.drafting.hidden import Skin
from preview.models.mesh import PieceMesh, Shape, SurroundingMesh, mesh_runs, mesh_surroundings
from preview.profiles import measure

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

SAME = 1e-5
"""Points closer than about this, mm, are one when rings of two pieces are compared."""
ON_CUT = 1e-6
"""A point less than this, mm, off the plane of an end lies on it."""
ALONG = 1e-6
"""The sine of the angle at which a side of a straight piece may run to its travel."""
SLACK = 5.0
"""What touches a curve that stands around may lie this many chords behind its facets."""


@dataclass(frozen=True)
class JobSkin:
    """The skin of a job. pieces (b,): each body's number in `built.pieces`, -1 for what stands around.

    is_end (t,): whether a triangle belongs to an end of a piece, not to its sides.
    """

    skin: Skin
    pieces: Ints
    is_end: Bools


@dataclass(frozen=True)
class _Part:
    """One body before all are put together; normals (t, 3, 3) at the corners, ends: the triangles of its plain ends."""

    points: Floats
    triangles: Ints
    normals: Floats
    is_end: Bools
    ends: tuple[Ints, ...] = ()
    slack: float = 0.0
    reach: float = 0.0


def skin_of(built: Built, chord: float, pieces: Collection[int] | None = None, around: bool = True) -> JobSkin:
    """The surfaces of a job, with curves within `chord` mm of the true ones.

    pieces: the numbers (in `built.pieces`) of those that are there; None: all. around: whether what stands
    around them is there as well.
    """
    wanted = [i for i in range(len(built.pieces)) if pieces is None or i in pieces]
    lines = {built.pieces[i].run: None for i in wanted}
    numbers = {piece.name: i for i, piece in enumerate(built.pieces)}
    meshes: dict[int, PieceMesh] = {}
    if wanted:
        kept = [line for line in built.lines if line.run.name in lines]
        meshes = {numbers[mesh.piece.name]: mesh for mesh in mesh_runs(kept, chord)}
    parts = [_piece(meshes[i]) for i in wanted]
    if around:
        parts += [_thing(mesh, chord) for mesh in mesh_surroundings(built.scene.surroundings, built.scene.runs, chord)]
    known = np.array(wanted + [-1] * (len(parts) - len(wanted)), dtype=np.int64)
    return _together(parts, known)


def _piece(mesh: PieceMesh) -> _Part:
    shape = mesh.shape
    triangles = mesh.triangles.astype(np.int64)
    normals = mesh.normals[shape.render_triangles].astype(np.float64)
    size = measure(mesh.piece.profile)
    reach = float(np.hypot(size.d_max - size.d_min, size.h_max - size.h_min))
    if isinstance(shape, Shape):
        sides = (shape.spans + 1) * len(shape.face.column_point)
        corner = shape.render_triangles.min(axis=1)
        begins = (corner >= sides) & (corner < sides + len(shape.face.d))
        ends = corner >= sides + len(shape.face.d)
        return _Part(
            mesh.points, triangles, normals, begins | ends, (np.flatnonzero(begins), np.flatnonzero(ends)), 0.0, reach
        )
    piece = mesh.piece
    stand = piece.stand
    axes = np.array([stand.x, stand.y, stand.z])
    local = (mesh.points - np.array(stand.origin)) @ axes.T
    cuts = []
    for cut in (piece.begin, piece.end):
        if cut.faced is None:
            square = np.cross(*cut.axes())
            square /= np.linalg.norm(square)
            off = np.abs((local - np.array([*cut.at, cut.height])) @ square)
            cuts.append(np.flatnonzero((off[triangles] < ON_CUT).all(axis=1)))
    a, b, c = (local[triangles[:, i]] for i in range(3))
    square = np.cross(b - a, c - a)
    travel = np.array(piece.frame.travel)
    across = np.abs(square @ travel) / np.linalg.norm(travel)
    is_end = across > ALONG * np.linalg.norm(square, axis=1)
    return _Part(mesh.points, triangles, normals, is_end, tuple(cuts), 0.0, reach)


def _thing(mesh: SurroundingMesh, chord: float) -> _Part:
    _, first, place = np.unique(np.round(mesh.points, 6), axis=0, return_index=True, return_inverse=True)
    triangles = place.reshape(-1)[mesh.triangles].astype(np.int64)
    normals = mesh.normals[mesh.triangles]
    flat = np.abs(normals - normals[:, :1]).max(initial=0.0) < ON_CUT
    return _Part(
        mesh.points[first],
        triangles,
        normals,
        np.zeros(len(triangles), dtype=np.bool_),
        (),
        0.0 if flat else SLACK * chord,
    )


def _together(parts: Sequence[_Part], pieces: Ints) -> JobSkin:
    count = len(parts)
    if not count:
        none = np.empty((0, 3))
        ints, floats = np.empty(0, dtype=np.int64), np.empty(0)
        skin = Skin(none, ints.reshape(0, 3), none.reshape(0, 3, 3), ints, floats, floats, np.empty((0, 0)) > 0.0)
        return JobSkin(skin, pieces, np.empty(0, dtype=np.bool_))
    first = np.cumsum([0, *(len(part.points) for part in parts)])
    before = np.cumsum([0, *(len(part.triangles) for part in parts)])
    triangles = np.concatenate([part.triangles + at for part, at in zip(parts, first, strict=False)])
    points = np.concatenate([part.points for part in parts])
    joined = np.eye(count, dtype=np.bool_)
    kept = np.ones(len(triangles), dtype=np.bool_)
    one = np.arange(len(points))
    waiting: dict[bytes, tuple[int, Ints, Ints]] = {}
    for body, part in enumerate(parts):
        for end in part.ends:
            if not len(end):
                continue
            ring = _border(part.triangles[end])
            at = np.floor(part.points[ring] / SAME + 0.318)
            order = np.lexsort(at.T)
            key, nodes, cap = at[order].tobytes(), ring[order] + first[body], end + before[body]
            if key not in waiting:
                waiting[key] = (body, nodes, cap)
                continue
            other, theirs, their_cap = waiting.pop(key)
            joined[body, other] = joined[other, body] = True
            kept[cap] = kept[their_cap] = False
            one[np.maximum(_root(one, nodes), _root(one, theirs))] = np.minimum(_root(one, nodes), _root(one, theirs))
    triangles = _root(one, triangles)[kept]
    skin = Skin(
        points,
        triangles,
        np.concatenate([part.normals for part in parts])[kept],
        np.repeat(np.arange(count), np.diff(before))[kept],
        np.array([part.slack for part in parts]),
        np.array([part.reach for part in parts]),
        joined,
    )
    return JobSkin(skin, pieces, np.concatenate([part.is_end for part in parts])[kept])


def _border(triangles: Ints) -> Ints:
    """The points on the border of a sheet of triangles."""
    first, last = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    size = int(triangles.max()) + 1
    alone = ~np.isin(first * size + last, last * size + first)
    return np.unique(np.concatenate([first[alone], last[alone]]))


def _root(one: Ints, nodes: Ints) -> Ints:
    """The point that stands for each after welding."""
    while True:
        found = one[nodes]
        if np.array_equal(found, nodes):
            return found
        nodes = found
