"""How deep the wood is behind a face, by plane geometry; and what a file says of its level, whatever else it holds."""

from __future__ import annotations

import json
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from preview.checks import Body, level_of
from preview.checks.ends import _depth, facets
from preview.checks.shells import shells

SLOPES = (0.3, -0.2)


def wedge_ended(far: float) -> Body:
    """A bar from x = 0, 20 out and 30 up, its far end on the plane x = far + 0.3 y - 0.2 z."""
    section = [(0.0, 0.0), (20.0, 0.0), (20.0, 30.0), (0.0, 30.0)]
    near = [(0.0, y, z) for y, z in section]
    away = [(far + SLOPES[0] * y + SLOPES[1] * z, y, z) for y, z in section]
    quads = [(3, 2, 1, 0), (4, 5, 6, 7), *((i, (i + 1) % 4, 4 + (i + 1) % 4, 4 + i) for i in range(4))]
    triangles = [half for a, b, c, d in quads for half in ((a, b, c), (a, c, d))]
    return Body("bar", (), np.array([*near, *away]), np.array(triangles), None, 1e-9)


@pytest.mark.parametrize("way", [(1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (1.0, 0.1, 0.05), (-1.0, 0.12, -0.1)])
def test_how_deep_the_wood_is_behind_a_face(way: tuple[float, float, float]) -> None:
    """A line from the middle of the near face's first triangle to the plane of the far end."""
    (shell,), _ = shells(wedge_ended(50.0))
    f = facets(shell)
    corners = shell.points[shell.triangles]
    near = (corners[:, :, 0] == 0.0).all(axis=1)
    assert near.sum() == 2
    look = np.array((-1.0, 0.0, 0.0))
    direction = np.array(way) / np.linalg.norm(way)
    inward = direction if direction[0] > 0 else -direction
    x, y, z = corners[near][0].mean(axis=0)
    # x + t ux = 50 + 0.3 (y + t uy) - 0.2 (z + t uz)
    wanted = (50.0 + 0.3 * y - 0.2 * z - x) / (inward[0] - 0.3 * inward[1] + 0.2 * inward[2])
    assert _depth(f, near, direction, look) == pytest.approx(wanted, rel=1e-9)
    # Seen from the other side there is nothing behind it.
    assert _depth(f, near, direction, -look) == 0.0


def glb(path: Path, document: Any, magic: bytes = b"glTF") -> Path:
    text = document if isinstance(document, bytes) else json.dumps(document).encode()
    path.write_bytes(struct.pack("<4sIII4s", magic, 2, 20 + len(text), len(text), b"JSON") + text)
    return path


@pytest.mark.parametrize(
    ("document", "level"),
    [
        ({"asset": {"version": "2.0", "extras": {"level": 2, "digest": "00"}}}, 2),
        ({"asset": {"extras": {"level": 1}}}, 1),
        ({"asset": {"extras": {"level": 0}}}, 0),
        ({"asset": {"extras": {"level": -1}}}, 0),
        ({"asset": {"extras": {"level": "2"}}}, 0),
        ({"asset": {"extras": {"level": 2.0}}}, 0),
        ({"asset": {}}, 0),
        ([1], 0),
        (b"{", 0),
        (b"", 0),
    ],
)
def test_the_level_that_a_file_says_it_is(document: Any, level: int, tmp_path: Path) -> None:
    assert level_of(glb(tmp_path / "a.glb", document)) == level


def test_a_file_too_short_for_its_head_says_no_level(tmp_path: Path) -> None:
    path = tmp_path / "a.glb"
    path.write_bytes(b"glTF")
    assert level_of(path) == 0
    assert level_of(tmp_path / "none.glb") == 0
