"""A chain of lines and arcs fitted to points: against what was sampled, and with a bound on the work for nonsense."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from preview.drawings.chords import chords
from preview.drawings.fit import MOST_STRAIN, ROUNDS, STEPS, fit_chain
from preview.profiles import Arc, Edge, Line, arc_of_sweep

Floats = NDArray[np.float64]
FOUND = Path(__file__).parents[1] / "fuzz" / "found" / "csv"
BOUND = (2 * ROUNDS + 2) * STEPS

QUARTER = math.pi / 2
FACE: list[Edge] = [
    Line((30, 0), (30, 20)),
    arc_of_sweep((30, 20), (22, 28), QUARTER),
    arc_of_sweep((22, 28), (12, 38), -QUARTER),
    Line((12, 38), (12, 50)),
    Line((12, 50), (18, 56)),
]
"""A fillet, tangent to a quarter round of 8, which at a level joint is tangent to a cove of 10, and this to a fillet;
then a bevel at a corner."""


def sampled(edges: list[Edge], count: int) -> Floats:
    """So many points of each edge, evenly, with both ends of the chain."""
    points = [edge.point(np.linspace(0, 1, count, endpoint=False)) for edge in edges]
    return np.vstack([*points, [edges[-1].end]])


def joints(edges: tuple[Edge, ...] | list[Edge]) -> list[float]:
    return [value for edge in edges for value in edge.start] + list(edges[-1].end)


def test_exact_points_give_the_exact_chain() -> None:
    found = fit_chain(sampled(FACE, 40), 0.1)
    assert [type(edge) for edge in found.edges] == [type(edge) for edge in FACE]
    assert joints(found.edges) == pytest.approx(joints(FACE), abs=2e-3)
    assert [edge.radius for edge in found.edges if isinstance(edge, Arc)] == pytest.approx([8, 10], abs=1e-3)
    assert found.tangent == 3
    assert found.worst < 1e-3


@settings(max_examples=6, deadline=None)
@given(seed=st.integers(0, 2**32))
def test_points_in_noise_give_it_within_what_noise_does(seed: int) -> None:
    """The sum of squares of a right model is chi-squared, with a mean of the points less the numbers fitted, and a
    standard deviation of the root of twice that; six of them is one time in 10^8. A chain that did not settle has more.
    """
    noise = 0.05
    points = sampled(FACE, 150)
    found = fit_chain(points + np.random.default_rng(seed).normal(0, noise, points.shape), 0.1)
    off = np.min([edge.distance(points) for edge in found.edges], axis=0)
    assert len(found.edges) == len(FACE)
    assert [edge.radius for edge in found.edges if isinstance(edge, Arc)] == pytest.approx([8, 10], rel=0.02)
    assert float(np.sqrt((off**2).mean())) < 0.4 * noise  # about sqrt(numbers fitted / points) = 0.1 of it is expected
    assert found.worst < 6 * math.sqrt(2) * noise
    assert found.solved < BOUND / 4


@settings(max_examples=5, deadline=None)
@given(seed=st.integers(0, 2**32))
def test_the_sum_of_squares_is_least(seed: int) -> None:
    """Against the true chain, which a least sum of squares is never above but for the price of the tangencies."""
    noise = 0.05
    points = sampled(FACE, 100)
    points += np.random.default_rng(seed).normal(0, noise, points.shape)
    found = fit_chain(points, 0.1)
    squares = [
        float((np.min([edge.distance(points) for edge in chain], axis=0) ** 2).sum()) / noise**2
        for chain in (found.edges, FACE)
    ]
    assert squares[0] < squares[1] + MOST_STRAIN


def test_distances_from_lines_and_circles_and_their_derivatives() -> None:
    """Distances by Pythagoras from centers known by hand; products of derivatives against central differences."""
    own = np.array([[0.0, 0.0, 0.0, 8.0, 6.0], [8.0, 6.0, 5.0, 8.0, 16.0], [8.0, 16.0, -1.0, 2.0, 16.0]])
    points = np.random.default_rng(3).uniform(0, 16, (12, 2))
    counts = np.array([5, 3, 4])
    found = chords(own)
    off = found.off(points, counts)
    assert off[:5] == pytest.approx((6 * points[:5, 0] - 8 * points[:5, 1]) / 10)
    assert off[5:8] == pytest.approx(np.hypot(*(points[5:8] - (8, 11)).T) - 5)
    assert off[8:] == pytest.approx(5 - np.hypot(*(points[8:] - (5, 20)).T))  # 3² + 4² = 5², rising by 1 to the left
    step = 1e-6
    slopes = np.empty((12, 5))
    for k in range(5):
        there, back = own.copy(), own.copy()
        there[:, k] += step
        back[:, k] -= step
        slopes[:, k] = (chords(there).off(points, counts) - chords(back).off(points, counts)) / (2 * step)
    squares, pulls = found.pulls(points, counts)
    for i, part in enumerate((slice(0, 5), slice(5, 8), slice(8, 12))):
        assert squares[i] == pytest.approx(slopes[part].T @ slopes[part], abs=1e-6)
        assert pulls[i] == pytest.approx(slopes[part].T @ off[part], abs=1e-6)


@pytest.mark.parametrize("end", [-1.0, 1.0])
def test_headings_and_their_derivatives(end: float) -> None:
    own = np.array([[0.0, 0.0, 5.0, 0.0, 10.0], [3.0, 1.0, -0.7, 8.0, -4.0], [3.0, 1.0, 0.0, 8.0, -4.0]])
    found, slopes = chords(own).heading(end)
    assert found[0] == pytest.approx(QUARTER + end * QUARTER)  # half a circle to the right of a chord straight up
    assert found[2] == pytest.approx(-QUARTER / 2)
    for k in range(5):
        moved = own.copy()
        moved[:, k] += 1e-6
        assert slopes[:, k] == pytest.approx((chords(moved).heading(end)[0] - found) / 1e-6, abs=1e-5)


def test_a_hundred_false_tangencies_take_few_steps() -> None:
    """137 arcs, all but tangent, of whose tangencies 30 are let go one after another: steps that do not settle are
    25 each time, which together were 476 systems of 400 equations."""
    rows = (FOUND / "hundred-tangencies-let-go.csv").read_text().splitlines()[1:]
    found = fit_chain(np.array([[float(cell) for cell in row.split(",")] for row in rows]), 0.1)
    assert found.solved <= 200
    assert len(found.edges) > 120
    assert found.worst < 0.06


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 2**32), count=st.integers(8, 300), scale=st.sampled_from([1e-9, 1e-3, 1.0, 1e4]))
def test_any_points_take_a_bounded_number_of_steps(seed: int, count: int, scale: float) -> None:
    random = np.random.default_rng(seed)
    points = np.cumsum(random.normal(0, scale, (count, 2)) * random.choice([0, 1, 1, 30], (count, 1)), axis=0)
    found = fit_chain(points, 0.1)
    assert found.solved <= BOUND
    assert math.isfinite(found.worst)
