"""Floors, boxes, columns and walls by their corners, the way each side looks, and what they are called."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preview.models.mesh.surroundings import SurroundingMesh, mesh_surroundings, mesh_wall
from preview.runs import Curve, Side, Straight, lay_out
from preview.scene import Finish, RunInScene, Surrounding

OAK = Finish("oak", (0.6, 0.5, 0.4))
AT = (100.0, -200.0)


def thing(
    kind: str, size: tuple[float, float], radius: float = 0.0, turn: float = 0.0, bottom: float = 1.0, top: float = 5.0
) -> Surrounding:
    return Surrounding("it", kind, AT, size, radius, bottom, top, turn, OAK)  # type: ignore[arg-type]


def facets(mesh: SurroundingMesh) -> np.ndarray:
    """Each triangle's area vector: as long as its area, the way it looks."""
    a, b, c = (mesh.points[mesh.triangles[:, i]] for i in range(3))
    return np.cross(b - a, c - a) / 2


@pytest.mark.parametrize("turn", [0.0, 0.7])
def test_a_floor_is_a_rectangle_that_looks_up(turn: float) -> None:
    """One normal for each of its corners, and two triangles that share one diagonal and cover it once."""
    (mesh,) = mesh_surroundings([thing("floor", (600.0, 300.0), turn=turn)], [], 0.1)
    assert mesh.normals.tolist() == [[0.0, 0.0, 1.0]] * 4
    assert mesh.triangles.shape == (2, 3)
    assert facets(mesh) == pytest.approx(np.array([[0, 0, 600 * 300 / 2]] * 2), abs=1e-9)
    assert sorted(map(len, (set(mesh.triangles[0]), set(mesh.triangles[1])))) == [3, 3]
    shared = sorted(set(mesh.triangles[0].tolist()) & set(mesh.triangles[1].tolist()))
    long = np.linalg.norm(np.diff(mesh.points[shared], axis=0))
    assert long == pytest.approx(math.hypot(600.0, 300.0))
    assert (mesh.name, mesh.kind, mesh.finish, mesh.both_sides) == ("it", "floor", OAK, True)
    assert mesh.origin == pytest.approx(AT)
    assert mesh.points[:, 2].tolist() == [5.0] * 4


def test_an_endless_floor_is_reckoned_from_its_own_corner() -> None:
    floor, box = mesh_surroundings([thing("floor", (0.0, 0.0)), thing("box", (40.0, 30.0))], [], 0.1)
    assert floor.origin == (-500.0, -800.0)
    assert facets(floor) == pytest.approx(np.array([[0, 0, 1240.0 * 1230.0 / 2]] * 2))
    assert (box.origin, box.kind, box.both_sides) == (AT, "box", False)


@pytest.mark.parametrize("turn", [0.0, 0.7])
@pytest.mark.parametrize("at", range(4))
def test_each_side_of_a_box_looks_its_own_way(turn: float, at: int) -> None:
    """From the side along x on, counter-clockwise; every corner of it has the side's normal, to the last bit if square.

    40 wide, 30 deep and 4 high.
    """
    (mesh,) = mesh_surroundings([thing("box", (40.0, 30.0), turn=turn)], [], 0.1)
    assert (len(mesh.points), len(mesh.triangles)) == (4 * 4 + 2 * 4, 4 * 2 + 2 * 2)
    assert mesh.normals.shape == mesh.points.shape
    u = complex(math.cos(turn), math.sin(turn))
    look = -1j * u * 1j**at
    rows = slice(4 * at, 4 * at + 4)
    told = mesh.normals[rows]
    assert told == pytest.approx(np.array([[look.real, look.imag, 0.0]] * 4), abs=1e-15)
    corners = [0, 40, 40 + 30j, 30j]
    ends = [complex(*AT) + u * corners[at], complex(*AT) + u * corners[(at + 1) % 4]]
    wanted = [[end.real, end.imag, z] for z in (1.0, 5.0) for end in ends]
    assert mesh.points[rows] == pytest.approx(np.array(wanted), abs=1e-12)
    area = 4.0 * (40.0, 30.0)[at % 2]
    assert facets(mesh)[2 * at : 2 * at + 2].sum(axis=0) == pytest.approx(area * told[0], abs=1e-9)


