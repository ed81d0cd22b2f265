"""All that a shop needs of a build: sticks with their kerfs, curves and what they take from neighbors, and refusals."""

from __future__ import annotations

from pathlib import Path

import pytest

from preview.build import build
from preview.cutlist import ShopJob, bend_words, shop_job
from preview.errors import PreviewError
from preview.scene import load_scene, parse_scene
from shipped_lists import SCENES, shipped

STRIP = """
title = "By hand"
units = "mm"
[profile.strip]
foot = 20
face = [{ fillet = 40 }]
[member.strip]
profile = "strip"
"""
WALL = """
[[run]]
name = "wall"
members = ["strip"]
room = "{room}"
start = [0, 0]
heading = 0
steps = [{steps}]
"""
ROUND = "{ straight = 600 }, { curve_left = 90, radius = 60 }, { straight = 400 }"
"""On the right of travel the strip wraps this; its back has the radius 60, its face 80."""


def job(steps: str, shop: str = "", room: str = "right") -> ShopJob:
    text = STRIP + shop + WALL.format(room=room, steps=steps)
    return shop_job(build(parse_scene(text, SCENES[0].parent / "by-hand.toml")))


def refused(steps: str, shop: str) -> PreviewError:
    with pytest.raises(PreviewError) as caught:
        job(steps, shop)
    assert all(each.file == "by-hand.toml" for each in caught.value.problems)
    return caught.value


def test_sticks_hold_the_pieces_their_cuts_and_the_trim() -> None:
    """Two pieces of 1000 + 20 (their miter) take 2040 and one cut of 4; 10 of trim at each end: 2064 just suffices."""
    corner = "{ straight = 1000 }, { left = 90 }, { straight = 1000 }"
    shop = '[shop]\nkerf = 4\ntrim = 10\nsticks = ["{} mm"]\n'
    one = job(corner, shop.format(2064))
    (sticks,) = one.sticks
    assert list(sticks.parts.values()) == pytest.approx([1020, 1020])
    assert [laid.offcut for laid in sticks.layout.used] == pytest.approx([0], abs=1e-6)
    assert (sticks.layout.total, sticks.layout.waste) == pytest.approx((2064, 24))
    assert (sticks.layout.pairs, sticks.layout.together) == (1, 1)
    assert len(job(corner, shop.format(2063)).sticks[0].layout.used) == 2
    # Ten in a hundred reckoned as lost: 0.9 of 2289 is 2060.1, less the trim 2040.1, which leaves no room for the cut.
    poor = job(corner, shop.format(2289) + "defects = 10\n")
    assert len(poor.sticks[0].layout.used) == 2
    assert len(job(corner, shop.format(2294) + "defects = 10\n").sticks[0].layout.used) == 1
    assert one.quantities[0].bought == 2064
    assert one.holds


def test_straights_gain_what_the_saw_takes_from_a_turned_corner() -> None:
    """Four quarters of one blank: the saw's 3.2 mm go off their ends, 1.6 off each, which the straights make up for."""
    column = shop_job(build(load_scene(SCENES[0].parent / "column.toml")))
    assert len(column.longer) == 8
    assert [each.by for each in column.longer] == pytest.approx([1.6] * 8)
    assert [column.gains(piece.name) for piece in column.cuts.pieces] == pytest.approx([3.2, 0] * 4)
    # One quarter is sawn out true, outside its own glue lines: nothing has to make up for anything.
    turned = job(ROUND, '[shop]\nturning = { kerf = 3, method = "turned" }\n')
    (curve,) = turned.curves
    assert curve.way is not None
    assert (curve.way.method, curve.way.pieces, curve.way.blanks) == ("turned", 1, 1)
    assert turned.longer == ()
    assert list(turned.sticks[0].parts.values()) == pytest.approx([600, 400])
    assert [step.words for step in curve.steps]
    # Bent of strips nothing is sawn off its ends, so nothing is added.
    bent = job(ROUND.replace("60 }", "900 }"), '[shop]\nturning = { method = "lamination" }\n')
    assert bent.longer == ()
    assert bent.curves[0].steps == ()


def test_the_wood_is_the_sites_else_the_jobs_where_it_is_one() -> None:
    def wood(head: str) -> str:
        return job("{ straight = 900 }", head).wood

    assert wood("") == ""
    assert wood('[job]\nspecies = "white oak"\n') == "white oak"
    assert wood('[job]\nspecies = "white oak, quarter sawn"\n') == "white oak"
    assert wood('[job]\nspecies = "poplar for paint, or white oak"\n') == ""
    made = "made_at = { temperature = '20 C', humidity = 40 }\nlives_at = { temperature = '20 C', humidity = 35 }\n"
    assert wood(f'[site]\nwood = "hard maple"\ncut = "flat"\n{made}[job]\nspecies = "white oak"\n') == "hard maple"


