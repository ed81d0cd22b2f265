"""What a cutter takes, to the last bit where the shop's own numbers are whole."""

from __future__ import annotations

import math

import pytest

from preview.profiles.cutters import Chamfer


def test_a_chamfer_of_45_degrees_is_as_deep_as_it_is_wide_bit_for_bit() -> None:
    """tan 45° is 1; in floating point tan(pi / 4) is not."""
    ends = {point for edge in Chamfer(10.0).section().loops[0] for point in (edge.start, edge.end)}
    assert (10.0, 0.0) in ends
    assert (0.0, 10.0) in ends


@pytest.mark.parametrize(("degrees", "deep"), [(30, 10 / math.sqrt(3)), (60, 10 * math.sqrt(3))])
def test_other_chamfers_go_by_the_tangent(degrees: float, deep: float) -> None:
    ends = [edge.end for edge in Chamfer(10.0, math.radians(degrees)).section().loops[0]]
    assert any(end == pytest.approx((0.0, deep), abs=1e-12) for end in ends)
