"""How many pieces a round holds where it holds a whole number of them: nothing is lost to rounding."""

from __future__ import annotations

import math

import pytest

from preview.blanks.parting import part
from preview.blanks.rings import rings
from preview.units import Unit


@pytest.mark.parametrize("count", range(2, 25))
def test_a_round_of_just_so_many_pieces_and_kerfs(count: int) -> None:
    """`count` pieces, each with its slot beside it, close the round: 360° / count less the angle of the kerf."""
    inner, kerf = 150.0, 3.0
    found = part(2 * math.pi / count - math.asin(kerf / inner), 200.0, inner, kerf=kerf, staves=count)
    assert found.true == count
    assert part(2 * math.pi / count, 200.0, inner, kerf=kerf, staves=count).most == count


@pytest.mark.parametrize(("unit", "said"), [("mm", "step of 0.01 mm"), ("in", 'step of 0.000"')])
def test_a_very_small_step_is_said_in_the_scene_s_unit(unit: Unit, said: str) -> None:
    """Half a kerf of 2 mm in at an inside radius of 80 mm: 80 - sqrt(80² - 1²) = 0.00625 mm."""
    found = part(math.pi / 2, 100.0, 80.0, kerf=2.0, staves=4, meets_straights=True, unit=unit)
    assert found.chosen.kind == "longer neighbors"
    assert found.chosen.step == pytest.approx(80.0 - math.sqrt(80.0**2 - 1.0), rel=1e-9)
    assert said in found.why


def test_what_a_wide_slot_takes_where_a_little_is_left_over() -> None:
    """Four pieces of 85° leave 5° for each slot. A slot 20 mm wide about the middle of that crosses the inside circle
    of 100 mm at (sqrt(100² - 10²), 10); that point lies so far within the end that stands at 2.5°."""
    found = part(math.radians(85), 130.0, 100.0, kerf=20.0, staves=4)
    half = math.radians(2.5)
    assert found.most == 4
    assert found.loss == pytest.approx(10.0 * math.cos(half) - math.sqrt(9900.0) * math.sin(half), abs=1e-12)


def test_rings_are_sawn_of_four_quarter_boards_unless_told() -> None:
    """4/4 surfaces to 13/16 in (common practice): 60 mm take three layers of no more than that."""
    found = rings(100.0, 70.0, 60.0, 1.0, clean=0.0)
    assert found.stock.name == "4/4"
    assert found.layers == math.ceil(60.0 / (25.4 * 13 / 16)) == 3
