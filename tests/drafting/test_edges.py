"""The lines of jobs: which there are, what they are called, where silhouettes lie, and what is an outline."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from preview.build import Built, build
from preview.drafting.edges import seen_lines, strokes_of
from preview.drafting.hidden import Seen
from preview.drafting.skins import skin_of
from preview.drafting.views import FROM_BELOW, ISOMETRIC, PLAN, elevation, from_eye, isometric
from preview.scene import load_scene, parse_scene

Floats = NDArray[np.float64]
SCENES = sorted((Path(__file__).parent.parent.parent / "scenes").glob("*.toml"))
FRONT = elevation(math.pi / 2)
VIEWS = {
    "plan": PLAN,
    "front": FRONT,
    "isometric": isometric(math.radians(135)),
    "isometric from below": isometric(math.radians(45), -ISOMETRIC),
    "ceiling": FROM_BELOW,
}
HEAD = """
title = "Lines"
units = "mm"
[finish.white]
color = "#ffffff"
[profile.block]
foot = 20
face = [{ fillet = 40 }]
[profile.bead]
foot = 10
face = [{ fillet = 5 }, { bead = 20 }, { fillet = 5 }]
[member.block]
profile = "block"
finish = "white"
[member.bead]
profile = "bead"
finish = "white"
"""


def job(steps: str, member: str = "block", around: str = "", **keys: str) -> Built:
    """A run along x with the room toward the looker, of strips 20 mm out and 40 high (or beads 10 out and 30 high)."""
    more = "\n".join(f"{key} = {value}" for key, value in keys.items())
    text = f'{HEAD}[[run]]\nname = "r"\nmembers = ["{member}"]\nroom = "right"\nsteps = [{steps}]\n{more}\n{around}'
    return build(parse_scene(text, Path("lines.toml")))


@cache
def shipped(stem: str) -> Built:
    return build(load_scene(next(path for path in SCENES if path.stem == stem)))


def length(lines: list[Seen]) -> float:
    return sum(float(np.linalg.norm(np.diff(line.points, axis=0), axis=1).sum()) for line in lines)


def of(lines: list[Seen], kind: str) -> list[Seen]:
    return [line for line in lines if line.kind == kind]


def rounded(lines: list[Seen]) -> set[tuple[tuple[float, float], ...]]:
    """Straight lines as pairs of points, to 0.001 mm, the lesser first."""
    return {
        tuple(sorted((round(float(x), 3) + 0.0, round(float(y), 3) + 0.0) for x, y in line.points[[0, -1]]))
        for line in lines
    }


def test_the_plan_of_a_strip_is_its_outline() -> None:
    seen = seen_lines(job("{ straight = 300 }"), PLAN)
    assert rounded(seen) == {
        ((0, 0), (300, 0)),
        ((0, -20), (300, -20)),
        ((0, -20), (0, 0)),
        ((300, -20), (300, 0)),
    }
    assert all(line.outline for line in seen)
    assert {line.piece for line in seen} == {0}


def test_a_miter_is_one_line_and_both_pieces_end_in_it() -> None:
    """An outside corner: plan lines meet on the miter from (300, 0) to (320, -20), followed by hand."""
    seen = seen_lines(job("{ straight = 300 }, { left = 90 }, { straight = 200 }"), PLAN)
    joints = of(seen, "joint")
    assert rounded(joints) == {((300, 0), (320, -20))}
    assert not joints[0].smooth
    assert not joints[0].outline
    assert ((0, -20), (320, -20)) in rounded(of(seen, "arris"))
    assert ((320, -20), (320, 200)) in rounded(of(seen, "arris"))


def test_a_tangent_joint_is_a_smooth_line() -> None:
    seen = seen_lines(job("{ straight = 300 }, { curve_left = 90, radius = 100 }, { straight = 200 }"), PLAN)
    joints = of(seen, "joint")
    assert rounded(joints) == {((300, -20), (300, 0)), ((400, 100), (420, 100))}
    assert all(line.smooth for line in joints)
    # The front edge goes round on a circle of 120 mm, within the chord.
    curved = np.concatenate([line.points for line in of(seen, "arris") if len(line.points) > 2])
    radius = np.linalg.norm(curved - [300, 100], axis=1)
    assert np.minimum(abs(radius - 120), abs(radius - 100)).max() < 1e-9
    inner = curved[abs(radius - 120) < 1e-9]
    steps = np.linalg.norm(np.diff(inner, axis=0), axis=1)
    sagitta = steps[steps < 50] ** 2 / (8 * 120)
    assert sagitta.max() < 0.04  # 0.01 mm on paper at 1:4


def test_some_pieces_alone_show_their_ends() -> None:
    """Without its neighbor a mitered piece is seen to end in the miter's plane."""
    built = job("{ straight = 300 }, { left = 90 }, { straight = 200 }")
    seen = seen_lines(built, FRONT, pieces={0})
    assert {line.piece for line in seen} == {0}
    assert not of(seen, "joint")
    alone = seen_lines(built, isometric(math.radians(225)), pieces={0})
    assert of(alone, "rim")
    assert seen_lines(built, FRONT, pieces=(), around=False) == []


