"""Where lines and arcs are cut: ends that meet others to within rounding, overlaps, tangents and circles apart."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from preview.profiles import Arc, Edge, Line
from preview.profiles.splitting import Nodes, away, meetings, middle, part_of, split

GAPS = [9e-9, 4e-9, 0.0, -4e-9, -9e-9]


def arc(center: tuple[float, float], radius: float, first: float, sweep: float) -> Arc:
    """From the direction `first` on, degrees."""
    ends = [math.radians(angle) for angle in (first, first + sweep)]
    start, end = ((center[0] + radius * math.cos(a), center[1] + radius * math.sin(a)) for a in ends)
    return Arc(start, end, center, math.radians(sweep))


def turned(edge: Line, quarters: int) -> Line:
    def about(at: tuple[float, float]) -> tuple[float, float]:
        for _ in range(quarters):
            at = (-at[1], at[0])
        return at

    return Line(about(edge.start), about(edge.end))


@pytest.mark.parametrize("quarters", range(4))
@pytest.mark.parametrize("gap", GAPS)
def test_a_line_that_ends_a_hair_off_another_is_on_it(quarters: int, gap: float) -> None:
    """Within 0.00001 micrometers, from every side, whichever is drawn first: the other is cut there."""
    bar, stem = turned(Line((-3.0, 0.0), (5.0, 0.0)), quarters), turned(Line((1.0, gap), (1.0, 4.0)), quarters)
    for edges in ([bar, stem], [stem, bar], [bar, stem.reversed()], [stem.reversed(), bar]):
        parts, points = split(edges)
        lengths = sorted(part.edge.length for part in parts)
        assert lengths == pytest.approx([4.0, 4.0, 4.0], abs=1e-7)
        shared = [part for part in parts if edges[part.source] is bar]
        assert len(shared) == 2
        assert points[shared[0].end] == pytest.approx(turned(Line((1.0, 0.0), (1.0, 0.0)), quarters).start, abs=1e-7)
        assert len({number for part in parts for number in (part.start, part.end)}) == 4


@pytest.mark.parametrize("quarters", range(4))
def test_a_line_that_ends_clear_of_another_is_not_on_it(quarters: int) -> None:
    bar, stem = turned(Line((-3.0, 0.0), (5.0, 0.0)), quarters), turned(Line((1.0, 2e-8), (1.0, 4.0)), quarters)
    assert meetings(bar, stem) == []
    assert len(split([bar, stem])[0]) == 2


def test_an_end_as_near_as_may_be_is_on_the_other() -> None:
    """1e-8 mm is near, and two points twice as near as that are one."""
    bar, stem = Line((0.0, 0.0), (1.0, 0.0)), Line((0.5, 1e-8), (0.5, 4.0))
    assert meetings(bar, stem) == [(0.5, 1e-8)]
    assert meetings(stem, bar) == [(0.5, 1e-8)]
    nodes = Nodes()
    assert [nodes.number(at) for at in ((0.0, 0.0), (2e-8, 0.0), (2.1e-8, 0.0))] == [0, 0, 1]


@pytest.mark.parametrize("gap", [1.5e-8, 5e-9])
def test_ends_that_meet_to_rounding_meet_bit_for_bit(gap: float) -> None:
    """The later one moves onto the earlier one's point; a line stays a line and an arc keeps its center."""
    first = Line((0.0, 0.0), (10.0, 0.0))
    others: list[Edge] = [Line((10.0, gap), (10.0, 8.0))]
    others.append(Arc((10.0, gap), (14.0, 4.0 + gap), (10.0, 4.0 + gap), math.pi / 2))
    for other in others:
        parts, points = split([first, other])
        assert [part.source for part in parts] == [0, 1]
        assert parts[0].end == parts[1].start
        for part in parts:
            assert part.edge.start == points[part.start]
            assert part.edge.end == points[part.end]
        assert parts[1].edge.start == (10.0, 0.0)
        assert parts[1].edge.end == other.end
        if isinstance(other, Arc):
            assert isinstance(parts[1].edge, Arc)
            assert (parts[1].edge.center, parts[1].edge.sweep) == (other.center, other.sweep)


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_a_long_arc_is_cut_in_its_own_order(turn: float) -> None:
    """350 degrees of a circle of 10, cut by spokes every 40: its parts follow one another and turn by 40 each."""
    whole = arc((7.0, -4.0), 10.0, 15.0, turn * 350.0)
    spokes: list[Edge] = []
    for number in range(1, 9):
        angle = math.radians(15.0 + turn * 40.0 * number)
        cos, sin = math.cos(angle), math.sin(angle)
        spokes.append(Line((7.0 + 8 * cos, -4.0 + 8 * sin), (7.0 + 12 * cos, -4.0 + 12 * sin)))
    for edges, source in (([whole, *spokes], 0), ([*spokes[::-1], whole], 8)):
        parts = [part for part in split(edges)[0] if part.source == source]
        sweeps = [part.edge.sweep for part in parts if isinstance(part.edge, Arc)]
        assert sweeps == pytest.approx([turn * math.radians(40.0)] * 8 + [turn * math.radians(30.0)])
        assert all(before.end == after.start for before, after in pairwise(parts))
        assert (parts[0].edge.start, parts[-1].edge.end) == (whole.start, whole.end)


