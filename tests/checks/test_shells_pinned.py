"""How much of a sphere round a point a surface covers: closed forms of solid geometry."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest

from preview.checks.shells import Shell, winding


def patch(points: Sequence[Sequence[float]], triangles: Sequence[Sequence[int]]) -> Shell:
    twins = np.full(3 * len(triangles), -1)
    return Shell("patch", np.array(points, dtype=float), np.array(triangles), twins, 0, 0.0, 0.0, 0.0)


def box(a: float, b: float, c: float) -> Shell:
    """A box from the origin, its faces outward: bit 1 of a corner's number is along x, 2 along y, 4 along z."""
    points = [(a * (i & 1), b * (i >> 1 & 1), c * (i >> 2)) for i in range(8)]
    quads = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    return patch(points, [corner for i, j, k, m in quads for corner in ((i, j, k), (i, k, m))])


@pytest.mark.parametrize("point", [(3.0, 4.0, 5.0), (0.5, 0.25, 10.5), (6.9, 8.9, 0.1), (1.0, 1.0, 1.0)])
def test_a_box_goes_once_round_a_point_inside(point: tuple[float, float, float]) -> None:
    assert winding(box(7.0, 9.0, 11.0), np.array(point)) == pytest.approx(1.0, abs=1e-12)
    inward = box(7.0, 9.0, 11.0)
    inward = patch(inward.points.tolist(), inward.triangles[:, ::-1].tolist())
    assert winding(inward, np.array(point)) == pytest.approx(-1.0, abs=1e-12)
    for outside in (np.array(point) + np.array((20.0, 0.0, 0.0)), np.array(point) - np.array((0.0, 30.0, 1.0))):
        assert winding(box(7.0, 9.0, 11.0), outside) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(("a", "b", "d"), [(2.0, 2.0, 1.0), (3.0, 4.0, 6.5), (10.0, 0.5, 2.0), (1.0, 1.0, 50.0)])
def test_a_rectangle_seen_from_above_its_middle(a: float, b: float, d: float) -> None:
    """4 arctan(a b / (2 d (4 d² + a² + b²)^1/2)), the solid angle at the apex of a right rectangular pyramid."""
    corners = [(-a / 2, -b / 2, d), (a / 2, -b / 2, d), (a / 2, b / 2, d), (-a / 2, b / 2, d)]
    seen = winding(patch(corners, [(0, 1, 2), (0, 2, 3)]), np.zeros(3))
    angle = 4 * math.atan(a * b / (2 * d * math.sqrt(4 * d * d + a * a + b * b)))
    assert seen == pytest.approx(angle / (4 * math.pi), rel=1e-12)


@pytest.mark.parametrize("order", [(0, 1, 2), (1, 2, 0), (2, 0, 1)])
def test_one_triangle_by_its_three_dihedral_angles(order: tuple[int, int, int]) -> None:
    """A. Girard's theorem: the triangle's shadow on the unit sphere has the area of its angles' sum less pi."""
    corners = np.array([(3.0, -1.0, 2.0), (-2.0, 5.0, 1.0), (0.5, 1.0, 4.0)])[list(order)]
    eye = np.array([0.25, 0.5, -0.75])
    unit = (corners - eye) / np.linalg.norm(corners - eye, axis=1)[:, None]
    angles = []
    for i in range(3):
        at, one, two = unit[i], unit[(i + 1) % 3], unit[(i + 2) % 3]
        first, second = (each - at * (each @ at) for each in (one, two))
        angles.append(math.acos(first @ second / np.linalg.norm(first) / np.linalg.norm(second)))
    sign = math.copysign(1.0, np.linalg.det(unit))
    area = sign * (sum(angles) - math.pi)
    assert winding(patch(corners.tolist(), [(0, 1, 2)]), eye) == pytest.approx(area / (4 * math.pi), rel=1e-9)
