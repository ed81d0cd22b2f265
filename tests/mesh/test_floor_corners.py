"""The corners of a floor that has a size, and of one that reaches round what stands on it."""

from __future__ import annotations

import math

import pytest

from preview.models.mesh.surroundings import FLOOR_MARGIN, mesh_surroundings
from preview.scene import Finish, Surrounding

OAK = Finish("oak", (0.6, 0.5, 0.4))


def floor(size: tuple[float, float], turn: float = 0.0) -> Surrounding:
    return Surrounding("floor", "floor", (100.0, 200.0), size, 0.0, 0.0, 5.0, turn, OAK)


def test_a_floor_with_a_size_has_its_four_corners() -> None:
    (mesh,) = mesh_surroundings([floor((600.0, 300.0))], [], 0.1)
    assert mesh.points.tolist() == [[100, 200, 5], [700, 200, 5], [700, 500, 5], [100, 500, 5]]


def test_a_floor_turns_about_its_corner() -> None:
    """A quarter turn: what lay along x lies along y, and what lay along y along -x."""
    (mesh,) = mesh_surroundings([floor((600.0, 300.0), math.pi / 2)], [], 0.1)
    corners = [[100, 200, 5], [100, 800, 5], [-200, 800, 5], [-200, 200, 5]]
    assert mesh.points.tolist() == [pytest.approx(corner, abs=1e-12) for corner in corners]


def test_a_floor_without_a_size_reaches_past_what_stands_on_it() -> None:
    box = Surrounding("case", "box", (1000.0, 2000.0), (600.0, 300.0), 0.0, 0.0, 850.0, 0.0, OAK)
    endless, _ = mesh_surroundings([floor((0.0, 0.0)), box], [], 0.1)
    m = FLOOR_MARGIN
    corners = [(1000 - m, 2000 - m), (1600 + m, 2000 - m), (1600 + m, 2300 + m), (1000 - m, 2300 + m)]
    assert [tuple(point[:2]) for point in endless.points.tolist()] == corners
