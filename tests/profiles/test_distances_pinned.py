"""Distances from lines by shapely; rounds that are the same at every size, also under 1 mm."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from preview.profiles import Arc, Line, Shape, sketch
from preview.profiles.edges import line_distances


def test_distances_from_lines_of_every_slope() -> None:
    random = np.random.default_rng(5)
    ends = np.concatenate([random.uniform(-50.0, 50.0, (40, 4)), [(3, 4, 3, 40), (3, 4, 30, 4), (7, 7, 7, 7)]])
    points = random.uniform(-80.0, 80.0, (200, 2))
    found = line_distances([Line((a, b), (c, d)) for a, b, c, d in ends.tolist()], points)
    lines = shapely.linestrings(ends.reshape(-1, 2, 2))
    assert found == pytest.approx(shapely.distance(lines[:, None], shapely.points(points)[None]), abs=1e-9)


@pytest.mark.parametrize("size", [0.25, 0.5, 1.0, 1.5])
@pytest.mark.parametrize("out", [1.0, -1.0])
@pytest.mark.parametrize("kind", ["cove", "ovolo"])
def test_a_quarter_round_of_any_size(kind: str, out: float, size: float) -> None:
    """Its center is level with one of its ends and plumb over the other: as one of 8 mm in the same place has it."""

    def drawn(radius: float) -> Arc:
        shapes = [Shape("fillet", rise=20.0), Shape(kind, rise=radius, out=out * radius)]
        (arc,) = (edge for edge in sketch("round", 30.0, shapes).edges if isinstance(edge, Arc))
        return arc

    small, large = drawn(size), drawn(8.0)
    assert small.radius == pytest.approx(size)
    assert small.sweep == pytest.approx(large.sweep)
    for one, other in ((small.center, large.center), (small.end, large.end)):
        away = [(one[i] - small.start[i]) / size for i in (0, 1)]
        assert away == pytest.approx([(other[i] - large.start[i]) / 8.0 for i in (0, 1)])
