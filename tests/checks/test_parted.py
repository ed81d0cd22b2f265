"""A plane between two bodies as a proof that they share no wood, against the kernel's own intersection (manifold3d)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from preview.build import build
from preview.checks import overlap, read_glb
from preview.checks.overlap import parted, shared_volumes
from preview.checks.surface import surface
from preview.exports import built_glb
from preview.scene import load_scene

SCENES = Path(__file__).parents[2] / "scenes"


@dataclass(frozen=True)
class Box:
    """A box from low to high, its faces in triangles that look outward."""

    points: NDArray[np.float64]
    triangles: NDArray[np.int64]


def box(low: tuple[float, float, float], high: tuple[float, float, float]) -> Box:
    corners = np.array(
        [[(low, high)[i][0], (low, high)[j][1], (low, high)[k][2]] for i, j, k in np.ndindex(2, 2, 2)], float
    )
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    # The two faces across x are cut along the same diagonal, as mating faces are.
    turned = [quad if number != 1 else (7, 5, 4, 6) for number, quad in enumerate(quads)]
    return Box(corners, np.array([half for a, b, c, d in turned for half in ((a, b, c), (a, c, d))]))


def test_boxes_that_meet_in_a_face_share_nothing() -> None:
    one, other = box((0, 0, 0), (1, 2, 3)), box((1, 0, 0), (4, 2, 3))
    assert parted(one, other) == 0.0
    assert parted(other, one) == 0.0


@pytest.mark.parametrize(
    "other",
    [
        box((0.999, 0, 0), (4, 2, 3)),  # it reaches in
        box((1.001, 0, 0), (4, 2, 3)),  # it stands off
        box((1, 0, 0), (4, 2, 3.001)),  # another face
        box((1, 0, 0), (0.5, 2, 3)),  # the same face, from the same side
    ],
    ids=["in", "off", "larger", "same side"],
)
def test_no_plane_is_found_where_they_do_not_meet_in_one_face(other: Box) -> None:
    assert parted(box((0, 0, 0), (1, 2, 3)), other) == np.inf


def test_the_bound_grows_with_what_the_rounding_leaves() -> None:
    """A face of 2 by 3 mm, a corner of it e off its plane: at most its rim of 10 mm, times 2 e high, times as wide
    as the sides' diagonals lean on that height."""
    one, other = box((0, 0, 0), (10, 2, 3)), box((10, 0, 0), (20, 2, 3))
    e = 1e-3
    moved = []
    for each, corner in ((one, 7), (other, 3)):
        points = each.points.copy()
        points[corner, 0] += e
        moved.append(replace(each, points=points))
    bound = parted(*moved)
    lean = np.hypot(2, 3) / 10
    assert 0 < bound < 10 * 2 * e * 2 * e * lean * 1.01


@pytest.mark.parametrize("name", ["window-seat", "bay", "stair-wall", "cornice"])
def test_the_kernel_agrees(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    built = build(load_scene(SCENES / f"{name}.toml"))
    path = tmp_path / "model.glb"
    path.write_bytes(built_glb(built, views=False))
    names = {piece.name for piece in built.pieces}
    skins = [surface(body) for body in read_glb(path) if body.name in names]
    found = shared_volumes(skins)
    certain = [parted(skins[each.first], skins[each.second]) <= overlap.CERTAIN for each in found]
    assert any(certain)
    monkeypatch.setattr(overlap, "CERTAIN", -1.0)
    for each, exact, by_plane in zip(found, shared_volumes(skins), certain, strict=True):
        assert (each.first, each.second) == (exact.first, exact.second)
        if by_plane:
            assert abs(exact.volume) <= 5e-4
        else:
            assert each == exact


@pytest.mark.parametrize("leaning", ["one", "other"])
def test_the_bound_grows_with_how_far_either_body_leans(leaning: str) -> None:
    """By hand: a face of 10 x 10 with one corner lifted by e stands e/2 off its mean plane on both sides.

    A strip of that height on both sides, e, all along a rim of 40 mm, is as wide as e times the lean: 40 e e lean. One
    body goes straight down 1,000 mm, the other up as much and aside by three times that.
    """
    e = 1e-3
    face = [(0.0, 0.0, 0.0), (10.0, 0.0, 0.0), (10.0, 10.0, e), (0.0, 10.0, 0.0)]

    def prism(x: float, z: float) -> Box:
        far = [(a + x, b, z) for a, b, _ in face]
        sides = [(i, (i + 1) % 4, 4 + (i + 1) % 4, 4 + i) for i in range(4)]
        quads = [(3, 2, 1, 0), (4, 5, 6, 7), *sides]
        triangles = [half for a, b, c, d in quads for half in ((a, b, c), (a, c, d))]
        triangles[:2] = [(2, 1, 0), (3, 2, 0)]
        wanted = triangles if z > 0 else [corners[::-1] for corners in triangles]
        return Box(np.array([*face, *far], float), np.array(wanted))

    aside = (3000.0, 0.0) if leaning == "one" else (0.0, 3000.0)
    below, above = prism(aside[0], -1000.0), prism(aside[1], 1000.0)
    assert parted(above, below) == pytest.approx(40 * e * e * 3.0, rel=0.02)
    assert parted(below, above) == pytest.approx(40 * e * e * 3.0, rel=0.02)


def test_bodies_that_stand_in_a_file_many_times_are_asked_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three of one box and two of another that reaches 1 mm into it: ten pairs, and four questions."""
    asked = []
    monkeypatch.setattr(overlap, "parted", lambda one, other: asked.append(1) or parted(one, other))
    one, other = box((0, 0, 0), (4, 2, 3)), box((3, 0, 0), (10, 2, 3))
    found = shared_volumes([one, other, replace(one), replace(other), replace(one)])
    whole = {(0, 2): 24, (0, 4): 24, (2, 4): 24, (1, 3): 42}
    expected = {(i, j): whole.get((i, j), 6) for i in range(5) for j in range(i + 1, 5)}
    assert {(pair.first, pair.second): pytest.approx(pair.volume) for pair in found} == expected
    assert len(asked) == 4  # each with its like, and the two either way round
