"""A profile from a drawing, named in a scene or in a profile file, with what the drawing leaves open."""

from __future__ import annotations

from pathlib import Path

import pytest

from preview.errors import PreviewError
from preview.profiles import measure
from preview.scene import load_drawn, load_profile, load_scene

DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="100mm" viewBox="0 0 100 100">
<g id="base"><path d="M10 90 H30 V40 A10 10 0 0 0 20 30 H10 z"/></g>
<g id="frame"><rect width="100" height="100"/></g></svg>"""
AREA = 20 * 60 - 100 + 3.141592653589793 * 25

SCENE = """title = "Landing"
units = "in"
[profile.base]
{}
[member.base]
profile = "base"
[[run]]
name = "north wall"
steps = [{{ straight = 60 }}]
"""


@pytest.fixture(autouse=True)
def _drawing(tmp_path: Path) -> None:
    (tmp_path / "drawings").mkdir()
    (tmp_path / "drawings" / "base.svg").write_text(DRAWING, "utf-8")


def scene(folder: Path, keys: str) -> Path:
    path = folder / "landing.toml"
    path.write_text(SCENE.format(keys), "utf-8")
    return path


def test_in_a_scene(tmp_path: Path) -> None:
    path = scene(tmp_path, 'drawing = "drawings/base.svg"\nlayer = "base"\nback = "left"\nunits = "mm"')
    found = load_scene(path)
    assert measure(found.members[0].profile).area == pytest.approx(AREA, rel=1e-12)
    assert found.members[0].profile.name == "base"
    assert found.members[0].source == "from a drawing"
    assert found.files == (path, tmp_path / "drawings" / "base.svg")


def test_in_a_profile_file_beside_it(tmp_path: Path) -> None:
    """Its drawing is found from the profile file, wherever the scene is; its arrises may be eased."""
    made = tmp_path / "profiles"
    made.mkdir()
    keys = 'name = "Drawn base"\ndrawing = "../drawings/base.svg"\nlayer = "base"\n'
    (made / "drawn.toml").write_text(keys, "utf-8")
    (made / "eased.toml").write_text(keys + 'units = "mm"\nease = 1\n', "utf-8")
    path = scene(tmp_path, 'file = "profiles/drawn.toml"')
    found = load_scene(path)
    assert measure(found.members[0].profile).area == pytest.approx(AREA, rel=1e-12)
    assert found.members[0].profile.name == "Drawn base"
    assert found.files == (path, made / "drawn.toml", made / ".." / "drawings" / "base.svg")
    assert measure(load_profile(made / "eased.toml")).area < AREA - 0.2
    drawn = load_drawn(made / "eased.toml")
    assert drawn is not None
    assert measure(drawn.profile).area == pytest.approx(AREA, rel=1e-12)
    back = "the back is the left side of the drawing, found: 60 mm of straight line"
    assert drawn.notes == (f"{back}; the foot is the bottom, taken as drawn",)


def test_lengths_of_its_own_take_a_unit(tmp_path: Path) -> None:
    path = tmp_path / "drawn.toml"
    path.write_text('name = "Drawn"\ndrawing = "drawings/base.svg"\nlayer = "base"\nease = 1\n', "utf-8")
    with pytest.raises(PreviewError, match="units"):
        load_profile(path)


def test_a_sketched_profile_has_no_drawing(tmp_path: Path) -> None:
    path = tmp_path / "sketched.toml"
    path.write_text('name = "Band"\nunits = "in"\nfoot = 1\nface = [{ fillet = 2 }]\n', "utf-8")
    assert load_drawn(path) is None
