"""How far out two faces go on meeting, against circles and lines laid out one projection after another."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from preview.joinery import Joint, Passage

DEGREE = math.pi / 180


def corner(k1: float, k2: float, turn: float) -> Joint:
    """Two back lines through (0, 0): the first along x with its room at +y, the second turned toward the room."""
    cos, sin = math.cos(turn), math.sin(turn)
    before, after = Passage((1.0, 0.0), (0.0, 1.0), k1), Passage((cos, sin), (-sin, cos), k2)
    return Joint("corner", "curved miter", (0.0, 0.0), before, after, turn)


def meet(k1: float, k2: float, turn: float, d: np.ndarray) -> np.ndarray:
    """Whether the offset lines or circles of the two back lines have a point in common, for each d."""
    n1, n2 = np.array([0.0, 1.0]), np.array([-math.sin(turn), math.cos(turn)])
    if k1 == k2 == 0.0:
        return np.ones(len(d), dtype=bool)
    if k1 == 0.0 or k2 == 0.0:
        (flat, round_), k = ((n1, n2), k2) if k1 == 0.0 else ((n2, n1), k1)
        from_line = np.abs(flat @ (round_ / k) - d)
        return np.asarray(from_line <= np.abs(1 / k - d))
    apart = float(np.linalg.norm(n1 / k1 - n2 / k2))
    r1, r2 = np.abs(1 / k1 - d), np.abs(1 / k2 - d)
    return np.asarray((apart <= r1 + r2) & (apart >= np.abs(r1 - r2)))


kinds = st.sampled_from([0.0]) | st.floats(4.0, 500.0).flatmap(lambda r: st.sampled_from([1 / r, -1 / r]))


@given(kinds, kinds, st.floats(2.0, 150.0), st.sampled_from([1, -1]))
def test_reach_is_where_the_offsets_part(k1: float, k2: float, degrees: float, side: int) -> None:
    turn = side * degrees * DEGREE
    reach = corner(k1, k2, turn).reach()
    assert reach > 0
    folds = min([1 / k for k in (k1, k2) if k > 0], default=math.inf)
    # Past the fold of a lined curve its offset grows again; `join` never asks there.
    end = min(folds, 2000.0)
    d = np.linspace(0.0, end, 4001)[1:-1]
    apart = d[~meet(k1, k2, turn, d)]
    if len(apart) == 0:
        assert reach >= end * (1 - 1e-3)
    else:
        assert apart[0] == pytest.approx(reach, abs=1.001 * end / 4000)
        near = np.array([reach * (1 - 1e-6), reach * (1 + 1e-6)])
        assert meet(k1, k2, turn, near).tolist() == [True, False]


@given(kinds, kinds, st.floats(2.0, 150.0), st.sampled_from([1, -1]))
def test_points_are_numbers_up_to_the_reach(k1: float, k2: float, degrees: float, side: int) -> None:
    joint = corner(k1, k2, side * degrees * DEGREE)
    reach = joint.reach()
    assume(reach < 1e5)
    inside, outside = joint.points(np.array([reach * (1 - 1e-9), reach * (1 + 1e-6)]))
    assert np.isfinite(inside).all()
    assert np.isnan(outside).all()


def test_straights_and_a_wrapped_curve_always_meet() -> None:
    for turn in (-150, -90, -1, 1, 90, 150):
        assert corner(0.0, 0.0, turn * DEGREE).reach() == math.inf
        assert corner(-1 / 30, -1 / 30, turn * DEGREE).reach() > 1e9
        assert corner(0.0, -1 / 30, turn * DEGREE).reach() > 1e9


def test_a_line_and_a_lined_circle_part_where_they_touch() -> None:
    """By hand: a 90 degree outside corner from a straight into a niche of radius 40.

    The niche's center lies 40 along the straight's direction of travel behind the corner; its offset circle has
    radius 40 - d, and the straight's offset line runs d from the center: they touch at d = 40 - d.
    """
    assert corner(0.0, 1 / 40, -90 * DEGREE).reach() == pytest.approx(20.0, rel=1e-14)
    assert corner(1 / 40, 0.0, -90 * DEGREE).reach() == pytest.approx(20.0, rel=1e-14)


def test_tangent_curves_meet_as_far_as_neither_folds() -> None:
    assert corner(1 / 40, -1 / 60, 0.0).reach() == pytest.approx(40.0)
    assert corner(1 / 40, 1 / 40, 0.0).reach() == pytest.approx(40.0)
