"""The compact form of glTF (KHR_mesh_quantization), put together by hand: bodies on a grid of whole numbers, what they
wear, and where their triangles begin."""

from __future__ import annotations

import math
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from hand_gltf import CORNERS, FACES, STORED, WAYS, Block, Record, oak, stored, surrounded, tetrahedra, z_up
from preview.checks.exchange import Part, srgb
from preview.checks.exchange_compact import begun_alike, read_any_gltf, read_compact
from preview.checks.small_gltf import QUANTIZATION
from preview.models.mesh import PieceMesh

SOLID = CORNERS[FACES]


GRID = 0.002
"""Meters to a step."""
LAID = np.array([[0, 0], [100, 7], [2, 65535], [3, 4]])


def grid_of(block: Block, kind: str = "<i2", long: int = 127, **said: Any) -> Record:
    place = block.add(np.round(STORED / GRID), kind, **said)
    normals = block.add(np.round(WAYS * long).astype(int), "i1", normalized=True)
    uvs = block.add(LAID, "<u2")
    return {
        "attributes": {"POSITION": place, "NORMAL": normals, "TEXCOORD_0": uvs},
        "indices": block.add(FACES.ravel(), "u1"),
        "material": 0,
    }


def compact(kind: str = "<i2", long: int = 127, shared: bool = False, **said: Any) -> tuple[Record, bytearray]:
    """Two nodes, one above the other, of which the lower one's grid is told; it turns a quarter about y."""
    block = Block()
    half = math.sqrt(0.5)
    holder = {"scale": [GRID] * 3, "rotation": [0, half, 0, half], "extras": {"stored_to_mm": 1000 * GRID}}
    nodes: list[Record] = [{"children": [1], "translation": [1, 0, 0]}, holder | {"children": [2]}]
    nodes += [{"name": "piece", "mesh": 0}]
    if shared:
        nodes += [{"name": "again", "mesh": 0}]
        nodes[1]["children"] = [2, 3]
    document = block.document(nodes, [[grid_of(block, kind, long, **said)]], materials=[oak()])
    document["asset"]["extras"] = {"digest": "1234", "texture_to_mm": {"scale": [0.5, 0.25], "offset": [-10, 20]}}
    document["extensionsRequired"] = [QUANTIZATION]
    return document, block.data


@pytest.mark.parametrize("kind", ["<i2", "<f4"])
@pytest.mark.parametrize("shared", [False, True])
def test_a_compact_file_lies_on_its_grid(kind: str, shared: bool, tmp_path: Path) -> None:
    found = read_any_gltf(stored(*compact(kind, shared=shared), tmp_path))
    assert (found.unit, found.up, found.digest, found.faults) == ("meter", "y", "1234", ())
    assert (found.named, found.begins_anywhere) == (True, True)
    part = found.parts[0]
    assert [each.name for each in found.parts] == (["piece", "again"] if shared else ["piece"])
    turned = STORED[:, [2, 1, 0]] * [1, 1, -1] + [1, 0, 0]  # a quarter about y: z to x, x to -z
    assert part.corners == pytest.approx(z_up(turned)[FACES] * 1000, abs=1e-9)
    assert part.step == pytest.approx(1000 * GRID)
    long = np.round(WAYS * 127) / 127
    ways = long / np.linalg.norm(long, axis=1)[:, None]
    assert part.normals == pytest.approx(z_up(ways[:, [2, 1, 0]] * [1, 1, -1])[FACES], abs=1e-12)
    assert part.normal_step == pytest.approx(1 / 127 + (1e-5 if shared else 0), rel=1e-12)
    assert part.uvs == pytest.approx((np.array([-10, 20]) + LAID * [0.5, 0.25])[FACES], abs=1e-9)
    assert part.uv_step == 0.5
    assert part.color == pytest.approx(srgb(np.array([0.25, 0.5, 1.0])))
    assert part.color_slack == 0.0


@pytest.mark.parametrize(("long", "kept"), [(127, False), (125, True), (100, True), (0, True)])
def test_normals_are_made_as_long_as_they_should_be_where_rounding_did_it(
    long: int, kept: bool, tmp_path: Path
) -> None:
    """A byte's step is 1/127 of 1: what is further off was not rounded, and stays as it is."""
    (part,) = read_compact(stored(*compact(long=long), tmp_path)).parts
    assert part.normals is not None
    lengths = np.linalg.norm(part.normals, axis=-1)
    first = lengths[FACES == 0]
    assert first == pytest.approx(long / 127 if kept else 1.0, abs=1e-12)


