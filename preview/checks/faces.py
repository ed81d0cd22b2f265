"""A face at which a body may meet another: its rim, its outline, and how much of it lies on another face.

What is worked out of one face by itself is kept with it: a face is held against many others.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from preview.checks.readers import Floats, Ints

if TYPE_CHECKING:
    import manifold3d

TOUCH = 0.05
"""How far apart, mm, what touches may lie."""
COARSER = "export it with coarser facets, or in parts"
"""What helps where a model has too many edges round faces that lie near each other."""
RIGHT = 1.0
"""Corners of a plain block are right within this, degrees."""


@dataclass(frozen=True)
class EndFace:
    """A face at which a body may meet another, with its rim: the profile that it shows there.

    body: the index of its body. starts, stops (k, 3): the rim's segments, mm, the wood on their left seen from
    outside; following (k,): the segment that goes on from each. normals (k, 3): where the face looks at each segment,
    normal where it looks as a whole; center (3,); area mm². flat: whether it is one plane.
    """

    body: int
    starts: Floats
    stops: Floats
    following: Ints
    normals: Floats
    normal: Floats
    center: Floats
    area: float
    flat: bool
    step: float

    @cached_property
    def low(self) -> Floats:
        """The least corner of its box (3,), mm; above the greatest where it has no rim."""
        return np.asarray(self.starts.min(axis=0, initial=np.inf))

    @cached_property
    def high(self) -> Floats:
        """The greatest corner of its box (3,), mm."""
        return np.asarray(self.starts.max(axis=0, initial=-np.inf))

    @cached_property
    def lengths(self) -> Floats:
        """How long each segment of its rim is (k,), mm."""
        return np.asarray(np.linalg.norm(self.stops - self.starts, axis=1))

    @cached_property
    def loops(self) -> list[Floats]:
        """The corners of its rim, loop after loop (n, 3) each; none of two corners."""
        loops, left = [], set(range(len(self.starts)))
        on = self.following.tolist()
        while left:
            i = left.pop()
            loop = [i]
            while (i := on[i]) in left:
                left.discard(i)
                loop.append(i)
            if len(loop) > 2:
                loops.append(self.starts[loop])
        return loops

    @cached_property
    def rectangle(self) -> bool:
        """Whether it is one plane with four right corners."""
        if not self.flat:
            return False
        way = (self.stops - self.starts) / np.maximum(self.lengths, 1e-300)[:, None]
        turn = np.degrees(np.arccos(np.clip(np.einsum("ij,ij->i", way, way[self.following]), -1, 1)))
        corners = turn > RIGHT
        return int(corners.sum()) == 4 and bool((np.abs(turn[corners] - 90) < RIGHT).all())

    @cached_property
    def axes(self) -> Floats:
        """Two directions (3, 2) square to where it looks and to each other."""
        first = np.cross(self.normal, np.eye(3)[int(np.argmin(np.abs(self.normal)))])
        first /= np.linalg.norm(first)
        return np.column_stack([first, np.cross(self.normal, first)])

    @cached_property
    def outline(self) -> manifold3d.CrossSection:
        """Its rim seen straight on, from its center, along its axes."""
        return _seen(self, self)


def facing(one: EndFace, other: EndFace) -> float:
    """The angle, degrees, by which two faces fail to look straight at each other."""
    (ax, ay, az), (bx, by, bz) = one.normal.tolist(), other.normal.tolist()
    sine = math.hypot(ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx)
    return math.degrees(math.atan2(sine, -float(one.normal @ other.normal)))


def overlap(one: EndFace, other: EndFace) -> float:
    """The share of the smaller face's area that lies on the other, both seen along the first one's normal."""
    theirs = _seen(other, one)
    smaller = min(one.outline.area(), theirs.area())
    return float((one.outline ^ theirs).area() / smaller) if smaller > 0 else 0.0


def on_block(one: EndFace, block: EndFace) -> bool:
    """Whether a molded end stands on a plain block: a rectangle that holds all of it is not meant to carry on its
    profile."""
    if one.rectangle or not block.rectangle:
        return False
    return bool((_seen(one, block) - block.outline).area() <= TOUCH * float(one.lengths.sum()))


def _seen(end: EndFace, by: EndFace) -> manifold3d.CrossSection:
    """A face's rim as another looks at it."""
    import manifold3d

    return manifold3d.CrossSection([(loop - by.center) @ by.axes for loop in end.loops], manifold3d.FillRule.EvenOdd)
