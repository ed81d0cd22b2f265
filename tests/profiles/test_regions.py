"""Union, difference and intersection against closed forms and against shapely on a fine flattening."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.profiles import Arc, Line, Region, difference, intersection, make_profile, region, union
from region_samples import box, disc, flattened, slot

EXACT = 1e-9  # relative


def lens(r: float, apart: float) -> float:
    """The area that two circles of one radius share: 2 r² acos(c/2r) - c/2 sqrt(4r² - c²), plane geometry."""
    return 2 * r * r * math.acos(apart / 2 / r) - apart / 2 * math.sqrt(4 * r * r - apart * apart)


@pytest.mark.parametrize("apart", [0.001, 1.0, 7.0, 9.999, 13.0, 19.9])
def test_two_circles(apart: float) -> None:
    first, second, shared = disc(3, 4, 10), disc(3 + apart, 4, 10), lens(10, apart)
    whole = 100 * math.pi
    assert intersection(first, second).area == pytest.approx(shared, rel=EXACT, abs=1e-9)
    assert union(first, second).area == pytest.approx(2 * whole - shared, rel=EXACT)
    assert difference(first, second).area == pytest.approx(whole - shared, rel=EXACT)
    assert all(isinstance(edge, Arc) for edge in union(first, second).edges)


def test_edges_keep_their_centers_and_meet_bit_for_bit() -> None:
    left = difference(box(0, 0, 30, 100), disc(30, 40, 12), box(20, 60, 40, 70))
    (loop,) = left.loops
    assert {edge.center for edge in loop if isinstance(edge, Arc)} == {(30, 40)}
    for before, edge in zip((loop[-1], *loop[:-1]), loop, strict=True):
        assert before.end == edge.start
    assert make_profile("left", loop).edges[0].start == (0.0, 0.0)


def test_boxes_that_share_a_side_become_one() -> None:
    for other in (box(20, 0, 50, 100), box(20, 30, 50, 60), box(20, -10, 50, 130)):
        both = union(box(0, 0, 20, 100), other)
        assert len(both.loops) == 1
        assert both.area == pytest.approx(2000 + other.area, rel=EXACT)
        assert intersection(box(0, 0, 20, 100), other).loops == ()
        assert difference(box(0, 0, 20, 100), other).area == pytest.approx(2000, rel=EXACT)


def test_cuts_flush_with_faces_and_side_by_side() -> None:
    """Two straight passes side by side, flush with a face on one side: no skin is left between them."""
    wood = box(0, 0, 30, 100)
    left = difference(wood, box(20, 40, 31, 50), box(20, 50, 31, 60), box(30, 0, 40, 100))
    assert len(left.loops) == 1
    assert len(make_profile("left", left.loops[0]).edges) == 8
    assert left.area == pytest.approx(3000 - 200, rel=EXACT)


def test_arcs_tangent_to_faces() -> None:
    """A roundover's arc ends tangent on both faces; a round touching a face inside takes nothing of it."""
    wood = box(0, 0, 30, 100)
    corner = region(
        [Line((30, 92), (30, 100)), Line((30, 100), (22, 100)), Arc((22, 100), (30, 92), (22, 92), -math.pi / 2)]
    )
    left = difference(wood, corner)
    assert left.area == pytest.approx(3000 - (1 - math.pi / 4) * 64, rel=EXACT)
    assert len(make_profile("left", left.loops[0]).edges) == 5
    touching = disc(20, 50, 10)  # touches d = 30 from within
    assert union(wood, touching).area == pytest.approx(3000, rel=EXACT)
    assert len(union(wood, touching).loops) == 1
    assert intersection(wood, touching).area == pytest.approx(100 * math.pi, rel=EXACT)
    outside = disc(40, 50, 10)  # touches it from without
    assert difference(wood, outside).area == pytest.approx(3000, rel=EXACT)
    assert len(union(wood, outside).loops) == 2
    assert intersection(wood, outside).loops == ()


def test_circles_tangent_to_each_other() -> None:
    big, small = disc(0, 0, 10), disc(6, 0, 4)  # the small one touches from within
    assert difference(big, small).area == pytest.approx(math.pi * 84, rel=EXACT)
    assert union(big, small).area == pytest.approx(math.pi * 100, rel=EXACT)
    assert len(union(big, disc(14, 0, 4)).loops) == 2


