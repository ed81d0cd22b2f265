"""The nearest point of a rim: of all its segments where they are few, else of those whose boxes may hold it."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from preview.checks.readers import Floats, Ints

BLOCK = 1_000_000
"""How many pairs of a probe and a segment are held against each other at a time."""
FEW = 65_536
"""Up to this many pairs of a probe and a segment are all compared."""
BOXED = 16
"""Segments to a box."""


class Segments(Protocol):
    """The segments of a rim: their starts and stops (k, 3), mm."""

    @property
    def starts(self) -> Floats: ...

    @property
    def stops(self) -> Floats: ...


def nearest_on_rim(probes: Floats, rim: Segments) -> tuple[Floats, Ints]:
    """The nearest point of a rim to each probe (p, 3), and the segment it lies on (p,), the first of equals."""
    if len(probes) * len(rim.starts) > FEW:
        return _nearest_of_many(probes, rim)
    side = rim.stops - rim.starts
    square = np.einsum("ij,ij->i", side, side)
    square = np.where(square > 0, square, 1.0)
    away = probes[:, None, :] - rim.starts[None]
    t = np.clip(np.einsum("pij,ij->pi", away, side) / square, 0.0, 1.0)
    foot = rim.starts[None] + t[..., None] * side[None]
    off = foot - probes[:, None, :]
    segment = np.argmin(np.einsum("pij,pij->pi", off, off), axis=1)
    return foot[np.arange(len(probes)), segment], segment


def segments_near(probes: Floats, reach: Floats, rim: Segments) -> tuple[Ints, Ints]:
    """All pairs of a probe (p, 3) and a segment that come within `reach` (p,), mm, of each other, and some that do
    not: the index of either, probe after probe."""
    low, high = _boxes(rim)
    away = np.maximum(np.maximum(low - probes[:, None], probes[:, None] - high), 0.0)
    near = np.einsum("pij,pij->pi", away, away) <= (reach**2)[:, None] * (1 + 1e-9)
    segment = np.arange(len(low) * BOXED).reshape(-1, BOXED)
    probe, box = np.nonzero(near)
    probes_, segments = np.repeat(probe, BOXED), segment[box].ravel()
    there = segments < len(rim.starts)
    return probes_[there], segments[there]


def _nearest_of_many(probes: Floats, rim: Segments) -> tuple[Floats, Ints]:
    known = rim.starts[::BOXED]
    feet, segments = [], []
    for part in np.array_split(probes, len(probes) * len(rim.starts) // BLOCK + 1):
        reach = np.full(len(part), np.inf)
        for point in known:
            reach = np.minimum(reach, np.linalg.norm(part - point, axis=1))
        probe, segment = segments_near(part, reach, rim)
        start = rim.starts[segment]
        side = rim.stops[segment] - start
        square = np.einsum("ij,ij->i", side, side)
        along = np.einsum("ij,ij->i", part[probe] - start, side) / np.where(square > 0, square, 1.0)
        foot = start + np.clip(along, 0.0, 1.0)[:, None] * side
        off = foot - part[probe]
        distance = np.einsum("ij,ij->i", off, off)
        first = np.searchsorted(probe, np.arange(len(part)))
        least = np.flatnonzero(distance == np.minimum.reduceat(distance, first)[probe])
        chosen = least[np.searchsorted(probe[least], np.arange(len(part)))]
        feet.append(foot[chosen])
        segments.append(segment[chosen])
    return np.concatenate(feet), np.concatenate(segments)


def _boxes(rim: Segments) -> tuple[Floats, Floats]:
    """The boxes of each so many segments of a rim, in order: their lowest and highest corners (b, 3)."""
    first = np.arange(0, len(rim.starts), BOXED)
    low, high = np.minimum(rim.starts, rim.stops), np.maximum(rim.starts, rim.stops)
    return np.minimum.reduceat(low, first), np.maximum.reduceat(high, first)