@pytest.mark.parametrize("angle", [0.2, ISOMETRIC, 1.2])
def test_the_silhouette_of_a_bead_lies_where_its_normal_is_square_to_the_view(angle: float) -> None:
    """A half round of 10 mm about d = 10, h = 15: its silhouettes lie 10 mm from its middle in the picture."""
    seen = of(seen_lines(job("{ straight = 300 }", "bead"), isometric(math.pi / 2, angle), scale=1.0), "silhouette")
    chord = 0.01
    up = np.array([-math.sin(angle), math.cos(angle)]) @ np.array([10.0, 15.0])  # of the bead's center; d is toward us
    lower, upper = up - 10.0, up + 10.0
    assert seen
    for line in seen:
        assert len(line.points) == 2
        y = float(line.points[0, 1])
        assert min(abs(y - lower), abs(y - upper)) < chord


def test_the_silhouette_of_a_turned_bead_lies_on_the_torus_contour() -> None:
    """Round a pier the bead is a torus; its silhouette is where the normal is square to the view."""
    view = isometric(math.radians(135), 0.5)
    built = job("{ straight = 50 }, { curve_left = 90, radius = 60 }, { straight = 50 }", "bead")
    skin = skin_of(built, 0.01)
    found = [s for s in strokes_of(skin, view) if s.kind == "silhouette" and s.piece == 1]
    points = np.concatenate([s.points for s in found])
    # In the torus' own terms: its center line is a circle of 60 + 10 about (50, 60) at height 15, its tube 10 mm.
    plan = points[:, :2] - np.array([50.0, 60.0])
    radius = np.linalg.norm(plan, axis=1)
    out, up = radius - 70.0, points[:, 2] - 15.0
    tube = np.hypot(out, up)
    on = (abs(tube - 10) < 0.02) & (abs(up) < 9.9)
    assert on.sum() > 20
    normal = np.column_stack([plan / radius[:, None] * (out / tube)[:, None], up / tube])[on]
    # One facet of a circle of 10 mm with a chord of 0.004 mm turns by 3.3 degrees; so far off may its edge be.
    assert np.degrees(np.arcsin(abs(normal @ np.array(view.ahead)))).max() < 4.0


def test_a_foot_on_the_floor_is_no_outline_and_a_top_before_a_far_wall_is_one() -> None:
    floor = (
        '[[surrounding]]\nname = "floor"\nkind = "floor"\nat = [-500, -500]\nsize = [1500, 1000]\nfinish = "white"\n'
    )
    built = job("{ straight = 300 }", around=floor)
    view = isometric(math.pi / 2)
    seen = {key: line for line in seen_lines(built, view) for key in rounded([line])}
    up = np.array(view.up)

    def at(y: float, z: float) -> tuple[tuple[float, float], ...]:
        height = round(float(up[1] * y + up[2] * z), 3) + 0.0
        return ((0, height), (300, height))

    assert not seen[at(-20, 0)].outline  # the foot, on the floor
    assert not seen[at(-20, 40)].outline  # the front arris: both its faces are seen
    assert seen[at(0, 40)].outline  # the back arris: beyond it lies the floor, far below


def test_a_line_behind_a_box_is_hidden_and_the_box_can_be_left_out() -> None:
    box = (
        '[[surrounding]]\nname = "box"\nkind = "box"\nat = [100, -200]\nsize = [50, 50]\ntop = 100\nfinish = "white"\n'
    )
    built = job("{ straight = 300 }", around=box)
    with_box = [line for line in seen_lines(built, FRONT) if line.kind != "around"]
    without = seen_lines(built, FRONT, around=False)
    top = [line.points for line in with_box if line.points[0, 1] == pytest.approx(40) == line.points[-1, 1]]
    assert sorted(float(x) for points in top for x in points[[0, -1], 0]) == pytest.approx([0, 100, 150, 300], abs=1e-5)
    assert length(without) - length(with_box) == pytest.approx(2 * 50, abs=1e-3)
    assert of(seen_lines(built, FRONT), "around")


