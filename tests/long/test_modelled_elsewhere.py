"""Files for other programs, opened by a general-purpose 3D modelling package and held against the build.

The package's Python module (bpy on PyPI, 5.0.1 of it, for Python 3.11) is some hundred megabytes, so it is asked for in
an environment of its own:

    MODELLING_PYTHON=/its/environment/bin/python pytest tests/long
"""

from __future__ import annotations

import json
import os
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from preview.build import Built
from preview.checks.exchange import srgb
from preview.exports import FORMATS, built_glb
from preview.review import build_every
from preview.scene import load_scene

PYTHON = os.environ.get("MODELLING_PYTHON", "")
SCENE = Path(__file__).parents[2] / "scenes" / "window-seat.toml"
SCRIPT = Path(__file__).with_name("modelled.py")
NAMED_IN_WORDS = {"obj": "_", "usdz": "_"}
"""What those formats have in a name for a blank and what stands beside it."""
POINTS = 0.001
"""mm: the package keeps 32-bit floats, in meters and measured from each object's origin."""
NORMALS = 0.1
"""Degrees: it keeps normals as two angles of 16 bits."""

pytestmark = pytest.mark.skipif(
    not PYTHON, reason="MODELLING_PYTHON names no interpreter that has the modelling package's module (bpy)"
)


@dataclass(frozen=True)
class Opened:
    """A build, the format it was written in, and what the package made of it."""

    built: Built
    suffix: str
    told: dict[str, Any]
    arrays: dict[str, np.ndarray]

    def pieces(self) -> Iterator[tuple[Any, dict[str, Any], np.ndarray, np.ndarray]]:
        """Each piece's mesh, what is told of it, and its corners (mm) and normals (t, 3, 3)."""
        number = {mesh["name"]: i for i, mesh in enumerate(self.told["meshes"])}
        for mesh in self.built.meshes:
            i = number[in_words(mesh.piece.name, self.suffix)]
            yield mesh, self.told["meshes"][i], 1000 * self.arrays[f"{i} corners"], self.arrays[f"{i} normals"]


def in_words(name: str, suffix: str) -> str:
    """A piece's name as the format's objects bear it."""
    return name.replace(" / ", "_").replace(" ", "_") if suffix in NAMED_IN_WORDS else name


@pytest.fixture(scope="module")
def every() -> tuple[Built, ...]:
    return build_every(load_scene(SCENE))


@pytest.fixture(scope="module", params=["glb", "obj", "usdz", "an option's glb"])
def opened(
    request: pytest.FixtureRequest, every: tuple[Built, ...], tmp_path_factory: pytest.TempPathFactory
) -> Opened:
    folder = tmp_path_factory.mktemp("modelled")
    suffix = request.param[-4:].strip()
    built = every[-1] if request.param != suffix else every[0]
    files = (("model.glb", built_glb(built)),) if suffix == "glb" else FORMATS[suffix](built, "model")
    for name, data in files:
        (folder / name).write_bytes(data)
    told, arrays = folder / "told.json", folder / "arrays.npz"
    done = subprocess.run(
        [PYTHON, str(SCRIPT), str(folder / files[0][0]), str(told), str(arrays)],
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    with np.load(arrays) as held:
        return Opened(built, suffix, json.loads(told.read_text("utf-8")), dict(held))


def test_every_piece_is_there_by_its_name(opened: Opened) -> None:
    names = [mesh["name"] for mesh in opened.told["meshes"]]
    around = [name for name in names if name.startswith("surroundings")]
    wanted = {in_words(piece.name, opened.suffix) for piece in opened.built.pieces}
    assert set(names) - set(around) == wanted
    assert len(names) == len(wanted) + len(around)
    assert len(around) == (1 if opened.suffix == "obj" else len(opened.built.scene.surroundings))


def test_every_corner_and_box_is_where_the_build_has_it(opened: Opened) -> None:
    for mesh, told, corners, _ in opened.pieces():
        assert corners.shape == (len(mesh.triangles), 3, 3)
        assert np.abs(corners - mesh.points[mesh.triangles]).max() < POINTS
        assert 1000 * np.array(told["low"]) == pytest.approx(mesh.points.min(axis=0), abs=POINTS)
        assert 1000 * np.array(told["high"]) == pytest.approx(mesh.points.max(axis=0), abs=POINTS)


def test_the_whole_is_as_large_and_stands_as_high(opened: Opened) -> None:
    found = np.concatenate([corners.reshape(-1, 3) for _, _, corners, _ in opened.pieces()])
    wanted = np.concatenate([mesh.points for mesh in opened.built.meshes])
    assert np.ptp(found, axis=0) == pytest.approx(np.ptp(wanted, axis=0), abs=POINTS)
    assert found[:, 2].min() == pytest.approx(wanted[:, 2].min(), abs=POINTS)


def test_every_corner_faces_as_the_build_has_it(opened: Opened) -> None:
    for mesh, told, _, normals in opened.pieces():
        assert told["custom_normals"]
        wanted = mesh.normals[mesh.shape.render_triangles]
        across = np.linalg.norm(np.cross(normals, wanted), axis=-1)
        assert np.degrees(np.arctan2(across, (normals * wanted).sum(axis=-1))).max() < NORMALS


def test_every_piece_has_the_color_of_its_finish(opened: Opened) -> None:
    for member, (_, told, _, _) in zip(opened.built.members, opened.pieces(), strict=True):
        (material,) = told["materials"]
        assert material["name"].partition(".")[0] == member.finish.name
        found = np.array(material["color"])
        # The package takes the colors of an MTL, of which its specification says no more, as they stand.
        steps = 255 * found if opened.suffix == "obj" else srgb(found)
        assert steps == pytest.approx(255 * np.array(member.finish.color), abs=0.51)


def test_views_and_finishes_to_choose_from_do_no_harm(opened: Opened) -> None:
    if opened.suffix == "glb":
        assert opened.told["cameras"][0] == "Whole"
        assert len(opened.told["cameras"]) == 1 + len(set(opened.told["cameras"][1:])) > 1
        offered = [name for name in ("white", "oak", "sage") if name in opened.told["variants"]]
        assert opened.told["variants"] == ["as drawn", *opened.told["variants"][1:]]
        assert len(offered) == len(opened.told["variants"]) - 1 == 3
        for mesh, told, _, _ in opened.pieces():
            assert told["extras"]["piece"] == mesh.piece.name
            assert told["extras"]["digest"] == opened.built.digest
            assert told["above"] == mesh.piece.run
    else:
        assert opened.told["cameras"] == []
