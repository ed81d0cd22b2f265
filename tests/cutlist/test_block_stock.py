"""The stock of blocks that the shipped scenes have, from their sizes."""

from __future__ import annotations

import pytest

from shipped_lists import shipped


@pytest.mark.parametrize(
    ("scene", "name", "thickness", "width"),
    [
        ("door-casing", "door / plinth / 1 block", 1.25 * 25.4, 4 * 25.4),
        ("hall", "hall / corner / 7 corner block", 44.45, 44.45),
    ],
)
def test_a_block_lies_flat_in_its_stock(scene: str, name: str, thickness: float, width: float) -> None:
    stock = shipped(scene)[1].piece(name).stock
    assert (stock.thickness, stock.width) == pytest.approx((thickness, width))
    assert (stock.lies, stock.tilt) == ("on its back", 0.0)
