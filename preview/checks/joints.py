"""Where the bodies of a model meet: end faces that look at one another, near misses, and sides that touch.

Two ends form a joint when they look at each other within 10 degrees, half of one rim lies within 5 mm of the other, and
a quarter of the smaller one lies on the other. An end that stands on a plain rectangle which holds all of it stands on
a block, and is not judged; nor is an end against a side, or side against side.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from preview import limits
from preview.checks.ends import FLAT, EndFace, Facets, Sweep, face, facets
from preview.checks.readers import Floats
from preview.checks.rims import Contact, compare, rims_apart
from preview.checks.shells import Shell
from preview.runs import overlapping_pairs

REACH = 5.0
"""How far apart, mm, end faces are still taken for a joint; half of the smaller rim must come this near."""
NEAR = 10.0
"""How far apart, mm, end faces are still told as a near miss."""
FACING = 10.0
"""By how much, degrees, the faces at a joint may fail to look at each other."""
ASIDE = 100.0
TOUCH = 0.05
LEAST_SHARE = 0.25
SIDES = 12
RIGHT = 1.0
"""Corners of a plain block are right within this, degrees."""


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
class Touching:
    """Two bodies whose flat faces lie on each other elsewhere than at a joint: the area that they share, mm²."""

    first: int
    second: int
    place: tuple[float, float, float]
    area: float


@dataclass(frozen=True)
class Found:
    """All that was found between the bodies of a model; ends: how many each body has."""

    joints: tuple[ModelJoint, ...]
    misses: tuple[ModelMiss, ...]
    touching: tuple[Touching, ...]
    ends: tuple[int, ...]


def find_joints(shells: Sequence[Shell], ways: Sequence[Sequence[Sweep]]) -> Found:
    """Find where bodies meet. ways: how each body may have been swept, as `sweeps` gives it."""
    ends = [end for sweep in _settled(ways) for end in sweep.ends]
    joints: list[ModelJoint] = []
    free = set(range(len(ends)))
    pairs = [(i, j) for i, j in _near(ends, NEAR) if ends[i].body != ends[j].body or _facing(ends[i], ends[j]) < FACING]
    meeting = [(*met, i, j) for i, j in pairs if (met := _meets(ends[i], ends[j]))]
    for _, _, i, j in sorted(meeting):
        if i in free and j in free:
            free -= {i, j}
            one, other = ends[i], ends[j]
            joints.append(
                ModelJoint(one.body, other.body, _place(one, other), _facing(one, other), compare(one, other))
            )
    joints.sort(key=lambda joint: (joint.first, joint.second, joint.place))
    touching = _touching(shells, ends, joints)
    lying = {(touch.first, touch.second) for touch in touching}
    # Bodies that lie on each other do meet, end against side.
    open_ = [(i, j) for i, j in pairs if i in free and j in free and _bodies(ends[i], ends[j]) not in lying]
    misses = [miss for i, j in open_ if (miss := _miss(ends[i], ends[j]))]
    counts = np.bincount([end.body for end in ends], minlength=len(shells)).tolist()
    return Found(tuple(joints), tuple(misses), tuple(touching), tuple(counts))


def _bodies(one: EndFace, other: EndFace) -> tuple[int, int]:
    return min(one.body, other.body), max(one.body, other.body)


def _settled(ways: Sequence[Sequence[Sweep]]) -> list[Sweep]:
    """One way for each body that has any: where several serve, the one whose ends meet those of settled bodies."""
    chosen: dict[int, Sweep] = {i: mine[0] for i, mine in enumerate(ways) if len(mine) == 1}
    open_ = {i: list(mine) for i, mine in enumerate(ways) if len(mine) > 1}
    candidates = [(end, i, way) for i, mine in open_.items() for way, sweep in enumerate(mine) for end in sweep.ends]
    settled = [(end, i, -1) for i, sweep in chosen.items() for end in sweep.ends]
    everything = candidates + settled
    alike = [
        (everything[a][1:], everything[b][1:])
        for a, b in _near([end for end, _, _ in everything], REACH)
        if everything[a][1] in open_ or everything[b][1] in open_
        if everything[a][1] != everything[b][1] and _alike(everything[a][0], everything[b][0])
    ]
    meets: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for a, b in alike:
        meets.setdefault(a, []).append(b)
        meets.setdefault(b, []).append(a)
    picked: dict[int, int] = {}

    def score(i: int, way: int) -> int:
        return sum(other in chosen and (w == -1 or picked.get(other) == w) for other, w in meets.get((i, way), []))

    while open_:
        best = max(
            ((score(i, way), sweep.travel, i, way) for i, mine in open_.items() for way, sweep in enumerate(mine)),
            key=lambda item: (item[0], item[1], -item[2]),
        )
        _, _, i, way = best
        chosen[i], picked[i] = open_.pop(i)[way], way
    return [chosen[i] for i in sorted(chosen)]


def _near(ends: Sequence[EndFace], margin: float) -> list[tuple[int, int]]:
    if len(ends) < 2:
        return []
    low = np.array([end.starts.min(axis=0) for end in ends])
    high = np.array([end.starts.max(axis=0) for end in ends])
    pairs = overlapping_pairs(low, high, margin)
    limits.ENDS.refuse(len(pairs), "the model", "export it in parts, and each body once")
    return [(int(i), int(j)) for i, j in pairs]


def _facing(one: EndFace, other: EndFace) -> float:
    """The angle, degrees, by which two faces fail to look straight at each other."""
    sine = float(np.linalg.norm(np.cross(one.normal, other.normal)))
    return math.degrees(math.atan2(sine, -float(one.normal @ other.normal)))


def _place(one: EndFace, other: EndFace) -> tuple[float, float, float]:
    x, y, z = (one.center + other.center) / 2
    return float(x), float(y), float(z)


def _alike(one: EndFace, other: EndFace) -> bool:
    """Whether two ends meet and show the same profile, but for `REACH`."""
    if _facing(one, other) > FACING:
        return False
    for mine, theirs in ((one, other), (other, one)):
        across, within = rims_apart(mine, theirs)
        if max(np.abs(across).max(), within.max()) > REACH:
            return False
    return True


def _meets(one: EndFace, other: EndFace) -> tuple[float, float] | None:
    """How well two end faces form a joint, the less the better: the share, in tenths, of the smaller one that does
    not lie on the other, and how far they are apart, mm. None when they form none."""
    if _facing(one, other) > FACING or not _half_near(one, other, REACH):
        return None
    if _on_block(one, other) or _on_block(other, one):
        return None
    share = _overlap(one, other)
    apart = abs(float((other.center - one.center) @ one.normal))
    return (round(1 - share, 1), apart) if share >= LEAST_SHARE else None


def _on_block(one: EndFace, block: EndFace) -> bool:
    """Whether a molded end stands on a plain block: a rectangle that holds all of it is not meant to carry on its
    profile."""
    if not _is_rectangle(block) or _is_rectangle(one):
        return False
    axes = _axes(block.normal)
    outline, face_ = (_area(_loops(end.starts, end.following), axes, block.center) for end in (one, block))
    rim = float(np.linalg.norm(one.stops - one.starts, axis=1).sum())
    return bool((outline - face_).area() <= TOUCH * rim)


def _is_rectangle(end: EndFace) -> bool:
    side = end.stops - end.starts
    way = side / np.maximum(np.linalg.norm(side, axis=1), 1e-300)[:, None]
    turn = np.degrees(np.arccos(np.clip(np.einsum("ij,ij->i", way, way[end.following]), -1, 1)))
    corners = turn > RIGHT
    return end.flat and int(corners.sum()) == 4 and bool((np.abs(turn[corners] - 90) < RIGHT).all())


def _half_near(one: EndFace, other: EndFace, reach: float) -> bool:
    """Whether half of either rim, by its length, lies within reach of the other."""
    for mine, theirs in ((one, other), (other, one)):
        across, within = rims_apart(mine, theirs)
        length = np.linalg.norm(mine.stops - mine.starts, axis=1)
        near = np.maximum(np.abs(across), within) <= reach
        if length[near & near[mine.following]].sum() >= 0.5 * length.sum():
            return True
    return False


def _overlap(one: EndFace, other: EndFace) -> float:
    """The share of the smaller face's area that lies on the other, both seen along the first one's normal."""
    axes = _axes(one.normal)
    areas = [_area(_loops(end.starts, end.following), axes, one.center) for end in (one, other)]
    smaller = min(area.area() for area in areas)
    return float((areas[0] ^ areas[1]).area() / smaller) if smaller > 0 else 0.0


def _axes(normal: Floats) -> Floats:
    first = np.cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
    first /= np.linalg.norm(first)
    return np.column_stack([first, np.cross(normal, first)])


def _area(loops: list[Floats], axes: Floats, origin: Floats) -> Any:
    import manifold3d

    return manifold3d.CrossSection([(loop - origin) @ axes for loop in loops], manifold3d.FillRule.EvenOdd)


def _loops(starts: Floats, following: np.ndarray) -> list[Floats]:
    loops, left = [], set(range(len(starts)))
    on = following.tolist()
    while left:
        i = left.pop()
        loop = [i]
        while (i := on[i]) in left:
            left.discard(i)
            loop.append(i)
        if len(loop) > 2:
            loops.append(starts[loop])
    return loops


def _miss(one: EndFace, other: EndFace) -> ModelMiss | None:
    """Two free ends as a near miss: parallel and too far apart, or close to each other at an angle."""
    facing = _facing(one, other)
    if facing > ASIDE:
        return None
    across, within = rims_apart(one, other)
    apart = np.hypot(across, within)
    if apart.min() > NEAR:
        return None
    if facing <= FACING and (not _half_near(one, other, NEAR) or _overlap(one, other) < LEAST_SHARE):
        return None
    return ModelMiss(one.body, other.body, _place(one, other), float(apart.min()), facing)


def _touching(shells: Sequence[Shell], ends: Sequence[EndFace], joints: Sequence[ModelJoint]) -> list[Touching]:
    """Bodies that lie on one another with flat faces, but for those that share a joint."""
    if len(shells) < 2:
        return []
    joined = {(min(j.first, j.second), max(j.first, j.second)) for j in joints}
    low, high = np.array([s.low for s in shells]), np.array([s.high for s in shells])
    known: dict[int, list[EndFace]] = {}
    flat: dict[int, list[EndFace]] = {}
    for end in ends:
        if end.flat:
            flat.setdefault(end.body, []).append(end)
    found = []
    for i, j in overlapping_pairs(low, high, TOUCH).tolist():
        if (i, j) in joined:
            continue
        for k in (i, j):
            if k not in known:
                known[k] = [*flat.get(k, []), *_flats(facets(shells[k]), k)]
        best = 0.0
        place = (0.0, 0.0, 0.0)
        for one in known[i]:
            for other in known[j]:
                if one.normal @ other.normal > -0.9999 or abs((other.center - one.center) @ one.normal) > TOUCH:
                    continue
                share = _overlap(one, other) * min(one.area, other.area)
                if share > best:
                    best, place = share, _place(one, other)
        if best > 0.01 * min(shells[i].area, shells[j].area) or best > 100:
            found.append(Touching(i, j, place, best))
    return found


def _flats(f: Facets, body: int) -> list[EndFace]:
    """The largest flat faces of a body."""
    areas = f.faces.areas
    label = f.regions(np.ones(len(areas), dtype=bool), FLAT)
    sizes = np.bincount(label, weights=areas)
    largest = [int(i) for i in np.argsort(-sizes)[:SIDES] if sizes[i] > 0.005 * areas.sum()]
    return [end for i in largest if (end := face(f, label == i, body)).flat]
