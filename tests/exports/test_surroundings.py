"""What stands round the molding in a preview: where it is, which way it faces, how round it is."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh

from export_jobs import OAK, QUARTER, base, jobs
from preview.joinery import join
from preview.models.mesh import mesh_runs
from preview.models.mesh.surroundings import FLOOR_MARGIN, SurroundingMesh, mesh_surroundings, mesh_wall
from preview.runs import Corner, Curve, Straight, lay_out
from preview.scene import RunInScene, Surrounding

CHORD = 0.05


def box(radius: float = 0.0, turn: float = 0.0) -> Surrounding:
    return Surrounding("case", "box", (100.0, 200.0), (600.0, 300.0), radius, 50.0, 850.0, turn, OAK)


def column() -> Surrounding:
    return Surrounding("pier", "column", (100.0, 200.0), (300.0, 300.0), 150.0, 0.0, 2400.0, 0.0, OAK)


def shown(thing: Surrounding) -> SurroundingMesh:
    (mesh,) = mesh_surroundings([thing], [], CHORD)
    assert (mesh.name, mesh.kind, mesh.finish) == (thing.name, thing.kind, thing.finish)
    return mesh


def body(mesh: SurroundingMesh) -> trimesh.Trimesh:
    """The mesh by its positions alone."""
    points, inverse = np.unique(mesh.points, axis=0, return_inverse=True)
    return trimesh.Trimesh(points, inverse.ravel()[mesh.triangles], process=False)


def facets(mesh: SurroundingMesh) -> np.ndarray:
    """The facets' unit normals (t, 3)."""
    a, b, c = (mesh.points[mesh.triangles[:, i]] for i in range(3))
    cross = np.cross(b - a, c - a)
    return cross / np.linalg.norm(cross, axis=1, keepdims=True)


def test_a_box_is_a_box() -> None:
    mesh = shown(box())
    solid = body(mesh)
    assert solid.is_volume
    assert solid.volume == pytest.approx(600 * 300 * 800, rel=1e-12)
    assert solid.bounds.tolist() == [[100, 200, 50], [700, 500, 850]]
    assert not mesh.both_sides
    # Every corner of a box has three faces, so three normals.
    assert len(mesh.points) == 24
    assert facets(mesh) == pytest.approx(mesh.normals[mesh.triangles[:, 0]], abs=1e-12)


def test_a_box_turns_about_its_corner() -> None:
    """A third of a right angle: the far end of the 600 mm side by hand."""
    mesh = shown(box(turn=math.pi / 6))
    far = (100 + 600 * math.sqrt(3) / 2, 200 + 600 / 2)
    assert np.linalg.norm(mesh.points[:, :2] - (100, 200), axis=1).min() == pytest.approx(0, abs=1e-9)
    assert np.linalg.norm(mesh.points[:, :2] - far, axis=1).min() == pytest.approx(0, abs=1e-9)
    assert body(mesh).volume == pytest.approx(600 * 300 * 800, rel=1e-12)
    assert facets(mesh) == pytest.approx(mesh.normals[mesh.triangles[:, 0]], abs=1e-12)


@pytest.mark.parametrize("radius", [40.0, 150.0])
@pytest.mark.parametrize("turn", [0.0, 0.4])
def test_a_box_with_rounded_edges(radius: float, turn: float) -> None:
    """Rounding takes (4 - pi) r^2 off the footprint; 150 mm leaves no flat on the short sides."""
    mesh = shown(box(radius, turn))
    solid = body(mesh)
    assert solid.is_volume
    footprint = 600 * 300 - (4 - math.pi) * radius**2
    lost = footprint - solid.volume / 800
    assert 0 < lost < 2 * math.pi * radius * CHORD
    # Every point of the sides is on the rounded outline: r from the inner rectangle, along its own normal.
    side = mesh.normals[:, 2] == 0
    c, s = math.cos(turn), math.sin(turn)
    plan = (mesh.points[side, :2] - (100, 200)) @ np.array([[c, -s], [s, c]])
    inner = np.clip(plan, radius, (600 - radius, 300 - radius))
    away = (plan - inner) / radius
    assert np.linalg.norm(away, axis=1) == pytest.approx(1, abs=1e-9)
    assert mesh.normals[side, :2] @ np.array([[c, -s], [s, c]]) == pytest.approx(away, abs=1e-9)


def test_a_column_is_round() -> None:
    mesh = shown(column())
    solid = body(mesh)
    assert solid.is_volume
    assert 0 < math.pi * 150**2 * 2400 - solid.volume < 2 * math.pi * 150 * CHORD * 2400
    side = mesh.normals[:, 2] == 0
    spokes = (mesh.points[side, :2] - (100, 200)) / 150
    assert mesh.normals[side, :2] == pytest.approx(spokes, abs=1e-12)
    assert np.linalg.norm(spokes, axis=1) == pytest.approx(1, abs=1e-12)


