"""What the numbers of a GLB mean (glTF 2.0, ISO/IEC 12113:2022; KHR_mesh_quantization; EXT_meshopt_compression): each
kind of number, normalized or not, in meters with y up, told in mm with z up; and the sizes that do not fit."""

from __future__ import annotations

import os
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from hand_gltf import CORNERS, FACES, STORED, Block, glb, tetrahedra
from preview.checks.readers import Body, accessor_values, at, chunks, must_be_file, read_glb, read_stl, stl_count
from preview.checks.small_gltf import MESHOPT, in_floats, laid_out, step_mm, unpacked
from preview.errors import PreviewError
from preview.exports.meshopt import encoded_triangles, encoded_vertices

Array = np.ndarray


def read(document: dict[str, Any], data: bytes | bytearray, folder: Path) -> list[Body]:
    path = folder / "hand.glb"
    path.write_bytes(glb(document, data))
    return read_glb(path)


def refusal(data: bytes, folder: Path) -> str:
    path = folder / "bad.glb"
    path.write_bytes(data)
    with pytest.raises(PreviewError) as caught:
        read_glb(path)
    (problem,) = caught.value.problems
    assert (problem.fix, problem.file) == ("export it again", str(path))
    return problem.problem


# One number -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "stored", "meant"),
    [
        (5120, [0, 64, 127, -127, -128], [0, 64 / 127, 1, -1, -1]),
        (5121, [0, 51, 255], [0, 0.2, 1]),
        (5122, [0, 32767, -32767, -32768], [0, 1, -1, -1]),
        (5123, [0, 13107, 65535], [0, 0.2, 1]),
    ],
)
def test_normalized_whole_numbers_run_to_one(kind: int, stored: list[int], meant: list[float]) -> None:
    """glTF 2.0, 3.11: c / 127, c / 255, c / 32767, c / 65535, and no less than -1."""
    numbers = np.array(stored, np.int64)
    assert in_floats({"componentType": kind, "normalized": True}, numbers).tolist() == pytest.approx(meant, rel=1e-15)
    for plain in ({"componentType": kind}, {"componentType": kind, "normalized": False}):
        assert in_floats(plain, numbers).tolist() == stored


@pytest.mark.parametrize(
    ("accessor", "step"),
    [
        ({"componentType": 5120}, 2000.0),
        ({"componentType": 5123, "normalized": False}, 2000.0),
        ({"componentType": 5120, "normalized": True}, 2000 / 127),
        ({"componentType": 5121, "normalized": True}, 2000 / 255),
        ({"componentType": 5122, "normalized": True}, 2000 / 32767),
        ({"componentType": 5123, "normalized": True}, 2000 / 65535),
        ({"componentType": 5126}, 2000 * 2.0**-22),  # 32-bit floats from 2 to 4 lie 2^-22 apart
    ],
)
def test_how_far_apart_stored_numbers_lie(accessor: dict[str, Any], step: float) -> None:
    """A node that makes x twice as large, y as it is and z half: the largest counts. What is no number counts not."""
    matrix = np.diag([2.0, 1.0, 0.5, 1.0])
    matrix[:3, 3] = 70.0  # where it stands changes no step
    stored = np.array([[0.5, 0.0, 0.0], [0.25, -3.0, 1.0], [np.nan, np.inf, -np.inf]])
    assert step_mm(accessor, stored, matrix) == pytest.approx(step, rel=1e-12)
    turned = matrix.copy()
    turned[:3, :3] = np.array([[0.6, -0.8, 0], [0.8, 0.6, 0], [0, 0, 1]]) @ matrix[:3, :3]
    assert step_mm(accessor, stored, turned) == pytest.approx(step, rel=1e-12)


def test_no_numbers_lie_as_close_as_they_can() -> None:
    step = step_mm({"componentType": 5126}, np.empty((0, 3)), np.eye(4))
    assert step == pytest.approx(1000 * float(np.spacing(np.float32(0))))


