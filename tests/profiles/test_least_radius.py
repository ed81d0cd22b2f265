"""The least radius that a refusal names, rounded up to what a person writes."""

from __future__ import annotations

import pytest

from preview.errors import PreviewError
from preview.profiles import Shape, sketch


@pytest.mark.parametrize(("rise", "out", "least"), [(600.0, 800.0, "500 mm"), (7.0, 24.0, "12.5 mm")])
def test_half_the_distance_between_the_ends(rise: float, out: float, least: str) -> None:
    """6, 8, 10 and 7, 24, 25: no circle through both ends has a radius under half of that."""
    with pytest.raises(PreviewError, match=f"use a radius of at least {least}, or leave it out"):
        sketch("cove", 20.0, [Shape("fillet", rise=20.0), Shape("cove", rise=rise, out=out, radius=5.0)])
