"""The grain of clear-finished wood: its color on the whole, its edges, how large it lies, and its tangents."""

from __future__ import annotations

import io
import math
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from export_jobs import OAK, Job, Raw, jobs, sides
from preview.exports import Part, glb_bytes, gltf_document
from preview.exports.gltf_grain import COMPACT, FAR, FULL, PORE_DEPTH, TEXELS, TILE, Detail, grain
from preview.exports.gltf_materials import linear
from preview.exports.gltf_tangents import tangents

TRANSFORM = "KHR_texture_transform"


def in_oak(job: Job) -> bytes:
    return glb_bytes(job.title, [Part(mesh, OAK) for mesh in job.meshes()])


def light(picture: bytes) -> np.ndarray:
    """A picture's pixels as light, 0 to 1, by the curve of IEC 61966-2-1: (rows, columns, 3)."""
    stored = np.asarray(Image.open(io.BytesIO(picture)).convert("RGB")) / 255
    return np.where(stored <= 0.04045, stored / 12.92, ((stored + 0.055) / 1.055) ** 2.4)


def test_wood_has_its_finish_s_color_on_the_whole() -> None:
    raw = Raw.of(in_oak(jobs()["straight"]))
    (material,) = raw.document["materials"]
    factor = np.array(material["pbrMetallicRoughness"]["baseColorFactor"][:3])
    due = [linear(part) for part in OAK.color]
    assert light(grain().color).mean(axis=(0, 1)) * factor == pytest.approx(due, rel=5e-3)


def test_the_lightest_wood_passes_no_white() -> None:
    pale = replace(OAK, color=(1.0, 0.99, 0.97))
    parts = [Part(mesh, pale) for mesh in jobs()["straight"].meshes()]
    (material,) = Raw.of(glb_bytes("Pale", parts)).document["materials"]
    assert max(material["pbrMetallicRoughness"]["baseColorFactor"]) == 1.0


def test_the_tile_goes_on_at_its_edges() -> None:
    """Across an edge neighbors differ no more than inside, on the whole: a seam would be a line to see."""
    for picture in (grain().color, grain().normals):
        pixels = np.asarray(Image.open(io.BytesIO(picture)).convert("RGB")).astype(float)
        assert pixels.shape == (TEXELS[1], TEXELS[0], 3)
        for axis in (0, 1):
            steps = np.abs(pixels - np.roll(pixels, 1, axis)).mean(axis=(1 - axis, 2))
            assert steps.max() > 0
            assert steps[0] < 1.5 * np.sort(steps)[-3]


def test_the_pictures_are_small_and_the_same_every_time() -> None:
    assert len(grain().color) + len(grain().normals) < 60_000
    code = "import hashlib; from preview.exports.gltf_grain import grain; print(hash((grain().color, grain().normals)))"
    seeded = {"PYTHONHASHSEED": "1"}
    told = [
        subprocess.run([sys.executable, "-c", code], env=seeded, capture_output=True, text=True, check=True).stdout
        for _ in range(2)
    ]
    assert told[0] == told[1] != ""


@pytest.mark.parametrize(("detail", "share"), [(COMPACT, 1 / 4), (FAR, 1 / 20)])
def test_smaller_pictures_show_the_same_wood(detail: Detail, share: float) -> None:
    """Each texel is the mean of those of the full picture that it stands for, within a step of its shades; so all look
    alike from further away, and the light is the same on the whole."""
    full, small = light(grain(FULL).color), light(grain(detail).color)
    along, across = detail.merged
    rows, columns = TEXELS[1] // across, TEXELS[0] // along
    assert small.shape == (rows, columns, 3)
    means = full.reshape(rows, across, columns, along, 3).mean(axis=(1, 3))
    assert np.abs(small - means).max() < (1 - light(grain().color).min()) / (detail.shades - 1)
    assert small.mean(axis=(0, 1)) == pytest.approx(full.mean(axis=(0, 1)), abs=0.002)
    assert small.mean(axis=(0, 1)) == pytest.approx(grain(detail).mean, abs=0.002)
    assert grain(detail).normals == b""
    assert len(grain(detail).color) < share * (len(grain().color) + len(grain().normals))


def test_grain_lies_at_its_true_size() -> None:
    """A straight's sides span its length in mm; the transform makes that so many tiles of so many mm."""
    raw = Raw.of(in_oak(jobs()["straight"]))
    (material,) = raw.document["materials"]
    (mesh,) = jobs()["straight"].meshes()
    uv = raw.attribute(mesh.piece.name, "TEXCOORD_0")[: sides(mesh)]
    for texture in (material["pbrMetallicRoughness"]["baseColorTexture"], material["normalTexture"]):
        laid = uv * texture["extensions"][TRANSFORM]["scale"]
        assert np.ptp(laid[:, 0]) * TILE[0] == pytest.approx(1000.0, rel=1e-6)
        assert np.ptp(laid[:, 1]) * TILE[1] == pytest.approx(192 + 14 * math.pi / 2, rel=1e-6)
    assert raw.document["extensionsUsed"] == [TRANSFORM]
    assert "extensionsRequired" not in raw.document  # without it a mm is a tile, which comes to the finish's color


def test_paint_has_no_grain() -> None:
    raw = Raw.of(jobs()["two members"].glb())
    paint, oak = raw.document["materials"]
    names = [image["name"] for image in raw.document["images"]]
    assert names[paint["pbrMetallicRoughness"]["baseColorTexture"]["index"]] == "blank"
    assert names[oak["pbrMetallicRoughness"]["baseColorTexture"]["index"]] == "grain"
    assert "normalTexture" not in paint
    assert "TANGENT" not in raw.primitive("bench front / base / 1 straight")["attributes"]
    assert "TANGENT" in raw.primitive("bench front / shoe / 1 straight")["attributes"]


