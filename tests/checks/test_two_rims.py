"""Two rims at a joint: one moved and turned against the other, with the gap, step and angle that this makes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from preview.checks.continuity import Meeting, Rim, meeting
from preview.joinery import join
from preview.runs import Corner, Straight, lay_out
from test_joint_faults import STRIP
from test_standing_pinned import rail, square_rim


def moved_rim(one: Rim, *by: float, degrees: float = 0.0) -> Rim:
    """A rim as the next piece has it: walked the other way, moved, and turned about the middle of its profile."""
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    turn = np.array([(1.0, 0.0, 0.0), (0.0, cos, sin), (0.0, -sin, cos)])
    about = np.array((300.0, 10.0, 20.0))
    return Rim(
        (one.stops - about) @ turn + about + np.array(by),
        (one.starts - about) @ turn + about + np.array(by),
        np.roll(one.profile, -1, axis=0),
    )


@pytest.mark.parametrize(
    ("by", "degrees", "gap", "step", "angle"),
    [
        ((0.0, 0.0, 0.0), 0.0, 0.0, 0.0, 0.0),
        ((0.5, 0.0, 0.0), 0.0, 0.5, 0.0, 0.0),
        ((-0.5, 0.0, 0.0), 0.0, 0.5, 0.0, 0.0),
        ((0.0, 0.3, 0.4), 0.0, 0.0, 0.5, 0.0),
        ((0.125, 0.0, -0.25), 0.0, 0.125, 0.25, 0.0),
        ((0.0, 0.0, 0.0), 2.0, 0.0, None, 2.0),
    ],
)
def test_gap_step_and_angle_of_two_rims(
    by: tuple[float, float, float], degrees: float, gap: float, step: float | None, angle: float
) -> None:
    line = join(lay_out("wall", [Straight(300.0), Corner(0.3), Straight(100.0)]), "base", STRIP)
    end = replace(line.joints[0], at=(300.0, 0.0))  # square to x
    one = square_rim(300.0)
    found = meeting(end, one, moved_rim(one, *by, degrees=degrees))
    assert found.gap == pytest.approx(gap, abs=1e-12)
    assert found.angle == pytest.approx(angle, abs=1e-6)
    if step is not None:
        assert found.step == pytest.approx(step, abs=1e-12)
    assert found.missing == ""


def test_where_two_rims_are_furthest_apart() -> None:
    """Told by the place on the profile: the gap at the top of the face, the step at its foot."""
    _, end = rail()
    one = square_rim(300.0)
    other = moved_rim(one, 0.0, 0.0, 0.0)
    top = (other.starts == np.array((300.0, 20.0, 40.0))).all(axis=1)
    foot = (other.starts == np.array((300.0, 20.0, 0.0))).all(axis=1)
    starts, stops = other.starts.copy(), other.stops.copy()
    by = np.array((0.5, 0.0, 0.0)) * top[:, None] + np.array((0.0, 0.0, -0.75)) * foot[:, None]
    starts += by
    stops += np.roll(by, -1, axis=0) if (np.roll(other.starts, -1, axis=0) == other.stops).all() else np.roll(by, 1, 0)
    found = meeting(end, one, Rim(starts, stops, other.profile))
    assert found.gap == pytest.approx(0.5)
    assert found.gap_at == (20.0, 40.0)
    assert found.step == pytest.approx(0.75)
    assert found.step_at == (20.0, 0.0)


def test_one_more_corner_on_a_side_changes_nothing() -> None:
    _, end = rail()
    one = square_rim(300.0)
    split = np.insert(one.starts, 2, (300.0, 20.0, 13.0), axis=0)
    profile = np.insert(one.profile, 2, (20.0, 13.0), axis=0)
    found = meeting(end, one, moved_rim(Rim(split, np.roll(split, -1, axis=0), profile), 0.25, 0.0, 0.5))
    assert (found.gap, found.step, found.angle) == pytest.approx((0.25, 0.5, 0.0), abs=1e-9)


@pytest.mark.parametrize(("short", "angle"), [(0.051, 45.0), (0.049, 0.0)])
def test_a_side_of_under_a_twentieth_of_a_mm_has_no_direction(short: float, angle: float) -> None:
    """An arris eased by so much on one rim and left sharp on the other."""
    _, end = rail()
    off = short / math.sqrt(2)
    profile = np.array([(0.0, 0.0), (20.0, 0.0), (20.0, 40.0 - off), (20.0 - off, 40.0), (0.0, 40.0)])
    starts = np.column_stack([np.full(5, 300.0), profile])
    found = meeting(end, moved_rim(square_rim(300.0), 0.0, 0.0, 0.0), Rim(starts, np.roll(starts, -1, axis=0), profile))
    assert found.angle == pytest.approx(angle, abs=1e-6)
    assert found.step == pytest.approx(short / 2, rel=1e-6)  # from the sharp arris to the middle of the eased one
    again = meeting(end, Rim(starts, np.roll(starts, -1, axis=0), profile), moved_rim(square_rim(300.0), 0.0, 0.0, 0.0))
    assert again.angle == pytest.approx(angle, abs=1e-6)


def test_a_rim_that_is_not_there() -> None:
    _, end = rail()
    one = square_rim(300.0)
    for before, after, which in ((None, one, "before"), (one, None, "after"), (None, None, "before")):
        found = meeting(end, before, after)
        assert (found.gap, found.step, found.angle) == (math.inf, math.inf, math.inf)
        assert found.missing == f"no end face was found on the piece {which} the joint"


def test_rims_through_the_same_points_meet_without_a_measure() -> None:
    _, end = rail()
    one = square_rim(300.0)
    assert meeting(end, one, moved_rim(one, 0.0, 0.0, 0.0)) == Meeting(0.0, 0.0, 0.0)
    fewer = Rim(one.starts[:3], one.stops[:3], one.profile[:3])
    assert meeting(end, one, moved_rim(fewer, 0.0, 0.0, 0.0)).step == pytest.approx(20.0)
