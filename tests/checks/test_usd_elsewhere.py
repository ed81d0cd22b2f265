"""USDZ files by a reader that shares nothing with usd-core, which wrote them: tinyusdz, a reader of its own in C++.

It opens layers and tells what they say; it does not work out what a chosen variant changes.
"""

from __future__ import annotations

import ast
import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import tinyusdz

from preview.build import Built, build
from preview.exports import FORMATS
from preview.scene import load_scene
from round_trips import job, written

SCENES = Path(__file__).parents[2] / "scenes"
SCENE = "window-seat"
ORIGIN = (0.0, 0.0, 0.0)

Placed = tuple[tinyusdz.Prim, tuple[float, float, float]]


@pytest.fixture(scope="module", params=["boards", SCENE])
def opened(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Built, tinyusdz.Stage]:
    folder = tmp_path_factory.mktemp("usd")
    if request.param == "boards":
        built = job()
        path = written(built, "usdz", folder)
    else:
        built = build(load_scene(SCENES / f"{SCENE}.toml"))
        ((name, data),) = FORMATS["usdz"](built, SCENE)
        path = folder / name
        path.write_bytes(data)
    assert tinyusdz.detect_format(str(path)) == "usdz"
    return built, tinyusdz.load(str(path))


def told(prim: tinyusdz.Prim, name: str) -> object:
    """A single value of a prim's attribute."""
    attribute = prim.get_attribute(name)
    assert attribute is not None
    assert attribute.value is not None
    text = attribute.value.to_string()
    return ast.literal_eval(text)


def array(prim: tinyusdz.Prim, name: str) -> np.ndarray:
    attribute = prim.get_attribute(name)
    assert attribute is not None
    return np.asarray(memoryview(attribute.value))  # type: ignore[arg-type]


def meshes(prim: tinyusdz.Prim, above: tuple[float, ...] = ORIGIN) -> Iterator[Placed]:
    """The meshes at or below a prim, each with where it stands (meters)."""
    x, y, z = above
    if "xformOp:translate" in prim.property_names():
        dx, dy, dz = told(prim, "xformOp:translate")  # type: ignore[misc]
        x, y, z = x + dx, y + dy, z + dz
    if prim.type_name == "Mesh":
        yield prim, (x, y, z)
    for child in prim.children():
        yield from meshes(child, (x, y, z))


def pieces(stage: tinyusdz.Stage) -> dict[str, Placed]:
    """The pieces' meshes by their names, in the reader's own order."""
    (root,) = stage.root_prims()
    found = [found for child in root.children() if child.name != "surroundings" for found in meshes(child)]
    named = {str(prim.get_metadata("displayName")): (prim, place) for prim, place in found}
    assert len(named) == len(found)
    return named


def test_the_stage_says_what_it_is(opened: tuple[Built, tinyusdz.Stage]) -> None:
    built, stage = opened
    assert stage.get_metadata("metersPerUnit") == 1.0
    assert stage.get_metadata("upAxis") == "Y"
    assert stage.get_metadata("defaultPrim") == "model"
    (root,) = stage.root_prims()
    assert root.get_metadata("displayName") == built.scene.title
    assert root.get_metadata("kind") == "assembly"
    assert f'string digest = "{built.digest}"' in stage.export_to_string()


def test_every_piece_is_there_by_its_name(opened: tuple[Built, tinyusdz.Stage]) -> None:
    built, stage = opened
    assert pieces(stage).keys() == {piece.name for piece in built.pieces}


def test_every_corner_is_where_the_build_has_it(opened: tuple[Built, tinyusdz.Stage]) -> None:
    built, stage = opened
    found = pieces(stage)
    for mesh in built.meshes:
        prim, place = found[mesh.piece.name]
        shape = mesh.shape
        x, y, z = 1000 * (array(prim, "points").astype(np.float64) + place).T
        points = np.stack([x, -z, y], axis=1)  # y up -> z up
        assert np.abs(points - mesh.points[shape.corner_point]).max() < 0.0005
        assert array(prim, "faceVertexCounts").tolist() == [3] * len(shape.render_triangles)
        assert array(prim, "faceVertexIndices").tolist() == shape.render_triangles.ravel().tolist()


def test_every_corner_faces_and_is_laid_as_the_build_has_it(opened: tuple[Built, tinyusdz.Stage]) -> None:
    built, stage = opened
    found = pieces(stage)
    for mesh in built.meshes:
        prim, _ = found[mesh.piece.name]
        x, y, z = array(prim, "normals").T
        assert np.array_equal(np.stack([x, -z, y], axis=1), mesh.normals)
        assert np.array_equal(array(prim, "primvars:st"), mesh.uvs)


def test_finishes_are_colors_in_linear_light(opened: tuple[Built, tinyusdz.Stage]) -> None:
    built, stage = opened
    (root,) = stage.root_prims()
    (materials,) = (child for child in root.children() if child.name == "materials")
    colors = {}
    for material in materials.children():
        (shader,) = material.children()
        assert told(shader, "info:id") == "UsdPreviewSurface"
        colors[material.get_metadata("displayName")] = told(shader, "inputs:diffuseColor")
    for member in built.members:
        # IEC 61966-2-1, worked out here: the light that an sRGB color stands for.
        light = [c / 12.92 if c <= 0.04045 else math.pow((c + 0.055) / 1.055, 2.4) for c in member.finish.color]
        assert colors[member.finish.name] == pytest.approx(light, abs=1e-6)


def test_finishes_to_choose_from_are_variants(opened: tuple[Built, tinyusdz.Stage]) -> None:
    built, stage = opened
    (root,) = stage.root_prims()
    if built is job():
        assert root.variant_sets() == []
        return
    assert root.variant_sets() == ["finish"]
    assert sorted(root.variant_names("finish")) == ["oak", "sage", "white"]
    assert root.variant_selection("finish") == built.members[0].finish.name == "white"
