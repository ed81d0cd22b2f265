"""The best way to fill one stick, and every way that is worth a look: knapsacks of whole numbers.

Both go through the sizes one by one, those worth most for their room first, and keep a list of part fillings. A filling
is dropped when even the rest of its room, filled without a gap by what is still to come, would not make it worth while.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
NOISE = 1e-9
"""Of sums of values, of which the largest are about 1."""


@dataclass(frozen=True)
class Filling:
    """counts: the best found, None where none is worth more than was asked. most: no filling is worth more."""

    counts: tuple[int, ...] | None
    most: float


@dataclass(frozen=True)
class _Sizes:
    """The sizes that matter, best first. at: their places. takes: how many of each at most. room, worth: sums."""

    at: Ints
    sizes: Ints
    values: Floats
    takes: Ints
    room: Floats
    worth: Floats

    def to_come(self, after: int, free: Ints) -> Floats:
        """What free room can bring at most from the sizes after one."""
        return np.asarray(np.interp(self.room[after] + free, self.room, self.worth) - self.worth[after])


def _sizes(values: Sequence[float], sizes: Sequence[int], counts: Sequence[int], room: int, least: float) -> _Sizes:
    at = np.array([i for i, v in enumerate(values) if v > least and counts[i] and sizes[i] <= room], np.int64)
    size, value = np.array(sizes, np.int64)[at], np.array(values, np.float64)[at]
    order = np.argsort(-value / size, kind="stable")
    at, size, value = at[order], size[order], value[order]
    takes = np.minimum(np.array(counts, np.int64)[at], room // size)
    filled = np.concatenate([[0.0], np.cumsum(takes * size, dtype=np.float64)])
    return _Sizes(at, size, value, takes, filled, np.concatenate([[0.0], np.cumsum(takes * value)]))


def best_fillings(
    values: Sequence[float],
    sizes: Sequence[int],
    counts: Sequence[int],
    rooms: Sequence[int],
    worths: Sequence[float],
    most_kept: int,
) -> list[Filling]:
    """For each room the filling that is worth most, if it is worth more than what `worths` says for that room.

    values: of one part of each size. counts: how many of each there are. most_kept: part fillings in the list; where
    there are more, the least promising are dropped, and `most` says what might have been missed.
    """
    ranked = _sizes(values, sizes, counts, max(rooms), 0.0)
    room, best = np.array(rooms, np.int64)[:, None], np.array(worths, np.float64)
    found: list[tuple[int, ...] | None] = [None] * len(rooms)
    for kind, size in enumerate(rooms):
        first_worth, first = _by_rank(ranked, size, len(sizes))
        if first_worth > best[kind] + NOISE:
            best[kind], found[kind] = first_worth, first
    missed = best.copy()
    used, value = np.zeros(1, np.int64), np.zeros(1)
    trail: list[tuple[Ints, Ints]] = []
    for i, (size, each, takes) in enumerate(zip(ranked.sizes, ranked.values, ranked.takes, strict=True)):
        came, taken = np.divmod(np.arange(len(used) * (takes + 1)), takes + 1)
        used, value = used[came] + taken * size, value[came] + taken * each
        free = room - used
        hope = np.where(free >= 0, value + ranked.to_come(i + 1, np.maximum(free, 0)) - best[:, None], -1.0)
        most = hope.max(axis=0)
        keep = np.flatnonzero(most > NOISE)
        # Of two fillings, one that takes no less room and is worth no more is not needed.
        keep = keep[np.lexsort((-value[keep], used[keep]))]
        keep = keep[value[keep] > np.concatenate([[-1.0], np.maximum.accumulate(value[keep])[:-1]])]
        if len(keep) > most_kept:
            ranks = np.argsort(-most[keep], kind="stable")
            missed = np.maximum(missed, best + hope[:, keep[ranks[most_kept:]]].max(axis=1))
            keep = np.sort(keep[ranks[:most_kept]])
        trail.append((came[keep], taken[keep]))
        if not len(keep):
            break
        used, value, free = used[keep], value[keep], free[:, keep]
        tops = np.where(free >= 0, value, -1.0)
        for kind, top in enumerate(tops.argmax(axis=1)):
            if tops[kind, top] > best[kind] + NOISE:
                best[kind], found[kind] = tops[kind, top], _traced(ranked, trail, int(top), len(sizes))
    return [Filling(each, float(max(b, m))) for each, b, m in zip(found, best, missed, strict=True)]


def _by_rank(ranked: _Sizes, room: int, number: int) -> tuple[float, tuple[int, ...]]:
    """A first filling: as many of each size as fit, the best first."""
    counts, value = [0] * number, 0.0
    for at, size, each, takes in zip(ranked.at, ranked.sizes, ranked.values, ranked.takes, strict=True):
        count = min(int(takes), room // int(size))
        counts[at], room, value = count, room - count * int(size), value + count * float(each)
    return value, tuple(counts)


def _traced(ranked: _Sizes, trail: Sequence[tuple[Ints, Ints]], at: int, number: int) -> tuple[int, ...]:
    """The counts of one of the part fillings of the last list."""
    counts = [0] * number
    for i in reversed(range(len(trail))):
        came, taken = trail[i]
        counts[ranked.at[i]] = int(taken[at])
        at = int(came[at])
    return tuple(counts)


def fillings(
    values: Sequence[float], sizes: Sequence[int], counts: Sequence[int], room: int, worth: float, most: int
) -> list[tuple[int, ...]] | None:
    """Every filling worth at least `worth` into which nothing more fits; None where the list grows beyond `most`."""
    ranked = _sizes(values, sizes, counts, room, -1.0)
    used, value = np.zeros(1, np.int64), np.zeros(1)
    rows = np.zeros((1, len(sizes)), np.int16)
    for i, (at, size, each, takes) in enumerate(zip(ranked.at, ranked.sizes, ranked.values, ranked.takes, strict=True)):
        came, taken = np.divmod(np.arange(len(used) * (takes + 1)), takes + 1)
        used, value = used[came] + taken * size, value[came] + taken * each
        free = room - used
        keep = np.flatnonzero(free >= 0)
        keep = keep[value[keep] + ranked.to_come(i + 1, free[keep]) >= worth - NOISE]
        if len(keep) > most:
            return None
        used, value, rows = used[keep], value[keep], rows[came[keep]]
        rows[:, at] = taken[keep]
    more = (rows < np.array(counts)) & (np.array(sizes) <= (room - used)[:, None])
    return [tuple(int(count) for count in row) for row in rows[~more.any(axis=1)] if row.any()]
