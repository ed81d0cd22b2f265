"""Profiles that are given flat on their back, with `spring`, in a scene and in files."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from preview.profiles import Line, Profile, measure, sprung
from preview.scene import load_profile, load_scene, load_spring_notes

INCH = 25.4
FLAT = """foot = "11/16"
face = [{ fillet = 3 }, { cove = "1 1/2", in = "3/8" }]
"""
FILE = 'name = "Plain crown"\nunits = "in"\n' + FLAT
REST = """
[member.crown]
profile = "crown"

[[run]]
name = "north wall"
steps = [{ straight = 60 }]
"""


def scene(folder: Path, profile: str) -> Profile:
    """The profile that a scene's member gets."""
    path = folder / "scene.toml"
    path.write_text(f'title = "Pantry"\nunits = "in"\n\n[profile.crown]\n{profile}{REST}', "utf-8")
    return load_scene(path).member("crown").profile


def saved(folder: Path, content: str) -> Path:
    path = folder / "crown.toml"
    path.write_text(content, "utf-8")
    return path


def test_the_same_wherever_the_spring_is_written(tmp_path: Path) -> None:
    """In the scene beside the sketch, in the profile's file, or in the scene for a file that lies flat."""
    flat = load_profile(saved(tmp_path, FILE))
    wanted = sprung(flat, math.radians(38)).profile.edges
    assert scene(tmp_path, FLAT + "spring = 38\n").edges == wanted
    assert scene(tmp_path, 'file = "crown.toml"\nspring = 38\n').edges == wanted
    assert load_profile(saved(tmp_path, FILE + "spring = 38\n")).edges == wanted
    assert scene(tmp_path, 'file = "crown.toml"\n').edges == wanted


def test_a_library_profile_laid_at_a_spring(tmp_path: Path) -> None:
    laid = scene(tmp_path, 'library = "ogee-casing"\nspring = "38 1/2"\n')
    back = max((edge for edge in laid.edges if isinstance(edge, Line)), key=lambda edge: edge.length)
    (d0, h0), (d1, h1) = back.start, back.end
    assert math.degrees(math.atan2(d0 - d1, h0 - h1)) == pytest.approx(38.5)


@pytest.mark.parametrize(
    ("flats", "wanted"), [("", INCH / 8), ('flats = "1/4"\n', INCH / 4), ('flats = "5 mm"\n', 5.0)]
)
def test_flats(tmp_path: Path, flats: str, wanted: float) -> None:
    laid = scene(tmp_path, FLAT + "spring = 45\n" + flats)
    top = measure(laid).h_max
    on_wall = [edge.length for edge in laid.edges if edge.start[0] == edge.end[0] == 0.0]
    on_ceiling = [edge.length for edge in laid.edges if edge.start[1] == edge.end[1] == top]
    assert on_wall == [pytest.approx(wanted, abs=1e-8)]
    assert on_ceiling == [pytest.approx(wanted, abs=1e-8)]


def test_eased_and_relieved_before_it_is_laid(tmp_path: Path) -> None:
    """The bench comes first: the relief is in the back, and the flats are cut at its square edges."""
    plain = scene(tmp_path, FLAT + "spring = 45\n")
    worked = scene(tmp_path, FLAT + 'ease = "1/16"\nback_relief = { depth = "1/8", margin = 1 }\nspring = 45\n')
    lost = measure(plain).area - measure(worked).area
    assert lost == pytest.approx((4.5 - 2) / 8 * INCH**2, rel=0.02)
    assert measure(worked).h_max == pytest.approx(measure(plain).h_max, abs=0.7)


def test_a_drawing_laid_at_a_spring(tmp_path: Path) -> None:
    """A section drawn flat, a rectangle with bevels for 45 degrees: they lie on the wall and the ceiling."""
    points = ["0,10", "10,0", "18,8", "18,92", "8,102", "0,94"]  # at 45 degrees the edges 0,10-10,0 and 8,102-0,94 bear
    drawn = '<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="110mm" viewBox="0 0 30 110">'
    flipped = " ".join(f"{x},{110 - float(y):g}" for x, y in (point.split(",") for point in points))
    (tmp_path / "crown.svg").write_text(f'{drawn}<polygon points="{flipped}"/></svg>', "utf-8")
    laid = scene(tmp_path, 'drawing = "crown.svg"\nback = "left"\nspring = 45\n')
    assert laid.edges[-1].length == pytest.approx(10 * math.sqrt(2))
    top = measure(laid).h_max
    (ceiling,) = [edge for edge in laid.edges if edge.start[1] == edge.end[1] == top]
    assert ceiling.length == pytest.approx(8 * math.sqrt(2))


def test_what_was_done_is_told(tmp_path: Path) -> None:
    assert load_spring_notes(saved(tmp_path, FILE)) == ()
    assert load_spring_notes(saved(tmp_path, FILE + "spring = 38\n")) == (
        'at 38° no bevel of its foot is plumb: it is cut for a flat of 1/8" on the wall',
        'at 38° no bevel of its top is level: it is cut for a flat of 1/8" on the ceiling',
    )


def test_where_it_came_from_says_so(tmp_path: Path) -> None:
    scene(tmp_path, FLAT + "spring = 38\n")
    assert load_scene(tmp_path / "scene.toml").member("crown").source == "sketched in the scene, sprung at 38°"
