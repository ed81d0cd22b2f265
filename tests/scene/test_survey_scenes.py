"""Measured runs in the scene file: what may be off, and what becomes of it."""

from __future__ import annotations

import math
import re

import pytest

from preview.errors import PreviewError
from preview.runs import Corrected, Survey, survey_sentences
from preview.scene import RunInScene
from scene_sample import only_run

MM = 'title = "Pantry"\nunits = "mm"\n'
DEGREE = math.pi / 180
ROOM = """steps = [
  { straight = "13' 1 1/2" }, { inside = 89.8 },
  { straight = "8' 2 3/8" }, { inside = 90.1, within = 0.25 },
  { straight = "4' 11", within = "1/4" }, { inside = 89.7 },
  { straight = "2' 11 1/2" }, { outside = 90.3 },
  { straight = "8' 2 5/8" }, { inside = 89.9 },
  { straight = "5' 2 7/8", within = 0 }, { inside = 90.0 },
]
"""
UNSAID = re.sub(r", within = [^ ]*", "", ROOM)
SQUARE = """steps = [
  { straight = 3004 }, { left = 90 }, { straight = 2000 }, { left = 90 },
  { straight = 3000 }, { left = 90 }, { straight = 2003 }, { left = 90 },
]
"""


def survey_of(placed: RunInScene) -> Survey:
    assert placed.survey is not None
    return placed.survey


def rows_of(placed: RunInScene) -> tuple[Corrected, ...]:
    found = survey_of(placed).adjustment
    assert found is not None
    return found.rows


@pytest.mark.parametrize("room", ["left", "right"])
def test_a_six_sided_room_measured_to_719_2_degrees(room: str) -> None:
    """Inside and outside corners add up to 719.2 degrees in the room; 720 is Euclid's (I.32)."""
    placed = only_run(f'room = "{room}"\nclosed = true\nmeasured = {{ lengths = "1/8", angles = 0.5 }}\n{ROOM}')
    found = survey_of(placed)
    assert found.closure.turn == pytest.approx(0.8 * DEGREE, abs=1e-12)
    assert found.closing == "spread"
    assert found.holds
    run = placed.run
    assert run.closed
    assert math.dist(run.elements[-1].end, run.elements[0].start) < 1e-9
    assert sum(run.turns) == pytest.approx(2 * math.pi * run.hand, abs=1e-9)
    offs = [row.measured.within for row in rows_of(placed)]
    assert offs[::2] == pytest.approx([25.4 / 8 * each for each in (1, 1, 2, 1, 1, 0)])
    assert offs[1::2] == pytest.approx([each * DEGREE for each in (0.5, 0.25, 0.5, 0.5, 0.5, 0.5)])
    assert rows_of(placed)[10].correction == 0.0
    read = [row.measured.as_read(row.adjusted) for row in rows_of(placed) if row.measured.is_angle]
    interior = sum(read) + (360 - 2 * read[3])  # the outside corner is 360 less what it measures, in the room
    assert interior == pytest.approx(720, abs=1e-9)
    for element, row in zip(run.elements, rows_of(placed)[::2], strict=True):
        assert element.length == pytest.approx(row.adjusted, abs=1e-9)


def test_the_same_room_without_uncertainties_is_refused_as_before() -> None:
    with pytest.raises(PreviewError, match=r"measured = \{ angles = 0.5 \}"):
        only_run(f"closed = true\n{UNSAID}")


def test_the_same_room_shown_as_it_is() -> None:
    placed = only_run(f'closed = true\nclosing = "show"\n{UNSAID}')
    found = survey_of(placed)
    assert not found.holds
    assert not placed.run.closed
    assert len(placed.run.elements) == 6
    assert placed.run.turns[0] == 0.0
    x, y = placed.run.elements[-1].end
    assert (x, y) == pytest.approx((found.closure.dx, found.closure.dy), abs=1e-9)
    assert placed.run.elements[0].length == pytest.approx(157.5 * 25.4)


def test_a_closed_run_without_a_word_about_measuring_has_no_survey() -> None:
    exact = SQUARE.replace("3004", "3000").replace("2003", "2000")
    assert only_run(f"closed = true\n{exact}", top=MM).survey is None
    assert only_run("steps = [{ straight = 3004 }]", top=MM).survey is None
    shown = only_run(f'closed = true\nclosing = "show"\n{exact}', top=MM)
    assert survey_of(shown).holds
    assert shown.run.closed


