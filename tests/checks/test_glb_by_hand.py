"""GLB models from elsewhere (glTF 2.0, ISO/IEC 12113:2022), hand-made: which nodes are bodies, how they are named and
wound, what is refused, and how many of each there may be."""

from __future__ import annotations

import struct
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from hand_gltf import CORNERS, FACES, STORED, VOLUME, Block, glb, tetrahedra
from model_bodies import signed_volume
from preview.checks import Body, read_model
from preview.checks.model_glb import read_any_glb
from preview.checks.small_gltf import MESHOPT, QUANTIZATION
from preview.errors import PreviewError
from preview.exports.meshopt import encoded_vertices

Record = dict[str, Any]


def bodies(document: Record, data: bytes | bytearray, folder: Path) -> tuple[Body, ...]:
    path = folder / "hand.glb"
    path.write_bytes(glb(document, data))
    return read_any_glb(path)[0]


def remarks(document: Record, data: bytes | bytearray, folder: Path) -> tuple[str, ...]:
    path = folder / "hand.glb"
    path.write_bytes(glb(document, data))
    return read_any_glb(path)[1]


def refusal(document: Record, data: bytes | bytearray, folder: Path) -> str:
    return refused(glb(document, data), folder)


def refused(data: bytes, folder: Path) -> str:
    path = folder / "bad.glb"
    path.write_bytes(data)
    with pytest.raises(PreviewError) as caught:
        read_any_glb(path)
    (problem,) = caught.value.problems
    assert problem.fix
    assert problem.file == str(path)
    return problem.problem


def names(found: tuple[Body, ...]) -> list[str]:
    return [body.name for body in found]


# What is a body -------------------------------------------------------------------------------------------------------


def test_a_body_is_named_by_its_node_its_mesh_or_its_number(tmp_path: Path) -> None:
    block = Block()
    primitive = block.tetrahedron()
    nodes: list[Record] = [{"mesh": 0, "name": "cap"}, {"mesh": 1}, {"mesh": 0}, {"mesh": 1, "name": ""}]
    nodes += [{"mesh": 0, "name": "cap"}, {"name": "no mesh"}, {"mesh": 1}]
    document = block.document(nodes, [[primitive], [primitive]])
    document["meshes"][1]["name"] = "base"
    found = bodies(document, block.data, tmp_path)
    assert names(found) == ["cap", "base", "node 2", "base (2)", "cap (2)", "base (3)"]
    assert all(body.path == () and body.normals is None for body in found)


def test_nodes_are_walked_from_the_top_each_before_its_children(tmp_path: Path) -> None:
    block = Block()
    primitive = block.tetrahedron()
    nodes: list[Record] = [{"name": name, "mesh": 0} for name in "abcdef"]
    nodes[1]["children"] = [4, 0]
    nodes[4]["children"] = [5]
    nodes[1]["translation"] = [1, 0, 0]
    nodes[4]["scale"] = [2, 2, 2]
    nodes[5]["translation"] = [0, 1, 0]
    document = block.document(nodes, [[primitive]])
    found = bodies(document, block.data, tmp_path)
    assert names(found) == ["b", "e", "f", "a", "c", "d"]
    assert found[2].vertices == pytest.approx(CORNERS * 2 + np.array([1000, 0, 2000]), abs=1e-4)
    assert found[2].step == pytest.approx(2 * 1000 * 2.0**-28)
    assert found[3].vertices == pytest.approx(CORNERS + np.array([1000, 0, 0]), abs=1e-4)
    del document["scenes"], document["scene"]  # then every node that is no node's child is shown
    assert names(bodies(document, block.data, tmp_path)) == ["b", "e", "f", "a", "c", "d"]
    document["scenes"] = []
    assert names(bodies(document, block.data, tmp_path)) == ["b", "e", "f", "a", "c", "d"]


def test_the_scene_that_is_named_is_read(tmp_path: Path) -> None:
    document, data = tetrahedra(3)
    document["scenes"] = [{"nodes": [0]}, {"nodes": [2, 1]}, {}]
    for scene, wanted in enumerate([["piece 0"], ["piece 2", "piece 1"], []]):
        assert names(bodies(document | {"scene": scene}, data, tmp_path)) == wanted
    del document["scene"]
    assert names(bodies(document, data, tmp_path)) == ["piece 0"]
    assert "can be read" in refusal(document | {"scene": -1}, data, tmp_path)
    assert "can be read" in refusal(document | {"scene": 3}, data, tmp_path)


