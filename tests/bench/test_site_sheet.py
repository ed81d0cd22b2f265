"""The site sheet: the order with its reasons, what to mind at the joints, and what is too short to be held."""

from __future__ import annotations

from typing import get_args

from bench_jobs import HEAD, job_of, shipped, small, tags_of
from preview.bench.site import AT_JOINTS, CAUTIONS, joint_notes, reasons, short_pieces, steps
from preview.cutlist import REASONS
from preview.joinery import JointKind

SQUARE_ROOM = """
[[run]]
name = "room"
members = ["strip"]
room = "left"
start = [0, 0]
heading = 0
closed = true
steps = [{sides}]
"""


def test_the_small_room_goes_up_along_the_wall_with_its_return_on() -> None:
    job = small()
    assert steps(job, tags_of(job)) == [
        ("1.", "1", "wall / strip / 1 straight", ""),
        ("2.", "2", "wall / strip / 2 straight", ""),
        ("3.", "3 and 4", "wall / strip / 3 straight and wall / strip / end return", "glued up on the bench"),
    ]
    assert reasons(job) == [f"Return: {REASONS['return']}."]
    # Two corners, and the one with the return.
    (note,) = joint_notes(job)
    assert note.startswith("Miter: dry-fit both pieces")
    assert note.endswith("(3 places)")
    assert short_pieces(job, tags_of(job)).startswith("Piece 4 is shorter than 300 mm (12 in): cut it off a longer one")


def test_curves_stand_before_the_straights_that_are_fitted_to_them() -> None:
    job = shipped("window-seat")
    told = steps(job, tags_of(job))
    assert told[:3] == [
        ("1.", "2", "seat / base / 2 curve", ""),
        ("2.", "1", "seat / base / 1 straight", "2 (curve)"),
        ("3.", "3", "seat / base / 3 straight", "2 (curve)"),
    ]
    # Then six of which nothing else is to be said are one row, and the count goes on behind them.
    assert told[3] == ("4 to 9.", "4, 5, 6, 7, 8 and 10", "seat / base, one after the other", "")
    assert [row[0] for row in told[4:]] == ["10.", "11."]
    assert [row[3] for row in told[4:]] == ["10 (curve)", "10 (curve)"]
    assert short_pieces(job, tags_of(job)).startswith("Pieces 3, 5, 7 and 9 are shorter than 300 mm (12 in)")


def test_each_thing_that_a_piece_is_fitted_to_is_named() -> None:
    job = shipped("hall")
    by_piece = {row[1]: row for row in steps(job, tags_of(job))}
    assert by_piece["2"][3] == "1 (cope); 3 (scarf)"
    assert by_piece["6"][3] == "7 (block)"
    assert by_piece["8 and 9"][3] == "glued up on the bench; 7 (block)"
    assert [line.split(":")[0] for line in reasons(job)] == ["Block", "Cope", "Scarf", "Return"]


def test_copes_all_round_a_room_leave_the_first_piece_loose() -> None:
    side = '{ straight = 900 }, { left = 90, joint = "cope", coped = "after" }'
    job = job_of(HEAD + SQUARE_ROOM.format(sides=", ".join([side] * 4)))
    told = [(row[1], row[3]) for row in steps(job, tags_of(job))]
    assert told[0] == ("1", "leave it loose at 4 until that is in (cope)")
    assert told[1:] == [("2", "1 (cope)"), ("3", "2 (cope)"), ("4", "3 (cope)")]
    assert [line[:9] for line in joint_notes(job)] == ["End that ", "Cope: set"]
    assert all(line.endswith("(4 places)") for line in joint_notes(job))


def test_every_piece_goes_up_once() -> None:
    for name in ("cornice", "door-casing", "stair-wall", "stair-hall"):
        job = shipped(name)
        numbers = [number for row in steps(job, tags_of(job)) for number in row[1].replace(" and ", ", ").split(", ")]
        assert sorted(numbers, key=int) == sorted(tags_of(job).values(), key=int)


def test_what_is_said_of_joints_is_of_joints_there_are() -> None:
    assert AT_JOINTS.keys() <= set(get_args(JointKind))


def test_cautions_have_their_sources_and_defer() -> None:
    assert all(each.words.endswith(".") and each.source for each in CAUTIONS)
    assert "local codes and licensed practice come first" in CAUTIONS[0].words
    assert any("blade" in each.words and "HSE" in each.source for each in CAUTIONS)
