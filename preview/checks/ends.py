"""Which faces of a body are its ends, where it may meet another, found from its triangles alone.

A body is taken as swept (see `travel`): its ends are the faces that its motion runs out of, one at the front and one
at the back, each of one flat or smoothly curved surface with a crease all round. A plain strip slides along its length,
its width and its thickness; unless it is eight times as long as its end is wide, what it meets has to decide, and the
longest where that does not either. A body with no such motion, such as a run made in
one piece round a corner, has an end wherever a flat face's neighbors all run straight away from it, and the wood behind
the face is deeper than the face is wide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from preview.checks.faces import EndFace
from preview.checks.readers import Floats, Ints
from preview.checks.shells import Shell, connected
from preview.checks.travel import Faces, Motion, crossed, fit

LEANS = 0.2
"""Faces that lean out of the motion by less than this (sine) are sides; the sharpest miter (75 degrees) leans 0.26."""
SMOOTH = math.cos(math.radians(25))
CREASE = math.cos(math.radians(10))
FLAT = math.cos(math.radians(1))
SPARE = 0.02
"""How much of a body's surface may be neither side nor end before another motion is sought."""
TOO_MUCH = 0.1
SEEDS = 6
SIMILAR = 0.005
LONG = 8.0
"""A body that travels this many times as far as its end is wide runs lengthwise, whatever it meets."""