@pytest.mark.parametrize("kind", ["i1", "u1", "<i2", "<u2", "<u4", "<f4"])
@pytest.mark.parametrize("parts", [1, 2, 3, 4])
def test_accessors_of_each_kind_and_width(kind: str, parts: int) -> None:
    values = np.arange(2 * parts).reshape(2, parts) + 40
    block = Block()
    block.add(np.arange(3), "u1")
    index = block.add(values if parts > 1 else values.ravel(), kind)
    found = accessor_values(block.document([], []), memoryview(block.data), index)
    assert found.dtype == np.dtype(kind)
    assert found.tolist() == values.tolist()


def test_a_matrix_has_sixteen_numbers() -> None:
    document = {
        "accessors": [{"bufferView": 0, "componentType": 5126, "count": 2, "type": "MAT4"}],
        "bufferViews": [{"buffer": 0, "byteLength": 128}],
    }
    numbers = np.arange(32, dtype="<f4")
    assert accessor_values(document, memoryview(numbers.tobytes()), 0).tolist() == numbers.reshape(2, 16).tolist()


@pytest.mark.parametrize("index", [-1, 1.0, True, False, "0", None])
def test_a_number_of_an_item_is_a_whole_number_from_0(index: object) -> None:
    with pytest.raises(ValueError, match="no whole number"):
        at(["first", "last"], index)
    with pytest.raises(IndexError):
        at(["first", "last"], 2)
    assert [at(["first", "last"], i) for i in (0, 1)] == ["first", "last"]


@pytest.mark.parametrize("name", ["count", "byteOffset"])
@pytest.mark.parametrize("value", [-1, 1.5, True])
def test_sizes_of_an_accessor_are_whole_numbers(name: str, value: object) -> None:
    document, data = tetrahedra()
    document["accessors"][0][name] = value
    with pytest.raises(ValueError, match="no whole number"):
        accessor_values(document, memoryview(data), 0)


# A whole file ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("index", ["u1", "<u2", "<u4", None])
def test_triangles_by_indices_of_each_kind_and_without_any(index: str | None, tmp_path: Path) -> None:
    block = Block()
    if index:
        primitive = block.tetrahedron(index)
    else:
        primitive = {"attributes": {"POSITION": block.add(STORED[FACES.ravel()], "<f4")}, "mode": 4}
    (body,) = read(block.document([{"name": "piece", "mesh": 0}], [[primitive]]), block.data, tmp_path)
    assert body.vertices[body.triangles] == pytest.approx(CORNERS[FACES], abs=1e-5)
    assert (body.name, body.path, body.normals) == ("piece", (), None)
    assert body.step == 1000 * 2.0**-28  # 0.05 m lies between 2^-5 and 2^-4


@pytest.mark.parametrize(
    ("kind", "normalized", "scale"),
    [("i1", False, 0.002), ("<i2", False, 0.001), ("i1", True, 0.254), ("<i2", True, 32.767)],
)
def test_rounded_positions_are_laid_out_by_their_node(
    kind: str, normalized: bool, scale: float, tmp_path: Path
) -> None:
    """KHR_mesh_quantization: the node's scale makes meters of them: 2 mm to a step, or 32.767 m for the whole."""
    step = {"i1": 127, "<i2": 32767}[kind] if normalized else 1
    whole = np.round(STORED / scale * step).astype(int)
    block = Block()
    said = {"normalized": True} if normalized else {}
    primitive = {"attributes": {"POSITION": block.add(whole, kind, **said)}, "indices": block.add(FACES.ravel(), "u1")}
    document = block.document([{"mesh": 0, "scale": [scale] * 3, "translation": [0.5, 0, 0]}], [[primitive]])
    (body,) = read(document, block.data, tmp_path)
    assert body.vertices == pytest.approx(CORNERS + np.array([500, 0, 0]), abs=1e-9)
    assert body.step == pytest.approx(1000 * scale / step)
    assert body.name == "node 0"


