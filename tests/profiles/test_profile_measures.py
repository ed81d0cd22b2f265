"""Areas, centroids, heights and distances against handbook tables and against shapely."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.profiles import (
    Arc,
    Edge,
    Line,
    Profile,
    Shape,
    arc_of_sweep,
    arc_through,
    distance_to,
    flatten,
    make_profile,
    measure,
    projection_at,
    sketch,
)
from random_profiles import sampled, sketched


def quarter(r: float) -> Profile:
    return make_profile(
        "quarter round",
        [Line((0, 0), (r, 0)), Arc((r, 0), (0, r), (0, 0), math.pi / 2), Line((0, r), (0, 0))],
    )


def spandrel(r: float) -> Profile:
    """What is left of a square when a quarter circle is taken out of it: a cove's wood."""
    return make_profile("cove", [Line((0, 0), (r, 0)), Arc((r, 0), (0, r), (r, r), -math.pi / 2), Line((0, r), (0, 0))])


def segment(r: float, theta: float) -> Profile:
    """A circular segment, its chord on the wall."""
    chord = 2 * r * math.sin(theta / 2)
    return make_profile("segment", [arc_of_sweep((0, 0), (0, chord), theta), Line((0, chord), (0, 0))])


def sector(r: float, theta: float) -> Profile:
    """A circular sector, its center at the origin and one of its radii up the wall."""
    low = (r * math.sin(theta), r * math.cos(theta))
    return make_profile("sector", [Line((0, 0), low), Arc(low, (0, r), (0, 0), theta), Line((0, r), (0, 0))])


# Machinery's Handbook, 31st ed., p. 230, and engineeringstatics.org, table C.1: quarter circle.
def test_quarter_circle() -> None:
    found = measure(quarter(1.0))
    assert found.area == pytest.approx(math.pi / 4, abs=1e-15)
    assert found.centroid == pytest.approx((4 / (3 * math.pi), 4 / (3 * math.pi)), abs=1e-15)
    assert found.centroid == pytest.approx((0.4244, 0.4244), abs=5e-5)
    assert math.hypot(*found.centroid) == pytest.approx(0.6002, abs=5e-5)
    assert found.perimeter == pytest.approx(2 + math.pi / 2, abs=1e-15)
    assert (found.d_min, found.d_max, found.h_min, found.h_max) == (0.0, 1.0, 0.0, 1.0)


# Machinery's Handbook, 31st ed., pp. 80 and 230: the cove's spandrel, with its two worked examples.
def test_cove_spandrel() -> None:
    found = measure(spandrel(1.0))
    assert found.area == pytest.approx(1 - math.pi / 4, abs=1e-15)
    assert found.area == pytest.approx(0.2146, abs=5e-5)
    assert found.centroid == pytest.approx((0.2234, 0.2234), abs=5e-5)
    assert measure(spandrel(0.7 * 25.4)).area / 25.4**2 == pytest.approx(0.105, abs=5e-4)
    # The second example is by the chord, 0.1075 c², where the constant is exactly (1 - π/4) / 2 = 0.1073.
    assert measure(spandrel(2.2 / math.sqrt(2) * 25.4)).area / 25.4**2 == pytest.approx(0.520, abs=1e-3)


# Machinery's Handbook, 31st ed., p. 230: half circle, center of gravity 0.4244 r from the diameter.
def test_half_circle() -> None:
    found = measure(segment(10.0, math.pi))
    assert found.area == pytest.approx(50 * math.pi, abs=1e-12)
    assert found.centroid == pytest.approx((40 / (3 * math.pi), 10.0), abs=1e-13)
    assert found.centroid[0] == pytest.approx(4.244, abs=5e-4)


# Machinery's Handbook, 31st ed., p. 78: radius 35, angle 60 degrees: area 641.41; its arc, 36.645, is
# rounded there from a constant of four digits (exactly 36.652).
def test_sector() -> None:
    found = measure(sector(35.0, math.pi / 3))
    assert found.area == pytest.approx(641.41, abs=0.005)
    assert found.area == pytest.approx(35**2 * math.pi / 6, abs=1e-11)
    assert found.perimeter - 70 == pytest.approx(36.645, abs=0.01)
    assert found.perimeter - 70 == pytest.approx(35 * math.pi / 3, abs=1e-12)


# Machinery's Handbook, 31st ed., p. 79 (r 60, h 8) and p. 50 (r 12, depth 2).
def test_segment_examples() -> None:
    flat = segment(60.0, 2 * math.acos(52 / 60))
    assert measure(flat).h_max == pytest.approx(59.86, abs=0.01)
    assert measure(flat).d_max == pytest.approx(8.0, abs=1e-12)
    theta = 2 * math.acos(10 / 12)
    assert math.degrees(theta) == pytest.approx(67.13, abs=0.02)
    found = measure(segment(12.0, theta))
    assert found.h_max == pytest.approx(13.27, abs=0.005)
    assert found.area == pytest.approx(18.01, abs=0.005)
    assert found.perimeter - found.h_max == pytest.approx(14.06, abs=0.005)
    # p. 229: center of gravity from the center, chord³ / (12 area); the chord is 10 from the center.
    assert found.centroid[0] + 10 == pytest.approx(found.h_max**3 / (12 * found.area), abs=1e-12)
    assert found.centroid[0] + 10 == pytest.approx(10.806, abs=5e-4)


