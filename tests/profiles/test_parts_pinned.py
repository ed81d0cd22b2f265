"""Parts of edges that are very short, against the circle's own formulas."""

from __future__ import annotations

import math

import pytest

from preview.profiles import Arc
from preview.profiles.splitting import Nodes, part_of


@pytest.mark.parametrize("turn", [1.0, -1.0])
@pytest.mark.parametrize("angle", [2e-5, 5e-4, 1e-2, 3.0, 2 * math.pi - 1e-3])
def test_a_part_of_an_arc_turns_as_far_as_it_was_cut(turn: float, angle: float) -> None:
    """From 0.3 radians on round (7, -4), however little or much of the circle."""

    def at(where: float) -> tuple[float, float]:
        return (7.0 + 25.0 * math.cos(where), -4.0 + 25.0 * math.sin(where))

    whole = Arc(at(0.1 * turn), at(0.1 * turn + turn * 6.28), (7.0, -4.0), turn * 6.28)
    part = part_of(whole, at(0.3 * turn), at((0.3 + angle) * turn))
    assert isinstance(part, Arc)
    assert part.sweep == pytest.approx(turn * angle, rel=1e-9)


@pytest.mark.parametrize("column", [-3, 0, 250_000_000])
@pytest.mark.parametrize("row", [-7, 0, 99])
def test_points_on_either_side_of_a_cell_are_one(column: int, row: int) -> None:
    """Points are looked for in cells of 0.04 micrometers: near a corner of four, whichever of them came first."""
    corner = (column * 4e-8, row * 4e-8)
    ways = [(dx, dy) for dx in (-6e-9, 6e-9) for dy in (-6e-9, 6e-9)]
    for first in ways:
        for second in ways:
            nodes = Nodes()
            assert nodes.number((corner[0] + first[0], corner[1] + first[1])) == 0
            assert nodes.number((corner[0] + second[0], corner[1] + second[1])) == 0
    nodes = Nodes()
    numbers = [nodes.number((corner[0] + dx, corner[1] + dy)) for dx in (0.0, 3e-8, 6e-8) for dy in (0.0, 3e-8, -3e-8)]
    assert numbers == list(range(9))