def test_normals_turn_with_the_node_and_keep_their_length(tmp_path: Path) -> None:
    """The node lays y (up) along x and is three times as large; x, y and z of the file are then z, x and y turned."""
    ways = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [0, 0.6, 0.8]])
    block = Block()
    primitive = block.tetrahedron(NORMAL=block.add(ways, "<f4"))
    matrix = np.array([[0, 3, 0, 1], [0, 0, 3, 2], [3, 0, 0, 3], [0, 0, 0, 1]])  # x -> z, y -> x, z -> y
    document = block.document([{"mesh": 0, "matrix": matrix.T.ravel().tolist()}], [[primitive]])
    (body,) = read(document, block.data, tmp_path)
    assert body.normals == pytest.approx(np.array([[0, -1, 0], [1, 0, 0], [0, 0, 1], [0.6, 0, 0.8]]), abs=1e-7)
    in_meters = STORED[:, [1, 2, 0]] * 3 + [1, 2, 3]
    wanted = np.column_stack([in_meters[:, 0], -in_meters[:, 2], in_meters[:, 1]]) * 1000
    assert body.vertices == pytest.approx(wanted, abs=1e-4)


@pytest.mark.parametrize(("kind", "one"), [("i1", 127), ("<i2", 32767)])
def test_normals_in_whole_numbers(kind: str, one: int, tmp_path: Path) -> None:
    block = Block()
    ways = np.array([[one, 0, 0], [0, one, 0], [0, 0, one], [0, 0, -one]])
    primitive = block.tetrahedron(NORMAL=block.add(ways, kind, normalized=True))
    (body,) = read(block.document([{"mesh": 0}], [[primitive]]), block.data, tmp_path)
    assert body.normals is not None
    assert body.normals.tolist() == [[1, 0, 0], [0, 0, 1], [0, -1, 0], [0, 1, 0]]


def test_a_tree_of_nodes_adds_up(tmp_path: Path) -> None:
    """What stands above a mesh is its path, and moves it; a mesh of two primitives is two bodies of a name."""
    block = Block()
    primitive = block.tetrahedron()
    nodes: list[dict[str, Any]] = [
        {"name": "house", "children": [1, 2], "translation": [1, 0, 0]},
        {"children": [3], "scale": [2, 2, 2]},
        {"name": "last", "mesh": 0},
        {"name": "deep", "mesh": 0, "translation": [0, 1, 0], "children": [4]},
        {"name": 7, "mesh": 1},
    ]
    document = block.document(nodes, [[primitive], [primitive, primitive | {"mode": 4}]])
    found = read(document, block.data, tmp_path)
    assert [(body.name, body.path) for body in found] == [
        ("deep", ("house", "node 1")),
        ("7", ("house", "node 1", "deep")),
        ("7", ("house", "node 1", "deep")),
        ("last", ("house",)),
    ]
    assert found[0].vertices == pytest.approx(CORNERS * 2 + np.array([1000, 0, 2000]), abs=1e-4)
    assert found[3].vertices == pytest.approx(CORNERS + np.array([1000, 0, 0]), abs=1e-4)


def test_the_scene_that_is_named_is_read(tmp_path: Path) -> None:
    document, data = tetrahedra(3)
    document["scenes"] = [{"nodes": [0]}, {"nodes": [2, 1]}, {}]
    named = {scene: [body.name for body in read(document | {"scene": scene}, data, tmp_path)] for scene in range(3)}
    assert named == {0: ["piece 0"], 1: ["piece 2", "piece 1"], 2: []}
    del document["scene"]
    assert [body.name for body in read(document, data, tmp_path)] == ["piece 0"]


def _node_in_itself(document: dict[str, Any]) -> None:
    document["nodes"][0]["children"] = [0]


def _node_twice(document: dict[str, Any]) -> None:
    document["scenes"][0]["nodes"] = [0, 0]


def _lines(document: dict[str, Any]) -> None:
    document["meshes"][0]["primitives"][0]["mode"] = 1


def _long_kind(document: dict[str, Any]) -> None:
    document["accessors"][0]["componentType"] = "long " * 100


FAULTS = {
    _node_in_itself: "(a node stands in itself, or in two others)",
    _node_twice: "(a node stands in itself, or in two others)",
    _lines: "(it holds something other than triangles)",
    _long_kind: f"({repr('long ' * 100)[:200]})",
}


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
def test_a_document_at_fault_is_refused_in_words(fault: Any, tmp_path: Path) -> None:
    document, data = tetrahedra()
    fault(document)
    assert refusal(glb(document, data), tmp_path) == f"the file is not a GLB model that can be read {FAULTS[fault]}"


