"""STL files judged by ADMesh (Debian's package admesh), a program that repairs STL: it must find nothing to repair.

It takes facets as neighbors where they share an edge to the last bit, and compares each normal with the one that it
works out in float32 itself. Skipped without admesh on PATH; .ci/run installs it and sets MOLDING_ADMESH_TESTS=required.
"""

from __future__ import annotations

import os
import re
import shutil
import struct
import subprocess
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

from preview.build import Built, build
from preview.exports import stl_blocks
from preview.models.mesh import PieceMesh
from preview.scene import load_scene
from scene_builds import scene_build

ASKED = "MOLDING_ADMESH_TESTS"
SECONDS = 60
ROOT = Path(__file__).parents[2]
SCENES = sorted(path.stem for path in (ROOT / "scenes").glob("*.toml"))
REPAIRS = (
    "Total disconnected facets",
    "Degenerate facets",
    "Edges fixed",
    "Facets removed",
    "Facets added",
    "Facets reversed",
    "Backwards edges",
    "Normals fixed",
)


@dataclass(frozen=True)
class Told:
    """What admesh reports: the repairs that it made, those that are not 0; parts; and the volume, mm³."""

    repairs: dict[str, int]
    parts: int
    volume: float


@pytest.fixture(scope="module")
def admesh() -> str:
    if found := shutil.which("admesh"):
        return found
    why = "admesh is not on PATH"
    if os.environ.get(ASKED) == "required":
        pytest.fail(f"{why}, and {ASKED} says that these tests are required")
    pytest.skip(why)


def told(program: str, path: Path) -> Told:
    done = subprocess.run([program, path], capture_output=True, text=True, timeout=SECONDS, check=True)
    assert done.stderr == ""

    def number(name: str) -> float:
        """Of the two columns of a row, before repair and after, the first."""
        (found,) = re.findall(rf"{name} +: +(-?[\d.]+)", done.stdout)
        return float(found)

    repairs = {name: int(number(name)) for name in REPAIRS if number(name)}
    return Told(repairs, int(number("Number of parts")), number("Volume"))


def written(meshes: Sequence[PieceMesh], path: Path, header: str = "", digest: str = "") -> Path:
    path.write_bytes(b"".join(stl_blocks(meshes, header, digest)))
    return path


def every(name: str) -> Iterator[Built]:
    """A scene as drawn, and with each other combination of its options."""
    yield scene_build(name)
    for variant in load_scene(ROOT / "scenes" / f"{name}.toml").variants:
        yield build(variant.scene)


def test_there_are_scenes_with_options() -> None:
    assert len(SCENES) >= 10
    assert sum(len(list(every(name))) for name in ("column", "window-seat")) > 10


@pytest.mark.parametrize("name", SCENES)
def test_nothing_is_to_be_repaired(name: str, admesh: str, tmp_path: Path) -> None:
    """In no whole file and in no piece's.

    Parts are pieces, though neighbors share the edges of their joint: admesh pairs an edge with the first of its like
    that is still alone, and in the file a piece is whole before the next begins.
    """
    for built in every(name):
        found = told(admesh, written(built.meshes, tmp_path / "whole.stl", built.scene.title, built.digest))
        assert found == Told({}, len(built.pieces), pytest.approx(sum(mesh.volume for mesh in built.meshes), rel=1e-4))
        for mesh in built.meshes:
            found = told(admesh, written([mesh], tmp_path / "piece.stl", mesh.piece.name))
            assert found == Told({}, 1, pytest.approx(mesh.volume, rel=1e-4)), mesh.piece.name


@pytest.mark.parametrize("name", ["stair-wall", "window-seat"])
def test_nor_a_hundred_meters_off_the_origin(name: str, admesh: str, tmp_path: Path) -> None:
    """Where 32-bit numbers are 0.008 mm apart."""
    meshes = [replace(mesh, points=mesh.points + np.array([1e5, -7e4, 0.0])) for mesh in scene_build(name).meshes]
    found = told(admesh, written(meshes, tmp_path / "far.stl"))
    assert (found.repairs, found.parts) == ({}, len(meshes))


def facet(data: bytearray, i: int) -> slice:
    return slice(84 + 50 * i, 134 + 50 * i)


def without(data: bytearray) -> None:
    del data[facet(data, 0)]
    data[80:84] = struct.pack("<I", struct.unpack_from("<I", data, 80)[0] - 1)


def turned_round(data: bytearray) -> None:
    numbers = struct.unpack_from("<12f", data, 84)
    struct.pack_into("<12f", data, 84, *(-n for n in numbers[:3]), *numbers[3:6], *numbers[9:12], *numbers[6:9])


def askew(data: bytearray) -> None:
    x, y, z = struct.unpack_from("<3f", data, 84)
    struct.pack_into("<3f", data, 84, *np.array([x + 0.01, y + 0.01, z]).tolist())


def collapsed(data: bytearray) -> None:
    data[84 + 24 : 84 + 36] = data[84 + 12 : 84 + 24]


@pytest.mark.parametrize(
    ("fault", "repair"),
    [
        (without, "Total disconnected facets"),
        (without, "Facets added"),
        (turned_round, "Facets reversed"),
        (askew, "Normals fixed"),
        (collapsed, "Degenerate facets"),
    ],
)
def test_a_planted_fault_is_found(fault: Callable[[bytearray], None], repair: str, admesh: str, tmp_path: Path) -> None:
    path = written(scene_build("window-seat").meshes[:1], tmp_path / "piece.stl")
    data = bytearray(path.read_bytes())
    fault(data)
    path.write_bytes(data)
    assert told(admesh, path).repairs[repair] >= 1
