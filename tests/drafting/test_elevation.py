"""Unrolled elevations: stretch beside stretch along the wall line, cut at folds, climbing where the run climbs."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from drawn_pages import SCENES, assert_labels_are_apart, built, drawn, shipped, texts, traces
from preview.drafting import elevation_drawing, elevation_drawings
from preview.drafting.elevation import CHAIN
from preview.drafting.fronts import front_of
from preview.drafting.scales import length_text
from preview.drafting.unrolled import Unrolled, unrolled
from preview.profiles import Arc, Edge, flatten
from preview.runs import IN_PLAN
from samples import BASE, CROWN, cove_spandrel, half_round, quarter_round


def lines(flat: Unrolled, index: int) -> list[Edge]:
    return [edge for edge, _ in flat.lines(flat.stretches[index], 1.0, True)]


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_the_unrolled_length_is_the_sum_of_the_lengths(path: Path) -> None:
    scene = shipped(path.stem)
    for placed in scene.scene.runs:
        whole = unrolled(placed.run)[-1][1]
        assert whole == pytest.approx(math.fsum(element.length for element in placed.run.elements))
        if placed.run.stand != IN_PLAN:
            continue
        bent = any(placed.run.turns) or any(element.sweep for element in placed.run.elements)
        name = f"Elevation of {placed.run.name}{', unrolled' if bent else ''}"
        drawing = next(each for each in drawn(path.stem) if each.name == name)
        assert not drawing.left_out
        assert f"on the wall line, {length_text(whole, scene.scene.units)}" in " ".join(texts(drawing))
        for element in placed.run.elements:
            assert any(length_text(element.length, scene.scene.units) in text for text in texts(drawing))


def test_a_curve_is_rolled_out_to_the_length_of_its_arc() -> None:
    """A quarter turn of radius 100: 157.08 mm between the straights, whose arrises go on level."""
    scene = built('room = "right"\nsteps = [{ straight = 300 }, { curve_left = 90, radius = 100 }, { straight = 300 }]')
    flat = Unrolled(scene, scene.scene.runs[0].run)
    assert unrolled(flat.run)[1] == pytest.approx((300.0, 300.0 + 50 * math.pi))
    level = [edge for edge in lines(flat, 1) if abs(edge.start[1] - edge.end[1]) < 1e-9]
    assert {round(edge.start[1], 6) for edge in level} == {0.0, 40.0}
    assert all(edge.length == pytest.approx(50 * math.pi) for edge in level)


def test_at_an_inside_corner_each_side_ends_in_the_profile() -> None:
    """A miter of 90 degrees: what is d out stops d before the corner; the strip is 20 mm out all the way up."""
    scene = built('room = "left"\nsteps = [{ straight = 300 }, { left = 90 }, { straight = 200 }]')
    flat = Unrolled(scene, scene.scene.runs[0].run)
    before, after = (max(e.end[0] for e in lines(flat, 0)), min(e.start[0] for e in lines(flat, 1)))
    assert [before, after] == pytest.approx([280.0, 320.0])


def test_at_an_outside_corner_the_molding_is_cut_at_the_fold() -> None:
    scene = built('room = "right"\nsteps = [{ straight = 300 }, { left = 90 }, { straight = 200 }]')
    flat = Unrolled(scene, scene.scene.runs[0].run)
    assert max(edge.end[0] for edge in lines(flat, 0)) == pytest.approx(300.0)
    assert min(edge.start[0] for edge in lines(flat, 1)) == pytest.approx(300.0)


def test_a_profile_stands_at_an_inside_corner_as_it_is() -> None:
    """The line in which the window seat's base meets the inside corner is its profile's face: (L - d, h) for each."""
    scene = shipped("window-seat")
    flat = Unrolled(scene, scene.scene.runs[0].run)
    stretch = flat.stretches[2]
    assert flat.front is not None
    for row, place in zip(flat.rows, [flat.places(stretch, True)] * len(flat.rows), strict=True):
        d, h = flat.points[row, 0], flat.points[row, 1]
        assert place[row] == pytest.approx(np.column_stack([stretch.end - d, h]), abs=1e-6)


def test_a_cope_shows_on_both_sides() -> None:
    """The coped piece is cut to the other's face, and hides it as much: the hall's first corner is square."""
    scene = shipped("hall")
    flat = Unrolled(scene, scene.scene.runs[0].run)
    first, second = flat.places(flat.stretches[0], True), flat.places(flat.stretches[1], False)
    row = flat.rows[0]
    corner = flat.stretches[0].end
    assert corner - first[row, 0] == pytest.approx(second[row, 0] - corner, abs=0.02)
    assert (corner - first[row, 0]).max() == pytest.approx(flat.points[row, 0].max(), abs=0.02)


def test_raked_runs_climb() -> None:
    """The rail rises 56 in over 84: its straight climbs at 2 in 3, and an easement is an arc of its own radius."""
    scene = shipped("stair-wall")
    rail = next(placed.run for placed in scene.scene.runs if placed.run.name == "rail")
    flat = Unrolled(scene, rail)
    climbing = next(i for i, element in enumerate(rail.elements) if element.slope and not element.bend)
    slopes = [(e.end[1] - e.start[1]) / (e.end[0] - e.start[0]) for e in lines(flat, climbing) if e.length > 500]
    assert slopes == pytest.approx([2 / 3] * len(slopes))
    easement = next(i for i, element in enumerate(rail.elements) if element.bend)
    arcs = [edge for edge in lines(flat, easement) if isinstance(edge, Arc)]
    assert len(arcs) >= 3
    assert [arc.radius for arc in arcs] == pytest.approx([18 * 25.4] * len(arcs), rel=1e-6)
    assert "rise 56″" in texts(elevation_drawing(scene, "rail"))


def test_folds_stand_where_the_wall_turns() -> None:
    scene = shipped("cornice")
    drawing = elevation_drawing(scene, "cornice", (600.0, 120.0))  # one row
    folds = sorted(trace.edges[0].start[0] for trace in traces(drawing, 0.18) if trace.dash == CHAIN)
    assert len(folds) == 3
    factor = (folds[1] - folds[0]) / (16 * 25.4)
    assert folds[2] - folds[1] == pytest.approx(50 * 25.4 * factor)
    assert 1 / factor == pytest.approx(round(1 / factor))


def test_a_long_run_goes_on_in_rows_and_loses_nothing() -> None:
    steps = ", ".join(f"{{ straight = 700 }}, {{ {'left' if i % 2 else 'right'} = 90 }}" for i in range(11))
    scene = built(f"steps = [{steps}, {{ straight = 700 }}]")
    drawing = elevation_drawing(scene, "wall", (200.0, 260.0))
    assert texts(drawing).count("700") == 12
    assert {str(i + 1) for i in range(12)} <= set(texts(drawing))
    assert drawing.page.width <= 200.0
    assert drawing.page.height <= 260.0


@pytest.mark.parametrize("stem", ["hall", "stair-wall", "window-seat"])
def test_no_label_lies_on_another_and_all_fits_a_narrow_room(stem: str) -> None:
    room = (190.0, 190.0)
    for drawing in elevation_drawings(shipped(stem), room):
        assert_labels_are_apart(drawing)
        assert drawing.page.width <= room[0] + 1e-6
        assert drawing.page.height <= room[1] + 1e-6


def test_a_run_on_the_face_of_a_wall_is_not_unrolled() -> None:
    assert [drawing.key for drawing in elevation_drawings(shipped("door-casing"))] == [
        "elevation-base-left",
        "elevation-base-right",
    ]
    with pytest.raises(KeyError):
        elevation_drawing(shipped("door-casing"), "door")


PROFILES = [BASE, CROWN, cove_spandrel(), half_round(), quarter_round()]


@settings(max_examples=40)
@given(
    st.lists(st.tuples(st.sampled_from(PROFILES), st.floats(0, 30), st.floats(0, 60)), min_size=1, max_size=3),
    st.floats(0.01, 0.99),
)
def test_the_front_is_the_furthest_wood_at_every_height(parts: list[tuple[object, float, float]], share: float) -> None:
    """Against shapely: the furthest point of a level line's crossing with the union of all sections."""
    profiles = [profile.moved(out, up) for profile, out, up in parts]  # type: ignore[attr-defined]
    front = front_of(profiles)
    wood = shapely.union_all([shapely.Polygon(flatten(profile, 0.002).points) for profile in profiles])
    low, high = front.strips[0].foot[1], front.strips[-1].top[1]
    h = low + share * (high - low)
    crossing = wood.intersection(shapely.LineString([(-1.0, h), (1000.0, h)]))
    furthest = crossing.bounds[2] if not crossing.is_empty else 0.0
    if any(abs(h - arris.h) < 0.01 for arris in front.arrises):
        return
    assert front.reach(h) == pytest.approx(furthest, abs=0.02)


def test_arrises_of_a_square_edge_are_its_foot_and_its_top() -> None:
    scene = built("steps = [{ straight = 300 }]")
    found = front_of([scene.lines[0].profile]).arrises
    assert [(arris.d, arris.h, arris.outline) for arris in found] == [(20.0, 0.0, True), (20.0, 40.0, True)]
