"""Regions: areas bounded by lines and arcs, and their exact union, difference and intersection."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from preview.errors import PreviewError
from preview.profiles.contact import first_contact
from preview.profiles.edges import Arc, Edge, Floats
from preview.profiles.moments import area_and_moments
from preview.profiles.pens import Point
from preview.profiles.splitting import SAME, Part, away, middle, split

Loop = tuple[Edge, ...]
THIN = 1e-6
"""A loop that encloses no more than this mean width, mm, is rounding and no area."""


@dataclass(frozen=True)
class Region:
    """An area in mm: loops of edges with the area on the left of the way round.

        .-----------<-----------.
        |   .--->---.           |     So an outline runs counter-clockwise and the hole in it clockwise.
        |   |  hole |  area     |     Loops may touch in single points and never cross. No loops: nothing.
        |   '---<---'           |
        '----------->-----------'

    Build one with `region`, or from others with `union`, `difference` and `intersection`.
    """

    loops: tuple[Loop, ...]

    @property
    def outlines(self) -> tuple[Loop, ...]:
        """The loops round the pieces, the largest first."""
        return tuple(sorted((loop for loop in self.loops if _area(loop) > 0.0), key=_area, reverse=True))

    @property
    def holes(self) -> tuple[Loop, ...]:
        """The loops round the holes, the largest first."""
        return tuple(sorted((loop for loop in self.loops if _area(loop) < 0.0), key=_area))

    @property
    def area(self) -> float:
        """The area, mm², in closed form."""
        return math.fsum(_area(loop) for loop in self.loops)

    @property
    def edges(self) -> tuple[Edge, ...]:
        """The edges of all loops."""
        return tuple(edge for loop in self.loops for edge in loop)

    def holds(self, at: Point) -> bool:
        """Whether a point lies in the area. On an edge either answer may come."""
        return round(_Winding(self.edges).at(at)) > 0


def region(edges: Iterable[Edge]) -> Region:
    """The area in one closed loop of edges, given in order, either way round.

    Raises PreviewError when the loop is open, crosses or touches itself.
    """
    loop = tuple(edges)
    for before, edge in zip((*loop[-1:], *loop[:-1]), loop, strict=True):
        if math.dist(before.end, edge.start) > 1e-9:
            raise PreviewError(
                "",
                None,
                f"the outline is open at {before.end[0]:.2f}, {before.end[1]:.2f} mm",
                "let every edge start where the one before it ends",
            )
    contact = first_contact(loop) if loop else None
    if contact is not None:
        raise PreviewError(
            "",
            None,
            f"the outline {contact.how} at {contact.at[0]:.2f}, {contact.at[1]:.2f} mm",
            "move the edges that meet there apart",
        )
    if loop and _area(loop) < 0.0:
        loop = tuple(edge.reversed() for edge in reversed(loop))
    return Region((loop,) if loop else ())


def union(*regions: Region) -> Region:
    """The area in any of the regions."""
    return combine(regions, any)


def intersection(*regions: Region) -> Region:
    """The area in all of the regions."""
    return combine(regions, all)


def difference(first: Region, *others: Region) -> Region:
    """The area in the first region and in none of the others."""
    return combine((first, *others), lambda held: held[0] and not any(held[1:]))


def combine(regions: Sequence[Region], keep: Callable[[Sequence[bool]], bool]) -> Region:
    """The area of all points for which `keep` holds, given which of the regions hold the point.

    All edges are cut where they meet (`split`), parts that coincide are taken as one, and a part bounds the
    result when `keep` tells its two sides apart. On which side of a part a region lies follows exactly where
    the part is of its own outline, from the direction, and else from the winding number at its middle. So
    edges shared, tangent or touching need no tolerance of their own. Edges stay lines and arcs; one that was
    cut comes back in parts, which `make_profile` joins.
    """
    edges = [edge for each in regions for edge in each.edges]
    owner = [number for number, each in enumerate(regions) for _ in each.edges]
    first = np.searchsorted(owner, range(len(regions)))
    windings = [_Winding(each.edges) for each in regions]
    parts, points = split(edges)
    kept: list[Part] = []
    for group in _coincident(parts):
        lead = group[0]
        at = middle(lead.edge)
        left: list[bool] = []
        right: list[bool] = []
        for number, winding in enumerate(windings):
            own = [part for part in group if owner[part.source] == number]
            round_it = winding.at(at, [part.source - int(first[number]) for part in own])
            net = sum(1 if part.start == lead.start else -1 for part in own)
            left.append(round(round_it + net / 2) > 0)
            right.append(round(round_it - net / 2) > 0)
        inside = keep(left)
        if inside != keep(right):
            kept.append(lead if inside else Part(lead.end, lead.start, lead.edge.reversed(), lead.source))
    loops = (loop for loop in _chained(kept, points) if abs(_area(loop)) > THIN * _around(loop) / 2)
    return Region(tuple(loops))


def _area(loop: Sequence[Edge]) -> float:
    return area_and_moments(loop)[0]


def _around(loop: Sequence[Edge]) -> float:
    return math.fsum(edge.length for edge in loop)


class _Winding:
    """How often a set of closed loops goes round a point."""

    def __init__(self, edges: Sequence[Edge]) -> None:
        self.start = np.array([edge.start for edge in edges]).reshape(-1, 2)
        self.end = np.array([edge.end for edge in edges]).reshape(-1, 2)
        arcs = [(edge.center, edge.radius, math.copysign(1.0, edge.sweep)) for edge in edges if isinstance(edge, Arc)]
        self.arcs = np.array([i for i, edge in enumerate(edges) if isinstance(edge, Arc)], dtype=np.intp)
        self.center = np.array([center for center, _, _ in arcs]).reshape(-1, 2)
        self.radius = np.array([radius for _, radius, _ in arcs])
        self.turn = np.array([turn for _, _, turn in arcs])

    def at(self, at: Point, on: Sequence[int] = ()) -> float:
        """The winding number; where the point lies on the edges numbered `on`, the mean of their two sides."""
        u, v = self.start - at, self.end - at
        # The angle that each edge turns through as seen from the point: its chord's ...
        angle: Floats = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1))
        chord = angle[self.arcs]
        # ... and from inside an arc's circle, never against the arc's own turn.
        inside = np.hypot(*(self.center - at).T) < self.radius
        angle[self.arcs] = np.where(inside, self.turn * np.mod(self.turn * chord, 2 * np.pi), chord)
        for number in on:
            arc = np.flatnonzero(self.arcs == number)
            angle[number] = float(chord[arc[0]] + np.pi * self.turn[arc[0]]) if len(arc) else 0.0
        return float(angle.sum()) / (2 * math.pi)


def _coincident(parts: Iterable[Part]) -> list[list[Part]]:
    """The parts in groups that lie on one another, in either direction."""
    groups: dict[tuple[int, int], list[list[Part]]] = {}
    for part in parts:
        key = (min(part.start, part.end), max(part.start, part.end))
        known = groups.setdefault(key, [])
        for group in known:
            if away(group[0].edge, middle(part.edge)) <= SAME:
                group.append(part)
                break
        else:
            known.append([part])
    return [group for known in groups.values() for group in known]


def _chained(parts: Sequence[Part], points: Sequence[Point]) -> list[Loop]:
    """The loops that parts with the area on their left make. Areas that touch in a point part there."""
    leaving: dict[int, list[Part]] = {}
    for part in parts:
        leaving.setdefault(part.start, []).append(part)
    loops: list[Loop] = []
    for first in parts:
        if first not in leaving.get(first.start, ()):
            continue
        loop: list[Edge] = []
        part = first
        while True:
            leaving[part.start].remove(part)
            loop.append(part.edge)
            ways = leaving.get(part.end, [])
            if part.end == first.start:
                ways = [first, *ways]
            if not ways:
                at = points[part.end]
                raise PreviewError(
                    "",
                    None,
                    f"edges meet too nearly at {at[0]:.3f}, {at[1]:.3f} mm to say which lies in front",
                    "move one of them by a hundredth of a millimeter or more",
                )
            part = _next(part, ways)
            if part is first:
                break
        loops.append(tuple(loop))
    return loops


def _next(arriving: Part, ways: Sequence[Part]) -> Part:
    """The way out of a point that lies first clockwise from the way back, so that the area between is one.

    The ways are compared a little way off, so that those that leave in one direction are told apart by how
    they bend.
    """
    if len(ways) == 1:
        return ways[0]
    back = arriving.edge.reversed()
    off = min(edge.length for edge in (back, *(way.edge for way in ways))) / 8

    def direction(edge: Edge) -> float:
        along, up = (edge.point(off / edge.length) - np.array(edge.start)).tolist()
        return math.atan2(up, along)

    way_back = direction(back)
    return min(ways, key=lambda way: (way_back - direction(way.edge)) % (2 * math.pi))
