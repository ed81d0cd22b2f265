"""Cutting a face into triangles along levels: nothing crosses a level, nothing is lost, every point is used."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.models.mesh import make_face
from preview.models.mesh.face import cut_face, settle
from preview.profiles import Profile, flatten, measure
from samples import BASE, CROWN, block, cove_spandrel, half_round
from strategies import profiles, share


def areas(points: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    a, b, c = (points[triangles[:, i]] for i in range(3))
    u, v = b - a, c - a
    return np.asarray((u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2)


def check(points: np.ndarray, triangles: np.ndarray, levels: tuple[float, ...]) -> None:
    n = len(points)
    x, y = points.T
    whole = float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)
    parts = areas(points, triangles)
    assert len(triangles) == n - 2
    assert np.array_equal(np.unique(triangles), np.arange(n))
    assert parts.min() > -1e-12 * whole
    assert parts.sum() == pytest.approx(whole, rel=1e-12)
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]).tolist()
    border = {(a, b) for a, b in edges} - {(b, a) for a, b in edges}
    assert border == {(i, (i + 1) % n) for i in range(n)}  # its rim is the outline, in order
    assert len({tuple(edge) for edge in edges}) == len(edges)
    d = points[triangles, 0]
    for level in levels:
        assert not ((d.min(axis=1) < level) & (level < d.max(axis=1))).any()


@share(1.5)
@given(profiles(), st.sampled_from([0.01, 0.1, 1.0]), st.lists(st.integers(1, 99), max_size=12))
def test_any_face_is_cut_along_any_levels(profile: Profile, chord: float, percents: list[int]) -> None:
    size = measure(profile)
    wanted = size.d_min + (size.d_max - size.d_min) * np.unique(percents) / 100
    levels = settle(size.d_min, size.d_max, wanted, [edge.start[0] for edge in profile.edges])
    face = make_face(profile, chord, levels)
    check(face.outline.points, face.triangles, levels)


@pytest.mark.parametrize("count", [1, 2, 7, 100])
@pytest.mark.parametrize("profile", [BASE, CROWN, half_round(), cove_spandrel()], ids=lambda p: p.name)
def test_even_levels(profile: Profile, count: int) -> None:
    size = measure(profile)
    levels = tuple(np.linspace(size.d_min, size.d_max, count + 2)[1:-1].tolist())
    face = make_face(profile, 0.05, levels)
    check(face.outline.points, face.triangles, levels)
    for level in levels:
        assert (face.d == level).sum() >= 2  # it enters the face and leaves it


def test_levels_through_every_corner() -> None:
    levels = tuple(sorted({edge.start[0] for edge in BASE.edges} - {0.0, 31.75}))
    face = make_face(BASE, 0.05, levels)
    check(face.outline.points, face.triangles, levels)


def test_a_comb_is_cut_tooth_by_tooth() -> None:
    """Levels that enter and leave the wood several times: only what lies inside is cut."""
    teeth = [(0.0, 0.0), (30.0, 0.0), (30.0, 10.0), (10.0, 10.0), (10.0, 20.0), (30.0, 20.0), (30.0, 30.0)]
    teeth += [(10.0, 30.0), (10.0, 40.0), (30.0, 40.0), (30.0, 50.0), (0.0, 50.0)]
    points = []
    for (d0, h0), (d1, h1) in zip(teeth, [*teeth[1:], teeth[0]], strict=True):
        between = [d for d in (10.0, 20.0) if min(d0, d1) < d < max(d0, d1) and h0 == h1]
        points += [(d0, h0), *((d, h0) for d in sorted(between, reverse=d1 < d0))]
    at = np.array(points)
    check(at, cut_face(at, (10.0, 20.0)), (10.0, 20.0))


def test_without_levels_a_block_is_two_triangles() -> None:
    face = make_face(block(), 1.0)
    assert len(face.triangles) == 2
    check(face.outline.points, face.triangles, ())


def test_a_level_near_a_corner_moves_onto_it() -> None:
    levels = np.array([2.0, 4.0, 6.0, 8.0])
    assert settle(0.0, 10.0, levels, [0.0, 4.15, 6.25, 10.0]) == (2.0, 4.15, 6.0, 8.0)
    assert settle(0.0, 10.0, levels, [1.9, 8.1, 9.9]) == (1.9, 4.0, 6.0, 8.1)
    # The narrower of two slabs decides, and none is left outside the face.
    assert settle(0.0, 10.0, np.array([9.0, 9.5]), [10.0]) == (9.0, 9.5)
    assert settle(0.0, 10.0, np.array([9.0, 9.9]), [9.08]) == (9.08, 9.9)
    assert settle(0.0, 10.0, np.empty(0), [5.0]) == ()


def test_the_face_is_the_profiles_outline() -> None:
    face = make_face(BASE, 0.02, (7.0, 21.0))
    plain = flatten(BASE, 0.02, (7.0, 21.0))
    assert np.array_equal(face.outline.points, plain.points)
    assert np.array_equal(face.d, plain.points[:, 0])
    assert np.array_equal(face.h, plain.points[:, 1])
    assert np.abs(np.linalg.norm(face.column_normal, axis=1) - 1).max() < 1e-12
    assert face.column_around.min() == 0.0
    assert face.column_around.max() == pytest.approx(measure(BASE).perimeter)
