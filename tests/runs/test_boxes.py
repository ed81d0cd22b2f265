"""The broad search for overlapping boxes, against all pairs one by one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.runs import boxes as boxes_module
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


@given(boxes(), st.sampled_from([0.0, 1.0]))
def test_divided_boxes_have_the_same_pairs(drawn: tuple[Floats, Floats], margin: float) -> None:
    """As many boxes as need it are divided by planes, again and again; here as few as two."""
    low, high = drawn
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(boxes_module, "DIVIDED", 0)
        assert overlapping_pairs(low, high, margin).tolist() == all_pairs(low, high, margin)


def test_rods_that_lie_across_each_other_are_compared_with_few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rods side by side along x, and others along y beyond them: on either axis more than half of all pairs overlap."""
    compared = 0
    meeting = boxes_module._meeting

    def counted(low: Floats, high: Floats, pairs: boxes_module.Ints) -> boxes_module.Ints:
        nonlocal compared
        compared += len(pairs)
        return meeting(low, high, pairs)

    monkeypatch.setattr(boxes_module, "_meeting", counted)
    at, far = np.arange(2500.0), np.full(2500, 4000.0)
    rods = np.concatenate([np.column_stack([0 * at, at]), np.column_stack([at, far])])
    size = np.repeat([[2500.0, 1.0], [1.0, 2500.0]], 2500, axis=0)
    assert overlapping_pairs(rods, rods + size).tolist() == [[i, i + 1] for i in range(4999) if i != 2499]
    assert compared < 5000 * 4999 // 2 // 20
