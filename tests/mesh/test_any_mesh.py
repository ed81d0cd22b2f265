"""Any sound profile on any sound run: closed, exact at its vertices, as large as the formula says, and apart."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from manifold3d import Manifold, Mesh64

from preview.joinery import MemberRun, exact_volumes
from preview.models.mesh import PieceMesh, mesh_member_run
from strategies import joined, share
from true_surface import bodies, from_side, open_edges, strays


def solid(mesh: PieceMesh) -> Manifold:
    made = Manifold(Mesh64(vert_properties=mesh.points, tri_verts=mesh.triangles.astype(np.uint64)))
    assert made.status().name == "NoError"
    return made


@share(0.6)
@given(joined(), st.sampled_from([0.02, 0.1, 0.5]))
def test_any_mesh_is_closed_and_exact(line: MemberRun, chord: float) -> None:
    meshes = mesh_member_run(line, chord)
    assert [mesh.piece for mesh in meshes] == list(line.pieces)
    for mesh, exact in zip(meshes, exact_volumes(line.pieces).tolist(), strict=True):
        assert open_edges(mesh.triangles) == 0
        assert len(np.unique(mesh.points, axis=0)) == len(mesh.points)
        assert from_side(mesh.piece, mesh.points).max() < 1e-9
        assert abs(mesh.volume - exact) < 0.5 * chord * mesh.area
        assert np.isfinite(mesh.normals).all()
        assert np.isfinite(mesh.uvs).all()
    assert bodies(meshes[0].triangles) == 1
    side, cut = strays(line, meshes, most=200)
    assert side < chord
    assert cut < chord


@share(0.4)
@given(joined(longest=3, least_radius=150, most_turn=60))
def test_neighbors_on_any_gentle_run_stay_apart(line: MemberRun) -> None:
    """Turns up to 60 degrees on radii of 150 mm or more: the run cannot come back to itself."""
    solids = [solid(mesh) for mesh in mesh_member_run(line, 0.05)]
    for first, second in pairwise(solids):
        assert (first ^ second).volume() < 1e-3
