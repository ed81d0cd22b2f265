"""The nearest point of a rim against shapely, however many segments it has; and which are worth a look."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
import shapely

from preview.checks.nearest import BOXED, FEW, _nearest_of_many, nearest_on_rim, segments_near

Array = np.ndarray


@dataclass(frozen=True)
class Line:
    starts: Array
    stops: Array


def wander(seed: int, count: int) -> Line:
    """A closed line of many short steps in a plane, some of them of no length, away from the origin."""
    random = np.random.default_rng(seed)
    steps = random.normal(size=(count, 2))
    steps[::7] = 0.0
    walk = np.cumsum(steps, axis=0) + np.array((300.0, -40.0))
    points = np.column_stack([walk, np.full(count, 5.0)])
    return Line(points, np.roll(points, -1, axis=0))


def apart(probes: Array, line: Line) -> Array:
    """The distance to each segment (p, k), by shapely in the plane, and the height above it."""
    flat = shapely.linestrings(np.stack([line.starts[:, :2], line.stops[:, :2]], axis=1))
    across = shapely.distance(shapely.points(probes[:, :2])[:, None], flat[None])
    return np.hypot(across, (probes[:, 2] - 5.0)[:, None])


@pytest.mark.parametrize("count", [3, 16, 17, 40, 200])
@pytest.mark.parametrize("seed", range(3))
def test_the_nearest_point_of_a_rim(seed: int, count: int) -> None:
    line = wander(seed, count)
    random = np.random.default_rng(seed + 50)
    probes = line.starts[random.integers(0, count, 60)] + random.normal(size=(60, 3)) * 4.0
    each = apart(probes, line)
    for find in (nearest_on_rim, _nearest_of_many):
        foot, segment = find(probes, line)
        assert np.linalg.norm(foot - probes, axis=1) == pytest.approx(each.min(axis=1), abs=1e-9)
        assert each[np.arange(60), segment] == pytest.approx(each.min(axis=1), abs=1e-9)
        on = line.starts[segment], line.stops[segment]
        ahead = on[1] - on[0]
        long = np.einsum("ij,ij->i", ahead, ahead)
        t = np.einsum("ij,ij->i", foot - on[0], ahead) / np.where(long > 0, long, 1.0)
        assert ((t >= -1e-9) & (t <= 1 + 1e-9)).all()
        assert foot == pytest.approx(on[0] + t[:, None] * ahead, abs=1e-9)


@pytest.mark.parametrize("find", [nearest_on_rim, _nearest_of_many])
def test_of_segments_as_near_as_each_other_the_first_is_taken(find: object) -> None:
    """A square of 10 mm seen from its middle, from a corner and from beside a side."""
    corners = np.array([(0.0, 0.0, 0.0), (10.0, 0.0, 0.0), (10.0, 10.0, 0.0), (0.0, 10.0, 0.0)])
    square = Line(corners, np.roll(corners, -1, axis=0))
    probes = np.array([(5.0, 5.0, 0.0), (12.0, 13.0, 0.0), (4.0, -2.0, 0.0), (-1.0, 3.0, 2.0)])
    foot, segment = find(probes, square)  # type: ignore[operator]
    assert segment.tolist() == [0, 1, 0, 3]
    assert foot.tolist() == [[5.0, 0.0, 0.0], [10.0, 10.0, 0.0], [4.0, 0.0, 0.0], [0.0, 3.0, 0.0]]


def test_a_rim_of_very_many_segments() -> None:
    line = wander(4, 700)
    probes = line.starts[::7] + np.array((0.3, 0.2, 0.1))
    assert len(probes) * len(line.starts) > FEW
    foot, segment = nearest_on_rim(probes, line)
    each = apart(probes, line)
    assert np.linalg.norm(foot - probes, axis=1) == pytest.approx(each.min(axis=1), abs=1e-9)
    assert each[np.arange(len(probes)), segment] == pytest.approx(each.min(axis=1), abs=1e-9)


@pytest.mark.parametrize("count", [16, 33, 200])
def test_all_segments_within_reach_are_among_those_looked_at(count: int) -> None:
    line = wander(count, count)
    random = np.random.default_rng(3)
    probes = line.starts[random.integers(0, count, 50)] + random.normal(size=(50, 3)) * 3.0
    reach = random.uniform(0.1, 6.0, 50)
    probe, segment = segments_near(probes, reach, line)
    found = set(zip(probe.tolist(), segment.tolist(), strict=True))
    assert len(found) == len(probe)
    assert (np.diff(probe) >= 0).all()
    assert segment.max() < count
    near = np.argwhere(apart(probes, line) <= reach[:, None])
    assert {(int(i), int(j)) for i, j in near} <= found
    # A box of segments is left out where it stands further off.
    for i in range(50):
        for box in range(0, count, BOXED):
            stretch = np.concatenate([line.starts[box : box + BOXED], line.stops[box : box + BOXED]])
            aside = np.maximum(np.maximum(stretch.min(axis=0) - probes[i], probes[i] - stretch.max(axis=0)), 0.0)
            assert ((i, box) in found) == (float(np.linalg.norm(aside)) <= reach[i])


def test_a_segment_as_far_off_as_the_reach_is_looked_at() -> None:
    line = Line(np.array([(3.0, 0.0, 0.0)]), np.array([(3.0, 4.0, 0.0)]))
    for at, reach, within in (
        ((0.0, 1.0, 0.0), 3.0, True),
        ((0.0, 1.0, 0.0), 2.999, False),
        ((0.0, 8.0, 0.0), 5.0, True),
        ((0.0, 8.0, 0.0), 4.999, False),
        ((3.5, 2.0, 0.0), 0.5, True),
        ((3.5, 2.0, 0.0), 0.499, False),
        ((3.0, 2.0, 0.0), 0.0, True),
    ):
        probe, segment = segments_near(np.array([at]), np.array([reach]), line)
        assert (probe.tolist(), segment.tolist()) == (([0], [0]) if within else ([], []))
