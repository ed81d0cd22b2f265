"""3MF, read back in strict mode by lib3mf (the 3MF Consortium's own reader), by trimesh, and as a plain zip file."""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import lib3mf
import numpy as np
import pytest
import trimesh

import preview
from export_jobs import storage_step
from preview.build import Built
from preview.drafting import piece_tags
from preview.exports import threemf, threemf_bytes
from scene_builds import HOSTILE, SCENES, board, box, hostile, is_closed, nothing, scene_build, volume

WRAPPER = lib3mf.get_wrapper()


@dataclass
class Body:
    """An object as lib3mf reads it: points in mm as 32-bit floats, where the build puts them, and its color."""

    name: str
    number: str
    points: np.ndarray
    triangles: np.ndarray
    moved: np.ndarray
    material: str
    color: tuple[int, int, int, int]
    closed: bool


@dataclass
class Read:
    model: Any
    bodies: list[Body]
    metadata: dict[tuple[str, str], str]


def read(path: Path) -> Read:
    """A package read in strict mode, in which whatever departs from the specification is an error; no warnings."""
    model = WRAPPER.CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(path))
    assert [reader.GetWarning(i) for i in range(reader.GetWarningCount())] == []
    bodies = []
    items = model.GetBuildItems()
    while items.MoveNext():
        item = items.GetCurrent()
        mesh = model.GetMeshObjectByID(item.GetObjectResourceID())
        move = np.array([list(row) for row in item.GetObjectTransform().Fields])
        assert np.array_equal(move[:3], np.eye(3))
        resource, index, has = mesh.GetObjectLevelProperty()
        assert has
        group = model.GetBaseMaterialGroupByID(resource)
        color = group.GetDisplayColor(index)
        bodies.append(
            Body(
                mesh.GetName(),
                mesh.GetPartNumber(),
                np.array([list(point.Coordinates) for point in mesh.GetVertices()]).reshape(-1, 3),
                np.array([list(corner.Indices) for corner in mesh.GetTriangleIndices()]).reshape(-1, 3),
                move[3],
                group.GetName(index),
                (color.Red, color.Green, color.Blue, color.Alpha),
                mesh.IsManifoldAndOriented() and mesh.IsValid(),
            )
        )
    group = model.GetMetaDataGroup()
    entries = [group.GetMetaData(i) for i in range(group.GetMetaDataCount())]
    return Read(model, bodies, {(e.GetNameSpace(), e.GetName()): e.GetValue() for e in entries})


@dataclass
class Case:
    built: Built
    read: Read
    path: Path