def test_a_piece_longer_than_every_stick_is_refused_by_name() -> None:
    error = refused("{ straight = 3000 }", '[shop]\nsticks = ["2.4 m"]\n')
    assert error.problems[0].place == 'part "wall / strip / 1 straight"'
    assert "longer than every stick" in str(error)


def test_too_few_sticks_are_refused_where_they_are_written() -> None:
    steps = "{ straight = 1800 }, { left = 90 }, { straight = 1800 }"
    error = refused(steps, '[shop]\nsticks = [{ length = "2 m", have = 1 }]\n')
    (problem,) = error.problems
    assert problem.place == "[shop], sticks"
    assert problem.problem.startswith('member "strip": 1 stick in hand cannot give all the parts')
    assert "1 more" in problem.fix


def test_a_way_that_cannot_be_is_refused_where_it_is_written() -> None:
    # Round a back of 10 mm: no arbor enters an inside of 20.
    tight = ROUND.replace("radius = 60", "radius = 10")
    (problem,) = refused(tight, '[shop]\nturning = { method = "turned" }\n').problems
    assert (problem.place, problem.value) == ("[shop], turning, method", '"turned"')
    assert problem.problem.startswith("wall / strip / 2 curve: ")
    assert problem.fix


def test_a_price_for_each_member_has_to_be_for_all() -> None:
    two = STRIP.replace("[member.strip]", '[member.cap]\nprofile = "strip"\nup = 40\n[member.strip]')
    text = two + "[shop.prices]\nboard_foot = { cap = 4 }\n" + WALL.format(room="right", steps="{ straight = 900 }")
    scene = parse_scene(text.replace('["strip"]', '["strip", "cap"]'), Path("by-hand.toml"))
    with pytest.raises(PreviewError, match='no price for the wood of member "strip"') as caught:
        shop_job(build(scene))
    assert caught.value.problems[0].file == "by-hand.toml"


@pytest.mark.parametrize(("room", "to"), [("right", "right"), ("left", "left")])
def test_climbing_is_told_as_one_who_faces_the_wall_sees_it(room: str, to: str) -> None:
    """Traveling up with the molding on the right one goes to the right of who faces it, on the left to the left."""
    steps = "{ straight = 400 }, { easement = 500 }, { straight = 900, rise = 600 }"
    _, easement, straight = job(steps, room=room).cuts.pieces
    assert bend_words(straight) == f"climbs to the {to} at 33.69°"
    ends = ("level", "climbing 33.69°") if to == "right" else ("falling 33.69°", "level")
    assert bend_words(easement) == f"turns up, {ends[0]} at its left end and {ends[1]} at its right"


def test_every_shipped_scene_can_be_made() -> None:
    for name in ("window-seat", "door-casing", "cornice"):
        built, cuts = shipped(name)
        made = shop_job(built)
        laid = [part for sticks in made.sticks for each in sticks.layout.used for part in each.parts]
        straight = [piece.name for piece in cuts.pieces if not (piece.bend or piece.easing or piece.block)]
        assert sorted(laid) == sorted(straight)
        assert made.holds


def test_a_clear_finish_wants_the_grain_round_the_curve() -> None:
    """At 95 mm the painted quarter is turned, and strips could be bent; at 60 mm their blank is too short to shape."""
    wide = ROUND.replace("radius = 60", "radius = 95")
    text = STRIP + WALL.format(room="right", steps=wide)
    clear = text.replace(
        "[member.strip]", '[finish.oak]\ncolor = "#b98d5a"\nkind = "clear"\n[member.strip]\nfinish = "oak"'
    )
    painted, oak = (shop_job(build(parse_scene(each, SCENES[0].parent / "x.toml"))).curves[0] for each in (text, clear))
    assert painted.way is not None
    assert painted.way.method == "turned"
    assert oak.way is not None
    assert oak.way.method == "lamination"
    assert oak.why.startswith("The finish is clear")
    small = clear.replace("radius = 95", "radius = 60")
    tight = shop_job(build(parse_scene(small, SCENES[0].parent / "x.toml"))).curves[0]
    assert tight.way is not None
    assert (tight.way.method, tight.why.endswith("show a sample.")) == ("turned", True)
