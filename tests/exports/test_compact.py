"""Compact GLB files and levels of detail: KHR_mesh_quantization and EXT_meshopt_compression (Khronos, glTF 2.0
extensions), judged by the Khronos validator, by the reference decoder, and by what is read back."""

from __future__ import annotations

import copy
import json
import struct
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import gltf
from preview.build import Built, build
from preview.checks import Finding, inspect_exchange, inspect_model, read_model
from preview.checks import findings as table
from preview.checks.exchange_compact import read_compact
from preview.checks.model_glb import read_any_glb
from preview.checks.readers import accessor_values, chunks, read_glb
from preview.checks.small_gltf import MESHOPT, QUANTIZATION, in_floats, unpacked
from preview.errors import PreviewError
from preview.exports.formats import FORMATS, read_back
from preview.exports.glb import built_glb, glb_of
from preview.exports.glb_compact import compact_bytes, compact_glb, compressed
from preview.exports.glb_levels import level_files, levels_of
from preview.exports.gltf_document import Document, document_of
from preview.exports.gltf_grain import FULL
from preview.exports.gltf_model import model_of
from preview.scene import load_scene, parse_scene
from preview.shipped import folder
from reference_meshopt import Task, reference
from scene_builds import BOARD, nothing

NAMED = ("bar-front", "door-casing", "hall", "stair-wall")
"""Curves in clear wood; molding on the face of a wall; blocks and copes; rakes and runs that are alike."""
UNKNOWN = "UNSUPPORTED_EXTENSION"


@pytest.fixture(scope="module")
def builts() -> dict[str, Built]:
    return {name: build(load_scene(folder("scenes") / f"{name}.toml")) for name in NAMED}


