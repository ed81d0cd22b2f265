"""Flattening: what its docstring promises, on profiles at random and on cases with known answers."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from preview.errors import PreviewError
from preview.profiles import (
    Arc,
    Line,
    Outline,
    Profile,
    Shape,
    flatten,
    make_profile,
    measure,
    sketch,
)
from random_profiles import sampled, sketched

Floats = NDArray[np.float64]

BASE = sketch(
    "base",
    30.0,
    [
        Shape("fillet", 40.0),
        Shape("fillet", out=-6),
        Shape("fillet", 2.0),
        Shape("bead", 8.0),
        Shape("ogee", 12.0, -9.0),
    ],
)
ROUND = make_profile(
    "quarter round",
    [Line((0, 0), (10, 0)), Arc((10, 0), (0, 10), (0, 0), math.pi / 2), Line((0, 10), (0, 0))],
)

chords = st.floats(0.001, 2.0)


@st.composite
def levelled(draw: st.DrawFn) -> tuple[Profile, list[float]]:
    """A profile and levels across it: at its corners, a hair beside them, and anywhere."""
    profile = draw(sketched())
    d_max = measure(profile).d_max
    corner = st.sampled_from([edge.start[0] for edge in profile.edges])
    hair = st.builds(lambda d, by: d + by, corner, st.sampled_from([1e-13, -1e-12, 1e-10, -1e-7, 1e-4]))
    level = st.one_of(corner, hair, st.floats(0.01, d_max))
    levels = sorted(draw(st.lists(level, max_size=8)))
    apart = [b for a, b in pairwise([-1.0, *levels]) if b - a > 1e-8]
    return profile, draw(st.permutations(apart))


def places(outline: Outline, profile: Profile) -> tuple[NDArray[np.int64], Floats]:
    """For each point the edge it starts or lies on, and how far along that edge it is, from `along`."""
    ends = np.cumsum([0.0] + [edge.length for edge in profile.edges])
    edge = np.searchsorted(ends, outline.along[:-1] + 1e-10, side="right") - 1
    return edge, outline.along[:-1] - ends[edge]


@settings(max_examples=50)
@given(levelled(), chords)
def test_every_point_lies_on_its_edge(case: tuple[Profile, list[float]], chord: float) -> None:
    profile, levels = case
    outline = flatten(profile, chord, levels)
    for number, (edge, far) in enumerate(zip(*places(outline, profile), strict=True)):
        d, h = outline.points[number].tolist()
        on = profile.edges[edge]
        part = far / on.length
        if isinstance(on, Arc):
            assert math.dist((d, h), on.center) == pytest.approx(on.radius, abs=2e-9)
            angle = math.atan2(on.start[1] - on.center[1], on.start[0] - on.center[0]) + part * on.sweep
            exact = (on.center[0] + on.radius * math.cos(angle), on.center[1] + on.radius * math.sin(angle))
            # A level point near the circle's turn is exact in d; its place along the arc is known less well.
            assert (d, h) == pytest.approx(exact, abs=1e-6)
        else:
            exact = tuple(a + part * (b - a) for a, b in zip(on.start, on.end, strict=True))
            assert (d, h) == pytest.approx(exact, abs=2e-9)


@settings(max_examples=50)
@given(levelled(), chords)
def test_no_arc_strays_from_its_chord(case: tuple[Profile, list[float]], chord: float) -> None:
    profile, levels = case
    outline = flatten(profile, chord, levels)
    edge, far = places(outline, profile)
    for number, on in enumerate(profile.edges):
        if isinstance(on, Arc):
            stops = np.append(far[edge == number], on.length)
            spans = np.diff(stops) / on.radius
            rise = on.radius * (1 - np.cos(spans / 2))  # of an arc over its chord, by geometry
            assert rise.max() <= chord + 1e-9
            assert spans.max() <= math.pi / 4 * (1 + 1e-9)


@settings(max_examples=50)
@given(sketched(), st.floats(0.005, 1.0))
def test_the_chord_error_as_sampled(profile: Profile, chord: float) -> None:
    """The same promise by another road: how far many points of the exact outline are from the polygon."""
    ring = shapely.LinearRing(flatten(profile, chord).points)
    far = shapely.distance(ring, shapely.points(sampled(profile.edges, 0.2)))
    assert far.max() <= chord * (1 + 1e-6)


@settings(max_examples=50)
@given(sketched(), chords)
def test_ends_of_edges_are_points(profile: Profile, chord: float) -> None:
    points = set(map(tuple, flatten(profile, chord).points.tolist()))
    assert {edge.start for edge in profile.edges} <= points


@settings(max_examples=50)
@given(levelled(), chords)
def test_levels_are_met_bit_for_bit(case: tuple[Profile, list[float]], chord: float) -> None:
    profile, levels = case
    outline = flatten(profile, chord, levels)
    fine = sampled(profile.edges, 0.05)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(fine, axis=0, append=fine[:1]).T))])
    along *= outline.along[-1] / along[-1]
    for level in levels:
        on = outline.along[:-1][outline.points[:, 0] == level]
        d = np.append(fine[:, 0], fine[0, 0])
        for i in np.flatnonzero((d[:-1] < level - 1e-6) & (d[1:] > level + 1e-6)).tolist():
            assert np.any((on > along[i] - 0.1) & (on < along[i + 1] + 0.1)), (level, along[i])


@settings(max_examples=50)
@given(levelled(), chords)
def test_the_way_round(case: tuple[Profile, list[float]], chord: float) -> None:
    profile, levels = case
    outline = flatten(profile, chord, levels)
    n = len(outline.points)
    assert outline.along.shape == (n + 1,)
    assert outline.along[0] == 0.0
    assert outline.along[-1] == pytest.approx(measure(profile).perimeter, rel=1e-14)
    assert np.all(np.diff(outline.along) > 0)
    assert len(np.unique(outline.points, axis=0)) == n
    x, y = outline.points.T
    assert np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) > 0  # counter-clockwise
    # A chord is never longer than what it cuts off.
    steps = np.hypot(*(np.roll(outline.points, -1, axis=0) - outline.points).T)
    assert np.all(steps <= np.diff(outline.along) + 2e-9)


@settings(max_examples=50)
@given(sketched())
def test_a_fine_outline_is_a_simple_polygon(profile: Profile) -> None:
    """No profile that `make_profile` lets pass crosses itself, says shapely."""
    assert shapely.Polygon(flatten(profile, 1e-4).points).is_valid


@settings(max_examples=50)
@given(levelled(), chords)
def test_tangents_are_the_edges(case: tuple[Profile, list[float]], chord: float) -> None:
    profile, levels = case
    outline = flatten(profile, chord, levels)
    edge, far = places(outline, profile)
    ahead = np.array([profile.edges[e].tangent(f / profile.edges[e].length) for e, f in zip(edge, far, strict=True)])
    assert outline.tangent_out == pytest.approx(ahead, abs=1e-6)
    starts = np.abs(far) < 1e-9
    last = np.array([profile.edges[e - 1].tangent(1.0) for e in edge[starts]])
    assert outline.tangent_in[starts] == pytest.approx(last, abs=1e-9)
    assert np.array_equal(outline.tangent_in[~starts], outline.tangent_out[~starts])
    assert np.hypot(*outline.tangent_in.T) == pytest.approx(np.ones(len(far)), abs=1e-12)
    apart = np.degrees(np.arccos(np.clip((outline.tangent_in * outline.tangent_out).sum(axis=1), -1, 1)))
    clear = np.abs(apart - 2) > 1e-3
    assert np.array_equal(outline.arris[clear], apart[clear] > 2)


def test_a_quarter_round_in_four_steps() -> None:
    """Steps of 22.5 degrees rise r (1 - cos 11.25°) over their chords."""
    outline = flatten(ROUND, 10 * (1 - math.cos(math.pi / 16)))
    angles = np.arange(5) * math.pi / 8
    arc = 10 * np.column_stack([np.cos(angles), np.sin(angles)])
    assert outline.points == pytest.approx(np.concatenate([[[0, 0]], arc]), abs=1e-14)
    assert outline.along == pytest.approx([0, *(10 + 10 * angles), 20 + 5 * math.pi], abs=1e-13)
    assert outline.arris.tolist() == [True, True, False, False, False, True]
    assert outline.tangent_in[1] == pytest.approx([1, 0], abs=1e-15)
    assert outline.tangent_out[1] == pytest.approx([0, 1], abs=1e-15)
    assert outline.tangent_in[-1] == pytest.approx([-1, 0], abs=1e-15)


def test_a_smooth_joint_is_no_arris() -> None:
    """The two arcs of an ogee, and the level step that runs on into a bead, meet without an edge."""
    rail = sketch("rail", 20.0, [Shape("fillet", out=4.0), Shape("bead", 6.0), Shape("reverse-ogee", 9.0, -6.0)])
    outline = flatten(rail, 0.01)
    arrises = {tuple(point) for point in outline.points[outline.arris].tolist()}
    assert arrises == {(0.0, 0.0), (24.0, 6.0), (18.0, 15.0), (0.0, 15.0)}


def test_levels_on_a_quarter_round() -> None:
    outline = flatten(ROUND, 0.05, [8.0, 6.0, 0.0, 10.0, 11.0])
    for level, heights in ((6.0, [0.0, 8.0]), (8.0, [0.0, 6.0]), (10.0, [0.0]), (11.0, [])):
        found = sorted(outline.points[outline.points[:, 0] == level, 1].tolist())
        assert found == pytest.approx(heights, abs=1e-14)
    assert flatten(ROUND, 0.05, [0.0, 10.0, 11.0]).points.shape == flatten(ROUND, 0.05).points.shape


def test_a_point_close_to_a_level_gives_way_to_it() -> None:
    """So the shortest step is a tenth of a plain one, and the longest a plain one and two tenths."""
    plain = flatten(ROUND, 0.01, [1.0])
    for aside in (1e-6, -1e-6, 0.05, -0.05):
        near = float(plain.points[8, 0]) + aside
        outline = flatten(ROUND, 0.01, [near])
        assert near in outline.points[:, 0]
        steps = np.diff(outline.along[:-1][outline.points[:, 1] > 0])
        assert steps.min() > steps.max() / 12


def test_a_level_beside_the_foot_of_a_taper() -> None:
    """The taper's foot is on the level but for rounding, so no second point is set a hair above it."""
    taper = make_profile(
        "taper",
        [
            Line((0, 0), (10, 0)),
            Line((10, 0), (10.001, 50)),
            Line((10.001, 50), (0, 50)),
            Line((0, 50), (0, 0)),
        ],
    )
    outline = flatten(taper, 0.05, [10 + 5e-10])
    assert sorted(outline.points[outline.points[:, 0] == 10 + 5e-10, 1].tolist()) == [0.0, 50.0]


