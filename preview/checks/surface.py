"""What a body's triangles say by themselves: closed, one piece, outward, and how much they hold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preview.checks.readers import Body, Floats, Ints


@dataclass(frozen=True)
class Surface:
    """A body with its equal positions made one.

    points (p, 3) mm; triangles (t, 3); weld (v,): the point of each stored vertex.
    open_edges: edges whose two sides are not exactly one triangle each way. collapsed: triangles that lost a corner
    when positions were rounded. bodies: connected parts. volume mm³, signed: + when the faces look outward.
    """

    points: Floats
    triangles: Ints
    weld: Ints
    open_edges: int
    collapsed: int
    bodies: int
    volume: float
    area: float


def weld(vertices: Floats) -> tuple[Floats, Ints]:
    """Make equal positions one point: the points (p, 3), and the point of each vertex (v,).

    Only positions equal to the last bit are one; -0 is 0.
    """
    rows = np.ascontiguousarray(vertices + 0.0)
    keys = rows.view(np.dtype((np.void, rows.dtype.itemsize * 3))).ravel()
    _, first, inverse = np.unique(keys, return_index=True, return_inverse=True)
    return rows[first], inverse.ravel().astype(np.int64)


def surface(body: Body) -> Surface:
    """Weld a body and count what is wrong with it; closed means that every directed edge occurs once, and its
    reverse once."""
    points, inverse = weld(body.vertices)
    triangles = inverse[body.triangles]
    a, b, c = triangles.T
    whole = (a != b) & (b != c) & (c != a)
    collapsed = int((~whole).sum())
    triangles = triangles[whole]
    return Surface(
        points,
        triangles,
        inverse,
        open_edges(triangles, len(points)),
        collapsed,
        parts(triangles, len(points)),
        *_measures(points, triangles),
    )


def open_edges(triangles: Ints, count: int) -> int:
    """How many directed edges do not occur exactly once together with their reverse exactly once."""
    start, stop = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    forward = np.sort(start * count + stop)
    backward = np.sort(stop * count + start)
    if np.array_equal(forward, backward) and (np.diff(forward) > 0).all():
        return 0
    edges, times = np.unique(forward, return_counts=True)
    return int(((times != 1) | ~np.isin(edges, backward)).sum())


def unbalanced_edges(triangles: Ints, count: int) -> int:
    """How many directed edges are walked more often one way than the other; 0 for any set of closed surfaces."""
    start, stop = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    low, high = np.minimum(start, stop), np.maximum(start, stop)
    _, index = np.unique(low * count + high, return_inverse=True)
    balance = np.bincount(index, weights=np.where(start < stop, 1.0, -1.0))
    return int((balance != 0).sum())


def parts(triangles: Ints, count: int) -> int:
    """How many connected bodies the triangles form, through shared points."""
    if not len(triangles):
        return 0
    label = np.arange(count)
    edges = np.concatenate([triangles[:, :2], triangles[:, 1:]])
    while True:  # each pass joins every point to the least label it touches, then follows labels to their roots
        low = np.minimum(label[edges[:, 0]], label[edges[:, 1]])
        joined = label.copy()
        np.minimum.at(joined, edges[:, 0], low)
        np.minimum.at(joined, edges[:, 1], low)
        np.minimum.at(joined, label[edges[:, 0]], low)
        np.minimum.at(joined, label[edges[:, 1]], low)
        joined = joined[joined]
        if np.array_equal(joined, label):
            return len(np.unique(label[triangles]))
        label = joined


def _measures(points: Floats, triangles: Ints) -> tuple[float, float]:
    if not len(triangles):
        return 0.0, 0.0
    centered = points - points.mean(axis=0)
    a, b, c = (centered[triangles[:, i]] for i in range(3))
    normals = np.cross(b - a, c - a)
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6), float(np.linalg.norm(normals, axis=1).sum() / 2)