@pytest.mark.parametrize("kind", ["box", "column"])
def test_the_lid_looks_up_and_the_foot_down(kind: str) -> None:
    (mesh,) = mesh_surroundings([thing(kind, (40.0, 30.0), 0.0 if kind == "box" else 20.0)], [], 0.05)
    area = 40.0 * 30.0 if kind == "box" else math.pi * 20.0**2
    found = facets(mesh)
    for look, height in ((1.0, 5.0), (-1.0, 1.0)):
        mine = mesh.normals[:, 2] == look
        assert set(mesh.points[mine, 2]) == {height}
        flat = mine[mesh.triangles].all(axis=1)
        assert found[flat].sum(axis=0) == pytest.approx([0.0, 0.0, look * area], rel=5e-3)
        assert (found[flat][:, 2] * look > 0).all()
    assert found.sum(axis=0) == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)
    a, b, c = (mesh.points[mesh.triangles[:, i]] for i in range(3))
    assert np.einsum("ij,ij->", a, np.cross(b, c)) / 6 == pytest.approx(4.0 * area, rel=5e-3)


@pytest.mark.parametrize("count", [4, 9])
def test_a_rounded_box_has_a_quarter_circle_at_each_corner(count: int) -> None:
    """A step of angle a on a radius r strays by r (1 - cos(a/2)); each corner takes what a quarter needs."""
    for much, steps in ((1 + 4e-4, count), (1 - 4e-4, count + 1)):
        chord = much * 10.0 * (1 - math.cos(math.pi / 4 / count))
        (mesh,) = mesh_surroundings([thing("box", (40.0, 30.0), 10.0)], [], chord)
        around = 4 * (steps + 1)
        assert len(mesh.points) == 2 * (around + 1) + 2 * around
        plan = mesh.points[: around + 1, :2] - np.array(AT)
        normals = mesh.normals[: around + 1, :2]
        centers = np.clip(plan, [10.0, 10.0], [30.0, 20.0])
        assert plan == pytest.approx(centers + 10.0 * normals, abs=1e-12)
        assert np.linalg.norm(normals, axis=1) == pytest.approx(1.0)


def test_a_rounded_box_with_no_flat_left_has_no_corner_twice() -> None:
    """A square as wide as its two rounds is a round column, of four quarters."""
    (box,) = mesh_surroundings([thing("box", (40.0, 40.0), 20.0)], [], 0.05)
    (column,) = mesh_surroundings([thing("column", (0.0, 0.0), 20.0)], [], 0.05)
    sides = 4 * math.ceil(math.pi / 2 / (2 * math.acos(1 - 0.05 / 20.0)))
    assert len(box.points) == 2 * (sides + 1) + 2 * sides
    assert len(np.unique(box.points[: sides + 1], axis=0)) == sides
    assert np.linalg.norm(box.points[: sides + 1, :2] - np.array(AT) - 20.0, axis=1) == pytest.approx(20.0)
    assert np.linalg.norm(column.points[:, :2] - np.array(AT), axis=1) == pytest.approx(20.0)


@pytest.mark.parametrize("room", ["left", "right"])
def test_a_slight_curve_of_a_wall_is_one_step(room: Side) -> None:
    """However coarse the chord, none is wider than an eighth of a half turn."""
    for sweep, steps in ((0.3, 1), (math.pi / 8 * 0.9996, 1), (math.pi / 8 * 1.0004, 2), (math.pi / 2 * 0.9996, 4)):
        run = lay_out("bow", [Curve(sweep, 70.0)], room=room)
        assert len(mesh_wall(run, 210.0, 900.0).points) == 2 * (steps + 1)


def test_walls_come_last_and_in_their_runs_order() -> None:
    """Only those that are asked for; a floor that is endless comes where it was written."""
    runs = [lay_out(name, [Straight(90.0)], start=(0.0, y)) for name, y in (("a", 0.0), ("b", 50.0), ("c", 900.0))]
    placed = [RunInScene(run, (), wall) for run, wall in zip(runs, (210.0, None, 300.0), strict=True)]
    found = mesh_surroundings([thing("box", (40.0, 30.0)), thing("floor", (0.0, 0.0))], placed, 0.1)
    assert [mesh.name for mesh in found] == ["it", "it", "a / wall", "c / wall"]
    assert [mesh.kind for mesh in found] == ["box", "floor", "wall", "wall"]
    assert [mesh.points[:, 2].max() for mesh in found[2:]] == [210.0, 300.0]
    floor = found[1].points[:, :2]
    # Past the runs' back lines, those without a wall too, and the box that reaches from 100 to 140 and from -200.
    assert floor.min(axis=0).tolist() == [-600.0, -800.0]
    assert floor.max(axis=0).tolist() == [740.0, 1500.0]