@pytest.mark.parametrize(("off", "told"), [(0.0, False), (0.5e-6, False), (2e-6, True), (1.0, True)])
def test_the_grid_is_as_the_node_above_says(off: float, told: bool, tmp_path: Path) -> None:
    for sign in (1, -1):
        document, data = compact()
        document["nodes"][1]["extras"]["stored_to_mm"] *= 1 + sign * off
        faults = read_compact(stored(document, data, tmp_path)).faults
        said = f"{2 * (1 + sign * off):.6g}"
        assert faults == ((f"piece: its grid has steps of 2 mm, and the node above says {said}",) if told else ())


def test_a_grid_that_nobody_tells_is_a_fault(tmp_path: Path) -> None:
    document, data = compact()
    del document["nodes"][1]["extras"]
    assert read_compact(stored(document, data, tmp_path)).faults == (
        "piece: its grid has steps of 2 mm, and the node above says nan",
    )
    document, data = compact()
    document["scenes"] = [{"nodes": [2]}]
    assert "says nan" in read_compact(stored(document, data, tmp_path)).faults[0]


def test_a_compact_scene_has_one_node_at_the_top(tmp_path: Path) -> None:
    document, data = compact()
    document["scenes"] = [{}, {"nodes": [0, 2]}]
    document["scene"] = 1
    found = read_compact(stored(document, data, tmp_path))
    assert found.faults == ("its scene has more than one node at the top",)
    assert len(found.parts) == 1
    del document["scene"]
    document["scenes"] = [{"nodes": [0]}, {}]
    assert len(read_compact(stored(document, data, tmp_path)).parts) == 1


def test_places_between_the_grid_s_have_the_step_of_their_numbers(tmp_path: Path) -> None:
    """Floats of which some are not whole: what lies apart is their last digit, 2^-19 at 25, times the grid."""
    block = Block()
    place = block.add(STORED / GRID + [0.25, 0, 0], "<f4")
    document = block.document(
        [{"mesh": 0, "name": "piece", "scale": [GRID] * 3}],
        [[{"attributes": {"POSITION": place}, "indices": block.add(FACES.ravel(), "<u4")}]],
    )
    (part,) = read_compact(stored(document, block.data, tmp_path)).parts
    assert part.step == pytest.approx(1000 * GRID * 2.0**-19)
    assert part.corners == pytest.approx(SOLID + np.array([0.5, 0, 0]), abs=1e-4)
    assert (part.normals, part.uvs, part.color) == (None, None, None)


def test_texture_coordinates_need_their_scale(tmp_path: Path) -> None:
    document, data = compact()
    del document["asset"]["extras"]
    found = read_compact(stored(document, data, tmp_path))
    assert (found.parts[0].uvs, found.digest) == (None, "")
    document["asset"] = {"version": "1.0"}
    found = read_compact(stored(document, data, tmp_path))
    assert (found.unit, found.up) == ("", "")
    assert found.parts[0].corners.shape == (4, 3, 3)


def test_surroundings_of_a_compact_file(tmp_path: Path) -> None:
    block = Block()
    document = block.document(surrounded(), [[grid_of(block)]], materials=[oak()])
    found = read_compact(stored(document, block.data, tmp_path))
    assert sorted(part.name for part in found.parts) == ["a piece that stands there", "surroundings / by name alone"]


def test_a_file_in_floats_is_read_as_one(tmp_path: Path) -> None:
    assert not read_any_gltf(stored(*tetrahedra(), tmp_path)).begins_anywhere
    document, data = tetrahedra()
    document["extensionsRequired"] = ["KHR_texture_transform"]
    assert not read_any_gltf(stored(document, data, tmp_path)).begins_anywhere


# Where a triangle begins ----------------------------------------------------------------------------------------------


def mesh_of(points: np.ndarray, triangles: np.ndarray, uvs: np.ndarray, worn_by: np.ndarray | None = None) -> PieceMesh:
    shape = SimpleNamespace(triangles=triangles, render_triangles=triangles if worn_by is None else worn_by)
    return PieceMesh(cast("Any", SimpleNamespace(name="piece")), cast("Any", shape), points, uvs, uvs)


