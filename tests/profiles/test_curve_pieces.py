"""A curve of several pieces is fitted by the piece that ends, not by the next one, where they meet at a corner."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray

from preview.profiles import Arc, fit_arcs
from preview.profiles.curves import Ellipse
from preview.profiles.placement import out_of

Floats = NDArray[np.float64]


class RoundThenStraightBack:
    """A quarter of a circle of radius 10 round (0, 0) up to parameter 1, and from there a straight that turns off."""

    def at(self, t: ArrayLike) -> tuple[Floats, Floats]:
        t = np.asarray(t, dtype=np.float64)[..., None]
        angle = t * math.pi / 2
        round_it = 10.0 * np.concatenate([np.cos(angle), np.sin(angle)], axis=-1)
        along = 5 * math.pi * np.concatenate([-np.sin(angle), np.cos(angle)], axis=-1)
        off = np.array([0.0, 10.0])
        return np.where(t < 1.0, round_it, [0.0, 10.0] + (t - 1.0) * off), np.where(t < 1.0, along, off)

    def before(self, t: float) -> tuple[Floats, Floats]:
        points, steps = self.at([t - 1e-12])
        return points, steps


def test_the_last_arc_arrives_as_the_curve_does() -> None:
    fitted = fit_arcs(RoundThenStraightBack(), 0.0, 1.0, 0.01)
    assert fitted.deviation < 1e-9
    assert sum(edge.length for edge in fitted.edges) == pytest.approx(5 * math.pi, abs=1e-8)
    last = fitted.edges[-1]
    assert isinstance(last, Arc)
    assert last.tangent([1.0])[0] == pytest.approx([-1.0, 0.0], abs=1e-9)


@pytest.mark.parametrize("sweep", [math.pi, -math.pi])
def test_an_ellipse_turns_sharpest_at_the_ends_of_its_axes(sweep: float) -> None:
    """From 45° before one axis, half a turn either way: past two ends of the axes, a quarter and three quarters on."""
    start = 0.75 * math.pi if sweep < 0 else -0.75 * math.pi
    ellipse = Ellipse((5.0, 7.0), (2.0, 0.0), (0.0, 1.0), start, sweep)
    assert ellipse.corners == pytest.approx((0.0, 0.25, 0.75, 1.0), abs=1e-12)


def test_the_ways_out_of_a_blank() -> None:
    assert [out_of(face) for face in ("face", "back", "top", "foot")] == [(1, 0), (-1, 0), (0, 1), (0, -1)]


def test_what_the_last_pair_leaves_over_is_shared_among_all() -> None:
    """A quarter of an ellipse of 80 by 30 to within 0.03 mm takes four pairs of arcs and a sliver.

    A pair strays by the third power of its length, so that of five as long as one another each may stray by (4/5)³ of
    that, and a tenth more for the curve's being no circle.
    """
    fitted = fit_arcs(Ellipse((0.0, 0.0), (80.0, 0.0), (0.0, 30.0), 0.0, math.pi / 2), 0.0, 1.0, 0.03)
    assert len(fitted.edges) == 2 * 5
    assert fitted.deviation < 0.03 * 1.1 * (4.2 / 5) ** 3
    # No pair is a sliver any more: by their lengths, each is a tenth of the whole or more.
    lengths = [
        first.length + second.length for first, second in zip(fitted.edges[::2], fitted.edges[1::2], strict=True)
    ]
    assert min(lengths) > 0.1 * sum(lengths)


@pytest.mark.parametrize("steps", [10, 16, 18, 20, 24, 30, 32, 36])
def test_a_short_last_pair_leaves_the_others_less_to_stray(steps: int) -> None:
    """Tolerances at which the last pair of a quarter of an ellipse comes out short: then no pair uses up what it may.

    Unshared, the longest pairs would stray by 0.85 of the tolerance or more.
    """
    tolerance = 10 ** (-steps / 15)
    fitted = fit_arcs(Ellipse((0.0, 0.0), (30.0, 0.0), (0.0, 12.0), 0.0, math.pi / 2), 0.0, 1.0, tolerance)
    assert 0.4 < fitted.deviation / tolerance < 0.84
