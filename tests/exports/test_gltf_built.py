"""What a built scene's glTF has besides its pieces: finishes to choose from, cameras, and separate files."""

from __future__ import annotations

import hashlib
import io
import json
import math
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

import numpy as np
import pytest
from PIL import Image

import gltf
from export_jobs import OAK, PAINT, Raw, jobs
from preview.build import Built, build
from preview.exports import Part, glb_bytes
from preview.exports.glb import built_glb
from preview.exports.gltf_cameras import PICTURE, ready_cameras
from preview.exports.gltf_files import gltf_files
from preview.exports.gltf_model import model_of, offered
from preview.models.mesh import mesh_surroundings
from preview.scene import Finish, load_scene, parse_scene
from preview.vantage import Camera

SCENES = Path(__file__).parents[2] / "scenes"
VARIANTS = "KHR_materials_variants"
NAMED = ["door-casing", "bay", "stair-wall"]


@pytest.fixture(scope="module")
def builts() -> dict[str, Built]:
    return {name: build(load_scene(SCENES / f"{name}.toml")) for name in NAMED}


@pytest.fixture(scope="module")
def raws(builts: dict[str, Built]) -> dict[str, Raw]:
    return {name: Raw.of(built_glb(built)) for name, built in builts.items()}


@pytest.mark.parametrize("name", NAMED)
def test_the_khronos_validator_finds_nothing(name: str, builts: dict[str, Built], tmp_path: Path) -> None:
    path = tmp_path / "model.glb"
    path.write_bytes(built_glb(builts[name]))
    report = gltf.validate(path)
    assert (report.errors, report.warnings, report.infos, report.hints) == (0, 0, 0, 0), report
    assert path.read_bytes() == built_glb(builts[name])


# Variants -------------------------------------------------------------------------------------------------------------


def shown(raw: Raw, primitive: dict[str, Any], variant: int) -> dict[str, Any]:
    """The material of a primitive in a variant, as KHR_materials_variants has it: its own where none is mapped."""
    index = primitive["material"]
    for mapping in primitive.get("extensions", {}).get(VARIANTS, {}).get("mappings", []):
        if variant in mapping["variants"]:
            index = mapping["material"]
    found: dict[str, Any] = raw.document["materials"][index]
    return found


def variants(raw: Raw) -> list[str]:
    return [each["name"] for each in raw.document["extensions"][VARIANTS]["variants"]]


def test_there_is_a_variant_for_each_finish_that_molding_may_wear(raws: dict[str, Raw]) -> None:
    """The casing is white; oak, plaster and boards are declared as paint or clear wood (scenes/door-casing.toml)."""
    raw = raws["door-casing"]
    assert variants(raw) == ["as drawn", "white", "oak", "plaster", "boards"]
    assert VARIANTS in raw.document["extensionsUsed"]
    # Stone is none of them, though the scene declares it.
    assert variants(raws["stair-wall"]) == ["as drawn", "oak", "white", "plaster"]


@pytest.mark.parametrize("name", ["door-casing", "stair-wall"])
def test_a_variant_shows_what_a_scene_in_that_finish_shows(
    name: str, raws: dict[str, Raw], builts: dict[str, Built]
) -> None:
    """Against a file in which the pieces wear that finish as drawn; things that are no molding keep their own."""
    raw, model = raws[name], model_of(builts[name])
    for number, finish in enumerate(model.offered, start=1):
        parts = [Part(part.mesh, finish) for part in model.parts]
        due = Raw.of(glb_bytes(model.title, parts, model.surroundings))
        for node in (node for node in raw.document["nodes"] if "mesh" in node):
            (primitive,) = raw.document["meshes"][node["mesh"]]["primitives"]
            wanted = due.document["materials"][due.primitive(node["name"])["material"]]
            found = shown(raw, primitive, number)
            if not node["name"].startswith("surroundings / "):
                assert found["name"] == wanted["name"] == finish.name
            for factor in ("baseColorFactor", "roughnessFactor", "metallicFactor"):
                assert found["pbrMetallicRoughness"][factor] == wanted["pbrMetallicRoughness"][factor]
            if node["name"].startswith("surroundings / "):
                assert "extensions" not in primitive


