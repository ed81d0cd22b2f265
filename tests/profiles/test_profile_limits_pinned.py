"""The limits that the profile tools state, from just inside and from just outside: by four parts in ten thousand."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray

from faced_pieces import polygon
from preview.errors import PreviewError
from preview.profiles import (
    Arc,
    Bead,
    Blank,
    Chamfer,
    CoreBox,
    Cove,
    Cut,
    Cutter,
    Drawn,
    Edge,
    Line,
    Ogee,
    Place,
    Roundover,
    Straight,
    Vee,
    arrises,
    back_bevel,
    back_relief,
    cut_profile,
    ease,
    flatten,
    make_profile,
    measure,
    open_strips,
    overall_outline,
    raked_section,
    sprung,
    thin_webs,
)
from preview.profiles.biarcs import biarc
from preview.profiles.contact import _between
from preview.profiles.curves import curve_direction
from preview.profiles.cut_report import undercuts
from preview.profiles.cutters import check_cutter
from preview.profiles.placement import check_blank
from preview.profiles.regions import region, union
from preview.profiles.splitting import split
from samples import block, quarter_round, wedge

Floats = NDArray[np.float64]
IN, OUT = 1 - 4e-4, 1 + 4e-4
DEGREE = math.pi / 180


def passes(made: Callable[[], object]) -> bool:
    try:
        made()
    except PreviewError:
        return False
    return True


# Members of a build-up.


def test_strips_of_wall() -> None:
    """From 0.05 mm on a strip is open, and from 75 mm on it is meant to be."""
    for wide, seen in ((0.05 * IN, False), (0.05 * OUT, True), (75 * IN, True), (75 * OUT, False)):
        strips = open_strips([("base", block(20.0, 50.0)), ("rail", block(20.0, 10.0).moved(0.0, 50.0 + wide))])
        assert [strip.width for strip in strips] == ([pytest.approx(wide)] if seen else [])


def test_what_members_may_share() -> None:
    """0.001 mm²: a strip 20 mm wide."""
    for area, told in ((1e-3 * IN, 0), (1e-3 * OUT, 1)):
        built = overall_outline("built", [block(20.0, 50.0), block(20.0, 10.0).moved(0.0, 50.0 - area / 20.0)])
        assert len(built.overlaps) == told


# The outline itself.


def test_the_shortest_back_and_the_largest_profile() -> None:
    for high, sound in ((1.0 * OUT, True), (1.0 * IN, False)):
        assert passes(lambda: block(20.0, high)) == sound  # noqa: B023
    for out, sound in ((1e4 * IN, True), (1e4 * OUT, False)):
        assert passes(lambda: block(out, 20.0)) == sound  # noqa: B023
        assert passes(lambda: block(20.0, out)) == sound  # noqa: B023


def test_the_thinnest_profile() -> None:
    """Twice its area over the way round it, 0.1 mm: of a board w by 400, 400 w / (400 + w)."""
    for thick, sound in ((0.1 * OUT, True), (0.1 * IN, False)):
        wide = 400 * thick / (400 - thick)
        assert passes(lambda: block(wide, 400.0)) == sound  # noqa: B023


@pytest.mark.parametrize("side", [1, -1])
def test_two_lines_that_turn_straight_back(side: int) -> None:
    """A spike of less than a ten thousandth of a radian encloses no wood."""
    for angle, sound in ((1e-4 * OUT, True), (1e-4 * IN, False)):
        tip = (60.0, 20.0 + side * 3.0)
        foot = (10.0, 20.0)
        way = math.atan2(tip[1] - foot[1], tip[0] - foot[0]) + angle
        far = math.dist(tip, foot)
        back = (tip[0] - far * math.cos(way), tip[1] - far * math.sin(way))
        low, high = sorted([foot, back], key=lambda at: at[1])
        made = [(0.0, 0.0), (10.0, 0.0), low, tip, high, (10.0, 40.0), (0.0, 40.0)]
        assert passes(lambda: polygon(*made)) == sound  # noqa: B023


# Arrises.


@pytest.mark.parametrize("degrees", [2.0])
def test_an_arris_turns_by_two_degrees(degrees: float) -> None:
    for turn, sharp in ((degrees * OUT, 3), (degrees * IN, 2)):
        lean = 20.0 * math.tan(turn * DEGREE)
        profile = polygon((0, 0), (20, 0), (20, 20), (20 - lean, 40), (0, 40))
        assert len(arrises(profile)) == sharp


def test_an_arris_is_picked_from_half_a_mm() -> None:
    board = block(20.0, 40.0)
    for off, found in ((0.5 * IN, True), (0.5 * OUT, False)):
        at = (20.0 + 0.6 * off, 40.0 - 0.8 * off)
        assert passes(lambda: ease(board, 2.0, [at])) == found  # noqa: B023


# The back.


def test_a_relief_leaves_what_lies_between_its_strips() -> None:
    """A board 40 high with strips of 19 is relieved for 2 mm, and strips have to be 1 mm at least."""
    for margin in (1.0 * OUT, 7.0, 13.5, 19.0, 20 * IN):
        left = measure(back_relief(block(20.0, 40.0), 3.0, margin)).area
        assert left == pytest.approx(800.0 - 3.0 * (40.0 - 2 * margin), rel=1e-12)
    for margin in (1.0 * IN, 20.0, 20 * OUT):
        assert not passes(lambda: back_relief(block(20.0, 40.0), 3.0, margin))  # noqa: B023


def test_a_back_is_beveled_by_up_to_45_degrees_below_an_eighth_of_an_inch() -> None:
    assert passes(lambda: back_bevel(block(60.0, 40.0), 45 * DEGREE))
    assert not passes(lambda: back_bevel(block(60.0, 40.0), 45 * OUT * DEGREE))
    for angle in (3.0, 45 * IN):
        left = measure(back_bevel(block(60.0, 40.0), angle * DEGREE)).area
        assert left == pytest.approx(2400.0 - (40.0 - 25.4 / 8) ** 2 * math.tan(angle * DEGREE) / 2, rel=1e-12)
    for strip, sound in ((1.0 * IN, False), (1.0 * OUT, True), (40.0 * IN, True), (40.0, False)):
        assert passes(lambda: back_bevel(block(60.0, 40.0), 0.1, strip)) == sound  # noqa: B023


# Rakes and springs.


@pytest.mark.parametrize("side", [1, -1])
def test_the_steepest_rake(side: int) -> None:
    tall = block(20.0, 400.0)
    for degrees, sound in ((80 * IN, True), (80 * OUT, False)):
        assert passes(lambda: raked_section(tall, side * math.tan(degrees * DEGREE), 0.0)) == sound  # noqa: B023


def test_the_spring_angles_there_are() -> None:
    flat = block(18.0, 100.0)
    for degrees, sound in ((20 * IN, False), (20 * OUT, True), (70 * IN, True), (70 * OUT, False)):
        assert passes(lambda: sprung(flat, degrees * DEGREE)) == sound  # noqa: B023
    laid = sprung(flat, 38 * DEGREE)
    assert (laid.wall, laid.ceiling) == pytest.approx((25.4 / 8, 25.4 / 8), abs=1e-6)


def test_half_of_a_back_lies_on_the_wall() -> None:
    """A slope behind the upper part: at least half of the width has to lie flat."""
    for part, sound in ((0.5 * OUT, True), (0.5 * IN, False)):
        profile = polygon((0, 0), (30, 0), (30, 100), (10, 100), (0, 100 * part))
        if sound:
            assert sprung(profile, 45 * DEGREE).wall > 1.0
        else:
            with pytest.raises(PreviewError, match="lies flat on its back, and only"):
                sprung(profile, 45 * DEGREE)


# Cutters.


SIZED: list[tuple[str, Callable[[float], Cutter]]] = [
    ("radius", Roundover),
    ("radius", Cove),
    ("size", Chamfer),
    ("round", lambda size: Ogee(size, 2.0)),
    ("hollow", lambda size: Ogee(2.0, size)),
    ("radius", lambda size: CoreBox(size, 3.0)),
    ("depth", lambda size: CoreBox(3.0, size)),
    ("depth", lambda size: Vee(1.0, size)),
    ("radius", lambda size: Bead(size, 1.0)),
    ("depth", lambda size: Bead(3.0, 1.0, size)),
    ("width", lambda size: Straight(size, 3.0)),
    ("depth", lambda size: Straight(3.0, size)),
    ("depth", lambda size: Drawn(wedge(), size)),
    ("step", lambda size: Roundover(3.0, step=size)),
    ("inset", lambda size: Cove(3.0, inset=size)),
    ("quirk", lambda size: Bead(3.0, size)),
]


@pytest.mark.parametrize(("field", "made"), SIZED)
def test_the_least_and_the_largest_of_a_cutter(field: str, made: Callable[[float], Cutter]) -> None:
    """A micrometer at least, 10 m at most; a step, an inset and a quirk may also be left out."""
    for size, sound in ((1e-3 * IN, False), (1e-3 * OUT, True), (1e4 * IN, True), (1e4 * OUT, False)):
        if sound:
            check_cutter(made(size))
        else:
            with pytest.raises(PreviewError) as refused:
                check_cutter(made(size))
            assert refused.value.problems[0].place == field
    if field in ("step", "inset", "quirk"):
        check_cutter(made(0.0))


def test_a_sunk_bead_has_a_quirk() -> None:
    """Where its quirks go deeper than its round they need a width; the message says which way out there is."""
    check_cutter(Bead(3.0, 0.0, 3.0))
    for quirk in (0.0, 5e-4):
        with pytest.raises(PreviewError, match="give a wider quirk"):
            check_cutter(Bead(3.0, quirk, 3.1))
    with pytest.raises(PreviewError, match="leave the quirk out, or make it wider"):
        check_cutter(Bead(3.0, 5e-4, 3.0))


def test_the_angles_of_a_vee_and_of_a_chamfer() -> None:
    for degrees, vee, chamfer in (
        (0.999, False, False),
        (1.001, True, True),
        (88.99, True, True),
        (89.01, True, False),
        (178.99, True, False),
        (179.01, False, False),
    ):
        assert passes(lambda: check_cutter(Vee(degrees * DEGREE, 3.0))) == vee  # noqa: B023
        assert passes(lambda: check_cutter(Chamfer(3.0, degrees * DEGREE))) == chamfer  # noqa: B023


@pytest.mark.parametrize("key", ["width", "thickness"])
def test_the_least_and_the_largest_blank(key: str) -> None:
    for size, sound in ((0.1 * IN, False), (0.1 * OUT, True), (1e4 * IN, True), (1e4 * OUT, False)):
        blank = Blank(**{"width": 50.0, "thickness": 20.0, key: size})
        assert passes(lambda: check_blank(blank)) == sound  # noqa: B023


# What is told of cuts.


def test_a_web_thinner_than_an_eighth_of_an_inch_is_told() -> None:
    for left, told in ((25.4 / 8 * IN, True), (25.4 / 8 * OUT, False)):
        cut = Cut(Straight(10.0, 30.0 - left), Place("face", "foot", 50.0))
        webs = thin_webs(cut_profile("a", Blank(100.0, 30.0), [cut]))
        assert [web.thickness for web in webs] == ([pytest.approx(left)] if told else [])


def test_an_undercut_over_several_edges_is_one_stretch() -> None:
    """Seen from the face, a hanging lip hides what lies between its own height and the top of its channel."""
    profile = polygon((0, 0), (10, 0), (10, 20), (16, 20), (16, 12), (22, 12), (22, 40), (0, 40))
    (found,) = undercuts(profile, profile.edges[:7], (1.0, 0.0))
    assert found.start == pytest.approx((10.0, 12.0))
    assert found.end == pytest.approx((16.0, 12.0))
    assert undercuts(profile, profile.edges[:1], (1.0, 0.0)) == ()


# Arcs for a curve.


def test_two_arcs_turn_by_216_degrees_at_most() -> None:
    """Half each, where a curve leaves and arrives at the same angle to its chord."""
    for degrees, fits in ((108 * IN, True), (108 * OUT, False)):
        cos, sin = math.cos(degrees * DEGREE), math.sin(degrees * DEGREE)
        found = biarc((5.0, -3.0), (cos, sin), (25.0, -3.0), (cos, -sin))
        if fits:
            assert found is not None
            arcs: list[Edge] = found
            assert sum(edge.sweep for edge in arcs if isinstance(edge, Arc)) == pytest.approx(-2 * degrees * DEGREE)
        else:
            assert found is None


def test_an_undercut_is_one_stretch_wherever_the_list_begins() -> None:
    profile = polygon((0, 0), (10, 0), (10, 20), (16, 20), (16, 12), (22, 12), (22, 40), (0, 40))
    for first in range(7):
        surface = [*profile.edges[first:7], *profile.edges[:first]]
        (found,) = undercuts(profile, surface, (1.0, 0.0))
        assert (found.start, found.end) == (pytest.approx((10.0, 12.0)), pytest.approx((16.0, 12.0)))


@pytest.mark.parametrize("radius", [0.42, 0.44, 0.46, 0.48, 25.0])
def test_areas_that_touch_in_a_point_stay_two(radius: float) -> None:
    """A large triangle and a small disc with one point in common, the origin."""
    corners = [(0.0, 0.0), (-100.0, 50.0), (-100.0, -50.0)]
    triangle = region([Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)])
    far = (2 * radius, 0.0)
    disc = region(
        [Arc((0.0, 0.0), far, (radius, 0.0), math.pi), Arc(far, (0.0, 0.0), (radius, 0.0), math.pi)],
    )
    for both in ((triangle, disc), (disc, triangle)):
        whole = union(*both)
        assert sorted(len(loop) for loop in whole.loops) == [2, 3]
        assert whole.area == pytest.approx(5000.0 + math.pi * radius**2, rel=1e-12)


class Cusp:
    """(t², t³) mm, scaled by 8: it stands still where t = 0, and leaves along the first axis."""

    def at(self, t: ArrayLike) -> tuple[Floats, Floats]:
        t = np.asarray(t, dtype=np.float64)[..., None] * 8.0
        return np.concatenate([t**2, t**3], axis=-1), 8.0 * np.concatenate([2 * t, 3 * t**2], axis=-1)

    def before(self, t: float) -> tuple[Floats, Floats]:
        return self.at([t])


def test_the_direction_of_a_curve_that_stands_still() -> None:
    """It is that of the curve a little further on, or a little before."""
    assert curve_direction(Cusp(), 0.0, 1) == pytest.approx((1.0, 0.0), abs=1e-3)
    assert curve_direction(Cusp(), 0.0, -1) == pytest.approx((-1.0, 0.0), abs=1e-3)
    assert curve_direction(Cusp(), 1.0, 1) == pytest.approx((2 / math.hypot(2, 24), 24 / math.hypot(2, 24)))


def test_a_round_a_hair_past_its_crown_ends_there_within_two_micrometers() -> None:
    """And within 0.002 radians: the first on a radius of 10 mm, the second on one of 0.8."""
    for radius, past, ended in (
        (10.0, 2e-4 * IN, True),
        (10.0, 2e-4 * OUT, False),
        (0.8, 2e-3 * IN, True),
        (0.8, 2e-3 * OUT, False),
    ):
        sweep = math.pi / 2 + past
        center = (13.0 - radius, 5.0)
        end = (center[0] + radius * math.cos(sweep), 5.0 + radius * math.sin(sweep))
        edges: list[Edge] = [
            Line((0, 0), (13.0, 0)),
            Line((13.0, 0), (13.0, 5.0)),
            Arc((13.0, 5.0), end, center, sweep),
            Line(end, (0, end[1])),
            Line((0, end[1]), (0, 0)),
        ]
        (arc,) = (edge for edge in make_profile("rounded", edges).edges if isinstance(edge, Arc))
        assert (arc.sweep < sweep) == ended


def test_a_rake_keeps_to_two_micrometers_unless_told() -> None:
    plain, told = (raked_section(quarter_round(30.0), 0.7, 0.7, *more) for more in ((), (0.002,)))
    assert plain == told
    assert 0.0005 < plain[1] <= 0.002
    assert raked_section(quarter_round(30.0), 0.7, 0.7, 0.002 * OUT) != plain


@pytest.mark.parametrize("side", [1, -1])
def test_an_arris_of_an_outline_turns_by_two_degrees(side: int) -> None:
    for turn, sharp in ((2 * OUT, True), (2 * IN, False)):
        lean = side * 20.0 * math.tan(turn * DEGREE)
        outline = flatten(polygon((0, 0), (20, 0), (20, 20), (20 - lean, 40), (0, 40)), 0.1)
        (at,) = np.flatnonzero((outline.points == [20.0, 20.0]).all(axis=1))
        assert bool(outline.arris[at]) == sharp
        assert outline.arris.sum() == 4 + sharp


def test_webs_a_hundredth_of_a_mm_apart_are_two() -> None:
    """Two grooves of one depth whose floors are so long and so far apart stand for two webs."""
    for wide in (0.011, 0.5, 6.0):
        cuts = [Cut(Straight(4.0, 28.0), Place("face", "foot", at)) for at in (40.0, 44.0 + wide)]
        webs = thin_webs(cut_profile("a", Blank(100.0, 30.0), cuts), 3.0)
        floors = [web for web in webs if web.thickness == pytest.approx(2.0)]
        assert len(floors) == 2


@pytest.mark.parametrize("short", [0.9, 0.5, 0.0, -0.5, -2.0])
def test_a_drawn_cutter_goes_straight_up_to_the_face(short: float) -> None:
    """Half a trapezoid 10 mm high, 6 wide at its tip and 4 at its top, let in so that its top is so far below the face:
    what it takes out of the wood is the two halves, and a shank of 8 mm over them or less its top."""
    half = polygon((0, 0), (6, 0), (4, 10), (0, 10))
    cut = Cut(Drawn(half, 10.0 + short), Place("face", "foot", 50.0))
    left = measure(cut_profile("a", Blank(100.0, 30.0), [cut])).area
    taken = 2 * (6 + 4) / 2 * 10
    if short >= 0.0:
        taken += 8.0 * short
    else:  # above the face there is no wood: the top of the trapezoid is lost, 4 wide and spreading by 1 in 5
        taken += short * (8.0 - short * 0.2)
    assert left == pytest.approx(3000.0 - taken, rel=1e-12)


def test_a_place_where_the_wood_goes_on_getting_thinner_is_no_web() -> None:
    """The floor of a hollow in two slopes: it is thinnest where the second ends, and nowhere before."""
    outline = [(0, 0), (30, 0), (30, 10), (6, 10), (5, 20), (2, 30), (30, 30), (30, 50), (0, 50)]
    for corners in (outline, [(d, 50 - h) for d, h in outline[::-1]]):
        start = corners.index((0, 0))
        (web,) = thin_webs(polygon(*corners[start:], *corners[:start]), 8.0)
        assert web.thickness == pytest.approx(2.0)


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_a_whole_circle_that_meets_nothing_is_one_part(turn: float) -> None:
    circle = Arc((9.0, 2.0), (9.0, 2.0), (4.0, 2.0), turn * 2 * math.pi)
    (part,), points = split([circle])
    assert (part.start, part.end, part.edge) == (0, 0, circle)
    assert points == [(9.0, 2.0)]


def test_a_short_edge_between_two_points_is_a_part_and_a_speck_is_none() -> None:
    """Points further apart than 0.00002 micrometers are two; an edge of one point shorter than 0.0001 is a speck."""
    (part,), points = split([Line((1.0, 2.0), (1.0 + 6e-8, 2.0))])
    assert (part.start, part.end, len(points)) == (0, 1, 2)
    assert split([Line((1.0, 2.0), (1.0 + 1e-8, 2.0))])[0] == []


@pytest.mark.parametrize("turn", [0.0, 1.1, 2.9])
def test_edges_that_meet_at_a_ten_thousandth_of_a_radian_graze(turn: float) -> None:
    def at(x: float, y: float) -> tuple[float, float]:
        cos, sin = math.cos(turn), math.sin(turn)
        return (40.0 + x * cos - y * sin, -7.0 + x * sin + y * cos)

    for angle, how in ((1e-4 * IN, "touches itself"), (1e-4 * OUT, "crosses itself")):
        rise = 9.0 * math.sin(angle)
        contact = _between(Line(at(-10, 0), at(10, 0)), Line(at(-9, -rise), at(9, rise)), [])
        assert contact is not None
        assert contact.how == how
        assert contact.at == pytest.approx(at(0, 0), abs=1e-6)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_second_meeting_within_a_hundredth_of_a_micrometer_is_the_first(side: float) -> None:
    """A line and a round of 10 mm that leave one point at an angle a meet again 2 r sin(a) on."""
    for chord, told in ((1e-5 * IN, False), (1e-5 * OUT, True)):
        angle = math.asin(chord / 20.0)
        shared, center = (3.0, 4.0), (3.0, 4.0 + side * 10.0)
        end = (3.0 + 10.0 * math.sin(1.0), 4.0 + side * 10.0 * (1 - math.cos(1.0)))
        line = Line(shared, (3.0 + 5.0 * math.cos(angle), 4.0 + side * 5.0 * math.sin(angle)))
        round_ = Arc(shared, end, center, side * 1.0)
        for pair in ((line, round_), (round_, line)):
            assert (_between(*pair, [shared]) is not None) == told
