"""What pieces wear in files for other programs: normals, texture coordinates and colors, each with planted faults."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pxr import Sdf

from preview.build import Built, build
from preview.checks import inspect_exchange
from preview.checks.exchange import light_of, srgb
from preview.scene import parse_scene
from round_trips import CARRIED, JOB, colors, failed, job, judged, relayered, repacked, written


def with_mesh(built: Built, number: int, **changes: np.ndarray) -> Built:
    meshes = list(built.meshes)
    meshes[number] = replace(meshes[number], **changes)
    return replace(built, meshes=tuple(meshes))


def one_normal_flipped(built: Built) -> Built:
    normals = built.meshes[1].normals.copy()
    normals[5] *= -1
    return with_mesh(built, 1, normals=normals)


def normals_leaning(built: Built) -> Built:
    lean = np.array([1.0, 0.0, 2e-5], np.float32)  # a thousandth of a degree
    normals = built.meshes[1].normals + lean
    return with_mesh(built, 1, normals=normals / np.linalg.norm(normals, axis=1)[:, None])


def one_uv_shifted(built: Built) -> Built:
    uvs = built.meshes[1].uvs.copy()
    uvs[5, 0] += 0.01
    return with_mesh(built, 1, uvs=uvs)


def another_color(built: Built) -> Built:
    red, green, blue = built.members[1].finish.color
    finish = replace(built.members[1].finish, color=(red, green + 1 / 255, blue))
    return replace(built, members=tuple(replace(member, finish=finish) for member in built.members))


FAULTS = {
    one_normal_flipped: "file-normals",
    normals_leaning: "file-normals",
    one_uv_shifted: "file-uvs",
    another_color: "file-color",
}


@pytest.mark.parametrize("name", CARRIED)
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
def test_a_fault_in_what_a_piece_wears_is_caught(fault: Callable[[Built], Built], name: str, tmp_path: Path) -> None:
    path = written(fault(job()), name, tmp_path)
    code = FAULTS[fault]
    assert failed(path) == ({code} & CARRIED[name])
    if code in CARRIED[name]:
        wrong = job().pieces if fault is another_color else job().pieces[1:2]
        names = [finding.subject for finding in judged(path) if finding.check.code == code and not finding.holds]
        assert [name.partition(": ")[2] for name in names] == [piece.name for piece in wrong]


def test_figures_are_what_was_planted(tmp_path: Path) -> None:
    def worst(fault: Callable[[Built], Built], name: str) -> float:
        path = written(fault(job()), name, tmp_path)
        return max(found.figure for found in judged(path) if found.check.code == FAULTS[fault])

    for name in ("glb", "ply", "usdz"):
        assert worst(one_normal_flipped, name) == pytest.approx(180, abs=1e-4)
    for name in ("gltf", "obj", "usdz"):
        assert worst(one_uv_shifted, name) == pytest.approx(0.01, abs=0.0006)
    for name in ("glb", "3mf", "obj", "ply", "usdz"):
        assert worst(another_color, name) == pytest.approx(1, abs=0.01)


# Faults in the files -------------------------------------------------------------------------------------------------


def documented(path: Path, change: Callable[[dict], None]) -> None:
    """Change a glTF file's document."""
    document = json.loads(path.read_text("utf-8"))
    change(document)
    path.write_text(json.dumps(document), "utf-8")


@pytest.mark.parametrize(("attribute", "code"), [("NORMAL", "file-normals"), ("TEXCOORD_0", "file-uvs")])
def test_a_gltf_that_lacks_an_attribute_is_caught(attribute: str, code: str, tmp_path: Path) -> None:
    path = written(job(), "gltf", tmp_path)
    named = {piece.name for piece in job().pieces}

    def without(document: dict) -> None:
        for mesh in document["meshes"]:
            if mesh["name"] in named:
                del mesh["primitives"][0]["attributes"][attribute]

    documented(path, without)
    assert failed(path) == {code}
    assert {found.detail for found in judged(path) if not found.holds} == {
        f"it has no {'normals' if attribute == 'NORMAL' else 'texture coordinates'}"
    }


def test_colors_written_as_if_they_were_light_are_caught(tmp_path: Path) -> None:
    # glTF 2.0, 3.9.2, and UsdPreviewSurface 2.6 take linear light; a common mistake is to hand them sRGB.
    red, green, blue = (part / 255 for part in (0x80, 0x40, 0x20))
    path = written(painted(), "gltf", tmp_path)
    assert found_wrong(path) == set()

    def as_srgb(document: dict) -> None:
        for material in document["materials"]:
            if material["name"] == "oak":
                material["pbrMetallicRoughness"]["baseColorFactor"] = [red, green, blue, 1.0]

    documented(path, as_srgb)
    assert found_wrong(path) == {"file-color"}

    path = written(painted(), "usdz", tmp_path)
    relayered(path, lambda layer: diffuse(layer).__setattr__("default", (red, green, blue)))
    assert found_wrong(path) == {"file-color"}

    # MTL's Kd is sRGB here, and says so: light in its place, or no word of it, is as wrong.
    path = written(painted(), "obj", tmp_path)
    library = tmp_path / "boards.mtl"
    whole = library.read_bytes()
    library.write_bytes(re.sub(rb"(?m)^Kd .*$", b"Kd 0.215861 0.0512695 0.0144438", whole))
    assert found_wrong(path) == {"file-color"}
    library.write_bytes(whole.replace(b"# Colors (Kd) are sRGB.\n", b""))
    assert found_wrong(path) == {"file-color"}


