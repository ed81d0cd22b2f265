"""Hollows in bodies, wood that bodies of several groups share, work in parts, and STL files measured in stretches."""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from types import TracebackType
from typing import Any

import numpy as np
import pytest

from preview.checks import Body, Finding, JointPair, inspect, looking
from preview.checks.inspect import inspect_stl
from preview.checks.looking import Job, _joints_within, _part_of, look, look_at_stl, looked_at, looked_at_stl
from preview.checks.overlap import shared_volumes
from preview.checks.shells import shells
from preview.joinery import join
from preview.runs import Corner, Straight, lay_out
from samples import block
from test_joint_faults import STRIP, Model
from test_many_bodies import box, one_mesh

# Hollows.


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize(("low", "high", "within"), [(2.0, 6.0, True), (0.0, 6.0, False), (2.0, 10.0, False)])
def test_a_hollow_lies_wholly_inside(axis: int, low: float, high: float, within: bool) -> None:
    """A box that looks inward, 4 mm all ways but along one axis, in one of 10 mm; what reaches its faces is none."""
    at, size = [3.0, 3.0, 3.0], [4.0, 4.0, 4.0]
    at[axis], size[axis] = low, high - low
    inner = box((at[0], at[1], at[2]), (size[0], size[1], size[2]), inward=True)
    found, dropped = shells(one_mesh([box((0.0, 0.0, 0.0), (10.0, 10.0, 10.0)), inner]))
    assert dropped == 0
    # The first point of the hollow decides where its box does not: one on a face is on neither side.
    hollow = size[0] * size[1] * size[2]
    if within:
        (joined,) = found
        assert joined.volume == pytest.approx(1000.0 - hollow)
        assert joined.area == pytest.approx(600.0 + 2 * (16.0 + 4 * size[axis] * 2))
        assert (len(joined.points), len(joined.triangles), joined.open_edges) == (16, 24, 0)
        start, stop = joined.triangles.ravel(), np.roll(joined.triangles, -1, axis=1).ravel()
        assert (joined.twins >= 0).all()
        assert (start[joined.twins] == stop).all()
        assert (stop[joined.twins] == start).all()
        assert joined.name == "mesh"
    else:
        assert [each.volume for each in found] == pytest.approx([1000.0, -hollow])
        assert [each.name for each in found] == ["mesh 1", "mesh 2"]


def test_hollows_go_to_the_body_they_lie_in() -> None:
    """Two boxes with a hollow each, told in another order; and one that lies beside a notch of the first's box."""
    several = [
        box((30.0, 0.0, 0.0), (10.0, 10.0, 10.0)),
        box((1.0, 1.0, 1.0), (2.0, 2.0, 2.0), inward=True),
        box((0.0, 0.0, 0.0), (10.0, 10.0, 10.0)),
        box((31.0, 1.0, 1.0), (3.0, 3.0, 3.0), inward=True),
        box((5.0, 5.0, 5.0), (4.0, 4.0, 4.0), inward=True),
    ]
    found, _ = shells(one_mesh(several))
    assert [each.volume for each in found] == pytest.approx([1000.0 - 27.0, 1000.0 - 8.0 - 64.0])
    assert [each.low.tolist() for each in found] == [[30.0, 0.0, 0.0], [0.0, 0.0, 0.0]]
    assert [each.high.tolist() for each in found] == [[40.0, 10.0, 10.0], [10.0, 10.0, 10.0]]


def test_a_hollow_in_a_body_smaller_than_a_millimeter() -> None:
    several = [box((0.0, 0.0, 0.0), (0.5, 0.5, 0.5)), box((0.25, 0.25, 0.25), (0.125, 0.125, 0.125), inward=True)]
    (joined,), _ = shells(one_mesh(several))
    assert joined.volume == pytest.approx(0.125 - 0.125**3)