@dataclass(frozen=True)
class Facets:
    """A shell's triangles with a normal each; slivers take that of the neighbor across their longest side."""

    shell: Shell
    faces: Faces
    neighbors: Ints

    def alike(self, halves: Ints, cosine: float) -> np.ndarray:
        """Whether the two triangles at each of some half-edges look the same way, within an angle of this cosine."""
        n = self.faces.normals
        return np.asarray(np.einsum("ij,ij->i", n[halves // 3], n[self.neighbors[halves]]) > cosine)

    def regions(self, chosen: np.ndarray, cosine: float) -> Ints:
        """A label (t,) for each chosen triangle by the smooth region that it belongs to; -1 for the others."""
        halves = np.flatnonzero(self.shell.twins > np.arange(len(self.shell.twins)))
        one, other = halves // 3, self.neighbors[halves]
        halves = halves[chosen[one] & chosen[other]]
        halves = halves[self.alike(halves, cosine)]
        label = connected(len(chosen), halves // 3, self.neighbors[halves])
        return np.where(chosen, label, -1)


def facets(shell: Shell) -> Facets:
    """The triangles of a shell with their normals and neighbors (-1: none)."""
    corners = shell.points[shell.triangles]
    sides = np.roll(corners, -1, axis=1) - corners
    square = crossed(sides[:, 0], sides[:, 1])
    double = np.linalg.norm(square, axis=1)
    lengths = np.linalg.norm(sides, axis=2)
    longest = lengths.argmax(axis=1)
    neighbors = np.where(shell.twins < 0, -1, shell.twins // 3)
    normals = square / np.maximum(double, 1e-300)[:, None]
    height = double / np.maximum(lengths.max(axis=1), 1e-300)
    thin = height < 4 * shell.step
    if thin.any() and not thin.all():
        host = np.arange(len(thin))
        across = neighbors.reshape(-1, 3)[np.arange(len(thin)), longest]
        host[thin] = np.where(across[thin] < 0, host[thin], across[thin])
        for _ in range(6):
            host = host[host]
        normals = normals[host]
    middle = shell.points.mean(axis=0)
    size = max(float(np.linalg.norm(shell.points - middle, axis=1).max()), 1e-9)
    return Facets(shell, Faces((corners.mean(axis=1) - middle) / size, normals, double / 2), neighbors)


@dataclass(frozen=True)
class Sweep:
    """One way in which a body may have been swept: the ends that this gives it, and how far it travels, mm."""

    ends: tuple[EndFace, ...]
    travel: float


@dataclass(frozen=True)
class _Guess:
    ends: tuple[np.ndarray, ...]
    spare: float
    travel: float


def sweeps(shell: Shell, body: int) -> list[Sweep]:
    """The ways in which a body may have been swept, the longest first; one of them as a rule.

    Each has two ends, one, or none (a closed ring). Where there are several, what the body meets has to decide; an end
    that several have is one object.
    """
    if len(shell.triangles) < 4 or shell.area <= 0:
        return []
    f = facets(shell)
    guesses = _swept(f)
    known: dict[bytes, EndFace] = {}

    def seen(chosen: np.ndarray) -> EndFace:
        key = chosen.tobytes()
        if key not in known:
            known[key] = face(f, chosen, body)
        return known[key]

    if guesses[0].spare > SPARE:
        local = _local(f)
        if local or guesses[0].spare > TOO_MUCH:
            return [Sweep(tuple(seen(chosen) for chosen in local), 0.0)]
    return [Sweep(tuple(seen(chosen) for chosen in g.ends), g.travel) for g in guesses]


def _swept(f: Facets) -> list[_Guess]:
    """The motions that leave the least of the surface over, the longest first."""
    areas = f.faces.areas
    found: list[_Guess] = []
    for turning in (False, True):
        found.append(_guess(f, fit(f.faces, areas, turning)))
        if found[-1].spare <= SPARE and _is_long(f, found[-1]):
            return found[-1:]
    # The ends of a short piece can outweigh its sides, and a plain one may be swept in several ways: take pairs of
    # faces for its ends and see whether the rest fits.
    served = any(guess.spare <= SPARE for guess in found)
    label = f.regions(np.ones(len(areas), dtype=bool), math.cos(math.radians(12)))
    sizes = np.bincount(label, weights=areas)
    seeds = [int(i) for i in np.argsort(-sizes)[:SEEDS] if sizes[i] > 0.01 * areas.sum()]
    for pair in combinations(seeds, 2):
        rest = np.where((label == pair[0]) | (label == pair[1]), 0.0, areas)
        if rest.sum() <= 0:
            continue
        for turning in (False, True):
            motion = fit(f.faces, rest, turning, rounds=1 if served else 2)
            if served and rest[np.abs(motion.lean(f.faces)) > LEANS].sum() > SPARE * areas.sum():
                continue
            found.append(_guess(f, motion))
            if found[-1].spare <= SPARE:
                break
    least = min(g.spare for g in found)
    good = [guess for guess in found if guess.spare <= least + SIMILAR]
    different = {frozenset(end.tobytes() for end in guess.ends): guess for guess in good}
    return sorted(different.values(), key=lambda guess: -guess.travel)


def _is_long(f: Facets, guess: _Guess) -> bool:
    """Whether a body travels so much further than its ends are wide that no other motion is worth a thought."""
    if not guess.ends:
        return False
    points, t = f.shell.points, f.shell.triangles
    across = max(float(np.linalg.norm(np.ptp(points[t[chosen]].reshape(-1, 3), axis=0))) for chosen in guess.ends)
    return guess.travel > LONG * across


def _guess(f: Facets, motion: Motion) -> _Guess:
    """What a motion makes of a body: its ends, and how much of its surface would be neither side nor end."""
    lean = motion.lean(f.faces)
    areas = f.faces.areas
    ends: list[np.ndarray] = []
    taken = section = 0.0
    for out in (lean > LEANS, lean < -LEANS):
        label = f.regions(out, SMOOTH)
        if not out.any():
            continue
        sizes = np.bincount(label[out], weights=areas[out])
        if not sizes.any():  # slivers alone
            continue
        chosen = label == int(np.argmax(sizes))
        if _creased(f, chosen):
            ends.append(chosen)
            taken += float(areas[chosen].sum())
            section = max(section, float((areas * np.abs(lean))[chosen].sum()))
    spare = float(areas[np.abs(lean) > LEANS].sum()) - taken
    travel = abs(f.shell.volume) / section if section else 0.0
    return _Guess(tuple(ends), spare / float(areas.sum()), travel)


def _creased(f: Facets, chosen: np.ndarray) -> bool:
    """Whether a region is parted from its neighbors by a crease, but for a twentieth of its rim at most."""
    halves = _rim(f, chosen)
    points, t = f.shell.points, f.shell.triangles
    length = np.linalg.norm(points[t[halves // 3, (halves + 1) % 3]] - points[t[halves // 3, halves % 3]], axis=1)
    held = f.neighbors[halves] >= 0
    soft = np.zeros(len(halves), dtype=bool)
    soft[held] = f.alike(halves[held], CREASE)
    return bool(length[soft].sum() <= 0.05 * length.sum())


def _rim(f: Facets, chosen: np.ndarray) -> Ints:
    """The half-edges along the rim of a region."""
    inside = np.flatnonzero(np.repeat(chosen, 3))
    across = f.neighbors[inside]
    return np.asarray(inside[(across < 0) | ~chosen[across]])


def _local(f: Facets) -> list[np.ndarray]:
    """The flat faces whose neighbors run straight away, and behind which the wood is deeper than they are wide."""
    areas, normals = f.faces.areas, f.faces.normals
    label = f.regions(np.ones(len(areas), dtype=bool), FLAT)
    sizes = np.bincount(label, weights=areas)
    found = []
    for region in np.argsort(-sizes)[: 4 * SEEDS]:
        chosen = label == region
        if sizes[region] < 1e-4 * areas.sum():
            break
        halves = _rim(f, chosen)
        halves = halves[f.neighbors[halves] >= 0]
        if not len(halves) or not _creased(f, chosen):
            continue
        t, points = f.shell.triangles, f.shell.points
        side = points[t[halves // 3, (halves + 1) % 3]] - points[t[halves // 3, halves % 3]]
        length = np.linalg.norm(side, axis=1)
        beside = normals[f.neighbors[halves]]
        _, vectors = np.linalg.eigh((beside * length[:, None]).T @ beside)
        way = vectors[:, 0]
        look = (normals * areas[:, None])[chosen].sum(axis=0) / sizes[region]
        straight = length[np.abs(beside @ way) < 0.1].sum() > 0.9 * length.sum()
        wide = float(np.linalg.norm(np.ptp(points[t[chosen]].reshape(-1, 3), axis=0)))
        if straight and abs(way @ look) > LEANS and _depth(f, chosen, way, look) > wide:
            found.append(chosen)
    return found


def _depth(f: Facets, chosen: np.ndarray, way: Floats, look: Floats) -> float:
    """How far, mm, the wood reaches behind the largest triangle of a face, along `way`; 0 when nothing is hit."""
    inward = -way if way @ look > 0 else way
    t, points = f.shell.triangles, f.shell.points
    largest = int(np.argmax(np.where(chosen, f.faces.areas, 0.0)))
    origin = points[t[largest]].mean(axis=0)
    a, b, c = (points[t[~chosen][:, i]] for i in range(3))
    # Where a line meets a triangle: T. Möller and B. Trumbore, J. Graphics Tools 2 (1997) 21.
    one, two = b - a, c - a
    normal = crossed(inward[None], two)
    scale = np.einsum("ij,ij->i", one, normal)
    with np.errstate(divide="ignore", invalid="ignore"):
        u = np.einsum("ij,ij->i", origin - a, normal) / scale
        q = crossed(origin - a, one)
        v = (q @ inward) / scale
        along = np.einsum("ij,ij->i", two, q) / scale
        hit = (u >= 0) & (v >= 0) & (u + v <= 1) & (along > 0)
    return float(along[hit].min()) if hit.any() else 0.0


def face(f: Facets, chosen: np.ndarray, body: int) -> EndFace:
    """Some of a body's triangles (t,) as one face with its rim."""
    shell, areas = f.shell, f.faces.areas
    halves = _rim(f, chosen)
    corner = shell.triangles[halves // 3, halves % 3]
    after = shell.triangles[halves // 3, (halves + 1) % 3]
    starts, stops = shell.points[corner], shell.points[after]
    # As many segments begin at a point as end there; more than one where the rim touches itself.
    following = np.empty(len(halves), dtype=np.int64)
    following[np.argsort(after, kind="stable")] = np.argsort(corner, kind="stable")
    weighted = (f.faces.normals * areas[:, None])[chosen]
    normal = weighted.sum(axis=0)
    normal = normal / max(float(np.linalg.norm(normal)), 1e-300)
    area = float(areas[chosen].sum())
    corners = shell.points[shell.triangles[chosen]]
    center = (corners.mean(axis=1) * areas[chosen][:, None]).sum(axis=0) / area
    off = np.abs((corners.reshape(-1, 3) - center) @ normal).max()
    flat = bool(off <= 4 * shell.step + 1e-5 * math.sqrt(area))
    local = np.tile(normal, (len(halves), 1)) if flat else _smoothed(shell, chosen, weighted, corner, after)
    return EndFace(body, starts, stops, following, local, normal, center, area, flat, shell.step)


def _smoothed(shell: Shell, chosen: np.ndarray, weighted: Floats, corner: Ints, after: Ints) -> Floats:
    """Where a curved face looks along its rim: the mean, by area, of its triangles at both ends of a segment."""
    sums = np.zeros_like(shell.points)
    for i in range(3):
        np.add.at(sums, shell.triangles[chosen][:, i], weighted)
    local = sums[corner] + sums[after]
    return np.asarray(local / np.maximum(np.linalg.norm(local, axis=1), 1e-300)[:, None])
