"""Where an outline meets itself by a hair, and where it only looks as if it did; members side by side in a build-up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import pytest

from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Line, Profile, open_strips, overall_outline
from preview.profiles.contact import _between, first_contact
from samples import block

Point = tuple[float, float]
PI = math.pi


def arc(center: Point, radius: float, first: float, last: float) -> Arc:
    """From one direction to another, degrees."""
    a, b = math.radians(first), math.radians(last)
    ends = [(center[0] + radius * math.cos(way), center[1] + radius * math.sin(way)) for way in (a, b)]
    return Arc(ends[0], ends[1], center, b - a)


def loop(*points: Point) -> list[Edge]:
    return [Line(a, b) for a, b in pairwise([*points, points[0]])]


def said(one: Edge, other: Edge) -> set[str]:
    """What two edges that share no end do, in both orders and both ways round each."""
    found = set()
    for a in (one, one.reversed()):
        for b in (other, other.reversed()):
            for contact in (_between(a, b, ()), _between(b, a, ())):
                found.add("clear" if contact is None else contact.how)
    return found


UPPER, LOWER = arc((3.0, -2.0), 10.0, 10.0, 170.0), arc((3.0, -2.0), 10.0, -170.0, -10.0)
HAIR = 1e-5  # mm; twenty times what counts as a touch
NEXT, OFF = 2e-7, 2e-6  # mm; within what counts as a touch, and not


@pytest.mark.parametrize(
    ("one", "other", "how"),
    [
        # A line that enters a round by a hair on its way past, stops short of it by a hair, or grazes it.
        (UPPER, Line((-9.0, 8.0 - HAIR), (20.0, 8.0 - HAIR)), "crosses itself"),
        (UPPER, Line((-9.0, 8.0 + OFF), (20.0, 8.0 + OFF)), "clear"),
        (UPPER, Line((-9.0, 8.0 + NEXT), (20.0, 8.0 + NEXT)), "touches itself"),
        (UPPER, Line((-9.0, 5.0), (20.0, 5.0)), "crosses itself"),
        # The same line, beside the place where it would graze.
        (UPPER, Line((3.1, 8.0 + NEXT), (20.0, 8.0 + NEXT)), "clear"),
        (LOWER, Line((-9.0, 8.0 + NEXT), (20.0, 8.0 + NEXT)), "clear"),
        (LOWER, Line((3.1, 8.0 + NEXT), (20.0, 8.0 + NEXT)), "clear"),
        (LOWER, Line((3.1, 5.0), (20.0, 5.0)), "clear"),
        # Rounds back to back, 5 and 10 in radius, their centers in a line of 3 to 4.
        (UPPER, arc((12.0, 10.0), 5.0, 260.0, 300.0), "clear"),  # the second begins past where it would graze
        (UPPER, arc((12.0 - HAIR, 10.0), 5.0, 190.0, 300.0), "crosses itself"),
        (UPPER, arc((12.0 + NEXT, 10.0), 5.0, 190.0, 300.0), "touches itself"),
        (UPPER, arc((12.0 + OFF, 10.0), 5.0, 190.0, 300.0), "clear"),
        (UPPER, arc((12.0 + NEXT, 10.0), 5.0, 0.0, 90.0), "clear"),  # its far side
        (LOWER, arc((12.0 + NEXT, 10.0), 5.0, 190.0, 300.0), "clear"),
        # A round of 4 in the hollow of the other.
        (UPPER, arc((3.0, 4.0 + HAIR), 4.0, 30.0, 150.0), "crosses itself"),
        (UPPER, arc((3.0, 4.0 - NEXT), 4.0, 30.0, 150.0), "touches itself"),
        (UPPER, arc((3.0, 4.0 - OFF), 4.0, 30.0, 150.0), "clear"),
        # About one center, as the two sides of a pipe; and about two that are almost one.
        (UPPER, arc((3.0, -2.0), 8.0, 10.0, 170.0), "clear"),
        (UPPER, arc((3.0, -2.0), 10.0, 200.0, 300.0), "clear"),
        (UPPER, arc((3.0, -2.0 + 5e-4), 10.0 - 5e-4 - NEXT, 20.0, 160.0), "touches itself"),
        (UPPER, arc((3.0, -2.0 + 5e-4), 10.0 - 5e-4 - OFF, 20.0, 160.0), "clear"),
    ],
)
def test_two_edges_by_a_hair(one: Edge, other: Edge, how: str) -> None:
    assert said(one, other) == {how}


@pytest.mark.parametrize(
    ("angle", "how"), [(1e-4 * (1 - 4e-4), "touches itself"), (1e-4 * (1 + 4e-4), "crosses itself")]
)
def test_lines_that_cross_at_less_than_a_ten_thousandth_of_a_radian_touch(angle: float, how: str) -> None:
    level = Line((-47.0, 5.0), (53.0, 5.0))
    off = 50.0 * math.tan(angle)
    assert said(level, Line((-47.0, 5.0 - off), (53.0, 5.0 + off))) == {how}
    assert said(level, Line((-47.0, 5.0 + off), (53.0, 5.0 - off))) == {how}


@pytest.mark.parametrize("side", [1, -1])
def test_a_round_and_a_straight_that_meet_again_beside_the_end_they_share(side: int) -> None:
    """Within 0.01 micrometers that is the end. The circle is cut by the straight in a chord so long."""
    for chord, clear in ((1e-5 * (1 - 4e-4), True), (1e-5 * (1 + 4e-4), False)):
        center = (chord / 2, -side * math.sqrt(100.0 - chord**2 / 4))
        start = (center[0] + 10.0 * math.cos(0.3), center[1] + side * 10.0 * math.sin(0.3))
        first = math.atan2(start[1] - center[1], start[0] - center[0])
        sweep = math.atan2(-center[1], -center[0]) - first
        edges: list[Edge] = [Arc(start, (0.0, 0.0), center, sweep), *loop((0.0, 0.0), (20.0, 0.0), start)[:2]]
        assert (first_contact(edges) is None) == clear
        assert (first_contact([edge.reversed() for edge in reversed(edges)]) is None) == clear


def turned(edges: Sequence[Edge], by: int) -> list[Edge]:
    return [*edges[by:], *edges[:by]]


def test_sides_that_run_opposite_ways_abreast_of_each_other_are_no_spike() -> None:
    """A slanted strip: two pairs of sides, each abreast of its other. And a step of two treads, wherever one begins."""
    for edges in (
        loop((0.0, 0.0), (20.0, 20.0), (20.0, 26.0), (0.0, 6.0)),
        loop((0.0, 0.0), (20.0, 20.0), (22.0, 19.0), (2.0, -1.0)),
        loop((0.0, 0.0), (9.0, 1.0), (9.5, 7.0), (18.0, 8.0), (18.0, 14.0), (9.0, 13.0), (8.5, 7.0), (0.0, 6.0)),
    ):
        for by in range(len(edges)):
            assert first_contact(turned(edges, by)) is None


@pytest.mark.parametrize("lean", [0.0, 0.4, 1.1, 2.0, 2.9, -0.6, -1.7])
@pytest.mark.parametrize("large", [20.0, 3000.0, 90000.0])
def test_a_hook_that_comes_to_a_point_meets_itself_nowhere_else(lean: float, large: float) -> None:
    """A round, and one of half its radius or a straight that leaves its end straight back: a point of no angle."""
    sweep = 12.0 / large
    tip = (7.0, 3.0)
    across = (-math.sin(lean), math.cos(lean))
    far, near = ((tip[0] + r * across[0], tip[1] + r * across[1]) for r in (large, large / 2))

    def at(center: Point, angle: float) -> Point:
        x, y, cos, sin = tip[0] - center[0], tip[1] - center[1], math.cos(angle), math.sin(angle)
        return (center[0] + x * cos - y * sin, center[1] + x * sin + y * cos)

    outer, inner = Arc(at(far, sweep), tip, far, -sweep), Arc(tip, at(near, sweep), near, sweep)
    straight = Line((tip[0] + 12.0 * math.cos(lean), tip[1] + 12.0 * math.sin(lean)), tip)
    along = (math.cos(lean), math.sin(lean))
    over = [(tip[0] + on * along[0] + 8.0 * across[0], tip[1] + on * along[1] + 8.0 * across[1]) for on in (10, 16)]
    for before, after in ((outer, inner), (straight, inner), (straight, outer.reversed())):
        back = [Line(a, b) for a, b in pairwise([after.end, *over, before.start])]
        edges: list[Edge] = [before, after, *back]
        for by in range(len(edges)):
            assert first_contact(turned(edges, by)) is None
            assert first_contact([edge.reversed() for edge in reversed(turned(edges, by))]) is None


# Build-ups.


def named(name: str, profile: Profile) -> Profile:
    return Profile(name, profile.edges)


def test_every_member_that_stands_clear_is_named() -> None:
    members = [
        named("base", block(20.0, 50.0)),
        named("shoe", block(5.0, 10.0).moved(30.0, 0.0)),
        named("cap", block(20.0, 10.0).moved(0.0, 50.0)),
        named("rail", block(5.0, 10.0).moved(0.0, 90.0)),
    ]
    with pytest.raises(PreviewError, match=r": shoe and rail stand clear of the rest, which reaches 20 mm out and 60"):
        overall_outline("apart", members)


@pytest.mark.parametrize("across", [False, True])
def test_a_strip_of_wall_lies_over_the_tallest_of_what_is_below(across: bool) -> None:
    """A shoe before the base hides no wall; a strip of exactly 75 mm is meant to be."""

    def member(low: float, high: float) -> Profile:
        return block(high - low, 20.0).moved(low, 0.0) if across else block(20.0, high - low).moved(0.0, low)

    base, shoe, twin = ("base", member(0.0, 100.0)), ("shoe", member(5.0, 20.0)), ("twin", member(60.0, 100.0))
    for others in ([shoe], [twin], [shoe, twin], []):
        for gap in (30.0, 74.5):
            (strip,) = open_strips([("rail", member(100.0 + gap, 190.0)), *others, base], across=across)
            assert (strip.below, strip.above, strip.width) == ("base", "rail", gap)
        assert open_strips([("rail", member(175.0, 190.0)), *others, base], across=across) == ()
        assert open_strips([("rail", member(100.0, 190.0)), *others, base], across=across) == ()
