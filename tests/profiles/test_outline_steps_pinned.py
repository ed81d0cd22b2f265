"""The points of a flattened outline, each where plane geometry puts it: steps along arcs, and levels across edges."""

from __future__ import annotations

import cmath
import math
import warnings
from collections.abc import Sequence

import numpy as np
import pytest

from preview.profiles import Arc, Edge, Line, Profile, flatten
from preview.profiles.outline import FINEST
from samples import half_round, quarter_round

CENTER = complex(37.25, -81.5)
YIELD = 0.1
"""What a plain point keeps clear of a level's, in steps."""


def sector(radius: float, first: float, sweep: float) -> Profile:
    """Two spokes and the arc between them, which turns by `sweep` from the direction `first`."""
    center = (CENTER.real, CENTER.imag)
    ends = [CENTER + cmath.rect(radius, angle) for angle in (first, first + sweep)]
    start, end = ((at.real, at.imag) for at in ends)
    return Profile("sector", (Line(center, start), Arc(start, end, center, sweep), Line(end, center)))


def parts_of_the_arc(profile: Profile, chord: float, levels: Sequence[float] = ()) -> list[float]:
    """Where the outline has points on the arc of a sector, in parts of its sweep, the end included."""
    arc = profile.edges[1]
    assert isinstance(arc, Arc)
    points = [complex(d, h) for d, h in flatten(profile, chord, levels).points.tolist()]
    on = [at for at in points if abs(abs(at - CENTER) - arc.radius) < 1e-9]
    turned = [cmath.phase((at - CENTER) / (complex(*arc.start) - CENTER)) * math.copysign(1, arc.sweep) for at in on]
    return [(angle + 1e-9) % (2 * math.pi) / abs(arc.sweep) for angle in turned]


def widest(radius: float, chord: float) -> float:
    """The angle whose chord lies `chord` within the round: chord = r (1 - cos(angle / 2)); 45 degrees at most."""
    return min(math.pi / 4, 2 * math.acos(max(-1.0, 1 - chord / radius)))


@pytest.mark.parametrize("sweep", [1.5, -1.5, 4.4, -4.4])
@pytest.mark.parametrize(("radius", "chord"), [(10.0, 0.02), (0.4, 0.004), (400.0, 0.05), (10.0, 2.0), (1.0, 30.0)])
def test_an_arc_takes_the_fewest_steps_within_the_tolerance(radius: float, chord: float, sweep: float) -> None:
    steps = math.ceil(abs(sweep) / widest(radius, chord))
    found = parts_of_the_arc(sector(radius, 0.8, sweep), chord)
    assert found == pytest.approx(np.arange(steps + 1) / steps, abs=1e-7)


@pytest.mark.parametrize("at", [(0.31,), (0.013,), (0.0003,), (0.893, 0.957), (0.05, 0.4, 0.41, 0.62), (0.29, 0.365)])
@pytest.mark.parametrize("first", [0.3, 2.2, 4.0, 5.6])
@pytest.mark.parametrize("sweep", [1.4, -1.4, 5.2, -5.2])
def test_plain_points_give_way_to_levels(sweep: float, first: float, at: tuple[float, ...]) -> None:
    """Where a level crosses the round, so many steps as stay within the tolerance when each grows by a tenth at both
    ends; a plain point within a tenth of a step of a crossing is left out."""
    radius, chord = 10.0, 0.03
    levels = [CENTER.real + radius * math.cos(first + part * sweep) for part in at]
    crossings = []
    for level in levels:
        for angle in (math.acos((level - CENTER.real) / radius), -math.acos((level - CENTER.real) / radius)):
            part = math.copysign(1, sweep) * (angle - first) % (2 * math.pi) / abs(sweep)
            crossings += [part] * (part < 1)
    assert len(crossings) >= len(at)
    steps = math.ceil(abs(sweep) / (widest(radius, chord) / (1 + 2 * YIELD)))
    plain = [k / steps for k in range(1, steps) if min(abs(k / steps - one) for one in crossings) > YIELD / steps]
    found = parts_of_the_arc(sector(radius, first, sweep), chord, levels)
    assert found == pytest.approx(sorted([0.0, 1.0, *plain, *crossings]), abs=1e-7)
    gaps = np.diff(found) * abs(sweep)
    assert (radius * (1 - np.cos(gaps / 2))).max() <= chord


def test_a_tenth_of_a_step_from_a_level_a_plain_point_stands() -> None:
    """On a quarter turn in twelve steps, a level so far before and after the fifth and the eighth point."""
    sweep = math.pi / 2
    chord = 10.0 * (1 - math.cos(sweep / 12 * (1 + 2 * YIELD) / 2)) * 1.001
    for off, stands in ((YIELD * (1 - 4e-4), False), (YIELD * (1 + 4e-4), True)):
        for k in (5, 8):
            for part in ((k - off) / 12, (k + off) / 12):
                level = CENTER.real + 10.0 * math.cos(0.3 + part * sweep)
                found = parts_of_the_arc(sector(10.0, 0.3, sweep), chord, [level])
                expected = sorted({*(n / 12 for n in range(13) if stands or n != k), part})
                assert found == pytest.approx(expected, abs=1e-7)


def test_the_finest_tolerance_there_is() -> None:
    """On a radius of 100 mm that takes thousands of steps, and every point lies on the round."""
    outline = flatten(quarter_round(100.0), FINEST)
    away = np.hypot(*outline.points[1:-1].T)
    assert len(outline.points) == 2 + math.ceil(math.pi / 2 / widest(100.0, FINEST))
    assert away == pytest.approx(np.full(len(away), 100.0), abs=1e-9)


