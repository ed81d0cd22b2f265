"""Ends that follow a face: the cope, and the return worked on a piece's own end.

f(h) is how far out a face stands at height h: the outermost point of the placed profile. A piece that ends on such a
face stops, measured along its own back line from the joint, at

    s(d, h)  =  per_face f(h)  +  per_out d

Cope, at an inside corner that turns by phi: a point of the coped piece, s along its wall and d out from it, lies
s sin(phi) + d cos(phi) out from the other wall. It stops where that is f(h), so s = f(h)/sin(phi) - d cot(phi), the
other way round where the coped piece ends at the corner. Its visible line, d = f(h), is that of the miter:
s = d (1 - cos(phi))/sin(phi) = d tan(phi/2). The other piece runs on to the wall.

Self-return: the end is worked to the piece's own profile, s = f(h), square to the wall: outside it looks like a
mitered return.

In both, s = constant + per_face f on any level line, and per_face² = 1 + per_out²: a round of the face is a round
cylinder of the cut as well.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Literal

import numpy as np

from preview.joinery.bands import EVEN, Ints, merged, out_at, rising_parts
from preview.joinery.joint import Floats, Vec3
from preview.profiles import Arc, Edge, Profile, measure
from preview.units import cos_sin

Limit = Literal["below", "above"]
"""Which of the two values is meant at a height where a face jumps."""

JUMP = 1e-9
"""A smaller step of the face, mm, is none."""
NODES = 16
GRADES = 36
"""Panels toward each end of an interval, each half as long as the one before: a circle turns back there like a root."""
SAMPLES = 129


@dataclass(frozen=True)
class FaceLine:
    """How far out a face stands at each height, exactly.

    breaks (k + 1): ascending heights, mm. edges (k): the outermost edge between two of them, rising. Below and above
    the profile there is the wall: 0.
    """

    breaks: tuple[float, ...]
    edges: tuple[Edge, ...]

    def at(self, h: Floats, side: Limit = "below") -> Floats:
        """How far out, mm, the face stands at heights (n,); at a jump, as it is just below or just above."""
        h, place = self._place(h, side)
        found = np.zeros(h.shape)
        for i in np.unique(place[(place >= 0) & (place < len(self.edges))]).tolist():
            here = place == i
            found[here] = out_at(self.edges[i], h[here])
        return found

    def tangents(self, h: Floats, side: Limit = "below") -> Floats:
        """The unit directions (n, 2), upward in (d, h), in which the face runs at heights (n,)."""
        h, place = self._place(h, side)
        found = np.tile([0.0, 1.0], (*h.shape, 1))
        for i in np.unique(place[(place >= 0) & (place < len(self.edges))]).tolist():
            here, edge = place == i, self.edges[i]
            if isinstance(edge, Arc):
                (cx, cy), turn = edge.center, math.copysign(1.0 / edge.radius, edge.sweep)
                across = out_at(edge, h[here]) - cx
                found[here] = turn * np.column_stack([cy - h[here], across])
            else:
                found[here] = edge.tangent(0.0)
        return found

    def edge_at(self, h: float) -> Edge | None:
        """The outermost edge at a height; None where there is only the wall."""
        place = int(np.searchsorted(self._breaks, h, side="right")) - 1
        return self.edges[place] if 0 <= place < len(self.edges) else None

    @property
    def most(self) -> float:
        """How far out, mm, the face stands at most."""
        return max(edge.bounds[2] for edge in self.edges)

    @cached_property
    def jumps(self) -> tuple[float, ...]:
        """The heights at which the face jumps: level fillets, overhanging lips, and its foot and top."""
        steps = np.abs(self.at(self._breaks, "above") - self.at(self._breaks, "below"))
        return tuple(self._breaks[steps > JUMP].tolist())

    @cached_property
    def _breaks(self) -> Floats:
        return np.array(self.breaks)

    def _place(self, h: Floats, side: Limit) -> tuple[Floats, Ints]:
        """Heights put on the break they are at but for rounding, and the number of the edge for each."""
        h = np.asarray(h, dtype=np.float64)
        breaks = self._breaks
        if not len(breaks):
            return h, np.full(h.shape, -1)
        after = np.clip(np.searchsorted(breaks, h), 1, len(breaks) - 1)
        nearest = np.where(h - breaks[after - 1] < breaks[after] - h, breaks[after - 1], breaks[after])
        h = np.where(np.abs(nearest - h) <= EVEN, nearest, h)
        return h, np.searchsorted(breaks, h, side="left" if side == "below" else "right") - 1


WALL = FaceLine((), ())
"""The bare wall: no face at any height."""


@dataclass(frozen=True)
class HiddenFace:
    """A stretch of the face that lies behind the outermost one, as under a lip: where, and how deep at most, mm."""

    low: float
    high: float
    depth: float


def face_line(profile: Profile) -> FaceLine:
    """The outermost line of a placed profile."""
    parts = [part for edge in profile.edges for part in rising_parts(edge)]
    rising = [part for part in parts if part.end[1] - part.start[1] > EVEN]
    levels = merged(h for part in parts for h in (part.start[1], part.end[1]))
    breaks: list[float] = []
    edges: list[Edge] = []
    for low, high in pairwise(levels.tolist()):
        edge = _outermost(rising, low, high)
        if not edges or edge is not edges[-1]:
            breaks.append(low)
            edges.append(edge)
    return FaceLine((*breaks, float(levels[-1])), tuple(edges))


def hidden(profile: Profile) -> tuple[HiddenFace, ...]:
    """The parts of a face that no straight saw cut across the piece can follow; none on most profiles.

    A coped piece touches the other only on its outermost face: over these parts it leaves a hollow. The back is not
    looked at. Depths are sampled.
    """
    least = min(edge.bounds[0] for edge in profile.edges)
    back = next((i for i, edge in enumerate(profile.edges) if i and edge.start[0] <= least + JUMP), len(profile.edges))
    line = face_line(profile)
    levels = merged(h for edge in profile.edges for part in rising_parts(edge) for h in (part.start[1], part.end[1]))
    found: list[HiddenFace] = []
    ended = True
    for part in (part for edge in profile.edges[:back] for part in rising_parts(edge)):
        inside = levels[(levels >= part.start[1] - EVEN) & (levels <= part.end[1] + EVEN)]
        for low, high in pairwise(inside.tolist()):
            h = (low + high) / 2 - (high - low) / 2 * np.cos(np.linspace(0.0, np.pi, SAMPLES))[1:-1]
            depth = float((line.at(h) - out_at(part, h)).max())
            if depth <= JUMP:
                ended = True
            elif ended:
                found.append(HiddenFace(low, high, depth))
                ended = False
            else:
                last = found[-1]
                found[-1] = HiddenFace(min(last.low, low), max(last.high, high), max(last.depth, depth))
    return tuple(found)


@dataclass(frozen=True)
class Faced:
    """Where a straight's profile points stop: per_face f(h) + per_out d + per_up h, mm on along it from the joint.

    A saw's straight cut is one of these on the bare wall. `cope`, `self_return` and `plane_cut` make it.
    """

    face: FaceLine
    per_face: float
    per_out: float
    per_up: float = 0.0

    @property
    def is_plane(self) -> bool:
        """Whether it is a saw's straight cut."""
        return not self.face.edges

    def stations(self, d: Floats, h: Floats, side: Limit = "below") -> Floats:
        """The stations (n,), mm, of points (n,); at a height where the face jumps, just below or just above it."""
        found: Floats = self.per_face * self.face.at(h, side) + self.per_out * d + self.per_up * h
        return found

    def normals(self, h: Floats, side: Limit = "below") -> Floats:
        """The cut's unit normals (n, 3) at heights (n,): (along the travel, out, up), looking along the travel."""
        return self.normals_along(self.face.tangents(h, side))

    def normals_along(self, tangents: Floats) -> Floats:
        """The cut's unit normals (n, 3) where the face runs in these directions (n, 2), upward."""
        out, up = tangents.T
        normal = np.column_stack([up, -self.per_out * up, -self.per_face * out - self.per_up * up])
        unit: Floats = normal / np.linalg.norm(normal, axis=1, keepdims=True)
        return unit


