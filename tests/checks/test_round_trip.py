"""Files for other programs, read back and held against the build: sound ones hold, planted faults are each caught."""

from __future__ import annotations

import json
import re
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from preview.build import Built, build
from preview.checks import READERS, inspect_exchange
from preview.scene import load_scene
from round_trips import (
    ALL,
    CARRIED,
    ENDS,
    colors,
    failed,
    job,
    judged,
    pack,
    relayered,
    repacked,
    replaced,
    subjects,
    written,
)

SCENES = Path(__file__).parents[2] / "scenes"


@pytest.mark.parametrize("name", ENDS)
def test_every_format_has_a_reader_and_holds(name: str, tmp_path: Path) -> None:
    path = written(job(), name, tmp_path)
    found = judged(path)
    assert [finding for finding in found if not finding.holds] == []
    assert {finding.check.code for finding in found} == ALL | CARRIED[name]
    assert sum(finding.check.code == "file-pieces" for finding in found) == len(job().pieces) == 4
    assert all(finding.limit < 0.002 for finding in found if finding.check.code in ("file-points", "file-box"))
    # A volume may be out by a millionth, or by the step of the file's numbers on all of the surface.
    step = max(part.step for part in READERS[path.suffix](path).parts)
    volumes = [finding for finding in found if finding.check.code == "file-volume"]
    for mesh, finding in zip(job().meshes, volumes, strict=True):
        assert 1e-6 * mesh.volume <= finding.limit <= max(1e-6 * mesh.volume, step * mesh.area) * (1 + 1e-9)


@pytest.mark.parametrize("scene", ["window-seat", "stair-hall", "door-casing"])
def test_shipped_scenes_come_back(scene: str, tmp_path: Path) -> None:
    built = build(load_scene(SCENES / f"{scene}.toml"))
    for name in ENDS:
        found = judged(written(built, name, tmp_path), built)
        assert [finding for finding in found if not finding.holds] == []
        assert sum(finding.check.code == "file-points" for finding in found) == len(built.pieces)


# Faults in what is written -------------------------------------------------------------------------------------------


def without_a_piece(built: Built) -> Built:
    last = len(built.pieces) - 1
    left = tuple(pair for pair in built.joints if last not in (pair.before, pair.after))
    return replace(built, pieces=built.pieces[:-1], meshes=built.meshes[:-1], members=built.members[:-1], joints=left)


def renamed(built: Built) -> Built:
    piece = replace(built.pieces[1], name="north / Βάση / 2 straigth")
    meshes = (built.meshes[0], replace(built.meshes[1], piece=piece), *built.meshes[2:])
    return replace(built, pieces=(built.pieces[0], piece, *built.pieces[2:]), meshes=meshes)


def moved_points(built: Built, move: Callable[[np.ndarray], np.ndarray]) -> Built:
    return replace(built, meshes=tuple(replace(mesh, points=move(mesh.points)) for mesh in built.meshes))


def one_vertex_moved(built: Built) -> Built:
    points = built.meshes[1].points.copy()
    points[3] += (1.0, 0.0, 0.0)
    meshes = (built.meshes[0], replace(built.meshes[1], points=points), *built.meshes[2:])
    return replace(built, meshes=meshes)


def in_inches(built: Built) -> Built:
    return moved_points(built, lambda points: points / 25.4)


def lying_down(built: Built) -> Built:
    return moved_points(built, lambda points: points[:, [0, 2, 1]] * (1.0, -1.0, 1.0))


FAULTS = {
    without_a_piece: {"file-pieces"},
    renamed: {"file-pieces"},
    one_vertex_moved: {"file-points", "file-volume"},
    in_inches: {"file-units", "file-up", "file-points", "file-volume", "file-box"},
    lying_down: {"file-up", "file-points", "file-box"},
}


@pytest.mark.parametrize("name", ENDS)
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
def test_a_fault_in_the_model_is_caught(fault: Callable[[Built], Built], name: str, tmp_path: Path) -> None:
    path = written(fault(job()), name, tmp_path)
    wanted = FAULTS[fault]
    if name == "stl" and fault is renamed:  # the format has no names
        wanted = set()
    assert wanted <= failed(path)
    if fault is one_vertex_moved:
        assert subjects(path, "file-points") == [f"boards{ENDS[name]}: {job().pieces[1].name}"]
        worst = max(finding.figure for finding in judged(path) if finding.check.code == "file-points")
        assert worst == pytest.approx(1.0, abs=0.001)


@pytest.mark.parametrize("name", ENDS)
def test_a_piece_too_many_is_caught(name: str, tmp_path: Path) -> None:
    path = written(job(), name, tmp_path)
    found = inspect_exchange(path, job().meshes[:-1], colors(job())[:-1], job().digest)
    assert [f.subject for f in found if not f.holds and f.check.code == "file-pieces"] == [path.name]


@pytest.mark.parametrize("name", ENDS)
def test_another_model_is_caught(name: str, tmp_path: Path) -> None:
    path = written(replace(job(), digest="0" * 64), name, tmp_path)
    assert failed(path) == {"file-model"}


# Faults in the files -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ENDS)
@pytest.mark.parametrize("share", [0.3, 0.98])
def test_a_file_cut_short_is_caught(share: float, name: str, tmp_path: Path) -> None:
    path = written(job(), name, tmp_path)
    data = path.read_bytes()
    path.write_bytes(data[: int(share * len(data))])
    assert failed(path)


