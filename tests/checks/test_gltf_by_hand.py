"""glTF as other programs' readers find it, put together by hand (glTF 2.0, ISO/IEC 12113:2022): what bodies
wear, what their colors come to, and what a document names beside it."""

from __future__ import annotations

import io
import json
import math
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
from PIL import Image

from hand_gltf import CORNERS, FACES, STORED, WAYS, Block, Record, oak, stored, surrounded, z_up
from preview.checks.exchange import FLOAT32, UnreadableError, light_of, srgb
from preview.checks.exchange_gltf import GltfFile, read_gltf

SOLID = CORNERS[FACES]


def picture(*colors: tuple[int, int, int]) -> bytes:
    """A PNG of a row of pixels."""
    image = Image.new("RGB", (len(colors), 1))
    image.putdata(list(colors))
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def beside(document: Record, data: bytes | bytearray, folder: Path, uri: str = "my%20room.bin") -> Path:
    """The same as a .gltf with its block of bytes in a file of its own."""
    (folder / "my room.bin").write_bytes(data)
    document["buffers"] = [{"uri": uri, "byteLength": len(data)}]
    path = folder / "hand.gltf"
    path.write_text(json.dumps(document), "utf-8")
    return path


# What bodies wear -----------------------------------------------------------------------------------------------------


def worn(shared: bool = False) -> tuple[Record, bytearray]:
    """A body that wears everything, twice as large, laid with y along x; one plain; shared: a third like the first."""
    block = Block()
    uvs = np.array([[0, 0], [300.5, -8], [2, 700], [3, 4]])
    full = block.tetrahedron(NORMAL=block.add(WAYS, "<f4"), TEXCOORD_0=block.add(uvs, "<f4")) | {"material": 1}
    turn = [[0, 2, 0, 0.1], [0, 0, 2, 0.2], [2, 0, 0, 0.3], [0, 0, 0, 1]]  # x -> z, y -> x, z -> y
    nodes: list[Record] = [{"name": "full", "mesh": 0, "matrix": np.array(turn).T.ravel().tolist()}]
    nodes += [{"name": "plain", "mesh": 1, "translation": [1, 2, 3]}]
    nodes += [{"name": "again", "mesh": 0}] if shared else []
    document = block.document(nodes, [[full], [block.tetrahedron()]], materials=[{}, oak()])
    document["asset"]["extras"] = {"digest": "1234"}
    return document, block.data


@pytest.mark.parametrize("form", ["glb", "gltf"])
@pytest.mark.parametrize("shared", [False, True])
def test_bodies_wear_what_their_primitives_say(form: str, shared: bool, tmp_path: Path) -> None:
    document, data = worn(shared)
    found = read_gltf((stored if form == "glb" else beside)(document, data, tmp_path))
    assert (found.unit, found.up, found.digest, found.faults) == ("meter", "y", "1234", ())
    assert (found.named, found.begins_anywhere) == (True, False)
    parts = {part.name: part for part in found.parts}
    assert sorted(parts) == (["again", "full", "plain"] if shared else ["full", "plain"])
    full, plain = parts["full"], parts["plain"]
    turned = STORED[:, [1, 2, 0]] * 2 + np.array([0.1, 0.2, 0.3])
    assert full.corners == pytest.approx(z_up(turned)[FACES] * 1000, abs=1e-4)
    assert plain.corners == pytest.approx(SOLID + np.array([1000, -3000, 2000]), abs=1e-3)
    assert full.normals == pytest.approx(z_up(WAYS[:, [1, 2, 0]])[FACES], abs=1e-6)
    uvs = np.array([[0, 0], [300.5, -8], [2, 700], [3, 4]])
    assert full.uvs is not None
    assert full.uvs.tolist() == uvs[FACES].tolist()
    assert full.step == plain.step == 1000 * 2.0**-28
    assert full.normal_step == pytest.approx(FLOAT32 + (1e-5 if shared else 0), rel=1e-12)
    assert full.uv_step == pytest.approx(2.0**-14 + (700e-5 if shared else 0), rel=1e-12)  # 700 lies past 2^9
    assert full.color == pytest.approx(srgb(np.array([0.25, 0.5, 1.0])))
    assert full.color_slack == 0.0
    assert (plain.normals, plain.uvs, plain.color) == (None, None, None)