@pytest.mark.parametrize("seed", range(4))
def test_triangles_begin_where_the_mesh_has_them_begin(seed: int) -> None:
    """Each is turned by a corner or two, its places off by less than half a step; all that it wears turns with it."""
    chance = np.random.default_rng(seed)
    points, triangles = chance.uniform(-50, 50, (20, 3)), chance.integers(0, 20, (30, 3))
    triangles = triangles[(triangles != np.roll(triangles, 1, axis=1)).all(axis=1)]
    uvs, normals = chance.uniform(0, 9, (20, 2)), chance.normal(size=(len(triangles), 3, 3))
    turns = (np.arange(3) + chance.integers(0, 3, (len(triangles), 1))) % 3
    row = np.arange(len(triangles))[:, None]
    corners = points[triangles] + chance.uniform(-0.4, 0.4, (len(triangles), 3, 3))
    mesh = mesh_of(points, triangles, uvs)
    part = Part("piece", corners[row, turns], 1.0, normals=normals[row, turns])
    found = begun_alike(part, mesh)
    assert found.corners.tolist() == corners.tolist()
    assert found.normals is not None
    assert found.normals.tolist() == normals.tolist()
    assert found.uvs is None
    laid = begun_alike(Part("piece", corners[row, turns], 1.0, uvs=uvs[triangles][row, turns], uv_step=0.5), mesh)
    assert laid.uvs is not None
    assert laid.uvs.tolist() == uvs[triangles].tolist()
    assert laid.normals is None


@pytest.mark.parametrize("turn", [0, 1, 2])
def test_triangles_smaller_than_a_step_begin_by_how_they_are_laid(turn: int) -> None:
    """All three corners are one place on the grid; the texture coordinates are those of other vertices (render)."""
    uvs = np.array([[9.0, 9.0], [0, 0], [5, 0], [0, 5]])
    mesh = mesh_of(np.array([[0.1, 0, 0], [0, 0.1, 0], [0, 0, 0.1]]), np.array([[0, 1, 2]]), uvs, np.array([[1, 2, 3]]))
    way = (np.arange(3) + turn) % 3
    part = Part("piece", np.zeros((1, 3, 3)), 1.0, uvs=uvs[1:][way][None], uv_step=1.0)
    found = begun_alike(part, mesh)
    assert found.uvs is not None
    assert found.uvs[0].tolist() == uvs[1:].tolist()
    exact = begun_alike(Part("piece", np.zeros((1, 3, 3)), 0.0, uvs=uvs[1:][way][None], uv_step=0.0), mesh)
    assert exact.uvs is not None
    assert exact.uvs[0].tolist() == uvs[1:].tolist()


def test_places_and_texture_coordinates_count_by_their_own_steps() -> None:
    """Both speak, each in its own steps, and the worse of the two counts."""
    points, triangle = np.array([[0, 0, 0], [0.3, 0, 0], [0, 0.3, 0]]), np.array([[0, 1, 2]])
    uvs = np.array([[0.0, 0], [5, 0], [0, 5]])
    # By its places, within a step of each other, it might begin at the next corner; it is laid to begin as it does.
    near = Part("piece", points[[1, 2, 0]][None], 1.0, uvs=uvs[None] + 0.2, uv_step=1.0)
    assert begun_alike(near, mesh_of(points, triangle, uvs)).uvs == pytest.approx(uvs[None] + 0.2)
    # Laid within a step of each other, it might begin at the next corner; its places, many steps apart, say otherwise.
    close = uvs / 50
    off = close + np.array([[0.0, 0.0], [0.4, 0.0], [0.0, 0.0]])
    sure = Part("piece", points[None] + 0.0004, 0.001, uvs=off[None], uv_step=1.0)
    assert begun_alike(sure, mesh_of(points, triangle, close)).corners == pytest.approx(points[None] + 0.0004)
    swapped = Part("piece", points[None] + 0.0004, 0.001, uvs=close[[1, 2, 0]][None], uv_step=1.0)
    assert begun_alike(swapped, mesh_of(points, triangle, close)).corners == pytest.approx(points[None] + 0.0004)


def test_another_number_of_triangles_stays_as_it_is() -> None:
    mesh = mesh_of(CORNERS, FACES, np.zeros((4, 2)))
    part = Part("piece", SOLID[:3], 1.0)
    assert begun_alike(part, mesh) is part