def test_an_end_a_hair_off_a_level_is_put_on_it() -> None:
    level = 24.0 + 1e-12
    outline = flatten(BASE, 0.05, [level])
    assert level in outline.points[:, 0]
    assert 24.0 not in outline.points[:, 0]
    gaps = np.hypot(*(np.roll(outline.points, -1, axis=0) - outline.points).T)
    assert gaps.min() > 0.1


def test_levels_on_top_of_one_another_count_once() -> None:
    one, two = flatten(BASE, 0.05, [10.0]), flatten(BASE, 0.05, [10.0, 10.0 + 1e-10, 10.0])
    assert one.points.tobytes() == two.points.tobytes()


def test_a_bead_stays_round_however_coarse() -> None:
    """No step turns more than 45 degrees, so a half round has at least four."""
    outline = flatten(sketch("bead", 10.0, [Shape("bead", 2.0)]), 1000.0)
    assert len(outline.points) == 3 + 4


def test_the_same_profile_gives_the_same_bytes() -> None:
    one, two = flatten(BASE, 0.02, [5.0, 25.0]), flatten(BASE, 0.02, [25.0, 5.0, 5.0])
    assert one.points.tobytes() == two.points.tobytes()
    assert one.along.tobytes() == two.along.tobytes()


@pytest.mark.parametrize("chord", [0.0, -0.1, 1e-9, math.nan, math.inf])
def test_a_tolerance_that_is_none_is_refused(chord: float) -> None:
    with pytest.raises(PreviewError) as caught:
        flatten(BASE, chord)
    assert str(caught.value) == (f"  a chord tolerance of {chord:g} mm is no use\n  fix: use at least 1e-06 mm")
