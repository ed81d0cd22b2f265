"""Eased arrises between lines, rounds and hollows, both ways round, and how far an easing may go."""

from __future__ import annotations

import math
from itertools import pairwise, product

import pytest
import shapely

from faced_pieces import polygon
from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Line, Profile, Region, arrises, ease, make_profile, measure
from preview.units import length
from region_samples import flattened
from samples import block, half_round, quarter_round

Point = tuple[float, float]
PI = math.pi
TIP = (40.0, 40.0)


def leg(at: Point, way: float, long: float, bend: float, *, arrives: bool) -> Edge:
    """A line (bend 0), a round (+) or a hollow (-) of radius |bend| that arrives at a point, or leaves it."""
    if bend == 0.0:
        sign = -1 if arrives else 1
        other = (at[0] + sign * long * math.cos(way), at[1] + sign * long * math.sin(way))
        return Line(other, at) if arrives else Line(at, other)
    center = (at[0] - bend * math.sin(way), at[1] + bend * math.cos(way))
    sweep = long / bend
    turn = -sweep if arrives else sweep
    x, y, cos, sin = at[0] - center[0], at[1] - center[1], math.cos(turn), math.sin(turn)
    other = (center[0] + x * cos - y * sin, center[1] + x * sin + y * cos)
    return Arc(other, at, center, sweep) if arrives else Arc(at, other, center, sweep)


def beak(first: float, last: float, way: float, turn: float) -> Profile:
    """A board whose face comes to an arris at TIP; 8 mm before it and after it are of the given bends."""
    before, after = leg(TIP, way, 8.0, first, arrives=True), leg(TIP, way + turn, 8.0, last, arrives=False)
    back = [Line(a, b) for a, b in pairwise([after.end, (0.0, 80.0), (0.0, 0.0), before.start])]
    return make_profile("beak", [before, after, *back])


def fine(profile: Profile) -> shapely.Geometry:
    return flattened(Region((profile.edges,)), 400)


def near_the_tip(area: shapely.Geometry) -> shapely.Geometry:
    return area.intersection(shapely.Point(TIP).buffer(6.5))


BENDS = (0.0, 25.0, -25.0, 13.0, -13.0)
FLAT = [(0.0, 20000.0), (20000.0, 25.0), (-20000.0, 0.0), (13.0, -20000.0)]


@pytest.mark.parametrize(("first", "last"), [*product(BENDS, BENDS), *FLAT])
def test_an_arris_is_eased_as_a_ball_rolls_inside_it(first: float, last: float) -> None:
    """What a disc of the radius can reach inside the wood is what is left: shapely's opening by that radius."""
    for degrees, turned, radius in ((35.0, 110.0, 2.0), (55.0, 75.0, 3.0)):
        profile = beak(first, last, math.radians(degrees), math.radians(turned))
        eased = ease(profile, radius, at=[TIP])
        (number,) = (
            i
            for i, edge in enumerate(eased.edges)
            if isinstance(edge, Arc) and edge.radius == pytest.approx(radius, rel=1e-9) and edge not in profile.edges
        )
        before, round_, after = (eased.edges[i % len(eased.edges)] for i in (number - 1, number, number + 1))
        assert isinstance(round_, Arc)
        assert 0.0 < round_.sweep < PI
        for one, other in ((before, round_), (round_, after)):
            assert one.tangent([1.0])[0] == pytest.approx(other.tangent([0.0])[0], abs=1e-9)
        opened = fine(profile).buffer(-radius, quad_segs=30).buffer(radius, quad_segs=30)
        assert near_the_tip(shapely.symmetric_difference(fine(eased), opened)).area < 0.008
        # Everything away from the arris stays, bit for bit.
        assert set(profile.edges) - set(eased.edges) == {
            edge for edge in profile.edges if TIP in (edge.start, edge.end)
        }
        if first == last == 0.0:
            half = math.radians(turned) / 2
            lost = measure(profile).area - measure(eased).area
            assert lost == pytest.approx(radius**2 * (math.tan(half) - half), rel=1e-9)
            assert math.dist(round_.start, TIP) == pytest.approx(radius * math.tan(half), rel=1e-12)


@pytest.mark.parametrize("radius", [8e-4, 5e-2])
def test_the_smallest_easing(radius: float) -> None:
    eased = ease(block(20.0, 40.0), radius, at=[(20.0, 40.0)])
    assert measure(eased).area == pytest.approx(800.0 - (1 - PI / 4) * radius**2, abs=1e-9)
    assert sum(isinstance(edge, Arc) and edge.radius == pytest.approx(radius) for edge in eased.edges) == 1


def step(wide: float, high: float) -> list[Point]:
    """A board with a step in its face: the arris of the step at (20 + wide, 30 + high)."""
    return [(0, 0), (40, 0), (40, 30), (20 + wide, 30), (20 + wide, 30 + high), (20, 30 + high), (20, 60), (0, 60)]


