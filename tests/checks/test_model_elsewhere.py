"""Models from elsewhere: other libraries' meshes and solids, with offsets that are known, and bodies of many shapes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from model_bodies import (
    BASE,
    Body,
    curve,
    flipped,
    lofted,
    moved,
    straight,
    turned,
    welded,
    without_a_triangle,
)
from preview.checks import ModelInspection, inspect_model, read_model

shapely = pytest.importorskip("shapely")
trimesh = pytest.importorskip("trimesh")

C = math.sqrt(0.5)


def of(name: str, mesh: Any, *by: float) -> Body:
    by = by or (0.0, 0.0, 0.0)
    return Body(name, (), np.asarray(mesh.vertices) + np.array(by), np.asarray(mesh.faces), None, 0.0)


def rounded(segments: int) -> list[tuple[float, float]]:
    """20 by 60 with a quarter round of 15 on its upper edge, in so many segments."""
    turn = np.linspace(0, math.pi / 2, segments + 1)
    nose = [(5 + 15 * math.cos(a), 45 + 15 * math.sin(a)) for a in turn]
    return [(0, 0), (20, 0), *nose, (0, 60)]


def failed(told: ModelInspection) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for finding in told.findings:
        if not finding.holds:
            found.setdefault(finding.check.code, []).append(finding.subject)
    return found


def joints(told: ModelInspection) -> list[tuple[str, str]]:
    return [(told.bodies[j.first].name, told.bodies[j.second].name) for j in told.joints]


# Other libraries ------------------------------------------------------------------------------------------------------


def test_boxes_of_trimesh_end_to_end() -> None:
    one, other = (trimesh.creation.box((300, 20, 90)) for _ in range(2))
    told = inspect_model([of("one", one), of("other", other, 300.25, 0.1, 0)])
    (joint,) = told.joints
    assert joint.contact.gap.figure == pytest.approx(0.25, abs=1e-9)
    assert joint.contact.step.figure == pytest.approx(0.1, abs=1e-9)
    assert told.bodies[0].volume == pytest.approx(300 * 20 * 90)


def test_extruded_polygons_of_trimesh_whose_caps_are_triangulated_differently() -> None:
    polygon = shapely.Polygon(BASE)
    one = trimesh.creation.extrude_polygon(polygon, 400)
    other = trimesh.creation.extrude_polygon(shapely.Polygon([*BASE[3:], *BASE[:3]]), 250)
    told = inspect_model([of("one", one), of("other", other, 0, 0.05, 400)])
    (joint,) = told.joints
    assert joint.contact.gap.figure == pytest.approx(0, abs=1e-9)
    assert joint.contact.step.figure == pytest.approx(0.05, abs=1e-9)
    assert failed(told) == {"step": ["one and other"]}


def test_swept_polygons_of_trimesh_meet_at_a_miter() -> None:
    """One sweep round a corner, cut at its miter plane by trimesh: two pieces of one profile that meet flush."""
    path = np.array([[0, 0, 0], [400, 0, 0], [400, 300, 0]], dtype=float)
    whole = trimesh.creation.sweep_polygon(shapely.Polygon(BASE), path)
    assert whole.is_volume
    miter = np.array([1, 1, 0]) / math.sqrt(2)
    one, other = (
        trimesh.intersections.slice_mesh_plane(whole, way, [400, 0, 0], cap=True, engine="manifold")
        for way in (-miter, miter)
    )
    told = inspect_model([of("one", one), of("other", other)])
    (joint,) = told.joints
    assert max(joint.contact.gap.figure, joint.contact.step.figure, joint.contact.angle.figure) < 1e-6
    assert told.holds
    shifted = inspect_model([of("one", one), of("other", other, 0, 0, 0.5)])
    assert shifted.joints[0].contact.step.figure == pytest.approx(0.5, abs=1e-6)


def test_solids_of_the_cad_kernel_read_from_a_step_file_in_centimeters(tmp_path: Path) -> None:
    cadquery = pytest.importorskip("cadquery")
    profile = [(out / 10, up / 10) for out, up in BASE]
    assembly = cadquery.Assembly(name="room")
    for name, length, at in (("one", 20, (0, 0, 0)), ("other", 15, (20.03, 0.05, 0))):
        made = cadquery.Workplane("YZ").polyline(profile).close().extrude(length)
        assembly.add(made, name=name, loc=cadquery.Location(at))
    path = tmp_path / "room.STEP"
    assembly.export(str(path), exportType="STEP")
    written = path.read_text()
    assert "SI_UNIT(.MILLI.,.METRE.)" in written
    path.write_text(written.replace("SI_UNIT(.MILLI.,.METRE.)", "SI_UNIT(.CENTI.,.METRE.)"))
    told = inspect_model(read_model(path).bodies)
    assert {body.name for body in told.bodies} == {"one", "other"}
    assert told.bodies[0].volume == pytest.approx(1404 * 200)
    (joint,) = told.joints
    assert joint.contact.gap.figure == pytest.approx(0.3, abs=1e-5)
    assert joint.contact.step.figure == pytest.approx(0.5, abs=1e-5)


def test_curved_solids_of_the_cad_kernel_are_followed_within_what_is_said(tmp_path: Path) -> None:
    """A quarter of a ring against a straight: exact solids, so nothing but their facets is left."""
    cadquery = pytest.importorskip("cadquery")
    nose = [(0, 0), (20, 0), (20, 45)]

    def section(plane: Any) -> Any:
        return (
            cadquery.Workplane(plane)
            .polyline(nose)
            .threePointArc((5 + 15 * C, 45 + 15 * C), (5, 60))
            .lineTo(0, 60)
            .close()
        )

    assembly = cadquery.Assembly(name="room")
    assembly.add(section("YZ").extrude(300), name="straight")
    assembly.add(section("YZ").revolve(90, (-50, 0), (-50, 1)), name="curve")
    path = tmp_path / "room.step"
    assembly.export(str(path), exportType="STEP")
    told = inspect_model(read_model(path).bodies)
    area = 20 * 45 + 5 * 15 + math.pi * 15**2 / 4
    volumes = {body.name: body.volume for body in told.bodies}
    assert volumes["straight"] == pytest.approx(area * 300, rel=1e-4)
    (joint,) = told.joints
    assert max(joint.contact.gap.figure, joint.contact.step.figure) < 1e-3
    assert joint.contact.facets <= 0.01
    assert told.holds


# Facets ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("first", "second"), [(8, 8), (8, 11), (6, 24), (5, 7)])
def test_one_profile_with_different_facets_is_within_what_they_hide(first: int, second: int) -> None:
    told = inspect_model([straight("one", 0, 300, rounded(first)), straight("other", 300, 700, rounded(second))])
    contact = told.joints[0].contact
    sagitta = 15 * (1 - math.cos(math.pi / 4 / min(first, second)))
    assert contact.facets == pytest.approx(sagitta, rel=0.1)
    assert contact.step.figure <= sagitta
    if first != second:
        assert contact.step.figure > 0.02
    assert told.holds
    (step,) = [finding for finding in told.findings if finding.check.code == "step"]
    assert "own facets and digits can hide" in step.detail or step.figure == 0


def test_a_step_larger_than_the_facets_hide_is_a_fault() -> None:
    told = inspect_model(
        [straight("one", 0, 300, rounded(8)), moved(straight("other", 300, 700, rounded(11)), 0, 0, 0.5)]
    )
    assert failed(told) == {"step": ["one and other"]}
    (step,) = [finding for finding in told.findings if not finding.holds]
    assert step.figure == pytest.approx(0.5, abs=0.05)


def test_on_flats_a_step_that_facets_would_hide_on_the_curve_is_a_fault() -> None:
    """The curve is coarse (0.07 mm), the face below it is flat: there 0.05 mm is told."""
    told = inspect_model(
        [straight("one", 0, 300, rounded(8)), moved(straight("other", 300, 700, rounded(8)), 0, 0.05, 0)]
    )
    assert told.joints[0].contact.facets > 0.05
    assert failed(told) == {"step": ["one and other"]}


def test_true_bevels_are_no_facets() -> None:
    """A single arris of 30 degrees hides nothing."""
    beveled = [(0, 0), (20, 0), (20, 40), (20 - 20 * math.tan(math.radians(30)), 60), (0, 60)]
    told = inspect_model([straight("one", 0, 300, beveled), straight("other", 300, 700, beveled)])
    assert told.joints[0].contact.facets == 0


@pytest.mark.parametrize("segments", [12, 24, 48, 96])
def test_the_sagitta_of_a_rod_is_known(segments: int) -> None:
    turn = np.arange(segments) / segments * 2 * math.pi
    loop = [(10 * math.cos(a), 10 * math.sin(a)) for a in turn]
    told = inspect_model([straight("one", 0, 100, loop), straight("other", 100, 300, loop)])
    assert told.joints[0].contact.facets == pytest.approx(10 * (1 - math.cos(math.pi / segments)), rel=0.02)


def test_coarse_curves_still_end_where_they_end() -> None:
    bodies = [straight("in", -200, 0), curve("curve", 40, math.pi / 2, 4)]
    told = inspect_model(bodies)
    assert joints(told) == [("in", "curve")]
    assert told.holds


# Ends and sides -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("length", [3.0, 10.0, 30.0, 100.0])
def test_short_pieces_have_their_ends_where_the_profile_shows(length: float) -> None:
    bodies = [straight("a", 0, 300), straight("short", 300, 300 + length), straight("b", 300 + length, 700)]
    told = inspect_model(bodies)
    assert joints(told) == [("a", "short"), ("short", "b")]
    assert told.holds
    assert not told.touching


def test_a_short_plain_block_is_settled_by_what_it_meets() -> None:
    """20 by 140 in section and 60 long: only its neighbors say which way it runs."""
    plain = [(0, 0), (20, 0), (20, 140), (0, 140)]
    told = inspect_model(
        [straight("a", 0, 600, plain), straight("b", 600, 660, plain), straight("c", 660, 1500, plain)]
    )
    assert joints(told) == [("a", "b"), ("b", "c")]


def test_a_short_tall_curve_of_plain_section_is_settled_by_what_it_meets() -> None:
    plain = [(0, 0), (12, 0), (12, 140), (0, 140)]
    told = inspect_model([straight("a", -600, 0, plain), curve("c", 30, math.pi / 2, 16, plain)])
    assert joints(told) == [("a", "c")]


def test_a_wedge_that_returns_to_the_wall_meets_at_its_miter() -> None:
    """The piece before ends in an outside miter; the wedge's back line has no length."""
    out, up = np.array(BASE, dtype=float).T
    miter = np.column_stack([400 + out, out, up])
    wall = np.column_stack([400 + out, 0 * out, up])
    wedge = lofted("wedge", BASE, [miter, wall])
    told = inspect_model([straight("a", 0, 400, miter=(0, 1)), without_empty(wedge)])
    assert joints(told) == [("a", "wedge")]
    assert told.joints[0].contact.step.figure < 1e-9
    assert told.holds