def test_as_drawn_is_as_drawn(raws: dict[str, Raw], builts: dict[str, Built]) -> None:
    for name, raw in raws.items():
        for piece, member in zip(builts[name].pieces, builts[name].members, strict=True):
            primitive = raw.primitive(piece.name)
            assert shown(raw, primitive, 0) == raw.document["materials"][primitive["material"]]
            assert shown(raw, primitive, 0)["name"] == member.finish.name


def test_without_a_choice_there_are_no_variants() -> None:
    parts = [Part(mesh, PAINT) for mesh in jobs()["straight"].meshes()]
    for few in ((), (PAINT,)):
        raw = Raw.of(glb_bytes("Straight", parts, offered=few))
        assert not {"extensions", "extensionsUsed"} & raw.document.keys()
        assert "extensions" not in raw.primitive("bench front / base / 1 straight")


def test_a_finish_may_be_called_as_drawn() -> None:
    parts = [Part(mesh, PAINT) for mesh in jobs()["straight"].meshes()]
    raw = Raw.of(glb_bytes("Straight", parts, offered=(PAINT, replace(OAK, name="as drawn"))))
    assert variants(raw) == ["as drawn in the scene", "harbor white", "as drawn"]


def test_every_material_has_a_name_of_its_own(raws: dict[str, Raw], builts: dict[str, Built]) -> None:
    """Programs that keep materials by name would number a second one of the same name."""
    for name, raw in raws.items():
        told = [material["name"] for material in raw.document["materials"]]
        assert len(set(told)) == len(told)
        model = model_of(builts[name])
        worn = [*(part.finish for part in model.parts), *(mesh.finish for mesh in model.surroundings)]
        finishes = {finish.name for finish in (*worn, *model.offered)}
        assert {each for each in told if each not in finishes} <= {
            f"{finish}, {why}" for finish in finishes for why in ("no grain", "both sides", "no grain, both sides")
        }
        for material in raw.document["materials"]:
            if "both sides" in material["name"]:
                assert material["doubleSided"]
            if "no grain" in material["name"]:
                assert "baseColorTexture" not in material["pbrMetallicRoughness"]


def test_a_finish_on_molding_and_around_it_has_a_name_for_each() -> None:
    """The floor is in oak as the shoe is, and a bench is painted as the base is, both without texture coordinates."""
    raw = Raw.of(jobs()["everything"].glb())
    told = {
        node["name"]: raw.document["materials"][raw.primitive(node["name"])["material"]]["name"]
        for node in raw.document["nodes"]
        if "mesh" in node
    }
    assert told["bench front / base / 1 straight"] == "harbor white"
    assert told["bench front / shoe / 1 straight"] == "oak"
    assert told["surroundings / bench"] == "harbor white, no texture"
    assert told["surroundings / ground"] == "oak, no grain, both sides"
    assert told["surroundings / pier"] == "oak, no grain"
    assert len({each["name"] for each in raw.document["materials"]}) == len(raw.document["materials"]) == 6


def test_finishes_of_one_name_are_told_apart() -> None:
    """A scene may call a finish as the program calls that of bare walls."""
    dark = replace(PAINT, color=(0.1, 0.1, 0.1))
    worn = {"base": PAINT, "shoe": dark}
    parts = [Part(mesh, worn[mesh.piece.member]) for mesh in jobs()["two members"].meshes()]
    raw = Raw.of(glb_bytes("Two", parts))
    assert [material["name"] for material in raw.document["materials"]] == ["harbor white", "harbor white, 2"]


@pytest.mark.parametrize("own", [PAINT, OAK])
def test_there_is_one_wood_whatever_is_painted_as_drawn(own: Finish) -> None:
    """Where a painted piece may be shown in oak, no oak has its pores in relief, as that takes tangents on every piece;
    where all is in oak as drawn, and may be painted, all has."""
    worn = {"base": own, "shoe": OAK}
    parts = [Part(mesh, worn[mesh.piece.member]) for mesh in jobs()["two members"].meshes()]
    raw = Raw.of(glb_bytes("Two", parts, offered=(OAK, PAINT)))
    (oak,) = (each for each in raw.document["materials"] if each["name"] == "oak")
    assert ("normalTexture" in oak) == (own is OAK)
    for part in parts:
        primitive = raw.primitive(part.mesh.piece.name)
        assert shown(raw, primitive, 1) == oak
        assert ("TANGENT" in primitive["attributes"]) == (own is OAK)
        assert shown(raw, primitive, 2)["name"] == "harbor white"
        assert "baseColorTexture" not in shown(raw, primitive, 2)["pbrMetallicRoughness"]
    assert [image["name"] for image in raw.document["images"]] == ["grain", "pores"][: 1 + (own is OAK)]


