"""How a section that is sprung comes to bear: by which bevel, on how much of it, and what is cut where it has none."""

from __future__ import annotations

import cmath
import math

import pytest
import shapely
from scipy.optimize import brentq
from shapely import affinity

from faced_pieces import polygon
from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Line, Profile, flatten, make_profile, measure, sprung

SPRING = math.atan2(51, 68)
"""36.87 degrees: the back of the crown below, a 3-4-5 triangle."""
CORNERS = [(0.0, 0.0), (10.0, 0.0), (60.0, 62.0), (60.0, 80.0), (51.0, 80.0), (0.0, 12.0)]
"""A crown as it stands in the corner: 12 mm on the wall, 9 mm on the ceiling, a back of 85 mm between."""
WANT = 25.4 / 8


def taken_down(edges: list[Edge], turn: float = SPRING) -> Profile:
    """A crown laid on its back on the bench."""
    way = cmath.rect(1.0, turn)

    def spot(at: tuple[float, float]) -> tuple[float, float]:
        found = complex(*at) * way
        return (found.real, found.imag)

    laid: list[Edge] = [
        Arc(spot(edge.start), spot(edge.end), spot(edge.center), edge.sweep)
        if isinstance(edge, Arc)
        else Line(spot(edge.start), spot(edge.end))
        for edge in edges
    ]
    left, low = (min(edge.bounds[axis] for edge in laid) for axis in (0, 1))
    return make_profile("crown", [edge.moved(-left, -low) for edge in laid])


def lines(corners: list[tuple[float, float]]) -> list[Edge]:
    return [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]


def refusal(profile: Profile, spring: float, flats: float | None = None) -> tuple[str, str, str]:
    with pytest.raises(PreviewError) as refused:
        sprung(profile, spring, flats)
    (found,) = refused.value.problems
    return found.place, found.problem, found.fix


def area_of(profile: Profile) -> shapely.Polygon:
    return shapely.Polygon(flatten(profile, 0.01).points)


def cut_by_shapely(profile: Profile, spring: float, want: float) -> shapely.Geometry:
    """The section turned by shapely, and cut at the heights at which its chords are `want` long, found by bisection."""
    wood = affinity.rotate(area_of(profile), -spring, origin=(0, 0), use_radians=True)
    left, low, right, top = wood.bounds

    def across(at: float) -> float:
        x0, _, x1, _ = wood.intersection(shapely.LineString([(left - 1, at), (right + 1, at)])).bounds
        return float(x1 - x0 - want)

    def upright(at: float) -> float:
        _, y0, _, y1 = wood.intersection(shapely.LineString([(at, low - 1), (at, top + 1)])).bounds
        return float(y1 - y0 - want)

    ceiling = brentq(across, (low + top) / 2, top - 1e-6, xtol=1e-12)
    wall = brentq(upright, left + 1e-6, (left + right) / 2, xtol=1e-12)
    left_over = wood.intersection(shapely.box(wall, low - 1, right + 1, ceiling))
    return affinity.translate(left_over, -wall, -left_over.bounds[1])


SQUARE = polygon((0, 0), (18, 0), (18, 100), (0, 100))
POINTED = polygon((0, 0), (20, 0), (30, 140), (0, 100))
"""Its upper edge leans out so far that it is the highest and the outermost wood at once."""
SPEARHEAD = polygon((0, 0), (2, 0), (18, 20), (2, 40), (0, 40))


@pytest.mark.parametrize(
    ("profile", "degrees", "flats"),
    [(SQUARE, 20, None), (SQUARE, 70, 6.0), (POINTED, 45, None), (POINTED, 30, 5.0), (SPEARHEAD, 45, 12.0)],
)
def test_edges_without_a_bevel_are_cut_as_shapely_cuts_them(profile: Profile, degrees: float, flats: float) -> None:
    laid = sprung(profile, math.radians(degrees), flats)
    want = WANT if flats is None else flats
    theirs = cut_by_shapely(profile, math.radians(degrees), want)
    assert area_of(laid.profile).symmetric_difference(theirs).area < 1e-5
    assert (laid.wall, laid.ceiling) == pytest.approx((want, want), abs=1e-6)


@pytest.mark.parametrize("degrees", [20, 45, 70])
def test_it_does_not_matter_how_high_the_section_was_drawn(degrees: float) -> None:
    laid, again = (sprung(each, math.radians(degrees)) for each in (SQUARE, SQUARE.moved(0.0, 300.0)))
    assert area_of(laid.profile).symmetric_difference(area_of(again.profile)).area < 1e-6
    assert (again.wall, again.ceiling, again.notes) == (
        pytest.approx(laid.wall, abs=1e-8),
        pytest.approx(laid.ceiling, abs=1e-8),
        laid.notes,
    )


