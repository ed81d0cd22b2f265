"""Curves, their maps, and the arcs that stand for them, against other libraries and closed forms."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.interpolate import BSpline
from scipy.spatial import cKDTree
from scipy.special import ellipe

from preview.drawings.biarcs import to_edges
from preview.drawings.curves import Affine, Spline, b_spline, beziers, mapped
from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Ellipse, Line, arc_through, biarc

Floats = NDArray[np.float64]


def along(edges: tuple[Edge, ...] | list[Edge], count: int = 400) -> Floats:
    return np.concatenate([edge.point(np.linspace(0, 1, count)) for edge in edges])


def assert_tangent(edges: tuple[Edge, ...], most: float = 1e-6) -> None:
    for before, after in pairwise(edges):
        assert math.dist(before.end, after.start) < 1e-9
        (ux, uy), (vx, vy) = before.tangent(1.0), after.tangent(0.0)
        assert abs(math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)) < most


def test_a_b_spline_is_scipys() -> None:
    rng = np.random.default_rng(5)
    knots = [0, 0, 0, 0, 1, 2.5, 2.5, 4, 4, 4, 4]
    points = rng.uniform(-5, 5, (7, 2))
    ours = b_spline(3, knots, [tuple(p) for p in points.tolist()], [1.0] * 7)
    theirs = BSpline(np.array(knots), points, 3)
    spans = [(0, 1), (1, 2.5), (2.5, 4)]
    assert ours.parts == 3
    for i, (low, high) in enumerate(spans):
        t = np.linspace(0, 1, 20)[:-1]
        at, steps = ours.at(i + t)
        assert at == pytest.approx(theirs(low + t * (high - low)), abs=1e-12)
        assert steps == pytest.approx((high - low) * theirs(low + t * (high - low), nu=1), abs=1e-11)


def test_an_unclamped_b_spline_is_scipys() -> None:
    points = np.random.default_rng(6).uniform(-5, 5, (8, 2))
    ours = b_spline(3, list(range(12)), [tuple(p) for p in points.tolist()], [1.0] * 8)
    t = np.linspace(0, 5, 50, endpoint=False)
    assert ours.at(t)[0] == pytest.approx(BSpline(np.arange(12.0), points, 3)(3 + t), abs=1e-12)


def test_a_weighted_spline_hides_a_circle() -> None:
    """The nine-point circle: weights 1 and 1/√2 (Piegl and Tiller, The NURBS Book, 7.5; from memory)."""
    w = math.sqrt(0.5)
    points = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    circle = b_spline(
        2, [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4], [(10.0 * x, 10.0 * y) for x, y in points], [1, w] * 4 + [1]
    )
    fitted = to_edges(circle, 0.002)
    assert fitted.deviation < 1e-9
    assert all(isinstance(edge, Arc) for edge in fitted.edges)
    assert len(fitted.edges) == 2
    assert sum(edge.length for edge in fitted.edges) == pytest.approx(20 * math.pi, rel=1e-12)


def test_a_spline_hides_a_line_and_an_arc() -> None:
    w = math.sqrt(0.5)
    spline = Spline(
        np.array([[(0, 0, 1), (3, 0, 1), (10, 0, 1)], [(10, 0, 1), (w * 14, 0, w), (14, 4, 1)]], dtype=float)
    )
    line, arc = to_edges(spline, 0.002).edges
    assert isinstance(line, Line)
    assert line.end == (10.0, 0.0)
    assert isinstance(arc, Arc)
    assert arc.center == pytest.approx((10, 4), abs=1e-9)


@pytest.mark.parametrize("ratio", [0.95, 0.5, 0.2, 0.05])
@pytest.mark.parametrize("tolerance", [0.05, 0.002, 0.0002])
def test_an_ellipse_in_arcs(ratio: float, tolerance: float) -> None:
    """Within the tolerance both ways, tangent, and of the ellipse's length by the complete elliptic integral."""
    cos, sin = 20 * math.cos(0.3), 20 * math.sin(0.3)
    ellipse = Ellipse((3, 4), (cos, sin), (-sin * ratio, cos * ratio), 0.2, 2 * math.pi)
    fitted = to_edges(ellipse, tolerance)
    points = along(fitted.edges)
    dense = ellipse.at(np.linspace(0, 1, 40_001))[0]
    assert cKDTree(dense).query(points)[0].max() <= tolerance + 0.003  # to points 0.003 mm apart at most
    measured = np.min([edge.distance(dense) for edge in fitted.edges], axis=0).max()
    assert measured <= tolerance * (1 + 1e-6)
    assert measured == pytest.approx(fitted.deviation, rel=0.02)  # what is reported is what there is
    assert_tangent(fitted.edges)
    length = sum(edge.length for edge in fitted.edges)
    assert length == pytest.approx(4 * 20 * ellipe(1 - ratio**2), rel=1e-2 * math.sqrt(tolerance))