@pytest.mark.parametrize("theta", [1e-3, 0.05, 0.2999, 0.3001, 1.0, 3.0, 4.0, 5.5])
def test_segments_small_and_large(theta: float) -> None:
    """The area (r²/2)(θ - sin θ), Machinery's Handbook p. 229, summed here as its power series."""
    r = 2000.0 if theta < 0.5 else 20.0
    terms = [(-1) ** k * theta ** (2 * k + 3) / math.factorial(2 * k + 3) for k in range(20)]
    chord = 2 * r * math.sin(theta / 2)
    if theta < 0.5:  # alone it would be too thin for a molding
        edges: list[Edge] = [Line((0, 0), (5, 0)), arc_of_sweep((5, 0), (5, chord), theta)]
        edges += [Line((5, chord), (0, chord)), Line((0, chord), (0, 0))]
        found = measure(make_profile("swelled board", edges)).area - 5 * chord
    else:
        found = measure(segment(r, theta)).area
    assert found == pytest.approx(r * r / 2 * math.fsum(terms), rel=1e-12, abs=1e-11)


def test_an_arc_that_hardly_turns() -> None:
    """So little that θ - sin θ, taken as it stands, is exactly 0."""
    theta = 2e-9
    assert theta - math.sin(theta) == 0.0
    edges: list[Edge] = [
        Line((0, 0), (5, 0)),
        Line((5, 0), (5, 10)),
        arc_of_sweep((5, 10), (5, 10.001), theta),
        Line((5, 10.001), (4, 20)),
        Line((4, 20), (0, 20)),
        Line((0, 20), (0, 0)),
    ]
    found = measure(make_profile("board", edges))
    straight = measure(make_profile("board", [*edges[:2], Line((5, 10), (5, 10.001)), *edges[3:]]))
    assert found.area == pytest.approx(straight.area, abs=1e-9)
    assert found.centroid == pytest.approx(straight.centroid, abs=1e-9)


def test_a_swell_over_half_a_turn() -> None:
    """Three quarters of a circle: the whole circle less the segment of the last quarter."""
    r = 10.0
    found = measure(segment(r, 3 * math.pi / 2))
    assert found.area == pytest.approx(math.pi * r * r - (math.pi / 2 - 1) * r * r / 2, abs=1e-11)
    assert found.d_max == pytest.approx(r + r / math.sqrt(2), abs=1e-13)
    assert found.h_min == pytest.approx(r / math.sqrt(2) - r, abs=1e-13)


def test_a_bead_stands_out_half_its_height() -> None:
    """A half circle: area (π/8) h², standing out h/2 (Nicholson, The Mechanic's Companion)."""
    found = measure(sketch("bead", 10.0, [Shape("bead", 8.0)]))
    assert found.area - 80 == pytest.approx(math.pi / 8 * 64, abs=1e-12)
    assert found.d_max == 14.0


@settings(max_examples=40)
@given(sketched())
def test_measures_agree_with_a_polygon(profile: Profile) -> None:
    found = measure(profile)
    polygon = shapely.Polygon(sampled(profile.edges, 0.02))
    assert found.area == pytest.approx(polygon.area, rel=1e-4)
    assert found.centroid == pytest.approx((polygon.centroid.x, polygon.centroid.y), abs=1e-3)
    assert found.perimeter == pytest.approx(polygon.length, rel=1e-4)
    bounds = (found.d_min, found.h_min, found.d_max, found.h_max)
    assert bounds == pytest.approx(polygon.bounds, abs=1e-3)


@given(sketched(), st.floats(-500, 500), st.floats(-500, 500))
@settings(max_examples=30)
def test_moving_moves_the_centroid_and_nothing_else(profile: Profile, out: float, up: float) -> None:
    here, there = measure(profile), measure(profile.moved(out, up))
    assert there.area == pytest.approx(here.area, rel=1e-10)
    assert there.perimeter == pytest.approx(here.perimeter, rel=1e-12)
    assert there.centroid == pytest.approx((here.centroid[0] + out, here.centroid[1] + up), abs=1e-8)


def test_the_polygon_closes_in_on_the_measures_at_the_right_rate() -> None:
    """A polygon misses area as its chords miss the arc: a 16th of the chord tolerance, a 16th of the error.

    A mistake in the exact figures would not shrink. All arcs have one radius, so all their steps are equal.
    """
    r = 4.5
    shapes = [Shape("fillet", 2.0), Shape("bead", 2 * r), Shape("fillet", 3.0), Shape("ovolo", r, -r)]
    profile = sketch("beads", 20.0, shapes)
    exact = measure(profile)
    errors = []
    for steps in (4, 16, 64):  # to a quarter turn
        outline = flatten(profile, r * (1 - math.cos(math.pi / 4 / steps)))
        assert len(outline.points) == 3 * steps + 5
        polygon = shapely.Polygon(outline.points)
        center = (polygon.centroid.x - exact.centroid[0], polygon.centroid.y - exact.centroid[1])
        errors.append((polygon.area - exact.area, *center))
    for coarse, fine in pairwise(errors):
        assert np.array(coarse) / np.array(fine) == pytest.approx([16, 16, 16], rel=0.03)
    assert abs(errors[-1][0]) < 0.01


