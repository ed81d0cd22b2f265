"""Eased arrises, the relieved back and the beveled back: closed-form areas, tangency, and what is refused."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.profiles import (
    Arc,
    Line,
    Profile,
    Shape,
    arrises,
    back_bevel,
    back_relief,
    ease,
    make_profile,
    measure,
    projection_at,
    sketch,
)
from samples import BASE, CROWN, block, cove_spandrel, half_round, quarter_round, wedge

PI = math.pi


def joints_are_smooth(profile: Profile, radius: float) -> bool:
    """Whether every arc of a radius runs on smoothly from its neighbors, to 1e-7 rad."""
    for i, edge in enumerate(profile.edges):
        if isinstance(edge, Arc) and abs(edge.radius - radius) < 1e-9:
            before, after = profile.edges[i - 1], profile.edges[(i + 1) % len(profile.edges)]
            for one, other in ((before, edge), (edge, after)):
                if one.tangent(1.0) != pytest.approx(other.tangent(0.0), abs=1e-7):
                    return False
    return True


def test_a_square_strip() -> None:
    """Two arrises on the face, each less a square's spandrel; the back's two stay sharp."""
    eased = ease(block(20.0, 40.0), 3.0)
    assert measure(eased).area == pytest.approx(800 - 2 * (1 - PI / 4) * 9, rel=1e-12)
    assert [type(edge) for edge in eased.edges] == [Line, Arc, Line, Arc, Line, Line]
    assert {edge.center for edge in eased.edges if isinstance(edge, Arc)} == {(17.0, 3.0), (17.0, 37.0)}


def test_a_sharp_angle() -> None:
    """An arris of angle a loses r² (cot(a/2) - (π - a)/2): the kite less the sector."""
    eased = ease(wedge(30.0, 60.0), 2.0)
    a = math.atan2(60, 30)
    assert measure(eased).area == pytest.approx(900 - 4 * (1 / math.tan(a / 2) - (PI - a) / 2), rel=1e-12)
    assert joints_are_smooth(eased, 2.0)


def test_lines_to_rounds_and_hollows() -> None:
    """Every arc is tangent to what it joins, and its center as far inside each as the radius says."""
    for profile, count in ((quarter_round(10.0), 1), (cove_spandrel(10.0), 1), (BASE, 2), (CROWN, 4)):
        assert len(arrises(profile)) == count
        eased = ease(profile, 0.8)
        assert joints_are_smooth(eased, 0.8)
        assert measure(eased).area < measure(profile).area
        assert all(_nearest(eased, at) > 0.1 for at in arrises(profile))


def _nearest(profile: Profile, at: tuple[float, float]) -> float:
    return min(math.dist(edge.start, at) for edge in profile.edges)


def test_two_arcs_that_meet_in_an_arris() -> None:
    """Two hollows of 10 about (20, 0) and (20, 20) meet at (20, 10) with an edge between them taken off flat."""
    profile = make_profile(
        "two coves",
        [
            Line((0, 0), (10, 0)),
            Arc((10, 0), (10 + 10, 10), (20, 0), -PI / 2),
            Arc((20, 10), (10, 20), (20, 20), -PI / 2),
            Line((10, 20), (0, 20)),
            Line((0, 20), (0, 0)),
        ],
    )
    eased = ease(profile, 1.0, at=[(20.0, 10.0)])
    (nose,) = [edge for edge in eased.edges if isinstance(edge, Arc) and edge.radius == pytest.approx(1.0)]
    # Its center is 11 from both centers: sqrt(121 - 100) short of d = 20.
    assert nose.center == pytest.approx((20 - math.sqrt(21), 10.0))
    assert joints_are_smooth(eased, 1.0)


def test_chosen_arrises_only() -> None:
    eased = ease(block(20.0, 40.0), 3.0, at=[(20.0, 40.0)])
    assert measure(eased).area == pytest.approx(800 - (1 - PI / 4) * 9, rel=1e-12)
    with pytest.raises(PreviewError, match=r"no outside arris 20 mm out, 30 mm up; the nearest is 20 mm out, 40 mm up"):
        ease(block(20.0, 40.0), 3.0, at=[(20.0, 30.0)])


def test_an_edge_may_be_used_up_but_no_more() -> None:
    eased = ease(block(20.0, 6.0), 3.0)  # a half round
    assert measure(eased).area == pytest.approx(17 * 6 + 4.5 * PI, rel=1e-12)
    with pytest.raises(PreviewError) as caught:
        ease(block(20.0, 6.0), 4.0)
    assert "is 6 mm long, and easing at its ends takes 8 mm of it" in str(caught.value)
    assert "use a radius of 3 mm or less" in str(caught.value)
    with pytest.raises(PreviewError, match=r"use a radius of 3\.1 mm or less"):
        ease(block(20.0, 6.39), 4.0)  # half of it is 3.195
    # 6.5 mm is 0.2559 in: of 64ths of an inch, 8 are less than its half and 9 are more.
    with pytest.raises(PreviewError, match=r'use a radius of 1/8" or less'):
        ease(block(20.0, 6.5), 4.0, unit="in")
    with pytest.raises(PreviewError, match="leave this arris sharp"):
        ease(block(0.3, 6.0), 4.0, unit="in")  # no 64th of an inch fits


@pytest.mark.parametrize("radius", [0.0, -1.0, math.nan, math.inf])
def test_no_radius(radius: float) -> None:
    with pytest.raises(PreviewError, match="cannot be eased"):
        ease(block(), radius)


def test_a_round_too_small_to_ease_into() -> None:
    with pytest.raises(PreviewError, match="has a radius of 10 mm, and cannot be eased to 12 mm"):
        ease(quarter_round(10.0), 12.0)


def test_nothing_to_ease() -> None:
    assert ease(half_round(), 1.0) == half_round()


# The back.


def test_back_relief() -> None:
    relieved = back_relief(BASE, 2.0, 15.0)
    assert measure(relieved).area == pytest.approx(measure(BASE).area - 2 * (86 - 30), rel=1e-12)
    assert [projection_at(relieved, h)[0] for h in (0.0, 14.9, 15.1, 40.0, 70.9, 71.1)] == [
        0.0,
        0.0,
        2.0,
        2.0,
        2.0,
        0.0,
    ]
    strips = [edge.length for edge in relieved.edges if edge.start[0] == edge.end[0] == 0.0]
    assert strips == pytest.approx([15.0, 15.0])


def test_back_bevel() -> None:
    """From 3.175 below the top of the back the plane leaves the wall by tan 2° of the way down."""
    beveled = back_bevel(BASE, math.radians(2))
    long = 86.0 - 3.175
    assert measure(beveled).area == pytest.approx(measure(BASE).area - long * long * math.tan(math.radians(2)) / 2)
    assert projection_at(beveled, 0.0)[0] == pytest.approx(long * math.tan(math.radians(2)))
    assert projection_at(beveled, 85.0)[0] == 0.0
    wide = back_bevel(BASE, math.radians(2), strip=20.0)
    assert projection_at(wide, 67.0)[0] == 0.0


def test_the_back_of_a_sprung_molding() -> None:
    """Its back on the wall is 12 mm high; the slope above is left alone."""
    relieved = back_relief(CROWN, 1.0, 3.0)
    assert measure(relieved).area == pytest.approx(measure(CROWN).area - 6.0)


@pytest.mark.parametrize(
    ("depth", "margin", "place", "said"),
    [
        (0.0, 10.0, "depth", "the depth is 0 mm"),
        (2.0, -1.0, "margin", "the margin is -1 mm"),
        (2.0, 0.5, "margin", "too narrow to bear"),
        (2.0, 20.0, "margin", "the back is 40 mm high, and two strips of 20 mm leave nothing to relieve"),
        (20.0, 10.0, "depth", "cut through the wood, which is 20 mm at its thickest"),
        (math.nan, 10.0, "depth", "the depth is nan"),
    ],
)
def test_relief_refusals(depth: float, margin: float, place: str, said: str) -> None:
    with pytest.raises(PreviewError) as caught:
        back_relief(block(20.0, 40.0), depth, margin)
    assert caught.value.problems[0].place == place
    assert said in caught.value.problems[0].problem


@pytest.mark.parametrize(
    ("degrees", "strip", "place"),
    [(0.0, 5.0, "angle"), (60.0, 5.0, "angle"), (2.0, 0.5, "strip"), (2.0, 40.0, "strip")],
)
def test_bevel_refusals(degrees: float, strip: float, place: str) -> None:
    with pytest.raises(PreviewError) as caught:
        back_bevel(block(20.0, 40.0), math.radians(degrees), strip)
    assert caught.value.problems[0].place == place


def test_a_bevel_may_take_the_foot_away_but_not_the_whole() -> None:
    """At 45° it meets the face above the foot: what is left stands on the strip."""
    left = back_bevel(block(20.0, 40.0), math.radians(45), strip=10.0)
    assert measure(left).h_min == pytest.approx(10.0)
    with pytest.raises(PreviewError, match="no back on the wall"):
        back_relief(block().moved(5.0, 0.0), 1.0, 5.0)


@settings(max_examples=40, deadline=None)
@given(st.floats(0.2, 1.5), st.integers(2, 20), st.integers(2, 20))
def test_easing_a_random_face(radius: float, rise: int, out: int) -> None:
    """Eased, a profile is smooth at each arris it had, and lies within what it was."""
    shapes = [
        Shape("fillet", 8.0),
        Shape("ogee", rise + 6.0, -(out + 6.0)),
        Shape("fillet", 0.0, -4.0),
        Shape("fillet", 5.0),
    ]
    profile = sketch("at random", 40.0, shapes)
    eased = ease(profile, radius)
    assert joints_are_smooth(eased, radius)
    assert arrises(eased) == ()
    lost = measure(profile).area - measure(eased).area
    assert 0 < lost < len(arrises(profile)) * radius * radius
