"""A build-up seen from straight before it: its foremost contour, and the heights at which that has an arris."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from preview.profiles import Profile, flatten

CHORD = 0.002
"""mm that the flattened contour may stray from the true one."""
BEND = math.radians(12)
"""A contour that bends by more has an arris there."""
JUMP = 0.02
"""mm; a contour that jumps out or in by more has an arris there."""
LEAST = 1e-6


@dataclass(frozen=True)
class Strip:
    """A straight bit of the contour, from its foot up: (d, h) mm at both ends, and the number of its profile."""

    foot: tuple[float, float]
    top: tuple[float, float]
    owner: int


@dataclass(frozen=True)
class Arris:
    """A height at which the front shows a line: how far out it is, mm, and whose profile it is on.

    outline: whether nothing is above, or nothing below.
    """

    d: float
    h: float
    owner: int
    outline: bool


@dataclass(frozen=True)
class Front:
    """The foremost contour, from its foot up, and its arrises in that order."""

    strips: tuple[Strip, ...]
    arrises: tuple[Arris, ...]

    def rows(self) -> list[list[tuple[float, float, int]]]:
        """The contour as unbroken rows of (d, h, owner): more than one where there is a gap in height."""
        found: list[list[tuple[float, float, int]]] = []
        for strip in self.strips:
            if not found or strip.foot[1] - found[-1][-1][1] > LEAST:
                found.append([])
            found[-1] += [(*strip.foot, strip.owner), (*strip.top, strip.owner)]
        return found

    def reach(self, h: float) -> float:
        """How far out, mm, the front stands at a height; at an arris the further side counts."""
        found = [0.0]
        for strip in self.strips:
            (d0, h0), (d1, h1) = strip.foot, strip.top
            if h0 - LEAST <= h <= h1 + LEAST:
                share = min(max((h - h0) / max(h1 - h0, LEAST), 0.0), 1.0)
                found.append(d0 + share * (d1 - d0))
        return max(found)


def front_of(profiles: Sequence[Profile]) -> Front:
    """The front of profiles in their places, (d, h) mm."""
    rows = []
    for owner, profile in enumerate(profiles):
        outline = flatten(profile, CHORD).points
        rows.append(np.column_stack([outline, np.roll(outline, -1, axis=0), np.full(len(outline), float(owner))]))
    sides = np.concatenate(rows)
    heights = np.unique(np.round(sides[:, 1], 9))
    sides = sides[np.abs(sides[:, 3] - sides[:, 1]) > 1e-9]
    strips: list[Strip] = []
    for low, high in pairwise(heights.tolist()):
        if high - low < LEAST:
            continue
        middle = (low + high) / 2
        mine = sides[(np.minimum(sides[:, 1], sides[:, 3]) < middle) & (np.maximum(sides[:, 1], sides[:, 3]) > middle)]
        if not len(mine):
            continue
        slope = (mine[:, 2] - mine[:, 0]) / (mine[:, 3] - mine[:, 1])
        best = int(np.argmax(mine[:, 0] + slope * (middle - mine[:, 1])))
        at = [float(mine[best, 0] + slope[best] * (h - mine[best, 1])) for h in (low, high)]
        strips.append(Strip((at[0], low), (at[1], high), int(mine[best, 4])))
    return Front(tuple(strips), tuple(_arrises(strips)))


def _arrises(strips: Sequence[Strip]) -> list[Arris]:
    first, last = strips[0], strips[-1]
    found = [Arris(first.foot[0], first.foot[1], first.owner, True)]
    for below, above in pairwise(strips):
        gap = above.foot[1] - below.top[1] > LEAST
        if gap:
            found.append(Arris(below.top[0], below.top[1], below.owner, True))
            found.append(Arris(above.foot[0], above.foot[1], above.owner, True))
            continue
        bend = abs(math.remainder(_lean(above) - _lean(below), 2 * math.pi))
        if below.owner != above.owner or abs(above.foot[0] - below.top[0]) > JUMP or bend > BEND:
            outer = max((below.top[0], below.owner), (above.foot[0], above.owner))
            found.append(Arris(outer[0], above.foot[1], outer[1], False))
    return [*found, Arris(last.top[0], last.top[1], last.owner, True)]


def _lean(strip: Strip) -> float:
    return math.atan2(strip.top[0] - strip.foot[0], strip.top[1] - strip.foot[1])
