"""Flattening: the exact outline of a profile as points, for a mesh."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preview.errors import PreviewError
from preview.profiles.edges import Arc, Floats
from preview.profiles.profile import Profile

FINEST = 1e-6
"""The finest chord tolerance, mm."""
WIDEST_STEP = math.pi / 4
"""No step turns further, however coarse the tolerance, so that a round stays a round."""
ARRIS = math.radians(2)
"""Tangents that differ by more than this make an arris."""
MEET = 1e-9
"""An edge's end closer to a level than this, mm, is on it."""
YIELD = 0.1
"""A plain point of an arc this near to a level's point, in steps, gives way to it."""

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Outline:
    """The flattened outline of a profile: n points, counter-clockwise, the last not repeated.

    points (n, 2): (d, h) in mm. tangent_in, tangent_out (n, 2): unit directions of travel of the exact edges,
    arriving at and leaving each point. arris (n,): whether the two differ by more than 2 degrees.
    along (n + 1,): exact length along the outline from points[0], mm; the last is the perimeter.
    """

    points: Floats
    tangent_in: Floats
    tangent_out: Floats
    arris: Bools
    along: Floats


def flatten(profile: Profile, chord: float, levels: Sequence[float] = ()) -> Outline:
    """The outline of a profile as points, no arc straying from its chords by more than `chord` mm.

    Every point lies on the exact edge, and every end of an edge is a point. Every edge that crosses d = a
    level has a point there whose d equals the level bit for bit; an end of an edge within 1e-9 mm of the
    level is that point, and levels that close to one another count as the least of them. No step turns more
    than 45 degrees. Raises PreviewError for a tolerance that is not a length or is finer than 1e-6 mm.
    """
    if not (math.isfinite(chord) and chord >= FINEST):
        raise PreviewError("", None, f"a chord tolerance of {chord:g} mm is no use", f"use at least {FINEST:g} mm")
    edges = _Edges(profile)
    wanted = np.unique(np.asarray(levels, dtype=np.float64))
    wanted = wanted[np.diff(wanted, prepend=-np.inf) > MEET]
    crossed = edges.crossings(wanted)
    steps = edges.steps(chord, np.bincount(crossed.edge, minlength=len(profile.edges)) > 0)
    edge = np.repeat(np.arange(len(steps)), steps)
    number = np.arange(len(edge)) - np.repeat(np.cumsum(steps) - steps, steps)
    t = number / steps[edge]
    points = edges.points(edge, t)
    starts = number == 0
    if len(wanted):
        _put_ends_on(points, starts, wanted)
        kept = _standing(edge, t, steps, crossed) | starts
        fresh = ~_repeats_an_end(crossed, edges, points, starts)
        edge = np.concatenate([edge[kept], crossed.edge[fresh]])
        t = np.concatenate([t[kept], crossed.t[fresh]])
        points = np.concatenate([points[kept], crossed.point[fresh]])
        order = np.lexsort((t, edge))
        edge, t, points = edge[order], t[order], points[order]
        starts = t == 0.0
    tangent_out = edges.tangents(edge, t)
    tangent_in = tangent_out.copy()
    tangent_in[starts] = np.roll(edges.last_tangent, 1, axis=0)
    cross = tangent_in[:, 0] * tangent_out[:, 1] - tangent_in[:, 1] * tangent_out[:, 0]
    dot = (tangent_in * tangent_out).sum(axis=1)
    before = np.concatenate([[0.0], np.cumsum(edges.length)])
    along = np.append(before[edge] + t * edges.length[edge], before[-1])
    return Outline(points, tangent_in, tangent_out, np.abs(np.arctan2(cross, dot)) > ARRIS, along)


@dataclass(frozen=True)
class _Crossings:
    """Where edges cross levels: the edge (k,), the fraction t (k,) of its length, the point (k, 2)."""

    edge: Ints
    t: Floats
    point: Floats


