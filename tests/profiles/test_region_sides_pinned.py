"""Regions: which side of an edge is area, areas that touch in a point at any angle, specks and slivers."""

from __future__ import annotations

import cmath
import itertools
import math
from collections.abc import Sequence

import pytest

from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Line, Region, difference, region, union
from preview.profiles.regions import _chained, _Winding
from preview.profiles.splitting import Part
from region_samples import box, disc, slot

IN, OUT = 1 - 4e-4, 1 + 4e-4
Point = tuple[float, float]


def polygon(corners: Sequence[complex]) -> Region:
    ends = [(at.real, at.imag) for at in corners]
    return region([Line(a, b) for a, b in zip(ends, [*ends[1:], ends[0]], strict=True)])


# Winding numbers: once round a point of the area, half on its edge.

RING = difference(disc(3, 4, 10), disc(3, 4, 6))
ROUNDED = slot(5, -2, 4, 20)


@pytest.mark.parametrize(
    ("area", "at", "times"),
    [
        (disc(3, 4, 10), (3.0, 4.0), 1),
        (disc(3, 4, 10), (3.0, 13.9), 1),
        (disc(3, 4, 10), (-6.5, 3.0), 1),
        (disc(3, 4, 10), (12.0, 5.5), 1),
        (disc(3, 4, 10), (3.0, 14.1), 0),
        (disc(3, 4, 10), (-40.0, 4.5), 0),
        (RING, (3.0, 4.5), 0),
        (RING, (3.0, 12.0), 1),
        (RING, (-5.0, 4.5), 1),
        (RING, (3.0, -7.0), 0),
        (ROUNDED, (5.0, -5.5), 1),
        (ROUNDED, (5.0, 21.0), 1),
        (ROUNDED, (8.5, -4.9), 0),
        (ROUNDED, (2.0, 19.0), 1),
        (box(0, 0, 20, 50), (3.0, 3.0), 1),
        (box(0, 0, 20, 50), (3.0, -3.0), 0),
    ],
)
def test_how_often_an_outline_goes_round_a_point(area: Region, at: Point, times: int) -> None:
    assert _Winding(area.edges).at(at) == pytest.approx(times, abs=1e-12)
    assert area.holds(at) == (times == 1)
    turned = [edge.reversed() for edge in reversed(area.edges)]
    assert _Winding(turned).at(at) == pytest.approx(-times, abs=1e-12)


@pytest.mark.parametrize("area", [disc(3, 4, 10), RING, ROUNDED, box(0, 0, 20, 50)])
def test_half_a_turn_round_a_point_of_an_edge(area: Region) -> None:
    edges = area.edges
    for number, edge in enumerate(edges):
        for part in (0.5, 0.2):
            d, h = edge.point(part).tolist()
            assert _Winding(edges).at((d, h), [number]) == pytest.approx(0.5, abs=1e-9)
            turned = [edge.reversed() for edge in edges]
            assert _Winding(turned).at((d, h), [number]) == pytest.approx(-0.5, abs=1e-9)


# Areas that touch in a point.


@pytest.mark.parametrize("begun", [0, 1, 2])
@pytest.mark.parametrize("turn", [k * math.pi / 7 for k in range(14)])
def test_wedges_with_their_points_together_stay_apart(turn: float, begun: int) -> None:
    """Three, of 20, 40 and 60 degrees, unevenly set round one point, whatever the order."""
    wedges = []
    for middle, half, long in ((0.0, 10, 9.0), (100.0, 20, 12.0), (210.0, 30, 7.0)):
        sides = [cmath.rect(long, turn + math.radians(middle + side * half)) for side in (-1, 1)]
        corners = [0j, *sides]
        wedges.append(polygon([*corners[begun:], *corners[:begun]]))
    for order in itertools.permutations(wedges):
        whole = union(*order)
        assert [len(loop) for loop in whole.loops] == [3, 3, 3]
        assert whole.area == pytest.approx(sum(wedge.area for wedge in wedges), rel=1e-9)
        assert sorted(round(loop.area, 6) for loop in (Region((one,)) for one in whole.loops)) == sorted(
            round(wedge.area, 6) for wedge in wedges
        )


