"""The overall outline of a build-up: exact area, gaps told, members that stand clear or overlap."""

from __future__ import annotations

import math

import pytest
import shapely

from preview.errors import PreviewError
from preview.profiles import Arc, Profile, Region, make_profile, measure, overall_outline
from region_samples import flattened
from samples import BASE, block, cove_spandrel, quarter_round

PI = math.pi


def test_a_base_with_its_shoe() -> None:
    """A quarter round against the base: one outline, no gap, areas added."""
    shoe = quarter_round(12.0).moved(31.75, 0.0)
    whole = overall_outline("base and shoe", [BASE, shoe])
    assert measure(whole.outline).area == pytest.approx(measure(BASE).area + 36 * PI, rel=1e-12)
    assert (whole.gaps, whole.overlaps) == ((), ())
    assert measure(whole.outline).d_max == pytest.approx(31.75 + 12)
    assert sum(isinstance(edge, Arc) and edge.radius == pytest.approx(12.0) for edge in whole.outline.edges) == 1


def test_a_member_on_top_of_another_makes_one_face() -> None:
    whole = overall_outline("blocks", [block(20.0, 40.0), block(20.0, 30.0).moved(0.0, 40.0)])
    assert whole.outline.edges == block(20.0, 70.0).edges


def test_a_closed_gap_is_told() -> None:
    """A cap over two strips that stand 5 apart closes a hollow of 5 x 40 in."""
    strips = [block(10.0, 40.0), block(10.0, 40.0).moved(15.0, 0.0), block(25.0, 8.0).moved(0.0, 40.0)]
    strips.append(block(25.0, 8.0).moved(0.0, -8.0))
    whole = overall_outline("box", strips)
    (gap,) = whole.gaps
    assert gap.measures.area == pytest.approx(200.0)
    assert (gap.measures.d_min, gap.measures.d_max, gap.measures.h_min, gap.measures.h_max) == (10.0, 15.0, 0.0, 40.0)
    assert measure(whole.outline).area == pytest.approx(25 * 56)


def test_a_curved_gap() -> None:
    """A hollow of 10 boxed in by strips behind, before, over and under it: a quarter circle stays open."""
    strips = [block(5.0, 10.0), block(10.0, 10.0).moved(15.0, 0.0)]
    strips += [block(25.0, 5.0).moved(0.0, 10.0), block(25.0, 5.0).moved(0.0, -5.0)]
    whole = overall_outline("cove between", [cove_spandrel(10.0).moved(5.0, 0.0), *strips])
    (gap,) = whole.gaps
    assert gap.measures.area == pytest.approx(25 * PI, rel=1e-12)
    assert measure(whole.outline).area == pytest.approx(25 * 20, rel=1e-12)


def test_members_in_one_place() -> None:
    whole = overall_outline("clash", [block(20.0, 40.0), block(20.0, 40.0).moved(15.0, 10.0)])
    (clash,) = whole.overlaps
    assert (clash.first, clash.second, clash.area) == ("block", "block", pytest.approx(5 * 30))


def test_members_that_stand_clear() -> None:
    far = Profile("shoe", quarter_round(12.0).moved(40.0, 0.0).edges)
    with pytest.raises(PreviewError, match=r"shoe stands clear of the rest, which reaches 31\.8 mm out and 86 mm up"):
        overall_outline("apart", [BASE, far])
    with pytest.raises(PreviewError, match="no members"):
        overall_outline("none", [])


def test_shapely_agrees() -> None:
    members = [BASE, block(40.0, 15.0).moved(0.0, 86.0), quarter_round(15.0).moved(31.75, 0.0), block(12.0, 30.0)]
    ours = overall_outline("stack", members)
    theirs = shapely.union_all([flattened(Region((member.edges,))) for member in members])
    assert measure(ours.outline).area == pytest.approx(theirs.area, abs=0.02)
    assert make_profile("stack", ours.outline.edges).edges == ours.outline.edges
