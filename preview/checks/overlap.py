"""Whether two bodies share wood, by an independent kernel for solids of triangles (manifold3d)."""

from __future__ import annotations

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

    found = []
    earlier = -1
    for done, (i, j) in enumerate(pairs.tolist()):
        # Pairs come in order of their first body, so one that has been first is not asked for again.
        if i != earlier:
            solids.pop(earlier, None)
            earlier = i
        a, b = solid(i), solid(j)
        good = a.status() == b.status() == manifold3d.Error.NoError
        found.append(Shared(i, j, float((a ^ b).volume()) if good else float("nan")))
        if progress:
            progress(done + 1, len(pairs))
    return found