def test_an_inward_body_alone_is_no_hollow() -> None:
    inner = box((1.0, 1.0, 1.0), (2.0, 2.0, 2.0), inward=True)
    (alone,), _ = shells(inner)
    assert alone.volume == pytest.approx(-8.0)
    beside, _ = shells(one_mesh([inner, box((30.0, 0.0, 0.0), (10.0, 10.0, 10.0))]))
    assert [each.volume for each in beside] == pytest.approx([-8.0, 1000.0])


def test_triangles_without_an_area_are_counted_and_left_out() -> None:
    body = box((0.0, 0.0, 0.0), (1.0, 2.0, 3.0))
    more = np.concatenate([body.triangles, [(0, 0, 1), (1, 2, 1), (3, 2, 2)]])
    (shell,), dropped = shells(replace(body, triangles=more))
    assert (dropped, len(shell.triangles), shell.open_edges) == (3, 12, 0)
    assert (shell.volume, shell.area) == pytest.approx((6.0, 22.0))
    assert shells(replace(body, triangles=more[12:])) == ([], 3)


# Bodies that touch, in any order of their triangles.

BESIDE = [((1.0, 0.0, 0.0), (4.0, 2.0, 3.0)), ((5.0, 0.0, 0.0), (3.0, 2.0, 3.0))]
ACROSS = [((1.0, 0.0, 0.0), (4.0, 2.0, 3.0)), ((5.0, 2.0, 0.0), (3.0, 5.0, 3.0))]
THREE = [*ACROSS, ((-1.0, 2.0, 0.0), (6.0, 2.0, 3.0))]
FOUR = [*THREE, ((5.0, -1.0, 0.0), (3.0, 3.0, 3.0))]


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("several", [BESIDE, ACROSS, THREE, FOUR], ids=["face", "edge", "three", "four"])
def test_boxes_with_an_edge_in_common_are_told_apart(several: list[Any], seed: int) -> None:
    """By where the wood lies round the edge: that of each box in a quarter of the way round."""
    mesh = one_mesh([box(at, size) for at, size in several])
    random = np.random.default_rng(seed)
    mixed = replace(mesh, triangles=mesh.triangles[random.permutation(len(mesh.triangles))])
    found, dropped = shells(mixed)
    assert dropped == 0
    wood = sorted(x * y * z for _, (x, y, z) in several)
    assert sorted(each.volume for each in found) == pytest.approx(wood)
    for each in found:
        assert (len(each.triangles), len(each.points), each.open_edges) == (12, 8, 0)
        start, stop = each.triangles.ravel(), np.roll(each.triangles, -1, axis=1).ravel()
        assert (start[each.twins] == stop).all()
        assert (stop[each.twins] == start).all()
        assert (each.twins[each.twins] == np.arange(36)).all()


def test_bodies_told_one_after_another_are_told_apart_by_that() -> None:
    """Two boxes in one place, and one with an edge in common."""
    twice = [box((1.0, 0.0, 0.0), (4.0, 2.0, 3.0)), box((1.0, 0.0, 0.0), (4.0, 2.0, 3.0)), box(*ACROSS[1])]
    found, _ = shells(one_mesh(twice))
    assert [each.volume for each in found] == pytest.approx([24.0, 24.0, 45.0])
    assert [each.open_edges for each in found] == [0, 0, 0]


def test_an_open_body_is_told_by_its_edges() -> None:
    body = box((1.0, 0.0, 0.0), (4.0, 2.0, 3.0))
    (less,), _ = shells(replace(body, triangles=body.triangles[1:]))
    assert (less.open_edges, (less.twins < 0).sum()) == (3, 3)
    (two,), _ = shells(replace(body, triangles=np.delete(body.triangles, [0, 6], axis=0)))
    assert two.open_edges == 6


# Shared wood.


def test_what_an_open_body_shares_cannot_be_told() -> None:
    whole = shells(box((0.0, 0.0, 0.0), (4.0, 2.0, 3.0)))[0][0]
    other = box((1.0, 0.5, 1.0), (4.0, 2.0, 3.0))
    open_ = shells(replace(other, triangles=other.triangles[1:]))[0][0]
    for several in ((whole, open_), (open_, whole)):
        (found,) = shared_volumes(several)
        assert np.isnan(found.volume)


