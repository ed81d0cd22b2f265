"""A stock layout in whole numbers: sizes with their counts, the kinds of stick, and ways to fill one."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property


@dataclass(frozen=True)
class Pattern:
    """A way to fill one stick: its kind, and how many of each size are cut from it."""

    kind: int
    counts: tuple[int, ...]


Filled = tuple[Pattern, ...]
"""One pattern for each stick: a whole layout, names aside."""


@dataclass(frozen=True)
class Cutting:
    """Parts by size, the largest first, and kinds of stick, all in whole numbers.

    sizes: with one kerf each. counts: how many of each are wanted. rooms: what a stick of each kind holds, with one
    kerf more than its good wood, as the last part may need none. costs: of a stick of each kind. have: how many there
    are, None for any number.
    """

    sizes: tuple[int, ...]
    counts: tuple[int, ...]
    rooms: tuple[int, ...]
    costs: tuple[int, ...]
    have: tuple[int | None, ...]

    @cached_property
    def step(self) -> int:
        """What every possible cost is a multiple of."""
        return math.gcd(*self.costs) or 1

    @property
    def kinds(self) -> range:
        return range(len(self.rooms))

    def rest(self, left: Sequence[int]) -> Cutting:
        """The same sizes, of which so many are still wanted."""
        return replace(self, counts=tuple(left))

    def size(self, counts: Sequence[int]) -> int:
        """The room that parts take."""
        return sum(size * count for size, count in zip(self.sizes, counts, strict=True))

    def cost(self, filled: Iterable[Pattern]) -> int:
        """What the sticks of a layout cost."""
        return sum(self.costs[pattern.kind] for pattern in filled)

    def raised(self, bound: float) -> int:
        """The least possible cost that is not below a bound; the bound may be too high by the noise of its sums."""
        steps = bound / self.step
        return max(0, math.ceil(steps - max(1e-6, 1e-9 * steps))) * self.step

    def above(self, cost: float) -> int:
        """The least possible cost that is more than this, where this may be too low by the noise of its sums."""
        return (math.floor(cost / self.step + 1e-3) + 1) * self.step

    def least(self) -> int:
        """A bound from the sizes alone: every stick at the price of the best, filled without a gap."""
        rate = min(cost / room for cost, room in zip(self.costs, self.rooms, strict=True))
        return self.raised(rate * self.size(self.counts))


def raster(cutting: Cutting, most: int) -> tuple[list[int], list[int]]:
    """Sizes and rooms on a grid of at most so many steps, rounded up and down: what fits there fits.

    Where sizes are multiples of a length, such as 1/16 in, the grid is made of that, and nothing is lost by it.
    """
    step = max(-(-max(cutting.rooms) // most), 1)
    common = math.gcd(*cutting.sizes)
    step = common if common > step else step
    return [-(-size // step) for size in cutting.sizes], [room // step for room in cutting.rooms]


def cheapest(cutting: Cutting, filled: Iterable[Pattern]) -> Filled:
    """The same ways to fill, each on the cheapest stick that holds it and can still be had; the fullest first."""
    left: dict[int, float] = {kind: math.inf if (n := cutting.have[kind]) is None else n for kind in cutting.kinds}
    patterns = sorted(filled, key=lambda each: (-cutting.size(each.counts), each.counts, each.kind))
    held = Counter(pattern.kind for pattern in patterns)
    found = []
    for pattern in patterns:
        held[pattern.kind] -= 1  # what the others hold now stays theirs
        size = cutting.size(pattern.counts)
        fits = [k for k in cutting.kinds if cutting.rooms[k] >= size and left[k] - held[k] > 0]
        kind = min(fits, key=lambda k: (cutting.costs[k], k != pattern.kind, cutting.rooms[k]))
        left[kind] -= 1
        found.append(Pattern(kind, pattern.counts))
    return tuple(found)


def exactly(cutting: Cutting, patterns: Mapping[Pattern, int]) -> Filled:
    """A layout from patterns that together cut each size often enough: what is cut too often is left out."""
    over = [-count for count in cutting.counts]
    for pattern, times in patterns.items():
        over = [each + times * count for each, count in zip(over, pattern.counts, strict=True)]
    if min(over, default=0) < 0:
        raise ValueError("these patterns leave parts out")
    found = []
    for pattern, times in patterns.items():
        for _ in range(times):
            spare = [min(count, more) for count, more in zip(pattern.counts, over, strict=True)]
            over = [more - each for more, each in zip(over, spare, strict=True)]
            counts = tuple(count - each for count, each in zip(pattern.counts, spare, strict=True))
            if any(counts):
                found.append(Pattern(pattern.kind, counts))
    return tuple(found)