def test_a_large_model_shows_no_relief(monkeypatch: pytest.MonkeyPatch) -> None:
    (mesh,) = jobs()["straight"].meshes()
    for most, bumps in ((len(mesh.normals), True), (len(mesh.normals) - 1, False)):
        monkeypatch.setattr(gltf_document, "MOST_TANGENTS", most)
        raw = Raw.of(in_oak(jobs()["straight"]))
        (material,) = raw.document["materials"]
        assert ("normalTexture" in material) == bumps
        assert ("TANGENT" in raw.primitive(mesh.piece.name)["attributes"]) == bumps
        assert "baseColorTexture" in material["pbrMetallicRoughness"]


def stored_tangents(raw: Raw, name: str) -> np.ndarray:
    accessor = raw.document["accessors"][raw.primitive(name)["attributes"]["TANGENT"]]
    view = raw.document["bufferViews"][accessor["bufferView"]]
    assert (accessor["type"], accessor["componentType"], view["byteStride"]) == ("VEC4", 5126, 16)
    start = view["byteOffset"] + accessor["byteOffset"]
    return np.frombuffer(raw.data, "<f4", accessor["count"] * 4, start).reshape(-1, 4).astype(float)


@pytest.mark.parametrize("name", ["miter, inside corner", "miter, outside corner", "curved miter", "closed"])
def test_tangents_run_along_the_grain(name: str) -> None:
    """Against every triangle's own edges: how u and v grow over it, by the chain rule, in the stored numbers."""
    job = jobs()[name]
    raw = Raw.of(in_oak(job))
    for mesh in job.meshes():
        points, uv, normals = (
            raw.attribute(mesh.piece.name, what).astype(float) for what in ("POSITION", "TEXCOORD_0", "NORMAL")
        )
        lie = stored_tangents(raw, mesh.piece.name)
        assert np.linalg.norm(lie[:, :3], axis=1) == pytest.approx(1, abs=1e-6)
        assert np.abs(np.einsum("ij,ij->i", lie[:, :3], normals)).max() < 1e-5
        assert set(lie[:, 3]) <= {-1.0, 1.0}
        corners = raw.triangles(mesh.piece.name)
        for a, b, c in corners:
            edges = 1000 * np.array([points[b] - points[a], points[c] - points[a]])
            turns = np.array([uv[b] - uv[a], uv[c] - uv[a]])
            if abs(np.linalg.det(turns)) < 1e-2:
                continue
            grows_u, grows_v = np.linalg.solve(turns, edges)
            for corner in (a, b, c):
                along = lie[corner, :3] @ grows_u / np.linalg.norm(grows_u)
                top = lie[corner, 3] * np.cross(normals[corner], lie[corner, :3])
                assert along > 0.9
                assert top @ grows_v < -0.8 * np.linalg.norm(grows_v)


def test_a_straight_s_grain_is_its_travel() -> None:
    """On its sides +X; on the ends, whose picture is the section, out of the wall."""
    raw = Raw.of(in_oak(jobs()["straight"]))
    (mesh,) = jobs()["straight"].meshes()
    lie, count = stored_tangents(raw, mesh.piece.name), sides(mesh)
    assert lie[:count, :3] == pytest.approx(np.tile([1.0, 0.0, 0.0], (count, 1)), abs=1e-6)
    assert lie[count:, :3] == pytest.approx(np.tile([0.0, 0.0, -1.0], (len(lie) - count, 1)), abs=1e-5)


def test_a_vertex_without_a_picture_gets_some_tangent() -> None:
    points = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]])
    normals = np.tile([0.0, 0, 1], (3, 1))
    found = tangents(points, normals, np.zeros((3, 2)), np.array([[0, 1, 2]]))
    assert np.linalg.norm(found[:, :3], axis=1) == pytest.approx(1)
    assert found[:, 2] == pytest.approx(0)
    assert set(found[:, 3]) == {1.0}


def test_pores_are_grooves_along_the_grain() -> None:
    """No slope is steeper than a pore's depth allows; pores are long, and dark where they are deep."""
    pixels = np.asarray(Image.open(io.BytesIO(grain().normals)).convert("RGB")).astype(float)
    normal = pixels / 127.5 - 1
    assert np.linalg.norm(normal, axis=2) == pytest.approx(1, abs=0.02)
    slopes = normal[..., :2] / normal[..., 2:]
    slopes -= slopes.mean(axis=(0, 1))  # no 8-bit number is 0
    steepest = np.abs(slopes[..., 1]).max()
    most = PORE_DEPTH / (2 * TILE[1] / TEXELS[1])  # slopes are taken over two texels
    assert most / 2 < steepest < most + 1 / 127
    across, along = slopes[..., 1].std(), slopes[..., 0].std()
    assert across > 3 * along > 0
    # Green is how far the surface falls toward -v, so where it grows with v there is a hollow; there the wood is dark.
    hollow = np.roll(slopes[..., 1], -1, axis=0) - np.roll(slopes[..., 1], 1, axis=0)
    dark = 1 - light(grain().color).mean(axis=2)
    assert dark[hollow > 0.02].mean() > dark.mean() + 0.1
    assert (hollow > 0.02).mean() > 0.005
