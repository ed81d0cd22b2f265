"""Lengths of a curved piece on its back and on its face, and what rounding may add up to, by hand."""

from __future__ import annotations

import math

import pytest

from preview.cutlist import roundings
from shipped_lists import listed


@pytest.mark.parametrize(("way", "hand"), [("right", 1), ("left", -1)])
def test_a_quarter_of_a_round(way: str, hand: int) -> None:
    """A strip 20 mm out from a wall of radius 300 mm: a quarter of 300, and of 280 inside the curve or 320 round it."""
    _, cuts = listed(f'room = "right"\nsteps = [{{ curve_{way} = 90, radius = 300 }}]')
    (piece,) = cuts.pieces
    assert piece.back == pytest.approx(150 * math.pi, rel=1e-12)
    assert piece.face == pytest.approx(math.pi / 2 * (300 - hand * 20), rel=1e-12)


@pytest.mark.parametrize("rounding", [0.5, 1.0, 3.0])
def test_two_lengths_may_be_off_by_half_a_step_each(rounding: float) -> None:
    built, cuts = listed('room = "right"\nsteps = [{ straight = 500.2 }, { outside = 90 }, { straight = 300.3 }]')
    (found,) = roundings(cuts, [placed.run for placed in built.scene.runs], rounding, "mm")
    assert (found.lengths, found.most) == (2, pytest.approx(rounding))
