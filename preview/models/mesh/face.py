"""The section as the mesh kernel uses it: its flattened outline, its face cut into triangles, its columns.

A curved miter is not plane: its surface bends as d grows and is straight only along h. So where a run has one, the
face is cut along lines of constant d (`levels`), and every triangle of a cap spans no more than one slab.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from manifold3d import triangulate
from numpy.typing import NDArray

from preview.profiles import Outline, Profile, flatten

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Face:
    """A section ready to be swept.

    outline: n points, counter-clockwise in (d, h), mm.
    triangles: (m, 3) indices into the points, counter-clockwise; they use every point, so a cap joins the sides.
    Columns are the lines of render vertices along a piece: one at a smooth point, two at an arris (one for each
    side's normal) and two where the outline starts (for the two ends of the grain's measure round the profile).
    column_point (c,), column_normal (c, 2) unit and outward, column_around (c,) mm round the profile;
    left, right (n,): the columns at the start and the end of the segment from point i to point i + 1.
    """

    outline: Outline
    triangles: Ints
    column_point: Ints
    column_normal: Floats
    column_around: Floats
    left: Ints
    right: Ints

    @property
    def d(self) -> Floats:
        """The points' projections (n,), mm."""
        return self.outline.points[:, 0]

    @property
    def h(self) -> Floats:
        """The points' heights (n,), mm."""
        return self.outline.points[:, 1]


def make_face(profile: Profile, chord: float, levels: Sequence[float] = (), *, parted: bool = False) -> Face:
    """Flatten a profile to the chord tolerance (mm), with a point wherever it crosses a level, and cut its face.

    parted: the profile has a corner at every such place already, to the last bit; none is looked for.
    """
    outline = flatten(profile, chord, () if parted else levels)
    triangles = cut_face(outline.points, levels)
    n = len(outline.points)
    split = outline.arris.copy()
    split[0] = True
    # Columns in outline order: the arriving one first where a point has two.
    into = np.arange(n) + np.concatenate([[0], np.cumsum(split[:-1])])
    out = into + split
    count = int(n + split.sum())
    into[0] = count  # the outline arrives at its start last
    into, out = into - 1, out - 1
    point = np.empty(count, dtype=np.int64)
    tangent = np.empty((count, 2))
    around = np.empty(count)
    smooth = outline.tangent_in + outline.tangent_out
    smooth /= np.linalg.norm(smooth, axis=1, keepdims=True) + 1e-300
    blended = ~outline.arris
    point[into] = point[out] = np.arange(n)
    tangent[into] = np.where(blended[:, None], smooth, outline.tangent_in)
    tangent[out] = np.where(blended[:, None], smooth, outline.tangent_out)
    around[into] = around[out] = outline.along[:-1]
    around[into[0]] = outline.along[-1]
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    return Face(outline, triangles, point, normal, around, left=out, right=np.roll(into, -1))


def settle(d_min: float, d_max: float, levels: Floats, corners: Sequence[float]) -> tuple[float, ...]:
    """Levels strictly between d_min and d_max; one close to an outline's corner moves onto it.

    Close is within a tenth of the narrower slab beside it, so that no sliver is left beside the corner.
    """
    if not len(levels):
        return ()
    slabs = np.diff(levels, prepend=d_min, append=d_max)
    near = np.minimum(slabs[:-1], slabs[1:]) / 10
    known = np.unique(np.asarray(corners))
    nearest = known[np.argmin(np.abs(levels[:, None] - known[None, :]), axis=1)]
    inside = np.unique(np.where(np.abs(nearest - levels) <= near, nearest, levels))
    return tuple(inside[(inside > d_min) & (inside < d_max)].tolist())


def cut_face(points: Floats, levels: Sequence[float]) -> Ints:
    """Triangulate a simple polygon (n, 2), counter-clockwise, so that no triangle crosses a level of d."""
    polygons = [list(range(len(points)))]
    for a, b in _diagonals(points, levels):
        for number, ring in enumerate(polygons):
            if a in ring and b in ring:
                i, j = sorted((ring.index(a), ring.index(b)))
                polygons[number] = ring[i : j + 1]
                polygons.append(ring[j:] + ring[: i + 1])
                break
    found = []
    for ring in polygons:
        index = np.array(ring)
        found.append(index[triangulate([points[index]], -1.0)])
    return np.concatenate(found).astype(np.int64)


def _diagonals(points: Floats, levels: Sequence[float]) -> list[tuple[int, int]]:
    """The pairs of outline points between which a level runs inside the face, nothing else on the way."""
    n = len(points)
    pairs: list[tuple[int, int]] = []
    for level in levels:
        on = np.flatnonzero(points[:, 0] == level)
        on = on[np.argsort(points[on, 1], kind="stable")]
        pairs += [
            (a, b) for a, b in zip(on[:-1].tolist(), on[1:].tolist(), strict=True) if (a - b) % n not in (1, n - 1)
        ]
    if not pairs:
        return []
    index = np.array(pairs)
    inside = _inside(points, points[index].mean(axis=1))
    return [pair for pair, keep in zip(pairs, inside.tolist(), strict=True) if keep]


def _inside(polygon: Floats, points: Floats) -> NDArray[np.bool_]:
    """Which points (m, 2) lie inside a polygon (n, 2), by the crossings of a ray outward from the wall."""
    a, b = polygon, np.roll(polygon, -1, axis=0)
    h = points[:, 1:2]
    spans = (a[None, :, 1] <= h) != (b[None, :, 1] <= h)
    rise = np.where(b[:, 1] == a[:, 1], 1.0, b[:, 1] - a[:, 1])
    crossing = a[:, 0] + (h - a[None, :, 1]) * ((b[:, 0] - a[:, 0]) / rise)
    hits = spans & (crossing > points[:, 0:1])
    odd: NDArray[np.bool_] = hits.sum(axis=1) % 2 == 1
    return odd
