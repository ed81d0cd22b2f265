"""Models of many bodies, or of bodies in one place: the same answers as one by one, with little work, or a refusal."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from preview.checks import Body, faces, inspect_model, nearest, rims
from preview.checks import joints as joints_module
from preview.checks import shells as shells_module
from preview.checks.ends import Sweep, face, facets, sweeps
from preview.checks.faces import EndFace
from preview.checks.joints import _alike, _settled
from preview.checks.nearest import nearest_on_rim
from preview.checks.rims import compare
from preview.checks.shells import _around, shells
from preview.errors import PreviewError

Array = np.ndarray
CORNERS = np.array([(x, y, z) for x in (0, 1) for y in (0, 1) for z in (0, 1)], float)
BOX = np.array([(0, 1, 3), (0, 3, 2), (4, 6, 7), (4, 7, 5), (0, 4, 5), (0, 5, 1),
                (2, 3, 7), (2, 7, 6), (0, 2, 6), (0, 6, 4), (1, 5, 7), (1, 7, 3)])  # fmt: skip


def box(at: tuple[float, float, float], size: tuple[float, float, float], *, inward: bool = False) -> Body:
    triangles = BOX[:, ::-1] if inward else BOX
    return Body("box", (), CORNERS * np.array(size) + np.array(at), triangles, None, 1e-6)


def one_mesh(bodies: list[Body]) -> Body:
    firsts = np.cumsum([0, *(len(body.vertices) for body in bodies)])
    return Body(
        "mesh",
        (),
        np.concatenate([body.vertices for body in bodies]),
        np.concatenate([body.triangles + first for body, first in zip(bodies, firsts[:-1], strict=True)]),
        None,
        1e-6,
    )


def ring(points: Array, normal: tuple[float, float, float] = (0.0, 0.0, 1.0)) -> EndFace:
    """A face with a rim through points (k, 3)."""
    following = np.roll(np.arange(len(points)), -1)
    look = np.array(normal)
    return EndFace(
        0,
        points,
        points[following],
        following,
        np.tile(look, (len(points), 1)),
        look,
        points.mean(axis=0),
        1.0,
        True,
        0.0,
    )


# Rims of many edges ---------------------------------------------------------------------------------------------------


@given(st.integers(0, 2**32 - 1), st.integers(3, 70), st.integers(1, 40))
@settings(max_examples=40)
def test_the_nearest_point_is_that_of_all_segments(seed: int, edges: int, probes: int) -> None:
    """On a coarse grid, so that many are equally near, and some segments have no length."""
    random = np.random.default_rng(seed)
    rim = ring(random.integers(-3, 4, (edges, 3)).astype(float))
    points = random.integers(-4, 5, (probes, 3)).astype(float)
    plain = nearest_on_rim(points, rim)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(nearest, "FEW", 0)
        boxed = nearest_on_rim(points, rim)
    assert np.array_equal(plain[1], boxed[1])
    assert np.allclose(plain[0], boxed[0], rtol=0, atol=1e-12)


def test_two_rims_of_many_edges_are_compared_as_those_of_few(monkeypatch: pytest.MonkeyPatch) -> None:
    angle = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    circle = np.column_stack([50 * np.cos(angle), 50 * np.sin(angle), 0.01 * np.cos(3 * angle)])
    moved = (circle * (1.002, 0.999, 1.0) + (0.05, 0.02, 0.1))[::-1]
    one, other = ring(circle), ring(moved, (0.0, 0.0, -1.0))
    plain = compare(one, other)
    assert plain.gap.figure > 0.1
    assert plain.angle.figure > 0
    monkeypatch.setattr(nearest, "FEW", 0)
    monkeypatch.setattr(rims, "FEW", 0)
    boxed = compare(one, other)
    for mine, theirs in ((plain.gap, boxed.gap), (plain.step, boxed.step), (plain.angle, boxed.angle)):
        assert mine.figure == pytest.approx(theirs.figure, abs=1e-9)
        assert mine.limit == pytest.approx(theirs.limit, abs=1e-9)


def test_a_rim_is_held_against_what_may_be_near(monkeypatch: pytest.MonkeyPatch) -> None:
    """2,000 edges against 2,000: of the 4 million pairs, those in the boxes about each vertex are looked at."""
    looked: list[int] = []
    near = nearest.segments_near

    def counted(probes: Array, reach: Array, rim: nearest.Segments) -> tuple[Array, Array]:
        found = near(probes, reach, rim)
        looked.append(len(found[0]))
        return found

    monkeypatch.setattr(nearest, "segments_near", counted)
    angle = np.linspace(0, 2 * np.pi, 2000, endpoint=False)
    circle = ring(np.column_stack([500 * np.cos(angle), 500 * np.sin(angle), 0 * angle]))
    assert nearest_on_rim(circle.starts, circle)[0] == pytest.approx(circle.starts)
    assert 2000 <= sum(looked) < 2000 * 2000 / 20


def test_a_rim_that_touches_itself_is_walked_once_all_round() -> None:
    """Two triangles of a plane that share a corner and no edge: a rim of two loops, with two ways on at one point."""
    points = np.array([(0, 0, 0), (4, 0, 0), (4, 3, 0), (-4, 0, 0), (-4, -3, 0), (0, 0, 9)], float)
    triangles = np.array([(0, 1, 2), (0, 3, 4), (0, 1, 5)])
    (shell, *_), _ = shells(Body("bow", (), points, triangles[[0, 2]], None, 0.0))
    whole = replace(shell, points=points, triangles=triangles, twins=np.full(9, -1))
    end = face(facets(whole), np.array([True, True, False]), 0)
    assert sorted(end.following.tolist()) == list(range(6))
    assert np.array_equal(end.starts[end.following], end.stops)
    assert end.outline.area() == pytest.approx(12.0)
    assert compare(end, replace(end, normal=-end.normal)).facets == 0.0


# Bodies in one place --------------------------------------------------------------------------------------------------


def test_two_heaps_that_touch_are_asked_about_once_for_each_pair(monkeypatch: pytest.MonkeyPatch) -> None:
    """Twelve boxes in one place on twelve in another: each of the one lies on each of the other with 40 x 100 mm."""
    asked = 0

    def counted(one: EndFace, other: EndFace) -> float:
        nonlocal asked
        asked += 1
        return faces.overlap(one, other)

    monkeypatch.setattr("preview.checks.touching.overlap", counted)
    heap = [box((0, 0, 0), (40, 100, 900)) for _ in range(12)] + [box((0, 0, 900), (60, 120, 30)) for _ in range(12)]
    found = inspect_model(heap)
    assert sorted((touch.first, touch.second) for touch in found.touching) == [
        (i, j) for i in range(12) for j in range(12, 24)
    ]
    assert [touch.area for touch in found.touching] == pytest.approx([4000.0] * 144)
    assert asked == 144


def settled_one_by_one(ways: list[list[Sweep]]) -> list[Sweep]:
    """What `_settled` says in words, without any haste: after each body all that is open is weighed again."""
    chosen = {i: 0 for i, mine in enumerate(ways) if len(mine) == 1}
    open_ = {i for i, mine in enumerate(ways) if len(mine) > 1}

    def score(i: int, way: int) -> int:
        theirs = [end for j, w in chosen.items() if j != i for end in ways[j][w].ends]
        return sum(_alike(end, other) for end in ways[i][way].ends for other in theirs)

    while open_:
        weighed = [(score(i, way), ways[i][way].travel, -i, -way) for i in open_ for way in range(len(ways[i]))]
        _, _, i, way = max(weighed)
        chosen[-i] = -way
        open_.discard(-i)
    return [ways[i][chosen[i]] for i in sorted(chosen)]


@given(st.lists(st.tuples(*[st.sampled_from([0, 20, 40, 60])] * 3), min_size=2, max_size=6), st.integers(0, 2))
@settings(max_examples=25, deadline=None)
def test_blocks_are_settled_as_one_by_one(places: list[tuple[int, int, int]], long: int) -> None:
    lengths = [20.0, 20.0, 20.0]
    lengths[long] = 220.0
    x, y, z = lengths
    bodies = [box((0.0, 0.0, -220.0), (20.0, 20.0, 220.0))]
    bodies += [box(place, (20.0, 20.0, 20.0) if i % 2 else (x, y, z)) for i, place in enumerate(places)]
    ways = [sweeps(shells(body)[0][0], i) for i, body in enumerate(bodies)]
    assert [sweep.travel for sweep in _settled(ways)] == [sweep.travel for sweep in settled_one_by_one(ways)]
    assert all(one is other for one, other in zip(_settled(ways), settled_one_by_one(ways), strict=True))


@given(st.integers(0, 2**32 - 1), st.integers(3, 14))
@settings(max_examples=60)
def test_leaves_round_an_edge_are_paired_as_by_looking_at_all(seed: int, count: int) -> None:
    """Of the leaves that are open, the one nearest in the file is taken, and of two the one that came first."""
    random = np.random.default_rng(seed)
    angle = random.permutation(count) * 2 * np.pi / count + 0.01
    points = np.concatenate([[(0, 0, 0), (0, 0, 10)], np.column_stack([np.cos(angle), np.sin(angle), 0 * angle])])
    back = random.random(count) < 0.5
    leaves = np.array([(1, 0, i + 2) if back[i] else (0, 1, i + 2) for i in range(count)])
    forward = np.repeat(~back, 3)
    order = [3 * int(i) for i in np.argsort(angle)]
    # Round from behind the widest gap: all are as wide but for rounding, so the start is where the pairing says.
    matched = _around(points, leaves, 3 * np.arange(count), forward)
    starts = [paired(order[k:] + order[:k], forward) for k in range(count)]
    assert matched in starts


def paired(order: list[int], forward: Array) -> list[tuple[int, int]]:
    pending: list[int] = []
    free = set(order)
    found = []
    for half in order * 2:
        if half in free and not forward[half] and half not in pending:
            pending.append(half)
        elif half in free and forward[half] and pending:
            begun = min(pending, key=lambda other: abs(other - half))
            pending.remove(begun)
            free -= {half, begun}
            found.append((begun, half))
    return found


# Limits ---------------------------------------------------------------------------------------------------------------


def refused(limit: str, most: int, bodies: list[Body], monkeypatch: pytest.MonkeyPatch) -> str:
    """What is said where a limit is set to one less than the bodies need, which with it as it is are inspected."""
    monkeypatch.setenv(f"MOLDING_LIMIT_{limit}", str(most + 1))
    assert inspect_model(bodies).bodies
    monkeypatch.setenv(f"MOLDING_LIMIT_{limit}", str(most))
    with pytest.raises(PreviewError) as caught:
        inspect_model(bodies)
    said = str(caught.value)
    assert f"and {most:,} is the most" in said
    assert f"set MOLDING_LIMIT_{limit} to a larger number" in said
    return said


def test_faces_in_one_plane_have_a_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    row = [box((0, 0, 0), (40, 100, 900)), box((0, 0, 900), (60, 120, 30)), box((0, 0, -30), (60, 120, 30))]
    assert "the model has 2 pairs of flat faces" in refused("TOUCHES", 1, row, monkeypatch)


def test_edges_round_faces_have_a_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two boxes end to end: four edges of the one may meet four of the other."""
    row = [box((0, 0, 0), (20, 40, 900)), box((0, 0, 900), (20, 40, 900))]
    assert "the model has 16 pairs of edges" in refused("RIMS", 15, row, monkeypatch)


