"""The broad search for overlapping boxes, against all pairs one by one."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from preview.runs import overlapping_pairs
from preview.runs.boxes import Floats


def all_pairs(low: Floats, high: Floats, margin: float) -> list[list[int]]:
    return [
        [i, j]
        for i in range(len(low))
        for j in range(i + 1, len(low))
        if all(low[i] <= high[j] + margin) and all(low[j] <= high[i] + margin)
    ]


@st.composite
def boxes(draw: st.DrawFn) -> tuple[Floats, Floats]:
    """Up to 14 boxes of 1 to 3 axes on a coarse grid, so that many touch, many are equal and some are flat."""
    count, axes = draw(st.integers(0, 14)), draw(st.integers(1, 3))
    whole = st.lists(st.integers(-4, 4), min_size=count * axes, max_size=count * axes)
    low = np.array(draw(whole), dtype=np.float64).reshape(count, axes)
    size = np.abs(np.array(draw(whole), dtype=np.float64).reshape(count, axes))
    return low, low + size


@given(boxes(), st.sampled_from([0.0, 0.5, 1.0, 3.0]))
def test_the_pairs_are_those_found_one_by_one(drawn: tuple[Floats, Floats], margin: float) -> None:
    low, high = drawn
    assert overlapping_pairs(low, high, margin).tolist() == all_pairs(low, high, margin)


def test_boxes_that_all_overlap_are_searched_in_blocks() -> None:
    """2,200 boxes make 2.4 million pairs, more than one block holds."""
    low = np.random.default_rng(1).random((2200, 2))
    pairs = overlapping_pairs(low, low + 2.0)
    first, second = np.triu_indices(2200, 1)
    assert np.array_equal(pairs, np.column_stack([first, second]))


def test_a_long_row_finds_its_neighbors() -> None:
    at = np.arange(5000.0)[::-1]
    low = np.column_stack([np.zeros(5000), at])
    assert overlapping_pairs(low, low + 1.0).tolist() == [[i, i + 1] for i in range(4999)]
    assert overlapping_pairs(low, low + 0.75, margin=0.5).tolist() == [[i, i + 1] for i in range(4999)]
    assert not len(overlapping_pairs(low, low + 0.75, margin=0.125))