@pytest.mark.parametrize("long", [6.0, 6.1, 0.7, 3.3])
def test_an_easing_may_use_up_an_edge_from_one_end(long: float) -> None:
    """A step as high as it is wide: to within half a micrometer, wholly, and no more."""
    profile, tip = polygon(*step(long, long)), (20 + long, 30 + long)
    for radius, count in ((long - 5e-4, 9), (long, 7)):
        eased = ease(profile, radius, at=[tip])
        assert measure(eased).area == pytest.approx(measure(profile).area - (1 - PI / 4) * radius**2, rel=1e-9)
        assert len(eased.edges) == count
        assert [type(edge) for edge in eased.edges].count(Arc) == 1
    with pytest.raises(PreviewError, match=f"is {long:g} mm long, and easing takes {long + 0.2:g} mm of it") as refused:
        ease(profile, long + 0.2, at=[tip])
    assert refused.value.problems[0].fix == f"use a radius of {long:g} mm or less"


def test_an_easing_at_both_ends_of_an_edge_is_told_so() -> None:
    with pytest.raises(PreviewError, match=r"is 6 mm long, and easing at its ends takes 8 mm of it") as refused:
        ease(block(20.0, 6.0), 4.0)
    assert refused.value.problems[0].fix == "use a radius of 3 mm or less"


@pytest.mark.parametrize("high", [6.0, 6.1, 10.7, 1.1, 12.3])
@pytest.mark.parametrize("lean", [0.0, 0.13])
def test_two_easings_that_meet_half_way_make_one_nose(high: float, lean: float) -> None:
    """A strip with its face square or leaning; between parallel sides, its nose is a half round."""
    profile = polygon((0, 0), (30, 0), (30 - lean * high, high), (0, high))
    long = high * math.hypot(1.0, lean)
    # The two tangent lengths on the face: r tan(a/2) and r tan(b/2) of the two turns.
    turns = (PI / 2 + math.atan(lean), PI / 2 - math.atan(lean))
    radius = long / sum(math.tan(turn / 2) for turn in turns)
    eased = ease(profile, radius)
    assert [type(edge) for edge in eased.edges] == [Line, Arc, Line, Line]
    arc = eased.edges[1]
    assert isinstance(arc, Arc)
    assert arc.sweep == pytest.approx(PI, abs=1e-6)
    assert arc.radius == pytest.approx(high / 2, rel=1e-9)


@pytest.mark.parametrize("bulge", [20.0, 33.3])
def test_a_round_face_is_used_up_by_two_easings_of_half_its_height(bulge: float) -> None:
    """What is left of a face of a large round, its top and foot, is one half round that touches it in its middle."""
    half = 5.0
    inward = math.sqrt(bulge**2 - half**2)
    center = (30.0 - inward, half)
    face = Arc((30.0, 0.0), (30.0, 10.0), center, 2 * math.asin(half / bulge))
    profile = make_profile("nosing", [Line((0, 0), (30, 0)), face, *lines((30, 10), (0, 10), (0, 0))])
    eased = ease(profile, half)
    assert measure(eased).d_max == pytest.approx(center[0] + bulge, rel=1e-12)
    assert measure(eased).area == pytest.approx(10 * (center[0] + bulge - half) + PI / 2 * half**2, rel=1e-9)
    assert [type(edge) for edge in eased.edges] == [Line, Arc, Line, Line]
    less = ease(profile, half - 1e-4)
    assert sum(isinstance(edge, Arc) for edge in less.edges) == 3
    # The round is used up before the easings pass each other.
    with pytest.raises(PreviewError, match="easing at its ends takes") as refused:
        ease(profile, half + 0.001)
    assert refused.value.problems[0].fix == "use a smaller radius"


def lines(*points: Point) -> list[Line]:
    return [Line(a, b) for a, b in pairwise(points)]


def test_a_round_is_eased_to_less_than_its_own_radius() -> None:
    for radius in (10.0, 10.5):
        with pytest.raises(PreviewError, match=f"has a radius of 10 mm, and cannot be eased to {radius:g} mm"):
            ease(quarter_round(10.0), radius)
    # A circle in a quarter: r (1 + sqrt 2) = 10 touches both straights and the round; the foot's tip takes any less.
    least = 10.0 / (1 + math.sqrt(2))
    assert measure(ease(quarter_round(10.0), least - 0.01, at=[(10.0, 0.0)])).d_max < 10.0


RISE = math.sqrt(128.0)
"""Of the beak below: the radius of its round, about (18, 2)."""