def without_empty(body: Body) -> Body:
    """A body without triangles whose corners are not three places."""
    corners = body.vertices[body.triangles]
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    return Body(body.name, (), body.vertices, body.triangles[area > 0], None, 0.0)


def test_members_that_stand_on_each_other_touch_and_form_no_joint() -> None:
    plain = [(0, 0), (20, 0), (20, 80), (0, 80)]
    cap = [(0, 80), (20, 80), (14, 90), (0, 95)]
    shoe = [(20, 0), (30, 0), (20, 18)]
    bodies = [straight(n, 0, 900, loop) for n, loop in (("board", plain), ("cap", cap), ("shoe", shoe))]
    told = inspect_model(bodies)
    assert not told.joints
    assert {(told.bodies[t.first].name, told.bodies[t.second].name): t.area for t in told.touching} == pytest.approx(
        {("board", "cap"): 900 * 20.0, ("board", "shoe"): 900 * 18.0}
    )
    assert told.holds


def test_two_equal_boards_on_edge_touch_and_form_no_joint() -> None:
    plain = [(0, 0), (20, 0), (20, 80), (0, 80)]
    told = inspect_model([straight("below", 0, 900, plain), moved(straight("above", 0, 900, plain), 0, 0, 80)])
    assert not told.joints
    assert [t.area for t in told.touching] == pytest.approx([900 * 20])