def test_the_primitives_of_a_mesh_are_one_body(tmp_path: Path) -> None:
    """Each has points of its own, with indices of each kind or none; lines and points beside them are passed over."""
    block = Block()
    lines = {"attributes": {"POSITION": block.add(STORED * 9, "<f4")}, "mode": 1}
    parts: list[Record] = [block.tetrahedron("u1"), lines, block.tetrahedron("<u2"), lines | {"mode": 0}]
    parts += [
        {"attributes": {"POSITION": block.add(STORED[FACES.ravel()], "<f4")}, "mode": 4},
        block.tetrahedron("<u4"),
    ]
    (body,) = bodies(block.document([{"mesh": 0}], [parts]), block.data, tmp_path)
    assert len(body.vertices) == 4 + 4 + 12 + 4
    assert body.vertices[body.triangles].reshape(4, 4, 3, 3) == pytest.approx(np.stack([CORNERS[FACES]] * 4), abs=1e-5)
    assert body.step == 1000 * 2.0**-28
    assert bodies(block.document([{"mesh": 0}], [[lines]]), block.data, tmp_path) == ()


def test_a_primitive_without_positions_is_empty(tmp_path: Path) -> None:
    """POSITION may be left out, and then there is nothing to see (glTF 2.0, 3.7.2.1)."""
    block = Block()
    empty: Record = {"attributes": {"COLOR_0": block.add(STORED, "<f4")}}
    (body,) = bodies(block.document([{"mesh": 0}], [[empty, block.tetrahedron(), empty]]), block.data, tmp_path)
    assert body.vertices[body.triangles] == pytest.approx(CORNERS[FACES], abs=1e-5)
    assert body.step == 1000 * 2.0**-28
    (body,) = bodies(block.document([{"mesh": 0}], [[empty]]), block.data, tmp_path)
    assert (len(body.vertices), len(body.triangles)) == (0, 0)


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_mirrored_node_looks_outward(axis: int, tmp_path: Path) -> None:
    scale = [1.0, 1.0, 1.0]
    scale[axis] = -2.0
    document, data = tetrahedra()
    document["nodes"][0]["scale"] = scale
    (body,) = bodies(document, data, tmp_path)
    assert signed_volume(body) == pytest.approx(2 * VOLUME)


def test_a_node_pressed_flat_keeps_its_way_round(tmp_path: Path) -> None:
    document, data = tetrahedra()
    document["nodes"][0]["scale"] = [1, 0, 1]
    (body,) = bodies(document, data, tmp_path)
    assert body.triangles.tolist() == FACES.tolist()
    assert not body.vertices[:, 2].any()


def test_the_step_of_a_body_is_that_of_its_roughest_part(tmp_path: Path) -> None:
    block = Block()
    rough = {"attributes": {"POSITION": block.add(np.round(STORED * 100).astype(int), "<i2")}}
    rough |= {"indices": block.add(FACES.ravel(), "u1")}
    document = block.document([{"mesh": 0, "scale": [0.01] * 3}], [[block.tetrahedron(), rough]])
    document["extensionsUsed"] = [QUANTIZATION]
    (body,) = bodies(document, block.data, tmp_path)
    assert body.step == pytest.approx(10.0)
    assert body.vertices[4:] == pytest.approx(CORNERS, abs=1e-9)


# Our own files --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("around", "said"),
    [
        (0, ()),
        (1, ("its surroundings, 1 thing that is only there to be looked at, left out",)),
        (2, ("its surroundings, 2 things that are only there to be looked at, left out",)),
    ],
)
def test_surroundings_are_left_out_of_our_own_files(around: int, said: tuple[str, ...], tmp_path: Path) -> None:
    document, data = tetrahedra(1 + around)
    document["nodes"].append({"name": "surroundings", "children": list(range(1, 1 + around))})
    document["scenes"] = [{"nodes": [0, 1 + around]}]
    document["asset"]["generator"] = "molding-preview 1.2.3"
    assert names(bodies(document, data, tmp_path)) == ["piece 0"]
    assert remarks(document, data, tmp_path) == said
    document["asset"]["generator"] = "another program, molding-preview aside"
    assert len(bodies(document, data, tmp_path)) == 1 + around
    assert remarks(document, data, tmp_path) == ("everything in the file is judged, surroundings too",)


# Refusals -------------------------------------------------------------------------------------------------------------