def test_half_of_a_back_is_enough_however_high_it_was_drawn() -> None:
    """50 of 100 mm, from 10 mm up and from 300."""
    leaning = polygon((0, 10), (30, 10), (30, 110), (10, 110), (0, 60))
    for profile in (leaning, leaning.moved(0.0, 290.0)):
        assert sprung(profile, math.radians(45)).wall == pytest.approx(WANT, abs=1e-6)
    assert refusal(leaning.moved(4.0, 0.0), math.radians(45))[:2] == (
        "spring",
        "a profile that is given a spring lies flat on its back, and only 0 mm of the 100 mm of this one does",
    )


def test_each_bevel_is_told_with_its_own_length() -> None:
    laid = sprung(taken_down(lines(CORNERS)), SPRING)
    assert laid.notes == (
        "the bevel of its foot lies on the wall with 12 mm",
        "the bevel of its top lies on the ceiling with 9 mm",
    )
    assert (laid.wall, laid.ceiling) == pytest.approx((12.0, 9.0), abs=1e-9)


@pytest.mark.parametrize("degrees", [21, 33.3, 38, 47.7, 52, 61, 69])
def test_bevels_that_are_true_bear_bit_for_bit(degrees: float) -> None:
    """A back of any lean between the same flats: no end of a bevel is off wall or ceiling, not by rounding either."""
    spring = math.radians(degrees)
    top = (51.0, 12.0 + 51.0 / math.tan(spring))
    corners = [(0.0, 0.0), (10.0, 0.0), (60.0, top[1] - 9.0), (60.0, top[1]), top, (0.0, 12.0)]
    laid = sprung(taken_down(lines(corners), spring), spring).profile
    high = measure(laid).h_max
    on_ceiling = [edge for edge in laid.edges if edge.start[1] == edge.end[1] == high]
    on_wall = [edge for edge in laid.edges if edge.start[0] == edge.end[0] == 0.0]
    assert [edge.length for edge in (*on_ceiling, *on_wall)] == pytest.approx([9.0, 12.0], abs=1e-9)
    assert area_of(laid).symmetric_difference(shapely.Polygon(corners)).area < 1e-6


@pytest.mark.parametrize("off", [0.15, -0.15, 0.02, -0.02])
def test_truing_a_bevel_takes_its_sliver_and_moves_no_other_face(off: float) -> None:
    """Turned a little further, and sawn plumb and level at the inner ends of its two bevels, by shapely."""
    laid = sprung(taken_down(lines(CORNERS)), SPRING + math.radians(off))
    turned = affinity.rotate(shapely.Polygon(CORNERS), -off, origin=(0, 0))
    spots = list(turned.exterior.coords)
    wall, ceiling = max(spots[0][0], spots[5][0]), min(spots[3][1], spots[4][1])
    left_over = turned.intersection(shapely.box(wall, -50, 200, ceiling))
    theirs = affinity.translate(left_over, -wall, -left_over.bounds[1])
    assert area_of(laid.profile).symmetric_difference(theirs).area < 1e-6
    assert f"trued by {abs(off):g}°" in laid.notes[0]
    assert f"trued by {abs(off):g}°" in laid.notes[1]


def test_a_bevel_of_less_than_a_millimeter_is_none() -> None:
    """0.8 mm at the top: the ceiling gets its eighth of an inch by a cut; the 1.07 mm at the foot are a bevel."""
    corners = [(0.0, 0.0), (10.0, 0.0), (60.0, 62.0), (60.0, 80.0), (59.2, 80.0), (0.0, 80 - 59.2 * 68 / 51)]
    laid = sprung(taken_down(lines(corners)), SPRING)
    assert laid.wall == pytest.approx(80 - 59.2 * 68 / 51)
    assert laid.ceiling == pytest.approx(WANT, abs=1e-6)
    assert laid.notes == (
        "the bevel of its foot lies on the wall with 1.1 mm",
        "at 36.87° no bevel of its top is level: it is cut for a flat of 3.2 mm on the ceiling",
    )


