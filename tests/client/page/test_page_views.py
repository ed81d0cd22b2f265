"""The ready views and the eyes for joints: what they must see, judged with rays and plain projection."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from page_jobs import SCENES, Floats, Taken, crossings, shipped, taken_apart

from preview.build import Built, build
from preview.client import Camera, Shown, model_document
from preview.scene import parse_scene

NAMES = [path.stem for path in SCENES]
SIZE = (1600, 1000)
Job = tuple[Built, Taken]


@pytest.fixture(scope="module", params=NAMES)
def job(request: pytest.FixtureRequest) -> Job:
    built = shipped(request.param)
    return built, taken_apart(model_document(built.scene, [Shown(built)]))


def triangles(taken: Taken, thing: dict) -> Floats:
    points, _, index = taken.body(thing)
    return points[index]


def every_triangle(taken: Taken) -> Floats:
    (variant,) = taken.document["variants"]
    return np.concatenate([triangles(taken, each) for each in [*variant["pieces"], *variant["surroundings"]]])


def sees(eye: Floats, target: Floats, corners: Floats) -> bool:
    """Whether nothing lies between them but the last 1 mm, where the target's own surface is."""
    last = 1 - 1.0 / float(np.linalg.norm(target - eye))
    passed = crossings(eye, target, corners)
    return not ((passed > 0) & (passed < last)).any()


def projected(view: dict, points: Floats) -> Floats:
    """Points in the picture, shares of its half width and height: in perspective, or as a flat view."""
    eye, target = np.array(view["eye"]), np.array(view["target"])
    if not view["flat"]:
        pixels = Camera(tuple(eye), tuple(target)).project(points, SIZE)
        return np.abs(pixels / np.array(SIZE) * 2 - 1)
    ahead = target - eye
    distance = float(np.linalg.norm(ahead))
    ahead /= distance
    right = np.array([ahead[1], -ahead[0], 0.0]) / math.hypot(ahead[0], ahead[1])
    up = np.cross(right, ahead)
    half = distance * math.tan(math.radians(17))
    return np.abs(np.stack([(points - target) @ right / half, (points - target) @ up / (half * 10 / 16)], axis=1))


def test_the_whole_and_the_plans_hold_all_of_it(job: Job) -> None:
    _, taken = job
    (variant,) = taken.document["variants"]
    assert variant["views"][0]["kind"] == "whole"
    points = np.concatenate([taken.body(piece)[0] for piece in variant["pieces"]])
    views = [view for view in variant["views"] if view["kind"] in ("whole", "plan")]
    assert len(views) >= 2
    for view in views:
        inside = projected(view, points)
        assert np.nanmax(inside) < 0.96, view["name"]
        assert not np.isnan(inside).any()
        assert inside.max() > 0.55, "it could be nearer"


def test_flat_views_cut_nothing_of_the_molding_away(job: Job) -> None:
    _, taken = job
    (variant,) = taken.document["variants"]
    points = np.concatenate([taken.body(piece)[0] for piece in variant["pieces"]])
    for view in variant["views"]:
        if not view["flat"]:
            assert view["near"] == 0
            continue
        ahead = np.array(view["target"]) - np.array(view["eye"])
        depth = (points - np.array(view["eye"])) @ ahead / np.linalg.norm(ahead)
        if view["cut"] is None:
            assert 20 < depth.min() - view["near"] < 200
        else:  # nothing of what is kept, past the cut
            assert 0 < view["near"] < np.linalg.norm(ahead)


def test_the_plan_is_seen_from_where_nothing_hides_it(job: Job) -> None:
    """Past the plane at which it is cut, nothing stands over the middles of most pieces."""
    _, taken = job
    (variant,) = taken.document["variants"]
    view = next(view for view in variant["views"] if view["kind"] == "plan")
    ahead = np.array(view["target"]) - np.array(view["eye"])
    ahead /= np.linalg.norm(ahead)
    around = [triangles(taken, each) for each in variant["surroundings"]]
    corners = np.concatenate(around) if around else np.zeros((0, 3, 3))
    hidden = 0
    for told in variant["pieces"]:
        label = np.array(told["label"])
        start = label - (float((label - np.array(view["eye"])) @ ahead) - view["near"]) * ahead
        passed = crossings(start, label, corners)
        hidden += bool(((passed > 0) & (passed < 0.999)).any())
    assert hidden <= len(variant["pieces"]) // 3


def test_eyes_see_their_joints(job: Job) -> None:
    _, taken = job
    corners = every_triangle(taken)
    (variant,) = taken.document["variants"]
    for joint in variant["joints"]:
        eye, target = np.array(joint["eye"]), np.array(joint["target"])
        assert sees(eye, target, corners), joint["name"]


def test_corner_views_see_their_corner(job: Job) -> None:
    """Something of the corner: its target lies in the middle of what belongs to it, so what is near counts as it."""
    _, taken = job
    corners = every_triangle(taken)
    (variant,) = taken.document["variants"]
    for view in variant["views"]:
        if view["kind"] == "corner":
            eye, target = np.array(view["eye"]), np.array(view["target"])
            away = float(np.linalg.norm(eye - target))
            passed = crossings(eye, target, corners)
            assert not ((passed > 0) & (passed < 1 - 0.2)).any(), view["name"]
            assert away > 50


