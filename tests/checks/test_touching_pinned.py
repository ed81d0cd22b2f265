"""Bodies that lie on one another with flat faces: the area they share, and from where on it is told."""

from __future__ import annotations

import math

import numpy as np
import pytest

from model_bodies import curve, straight
from preview.checks import Body
from preview.checks.ends import facets, sweeps
from preview.checks.joints import find_joints
from preview.checks.shells import Shell, shells
from preview.checks.touching import _flats, touching
from test_many_bodies import box


def boxes(*several: Body) -> list[Shell]:
    return [shell for body in several for shell in shells(body)[0]]


SLAB = box((0.0, 0.0, 0.0), (200.0, 100.0, 10.0))


def lying(other: Body) -> list[tuple[float, tuple[float, float, float]]]:
    return [(each.area, each.place) for each in touching(boxes(SLAB, other), [], [])]


@pytest.mark.parametrize(
    ("at", "size", "area"),
    [
        ((20.0, 30.0, 10.0), (50.0, 40.0, 10.0), 2000.0),
        ((180.0, 30.0, 10.0), (50.0, 40.0, 10.0), 800.0),
        ((20.0, 30.0, 10.0625), (50.0, 40.0, 10.0), None),
        ((20.0, 30.0, 10.046875), (50.0, 40.0, 10.0), 2000.0),
        ((20.0, 30.0, 9.953125), (50.0, 40.0, 10.0), 2000.0),
        ((20.0, 30.0, 9.9375), (50.0, 40.0, 10.0), None),
        ((20.0, 100.0, 0.0), (50.0, 40.0, 10.0), 500.0),
        ((-50.0, 30.0, -5.0), (50.0, 40.0, 10.0), 200.0),
        ((20.0, 30.0, -10.0), (50.0, 40.0, 10.0), 2000.0),
        ((300.0, 30.0, 10.0), (50.0, 40.0, 10.0), None),
    ],
)
def test_the_area_that_two_bodies_share(
    at: tuple[float, float, float], size: tuple[float, float, float], area: float | None
) -> None:
    """Flat faces that look at each other within a twentieth of a mm, and share 100 mm² or a hundredth of the body."""
    found = lying(box(at, size))
    assert [each for each, _ in found] == ([] if area is None else [pytest.approx(area, rel=1e-6)])


def test_the_place_at_which_bodies_touch_lies_between_the_middles_of_their_faces() -> None:
    ((_, place),) = lying(box((20.0, 30.0, 10.0), (50.0, 40.0, 10.0)))
    assert place == pytest.approx(((100.0 + 45.0) / 2, 50.0, 10.0))


@pytest.mark.parametrize(("share", "told"), [(1.02, True), (0.98, False)])
def test_a_hundredth_of_the_smaller_surface_or_100_mm2_is_touching(share: float, told: bool) -> None:
    """A cube of 20 mm has 2400 mm²: 24 of them. One of 50 has 15000: 100 of them do."""
    for side, least in ((20.0, 24.0), (50.0, 100.0)):
        over = least / side * share
        found = lying(box((200.0 - over, 40.0, 10.0), (side, side, side)))
        assert [each for each, _ in found] == ([pytest.approx(least * share, rel=1e-6)] if told else [])


def test_bodies_that_form_a_joint_are_not_asked_whether_they_touch() -> None:
    several = boxes(SLAB, box((20.0, 30.0, 10.0), (50.0, 40.0, 10.0)), box((100.0, 30.0, 10.0), (50.0, 40.0, 10.0)))
    assert [(t.first, t.second) for t in touching(several, [], [])] == [(0, 1), (0, 2)]
    assert [(t.first, t.second) for t in touching(several, [], [(0, 1)])] == [(0, 2)]
    assert [(t.first, t.second) for t in touching(several, [], [(0, 2)])] == [(0, 1)]
    assert touching(several, [], [(0, 1), (0, 2)]) == []
    assert touching(several[:1], [], []) == []


def test_joints_between_later_bodies_are_not_asked_about_either() -> None:
    row = boxes(*(box((50.0 * i, 0.0, 0.0), (50.0, 40.0, 10.0)) for i in range(5)))
    for first in range(4):
        left = [(i, i + 1) for i in range(4) if i != first]
        assert [(t.first, t.second) for t in touching(row, [], [(first, first + 1)])] == left


