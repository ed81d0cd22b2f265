"""Many good ways to fill a stick at once: for each size the best filling that it is part of, on a coarse grid."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from preview.sticks.cutting import Cutting, Pattern, raster
from preview.sticks.filling import Floats

COARSE = 6_000
"""Steps of the grid: about 0.8 mm on a stick of 5 m."""
NOISE = 1e-7


def spread(cutting: Cutting, values: Sequence[float], worths: Sequence[float], most: int) -> list[Pattern]:
    """Fillings worth more than `worths` says for their kind of stick, the most worth while first, at most so many.

    values: of one part of each size. Only fillings that fit on the grid are seen, so there may be more.
    """
    sizes, rooms = raster(cutting, COARSE)
    items = [
        at
        for at, (size, count) in enumerate(zip(sizes, cutting.counts, strict=True))
        if values[at] > NOISE and count
        for _ in range(min(count, max(rooms) // size))
    ]
    before, after = _best(items, sizes, values, max(rooms)), _best(items[::-1], sizes, values, max(rooms))[::-1]
    found: list[tuple[float, int, int, int]] = []
    for i, at in enumerate(items):
        if i and items[i - 1] == at:
            continue
        for kind, room in enumerate(rooms):
            free = room - sizes[at]
            if free >= 0:
                both = before[i, : free + 1] + after[i + 1, free::-1]
                split = int(both.argmax())
                gain = float(both[split]) + values[at] - worths[kind]
                if gain > NOISE:
                    found.append((-gain, i, kind, split))
    patterns: dict[Pattern, None] = {}
    for _, i, kind, split in sorted(found):
        counts = [0] * len(sizes)
        counts[items[i]] = 1
        _take(counts, before[i::-1], items[:i][::-1], sizes, split)
        _take(counts, after[i + 1 :], items[i + 1 :], sizes, rooms[kind] - sizes[items[i]] - split)
        patterns[Pattern(kind, tuple(counts))] = None
        if len(patterns) == most:
            break
    return list(patterns)


def _best(items: Sequence[int], sizes: Sequence[int], values: Sequence[float], room: int) -> Floats:
    """Row i: what each room can hold at most of the first i items."""
    best = np.zeros((len(items) + 1, room + 1))
    for i, at in enumerate(items):
        size = sizes[at]
        best[i + 1] = best[i]
        np.maximum(best[i, size:], best[i, :-size] + values[at], out=best[i + 1, size:])
    return best


def _take(counts: list[int], best: Floats, items: Sequence[int], sizes: Sequence[int], room: int) -> None:
    """Count the items with which the first row of `best` reaches what it does; each further row has one item less."""
    for i, at in enumerate(items):
        if best[i, room] != best[i + 1, room]:
            counts[at] += 1
            room -= sizes[at]
