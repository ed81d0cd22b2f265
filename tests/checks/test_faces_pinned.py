"""Two rectangles held against each other: how they look at one another, what they share, and where they cease to meet.

The limits are those that the module states: each is tried a little inside and a little outside of it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from preview.checks.faces import EndFace, facing, on_block, overlap
from preview.checks.joints import _half_near, _meets, _miss
from preview.checks.rims import compare

Array = np.ndarray


def end(
    wide: float, high: float, at: tuple[float, float, float] = (0.0, 0.0, 0.0), tilt: float = 0.0, *, looks: int = 1
) -> EndFace:
    """A rectangle about `at` that looks along z, or against it, turned by `tilt` degrees about the y axis."""
    cos, sin = math.cos(math.radians(tilt)), math.sin(math.radians(tilt))
    turn = np.array([[cos, 0.0, sin], [0.0, 1.0, 0.0], [-sin, 0.0, cos]])
    flat = np.array([(-wide, -high, 0.0), (wide, -high, 0.0), (wide, high, 0.0), (-wide, high, 0.0)]) / 2
    corners = (flat if looks > 0 else flat[::-1]) @ turn.T + np.array(at)
    normal = turn @ np.array([0.0, 0.0, float(looks)])
    following = np.array([1, 2, 3, 0])
    stops = corners[following]
    return EndFace(
        0, corners, stops, following, np.tile(normal, (4, 1)), normal, np.array(at, float), wide * high, True, 1e-9
    )


@pytest.mark.parametrize("tilt", [0.0, 1e-4, 3.0, -9.99, 45.0, 90.0, 120.0])
def test_how_far_two_faces_fail_to_look_at_each_other(tilt: float) -> None:
    assert facing(end(20, 30), end(20, 30, tilt=tilt, looks=-1)) == pytest.approx(abs(tilt), abs=1e-9)
    assert facing(end(20, 30, tilt=tilt), end(20, 30, looks=-1)) == pytest.approx(abs(tilt), abs=1e-9)
    assert facing(end(20, 30), end(20, 30, tilt=tilt)) == pytest.approx(180 - abs(tilt), abs=1e-9)


@pytest.mark.parametrize(("x", "y"), [(0.0, 0.0), (5.0, 0.0), (5.0, -12.0), (-19.0, 3.0), (20.5, 0.0)])
def test_what_two_faces_share(x: float, y: float) -> None:
    """Rectangles of 20 x 30 moved by x and y; and a small one within a large one."""
    share = max(0.0, 20 - abs(x)) * max(0.0, 30 - abs(y)) / 600
    assert overlap(end(20, 30), end(20, 30, (x, y, 4.0), looks=-1)) == pytest.approx(share, abs=1e-9)
    small = max(0.0, 10 - max(0.0, abs(x) - 5)) * max(0.0, 20 - max(0.0, abs(y) - 5)) / 200
    if abs(x) <= 15 and abs(y) <= 15:
        assert overlap(end(20, 30), end(10, 20, (x, y, 4.0), looks=-1)) == pytest.approx(small, abs=1e-9)
        assert overlap(end(10, 20, (x, y, 4.0), looks=-1), end(20, 30)) == pytest.approx(small, abs=1e-9)


@pytest.mark.parametrize(("gap", "step"), [(0.3, 0.0), (0.0, 0.7), (0.01, 0.4), (2.0, 1.5)])
def test_gap_and_step_between_two_faces(gap: float, step: float) -> None:
    found = compare(end(20, 30), end(20, 30, (step, 0.0, gap), looks=-1))
    assert found.gap.figure == pytest.approx(gap, abs=1e-9)
    assert found.step.figure == pytest.approx(step, abs=1e-9)
    assert found.angle.figure == pytest.approx(0.0, abs=1e-9)
    assert found.opens == pytest.approx(gap, abs=1e-9)
    shared = compare(end(20, 30), end(20, 30, (step, 0.0, -gap), looks=-1))
    assert (shared.gap.figure, shared.opens) == pytest.approx((gap, -gap), abs=1e-9)
    # Straight lines hide nothing: each limit is that of our own models, and four steps of the numbers.
    assert (found.facets, found.facets_angle) == (0.0, 0.0)
    assert (found.gap.limit, found.step.limit) == pytest.approx((0.002 + 4e-9, 0.002 + 4e-9), abs=1e-12)
    assert found.angle.limit == pytest.approx(0.5, abs=1e-6)


def test_the_angle_between_two_rims() -> None:
    """One turned by 3 degrees in its own plane."""
    one, other = end(20, 30), end(20, 30, looks=-1)
    cos, sin = math.cos(math.radians(3)), math.sin(math.radians(3))
    turn = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    turned = EndFace(
        1,
        other.starts @ turn.T,
        other.stops @ turn.T,
        other.following,
        other.normals,
        other.normal,
        other.center,
        other.area,
        True,
        1e-9,
    )
    assert compare(one, turned).angle.figure == pytest.approx(3.0, abs=1e-6)
    assert compare(one, turned).gap.figure == 0.0


# Where faces cease to meet, or to be told of.


@pytest.mark.parametrize(("apart", "meets"), [(0.0, True), (4.998, True), (5.002, False)])
def test_faces_within_5_mm_form_a_joint(apart: float, meets: bool) -> None:
    one, other = end(20, 30), end(20, 30, (0.0, 0.0, apart), looks=-1)
    assert _meets(one, other) == (pytest.approx((0.0, apart)) if meets else None)
    assert _half_near(one, other, 5.0) is meets


@pytest.mark.parametrize(("tilt", "meets"), [(9.995, True), (10.005, False), (-9.995, True), (-10.005, False)])
def test_faces_within_10_degrees_form_a_joint(tilt: float, meets: bool) -> None:
    assert (_meets(end(20, 30), end(20, 30, tilt=tilt, looks=-1)) is not None) is meets


@pytest.mark.parametrize(("share", "meets"), [(0.2502, True), (0.2498, False)])
def test_faces_that_share_a_quarter_form_a_joint(share: float, meets: bool) -> None:
    """6 wide and moved by so much that a quarter of each lies on the other."""
    one, other = end(6, 4), end(6, 4, (6 * (1 - share), 0.0, 0.5), looks=-1)
    assert _meets(one, other) == (pytest.approx((0.7, 0.5)) if meets else None)


@pytest.mark.parametrize(("apart", "told"), [(5.5, True), (9.995, True), (10.005, False)])
def test_faces_within_10_mm_are_told_of(apart: float, told: bool) -> None:
    one, other = end(20, 30), end(20, 30, (0.0, 0.0, apart), looks=-1)
    miss = _miss(one, other)
    assert (miss is not None) is told
    if miss is not None:
        assert (miss.apart, miss.facing) == pytest.approx((apart, 0.0))
        assert miss.place == pytest.approx((0.0, 0.0, apart / 2))


@pytest.mark.parametrize(("tilt", "told"), [(30.0, True), (99.99, True), (100.01, False)])
def test_faces_at_an_angle_of_100_degrees_at_most_are_told_of(tilt: float, told: bool) -> None:
    miss = _miss(end(20, 30), end(20, 30, (3.0, 0.0, 0.0), tilt, looks=-1))
    assert (miss is not None) is told
    if miss is not None:
        assert miss.facing == pytest.approx(tilt)


def test_a_molded_end_on_a_plain_block_forms_no_joint() -> None:
    """Five corners within a larger rectangle; but for 0.05 mm all round."""
    molded = end(20, 30)
    corners = np.array(
        [(-10.0, -15.0, 0.0), (10.0, -15.0, 0.0), (10.0, 5.0, 0.0), (0.0, 15.0, 0.0), (-10.0, 15.0, 0.0)]
    )
    following = np.array([1, 2, 3, 4, 0])
    molded = EndFace(
        0,
        corners,
        corners[following],
        following,
        np.tile((0.0, 0.0, 1.0), (5, 1)),
        np.array((0.0, 0.0, 1.0)),
        np.zeros(3),
        500.0,
        True,
        1e-9,
    )
    assert on_block(molded, end(40, 60, looks=-1))
    assert not on_block(end(20, 30), end(40, 60, looks=-1))  # plain as well
    assert not on_block(molded, end(40, 24, looks=-1))
    # It may stand out by its rim times 0.05 mm², here 89.44 x 0.05 / 20 mm at its foot.
    rim = 20 + 20 + math.hypot(10, 10) + 10 + 30
    over = rim * 0.05 / 20
    for more, holds in ((0.999, True), (1.001, False)):
        assert on_block(molded, end(40, 60, (0.0, 15.0 + over * more, 0.0), looks=-1)) is holds