def test_parts_of_a_glb_are_in_their_places(tmp_path: Path) -> None:
    """Its header is "glTF", 2 and the length; then JSON, then what is binary, if anything is (glTF 2.0, 4.4)."""
    whole = glb(*tetrahedra())
    long = struct.unpack_from("<I", whole, 12)[0]
    for said, data in {
        "its header does not fit": [b"glTG" + whole[4:], whole[:4] + b"\1" + whole[5:], whole + b"\0", whole[:-1]],
        "its first part is not JSON": [whole[:16] + b"JSOM" + whole[20:]],
        "its second part is not binary": [whole[: 24 + long] + b"BIN " + whole[28 + long :]],
    }.items():
        for each in data:
            assert said in refusal(each, tmp_path)
    document, binary = chunks(whole)
    assert document["meshes"][0]["primitives"][0]["indices"] == 1
    assert binary.tobytes() == bytes(tetrahedra()[1])
    alone = whole[: 20 + long]
    document, binary = chunks(alone[:8] + struct.pack("<I", len(alone)) + alone[12:])
    assert len(binary) == 0
    assert len(document["nodes"]) == 1
    one_more = alone + b"\0"
    with pytest.raises(struct.error):
        chunks(one_more[:8] + struct.pack("<I", len(one_more)) + one_more[12:])
    trailing = whole + b"\0\0\0\0ABCD"  # further parts may follow, and are passed over
    assert len(chunks(trailing[:8] + struct.pack("<I", len(trailing)) + trailing[12:])[1]) == 48 + 24


def test_a_model_is_a_regular_file(tmp_path: Path) -> None:
    path = tmp_path / "whole.glb"
    path.write_bytes(b"glTF")
    must_be_file(path)
    for wrong, said in {
        tmp_path / "none.glb": "there is no file of this name",
        tmp_path: "this is a folder, not a model",
        Path(os.devnull): "this is a pipe or a device, not a regular file",
    }.items():
        with pytest.raises(PreviewError) as caught:
            must_be_file(wrong)
        (problem,) = caught.value.problems
        assert (problem.problem, problem.file) == (said, str(wrong))


# STL ------------------------------------------------------------------------------------------------------------------


def stl(corners: Array) -> bytes:
    facets = np.zeros(len(corners), [("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")])
    facets["c"] = corners
    return b"by hand".ljust(80) + struct.pack("<I", len(corners)) + facets.tobytes()


def test_some_of_an_stl_s_triangles(tmp_path: Path) -> None:
    path = tmp_path / "four.stl"
    path.write_bytes(stl(CORNERS[FACES]))
    assert stl_count(path) == 4
    for first, last in ((0, None), (0, 4), (1, 3), (2, None), (3, 9), (4, 4)):
        body = read_stl(path, first, last)
        assert body.vertices[body.triangles].tolist() == CORNERS[FACES][first:last].tolist()
        assert (body.name, body.path, body.normals) == ("four", (), None)
    whole = read_stl(path)
    assert whole.vertices[whole.triangles].tolist() == CORNERS[FACES].tolist()
    assert whole.step == 2.0**-18  # 50 lies between 2^5 and 2^6, and has 23 digits behind its first
    assert read_stl(path, 0, 1).step == 2.0**-18  # 40
    assert read_stl(path, 4, 4).step == float(np.spacing(np.float32(0)))


@pytest.mark.parametrize("cut", [1, 50, 117, 200, 201, 284])
def test_an_stl_of_another_length_is_not_whole(cut: int, tmp_path: Path) -> None:
    path = tmp_path / "four.stl"
    for data in (stl(CORNERS[FACES])[:-cut], stl(CORNERS[FACES]) + bytes(cut)):
        path.write_bytes(data)
        with pytest.raises(PreviewError, match="not a whole binary STL"):
            stl_count(path)
    path.write_bytes(stl(CORNERS[FACES][:0]))
    assert stl_count(path) == 0


# Streams --------------------------------------------------------------------------------------------------------------


