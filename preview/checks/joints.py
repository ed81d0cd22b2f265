"""Where the bodies of a model meet: end faces that look at one another, near misses, and sides that touch.

Two ends form a joint when they look at each other within 10 degrees, half of one rim lies within 5 mm of the other, and
a quarter of the smaller one lies on the other. An end that stands on a plain rectangle which holds all of it stands on
a block, and is not judged; nor is an end against a side, or side against side.

What can be told of all pairs at once, by where they look and by their boxes, comes first; few are then looked at.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from preview import limits
from preview.checks.ends import Sweep
from preview.checks.faces import COARSER, EndFace, facing, on_block, overlap
from preview.checks.readers import Floats, Ints
from preview.checks.rims import Contact, compare, rims_apart
from preview.checks.shells import Shell
from preview.checks.touching import Touching, touching
from preview.runs import overlapping_pairs

REACH = 5.0
"""How far apart, mm, end faces are still taken for a joint; half of the smaller rim must come this near."""
NEAR = 10.0
"""How far apart, mm, end faces are still told as a near miss."""
FACING = 10.0
"""By how much, degrees, the faces at a joint may fail to look at each other."""
ASIDE = 100.0
LEAST_SHARE = 0.25
ROUNDING = 1e-6
"""What arithmetic leaves, mm or degrees, where pairs are told by their boxes before they are measured."""


@dataclass(frozen=True)
class ModelJoint:
    """Two end faces that meet: the indices of their bodies, the place in space, mm, and what was measured.

    facing: the angle, degrees, by which they fail to look straight at each other.
    """

    first: int
    second: int
    place: tuple[float, float, float]
    facing: float
    contact: Contact


@dataclass(frozen=True)
class ModelMiss:
    """Two end faces that nearly meet and were not judged: how far apart their rims come, mm, and their angle."""

    first: int
    second: int
    place: tuple[float, float, float]
    apart: float
    facing: float


@dataclass(frozen=True)
class Found:
    """All that was found between the bodies of a model; ends: how many each body has."""

    joints: tuple[ModelJoint, ...]
    misses: tuple[ModelMiss, ...]
    touching: tuple[Touching, ...]
    ends: tuple[int, ...]


@dataclass(frozen=True)
class _Pairs:
    """Pairs of ends whose boxes come near each other, by their indices (m, 2), and what their boxes tell of them.

    facing (m,): as `faces.facing`. apart (m,): how far their boxes stand apart, mm. unlike (m,): by how much, mm, one
    box reaches further than the other on some side. edges (m,): pairs of an edge on either rim.
    """

    pairs: Ints
    facing: Floats
    apart: Floats
    unlike: Floats
    edges: Floats

    def chosen(self, which: np.ndarray) -> list[tuple[int, int]]:
        """Some of the pairs. Raises PreviewError where their rims have more edges than can be held together."""
        limits.RIMS.refuse(int(self.edges[which].sum()), "the model", COARSER)
        return [(i, j) for i, j in self.pairs[which].tolist()]


def find_joints(shells: Sequence[Shell], ways: Sequence[Sequence[Sweep]]) -> Found:
    """Find where bodies meet. ways: how each body may have been swept, as `sweeps` gives it.

    Raises PreviewError for more ends, or more edges round them, near each other than the limits let be.
    """
    ends = [end for sweep in _settled(ways) for end in sweep.ends]
    joints: list[ModelJoint] = []
    free = set(range(len(ends)))
    near = _near(ends, NEAR)
    body = np.array([end.body for end in ends], dtype=np.int64)
    looking = (near.facing <= FACING + ROUNDING) & (near.apart <= np.hypot(REACH, REACH) + ROUNDING)
    meeting = [(*met, i, j) for i, j in near.chosen(looking) if (met := _meets(ends[i], ends[j]))]
    for _, _, i, j in sorted(meeting):
        if i in free and j in free:
            free -= {i, j}
            one, other = ends[i], ends[j]
            joints.append(ModelJoint(one.body, other.body, _place(one, other), facing(one, other), compare(one, other)))
    joints.sort(key=lambda joint: (joint.first, joint.second, joint.place))
    touch = touching(shells, ends, {(min(j.first, j.second), max(j.first, j.second)) for j in joints})
    lying = {(each.first, each.second) for each in touch}
    # Bodies that lie on each other do meet, end against side.
    aside = np.where(body[near.pairs[:, 0]] == body[near.pairs[:, 1]], FACING, ASIDE) + ROUNDING
    open_ = np.isin(near.pairs, sorted(free)).all(axis=1) & (near.facing <= aside) & (near.apart <= NEAR + ROUNDING)
    open_[open_] = [_bodies(ends[i], ends[j]) not in lying for i, j in near.pairs[open_].tolist()]
    misses = [miss for i, j in near.chosen(open_) if (miss := _miss(ends[i], ends[j]))]
    counts = np.bincount(body, minlength=len(shells)).tolist()
    return Found(tuple(joints), tuple(misses), tuple(touch), tuple(counts))


def _bodies(one: EndFace, other: EndFace) -> tuple[int, int]:
    return min(one.body, other.body), max(one.body, other.body)


def _settled(ways: Sequence[Sequence[Sweep]]) -> list[Sweep]:
    """One way for each body that has any: where several serve, the one whose ends meet those of settled bodies.

    That of the body which meets most of them is settled first, then that of the longest.
    """
    chosen = {i: mine[0] for i, mine in enumerate(ways) if len(mine) == 1}
    whose: dict[int, list[tuple[int, int]]] = {}
    ends: list[EndFace] = []
    for i, several in enumerate(ways):
        for way, sweep in enumerate(several):
            for end in sweep.ends:
                if id(end) not in whose:
                    ends.append(end)
                whose.setdefault(id(end), []).append((i, way))
    near = _near(ends, REACH)
    body = np.array([end.body for end in ends], dtype=np.int64)
    open_ = np.array([len(mine) > 1 for mine in ways], dtype=bool)
    one, other = body[near.pairs].T
    alike = (one != other) & (open_[one] | open_[other])
    alike &= (near.facing <= FACING + ROUNDING) & (near.unlike <= np.hypot(REACH, REACH) + ROUNDING)
    meets: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for a, b in near.chosen(alike):
        if _alike(ends[a], ends[b]):
            for first, second in product(whose[id(ends[a])], whose[id(ends[b])]):
                meets.setdefault(first, []).append(second)
                meets.setdefault(second, []).append(first)
    scores = {(i, way): 0 for i, mine in enumerate(ways) if len(mine) > 1 for way in range(len(mine))}
    for i in chosen:
        for each in meets.get((i, 0), []):
            scores[each] += 1
    waiting = [(-score, -ways[i][way].travel, i, way) for (i, way), score in scores.items()]
    heapq.heapify(waiting)
    while waiting:
        _, _, i, way = heapq.heappop(waiting)
        if i in chosen:
            continue
        chosen[i] = ways[i][way]
        for each in meets.get((i, way), []):
            if each[0] not in chosen:  # what it said before stays behind it in the heap, and is passed over
                scores[each] += 1
                heapq.heappush(waiting, (-scores[each], -ways[each[0]][each[1]].travel, *each))
    return [chosen[i] for i in sorted(chosen)]


def _near(ends: Sequence[EndFace], margin: float) -> _Pairs:
    if len(ends) < 2:
        return _Pairs(np.empty((0, 2), dtype=np.int64), *(np.empty(0) for _ in range(4)))
    low, high = np.array([end.low for end in ends]), np.array([end.high for end in ends])
    normals = np.array([end.normal for end in ends])
    edges = np.array([len(end.starts) for end in ends], dtype=np.float64)
    pairs = overlapping_pairs(low, high, margin)
    limits.ENDS.refuse(len(pairs), "the model", "export it in parts, and each body once")
    i, j = pairs.T
    sine = np.linalg.norm(np.cross(normals[i], normals[j]), axis=1)
    look = np.degrees(np.arctan2(sine, -np.einsum("ij,ij->i", normals[i], normals[j])))
    apart = np.linalg.norm(np.maximum(np.maximum(low[i] - high[j], low[j] - high[i]), 0.0), axis=1)
    unlike = np.maximum(np.abs(low[i] - low[j]), np.abs(high[i] - high[j])).max(axis=1, initial=0.0)
    return _Pairs(pairs, look, apart, unlike, edges[i] * edges[j])


def _place(one: EndFace, other: EndFace) -> tuple[float, float, float]:
    x, y, z = (one.center + other.center) / 2
    return float(x), float(y), float(z)


def _alike(one: EndFace, other: EndFace) -> bool:
    """Whether two ends meet and show the same profile, but for `REACH`."""
    if facing(one, other) > FACING:
        return False
    for mine, theirs in ((one, other), (other, one)):
        across, within = rims_apart(mine, theirs)
        if max(np.abs(across).max(), within.max()) > REACH:
            return False
    return True


def _meets(one: EndFace, other: EndFace) -> tuple[float, float] | None:
    """How well two end faces form a joint, the less the better: the share, in tenths, of the smaller one that does
    not lie on the other, and how far they are apart, mm. None when they form none."""
    if facing(one, other) > FACING or not _half_near(one, other, REACH):
        return None
    if on_block(one, other) or on_block(other, one):
        return None
    share = overlap(one, other)
    apart = abs(float((other.center - one.center) @ one.normal))
    return (round(1 - share, 1), apart) if share >= LEAST_SHARE else None


def _half_near(one: EndFace, other: EndFace, reach: float) -> bool:
    """Whether half of either rim, by its length, lies within reach of the other."""
    for mine, theirs in ((one, other), (other, one)):
        across, within = rims_apart(mine, theirs)
        near = np.maximum(np.abs(across), within) <= reach
        if mine.lengths[near & near[mine.following]].sum() >= 0.5 * mine.lengths.sum():
            return True
    return False


def _miss(one: EndFace, other: EndFace) -> ModelMiss | None:
    """Two free ends as a near miss: parallel and too far apart, or close to each other at an angle."""
    aside = facing(one, other)
    if aside > ASIDE:
        return None
    across, within = rims_apart(one, other)
    apart = np.hypot(across, within)
    if apart.min() > NEAR:
        return None
    if aside <= FACING and (not _half_near(one, other, NEAR) or overlap(one, other) < LEAST_SHARE):
        return None
    return ModelMiss(one.body, other.body, _place(one, other), float(apart.min()), aside)
