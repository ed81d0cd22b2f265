"""A section that is to be sprung lies flat on its back: how much of it does is measured from where the back begins."""

from __future__ import annotations

import math

import pytest

from faced_pieces import polygon
from preview.errors import PreviewError
from preview.profiles import sprung


def test_a_short_back_far_up_is_a_short_back() -> None:
    """20 mm of 100, between heights of 60 and 80."""
    profile = polygon((10, 0), (20, 0), (20, 100), (10, 100), (0, 80), (0, 60))
    with pytest.raises(PreviewError, match="only 20 mm of the 100 mm of this one does"):
        sprung(profile, math.radians(38))


@pytest.mark.parametrize(
    ("spring", "said"), [(12.0, "12°"), (19.99, "19.99°"), (70.01, "70.01°"), (-38.0, "-38°"), (math.nan, "nan")]
)
def test_an_angle_that_no_sprung_molding_has(spring: float, said: str) -> None:
    profile = polygon((0, 0), (20, 0), (20, 100), (0, 100))
    with pytest.raises(PreviewError) as caught:
        sprung(profile, math.radians(spring))
    assert f"the back would stand at {said} to the wall, and a sprung molding stands at 20° to 70°" in str(caught.value)


@pytest.mark.parametrize("spring", [20.0, 70.0])
def test_the_least_and_the_greatest_angle(spring: float) -> None:
    assert sprung(polygon((0, 0), (20, 0), (20, 100), (0, 100)), math.radians(spring)).profile


def test_flats_as_wide_as_the_molding_is_thick_are_the_most() -> None:
    """20 mm of 20: what does not fit then is told of the edge, not of the thickness."""
    profile = polygon((0, 0), (20, 0), (20, 100), (0, 100))
    told = "the flats on the wall and on the ceiling are {} mm, and the molding is 20 mm thick"
    for flats, refused in ((20.0, False), (20.5, True)):
        try:
            sprung(profile, math.radians(38), flats=flats)
            said = ""
        except PreviewError as error:
            said = str(error)
        assert (told.format(f"{flats:g}") in said) is refused