@pytest.mark.parametrize("long", [0.02, 1.0, 900.0])
def test_lines_in_one_line_meet_at_the_ends_they_share(long: float) -> None:
    """In any direction, however the two are named: where one ends on the other, and nowhere else."""
    random = np.random.default_rng(3)
    for angle in random.uniform(0.0, 2 * math.pi, 25).tolist():

        def at(along: float, angle: float = angle) -> tuple[float, float]:
            return (3.0 + along * long * math.cos(angle), -7.0 + along * long * math.sin(angle))

        for (a, b, c, d), shared in (
            ((0.0, 1.0, 0.4, 1.7), (0.4, 1.0)),  # they overlap
            ((0.0, 1.0, 0.2, 0.6), (0.2, 0.6)),  # one lies within the other
            ((0.0, 1.0, 1.1, 1.7), ()),  # one after the other
        ):
            for one, other in ((Line(at(a), at(b)), Line(at(c), at(d))), (Line(at(b), at(a)), Line(at(c), at(d)))):
                for pair in ((one, other), (other, one)):
                    found = sorted(math.dist(spot, at(0.0)) / long for spot in meetings(*pair))
                    assert found == pytest.approx(list(shared), abs=1e-9)


def test_a_short_line_crosses_a_long_one_at_a_small_angle() -> None:
    """A line of 0.02 mm across one of 900, at 0.00002 radians: 0.0002 micrometers either side of it."""
    short = Line((10.0 - 0.01, -2e-7), (10.0 + 0.01, 2e-7))
    for pair in ((Line((0.0, 0.0), (900.0, 0.0)), short), (short, Line((0.0, 0.0), (900.0, 0.0)))):
        (at,) = meetings(*pair)
        assert at == pytest.approx((10.0, 0.0), abs=1e-9)


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_arcs_of_one_circle_meet_at_the_ends_they_share(turn: float) -> None:
    one = arc((2.0, 3.0), 5.0, 10.0, 100.0)
    for first, sweep, shared in ((60.0, 90.0, (60.0, 110.0)), (30.0, 40.0, (30.0, 70.0)), (120.0, 60.0, ())):
        other = arc((2.0, 3.0), 5.0, first, sweep)
        other = other if turn > 0 else other.reversed()
        for pair in ((one, other), (other, one)):
            found = sorted(math.degrees(math.atan2(y - 3.0, x - 2.0)) for x, y in meetings(*pair))
            assert found == pytest.approx(list(shared), abs=1e-9)


@pytest.mark.parametrize("turn", [1.0, -1.0])
@pytest.mark.parametrize("off", [0.0, 5e-10, -5e-10])
def test_a_line_that_touches_a_round_meets_it_once(turn: float, off: float) -> None:
    """Also where rounding has it enter by half a thousandth of a nanometer, or miss by as much."""
    hump = arc((4.0, 0.0), 5.0, 180.0 if turn < 0 else 0.0, turn * 180.0)
    level = Line((-6.0, 5.0 - off), (9.0, 5.0 - off))
    for pair in ((hump, level), (level, hump), (hump, level.reversed())):
        (at,) = meetings(*pair)
        assert at == pytest.approx((4.0, 5.0), abs=1e-6)


@pytest.mark.parametrize(("enters", "count"), [(1e-6, 2), (1e-8, 2), (-1e-8, 0), (-1.0, 0)])
def test_a_line_that_enters_a_round_meets_it_twice(enters: float, count: int) -> None:
    """The half chord of a circle of 5 that is entered by e is sqrt(e (10 - e))."""
    hump, level = arc((4.0, 0.0), 5.0, 0.0, 180.0), Line((-6.0, 5.0 - enters), (9.0, 5.0 - enters))
    half = math.sqrt(enters * (10.0 - enters)) if enters > 0 else 0.0
    for pair in ((hump, level), (level, hump)):
        found = sorted(meetings(*pair))
        want = [(4.0 - half, 5.0 - enters), (4.0 + half, 5.0 - enters)][:count]
        assert np.array(found).reshape(-1, 2) == pytest.approx(np.array(want).reshape(-1, 2), abs=1e-7)