def test_an_end_against_a_side_touches_and_is_no_joint() -> None:
    told = inspect_model([straight("base", 0, 400), of("case", trimesh.creation.box((600, 560, 720)), 700, 0, 360)])
    assert not told.joints
    assert len(told.touching) == 1


def test_an_end_that_stands_on_a_plain_block_is_no_joint() -> None:
    """The block is thicker and wider than the profile that stands on it; where that sticks out, it is one."""
    block = [(0, -5), (25, -5), (25, 95), (0, 95)]
    bodies = [straight("block", -200, 0, block), straight("casing", 0, 900)]
    told = inspect_model(bodies)
    assert not told.joints
    assert not told.misses
    assert [(t.first, t.second) for t in told.touching] == [(0, 1)]
    assert told.touching[0].area == pytest.approx(1404)
    outside = inspect_model([bodies[0], moved(bodies[1], 0, -2, 0)])
    assert failed(outside).keys() == {"step", "angle"}


def test_stacked_members_meet_each_with_its_own() -> None:
    plain = [(0, 0), (20, 0), (20, 80), (0, 80)]
    cap = [(0, 80), (20, 80), (14, 90), (0, 95)]
    bodies = [
        straight(f"{name} {i}", 500 * i, 500 * i + 500, loop)
        for i in range(3)
        for name, loop in (("board", plain), ("cap", cap))
    ]
    told = inspect_model(bodies)
    assert sorted(joints(told)) == [
        ("board 0", "board 1"),
        ("board 1", "board 2"),
        ("cap 0", "cap 1"),
        ("cap 1", "cap 2"),
    ]
    assert told.holds