@pytest.mark.parametrize("thing", [box(40.0, 0.3), column()])
def test_facets_agree_with_smooth_normals(thing: Surrounding) -> None:
    mesh = shown(thing)
    cos = np.einsum("tj,tij->ti", facets(mesh), mesh.normals[mesh.triangles])
    assert math.acos(min(1.0, cos.min())) < math.acos(1 - CHORD / (thing.radius)) + 1e-6


def test_a_floor_with_a_size_lies_as_a_box_does() -> None:
    mesh = shown(Surrounding("ground", "floor", (10, 20), (400, 300), 0.0, -5.0, -5.0, QUARTER, OAK))
    assert mesh.points[:, 2].tolist() == [-5.0] * 4
    assert (mesh.points.min(axis=0).tolist(), mesh.points.max(axis=0).tolist()) == (
        [-290, 20, -5],
        [10, 420, -5],
    )
    assert facets(mesh).tolist() == [[0, 0, 1]] * 2
    assert mesh.both_sides


def test_a_floor_without_a_size_reaches_past_everything() -> None:
    job = jobs()["everything"]
    placed = [RunInScene(run, ("base",), 900.0) for run in job.runs]
    floor, *rest = mesh_surroundings(job.surroundings, placed, CHORD)
    assert floor.name == "ground"
    others = np.concatenate([mesh.points for mesh in rest])[:, :2]
    low, high = floor.points[:, :2].min(axis=0), floor.points[:, :2].max(axis=0)
    assert (others.min(axis=0) - low).tolist() == pytest.approx([FLOOR_MARGIN] * 2)
    assert (high - others.max(axis=0)).tolist() == pytest.approx([FLOOR_MARGIN] * 2)
    assert facets(floor).tolist() == [[0, 0, 1]] * 2


@pytest.mark.parametrize("room", ["left", "right"])
def test_a_wall_stands_on_the_back_line_and_faces_the_room(room: str) -> None:
    steps = [Straight(400.0), Corner(QUARTER), Straight(300.0), Curve(-QUARTER, 80.0), Straight(100.0)]
    run = lay_out("bench front", steps, start=(50.0, -20.0), room=room, level=100.0)
    mesh = mesh_wall(run, 900.0, CHORD)
    assert (mesh.name, mesh.kind, mesh.both_sides) == ("bench front / wall", "wall", True)
    assert mesh.origin == (50.0, -20.0)
    assert (mesh.points[:, 2].min(), mesh.points[:, 2].max()) == (0.0, 900.0)
    a, b, c = (mesh.points[mesh.triangles[:, i]] for i in range(3))
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2
    length = 400 + 300 + 80 * math.pi / 2 + 100
    assert 0 < length * 900 - area < 900 * length * CHORD / 80
    # Its normals are the molding's, on the room's side.
    element = run.elements[0]
    hand = run.hand
    into = np.array([-hand * element.tangent[1], hand * element.tangent[0], 0.0])
    assert mesh.normals[0] == pytest.approx(into, abs=1e-12)
    cos = np.einsum("tj,tij->ti", facets(mesh), mesh.normals[mesh.triangles])
    assert math.acos(min(1.0, cos.min())) < math.acos(1 - CHORD / 80) + 1e-6
    # The molding in front of it never stands behind the wall by more than the chord.
    arc = run.elements[2]
    spokes = np.linalg.norm(mesh.points[:, :2] - arc.center, axis=1)
    on_arc = np.abs(spokes - 80) < 1e-9
    assert on_arc.sum() > 8


def test_a_wall_follows_an_arc_within_the_chord() -> None:
    run = lay_out("bay", [Curve(2.0, 500.0)])
    mesh = mesh_wall(run, 900.0, CHORD)
    low = mesh.points[mesh.points[:, 2] == 0][:, :2]
    middles = (low[1:] + low[:-1]) / 2
    strays = 500 - np.linalg.norm(middles - run.elements[0].center, axis=1)
    assert 0 < strays.max() <= CHORD
    assert strays.max() > CHORD / 2


def test_a_wall_touches_the_molding_s_back() -> None:
    run = lay_out("bay", [Straight(400.0), Curve(-QUARTER, 80.0), Straight(100.0)])
    (wall,) = mesh_surroundings([], [RunInScene(run, ("base",), 900.0)], CHORD)
    meshes = mesh_runs([join(run, "base", base())], CHORD)
    starts = {tuple(mesh.points[mesh.points[:, 2] == 0][0, :2]) for mesh in meshes}
    known = {tuple(point) for point in wall.points[:, :2]}
    assert len(starts) == 3
    for start in starts:
        assert min(math.dist(start, point) for point in known) < 1e-9


def test_no_wall_unless_it_is_asked_for() -> None:
    run = lay_out("bay", [Straight(400.0)])
    assert mesh_surroundings([], [RunInScene(run, ("base",), None)], CHORD) == []
