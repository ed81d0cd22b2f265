"""Backs that begin above the foot or are relieved already, and the least that a relief and a bevel may take."""

from __future__ import annotations

import math

import pytest

from faced_pieces import polygon
from preview.errors import PreviewError
from preview.profiles import Profile, back_bevel, back_relief, measure, projection_at
from samples import block


def lipped() -> Profile:
    """A board 30 thick and 50 high whose lowest 20 mm hang down in front: its back is 30 high, from 20 to 50."""
    return polygon((10, 0), (30, 0), (30, 50), (0, 50), (0, 20), (10, 20))


def problem(error: pytest.ExceptionInfo[PreviewError]) -> tuple[str, str, str]:
    (found,) = error.value.problems
    return found.place, found.problem, found.fix


def test_strips_are_measured_on_the_back_not_on_the_profile() -> None:
    assert measure(back_relief(lipped(), 3.0, 14.0)).area == pytest.approx(1300.0 - 3.0 * 2.0, rel=1e-12)
    with pytest.raises(PreviewError) as refused:
        back_relief(lipped(), 3.0, 16.0)
    assert problem(refused) == (
        "margin",
        "the back is 30 mm high, and two strips of 16 mm leave nothing to relieve",
        "use a margin of less than 15 mm",
    )


def test_the_strip_of_a_bevel_is_measured_on_the_back() -> None:
    """Of 30 mm of back 29 may stay: then the plane starts 1 mm above the lip's shoulder."""
    slope = math.tan(math.radians(30))
    left = back_bevel(lipped(), math.radians(30), 29.0)
    wood_lost = slope * 1.0 / 2 + (slope * 21.0 - 10.0) * (21.0 - 10.0 / slope) / 2
    assert measure(left).area == pytest.approx(1300.0 - wood_lost, rel=1e-12)
    for strip in (30.0, 35.0, 50.0):
        with pytest.raises(PreviewError) as refused:
            back_bevel(lipped(), math.radians(30), strip)
        assert problem(refused) == (
            "strip",
            f"the back is 30 mm high, and a strip of {strip:g} mm is to stay on the wall",
            "give a strip of at least 1 mm and less than 30 mm",
        )


def test_a_hollow_that_is_there_already_goes_with_the_rest() -> None:
    """Between strips of 5 mm the back is relieved to 3 mm, the first relief of 2 mm between strips of 12 included."""
    once = back_relief(block(20.0, 40.0), 2.0, 12.0)
    twice = back_relief(once, 3.0, 5.0)
    assert measure(twice).area == pytest.approx(800.0 - 3.0 * 30.0, rel=1e-12)
    assert [projection_at(twice, h)[0] for h in (4.9, 5.1, 20.0, 34.9, 35.1)] == [0.0, 3.0, 3.0, 3.0, 0.0]
    beveled = back_bevel(once, math.radians(10), 6.0)
    assert projection_at(beveled, 1.0)[0] == pytest.approx(33.0 * math.tan(math.radians(10)))
    assert projection_at(beveled, 34.5)[0] == 0.0


def test_a_strip_of_just_one_millimeter_bears() -> None:
    assert measure(back_relief(block(20.0, 40.0), 3.0, 1.0)).area == pytest.approx(800.0 - 3.0 * 38.0, rel=1e-12)
    lost = 39.0**2 * math.tan(math.radians(3)) / 2
    assert measure(back_bevel(block(20.0, 40.0), math.radians(3), 1.0)).area == pytest.approx(800.0 - lost, rel=1e-12)


def test_however_little_is_more_than_nothing() -> None:
    """A twentieth of a degree, and half a micrometer."""
    angle = math.radians(0.05)
    lost = 35.0**2 * math.tan(angle) / 2
    assert measure(back_bevel(block(20.0, 40.0), angle, 5.0)).area == pytest.approx(800.0 - lost, rel=1e-12)
    assert measure(back_relief(block(20.0, 40.0), 5e-4, 5.0)).area == pytest.approx(800.0 - 5e-4 * 30.0, rel=1e-12)


@pytest.mark.parametrize(("length", "said"), [(math.nan, "nan"), (math.inf, "inf"), (0.0, "0 mm"), (-2.0, "-2 mm")])
def test_what_is_no_size(length: float, said: str) -> None:
    for key, made in (
        ("depth", lambda: back_relief(block(), length, 5.0)),
        ("margin", lambda: back_relief(block(), 3.0, length)),
        ("strip", lambda: back_bevel(block(), 0.05, length)),
    ):
        with pytest.raises(PreviewError) as refused:
            made()
        assert problem(refused) == (key, f"the {key} is {said}", f"give a {key} above 0, or leave the whole out")