class _Edges:
    """The edges of a profile side by side in arrays, lines and arcs alike."""

    def __init__(self, profile: Profile) -> None:
        edges = profile.edges
        self.start = np.array([edge.start for edge in edges])
        self.end = np.array([edge.end for edge in edges])
        self.length = np.array([edge.length for edge in edges])
        self.sweep = np.array([edge.sweep if isinstance(edge, Arc) else 0.0 for edge in edges])
        self.center = np.array([edge.center if isinstance(edge, Arc) else edge.start for edge in edges])
        self.bent = self.sweep != 0.0
        self.spoke = self.start - self.center
        self.radius = np.hypot(self.spoke[:, 0], self.spoke[:, 1])
        self.turn = np.sign(self.sweep)
        with np.errstate(divide="ignore", invalid="ignore"):
            ahead = (self.end - self.start) / self.length[:, None]
            beside = self.turn[:, None] * _left(self.spoke) / self.radius[:, None]
            last = self.turn[:, None] * _left(self.end - self.center) / self.radius[:, None]
        self.first_tangent = np.where(self.bent[:, None], beside, ahead)
        self.last_tangent = np.where(self.bent[:, None], last, ahead)

    def steps(self, chord: float, crossed: Bools) -> Ints:
        """How many steps each edge takes."""
        steps = np.ones(len(self.length), dtype=np.int64)
        radius, sweep = self.radius[self.bent], np.abs(self.sweep[self.bent])
        widest = np.minimum(4 * np.arcsin(np.sqrt(np.minimum(chord / (2 * radius), 0.5))), WIDEST_STEP)
        # Where points give way to levels a step may grow at both its ends.
        widest = np.where(crossed[self.bent], widest / (1 + 2 * YIELD), widest)
        steps[self.bent] = np.ceil(sweep / widest - 1e-9)
        return steps

    def points(self, edge: Ints, t: Floats) -> Floats:
        """The points at fractions t of the edges; exact at t = 0."""
        start = self.start[edge]
        points: Floats = start + t[:, None] * (self.end[edge] - start)
        bent = self.bent[edge] & (t > 0.0)
        which = edge[bent]
        points[bent] = self.center[which] + _turned(self.spoke[which], self.sweep[which] * t[bent])
        return points

    def tangents(self, edge: Ints, t: Floats) -> Floats:
        """The unit directions of travel at fractions t of the edges."""
        return _turned(self.first_tangent[edge], self.sweep[edge] * t)

    def crossings(self, levels: Floats) -> _Crossings:
        """Every crossing of an edge with a level, strictly between the edge's ends."""
        if not len(levels):
            return _Crossings(np.empty(0, dtype=np.int64), np.empty(0), np.empty((0, 2)))
        level = levels[None, :]
        d0, d1 = self.start[:, :1], self.end[:, :1]
        edge, which = np.nonzero(~self.bent[:, None] & (np.minimum(d0, d1) < level) & (level < np.maximum(d0, d1)))
        d = levels[which]
        t = (d - self.start[edge, 0]) / (self.end[edge, 0] - self.start[edge, 0])
        h = self.start[edge, 1] + t * (self.end[edge, 1] - self.start[edge, 1])
        found = [(edge, t, np.column_stack([d, h]))]
        away = level - self.center[:, :1]
        edge, which = np.nonzero(self.bent[:, None] & (np.abs(away) < self.radius[:, None]))
        reach = np.sqrt((self.radius[edge] - away[edge, which]) * (self.radius[edge] + away[edge, which]))
        for side in (reach, -reach):
            point = np.column_stack([levels[which], self.center[edge, 1] + side])
            v, u = point - self.center[edge], self.spoke[edge]
            angle = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1)) * self.turn[edge]
            t = np.where(angle < 0.0, angle + 2 * np.pi, angle) / np.abs(self.sweep[edge])
            inside = (t > 0.0) & (t < 1.0)
            found.append((edge[inside], t[inside], point[inside]))
        edges, ts, points = zip(*found, strict=True)
        return _Crossings(np.concatenate(edges), np.concatenate(ts), np.concatenate(points))


def _put_ends_on(points: Floats, starts: Bools, levels: Floats) -> None:
    """Give ends of edges that lie on a level but for rounding the level's own d."""
    d = points[starts, 0]
    nearest = levels[np.argmin(np.abs(d[:, None] - levels[None, :]), axis=1)]
    points[starts, 0] = np.where(np.abs(nearest - d) <= MEET, nearest, d)


def _repeats_an_end(crossed: _Crossings, edges: _Edges, points: Floats, starts: Bools) -> Bools:
    """Which crossings are an end of their edge over again, but for rounding."""
    ends = points[starts]
    # Where an edge runs nearly along a level, an end off by MEET in d is off by this much in h.
    along = edges.end[crossed.edge] - edges.start[crossed.edge]
    near = np.where(
        edges.bent[crossed.edge],
        2 * np.sqrt(2 * edges.radius[crossed.edge] * MEET),
        2 * np.abs(along[:, 1] / np.where(along[:, 0] == 0.0, 1.0, along[:, 0])) * MEET,
    )
    near += MEET
    again = np.zeros(len(crossed.edge), dtype=np.bool_)
    for end in (ends[crossed.edge], ends[(crossed.edge + 1) % len(ends)]):
        beside = np.abs(end[:, 1] - crossed.point[:, 1])
        again |= (end[:, 0] == crossed.point[:, 0]) & (beside < near)
    return again


def _standing(edge: Ints, t: Floats, steps: Ints, crossed: _Crossings) -> Bools:
    """Which plain points keep clear of their edge's crossings by a tenth of a step."""
    # Edge number plus fraction puts all the points of the outline on one scale.
    marks = np.sort(crossed.edge + crossed.t)
    if not len(marks):
        return np.ones(len(t), dtype=np.bool_)
    place = edge + t
    after = np.searchsorted(marks, place)
    clear = np.minimum(
        np.abs(marks[np.minimum(after, len(marks) - 1)] - place),
        np.abs(marks[np.maximum(after - 1, 0)] - place),
    )
    standing: Bools = clear >= YIELD / steps[edge]
    return standing


def _left(vectors: Floats) -> Floats:
    return np.column_stack([-vectors[:, 1], vectors[:, 0]])


def _turned(vectors: Floats, angles: Floats) -> Floats:
    cos, sin = np.cos(angles), np.sin(angles)
    return np.column_stack([vectors[:, 0] * cos - vectors[:, 1] * sin, vectors[:, 0] * sin + vectors[:, 1] * cos])
