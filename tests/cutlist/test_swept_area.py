"""What an edge sweeps on a curve: Pappus, to the last digits."""

from __future__ import annotations

import math

import pytest

from preview.cutlist.seen import swept
from preview.joinery import join
from preview.profiles import Arc
from samples import RIGHT_ANGLE, curve, half_round


@pytest.mark.parametrize("hand", [1, -1])
def test_half_a_torus(hand: int) -> None:
    """Half a circle of radius 10 round a wall of radius 100: (pi 10 x 100 - or + 2 x 10²) by the turn."""
    (piece,) = join(curve(hand * RIGHT_ANGLE, 100.0), "m", half_round(10.0)).pieces
    (edge,) = (edge for edge in piece.profile.edges if isinstance(edge, Arc))
    assert swept(piece, edge) == pytest.approx(RIGHT_ANGLE * (1000 * math.pi - hand * 200.0), rel=1e-13)