def thin_beak(*, under: bool) -> Profile:
    """A ledge 10 up and a round from its tip (26, 10) back to where it runs level, at 18 out; or that upside down."""
    top = 2.0 + RISE
    round_ = Arc((26.0, 10.0), (18.0, top), (18.0, 2.0), PI / 4)
    edges: list[Edge] = [Line((10, 10), (26, 10)), round_, *lines((18, top), (0, top), (0, 0), (10, 0), (10, 10))]
    if not under:
        return make_profile("beak", edges)
    return make_profile("beak", [flipped(edge) for edge in edges])


def flipped(edge: Edge) -> Edge:
    def over(at: Point) -> Point:
        return (at[0], 20.0 - at[1])

    if isinstance(edge, Arc):
        return Arc(over(edge.start), over(edge.end), over(edge.center), -edge.sweep)
    return Line(over(edge.start), over(edge.end))


@pytest.mark.parametrize("under", [False, True])
def test_an_easing_between_a_ledge_and_a_round_over_it(under: bool) -> None:
    """The disc's center is r over the ledge and RISE - r from (18, 2), so x from there on
    (RISE - r)² = x² + (8 + r)², and r = (64 - x²) / (2 RISE + 16). The largest is where x is nothing."""
    for x, fits in ((2.0, True), (0.02, True), (0.0, False)):
        radius = (64.0 - x**2) / (2 * RISE + 16.0) + (0.0 if x else 0.02)
        profile = thin_beak(under=under)
        tip = (26.0, 10.0)
        if not fits:
            with pytest.raises(PreviewError, match=r"no arc of radius 1\.7 mm touches both edges"):
                ease(profile, radius, at=[tip])
            continue
        eased = ease(profile, radius, at=[tip])
        (arc,) = (e for e in eased.edges if isinstance(e, Arc) and e.radius == pytest.approx(radius, rel=1e-6))
        assert arc.center == pytest.approx((18.0 + x, 10.0 + (-radius if under else radius)), abs=1e-6)


def test_an_easing_between_two_rounds_back_to_back() -> None:
    """The round of that beak and its mirror image below the level of the tip: (RISE - r)² = x² + 8²."""
    low, high = 18.0 - RISE, 2.0 + RISE
    lower, upper = (
        Arc((18.0, low), (26.0, 10.0), (18.0, 18.0), PI / 4),
        Arc((26.0, 10.0), (18.0, high), (18.0, 2.0), PI / 4),
    )
    profile = make_profile("bill", [lower, upper, *lines((18.0, high), (0.0, high), (0.0, low), (18.0, low))])
    for x in (5.0, 2.0, 0.02):
        radius = RISE - math.hypot(8.0, x)
        eased = ease(profile, radius, at=[(26.0, 10.0)])
        (arc,) = (e for e in eased.edges if isinstance(e, Arc) and e.radius == pytest.approx(radius, rel=1e-6))
        assert arc.center == pytest.approx((18.0 + x, 10.0), abs=1e-6)
    with pytest.raises(PreviewError, match=r"no arc of radius 3\.4 mm touches both edges"):
        ease(profile, 3.4, at=[(26.0, 10.0)])


@pytest.mark.parametrize("turn", [2.0, 2.0 * (1 + 4e-4)])
@pytest.mark.parametrize("bend", [20.0, -20.0])
def test_an_arris_before_a_round_turns_by_two_degrees_where_it_begins(turn: float, bend: float) -> None:
    for degrees, count in ((turn, 2 + (turn > 2.0)), (2.0 * (1 - 4e-4), 2)):
        after = leg((30.0, 30.0), math.radians(90.0 + degrees), 20.0, bend, arrives=False)
        edges = [Line((0, 0), (30, 0)), Line((30, 0), (30, 30)), after, *lines(after.end, (0, after.end[1]), (0, 0))]
        found = arrises(make_profile("bent", edges))
        assert ((30.0, 30.0) in found) == (degrees > 2.0)
        assert len(found) == count


def test_a_profile_without_arrises_has_none_near() -> None:
    with pytest.raises(PreviewError) as refused:
        ease(half_round(), 1.0, at=[(5.0, 5.0)])
    assert refused.value.problems[0].problem == "the profile has no outside arris 5 mm out, 5 mm up"


@pytest.mark.parametrize(
    ("high", "fits"),
    [(1, "1"), (17 / 32, "17/32"), (33 / 64, "1/2"), (15 / 64, "7/32"), (31 / 64, "15/32"), (2 + 11 / 64, "2 5/32")],
)
def test_the_radius_offered_can_be_written_and_is_not_refused(high: float, fits: str) -> None:
    """Half of the face in inches, rounded down to a 32nd, which is how finely lengths are told."""
    face = block(80.0, 2 * 25.4 * high)
    with pytest.raises(PreviewError) as refused:
        ease(face, 70.0, unit="in")
    assert refused.value.problems[0].fix == f'use a radius of {fits}" or less'
    offered = length(f'{fits}"')
    assert len(ease(face, offered, unit="in").edges) in (4, 6)