def streamed() -> tuple[dict[str, Any], bytes]:
    """Three views: five plain bytes, positions in a stream, triangles in a stream."""
    rows = np.zeros((4, 4), "<i2")
    rows[:, :3] = np.round(STORED * 1000)
    parts = [b"plain", encoded_vertices(rows), encoded_triangles(FACES)]
    views: list[dict[str, Any]] = [{"buffer": 0, "byteOffset": 0, "byteLength": 5, "name": "five"}]
    begin = 5
    for part, (mode, count, stride) in zip(parts[1:], [("ATTRIBUTES", 4, 8), ("TRIANGLES", 12, 2)], strict=True):
        told = {"buffer": 0, "byteOffset": begin, "byteLength": len(part), "mode": mode}
        views.append({"buffer": 1, "byteLength": 1, "extensions": {MESHOPT: told}})
        told |= {"byteStride": stride, "count": count}
        begin += len(part)
    return {"extensionsUsed": [MESHOPT], "bufferViews": views, "buffers": [{"byteLength": begin}]}, b"".join(parts)


def test_streams_are_laid_out_one_after_another() -> None:
    document, data = streamed()
    plain, block = unpacked(document, memoryview(data))
    first, places, triangles = plain["bufferViews"]
    assert first == {"buffer": 0, "byteOffset": 0, "byteLength": 5, "name": "five"}
    assert places == {"buffer": 0, "byteOffset": 8, "byteLength": 32, "byteStride": 8}
    assert triangles == {"buffer": 0, "byteOffset": 40, "byteLength": 24}
    assert plain["buffers"] == [{"byteLength": 64}]
    assert len(block) == 64
    assert bytes(block[:8]) == b"plain\0\0\0"  # each begins at a multiple of 4 (glTF 2.0, 3.6.2.4)
    assert laid_out(document) == 5 + 32 + 24
    assert document["bufferViews"][0].get("byteOffset") == 0


def test_without_streams_a_document_is_as_it_is() -> None:
    document, data = tetrahedra()
    block = memoryview(data)
    assert [found is told for found, told in zip(unpacked(document, block), (document, block), strict=True)] == [
        True
    ] * 2
    assert laid_out(document) == 0
    assert laid_out({"extensionsUsed": [MESHOPT]}) == 0
    views = [{"byteLength": 7}, {"byteLength": -4}]  # a length below 0 is refused elsewhere, and takes none away here
    assert laid_out({"extensionsUsed": [MESHOPT], "bufferViews": views}) == 7
    assert laid_out({"extensionsUsed": ["KHR_materials_unlit"], "bufferViews": views}) == 0


@pytest.mark.parametrize(
    ("place", "name", "value", "said"),
    [
        ("told", "buffer", 1, "a part of it in another file"),
        ("view", "buffer", 1, "a part of it in another file"),
        ("last", "byteLength", 1000, "lies past its end"),
        ("view", "byteOffset", 10**6, "lies past its end"),
        ("told", "count", 4.0, "a size in it is no whole number"),
        ("told", "byteStride", 8.0, "a size in it is no whole number"),
        ("told", "filter", "QUATERNION", "QUATERNION"),
    ],
)
def test_streams_at_fault_are_refused(place: str, name: str, value: object, said: str) -> None:
    document, data = streamed()
    first, places, triangles = document["bufferViews"]
    found = {"view": first, "told": places["extensions"][MESHOPT], "last": triangles["extensions"][MESHOPT]}[place]
    found[name] = value
    with pytest.raises(ValueError, match=said):
        unpacked(document, memoryview(data))


def test_a_stream_may_not_reach_one_byte_past_the_end() -> None:
    document, data = streamed()
    unpacked(document, memoryview(data))
    with pytest.raises(ValueError, match="lies past its end"):
        unpacked(document, memoryview(data)[:-1])


def test_a_stream_at_the_block_s_beginning_may_leave_out_where() -> None:
    rows = np.arange(8, dtype="<u2").reshape(2, 4)
    stream = encoded_vertices(rows)
    told = {"byteLength": len(stream), "byteStride": 8, "count": 2, "mode": "ATTRIBUTES"}
    document = {
        "extensionsUsed": [MESHOPT],
        "bufferViews": [{"buffer": 1, "byteLength": 16, "extensions": {MESHOPT: told}}],
    }
    assert unpacked(document, memoryview(stream))[1].tobytes() == rows.tobytes()
