"""Which boxes overlap: the broad search shared by whoever then compares pairs exactly."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from preview import limits

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


BLOCK = 4_000_000
"""How many pairs are compared at a time."""
DIVIDED = 2_000_000
"""Where sorting leaves more pairs than this to compare, the boxes are divided first."""


def overlapping_pairs(low: Floats, high: Floats, margin: float = 0.0) -> Ints:
    """The pairs (i < j) of axis-aligned boxes that overlap or come within `margin` of each other.

    low, high: (n, k) corners, any number of axes. Returns (m, 2). Boxes are sorted along the axis that parts them best
    and only those that overlap there are compared, so a long row of pieces costs little more than its length.
    Raises PreviewError for more pairs than the limit, which things that all lie in one place soon have.
    """
    pairs = [np.empty((0, 2), dtype=np.int64)]
    many = 0
    for found in _pairs(low, high + margin, np.arange(len(low))):
        many += len(found)
        limits.NEAR.refuse(many, "this", "split it")
        pairs.append(np.sort(found, axis=1))
    every = np.concatenate(pairs)
    return every[np.lexsort((every[:, 1], every[:, 0]))]


def _pairs(low: Floats, high: Floats, chosen: Ints) -> Iterator[Ints]:
    """The pairs among some of the boxes, each once and in no order, part by part."""
    count = len(chosen)
    if count < 2:
        return
    best: tuple[int, Ints, Ints] | None = None
    for axis in range(low.shape[1]):
        order = chosen[np.argsort(low[chosen, axis], kind="stable")]
        # For each box in order, the boxes that start before it stops.
        stop = np.searchsorted(low[order, axis], high[order, axis], side="right")
        runs = np.maximum(stop - np.arange(count) - 1, 0)
        if best is None or runs.sum() < best[0]:
            best = int(runs.sum()), order, runs
    assert best is not None
    many, order, runs = best
    divided = _divided(low, high, chosen) if many > DIVIDED else None
    if divided is not None:
        first, second = divided
        in_both = np.zeros(len(low), dtype=bool)
        in_both[np.intersect1d(first, second, assume_unique=True)] = True
        yield from _pairs(low, high, first)
        for pairs in _pairs(low, high, second):
            yield pairs[~in_both[pairs].all(axis=1)]
        return
    block = max(1, BLOCK // max(1, int(runs.max(initial=1))))
    for begin in range(0, count, block):
        part = runs[begin : begin + block]
        left = np.repeat(np.arange(begin, begin + len(part)), part)
        offset = np.arange(len(left)) - np.repeat(np.cumsum(part) - part, part)
        yield _meeting(low, high, np.column_stack([order[left], order[left + 1 + offset]]))


def _meeting(low: Floats, high: Floats, pairs: Ints) -> Ints:
    a, b = pairs.T
    return np.asarray(pairs[((low[a] <= high[b]) & (low[b] <= high[a])).all(axis=1)])


def _divided(low: Floats, high: Floats, chosen: Ints) -> tuple[Ints, Ints] | None:
    """The boxes on either side of a plane, those that it cuts in both; None where it would cut too many."""
    best: tuple[Ints, Ints] | None = None
    for axis in range(low.shape[1]):
        middle = float(np.median(low[chosen, axis]))
        parts = chosen[low[chosen, axis] <= middle], chosen[high[chosen, axis] >= middle]
        if max(map(len, parts)) > 0.8 * len(chosen) or sum(map(len, parts)) > 1.25 * len(chosen):
            continue
        if best is None or sum(map(len, parts)) < sum(map(len, best)):
            best = parts
    return best
