"""A hollow that grazes a sloping face from inside: 3-4-5."""

from __future__ import annotations

import math

import pytest

from preview.errors import PreviewError
from preview.profiles import Arc, Line, make_profile


@pytest.mark.parametrize(("radius", "grazes"), [(20.0, True), (20.0 - 3e-7, True), (19.9, False)])
def test_a_hollow_in_the_foot_under_a_slope(radius: float, grazes: bool) -> None:
    """The slope runs from (60, 0) to (0, 80); (35, 0) lies 25 x 4/5 = 20 from it, nearest at (51, 12)."""
    edges = [
        Line((0.0, 0.0), (35.0 - radius, 0.0)),
        Arc((35.0 - radius, 0.0), (35.0 + radius, 0.0), (35.0, 0.0), -math.pi),
        Line((35.0 + radius, 0.0), (60.0, 0.0)),
        Line((60.0, 0.0), (0.0, 80.0)),
        Line((0.0, 80.0), (0.0, 0.0)),
    ]
    if not grazes:
        assert len(make_profile("hollow", edges).edges) == 5
        return
    with pytest.raises(PreviewError, match=r"touches itself.*51 mm out, 12 mm up"):
        make_profile("hollow", edges)