def test_few_arcs_and_fewer_for_more_tolerance() -> None:
    """A fit by arc pairs is of third order: a thousandth of the tolerance takes about ten times the arcs."""
    ellipse = Ellipse((0, 0), (20, 0), (0, 10), 0, math.pi / 2)
    counts = [len(to_edges(ellipse, tolerance).edges) for tolerance in (0.1, 0.0001)]
    assert counts[0] <= 4
    assert 6 * counts[0] < counts[1] < 14 * counts[0]


@given(st.lists(st.tuples(st.integers(-20, 20), st.integers(-20, 20)), min_size=4, max_size=4, unique=True))
def test_any_bezier_curve(points: list[tuple[int, int]]) -> None:
    """Loops, cusps and all: measured from the outside, within the tolerance."""
    curve = beziers([[(float(x), float(y)) for x, y in points]])
    fitted = to_edges(curve, 0.01)
    dense = curve.at(np.linspace(0, 1, 3001))[0]
    assert np.min([edge.distance(dense) for edge in fitted.edges], axis=0).max() <= 0.0102
    for before, after in pairwise(fitted.edges):
        assert math.dist(before.end, after.start) < 1e-9


@given(st.floats(-2.5, 2.5), st.floats(-2.5, 2.5))
def test_a_biarc_keeps_both_directions(first: float, second: float) -> None:
    pair = biarc((0, 0), (math.cos(first), math.sin(first)), (10, 0), (math.cos(second), math.sin(second)))
    if pair is None:
        assert abs(first) + abs(second) > 1
        return
    assert pair[0].start == (0, 0)
    assert pair[1].end == (10, 0)
    assert_tangent(tuple(pair), 2e-5)  # as flat as can be, an arc is a line
    for edge, t, angle in ((pair[0], 0.0, first), (pair[1], 1.0, second)):
        dx, dy = edge.tangent(t).tolist()
        assert math.remainder(math.atan2(dy, dx) - angle, 2 * math.pi) == pytest.approx(0, abs=2e-5)


def test_too_fine_a_tolerance_is_refused() -> None:
    ends = [(float(i), (-1) ** i * 300.0) for i in range(401)]
    wiggle = beziers([[a, (a[0] + 0.3, 9e3), (a[0] + 0.6, -9e3), b] for a, b in pairwise(ends)])
    with pytest.raises(PreviewError, match="more than 4,000 arcs"):
        to_edges(wiggle, 1e-4)


def test_maps_keep_circles_where_they_can() -> None:
    arc = arc_through((10, 0), (0, 10), (-10, 0))
    turned = Affine(0.6, 0.8, 0.8, -0.6, 5, 7)  # turned and mirrored
    (same,) = mapped(arc, turned)
    assert isinstance(same, Arc)
    assert same.sweep == -arc.sweep
    assert along([same]) == pytest.approx(np.array([turned.point((x, y)) for x, y in along([arc]).tolist()]), abs=1e-12)
    stretched = Affine(a=2.0, c=0.5)
    (other,) = mapped(arc, stretched)
    assert isinstance(other, Ellipse)
    back = Affine(a=0.5, c=-0.25)
    (again,) = mapped(other, back)
    assert isinstance(again, Arc)
    assert again.center == pytest.approx(arc.center, abs=1e-12)
    assert again.sweep == pytest.approx(arc.sweep, abs=1e-12)
