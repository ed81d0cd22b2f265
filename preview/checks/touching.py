"""Bodies that lie on one another with flat faces, elsewhere than at a joint."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from preview import limits
from preview.checks.ends import FLAT, Facets, face, facets
from preview.checks.faces import COARSER, TOUCH, EndFace, overlap
from preview.checks.readers import Floats, Ints
from preview.checks.shells import Shell
from preview.runs import overlapping_pairs

SIDES = 12
LEAST, ENOUGH = 0.01, 100.0
"""Bodies touch where they share this much of the smaller one's surface, or this much, mm²."""
OPPOSITE = -0.9999
BLOCK = 1_000_000
"""How many pairs of faces are held against each other at a time."""


@dataclass(frozen=True)
class Touching:
    """Two bodies whose flat faces lie on each other elsewhere than at a joint: the area that they share, mm²."""

    first: int
    second: int
    place: tuple[float, float, float]
    area: float


def touching(shells: Sequence[Shell], ends: Sequence[EndFace], joined: Collection[tuple[int, int]]) -> list[Touching]:
    """Bodies that lie on one another with flat faces. joined: pairs (i < j) that are not asked about."""
    if len(shells) < 2:
        return []
    low, high = np.array([s.low for s in shells]), np.array([s.high for s in shells])
    pairs = overlapping_pairs(low, high, TOUCH)
    known = np.array([i * len(shells) + j for i, j in joined], dtype=np.int64)
    pairs = pairs[~np.isin(pairs @ np.array([len(shells), 1]), known)]
    faces = _faces(shells, ends, np.unique(pairs))
    least = np.array([min(LEAST * shell.area, ENOUGH) for shell in shells])
    every = np.concatenate([np.empty((0, 2), dtype=np.int64), *_opposite(faces, pairs, least)])
    edges = np.array([len(face.starts) for face in faces], dtype=np.int64)
    limits.TOUCHES.refuse(len(every), "the model", "export it in parts, and each body once")
    limits.RIMS.refuse(int(edges[every].prod(axis=1).sum()), "the model", COARSER)
    found: dict[tuple[int, int], Touching] = {}
    for a, b in every.tolist():
        one, other = faces[a], faces[b]
        bodies = one.body, other.body
        smaller = min(one.area, other.area)
        best = found[bodies].area if bodies in found else float(least[[*bodies]].min())
        if smaller * (1 + 1e-6) > best and (area := overlap(one, other) * smaller) > best:
            x, y, z = (one.center + other.center) / 2
            found[bodies] = Touching(*bodies, (float(x), float(y), float(z)), area)
    return [found[bodies] for bodies in sorted(found)]


def _faces(shells: Sequence[Shell], ends: Sequence[EndFace], bodies: Ints) -> list[EndFace]:
    """The flat faces of some bodies: their ends, then the largest of the others; body after body."""
    mine: dict[int, list[EndFace]] = {}
    for end in ends:
        if end.flat and len(end.starts):
            mine.setdefault(end.body, []).append(end)
    found = []
    for body in bodies.tolist():
        flat = mine.get(body, [])
        known = {(end.area, *end.center.tolist()) for end in flat}
        found += flat
        found += [
            each for each in _flats(facets(shells[body]), body) if (each.area, *each.center.tolist()) not in known
        ]
    return found


def _flats(f: Facets, body: int) -> list[EndFace]:
    """The largest flat faces of a body."""
    areas = f.faces.areas
    label = f.regions(np.ones(len(areas), dtype=bool), FLAT)
    sizes = np.bincount(label, weights=areas)
    largest = [int(i) for i in np.argsort(-sizes)[:SIDES] if sizes[i] > 0.005 * areas.sum()]
    return [end for i in largest if (end := face(f, label == i, body)).flat and len(end.starts)]


def _opposite(faces: Sequence[EndFace], pairs: Ints, least: Floats) -> Iterator[Ints]:
    """The pairs of faces of some pairs of bodies that look at each other in one plane and may share enough of it."""
    if not faces:
        return
    normals, centers = np.array([f.normal for f in faces]), np.array([f.center for f in faces])
    areas = np.array([f.area for f in faces])
    low, high = np.array([f.low for f in faces]), np.array([f.high for f in faces])
    # How far the two may stand apart: by how much they may fail to be parallel, or to be flat.
    lean = math.sqrt(1 - OPPOSITE**2) * np.linalg.norm(high - low, axis=1)
    slack = (TOUCH + lean + 4 * np.array([f.step for f in faces]) + 1e-5 * np.sqrt(areas))[:, None]
    low, high = low - slack, high + slack
    body = np.array([f.body for f in faces])
    count = np.bincount(body, minlength=len(least))
    first = np.cumsum(count) - count
    many = count[pairs].prod(axis=1)
    for part in np.array_split(np.arange(len(pairs)), int(many.sum()) // BLOCK + 1):
        pair = np.repeat(part, many[part])
        within = np.arange(len(pair)) - np.repeat(np.cumsum(many[part]) - many[part], many[part])
        i, j = pairs[pair].T
        a, b = first[i] + within // count[j], first[j] + within % count[j]
        opposite = np.einsum("ij,ij->i", normals[a], normals[b]) <= OPPOSITE
        a, b = a[opposite], b[opposite]
        level = np.abs(np.einsum("ij,ij->i", centers[b] - centers[a], normals[a])) <= TOUCH
        large = np.minimum(areas[a], areas[b]) * (1 + 1e-6) > np.minimum(least[body[a]], least[body[b]])
        boxed = ((low[a] <= high[b]) & (low[b] <= high[a])).all(axis=1)
        kept = level & large & boxed
        yield np.column_stack([a[kept], b[kept]])
