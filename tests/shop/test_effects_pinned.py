"""What wood does along its grain, and what a wrong radius does to two curves that meet smoothly."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from preview.errors import PreviewError
from preview.joinery import Joint, Passage, join
from preview.runs import Curve, Straight, lay_out
from preview.scene import Site
from preview.shop import forecast
from preview.shop.effects import by_length, faces_in_plan
from samples import block, corner
from test_forecast import Between


@pytest.mark.parametrize(("change", "percent"), [(-5.0, 5.0), (-30.0, 30.0), (5.0, 0.0), (0.0, 0.0)])
def test_shrinkage_along_the_grain(change: float, percent: float) -> None:
    """0.2 % from green (30 %) to ovendry, in proportion between: of 3 m, 6 mm at most. Wood that swells only presses.

    The largest figure of the range of the Wood Handbook, 0.1 to 0.2 % (from memory).
    """
    along = Passage((1.0, 0.0), (0.0, 1.0))
    joint = Joint("j", "butt", (0.0, 0.0), along, along)
    found = by_length(faces_in_plan(joint, 0.0, 20.0), joint, 3000.0, change)
    assert found.heel == found.toe == pytest.approx(3000.0 * 0.002 * percent / 30.0)
    assert (found.source, found.opens) == ("length", "both")


def test_across_a_miter_half_of_it_counts() -> None:
    """Pulled apart along the run by u, faces that stand at 45 degrees part by u cos 45."""
    joint = join(corner(math.pi / 2), "m", block()).joints[1]
    found = by_length(faces_in_plan(joint, 0.0, 20.0), joint, 3000.0, -15.0)
    assert found.toe == pytest.approx(3.0 * math.sqrt(0.5))


def wave(first: float, second: float, radius: float, other: float) -> list[float]:
    line = join(lay_out("wave", [Straight(400.0), Curve(first, radius), Curve(second, other)]), "m", block())
    pairs = [Between(joint, *sides) for joint, sides in zip(line.joints, line.between, strict=True)]
    return [found.worst for found in forecast(pairs, line.pieces, Site(radius=1.0)) if found.kind == "tangent"]


def test_where_two_curves_meet_smoothly_both_are_off() -> None:
    """Each leaves off tan(half its sweep) up to a quarter turn, beyond it a step of the error itself."""
    assert wave(1.0, 0.6, 300.0, 500.0) == pytest.approx([math.tan(0.5), math.tan(0.5) + math.tan(0.3)])
    assert wave(2.0, -0.6, 300.0, 500.0) == pytest.approx([1.0, 1.0 + math.tan(0.3)])


def test_what_is_out_has_its_own_name_at_each_kind_of_joint() -> None:
    """A corner in plan, the turn of a wall where a curve begins, the pitch where a slope changes."""
    walls = Site(wall=math.radians(0.5))
    climb = replace(lay_out("stair", [Straight(400.0), Straight(400.0, 0.5)]), raked="same")
    smooth = lay_out("smooth", [Straight(400.0), Curve(1.0, 300.0)])
    for run, noun in ((corner(math.pi / 2), "corner"), (smooth, "wall's turn"), (climb, "pitch")):
        line = join(run, "m", block())
        pairs = [Between(joint, *sides) for joint, sides in zip(line.joints, line.between, strict=True)]
        (found,) = forecast(pairs, line.pieces, walls)
        assert f"at one end if the {noun} is 0.5° out" in found.line


@pytest.mark.parametrize("radius", [40.0, 40.001, 60.0])
def test_an_error_as_large_as_a_radius_is_refused(radius: float) -> None:
    line = join(lay_out("smooth", [Straight(400.0), Curve(1.0, 40.0)]), "m", block())
    pairs = [Between(joint, *sides) for joint, sides in zip(line.joints, line.between, strict=True)]
    with pytest.raises(PreviewError, match="a curve of the scene has a radius of 40 mm, no more than this"):
        forecast(pairs, line.pieces, Site(radius=radius))
    assert forecast(pairs, line.pieces, Site(radius=39.999))
