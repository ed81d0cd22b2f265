"""From shares of sticks to whole ones: the surest patterns are cut, and the rest is solved again."""

from __future__ import annotations

from collections.abc import Sequence

from preview.sticks.cutting import Cutting, Filled, Pattern, cheapest
from preview.sticks.fitting import quick
from preview.sticks.programme import Programme
from preview.sticks.spread import spread

AT_ONCE = 50
"""New columns for the rest each time."""
TIMES = 2


def dived(programme: Programme, best: Filled, enough: int, sure: float) -> Filled:
    """A layout that is cheaper than the best known, or that one.

    A pattern of which a share of at least `sure` is used counts as a whole one. It ends where the cost is `enough`.
    """
    cutting = programme.cutting
    left, have, done = list(cutting.counts), list(cutting.have), list[Pattern]()
    top = max(cutting.costs) or 1
    while any(left) and cutting.cost(done) < cutting.cost(best) > enough:
        programme.want(left, have)
        if not programme.solve():
            break
        rest = cutting.rest(left)
        for _ in range(TIMES):
            parts, more = programme.prices()
            worths = [cost / top - low for cost, low in zip(cutting.costs, more, strict=True)]
            if not programme.add(spread(rest, parts, worths, AT_ONCE)) or not programme.solve():
                break
        taken = _taken(cutting, programme, left, have, sure)
        if not taken:
            break
        done += taken
        ending = quick(_without_nothing(cutting, left, have)) if any(left) else ()
        if ending is not None:
            whole = cheapest(cutting, [*done, *_with_nothing(ending, left)])
            best = min(best, whole, key=cutting.cost)
    programme.want(cutting.counts, cutting.have)
    return best


def _taken(
    cutting: Cutting, programme: Programme, left: list[int], have: list[int | None], sure: float
) -> list[Pattern]:
    """The surest patterns, as often as they are used in whole; `left` and `have` are less by them."""
    taken: list[Pattern] = []
    for pattern, share in programme.shares():
        for _ in range(int(share + 1e-6) or 1):
            counts = _fitted(cutting, pattern, left)
            changed = counts != pattern.counts
            if have[pattern.kind] == 0 or not any(counts) or (taken and (changed or share < sure)):
                break
            taken.append(Pattern(pattern.kind, counts))
            for at, count in enumerate(counts):
                left[at] -= count
            there = have[pattern.kind]
            have[pattern.kind] = None if there is None else there - 1
    return taken


def _fitted(cutting: Cutting, pattern: Pattern, left: Sequence[int]) -> tuple[int, ...]:
    """The pattern without what is not wanted any more, filled up with the largest that are."""
    counts = [min(count, there) for count, there in zip(pattern.counts, left, strict=True)]
    room = cutting.rooms[pattern.kind] - cutting.size(counts)
    for at, size in enumerate(cutting.sizes):
        more = min(left[at] - counts[at], room // size)
        counts[at] += more
        room -= more * size
    return tuple(counts)


def _without_nothing(cutting: Cutting, left: Sequence[int], have: Sequence[int | None]) -> Cutting:
    """What is still to be cut, without the sizes of which nothing is."""
    there = [at for at, count in enumerate(left) if count]
    sizes, counts = tuple(cutting.sizes[at] for at in there), tuple(left[at] for at in there)
    return Cutting(sizes, counts, cutting.rooms, cutting.costs, tuple(have))


def _with_nothing(filled: Filled, left: Sequence[int]) -> list[Pattern]:
    """The patterns of such a rest as those of the whole."""
    there = [at for at, count in enumerate(left) if count]
    found = []
    for pattern in filled:
        counts = [0] * len(left)
        for at, count in zip(there, pattern.counts, strict=True):
            counts[at] = count
        found.append(Pattern(pattern.kind, tuple(counts)))
    return found