def test_only_paint_that_is_all_there_is_has_the_blank_pixel(tmp_path: Path) -> None:
    """Without it the validator calls the texture coordinates unused; with wood to choose from it does not."""
    parts = [Part(mesh, PAINT) for mesh in jobs()["straight"].meshes()]
    for others, images in (((), ["blank"]), ((replace(PAINT, name="green"),), ["blank"]), ((OAK,), ["grain"])):
        path = tmp_path / "model.glb"
        path.write_bytes(glb_bytes("Straight", parts, offered=(PAINT, *others)))
        assert [image["name"] for image in Raw.of(path.read_bytes()).document["images"]] == images
        report = gltf.validate(path)
        assert (report.errors, report.warnings, report.infos, report.hints) == (0, 0, 0, 0), report


def test_stone_and_metal_stay(builts: dict[str, Built]) -> None:
    brass = Finish("brass", (0.8, 0.6, 0.2), 0.3, 1.0, "metal")
    meshes = jobs()["two members"].meshes()
    parts = [Part(mesh, brass if mesh.piece.member == "shoe" else PAINT) for mesh in meshes]
    raw = Raw.of(glb_bytes("Brass", parts, offered=(PAINT, OAK)))
    for number in range(3):
        assert shown(raw, raw.primitive("bench front / shoe / 1 straight"), number)["name"] == "brass"
    assert shown(raw, raw.primitive("bench front / base / 1 straight"), 2)["name"] == "oak"
    built = builts["bay"]
    worn = replace(built, members=tuple(replace(member, finish=brass) for member in built.members))
    assert brass not in offered(worn)


# Cameras --------------------------------------------------------------------------------------------------------------


def pictured(raw: Raw, number: int, points: np.ndarray) -> np.ndarray:
    """Points (n, 3) in meters, y up, in the picture of a camera: from -1 to 1 across and up (glTF 2.0, 3.10.3.3)."""
    (node,) = [node for node in raw.document["nodes"] if node.get("camera") == number]
    *vector, w = node["rotation"]
    q = -np.array(vector)  # the other way: into the camera's own axes
    away = points - np.array(node["translation"])
    away = away + 2 * w * np.cross(q, away) + 2 * np.cross(q, np.cross(q, away))
    lens = raw.document["cameras"][number]["perspective"]
    assert lens.keys() == {"yfov", "znear"}
    assert (-away[:, 2] > lens["znear"]).all()
    scale = 1 / math.tan(lens["yfov"] / 2)
    return np.column_stack([away[:, 0] * scale * PICTURE[1] / PICTURE[0], away[:, 1] * scale]) / -away[:, 2:]


@pytest.mark.parametrize("name", NAMED)
def test_cameras_show_what_the_ready_views_show(name: str, raws: dict[str, Raw], builts: dict[str, Built]) -> None:
    raw, built = raws[name], builts[name]
    scene = built.scene
    views = ready_cameras(built, mesh_surroundings(scene.surroundings, scene.runs, scene.chord))
    assert [camera["name"] for camera in raw.document["cameras"]] == [view.name for view in views]
    assert views[0].name == "Whole"
    assert len(views) > 3
    for number, view in enumerate(views):
        sample = np.array(view.camera.target) + np.random.default_rng(number).normal(0, 20, (50, 3))
        due = view.camera.project(sample, PICTURE) / np.array(PICTURE) * 2 - 1
        found = pictured(raw, number, sample[:, [0, 2, 1]] * (0.001, 0.001, -0.001))
        assert found == pytest.approx(due * (1, -1), abs=1e-4)


@pytest.mark.parametrize("name", NAMED)
def test_the_whole_is_in_the_first_picture(name: str, raws: dict[str, Raw], builts: dict[str, Built]) -> None:
    points = np.concatenate([mesh.points for mesh in builts[name].meshes])[:, [0, 2, 1]] * (0.001, 0.001, -0.001)
    assert 0.8 < np.abs(pictured(raws[name], 0, points)).max() < 0.95