@pytest.mark.parametrize("turn", [k * math.pi / 7 for k in range(14)])
def test_a_disc_cut_through_to_its_center_falls_into_sectors(turn: float) -> None:
    """Wedges of 20, 40 and 60 degrees leave 70, 60 and 110 degrees between them, whatever the order of the cuts."""
    cuts = []
    for middle, half, long in ((0.0, 10, 9.0), (100.0, 20, 12.0), (210.0, 30, 7.0)):
        sides = [cmath.rect(long, turn + math.radians(middle + side * half)) for side in (-1, 1)]
        cuts.append(polygon([0j, *sides]))
    for order in itertools.permutations(cuts):
        left = difference(disc(0, 0, 5), *order)
        found = sorted(Region((loop,)).area for loop in left.loops)
        assert found == pytest.approx([25 * math.radians(angle) / 2 for angle in (60, 70, 110)], rel=1e-9)


@pytest.mark.parametrize("turn", [k * math.pi / 7 for k in range(14)])
def test_a_board_cut_through_from_corner_to_corner_is_two(turn: float) -> None:
    """A square less two squares that meet in its middle, set at any angle."""

    def square(d: float, h: float, size: float) -> Region:
        corners = [complex(d, h), complex(d + size, h), complex(d + size, h + size), complex(d, h + size)]
        return polygon([at * cmath.rect(1.0, turn) for at in corners])

    cuts = [square(-20, 0, 20), square(0, -20, 20)]
    for order in (cuts, cuts[::-1]):
        left = difference(square(-10, -10, 20), *order)
        assert len(left.loops) == 2
        assert all(Region((loop,)).area == pytest.approx(100.0, rel=1e-9) for loop in left.loops)


# Specks and slivers.


@pytest.mark.parametrize("clockwise", [False, True])
def test_a_speck_a_fiftieth_of_a_millimeter_wide_is_an_outline(clockwise: bool) -> None:
    corners = [0j, 0.02, 0.02 + 0.02j, 0.02j]
    speck = polygon(corners[::-1] if clockwise else corners)
    assert speck.area == pytest.approx(4e-4, rel=1e-9)
    assert speck.outlines == speck.loops
    assert len(speck.outlines) == 1
    assert speck.holes == ()
    holed = difference(box(-5, -5, 5, 5), speck)
    assert (len(holed.outlines), len(holed.holes)) == (1, 1)
    assert difference(box(-5, -5, 5, 5), holed).area == pytest.approx(4e-4, rel=1e-6)


def test_what_is_left_thinner_than_a_thousandth_of_a_micrometer_is_nothing() -> None:
    """The mean width: its area over half of the way round it."""
    for long in (0.5, 10.0, 400.0):
        for wide, loops in ((0.3e-6, 0), (1e-6 * 0.99, 0), (1e-6 * 1.01, 1), (1e-5, 1)):
            left = difference(box(0, 0, 1 + wide, long), box(-1, -1, 1, long + 1))
            assert len(left.loops) == loops


def test_no_edges_are_no_area() -> None:
    assert region([]) == Region(())


# Outlines that cannot be followed.


def test_parts_that_lead_nowhere_are_told() -> None:
    points = [(1.0, 2.0), (4.0, 6.0), (4.12345, -7.5)]
    edges: list[Edge] = [Line(points[0], points[1]), Line(points[1], points[2])]
    parts = [Part(0, 1, edges[0], 0), Part(1, 2, edges[1], 1)]
    with pytest.raises(PreviewError, match=r"edges meet too nearly at 4\.123, -7\.500 mm to say which lies in front"):
        _chained(parts, points)


def test_a_round_shared_by_two_areas_parts_them() -> None:
    """A disc let into a board from its edge: what is left, the disc, and both together."""
    board, plug = box(0, 0, 40, 100), disc(40, 50, 12)
    left = difference(board, plug)
    half = math.pi * 72
    assert left.area == pytest.approx(4000 - half, rel=1e-12)
    assert union(left, plug).area == pytest.approx(4000 + half, rel=1e-12)
    (loop,) = union(left, plug).loops
    assert sum(isinstance(edge, Arc) for edge in loop) >= 1
    assert all(edge.center[0] == 40.0 and edge.via[0] > 40.0 for edge in loop if isinstance(edge, Arc))
