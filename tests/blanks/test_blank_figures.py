"""The published figures: staves and polygons, stock, arcs, bends, and grain."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from preview.blanks import (
    NOMINAL,
    board_feet,
    chord,
    edge_angle,
    flat_of,
    form_radius,
    laminated,
    point_of,
    rings,
    sagitta,
    sawn,
    segment_width,
    segments_within,
    side_of,
    spring_back,
    staved,
    stock_for,
    thickest_strip,
)
from preview.blanks.laminated import COLD_RATIO
from preview.errors import PreviewError

INCH = 25.4

# Across flats and across points for a side of 1 (woodmagazine.com, "Staves and Segments").
FACTORS = {
    6: (1.73205, 2.0),
    8: (2.41421, 2.61313),
    10: (3.07768, 3.23607),
    12: (3.73205, 3.86370),
    16: (5.02734, 5.12583),
}


@pytest.mark.parametrize("sides", FACTORS)
def test_stave_factors(sides: int) -> None:
    flats, points = FACTORS[sides]
    assert side_of(flats / 2, sides) == pytest.approx(1.0, abs=3e-6)
    assert 2 * point_of(flats / 2, sides) == pytest.approx(points, abs=8e-6)
    assert 2 * flat_of(points / 2, sides) == pytest.approx(flats, abs=8e-6)


@pytest.mark.parametrize("sides", range(3, 17))
def test_edge_angle(sides: int) -> None:
    """180 degrees over the number of staves (woodmagazine.com; masterwoodcreations.com)."""
    assert math.degrees(edge_angle(sides)) == pytest.approx(180 / sides)


def test_a_hexagon_of_24_inches() -> None:
    """24 in across flats: 24 / 1.73205 = 13.85641 in (woodmagazine.com)."""
    assert side_of(12.0, 6) == pytest.approx(13.85641, abs=2e-5)


def test_handbook_polygons() -> None:
    """Machinery's Handbook, 31st ed. (2020): octagon s = 0.828 r, R = 1.082 r; hexagon s = 1.155 r (p. 77); a regular
    polygon of 12 sides in a circle of 8: s = 4.141 (p. 78); a round of 15 in a square of diagonal 21.21 (p. 75)."""
    assert side_of(1.0, 8) == pytest.approx(0.828, abs=5e-4)
    assert point_of(1.0, 8) == pytest.approx(1.082, abs=5e-4)
    assert side_of(1.0, 6) == pytest.approx(1.155, abs=5e-4)
    assert side_of(flat_of(8.0, 12), 12) == pytest.approx(4.141, abs=5e-4)
    assert 2 * point_of(7.5, 4) == pytest.approx(21.21, abs=5e-3)


def test_handbook_segments_of_a_circle() -> None:
    """Machinery's Handbook, 31st ed., pp. 79 and 50: r 60, h 8: chord 59.86; r 12, depth 2: chord 13.27, angle 67.13.
    The exact chord of the first is 59.867 and the exact angle of the second 67.115."""
    for radius, rise, wide in ((60.0, 8.0, 59.86), (12.0, 2.0, 13.27)):
        sweep = 2 * math.acos((radius - rise) / radius)
        assert chord(radius, sweep) == pytest.approx(wide, abs=8e-3)
        assert sagitta(radius, sweep) == pytest.approx(rise)
    assert sagitta(12.0, math.radians(67.115)) == pytest.approx(2.0, abs=1e-4)
    assert (sagitta(10.0, 5.0), chord(10.0, 5.0)) == pytest.approx((10.0, 20.0))  # past a half turn


def test_surfaced_stock() -> None:
    """Hardwood surfaced two sides, in (engineeringtoolbox.com, d_1462)."""
    told = {"4/4": 13 / 16, "5/4": 1 + 1 / 16, "6/4": 1 + 5 / 16, "7/4": 1.5, "8/4": 1.75, "12/4": 2.75, "16/4": 3.75}
    assert {each.name: each.surfaced / INCH for each in NOMINAL} == pytest.approx(told)
    for each, thicker in pairwise(NOMINAL):
        assert stock_for(each.surfaced) is each
        assert stock_for(each.surfaced + 0.01) is thicker
        assert each.rough / INCH == pytest.approx(int(each.name.split("/")[0]) / 4)
    assert stock_for(NOMINAL[-1].surfaced + 0.01) is None


def test_board_feet() -> None:
    """1 x 6 in x 8 ft is 4 board feet; 8/4 stock, 7 in x 9 ft, is 10.5 (lumber yards' rule: 144 in³)."""
    assert board_feet(1 * 6 * 96 * INCH**3) == pytest.approx(4.0)
    assert board_feet(2 * 7 * 108 * INCH**3) == pytest.approx(10.5)


@pytest.mark.parametrize(
    ("radius", "strip"),
    [(2, 3 / 32), (3.9, 3 / 32), (4, 1 / 8), (7.9, 1 / 8), (8, 3 / 16), (11.9, 3 / 16), (12, 1 / 4), (200, 1 / 4)],
)
def test_strips_by_radius(radius: float, strip: float) -> None:
    """Strip by inside radius, in: 2 to 4, 3/32; 4 to 8, 1/8; 8 to 12, 3/16; over 12, 1/4 (a magazine's table, quoted at
    sawmillcreek.org, 35209)."""
    assert thickest_strip(radius * INCH)[0] / INCH == pytest.approx(strip)


def test_every_strip_bends_cold() -> None:
    """Radius over thickness is not less than 20 to 30 (Wengert, 2012-03-02); 1 in on 24.7 in strains by 1.98 %."""
    for radius in (20.0, 30.0, 50.0, 51.0, 101.0, 102.0, 203.0, 204.0, 305.0, 3000.0):
        assert radius / thickest_strip(radius)[0] >= COLD_RATIO[0]
    assert pytest.approx(0.0198, abs=1e-4) == 0.5 / (24.7 + 0.5)
    # One inch in one strip on that radius is not what the table would use, but its strain is the same function.
    bend = laminated(300.0, 250.0, 60.0, 1.0)
    assert bend.strain == pytest.approx(bend.strip / 2 / (bend.radius + bend.strip / 2))
    assert bend.strain < 0.0198


def test_below_the_table() -> None:
    strip, rule = thickest_strip(30.0)
    assert strip == pytest.approx(1.2)
    assert '2"' in rule
    with pytest.raises(PreviewError, match=r"follows this radius up to .* \(radius / 25\)") as told:
        thickest_strip(15.0)
    assert "up to 0.60 mm thick" in str(told.value)


def test_spring_back() -> None:
    """y = x / n²: a rise of 3 in loses 3/16 in of 4 plies and 3/64 of 8 (woodenboat forum, 141333;
    finewoodworking.com). Form radius R (1 - 1/n²), from elastic beams: 24 gives 22.5 and 23.6."""
    assert [spring_back(3.0, n) for n in (4, 8)] == pytest.approx([3 / 16, 3 / 64])
    assert [form_radius(24.0, n) for n in (4, 8)] == pytest.approx([22.5, 23.6], abs=0.03)


def test_form_and_rise_agree() -> None:
    """The two rules are one: a shallow bend made on the form's radius has risen by what springs back more."""
    radius, strips, across = 600.0, 6, 200.0
    rise, formed = (r - math.sqrt(r * r - across * across / 4) for r in (radius, form_radius(radius, strips)))
    assert formed - rise == pytest.approx(spring_back(formed, strips), rel=0.02)


def test_outside_of_a_bend_is_longer() -> None:
    """A 3/4 in stick bent by 180 degrees: pi 0.75 = 2.356 in (measured 2-1/4, dfcabinetmaker.com)."""
    bend = laminated(7.25 * INCH, 6.5 * INCH, 40.0, math.pi, clean=0.0)
    assert (bend.outer_length - bend.inner_length) / INCH == pytest.approx(2.356, abs=1e-3)
    assert bend.strips == 6  # 1/8 in strips
    assert bend.strip / INCH == pytest.approx(0.125)
    assert bend.length == pytest.approx(bend.outer_length + 6 * INCH)


def test_a_lining_bend_leaves_its_face_inside() -> None:
    wraps, lines = (laminated(330.0, 310.0, 60.0, 1.2, clean=2.0, wraps=each) for each in (True, False))
    assert (wraps.radius, lines.radius) == (310.0, 308.0)
    assert wraps.depth == lines.depth == 22.0
    assert wraps.outer_length == pytest.approx(332.0 * 1.2)
    assert lines.outer_length == pytest.approx(330.0 * 1.2)


def test_grain_within_thirty_degrees() -> None:
    """ANSI/AWI 0622-2024, 3.3.2 e: grain at the face not over 30 degrees to the curve."""
    for degrees in (10, 60, 61, 90, 120, 121, 180, 300):
        arc = sawn(400.0, 370.0, 19.0, math.radians(degrees))
        assert arc.segments >= math.ceil(degrees / 60)
        assert math.degrees(arc.run_out) <= 30 + 1e-9
        assert math.degrees(arc.in_one) == pytest.approx(degrees / 2)
        assert arc.joints == arc.segments - 1
        one_fewer = segments_within(math.radians(degrees)) - 1
        assert not one_fewer or degrees / one_fewer / 2 > 30


@pytest.mark.parametrize("segments", range(6, 20))
def test_board_for_a_segment(segments: int) -> None:
    """Board width R_out - R_in cos(180/N): common practice of segmented work."""
    stack = rings(100.0, 70.0, 60.0, 1.0, segments=segments, clean=0.0)
    half = math.pi / segments
    assert stack.width == pytest.approx(100.0 - 70.0 * math.cos(half))
    assert stack.length == pytest.approx(200.0 * math.tan(half))
    assert (stack.cut, stack.offset, stack.run_out) == pytest.approx((half, half, half))
    assert segment_width(100.0, 70.0, 2 * half) == pytest.approx(stack.width)
    assert stack.layer * stack.layers == pytest.approx(60.0)
    assert stack.layer <= 13 / 16 * INCH
    assert stack.parts == segments * stack.layers


def test_four_staves_make_four_quarter_rounds() -> None:
    """Common practice: four staves turned to about 4 in give four quarter rounds, with a kerf lost between them."""
    blank = staved(2 * INCH, 0.75 * INCH, 3 * INCH, math.pi / 2, staves=4, meets_straights=True, least_face=2 * INCH)
    assert blank.outside_diameter == pytest.approx(4 * INCH)
    assert blank.parting.most == 4
    assert blank.parting.true == 3
    assert blank.parting.loss == pytest.approx(INCH / 16)  # half a kerf of 1/8 in at each end
