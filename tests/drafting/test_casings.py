"""Casings: sizes on the wall's face, feet and opening on the base's plan, and what their corners are called."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from drawn_pages import BLOCK, assert_labels_are_apart, dimension, drawn, drawn_plans, factor_of, shipped, texts
from preview.build import build
from preview.drafting import Drawing, corner_drawings, plan_drawings
from preview.drafting.casing import casings_beside
from preview.drafting.grounds import grounds_of
from preview.scene import parse_scene
from preview.vantage import job_of

INCH = 25.4


@cache
def window() -> list[Drawing]:
    """A picture-framed window, 600 by 400 in the clear, in the square strip: 20 mm wide, 5 back from the edge."""
    text = f"""title = "Window"\nunits = "mm"\n{BLOCK}up = 5
[[run]]
name = "window"
members = ["block"]
on_wall = {{ origin = [0, 0, 900], along = 0 }}
room = "left"
start = [0, 0]
heading = 90
closed = true
steps = [{{ straight = 400 }}, {{ right = 90 }}, {{ straight = 600 }}, {{ right = 90 }}, {{ straight = 400 }},
  {{ right = 90 }}, {{ straight = 600 }}, {{ right = 90 }}]
"""
    return plan_drawings(build(parse_scene(text, Path("window.toml"))))


def test_a_casing_on_plinth_blocks_tells_what_each_size_spans() -> None:
    """32 in in the clear, 3 1/4 in wide, 3/16 in back: 32 + 2 x 3 7/16 = 38 7/8 over the casing; plinths 4 in wide and
    flush with the edge: 32 + 2 x 4 = 40; 80 + 3 7/16 = 83 7/16 from the floor.
    """
    _, door = drawn_plans("door-casing")
    factor = factor_of(door) * INCH
    for text, inches in (
        ("38⁷⁄₈″ over the casing", 38.875),
        ("40″ over the plinth blocks", 40.0),
        ("83⁷⁄₁₆″ overall", 83.4375),
    ):
        assert dimension(door, text) / factor == pytest.approx(inches, abs=1e-6)
    assert "3¹⁄₄″ wide, reveal ³⁄₁₆″" in texts(door)


def test_a_casing_without_blocks_is_told_over_all() -> None:
    """600 + 2 x (5 + 40) = 690 and 400 + 2 x 45 = 490: the strip lies on its back, 40 wide."""
    (drawing,) = window()
    factor = factor_of(drawing)
    assert dimension(drawing, "690 overall") / factor == pytest.approx(690.0, abs=1e-6)
    assert dimension(drawing, "490 overall") / factor == pytest.approx(490.0, abs=1e-6)
    assert not any("over the" in text for text in texts(drawing))
    assert_labels_are_apart(drawing)


def test_the_plan_of_the_base_has_the_opening_and_the_casing_s_feet() -> None:
    """The base is 5 1/4 in high and the plinths are 8: of the casing only these stand in the plan's height."""
    base, _ = drawn_plans("door-casing")
    written = texts(base)
    assert dimension(base, "32″ opening") / factor_of(base) == pytest.approx(32 * INCH, abs=1e-6)
    assert {"1", "5", "6", "7", "136″"} <= set(written)
    assert not {"2", "3", "4"} & set(written)
    assert written.count("48″") == 2
    scene = shipped("door-casing")
    ground = next(each for each in grounds_of(job_of(scene)) if each.kind == "plan")
    (door,) = casings_beside(scene, ground)
    assert [scene.pieces[i].role for i in door.pieces] == ["block", "block"]
    assert door.edges is not None
    assert sorted(x for x, _ in door.edges) == pytest.approx([40 * INCH, 72 * INCH])


def test_a_casing_has_no_inside_and_no_outside_corner_and_a_block_is_none() -> None:
    names = [drawing.name for drawing in drawn("door-casing") if drawing.key.startswith("corner")]
    assert names == ["Block 1 of door: plinth block; also block 4", "Corner 2 of door: mitered; also corner 3"]
    block, miter = (drawing for drawing in drawn("door-casing") if drawing.key.startswith("corner"))
    assert "butt joint" in texts(block)
    assert "mitered, corner 90°" in texts(miter)


def test_corners_in_plan_keep_their_names() -> None:
    names = [drawing.name for drawing in corner_drawings(shipped("hall"))]
    assert names[0] == "Corner 1: coped, inside"
    assert "Corner 5: corner block" in names