def test_crowded_edges_have_a_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    spine = np.array([[0, 0, 0], [0, 0, 10], [10, 0, 0], [-5, 8, 0], [-5, -8, 0]], float)
    leaves = Body("leaves", (), spine, np.array([[0, 1, 2], [0, 1, 3], [1, 0, 4]]), None, 0.0)
    assert "the model has 3 triangles at edges" in refused("CROWDED", 2, [leaves], monkeypatch)


def test_hollows_that_may_lie_in_many_bodies_have_a_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    nested = one_mesh(
        [box((0, 0, 0), (90, 90, 90)), box((9, 9, 9), (70, 70, 70)), box((20, 20, 20), (9, 9, 9), inward=True)]
    )
    assert len(shells(nested)[0]) == 2
    monkeypatch.setenv("MOLDING_LIMIT_OVERLAPS", "1")
    with pytest.raises(PreviewError, match="2 pairs of bodies"):
        shells(nested)


def test_too_many_bodies_are_refused_before_any_is_made(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[Body] = []
    shell = shells_module._shell

    def counted(body: Body, *rest: Array) -> shells_module.Shell:
        made.append(body)
        return shell(body, *rest)

    monkeypatch.setattr(shells_module, "_shell", counted)
    loose = one_mesh([box((30.0 * i, 0, 0), (9, 9, 9)) for i in range(4)])
    monkeypatch.setenv("MOLDING_LIMIT_BODIES", "3")
    with pytest.raises(PreviewError, match="4 bodies, and 3 is the most"):
        shells(loose)
    assert not made
    monkeypatch.setenv("MOLDING_LIMIT_BODIES", "4")
    assert len(shells(loose)[0]) == len(made) == 4


def test_ends_that_cannot_meet_are_not_measured(monkeypatch: pytest.MonkeyPatch) -> None:
    """A row of sticks side by side: their ends come near each other, look the same way, and no rim is measured."""

    def never(*_: EndFace) -> None:
        raise AssertionError("measured")

    monkeypatch.setattr(joints_module, "_meets", never)
    monkeypatch.setattr(joints_module, "_alike", never)
    monkeypatch.setattr(joints_module, "_miss", never)
    found = inspect_model([box((12.0 * i, 0, 0), (9, 9, 300)) for i in range(8)])
    assert [body.ends for body in found.bodies] == [2] * 8
    assert not found.joints