def test_a_round_that_falls_off_slowly_is_no_bevel() -> None:
    """From level, half a mm down over 9: a circle of 81.25."""
    edges = lines(CORNERS)
    edges[2] = Line((60.0, 62.0), (60.0, 80.5))
    edges[3] = Arc((60.0, 80.5), (51.0, 80.0), (60.0, 80.5 - 81.25), math.asin(9 / 81.25))
    laid = sprung(taken_down(edges), SPRING)
    assert laid.notes[1] == "at 36.87° no bevel of its top is level: it is cut for a flat of 3.2 mm on the ceiling"
    assert laid.ceiling == pytest.approx(WANT, abs=1e-6)


@pytest.mark.parametrize(("outer", "inner", "nearest"), [(2.0, 6.0, 2), (6.0, 2.0, 2), (3.0, 12.0, 3), (12.0, 3.0, 3)])
def test_of_two_bevels_that_meet_at_the_top_the_nearest_is_told(outer: float, inner: float, nearest: int) -> None:
    """A ridge 56 mm out: 4 mm of it fall outwards, 5 inwards, at so many degrees."""
    fall = [out * math.tan(math.radians(angle)) for out, angle in ((4.0, outer), (5.0, inner))]
    corners = [
        (0.0, 0.0), (10.0, 0.0), (60.0, 62.0), (60.0, 80.0 + fall[1] - fall[0]), (56.0, 80.0 + fall[1]), (51.0, 80.0),
        (0.0, 12.0),
    ]  # fmt: skip
    laid = sprung(taken_down(lines(corners)), SPRING)
    assert laid.notes[1] == (
        f"at 36.87° no bevel of its top is level, the nearest {nearest}° off (check the spring): it is cut for a flat "
        "of 3.2 mm on the ceiling"
    )


def test_a_groove_in_a_bevel_leaves_the_longer_part_to_bear() -> None:
    """2.5 and 4.5 mm of the 9 on the ceiling, 6 and 3 of the 12 on the wall."""
    corners = [
        (0.0, 0.0), (10.0, 0.0), (60.0, 62.0), (60.0, 80.0), (57.5, 80.0), (57.5, 78.0), (55.5, 78.0), (55.5, 80.0),
        (51.0, 80.0), (0.0, 12.0), (0.0, 6.0), (2.0, 6.0), (2.0, 3.0), (0.0, 3.0),
    ]  # fmt: skip
    laid = sprung(taken_down(lines(corners)), SPRING)
    assert (laid.wall, laid.ceiling) == pytest.approx((6.0, 4.5), abs=1e-9)
    assert measure(laid.profile).area == pytest.approx(shapely.Polygon(corners).area, abs=1e-6)


def test_the_widest_flat_is_that_half_way_down() -> None:
    """Of the spearhead at 45 degrees, from corners (0, 19) and (11.39.., 28.6..) on the line h - d = 19 mm: 14.8 mm."""
    part = (19 - 2) / 36
    widest = ((18 - 16 * part) + (20 + 20 * part) - 19) / math.sqrt(2)
    assert refusal(SPEARHEAD, math.radians(45), 15.0) == (
        "flats",
        f"the edge at the wall gives no flat of 15 mm, at most {widest:.1f} mm",
        "use smaller flats",
    )


def test_two_points_give_no_flat() -> None:
    """At 45 degrees they stand 14 mm apart and nearly level: a saw that skims both leaves less than a millimeter."""
    profile = polygon((0, 0), (20, 0), (20, 100), (10, 110.2), (5, 100), (0, 100))
    assert refusal(profile, math.radians(45)) == (
        "flats",
        "a flat of 3.2 mm on the ceiling does not fit the edge",
        "use smaller flats",
    )


def test_a_cut_that_severs_the_wood() -> None:
    """Two thin legs that meet in the corner to be cut: 4.2 mm across from the outside to where they part."""
    profile = polygon((0, 0), (20, 0), (20, 70), (1.5, 70), (1.5, 98.5), (40, 98.5), (40, 100), (0, 100))
    assert sprung(profile, math.radians(45), 4.0).ceiling == pytest.approx(4.0, abs=1e-6)
    assert refusal(profile, math.radians(45), 5.0) == (
        "flats",
        "cutting the flats severs the wood",
        "use smaller flats",
    )


@pytest.mark.parametrize(("flats", "said"), [(math.nan, "nan"), (math.inf, "inf"), (0.5, "0.5 mm"), (18.5, "18.5 mm")])
def test_flats_that_are_none(flats: float, said: str) -> None:
    assert refusal(SQUARE, math.radians(45), flats) == (
        "flats",
        f"the flats on the wall and on the ceiling are {said}, and the molding is 18 mm thick",
        "give from 1 mm to 18 mm",
    )