@pytest.mark.parametrize(("deep", "high"), [(40.0, 15.0), (15.0, 40.0)])
def test_of_several_faces_that_touch_the_largest_share_is_told(deep: float, high: float) -> None:
    """A bar in the nook of another: it lies on the ledge and against the wall of it."""
    nook = straight(
        "nook", 0.0, 100.0, [(0.0, 0.0), (60.0, 0.0), (60.0, 20.0), (20.0, 20.0), (20.0, 70.0), (0.0, 70.0)]
    )
    for several in (
        (nook, box((10.0, 20.0, 20.0), (80.0, deep, high))),
        (box((10.0, 20.0, 20.0), (80.0, deep, high)), nook),
    ):
        (found,) = touching(boxes(*several), [], [])
        assert found.area == pytest.approx(80.0 * 40.0, rel=1e-6)


def test_a_slender_bar_that_stands_on_a_slab_touches_it() -> None:
    """Its foot of 25 mm² is more than a hundredth of its own 1050 mm², though less than the slab's 100 mm²."""
    assert [area for area, _ in lying(box((20.0, 30.0, 10.0), (5.0, 5.0, 50.0)))] == [pytest.approx(25.0, rel=1e-6)]


def test_twelve_flat_faces_are_looked_at_and_no_curved_one() -> None:
    angles = 2 * np.pi * np.arange(13) / 13
    prism = straight("prism", 0.0, 30.0, [(50 + 20 * math.cos(a), 20 * math.sin(a)) for a in angles])
    (shell,) = boxes(prism)
    assert len(_flats(facets(shell), 0)) == 12
    (bend,) = boxes(curve("bend", 100.0, 0.6, 80, [(0.0, 0.0), (20.0, 0.0), (20.0, 30.0), (0.0, 30.0)]))
    found = _flats(facets(bend), 0)
    assert len(found) == 4
    assert all(each.flat for each in found)


@pytest.mark.parametrize(("degrees", "told"), [(0.0, True), (0.79, True), (0.83, False)])
def test_faces_that_lie_on_each_other_look_at_each_other(degrees: float, told: bool) -> None:
    """Within arccos 0.9999, that is 0.81 degrees; turned about a line through the middle of the face."""
    tilted = box((-25.0, -20.0, 0.0), (50.0, 40.0, 10.0))
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    turn = np.array([(cos, 0.0, -sin), (0.0, 1.0, 0.0), (sin, 0.0, cos)])
    body = Body("tilted", (), tilted.vertices @ turn + np.array((45.0, 50.0, 10.0)), tilted.triangles, None, 1e-6)
    assert bool(lying(body)) is told


def test_the_flat_faces_of_a_body() -> None:
    """The largest first; under a two-hundredth of its surface none is looked at."""
    (shell,) = boxes(SLAB)
    found = _flats(facets(shell), 4)
    assert [face.area for face in found] == pytest.approx([20000.0, 20000.0, 2000.0, 2000.0, 1000.0, 1000.0])
    assert {face.body for face in found} == {4}
    for thick, many in ((1.02, 4), (0.98, 2)):
        # 2 x 200 x 200 and four edges of 200 t: each is 0.005 of all where t is 2.02.
        high = 2.0202 * thick
        (thin,) = boxes(box((0.0, 0.0, 0.0), (200.0, 200.0, high)))
        assert len(_flats(facets(thin), 0)) == 2 + 4 * (many == 4)


def test_ends_that_are_known_are_not_taken_for_sides_again() -> None:
    """Two bars end to end and a slab below: the joint, and each bar on the slab once."""
    found = boxes(
        box((0.0, 0.0, 10.0), (400.0, 20.0, 30.0)),
        box((400.0, 0.0, 10.0), (400.0, 20.0, 30.0)),
        box((0.0, 0.0, 0.0), (800.0, 100.0, 10.0)),
    )
    told = find_joints(found, [sweeps(shell, i) for i, shell in enumerate(found)])
    assert [(joint.first, joint.second, joint.place) for joint in told.joints] == [
        (0, 1, pytest.approx((400.0, 10.0, 25.0)))
    ]
    assert [(each.first, each.second, each.area) for each in told.touching] == [
        (0, 2, pytest.approx(8000.0)),
        (1, 2, pytest.approx(8000.0)),
    ]
    assert told.misses == ()
    assert told.ends == (2, 2, 2)


@pytest.mark.parametrize(("apart", "told"), [(5.5, True), (10.0, True), (10.25, False)])
def test_bars_too_far_apart_are_a_near_miss_and_a_bar_misses_itself_only_end_to_end(apart: float, told: bool) -> None:
    found = boxes(
        box((0.0, 0.0, 10.0), (400.0, 20.0, 30.0)),
        box((400.0 + apart, 0.0, 10.0), (400.0, 20.0, 30.0)),
    )
    result = find_joints(found, [sweeps(shell, i) for i, shell in enumerate(found)])
    assert result.joints == ()
    assert [(miss.first, miss.second, miss.apart, miss.facing) for miss in result.misses] == (
        [(0, 1, pytest.approx(apart), pytest.approx(0.0))] if told else []
    )