@pytest.mark.parametrize("view", ["front", "isometric"])
def test_molding_on_a_round_pier_keeps_its_back_line(view: str) -> None:
    """Facets of the pier and of the piece's back are not the same: neither may hide the line where they touch."""
    pier = '[[surrounding]]\nname = "pier"\nkind = "box"\nat = [-400, 0]\nsize = [700, 600]\nradius = 100\n'
    pier += 'top = 700\nfinish = "white"\n'
    built = job("{ straight = 200 }, { curve_left = 90, radius = 100 }, { straight = 300 }", around=pier)
    seen = seen_lines(built, VIEWS[view], scale=0.1)
    alone = seen_lines(built, VIEWS[view], around=False, scale=0.1)
    here, there = ([line for line in lines if line.kind != "around"] for lines in (seen, alone))
    # From the front and from above nothing of the molding stands behind the pier but what stands behind itself.
    assert length(here) == pytest.approx(length(there), abs=0.5)


def test_a_sheet_hides_and_is_drawn_from_its_face_only() -> None:
    built = job("{ straight = 300 }", wall="500")
    behind = elevation(-math.pi / 2)
    assert of(seen_lines(built, FRONT), "around")
    assert not of(seen_lines(built, behind), "around")
    assert length(seen_lines(built, behind)) == pytest.approx(length(seen_lines(built, behind, around=False)))


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_every_scene_is_drawn_in_every_view(path: Path, view: str) -> None:
    built = shipped(path.stem)
    seen = seen_lines(built, VIEWS[view], around=False, scale=0.1)
    assert len(seen) > 4
    corners = np.concatenate([mesh.points for mesh in built.meshes])
    flat = VIEWS[view].project(corners)[:, :2]
    points = np.concatenate([line.points for line in seen])
    assert np.isfinite(points).all()
    # The picture is as large as the molding, to the chord, and all its outermost lines are outlines.
    np.testing.assert_allclose(points.min(axis=0), flat.min(axis=0), atol=0.2)
    np.testing.assert_allclose(points.max(axis=0), flat.max(axis=0), atol=0.2)
    heavy = np.concatenate([line.points for line in seen if line.outline])
    np.testing.assert_allclose(heavy.min(axis=0), flat.min(axis=0), atol=0.2)
    np.testing.assert_allclose(heavy.max(axis=0), flat.max(axis=0), atol=0.2)


def test_a_part_of_a_picture_is_that_part_of_the_whole() -> None:
    built = shipped("window-seat")
    whole = seen_lines(built, VIEWS["isometric"])
    low, high = (np.concatenate([line.points for line in whole]).mean(axis=0) + by for by in (-150, 150))
    part = seen_lines(built, VIEWS["isometric"], clip=(float(low[0]), float(low[1]), float(high[0]), float(high[1])))
    inside = 0.0
    for line in whole:
        for a, b in zip(line.points, line.points[1:], strict=False):
            t = (np.arange(50) + 0.5)[:, None] / 50
            at = a + t * (b - a)
            inside += float(((at >= low) & (at <= high)).all(axis=1).mean() * np.linalg.norm(b - a))
    assert length(part) == pytest.approx(inside, rel=0.02)
    points = np.concatenate([line.points for line in part])
    assert (points >= low - 1e-6).all()
    assert (points <= high + 1e-6).all()


def test_from_far_away_an_eye_sees_what_a_parallel_view_sees() -> None:
    built = shipped("bay")
    view = isometric(0.9, -0.5)  # nothing is seen edge-on, which would tip either way
    middle = np.mean([mesh.points.mean(axis=0) for mesh in built.meshes], axis=0)
    back = 3e6
    x, y, z = middle - back * np.array(view.ahead)
    eye = replace(view, eye=(float(x), float(y), float(z)))
    near, far = (seen_lines(built, each, around=False, scale=0.5) for each in (view, eye))
    assert length(far) * back == pytest.approx(length(near), rel=2e-3)


def test_an_eye_in_the_room_sees_lines_that_lie_before_it() -> None:
    built = shipped("window-seat")
    seen = seen_lines(built, from_eye((1500.0, -1800.0, 1500.0), (1400.0, 0.0, 100.0)), scale=1.0)
    assert {line.kind for line in seen} == {"arris", "rim", "joint", "silhouette", "around"}
    assert all(np.isfinite(line.points).all() for line in seen)


def test_lines_do_not_depend_on_how_finely_the_scene_is_meshed() -> None:
    built = shipped("column")
    coarse = build(replace(built.scene, chord=0.5))
    for one, other in zip(seen_lines(built, VIEWS["isometric"]), seen_lines(coarse, VIEWS["isometric"]), strict=True):
        np.testing.assert_array_equal(one.points, other.points)
        assert (one.kind, one.piece, one.outline, one.smooth) == (other.kind, other.piece, other.outline, other.smooth)
