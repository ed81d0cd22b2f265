"""How a straight lies on the bench with its face up or its back up, and where its outermost face line then runs."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from preview.bench.templates.template import Floats, TemplateLine, affine, chain, polyline
from preview.joinery import Faced, Piece, face_line, out_at
from preview.profiles import Arc, Edge, Line, Point
from preview.runs import IN_PLAN
from preview.shop import spring_of


@dataclass(frozen=True)
class Lay:
    """A straight laid on its back, face up, and seen from above.

         top edge
        .---------     x: along the piece from the joint, as one faces the wall
        |              y: across its back, from (d, h) by the unit direction `up`, above the foot
        `---------
         foot

    side: +1 where the travel runs to the right as one faces the wall, -1 where to the left. spring: the angle of the
    back from the wall, radians, 0 where it stands flat on it.
    """

    side: float
    up: Point
    foot: float
    height: float
    spring: float

    def across(self, d: Floats, h: Floats) -> Floats:
        """How far up the back points (d, h) appear, mm."""
        found: Floats = self.up[0] * d + self.up[1] * h - self.foot
        return found

    def matrix(self, along: float) -> Floats:
        """What turns (d, h) into (x, y) where a point stands `along` mm on for each mm out; without the foot."""
        return np.array([[self.side * along, 0.0], self.up])


def lay_of(piece: Piece) -> Lay:
    """How a straight lies on its back: on the slant of a sprung one, else flat."""
    spring = (spring_of(piece.profile) if piece.stand == IN_PLAN else None) or 0.0
    up = (math.sin(spring), math.cos(spring)) if spring else (0.0, 1.0)
    edges = [affine(edge, np.array([[1.0, 0.0], up]))[0] for edge in piece.profile.edges]
    boxes = np.array([part.bounds for parts in edges for part in parts])
    foot, top = float(boxes[:, 1].min()), float(boxes[:, 3].max())
    return Lay(-float(piece.hand), up, foot, top - foot, spring)


def face_edges(piece: Piece) -> Iterator[Edge]:
    """The outermost line of a profile from its foot up, (d, h), end to end: level where it jumps."""
    line = face_line(piece.profile)
    last: Point | None = None
    for edge, (low, high) in zip(line.edges, pairwise(line.breaks), strict=True):
        part = _between(edge, low, high)
        if last is not None and abs(last[0] - part.start[0]) > 1e-9:
            yield Line(last, part.start)
        yield part
        last = part.end


def on_the_face(lay: Lay, piece: Piece, stations: Callable[[Floats], Floats]) -> TemplateLine:
    """The line in which a cut meets the face, laid flat; stations (n,): how far on it is at projections (n,)."""

    def onto(edge: Edge) -> Callable[[Floats], Floats]:
        def curve(t: Floats) -> Floats:
            d, h = edge.point(t).T
            return np.column_stack([lay.side * stations(d), lay.across(d, h)])

        return curve

    found: list[Edge] = []
    strays = 0.0
    for edge in face_edges(piece):
        if isinstance(edge, Line) and abs(edge.end[0] - edge.start[0]) < 1e-9:
            found += chain(onto(edge)(np.array([0.0, 1.0])))
            continue
        edges, stray = polyline(onto(edge), 0.0, 1.0)
        found += edges
        strays = max(strays, stray)
    return TemplateLine("cut", tuple(found), strays)


def cope_on_face(lay: Lay, piece: Piece, faced: Faced) -> TemplateLine:
    """The line in which a cut that follows a face meets this piece's own face, laid flat."""
    return _mapped(lay, piece, faced.per_face + faced.per_out)


def cope_on_back(lay: Lay, piece: Piece, faced: Faced, back: float) -> TemplateLine:
    """The line in which a cut that follows a face meets the flat back, `back` mm out; seen through the wood."""
    return _mapped(lay, piece, faced.per_face, lay.side * faced.per_out * back)


def _mapped(lay: Lay, piece: Piece, along: float, shift: float = 0.0) -> TemplateLine:
    found: list[Edge] = []
    strays = 0.0
    for edge in face_edges(piece):
        edges, stray = affine(edge, lay.matrix(along), (shift, -lay.foot))
        found += edges
        strays = max(strays, stray)
    return TemplateLine("cut", tuple(found), strays)


def _between(edge: Edge, low: float, high: float) -> Edge:
    """The part of a rising edge between two heights."""
    (first, last) = out_at(edge, np.array([low, high])).tolist()
    start, end = (first, low), (last, high)
    if isinstance(edge, Line):
        return Line(start, end)
    turn = math.copysign(1.0, edge.sweep)
    begun = edge.angle_to(start) if start != edge.start else 0.0
    done = edge.angle_to(end) if end != edge.end else abs(edge.sweep)
    return Arc(start, end, edge.center, turn * (done - begun))
