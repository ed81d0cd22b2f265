"""Quick layouts, the longest part first: best fit decreasing, and each stick as full as it can be made."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from preview.sticks.cutting import Cutting, Filled, Pattern, cheapest, raster

FINE = 20_000
"""Steps of the grid on which sticks are filled up: a quarter of a millimeter on a stick of 5 m."""


def quick(cutting: Cutting) -> Filled | None:
    """The cheapest of these layouts; None where the sticks that there are do not suffice for any."""
    found = [each for kind in cutting.kinds if (each := best_fit(cutting, kind)) is not None]
    found += [each for kinds in (list(cutting.kinds), *_longest(cutting)) if (each := fullest(cutting, kinds))]
    return min(found, key=cutting.cost, default=None)


def _longest(cutting: Cutting) -> Iterator[list[int]]:
    if len(cutting.rooms) > 1:
        yield [max(cutting.kinds, key=cutting.rooms.__getitem__)]


def best_fit(cutting: Cutting, preferred: int) -> Filled | None:
    """A layout by best fit decreasing: each part into the stick where it leaves the least. None where sticks lack.

    A new stick is of the preferred kind, or else of the shortest that holds the part. In the end each filling moves to
    the cheapest stick that holds it.
    """
    left = list(cutting.have)
    kinds: list[int] = []
    free: list[int] = []
    counts: list[list[int]] = []
    order = sorted(cutting.kinds, key=lambda kind: (kind != preferred, cutting.rooms[kind], cutting.costs[kind]))
    for at, (size, count) in enumerate(zip(cutting.sizes, cutting.counts, strict=True)):
        for _ in range(count):
            stick = min((i for i, each in enumerate(free) if each >= size), key=free.__getitem__, default=None)
            if stick is None:
                kind = next((k for k in order if cutting.rooms[k] >= size and left[k] != 0), None)
                if kind is None:
                    return None
                left[kind] = _one_less(left[kind])
                stick = len(kinds)
                kinds.append(kind)
                free.append(cutting.rooms[kind])
                counts.append([0] * len(cutting.sizes))
            free[stick] -= size
            counts[stick][at] += 1
    return cheapest(cutting, (Pattern(kind, tuple(each)) for kind, each in zip(kinds, counts, strict=True)))


def fullest(cutting: Cutting, kinds: Sequence[int]) -> Filled | None:
    """A layout where each stick takes the longest part left, and with it whatever fills it best.

    kinds: of the sticks, of which each time the one is taken that costs the least for what is on it. None where these
    do not suffice.
    """
    sizes, rooms = raster(cutting, FINE)
    counts, left = list(cutting.counts), list(cutting.have)
    found: list[Pattern] = []
    for first in range(len(sizes)):
        while counts[first]:
            free = {k: room for k in kinds if left[k] != 0 and (room := rooms[k] - sizes[first]) >= 0}
            if not free:
                return None
            counts[first] -= 1
            kind, filled = _filled_up(cutting, sizes, counts, first, free)
            left[kind] = _one_less(left[kind])
            counts = [count - each for count, each in zip(counts, filled, strict=True)]
            filled[first] += 1
            found.append(Pattern(kind, tuple(filled)))
    return cheapest(cutting, found)


def _filled_up(
    cutting: Cutting, sizes: Sequence[int], counts: Sequence[int], first: int, free: dict[int, int]
) -> tuple[int, list[int]]:
    """The kind of stick, and what is cut from its free room beside the first part.

    Which sums of sizes can be reached is kept as the bits of a whole number, the smallest size first.
    """
    within = (1 << max(free.values()) + 1) - 1
    reached, steps = [1], list[int]()
    for at in range(len(sizes) - 1, first - 1, -1):
        for _ in range(min(counts[at], max(free.values()) // sizes[at])):
            reached.append((reached[-1] | reached[-1] << sizes[at]) & within)
            steps.append(at)
    sums = {kind: (reached[-1] & (1 << room + 1) - 1).bit_length() - 1 for kind, room in free.items()}
    kind = min(free, key=lambda k: (cutting.costs[k] / (sizes[first] + sums[k]), k))
    filled, rest = [0] * len(sizes), sums[kind]
    for before, at in zip(reached[-2::-1], reversed(steps), strict=True):
        if not before >> rest & 1:
            filled[at] += 1
            rest -= sizes[at]
    return kind, filled


def _one_less(count: int | None) -> int | None:
    return None if count is None else count - 1
