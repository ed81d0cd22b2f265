"""Plans: true to scale, every straight, curve and angle dimensioned as the scene has it, and no label on another."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from drawn_pages import SCENES, assert_labels_are_apart, built, drawn_plans, edges, shipped, texts, traces
from preview.drafting import piece_tags, plan_drawing, plan_drawings
from preview.drafting.dimensions import THIN
from preview.drafting.grounds import grounds_of, molding_lines
from preview.drafting.labels import Patch
from preview.drafting.plan import OUTLINE, WALL
from preview.drafting.scales import length_text, scale_of, scales
from preview.drafting.spans import splays, stretches
from preview.paper import SOFT, Trace, Words
from preview.profiles import Arc, Line
from preview.runs import IN_PLAN
from preview.units import degrees_text
from preview.vantage import corners_of, job_of, joint_places

INCH = 25.4


def test_a_36_inch_straight_measures_91_44_mm_at_1_to_10() -> None:
    """914.4 mm / 10; the room is too small for 1:5."""
    drawing = plan_drawing(built('steps = [{ straight = "36 in" }]'), (150.0, 90.0))
    assert drawing.scale == "1:10"
    (wall,) = edges(drawing, WALL)
    assert wall.length == pytest.approx(91.44, abs=1e-9)
    assert "914.4" in texts(drawing)


def test_the_molding_stands_its_projection_off_the_wall() -> None:
    """20 mm out, at 1:5, on the right of travel: below the wall line."""
    drawing = plan_drawing(built('room = "right"\nsteps = [{ straight = 400 }]'), (150.0, 90.0))
    assert drawing.scale == "1:5"
    (wall,) = edges(drawing, WALL)
    along = [edge for edge in edges(drawing, OUTLINE) if edge.length == pytest.approx(wall.length)]
    assert min(edge.start[1] for edge in along) == pytest.approx(wall.start[1] - 4.0, abs=1e-6)


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_dimensions_are_the_scene_s_own_measurements(path: Path) -> None:
    scene = shipped(path.stem)
    unit = scene.scene.units
    for ground, drawing in zip(grounds_of(job_of(scene)), drawn_plans(path.stem), strict=True):
        written = texts(drawing)
        assert not drawing.left_out
        for run in ground.runs:
            for i, element in enumerate(run.elements):
                text = length_text(element.length, unit)
                if element.sweep:
                    text = f"R {length_text(element.radius, unit)}"
                assert any(text in each for each in written), f"{run.name} {i + 1}: {text}"
            for row in stretches(run):
                if len(row) > 1:
                    assert length_text(sum(run.elements[i].length for i in row), unit) in written
            for turn in run.turns:
                if turn and abs(abs(turn) - math.pi / 2) > 1e-4:
                    assert any(degrees_text(math.pi - abs(turn)) in each for each in written)


def test_a_climb_is_dimensioned_in_plan_and_along_its_slope() -> None:
    """The rake of the stair wall is 132 in along the slope and rises 73 7/32 in: 109.83 in plan (Pythagoras)."""
    rake = math.sqrt(132**2 - (73 + 7 / 32) ** 2) * INCH
    cornice = next(drawing for drawing in drawn_plans("stair-wall") if drawing.name.startswith("Reflected"))
    assert f"{length_text(rake, 'in')} (slope {length_text(132 * INCH, 'in')})" in texts(cornice)


def test_curves_stay_arcs_about_the_wall_s_own_center() -> None:
    (drawing,) = drawn_plans("column")
    factor = float({scale.name: scale.ratio for scale in scales("mm")}[drawing.scale])
    arcs = [edge for edge in edges(drawing, WALL) if isinstance(edge, Arc)]
    assert [arc.radius for arc in arcs] == pytest.approx([40 * factor] * 4)
    drawn = [edge for edge in edges(drawing, OUTLINE) if isinstance(edge, Arc)]
    outer = [arc for arc in drawn if arc.radius > 50 * factor]
    assert [arc.radius for arc in outer] == pytest.approx([67 * factor] * 4, abs=0.02)  # 27 mm further out
    assert {tuple(np.round(arc.center, 6)) for arc in outer} == {tuple(np.round(arc.center, 6)) for arc in arcs}


def test_what_is_looked_up_at_has_a_reflected_plan_that_is_not_mirrored() -> None:
    scene = shipped("cornice")
    drawing = plan_drawing(scene)
    assert drawing.name == "Reflected plan"
    assert "Reflected plan" in texts(drawing)
    (ground,) = grounds_of(job_of(scene))
    assert ground.kind == "reflected"
    run = scene.scene.runs[0].run
    wall = edges(drawing, WALL)
    factor = wall[0].length / run.elements[0].length
    shift = np.array(wall[0].start) - factor * np.array(run.elements[0].start)
    for edge, element in zip(wall, run.elements, strict=True):
        assert np.array(edge.end) == pytest.approx(factor * np.array(element.end) + shift, abs=1e-9)
    # Seen from below the crown hides what is above the corona, so its own arrises are seen and the corona's top is not.
    seen = {scene.pieces[line.piece].member for line in molding_lines(scene, ground) if line.piece is not None}
    assert seen == {"frieze", "bed", "corona", "crown"}


def test_a_base_is_seen_from_above() -> None:
    assert [ground.kind for ground in grounds_of(job_of(shipped("window-seat")))] == ["plan"]


def test_a_casing_has_an_elevation_and_the_base_beside_it_a_plan() -> None:
    base, door = drawn_plans("door-casing")
    assert (base.key, door.key) == ("plan-base-left-base-right", "elevation-door")
    written = texts(door)
    assert {"32″", "72″", "8″", "80″"} <= set(written)
    (wall,) = [trace for trace in traces(door, WALL) if len(trace.edges) == 5]
    low, high = min(e.start[1] for e in wall.edges), max(e.end[1] for e in wall.edges)
    assert (high - low) / (80 * INCH) == pytest.approx(wall.edges[2].length / (32 * INCH))
    assert wall.edges[1].end[1] > wall.edges[1].start[1]  # up the left side first


def test_runs_over_each_other_have_a_plan_each() -> None:
    rail, cornice = drawn_plans("stair-wall")
    assert (rail.name, cornice.name) == ("Plan of rail", "Reflected plan of cornice")


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_every_tag_stands_on_a_plan_once(path: Path) -> None:
    scene = shipped(path.stem)
    tags = piece_tags(scene)
    assert sorted(tags, key=int) == [str(i + 1) for i in range(len(scene.pieces))]
    bold = [
        m.text
        for d in drawn_plans(path.stem)
        for m in d.page.marks
        if isinstance(m, Words) and m.size == 2.5 and m.bold
    ]
    beside = ["1", "5"] if path.stem == "door-casing" else []  # the plinth blocks, on the plan of the base as well
    assert sorted(bold, key=int) == sorted([*tags, *beside], key=int)


def test_tags_follow_the_run_and_keep_members_of_a_place_together() -> None:
    scene = shipped("stair-hall")
    by_tag = sorted(zip(map(int, piece_tags(scene)), scene.pieces, strict=True), key=lambda pair: pair[0])
    assert [piece.member for _, piece in by_tag[:6]] == ["board", "cap", "shoe"] * 2
    assert [piece.index for _, piece in by_tag] == sorted(piece.index for piece in scene.pieces)


def test_a_return_comes_before_the_first_piece_and_after_the_last() -> None:
    scene = built('begin = "return"\nend = "return"\nsteps = [{ straight = 400 }]')
    tags = {piece.name.rsplit(" / ", 1)[1]: tag for tag, piece in zip(piece_tags(scene), scene.pieces, strict=True)}
    assert tags == {"begin return": "1", "1 straight": "2", "end return": "3"}


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_corners_have_the_numbers_of_the_pictures(path: Path) -> None:
    job = job_of(shipped(path.stem))
    wanted = [str(i + 1) for i in range(len(corners_of(job, joint_places(job))))]
    soft = [
        mark.text
        for drawing in drawn_plans(path.stem)
        for mark in drawing.page.marks
        if isinstance(mark, Words) and mark.ink == "#4d555e"
    ]
    assert sorted(soft, key=int) == wanted


@pytest.mark.parametrize("stem", ["hall", "stair-wall", "window-seat", "door-casing"])
def test_no_label_lies_on_another_and_all_fits_a_small_room(stem: str) -> None:
    room = (190.0, 120.0)
    for drawing in plan_drawings(shipped(stem), room):
        assert_labels_are_apart(drawing)
        assert drawing.page.width <= room[0] + 1e-6
        assert drawing.page.height <= room[1] + 1e-6


def zigzag(turns: list[int], straights: list[int]) -> str:
    """A run that goes left and right in turn, so that it never meets itself."""
    steps = []
    for i, long in enumerate(straights):
        steps.append(f"{{ straight = {long} }}")
        if i < len(straights) - 1:
            steps.append(f"{{ {'left' if i % 2 else 'right'} = {turns[i % len(turns)]} }}")
    return f"steps = [{', '.join(steps)}]"


@given(st.integers(60, 90), st.lists(st.integers(120, 900), min_size=60, max_size=60))
@settings(max_examples=1)
def test_sixty_pieces_keep_their_tags_and_no_label_lies_on_another(turn: int, straights: list[int]) -> None:
    scene = built(zigzag([turn], straights))
    drawing = plan_drawing(scene)
    assert_labels_are_apart(drawing)
    written = texts(drawing)
    assert {str(i + 1) for i in range(len(scene.pieces))} <= set(written)
    if drawing.left_out:
        assert any("lengths in the table" in each.lower() for each in written)


def test_scales_have_the_names_they_are_known_by() -> None:
    """3 in to the foot is a quarter; the rest likewise (12 / 3, 12 / 1 1/2, 12 / (3/4))."""
    named = {scale.name: scale.ratio for scale in scales("in")}
    assert float(named["3″ = 1′-0″ (1:4)"]) == 3 / 12
    assert float(named["1 ¹⁄₂″ = 1′-0″ (1:8)"]) == 1.5 / 12
    assert float(named["³⁄₄″ = 1′-0″ (1:16)"]) == 0.75 / 12
    assert [scale_of(scale.ratio, "in").name for scale in scales("in")] == list(named)


def test_a_corner_in_three_turns_is_told_once() -> None:
    run = shipped("hall").scene.runs[0].run
    (splay,) = splays(run)
    assert [run.elements[i].length for i in splay] == pytest.approx([1.25 * INCH] * 2)
    written = texts(drawn_plans("hall")[0])
    assert "3 × 150°" in written
    assert "2 × 1¹⁄₄″" in written


@pytest.mark.parametrize("stem", ["hall", "stair-wall", "bar-front", "door-casing"])
def test_no_dimension_lies_on_the_wall(stem: str) -> None:
    """No thin line runs along a wall line, less than 0.5 mm from it, for more than 1.5 mm."""
    for drawing in drawn_plans(stem):
        heavy = [shapely.LineString([e.start, e.end]).buffer(0.5) for e in edges(drawing, WALL) if isinstance(e, Line)]
        every = [mark for mark in drawing.page.marks if isinstance(mark, Trace)]  # not the clipped surroundings
        dimensions = [trace for trace in every if trace.ink == SOFT and trace.weight == THIN]
        assert heavy
        assert dimensions
        for edge in (edge for trace in dimensions for edge in trace.edges if isinstance(edge, Line)):
            line = shapely.LineString([edge.start, edge.end])
            assert all(line.intersection(wall).length < 1.5 for wall in heavy), drawing.name


def test_every_run_is_on_a_plan() -> None:
    for path in SCENES:
        scene = shipped(path.stem)
        names = [name for ground in grounds_of(job_of(scene)) for name in ground.names]
        assert sorted(names) == sorted(placed.run.name for placed in scene.scene.runs)
        for ground in grounds_of(job_of(scene)):
            assert (ground.kind == "wall") == (ground.runs[0].stand != IN_PLAN)


boxes = st.builds(
    Patch,
    st.floats(-10, 10),
    st.floats(-10, 10),
    st.floats(0.5, 8),
    st.floats(0.5, 8),
    st.floats(-3, 3),
)


@given(boxes, boxes)
def test_patches_overlap_where_shapely_says_so(one: Patch, other: Patch) -> None:
    import shapely

    shared = shapely.Polygon(one.corners).intersection(shapely.Polygon(other.corners)).area
    if shared > 1e-6:
        assert one.overlaps(other)
    if shapely.Polygon(one.corners).distance(shapely.Polygon(other.corners)) > 1e-6:
        assert not one.overlaps(other)


@given(boxes, st.tuples(*[st.floats(-12, 12)] * 4))
def test_a_line_is_covered_where_shapely_says_so(patch: Patch, line: tuple[float, float, float, float]) -> None:
    import shapely

    inside = shapely.Polygon(patch.grown(-1e-6).corners).intersection(shapely.LineString([line[:2], line[2:]])).length
    (covered,) = patch.covers(np.array([line]))
    if inside > 1e-5:
        assert covered
    if not shapely.Polygon(patch.grown(1e-6).corners).intersects(shapely.LineString([line[:2], line[2:]])):
        assert not covered


def test_wall_lines_are_twice_as_heavy_as_the_molding() -> None:
    assert WALL == 2 * OUTLINE
    (drawing,) = drawn_plans("bay")
    assert all(isinstance(edge, Line) for edge in edges(drawing, WALL))
    assert all(isinstance(mark, Trace) for mark in traces(drawing, WALL))