def _extension(name: str) -> Callable[[Record], None]:
    return lambda document: document.update(extensionsUsed=["KHR_texture_transform", name])


def _mode(mode: int) -> Callable[[Record], None]:
    return lambda document: document["meshes"][0]["primitives"][0].update(mode=mode)


def _sparse(accessor: int) -> Callable[[Record], None]:
    return lambda document: document["accessors"][accessor].update(sparse={"count": 1})


def _no_view(accessor: int) -> Callable[[Record], None]:
    return lambda document: document["accessors"][accessor].pop("bufferView")


def _elsewhere(view: int) -> Callable[[Record], None]:
    return lambda document: document["bufferViews"][view].update(buffer=1)


REFUSED = {
    "instances": (_extension("EXT_mesh_gpu_instancing"), "copies of one mesh (EXT_mesh_gpu_instancing), which"),
    "draco": (_extension("KHR_draco_mesh_compression"), "compressed meshes (KHR_draco_mesh_compression), which"),
    "meshopt": (_extension("KHR_meshopt_compression"), "compressed meshes (KHR_meshopt_compression), which"),
    "strips": (_mode(5), "strips or fans"),
    "fans": (_mode(6), "strips or fans"),
    "sparse positions": (_sparse(0), "(sparse)"),
    "sparse indices": (_sparse(1), "(sparse)"),
    "positions nowhere": (_no_view(0), "(sparse)"),
    "indices nowhere": (_no_view(1), "(sparse)"),
    "positions elsewhere": (_elsewhere(0), "keeps vertices in another file"),
    "indices elsewhere": (_elsewhere(1), "keeps vertices in another file"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_not_read_is_refused_and_not_passed_over(name: str, tmp_path: Path) -> None:
    change, said = REFUSED[name]
    document, data = tetrahedra()
    change(document)
    assert said in refusal(document, data, tmp_path)


def test_rounded_positions_are_read_where_the_file_says_so(tmp_path: Path) -> None:
    block = Block()
    place = block.add(np.round(STORED * 1000).astype(int), "<i2")
    document = block.document(
        [{"mesh": 0, "scale": [0.001] * 3}],
        [[{"attributes": {"POSITION": place}, "indices": block.add(FACES.ravel(), "u1")}]],
    )
    assert "rounded coordinates" in refusal(document, block.data, tmp_path)
    (body,) = bodies(document | {"extensionsUsed": [QUANTIZATION]}, block.data, tmp_path)
    assert body.vertices == pytest.approx(CORNERS, abs=1e-9)


@pytest.mark.parametrize(("highest", "fits"), [(3, True), (4, False), (255, False)])
def test_a_triangle_names_vertices_that_are_there(highest: int, fits: bool, tmp_path: Path) -> None:
    block = Block()
    place = block.add(STORED, "<f4")
    index = block.add(np.array([0, 1, highest]), "u1")
    document = block.document([{"mesh": 0}], [[{"attributes": {"POSITION": place}, "indices": index}]])
    if fits:
        (body,) = bodies(document, block.data, tmp_path)
        assert body.triangles.tolist() == [[0, 1, 3]]
    else:
        assert "(a triangle names a vertex that is not there)" in refusal(document, block.data, tmp_path)


def test_three_corners_may_be_one_vertex_and_none_comes_before_the_first(tmp_path: Path) -> None:
    """Indices are without a sign (glTF 2.0, 3.7.2.1); a file that has -1 all the same names no vertex."""
    for kind, number in (("u1", 2), ("<i2", -1)):
        block = Block()
        place, index = block.add(STORED, "<f4"), block.add(np.array([number, 3, 3] if number < 0 else [2, 2, 2]), kind)
        document = block.document([{"mesh": 0}], [[{"attributes": {"POSITION": place}, "indices": index}]])
        if number < 0:
            assert "a vertex that is not there" in refusal(document, block.data, tmp_path)
        else:
            (body,) = bodies(document, block.data, tmp_path)
            assert body.triangles.tolist() == [[2, 2, 2]]


def test_a_view_that_leaves_out_its_block_means_the_first(tmp_path: Path) -> None:
    document, data = tetrahedra()
    for view in document["bufferViews"]:
        del view["buffer"]
    (body,) = bodies(document, data, tmp_path)
    assert body.vertices == pytest.approx(CORNERS, abs=1e-5)


def test_a_primitive_may_have_no_triangles(tmp_path: Path) -> None:
    block = Block()
    place = block.add(STORED, "<f4")
    index = block.add(np.array([], int), "u1")
    document = block.document([{"mesh": 0}], [[{"attributes": {"POSITION": place}, "indices": index}]])
    (body,) = bodies(document, block.data, tmp_path)
    assert body.triangles.shape == (0, 3)


def test_a_node_stands_in_one_place(tmp_path: Path) -> None:
    document, data = tetrahedra(2)
    document["nodes"][0]["children"] = [1]  # which the scene names as well
    assert "a node stands in itself, or in two others" in refusal(document, data, tmp_path)


def test_a_long_word_of_a_fault_is_cut(tmp_path: Path) -> None:
    document, data = tetrahedra()
    document["accessors"][0]["type"] = "long " * 100
    assert refusal(document, data, tmp_path) == (
        f"the file is not a GLB model that can be read ({repr('long ' * 100)[:200]})"
    )


def test_a_glb_of_another_version_or_length_is_told(tmp_path: Path) -> None:
    whole = glb(*tetrahedra())
    assert "not a GLB model of glTF 2.0" in refused(whole[:4] + struct.pack("<I", 3) + whole[8:], tmp_path)
    assert f"says that it has {len(whole)} bytes; it has {len(whole) - 1}" in refused(whole[:-1], tmp_path)
    assert f"says that it has {len(whole)} bytes; it has {len(whole) + 1}" in refused(whole + b"\0", tmp_path)


# How many -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("limit", "most"),
    # three nodes, three bodies; each shows 4 triangles and 4 vertices, of which the more count
    [("NODES", 3), ("BODIES", 3), ("TRIANGLES", 12)],
)
def test_as_many_as_the_limit_are_read(limit: str, most: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    document, data = tetrahedra(3)
    monkeypatch.setenv(f"MOLDING_LIMIT_{limit}", str(most))
    assert len(bodies(document, data, tmp_path)) == 3
    monkeypatch.setenv(f"MOLDING_LIMIT_{limit}", str(most - 1))
    assert f"and {most - 1} is the most" in refusal(document, data, tmp_path)


@pytest.mark.parametrize(("vertices", "triangles", "counted"), [(9, 1, 9), (4, 7, 7)])
def test_vertices_and_triangles_are_counted_whichever_are_more(
    vertices: int, triangles: int, counted: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    block = Block()
    place = block.add(np.zeros((vertices, 3)), "<f4")
    index = block.add(np.tile([0, 1, 2], triangles), "u1")
    document = block.document([{"mesh": 0}], [[{"attributes": {"POSITION": place}, "indices": index}]])
    monkeypatch.setenv("MOLDING_LIMIT_TRIANGLES", str(counted))
    assert len(bodies(document, block.data, tmp_path)) == 1
    monkeypatch.setenv("MOLDING_LIMIT_TRIANGLES", str(counted - 1))
    assert "is the most" in refusal(document, block.data, tmp_path)


def test_streams_are_measured_before_they_are_laid_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rows = np.zeros((4000, 4), "<i2")
    rows[:4, :3] = np.round(STORED * 1000)
    stream = encoded_vertices(rows)
    told = {"buffer": 0, "byteOffset": 0, "byteLength": len(stream), "byteStride": 8, "count": 4000}
    document = {
        "asset": {"version": "2.0"},
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0, "scale": [0.001] * 3}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5122, "count": 4000, "type": "VEC3"},
            {"bufferView": 1, "componentType": 5121, "count": 12, "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteLength": 32000, "extensions": {MESHOPT: told | {"mode": "ATTRIBUTES"}}},
            {"buffer": 0, "byteOffset": len(stream), "byteLength": 12},
        ],
        "buffers": [{"byteLength": len(stream) + 12}],
        "extensionsUsed": [MESHOPT, QUANTIZATION],
    }
    data = stream + FACES.astype("u1").tobytes()
    assert len(glb(document, data)) < 3000
    monkeypatch.setenv("MOLDING_LIMIT_MODEL_BYTES", "32012")
    (body,) = bodies(document, data, tmp_path)
    assert body.vertices[body.triangles] == pytest.approx(CORNERS[FACES], abs=1e-9)
    assert [each.name for each in read_model(tmp_path / "hand.glb").bodies] == ["node 0"]
    monkeypatch.setenv("MOLDING_LIMIT_MODEL_BYTES", "32011")
    assert "the GLB, laid out, has 0.032012 MB" in refusal(document, data, tmp_path)
