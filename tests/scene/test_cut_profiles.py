"""Profiles cut from a blank, in files and in scenes, and the keys that ease and relieve any profile."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from preview.errors import PreviewError
from preview.joinery import join
from preview.profiles import Arc, Profile, measure
from preview.scene import load_profile
from scene_sample import scene

PI = math.pi
SPANDREL = 1 - PI / 4
INCH2 = 25.4**2

CHAIR_RAIL = """# A chair rail run in four passes from 5/4 stock, 3 in wide.
name = "Four pass chair rail"
units = "in"
blank = { width = "3", thickness = "1" }
cuts = [
  { roundover = "3/8", at = "face top", step = "1/8" },
  { cove = "1/2", at = "face foot" },
  { core_box = "1/4", on = "face", up = "1 1/2", depth = "1/4", diameter = "2 1/2" },
  { straight = "1/4", on = "back", down = "1", depth = "1/8" },
]
"""


def load(tmp_path: Path, text: str) -> Profile:
    file = tmp_path / "rail.toml"
    file.write_text(text, "utf-8")
    return load_profile(file)


def test_a_profile_file_of_cuts(tmp_path: Path) -> None:
    """The blank less each cut, in square inches, by hand."""
    profile = load(tmp_path, CHAIR_RAIL)
    left = 3.0 - (SPANDREL * 9 / 64 + 3 / 64) - PI / 16 - PI / 32 - 1 / 32
    assert measure(profile).area == pytest.approx(left * INCH2, rel=1e-9)
    assert sorted(round(edge.radius / 25.4, 9) for edge in profile.edges if isinstance(edge, Arc)) == [0.25, 0.375, 0.5]
    assert profile.name == "Four pass chair rail"


CUTS = {
    '{ roundover = "1/4", at = "face top" }': SPANDREL / 16,
    '{ roundover = "1/4", at = "top face", step = "1/8", inset = "1/16" }': SPANDREL / 16 + 1 / 32 + 1 / 64 + 1 / 128,
    '{ cove = "1/4", at = "face foot" }': PI / 64,
    '{ chamfer = "1/4", at = "face foot" }': 1 / 32,
    '{ chamfer = "1/4", angle = 30, at = "face foot" }': math.tan(PI / 6) / 32,
    '{ ogee = "1/4", at = "face top" }': 1 / 8,
    '{ reverse-ogee = "1/4", hollow = "1/8", at = "face top" }': SPANDREL / 16 + PI / 256 + 1 / 32,
    '{ core_box = "1/4", on = "face", up = 2, depth = "1/2" }': PI / 32 + 1 / 8,
    '{ v = 90, on = "back", down = 2, depth = "1/4" }': 1 / 16,
    '{ v = "60 deg", on = "top", out = "1/2", depth = "1/4" }': math.tan(PI / 6) / 16,
    '{ bead = "1/4", quirk = "1/8", on = "face", up = 2 }': SPANDREL / 8 + 1 / 16,
    '{ bead = "1/4", quirk = "1/8", at = "face top" }': SPANDREL / 8 + 1 / 32,
    '{ straight = "1/2", on = "foot", in = "1/2", depth = "1/4" }': 1 / 8,
    '{ straight = "1/2", at = "back foot", depth = "1/4" }': 1 / 8,
    '{ cutter = { foot = "1/8", face = [{ bevel = "1/8", out = "1/8" }] }, on = "face", up = 2, depth = "1/4" }': (
        3 / 64 + 1 / 16
    ),
}


@pytest.mark.parametrize("cut", CUTS)
def test_each_cut_as_it_is_written(tmp_path: Path, cut: str) -> None:
    text = f'name = "One cut"\nunits = "in"\nblank = {{ width = 4, thickness = 1 }}\ncuts = [{cut}]\n'
    assert measure(load(tmp_path, text)).area / INCH2 == pytest.approx(4 - CUTS[cut], abs=1e-9)


BLOCK = 'name = "Block"\nunits = "in"\nfoot = 1\nface = [{ fillet = 4 }]\n'
STOCK = 'name = "Block"\nunits = "in"\nblank = { width = 4, thickness = 1 }\ncuts = []\n'


@pytest.mark.parametrize("drawn", [BLOCK, STOCK], ids=["sketched", "cut"])
@pytest.mark.parametrize(
    ("keys", "lost"),
    [
        ('ease = "1/8"', 2 * SPANDREL / 64),
        ('back_relief = { depth = "1/16", margin = "1/2" }', 3 / 16),
        ('back_bevel = { angle = 2, strip = "1/4" }', 3.75**2 * math.tan(math.radians(2)) / 2),
        (
            'ease = "1/8"\nback_relief = { depth = "1/16", margin = 1 }\nback_bevel = { angle = 2, strip = "1/4" }',
            None,
        ),
    ],
)
def test_reliefs(tmp_path: Path, drawn: str, keys: str, lost: float | None) -> None:
    profile = load(tmp_path, drawn + keys + "\n")
    area = measure(profile).area / INCH2
    if lost is None:
        assert area < 4 - 2 * SPANDREL / 64 - 3.75**2 * math.tan(math.radians(2)) / 2
    else:
        assert area == pytest.approx(4 - lost, abs=1e-9)


def test_a_cut_profile_in_a_scene() -> None:
    """It runs round a corner like any other, and says where it came from."""
    cut = """[profile.base]
blank = { width = 4, thickness = 1 }
cuts = [{ roundover = "3/8", at = "face top" }, { core_box = "3/8", on = "face", up = 2, depth = "1/4" }]
ease = "1/32"
"""
    made = scene("steps = [{ straight = 60 }, { left = 90 }, { straight = 40 }]", profile=cut)
    (base,) = made.members
    assert base.source == "cut from a blank in the scene"
    assert len(join(made.runs[0].run, "base", base.profile, unit="in").pieces) == 2


def test_every_mistake_is_told_at_once(tmp_path: Path) -> None:
    text = CHAIR_RAIL.replace('"face top"', '"fase top"').replace('up = "1 1/2"', "").replace('"1/8" },\n]', "0 },\n]")
    text = text.replace('thickness = "1"', 'thicknes = "1"')
    with pytest.raises(PreviewError) as caught:
        load(tmp_path, text.replace(", ,", ","))
    assert [problem.place for problem in caught.value.problems] == ["blank, thicknes", "cut 1, at", "cut 3"]


def test_a_file_is_sketched_or_cut(tmp_path: Path) -> None:
    with pytest.raises(PreviewError, match="sketched and cut from a blank at once, by blank, cuts, foot and face"):
        load(tmp_path, STOCK + "foot = 1\nface = [{ fillet = 4 }]\n")
