"""Extremes: tiny and huge radii, long straights, fine detail, thousands of elements."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preview.joinery import exact_volumes, join
from preview.models.mesh import make_face, mesh_member_run
from preview.profiles import Shape, sketch
from preview.runs import Corner, Curve, Step, Straight, lay_out
from samples import BASE, RIGHT_ANGLE, block, curve, meeting
from true_surface import from_side, open_edges, strays

DEGREE = math.pi / 180


@pytest.mark.usefixtures("to_the_reach")
@pytest.mark.parametrize("sweep", [330, 90, 30, -30, -90, -330])
@pytest.mark.parametrize("radius", [0.5, 31.752, 1e3, 1e6])
@pytest.mark.parametrize("chord", [0.01, 5.0])
def test_curves_of_any_radius(sweep: float, radius: float, chord: float) -> None:
    if sweep > 0 and radius < 31.75:
        sweep = -sweep  # lined it would fold
    if radius > 100:
        sweep = sweep / 30 if radius < 1e4 else math.copysign(1.0, sweep)
    if radius < 1:
        sweep *= math.ceil(30 / abs(sweep))  # a piece must keep a tenth of a mm
    line = join(curve(sweep * DEGREE, radius), "m", BASE)
    meshes = mesh_member_run(line, chord)
    assert strays(line, meshes, most=400)[0] < 0.75 * chord
    mesh = meshes[0]
    assert open_edges(mesh.triangles) == 0
    assert mesh.volume == pytest.approx(exact_volumes(line.pieces)[0], abs=0.5 * chord * mesh.area)


def test_a_coarse_chord_still_bends() -> None:
    """However coarse, a curve takes two steps and the mesh stays a body."""
    mesh = mesh_member_run(join(curve(-RIGHT_ANGLE, 20.0), "m", BASE), 1e4)[0]
    assert mesh.shape.spans >= 2
    assert mesh.volume > 0.5 * exact_volumes([mesh.piece])[0]


def test_ten_kilometers_of_straight() -> None:
    run = lay_out("long", [Straight(1e7), Corner(-RIGHT_ANGLE), Straight(1e7)], start=(0.25, 0.5))
    line = join(run, "m", BASE)
    first, second = mesh_member_run(line)
    n = len(first.shape.face.d)
    d = first.shape.face.d
    assert np.abs(first.points[n:, 0] - (1e7 + 0.25) - d).max() < 4e-9  # two steps of a float there
    assert np.abs(first.points[n:, 1] - 0.5 - d).max() < 1e-13
    assert np.array_equal(first.points[n:], second.points[:n])
    for mesh in (first, second):
        assert mesh.shape.spans == 1
        assert from_side(mesh.piece, mesh.points).max() < 1e-8
        assert mesh.volume == pytest.approx(exact_volumes([mesh.piece])[0], rel=2e-4)


def test_fine_detail_is_kept() -> None:
    """Fillets and beads of a twentieth of a mm beside a 100 mm face, on a curved miter."""
    shapes = [Shape("fillet", rise=100.0)]
    for _ in range(3):
        shapes += [Shape("bead", rise=0.05), Shape("fillet", out=-0.05), Shape("fillet", rise=0.05)]
    profile = sketch("fine", 30.0, shapes)
    line = join(meeting(Straight(300.0), -1.0, Curve(-1.0, 60.0)), "m", profile)
    for mesh in mesh_member_run(line, 0.05):
        points = mesh.shape.face.outline.points
        for edge in profile.edges:
            assert (np.linalg.norm(points - np.array(edge.start), axis=1) == 0.0).any()
        assert open_edges(mesh.triangles) == 0
        assert mesh.volume > 0
    assert strays(line, mesh_member_run(line, 0.05))[0] < 0.04


def test_a_profile_deep_behind_the_wall() -> None:
    line = join(meeting(Straight(300.0), -1.0, Curve(-1.0, 60.0)), "m", block().moved(-15.0, 0.0))
    assert max(strays(line, mesh_member_run(line, 0.05))) < 0.04


def test_a_run_of_seven_thousand_elements() -> None:
    """A stair of steps and turned corners. Its pieces share four index tables, and keep little more than points."""
    stair: list[Step] = [Straight(150.0), Corner(RIGHT_ANGLE), Straight(150.0), Curve(-RIGHT_ANGLE, 50.0)]
    run = lay_out("stair", [*stair * 2333, Straight(150.0)], room="right")
    assert len(run.elements) == 7000
    line = join(run, "m", block())
    meshes = mesh_member_run(line, 0.5)
    assert [mesh.piece for mesh in meshes] == list(line.pieces)
    shapes = {id(mesh.shape): mesh.shape for mesh in meshes}
    assert len(shapes) <= 4
    assert all(open_edges(shape.triangles) == 0 for shape in shapes.values())
    held = sum(mesh.points.nbytes + mesh.normals.nbytes + mesh.uvs.nbytes for mesh in meshes)
    vertices = sum(len(mesh.normals) for mesh in meshes)
    assert held < 45 * vertices
    # Mesh and formula part only where a curve is drawn in steps.
    straights = [mesh for mesh in meshes if mesh.piece.kind == "straight"]
    exact = exact_volumes([mesh.piece for mesh in straights])
    assert [mesh.volume for mesh in straights] == pytest.approx(exact, rel=1e-8)
    curves = [mesh for mesh in meshes if mesh.piece.kind == "curve"]
    assert np.ptp([mesh.volume for mesh in curves]) < 1e-4


def test_a_chord_that_is_no_length_is_refused() -> None:
    for chord in (0.0, -1.0, math.nan, 1e-9):
        with pytest.raises(Exception, match="chord tolerance"):
            make_face(BASE, chord)