def painted() -> Built:
    return build(parse_scene(JOB.replace('kind = "clear"', 'kind = "paint"'), Path("boards.toml")))


def found_wrong(path: Path) -> set[str]:
    built = painted()
    found = inspect_exchange(path, built.meshes, colors(built), built.digest)
    return {finding.check.code for finding in found if not finding.holds}


def diffuse(layer: Sdf.Layer) -> Sdf.AttributeSpec:
    return layer.GetAttributeAtPath("/model/materials/oak/surface.inputs:diffuseColor")


def test_a_usd_prim_without_material_or_normals_is_caught(tmp_path: Path) -> None:
    path = written(job(), "usdz", tmp_path)
    relayered(path, lambda layer: layer.GetPrimAtPath("/model/materials").nameChildren.__delitem__("oak"))
    assert failed(path) == {"file-color"}
    for name, code in (("normals", "file-normals"), ("primvars:st", "file-uvs")):
        path = written(job(), "usdz", tmp_path)

        def without(layer: Sdf.Layer, name: str = name) -> None:
            mesh = meshes(layer)[0]
            mesh.RemoveProperty(mesh.properties[name])

        relayered(path, without)
        assert failed(path) == {code}


def meshes(layer: Sdf.Layer) -> list[Sdf.PrimSpec]:
    found: list[Sdf.PrimSpec] = []

    def visit(path: Sdf.Path) -> None:
        prim = layer.GetPrimAtPath(path) if path.IsPrimPath() else None
        if prim is not None and prim.typeName == "Mesh" and "surrounding" not in prim.customData:
            found.append(prim)

    layer.Traverse("/", visit)
    return found


def test_a_3mf_color_changed_in_the_file_is_caught(tmp_path: Path) -> None:
    path = written(job(), "3mf", tmp_path)
    repacked(path, 'displaycolor="#804020"', 'displaycolor="#814020"')
    assert failed(path) == {"file-color"}


def test_normals_that_are_not_of_length_one_are_caught(tmp_path: Path) -> None:
    path = written(with_mesh(job(), 1, normals=job().meshes[1].normals * 1.01), "ply", tmp_path)
    assert failed(path) == {"file-normals"}
    path = written(with_mesh(job(), 1, normals=job().meshes[1].normals * 0), "obj", tmp_path)
    assert failed(path) == {"file-normals"}


# The picture of grain ------------------------------------------------------------------------------------------------


def test_the_grain_comes_to_the_finish_on_the_whole(tmp_path: Path) -> None:
    path = written(job(), "gltf", tmp_path)
    document = json.loads(path.read_text("utf-8"))
    named = next(image["uri"] for image in document["images"] if "grain" in image["uri"])
    with Image.open(tmp_path / named) as picture:
        light = light_of(np.asarray(picture.convert("RGB"))).mean(axis=(0, 1))
    (oak,) = (m for m in document["materials"] if m["name"] == "oak" and "doubleSided" not in m)
    factor = oak["pbrMetallicRoughness"]["baseColorFactor"][:3]
    assert srgb(light * factor) == pytest.approx([0x80, 0x40, 0x20], abs=0.05)
    Image.new("RGB", (4, 4), "#808080").save(tmp_path / named)
    assert failed(path) == {"file-color"}


def test_a_finish_lighter_than_the_grain_is_as_light_as_that(tmp_path: Path) -> None:
    pale = build(parse_scene(JOB.replace("#804020", "#fffaf0"), Path("boards.toml")))
    path = written(pale, "glb", tmp_path)
    found = [each for each in judged(path, pale) if each.check.code == "file-color"]
    assert all(each.holds and 10 < each.figure < each.limit < 26 for each in found)
    for name in ("obj", "ply", "usdz"):
        found = [each for each in judged(written(pale, name, tmp_path), pale) if each.check.code == "file-color"]
        assert all(each.holds and each.limit == pytest.approx(0.5, abs=0.01) for each in found)


def test_srgb_is_the_standards() -> None:
    # IEC 61966-2-1; the values are those of the sRGB entry of the CSS Color 4 sample code, worked by hand from memory:
    # 0.5 of full sRGB is 0.21404 of the light, and the two pieces of the curve meet at 0.04045.
    assert light_of(np.array([0.0, 127.5, 255.0])) == pytest.approx([0, 0.2140411, 1], abs=1e-7)
    assert srgb(np.array([0.18])) == pytest.approx([117.65], abs=0.05)  # middle grey
    steps = np.arange(256)
    assert srgb(light_of(steps)) == pytest.approx(steps, abs=1e-4)
