"""What stands round the molding: how far a floor reaches, and how many sides a column has."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preview.models.mesh.surroundings import mesh_surroundings, mesh_wall
from preview.runs import Curve, Side, Straight, lay_out
from preview.scene import Finish, Surrounding

OAK = Finish("oak", (0.6, 0.5, 0.4))


def thing(kind: str, size: tuple[float, float], radius: float = 0.0, turn: float = 0.0) -> Surrounding:
    return Surrounding(kind, kind, (100.0, -200.0), size, radius, 0.0, 5.0, turn, OAK)  # type: ignore[arg-type]


def test_an_endless_floor_reaches_600_mm_past_all() -> None:
    floor, _box = mesh_surroundings([thing("floor", (0.0, 0.0)), thing("box", (40.0, 30.0))], [], 0.1)
    assert floor.points[:, :2].min(axis=0).tolist() == [-500.0, -800.0]
    assert floor.points[:, :2].max(axis=0).tolist() == [740.0, 430.0]
    (alone,) = mesh_surroundings([thing("floor", (0.0, 0.0))], [], 0.1)
    assert (alone.points[:, :2].min(), alone.points[:, :2].max()) == (-600.0, 600.0)


@pytest.mark.parametrize("count", [17, 40])
def test_a_column_has_as_many_sides_as_its_chord_asks(count: int) -> None:
    """A side of angle a on a radius r strays by r (1 - cos(a/2)); 16 are the fewest."""
    for much, sides in ((1 + 4e-4, count), (1 - 4e-4, count + 1)):
        chord = much * 50.0 * (1 - math.cos(math.pi / count))
        (column,) = mesh_surroundings([thing("column", (0.0, 0.0), 50.0)], [], chord)
        assert len(column.points) == 2 * (sides + 1) + 2 * sides
        assert np.hypot(*(column.points[:, :2] - [100.0, -200.0]).T) == pytest.approx(50.0)
    (column,) = mesh_surroundings([thing("column", (0.0, 0.0), 50.0)], [], 900.0)
    assert len(column.points) == 2 * 17 + 2 * 16


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("side", [1, -1])
def test_a_wall_stands_behind_a_run_anywhere(room: Side, side: int) -> None:
    """Its points by the walk's own circle; it looks into the room, and its triangles do."""
    hand = 1 if room == "left" else -1
    run = lay_out("bow", [Straight(90.0), Curve(side * 1.2, 70.0)], room=room, start=(40.0, 7.0), heading=2.0)
    wall = mesh_wall(run, 210.0, 0.2)
    assert (wall.finish.color, wall.finish.roughness) == ((0.83, 0.81, 0.765), 0.95)
    assert sorted(set(wall.points[:, 2].tolist())) == [0.0, 210.0]
    u = complex(math.cos(2.0), math.sin(2.0))
    z = wall.points[:, 0] + 1j * wall.points[:, 1]
    begins = complex(40.0, 7.0) + 90.0 * u
    center = begins + 1j * side * 70.0 * u
    looks = wall.normals[:, 0] + 1j * wall.normals[:, 1]
    straight = np.arange(len(z)) < 4
    assert ((z[straight] - complex(40.0, 7.0)) / u).imag == pytest.approx(0.0, abs=1e-9)
    assert looks[straight] == pytest.approx(1j * hand * u, abs=1e-12)
    assert np.abs(z[~straight] - center) == pytest.approx(70.0)
    assert looks[~straight] == pytest.approx(side * hand * (center - z[~straight]) / 70.0, abs=1e-12)
    a, b, c = (wall.points[wall.triangles[:, i]] for i in range(3))
    facets = np.cross(b - a, c - a)
    assert (np.einsum("ij,ij->i", facets, wall.normals[wall.triangles[:, 0]]) > 0).all()
    assert np.linalg.norm(facets, axis=1).sum() / 2 == pytest.approx(210.0 * (90.0 + 84.0), rel=1e-3)
