"""`make_profile`: what it joins, how it orders, and every outline that it refuses."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Line, Point, Profile, arc_of_sweep, make_profile, measure
from preview.profiles.contact import first_contact
from random_profiles import sampled, sketched


def loop(*points: Point) -> list[Edge]:
    """A closed loop of lines through points."""
    return [Line(a, b) for a, b in zip(points, [*points[1:], points[0]], strict=True)]


BOARD = loop((0, 0), (10, 0), (10, 50), (0, 50))


def message(edges: Sequence[Edge], **options: str) -> str:
    with pytest.raises(PreviewError) as caught:
        make_profile("wrong", edges, **options)  # type: ignore[arg-type]
    (problem,) = caught.value.problems
    assert problem.place == ""
    assert problem.value is None
    return str(caught.value)


# What it makes.


def test_a_board() -> None:
    board = make_profile("board", BOARD)
    assert board == Profile("board", tuple(BOARD))
    assert all(isinstance(number, float) for edge in board.edges for number in (*edge.start, *edge.end))


def test_clockwise_is_turned_round() -> None:
    assert make_profile("board", [edge.reversed() for edge in reversed(BOARD)]) == make_profile("board", BOARD)


@pytest.mark.parametrize("first", range(4))
def test_the_way_round_starts_at_the_foot_of_the_back(first: int) -> None:
    assert make_profile("board", BOARD[first:] + BOARD[:first]).edges == tuple(BOARD)


def test_a_relieved_back_starts_at_its_lowest_land() -> None:
    edges = loop((2, 20), (0, 20), (0, 5), (10, 5), (10, 50), (0, 50), (0, 40), (2, 40))
    profile = make_profile("relieved", edges)
    assert profile.edges[0] == Line((0, 5), (10, 5))
    assert measure(profile).area == 10 * 45 - 2 * 20


def test_lines_in_one_line_are_joined_across_the_start_too() -> None:
    edges = loop((0, 10), (0, 5), (0, 0), (4, 0), (10, 0), (10, 20), (10, 21), (10, 50), (0, 50), (0, 30))
    assert make_profile("board", edges).edges == tuple(BOARD)


def test_arcs_of_one_circle_are_joined() -> None:
    third = math.pi / 6
    corners = [(10 * math.cos(k * third), 10 * math.sin(k * third)) for k in range(4)]
    arcs: list[Edge] = [Arc(a, b, (0.0, 0.0), third) for a, b in pairwise(corners)]
    profile = make_profile("round", [Line((0, 0), corners[0]), *arcs, Line(corners[3], (0, 0))])
    assert len(profile.edges) == 3
    joined = profile.edges[1]
    assert isinstance(joined, Arc)
    assert joined.sweep == pytest.approx(math.pi / 2, abs=1e-15)


def test_arcs_of_other_circles_and_lines_with_a_bend_are_left() -> None:
    edges: list[Edge] = [
        Line((0, 0), (10, 0)),
        Line((10, 0), (10.001, 20)),
        Line((10.001, 20), (10, 40)),
        arc_of_sweep((10, 40), (8, 44), 0.5),
        arc_of_sweep((8, 44), (5, 47), 0.2),
        Line((5, 47), (0, 47)),
        Line((0, 47), (0, 0)),
    ]
    assert len(make_profile("bent", edges).edges) == 7


@pytest.mark.parametrize("past", [0.0011, -0.0011, 0.01])
def test_an_arc_that_is_a_hair_past_its_crown_ends_there(past: float) -> None:
    """By hand: the circle through two points whose center is right under the second, in by a and up by b of the first,
    has a radius of (a² + b²) / 2b. An arc that ends before its crown, or well past it, is meant as it is."""
    radius, sweep = 1.6, math.pi / 2 + past
    start = (2.6, 5.0)
    end = (start[0] - radius + radius * math.cos(sweep), start[1] + radius * math.sin(sweep))
    round_off = Arc(start, end, (start[0] - radius, start[1]), sweep)
    edges = [
        Line((0, 0), (2.6, 0)),
        Line((2.6, 0), start),
        round_off,
        Line(end, (0, end[1])),
        Line((0, end[1]), (0, 0)),
    ]
    made = make_profile("rounded", edges)
    arc = next(edge for edge in made.edges if isinstance(edge, Arc))
    assert (arc.start, arc.end) == (start, end)
    if past != 0.0011:
        assert arc == round_off
        return
    a, b = start[0] - end[0], end[1] - start[1]
    assert round_off.bounds[3] > end[1] + 9e-7
    assert arc.radius == pytest.approx((a * a + b * b) / (2 * b), rel=1e-12)
    assert arc.center[0] == pytest.approx(end[0], abs=1e-12)
    assert measure(made).h_max == end[1]


def test_ends_that_nearly_meet_are_made_one_point() -> None:
    edges = [*BOARD[:2], Line((10, 50 + 4e-10), (-3e-10, 50)), BOARD[3]]
    for before, after in zip(make_profile("board", edges).edges, make_profile("board", edges).edges[1:], strict=False):
        assert before.end == after.start
    assert make_profile("board", edges).edges[-1] == Line((0, 50), (0, 0))


def test_an_edge_of_no_length_is_dropped() -> None:
    edges = [BOARD[0], Line((10, 0), (10, 0)), *BOARD[1:3], Line((0, 50), (5e-10, 50)), BOARD[3]]
    assert make_profile("board", edges).edges == tuple(BOARD)


@given(sketched())
@settings(max_examples=50)
def test_a_sound_profile_stays_as_it_is(profile: Profile) -> None:
    assert make_profile(profile.name, profile.edges) == profile
    again = make_profile(profile.name, [edge.reversed() for edge in reversed(profile.edges)])
    assert measure(again).area == pytest.approx(measure(profile).area, rel=1e-12)
    assert [edge.start for edge in again.edges] == [edge.start for edge in profile.edges]


class Recorder:
    """A pen that writes down what it is told."""

    def __init__(self) -> None:
        self.told: list[tuple[str, tuple[Point, ...]]] = []

    def start(self, at: Point) -> None:
        self.told.append(("start", (at,)))

    def line(self, to: Point) -> None:
        self.told.append(("line", (to,)))

    def arc(self, via: Point, to: Point) -> None:
        self.told.append(("arc", (via, to)))

    def close(self) -> None:
        self.told.append(("close", ()))


def test_a_pen_is_told_each_edge_once() -> None:
    pen = Recorder()
    make_profile("bead", [Line((0, 8), (0, 0)), Arc((0, 0), (0, 8), (0, 4), math.pi)]).draw(pen)
    (start, arc, line, close) = pen.told
    assert (start, line, close) == (("start", ((0, 0),)), ("line", ((0, 0),)), ("close", ()))
    assert arc[0] == "arc"
    assert arc[1][0] == pytest.approx((4, 4), abs=1e-15)
    assert arc[1][1] == (0, 8)


def test_moving_keeps_the_ends_together() -> None:
    moved = make_profile("board", BOARD).moved(0.1, 0.7)
    assert [edge.end for edge in moved.edges[:-1]] == [edge.start for edge in moved.edges[1:]]
    assert moved.edges[0].start == (0.1, 0.7)


# What it refuses.


def test_an_open_outline() -> None:
    assert message(BOARD[:3]) == (
        "  the outline is open: it stops at 0 mm out, 50 mm up and goes on 50 mm away, at 0 mm out, 0 mm up\n"
        "  fix: let every edge start where the one before it ends, and the last end where the first starts"
    )
    gap = [*BOARD[:2], Line((10, 50.002), (0, 50)), BOARD[3]]
    assert "goes on 0.002 mm away" in message(gap)


def test_too_few_edges() -> None:
    text = "  the outline has {} edges, which enclose nothing\n  fix: draw it once round the wood, and back"
    assert message([]) == text.format(0)
    assert message(BOARD[:1]) == text.format(1)


CROSSES = "  fix: move the edges that meet there apart, so that the outline runs once round the wood"


BULGE = Arc((10, 10), (10, 30), (10, 20), math.pi)
"""A half round that stands out to (20, 20)."""


def joined(*parts: Edge | Point) -> list[Edge]:
    """A closed loop: points are joined by lines, arcs stand between."""
    edges: list[Edge] = []
    first = at = parts[0]
    assert isinstance(first, tuple)
    assert isinstance(at, tuple)
    for part in [*parts[1:], first]:
        to = part if isinstance(part, tuple) else part.start
        if to != at:
            edges.append(Line(at, to))
        if not isinstance(part, tuple):
            edges.append(part)
        at = part if isinstance(part, tuple) else part.end
    return edges


MEETINGS: dict[str, tuple[list[Edge], str]] = {
    "two lines cross": (
        loop((0, 0), (30, 40), (30, 0), (0, 40)),
        "crosses itself at 15 mm out, 20 mm up",
    ),
    "a line crosses an arc": (
        joined((0, 0), (10, 0), BULGE, (10, 40), (15, 40), (15, 5), (40, 5), (40, 60), (0, 60)),
        "crosses itself at 15 mm out, 28.7 mm up",  # 20 + sqrt(10² - 5²)
    ),
    "two arcs cross": (
        joined((0, 0), (10, 0), BULGE, (25, 30), Arc((25, 30), (25, 10), (25, 20), math.pi), (25, -9), (0, -9)),
        "crosses itself at 17.5 mm out, 26.6 mm up",  # 20 + sqrt(10² - 7.5²)
    ),
    "a point touches a line": (
        loop((0, 0), (10, 0), (10, 20), (0, 10), (10, 30), (0, 30)),
        "touches itself at 0 mm out, 10 mm up",
    ),
    "a point touches an arc": (
        joined((0, 0), (10, 0), BULGE, (10, 40), (35, 40), (20, 20), (35, 5), (45, 5), (45, 60), (0, 60)),
        "touches itself at 20 mm out, 20 mm up",
    ),
    "two lines overlap": (
        loop((0, 0), (20, 0), (20, 10), (5, 10), (5, 20), (20, 20), (20, 8), (25, 8), (25, 40), (0, 40)),
        "touches itself at 20 mm out, 10 mm up",
    ),
    "an arc grazes a line": (
        joined((0, 0), (10, 0), BULGE, (10, 40), (20, 40), (20, 5), (40, 5), (40, 60), (0, 60)),
        "touches itself at 20 mm out, 20 mm up",
    ),
    "an arc grazes a line to within rounding": (
        joined((0, 0), (10, 0), BULGE, (10, 40), (20 + 1e-7, 40), (20 + 1e-7, 5), (40, 5), (40, 60), (0, 60)),
        "touches itself at 20 mm out, 20 mm up",
    ),
    "two arcs graze": (
        joined((0, 0), (10, 0), BULGE, (30, 30), Arc((30, 30), (30, 10), (30, 20), math.pi), (30, -9), (0, -9)),
        "touches itself at 20 mm out, 20 mm up",
    ),
    "two arcs of one circle overlap": (
        joined((0, 0), (10, 0), BULGE, Arc((10, 30), (20, 20), (10, 20), -math.pi / 2), (30, 40), (0, 40)),
        "touches itself at 20 mm out, 20 mm up",
    ),
    "two arcs of one circle go round more than once": (
        joined(
            (0, 0),
            (10, 0),
            BULGE,
            Arc((10, 30), (20, 20), (10, 20), 3 * math.pi / 2),
            (30, 20),
            (30, 40),
            (0, 40),
        ),
        "touches itself at 10 mm out, 10 mm up",
    ),
    "a spike": (
        loop((0, 0), (10, 0), (10, 20), (30, 20), (10, 20.0001), (10, 40), (0, 40)),
        "turns straight back on itself at 30 mm out, 20 mm up",
    ),
    "a spike at the start": (
        loop((30, 20), (10, 20.0001), (10, 40), (0, 40), (0, 0), (10, 0), (10, 20)),
        "turns straight back on itself at 30 mm out, 20 mm up",
    ),
    # A circle round (15, -2) through (20, 0) comes back to the level line at (10, 0).
    "an arc comes back over the line before it": (
        joined(
            (0, 0),
            Arc((20, 0), (15, math.sqrt(29) - 2), (15, -2), math.atan2(5, 2) - 2 * math.pi),
            (15, 20),
            (0, 20),
        ),
        "crosses itself at 10 mm out, 0 mm up",
    ),
    # The point (10, 30), mirrored in the line through both centers, (10, 20) and (14, 22), is (18, 14).
    "an arc comes back over the arc before it": (
        joined((0, 0), (10, 0), BULGE, arc_of_sweep((10, 30), (15.0, 13.0), -3.6), (5, 20), (5, 40), (0, 40)),
        "crosses itself at",
    ),
}


@pytest.mark.parametrize("name", MEETINGS)
def test_an_outline_that_meets_itself(name: str) -> None:
    edges, where = MEETINGS[name]
    text = message(edges)
    assert text.startswith(f"  the outline {where}")
    assert text.endswith("\n" + CROSSES)
    assert message([edge.reversed() for edge in reversed(edges)]).splitlines()[1:] == [CROSSES]


def test_the_second_meeting_of_two_arcs_is_a_mirror_image() -> None:
    """The point (10, 30), mirrored in the line through both centers, (10, 20) and (14, 22), is (18, 14)."""
    radius = math.sqrt(80)
    turn = -math.pi - 0.3
    first = math.atan2(8, -4)
    end = (14 + radius * math.cos(first + turn), 22 + radius * math.sin(first + turn))
    edges = joined((0, 0), (10, 0), BULGE, Arc((10, 30), end, (14, 22), turn), (5, 20), (5, 40), (0, 40))
    contact = first_contact(edges)
    assert contact is not None
    assert contact.at == pytest.approx((18, 14), abs=1e-12)
    assert contact.how == "crosses itself"


SOUND: dict[str, list[Edge]] = {
    "a crease where a bead rolls onto a ledge": joined((0, 0), (30, 0), (30, 10), BULGE, (0, 30)),
    "a knife edge where a cove meets its foot": [
        Line((0, 0), (10, 0)),
        Arc((10, 0), (0, 10), (10, 10), -math.pi / 2),
        Line((0, 10), (0, 0)),
    ],
    "a crease between two arcs": joined(
        (0, 0),
        Arc((20, 0), (10, 10), (20, 10), -math.pi / 2),
        Arc((10, 10), (13, 13), (13, 10), 3 * math.pi / 2),
        (13, 30),
        (0, 30),
    ),
    "parts a hundredth of a millimeter apart": joined(
        (0, 0), (10, 0), BULGE, (10, 40), (20.01, 40), (20.01, 5), (40, 5), (40, 60), (0, 60)
    ),
    "two edges": [Line((0, 8), (0, 0)), Arc((0, 0), (0, 8), (0, 4), math.pi)],
}


@pytest.mark.parametrize("name", SOUND)
def test_an_outline_that_only_comes_close(name: str) -> None:
    assert measure(make_profile(name, SOUND[name])).area > 10


@st.composite
def loops(draw: st.DrawFn) -> list[Edge]:
    """Closed loops of lines and arcs, most of which cross; on a coarse grid, so that many touch."""
    place = st.tuples(st.integers(0, 6), st.integers(0, 6))
    corners = [(10.0 * x, 10.0 * y) for x, y in draw(st.lists(place, min_size=3, max_size=6, unique=True))]
    bend = st.sampled_from([0.0, 0.0, 0.5, -0.5, math.pi / 2, -math.pi / 2, math.pi, -math.pi, 4.0, -4.0])
    edges: list[Edge] = []
    for a, b in zip(corners, [*corners[1:], corners[0]], strict=True):
        sweep = draw(bend)
        edges.append(arc_of_sweep(a, b, sweep) if sweep else Line(a, b))
    return edges


@settings(max_examples=300)
@given(loops())
def test_contacts_are_those_of_a_finely_cut_ring(edges: list[Edge]) -> None:
    """Against shapely: a ring is simple where no contact is found, and meets itself at the one that is."""
    contact = first_contact(edges)
    cut = 0.02
    points = sampled(edges, cut)
    ring = shapely.LinearRing(points)
    if contact is None:
        assert ring.is_simple
        return
    if contact.how == "crosses itself":
        assert not ring.is_simple
    near = np.hypot(*(points - np.array(contact.at)).T) < 2 * cut
    assert near.any()
    if contact.how != "turns straight back on itself":
        # Two stretches of the ring pass the point, or one that is as long as two.
        assert np.count_nonzero(near) >= 5


def test_a_profile_behind_the_wall() -> None:
    assert message([edge.moved(-3, 0) for edge in BOARD]) == (
        "  the outline lies partly behind the wall: at 3 mm behind the wall, 0 mm up\n"
        "  fix: move the profile out by 3 mm, so that its back lies on d = 0"
    )


def test_a_curve_behind_the_wall() -> None:
    edges = [*BOARD[:3], arc_of_sweep((0, 50), (0, 30), math.pi), Line((0, 30), (0, 0))]
    assert message(edges) == (
        "  the outline lies partly behind the wall: at 10 mm behind the wall, 40 mm up\n"
        "  fix: move the profile out by 10 mm, so that its back lies on d = 0"
    )


def test_a_profile_without_a_back() -> None:
    fix = "\n  fix: draw a straight back along d = 0"
    lack = "  the profile has no back: no line of at least 1 mm lies on the wall, d = 0"
    assert message([edge.moved(5, 0) for edge in BOARD]) == lack + " (the nearest point is 5 mm out)" + fix
    assert message(loop((0, 0), (10, -5), (10, 5))) == lack + fix
    assert message(loop((0, 0), (10, -5), (10, 5), (0, 0.9))) == lack + fix


def test_a_sliver() -> None:
    assert message(loop((0, 0), (0.05, 0), (0.05, 50), (0, 50))) == (
        "  the outline encloses no more than a sliver, about 0.05 mm thick\n"
        "  fix: make the profile at least 0.1 mm thick, and check the unit of its lengths"
    )


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_numbers_that_are_none(bad: float) -> None:
    expected = "  edge 3 of the outline has an end that is not a number\n  fix: give every point two lengths"
    assert message([*BOARD[:2], Line((10, 50), (bad, 50)), BOARD[3]]) == expected
    assert message([*BOARD[:2], Arc((10, 50), (0, 50), (5, bad), math.pi), BOARD[3]]) == expected
    assert message([*BOARD[:2], Arc((10, 50), (0, 50), (5, 50), bad), BOARD[3]]) == expected


def test_the_wrong_unit() -> None:
    assert message(loop((0, 0), (1e5, 0), (1e5, 5e5), (0, 5e5))) == (
        "  edge 1 of the outline lies more than 10000 mm away, which is no molding\n"
        "  fix: check the unit of the lengths"
    )


@pytest.mark.parametrize(
    "arc",
    [
        Arc((10, 50), (0, 50), (5, 51), math.pi),
        Arc((10, 50), (0, 50), (5, 50), math.pi / 2),
        Arc((10, 50), (0, 50), (5, 50), 3 * math.pi),
        Arc((10, 50), (0, 50), (5, 50), 0.0),
        Arc((10, 50), (10, 50), (10, 50), 1.0),
        arc_of_sweep((10, 50), (0, 50), 5e-6),  # a radius of 2 km
    ],
)
def test_an_arc_that_does_not_fit(arc: Arc) -> None:
    text = message([*BOARD[:2], arc, BOARD[3]])
    assert text.startswith("  the arc from 10 mm out, 50 mm up to ")
    assert text.endswith(
        " does not fit its center: its ends are not its sweep apart on one circle\n"
        "  fix: give the arc by its ends and a point on it"
    )


def test_lengths_are_spoken_of_in_the_person_s_unit() -> None:
    crossed = loop((0, 0), (2 * 25.4, 4 * 25.4), (2 * 25.4, 0), (0, 4 * 25.4))
    assert message(crossed, unit="in").startswith('  the outline crosses itself at 1" out, 2" up\n')
    below = loop((0, -20), (30, 20), (30, -20), (0, 20))
    assert "at 15 mm out, 0 mm up" in message(below)
    assert "20 mm below the foot line" in message([*loop((0, -20), (10, -20), (10, 50), (0, 50))[:3]])