def test_a_camera_may_look_straight_down() -> None:
    from preview.exports.gltf_cameras import camera_place

    place = camera_place(Camera((100.0, 200.0, 3000.0), (100.0, 200.0, 0.0)))
    assert place["translation"] == [0.1, 3.0, -0.2]
    assert place["rotation"] == pytest.approx([-math.sqrt(0.5), 0, 0, math.sqrt(0.5)])


# Separate files -------------------------------------------------------------------------------------------------------

VALIDATE = """
import { readFile } from "node:fs/promises";
import validator from "gltf-validator";
const [folder, name] = process.argv.slice(1);
const given = async (uri) => new Uint8Array(await readFile(`${folder}/${decodeURIComponent(uri)}`));
const told = await validator.validateBytes(await given(name), { maxIssues: 0, externalResourceFunction: given });
console.log(JSON.stringify(told));
"""


def test_separate_files_hold_the_same(builts: dict[str, Built], raws: dict[str, Raw], tmp_path: Path) -> None:
    stem = "größer & 50% #1"
    files = gltf_files(builts["stair-wall"], stem)
    assert [name for name, _ in files] == [f"{stem}{end}" for end in (".gltf", ".bin", "-grain.png")]
    assert files == gltf_files(builts["stair-wall"], stem)
    for name, data in files:
        (tmp_path / name).write_bytes(data)
    done = subprocess.run(
        [gltf.node(), "--input-type=module", "-e", VALIDATE, str(tmp_path), quote(f"{stem}.gltf")],
        cwd=gltf.FOLDER,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    told = json.loads(done.stdout)
    assert told["issues"]["messages"] == []
    assert told["info"]["totalTriangleCount"] == sum(len(mesh.triangles) for mesh in builts["stair-wall"].meshes) + sum(
        len(mesh.triangles) for mesh in model_of(builts["stair-wall"]).surroundings
    )
    found, raw = json.loads(files[0][1]), raws["stair-wall"]
    assert {unquote(each["uri"]) for each in told["info"]["resources"] if "uri" in each} == {n for n, _ in files[1:]}
    assert found["buffers"][0]["byteLength"] == len(files[1][1])
    apart = {"buffers", "bufferViews", "images"}
    assert {k: v for k, v in found.items() if k not in apart} == {
        k: v for k, v in raw.document.items() if k not in apart
    }
    assert raw.data.startswith(files[1][1])
    for image, (_, data) in zip(raw.document["images"], files[2:], strict=True):
        view = raw.document["bufferViews"][image["bufferView"]]
        assert raw.data[view["byteOffset"] : view["byteOffset"] + view["byteLength"]] == data
        assert Image.open(io.BytesIO(data)).format == "PNG"


def test_what_is_drawn_is_the_same_whatever_is_offered(builts: dict[str, Built], raws: dict[str, Raw]) -> None:
    """Cameras and finishes to choose from change no vertex."""
    model = model_of(builts["bay"])
    plain = Raw.of(glb_bytes(model.title, model.parts, model.surroundings, model.digest))
    for piece in builts["bay"].pieces:
        for what in ("POSITION", "NORMAL", "TEXCOORD_0"):
            one, other = (raw.attribute(piece.name, what) for raw in (plain, raws["bay"]))
            assert hashlib.sha256(one.tobytes()).digest() == hashlib.sha256(other.tobytes()).digest()


def test_a_casing_far_away_keeps_its_digits() -> None:
    """Its run lies in the wall's own plan, 50 m away; what is stored is measured from where it stands all the same."""
    text = """
title = "Far door"
units = "mm"
[finish.white]
color = "#f0f0f0"
[profile.casing]
library = "ogee-casing"
[member.casing]
profile = "casing"
finish = "white"
[[run]]
name = "door"
members = ["casing"]
room = "left"
on_wall = { origin = [50000, 3000, 0], along = 30 }
heading = 90
steps = [{ straight = 2000 }, { right = 90 }, { straight = 900 }]
"""
    glb = Raw.of(built_glb(build(parse_scene(text, Path("far.toml")))))
    stored = [glb.array(mesh["primitives"][0]["attributes"]["POSITION"]) for mesh in glb.document["meshes"]]
    assert max(float(np.abs(points).max()) for points in stored) < 2.5
    place = glb.document["nodes"][1]["translation"]
    assert np.hypot(place[0] - 50.0, place[2] + 3.0) < 1e-9
