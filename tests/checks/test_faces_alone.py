"""A face by itself and the rims of two: loops, rectangles, the limits of a joint, and what facets hide."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest

from preview.checks.faces import EndFace, facing, on_block, overlap
from preview.checks.joints import _alike, _half_near, _meets, _miss, _near
from preview.checks.rims import _coarseness, _measured, compare, rims_apart
from test_faces_pinned import end
from test_many_bodies import ring

Array = np.ndarray


def flat(corners: Sequence[tuple[float, float]], at: float = 0.0, off: tuple[float, float] = (0.0, 0.0)) -> EndFace:
    """A face in a level plane that looks up, through plan corners moved by `off`."""
    return ring(np.array([(x + off[0], y + off[1], at) for x, y in corners]))


def turned(corners: Sequence[tuple[float, float]], degrees: float) -> list[tuple[float, float]]:
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return [(x * cos - y * sin, x * sin + y * cos) for x, y in corners]


OBLONG = [(0.0, 0.0), (30.0, 0.0), (30.0, 20.0), (0.0, 20.0)]


@pytest.mark.parametrize("degrees", [0.0, 33.0, -120.0])
def test_four_right_corners_make_a_rectangle(degrees: float) -> None:
    assert flat(turned(OBLONG, degrees), off=(200.0, -70.0)).rectangle
    # More corners on its sides change nothing, nor do ones that bend by less than a degree.
    more = [*OBLONG[:1], (15.0, 0.0), *OBLONG[1:], (0.0, 10.0)]
    assert flat(turned(more, degrees)).rectangle
    assert flat([*OBLONG[:1], (15.0, -0.05), *OBLONG[1:]]).rectangle
    assert not flat([*OBLONG[:1], (15.0, -0.2), *OBLONG[1:]]).rectangle
    assert not flat(turned([*OBLONG[:2], (15.0, 30.0)], degrees)).rectangle
    assert not flat(turned([(0.0, 0.0), (30.0, 0.0), (25.0, 20.0), (0.0, 20.0)], degrees)).rectangle
    # A corner cut off.
    assert not flat(turned([(0.0, 0.0), (30.0, 0.0), (30.0, 15.0), (25.0, 20.0), (0.0, 20.0)], degrees)).rectangle


@pytest.mark.parametrize(("lean", "right"), [(0.99, True), (-0.99, True), (1.01, False), (-1.01, False)])
def test_the_corners_of_a_rectangle_are_right_to_a_degree(lean: float, right: bool) -> None:
    """A parallelogram: corners of 90 degrees less and more by its lean."""
    aside = 20.0 * math.tan(math.radians(lean))
    assert flat([(0.0, 0.0), (30.0, 0.0), (30.0 + aside, 20.0), (aside, 20.0)]).rectangle is right


def test_a_face_that_is_not_flat_is_no_rectangle() -> None:
    one = flat(OBLONG)
    bent = EndFace(
        0, one.starts, one.stops, one.following, one.normals, one.normal, one.center, one.area, False, one.step
    )
    assert one.rectangle
    assert not bent.rectangle


def joined(loops: Sequence[Sequence[tuple[float, float]]]) -> EndFace:
    """One face of several loops, their segments in a mixed order."""
    starts, following = [], []
    for loop in loops:
        first = len(starts)
        starts += [(x, y, 0.0) for x, y in loop]
        following += [first + (i + 1) % len(loop) for i in range(len(loop))]
    points, on = np.array(starts), np.array(following)
    mixed = np.random.default_rng(3).permutation(len(points))
    back = np.argsort(mixed)
    look = np.array((0.0, 0.0, 1.0))
    return EndFace(
        0,
        points[mixed],
        points[on][mixed],
        back[on[mixed]],
        np.tile(look, (len(points), 1)),
        look,
        points.mean(axis=0),
        1.0,
        True,
        0.0,
    )


def test_the_loops_of_a_face_with_a_hole() -> None:
    """Each loop in its order, wherever it begins; two corners there and back are none."""
    hole = [(5.0, 5.0), (5.0, 10.0), (10.0, 10.0), (10.0, 5.0)]
    found = joined([OBLONG, hole, [(50.0, 50.0), (60.0, 60.0)], [(40.0, 0.0), (45.0, 0.0), (40.0, 5.0)]])
    loops = sorted([[(x, y) for x, y, _ in each.tolist()] for each in found.loops], key=len)
    assert len(loops) == 3
    for loop, wanted in zip(loops, ([(40.0, 0.0), (45.0, 0.0), (40.0, 5.0)], hole, OBLONG), strict=True):
        assert len(loop) == len(wanted)
    wanted_all = [[(40.0, 0.0), (45.0, 0.0), (40.0, 5.0)], hole, OBLONG]
    for wanted in wanted_all:
        assert any(
            loop[i:] + loop[:i] == wanted for loop in loops for i in range(len(loop)) if len(loop) == len(wanted)
        )
    assert found.outline.area() == pytest.approx(30 * 20 - 25 + 12.5)


@pytest.mark.parametrize("normal", [(1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.48, -0.6, 0.64), (-0.6, 0.0, -0.8)])
def test_the_axes_of_a_face_are_square_to_where_it_looks(normal: tuple[float, float, float]) -> None:
    face = ring(np.array([(0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)]), normal)
    first, second = face.axes.T
    every = np.column_stack([first, second, np.array(normal)])
    assert every.T @ every == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(every) == pytest.approx(1.0)


def test_a_face_and_its_box() -> None:
    face = flat(OBLONG, 7.0, (3.0, -4.0))
    assert face.low.tolist() == [3.0, -4.0, 7.0]
    assert face.high.tolist() == [33.0, 16.0, 7.0]
    assert face.lengths.tolist() == [30.0, 20.0, 30.0, 20.0]


@pytest.mark.parametrize("seed", range(4))
def test_the_angle_between_where_faces_look_in_any_direction(seed: int) -> None:
    random = np.random.default_rng(seed)
    one, other = (each / np.linalg.norm(each) for each in random.normal(size=(2, 3)))
    corners = np.array([(0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)])
    a, b = ring(corners, tuple(one.tolist())), ring(corners, tuple(other.tolist()))
    assert facing(a, b) == pytest.approx(math.degrees(math.acos(float(-one @ other))), abs=1e-6)


def test_faces_seen_edge_on_share_nothing() -> None:
    """The other's outline has no area there."""
    upright = ring(np.array([(0.0, 0.0, 0.0), (9.0, 0.0, 0.0), (9.0, 0.0, 9.0), (0.0, 0.0, 9.0)]), (0.0, 1.0, 0.0))
    assert overlap(flat(OBLONG), upright) == 0.0


