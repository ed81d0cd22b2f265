"""Joints found in any model and measured there: our own scenes without their scene, and faults of known size."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model_bodies import (
    BASE,
    Body,
    curve,
    lofted,
    moved,
    straight,
    turned,
    welded,
)
from preview.build import Built, build
from preview.checks import ModelInspection, ModelJoint, inspect_model, read_model
from preview.exports import Part, glb_bytes, stl_bytes
from preview.models import solid
from preview.models.mesh import mesh_surroundings
from preview.scene import load_scene

SCENES = Path(__file__).parents[2] / "scenes"
NAMES = sorted(path.stem for path in SCENES.glob("*.toml"))
END_TO_SIDE = {"block", "butt", "cope"}


@pytest.fixture(scope="module")
def scenes() -> Callable[[str], Built]:
    known: dict[str, Built] = {}

    def scene(name: str) -> Built:
        if name not in known:
            known[name] = build(load_scene(SCENES / f"{name}.toml"))
        return known[name]

    return scene


def glb(built: Built) -> bytes:
    parts = [Part(mesh, member.finish) for mesh, member in zip(built.meshes, built.members, strict=True)]
    shown = mesh_surroundings(built.scene.surroundings, built.scene.runs, built.scene.chord)
    return glb_bytes(built.scene.title, parts, shown, built.digest)


def expected(built: Built) -> set[frozenset[str]]:
    return {
        frozenset((built.pieces[pair.before].name, built.pieces[pair.after].name))
        for pair in built.joints
        if pair.before is not None and pair.after is not None and pair.joint.kind not in END_TO_SIDE
    }


def pairs(told: ModelInspection) -> set[frozenset[str]]:
    return {frozenset((told.bodies[j.first].name, told.bodies[j.second].name)) for j in told.joints}


def failed(told: ModelInspection) -> set[str]:
    return {finding.check.code for finding in told.findings if not finding.holds}


def only(told: ModelInspection) -> ModelJoint:
    (joint,) = told.joints
    return joint


def figures(joint: ModelJoint) -> tuple[float, float, float]:
    return joint.contact.gap.figure, joint.contact.step.figure, joint.contact.angle.figure


# Our own scenes -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_every_joint_of_a_scene_is_found_in_its_glb(name: str, scenes: Callable[[str], Built], tmp_path: Path) -> None:
    built = scenes(name)
    path = tmp_path / f"{name}.glb"
    path.write_bytes(glb(built))
    model = read_model(path)
    told = inspect_model(model.bodies)
    assert {body.name for body in told.bodies} == {piece.name for piece in built.pieces}
    assert pairs(told) == expected(built)
    assert len(told.joints) == len(expected(built))
    assert told.holds
    for joint in told.joints:
        assert max(figures(joint)) < 1e-3


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("order", ["as written", "shuffled"])
def test_every_joint_of_a_scene_is_found_in_its_stl(
    name: str, order: str, scenes: Callable[[str], Built], tmp_path: Path
) -> None:
    """Touching pieces share all vertices of a joint there, and nothing but the edges says which triangle is whose."""
    built = scenes(name)
    data = stl_bytes(built.meshes, built.scene.title)
    if order == "shuffled":
        facets = np.frombuffer(data[84:], dtype="V50")
        data = data[:84] + np.random.default_rng(5).permutation(facets).tobytes()
    path = tmp_path / f"{name}.stl"
    path.write_bytes(data)
    told = inspect_model(read_model(path).bodies)
    assert len(told.bodies) == len(built.pieces)
    assert sorted(body.volume for body in told.bodies) == pytest.approx(
        sorted(m.volume for m in built.meshes), rel=1e-5
    )
    assert len(told.joints) == len(expected(built))
    assert told.holds
    for joint in told.joints:
        assert max(figures(joint)) < 1e-3


@pytest.mark.parametrize("name", ["column", "bay"])
def test_every_joint_of_a_scene_is_found_in_its_step(name: str, scenes: Callable[[str], Built], tmp_path: Path) -> None:
    if missing := solid.available():
        pytest.skip(missing)
    built = scenes(name)
    path = tmp_path / f"{name}.step"
    made = solid.make_solids(built.pieces)
    made.write_step(path, built.scene.title, [member.finish.color for member in built.members])
    told = inspect_model(read_model(path).bodies)
    assert pairs(told) == expected(built)
    assert told.holds
    for joint in told.joints:
        assert max(figures(joint)[:2]) < 1e-3
    volumes = {body.name: body.volume for body in told.bodies}
    for piece, volume in zip(built.pieces, built.volumes, strict=True):
        assert volumes[piece.name] == pytest.approx(volume, rel=2e-4)


def test_what_facets_can_hide_is_found_from_the_facets(scenes: Callable[[str], Built], tmp_path: Path) -> None:
    """Sections are flattened within 0.4 of the chord, 0.05 mm; a 45 degree miter stretches that by its secant."""
    built = scenes("window-seat")
    path = tmp_path / "seat.glb"
    path.write_bytes(glb(built))
    told = inspect_model(read_model(path).bodies)
    hidden = {"tangent": 0.4 * 0.05, "miter": 0.4 * 0.05 * math.sqrt(2)}
    kinds = {
        frozenset((built.pieces[p.before].name, built.pieces[p.after].name)): p.joint.kind
        for p in built.joints
        if p.before is not None and p.after is not None
    }
    for joint in told.joints:
        most = hidden[kinds[frozenset((told.bodies[joint.first].name, told.bodies[joint.second].name))]]
        assert 0.9 * most < joint.contact.facets < 1.01 * most


def test_a_curved_miter_shows_a_piece_that_stands_too_high(scenes: Callable[[str], Built], tmp_path: Path) -> None:
    path = tmp_path / "bar.glb"
    path.write_bytes(glb(scenes("bar-front")))
    first, *others = read_model(path).bodies
    told = inspect_model([moved(first, 0, 0, 0.5), *others])
    (kind,) = {p.joint.kind for p in scenes("bar-front").joints if p.before == 0}
    assert kind == "curved miter"
    joint = next(j for j in told.joints if 0 in (j.first, j.second))
    gap, step, _ = figures(joint)
    assert gap < 1e-3
    assert step == pytest.approx(0.5, abs=1e-3)
    assert failed(told) >= {"step"}
    assert sum(not f.holds and f.check.code == "step" for f in told.findings) == 1


# Planted faults -------------------------------------------------------------------------------------------------------


def row(change: Callable[[Body], Body]) -> ModelInspection:
    """Two straights of one base that meet at x = 400, the second one changed."""
    return inspect_model([straight("left", 0, 400), change(straight("right", 400, 900))])


def test_a_sound_joint_measures_nothing() -> None:
    told = row(lambda body: body)
    assert figures(only(told)) == (0.0, 0.0, 0.0)
    assert only(told).place == pytest.approx((400, 9, 45), abs=6)
    assert told.holds
    assert not told.misses


def test_pulled_apart_it_is_a_gap_and_no_step() -> None:
    told = row(lambda body: moved(body, 0.3, 0, 0))
    assert figures(only(told)) == pytest.approx((0.3, 0, 0), abs=1e-9)
    assert only(told).contact.opens == pytest.approx(0.3)
    assert failed(told) == {"gap"}


def test_pushed_into_each_other_it_is_told_with_its_sign() -> None:
    told = row(lambda body: moved(body, -0.3, 0, 0))
    assert only(told).contact.opens == pytest.approx(-0.3)
    (finding,) = [finding for finding in told.findings if not finding.holds]
    assert "run into each other" in finding.detail


@pytest.mark.parametrize("by", [(0, 0.5, 0), (0, 0, -0.5), (0, 0.3, 0.4)])
def test_offset_it_is_a_step_and_no_gap(by: tuple[float, float, float]) -> None:
    told = row(lambda body: moved(body, *by))
    assert figures(only(told)) == pytest.approx((0, 0.5, 0), abs=1e-9)
    assert failed(told) == {"step"}


def test_turned_about_its_own_length_the_profiles_run_at_that_angle() -> None:
    told = row(lambda body: turned(body, 2, 0, (400, 9, 45)))
    gap, step, angle = figures(only(told))
    assert gap == pytest.approx(0, abs=1e-9)
    assert angle == pytest.approx(2, abs=1e-6)
    reach = max(math.hypot(out - 9, up - 45) for out, up in BASE)
    assert 0.5 * reach * math.radians(2) < step <= reach * math.radians(2)
    assert failed(told) == {"step", "angle"}


def test_opened_like_a_door_the_gap_grows_with_the_projection() -> None:
    told = row(lambda body: turned(body, 2, 2, (400, 0, 0)))
    joint = only(told)
    gap, _, angle = figures(joint)
    assert joint.facing == pytest.approx(2, abs=1e-6)
    assert gap == pytest.approx(18 * math.sin(math.radians(2)), rel=0.01)
    assert angle == pytest.approx(2, abs=0.01)


def test_a_miter_pulled_along_one_wall_opens_by_the_sine() -> None:
    one = straight("one", 0, 400, miter=(0, -1))
    other = turned(straight("other", 0, 300, miter=(1, 0)), 90, 2)
    other = moved(other, 400, 0, 0)
    sound = only(inspect_model([one, other]))
    assert figures(sound) == pytest.approx((0, 0, 0), abs=1e-9)
    pulled = only(inspect_model([one, moved(other, 0, 0.4, 0)]))
    across, along = 0.4 * math.sin(math.pi / 4), 0.4 * math.cos(math.pi / 4)
    assert figures(pulled) == pytest.approx((across, along, 0), abs=1e-9)


def test_a_curve_meets_a_straight() -> None:
    told = inspect_model([straight("straight", -300, 0), curve("curve", 50, math.pi / 2, 24)])
    assert figures(only(told)) == pytest.approx((0, 0, 0), abs=1e-9)
    told = inspect_model([straight("straight", -300, 0), moved(curve("curve", 50, math.pi / 2, 24), 0.2, 0, 0.3)])
    assert figures(only(told)) == pytest.approx((0.2, 0.3, 0), abs=1e-9)


def test_half_rings_meet_twice() -> None:
    halves = [curve("east", 80, math.pi, 40), turned(curve("west", 80, math.pi, 40), 180, 2, (0, -80, 0))]
    told = inspect_model(halves)
    assert [told.joint_name(i) for i in range(2)] == ["east and west", "east and west (2)"]
    assert told.holds


def test_a_ring_in_one_piece_has_no_ends_and_one_cut_through_meets_itself() -> None:
    loop = np.array(BASE, dtype=float)
    angles = np.linspace(0, 2 * math.pi, 61)
    rings = [
        np.column_stack([(80 + loop[:, 0]) * math.cos(a), (80 + loop[:, 0]) * math.sin(a), loop[:, 1]]) for a in angles
    ]
    rings[-1] = rings[0].copy()
    cut = lofted("ring", BASE, rings)
    caps = 2 * (len(BASE) - 2)
    whole = cut.triangles[caps // 2 : -caps // 2]
    told = inspect_model([Body("ring", (), cut.vertices, whole, None, 0.0)])
    assert told.bodies[0].open_edges == 0
    assert told.bodies[0].ends == 0
    opened = lofted("ring", BASE, [*rings[:-1], rings[0] + np.array([0, -0.25, 0])])
    told = inspect_model([opened])
    assert only(told).contact.gap.figure == pytest.approx(0.25, abs=1e-9)


def test_ends_too_far_apart_are_a_near_miss() -> None:
    told = row(lambda body: moved(body, 7, 0, 0))
    assert not told.joints
    (miss,) = told.misses
    assert miss.apart == pytest.approx(7)
    assert miss.facing == pytest.approx(0, abs=1e-6)
    assert not row(lambda body: moved(body, 12, 0, 0)).misses


def test_square_ends_at_a_corner_are_a_near_miss() -> None:
    """A miter that was forgotten: both pieces are cut square where the walls meet."""
    other = moved(turned(straight("other", 0, 300), -90, 2), 403, 0, 0)
    told = inspect_model([straight("one", 0, 400), other])
    assert not told.joints
    (miss,) = told.misses
    assert miss.facing == pytest.approx(90, abs=1e-6)
    assert miss.apart == pytest.approx(3)


def test_different_profiles_end_to_end_are_a_step() -> None:
    taller = [(out, up + (20 if up > 60 else 0)) for out, up in BASE]
    told = inspect_model([straight("low", 0, 400), straight("tall", 400, 900, taller)])
    assert only(told).contact.step.figure == pytest.approx(20, abs=0.01)
    assert "step" in failed(told)


@settings(max_examples=40)
@given(
    angles=st.lists(st.floats(0.15, 0.85), min_size=4, max_size=9),
    radii=st.lists(st.floats(20, 60), min_size=9, max_size=9),
    tilt=st.tuples(st.floats(-0.6, 0.6), st.floats(-0.6, 0.6)),
    by=st.tuples(*[st.floats(-1, 1)] * 3),
    way=st.tuples(st.floats(-3, 3), st.floats(-3, 3), st.floats(-3, 3)),
)
def test_a_prism_cut_in_two_shows_the_displacement(
    angles: list[float],
    radii: list[float],
    tilt: tuple[float, float],
    by: tuple[float, float, float],
    way: tuple[float, float, float],
) -> None:
    """Any prism, cut by any plane and one part displaced: the gap is the vector's part across the plane, the step the
    part within it. (The outermost vertex in its direction lies off the other rim by just that.)"""
    steps = np.array(angles) / sum(angles) * 2 * math.pi
    turn = np.cumsum(steps)
    loop = np.column_stack([np.cos(turn), np.sin(turn)]) * np.array(radii[: len(angles)])[:, None]
    if np.max(steps) > 2.8:  # the middle would lie outside
        return
    ends = [np.column_stack([np.full(len(loop), x), loop[:, 0], loop[:, 1]]) for x in (-400.0, 500.0)]
    cut = np.column_stack([loop @ np.array(tilt), loop[:, 0], loop[:, 1]])
    moves = [0, 0, 0, *way]
    one = lofted("one", loop.tolist(), [ends[0], cut])
    other = moved(lofted("other", loop.tolist(), [cut, ends[1]]), *by)
    for axis in range(3):
        one, other = (turned(body, math.degrees(moves[3 + axis]), axis) for body in (one, other))
    joint = only(inspect_model([one, other]))
    normal = np.array([1.0, -tilt[0], -tilt[1]])
    normal /= np.linalg.norm(normal)
    across = float(np.array(by) @ normal)
    within = float(np.linalg.norm(np.array(by) - across * normal))
    assert joint.contact.gap.figure == pytest.approx(abs(across), abs=1e-6)
    assert joint.contact.step.figure == pytest.approx(within, abs=1e-6)
    if within < 0.5:  # further, and the nearest segment may be another one
        assert joint.contact.angle.figure == pytest.approx(0, abs=1e-4)


def test_bodies_welded_into_one_heap_are_told_apart() -> None:
    bodies = [straight("a", 0, 100), straight("b", 100, 300), straight("c", 300, 350)]
    told = inspect_model([welded("heap", bodies)])
    assert [body.name for body in told.bodies] == ["heap 1", "heap 2", "heap 3"]
    assert len(told.joints) == 2
    assert told.holds
