"""Normals, creases and the grain's measure, against the exact profile and the run."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from preview.joinery import exact_volume, join
from preview.models.mesh import PieceMesh, mesh_member_run
from preview.profiles import Profile, measure
from preview.runs import Curve, Run, Side, Straight
from samples import BASE, CROWN, around, curve, half_round, meeting, stepped
from true_surface import Floats, outward_normals, parts, read_back

DEGREE = math.pi / 180
RUNS = {
    "stepped left": stepped("left"),
    "stepped right": stepped("right"),
    "around": around("left"),
    "hunting": meeting(Curve(-1.0, 90.0), -0.9, Straight(200.0), "right"),
}
FLOAT32 = 2e-6


def side_normals(mesh: PieceMesh) -> tuple[Floats, Floats]:
    """The render vertices of the sides and their normals, both (stations, columns, 3)."""
    columns = len(mesh.shape.face.column_point)
    count = (mesh.shape.spans + 1) * columns
    vertices = mesh.points[mesh.shape.corner_point[:count]]
    return vertices.reshape(-1, columns, 3), mesh.normals[:count].astype(np.float64).reshape(-1, columns, 3)


@pytest.mark.parametrize("profile", [BASE, CROWN, half_round()], ids=lambda p: p.name)
@pytest.mark.parametrize("name", RUNS)
def test_side_normals_are_the_true_surfaces(name: str, profile: Profile) -> None:
    """Exact where one edge passes; where two meet smoothly, halfway; at an arris, one normal to each side."""
    for mesh in mesh_member_run(join(RUNS[name], "m", profile), 0.3):
        vertices, normals = side_normals(mesh)
        assert np.abs(np.linalg.norm(normals, axis=2) - 1).max() < FLOAT32
        _, d, into = read_back(mesh.piece, vertices.reshape(-1, 3)[:, :2])
        flat = normals.reshape(-1, 3)
        out = (flat[:, :2] * into).sum(axis=1)
        # In the section's own plane: nothing leans along the run.
        assert np.abs(flat[:, :2] - out[:, None] * into).max() < 5 * FLOAT32
        section = np.column_stack([out, flat[:, 2]]).reshape(normals.shape[0], -1, 2)
        assert np.abs(section - section[0]).max() < 5 * FLOAT32  # the same at every station
        face = mesh.shape.face
        points = np.column_stack([d, vertices.reshape(-1, 3)[:, 2]])[: len(face.column_point)]
        for number, edges in enumerate(outward_normals(mesh.piece.profile, points)):
            found = section[0, number]
            assert 1 <= len(edges) <= 2
            apart = [float(np.linalg.norm(found - edge)) for edge in edges]
            if len(edges) == 2 and np.linalg.norm(edges[0] - edges[1]) < 2 * DEGREE:
                assert max(apart) < 1.01 * DEGREE
            else:
                assert min(apart) < 5 * FLOAT32


@pytest.mark.parametrize("name", RUNS)
def test_an_arris_has_a_normal_for_each_side(name: str) -> None:
    face = mesh_member_run(join(RUNS[name], "m", BASE), 0.3)[0].shape.face
    n = len(face.d)
    ends = [(before.tangent(1.0), after.tangent(0.0)) for before, after in pairwise([BASE.edges[-1], *BASE.edges])]
    assert face.outline.arris.sum() == sum(float(a @ b) < math.cos(2 * DEGREE) for a, b in ends) > 3
    split = face.outline.arris.copy()
    split[0] = True  # the seam of the grain's measure
    assert len(face.column_point) == n + split.sum()
    assert np.array_equal(np.bincount(face.column_point), 1 + split)
    for i in range(n):
        into, out = face.right[i - 1], face.left[i]
        assert face.column_point[into] == face.column_point[out] == i
        assert (into == out) == (not split[i])
        turn = math.acos(min(1.0, float(face.column_normal[into] @ face.column_normal[out])))
        assert (turn > 1.99 * DEGREE) == bool(face.outline.arris[i])


@pytest.mark.parametrize("name", RUNS)
def test_cap_normals_are_square_to_the_cut(name: str) -> None:
    line = join(RUNS[name], "m", BASE)
    meshes = mesh_member_run(line, 0.05)
    for i, mesh in enumerate(meshes):
        n = len(mesh.shape.face.d)
        for at_end in (False, True):
            normals = (mesh.normals[-n:] if at_end else mesh.normals[-2 * n : -n]).astype(np.float64)
            assert np.abs(np.linalg.norm(normals, axis=1) - 1).max() < FLOAT32
            assert np.abs(normals[:, 2]).max() == 0.0
            joint = mesh.piece.end if at_end else mesh.piece.begin
            points = mesh.points[-n:] if at_end else mesh.points[:n]
            _, _, here = read_back(mesh.piece, points[:, :2])
            if joint.turn:
                other = line.pieces[(i + 1) % len(meshes) if at_end else i - 1]
                _, _, there = read_back(other, points[:, :2])
                here = here + there  # points equally far from two lines: the bisector of their normals
            along = (normals[:, :2] * here).sum(axis=1) / np.linalg.norm(here, axis=1)
            assert np.abs(along).max() < 5 * FLOAT32
            # Away from the wood: past the end, before the start.
            triangles = parts(mesh).end if at_end else parts(mesh).begin
            a, b, c = (mesh.points[triangles[:, k]] for k in range(3))
            assert (np.cross(b - a, c - a) * normals[triangles[:, 0] % n]).sum(axis=1).min() > 0


@pytest.mark.parametrize("profile", [BASE, CROWN, half_round()], ids=lambda p: p.name)
@pytest.mark.parametrize(("sweep", "radius"), [(-2.0, 60.0), (2.0, 60.0), (-2.0, 0.5)])
@pytest.mark.parametrize("room", ["left", "right"])
def test_facets_lean_no_more_than_half_a_step(profile: Profile, sweep: float, radius: float, room: Side) -> None:
    """A chord makes half its arc's angle with the tangents at both its ends, across the section and along the run."""
    mesh = mesh_member_run(join(curve(sweep, radius, room), "m", profile), 0.2)[0]
    outline = mesh.shape.face.outline
    into, out = np.roll(outline.tangent_in, -1, axis=0), outline.tangent_out
    section = np.arccos(np.clip((into * out).sum(axis=1), -1, 1)).max()
    allowed = section / 2 + abs(sweep) / mesh.shape.spans / 2
    sides = len(parts(mesh).sides)
    corners = mesh.shape.render_triangles[:sides]
    a, b, c = (mesh.points[mesh.triangles[:sides, k]] for k in range(3))
    facets = np.cross(b - a, c - a)
    facets /= np.linalg.norm(facets, axis=1)[:, None]
    lean = np.arccos(np.clip((mesh.normals[corners].astype(np.float64) * facets[:, None]).sum(axis=2), -1, 1))
    assert lean.max() < allowed * (1 + 1e-3) + 1e-3
    assert lean.max() > 0.4 * allowed  # and it is no idle bound