def test_small_faces_share_as_much_as_large_ones() -> None:
    assert overlap(end(0.5, 0.5), end(0.5, 0.5, (0.125, 0.0, 0.0), looks=-1)) == pytest.approx(0.75, rel=1e-6)


# Where faces meet at a limit itself.


def test_faces_exactly_at_a_limit_still_meet() -> None:
    """5 mm apart for a joint, 10 mm for a near miss, a quarter shared: each is still within."""
    assert _meets(end(20, 30), end(20, 30, (0.0, 0.0, 5.0), looks=-1)) == (0.0, 5.0)
    assert _half_near(end(20, 30), end(20, 30, (0.0, 0.0, 5.0), looks=-1), 5.0)
    miss = _miss(end(20, 30), end(20, 30, (0.0, 0.0, 10.0), looks=-1))
    assert miss is not None
    assert (miss.apart, miss.facing) == (10.0, 0.0)
    assert _meets(end(8, 4), end(8, 4, (6.0, 0.0, 0.5), looks=-1)) is None  # its rim is 6 mm off
    assert _meets(end(4, 4), end(4, 4, (3.0, 0.0, 0.5), looks=-1)) == (0.8, 0.5)
    assert _miss(end(4, 4), end(4, 4, (3.0, 0.0, 0.5), looks=-1)) is not None
    assert _miss(end(4, 4), end(4, 4, (3.125, 0.0, 0.5), looks=-1)) is None
    assert _alike(end(20, 30), end(20, 30, (5.0, 0.0, 0.0), looks=-1))
    assert not _alike(end(20, 30), end(20, 30, (5.25, 0.0, 0.0), looks=-1))
    assert _alike(end(20, 30), end(20, 30, (0.0, 0.0, 5.0), looks=-1))
    assert not _alike(end(20, 30), end(20, 30, (0.0, 0.0, 5.25), looks=-1))
    assert not _alike(end(20, 30), end(20, 30, tilt=10.5, looks=-1))


