"""The [site] of a scene: what is read, in mm, radians, °C and percent."""

from __future__ import annotations

import math

import pytest

from preview.scene import Air, Moisture, Site
from preview.scene.site import KEYS
from scene_sample import scene

WHOLE = """
[site]
saw = 0.5
wall = "1/2"
radius = "1/16"
wood = "red oak"
cut = "quarter"
made_at = { temperature = "70 F", humidity = 45 }
lives_at = { moisture = 8 }
grade = "custom"
"""


def site(text: str) -> Site | None:
    return scene(more=text).site


def test_a_whole_site() -> None:
    read = site(WHOLE)
    assert read is not None
    assert all(f"{key} = " in WHOLE for key in KEYS)
    half = math.radians(0.5)
    assert (read.saw, read.wall, read.radius) == pytest.approx((half, half, 1.5875))
    assert (read.wood, read.sawn, read.grade) == ("red oak", "quarter", "custom")
    assert isinstance(read.made_at, Air)
    assert read.made_at.temperature == pytest.approx(21.111, abs=0.001)
    assert read.made_at.humidity == 45
    assert read.lives_at == Moisture(8.0)


def test_what_is_left_out_is_left_out() -> None:
    assert scene().site is None
    assert site("[site]\n") == Site()
    assert site("[site]\nsaw = 0\n") == Site(saw=0.0)
    # A wood that this program has no figures for is not refused here: whoever reckons with it does that.
    assert site('[site]\nwood = "bog oak"\n') == Site(wood="bog oak")


@pytest.mark.parametrize(
    ("text", "celsius"),
    [("70 F", 21.11), ("70F", 21.11), ("21 C", 21), ("21.5 °C", 21.5), ("68 deg F", 20), ("32 f", 0), ("120 F", 48.89)],
)
def test_temperatures(text: str, celsius: float) -> None:
    climate = f'{{ temperature = "{text}", humidity = 40 }}'
    read = site(f'[site]\nwood = "cherry"\nmade_at = {climate}\nlives_at = {{ moisture = 7 }}\n')
    assert read is not None
    assert isinstance(read.made_at, Air)
    assert read.made_at.temperature == pytest.approx(celsius, abs=0.01)