@pytest.fixture(scope="module", params=SCENES)
def case(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Case:
    built = scene_build(request.param)
    path = tmp_path_factory.mktemp("3mf") / "scene.3mf"
    path.write_bytes(threemf_bytes(built))
    return Case(built, read(path), path)


def test_every_piece_is_an_object_by_its_name_and_number(case: Case) -> None:
    found = [(body.name, body.number) for body in case.read.bodies]
    assert found == [(p.name, tag) for p, tag in zip(case.built.pieces, piece_tags(case.built), strict=True)]
    assert case.read.model.GetUnit() == lib3mf.ModelUnit.MilliMeter


def test_every_piece_is_closed_in_place_and_of_its_volume(case: Case) -> None:
    for body, mesh in zip(case.read.bodies, case.built.meshes, strict=True):
        assert body.closed
        assert is_closed(body.triangles)
        slack = storage_step(body.points) * mesh.area  # lib3mf keeps 32-bit floats
        assert volume(body.points, body.triangles) == pytest.approx(mesh.volume, abs=slack)
        placed = body.points + body.moved
        assert np.array([placed.min(axis=0), placed.max(axis=0)]) == pytest.approx(box(mesh), abs=1e-3)


def test_trimesh_reads_the_same(case: Case) -> None:
    scene = trimesh.load(case.path, force="scene", process=False)
    assert scene.units == "millimeter"
    nodes = {scene.graph[node][1]: scene.graph[node][0] for node in scene.graph.nodes_geometry}
    assert set(nodes) == {piece.name for piece in case.built.pieces}
    for mesh in case.built.meshes:
        body = scene.geometry[mesh.piece.name].copy()
        assert body.is_volume
        assert body.volume == pytest.approx(mesh.volume, rel=1e-6)
        body.apply_transform(nodes[mesh.piece.name])
        assert body.bounds == pytest.approx(box(mesh), abs=1e-6)


def test_colors_are_the_finishes(case: Case) -> None:
    for body, member in zip(case.read.bodies, case.built.members, strict=True):
        assert body.material == member.finish.name
        assert body.color == (*(round(255 * part) for part in member.finish.color), 255)


def test_metadata(case: Case) -> None:
    assert case.read.metadata == {
        ("", "Title"): case.built.scene.title,
        ("", "Application"): f"molding-preview {preview.__version__}",
        (threemf.OURS, "digest"): case.built.digest,
    }


def test_millimeters_and_z_up(tmp_path: Path) -> None:
    """The board: a meter along x, plan y into the room, from 100 to 190 up; 20 by 90 by the length at its middle."""
    path = tmp_path / "board.3mf"
    path.write_bytes(threemf_bytes(board()))
    first = read(path).bodies[0]
    placed = first.points + first.moved
    assert placed.min(axis=0).tolist() == [0, 0, 100]
    assert placed.max(axis=0).tolist() == [1000, 20, 190]
    assert volume(first.points, first.triangles) == pytest.approx(20 * 90 * 990, rel=1e-9)
    assert (first.material, first.color) == ("oak", (0x80, 0x40, 0x20, 255))


def test_far_from_the_origin_no_digit_is_lost(tmp_path: Path) -> None:
    """Two kilometers out 32-bit floats are an eighth of a millimeter apart; the board is whole all the same."""
    path = tmp_path / "far.3mf"
    path.write_bytes(threemf_bytes(board("[2000000.25, -3000000]")))
    first, second = read(path).bodies
    assert volume(first.points, first.triangles) == pytest.approx(20 * 90 * 990, rel=1e-6)
    assert np.array_equal(first.moved, second.moved)
    assert first.moved.tolist() == [2000000, -3000000, 100]
    shared = {tuple(point) for point in first.points.tolist()} & {tuple(point) for point in second.points.tolist()}
    assert len(shared) == 4  # the miter's corners


def test_hostile_names(tmp_path: Path) -> None:
    """All letters survive but those that XML cannot hold; an end of a line becomes a blank."""
    path = tmp_path / "hostile.3mf"
    path.write_bytes(threemf_bytes(hostile()))
    lost = str.maketrans(dict.fromkeys("\x00\x1b\ud800\ufffe", "\ufffd") | dict.fromkeys("\t\n\r", " "))
    expected = [name.translate(lost) for name in HOSTILE]
    found = read(path)
    assert [body.name for body in found.bodies] == expected
    assert [body.material for body in found.bodies] == expected
    assert [body.color[1] for body in found.bodies] == [round(25.5 * i) for i in range(len(HOSTILE))]
    assert found.metadata["", "Title"] == "".join(expected)
    assert len(trimesh.load(path, force="scene").geometry) == len(HOSTILE)


def test_the_package_holds_no_clock_s_time_and_the_same_job_gives_the_same_bytes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    built = scene_build("stair-hall")
    whole = threemf_bytes(built)
    with zipfile.ZipFile(io.BytesIO(whole)) as archive:
        assert archive.testzip() is None
        assert archive.namelist() == ["[Content_Types].xml", "_rels/.rels", "3D/3dmodel.model"]
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        for name in archive.namelist():
            ElementTree.fromstring(archive.read(name))
        longest = max(len(line) for line in archive.read("3D/3dmodel.model").split(b"\n") if line[:3] == b"<ve")
    assert longest < threemf.POINT_BYTES
    assert threemf_bytes(replace(built)) == whole
    monkeypatch.setattr(threemf, "BLOCK", 1)
    assert threemf_bytes(built) == whole


def spoiled(find: bytes, replacement: bytes, path: Path) -> Path:
    """The board's package with the first of some text in its model replaced."""
    with zipfile.ZipFile(io.BytesIO(threemf_bytes(board()))) as whole, zipfile.ZipFile(path, "w") as package:
        for name in whole.namelist():
            package.writestr(name, re.sub(find, replacement, whole.read(name), count=1))
    return path


def test_a_hole_is_seen(tmp_path: Path) -> None:
    first, second = read(spoiled(b"<triangle [^>]*>", b"", tmp_path / "hole.3mf")).bodies
    assert not first.closed
    assert not is_closed(first.triangles)
    assert second.closed


@pytest.mark.parametrize(
    ("find", "replacement"),
    [
        (b' v3="[0-9]*"', b' v3="99"'),
        (b'pindex="0"', b'pindex="7"'),
        (b'x="', b'y="'),
        (b' xmlns:molding="[^"]*"', b""),
    ],
)
def test_strict_mode_refuses_what_departs_from_the_specification(
    find: bytes, replacement: bytes, tmp_path: Path
) -> None:
    with pytest.raises((lib3mf.ELib3MFException, AssertionError)):
        read(spoiled(find, replacement, tmp_path / "spoiled.3mf"))


def test_a_scene_without_pieces(tmp_path: Path) -> None:
    path = tmp_path / "nothing.3mf"
    path.write_bytes(threemf_bytes(nothing()))
    assert read(path).bodies == []