@pytest.fixture(scope="module")
def compact(builts: dict[str, Built], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The compact GLB of each scene."""
    home = tmp_path_factory.mktemp("compact")
    found = {}
    for name, built in builts.items():
        found[name] = home / f"{name}-compact.glb"
        found[name].write_bytes(compact_glb(built))
    return found


def findings(path: Path, built: Built) -> list[Finding]:
    return inspect_exchange(path, built.meshes, [member.finish.color for member in built.members], built.digest)


def failed(path: Path, built: Built) -> set[str]:
    return {each.check.code for each in findings(path, built) if not each.holds}


def rewritten(path: Path, change: Callable[[dict[str, Any]], None], out: Path) -> Path:
    """A GLB whose document is changed, its block left as it is."""
    document, binary = chunks(path.read_bytes())
    change(document)
    out.write_bytes(glb_of(Document(document, bytearray(binary), ())))
    return out


def streams(path: Path) -> Iterator[tuple[dict[str, Any], bytes]]:
    document, binary = chunks(path.read_bytes())
    for view in document["bufferViews"]:
        if told := view.get("extensions", {}).get(MESHOPT):
            yield told, bytes(binary[told["byteOffset"] : told["byteOffset"] + told["byteLength"]])


@pytest.mark.parametrize("name", NAMED)
def test_the_khronos_validator_finds_nothing(
    name: str, builts: dict[str, Built], compact: dict[str, Path], tmp_path: Path
) -> None:
    """It knows quantization and not compression, so it judges the same document without streams as well."""
    plain = tmp_path / "plain.glb"
    document = document_of(model_of(builts[name]), small=True)
    plain.write_bytes(glb_of(document))
    report = gltf.validate(plain)
    assert (report.errors, report.warnings, report.infos, report.hints) == (0, 0, 0, 0), report
    assert report.info["extensionsRequired"] == [QUANTIZATION]
    told = gltf.validate(compact[name])
    assert (told.errors, told.warnings, told.hints) == (0, 0, 0), told
    assert [(each.code, MESHOPT in each.text) for each in told.messages] == [(UNKNOWN, True)]
    # What is decoded is what the validator saw.
    laid, binary = unpacked(*chunks(compact[name].read_bytes()))
    for number, accessor in enumerate(document.document["accessors"]):
        ours, theirs = (
            accessor_values(each, data, number)
            for each, data in ((laid, binary), (document.document, memoryview(document.data)))
        )
        if accessor["type"] == "SCALAR":
            ours, theirs = (np.sort(each.reshape(-1, 3), axis=1) for each in (ours, theirs))
        assert np.array_equal(ours, theirs)


@pytest.mark.parametrize("name", NAMED)
def test_the_reference_decoder_reads_every_stream(name: str, compact: dict[str, Path]) -> None:
    all_of_them = list(streams(compact[name]))
    tasks = [Task("decode", told["mode"], told["count"], told["byteStride"], data) for told, data in all_of_them]
    document, binary = unpacked(*chunks(compact[name].read_bytes()))
    ours = [view for view in document["bufferViews"] if "target" not in view and "name" not in view]
    laid = [bytes(binary[each["byteOffset"] : each["byteOffset"] + each["byteLength"]]) for each in ours]
    assert {told["mode"] for told, _ in all_of_them} == {"ATTRIBUTES", "TRIANGLES"}
    assert reference(tasks) == laid[: len(tasks)]


@pytest.mark.parametrize("name", NAMED)
def test_views_are_as_the_extension_has_them(name: str, compact: dict[str, Path]) -> None:
    document, binary = chunks(compact[name].read_bytes())
    block, fallback = document["buffers"]
    assert fallback["extensions"] == {MESHOPT: {"fallback": True}}
    assert "uri" not in fallback
    assert block["byteLength"] == len(binary)
    assert set(document["extensionsRequired"]) == {MESHOPT, QUANTIZATION} <= set(document["extensionsUsed"])
    for view in document["bufferViews"]:
        if MESHOPT not in view.get("extensions", {}):
            assert view["buffer"] == 0
            continue
        told = view["extensions"][MESHOPT]
        assert view["buffer"] == 1
        assert view["byteOffset"] + view["byteLength"] <= fallback["byteLength"]
        assert told["buffer"] == 0
        assert told["count"] * told["byteStride"] == view["byteLength"]
        assert view.get("byteStride", told["byteStride"]) == told["byteStride"]
        assert told["byteStride"] % 4 == 0 if told["mode"] == "ATTRIBUTES" else told["byteStride"] in (2, 4)


@pytest.mark.parametrize("name", NAMED)
def test_the_report_s_reading_holds(name: str, builts: dict[str, Built], compact: dict[str, Path]) -> None:
    """No point is off by more than half a step, no normal by half a degree."""
    found = findings(compact[name], builts[name])
    assert {each.check.code for each in found} >= {table.FILE_POINTS.code, table.FILE_NORMALS.code}
    for each in found:
        assert each.holds, each
        if each.check is table.FILE_POINTS:
            assert each.figure <= 0.87 * each.limit  # half a step along each axis, where the grid is turned
        if each.check is table.FILE_NORMALS:
            assert each.figure < 0.5


@pytest.mark.parametrize("name", NAMED)
def test_what_pieces_share_stays_one_number(name: str, builts: dict[str, Built], compact: dict[str, Path]) -> None:
    """Points that two pieces of a run have in common to the last bit in the build have so in the file."""
    bodies = {body.name: body for body in read_glb(compact[name])}
    pairs = shared = 0
    meshes = builts[name].meshes
    for one, two in pairwise(meshes):
        if one.piece.run != two.piece.run:
            continue
        common = {tuple(each) for each in one.points.tolist()} & {tuple(each) for each in two.points.tolist()}
        held = [
            {
                tuple(stored)
                for stored, point in zip(
                    bodies[each.piece.name].vertices.tolist(),
                    each.points[each.shape.corner_point].tolist(),
                    strict=True,
                )
                if tuple(point) in common
            }
            for each in (one, two)
        ]
        assert held[0] == held[1]
        pairs += bool(common)
        shared += len(common)
    assert pairs >= 2
    assert shared > 40


def test_it_is_small(builts: dict[str, Built], compact: dict[str, Path]) -> None:
    """All in all, pictures too: a fifth where much is curved, and half where nothing is."""
    most = {"bar-front": 0.2, "door-casing": 0.5, "hall": 0.4, "stair-wall": 0.3}
    for name, built in builts.items():
        assert compact[name].stat().st_size < most[name] * len(built_glb(built)), name


def test_the_same_scene_gives_the_same_bytes(builts: dict[str, Built], compact: dict[str, Path]) -> None:
    built = build(load_scene(folder("scenes") / "hall.toml"))
    assert compact_glb(built) == compact["hall"].read_bytes()


def test_the_grain_lies_where_it_does_in_the_glb(builts: dict[str, Built], compact: dict[str, Path]) -> None:
    """KHR_texture_transform: offset + scale * coordinate, of both files, within half a step of the grid."""
    full, binary = chunks(built_glb(builts["stair-wall"]))
    small, laid = unpacked(*chunks(compact["stair-wall"].read_bytes()))
    steps = small["asset"]["extras"]["texture_to_mm"]["scale"]

    def tiles(document: dict[str, Any], data: memoryview) -> Iterator[tuple[Any, Any]]:
        for node in document["nodes"]:
            if "mesh" not in node:
                continue
            (primitive,) = document["meshes"][node["mesh"]]["primitives"]
            look = document["materials"][primitive["material"]]["pbrMetallicRoughness"]
            transform = look.get("baseColorTexture", {}).get("extensions", {}).get("KHR_texture_transform")
            if transform:
                stored = accessor_values(document, data, primitive["attributes"]["TEXCOORD_0"]).astype(float)
                scale = np.array(transform["scale"])
                yield np.array(transform.get("offset", [0, 0])) + scale * stored, scale

    pairs = list(zip(tiles(full, binary), tiles(small, laid), strict=True))
    assert pairs
    for (wanted, scale), (found, _) in pairs:
        assert (np.abs(found - wanted) <= (0.5 + 1e-3) * np.array(steps) * scale + 1e-9).all()


def test_tangents_lie_as_they_do_in_the_glb(builts: dict[str, Built]) -> None:
    """Within half a degree, and to the same hand, where a small file has them, which the usual one does without."""
    full, binary = chunks(built_glb(builts["bar-front"]))
    small, laid = unpacked(*chunks(compact_bytes(model_of(builts["bar-front"]), detail=FULL)))
    pairs = [
        [
            in_floats(document["accessors"][number], accessor_values(document, data, number))
            for mesh in document["meshes"]
            for number in [mesh["primitives"][0]["attributes"].get("TANGENT")]
            if number is not None
        ]
        for document, data in ((full, binary), (small, laid))
    ]
    assert pairs[0]
    for wanted, found in zip(*pairs, strict=True):
        assert np.array_equal(wanted[:, 3], found[:, 3])
        across = np.linalg.norm(np.cross(wanted[:, :3], found[:, :3]), axis=1)
        turned = np.degrees(np.arctan2(across, np.einsum("ij,ij->i", wanted[:, :3], found[:, :3])))
        assert 0 < turned.max() < 0.5


def test_a_long_run_keeps_its_shape(tmp_path: Path) -> None:
    """16 bits over 30 m would be steps of 0.46 mm; whole numbers in floats are on a grid as fine as the usual chord."""
    built = build(parse_scene(BOARD.replace("START", "[0, 0]").replace("1000", "30000"), Path("board.toml")))
    path = tmp_path / "long-compact.glb"
    path.write_bytes(compact_glb(built))
    assert not failed(path, built)
    assert [part.step for part in read_compact(path).parts] == pytest.approx([0.05, 0.05])
    document, _ = chunks(path.read_bytes())
    kinds = {each["componentType"] for each in document["accessors"] if "min" in each}
    assert kinds == {5126}
    plain = tmp_path / "plain.glb"
    plain.write_bytes(glb_of(document_of(model_of(built), small=True)))
    assert not gltf.validate(plain).messages


def test_nothing_at_all(tmp_path: Path) -> None:
    path = tmp_path / "nothing-compact.glb"
    path.write_bytes(compact_glb(nothing()))
    report = gltf.validate(path)
    assert (report.errors, report.warnings) == (0, 0), report


# What would be wrong with it ------------------------------------------------------------------------------------------


def test_planted_faults_show(builts: dict[str, Built], compact: dict[str, Path], tmp_path: Path) -> None:
    built, path = builts["hall"], compact["hall"]
    runs = [place for place, node in enumerate(chunks(path.read_bytes())[0]["nodes"]) if node["name"] == "hall"]

    def wrong(change: Callable[[dict[str, Any]], None]) -> set[str]:
        return failed(rewritten(path, change, tmp_path / "wrong.glb"), built)

    assert not wrong(lambda document: document["asset"].update(copyright="nobody"))
    assert table.FILE_POINTS.code in wrong(
        lambda document: document["nodes"][runs[0]].update(scale=[1.01 * document["nodes"][runs[0]]["scale"][0]] * 3)
    )
    assert wrong(lambda document: document["nodes"][runs[0]]["extras"].update(stored_to_mm=1.0)) == {
        table.FILE_WHOLE.code
    }
    assert table.FILE_UVS.code in wrong(
        lambda document: document["asset"]["extras"]["texture_to_mm"].update(offset=[0, 1])
    )
    assert table.FILE_MODEL.code in wrong(lambda document: document["asset"]["extras"].update(digest="0" * 64))
    assert wrong(lambda document: document["nodes"][runs[0]]["children"].pop()) >= {table.FILE_PIECES.code}


def test_a_flipped_triangle_shows(builts: dict[str, Built], tmp_path: Path) -> None:
    """A triangle may begin at any of its corners, and may not be turned over or be another."""
    built = builts["hall"]
    found = document_of(model_of(built), small=True)
    index = next(each["indices"] for mesh in found.document["meshes"] for each in mesh["primitives"] if each["indices"])
    accessor = found.document["accessors"][index]
    view = found.document["bufferViews"][accessor["bufferView"]]
    place = view["byteOffset"] + accessor["byteOffset"] + 30
    path = tmp_path / "flipped.glb"
    for order, shows in (((0, 1, 2), False), ((1, 2, 0), False), ((0, 2, 1), True)):
        changed = replace(found, data=bytearray(found.data))
        corners = struct.unpack_from("<3H", found.data, place)
        struct.pack_into("<3H", changed.data, place, *(corners[each] for each in order))
        path.write_bytes(glb_of(compressed(changed)))
        assert (table.FILE_POINTS.code in failed(path, built)) is shows


@pytest.mark.parametrize("broken", ["mode", "count", "byteStride", "byteLength", "buffer"])
def test_a_view_that_does_not_fit_is_a_finding(
    broken: str, builts: dict[str, Built], compact: dict[str, Path], tmp_path: Path
) -> None:
    values = {"mode": "INDICES", "count": 10**12, "byteStride": 6, "byteLength": 10**9, "buffer": 1}
    path = rewritten(
        compact["hall"],
        lambda document: document["bufferViews"][0]["extensions"][MESHOPT].update({broken: values[broken]}),
        tmp_path / "broken.glb",
    )
    assert failed(path, builts["hall"]) == {table.FILE_WHOLE.code}


def test_a_stream_that_would_take_the_machine_is_refused(compact: dict[str, Path], tmp_path: Path) -> None:
    path = rewritten(
        compact["hall"],
        lambda document: document["bufferViews"][0]["extensions"][MESHOPT].update(count=10**12),
        tmp_path / "huge.glb",
    )
    with pytest.raises(PreviewError, match="MOLDING_LIMIT_MODEL_BYTES"):
        read_any_glb(path)


# Files from elsewhere -------------------------------------------------------------------------------------------------


def test_a_compact_file_of_another_program_is_read(compact: dict[str, Path], tmp_path: Path) -> None:
    """`check FILE` of the same bodies under another name: surroundings too, which of ours are left out."""
    ours, _ = read_any_glb(compact["hall"])
    path = rewritten(compact["hall"], lambda document: document["asset"].update(generator="x"), tmp_path / "other.glb")
    bodies, remarks = read_any_glb(path)
    assert "surroundings too" in remarks[0]
    found = {body.name: body for body in bodies}
    for body in ours:
        other = found.pop(body.name)
        assert np.array_equal(other.vertices, body.vertices)
        assert np.array_equal(other.triangles, body.triangles)
        assert other.step == pytest.approx(body.step)
    assert found
    assert all(name.startswith("surroundings / ") for name in found)


def test_its_pieces_are_closed_and_its_joints_hold(builts: dict[str, Built], compact: dict[str, Path]) -> None:
    """As `check FILE` measures them from the triangles alone, on the grid's own numbers: joints without a gap."""
    told = inspect_model(read_model(compact["hall"]).bodies)
    assert told.holds
    assert len(told.bodies) == len(builts["hall"].pieces)
    assert len(told.joints) >= 4
    assert max(each.figure for each in told.findings if each.check is table.GAP) < 1e-6


@pytest.mark.parametrize(("component", "one"), [(5120, 127), (5121, 255), (5122, 32767), (5123, 65535)])
def test_normalized_numbers(component: int, one: int) -> None:
    """glTF 2.0, 3.11: c / 127 and so on, the most negative number no less than -1."""
    stored = np.array([0, one, -one, -one - 1] if component in (5120, 5122) else [0, one])
    wanted = [0.0, 1.0, -1.0, -1.0][: len(stored)]
    assert in_floats({"componentType": component, "normalized": True}, stored).tolist() == wanted
    assert in_floats({"componentType": component}, stored).tolist() == stored.tolist()


# Levels ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["bar-front", "door-casing"])
def test_levels_have_fewer_and_fewer_triangles(name: str, builts: dict[str, Built], tmp_path: Path) -> None:
    """Four times the chord halves the steps along a curve (its sagitta grows with their square), and a piece that is
    curved both ways has a quarter of the triangles, flats aside."""
    built = builts[name]
    files = FORMATS["levels"](built, name)
    counts = [sum(len(mesh.triangles) for mesh in built.meshes)]
    sizes = [len(compact_glb(built))]
    for number, ((file, made), (_, content)) in enumerate(
        zip(read_back("levels", built, files), files, strict=True), start=1
    ):
        path = tmp_path / file
        path.write_bytes(content)
        assert file == f"{name}-level-{number}.glb"
        assert not failed(path, made)
        extras = chunks(content)[0]["asset"]["extras"]
        assert extras["level"] == number
        assert extras["digest"] == built.digest
        assert extras["chord_mm"] == pytest.approx(built.scene.chord * 4**number)
        counts.append(sum(len(mesh.triangles) for mesh in made.meshes))
        sizes.append(len(content))
    assert len(files) >= 2
    assert counts == sorted(counts, reverse=True)
    assert sizes == sorted(sizes, reverse=True)
    if name == "bar-front":
        assert 3 < counts[0] / counts[1] < 4.5


def test_a_level_with_no_fewer_triangles_is_not_made() -> None:
    """A board's triangles are the fewest there are, whatever the chord; its one level is smaller all the same."""
    built = build(parse_scene(BOARD.replace("START", "[0, 0]"), Path("board.toml")))
    assert len(list(levels_of(built))) == 1
    ((_, level),) = level_files(built, "board")
    document, _ = chunks(level)
    assert len(level) < len(compact_glb(built))
    assert "cameras" not in document


def test_levels_have_a_small_grain(builts: dict[str, Built], compact: dict[str, Path]) -> None:
    """The bar front is in walnut: the picture of grain takes less of the coarsest level than its triangles do."""
    *_, (_, far) = level_files(builts["bar-front"], "bar")
    whole, _ = chunks(compact["bar-front"].read_bytes())
    document, _ = chunks(far)
    assert [image["name"] for image in document["images"]] == ["grain"] == [image["name"] for image in whole["images"]]
    sizes = [each["bufferViews"][each["images"][0]["bufferView"]]["byteLength"] for each in (document, whole)]
    assert 0 < sizes[0] < sizes[1] / 5
    assert [material["name"] for material in document["materials"]] == [each["name"] for each in whole["materials"]]


def test_the_compact_file_says_its_chord(compact: dict[str, Path], builts: dict[str, Built]) -> None:
    document, _ = chunks(compact["hall"].read_bytes())
    said = copy.deepcopy(document["asset"]["extras"])
    assert said["chord_mm"] == builts["hall"].scene.chord
    assert json.dumps(document).count(builts["hall"].digest) == 2


def test_many_views_of_one_stretch_are_refused(tmp_path: Path) -> None:
    """A small file whose views all name the whole block would take the memory when it is laid out."""
    block = bytes(1_000_000)
    views = [{"buffer": 0, "byteLength": len(block)}] * 300
    document = {"asset": {"version": "2.0"}, "extensionsUsed": ["EXT_meshopt_compression"], "bufferViews": views}
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    parts = struct.pack("<I4s", len(text), b"JSON") + text + struct.pack("<I4s", len(block), b"BIN\0") + block
    path = tmp_path / "bomb.glb"
    path.write_bytes(struct.pack("<4sII", b"glTF", 2, 12 + len(parts)) + parts)
    with pytest.raises(PreviewError, match="the GLB, laid out, has 300 MB"):
        read_model(path)