def test_arcs_of_one_circle_overlap() -> None:
    quarter = region([Line((0, 0), (10, 0)), Arc((10, 0), (0, 10), (0, 0), math.pi / 2), Line((0, 10), (0, 0))])
    tilted = math.radians(30)
    ends = [(10 * math.cos(a), 10 * math.sin(a)) for a in (tilted, tilted + math.pi / 2)]
    turned = region([Line((0, 0), ends[0]), Arc(ends[0], ends[1], (0, 0), math.pi / 2), Line(ends[1], (0, 0))])
    sector = 100 * math.radians(60) / 2
    assert intersection(quarter, turned).area == pytest.approx(sector, rel=EXACT)
    assert union(quarter, turned).area == pytest.approx(50 * math.pi - sector, rel=EXACT)
    assert difference(disc(0, 0, 10), quarter).area == pytest.approx(75 * math.pi, rel=EXACT)
    assert difference(quarter, disc(0, 0, 10)).loops == ()


def test_holes_and_pieces() -> None:
    ring = difference(disc(0, 0, 10), disc(0, 0, 6))
    assert (len(ring.outlines), len(ring.holes)) == (1, 1)
    assert ring.area == pytest.approx(64 * math.pi, rel=EXACT)
    assert not ring.holds((0, 0))
    assert ring.holds((8, 0))
    halves = difference(ring, box(-1, -20, 1, 20))
    assert (len(halves.outlines), len(halves.holes)) == (2, 0)
    assert union(halves, box(-1, -20, 1, 20)).holds((0, 9))
    filled = union(ring, disc(0, 0, 6))
    assert (len(filled.loops), filled.area) == (1, pytest.approx(100 * math.pi, rel=EXACT))


def test_pieces_that_touch_in_a_point_are_two() -> None:
    both = union(box(0, 0, 10, 10), box(10, 10, 20, 20))
    assert [len(loop) for loop in both.outlines] == [4, 4]
    cross = difference(box(0, 0, 20, 20), box(0, 10, 10, 20), box(10, 0, 20, 10))
    assert len(cross.outlines) == 2


def test_nothing() -> None:
    wood = box(0, 0, 10, 10)
    assert difference(wood, wood).loops == ()
    assert union(wood, wood).area == pytest.approx(100)
    assert union() == Region(())
    assert difference(wood, Region(())).area == pytest.approx(100)
    assert intersection(wood, Region(())).loops == ()


def test_a_loop_must_be_whole() -> None:
    with pytest.raises(PreviewError, match="open"):
        region([Line((0, 0), (1, 0)), Line((1, 0), (1, 1))])
    corners = [(0.0, 0.0), (9.0, 9.0), (9.0, 0.0), (0.0, 9.0)]
    with pytest.raises(PreviewError, match="crosses itself"):
        region([Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)])


@st.composite
def regions(draw: st.DrawFn) -> Region:
    """A box, a disc or a slot; half of the sizes are whole mm, so that sides are shared and rounds tangent."""

    def size(low: int, high: int) -> float:
        return draw(
            st.one_of(st.integers(low, high).map(float), st.floats(low, high).map(lambda value: round(value, 6)))
        )

    kind = draw(st.sampled_from(["box", "disc", "slot"]))
    d, h = size(0, 10), size(0, 10)
    if kind == "box":
        return box(d, h, d + size(1, 8), h + size(1, 8))
    return disc(d, h, size(1, 5)) if kind == "disc" else slot(d, h, size(1, 4), size(1, 6))


@settings(max_examples=50, deadline=None)
@given(st.lists(regions(), min_size=2, max_size=6))
def test_shapely_agrees(several: list[Region]) -> None:
    flat = [flattened(each) for each in several]
    for ours, theirs in (
        (union(*several), shapely.union_all(flat)),
        (difference(*several), shapely.difference(flat[0], shapely.union_all(flat[1:]))),
        (intersection(*several), shapely.intersection_all(flat)),
    ):
        # 180 chords a half turn stray by 4e-5 of the radius, here up to 5 mm, along at most six outlines.
        assert ours.area == pytest.approx(theirs.area, abs=0.02)


@settings(max_examples=60, deadline=None)
@given(regions(), regions(), regions())
def test_areas_add_up(a: Region, b: Region, c: Region) -> None:
    """Laws of areas that need no other library, to rounding: every edge is exact."""
    ab = intersection(a, b)
    assert union(a, b).area + ab.area == pytest.approx(a.area + b.area, rel=EXACT, abs=1e-6)
    assert difference(a, b).area + ab.area == pytest.approx(a.area, rel=EXACT, abs=1e-6)
    assert union(a, b, c).area == pytest.approx(union(union(a, b), c).area, rel=EXACT, abs=1e-6)
    assert difference(a, b, c).area == pytest.approx(difference(difference(a, c), b).area, rel=EXACT, abs=1e-6)
