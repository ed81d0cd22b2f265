"""Smooth curves and the arcs that stand for them: axes of ellipses in any pose, standstills, straights, refusals."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray

from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Ellipse, Line, biarc, biarcs, fit_arcs
from preview.profiles.curves import curve_direction

Floats = NDArray[np.float64]
PI = math.pi
IN, OUT = 1 - 1e-4, 1 + 1e-4


def ellipse_of(long: float, short: float, lean: float, ahead: float, start: float, sweep: float) -> Ellipse:
    """Half axes `long`, `short`; the long one at `lean`; θ = 0 is `ahead` past its end, so u and v are not square."""
    a = (long * math.cos(lean), long * math.sin(lean))
    b = (-short * math.sin(lean), short * math.cos(lean))
    cos, sin = math.cos(ahead), math.sin(ahead)
    u = (a[0] * cos + b[0] * sin, a[1] * cos + b[1] * sin)
    v = (b[0] * cos - a[0] * sin, b[1] * cos - a[1] * sin)
    return Ellipse((3.0, -4.0), u, v, start, sweep)


@pytest.mark.parametrize("lean", [0.0, 0.7, 1.5, -1.2])
@pytest.mark.parametrize("ahead", [0.0, 0.4, 1.3, -0.6])
@pytest.mark.parametrize(
    ("start", "sweep"), [(0.2, 6.0), (0.2, -6.0), (2.5, 1.0), (-4.0, 3.3), (9.0, -2.0), (0.5, 0.3), (7.0, 7.0)]
)
def test_corners_of_an_ellipse_are_the_ends_of_its_axes(lean: float, ahead: float, start: float, sweep: float) -> None:
    """The ends of the axes lie a quarter turn apart from -`ahead` on."""
    ellipse = ellipse_of(8.0, 5.0, lean, ahead, start, sweep)
    ways = sorted((k * PI / 2 - ahead - start) / sweep for k in range(-20, 21))
    assert ellipse.corners == pytest.approx((0.0, *(t for t in ways if 0.0 < t < 1.0), 1.0), abs=1e-12)
    assert ellipse.parts == 1
    for point in ellipse.at(ellipse.corners[1:-1])[0]:  # as far from the center as the ends of an axis are
        assert min(abs(math.dist(point, (3.0, -4.0)) - half) for half in (8.0, 5.0)) < 1e-12


class Creeping:
    """Stands at (-0.25, 0.125) with the derivative (0, speed); a little on, or back, from t it has moved in d."""

    def __init__(self, t: float, speed: float, goes: float = 0.5) -> None:
        self.t, self.speed, self.goes = t, speed, goes

    def at(self, t: ArrayLike) -> tuple[Floats, Floats]:
        on = np.asarray(t, dtype=np.float64) - self.t
        return np.stack([-0.25 + self.goes * on, 0.125 + 0.0 * on], axis=-1), np.stack(
            [0 * on, self.speed + 0 * on], -1
        )

    def before(self, t: float) -> tuple[Floats, Floats]:
        return self.at([t])


def test_when_a_curve_stands_still() -> None:
    """Where its derivative is a billionth of 1 mm and its largest coordinate, or less: here of 1.25 mm."""
    for t in (0.0, 0.5):
        for side in (1, -1):
            for speed, way in ((1.25e-9 * IN, (1.0, 0.0)), (1.25e-9 * OUT, (0.0, 1.0))):
                assert curve_direction(Creeping(t, speed), t, side) == pytest.approx(way, abs=1e-12)
    assert curve_direction(Creeping(0.5, 0.0, 1e-3), 0.5, 1) == pytest.approx((1.0, 0.0))
    assert curve_direction(Creeping(0.5, 0.0, 0.0), 0.5, 1) == (0.0, 0.0)


class Bent:
    """Two straights that meet at (6, 0) where t = 1: along d, then along h. Before its first end there is nothing."""

    def at(self, t: ArrayLike) -> tuple[Floats, Floats]:
        t = np.asarray(t, dtype=np.float64)
        points = np.stack([6.0 * np.minimum(t, 1.0), 4.0 * np.maximum(t - 1.0, 0.0)], axis=-1)
        return points, np.where(t[..., None] < 1.0, (6.0, 0.0), (0.0, 4.0))

    def before(self, t: float) -> tuple[Floats, Floats]:
        assert t > 0.0
        return self.at([t])[0], self.at([t - 1e-9])[1]


def test_the_direction_at_a_corner_depends_on_where_one_looks_from() -> None:
    bent = Bent()
    assert curve_direction(bent, 1.0, 1) == (0.0, 1.0)
    assert curve_direction(bent, 1.0, -1) == (1.0, 0.0)
    assert curve_direction(bent, 0.0, -1) == (1.0, 0.0)
    assert curve_direction(bent, 0.0, 1) == (1.0, 0.0)


class Cusp:
    """8 (t², t³) mm: it stands still where t = 0, and leaves along the first axis."""

    def at(self, t: ArrayLike) -> tuple[Floats, Floats]:
        t = np.asarray(t, dtype=np.float64)
        return 8.0 * np.stack([t**2, t**3], axis=-1), 8.0 * np.stack([2 * t, 3 * t**2], axis=-1)

    def before(self, t: float) -> tuple[Floats, Floats]:
        return self.at([t])


def test_a_curve_that_starts_from_a_standstill_is_fitted_from_there() -> None:
    fitted = fit_arcs(Cusp(), 0.0, 0.5, 0.002)
    assert fitted.deviation <= 0.002
    assert len(fitted.edges) <= 8
    assert fitted.edges[0].tangent([0.0])[0] == pytest.approx([1.0, 0.0], abs=1e-4)
    assert_smooth(fitted.edges)
    # The length of a semicubical parabola, 8 times the integral of t sqrt(4 + 9 t²).
    length = 8 / 27 * ((4 + 9 * 0.25) ** 1.5 - 8)
    assert sum(edge.length for edge in fitted.edges) == pytest.approx(length, rel=1e-3)


def assert_smooth(edges: tuple[Edge, ...]) -> None:
    for before, after in pairwise(edges):
        assert math.dist(before.end, after.start) < 1e-9
        (ux, uy), (vx, vy) = before.tangent([1.0])[0].tolist(), after.tangent([0.0])[0].tolist()
        assert math.atan2(ux * vy - uy * vx, ux * vx + uy * vy) == pytest.approx(0.0, abs=1e-6)


def circle(radius: float, sweep: float, start: float = 0.3) -> Ellipse:
    return Ellipse((2.0, 1.0), (radius, 0.0), (0.0, radius), start, sweep)


@pytest.mark.parametrize("sweep", [2 * PI, -2 * PI, 1.9 * PI, -1.3 * PI, 0.5])
def test_a_circle_that_comes_all_the_way_round_is_arcs_of_itself(sweep: float) -> None:
    fitted = fit_arcs(circle(20.0, sweep), 0.0, 1.0, 0.001)
    assert fitted.deviation < 1e-9
    assert sum(edge.length for edge in fitted.edges) == pytest.approx(20.0 * abs(sweep), rel=1e-9)
    assert all(isinstance(edge, Arc) and edge.center == pytest.approx((2.0, 1.0)) for edge in fitted.edges)


def test_a_curve_that_stays_in_a_point_is_a_line_of_no_length() -> None:
    fitted = fit_arcs(circle(0.0, 1.0), 0.0, 1.0, 0.001)
    assert fitted.edges == (Line((2.0, 1.0), (2.0, 1.0)),)
    assert fitted.deviation == 0.0


def test_the_arcs_end_where_the_stretch_does() -> None:
    """Bit for bit, with no sliver left over, from wherever and to wherever the stretch runs."""
    ellipse = Ellipse((3.0, 4.0), (40.0, 5.0), (-2.0, 17.0), 0.2, 5.0)
    for start, end in ((0.0, 0.7), (0.1, 0.9), (0.3, 1.0), (0.35, 0.97), (0.013, 0.377), (0.61, 0.83)):
        for tolerance in (0.1, 0.01, 0.0007):
            fitted = fit_arcs(ellipse, start, end, tolerance)
            first, last = ellipse.at([start, end])[0].tolist()
            assert fitted.edges[0].start == tuple(first)
            assert fitted.edges[-1].end == tuple(last)
            assert min(edge.length for edge in fitted.edges) > 0.05
            assert fitted.deviation <= tolerance
            assert_smooth(fitted.edges)


@pytest.mark.parametrize(("start", "end"), [(0.06, 0.59), (0.06, 0.68), (0.18, 0.83), (0.3, 0.86), (0.42, 0.92)])
def test_one_pair_ends_where_the_stretch_does(start: float, end: float) -> None:
    """Between parameters whose difference, added to the first, misses the second by rounding."""
    assert start + (end - start) != end
    ellipse = Ellipse((3.0, 4.0), (40.0, 5.0), (-2.0, 17.0), 0.2, 2.0)
    fitted = fit_arcs(ellipse, start, end, 5.0)
    assert len(fitted.edges) == 2
    assert fitted.edges[-1].end == tuple(ellipse.at([end])[0][0].tolist())


class Hook:
    """Round a quarter of a circle of radius 10 in the first part of the way, then straight on for 100 mm."""

    def __init__(self, part: float) -> None:
        self.part = part

    def at(self, t: ArrayLike) -> tuple[Floats, Floats]:
        t = np.asarray(t, dtype=np.float64)[..., None]
        turn = np.minimum(t / self.part, 1.0) * PI / 2
        on = 100.0 * np.maximum(t - self.part, 0.0) / (1 - self.part)
        points = 10.0 * np.concatenate([np.cos(turn), np.sin(turn)], axis=-1) - on * [1.0, 0.0]
        round_it = 5 * PI / self.part * np.concatenate([-np.sin(turn), np.cos(turn)], axis=-1)
        return points, np.where(t < self.part, round_it, (-100.0 / (1 - self.part), 0.0))

    def before(self, t: float) -> tuple[Floats, Floats]:
        return self.at([t - 1e-12])


@pytest.mark.parametrize("part", [0.5, 0.1, 0.01, 4e-4])
def test_a_round_run_through_in_no_time_is_still_a_round(part: float) -> None:
    """However short the time. Two pairs: one up to a little before its end, one for what is left of it and the line."""
    fitted = fit_arcs(Hook(part), 0.0, 1.0, 0.01)
    away = np.min([edge.distance(Hook(part).at(np.linspace(0, 2 * part, 500))[0]) for edge in fitted.edges], axis=0)
    assert away.max() <= 0.0102
    assert len(fitted.edges) == 4
    assert_smooth(fitted.edges)
    assert sum(edge.length for edge in fitted.edges) == pytest.approx(5 * PI + 100.0, abs=0.01)


def test_how_many_arcs_a_curve_may_take(monkeypatch: pytest.MonkeyPatch) -> None:
    """A quarter of an ellipse of 80 by 30 to within 0.03 mm takes five pairs."""
    ellipse = Ellipse((0.0, 0.0), (80.0, 0.0), (0.0, 30.0), 0.0, PI / 2)
    monkeypatch.setattr(biarcs, "MOST_ARCS", 10)
    assert len(fit_arcs(ellipse, 0.0, 1.0, 0.03).edges) == 10
    for most in (9, 8):
        monkeypatch.setattr(biarcs, "MOST_ARCS", most)
        with pytest.raises(PreviewError, match=f"more than {most} arcs to stay within 0.03 mm") as refused:
            fit_arcs(ellipse, 0.0, 1.0, 0.03)
        assert refused.value.problems[0].place == "tolerance"


# One pair of arcs.


@pytest.mark.parametrize("angle", [0.0, 0.3, 1.0, 2.2, -0.7, -2.9])
@pytest.mark.parametrize("far", [0.02, 10.0, 1000.0])
def test_straight_on_is_two_lines_and_straight_back_is_nothing(angle: float, far: float) -> None:
    cos, sin = math.cos(angle), math.sin(angle)
    end = (far * cos, far * sin)
    pair = biarc((0.0, 0.0), (cos, sin), end, (cos, sin))
    assert pair is not None
    assert all(isinstance(edge, Line) for edge in pair)
    assert pair[0].end == pair[1].start == pytest.approx((end[0] / 2, end[1] / 2))
    assert biarc((0.0, 0.0), (-cos, -sin), end, (-cos, -sin)) is None


@pytest.mark.parametrize("side", [1, -1])
def test_the_flattest_arc(side: int) -> None:
    """Of a radius of 900 m; a flatter one is drawn as a line. One arc of the same turn in its two halves."""
    for radius, kind in ((9e5 * IN, Arc), (9e5 * OUT, Line)):
        half = math.asin(10.0 / radius)  # a chord of 20 mm turns by twice its angle to the tangent
        cos, sin = math.cos(half), side * math.sin(half)
        pair = biarc((5.0, 3.0), (cos, sin), (25.0, 3.0), (cos, -sin))
        assert pair is not None
        assert [type(edge) for edge in pair] == [kind, kind]
        for edge in pair:
            if isinstance(edge, Arc):
                assert edge.radius == pytest.approx(radius, rel=1e-9)
