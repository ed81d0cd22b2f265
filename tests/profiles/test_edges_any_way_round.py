"""Arcs of every quadrant, hand and size, away from the origin; areas and moments of circles' parts by the handbook."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
import shapely

from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Line, distance_to, make_profile, measures, projection_at
from preview.profiles.moments import area_and_moments
from samples import half_round

CENTER = complex(37.25, -81.5)
HANDS = [1.0, -1.0]
FROM = [0.3, 1.9, 3.5, 5.1]
"""The first direction from the center, one in each quadrant."""
DEGREE = math.pi / 180


def arc(radius: float, first: float, sweep: float, center: complex = CENTER) -> Arc:
    """The arc that leaves the direction `first` of its center and turns by `sweep`."""
    ends = [center + cmath.rect(radius, angle) for angle in (first, first + sweep)]
    start, end = ((at.real, at.imag) for at in ends)
    return Arc(start, end, (center.real, center.imag), sweep)


# Boxes.


@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize("quarter", range(4))
def test_a_large_round_that_stops_a_hair_past_its_turn_or_short_of_it(quarter: int, hand: float) -> None:
    """On a radius of 1 m half a milliradian is half a millimeter along, and an eighth of a micrometer out."""
    turn = quarter * math.pi / 2
    for hair in (5e-4, -5e-4):
        other = turn - hand * 1.0
        edge = arc(1000.0, other, turn + hand * hair - other, 0j)
        ends = np.array([edge.start, edge.end])
        low, high = ends.min(axis=0), ends.max(axis=0)
        if hair > 0:
            axis, outward = quarter % 2, quarter < 2
            (high if outward else low)[axis] = 1000.0 if outward else -1000.0
        for one in (edge, edge.reversed()):
            assert one.bounds == pytest.approx((*low, *high), abs=1e-9)


def test_the_box_of_a_quarter_is_its_ends_bit_for_bit_at_any_size() -> None:
    random = np.random.default_rng(7)
    for d, h, size in random.uniform(0.1, 40.0, (60, 3)).tolist():
        foot, top, box = (d + size, h), (d, h + size), (d, h, d + size, h + size)
        assert Arc(foot, top, (d, h), math.pi / 2).bounds == box
        assert Arc(top, foot, (d, h), -math.pi / 2).bounds == box


# Points and angles.


def test_ends_of_edges_are_exact_also_from_far_out_to_near_by() -> None:
    random = np.random.default_rng(8)
    for a, b, c, d in random.uniform([-900.0, -900.0, 0.0, 0.0], [-700.0, -700.0, 0.3, 0.3], (50, 4)).tolist():
        line = Line((a, b), (c, d))
        assert line.point([0.0, 0.25, 1.0]).tolist()[::2] == [[a, b], [c, d]]
        edge = arc(7.3, a, 1.1, complex(b, c))
        points = edge.point([0.0, 0.001, 1.0])
        assert (tuple(points[0]), tuple(points[2])) == (edge.start, edge.end)
        assert points[1] == pytest.approx(edge.start, abs=7.3 * 1.1 * 1.1e-3)
        assert tuple(points[1]) != edge.start


@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize("first", FROM)
def test_the_angle_travelled_to_a_direction(first: float, hand: float) -> None:
    edge = arc(12.5, first, hand * 4.0)
    assert edge.angle_to(edge.start) == 0.0
    for angle in (1e-3, 0.5, 2.0, 3.1, 3.2, 4.0, 6.2):
        for reach in (0.1, 12.5, 90.0):
            at = CENTER + cmath.rect(reach, first + hand * angle)
            assert edge.angle_to((at.real, at.imag)) == pytest.approx(angle, abs=1e-12)


# Distances.


def by_hand(edge: Arc, at: complex) -> float:
    """The distance to an arc: to its circle where the point lies in its sector, else to the nearer end."""
    center = complex(*edge.center)
    turned = cmath.phase((at - center) / (complex(*edge.start) - center)) * math.copysign(1.0, edge.sweep)
    if turned % (2 * math.pi) <= abs(edge.sweep):
        return abs(abs(at - center) - edge.radius)
    return min(abs(at - complex(*end)) for end in (edge.start, edge.end))


@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize("first", FROM)
def test_distances_from_arcs_of_less_and_more_than_half_a_turn(first: float, hand: float) -> None:
    random = np.random.default_rng(9)
    points = random.uniform([0.0, -120.0], [75.0, -45.0], (300, 2))
    for sweep in (0.4, 1.5, 3.0, 3.4, 4.7, 6.0):
        edge = arc(12.5, first, hand * sweep)
        expected = [by_hand(edge, complex(d, h)) for d, h in points.tolist()]
        assert edge.distance(points) == pytest.approx(np.array(expected), abs=1e-10)


# Area and moments: Machinery's Handbook, 31st ed., p. 229 (sector, segment, half circle), and the sums of them.


def figures(loop: list[Edge]) -> tuple[float, complex]:
    area, over_d, over_h = area_and_moments(loop)
    return area, complex(over_d, over_h) / area


@pytest.mark.parametrize("first", [0.0, *FROM])
@pytest.mark.parametrize("sweep", [0.2, 1.0, math.pi / 2, 2.5, math.pi, 4.0, 5.8])
def test_sectors_and_segments_anywhere(sweep: float, first: float) -> None:
    """A sector's centroid is 4 r sin(θ/2) / 3θ from the center, a segment's 4 r sin³(θ/2) / 3(θ - sin θ)."""
    r = 12.5
    edge = arc(r, first, sweep)
    middle, center = cmath.rect(1.0, first + sweep / 2), (CENTER.real, CENTER.imag)
    sine = math.sin(sweep / 2)
    sector: list[Edge] = [Line(center, edge.start), edge, Line(edge.end, center)]
    segment: list[Edge] = [edge, Line(edge.end, edge.start)]
    for loop, area, off in (
        (sector, r * r * sweep / 2, 4 * r * sine / (3 * sweep)),
        (segment, r * r * (sweep - math.sin(sweep)) / 2, 4 * r * sine**3 / (3 * (sweep - math.sin(sweep)))),
    ):
        for first_edge in range(len(loop)):
            turned = [*loop[first_edge:], *loop[:first_edge]]
            found, centroid = figures(turned)
            assert found == pytest.approx(area, rel=1e-10)
            assert centroid == pytest.approx(CENTER + off * middle, abs=1e-9)
            found, centroid = figures([one.reversed() for one in reversed(turned)])
            assert found == pytest.approx(-area, rel=1e-10)
            assert centroid == pytest.approx(CENTER + off * middle, abs=1e-9)


@pytest.mark.parametrize("hand", HANDS)
def test_a_disc_of_one_edge(hand: float) -> None:
    at = (CENTER.real + 12.5, CENTER.imag)
    area, centroid = figures([Arc(at, at, (CENTER.real, CENTER.imag), hand * 2 * math.pi)])
    assert area == pytest.approx(hand * math.pi * 12.5**2, rel=1e-12)
    assert centroid == pytest.approx(CENTER, abs=1e-12)


def test_polygons_by_shapely() -> None:
    random = np.random.default_rng(10)
    for _ in range(20):
        angles = np.sort(random.uniform(0.0, 2 * math.pi, 7))
        corners = random.uniform(3.0, 20.0, (7, 1)) * np.column_stack([np.cos(angles), np.sin(angles)]) + [-60.0, 25.0]
        ends = [(d, h) for d, h in corners.tolist()]
        polygon = shapely.Polygon(ends)
        area, centroid = figures([Line(a, b) for a, b in zip(ends, [*ends[1:], ends[0]], strict=True)])
        assert area == pytest.approx(polygon.area, rel=1e-12)
        assert centroid == pytest.approx(complex(polygon.centroid.x, polygon.centroid.y), abs=1e-9)


# Projections and distances of whole profiles.

HUMP = make_profile(
    "hump",
    [
        Line((0, 0), (20, 0)),
        Line((20, 0), (20, 10)),
        Arc((20, 10), (0, 10), (10, 10), math.pi),
        Line((0, 10), (0, 0)),
    ],
)
"""A board 20 thick with a half round on top."""


def test_a_round_top_from_side_to_side() -> None:
    for h, reach in ((10.0, 10.0), (16.0, 8.0), (18.0, 6.0), (20.0, 0.0), (20.0 + 5e-10, 0.0)):
        assert projection_at(HUMP, h) == pytest.approx((10.0 - reach, 10.0 + reach), abs=1e-12)


def test_a_height_above_the_profile_is_told_with_what_there_is() -> None:
    shifted = HUMP.moved(3.0, -4.5)
    with pytest.raises(PreviewError, match=r"has nothing 15\.6 mm up: it runs from -4\.5 mm to 15\.5 mm"):
        projection_at(shifted, 15.6)


@pytest.mark.parametrize("held", [1, 3, 10, 11, 1000])
def test_distances_are_the_same_however_many_are_found_at_a_time(monkeypatch: pytest.MonkeyPatch, held: int) -> None:
    """Each to its nearest edge: in, on and round a half round of 10 mm, and a board with one on top."""
    monkeypatch.setattr(measures, "AT_A_TIME", held)
    on_the_round = (10.0 * math.sin(1.0), 10.0 - 10.0 * math.cos(1.0))
    points = [(-3.0, 4.0), (5.0, 10.0), (16.0, 10.0), on_the_round, (3.0, 3.0)]
    expected = [3.0, 5.0, 6.0, 0.0, min(3.0, 10.0 - math.hypot(3.0, 7.0))]
    assert distance_to(half_round(), points) == pytest.approx(expected, abs=2e-9)
    assert distance_to(HUMP, [(10.0, 3.0), (10.0, 26.0), (23.0, 5.0), (1.0, 5.0), (24.0, -3.0)]) == pytest.approx(
        [3.0, 6.0, 3.0, 1.0, 5.0]
    )