def test_normals_of_a_node_that_is_larger_one_way(tmp_path: Path) -> None:
    """Normals go by the inverse of the scale, then turn with the node: a quarter about y, z to x and x to -z."""
    block = Block()
    full = block.tetrahedron(NORMAL=block.add(WAYS, "<f4"))
    half = math.sqrt(0.5)
    node = {"name": "full", "mesh": 0, "scale": [1, 2, 3], "rotation": [0, half, 0, half]}
    (part,) = read_gltf(stored(block.document([node], [[full]]), block.data, tmp_path)).parts
    assert part.normals is not None
    by_vertex = part.normals.reshape(-1, 3)[np.unique(FACES.ravel(), return_index=True)[1]]
    inverse = WAYS / np.array([1, 2, 3]) * 2  # the mean of the three sizes stands for the length
    assert by_vertex == pytest.approx(z_up(inverse[:, [2, 1, 0]] * [1, 1, -1]), abs=1e-6)


def test_a_mesh_of_several_primitives_wears_nothing_that_is_read(tmp_path: Path) -> None:
    block = Block()
    full = block.tetrahedron(NORMAL=block.add(WAYS, "<f4"))
    document = block.document([{"name": "two", "mesh": 0}], [[full, full]])
    found = read_gltf(stored(document, block.data, tmp_path)).parts
    assert sum(len(part.corners) for part in found) == 8
    assert all(part.normals is None for part in found)


def test_a_file_of_another_version_says_no_unit(tmp_path: Path) -> None:
    document, data = worn()
    document["asset"]["version"] = "2.1"
    found = read_gltf(stored(document, data, tmp_path))
    assert (found.unit, found.up) == ("", "")


def test_surroundings_are_told_by_their_place_and_their_name(tmp_path: Path) -> None:
    block = Block()
    document = block.document(surrounded(), [[block.tetrahedron()]])
    found = read_gltf(stored(document, block.data, tmp_path))
    assert sorted(part.name for part in found.parts) == ["a piece that stands there", "surroundings / by name alone"]


# Colors and pictures --------------------------------------------------------------------------------------------------


def colored(tmp_path: Path, factor: list[float] | None, image: bytes | None, *, apart: bool = False) -> GltfFile:
    block = Block()
    look: Record = {} if factor is None else {"baseColorFactor": factor}
    document = block.document([], [], materials=[{"pbrMetallicRoughness": look}])
    if image is not None:
        other = block.add(np.frombuffer(picture((9, 9, 9)), np.uint8), "u1")
        block.add(np.frombuffer(image, np.uint8), "u1")
        look["baseColorTexture"] = {"index": 1}
        document["textures"] = [{"source": 0}, {"source": 1}]
        document["images"] = [{"bufferView": other}, {"bufferView": 1, "name": "grain"}]
        if apart:
            (tmp_path / "my grain.png").write_bytes(image)
            document["images"][1] = {"uri": "my%20grain.png"}
    return GltfFile(tmp_path / "hand.gltf", document, memoryview(block.data))


@pytest.mark.parametrize("apart", [False, True])
def test_a_color_is_its_factor_times_its_picture_s_light(apart: bool, tmp_path: Path) -> None:
    """The mean of the light, not of the steps: half black and half white is half the light."""
    grain = picture((0, 255, 100), (255, 255, 100), (0, 255, 200), (255, 255, 200))
    color, slack = colored(tmp_path, [0.5, 0.25, 0.125, 1], grain, apart=apart).color(0)
    blue = (light_of(np.array([100]))[0] + light_of(np.array([200]))[0]) / 2
    assert color == pytest.approx(srgb(np.array([0.25, 0.25, 0.125 * blue])))
    assert slack == 0.0  # no factor is the most that there is


@pytest.mark.parametrize(
    ("factor", "shade", "slack"),
    [
        ([1, 0.5, 0.5, 1], (250, 100, 100), 5),
        ([0.5, 1, 1, 1], (100, 247, 240), 15),
        ([1, 1, 1, 1], (100, 255, 255), 25),  # a tenth at most
        ([0.999, 0.5, 0.5, 1], (250, 250, 250), 0),
        (None, (253, 255, 255), 2),
    ],
)
def test_a_factor_of_one_may_be_as_dark_as_its_picture(
    factor: list[float] | None, shade: tuple[int, int, int], slack: float, tmp_path: Path
) -> None:
    color, found = colored(tmp_path, factor, picture(shade, shade)).color(0)
    assert found == pytest.approx(slack, abs=2e-4)
    light = np.array((factor or [1.0] * 4)[:3]) * light_of(np.array(shade))
    assert color == pytest.approx(srgb(light))


def test_a_color_without_a_picture_is_its_factor(tmp_path: Path) -> None:
    color, slack = colored(tmp_path, [0.2, 0.4, 0.6, 0.1], None).color(0)
    assert (color.tolist(), slack) == (srgb(np.array([0.2, 0.4, 0.6])).tolist(), 0.0)
    assert colored(tmp_path, None, None).color(0)[0] == pytest.approx([255, 255, 255])
    assert GltfFile(tmp_path, {"materials": [{}]}, memoryview(b"")).color(0)[0] == pytest.approx([255, 255, 255])


