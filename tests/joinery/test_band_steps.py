"""How many levels an arc takes: as many as its chord asks, with a quarter to spare, and no more."""

from __future__ import annotations

import math

import pytest

from preview.joinery import banded
from preview.profiles import Arc
from samples import quarter_round


@pytest.mark.parametrize("chord", [0.2, 0.05, 0.01, 0.002])
def test_a_quarter_round_is_not_cut_finer_than_it_needs(chord: float) -> None:
    """A step of t radians strays by r (1 - cos(t / 2)) = 2 r sin²(t / 4) from its chord."""
    radius = 10.0
    step = 4 * math.asin(math.sqrt(chord / (2 * radius)))
    count = sum(isinstance(edge, Arc) for edge in banded(quarter_round(radius), chord=chord).edges)
    assert math.ceil(math.pi / 2 / step) <= count <= math.ceil(1.25 * math.pi / 2 / step)