def test_eyes_stand_in_the_room_and_as_high_as_they_should(job: Job) -> None:
    """On the side of the wall line that the molding is on; above a base, below a crown, before a casing."""
    built, taken = job
    (variant,) = taken.document["variants"]
    origin = np.array(taken.document["origin"])
    for joint, number in zip(variant["joints"], Shown(built).listed, strict=True):
        pair = built.joints[number]
        beside = [built.pieces[i] for i in (pair.before, pair.after) if i is not None]
        piece = next(piece for piece in beside if piece.role != "block")
        eye, target = np.array(joint["eye"]) + origin, np.array(joint["target"]) + origin
        axes = np.array([piece.stand.x, piece.stand.y, piece.stand.z])
        way = (eye - target) @ axes.T
        both = np.add(pair.joint.before.normal, pair.joint.after.normal)
        assert way[:2] @ both > 0, joint["name"]
        if piece.stand.z != (0.0, 0.0, 1.0):
            assert way[2] > 0.5 * np.linalg.norm(way)


@pytest.mark.parametrize(("name", "below"), [("window-seat", False), ("cornice", True), ("six-sided-room", True)])
def test_crowns_are_looked_up_at(name: str, below: bool) -> None:
    built = shipped(name)
    (variant,) = taken_apart(model_document(built.scene, [Shown(built)])).document["variants"]
    assert all((joint["eye"][2] < joint["target"][2]) == below for joint in variant["joints"])
    assert ("Plan from below" in [view["name"] for view in variant["views"]]) == below


def test_the_profile_reads_from_each_eye(job: Job) -> None:
    """The distance is a few times the size of what is looked at."""
    _, taken = job
    (variant,) = taken.document["variants"]
    for joint in variant["joints"]:
        rim = taken.array("rim", joint["rim"], 3)
        size = float(np.ptp(rim, axis=0).max())
        away = float(np.linalg.norm(np.subtract(joint["eye"], joint["target"])))
        assert 1.3 * size < away < 14 * size, joint["name"]


def test_window_seat_corners_are_named() -> None:
    built = shipped("window-seat")
    (variant,) = taken_apart(model_document(built.scene, [Shown(built)])).document["variants"]
    assert [view["name"] for view in variant["views"]] == [
        "Whole",
        "Plan",
        "Corner 1: turned, outside (left pier)",
        "Corner 2: mitered, inside",
        "Corner 3: mitered, inside",
        "Corner 4: mitered, outside (seat, middle)",
        "Corner 5: mitered, outside (seat, middle)",
        "Corner 6: mitered, inside",
        "Corner 7: mitered, inside",
        "Corner 8: turned, outside (right pier)",
        "Section",
    ]


def test_names_are_not_repeated(job: Job) -> None:
    _, taken = job
    (variant,) = taken.document["variants"]
    names = [view["name"] for view in variant["views"]]
    assert len(names) == len(set(names))
    joints = [joint["name"] + joint["kind"] for joint in variant["joints"]]
    assert len(joints) == len(set(joints))


def test_a_corner_in_a_niche_is_seen_all_the_same() -> None:
    """A narrow niche: from the usual distance the eye would stand inside its other side."""
    steps = "{ straight = 400 }, { right = 90 }, { straight = 160 }, { right = 90 }, { straight = 400 }"
    text = f"""
    title = "Niche"
    units = "mm"
    [profile.board]
    foot = 20
    face = [{{ fillet = 100 }}]
    [member.board]
    profile = "board"
    [[run]]
    name = "niche"
    members = ["board"]
    room = "right"
    wall = 1500
    steps = [{steps}]
    """
    built = build(parse_scene(text, Path("niche.toml")))
    taken = taken_apart(model_document(built.scene, [Shown(built)]))
    corners = every_triangle(taken)
    (variant,) = taken.document["variants"]
    assert len(variant["joints"]) == 2
    for joint in variant["joints"]:
        assert sees(np.array(joint["eye"]), np.array(joint["target"]), corners)


def test_sections_are_cut_in_the_middle_of_a_straight(job: Job) -> None:
    built, taken = job
    (variant,) = taken.document["variants"]
    sections = [view for view in variant["views"] if view["kind"] == "end"]
    assert len(sections) == len(built.scene.runs)
    for view in sections:
        path = variant["paths"][view["cut"]["path"]]
        samples = taken.array("samples", path["samples"], 7).astype(np.float64)
        station = view["cut"]["station"]
        one, other = next((a, b) for a, b in pairwise(samples) if a[0] < station <= b[0])
        at = one[1:4] + (station - one[0]) / (other[0] - one[0]) * (other[1:4] - one[1:4])
        ahead = np.array(view["target"]) - np.array(view["eye"])
        assert ahead / np.linalg.norm(ahead) == pytest.approx(one[4:7], abs=1e-3)
        assert abs((np.array(view["target"]) - at) @ one[4:7]) < 0.1
