"""Binary STL, read back by trimesh and by a few lines of struct."""

from __future__ import annotations

import struct
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import trimesh

from export_jobs import jobs, storage_step
from preview.exports import stl, stl_blocks, stl_bytes
from scene_builds import scene_build


def facets(data: bytes) -> tuple[np.ndarray, np.ndarray]:
    """Normals (t, 3) and corners (t, 3, 3), read one by one as the layout says."""
    (count,) = struct.unpack_from("<I", data, 80)
    assert len(data) == 84 + 50 * count
    normals, corners = [], []
    for i in range(count):
        numbers = struct.unpack_from("<12fH", data, 84 + 50 * i)
        assert numbers[12] == 0
        normals.append(numbers[:3])
        corners.append(numbers[3:12])
    return np.array(normals), np.array(corners).reshape(-1, 3, 3)


@pytest.mark.parametrize("name", ["straight", "miter, inside corner", "curved miter", "closed", "two members"])
def test_each_piece_is_a_closed_body_of_its_volume(name: str, tmp_path: Path) -> None:
    for mesh in jobs()[name].meshes():
        path = tmp_path / "piece.stl"
        path.write_bytes(stl_bytes([mesh], mesh.piece.name))
        body = trimesh.load(path)
        assert body.is_volume, mesh.piece.name
        assert len(body.faces) == len(mesh.triangles)
        slack = storage_step(mesh.points) * mesh.area
        assert body.volume == pytest.approx(mesh.volume, abs=slack + 1e-6 * mesh.volume)
        assert body.bounds == pytest.approx(np.array([mesh.points.min(axis=0), mesh.points.max(axis=0)]), abs=1e-3)


def test_a_scene_is_all_its_pieces_in_place(tmp_path: Path) -> None:
    meshes = jobs()["everything"].meshes()
    path = tmp_path / "scene.stl"
    path.write_bytes(stl_bytes(meshes, "Everything"))
    body = trimesh.load(path, process=False)
    assert len(body.faces) == sum(len(mesh.triangles) for mesh in meshes)
    slack = sum(storage_step(mesh.points) * mesh.area for mesh in meshes)
    assert body.volume == pytest.approx(sum(mesh.volume for mesh in meshes), abs=2 * slack)


def test_millimeters_and_z_up() -> None:
    """A meter along x, the base's 20 mm into the room along +y, 90 mm high."""
    _, corners = facets(stl_bytes(jobs()["straight"].meshes(), ""))
    assert corners.reshape(-1, 3).min(axis=0).tolist() == [0, 0, 0]
    assert corners.reshape(-1, 3).max(axis=0).tolist() == [1000, 20, 90]


def test_corners_are_the_points_in_32_bits_and_face_outward() -> None:
    meshes = jobs()["curved miter"].meshes()
    normals, corners = facets(stl_bytes(meshes, ""))
    expected = np.concatenate([mesh.points.astype(np.float32)[mesh.triangles] for mesh in meshes])
    turns = np.stack([np.roll(expected, turn, axis=1) for turn in range(3)])
    assert (turns == corners).all(axis=(2, 3)).any(axis=0).all()
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    cross = np.cross(b - a, c - a)
    length = np.linalg.norm(cross, axis=1)
    assert (length > 0).all()
    assert normals == pytest.approx(cross / length[:, None], abs=2e-7)


def test_a_facet_without_area_has_the_zero_vector() -> None:
    (mesh,) = jobs()["straight"].meshes()
    points = mesh.points + 1000.0
    a, b, _ = mesh.triangles[0]
    points[b] = points[a] + 1e-9  # 32-bit floats are 6e-5 apart here
    normals, corners = facets(stl_bytes([replace(mesh, points=points)], ""))
    assert (corners[0, 0] == corners[0, 1]).all()
    assert normals[0].tolist() == [0, 0, 0]
    lengths = np.linalg.norm(normals, axis=1)
    assert np.isfinite(normals).all()
    assert set(np.round(lengths, 6)) == {0.0, 1.0}


def test_normals_are_those_that_single_precision_finds() -> None:
    """A raked cornice has facets 3.4 m long and 0.03 mm wide: from the wrong corner their normal would be rounding."""
    meshes = scene_build("stair-wall").meshes
    normals, corners = facets(stl_bytes(meshes, ""))
    a, b, c = (corners[:, i].astype(np.float32) for i in range(3))
    cross = np.cross(b - a, c - a)
    assert cross.dtype == np.float32
    assert normals == pytest.approx(cross / np.linalg.norm(cross, axis=1)[:, None], abs=1e-4)


@pytest.mark.parametrize("name", ["tangent curve", "curved miter"])
def test_mating_faces_are_equal_to_the_last_bit(name: str) -> None:
    meshes = jobs()[name].meshes()
    stored = [{corner.tobytes() for corner in facets(stl_bytes([mesh], ""))[1].reshape(-1, 3)} for mesh in meshes]
    for (one, other), mesh in zip(pairwise(stored), meshes, strict=False):
        assert len(one & other) == len(mesh.shape.face.d)


@pytest.mark.parametrize(
    ("text", "starts"),
    [
        ("solid oak base", b"binary STL in millimeters, z up: solid oak base  "),
        ("Büro\n", b"binary STL in millimeters, z up: B?ro  "),
        ("x" * 200, b"binary STL in millimeters, z up: " + b"x" * 47),
    ],
)
def test_the_header_is_80_bytes_of_text(text: str, starts: bytes) -> None:
    data = stl_bytes(jobs()["straight"].meshes(), text)
    assert data.startswith(starts)
    assert not data.startswith(b"solid")
    facets(data)


def test_blocks_make_the_same_file(monkeypatch: pytest.MonkeyPatch) -> None:
    meshes = jobs()["everything"].meshes()
    whole = stl_bytes(meshes, "Everything")
    monkeypatch.setattr(stl, "BLOCK", 100)
    blocks = list(stl_blocks(meshes, "Everything"))
    assert len(blocks) > 5
    assert b"".join(blocks) == whole == stl_bytes(jobs()["everything"].meshes(), "Everything")


def test_a_scene_without_pieces_is_an_empty_file() -> None:
    normals, _ = facets(stl_bytes([], "Nothing"))
    assert len(normals) == 0
