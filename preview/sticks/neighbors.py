"""Neighbors on the wall from one stick: parts are exchanged between the sticks of a layout, which all stay the same."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray

MOST_EXCHANGED = 12
"""Parts, or parts that go together, that two sticks are shared out anew at once: every way is tried."""
ROUNDS = 20

Groups = tuple[tuple[int, ...], ...]
"""The parts of each stick, by their place in the list."""
Pairs = Sequence[tuple[int, int]]


def together(groups: Groups, pairs: Pairs) -> int:
    """How many pairs come from one stick."""
    stick = {part: at for at, group in enumerate(groups) for part in group}
    return sum(stick[a] == stick[b] for a, b in pairs)


def gathered(groups: Groups, sizes: Sequence[int], rooms: Sequence[int], pairs: Pairs, order: Sequence[int]) -> Groups:
    """The parts shared out among the same sticks so that more pairs come from one; never fewer than there were.

    rooms: what each stick holds. order: the parts in the order of the wall.
    """
    starts = [groups]
    anew = _row_by_row(sizes, rooms, pairs, order)
    if anew is not None:
        starts.append(anew)
    return max((_exchanged(each, sizes, rooms, pairs) for each in starts), key=lambda each: together(each, pairs))


def _exchanged(groups: Groups, sizes: Sequence[int], rooms: Sequence[int], pairs: Pairs) -> Groups:
    """Two sticks at a time that neighbors are parted between, until nothing is gained."""
    held = [list(group) for group in groups]
    for _ in range(ROUNDS):
        gained = False
        for a, b in pairs:
            stick = {part: at for at, group in enumerate(held) for part in group}
            one, other = stick[a], stick[b]
            shared = one != other and _shared_out(held[one], held[other], sizes, (rooms[one], rooms[other]), pairs)
            if shared:
                held[one], held[other] = shared
                gained = True
        if not gained:
            break
    return tuple(tuple(group) for group in held)


def _shared_out(
    one: list[int], other: list[int], sizes: Sequence[int], rooms: tuple[int, int], pairs: Pairs
) -> tuple[list[int], list[int]] | None:
    """The parts of two sticks shared out so that the most pairs stay together; None where that is no gain."""
    parts = {*one, *other}
    mine = [(a, b) for a, b in pairs if a in parts and b in parts]
    blocks: list[list[int]] = [[part] for part in (*one, *other)]
    if len(blocks) > MOST_EXCHANGED:
        blocks = _joined(one, mine) + _joined(other, mine)
    if len(blocks) > MOST_EXCHANGED:
        return None
    at = {part: i for i, block in enumerate(blocks) for part in block}
    on_other = _ways(len(blocks))
    size = np.array([sum(sizes[part] for part in block) for block in blocks], np.int64)
    load = on_other @ size
    fits = (load <= rooms[1]) & (size.sum() - load <= rooms[0])
    kept = np.zeros(len(load), np.int64)
    for a, b in mine:
        kept += on_other[:, at[a]] == on_other[:, at[b]]
    now = sum((a in one) == (b in one) for a, b in mine)
    best = int(np.where(fits, kept, -1).argmax())
    if kept[best] <= now or not fits[best]:
        return None
    shared: tuple[list[int], list[int]] = ([], [])
    for block, there in zip(blocks, on_other[best], strict=True):
        shared[int(there)].extend(block)
    return shared


@cache
def _ways(count: int) -> NDArray[np.int64]:
    """Every way to send some of so many to the other stick, a row of 0 and 1 each."""
    return (np.arange(1 << count)[:, None] >> np.arange(count)) & 1


def _joined(group: Sequence[int], pairs: Pairs) -> list[list[int]]:
    """The parts of one stick in blocks, neighbors together."""
    block = {part: [part] for part in group}
    for a, b in pairs:
        if a in block and b in block and block[a] is not block[b]:
            block[a].extend(block[b])
            for part in block[b]:
                block[part] = block[a]
    return list({id(each): each for each in block.values()}.values())


def _row_by_row(sizes: Sequence[int], rooms: Sequence[int], pairs: Pairs, order: Sequence[int]) -> Groups | None:
    """Whole rows of neighbors, as long as a stick holds, the longest first into the stick where it leaves the least.

    A row that fits nowhere is parted in two. None where a single part is left over.
    """
    after = set(pairs)
    rows: list[list[int]] = []
    for part in order:
        follows = rows and (rows[-1][-1], part) in after
        if follows and sum(sizes[each] for each in rows[-1]) + sizes[part] <= max(rooms, default=0):
            rows[-1].append(part)
        else:
            rows.append([part])
    free, held = list(rooms), [list[int]() for _ in rooms]
    while rows:
        row = max(rows, key=lambda each: sum(sizes[part] for part in each))
        rows.remove(row)
        size = sum(sizes[part] for part in row)
        stick = min((i for i, room in enumerate(free) if room >= size), key=free.__getitem__, default=None)
        if stick is not None:
            free[stick] -= size
            held[stick] += row
        elif len(row) == 1:
            return None
        else:
            rows += [row[: len(row) // 2], row[len(row) // 2 :]]
    return tuple(tuple(group) for group in held)
