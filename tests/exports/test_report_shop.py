"""What report.json says for the shop and the site: the same as the shop's own functions, and as worked out by hand."""

from __future__ import annotations

import cmath
import json
import math
from dataclasses import replace
from typing import Any, Literal

import numpy as np
import pytest

from preview.exports import report_json
from preview.joinery import Piece
from preview.runs import survey_sentences
from preview.shop import end_settings, spring_of
from shop_jobs import STAIR, reported, shipped, written

Entry = dict[str, Any]
SCENES = ["six-sided-room", "stair-wall", "door-casing", "hall"]
# The room as it stands in the scene: inches, and degrees between the walls.
LENGTHS = (62 + 5 / 16, 61 + 11 / 16, 62 + 5 / 8, 62 + 5 / 16, 62 + 1 / 16, 61.75)
CORNERS = (119.5, 120.5, 119.0, 120.0, 120.0, 120.5)


def document(name: str) -> Entry:
    found: Entry = json.loads(report_json(reported(shipped(name))))
    return found


def pieces_of(name: str) -> list[tuple[Piece, Entry]]:
    return list(zip(shipped(name)[0].pieces, document(name)["pieces"], strict=True))


# Pieces.


@pytest.mark.parametrize("name", SCENES)
def test_every_end_has_the_shop_s_settings(name: str) -> None:
    ends: tuple[Literal["begin", "end"], ...] = ("begin", "end")
    told = 0
    for piece, entry in pieces_of(name):
        assert set(entry["saw"]) == {"begin", "end"}
        for end in ends:
            found, saw = end_settings(piece, end), entry["saw"][end]
            assert (saw is None) == (found is None)
            if found is None:
                continue
            told += 1
            assert set(saw) == {"at", "corner_deg", "setups", "cautions"}
            assert saw["at"] == found.at
            assert saw["cautions"] == list(found.cautions)
            assert (saw["corner_deg"] is None) == (found.corner is None)
            if found.corner is not None:
                assert saw["corner_deg"] == pytest.approx(math.degrees(found.corner), abs=1e-9)
            assert len(saw["setups"]) == len(found.setups)
            for setup, lie in zip(saw["setups"], found.setups, strict=True):
                assert setup["lies"] == lie.posture
                assert setup["miter_deg"] == pytest.approx(abs(math.degrees(lie.setting.miter)), abs=1e-9)
                assert setup["bevel_deg"] == pytest.approx(abs(math.degrees(lie.setting.bevel)), abs=1e-9)
                assert (setup["swing"], setup["tilt"]) == (lie.setting.swing, lie.setting.tilt)
                assert (setup["keep"], setup["words"]) == (lie.keep, lie.words)
                assert 0.0 <= setup["miter_deg"] < 90.0
    assert told


def test_no_one_straight_cut_makes_a_self_return_an_easement_a_curve_or_a_block() -> None:
    hall = {piece.name: entry for piece, entry in pieces_of("hall")}
    coped = hall["hall / base / 2 straight"]["saw"]
    assert all(setup["words"].startswith("Cope: first miter it") for setup in coped["begin"]["setups"])
    assert coped["end"] is not None  # scarfed
    assert hall["hall / base / 1 straight"]["saw"]["begin"] is None  # returned on itself
    assert hall["hall / corner / 7 corner block"]["saw"] == {"begin": None, "end": None}
    stair = {piece.name: entry for piece, entry in pieces_of("stair-wall")}
    assert stair["rail / rail / 3 easement"]["saw"] == {"begin": None, "end": None}


def test_a_crown_flat_on_its_back_is_set_by_the_compound_miter_s_formula() -> None:
    """tan(miter) = sin(spring) / tan(corner / 2), sin(bevel) = cos(spring) cos(corner / 2), spring from the wall: the
    formula behind the charts printed in compound miter saws' manuals. Held upside down it is half the turn."""
    for piece, entry in pieces_of("six-sided-room"):
        spring = spring_of(piece.profile)
        assert spring is not None
        for end in ("begin", "end"):
            saw = entry["saw"][end]
            half = math.radians(saw["corner_deg"]) / 2
            setups = {setup["lies"]: setup for setup in saw["setups"]}
            assert setups["in position"]["miter_deg"] == pytest.approx(90.0 - math.degrees(half), abs=1e-9)
            assert setups["in position"]["bevel_deg"] == pytest.approx(0.0, abs=1e-9)
            flat = setups["flat"]
            assert math.tan(math.radians(flat["miter_deg"])) == pytest.approx(
                math.sin(spring) / math.tan(half), abs=1e-9
            )
            assert math.sin(math.radians(flat["bevel_deg"])) == pytest.approx(
                math.cos(spring) * math.cos(half), abs=1e-9
            )


