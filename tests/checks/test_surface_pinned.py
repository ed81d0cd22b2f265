"""What triangles say by themselves, against figures counted by hand and scipy's convex hulls."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from preview.checks import Body
from preview.checks.surface import MIXED, measures, open_edges, parts, surface, unbalanced_edges, weld

TET = [(0, 2, 1), (0, 1, 3), (1, 2, 3), (2, 0, 3)]
"""Three edges of 2, 3 and 4 mm from a corner, square to each other: 4 mm³."""
CORNERS = np.array([(0.0, 0.0, 0.0), (2.0, 0.0, 0.0), (0.0, 3.0, 0.0), (0.0, 0.0, 4.0)])
BACK = [tuple(reversed(each)) for each in TET]


def shifted(triangles: list[tuple[int, ...]], by: int) -> list[tuple[int, ...]]:
    return [tuple(i + by for i in each) for each in triangles]


@pytest.mark.parametrize(
    ("triangles", "open_", "unbalanced"),
    [
        (TET, 0, 0),
        (TET[1:], 3, 3),
        (TET[2:], 4, 4),  # two triangles with an edge in common
        (TET[:1], 3, 3),
        ([*TET, TET[0]], 3, 3),  # one face twice
        ([*TET, *TET], 12, 0),  # every edge twice each way
        ([*TET, *BACK], 12, 0),
        ([*TET, BACK[0]], 3, 3),
        ([*TET, *shifted(TET, 4)], 0, 0),
        ([*TET, *shifted(TET[1:], 4)], 3, 3),
        ([*TET, TET[0], TET[0]], 3, 3),
        ([TET[0], TET[0]], 3, 3),
        ([TET[0], BACK[0]], 0, 0),
        ([(0, 1, 2), (0, 1, 2), (1, 0, 3)], 5, 5),  # three edges twice, and two never back
    ],
)
def test_edges_walked_twice_or_never_back(triangles: list[tuple[int, ...]], open_: int, unbalanced: int) -> None:
    found = np.array(triangles)
    # The points' numbers are arbitrary: the same count with them in another order, and with points of no triangle.
    for order, count in (([0, 1, 2, 3, 4, 5, 6, 7], 8), ([7, 2, 5, 0, 1, 6, 3, 4], 8), ([0, 1, 2, 3, 4, 5, 6, 7], 90)):
        named = np.array(order)[found]
        assert open_edges(named, count) == open_
        assert unbalanced_edges(named, count) == unbalanced


def test_bodies_are_told_apart_by_the_points_they_share() -> None:
    assert parts(np.empty((0, 3), dtype=np.int64), 5) == 0
    assert parts(np.array(TET), 4) == 1
    assert parts(np.array([*TET, *shifted(TET, 4)]), 8) == 2
    assert parts(np.array([*TET, *shifted(TET, 3)]), 7) == 1  # a point in common
    assert parts(np.array([(5, 4, 6), (0, 1, 2), (2, 3, 4)]), 9) == 1
    assert parts(np.array([(8, 7, 6), (0, 1, 2)]), 9) == 2
    assert parts(np.array([(0, 8, 5), (1, 6, 7), (7, 2, 3)]), 9) == 2


@pytest.mark.parametrize("seed", range(3))
def test_a_long_chain_of_triangles_in_any_order_is_one_body(seed: int) -> None:
    random = np.random.default_rng(seed)
    names = random.permutation(61)
    chain = np.array([(i, i + 1, i + 2) for i in range(0, 59, 2)])
    other = chain[random.permutation(len(chain))]
    assert parts(names[other], 61) == 1
    # Without one of its links the chain is two.
    without = chain[np.arange(len(chain)) != 11]
    assert parts(names[without[random.permutation(len(without))]], 61) == 2


@pytest.mark.parametrize("off", [(0.0, 0.0, 0.0), (70.0, -900.0, 31.0), (2.0**23, 2.0**22, -(2.0**23))])
def test_the_volume_and_area_of_a_corner_of_a_box(off: tuple[float, float, float]) -> None:
    """A sixth of 2 x 3 x 4; three right triangles and the one across, half of |(12, 8, 6)|."""
    points = CORNERS + np.array(off)
    area = (2 * 3 + 3 * 4 + 2 * 4) / 2 + np.sqrt(12**2 + 8**2 + 6**2) / 2
    assert measures(points, np.array(TET)) == pytest.approx((4.0, area), rel=1e-11)
    assert measures(points, np.array(BACK)) == pytest.approx((-4.0, area), rel=1e-11)
    assert measures(points, np.empty((0, 3), dtype=np.int64)) == (0.0, 0.0)


@pytest.mark.parametrize("seed", range(4))
def test_the_volume_and_area_of_a_hull(seed: int) -> None:
    points = np.random.default_rng(seed).uniform(-3.0, 5.0, (20, 3)) + np.array((100.0, -50.0, 20.0))
    hull = ConvexHull(points)
    triangles = []
    for simplex, plane in zip(hull.simplices, hull.equations, strict=True):
        a, b, c = points[simplex]
        outward = np.cross(b - a, c - a) @ plane[:3] > 0
        triangles.append(simplex if outward else simplex[::-1])
    assert measures(points, np.array(triangles)) == pytest.approx((hull.volume, hull.area), rel=1e-10)


def test_a_body_by_its_loose_triangles() -> None:
    """Each triangle with corners of its own, two of them with a corner lost when stored; 0 may be written -0."""
    loose = CORNERS[np.array(TET)].reshape(-1, 3)
    loose[loose == 0.0] *= np.where(np.arange((loose == 0.0).sum()) % 2, -1.0, 1.0)
    needles = np.array([CORNERS[1], CORNERS[1], CORNERS[2], CORNERS[3], CORNERS[0], CORNERS[3]])
    more = np.array([CORNERS[0], CORNERS[2], CORNERS[2]])
    body = Body("rail", (), np.concatenate([loose, needles, more]), np.arange(21).reshape(-1, 3), None, 1e-9)
    found = surface(body)
    assert (len(found.points), len(found.triangles), found.collapsed) == (4, 4, 3)
    assert (found.open_edges, found.bodies) == (0, 1)
    assert found.volume == pytest.approx(4.0)
    assert (found.points[found.weld] == body.vertices).all()


def test_positions_are_one_only_where_they_are_the_same_numbers() -> None:
    first = np.array([(1.0, 2.0, 3.0), (1.0, 2.0, np.nextafter(3.0, 4.0)), (3.0, 2.0, 1.0), (1.0, 2.0, 3.0)])
    points, inverse = weld(first)
    assert len(points) == 3
    assert inverse[0] == inverse[3]
    assert len(set(inverse.tolist())) == 3
    assert (points[inverse] == first).all()
    points, inverse = weld(np.empty((0, 3)))
    assert (points.shape, len(inverse)) == ((0, 3), 0)


def test_two_positions_with_one_key_stay_two() -> None:
    """The first number's bits raised by the second's factor, and the second's lowered by the first's: one sum."""
    one = np.array([(1.5, -7.25, 3.0)])
    for times in range(1, 2000):
        bits = one.view(np.uint64).copy()
        with np.errstate(over="ignore"):
            bits[0, 0] += np.uint64(times) * MIXED[1]
            bits[0, 1] -= np.uint64(times) * MIXED[0]
            assert (bits * MIXED).sum(dtype=np.uint64) == (one.view(np.uint64) * MIXED).sum(dtype=np.uint64)
        other = bits.view(np.float64)
        if np.isfinite(other).all() and (np.abs(other) < 1e300).all():
            break
    among = np.concatenate([one, other, CORNERS, other, one])
    points, inverse = weld(among)
    assert len(points) == 6
    assert (points[inverse] == among).all()
    assert inverse[0] == inverse[-1] != inverse[1] == inverse[-2]
