"""Column generation: the patterns that a cheap layout is made of, and a bound that no layout goes below.

The patterns of a layout are the columns of a linear programme that covers the counts of all sizes at the least cost
(Gilmore and Gomory 1961, 1963). It starts with a few; its prices of the sizes show which further filling of a stick
would better it. The same prices bound every layout from below: a stick holds no more worth than its best filling, and
where that is more than the stick costs, the prices are scaled down until it is not (Farley 1990). Sources from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from preview.sticks.cutting import Cutting, Pattern
from preview.sticks.filling import best_fillings
from preview.sticks.programme import Programme
from preview.sticks.spread import spread

MOST_KEPT = 4_000
"""Part fillings in the list of a knapsack."""
ROUNDS, FEWEST_ROUNDS = 18_000, 40
"""Rounds of prices and new columns, times the number of sizes; so that a layout takes a second or two at most."""
AT_ONCE = 100
"""New columns of a round."""
FEW, OFTEN = 10, 10
"""So few new columns, or so many rounds, and the bound is looked at."""
NOISE = 1e-7


@dataclass(frozen=True)
class Prices:
    """What one part of each size is worth, and one stick more of each kind (0 or less); the dearest stick costs 1.

    No filling of a stick is worth more than the stick costs, less what one more of its kind is worth. bound: what these
    prices show that every layout costs at least, in the units of the cutting.
    """

    parts: tuple[float, ...]
    more: tuple[float, ...]
    bound: float


def generated(programme: Programme, enough: int) -> Prices:
    """The prices with the highest bound, after adding the columns that they ask for to the programme.

    It ends when no column is missing, when the bound is as high as it can become, or at a cost that is `enough`.
    """
    cutting = programme.cutting
    best = Prices((0.0,) * len(cutting.sizes), (0.0,) * len(cutting.rooms), 0.0)
    standing_in = True
    rounds = max(FEWEST_ROUNDS, ROUNDS // len(cutting.sizes))
    for number in range(1, rounds + 1):
        if not programme.solve():
            break
        (parts, more), cost = programme.prices(), programme.cost
        worths = [cost - low for cost, low in zip(_costs(cutting), more, strict=True)]
        new = programme.add(spread(cutting, parts, worths, AT_ONCE))
        if new >= FEW and number % OFTEN and number != rounds:
            continue
        prices, columns = _held(cutting, parts, more)
        best = max(best, prices, key=lambda each: each.bound)
        new += programme.add(columns)
        if cutting.raised(best.bound) >= enough:
            break
        if not new or cutting.raised(cost) <= cutting.raised(best.bound):
            if not standing_in:
                break
            programme.alone()
            standing_in = False
    return best


def _costs(cutting: Cutting) -> list[float]:
    top = max(cutting.costs) or 1
    return [cost / top for cost in cutting.costs]


def _held(cutting: Cutting, parts: Sequence[float], more: Sequence[float]) -> tuple[Prices, list[Pattern]]:
    """The prices, scaled so that no filling is worth more than its stick, and the fillings that were."""
    costs = _costs(cutting)
    worths = [cost - low + NOISE for cost, low in zip(costs, more, strict=True)]
    found = best_fillings(parts, cutting.sizes, cutting.counts, cutting.rooms, worths, MOST_KEPT)
    columns = [Pattern(kind, each.counts) for kind, each in enumerate(found) if each.counts is not None]
    any_number = [(cost, each.most) for cost, each, n in zip(costs, found, cutting.have, strict=True) if n is None]
    scale = min((cost / most for cost, most in any_number if most > cost), default=1.0)
    low = [
        0.0 if have is None else min(0.0, cost - scale * each.most)
        for cost, each, have in zip(costs, found, cutting.have, strict=True)
    ]
    bound = scale * sum(price * count for price, count in zip(parts, cutting.counts, strict=True))
    bound += sum(each * (have or 0) for each, have in zip(low, cutting.have, strict=True))
    return Prices(tuple(scale * price for price in parts), tuple(low), bound * (max(cutting.costs) or 1)), columns
