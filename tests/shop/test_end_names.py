"""What a cut is called: a stick that climbs is cut square where its section is, and plumb where that stands plumb."""

from __future__ import annotations

import math

import pytest

from preview.joinery import join
from preview.runs import Element, Run
from preview.shop import end_settings
from samples import BASE


@pytest.mark.parametrize(("carried", "named"), [("same", "Square cut"), ("derived", "Plumb cut")])
def test_the_free_end_of_a_climbing_stick(carried: str, named: str) -> None:
    """Common practice: a rake of the level's own profile ends square to the stick, one with its own ends plumb."""
    stick = Element((0.0, 0.0), (1.0, 0.0), 400.0, slope=0.75)
    (piece,) = join(Run("stair", (stick,), (0.0,), places=("step 1",), raked=carried), "m", BASE).pieces
    told = end_settings(piece, "end")
    assert told is not None
    assert told.words[0].startswith(named)
    flat = told.setups[-1].setting
    assert abs(flat.miter) == pytest.approx(0.0 if carried == "same" else math.atan(0.75), abs=1e-12)