def test_only_bodies_of_two_groups_are_asked_what_they_share() -> None:
    several = [shells(box((3.0 * i, 0.0, 0.0), (10.0, 2.0, 1.0)))[0][0] for i in range(4)]
    every = [(each.first, each.second, each.volume) for each in shared_volumes(several)]
    wood = {1: 14.0, 2: 8.0, 3: 2.0}
    pairs = [(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)]
    assert every == [(i, j, pytest.approx(wood[j - i])) for i, j in pairs]
    told: list[tuple[int, int]] = []
    of_two = shared_volumes(several, lambda *at: told.append(at), np.array([4, 4, 5, 4]))
    assert [(each.first, each.second) for each in of_two] == [(0, 2), (1, 2), (2, 3)]
    assert told == [(1, 3), (2, 3), (3, 3)]
    assert shared_volumes(several[:1]) == []
    assert shared_volumes([several[0], shells(box((50.0, 0.0, 0.0), (1.0, 1.0, 1.0)))[0][0]]) == []


# Work in parts.


class InTurn:
    """Takes the place of other processes: each task in turn, the last first."""

    def __init__(self, function: Callable[[Any], Any], count: int) -> None:
        self.function = function
        counts.append(count)

    def __enter__(self) -> InTurn:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: object, trace: TracebackType | None) -> None: ...

    def each(self, tasks: Sequence[Any]) -> Iterator[tuple[int, Any]]:
        for number in reversed(range(len(tasks))):
            yield number, self.function(tasks[number])


counts: list[int] = []


