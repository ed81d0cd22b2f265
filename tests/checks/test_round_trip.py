"""Files for other programs, read back and held against the build: sound ones hold, planted faults are each caught."""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from pxr import Sdf

from preview.build import Built, build
from preview.checks import Finding, inspect_exchange
from preview.exports import FORMATS
from preview.scene import load_scene, parse_scene

SCENES = Path(__file__).parents[2] / "scenes"
ENDS = {"gltf": ".gltf", "3mf": ".3mf", "obj": ".obj", "ply": ".ply", "usdz": ".usdz"}
ALL = {f"file-{what}" for what in ("whole", "model", "pieces", "points", "volume", "box", "units", "up")}
JOB = """
title = "Two boards, alike but for their place"
units = "mm"
[profile.board]
foot = 20
face = [{ fillet = 60 }, { cove = 15, in = 10 }, { fillet = 15 }]
[finish.oak]
color = "#804020"
kind = "clear"
[member."Βάση"]
profile = "board"
finish = "oak"
[[run]]
name = "north"
room = "left"
start = [0.1, 0.2]
level = 100
steps = [{ straight = 1000 }, { left = 90 }, { straight = 500 }]
[[run]]
name = 'south "<&> e\u0301 \U0001f6aa 1½ end_header % usemtl x'
room = "left"
start = [7000, 3000]
heading = 120
level = 100
steps = [{ straight = 1000 }, { left = 90 }, { straight = 500 }]
[[surrounding]]
name = "crate"
kind = "box"
at = [300, 300]
size = [200, 200]
top = 400
"""


@cache
def job() -> Built:
    return build(parse_scene(JOB, Path("boards.toml")))


def written(built: Built, name: str, folder: Path) -> Path:
    files = FORMATS[name](built, "boards")
    for file, data in files:
        (folder / file).write_bytes(data)
    return folder / files[0][0]


def judged(path: Path, built: Built | None = None) -> list[Finding]:
    built = built or job()
    return inspect_exchange(path, built.meshes, built.digest)


def failed(path: Path) -> set[str]:
    return {finding.check.code for finding in judged(path) if not finding.holds}


def subjects(path: Path, code: str) -> list[str]:
    return [finding.subject for finding in judged(path) if not finding.holds and finding.check.code == code]


@pytest.mark.parametrize("name", ENDS)
def test_every_format_has_a_reader_and_holds(name: str, tmp_path: Path) -> None:
    path = written(job(), name, tmp_path)
    found = judged(path)
    assert [finding for finding in found if not finding.holds] == []
    assert {finding.check.code for finding in found} == ALL
    assert sum(finding.check.code == "file-pieces" for finding in found) == len(job().pieces) == 4
    assert all(finding.limit < 0.002 for finding in found if finding.check.code in ("file-points", "file-box"))


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
    assert FAULTS[fault] <= failed(path)
    if fault is one_vertex_moved:
        assert subjects(path, "file-points") == [f"boards{ENDS[name]}: {job().pieces[1].name}"]
        worst = max(finding.figure for finding in judged(path) if finding.check.code == "file-points")
        assert worst == pytest.approx(1.0, abs=0.001)


@pytest.mark.parametrize("name", ENDS)
def test_a_piece_too_many_is_caught(name: str, tmp_path: Path) -> None:
    path = written(job(), name, tmp_path)
    found = inspect_exchange(path, job().meshes[:-1], job().digest)
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


def replaced(path: Path, old: str, new: str) -> None:
    text = path.read_bytes()
    assert old.encode() in text
    path.write_bytes(text.replace(old.encode(), new.encode(), 1))


def repacked(path: Path, old: str, new: str) -> None:
    with zipfile.ZipFile(path) as package:
        parts = {name: package.read(name) for name in package.namelist()}
    assert old.encode() in parts["3D/3dmodel.model"]
    parts["3D/3dmodel.model"] = parts["3D/3dmodel.model"].replace(old.encode(), new.encode(), 1)
    with zipfile.ZipFile(path, "w") as package:
        for name, data in parts.items():
            package.writestr(name, data)


def relayered(path: Path, change: Callable[[Sdf.Layer], None]) -> None:
    """Change the layer in a package, and pack it again by the rules."""
    with zipfile.ZipFile(path) as package:
        (name,) = package.namelist()
        loose = path.with_name("loose.usdc")
        loose.write_bytes(package.read(name))
    layer = Sdf.Layer.FindOrOpen(str(loose))
    change(layer)
    layer.Save()
    pack(path, name, loose.read_bytes())


def pack(path: Path, name: str, data: bytes, *, gap: int | None = None, how: int = zipfile.ZIP_STORED) -> None:
    about = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
    gap = -(34 + len(name)) % 64 if gap is None else gap
    about.extra = (0x1986).to_bytes(2, "little") + gap.to_bytes(2, "little") + bytes(gap)
    about.compress_type = how
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as package:
        package.writestr(about, data)
    path.write_bytes(packed.getvalue())


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
    assert failed(path) == {"file-whole"}
    (tmp_path / "boards.mtl").unlink()
    assert failed(path) == {"file-whole"}


def test_a_gltf_without_its_other_files_is_caught(tmp_path: Path) -> None:
    path = written(job(), "gltf", tmp_path)
    document = json.loads(path.read_text("utf-8"))
    picture = tmp_path / document["images"][0]["uri"]
    picture.write_bytes(picture.read_bytes()[:-20])
    assert failed(path) == {"file-whole"}
    picture.unlink()
    assert failed(path) == {"file-whole"}
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

    mine = [check for check in CHECKS if check.code in ALL]
    assert len(mine) == len(ALL)
    assert all(re.search("[a-z]", check.source) for check in mine)