def cope(face: FaceLine, turn: float, *, begins: bool) -> Faced:
    """The cope on another piece's face at an inside corner of `turn` radians; `begins`: the coped piece comes after.

    Raises ValueError for a turn that is no inside corner.
    """
    if not 0.0 < turn < math.pi:
        raise ValueError("a cope stands at an inside corner")
    cos, sin = cos_sin(turn)
    sign = 1.0 if begins else -1.0
    return Faced(face, sign / sin, -sign * cos / sin)


def plane_cut(per_out: float = 0.0, per_up: float = 0.0) -> Faced:
    """A saw's straight cut: square, mitered or scarfed."""
    return Faced(WALL, 0.0, per_out, per_up)


def self_return(face: FaceLine, *, begins: bool) -> Faced:
    """The end of a piece worked to its own profile; `begins`: at its beginning."""
    return Faced(face, -1.0 if begins else 1.0, 0.0)


@dataclass(frozen=True)
class Frame:
    """How a straight lies in space: origin + s travel + d out + h up, mm; three unit vectors square to one another."""

    origin: Vec3
    travel: Vec3
    out: Vec3
    up: Vec3

    @property
    def axes(self) -> Floats:
        """travel, out and up as rows (3, 3)."""
        return np.array([self.travel, self.out, self.up])

    @property
    def mirrored(self) -> bool:
        """Whether the room is on the right of travel."""
        return float(np.linalg.det(self.axes)) < 0.0

    def points(self, s: Floats, d: Floats, h: Floats) -> Floats:
        """The points in space (n, 3)."""
        found: Floats = np.array(self.origin) + np.column_stack([s, d, h]) @ self.axes
        return found