@pytest.mark.parametrize("levels", [(), (0.7, 1.9)])
def test_ends_of_edges_far_from_their_centers_are_points_bit_for_bit(levels: tuple[float, ...]) -> None:
    random = np.random.default_rng(11)
    for d, h, out in random.uniform(0.0, 0.5, (25, 3)).tolist():
        center, end = (d - 90.0, h), (d - 90.0, h + 90.0)
        arc = Arc((d, h), end, center, math.pi / 2)
        profile = Profile("far", (Line(end, (d + 3.0 + out, h + 90.0)), Line((d + 3.0 + out, h + 90.0), (d, h)), arc))
        points = {(d, h) for d, h in flatten(profile, 0.1, levels).points.tolist()}
        assert {edge.start for edge in profile.edges} <= points


@pytest.mark.parametrize("flip", [1.0, -1.0])
@pytest.mark.parametrize("at", [(0.0, 0.0), (3.25, -7.5)])
def test_where_levels_cross_lines(at: tuple[float, float], flip: float) -> None:
    """A slope of 1 in 2 and one of -3 in 4."""
    corners = [(0.0, 0.0), (30.0, 0.0), (30.0, 10.0), (10.0, 20.0), (14.0, 23.0), (0.0, 23.0)]
    placed = [(d + at[0], flip * h + at[1]) for d, h in corners]
    edges: list[Edge] = [Line(a, b) for a, b in zip(placed, [*placed[1:], placed[0]], strict=True)]
    found = flatten(Profile("sloped", tuple(edges)), 0.1, [at[0] + d for d in (24.0, 12.0, 10.0)]).points
    expected = [*corners[:1], (10, 0), (12, 0), (24, 0), *corners[1:3], (24, 13), (12, 19), corners[3], (12, 21.5)]
    expected += [corners[4], (12, 23), (10, 23), corners[5]]
    assert found == pytest.approx(np.array([(d + at[0], flip * h + at[1]) for d, h in expected]), abs=1e-12)


def test_a_level_that_only_touches_a_round_adds_no_second_point() -> None:
    outline = flatten(half_round(10.0), 0.2, [10.0])
    assert len(np.unique(outline.points, axis=0)) == len(outline.points)
    assert np.diff(outline.along).min() > 0.5


def test_ends_a_hair_off_one_of_several_levels_are_put_on_it() -> None:
    corners = [(0.0, 0.0), (20.0, 0.0), (20.0 + 3e-10, 30.0), (7.0 - 2e-10, 40.0), (0.0, 40.0)]
    edges: list[Edge] = [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]
    points = flatten(Profile("hair", tuple(edges)), 0.1, [13.0, 7.0, 20.0]).points
    across = 30.0 + 10.0 * 7 / 13
    expected = [(0, 0), (7, 0), (13, 0), (20, 0), (20, 30), (13, across), (7, 40), (0, 40)]
    assert points[:, 0].tolist() == [d for d, _ in expected]
    assert points == pytest.approx(np.array(expected), abs=1e-8)


@pytest.mark.parametrize("bottom", [True, False])
def test_a_round_that_comes_back_to_the_level_of_its_own_end(bottom: bool) -> None:
    """Three, four, five: the round leaves 33 mm out at its foot and crosses 33 mm out again 8 mm up, or arrives so."""
    sweep = math.atan2(4, 3) + math.pi / 2
    if bottom:
        arc = Arc((33.0, 36.0), (30.0, 45.0), (30.0, 40.0), sweep)
    else:
        arc = Arc((30.0, 35.0), (33.0, 44.0), (30.0, 40.0), sweep)
    foot, top = (0.0, arc.start[1]), (0.0, arc.end[1])
    edges = (Line(foot, arc.start), arc, Line(arc.end, top), Line(top, foot))
    points = {(d, round(h, 9)) for d, h in flatten(Profile("round", edges), 0.05, [33.0]).points.tolist()}
    assert {(33.0, 36.0), (33.0, 44.0)} <= points


@pytest.mark.parametrize("hair", [1e-5, -1e-5])
@pytest.mark.parametrize("turn", [1, -1])
def test_a_round_that_leaves_a_level_at_a_graze_starts_on_it(turn: int, hair: float) -> None:
    """Half a millionth of a micrometer within its crown: where it crosses a level 0.7 millionths deeper, a fifth of a
    micrometer on, is the end over again."""
    ends = [cmath.rect(10.0, turn * hair), cmath.rect(10.0, turn * 1.5)]
    start, end = ((at.real, 50.0 + at.imag) for at in ends)
    arc: Edge = Arc(start, end, (0.0, 50.0), turn * (1.5 - hair))
    edges = [Line((0.0, start[1]), start), arc, Line(end, (0.0, end[1])), Line((0.0, end[1]), (0.0, start[1]))]
    if turn < 0:
        edges = [edge.reversed() for edge in reversed(edges)]
    level = 10.0 - 1.2e-9
    outline = flatten(Profile("round", tuple(edges)), 0.05, [level])
    assert (outline.points[:, 0] == level).sum() == 1
    assert np.hypot(*np.diff(outline.points, axis=0).T).min() > 0.1


def test_levels_across_rounds_on_a_plumb_or_level_chord_are_found_in_silence() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for profile in (half_round(10.0), quarter_round(10.0)):
            assert (flatten(profile, 0.05, [4.0]).points[:, 0] == 4.0).sum() == 2
