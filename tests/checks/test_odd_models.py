"""Models that hold by the letter of the format and are rare: no scene named first, an edge that no two faces share."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from preview.checks import Body, inspect_model, read_model
from preview.checks.shells import shells
from test_model_files import ROW, binary_stl, foreign


def test_a_glb_that_names_no_scene_shows_its_first(tmp_path: Path) -> None:
    """glTF 2.0, 3.5: `scene` may be missing, and then what is shown is up to the reader; every body counts here."""
    path = tmp_path / "row.glb"

    def unnamed(document: dict[str, Any]) -> None:
        del document["scene"]

    path.write_bytes(foreign(change=unnamed))
    assert [body.name for body in inspect_model(read_model(path).bodies).bodies] == [body.name for body in ROW]


def test_three_faces_that_run_one_way_along_an_edge_have_no_neighbors() -> None:
    """Three leaves on one spine, all wound the same way along it: none walks the spine back."""
    points = np.array([[0, 0, 0], [0, 0, 10], [10, 0, 0], [-5, 8, 0], [-5, -8, 0]], float)
    triangles = np.array([[0, 1, 2], [0, 1, 3], [0, 1, 4]])
    found, left_out = shells(Body("leaves", (), points, triangles, None, 0.0))
    assert left_out == 0
    assert [len(shell.triangles) for shell in found] == [1, 1, 1]
    assert [shell.open_edges for shell in found] == [3, 3, 3]
    assert sum(shell.area for shell in found) == pytest.approx(50 + 2 * 5 * np.hypot(5, 8))


@pytest.mark.parametrize("copies", [2, 3])
def test_bodies_in_one_place_are_told_apart_by_the_file(copies: int) -> None:
    """The same tetrahedron again and again, as an exporter writes a part twice: each copy is closed by itself."""
    corners = np.array([[0, 0, 0], [6, 0, 0], [0, 6, 0], [0, 0, 6]], float)
    faces = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
    points = np.tile(corners, (copies, 1))
    triangles = np.concatenate([faces + 4 * i for i in range(copies)])
    found, _ = shells(Body("part", (), points, triangles, None, 0.0))
    assert [len(shell.triangles) for shell in found] == [4] * copies
    assert [shell.open_edges for shell in found] == [0] * copies
    assert [shell.volume for shell in found] == pytest.approx([36.0] * copies)  # 6³ / 6


@pytest.mark.parametrize(("reach", "told"), [(19.9, True), (20.1, False), (20.9, False)])
def test_an_stl_under_20_mm_may_be_in_another_unit(reach: float, told: bool, tmp_path: Path) -> None:
    """A piece of molding is longer; one that reaches less was drawn in inches or meters (common practice)."""
    path = tmp_path / "small.stl"
    body = ROW[0]
    scale = reach / np.ptp(body.vertices, axis=0).max()
    path.write_bytes(binary_stl((Body("b", (), body.vertices * scale, body.triangles, None, 0.0),)))
    assert any("inches" in remark for remark in read_model(path).remarks) == told