def test_pitches_are_those_of_the_slopes() -> None:
    found = {piece.name: entry["pitch_deg"] for piece, entry in pieces_of("stair-wall")}
    stair = math.degrees(math.atan2(56, 84))
    assert found["rail / rail / 4 straight"] == pytest.approx(stair, abs=1e-9)
    assert found["rail / rail / 2 straight"] == found["cornice / cornice / end return"] == 0.0
    assert {entry["pitch_deg"] for _, entry in pieces_of("hall")} == {0.0}
    down = json.loads(report_json(reported(written(STAIR.replace("rise = 900", "rise = -900")))))
    assert down["pieces"][1]["pitch_deg"] == pytest.approx(-math.degrees(math.atan(0.75)), abs=1e-9)


def test_a_rake_s_length_is_measured_along_the_slope() -> None:
    """132 in along the slope, as the scene has it; a plumb section reaches (h range) sin t further up at its top."""
    entry = {p.name: e for p, e in pieces_of("stair-wall")}["cornice / cornice / 2 straight"]
    lengths = entry["length_mm"]
    assert lengths["back"] == pytest.approx(132 * 25.4, abs=1e-6)
    # An inside corner at its foot takes d from its face, and the return at its top gives d back.
    assert lengths["longest"] == pytest.approx(132 * 25.4, abs=1e-6)
    assert lengths["overall"] > lengths["longest"]


def test_a_returned_end_is_as_long_as_the_profile_stands_out() -> None:
    """Both returns of the rail, the level one and the one beyond the easements: 1 3/16 in, as the profile projects."""
    returns = [e["length_mm"] for p, e in pieces_of("stair-wall") if p.kind == "return" and p.member == "rail"]
    assert [lengths["longest"] for lengths in returns] == pytest.approx([1.1875 * 25.4] * 2, abs=1e-3)
    assert [lengths["back"] for lengths in returns] == [0.0, 0.0]


# Joints.


def test_joints_name_their_drawings_only_where_some_were_made() -> None:
    built, inspection = shipped("hall")
    plain = document("hall")["joints"]
    assert {joint["drawing"] for joint in plain} == {None}
    report = reported((built, inspection))
    named = ["" if number % 2 else f"joints/{number}.svg" for number in range(len(built.joints))]
    told = json.loads(report_json(replace(report, joint_files=named)))["joints"]
    assert [joint["drawing"] for joint in told] == [name or None for name in named]


def test_figures_that_a_joint_has_not_are_null() -> None:
    joints = {joint["kind"]: joint for joint in document("hall")["joints"]}
    assert (joints["cope"]["step_mm"], joints["cope"]["angle_deg"]) == (None, None)
    assert joints["cope"]["gap_mm"] == pytest.approx(0.0, abs=1e-3)
    assert joints["block"]["angle_deg"] is None
    assert joints["block"]["step_mm"] == pytest.approx(0.0, abs=1e-3)
    assert joints["miter"]["angle_deg"] == pytest.approx(0.0, abs=1e-3)
    assert {"cope", "scarf", "miter", "block", "self-return", "square end"} == set(joints)


def test_a_missing_body_at_a_joint_is_null_not_infinite() -> None:
    run = '[[run]]\nname = "open"\nend = "butt"\nsteps = [{ straight = 500 }]\n'
    told = json.loads(report_json(reported(written(run))))
    (butt,) = (joint for joint in told["joints"] if joint["kind"] == "butt end")
    assert butt["gap_mm"] is None
    gap = next(entry for entry in told["checks"] if entry["code"] == "gap")
    assert (gap["failed"], gap["failures"][0]["detail"]) == (1, "nothing stands there")
    assert told["holds"] is False


# Forecasts.


def test_forecasts_are_the_shop_s() -> None:
    built, _ = shipped("six-sided-room")
    told = document("six-sided-room")["forecasts"]
    assert len(told) == len(built.forecasts) == 6
    for entry, found in zip(told, built.forecasts, strict=True):
        assert entry["joint"] == found.joint
        assert (entry["worst_mm"], entry["likely_mm"]) == (found.worst, found.likely)
        assert (entry["grade"], entry["holds"], entry["limit_from"]) == (found.grade, found.holds, found.source)
        assert entry["sentence"] == found.line
        assert [o["source"] for o in entry["openings"]] == [o.source for o in found.openings]
        # All at once at one end is the sum of what each does there; as chance mixes them, the root of the squares.
        ends = [[o[f"{end}_mm"] for o in entry["openings"]] for end in ("heel", "toe")]
        assert any(entry["likely_mm"] == pytest.approx(math.hypot(*values), rel=1e-9) for values in ends)
        assert entry["likely_mm"] <= entry["worst_mm"] + 1e-12
        assert {o["opens"] for o in entry["openings"]} <= {"heel", "toe", "either", "both"}
    assert document("hall")["forecasts"] == []


# Surveys.


def walked(lengths: tuple[float, ...] | list[float], corners: tuple[float, ...] | list[float]) -> complex:
    """Where the walk ends, inches, from 0 along +x: by complex numbers."""
    at, way = 0j, 1 + 0j
    for length, corner in zip(lengths, corners, strict=True):
        at += length * way
        way *= cmath.exp(1j * math.radians(180 - corner))
    return at


