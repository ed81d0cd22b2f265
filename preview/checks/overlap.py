"""Whether two bodies share wood: by a plane between them, else by an independent kernel for solids (manifold3d)."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from preview import limits
from preview.checks.readers import Floats, Ints
from preview.runs import overlapping_pairs


@dataclass(frozen=True)
class Shared:
    """Two bodies whose boxes overlap, by index, and the volume they share in mm³ (nan when it cannot be found)."""

    first: int
    second: int
    volume: float


CERTAIN = 5e-4
"""What a plane between two bodies may leave open, mm³; where it is more, the solids are intersected."""


class Closed(Protocol):
    """A closed surface: points (p, 3) mm, triangles (t, 3)."""

    @property
    def points(self) -> Floats: ...

    @property
    def triangles(self) -> Ints: ...


def shared_volumes(
    surfaces: Sequence[Closed], progress: Callable[[int, int], None] | None = None, groups: Ints | None = None
) -> list[Shared]:
    """The volume shared by each pair of closed surfaces whose boxes overlap; pairs far apart are not listed.

    groups: the number of each one's group, where only pairs of two groups are asked for.
    """
    import manifold3d

    if len(surfaces) < 2:
        return []
    low = np.array([s.points.min(axis=0) for s in surfaces])
    high = np.array([s.points.max(axis=0) for s in surfaces])
    pairs = overlapping_pairs(low, high)
    limits.OVERLAPS.refuse(len(pairs), "the model", "export it in parts, and each body once")
    if groups is not None:
        pairs = pairs[groups[pairs[:, 0]] != groups[pairs[:, 1]]]
    solids: dict[int, manifold3d.Manifold] = {}

    def solid(i: int) -> manifold3d.Manifold:
        if i not in solids:
            triangles = np.ascontiguousarray(surfaces[i].triangles, dtype=np.uint64)
            mesh = manifold3d.Mesh64(np.ascontiguousarray(surfaces[i].points), triangles)
            solids[i] = manifold3d.Manifold(mesh)
        return solids[i]

    # A body that stands in a file many times, in one place, is asked once what it shares with another.
    alike = [_digest(surface) for surface in surfaces]
    known: dict[tuple[bytes, bytes], float] = {}
    found = []
    earlier = -1
    for done, (i, j) in enumerate(pairs.tolist()):
        # Pairs come in order of their first body, so one that has been first is not asked for again.
        if i != earlier:
            solids.pop(earlier, None)
            earlier = i
        both = alike[i], alike[j]
        if both not in known:
            known[both] = parted(surfaces[i], surfaces[j])
            if known[both] > CERTAIN:
                a, b = solid(i), solid(j)
                good = a.status() == b.status() == manifold3d.Error.NoError
                known[both] = float((a ^ b).volume()) if good else float("nan")
        found.append(Shared(i, j, known[both]))
        if progress:
            progress(done + 1, len(pairs))
    return found


def _digest(surface: Closed) -> bytes:
    return hashlib.sha256(surface.points.tobytes() + surface.triangles.tobytes()).digest()


def parted(one: Closed, other: Closed) -> float:
    """The most, mm³, that two closed surfaces can share which meet in one and the same flat face; infinite for others.

    The face's points and triangles are the same numbers in both, and all other points lie off its plane, those of the
    one behind it and those of the other before it. The face is flat but for the rounding of its points, e, so the two
    can only cross beside its rim, where both are within e of the plane: a strip 2 e high, and as wide as their edges
    lean aside on that height.
    """
    low = np.maximum(one.points.min(axis=0), other.points.min(axis=0))
    high = np.minimum(one.points.max(axis=0), other.points.max(axis=0))
    first, second = _common(one.points, other.points, low, high)
    mine, theirs = _among(one, first), _among(other, second)
    if not len(mine) or not np.array_equal(_turned(mine), _turned(theirs[:, ::-1])):
        return np.inf
    corners = one.points[first][mine]
    square = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]).sum(axis=0)
    square /= np.linalg.norm(square) or 1.0
    away = [(each.points - corners[0, 0]) @ square for each in (one, other)]
    flat = float(np.abs(away[0][first]).max())
    behind, before = np.delete(away[0], first), np.delete(away[1], second)
    if not max(float(behind.max(initial=-np.inf)), -float(before.min(initial=np.inf))) < -10 * flat:
        return np.inf
    aside = max(_lean(one, first, square), _lean(other, second, square))
    start, stop = mine.ravel(), np.roll(mine, -1, axis=1).ravel()
    outer = ~np.isin(start * len(first) + stop, stop * len(first) + start)
    around = one.points[first]
    rim = float(np.linalg.norm(around[stop[outer]] - around[start[outer]], axis=1).sum())
    return rim * 2 * flat * 2 * flat * aside


def _lean(surface: Closed, shared: Ints, square: Floats) -> float:
    """How far aside, at most, a body's edges go from a face on for each mm that they go away from its plane."""
    ours = np.zeros(len(surface.points), dtype=bool)
    ours[shared] = True
    start, stop = surface.triangles.ravel(), np.roll(surface.triangles, -1, axis=1).ravel()
    leaves = ours[start] & ~ours[stop]
    edges = surface.points[stop[leaves]] - surface.points[start[leaves]]
    out = edges @ square
    lean: float = (np.linalg.norm(edges - out[:, None] * square, axis=1) / np.abs(out)).max(initial=0.0)
    return lean


def _common(one: Floats, other: Floats, low: Floats, high: Floats) -> tuple[Ints, Ints]:
    """The points within a box that are the same numbers in both, each by its index in both."""
    inside = [np.flatnonzero(((each >= low) & (each <= high)).all(axis=1)) for each in (one, other)]
    keys = [
        np.ascontiguousarray(each[at]).view(np.dtype((np.void, 24))).ravel()
        for each, at in zip((one, other), inside, strict=True)
    ]
    _, first, second = np.intersect1d(keys[0], keys[1], assume_unique=True, return_indices=True)
    return inside[0][first], inside[1][second]


def _among(surface: Closed, points: Ints) -> Ints:
    """A surface's triangles that have all corners among some points, by their places there."""
    place = np.full(len(surface.points), -1)
    place[points] = np.arange(len(points))
    found = place[surface.triangles]
    return found[(found >= 0).all(axis=1)]


def _turned(triangles: Ints) -> Ints:
    """Triangles with their least corner first, in order."""
    first = np.argmin(triangles, axis=1)
    turned = np.take_along_axis(triangles, (first[:, None] + np.arange(3)) % 3, axis=1)
    return turned[np.lexsort(turned.T)]