def test_a_run_in_one_piece_round_a_corner_has_its_ends() -> None:
    out, up = np.array(BASE, dtype=float).T
    rings = [
        np.column_stack([0 * out, out, up]),
        np.column_stack([400 + out, out, up]),
        np.column_stack([400 + out, -300 + 0 * out, up]),
    ]
    told = inspect_model([lofted("corner", BASE, rings), straight("before", -500, 0)])
    assert [body.ends for body in told.bodies] == [2, 2]
    assert joints(told) == [("corner", "before")]
    assert told.holds


# One body -------------------------------------------------------------------------------------------------------------


def test_one_body_is_judged_by_itself() -> None:
    told = inspect_model([straight("only", 0, 400)])
    assert told.holds
    assert not told.joints
    assert told.bodies[0].size == pytest.approx((400, 18, 90))


def test_an_open_mesh_is_open() -> None:
    told = inspect_model([without_a_triangle(straight("open", 0, 400)), straight("next", 400, 700)])
    assert told.bodies[0].open_edges == 3
    assert failed(told) == {"closed": ["open"]}


def test_an_inverted_mesh_looks_inward() -> None:
    told = inspect_model([flipped(straight("inverted", 0, 400)), straight("next", 400, 700)])
    assert failed(told) == {"outward": ["inverted"]}


def test_an_inverted_body_in_a_heap_is_told_apart_and_looks_inward() -> None:
    told = inspect_model([welded("heap", [straight("a", 0, 400), flipped(straight("b", 400, 700))])])
    assert len(told.bodies) == 2
    assert failed(told) == {"outward": ["heap 2"]}


def test_one_triangle_wound_the_other_way_is_a_fault() -> None:
    body = straight("body", 0, 400)
    triangles = body.triangles.copy()
    triangles[5] = triangles[5, ::-1]
    told = inspect_model([Body("body", (), body.vertices, triangles, None, 0.0)])
    assert len(told.bodies) == 1
    assert "closed" in failed(told)


def test_a_hollow_body_is_one_body() -> None:
    outer = trimesh.creation.box((100, 40, 40))
    inner = trimesh.creation.box((80, 20, 20))
    inner.invert()
    told = inspect_model([of("hollow", trimesh.util.concatenate([outer, inner]))])
    (body,) = told.bodies
    assert body.volume == pytest.approx(100 * 40 * 40 - 80 * 20 * 20)
    assert told.holds


def test_two_blocks_that_touch_along_an_edge_are_two_bodies() -> None:
    boxes = [of("a", trimesh.creation.box((10, 10, 10))), of("b", trimesh.creation.box((10, 10, 10)), 10, 10, 0)]
    rng = np.random.default_rng(2)
    heap = welded("heap", boxes)
    shuffled = Body("heap", (), heap.vertices, rng.permutation(heap.triangles), None, heap.step)
    told = inspect_model([shuffled])
    assert [body.volume for body in told.bodies] == pytest.approx([1000, 1000])
    assert told.holds


def turned_anyhow(bodies: Sequence[Body]) -> list[Body]:
    return [turned(turned(turned(b, 33, 2), 71, 0), -14, 1) for b in bodies]


def test_where_a_model_stands_changes_nothing() -> None:
    bodies = [straight("a", -400, 0), moved(curve("b", 50, math.pi / 2, 24), 0.2, 0, 0.3)]
    here = inspect_model(bodies).joints[0].contact
    there = inspect_model([moved(b, 5000, -3000, 800) for b in turned_anyhow(bodies)]).joints[0].contact
    for one, other in ((here.gap, there.gap), (here.step, there.step), (here.angle, there.angle)):
        assert one.figure == pytest.approx(other.figure, abs=1e-6)


def test_bodies_that_run_through_each_other_fail() -> None:
    """Two boards that cross, 20 by 20 by 80 mm of them in one place, though no end of either meets an end."""
    board, across = of("board", trimesh.creation.box((400, 20, 90))), of("across", trimesh.creation.box((20, 400, 90)))
    (finding,) = (f for f in inspect_model([board, moved(across, 30, 0, 10)]).findings if f.check.code == "overlap")
    assert finding.figure == pytest.approx(20 * 20 * 80, rel=1e-6)
    assert not finding.holds
    beside = inspect_model([board, moved(board, 0, 20, 0)]).findings
    assert all(f.holds for f in beside if f.check.code == "overlap")
