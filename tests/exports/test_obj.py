"""OBJ and MTL, read back by trimesh and by a reader that follows the format's own description.

The format is that of the Advanced Visualizer, appendices B1 (object files: v, vt, vn, f, o, g, usemtl, mtllib; a
backslash continues a line) and "MTL material format"; Pr and Pm are the physically based extension that readers
share (common practice). Both are told here from memory.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from preview.build import Built
from preview.drafting import piece_tags
from preview.exports import obj, obj_files
from preview.models.mesh import mesh_surroundings
from scene_builds import HOSTILE, SCENES, board, box, hostile, is_closed, nothing, scene_build, volume, welded


@dataclass
class Body:
    """An object as read: its material, groups, and for each corner of each face its v, vt, vn (0 for none)."""

    groups: dict[str, int] = field(default_factory=dict)
    materials: set[str] = field(default_factory=set)
    corners: list[list[list[int]]] = field(default_factory=list)

    def index(self, which: int) -> np.ndarray:
        return np.array(self.corners)[:, :, which] - 1


@dataclass
class Read:
    lists: dict[str, list[list[float]]] = field(default_factory=lambda: {"v": [], "vt": [], "vn": []})
    objects: dict[str, Body] = field(default_factory=dict)
    comments: list[str] = field(default_factory=list)
    library: list[str] = field(default_factory=list)

    def numbers(self, word: str) -> np.ndarray:
        return np.array(self.lists[word])


def read(data: bytes) -> Read:
    found, body, material, groups = Read(), Body(), "", ["default"]
    assert data.endswith(b"\n")
    for line in data.decode("utf-8").replace("\\\n", " ").split("\n"):
        assert line.splitlines() in ([], [line])
        if line.startswith("#"):
            found.comments.append(line[2:])
            continue
        match line.split():
            case []:
                pass
            case [("v" | "vt" | "vn") as word, *numbers]:
                assert len(numbers) == (2 if word == "vt" else 3)
                found.lists[word].append([float(number) for number in numbers])
            case ["f", *corners]:
                assert len(corners) == 3
                parts = [[int(part or 0) for part in corner.split("/")] for corner in corners]
                for corner in parts:
                    for word, index in zip(("v", "vt", "vn"), corner, strict=True):
                        assert 0 <= index <= len(found.lists[word])
                body.corners.append(parts)
                body.materials.add(material)
                for group in groups:
                    body.groups[group] = body.groups.get(group, 0) + 1
            case ["o", name]:
                assert name not in found.objects
                body = found.objects[name] = Body()
            case ["g", *groups]:
                pass
            case ["usemtl", material]:
                pass
            case ["mtllib", name]:
                found.library.append(name)
            case _:
                raise AssertionError(line)
    return found


def read_materials(data: bytes) -> dict[str, dict[str, list[float]]]:
    found: dict[str, dict[str, list[float]]] = {}
    for line in data.decode("utf-8").split("\n"):
        match line.split():
            case [] | ["#", *_]:
                pass
            case ["newmtl", name]:
                assert name not in found
                found[name] = {}
            case [word, *numbers]:
                found[next(reversed(found))][word] = [float(number) for number in numbers]
    return found


def y_up(points: np.ndarray) -> np.ndarray:
    """Plan x, y and height in mm as the file has them: x, height, -y in meters."""
    return np.column_stack([points[:, 0], points[:, 2], -points[:, 1]]) / 1000


@dataclass
class Case:
    built: Built
    data: bytes
    library: bytes
    read: Read
    path: Path


@pytest.fixture(scope="module", params=SCENES)
def case(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Case:
    built = scene_build(request.param)
    folder = tmp_path_factory.mktemp("obj")
    files = obj_files(built, request.param)
    assert [name for name, _ in files] == [f"{request.param}.obj", f"{request.param}.mtl"]
    for name, data in files:
        (folder / name).write_bytes(data)
    return Case(built, files[0][1], files[1][1], read(files[0][1]), folder / files[0][0])


def test_every_piece_is_an_object_of_its_volume(case: Case) -> None:
    """Closed by the indices of positions alone, and again where equal positions are made one."""
    objects, points = case.read.objects, case.read.numbers("v")
    pieces = [name for name in objects if name != "surroundings"]
    assert len(pieces) == len(case.built.pieces)
    for name, mesh in zip(pieces, case.built.meshes, strict=True):
        triangles = objects[name].index(0)
        assert is_closed(triangles)
        assert is_closed(welded(points, triangles))
        assert volume(points, triangles) * 1e9 == pytest.approx(mesh.volume, rel=1e-6)
        own = points[np.unique(triangles)]
        corners = np.sort(y_up(box(mesh)), axis=0)
        assert np.array([own.min(axis=0), own.max(axis=0)]) == pytest.approx(corners, abs=1e-9)


def test_names_numbers_and_digest(case: Case) -> None:
    names = [name for name in case.read.objects if name != "surroundings"]
    told = [comment.split(" ", 2)[1:] for comment in case.read.comments if comment.startswith("piece ")]
    pieces = zip(piece_tags(case.built), case.built.pieces, strict=True)
    assert [(number, json.loads(name)) for number, name in told] == [(tag, piece.name) for tag, piece in pieces]
    assert names == [re.sub("[ ,/]+", "_", piece.name) for piece in case.built.pieces]
    assert f"model {case.built.digest}" in case.read.comments
    assert f"# model {case.built.digest}" in case.library.decode().split("\n")


def test_trimesh_reads_the_same(case: Case) -> None:
    scene = trimesh.load(case.path, force="scene", split_objects=True, group_material=False, process=False)
    shown = {"surroundings"} & set(case.read.objects)
    assert set(scene.geometry) - shown == set(case.read.objects) - shown
    names = [name for name in case.read.objects if name != "surroundings"]
    for name, mesh, member in zip(names, case.built.meshes, case.built.members, strict=True):
        body = scene.geometry[name]
        joined = trimesh.Trimesh(
            body.vertices, welded(np.asarray(body.vertices), body.faces), process=False, validate=False
        )
        _, first = np.unique(np.asarray(body.vertices), axis=0, return_index=True)
        joined.vertices = np.asarray(body.vertices)[first]
        assert joined.is_volume
        assert joined.volume * 1e9 == pytest.approx(mesh.volume, rel=1e-6)
        assert body.visual.material.diffuse[:3] == pytest.approx(np.array(member.finish.color) * 255, abs=1)
        assert len(body.visual.uv) == len(body.vertices) == len(mesh.normals)


def test_normals_and_texture_coordinates_are_the_mesh_s(case: Case) -> None:
    names = [name for name in case.read.objects if name != "surroundings"]
    normals, uvs = case.read.numbers("vn"), case.read.numbers("vt")
    assert np.linalg.norm(normals, axis=1) == pytest.approx(1, abs=2e-6)
    for name, mesh in zip(names, case.built.meshes, strict=True):
        body, corners = case.read.objects[name], mesh.shape.render_triangles
        assert uvs[body.index(1)] == pytest.approx(mesh.uvs[corners], abs=6e-4)
        turned = y_up(mesh.normals * 1000.0)
        assert normals[body.index(2)] == pytest.approx(turned[corners], abs=1e-6)


def test_surroundings_are_groups_of_an_object_of_their_own(case: Case) -> None:
    scene = case.built.scene
    shown = mesh_surroundings(scene.surroundings, scene.runs, scene.chord)
    groups = dict(case.read.objects["surroundings"].groups) if shown else {}
    assert groups.pop("surroundings", 0) == sum(len(mesh.triangles) for mesh in shown)
    assert list(groups.values()) == [len(mesh.triangles) for mesh in shown]
    assert all(set(body.groups) == {"default"} for name, body in case.read.objects.items() if name != "surroundings")
    if shown:
        triangles = case.read.objects["surroundings"].index(0)
        points = case.read.numbers("v")[triangles].reshape(-1, 3)
        expected = np.concatenate([y_up(mesh.points[mesh.triangles.ravel()]) for mesh in shown])
        assert points == pytest.approx(expected, abs=1e-9)


def test_materials_are_the_finishes(case: Case) -> None:
    materials = read_materials(case.library)
    assert case.read.library == [case.path.with_suffix(".mtl").name]
    used = set().union(*(body.materials for body in case.read.objects.values()))
    assert used == set(materials)
    names = [name for name in case.read.objects if name != "surroundings"]
    for name, member in zip(names, case.built.members, strict=True):
        (word,) = case.read.objects[name].materials
        finish = member.finish
        assert word == finish.name.replace(" ", "_")
        assert materials[word]["Kd"] == pytest.approx(finish.color, abs=1e-6)
        assert materials[word]["Pr"] + materials[word]["Pm"] == [finish.roughness, finish.metallic]


def test_meters_and_y_up() -> None:
    """The board: a meter along x, from 0.1 to 0.19 up, plan y (into the room) along -z."""
    built = board()
    found = read(obj_files(built, "board")[0][1])
    first = found.objects["north_base_1_straight"]
    points = found.numbers("v")[np.unique(first.index(0))]
    assert points.min(axis=0).tolist() == [0, 0.1, -0.02]
    assert points.max(axis=0).tolist() == [1, 0.19, 0]
    assert volume(found.numbers("v"), first.index(0)) == pytest.approx(0.02 * 0.09 * 0.99, rel=1e-9)
    assert any("meters and y is up" in comment for comment in found.comments)
    sides = np.isclose(found.numbers("vn")[first.index(2)][:, :, 0], 0).all(axis=1)
    along = found.numbers("vt")[first.index(1)][sides][:, :, 0]
    assert along == pytest.approx(1000 * found.numbers("v")[first.index(0)][sides][:, :, 0])  # the grain, in mm


def test_hostile_names_stay_in_their_lines() -> None:
    built = hostile()
    files = obj_files(built, "a b\n½")
    found = read(files[0][1])
    assert list(found.objects) == [
        "say_it_s_base_1_straight",
        "two_lines_and_a_tab_base_1_straight",
        "amp_--_--_base_1_straight",
        "Βάση_木線_חלון_é_base_1_straight",
        "x" * 200 + "_base_1_straight",
        "end_header_TextureFile_grain_png_mtllib_other_mtl_base_1_straight",
        "base_1_straight",
        "etc_x_base_1_straight",
        "a_b_base_1_straight",
        "a_b_base_1_straight_2",
    ]
    told = [comment.split(" ", 2)[2] for comment in found.comments if comment.startswith("piece ")]
    assert [json.loads(name) for name in told] == HOSTILE
    assert found.library == [files[1][0]] == ["a_b_½.mtl"]
    materials = read_materials(files[1][1])
    assert len(materials) == len(HOSTILE)
    for i, body in enumerate(found.objects.values()):
        (word,) = body.materials
        assert materials[word]["Kd"] == pytest.approx([0.5, i / 10, 1.0])
        assert is_closed(body.index(0))


def test_trimesh_reads_hostile_names(tmp_path: Path) -> None:
    for name, data in obj_files(hostile(), "hostile"):
        (tmp_path / name).write_bytes(data)
    scene = trimesh.load(tmp_path / "hostile.obj", force="scene", split_objects=True, group_material=False)
    assert len(scene.geometry) == len(HOSTILE)
    assert sorted(body.visual.material.diffuse[1] for body in scene.geometry.values()) == pytest.approx(
        [255 * i / 10 for i in range(10)], abs=1
    )


def test_same_job_same_bytes_whatever_the_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    built = scene_build("stair-hall")
    whole = obj_files(built, "stair-hall")
    assert obj_files(replace(built), "stair-hall") == whole
    monkeypatch.setattr(obj, "BLOCK", 1)
    assert obj_files(built, "stair-hall") == whole


def test_a_scene_without_pieces() -> None:
    found = read(obj_files(nothing(), "nothing")[0][1])
    assert found.objects == {}