@pytest.mark.parametrize(
    ("radius", "center"),
    [(2.0, (1.0, 0.0)), (2.0, (0.0, -2.9)), (4.0, (0.9, 0.1)), (0.5, (0.3, 0.3)), (3.0, (9.0, 0.0)), (2.0, (6.0, 5.0))],
)
def test_circles_inside_one_another_or_apart_do_not_meet(radius: float, center: tuple[float, float]) -> None:
    big, small = (arc((0.0, 0.0), 5.0, 0.0, 359.0), arc(center, radius, 90.0, -359.0))
    assert meetings(big, small) == meetings(small, big) == []


@pytest.mark.parametrize("inside", [True, False])
@pytest.mark.parametrize("off", [0.0, 5e-10, -5e-10])
@pytest.mark.parametrize("angle", [0.0, 50.0, 200.0])
def test_circles_that_touch_to_rounding_meet_once(inside: bool, off: float, angle: float) -> None:
    """Radii 5 and 2, the centers 7 apart, or 3 where the smaller is inside; they touch 5 from the larger's center."""
    u = (math.cos(math.radians(angle)), math.sin(math.radians(angle)))
    apart = (3.0 if inside else 7.0) + off
    big = arc((1.0, -2.0), 5.0, angle - 100.0, 200.0)
    small = arc((1.0 + apart * u[0], -2.0 + apart * u[1]), 2.0, angle + (-90.0 if inside else 90.0), 180.0)
    for pair in ((big, small), (small, big)):
        (at,) = meetings(*pair)
        assert at == pytest.approx((1.0 + 5.0 * u[0], -2.0 + 5.0 * u[1]), abs=1e-7)


@pytest.mark.parametrize("enters", [1e-6, 1e-3, 0.5])
@pytest.mark.parametrize("inside", [True, False])
def test_circles_that_cross_a_little_meet_twice(inside: bool, enters: float) -> None:
    """By the law of cosines from the larger's center, radii 5 and 2."""
    apart = 3.0 + enters if inside else 7.0 - enters
    x = (apart**2 + 25.0 - 4.0) / (2 * apart)
    y = math.sqrt(25.0 - x * x)
    big = arc((0.0, 0.0), 5.0, -100.0, 200.0)
    small = arc((apart, 0.0), 2.0, -150.0 if inside else 20.0, 300.0 if inside else 320.0)
    for pair in ((big, small), (small, big)):
        found = np.array(sorted(meetings(*pair)))
        found = found[np.argsort(found[:, 1])]
        assert found == pytest.approx(np.array([(x, -y), (x, y)]), abs=1e-7)


def test_distances_from_lines_and_arcs_by_hand() -> None:
    """3-4-5 triangles: beside, beyond either end, inside and outside of a round."""
    line, hump = Line((1.0, 1.0), (9.0, 7.0)), arc((0.0, 0.0), 5.0, 0.0, 90.0)
    for at, far in (((5.0, 4.0), 0.0), ((2.0, 8.0), 5.0), ((8.0, 0.0), 5.0), ((1.0, -2.0), 3.0), ((12.0, 11.0), 5.0)):
        assert away(line, at) == pytest.approx(far, abs=1e-12)
        assert away(line.reversed(), at) == pytest.approx(far, abs=1e-12)
    for at, far in (
        ((6.0, 8.0), 5.0),
        ((0.6, 0.8), 4.0),
        ((5.0, -2.0), 2.0),
        ((-3.0, 9.0), 5.0),
        ((-3.0, -4.0), 80**0.5),
    ):
        assert away(hump, at) == pytest.approx(far, abs=1e-12)
        assert away(hump.reversed(), at) == pytest.approx(far, abs=1e-12)
    assert middle(line) == (5.0, 4.0)
    assert middle(hump) == pytest.approx((5.0 / math.sqrt(2), 5.0 / math.sqrt(2)))


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_a_circle_from_a_point_round_to_that_point_is_whole(turn: float) -> None:
    circle = Arc((9.0, 2.0), (9.0, 2.0), (4.0, 2.0), turn * 2 * math.pi)
    part = part_of(circle, (4.0, 7.0), (4.0, 7.0))
    assert part == Arc((4.0, 7.0), (4.0, 7.0), (4.0, 2.0), turn * 2 * math.pi)
