"""The cheapest layout that can be found, and how far from the least it can be at most."""

from __future__ import annotations

from dataclasses import dataclass

from preview.sticks.columns import Prices, generated
from preview.sticks.cutting import Cutting, Filled, Pattern, cheapest, exactly
from preview.sticks.diving import dived
from preview.sticks.filling import fillings
from preview.sticks.fitting import quick
from preview.sticks.programme import Programme

SURE = (0.6, 0.9, 0.4)
"""Shares of a stick that are taken for a whole one, tried in this order."""
TRIES = 450
"""Of these as many as this, divided by the number of sizes, and one at least."""
MOST_PATTERNS = 8_000
"""Ways to fill a stick among which the cheapest layout is looked for in whole numbers."""
MOST_ENTRIES = 200_000
"""The same, times the number of sizes."""
TIMES = 4
MOST_SIZES = 120
"""With more sizes than this it takes too long to weigh all the ways to fill a stick."""
MOST_NODES = 200
"""Of a search in whole numbers. All is counted and not timed, so that the same parts always get the same layout."""


@dataclass(frozen=True)
class Solved:
    """A layout, the least that any could cost, and how it was found."""

    filled: Filled
    bound: int
    method: str


def solved(cutting: Cutting) -> Solved | None:
    """The cheapest layout found. None where the sticks that there are do not suffice for a first one."""
    best = quick(cutting)
    if best is None:
        return None
    bound = cutting.least()
    if cutting.cost(best) <= bound:
        return Solved(best, bound, "fitting the longest first")
    programme = Programme(cutting, _first(cutting, best))
    prices = generated(programme, cutting.cost(best))
    bound = max(bound, cutting.raised(prices.bound))
    if cutting.cost(best) <= bound:
        return Solved(best, bound, "fitting the longest first")
    for sure in SURE[: max(1, TRIES // len(cutting.sizes))]:
        best = dived(programme, best, bound, sure)
    if cutting.cost(best) <= bound:
        return Solved(best, bound, "column generation")
    if len(cutting.sizes) * len(programme.patterns) <= MOST_ENTRIES:
        best, _ = _in_whole(programme, best, bound)
    for _ in range(TIMES):
        if cutting.cost(best) <= bound or len(cutting.sizes) > MOST_SIZES:
            break
        better, raised = _weighed(cutting, prices, best, bound)
        if raised <= bound and better is best:
            break
        best, bound = better, raised
    return Solved(best, bound, "column generation and whole numbers of its patterns")


def _first(cutting: Cutting, best: Filled) -> list[Pattern]:
    """Columns to begin with: those of a layout, and every size alone on each kind of stick that holds it."""
    found = list(best)
    for at, (size, count) in enumerate(zip(cutting.sizes, cutting.counts, strict=True)):
        for kind in cutting.kinds:
            if size <= cutting.rooms[kind]:
                alone = [0] * len(cutting.sizes)
                alone[at] = min(count, cutting.rooms[kind] // size)
                found.append(Pattern(kind, tuple(alone)))
    return found


def _in_whole(programme: Programme, best: Filled, bound: int) -> tuple[Filled, float]:
    """The cheaper of a layout and the best of the programme's patterns; a bound for all layouts of them."""
    cutting = programme.cutting
    times, least = programme.whole(MOST_NODES, bound)
    if times is None:
        return best, least
    found = cheapest(cutting, exactly(cutting, times))
    return min(best, found, key=cutting.cost), least


def _weighed(cutting: Cutting, prices: Prices, best: Filled, bound: int) -> tuple[Filled, int]:
    """The cheapest layout of all the patterns that matter, or the best known; and the bound that this gives.

    A layout costs at least the bound of the prices, and more by what each of its sticks costs beyond the worth of its
    filling. Patterns beyond what a better layout can afford are left out, and where there are too many, others too.
    """
    beyond = cutting.cost(best) - cutting.step - prices.bound
    for _ in range(TIMES):
        every = _within(cutting, prices, beyond + 0.01 * cutting.step)
        if every is not None:
            better, least = _in_whole(Programme(cutting, every), best, bound)
            # A layout with a pattern that was left out costs more than this.
            others = cutting.above(prices.bound + beyond)
            return better, max(bound, min(cutting.cost(better), others, cutting.raised(least)))
        beyond /= 2
    return best, bound


def _within(cutting: Cutting, prices: Prices, beyond: float) -> list[Pattern] | None:
    """Every pattern that costs at most so much beyond the worth of its filling; None where they are too many."""
    top = max(cutting.costs) or 1
    allowed = min(MOST_PATTERNS, MOST_ENTRIES // len(cutting.sizes))
    found: list[Pattern] = []
    for kind in cutting.kinds:
        worth = (cutting.costs[kind] - beyond) / top - prices.more[kind]
        room, left = cutting.rooms[kind], allowed - len(found)
        each = fillings(prices.parts, cutting.sizes, cutting.counts, room, worth, left)
        if each is None:
            return None
        found += [Pattern(kind, counts) for counts in each]
    return found
