"""The model document, read back by a reader that shares nothing with the writer."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from page_jobs import (
    SCENES,
    Taken,
    distance_to_mesh,
    open_edges,
    shipped,
    taken_apart,
    volume,
)

from preview.build import Built, build
from preview.checks import Finding, Inspection, Meeting
from preview.checks.findings import GAP
from preview.client import Shown, figures, model_document
from preview.joinery import piece_lengths
from preview.scene import every_variant, parse_scene

NAMES = [path.stem for path in SCENES]
SIMPLE = """
title = "Two boards"
units = "mm"
[profile.board]
foot = 20
face = [{ fillet = 100 }]
[member.board]
profile = "board"
[[run]]
name = "wall"
members = ["board"]
room = "right"
steps = [{ straight = 300 }, { right = 90 }, { straight = 200 }]
"""


def document(built: Built) -> Taken:
    return taken_apart(model_document(built.scene, [Shown(built)]))


@pytest.fixture(scope="module", params=NAMES)
def job(request: pytest.FixtureRequest) -> tuple[Built, Taken]:
    built = shipped(request.param)
    return built, document(built)


def simple(text: str = SIMPLE) -> Built:
    return build(parse_scene(text, Path("boards.toml")))


def test_every_piece_is_there_with_its_volume(job: tuple[Built, Taken]) -> None:
    """Against the closed form, which no mesh enters: facets hide at most the chord times the surface."""
    built, taken = job
    (variant,) = taken.document["variants"]
    assert [piece["name"] for piece in variant["pieces"]] == [piece.name for piece in built.pieces]
    for told, piece, exact, mesh in zip(variant["pieces"], built.pieces, built.volumes, built.meshes, strict=True):
        points, normals, triangles = taken.body(told)
        assert open_edges(points, triangles) == 0, piece.name
        assert volume(points, triangles) == pytest.approx(exact, abs=(built.scene.chord + 0.002) * mesh.area)
        assert volume(points, triangles) == pytest.approx(mesh.volume, rel=2e-4)
        assert np.linalg.norm(normals, axis=1) == pytest.approx(1.0, abs=0.012)
        assert (told["run"], told["member"], told["kind"]) == (piece.run, piece.member, piece.kind)


def test_what_stands_round_it_is_there(job: tuple[Built, Taken]) -> None:
    built, taken = job
    (variant,) = taken.document["variants"]
    walls = sum(placed.wall is not None for placed in built.scene.runs)
    assert len(variant["surroundings"]) == len(built.scene.surroundings) + walls
    for told in variant["surroundings"]:
        points, _, triangles = taken.body(told)
        assert taken.document["bodies"][told["body"]]["uvs"] is None
        assert told["sheet"] == (told["kind"] in ("floor", "wall"))
        if not told["sheet"]:
            assert open_edges(points, triangles) == 0
            assert volume(points, triangles) > 0
        color = taken.document["finishes"][told["finish"]]["color"]
        assert len(color) == 3
        assert all(0 <= part <= 1 for part in color)


def test_the_box_holds_the_molding(job: tuple[Built, Taken]) -> None:
    _, taken = job
    (variant,) = taken.document["variants"]
    points = np.concatenate([taken.body(piece)[0] for piece in variant["pieces"]])
    assert points.min(axis=0) == pytest.approx(variant["low"], abs=0.01)
    assert points.max(axis=0) == pytest.approx(variant["high"], abs=0.01)


def test_labels_stand_on_the_face_at_mid_length(job: tuple[Built, Taken]) -> None:
    built, taken = job
    (variant,) = taken.document["variants"]
    for told, piece in zip(variant["pieces"], built.pieces, strict=True):
        points, _, triangles = taken.body(told)
        label = np.array(told["label"])
        assert distance_to_mesh(label[None], points[triangles])[0] < built.scene.chord + 0.02, piece.name
        if piece.kind == "straight":
            run = np.array([*piece.element.tangent, 0.0])
            tangent = run @ np.array([piece.stand.x, piece.stand.y, piece.stand.z])
            along = (points @ tangent).min(), (points @ tangent).max()
            middle = sum(along) / 2
            reach = (along[1] - along[0]) / 2
            assert abs(label @ tangent - middle) < 0.5 * reach


def test_rims_lie_on_both_pieces(job: tuple[Built, Taken]) -> None:
    """On a cope the outline is the coped end's, and its face side lies on the other piece."""
    built, taken = job
    (variant,) = taken.document["variants"]
    assert len(variant["joints"]) == len(Shown(built).listed)
    for joint in variant["joints"]:
        rim = taken.array("rim", joint["rim"], 3).astype(np.float64)
        assert len(rim) > 4
        assert np.array_equal(rim[0], rim[-1])
        on = rim[:: max(1, len(rim) // 12)]
        near = []
        for number in joint["pieces"]:
            points, _, triangles = taken.body(variant["pieces"][number])
            near.append(distance_to_mesh(on, points[triangles]))
        assert min(each.max() for each in near) < built.scene.chord + 0.02, joint["name"]
        if joint["kind"] == "butt end":
            continue
        assert len(near) == 2
        if joint["kind"] in ("cope", "block"):
            assert all(each.min() < built.scene.chord + 0.02 for each in near), joint["name"]
        else:
            assert all(each.max() < built.scene.chord + 0.02 for each in near), joint["name"]


def test_joints_know_their_pieces_and_pieces_their_joints(job: tuple[Built, Taken]) -> None:
    _, taken = job
    (variant,) = taken.document["variants"]
    for number, piece in enumerate(variant["pieces"]):
        for end in (piece["begin"], piece["end"]):
            assert end == -1 or number in variant["joints"][end]["pieces"]
    for number, joint in enumerate(variant["joints"]):
        assert any(number in (variant["pieces"][i]["begin"], variant["pieces"][i]["end"]) for i in joint["pieces"])
        assert joint["figures"] is None
        assert joint["holds"] is None


def test_targets_lie_on_the_rim_and_places_on_the_path(job: tuple[Built, Taken]) -> None:
    _, taken = job
    (variant,) = taken.document["variants"]
    for joint in variant["joints"]:
        rim = taken.array("rim", joint["rim"], 3).astype(np.float64)
        sides = np.stack([rim[:-1], rim[1:], rim[1:]], axis=1)
        target = np.array(joint["target"])
        near = min(
            float(
                np.linalg.norm(
                    a + np.clip(((target - a) @ (b - a)) / max(((b - a) @ (b - a)), 1e-12), 0, 1) * (b - a) - target
                )
            )
            for a, b, _ in sides
        )
        assert near < 0.1, joint["name"]
        path = variant["paths"][joint["path"]]
        samples = taken.array("samples", path["samples"], 7).astype(np.float64)
        i = int(np.searchsorted(samples[:, 0], joint["station"]))
        beside = samples[max(i - 1, 0) : i + 2]
        lengths = np.linalg.norm(np.array(joint["place"]) - beside[:, 1:4], axis=1)
        assert lengths.min() <= np.ptp(beside[:, 0]) + 0.1


def test_paths_are_walked_end_to_end(job: tuple[Built, Taken]) -> None:
    """Each sample is as far from the one before as its station says; on curves the chord is a little shorter."""
    built, taken = job
    (variant,) = taken.document["variants"]
    for path, placed in zip(variant["paths"], built.scene.runs, strict=True):
        samples = taken.array("samples", path["samples"], 7).astype(np.float64)
        assert samples[0, 0] == 0.0
        assert samples[-1, 0] == pytest.approx(path["length"], abs=0.01)
        walked = np.diff(samples[:, 0])
        assert (walked >= 0).all()
        steps = np.linalg.norm(np.diff(samples[:, 1:4], axis=0), axis=1)
        assert steps == pytest.approx(walked, rel=3e-3, abs=0.01)
        assert np.linalg.norm(samples[:, 4:7], axis=1) == pytest.approx(1.0, abs=1e-5)
        if placed.run.closed:
            assert samples[-1, 1:4] == pytest.approx(samples[0, 1:4], abs=0.02)
        places = path["places"]
        assert len(places["in"]) == len(places["mm"]) == math.ceil((path["length"] - 1e-6) / path["step"]) + 1


def test_corners_stand_twice_in_a_path() -> None:
    taken = document(simple())
    (path,) = taken.document["variants"][0]["paths"]
    samples = taken.array("samples", path["samples"], 7)
    assert samples[:, 0].tolist() == [0.0, 300.0, 300.0, 500.0]
    assert samples[:, 4:7].tolist() == [[1, 0, 0], [1, 0, 0], [0, -1, 0], [0, -1, 0]]


def test_pieces_apart_leave_each_joint_open_along_its_run(job: tuple[Built, Taken]) -> None:
    built, taken = job
    (variant,) = taken.document["variants"]
    moves = np.array([piece["apart"] for piece in variant["pieces"]])
    assert moves[:, 2].min() >= 0
    for joint, number in zip(variant["joints"], Shown(built).listed, strict=True):
        pair = built.joints[number]
        if pair.before is None or pair.after is None or joint["kind"] == "butt":
            continue
        opened = moves[pair.after] - moves[pair.before]
        stand = built.pieces[pair.before].stand
        one, other = (np.array([*side.tangent, 0.0]) for side in (pair.joint.before, pair.joint.after))
        travel = (one + other) @ np.array([stand.x, stand.y, stand.z])
        if joint["kind"] == "block" and built.pieces[pair.before].stand != built.pieces[pair.after].stand:
            continue
        assert opened @ travel > 0.5 * np.linalg.norm(opened), joint["name"]
        assert np.linalg.norm(opened) > 5


def test_dimensions_are_the_lengths_in_both_units() -> None:
    """Two boards by hand: 300 and 200 mm of wall, 20 mm thick, round an inside corner on the right of travel."""
    built = simple()
    (variant,) = document(built).document["variants"]
    first = {each["name"]: each["value"] for each in variant["pieces"][0]["dimensions"]}
    assert first["wall line"] == {"in": '11 13/16"', "mm": "300 mm"}
    assert first["shortest"]["mm"] == "280 mm"
    assert first["longest"]["mm"] == first["overall"]["mm"] == "300 mm"
    assert variant["pieces"][1]["short"]["mm"] == "200 mm"


def test_curves_tell_their_radius_and_blocks_their_sizes() -> None:
    (seat,) = document(shipped("window-seat")).document["variants"]
    curve = {each["name"]: each["value"] for each in seat["pieces"][1]["dimensions"]}
    assert curve["radius of the wall line"] == {"in": '2"', "mm": "50.8 mm"}
    assert curve["turn"]["in"] == "90°"
    arc = math.pi / 2 * 50.8
    assert curve["wall line"]["mm"] == f"{arc:.1f} mm"
    (door,) = document(shipped("door-casing")).document["variants"]
    block = next(piece for piece in door["pieces"] if piece["kind"] == "block")
    assert block["dimensions"] == [
        {
            "name": "size",
            "value": {"in": '1 1/4" by 4" by 8"', "mm": "31.8 mm by 101.6 mm by 203.2 mm"},
        }
    ]


def test_pieces_of_one_shape_share_it() -> None:
    taken = document(shipped("window-seat"))
    (variant,) = taken.document["variants"]
    by_name = {piece["name"]: piece["body"] for piece in variant["pieces"]}
    assert by_name["seat / base / 1 straight"] == by_name["seat / base / 11 straight"]
    assert by_name["seat / base / 4 straight"] == by_name["seat / base / 8 straight"]
    assert by_name["seat / base / 1 straight"] != by_name["seat / base / 4 straight"]


def test_variants_share_what_they_have_in_common() -> None:
    """A second variant with one longer board adds its two boards, and no more."""
    built = simple()
    other = simple(SIMPLE.replace("straight = 200", "straight = 260"))
    one = taken_apart(model_document(built.scene, [Shown(built)]))
    both = taken_apart(model_document(built.scene, [Shown(built), Shown(other, picks=(1,))]))
    same = taken_apart(model_document(built.scene, [Shown(built), Shown(simple(), picks=(1,))]))
    assert len(same.data) == len(one.data)
    assert len(both.document["bodies"]) == len(one.document["bodies"]) + 1
    first, second = both.document["variants"]
    assert first["pieces"][0]["body"] == second["pieces"][0]["body"]
    assert first["views"][0] == second["views"][0]
    assert second["picks"] == [1]


def test_molding_may_be_tried_in_any_paint_or_clear_finish_of_the_scene() -> None:
    scene = shipped("window-seat").scene
    shown = [Shown(build(each.scene), each.picks) for each in every_variant(scene)]
    taken = taken_apart(model_document(scene, shown))
    finishes = taken.document["finishes"]
    assert {each["name"]: each["molding"] for each in finishes} == {
        "white": True,
        "oak": True,
        "plaster": False,
        "slate": False,
        "stone": False,
        "sage": True,
    }
    worn = {finishes[piece["finish"]]["name"] for each in taken.document["variants"] for piece in each["pieces"]}
    assert worn == {"white", "oak"}
    assert [each["picks"] for each in taken.document["variants"]] == [list(each.picks) for each in shown]
    assert [each["name"] for each in taken.document["choices"]] == ["profile", "corners", "finish"]


def test_what_was_measured_comes_in() -> None:
    built = simple()
    number = Shown(built).listed[0]
    name = built.joints[number].joint.name
    meetings = tuple(Meeting(0.0, 0.0012, 0.25) if i == number else None for i in range(len(built.joints)))
    good = Finding(GAP, name, 0.0, 0.002)
    inspection = Inspection((good, replace(good, figure=0.5)), meetings, built.volumes)
    shown = Shown(built, (0,), ("longer",), inspection, ("the gap is open",), "7KQ4-XM2P")
    taken = taken_apart(model_document(built.scene, [shown]))
    (variant,) = taken.document["variants"]
    assert variant["holds"] is False
    assert variant["checks"] == 2
    assert (variant["code"], variant["failures"], variant["changes"]) == ("7KQ4-XM2P", ["the gap is open"], ["longer"])
    (joint,) = variant["joints"]
    assert joint["holds"] is False
    assert joint["figures"] == [
        {"name": "gap", "value": "under 0.001 mm"},
        {"name": "step", "value": "0.001 mm"},
        {"name": "angle", "value": "0.250°"},
    ]
    (told,) = figures([shown])["variants"]
    for key in ("picks", "digest", "code", "holds", "failures", "checks"):
        assert told[key] == variant[key]
    assert told["joints"] == [{"figures": joint["figures"], "holds": False}]
    json.dumps(told, allow_nan=False)


def test_a_forecast_is_told_where_there_is_one() -> None:
    built = simple(SIMPLE + "[site]\nsaw = 0.5\n")
    assert built.forecasts
    listed = Shown(built).listed
    meetings = tuple(Meeting(0.0, 0.0, 0.0) if i in listed else None for i in range(len(built.joints)))
    shown = Shown(built, inspection=Inspection((), meetings, built.volumes))
    (told,) = figures([shown])["variants"]
    assert told["joints"][0]["figures"][-1] == {"name": "on site", "value": built.forecasts[0].line}


def test_lengths_are_those_of_the_cut_list() -> None:
    built = shipped("stair-wall")
    (variant,) = document(built).document["variants"]
    for told, piece in zip(variant["pieces"], built.pieces, strict=True):
        if piece.role == "molding":
            value = float(told["dimensions"][3]["value"]["mm"].removesuffix(" mm"))
            assert value == pytest.approx(piece_lengths(piece)["overall"], abs=0.051)


def test_nothing_to_show_is_refused() -> None:
    with pytest.raises(ValueError, match="one variant at least"):
        model_document(simple().scene, [])
