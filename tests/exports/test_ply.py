"""Binary PLY, read back by trimesh and by a few lines that follow the header.

The format: G. Turk, The PLY Polygon File Format (Stanford, 1994): an ASCII header, one keyword a line, then the
elements' values one after the other in the order in which the header has them. Told here from memory.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from preview.build import Built
from preview.drafting import piece_tags
from preview.exports import ply_bytes
from scene_builds import HOSTILE, SCENES, board, box, hostile, is_closed, nothing, scene_build, volume, welded

KINDS = {"double": "<f8", "float": "<f4", "uchar": "u1", "int": "<i4"}


@dataclass
class Read:
    comments: list[str]
    vertices: np.ndarray
    faces: np.ndarray

    @property
    def points(self) -> np.ndarray:
        return np.stack([self.vertices[axis] for axis in "xyz"], axis=1)

    @property
    def names(self) -> dict[int, str]:
        told = (comment.split(" ", 2) for comment in self.comments if comment.startswith("piece "))
        return {int(number): json.loads(name) for _, number, name in told}

    def triangles(self, piece: int) -> np.ndarray:
        return self.faces["vertex_indices"][self.faces["piece"] == piece]


def read(data: bytes) -> Read:
    header, _, body = data.partition(b"\nend_header\n")
    comments: list[str] = []
    elements: list[tuple[str, int, list[tuple[str, ...]]]] = []
    first, form, *lines = header.decode("ascii").split("\n")
    assert (first, form) == ("ply", "format binary_little_endian 1.0")
    for line in lines:
        match line.split(" "):
            case ["comment", *_]:
                comments.append(line.removeprefix("comment "))
            case ["element", name, count]:
                elements.append((name, int(count), []))
            case ["property", "list", count, kind, name]:
                elements[-1][2].extend([(f"{name} count", KINDS[count]), (name, KINDS[kind], 3)])  # type: ignore[list-item]
            case ["property", kind, name]:
                elements[-1][2].append((name, KINDS[kind]))
            case _:
                raise AssertionError(line)
    arrays = {}
    for name, count, fields in elements:
        kind = np.dtype(fields)  # type: ignore[arg-type]
        arrays[name] = np.frombuffer(body[: count * kind.itemsize], kind)
        body = body[count * kind.itemsize :]
    assert body == b""
    assert (arrays["face"]["vertex_indices count"] == 3).all()
    return Read(comments, arrays["vertex"], arrays["face"])


@dataclass
class Case:
    built: Built
    read: Read
    path: Path


@pytest.fixture(scope="module", params=SCENES)
def case(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Case:
    built = scene_build(request.param)
    path = tmp_path_factory.mktemp("ply") / "scene.ply"
    path.write_bytes(ply_bytes(built))
    return Case(built, read(path.read_bytes()), path)


def test_every_piece_by_its_number_is_closed_and_of_its_volume(case: Case) -> None:
    points = case.read.points
    numbers = [int(tag) for tag in piece_tags(case.built)]
    assert set(case.read.faces["piece"].tolist()) == set(numbers)
    assert case.read.names == {n: piece.name for n, piece in zip(numbers, case.built.pieces, strict=True)}
    for number, mesh in zip(numbers, case.built.meshes, strict=True):
        triangles = case.read.triangles(number)
        assert np.array_equal(points[triangles], mesh.points[mesh.triangles])  # to the last bit
        assert is_closed(welded(points, triangles))
        assert volume(points, triangles) == pytest.approx(mesh.volume, rel=1e-6)


def test_trimesh_reads_the_same(case: Case) -> None:
    body = trimesh.load(case.path, process=False)
    raw = body.metadata["_ply_raw"]["face"]["data"]
    colors = np.asarray(body.visual.vertex_colors)
    for tag, mesh, member in zip(piece_tags(case.built), case.built.meshes, case.built.members, strict=True):
        faces = body.faces[raw["piece"].ravel() == int(tag)]
        piece = trimesh.Trimesh(body.vertices, faces, process=False)
        piece.remove_unreferenced_vertices()
        assert piece.bounds == pytest.approx(box(mesh), abs=1e-9)
        piece.merge_vertices(merge_norm=True, merge_tex=True)
        assert piece.is_volume
        assert piece.volume == pytest.approx(mesh.volume, rel=1e-6)
        assert np.unique(colors[faces.ravel(), :3], axis=0) == pytest.approx(
            255 * np.array([member.finish.color]), abs=0.5
        )
        normals = np.asarray(body.vertex_normals)[faces]
        assert normals == pytest.approx(mesh.normals[mesh.shape.render_triangles], abs=1e-6)


def test_units_and_digest_are_told(case: Case) -> None:
    assert "units: millimeters, z up" in case.read.comments
    assert f"model {case.built.digest}" in case.read.comments


def test_millimeters_and_z_up() -> None:
    """The board: a meter along x, plan y into the room, from 100 to 190 up."""
    found = read(ply_bytes(board()))
    points = found.points[found.triangles(1)].reshape(-1, 3)
    assert points.min(axis=0).tolist() == [0, 0, 100]
    assert points.max(axis=0).tolist() == [1000, 20, 190]
    colors = {tuple(int(vertex[color]) for color in ("red", "green", "blue")) for vertex in found.vertices}
    assert colors == {(0x80, 0x40, 0x20)}
    upward = found.vertices[found.vertices["nz"] > 0.99]
    assert len(upward)
    assert (upward["z"] == 190).all()


def test_hostile_names_stay_in_their_lines(tmp_path: Path) -> None:
    data = ply_bytes(hostile())
    found = read(data)
    assert [found.names[n] for n in sorted(found.names)] == HOSTILE
    assert json.loads(found.comments[1].removeprefix("title ")) == "".join(HOSTILE)
    assert data.count(b"end_header") == 1
    assert b"texturefile" not in data.lower()
    path = tmp_path / "hostile.ply"
    path.write_bytes(data)
    assert len(trimesh.load(path, process=False).faces) == len(found.faces)


def test_same_job_same_bytes() -> None:
    built = scene_build("stair-hall")
    assert ply_bytes(replace(built)) == ply_bytes(built)


def test_a_scene_without_pieces() -> None:
    found = read(ply_bytes(nothing()))
    assert (len(found.vertices), len(found.faces)) == (0, 0)
