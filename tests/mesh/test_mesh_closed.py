"""Meshes are closed, by index and by position; one body, outward; and what is planted wrong is noticed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from preview.joinery import exact_volume, join
from preview.models.mesh import PieceMesh, mesh_member_run, mesh_volume
from preview.profiles import Profile
from preview.runs import Curve, Run, Side, Straight
from samples import BASE, CROWN, around, block, curve, meeting, stepped
from true_surface import bodies, open_edges, parts, read_back, signed_volume

RUNS = {
    "stepped left": stepped("left"),
    "stepped right": stepped("right"),
    "around inside": around("left"),
    "around outside": around("right"),
    "wrapped": curve(-5.5, 40.0, "right"),
    "hunting": meeting(Curve(-1.0, 90.0), -0.9, Straight(200.0), "right"),
}


def welded(mesh: PieceMesh) -> np.ndarray:
    """The triangles by distinct positions, as a program that only reads positions would see them."""
    _, index = np.unique(mesh.points, axis=0, return_inverse=True)
    return np.asarray(index.reshape(-1)[mesh.triangles])


@pytest.mark.parametrize("chord", [0.05, 1.0])
@pytest.mark.parametrize("profile", [BASE, CROWN, BASE.moved(12.0, -30.0)], ids=["base", "crown", "moved base"])
@pytest.mark.parametrize("name", RUNS)
def test_every_piece_is_one_closed_body(name: str, profile: Profile, chord: float) -> None:
    line = join(RUNS[name], "m", profile)
    for mesh in mesh_member_run(line, chord):
        triangles = mesh.triangles
        assert triangles.min() == 0
        assert len(np.unique(triangles)) == len(mesh.points)  # no point is left over
        assert open_edges(triangles) == 0
        assert open_edges(welded(mesh)) == 0
        assert open_edges(mesh.shape.corner_point[mesh.shape.render_triangles]) == 0
        assert np.array_equal(mesh.shape.corner_point[mesh.shape.render_triangles], triangles)
        assert bodies(triangles) == 1
        # A ball's surface: points - edges + triangles = 2, with three half edges to a triangle.
        assert len(mesh.points) - len(triangles) // 2 == 2
        assert signed_volume(mesh.points, triangles) > 0.0
        assert mesh.volume == pytest.approx(signed_volume(mesh.points, triangles), rel=1e-9)


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("sweep", [1.0, -1.0])
def test_every_triangle_faces_out(room: Side, sweep: float) -> None:
    """A hair along its normal a triangle's middle leaves the wood, a hair against it enters."""
    mesh = mesh_member_run(join(curve(sweep, 400.0, room), "m", block(20.0, 40.0)), 0.05)[0]
    a, b, c = (mesh.points[mesh.triangles[:, i]] for i in range(3))
    normal = np.cross(b - a, c - a)
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    for hair, within in ((0.2, False), (-0.2, True)):
        at = (a + b + c) / 3 + hair * normal
        stations, d, _ = read_back(mesh.piece, at[:, :2])
        inside = (stations > 0) & (stations < 400) & (d > 0) & (d < 20) & (at[:, 2] > 0) & (at[:, 2] < 40)
        assert (inside == within).all()


def small() -> PieceMesh:
    return mesh_member_run(join(meeting(Curve(-1.0, 90.0), -0.9, Straight(200.0)), "m", BASE), 0.5)[0]


def test_a_flipped_cap_is_noticed() -> None:
    mesh = small()
    part = parts(mesh)
    flipped = np.concatenate([part.sides, part.begin, part.end[:, ::-1]])
    assert open_edges(flipped) > 0


def test_a_ring_built_twice_is_noticed_by_index_only() -> None:
    """The same coordinates under other indices: a cap that does not share its ring's points."""
    mesh = small()
    part = parts(mesh)
    points = np.vstack([mesh.points, mesh.points[-len(mesh.shape.face.d) :]])
    apart = np.concatenate([part.sides, part.begin, part.end + len(mesh.shape.face.d)])
    assert np.array_equal(points[apart], mesh.points[mesh.triangles])
    assert open_edges(apart) == 2 * len(mesh.shape.face.d)
    assert bodies(apart) == 2
    _, index = np.unique(points, axis=0, return_inverse=True)
    assert open_edges(index.reshape(-1)[apart]) == 0


def test_a_mesh_inside_out_is_noticed() -> None:
    mesh = small()
    assert open_edges(mesh.triangles[:, ::-1]) == 0
    assert mesh_volume(mesh.points, mesh.triangles[:, ::-1]) == pytest.approx(-mesh.volume)


def test_a_missing_triangle_and_a_double_one_are_noticed() -> None:
    triangles = small().triangles
    assert open_edges(triangles[1:]) == 3
    assert open_edges(np.concatenate([triangles, triangles[:1]])) > 0


def test_two_bodies_are_noticed() -> None:
    mesh = small()
    twice = np.concatenate([mesh.triangles, mesh.triangles + len(mesh.points)])
    assert (open_edges(twice), bodies(twice)) == (0, 2)


def test_a_volume_says_where_it_was_measured_from() -> None:
    """Far from the origin no digit is lost: the mesh is measured from its own middle."""
    mesh = small()
    far = replace(mesh, points=mesh.points + np.array([2.0**23, -(2.0**23), 0.0]))
    assert far.volume == pytest.approx(mesh.volume, rel=1e-8)
    assert mesh.volume == pytest.approx(exact_volume(mesh.piece), rel=0.02)


@pytest.mark.parametrize("spans", [2, 5])
def test_more_steps_than_needed_may_be_asked_for(spans: int) -> None:
    """On straights too: every ring is then filled, and the piece is the same."""
    run: Run = stepped()
    line = join(run, "m", BASE)
    plain = mesh_member_run(line, 0.5)
    asked = np.array([max(mesh.shape.spans, spans) for mesh in plain])
    for mesh, finer in zip(plain, mesh_member_run(line, 0.5, asked), strict=True):
        assert finer.shape.spans == max(mesh.shape.spans, spans)
        assert open_edges(finer.triangles) == 0
        if not mesh.piece.element.sweep:
            assert finer.volume == pytest.approx(mesh.volume, rel=1e-12)
            assert finer.area == pytest.approx(mesh.area, rel=1e-12)
            assert np.isfinite(finer.normals).all()