def test_the_survey_says_what_the_room_misses_by() -> None:
    (told,) = document("six-sided-room")["surveys"]
    assert (told["run"], told["closing"], told["closed"], told["holds"]) == ("tea room", "spread", True, True)
    missed, end = told["missed"], walked(LENGTHS, CORNERS) * 25.4
    assert missed["dx_mm"] == pytest.approx(end.real, abs=1e-9)
    assert missed["dy_mm"] == pytest.approx(end.imag, abs=1e-9)
    assert missed["distance_mm"] == pytest.approx(abs(end), abs=1e-9)
    assert missed["direction_deg"] == pytest.approx(math.degrees(cmath.phase(end)), abs=1e-6)
    assert missed["length_mm"] == pytest.approx(sum(LENGTHS) * 25.4, abs=1e-9)
    assert missed["one_in"] == pytest.approx(sum(LENGTHS) * 25.4 / abs(end), rel=1e-9)
    # A hexagon's corners make 720 degrees (Euclid I.32), and these 719.5: the walk turns half a degree too far.
    assert missed["turn_deg"] == pytest.approx(720.0 - sum(CORNERS), abs=1e-9)


def test_the_survey_lists_every_change_and_the_room_then_closes() -> None:
    (told,) = document("six-sided-room")["surveys"]
    rows = told["measurements"]
    lengths = [row for row in rows if row["kind"] == "straight"]
    corners = [row for row in rows if row["kind"] == "corner"]
    assert [row["measured"] for row in lengths] == pytest.approx([value * 25.4 for value in LENGTHS], abs=1e-9)
    assert [row["measured"] for row in corners] == pytest.approx(list(CORNERS), abs=1e-9)
    assert [row["unit"] for row in lengths + corners] == ["mm"] * 6 + ["°"] * 6
    assert [row["within"] for row in lengths] == pytest.approx([25.4 / 8] * 5 + [25.4 / 4])
    assert [row["within"] for row in corners] == pytest.approx([0.5] * 6)
    for row in rows:
        assert row["change"] == pytest.approx(row["adjusted"] - row["measured"], abs=1e-9)
        assert row["times"] == pytest.approx(abs(row["change"]) / row["within"], rel=1e-6)
        assert row["times"] <= 1.0
        assert 0.0 <= row["share"] <= 1.0
    assert sum(row["share"] for row in rows) == pytest.approx(told["checks"], abs=1e-9)
    assert told["checks"] == 3
    assert sum(row["adjusted"] for row in corners) == pytest.approx(720.0, abs=1e-9)
    closed = walked([row["adjusted"] for row in lengths], [row["adjusted"] for row in corners])
    assert abs(closed) < 1e-6
    # The overall figure sums the squares of the changes over their standard deviations, half of what each may be off.
    assert told["overall"] == pytest.approx(sum((2 * row["times"]) ** 2 for row in rows), rel=1e-6)
    assert told["overall"] <= told["overall_limit"] == pytest.approx(11.345, abs=5e-4)
    assert told["credible"] is True
    assert told["suspects"] == []


def test_the_survey_s_sentences_are_the_run_s() -> None:
    built, _ = shipped("six-sided-room")
    survey = built.scene.runs[0].survey
    assert survey is not None
    (told,) = document("six-sided-room")["surveys"]
    assert told["sentences"] == survey_sentences(survey, "in")
    assert len(told["sentences"]) >= 3
    assert document("hall")["surveys"] == []


def test_a_survey_that_is_shown_has_no_adjustment_where_nothing_may_be_off() -> None:
    run = """
[[run]]
name = "room"
closed = true
closing = "show"
steps = [
  { straight = 4006 }, { inside = 90 }, { straight = 3000 }, { inside = 90 },
  { straight = 4000 }, { inside = 90 }, { straight = 3000 }, { inside = 90 },
]
"""
    (told,) = json.loads(report_json(reported(written(run))))["surveys"]
    assert told["holds"] is False
    assert told["missed"]["distance_mm"] == pytest.approx(6.0, abs=1e-9)
    assert (told["overall"], told["overall_limit"], told["credible"], told["measurements"]) == (None, None, None, [])


# Raked profiles, and the whole.


def test_raked_profiles_are_told_though_no_file_is_written() -> None:
    told = json.loads(report_json(reported(written(STAIR))))["raked_profiles"]
    assert [entry["files"] for entry in told] == [[], []]
    assert [entry["shear"] for entry in told] == pytest.approx([0.75, 1.5], abs=1e-12)
    assert [entry["pitch_deg"] for entry in told] == pytest.approx([math.degrees(math.atan(0.75)), 0.0], abs=1e-9)
    assert document("hall")["raked_profiles"] == []


@pytest.mark.parametrize("name", SCENES)
def test_the_report_is_plain_json_with_every_key(name: str) -> None:
    told = document(name)
    assert {"pieces", "joints", "forecasts", "surveys", "raked_profiles", "checks", "files"} <= set(told)
    for piece in told["pieces"]:
        assert {"saw", "pitch_deg", "length_mm", "kind"} <= set(piece)
    for joint in told["joints"]:
        assert {"drawing", "gap_mm", "step_mm", "angle_deg"} <= set(joint)
    assert np.isfinite([piece["volume_mm3"]["mesh"] for piece in told["pieces"]]).all()
