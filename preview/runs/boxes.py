"""Which boxes overlap: the broad search shared by whoever then compares pairs exactly."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from preview import limits

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def overlapping_pairs(low: Floats, high: Floats, margin: float = 0.0) -> Ints:
    """The pairs (i < j) of axis-aligned boxes that overlap or come within `margin` of each other.

    low, high: (n, k) corners, any number of axes. Returns (m, 2). Boxes are sorted along their most spread-out
    axis and only those that overlap there are compared, so a long row of pieces costs little more than its length.
    Raises PreviewError for more pairs than the limit, which things that all lie in one place soon have.
    """
    count = len(low)
    if count < 2:
        return np.empty((0, 2), dtype=np.int64)
    axis = int(np.argmax(np.ptp(low, axis=0)))
    order = np.argsort(low[:, axis], kind="stable")
    first = low[order, axis]
    # For each box in order, the boxes that start before it stops.
    stop = np.searchsorted(first, high[order, axis] + margin, side="right")
    runs = np.maximum(stop - np.arange(count) - 1, 0)
    pairs: list[Ints] = []
    many = 0
    block = max(1, 4_000_000 // max(1, int(runs.max(initial=1))))
    for begin in range(0, count, block):
        part = runs[begin : begin + block]
        left = np.repeat(np.arange(begin, begin + len(part)), part)
        offset = np.arange(len(left)) - np.repeat(np.cumsum(part) - part, part)
        a, b = order[left], order[left + 1 + offset]
        meets = ((low[a] <= high[b] + margin) & (low[b] <= high[a] + margin)).all(axis=1)
        many += int(meets.sum())
        limits.NEAR.refuse(many, "this", "split it")
        pairs.append(np.sort(np.column_stack([a[meets], b[meets]]), axis=1))
    found = np.concatenate(pairs)
    return found[np.lexsort((found[:, 1], found[:, 0]))]
