"""A survey told in words: the miss, what was done, whether to believe it, and what to measure again."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest

from preview.runs import (
    Arrival,
    Closing,
    Corner,
    Easement,
    Reading,
    Step,
    Straight,
    Survey,
    lay_out,
    survey_rows,
    survey_run,
    survey_sentences,
)
from survey_samples import read, room, sixsided

DEGREE = math.pi / 180
GOOD = room((3004, 90), (2000, 90), (3000, 90), (2003, 90))
BAD = room((3060, 90), (2000, 90), (3000, 90), (2000, 90))


def surveyed(
    steps: Sequence[Step],
    off: tuple[float, float],
    closing: Closing = "spread",
    arrives: Arrival | None = None,
) -> Survey:
    return survey_run(steps, read(steps, *off), closing=closing, arrives=arrives)[1]


def test_a_miss_that_is_spread_and_believed() -> None:
    assert survey_sentences(surveyed(GOOD, (4.0, 0.0)), "mm") == [
        "As measured, the run misses its start by 5 mm, 1 part in 2,001 of the way walked.",
        (
            "The miss is spread over 4 measurements by least squares, by what each may be off; compared "
            "with that, most changes at step 1: the straight 2 mm shorter, 0.5 times what it may be off."
        ),
        (
            "The measurements bear each other out: none has to change by more than it may be off, and the overall "
            "figure is 3.13, which good measurements keep under 9.21 99 times in 100."
        ),
    ]


def test_a_miss_that_is_not_believed() -> None:
    found = surveyed(BAD, (3.0, 0.0))
    assert survey_sentences(found, "mm") == [
        "As measured, the run misses its start by 60 mm, 1 part in 168 of the way walked.",
        (
            "The miss is spread over 4 measurements by least squares, by what each may be off; compared "
            "with that, most changes at step 1: the straight 30 mm shorter, 10 times what it may be off."
        ),
        (
            "The measurements do not bear each other out: step 1 has to change by 10 times what it may be off, and the "
            "overall figure is 800, which good measurements keep under 9.21 99 times in 100."
        ),
        (
            "Measure again first: step 1, where the straight alone would have to be 60 mm shorter, 20 times what it "
            "may be off, or step 5, where the straight alone would have to be 60 mm longer, 20 times what it may be "
            "off."
        ),
    ]
    assert not found.holds
    assert [(each.code, each.value <= each.limit) for each in found.figures] == [
        ("survey-change", False),
        ("survey-overall", False),
    ]


def test_angles_are_told_as_they_were_read() -> None:
    """Six walls measured to 719.2 degrees between them turn 0.8 degrees too far."""
    steps = sixsided()
    readings = [Reading(3.0) if i % 2 == 0 else Reading(0.5 * DEGREE, between_walls=i != 7) for i in range(12)]
    found = survey_run(steps, readings)[1]
    assert found.closure.turn == pytest.approx(0.8 * DEGREE)
    told = survey_sentences(found, "in")
    assert told[0].endswith("; its corners and curves turn 0.8° more than one whole turn.")
    rows = {row[0]: row for row in survey_rows(found, "in")}
    assert [rows[f"step {i}"][2] for i in (2, 4, 8, 12)] == ["89.8°", "90.1°", "89.7°", "90°"]
    assert rows["step 8"][1] == "corner"
    assert [rows[f"step {i}"][3] for i in (1, 2)] == ['about 1/8"', "0.5°"]
    # The interior angles become wider, and the turns less, by 0.8 degrees in all.
    changes = {place: row[5] for place, row in rows.items()}
    assert all(changes[f"step {i}"].endswith("° more") for i in (2, 4, 6, 10, 12))
    assert changes["step 8"].endswith("° more")  # read as a turn to the right of 89.7 degrees


@pytest.mark.parametrize("closing", ["spread", "show"])
def test_what_closes_says_so(closing: Closing) -> None:
    steps = room((3000, 90), (2000, 90), (3000, 90), (2000, 90))
    found = surveyed(steps, (3.0, 0.5), closing)
    assert found.holds
    assert found.laid_closed
    assert survey_sentences(found, "mm") == [
        "As measured, the run closes.",
        "Nothing had to be changed." if closing == "spread" else "It is laid out as measured.",
        (
            "The measurements bear each other out: none has to change by more than it may be off, and the overall "
            "figure is 0, which good measurements keep under 11.35 99 times in 100."
        ),
    ]
    assert {row[5:] for row in survey_rows(found, "mm")} == {("0", "0.00")}


def test_a_gap_that_is_shown() -> None:
    """Nothing is forced: the run is laid out as measured, open, without its last corner."""
    laid, found = survey_run(GOOD, [Reading()] * 8, closing="show")
    assert laid == GOOD[:-1]
    assert (found.closed, found.laid_closed, found.holds, found.adjustment) == (True, False, False, None)
    assert survey_sentences(found, "mm") == [
        "As measured, the run misses its start by 5 mm, 1 part in 2,001 of the way walked.",
        (
            "It is laid out as measured: its end lies 4 mm toward +x and 3 mm toward -y of where it should be, and no "
            "joint is made between its last piece and its first."
        ),
    ]
    assert [(each.code, each.value, each.limit, each.unit) for each in found.figures] == [
        ("survey-gap", pytest.approx(5.0), 0.01, "mm"),
        ("survey-turn", 0.0, pytest.approx(math.degrees(1e-6)), "°"),
    ]
    assert survey_rows(found, "mm") == []
    run = lay_out("room", laid, ends_may_cross=True)
    assert not run.closed
    assert run.elements[-1].end == pytest.approx((4.0, -3.0), abs=1e-9)


def test_a_turn_that_is_shown() -> None:
    """A run can come back to its start and not turn as it must: that is told, and fails, as well."""
    steps = room((3000, 90), (2000, 90), (3000, 90), (2000, 89))
    laid, found = survey_run(steps, read(steps, 3.0, 0.0), closing="show")
    assert laid == steps[:-1]
    assert found.adjustment is None  # nothing that may be off could take it up
    assert [each.value <= each.limit for each in found.figures] == [True, False]
    assert survey_sentences(found, "mm")[0] == (
        "As measured, the run ends at its start; its corners and curves turn 1° less than one whole turn."
    )


def test_ends_that_cross_when_they_are_shown() -> None:
    """The last wall runs past the first: allowed where a gap is shown, and nowhere else."""
    steps = room((3000, 90), (2000, 90), (2990, 90), (2010, 90))
    laid, found = survey_run(steps, read(steps), closing="show")
    assert not found.laid_closed
    assert lay_out("room", laid, ends_may_cross=True).elements[-1].end == pytest.approx((10, -10), abs=1e-9)
    with pytest.raises(Exception, match="crosses itself"):
        lay_out("room", laid)


def test_an_arrival() -> None:
    steps: list[Step] = [Straight(3000.0), Corner(90 * DEGREE), Straight(2000.0)]
    found = surveyed(steps, (3.0, 0.5), arrives=Arrival((3002.0, 2000.0), 1.0))
    assert survey_sentences(found, "mm")[0] == (
        "As measured, the run misses its point of arrival by 2 mm, 1 part in 2,500 of the way walked."
    )
    assert [row[:2] for row in survey_rows(found, "mm")][-2:] == [
        ("arrives", "x of the point of arrival"),
        ("arrives", "y of the point of arrival"),
    ]
    shown = surveyed(steps, (0.0, 0.0), "show", Arrival((3002.0, 2000.0)))
    assert survey_sentences(shown, "mm")[1] == (
        "It is laid out as measured: its end lies 2 mm toward -x of where it should be."
    )
    assert [each.code for each in shown.figures] == ["survey-gap"]
    assert not shown.holds


def test_a_rake_is_told_along_its_slope() -> None:
    """A 3-4-5 rake of 1000 mm is 800 mm in plan; 4 mm too long in plan is 5 mm along it."""
    steps: list[Step] = [Straight(800.0, 0.75)]
    laid, found = survey_run(steps, [Reading(10.0, along_slope=True)], arrives=Arrival((804.0, 0.0)))
    assert laid == [Straight(pytest.approx(804.0), 0.75)]
    assert survey_rows(found, "mm") == [("step 1", "straight", "1000 mm", "10 mm", "1005 mm", "5 mm longer", "0.50")]


def test_what_joins_the_last_to_the_first_is_left_out_with_the_gap() -> None:
    around = room((3000, 90), (2000, 90), (3000, 90), (2000, 90))[:-1]
    steps: list[Step] = [Straight(1503.0), *around[1:], Corner(90 * DEGREE), Straight(1500.0), Easement(40.0)]
    steps[0] = Straight(1503.0, 0.1)
    laid, found = survey_run(steps, [Reading()] * len(steps), closing="show")
    assert laid == steps[:-1]
    assert not found.laid_closed


def test_one_change_too_many_is_told_though_the_whole_is_good() -> None:
    steps = room((3003.5, 90), (2000, 90), (3000, 90), (2000, 90))
    found = survey_run(steps, [Reading(3.0 if i == 0 else 0.0) for i in range(8)])[1]
    assert survey_sentences(found, "mm")[1:3] == [
        (
            "The miss is spread over one measurement by least squares, by what each may be off; compared "
            "with that, most changes at step 1: the straight 3.5 mm shorter, 1.2 times what it may be off."
        ),
        (
            "The measurements do not bear each other out: step 1 has to change by 1.2 times what it may be off, though "
            "the overall figure is 5.44, which good measurements keep under 6.635 99 times in 100."
        ),
    ]


def test_what_a_survey_is_asked() -> None:
    """A closed run comes back, an open one arrives; an angle is only asked about where one is left to check."""
    closed = survey_run(GOOD, [Reading()] * 8, closing="show")[1]
    assert [each.question for each in closed.figures] == [
        "the run as measured comes back to its start",
        "its corners and curves make one whole turn",
    ]
    arriving = survey_run([Straight(900.0)], [Reading(1.0)], closing="show", arrives=Arrival((900.0, 0.0)))[1]
    assert [each.question for each in arriving.figures] == ["the run as measured arrives"]
    spread = surveyed(GOOD, (4.0, 0.0))
    assert [each.question for each in spread.figures] == [
        "no measurement is changed by more than it may be off",
        "the measurements agree as well as they should",
    ]


def test_four_suspects_are_named_and_the_others_counted() -> None:
    """Of a hexagon with one miss along a pair of walls, none of those that run that way can be told from another.

    Steps along x alone: each could have the whole miss.
    """
    for count, more in ((2, ""), (3, ", or 2 more that cannot be told from these")):
        there = [Straight(1000.0)] * count
        steps: list[Step] = [*there, Corner(math.pi / 2), Straight(500.0), Corner(math.pi / 2), *there]
        steps += [Corner(math.pi / 2), Straight(500.0), Corner(math.pi / 2)]
        steps[0] = Straight(1060.0)
        readings = [Reading(3.0) if isinstance(step, Straight) else Reading(0.0) for step in steps]
        sentences = survey_sentences(survey_run(steps, readings)[1], "mm")
        (last,) = (sentence for sentence in sentences if sentence.startswith("Measure again first: "))
        assert last.count("alone would have to be") == 4
        assert last.endswith(f"times what it may be off{more}.")
