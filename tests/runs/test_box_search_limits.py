"""The search for boxes that overlap: in order, each pair once, few at a time, and no more than are allowed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from preview import limits
from preview.errors import PreviewError
from preview.runs import boxes, overlapping_pairs
from preview.runs.boxes import Floats, Ints


def one_by_one(low: Floats, high: Floats) -> list[list[int]]:
    meets = ((low[:, None] <= high[None]) & (low[None] <= high[:, None])).all(axis=2)
    return np.argwhere(np.triu(meets, 1)).tolist()


def scattered(count: int, axes: int, size: float, seed: int = 3) -> tuple[Floats, Floats]:
    """Boxes on a grid of tenths, so that some only touch."""
    low = np.random.default_rng(seed).integers(0, 100, (count, axes)) / 8
    return low, low + size


@pytest.mark.parametrize("axes", [1, 2, 3])
@pytest.mark.parametrize("divided", [0, boxes.DIVIDED])
@pytest.mark.parametrize("at_a_time", [1, 7, 100, boxes.BLOCK])
def test_however_they_are_searched_the_pairs_are_the_same(
    axes: int, divided: int, at_a_time: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(boxes, "DIVIDED", divided)
    monkeypatch.setattr(boxes, "BLOCK", at_a_time)
    low, high = scattered(70, axes, 1.5)
    wanted = one_by_one(low, high)
    assert len(wanted) > 5
    assert overlapping_pairs(low, high).tolist() == wanted


@pytest.mark.parametrize("at_a_time", [60, 100, 500])
def test_few_pairs_are_compared_at_a_time(at_a_time: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """61 boxes in one place: each box overlaps at most 60 that come after it."""
    asked: list[int] = []
    meeting = boxes._meeting

    def counted(low: Floats, high: Floats, pairs: Ints) -> Ints:
        asked.append(len(pairs))
        return meeting(low, high, pairs)

    monkeypatch.setattr(boxes, "_meeting", counted)
    monkeypatch.setattr(boxes, "BLOCK", at_a_time)
    low, high = scattered(61, 2, 100.0)
    assert len(overlapping_pairs(low, high)) == sum(asked) == 61 * 60 // 2
    assert max(asked) <= at_a_time
    assert len(asked) <= 61 // (at_a_time // 60) + 1


@pytest.mark.parametrize("at_a_time", [8, boxes.BLOCK])
@pytest.mark.parametrize("counts", [(2,), (9,), (5, 5)])
def test_as_many_pairs_as_are_allowed(counts: Sequence[int], at_a_time: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """So many boxes in one place, and so many in another, far off: n (n - 1) / 2 pairs in each."""
    monkeypatch.setattr(boxes, "BLOCK", at_a_time)
    low = np.repeat(np.arange(len(counts)) * 1000.0, counts)[:, None]
    pairs = sum(count * (count - 1) // 2 for count in counts)
    monkeypatch.setenv(limits.NEAR.variable, str(pairs))
    assert len(overlapping_pairs(low, low + 1.0)) == pairs
    monkeypatch.setenv(limits.NEAR.variable, str(pairs - 1))
    with pytest.raises(PreviewError, match=f"{pairs - 1} is the most"):
        overlapping_pairs(low, low + 1.0)


def test_boxes_that_overlap_in_one_direction_only_do_not_meet() -> None:
    low = np.array([[0.0, 0.0], [0.5, 5.0], [5.0, 5.5], [5.5, 0.5], [0.0, 1.0], [1.0, 0.0]])
    assert overlapping_pairs(low, low + 1.0).tolist() == [[0, 4], [0, 5], [4, 5]]
    assert overlapping_pairs(low, low + 0.9999).tolist() == []
    assert overlapping_pairs(low[:1], low[:1] + 1.0).tolist() == overlapping_pairs(low[:0], low[:0]).tolist() == []
