"""A back line that is walked back along itself: no end of either stretch lies inside the other, and still they meet."""

from __future__ import annotations

import math

import pytest

from preview.runs import Element, arc, straight
from preview.runs.crossings import first_crossing

OUT = straight((10.0, 5.0), (1.0, 0.0), 80.0)
BACK = straight((90.0, 5.0), (-1.0, 0.0), 80.0)
ROUND = arc((50.0, 0.0), (0.0, 1.0), 50.0, 1.5 * math.pi)
ROUND_AGAIN = arc(ROUND.end, (-ROUND.end_tangent[0], -ROUND.end_tangent[1]), 50.0, -1.5 * math.pi)
REST = arc(ROUND.end, ROUND.end_tangent, 50.0, 0.5 * math.pi)


@pytest.mark.parametrize(("there", "back"), [(OUT, BACK), (ROUND, ROUND_AGAIN)], ids=["straight", "round"])
def test_the_same_way_back(there: Element, back: Element) -> None:
    found = first_crossing([there, back], closed=True)
    assert found is not None
    assert (found.first, found.second) == (0, 1)
    assert min(math.dist(found.at, end) for end in (there.start, there.end)) > 1.0


def test_the_rest_of_a_circle_is_no_crossing() -> None:
    assert first_crossing([ROUND, REST], closed=True) is None
