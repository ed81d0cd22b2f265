"""The best filling of a stick against every filling there is; what is dropped from a short list is owned up to."""

from __future__ import annotations

import random
from itertools import product

import pytest

from preview.sticks.cutting import Cutting
from preview.sticks.filling import best_fillings, fillings
from preview.sticks.fitting import best_fit
from preview.sticks.neighbors import gathered, together


def worth_most(values: list[float], sizes: list[int], counts: list[int], room: int) -> float:
    """The most that a room can hold, every way tried."""
    every = product(*(range(count + 1) for count in counts))
    held = [ways for ways in every if sum(n * size for n, size in zip(ways, sizes, strict=True)) <= room]
    return max(sum(n * value for n, value in zip(ways, values, strict=True)) for ways in held)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("kept", [1, 2, 3, 5, 1000])
def test_no_filling_is_worth_more_than_is_said(seed: int, kept: int) -> None:
    chance = random.Random(seed)
    sizes = chance.sample(range(5, 60), 5)
    values = [round(size * chance.uniform(0.8, 1.2) / 100, 3) for size in sizes]
    counts = [chance.randint(1, 3) for _ in sizes]
    rooms = [chance.randint(40, 70), chance.randint(71, 120)]
    for room, found in zip(rooms, best_fillings(values, sizes, counts, rooms, [0.0, 0.0], kept), strict=True):
        true = worth_most(values, sizes, counts, room)
        assert found.counts is not None
        assert sum(n * size for n, size in zip(found.counts, sizes, strict=True)) <= room
        assert all(n <= count for n, count in zip(found.counts, counts, strict=True))
        had = sum(n * value for n, value in zip(found.counts, values, strict=True))
        assert had <= true + 1e-9 <= found.most + 2e-9
        if kept == 1000:
            assert had == pytest.approx(true, abs=1e-8)
            assert found.most == pytest.approx(true, abs=1e-8)


@pytest.mark.parametrize("seed", range(6))
def test_every_filling_that_nothing_more_fits_into(seed: int) -> None:
    chance = random.Random(seed)
    sizes = chance.sample(range(5, 40), 4)
    values = [size / 50 for size in sizes]
    counts = [chance.randint(1, 3) for _ in sizes]
    found = fillings(values, sizes, counts, 50, 0.5, 10_000)
    assert found is not None
    expected = set()
    for ways in product(*(range(count + 1) for count in counts)):
        free = 50 - sum(n * size for n, size in zip(ways, sizes, strict=True))
        more = any(n < count and size <= free for n, count, size in zip(ways, counts, sizes, strict=True))
        worth = sum(n * value for n, value in zip(ways, values, strict=True))
        if free >= 0 and not more and any(ways) and worth >= 0.5:
            expected.add(ways)
    assert set(found) == expected
    assert len(found) == len(expected)


def test_neighbors_are_exchanged_between_two_sticks() -> None:
    """Parts 0 and 1 stand beside each other, 2 and 3 as well; given parted, they come together, and stay so."""
    pairs = [(0, 1), (2, 3)]
    apart = ((0, 2), (1, 3))
    found = gathered(apart, [1, 1, 1, 1], [2, 2], pairs, [0, 2, 1, 3])
    assert together(apart, pairs) == 0
    assert {frozenset(stick) for stick in found} == {frozenset({0, 1}), frozenset({2, 3})}
    assert together(gathered(found, [1, 1, 1, 1], [2, 2], pairs, [0, 2, 1, 3]), pairs) == 2


def test_best_fit_uses_a_stick_to_the_last_millionth() -> None:
    """6 + 4 fill 10, and 7 + 3 another: two sticks, whichever kind is preferred, and no third."""
    cutting = Cutting((7, 6, 4, 3), (1, 1, 1, 1), (10,), (10,), (None,))
    found = best_fit(cutting, 0)
    assert found is not None
    assert cutting.cost(found) == 20
    assert best_fit(Cutting((7, 6, 4, 3), (1, 1, 1, 1), (10,), (10,), (2,)), 0) is not None
    assert best_fit(Cutting((7, 6, 4, 3), (1, 1, 1, 1), (10,), (10,), (1,)), 0) is None


def test_more_parts_than_can_be_tried_one_by_one_are_exchanged_in_rows() -> None:
    """Fourteen in a row, the last of them parted from its neighbor: it moves to the stick that has room for it."""
    pairs = [(i, i + 1) for i in range(13)]
    given = ((0, 1, 2, 3, 4, 5, 13), (6, 7, 8, 9, 10, 11, 12))
    scattered = [*range(0, 14, 2), *range(1, 14, 2)]
    found = gathered(given, [1] * 14, [7, 8], pairs, scattered)
    assert together(given, pairs) == 11
    assert [set(stick) for stick in found] == [set(range(6)), set(range(6, 14))]
