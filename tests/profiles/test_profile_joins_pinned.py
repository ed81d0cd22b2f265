"""What a profile is made of: neighbors that are one edge, rounds that end at their turn, gaps, sizes under 1 mm; the
blank and the places of its cuts; a rake that is none."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import get_args

import pytest

from preview.errors import PreviewError
from preview.profiles import Arc, Blank, Edge, Line, Place, Profile, make_profile, measure, raked_section
from preview.profiles.moments import area_and_moments
from preview.profiles.placement import BlankFace, check_blank, set_in_place
from preview.profiles.profile import _one
from preview.units import Unit
from samples import CROWN, block, half_round, quarter_round

IN, OUT = 1 - 4e-4, 1 + 4e-4
Point = tuple[float, float]


def lines(*points: Point) -> list[Edge]:
    return [Line(a, b) for a, b in zip(points, [*points[1:], points[0]], strict=True)]


def refusal(edges: Sequence[Edge], unit: Unit = "mm") -> str:
    with pytest.raises(PreviewError) as refused:
        make_profile("refused", edges, unit=unit)
    return refused.value.problems[0].problem


# Neighbors that are one edge.


def test_short_lines_in_one_line_are_joined() -> None:
    """Also where the first two are 0.02 mm long."""
    board = [(0, 0), (20, 0), (20, 0.02), (20, 0.04), (20, 0.06), (20, 40), (0, 40)]
    assert make_profile("board", lines(*board)).edges == block().edges


@pytest.mark.parametrize("scale", [0.001, 1.0, 100.0])
def test_a_point_within_a_millionth_of_a_micrometer_of_a_slope_is_no_corner(scale: float) -> None:
    """Three, four, five: half way up a slope, off it by so much square to it."""
    for off, corners in ((0.5e-9, 3), (-0.5e-9, 3), (3e-9, 4), (-3e-9, 4)):
        whole: list[Point] = [(0, 0), (30 * scale, 40 * scale)]
        middle = (15 * scale + 0.8 * off, 20 * scale - 0.6 * off)
        first, second = Line(whole[0], middle), Line(middle, whole[1])
        assert (_one(first, second) == Line(*whole)) == (corners == 3)


def test_short_arcs_of_one_circle_are_joined() -> None:
    """Ninety of a degree each, which for 1 mm is 0.017 mm long, and three of a hundredth of a radian."""
    for radius, count, sweep in ((1.0, 90, math.pi / 180), (40.0, 3, 0.01)):
        ends = [(10 + radius * math.cos(k * sweep), 50 + radius * math.sin(k * sweep)) for k in range(count + 1)]
        arcs: list[Edge] = [Arc(a, b, (10.0, 50.0), sweep) for a, b in pairwise(ends)]
        foot, top = lines((0, 0), (ends[0][0], 0.0), ends[0])[:2], lines(ends[-1], (0, ends[-1][1]), (0, 0))[:2]
        (arc,) = (edge for edge in make_profile("round", [*foot, *arcs, *top]).edges if isinstance(edge, Arc))
        assert arc.sweep == pytest.approx(count * sweep, rel=1e-12)


def test_circles_are_one_within_a_millionth_of_a_micrometer_or_of_their_radius_over_1_m() -> None:
    for radius, near in ((5.0, 1e-9), (999.0, 1e-9), (5000.0, 5e-9)):
        end = (radius * math.cos(0.1), radius * math.sin(0.1))
        far = (radius * math.cos(0.2), radius * math.sin(0.2))
        before = Arc((radius, 0.0), end, (0.0, 0.0), 0.1)
        for off, one in ((near * IN, True), (near * OUT, False)):
            after = Arc(end, far, (-off * math.sin(0.1), off * math.cos(0.1)), 0.1)
            assert (_one(before, after) is not None) == one
        assert _one(before, replace(before, start=end, end=far, sweep=-0.1)) is None


def test_two_beads_of_one_radius_stay_two() -> None:
    upper, lower = Arc((0.0, 20.0), (0.0, 40.0), (0.0, 30.0), math.pi), Arc((0, 0), (0, 20), (0, 10), math.pi)
    moved = [edge.moved(8.0, 0.0) for edge in (lower, upper)]
    edges: list[Edge] = [Line((0, 0), (8, 0)), *moved, Line((8, 40), (0, 40)), Line((0, 40), (0, 0))]
    made = make_profile("beads", edges)
    assert [edge.radius for edge in made.edges if isinstance(edge, Arc)] == [10.0, 10.0]
    assert measure(made).area == pytest.approx(320.0 + 100.0 * math.pi, rel=1e-12)


def test_two_halves_of_a_circle_are_no_edge() -> None:
    halves = [Arc((10, 0), (-10, 0), (0, 0), math.pi), Arc((-10, 0), (10, 0), (0, 0), math.pi)]
    assert _one(halves[0], halves[1]) is None
    assert "has no back" in refusal([half.moved(10.0, 0.0) for half in halves])


def test_a_half_round_begun_in_the_middle_of_its_back_has_two_edges() -> None:
    line, arc = half_round().edges[1], half_round().edges[0]
    middle = (0.0, 7.0)
    assert make_profile("half", [Line(middle, line.end), arc, Line(line.start, middle)]).edges == (arc, line)


# Rounds that end a hair past their turn.


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("past", [1e-4, 2.5e-6])
@pytest.mark.parametrize("radius", [8.0, 1.0])
def test_a_round_that_begins_or_ends_a_hair_past_plumb_is_one_that_does_not(
    radius: float, past: float, mirrored: bool
) -> None:
    """A quarter round on a board, its foot so little below its center that it starts by going out: the arc between the
    same ends that starts plumb turns by twice that less. Upside down it is the end that is past its turn."""
    sweep = math.pi / 2 - 0.3 + past
    center = (5.0, 10.0)
    foot = (5.0 + radius * math.cos(past), 10.0 - radius * math.sin(past))
    end = (5.0 + radius * math.cos(sweep - past), 10.0 + radius * math.sin(sweep - past))
    corners = lines((0, 0), (foot[0], 0), foot)[:2], lines(end, (0, end[1]), (0, 0))[:2]
    edges: list[Edge] = [*corners[0], Arc(foot, end, center, sweep), *corners[1]]
    if mirrored:

        def over(at: Point) -> Point:
            return (at[0], 40.0 - at[1])

        edges = [
            Arc(over(e.end), over(e.start), over(e.center), e.sweep)
            if isinstance(e, Arc)
            else Line(over(e.end), over(e.start))
            for e in reversed(edges)
        ]
    (arc,) = (edge for edge in make_profile("rounded", edges).edges if isinstance(edge, Arc))
    assert arc.sweep == pytest.approx(sweep - 2 * past, abs=past / 100)
    plumb = arc.end if mirrored else arc.start
    assert arc.center[1] == pytest.approx(plumb[1], abs=1e-9)


@pytest.mark.parametrize("degrees", [30.0, 45.0, 60.0, 120.0])
def test_a_round_that_ends_a_hair_past_another_angle_is_left(degrees: float) -> None:
    sweep = math.radians(degrees) + 1e-4
    end = (20.0 + 8.0 * math.cos(sweep), 10.0 + 8.0 * math.sin(sweep))
    arc = Arc((28.0, 10.0), end, (20.0, 10.0), sweep)
    made = make_profile("round", [*lines((0, 0), (28, 0), (28, 10))[:2], arc, *lines(end, (0, end[1]), (0, 0))[:2]])
    assert arc in made.edges


# Sizes, gaps and arcs that are none.


def test_what_is_exactly_at_a_limit_is_within_it() -> None:
    """A gap of a millionth of a micrometer, a back as far off the wall, an edge of a thousandth, a radius of 1 km."""
    closed = make_profile("closed", [*block().edges[:3], Line((0.0, 40.0), (0.0, 1e-9))])
    assert [edge.end for edge in closed.edges[:3]] == [edge.end for edge in block().edges[:3]]
    off = [(1e-9, 0.0), (20.0, 0.0), (20.0, 40.0), (1e-9, 40.0)]
    assert make_profile("off", lines(*off)).edges == block().edges
    sharp: list[Point] = [(0, 0), (20, 0), (1e-6, 40), (0, 40)]
    assert len(make_profile("sharp", lines(*sharp)).edges) == 4
    for radius, sound in ((1e6, True), (1e6 * OUT, False)):
        center, sweep = (20.0 - radius, 10.0), 1e-5
        end = (center[0] + radius * math.cos(sweep), 10.0 + radius * math.sin(sweep))
        arc = Arc((20.0, 10.0), end, center, sweep)
        board = [*lines((0, 0), (20, 0), arc.start)[:2], arc, *lines(arc.end, (0, arc.end[1]), (0, 0))[:2]]
        assert arc.radius == radius
        if sound:
            assert arc in make_profile("nearly flat", board).edges
        else:
            assert "does not fit its center" in refusal(board)


def test_a_point_10_m_away_is_the_last_one() -> None:
    assert measure(block(1e4, 1e4)).area == 1e8


def test_an_arris_rounded_by_half_a_micrometer() -> None:
    r = 5e-4
    arc = Arc((20.0, 40.0 - r), (20.0 - r, 40.0), (20.0 - r, 40.0 - r), math.pi / 2)
    made = make_profile("eased", [*lines((0, 0), (20, 0), arc.start)[:2], arc, *lines(arc.end, (0, 40), (0, 0))[:2]])
    assert measure(made).area == pytest.approx(800.0 - (1 - math.pi / 4) * r * r, rel=1e-14)
    assert len(made.edges) == 5


@pytest.mark.parametrize("hand", [1.0, -1.0])
def test_an_arc_of_no_turn_or_of_more_than_one_does_not_fit(hand: float) -> None:
    board = list(block().edges)
    center = (15.0, 40.0)
    for end, sweep in ((board[1].end, 0.0), (board[1].end, 2 * math.pi), ((15.0, 40.0 + hand * 5.0), 2.5 * math.pi)):
        arc = Arc(board[1].end, end, center, hand * sweep)
        assert "does not fit its center" in refusal([*board[:2], arc, Line(end, (0, 40)), board[3]])


@pytest.mark.parametrize(
    ("gap", "unit", "said"),
    [
        (0.02, "in", "0.02 mm"),
        (0.05 * IN, "ft", "0.05 mm"),
        (0.05 * OUT, "in", 'about 0.002"'),
        (25.4 / 8, "in", '1/8"'),
        (0.0004, "mm", "0.0004 mm"),
        (2.5, "mm", "2.5 mm"),
    ],
)
def test_a_gap_is_told_in_the_unit_that_shows_it(gap: float, unit: Unit, said: str) -> None:
    edges = [*block().edges[:3], Line((0.0, 40.0), (0.0, gap))]
    assert f"and goes on {said} away, at " in refusal(edges, unit)


# The blank.


@pytest.mark.parametrize("key", ["width", "thickness"])
def test_the_limits_of_a_blank_are_blanks(key: str) -> None:
    for size in (0.1, 10_000.0):
        check_blank(Blank(**{"width": 50.0, "thickness": 20.0, key: size}))
    for size, said in ((math.inf, "inf"), (math.nan, "nan"), (0.06, 'about 0.002"')):
        with pytest.raises(PreviewError) as refused:
            check_blank(Blank(**{"width": 50.0, "thickness": 20.0, key: size}), "in")
        assert refused.value.problems[0].problem == f"the {key} of the blank is {said}"


AWAY: dict[BlankFace, Callable[[Point], float]] = {
    "face": lambda at: 20.0 - at[0],
    "back": lambda at: at[0],
    "top": lambda at: 50.0 - at[1],
    "foot": lambda at: at[1],
}
"""How far within each face of a blank 50 by 20 a point lies."""


@pytest.mark.parametrize("face", get_args(BlankFace))
@pytest.mark.parametrize("by", get_args(BlankFace))
@pytest.mark.parametrize("center", [None, 6.0])
def test_a_cut_set_in_place_keeps_its_way_round_and_its_depths(
    face: BlankFace, by: BlankFace, center: float | None
) -> None:
    """A half round with a flat side, from 0.5 to 2.5 mm aside and 3 mm deep: every end lies as deep in the one face,
    and as far from the other, as it was drawn, and the wood is still on its left."""
    if (face in ("face", "back")) == (by in ("face", "back")):
        return
    arc = Arc((1.0, 0.0), (1.0, 3.0), (1.0, 1.5), math.pi)
    drawn: list[Edge] = [arc, *lines((1, 3), (0.5, 3), (0.5, 0), (1, 0))[:3]]
    placed = set_in_place(drawn, Place(face, by, center), Blank(50.0, 20.0))
    assert area_and_moments(placed)[0] == pytest.approx(1.5 + 1.125 * math.pi, rel=1e-12)
    assert all(edge.end == after.start for edge, after in zip(placed, [*placed[1:], placed[0]], strict=True))
    found = sorted((round(AWAY[by](edge.start), 9), round(AWAY[face](edge.start), 9)) for edge in placed)
    assert found == sorted((edge.start[0] + (center or 0.0), edge.start[1]) for edge in drawn)
    (moved,) = (edge for edge in placed if isinstance(edge, Arc))
    via = (AWAY[by](moved.via), AWAY[face](moved.via))
    assert via == pytest.approx((2.5 + (center or 0.0), 1.5))


# Rakes.


def test_a_molding_that_neither_climbs_nor_shears_is_as_it_was() -> None:
    for profile in (CROWN, quarter_round(), half_round()):
        assert raked_section(profile, 0.0, 0.0) == (Profile(f"{profile.name}, raked", profile.edges), 0.0)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_climb_of_80_degrees_is_the_steepest(side: float) -> None:
    made, strays = raked_section(block(20.0, 400.0), side * math.tan(math.radians(80)), 0.0)
    assert measure(made).h_max == pytest.approx(400.0 * math.cos(math.radians(80)), rel=1e-12)
    assert strays == 0.0