def test_how_well_faces_meet() -> None:
    """The share of the smaller one that does not lie on the other, in tenths; how far apart, on either side."""
    assert _meets(end(20, 30), end(20, 30, (2.5, 0.0, -0.75), looks=-1)) == (0.1, 0.75)
    assert _meets(end(20, 30, (0.0, 0.0, 8.0)), end(20, 30, (4.5, 0.0, 9.0), looks=-1)) == (0.2, 1.0)


@pytest.mark.parametrize("first", [True, False])
@pytest.mark.parametrize(("further", "near"), [(0.0, True), (0.5, False)])
def test_half_of_either_rim_must_be_near(first: bool, further: float, near: bool) -> None:
    """A face of 40 x 30 mm in the nook of a large one, 3 mm off: its foot and its back are 70 of 140 mm. With its far
    corner further out that is less than half; of the large one's 380 mm, 76 are near."""
    one = flat([(0.0, 0.0), (40.0, 0.0), (40.0 + further, 30.0 + further), (0.0, 30.0)])
    nook = flat([(-3.0, -3.0), (40.0, -3.0), (40.0, -60.0), (-60.0, -60.0), (-60.0, 30.0), (-3.0, 30.0)])
    assert _half_near(*((one, nook) if first else (nook, one)), 5.0) is near
    # Above each other by 4 mm they are as near, by 6 mm nothing is.
    above = flat([(0.0, 0.0), (40.0, 0.0), (40.0, 30.0), (0.0, 30.0)], 4.0)
    assert _half_near(above, nook, 5.0)
    assert not _half_near(flat(OBLONG, 6.0), flat(OBLONG), 5.0)


def test_how_far_apart_two_rims_are() -> None:
    one, other = end(20, 30), end(20, 30, (3.0, 0.0, 2.0), looks=-1)
    across, within = rims_apart(one, other)
    assert across == pytest.approx(np.full(4, 2.0))
    # Two corners lie on the other's sides, two stand 3 mm out.
    assert sorted(within.tolist()) == pytest.approx([0.0, 0.0, 3.0, 3.0])
    across, _ = rims_apart(other, one)
    assert across == pytest.approx(np.full(4, 2.0))
    across, _ = rims_apart(one, end(20, 30, (3.0, 0.0, -2.0), looks=-1))
    assert across == pytest.approx(np.full(4, -2.0))


def test_what_boxes_tell_of_pairs_of_ends() -> None:
    one, other = end(20, 30), end(24, 30, (3.0, 1.0, 7.0), looks=-1)
    far = end(20, 30, (0.0, 0.0, 40.0))
    near = _near([one, other, far], 10.0)
    assert near.pairs.tolist() == [[0, 1]]
    assert near.facing.tolist() == pytest.approx([0.0])
    assert near.apart.tolist() == [7.0]
    assert near.unlike.tolist() == [7.0]
    assert near.edges.tolist() == [16.0]
    beside = _near([one, end(20, 30, (26.0, 38.0, 0.0), 0.0, looks=1)], 10.0)
    assert beside.apart.tolist() == [10.0]
    assert beside.unlike.tolist() == [38.0]
    assert beside.facing.tolist() == pytest.approx([180.0])
    assert near.chosen(np.array([True])) == [(0, 1)]
    assert near.chosen(np.array([False])) == []
    assert _near([one], 10.0).pairs.shape == (0, 2)