def test_defaults_reach_every_step_and_a_step_overrides_them() -> None:
    placed = only_run(
        """
closed = true
measured = { lengths = 2, angles = 0.4, radii = 1.5 }
steps = [
  { straight = 900.5 }, { curve_left = 90, radius = 50, within = 0.1, radius_within = 0 },
  { straight = 600 }, { curve_left = 90, radius = 50 },
  { straight = 900, within = 0 }, { left = 90, turns = 3, facet = 40 },
  { straight = 650 }, { left = 90, within = 1 },
  { straight = 50 },
]""",
        top=MM,
    )
    offs = {(row.measured.step, row.measured.kind): row.measured.within for row in rows_of(placed)}
    assert offs == {
        (1, "straight"): 2.0,
        (2, "sweep"): pytest.approx(0.1 * DEGREE),
        (2, "radius"): 0.0,
        (3, "straight"): 2.0,
        (4, "sweep"): pytest.approx(0.4 * DEGREE),
        (4, "radius"): 1.5,
        (5, "straight"): 0.0,
        (6, "corner"): pytest.approx(0.4 * DEGREE),
        (7, "straight"): 2.0,
        (8, "corner"): pytest.approx(1 * DEGREE),
        (9, "straight"): 2.0,
    }


def test_an_open_run_that_arrives() -> None:
    placed = only_run(
        """
start = [100, 50]
heading = 90
measured = { lengths = 3, angles = 0.5, arrives = 1 }
arrives = [-1898, 3051]
steps = [{ straight = 3000 }, { left = 90 }, { straight = 1996 }]""",
        top=MM,
    )
    found = survey_of(placed)
    assert (found.closure.dx, found.closure.dy) == pytest.approx((2, -1), abs=1e-9)
    assert found.holds
    ends = [row.adjusted for row in rows_of(placed)[-2:]]
    assert placed.run.elements[-1].end == pytest.approx(ends, abs=1e-9)
    assert placed.run.elements[0].start == (100, 50)
    assert survey_sentences(found, "mm")[0].startswith("As measured, the run misses its point of arrival by 2.2 mm")


def test_an_arrival_without_uncertainties_must_be_met() -> None:
    text = "arrives = [3000, {}]\nsteps = [{{ straight = 3000 }}, {{ left = 90 }}, {{ straight = 2000 }}]"
    placed = only_run(text.format("2000.009"), top=MM)
    assert survey_of(placed).meets
    assert survey_of(placed).holds
    assert placed.run.elements[-1].end == (3000, 2000)
    with pytest.raises(PreviewError, match=r"misses this point by 0\.011 mm"):
        only_run(text.format("2000.011"), top=MM)
    shown = only_run('closing = "show"\n' + text.format("2005"), top=MM)
    assert not survey_of(shown).holds
    assert shown.run.elements[-1].end == (3000, 2000)


@pytest.mark.parametrize("climb", ["pitch = 36.86989764584402", "rise = 600"])
def test_a_rake_may_be_off_along_its_slope(climb: str) -> None:
    """A 3-4-5 rake; 10 mm along it are 8 in plan."""
    placed = only_run(f"arrives = [804, 0]\nsteps = [{{ rake = 1000, {climb}, within = 10 }}]", top=MM)
    row = rows_of(placed)[0]
    assert row.measured.within == pytest.approx(8)
    assert (row.measured.as_read(row.measured.value), row.measured.as_read(row.adjusted)) == pytest.approx((1000, 1005))
    assert placed.run.elements[0].slope == pytest.approx(0.75)


def test_a_miss_that_is_not_credible_is_laid_out_and_fails() -> None:
    placed = only_run(f"closed = true\nmeasured = {{ lengths = 0.5 }}\n{SQUARE}", top=MM)
    assert placed.run.closed
    assert not survey_of(placed).holds
    assert [each.value <= each.limit for each in survey_of(placed).figures] == [False, False]


def test_what_the_spreading_makes_of_a_corner_is_told_at_its_step() -> None:
    """149.9 degrees become more than a miter can serve."""
    steps = "{ straight = 1000 }, { left = 149.9 }, { straight = 1732 }, { left = 149.9 }, { straight = 1000 }"
    with pytest.raises(PreviewError) as caught:
        only_run(
            f"closed = true\nmeasured = {{ lengths = 500, angles = 1 }}\nsteps = [{steps}, {{ left = 59 }}]", top=MM
        )
    assert [(each.place, each.value) for each in caught.value.problems] == [
        ('run "north wall", step 2, left', "149.9"),
        ('run "north wall", step 4, left', "149.9"),
    ]
