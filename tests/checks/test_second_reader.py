"""What another library (trimesh) finds in a GLB of a tetrahedron whose figures are known."""

from __future__ import annotations

import math
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from hand_gltf import FACES, STORED, VOLUME, Block, glb, tetrahedra
from preview.checks.reader import inspect_with_trimesh
from preview.joinery import Piece

AREA = (30 * 40 + 40 * 50 + 30 * 50) / 2 + math.sqrt((30 * 40) ** 2 + (40 * 50) ** 2 + (30 * 50) ** 2) / 2


def pieces(*names: str) -> list[Piece]:
    return [cast("Piece", SimpleNamespace(name=name)) for name in names]


def shown(folder: Path, faces: np.ndarray = FACES, node: dict[str, Any] | None = None) -> Path:
    block = Block()
    primitive = {"attributes": {"POSITION": block.add(STORED, "<f4")}, "indices": block.add(faces.ravel(), "<u2")}
    path = folder / "room.glb"
    path.write_bytes(glb(block.document([{"name": "cap", "mesh": 0} | (node or {})], [[primitive]]), block.data))
    return path


@pytest.mark.parametrize(("scale", "away"), [(1, 0.0), (2, 0.0), (1, 3.0)])
def test_trimesh_finds_a_piece_whole_and_as_large(scale: float, away: float, tmp_path: Path) -> None:
    path = shown(tmp_path, node={"scale": [scale] * 3, "translation": [away, 0, 0]})
    size = VOLUME * scale**3
    found = inspect_with_trimesh(path, pieces("cap", "none"), [size + 1.5, 7])
    assert [(each.check.code, each.subject, each.figure) for each in found] == [
        ("reader-piece", "cap", 0),
        ("reader-closed", "cap", 0),
        ("reader-volume", "cap", pytest.approx(1.5, abs=0.01)),
        ("reader-piece", "none", 1),
    ]
    step = float(np.spacing(np.float32(max(away + 0.03, 0.05) * scale))) * 1000  # mm, at the farthest coordinate
    assert found[2].limit == pytest.approx(step * AREA * scale**2 + 1e-9 * size, rel=1e-4)
    assert [each.limit for each in found if each.check.code != "reader-volume"] == [0, 0, 0]


@pytest.mark.parametrize(
    "faces",
    [FACES[:3], FACES[:, ::-1], np.concatenate([FACES[:3], FACES[3:, ::-1]])],
    ids=["open", "inside out", "one face turned"],
)
def test_trimesh_finds_what_is_open_or_turned(faces: np.ndarray, tmp_path: Path) -> None:
    found = inspect_with_trimesh(shown(tmp_path, faces), pieces("cap"), [VOLUME])
    assert [(each.check.code, each.figure, each.holds) for each in found][:2] == [
        ("reader-piece", 0, True),
        ("reader-closed", 1, False),
    ]


def test_trimesh_finds_a_sheet_of_two_sides_to_be_no_volume(tmp_path: Path) -> None:
    """Two triangles back to back are closed and enclose nothing."""
    found = inspect_with_trimesh(shown(tmp_path, np.array([[0, 1, 2], [0, 2, 1]])), pieces("cap"), [0.0])
    assert [each.figure for each in found] == [0, 1, 0]


def test_trimesh_is_asked_once_for_each_piece(tmp_path: Path) -> None:
    path = tmp_path / "room.glb"
    path.write_bytes(glb(*tetrahedra(3)))
    found = inspect_with_trimesh(path, pieces("piece 2", "piece 0"), [VOLUME, VOLUME])
    assert [each.subject for each in found] == ["piece 2"] * 3 + ["piece 0"] * 3
    assert all(each.holds for each in found)
    with pytest.raises(ValueError, match="zip"):
        inspect_with_trimesh(path, pieces("piece 2", "piece 0"), [VOLUME])