# What facets hide.


def polygon(radius: float, sides: int, at: float = 0.0, *, arc: float = 2 * math.pi) -> EndFace:
    angles = np.linspace(0.0, arc, sides, endpoint=False)
    return ring(np.column_stack([radius * np.cos(angles), radius * np.sin(angles), np.full(sides, at)]))


@pytest.mark.parametrize(("sides", "round_"), [(11, True), (24, True), (10, False), (4, False)])
def test_a_round_of_facets_hides_its_sagitta(sides: int, round_: bool) -> None:
    """Segments of 2 r sin(a / 2) that turn by a: length times turn over 8. From 35 degrees on a corner is an arris."""
    coarse = _coarseness(polygon(10.0, sides))
    turn = 2 * math.pi / sides
    length = 20.0 * math.sin(turn / 2)
    assert coarse.turn == pytest.approx(np.full(sides, turn if round_ else 0.0), rel=1e-9)
    assert coarse.sagitta == pytest.approx(np.full(sides, length * turn / 8 if round_ else 0.0), rel=1e-9)


def test_the_straight_beside_a_round_hides_nothing() -> None:
    """A slot: two half circles of 12 facets and two straights of 60 mm. A facet and half of one are alike enough."""
    half = [(10.0 * math.sin(a), -10.0 * math.cos(a)) for a in np.linspace(0.0, math.pi, 13)]
    slot = [(x + 60.0, y) for x, y in half] + [(-x, -y) for x, y in half]
    coarse = _coarseness(flat(slot))
    turn = math.pi / 12
    length = 20 * math.sin(turn / 2)
    straights = [12, 25]
    rounds = [i for i in range(26) if i not in straights]
    assert coarse.turn[straights] == pytest.approx(np.zeros(2), abs=1e-12)
    assert coarse.turn[rounds] == pytest.approx(np.full(24, turn), rel=1e-6)
    assert coarse.sagitta[rounds] == pytest.approx(np.full(24, length * turn / 8), rel=1e-6)


@pytest.mark.parametrize(("long", "hides"), [(1.9, True), (2.1, False)])
def test_a_segment_over_twice_as_long_as_those_beside_it_is_no_facet(long: float, hides: bool) -> None:
    """A corner of 20 degrees with a longer segment between steps of one length that turn the same way."""
    turns = np.radians([0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0])
    lengths = np.array([5.0, 5.0, 5.0, 5.0 * long, 5.0, 5.0, 5.0])
    steps = np.column_stack([np.cos(turns), np.sin(turns)]) * lengths[:, None]
    points = np.concatenate([[(0.0, 0.0)], np.cumsum(steps, axis=0)])
    back = [(float(points[-1][0]), 300.0), (0.0, 300.0)]
    coarse = _coarseness(flat([*[(float(x), float(y)) for x, y in points], *back]))
    assert bool(coarse.turn[3] > 0) is hides
    assert coarse.turn[2] == pytest.approx(math.radians(10.0))
    assert coarse.turn[4] == pytest.approx(math.radians(10.0))
    if hides:
        assert coarse.sagitta[3] == pytest.approx(5.0 * long * math.radians(10.0) / 8)


def test_corners_that_turn_to_and_fro_are_no_curve() -> None:
    zigzag = [(5.0 * i, 0.5 * (i % 2)) for i in range(12)]
    coarse = _coarseness(flat([*zigzag, (55.0, 80.0), (0.0, 80.0)]))
    assert not coarse.turn.any()
    assert not coarse.sagitta.any()


