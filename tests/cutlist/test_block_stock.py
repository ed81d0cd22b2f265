"""The stock of blocks that the shipped scenes have, from their sizes."""

from __future__ import annotations

from itertools import pairwise

import pytest

from preview.cutlist.blocks import block_stock, is_plain
from preview.cutlist.piece import BlockSize
from preview.joinery import BlockShape, block_lines
from preview.profiles import Line, Profile, make_profile, measure
from preview.runs import Block, Straight, lay_out
from samples import block, half_round, quarter_round
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


PLAIN, MOLDED = block(30.0, 120.0), half_round(60.0)


@pytest.mark.parametrize(("section", "upright"), [(PLAIN, True), (MOLDED, False)], ids=["plain", "molded"])
def test_the_grain_of_a_block_in_line(section: Profile, upright: bool) -> None:
    """Common practice: that of a plain block runs up and down, of a molded one along the wall as the molding's does."""
    size = measure(section)
    run = lay_out("door", [Straight(300.0), Block("plinth", 90.0), Straight(400.0)])
    blocks = {"plinth": BlockShape("plinth", section, 90.0, 90.0, 40.0)}
    (piece,) = block_lines(run, blocks)[0].pieces
    stock, long, found = block_stock(piece, run, BlockSize(90.0, size.d_max, size.h_max, 90.0), "hardwood")
    assert found is upright
    assert is_plain(section) is upright
    assert long == pytest.approx(size.h_max if upright else 90.0)
    sides = (90.0, size.d_max) if upright else (size.d_max, size.h_max)
    assert (stock.thickness, stock.width) == pytest.approx(tuple(sorted(sides)))


def test_what_is_plain_is_a_rectangle() -> None:
    bevel = make_profile("b", [Line(a, b) for a, b in pairwise([(0, 0), (20, 0), (20, 39), (19, 40), (0, 40), (0, 0)])])
    assert is_plain(block().moved(5.0, -3.0))
    assert not is_plain(bevel)
    assert not is_plain(quarter_round())