@pytest.fixture
def in_turn(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    counts.clear()
    monkeypatch.setattr(looking, "Workers", InTurn)
    return counts


def stair() -> Model:
    """Seven straights round corners, and a second run across the first; one body is missing, one has no triangles."""
    steps = [Straight(200.0), *(each for i in range(6) for each in (Corner(0.5 * (-1) ** i), Straight(200.0)))]
    lines = [
        join(lay_out("wall", steps), "base", STRIP),
        join(lay_out("other", [Straight(300.0)], start=(290.0, -100.0), heading=1.5), "base", block(30.0, 20.0)),
    ]
    first = lines[0]
    pairs = [JointPair(j, *b) for j, b in zip(first.joints, first.between, strict=True)]
    return Model(lines, pairs)


def test_work_in_parts_finds_what_the_whole_finds(monkeypatch: pytest.MonkeyPatch, in_turn: list[int]) -> None:
    model = stair()
    bodies = list(model.bodies.values())
    have: list[Body | None] = [*bodies[:3], None, *bodies[4:]]
    none = np.empty((0, 3), dtype=np.int64)
    have[6] = replace(bodies[6], triangles=none)
    have[1] = replace(bodies[1], vertices=bodies[1].vertices + np.array((0.0, 0.25, 0.0)))
    job = Job(tuple(model.pieces), tuple(have), tuple(model.pairs), tuple(model.volumes.tolist()), 0.05)
    whole = look(job, lambda *_: None)
    monkeypatch.setattr(looking, "PART", 3)
    told: list[tuple[str, int, int]] = []
    parts = looked_at(job, lambda *at: told.append(at), 8)
    assert in_turn == [3]
    assert told == [("pieces", 2, 8), ("pieces", 5, 8), ("pieces", 8, 8)]
    assert parts.alone == whole.alone
    assert parts.volumes == pytest.approx(whole.volumes, nan_ok=True)
    assert np.array_equal(parts.low, whole.low, equal_nan=True)
    assert np.array_equal(parts.high, whole.high, equal_nan=True)
    assert np.isnan(whole.low[[3, 6]]).all()
    assert dict(sorted(parts.overlaps.items())) == dict(sorted(whole.overlaps.items()))
    assert {(0, 1), (1, 2)} <= set(whole.overlaps)
    assert any(j == 7 for _, j in whole.overlaps)
    assert sorted(parts.joints) == sorted(whole.joints)
    for number, each in whole.joints.items():
        assert parts.joints[number].meeting == each.meeting
    assert looked_at(job, lambda *_: None, 2).alone == whole.alone
    assert in_turn == [3, 2]


@pytest.mark.parametrize(("workers", "part", "shared"), [(2, 4, True), (1, 2, False), (2, 5, False), (0, 1, False)])
def test_work_is_shared_where_two_parts_can_be_filled(
    workers: int, part: int, shared: bool, monkeypatch: pytest.MonkeyPatch, in_turn: list[int]
) -> None:
    model = stair()
    have = [None] * 8
    job = Job(tuple(model.pieces), tuple(have), (), (1.0,) * 8, 0.05)
    monkeypatch.setattr(looking, "PART", part)
    looked_at(job, lambda *_: None, workers)
    assert in_turn == ([2] if shared else [])


def test_a_part_of_a_job_counts_its_pieces_from_its_first() -> None:
    model = stair()
    job = Job(tuple(model.pieces), tuple(model.bodies.values()), tuple(model.pairs), tuple(range(8)), 0.05)
    part = _part_of(job, range(2, 5), [3, 4])
    assert part.pieces == job.pieces[2:5]
    assert [body.name for body in part.have if body] == [piece.name for piece in job.pieces[2:5]]
    assert part.volumes == (2, 3, 4)
    assert part.chord == 0.05
    assert [(pair.before, pair.after) for pair in part.joints] == [(0, 1), (1, 2)]
    assert [pair.joint for pair in part.joints] == [model.pairs[3].joint, model.pairs[4].joint]
    ends = _part_of(job, range(0, 2), [0, 1])
    assert [(pair.before, pair.after) for pair in ends.joints] == [(None, 0), (0, 1)]


def test_which_joints_a_part_measures_by_itself() -> None:
    """Those of which both pieces are its own, and free ends; an end that butts asks what stands near."""
    model = stair()
    butt = replace(model.pairs[0], joint=replace(model.pairs[0].joint, kind="butt end"))
    job = Job(tuple(model.pieces), (), (butt, *model.pairs[1:]), (), 0.05)
    assert _joints_within(job, np.array([0, 0, 0, 1, 1, 1, 2, 2])) == [[1, 2], [4, 5], [7]]
    assert _joints_within(job, np.array([0, 0, 0, 1, 1, 1, 1, 2])) == [[1, 2], [4, 5, 6, 7], []]
    free = Job(tuple(model.pieces), (), tuple(model.pairs), (), 0.05)
    assert _joints_within(free, np.array([0, 0, 0, 1, 1, 1, 2, 2])) == [[0, 1, 2], [4, 5], [7]]


# STL files in stretches.


def stl(path: Path, bodies: Sequence[Body], more: Sequence[Sequence[Sequence[float]]] = ()) -> Path:
    corners = np.concatenate([body.vertices[body.triangles] for body in bodies])
    if len(more):
        corners = np.concatenate([corners, np.array(more, dtype=float)])
    facets = b"".join(struct.pack("<12fH", 0, 0, 0, *each.ravel(), 0) for each in corners)
    path.write_bytes(b"molding".ljust(80) + struct.pack("<I", len(corners)) + facets)
    return path


BOXES = [box((20.0 * i, 5.0, 0.0), (10.0, 2.0 + i, 3.0)) for i in range(4)]
"""60, 90, 120 and 150 mm³; 112, 138, 164 and 190 mm²."""


def test_a_stretch_of_an_stl_by_itself(tmp_path: Path) -> None:
    lost = [[(1.0, 1.0, 1.0), (1.0, 1.0, 1.0), (2.0, 1.0, 1.0)], [(1.0, 1.0, 1.0), (2.0, 1.0, 1.0), (1.0, 1.0, 1.0)]]
    path = stl(tmp_path / "a.stl", BOXES, [*lost, [(1.0, 1.0, 1.0), (2.0, 1.0, 1.0), (2.0, 1.0, 1.0)]])
    first, second = look_at_stl((path, 0, 12)), look_at_stl((path, 12, 48))
    assert (first.unbalanced, second.unbalanced) == (0, 0)
    assert (first.volume, first.area) == pytest.approx((60.0, 112.0))
    assert (second.volume, second.area) == pytest.approx((360.0, 492.0))
    assert (first.step, second.step) == (2.0**-20, 2.0**-17)  # at 10 mm and at 70 mm
    assert look_at_stl((path, 48, 51)).unbalanced == 0
    assert look_at_stl((path, 1, 12)).unbalanced == 3
    assert look_at_stl((path, 11, 13)).unbalanced == 6


@pytest.mark.parametrize(("workers", "spans", "shared"), [(2, 4, True), (2, 3, False), (1, 4, False), (0, 4, False)])
def test_stretches_are_shared_where_each_worker_has_two(
    workers: int, spans: int, shared: bool, tmp_path: Path, in_turn: list[int]
) -> None:
    path = stl(tmp_path / "a.stl", BOXES)
    found = looked_at_stl(path, [(12 * i, 12 * i + 12) for i in range(spans)], workers)
    assert in_turn == ([workers] if shared else [])
    assert [each.volume for each in found] == pytest.approx([60.0, 90.0, 120.0, 150.0][:spans])


def figures(found: Sequence[Finding]) -> list[tuple[str, str, float]]:
    return [(each.check.code, each.subject, each.figure) for each in found]


@pytest.mark.parametrize("some", [5, 12, 13, 24, 25, 36, 40, 48, 1000])
def test_an_stl_is_the_same_in_any_stretches(some: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(inspect, "AT_A_TIME", some)
    spans: list[tuple[int, int]] = []

    def kept(path: Path, some: Sequence[tuple[int, int]], workers: int) -> list[looking.Loose]:
        spans.extend(some)
        return looked_at_stl(path, some, workers)

    monkeypatch.setattr(inspect, "looked_at_stl", kept)
    path = stl(tmp_path / "wall.stl", BOXES)
    found = inspect_stl(path, 418.0, [12, 12, 12, 12])
    assert figures(found) == [
        ("stl-closed", "wall", 0),
        ("stl-triangles", "wall", 0),
        ("stl-volume", "wall", pytest.approx(2.0, rel=1e-6)),
    ]
    assert [each.limit for each in found][:2] == [0, 0]
    # The step of the farthest number, 70 mm, times all the surface; and a thousand-millionth of the volume.
    assert found[2].limit == pytest.approx(2.0**-17 * 604.0 + 418e-9, rel=1e-6)
    # Piece after piece, as many as fill a stretch; the last may be longer.
    stops = [12, 24, 36, 48]
    bounds = sorted({min((s for s in stops[:3] if s >= at), default=48) for at in range(some, 48, some)} | {0, 48})
    assert spans == list(pairwise(bounds))


def test_an_stl_that_is_open_in_stretches_is_taken_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Told as pieces of other lengths than it has: each stretch is open, the whole is closed."""
    monkeypatch.setattr(inspect, "AT_A_TIME", 10)
    path = stl(tmp_path / "wall.stl", BOXES)
    found = inspect_stl(path, 420.0, [10, 20, 8, 9])
    assert [each.figure for each in found] == [0, 1, pytest.approx(0.0, abs=1e-3)]
    assert [each.holds for each in found] == [True, False, True]
    # Two stretches open beside two that are closed.
    found = inspect_stl(path, 420.0, [10, 14, 12, 12])
    assert [each.figure for each in found] == [0, 0, pytest.approx(0.0, abs=1e-3)]
    body = BOXES[0]
    less = stl(tmp_path / "less.stl", [*BOXES[1:], replace(body, triangles=body.triangles[1:])])
    found = inspect_stl(less, 420.0, [12, 12, 12, 12])
    assert [each.figure for each in found][:2] == [3, 1]