# Heights.

RAIL = sketch(
    "rail",
    10.0,
    [
        Shape("fillet", 4.0),
        Shape("fillet", out=6.0),
        Shape("bead", 8.0),
        Shape("fillet", out=-10.0),
        Shape("bevel", 6.0, 3.0),
        Shape("fillet", 2.0),
    ],
)


@pytest.mark.parametrize(
    ("h", "d"),
    [
        (0.0, 10.0),
        (2.0, 10.0),
        (4.0, 16.0),  # a ledge: both of its sides count
        (8.0, 20.0),  # the middle of the bead
        (6.0, 16.0 + math.sqrt(12)),
        (12.0, 16.0),
        (12.0 + 1e-8, 6.0),
        (15.0, 7.5),
        (19.0, 9.0),
        (20.0, 9.0),
    ],
)
def test_projection_at_a_height(h: float, d: float) -> None:
    assert projection_at(RAIL, h) == pytest.approx((0.0, d), abs=1e-7)


def test_projection_of_an_outline_off_the_wall() -> None:
    moved = RAIL.moved(5.0, 100.0)
    assert projection_at(moved, 108.0) == pytest.approx((5.0, 25.0), abs=1e-12)


def test_projection_of_a_sprung_back() -> None:
    crown = sketch("crown", 10.0, [Shape("fillet", 5.0), Shape("bevel", 40.0, 40.0)], wall=15.0, ceiling=20.0)
    assert projection_at(crown, 30.0) == pytest.approx((15.0, 35.0), abs=1e-12)


@pytest.mark.parametrize("h", [-0.1, 20.1])
def test_no_projection_beyond_the_profile(h: float) -> None:
    with pytest.raises(PreviewError) as caught:
        projection_at(RAIL, h)
    assert str(caught.value) == (
        f"  the profile has nothing {h:g} mm up: it runs from 0 mm to 20 mm\n  fix: ask for a height within the profile"
    )


@settings(max_examples=40)
@given(sketched(), st.floats(0.001, 0.999))
def test_projections_agree_with_a_cut_polygon(profile: Profile, part: float) -> None:
    size = measure(profile)
    h = size.h_min + part * (size.h_max - size.h_min)
    least, largest = projection_at(profile, h)
    points = sampled(profile.edges, 0.01)
    near = points[np.abs(points[:, 1] - h) < 0.02]
    assert least >= near[:, 0].min() - 1e-9 - 1e-3 * size.d_max
    # Where the outline runs nearly level, a hair of height is a long way out: bound it from both sides.
    band = shapely.Polygon(points).intersection(shapely.box(-1, h - 0.02, 1000, h + 0.02)).bounds
    inner = shapely.Polygon(points).intersection(shapely.LineString([(-1, h), (1000, h)])).bounds
    # The polygon is inside a round outline by the height of an arc over its chord, at most c^2 / 8r.
    round_out = max((0.01**2 / (8 * edge.radius) for edge in profile.edges if isinstance(edge, Arc)), default=0.0)
    assert inner[2] - 1e-2 <= largest <= band[2] + round_out + 1e-9
    assert least == pytest.approx(inner[0], abs=1e-9)


# Distances.


@settings(max_examples=40)
@given(sketched(), st.lists(st.tuples(st.floats(-20, 120), st.floats(-20, 120)), min_size=1, max_size=20))
def test_distances_agree_with_a_polygon(profile: Profile, places: list[tuple[float, float]]) -> None:
    found = distance_to(profile, places)
    ring = shapely.LinearRing(sampled(profile.edges, 0.02))
    other = shapely.distance(ring, shapely.points(places))
    # The polygon is inside a round by the height of an arc over its chord, at most c^2 / 8r.
    round_in = max((0.02**2 / (8 * edge.radius) for edge in profile.edges if isinstance(edge, Arc)), default=0.0)
    assert found == pytest.approx(other, abs=1.01 * round_in + 1e-9)


def test_distances_to_a_quarter_round() -> None:
    places = [(0.0, 0.0), (3.0, 4.0), (6.0, 8.0), (12.0, 16.0), (20.0, -10.0), (-3.0, 5.0), (1.0, 5.0)]
    found = distance_to(quarter(10.0), places)
    assert found == pytest.approx([0, 3, 0, 10, math.hypot(10, 10), 3, 1], abs=1e-14)
    assert distance_to(quarter(10.0), np.empty((0, 2))).shape == (0,)


def test_arcs_measure_alike_however_they_are_given() -> None:
    by_center = quarter(10.0)
    s = math.sqrt(50)
    by_points = make_profile(
        "quarter", [Line((0, 0), (10, 0)), arc_through((10, 0), (s, s), (0, 10)), Line((0, 10), (0, 0))]
    )
    assert measure(by_points).area == pytest.approx(measure(by_center).area, abs=1e-12)