def test_pictures_are_whole(tmp_path: Path) -> None:
    whole = picture((1, 2, 3))
    assert list(colored(tmp_path, None, whole).faults()) == []
    assert list(colored(tmp_path, None, whole, apart=True).faults()) == []
    for broken in (whole[:-1], whole[1:], b"", b"\x89PNG\r\n\x1a\n", whole + b"\0"):
        assert list(colored(tmp_path, None, broken).faults()) == ["grain is not there, or no whole PNG"]
        told = list(colored(tmp_path, None, broken, apart=True).faults())
        assert told == ["my grain.png is not there, or no whole PNG"]
    assert np.isnan(colored(tmp_path, [1, 1, 1, 1], b"no picture").color(0)[0]).all()
    (tmp_path / "my grain.png").unlink()
    there = colored(tmp_path, None, whole, apart=True)
    (tmp_path / "my grain.png").unlink()
    assert list(there.faults()) == ["my grain.png is not there, or no whole PNG"]
    nameless = colored(tmp_path, None, b"no picture")
    del cast("Any", nameless.document)["images"][1]["name"]
    assert list(nameless.faults()) == ["a picture is not there, or no whole PNG"]


def test_a_picture_at_the_block_s_beginning_may_leave_out_where(tmp_path: Path) -> None:
    whole = picture((1, 2, 3))
    document = {"images": [{"bufferView": 0}], "bufferViews": [{"buffer": 0, "byteLength": len(whole)}]}
    assert list(GltfFile(tmp_path, document, memoryview(whole + b"\0\0\0\0")).faults()) == []


# What a document names ------------------------------------------------------------------------------------------------


def test_a_document_s_block_of_bytes_is_as_long_as_it_says(tmp_path: Path) -> None:
    document, data = worn()
    path = beside(document, data, tmp_path)
    assert list(GltfFile.opened(path).faults()) == []
    for wrong in (bytes(data) + b"\0", bytes(data)[:-1]):
        (tmp_path / "my room.bin").write_bytes(wrong)
        told = list(GltfFile.opened(path).faults())
        assert told == ["my room.bin is not there, or not of the length that is said"]
    file = GltfFile.opened(path)
    (tmp_path / "my room.bin").unlink()
    assert list(file.faults()) == ["my room.bin is not there, or not of the length that is said"]
    with pytest.raises(UnreadableError, match=r"my room.bin, which it needs beside it, is not there"):
        GltfFile.opened(path)


@pytest.mark.parametrize(("more", "told"), [(0, []), (-1, []), (1, ["its block of bytes is shorter than is said"])])
def test_a_glb_s_block_is_no_shorter_than_it_says(more: int, told: list[str], tmp_path: Path) -> None:
    document, data = worn()
    document["buffers"][0]["byteLength"] += more
    assert list(GltfFile.opened(stored(document, data, tmp_path)).faults()) == told


@pytest.mark.parametrize(
    ("buffers", "said"),
    [
        ([{"uri": "a.bin"}, {"uri": "b.bin"}], "it has more than one block of bytes"),
        ([{"uri": "data:application/octet-stream;base64,AAAA"}], "its block of bytes stands in its text"),
    ],
)
def test_blocks_that_are_not_read_are_told(buffers: list[Record], said: str, tmp_path: Path) -> None:
    path = tmp_path / "hand.gltf"
    path.write_text(json.dumps({"buffers": buffers}))
    with pytest.raises(UnreadableError, match=said):
        GltfFile.opened(path)


def test_a_document_may_have_no_block_of_bytes(tmp_path: Path) -> None:
    path = tmp_path / "hand.gltf"
    path.write_text(json.dumps({"asset": {"version": "2.0"}}))
    file = GltfFile.opened(path)
    assert (len(file.data), list(file.faults()), file.primitives) == (0, [], {})


def test_nodes_show_the_primitive_of_their_mesh(tmp_path: Path) -> None:
    block = Block()
    one, other, third = (block.tetrahedron() for _ in range(3))
    nodes: list[Record] = [{"name": "a", "mesh": 0}, {"name": "b", "mesh": 1}, {"name": "c"}, {"name": "d", "mesh": 0}]
    document = block.document(nodes, [[one], [other, third]])
    file = GltfFile.opened(stored(document, block.data, tmp_path))
    assert file.primitives == {"a": one, "d": one}
    assert file.is_shared(one)
    assert not file.is_shared(other)
    assert file.attribute(one, "NORMAL") is None
    assert file.attribute(one, "POSITION") == pytest.approx(STORED)
