"""Where a glTF node stands (glTF 2.0, 3.5.3: scale, then rotation, then translation), against scipy's rotations."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from preview.checks.readers import placement


@pytest.mark.parametrize("seed", range(8))
def test_a_turned_scaled_and_moved_node(seed: int) -> None:
    """Both give quaternions as x, y, z, w; a point is scaled, turned and moved, in that order."""
    chance = np.random.default_rng(seed)
    turn = Rotation.random(rng=chance)
    scale, move = chance.uniform(0.5, 2.0, 3), chance.uniform(-5.0, 5.0, 3)
    node = {"rotation": turn.as_quat().tolist(), "scale": scale.tolist(), "translation": move.tolist()}
    found = placement(node)
    points = chance.uniform(-3.0, 3.0, (6, 3))
    assert points @ found[:3, :3].T + found[:3, 3] == pytest.approx(turn.apply(points * scale) + move, abs=1e-12)
    assert found[3].tolist() == [0.0, 0.0, 0.0, 1.0]


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_quarter_turn_about_each_axis_carries_the_next_to_the_one_after(axis: int) -> None:
    quaternion = [0.0, 0.0, 0.0, math.sqrt(0.5)]
    quaternion[axis] = math.sqrt(0.5)
    found = placement({"rotation": quaternion})[:3, :3]
    assert found[:, (axis + 1) % 3] == pytest.approx(np.eye(3)[(axis + 2) % 3], abs=1e-15)


def test_a_matrix_is_stored_by_columns_and_none_is_none() -> None:
    assert placement({"matrix": list(range(16))}).T.ravel().tolist() == list(range(16))
    assert (placement({}) == np.eye(4)).all()
