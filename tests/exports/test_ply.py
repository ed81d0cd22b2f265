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
from preview.models.mesh import PieceMesh
from scene_builds import HOSTILE, SCENES, board, box, hostile, is_closed, nothing, scene_build, volume, welded

KINDS = {"double": "<f8", "float": "<f4", "uchar": "u1", "ushort": "<u2", "int": "<i4"}


@dataclass
class Read:
    comments: list[str]
    vertices: np.ndarray
    faces: np.ndarray
    pieces: np.ndarray

    @property
    def points(self) -> np.ndarray:
        return np.stack([self.vertices[axis].astype(np.float64) for axis in "xyz"], axis=1)

    @property
    def names(self) -> dict[int, str]:
        told = (comment.split(" ", 2) for comment in self.comments if comment.startswith("piece "))
        return {int(number): json.loads(name) for _, number, name in told}

    def triangles(self, piece: int) -> np.ndarray:
        row = int(np.flatnonzero(self.pieces["number"] == piece)[0])
        first = int(self.pieces["faces"][:row].sum())
        return self.faces["vertex_indices"][first : first + self.pieces["faces"][row]].astype(np.int64)


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
    return Read(comments, arrays["vertex"], arrays["face"], arrays["piece"])


def step(mesh: PieceMesh) -> float:
    """How far apart 32-bit floats lie at a piece's farthest coordinate, mm (IEEE 754)."""
    return float(np.spacing(np.float32(np.abs(mesh.points).max())))


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
    pieces = case.read.pieces
    assert pieces["number"].tolist() == numbers
    assert pieces["vertices"].tolist() == [len(mesh.normals) for mesh in case.built.meshes]
    assert (pieces["vertices"].sum(), pieces["faces"].sum()) == (len(points), len(case.read.faces))
    assert case.read.names == {n: piece.name for n, piece in zip(numbers, case.built.pieces, strict=True)}
    for number, mesh in zip(numbers, case.built.meshes, strict=True):
        triangles = case.read.triangles(number)
        assert np.array_equal(points[triangles], mesh.points[mesh.triangles].astype(np.float32))  # to the last bit
        assert is_closed(welded(points, triangles))
        assert volume(points, triangles) == pytest.approx(mesh.volume, abs=step(mesh) * mesh.area)


def test_trimesh_reads_the_same(case: Case) -> None:
    body = trimesh.load(case.path, process=False)
    table = body.metadata["_ply_raw"]["piece"]["data"]
    numbers = np.repeat(table["number"].ravel(), table["faces"].ravel())
    colors = np.asarray(body.visual.vertex_colors)
    for tag, mesh, member in zip(piece_tags(case.built), case.built.meshes, case.built.members, strict=True):
        faces = body.faces[numbers == int(tag)]
        piece = trimesh.Trimesh(body.vertices, faces, process=False)
        piece.remove_unreferenced_vertices()
        assert piece.bounds == pytest.approx(box(mesh).astype(np.float32), abs=0)
        piece.merge_vertices(merge_norm=True, merge_tex=True)
        assert piece.is_volume
        assert piece.volume == pytest.approx(mesh.volume, abs=step(mesh) * mesh.area)
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


def test_joined_pieces_share_their_points(case: Case) -> None:
    """Both pieces of a joint round the same numbers: what is one point in the build is one point in the file."""
    points = case.read.points
    stored = np.concatenate([mesh.points[mesh.shape.corner_point] for mesh in case.built.meshes])
    once, where = np.unique(stored, axis=0, return_inverse=True)
    assert len(once) < len(stored)
    first = np.full(len(once), -1)
    first[where.ravel()] = np.arange(len(stored))
    assert np.array_equal(points[first[where.ravel()]], points)


def test_far_from_the_origin_nothing_is_lost() -> None:
    """5 km from the origin 32-bit floats lie half a millimeter apart."""
    built = board("[5000000.125, 0]")
    found = read(ply_bytes(built))
    assert np.array_equal(found.points[found.triangles(1)], built.meshes[0].points[built.meshes[0].triangles])
    assert np.ptp(found.points[found.triangles(1)].reshape(-1, 3), axis=0).tolist() == [1000, 20, 90]


@pytest.mark.parametrize(("more", "index"), [(0, 2), (1, 4)])
def test_indices_are_as_wide_as_they_must_be(more: int, index: int) -> None:
    """65,536 vertices have the numbers 0 to 65,535, all that 16 bits can say."""
    built = board()
    mesh = built.meshes[0]
    full = 65_536 // len(mesh.normals)
    count = full + more
    many = replace(
        built,
        pieces=(mesh.piece,) * count,
        members=(built.members[0],) * count,
        meshes=(mesh,) * count,
        lines=(replace(built.lines[0], pieces=(mesh.piece,) * count),),
    )
    found = read(ply_bytes(many))
    assert found.faces.dtype.itemsize == 1 + 3 * index
    last = found.faces["vertex_indices"][-len(mesh.triangles) :]
    assert np.array_equal(last, mesh.shape.render_triangles + (count - 1) * len(mesh.normals))


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