def test_turns_within_the_digits_of_a_file_are_none() -> None:
    """Four steps of its numbers over the shorter segment, and a ten-thousandth of a radian."""
    fine = polygon(10.0, 5000)
    turn = 2 * math.pi / 5000
    length = 20.0 * math.sin(turn / 2)

    def stored(step: float) -> EndFace:
        return EndFace(
            0, fine.starts, fine.stops, fine.following, fine.normals, fine.normal, fine.center, 1.0, True, step
        )

    at_most = (turn - 1e-4) * length / 4
    assert _coarseness(stored(0.0)).turn == pytest.approx(np.full(5000, turn), rel=1e-6)
    assert _coarseness(stored(0.999 * at_most)).turn == pytest.approx(np.full(5000, turn), rel=1e-6)
    assert not _coarseness(stored(1.001 * at_most)).turn.any()
    assert not _coarseness(polygon(10.0, 63000)).turn.any()  # 0.9973e-4
    assert _coarseness(polygon(10.0, 62000)).turn.all()  # 1.0134e-4


def test_the_limits_of_two_rounds_that_meet() -> None:
    """Flat faces: no gap can hide; a step may be out by the larger sagitta, an angle by half the sum of the turns."""
    one = polygon(10.0, 24)
    around = polygon(10.0, 12)
    order = np.arange(12)[::-1]
    look = np.array((0.0, 0.0, -1.0))
    other = EndFace(
        1,
        around.stops[order],
        around.starts[order],
        np.roll(np.arange(12), -1),
        np.tile(look, (12, 1)),
        look,
        np.zeros(3),
        1.0,
        True,
        0.0,
    )
    found = compare(one, other)
    turn = 2 * math.pi / 12
    sagitta = 20.0 * math.sin(turn / 2) * turn / 8
    assert found.facets == pytest.approx(sagitta, rel=1e-9)
    assert found.facets_angle == pytest.approx(30.0, rel=1e-9)
    assert found.gap.figure == pytest.approx(0.0, abs=1e-12)
    assert found.gap.limit == pytest.approx(0.002, rel=1e-9)
    # From the corner of one that lies between two of the other to its side: r (1 - cos 15 degrees).
    assert found.step.figure == pytest.approx(10.0 * (1 - math.cos(turn / 2)), rel=1e-9)
    assert found.step.limit == pytest.approx(0.002 + sagitta, rel=1e-9)
    assert found.step.facets == pytest.approx(sagitta, rel=1e-9)
    assert found.angle.figure == pytest.approx(7.5, rel=1e-6)
    # That is less than the 22.5 degrees it may be out by there, so a corner's 0 degrees come closer to their limit.
    assert (found.angle.judged, found.angle.limit) == (0.0, 0.5)


def test_what_a_figure_is_judged_by() -> None:
    """The largest, and the one that comes closest to its own limit; under 1e-9 it is nothing."""
    places = np.array([(1.0, 2.0, 3.0), (4.0, 5.0, 6.0), (7.0, 8.0, 9.0)])
    found = _measured(np.array([0.5, 0.75, 1e-10]), 0.25, np.array([0.0, 0.5, 0.25]), places)
    assert (found.figure, found.at) == (0.75, (4.0, 5.0, 6.0))
    assert (found.judged, found.judged_at, found.limit, found.facets) == (0.5, (1.0, 2.0, 3.0), 0.25, 0.0)
    found = _measured(np.array([0.5, 0.875, 0.0]), 0.25, np.array([0.25, 0.5, 0.0]), places)
    assert (found.judged, found.judged_at, found.limit, found.facets) == (0.875, (4.0, 5.0, 6.0), 0.75, 0.5)
    nothing = _measured(np.array([9e-10, 9e-10, 9e-10]), 0.25, np.zeros(3), places)
    assert (nothing.figure, nothing.judged) == (0.0, 0.0)
    assert _measured(np.array([2e-9, 0.0, 0.0]), 0.25, np.zeros(3), places).figure == 2e-9


def test_a_molded_end_against_a_plain_one_is_on_a_block() -> None:
    molded = flat([(-10.0, -15.0), (10.0, -15.0), (10.0, 5.0), (0.0, 15.0), (-10.0, 15.0)])
    assert on_block(molded, end(40, 60, looks=-1))
    assert not on_block(end(40, 60, looks=-1), molded)
    assert not on_block(molded, molded)