@dataclass(frozen=True)
class FacedStraight:
    """A straight piece with its two cuts, each measured from its joint; begin, end: the joints' stations, mm."""

    profile: Profile
    frame: Frame
    begin: float
    begin_cut: Faced
    end: float
    end_cut: Faced


def faced_volume(straight: FacedStraight) -> float:
    """The volume, mm³, from the exact section."""
    area = measure(straight.profile).area
    ends = faced_integral(straight.profile, straight.end_cut) - faced_integral(straight.profile, straight.begin_cut)
    return area * (straight.end - straight.begin) + ends


def faced_integral(profile: Profile, cut: Faced) -> float:
    """The integral of a cut's stations over the section, mm³.

    The cut is straight along d, so by Green's theorem it is that of d s(d/2, h) dh round the outline, taken by
    Gauss-Legendre between the heights where an edge or the face ends.
    """
    breaks = cut.face.breaks
    x, w = _graded()
    heights: list[Floats] = []
    outs: list[Floats] = []
    weights: list[Floats] = []
    for part in (part for edge in profile.edges for part in rising_parts(edge)):
        low, high = sorted((part.start[1], part.end[1]))
        if high - low <= EVEN:
            continue
        ends = [low, *(h for h in breaks if low + EVEN < h < high - EVEN), high]
        for first, last in pairwise(ends):
            at = first + (last - first) * x
            heights.append(at)
            outs.append(out_at(part, at))
            weights.append(math.copysign(last - first, part.end[1] - part.start[1]) * w)
    # A node close to a jump lies on the inner side of it: the first half of the nodes above, the last half below.
    half = len(x) // 2
    d, h, by = (np.concatenate(each).reshape(-1, 2 * half) for each in (outs, heights, weights))
    total = 0.0
    sides: tuple[tuple[slice, Limit], ...] = ((slice(0, half), "above"), (slice(half, None), "below"))
    for nodes, side in sides:
        at, out = h[:, nodes].ravel(), d[:, nodes].ravel()
        total += float((by[:, nodes].ravel() * out) @ cut.stations(out / 2, at, side))
    return total


def _outermost(rising: list[Edge], low: float, high: float) -> Edge:
    middle = np.array([(low + high) / 2])
    here = [part for part in rising if part.start[1] < middle[0] < part.end[1]]
    return max(here, key=lambda part: float(out_at(part, middle)[0]))


def _graded() -> tuple[Floats, Floats]:
    """Nodes and weights on 0 to 1, in panels that shrink toward both ends: first those of the half near 0."""
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    panels = list(_panels())
    x = np.concatenate([low + (high - low) * (nodes + 1) / 2 for low, high in panels])
    w = np.concatenate([(high - low) * weights / 2 for low, high in panels])
    return np.concatenate([x, 1.0 - x]), np.concatenate([w, w])


def _panels() -> Iterator[tuple[float, float]]:
    yield 0.0, 0.5**GRADES
    for i in range(GRADES, 1, -1):
        yield 0.5**i, 0.5 ** (i - 1)