@pytest.mark.parametrize("name", ENDS)
def test_an_empty_and_a_missing_file_are_caught(name: str, tmp_path: Path) -> None:
    path = tmp_path / f"boards{ENDS[name]}"
    assert failed(path) == {"file-whole"}
    path.write_bytes(b"")
    assert failed(path)


def test_a_wrong_unit_stated_is_caught(tmp_path: Path) -> None:
    path = written(job(), "obj", tmp_path)
    replaced(path, "Lengths are meters", "Lengths are millimeters")
    assert "file-units" in failed(path)
    path = written(job(), "ply", tmp_path)
    replaced(path, "units: millimeters", "units: inches")
    assert "file-units" in failed(path)
    replaced(path, "units: inches", "units: cubits")
    assert "file-units" in failed(path)
    path = written(job(), "3mf", tmp_path)
    repacked(path, 'unit="millimeter"', 'unit="inch"')
    assert "file-units" in failed(path)
    path = written(job(), "usdz", tmp_path)
    relayered(path, lambda layer: layer.pseudoRoot.SetInfo("metersPerUnit", 0.01))
    assert "file-units" in failed(path)


def test_a_wrong_axis_stated_is_caught(tmp_path: Path) -> None:
    path = written(job(), "obj", tmp_path)
    replaced(path, "and y is up", "and z is up")
    assert "file-up" in failed(path)
    path = written(job(), "ply", tmp_path)
    replaced(path, "millimeters, z up", "millimeters, y up")
    assert "file-up" in failed(path)
    path = written(job(), "usdz", tmp_path)
    relayered(path, lambda layer: layer.pseudoRoot.SetInfo("upAxis", "Z"))
    assert "file-up" in failed(path)


def test_an_unstated_unit_is_caught(tmp_path: Path) -> None:
    path = written(job(), "stl", tmp_path)
    replaced(path, "mm, z up,", "as it is,")
    assert failed(path) == {"file-units", "file-up"}
    path = written(job(), "ply", tmp_path)
    replaced(path, "comment units: millimeters, z up", "comment as it comes")
    assert {"file-units", "file-up"} <= failed(path)


def test_a_name_changed_in_the_file_is_caught(tmp_path: Path) -> None:
    path = written(job(), "obj", tmp_path)
    replaced(path, "\no north_Βάση_1_straight", "\no north_Βάση_9_straight")
    assert failed(path) == {"file-pieces"}
    path = written(job(), "3mf", tmp_path)
    repacked(path, 'name="north / Βάση / 1', 'name="north / Βάση / 9')
    assert failed(path) == {"file-pieces"}


def test_an_obj_without_its_materials_is_caught(tmp_path: Path) -> None:
    path = written(job(), "obj", tmp_path)
    replaced(tmp_path / "boards.mtl", "newmtl oak", "newmtl elm")
    assert failed(path) == {"file-whole", "file-color"}
    (tmp_path / "boards.mtl").unlink()
    assert failed(path) == {"file-whole", "file-color"}


def test_a_gltf_without_its_other_files_is_caught(tmp_path: Path) -> None:
    path = written(job(), "gltf", tmp_path)
    document = json.loads(path.read_text("utf-8"))
    picture = tmp_path / document["images"][0]["uri"]
    picture.write_bytes(picture.read_bytes()[:-20])
    assert "file-whole" in failed(path)
    picture.unlink()
    assert failed(path) == {"file-whole", "file-color"}
    block = tmp_path / "boards.bin"
    block.write_bytes(block.read_bytes()[:-400])
    assert "file-whole" in failed(path)


def test_a_3mf_with_a_document_type_is_refused_unread(tmp_path: Path) -> None:
    path = written(job(), "3mf", tmp_path)
    bomb = '<!DOCTYPE model [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>\n<model '
    repacked(path, "<model ", bomb)
    (finding,) = judged(path)
    assert not finding.holds
    assert "document type" in finding.detail


def test_the_rules_of_a_usdz_package_are_checked(tmp_path: Path) -> None:
    path = written(job(), "usdz", tmp_path)
    with zipfile.ZipFile(path) as package:
        data = package.read("model.usdc")
    pack(path, "model.usdc", data)
    assert failed(path) == set()
    for told, other in (
        ("multiple of 64", lambda: pack(path, "model.usdc", data, gap=1)),
        ("packed", lambda: pack(path, "model.usdc", data, how=zipfile.ZIP_DEFLATED)),
        ("no layer", lambda: pack(path, "model.png", data)),
    ):
        other()
        (finding,) = judged(path)
        assert told in finding.detail


@pytest.mark.parametrize("name", ["3mf", "usdz"])
def test_a_changed_byte_in_a_package_is_caught(name: str, tmp_path: Path) -> None:
    path = written(job(), name, tmp_path)
    whole = path.read_bytes()
    for share in (0.3, 0.4, 0.5, 0.6, 0.7):
        data = bytearray(whole)
        data[int(share * len(data))] ^= 0xFF
        path.write_bytes(data)
        assert failed(path) == {"file-whole"}


def test_limits_say_where_they_come_from() -> None:
    from preview.checks import CHECKS

    mine = [check for check in CHECKS if check.code.startswith("file-")]
    assert {check.code for check in mine} == ALL.union(*CARRIED.values())
    assert all(re.search("[a-z]", check.source) for check in mine)
