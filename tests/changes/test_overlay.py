"""The drawing of what changed: true to scale, the same bytes every time, told apart without color."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree

import pytest
import shapely
from svgelements import Path as SvgPath

from preview.changes import changed, overlay_svg
from preview.changes.footprints import footprints, sorted_out
from preview.changes.sheet import BEFORE, NOW, Placing, wrapped
from preview.profiles import measure
from versions import CURVE, MITERED, SCENES, SEAT, built, seat, small

SVG = "{http://www.w3.org/2000/svg}"
PROFILE = (("cove-and-bead-base", "ogee-base"),)


def drawn(svg: bytes) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def words(svg: bytes) -> list[str]:
    return ["".join(each.itertext()) for each in drawn(svg).iter(f"{SVG}text")]


def paths(svg: bytes, ink: str) -> list[ElementTree.Element]:
    return [each for each in drawn(svg).iter(f"{SVG}path") if each.get("stroke") == ink]


def test_the_same_versions_give_the_same_bytes() -> None:
    assert overlay_svg(seat(), seat(*MITERED)) == overlay_svg(seat(), seat(*MITERED))


def test_it_says_what_changed() -> None:
    svg = overlay_svg(seat(), seat(*MITERED))
    said = " ".join(words(svg))
    for sentence in changed(seat(), seat(*MITERED)):
        assert sentence in said
    assert "now" in words(svg)
    assert "before (dashed)" in words(svg)
    assert 'seat: now mitered, before turned to a radius of 2"' in words(svg)
    assert {"Scale 1:16", "Scale 1:2", '16" (was 14")', '8" (was 6")'} <= set(words(svg))


def test_old_and_new_are_told_apart_without_color() -> None:
    svg = overlay_svg(seat(), seat(*MITERED))
    assert paths(svg, BEFORE)
    assert paths(svg, NOW)
    assert all(each.get("stroke-dasharray") for each in paths(svg, BEFORE))
    assert not any(each.get("stroke-dasharray") for each in paths(svg, NOW))


def test_nothing_changed_is_said() -> None:
    svg = overlay_svg(seat(), seat())
    assert "Nothing that a client sees or a shop cuts has changed" in words(svg)
    assert not paths(svg, BEFORE)


def test_profiles_are_laid_over_each_other_to_scale() -> None:
    """Their boxes, read by another library from the drawing, are the profiles' own at the scale it states."""
    before, after = seat(), seat(*PROFILE)
    svg = overlay_svg(before, after)
    at = words(svg).index("Profile of base")
    scale = next(text for text in words(svg)[at:] if text.startswith("Scale "))
    assert scale == "Scale 1:2"
    for built_, ink in ((before, BEFORE), (after, NOW)):
        outline = next(each for each in paths(svg, ink) if "A" in each.get("d", ""))
        left, top, right, low = SvgPath(outline.get("d")).bbox()
        size = measure(built_.members[0].profile)
        assert (right - left) * 2 == pytest.approx(size.d_max - size.d_min, abs=0.01)
        assert (low - top) * 2 == pytest.approx(size.h_max - size.h_min, abs=0.01)
    assert {'5 1/4"', '4"', '3/4"', '1 1/4"', "furthest apart:"} <= set(words(svg))
    (both,) = [each for each in drawn(svg).iter(f"{SVG}path") if each.get("fill-rule") == "evenodd"]
    assert (both.get("d") or "").count("Z") == 2


def test_arcs_stay_arcs() -> None:
    profile = seat().members[0].profile
    path = SvgPath(Placing(2.0, 10.0, 300.0).outline(profile.edges))
    assert path.length(error=1e-6) == pytest.approx(2 * measure(profile).perimeter, rel=1e-4)


def test_footprints_are_the_pieces_seen_from_above() -> None:
    """A strip 20 mm deep: a straight's area is its middle's length times 20, a curve's is the ring's."""
    text = small("{ straight = 500 }, { left = 90 }, { straight = 300 }, { curve_right = 90, radius = 60 }")
    areas = [shapely.Polygon(each.points).area for each in footprints(built(text))]
    assert areas[0] == pytest.approx(20 * (500 - 10))  # the room is on the left: an inside corner, shorter at the face
    assert areas[1] == pytest.approx(20 * (300 - 10))
    assert areas[2] == pytest.approx(math.pi / 4 * (80**2 - 60**2), rel=1e-3)  # wraps the outside
    for one, other in zip(footprints(built(text)), footprints(built(text))[1:], strict=False):
        joint = shapely.Polygon(one.points).intersection(shapely.Polygon(other.points))
        assert joint.area == pytest.approx(0.0, abs=1e-6)


def test_what_did_not_change_is_drawn_once() -> None:
    same, gone, new = sorted_out(footprints(seat()), footprints(seat(*MITERED)))
    assert [len(same), len(gone), len(new)] == [5, 6, 4]
    assert {each.piece.rsplit(" / ")[-1] for each in gone} == {
        "1 straight",
        "2 curve",
        "3 straight",
        "9 straight",
        "10 curve",
        "11 straight",
    }


@pytest.mark.parametrize("scene", ["door-casing", "stair-wall", "hall", "column", "cornice", "six-sided-room", "bay"])
def test_every_kind_of_scene_can_be_drawn(scene: str) -> None:
    """Casings on a wall, rakes, blocks, copes, closed runs: against the window seat, both ways."""
    other = built((SCENES / f"{scene}.toml").read_text("utf-8"))
    for svg in (overlay_svg(seat(), other), overlay_svg(other, seat())):
        assert b"nan" not in svg
        assert b"inf" not in re.sub(rb">[^<]*<", b"><", svg)
        root = drawn(svg)
        width, height = (float((root.get(side) or "").removesuffix("mm")) for side in ("width", "height"))
        assert 0 < width <= 300
        assert 0 < height < 2000
        assert paths(svg, NOW)
        assert paths(svg, BEFORE)


def test_corner_blocks_are_seen_from_above() -> None:
    text = (SCENES / "hall.toml").read_text("utf-8")
    blocks = [each for each in footprints(built(text)) if "corner block" in each.piece]
    for each in blocks:
        assert shapely.Polygon(each.points).is_valid
        assert shapely.Polygon(each.points).area > 100


def test_names_cannot_break_out() -> None:
    name = '</text><script>alert(1)</script> & "x"'
    text = SEAT.replace('title = "Window seat between stone piers, reading room"', f"title = '{name}'")
    text = text.replace('name = "seat"', f"name = '{name}'")
    svg = overlay_svg(seat(), built(text.replace(CURVE, CURVE.replace("2 }", "2.5 }"))))
    assert not list(drawn(svg).iter(f"{SVG}script"))
    assert any("<script>" in said for said in words(svg))
    assert "".join(text for text in drawn(svg).itertext()).count("alert(1)") > 1


def test_long_words_are_broken() -> None:
    lines = wrapped("x" * 500 + " and more", 60.0, 3.0)
    assert len(lines) > 5
    assert "".join(lines).replace(" ", "") == "x" * 500 + "andmore"