def test_facets_beside_a_curved_miter_follow_too() -> None:
    for mesh in mesh_member_run(join(RUNS["hunting"], "m", BASE), 0.05):
        corners = mesh.shape.render_triangles
        a, b, c = (mesh.points[mesh.triangles[:, k]] for k in range(3))
        facets = np.cross(b - a, c - a)
        facets /= np.linalg.norm(facets, axis=1)[:, None]
        lean = (mesh.normals[corners].astype(np.float64) * facets[:, None]).sum(axis=2)
        assert lean.min() > math.cos(12 * DEGREE)


@pytest.mark.parametrize("name", RUNS)
def test_the_grain_is_measured_along_and_around(name: str) -> None:
    line = join(RUNS[name], "m", BASE)
    size = measure(line.profile)
    for mesh in mesh_member_run(line, 0.3):
        face, columns = mesh.shape.face, len(mesh.shape.face.column_point)
        count = (mesh.shape.spans + 1) * columns
        uvs = mesh.uvs.astype(np.float64)
        sides = uvs[:count].reshape(-1, columns, 2)
        # Around: the exact length of the outline, from 0 to the perimeter, the same at every station.
        assert np.abs(sides[..., 1] - sides[0, :, 1]).max() == 0.0
        assert sides[0, face.left, 1] == pytest.approx(face.outline.along[:-1], abs=1e-4)
        assert sides[0, face.right, 1] == pytest.approx(face.outline.along[1:], abs=1e-4)
        assert sides[..., 1].max() == pytest.approx(size.perimeter, abs=1e-4)
        # Along: true length on a straight; on a curve true at the middle of the profile.
        starts, stops = mesh.piece.stations(face.d)
        middle = 1 - mesh.piece.curvature * (size.d_min + size.d_max) / 2
        along = (sides[-1, :, 0] - sides[0, :, 0]) / middle
        assert along == pytest.approx((stops - starts)[face.column_point], abs=2e-3)
        assert (np.diff(sides[..., 0], axis=0) > 0).all()
        # End grain: the section itself.
        assert np.abs(uvs[count:].reshape(2, -1, 2) - face.outline.points).max() < 1e-5
        assert exact_volume(mesh.piece) > 0


def test_creases_do_not_open_the_surface() -> None:
    """Doubled render vertices stand at one point each: nothing moves when normals are split."""
    mesh = mesh_member_run(join(RUNS["hunting"], "m", BASE), 0.3)[0]
    assert len(mesh.shape.corner_point) == len(mesh.normals) == len(mesh.uvs)
    assert np.array_equal(np.unique(mesh.shape.corner_point), np.arange(len(mesh.points)))
    run: Run = RUNS["hunting"]
    assert run.hand == -1
    assert mesh.shape.mirrored
