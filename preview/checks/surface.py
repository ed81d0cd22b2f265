"""What a body's triangles say by themselves: closed, one piece, outward, and how much they hold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preview.checks.readers import Body, Floats, Ints

MIXED = np.array([0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9], np.uint64)
"""Odd numbers by which a position's bits are mixed into one key; equal keys are looked at again."""


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
    rows = np.ascontiguousarray(vertices + 0.0, dtype=np.float64)
    keys = (rows.view(np.uint64) * MIXED).sum(axis=1, dtype=np.uint64)
    order = np.argsort(keys, kind="stable")
    placed, ordered = rows[order], keys[order]
    fresh = np.concatenate([[True], ordered[1:] != ordered[:-1]])[: len(rows)]
    if not (fresh[1:] == (placed[1:] != placed[:-1]).any(axis=1)).all():  # two positions with one key
        order = np.lexsort(rows.T)
        placed = rows[order]
        fresh = np.concatenate([[True], (placed[1:] != placed[:-1]).any(axis=1)])
    inverse = np.empty(len(rows), np.int64)
    inverse[order] = np.cumsum(fresh) - 1
    return placed[fresh], inverse


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
        *measures(points, triangles),
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
    if np.array_equal(np.sort(start * count + stop), np.sort(stop * count + start)):
        return 0
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


def measures(points: Floats, triangles: Ints) -> tuple[float, float]:
    """The signed volume, mm³, and the area, mm², of triangles (t, 3) into points (p, 3)."""
    if not len(triangles):
        return 0.0, 0.0
    centered = points - points.mean(axis=0)
    a, b, c = (centered[triangles[:, i]] for i in range(3))
    normals = np.cross(b - a, c - a)
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6), float(np.linalg.norm(normals, axis=1).sum() / 2)
