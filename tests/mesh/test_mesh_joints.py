"""Mating faces are one and the same, and neighbors do not cut into one another."""

from __future__ import annotations

import numpy as np
import pytest
from manifold3d import Manifold, Mesh64

from preview.joinery import join
from preview.models.mesh import PieceMesh, mesh_member_run, mesh_runs, spans_needed
from preview.profiles import Profile, measure
from preview.runs import Curve, Run, Straight
from samples import BASE, CROWN, RIGHT_ANGLE, around, block, corner, half_round, meeting, stepped
from true_surface import parts

DEGREE = 3.141592653589793 / 180
RUNS = {
    "stepped left": stepped("left"),
    "stepped right": stepped("right"),
    "around inside": around("left"),
    "around outside": around("right"),
    "straight to curve": meeting(Straight(300.0), -80 * DEGREE, Curve(-1.0, 120.0)),
    "curve to curve": meeting(Curve(1.0, 300.0), -60 * DEGREE, Curve(-1.0, 120.0), "right"),
}


def solid(mesh: PieceMesh) -> Manifold:
    made = Manifold(Mesh64(vert_properties=mesh.points, tri_verts=mesh.triangles.astype(np.uint64)))
    assert made.status().name == "NoError"
    return made


@pytest.mark.parametrize("profile", [BASE, CROWN], ids=lambda p: p.name)
@pytest.mark.parametrize("name", RUNS)
def test_mating_faces_are_one_surface(name: str, profile: Profile) -> None:
    """The same vertices bit for bit, and the same triangles seen from the other side."""
    line = join(RUNS[name], "m", profile)
    meshes = mesh_member_run(line, 0.3)
    count = len(meshes)
    for i in range(count if line.run.closed else count - 1):
        first, second = meshes[i], meshes[(i + 1) % count]
        n = len(first.shape.face.d)
        assert np.array_equal(first.points[-n:], second.points[:n])
        end, begin = first.points[parts(first).end], second.points[parts(second).begin]
        assert np.array_equal(end, begin[:, ::-1])
        # What the caps look at: opposite ways, at every vertex.
        looks = [mesh.normals[-2 * n :].reshape(2, n, 3) for mesh in (first, second)]
        assert np.array_equal(looks[0][1], -looks[1][0])


@pytest.mark.parametrize("name", RUNS)
def test_neighbors_touch_and_do_not_cut(name: str) -> None:
    line = join(RUNS[name], "m", BASE)
    solids = [solid(mesh) for mesh in mesh_member_run(line, 0.1)]
    for i, first in enumerate(solids):
        for second in solids[i + 1 :]:
            assert (first ^ second).volume() < 1e-3


def test_an_overlap_is_noticed() -> None:
    """A piece pushed a hundredth of a mm into its neighbor: about 2,364 mm² x 0.01 mm of it."""
    meshes = mesh_member_run(join(corner(0.5, long=200.0), "m", BASE), 0.1)
    pushed = solid(meshes[0]).translate((0.01, 0.0, 0.0))
    assert (pushed ^ solid(meshes[1])).volume() == pytest.approx(measure(BASE).area * 0.01, rel=0.05)


@pytest.mark.parametrize("name", ["stepped left", "stepped right", "around inside", "curve to curve"])
def test_stacked_members_share_their_stations(name: str) -> None:
    """A cap that stands on a base touches it all along and cuts in nowhere, on curves and at curved miters too."""
    run = RUNS[name]
    size = measure(BASE)
    low, high = block(size.d_max, 40.0), half_round(6.0).moved(0.0, 40.0)
    front = block(9.0, 9.0).moved(size.d_max, 0.0)
    lines = [join(run, name, profile) for name, profile in (("base", low), ("shoe", front), ("cap", high))]
    meshes = mesh_runs(lines, 0.4)
    count = len(lines[0].pieces)
    assert [mesh.piece.member for mesh in meshes] == ["base"] * count + ["shoe"] * count + ["cap"] * count
    # Each member alone may need fewer steps: all take the most that any of them needs.
    needed = [spans_needed(line, 0.4).tolist() for line in lines]
    assert needed[0] != needed[1]
    assert [mesh.shape.spans for mesh in meshes] == [max(each) for each in zip(*needed, strict=True)] * 3
    for base, shoe, cap in zip(*(meshes[i * count : (i + 1) * count] for i in range(3)), strict=True):
        assert base.shape.spans == cap.shape.spans == shoe.shape.spans
        assert (solid(base) ^ solid(cap)).volume() < 1e-3
        assert (solid(base) ^ solid(shoe)).volume() < 1e-3
        rings = [mesh.points.reshape(mesh.shape.spans + 1, -1, 3) for mesh in (base, cap, shoe)]
        backs = [ring[:, mesh.shape.face.d == 0.0, :2] for ring, mesh in zip(rings, (base, cap), strict=False)]
        assert np.abs(backs[0][:, :1] - backs[1]).max() < 1e-9
        face = rings[0][:, base.shape.face.d == size.d_max, :2]
        assert np.abs(face[:, :1] - rings[2][:, shoe.shape.face.d == size.d_max, :2]).max() < 1e-9


def test_runs_keep_their_own_steps() -> None:
    lines = [join(RUNS["stepped left"], "m", BASE), join(RUNS["curve to curve"], "m", BASE)]
    together = mesh_runs(lines, 0.4)
    alone = [mesh for line in lines for mesh in mesh_member_run(line, 0.4)]
    assert [mesh.piece for mesh in together] == [piece for line in lines for piece in line.pieces]
    for a, b in zip(together, alone, strict=True):
        assert np.array_equal(a.points, b.points)
        assert np.array_equal(a.triangles, b.triangles)


def test_no_runs_have_no_meshes() -> None:
    assert mesh_runs([]) == []


def test_a_curved_miters_cap_is_cut_along_the_projections() -> None:
    """Its surface is straight only upward: every triangle of the cap keeps within one slab, so that it follows."""
    run: Run = meeting(Straight(300.0), -RIGHT_ANGLE, Curve(-1.0, 80.0))
    meshes = mesh_member_run(join(run, "m", block(30.0, 60.0)), 0.02)
    d = np.unique(meshes[0].shape.face.d)
    assert len(d) > 4
    corners = meshes[0].shape.face.d[meshes[0].shape.face.triangles]
    spans = np.searchsorted(d, corners.max(axis=1)) - np.searchsorted(d, corners.min(axis=1))
    assert spans.max() == 1
    # A plane miter needs none of this.
    assert len(mesh_member_run(join(corner(RIGHT_ANGLE), "m", block(30.0, 60.0)), 0.02)[0].shape.face.d) == 4
