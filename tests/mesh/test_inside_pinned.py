"""Which points lie inside an outline, at the very heights of its corners too, and how it is cut: shapely, by hand."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from preview.joinery.bands import Cell
from preview.models.mesh.face import _inside, cut_face
from preview.models.mesh.faced import _strip

COMB = [(0, 0), (40, 0), (40, 30), (35, 30), (30, 10), (25, 30), (20, 20), (15, 30), (10, 10), (5, 30), (0, 30)]
"""Teeth up and down, whose points share their heights."""


def test_points_at_the_heights_of_corners() -> None:
    outline = np.array(COMB, dtype=float)
    d, h = np.meshgrid(np.arange(-4.75, 45.0, 0.5), [5.0, 10.0, 15.0, 20.0, 25.0, 29.75])
    points = np.column_stack([d.ravel(), h.ravel()])
    wanted = shapely.contains_xy(shapely.Polygon(COMB), points[:, 0], points[:, 1])
    edge = shapely.distance(shapely.points(points), shapely.LinearRing(COMB)) < 1e-9
    assert (_inside(outline, points) == wanted)[~edge].all()
    assert wanted.sum() > 200
    # The other way round, and from another corner on.
    for other in (outline[::-1], np.roll(outline, 4, axis=0)):
        assert (_inside(other, points) == wanted)[~edge].all()


def test_a_face_is_cut_through_the_points_of_its_teeth() -> None:
    """At d = 20 the wood stands from the foot to the middle notch; the triangles fill the outline, to either side."""
    outline = np.array([*COMB[:1], (20, 0), *COMB[1:]], dtype=float)
    triangles = outline[cut_face(outline, [20.0])]
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    areas = ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2
    assert areas.min() > 0
    assert areas.sum() == shapely.Polygon(COMB).area
    assert ((triangles[:, :, 0] <= 20).all(axis=1) | (triangles[:, :, 0] >= 20).all(axis=1)).all()


@pytest.mark.parametrize("shift", [0.0, 3.0, -4.0])
def test_a_strip_is_cut_across_where_it_is_shortest(shift: float) -> None:
    """Points every 10 mm along its foot and its head: each triangle is 10 mm wide, and what the two are shifted by."""
    count = 7
    along = 10.0 * np.arange(count)
    points = np.concatenate([np.column_stack([along, 0 * along]), np.column_stack([along + shift, 0 * along + 5.0])])
    cell = Cell(0, 0, 0, tuple(range(count)), tuple(range(count, 2 * count)))
    strip = _strip(cell, points)
    triangles = points[np.array([corners for corners, _ in strip])]
    assert len(strip) == 2 * (count - 1)
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    areas = ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2
    assert areas == pytest.approx(25.0)
    assert np.ptp(triangles[:, :, 0], axis=1).max() <= 10.0 + abs(shift)
    on_foot = [[number < count for number in corners] for corners, _ in strip]
    assert on_foot == [list(sides) for _, sides in strip]
