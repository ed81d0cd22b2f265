"""The surface of a mesh, by hand: two sections and the outline's length times the piece's."""

from __future__ import annotations

import math

import pytest

from preview.joinery import join
from preview.models.mesh import mesh_member_run
from preview.runs import Straight, lay_out
from samples import block, corner, wedge


@pytest.mark.parametrize(
    ("profile", "section", "round_it"),
    [(block(20.0, 40.0), 800.0, 120.0), (wedge(30.0, 40.0), 600.0, 120.0)],
    ids=["block", "wedge"],
)
def test_a_straight_cut_square(profile, section: float, round_it: float) -> None:
    (mesh,) = mesh_member_run(join(lay_out("wall", [Straight(250.0)]), "m", profile), 0.1)
    assert mesh.area == pytest.approx(2 * section + 250.0 * round_it, rel=1e-12)


def test_a_mitered_end_is_as_much_larger_as_it_is_longer() -> None:
    """20 x 40 mm, 300 long at the wall, mitered for an inside corner of 90° at one end: 280 mm at the face."""
    mesh = mesh_member_run(join(corner(math.pi / 2), "m", block(20.0, 40.0)), 0.1)[0]
    sides = 2 * 20.0 * 290.0 + 40.0 * (300.0 + 280.0)
    assert mesh.area == pytest.approx(sides + 800.0 + 800.0 * math.sqrt(2.0), rel=1e-12)
