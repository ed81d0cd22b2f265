"""Joints, ends, rakes, blocks, scarfs and runs on a wall, as they are written in a scene."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preview.errors import PreviewError
from preview.profiles import measure
from preview.runs import IN_PLAN, MITER, Run, Stand, Way
from scene_sample import only_run, scene

MM = 'title = "Pantry"\nunits = "mm"\n'
PLINTH = "[block.plinth]\nwidth = 4\nthickness = 1.5\nheight = 7\n"
WALL = "{ straight = 60 }"


def run_of(*steps: str, keys: str = "", more: str = "") -> Run:
    return scene(f"{keys}steps = [{', '.join(steps)}]", more=more).runs[0].run


def in_mm(*steps: str, keys: str = "") -> Run:
    return only_run(f"{keys}steps = [{', '.join(steps)}]", top=MM).run


# Climbing.


@pytest.mark.parametrize(
    ("step", "length", "rise"),
    [
        ("{ straight = 400, rise = 300 }", 400.0, 300.0),
        ("{ straight = 400, rise = -300 }", 400.0, -300.0),
        ("{ rake = 500, rise = 300 }", 400.0, 300.0),  # 3, 4, 5
        ("{ rake = 500, rise = -300 }", 400.0, -300.0),
        ("{ straight = 100, pitch = 45 }", 100.0, 100.0),
        ("{ rake = 200, pitch = 30 }", 100.0 * math.sqrt(3.0), 100.0),
        ("{ rake = 200, pitch = -60 }", 100.0, -100.0 * math.sqrt(3.0)),
        ("{ straight = 100, pitch = 0 }", 100.0, 0.0),
    ],
)
def test_straights_and_rakes_that_climb(step: str, length: float, rise: float) -> None:
    element = in_mm(step, "{ straight = 50 }").elements[0]
    assert (element.length, element.end_height) == pytest.approx((length, rise), abs=1e-12)


def test_a_stair_with_easements() -> None:
    run = run_of(WALL, "{ easement = 12 }", '{ rake = "8\' 4", pitch = 36 }', "{ easement = 20 }", WALL)
    assert [element.bend for element in run.elements] == pytest.approx([0, 1 / 304.8, 0, -1 / 508, 0])
    assert run.elements[-1].height == pytest.approx(2540.0 * math.sin(math.radians(36)), abs=1e-9)
    assert run.places == ("step 1", "step 2", "step 3", "step 4", "step 5")
    assert run.raked == "derived"
    assert run_of(WALL, "{ straight = 9, rise = 3 }", keys='raked = "same"\n').raked == "same"


# Corners.


@pytest.mark.parametrize(("room", "corner", "hand"), [("left", "inside", 1), ("right", "inside", -1)])
def test_a_coped_corner(room: str, corner: str, hand: int) -> None:
    for written, coped in (
        ('"cope"', "after"),
        ('"cope", coped = "after"', "after"),
        ('"cope", coped = "before"', "before"),
    ):
        run = run_of(WALL, f"{{ {corner} = 92, joint = {written} }}", WALL, keys=f'room = "{room}"\n')
        assert (run.ways[1].kind, run.ways[1].coped) == ("cope", coped)
        assert run.turns[1] == pytest.approx(hand * math.radians(88))


def test_left_and_right_turns_are_coped_where_they_are_inside_corners() -> None:
    assert run_of(WALL, '{ left = 90, joint = "cope" }', WALL).ways[1].kind == "cope"
    with pytest.raises(PreviewError, match="a cope is cut at inside corners"):
        run_of(WALL, '{ right = 90, joint = "cope" }', WALL)


def test_a_splayed_corner() -> None:
    run = run_of(WALL, '{ outside = 90, turns = 3, facet = "1 1/2" }', WALL)
    assert run.turns == pytest.approx((0, *[-math.radians(30)] * 3), abs=1e-15)
    assert [element.length for element in run.elements[1:3]] == [38.1, 38.1]
    assert run.elements[-1].end == pytest.approx((1524.0, -1524.0), abs=1e-9)
    assert run.places == ("step 1", "step 2", "step 2", "step 3")
    assert run_of(WALL, '{ inside = 135, turns = 2, facet = 1, joint = "miter" }', WALL).ways == (MITER,) * 3


def test_blocks_in_line_and_in_a_corner() -> None:
    steps = ('{ block = "plinth" }', WALL, '{ inside = 90, block = "plinth" }', WALL, '{ block = "plinth" }')
    made = scene(f"steps = [{', '.join(steps)}]", more=PLINTH)
    run = made.runs[0].run
    assert run.blocks == ("plinth", "", "", "plinth")
    assert run.ways == (MITER, MITER, Way("block", block="plinth"), MITER)
    assert run.elements[0].length == 101.6


# Blocks.


def test_a_block_is_a_rectangle_or_a_profile() -> None:
    more = PLINTH + (
        '[block.turned]\nwidth = "3 1/2"\nprofile = "base"\nfinish = "oak"\nlap = 1\n'
        '[finish.oak]\ncolor = "#a08050"\nkind = "clear"\n'
    )
    plinth, turned = scene(more=more).blocks
    size = measure(plinth.profile)
    assert (size.d_min, size.d_max, size.h_min, size.h_max) == pytest.approx((0.0, 38.1, 0.0, 177.8))
    assert size.area == pytest.approx(38.1 * 177.8)
    assert (plinth.name, plinth.width, plinth.lap, plinth.source) == ("plinth", 101.6, None, "a square-edged block")
    assert (turned.width, turned.lap, turned.finish.name, turned.source) == (88.9, 25.4, "oak", "sketched in the scene")
    assert turned.profile == scene().members[0].profile


def test_a_scene_without_blocks_has_none() -> None:
    assert scene().blocks == ()


# Ends, scarfs and walls.


@pytest.mark.parametrize("begin", ["square", "return", "self-return", "butt", "beveled"])
@pytest.mark.parametrize("line", [f"steps = [{WALL}]", "points = [[0, 0], [60, 0]]"])
def test_ends(begin: str, line: str) -> None:
    run = only_run(f'begin = "{begin}"\nend = "self-return"\n{line}').run
    assert (run.begin, run.end) == (begin, "self-return")


def test_straights_longer_than_the_stock_are_scarfed() -> None:
    """20' of base 1" thick from 12' sticks, cut at 45°: two pieces, the first with an inch of lap."""
    keys = 'stock = "12\'"\nscarf = { angle = 45, from_corner = 24 }\n'
    run = run_of('{ straight = "20\'" }', keys=keys)
    assert run.ways == (MITER, Way("scarf", slant=1.0))
    assert [element.length for element in run.elements] == pytest.approx([119.5 * 25.4, 120.5 * 25.4], abs=1e-9)
    assert run.places == ("step 1", "step 1")
    assert run_of('{ straight = "20\'" }', keys='stock = "20\'"\n').ways == (MITER,)
    steep = run_of('{ straight = "20\'" }', keys='stock = "12\'"\nscarf = { angle = 30 }\n')
    assert steep.ways[1].slant == pytest.approx(1 / math.sqrt(3.0))


def test_points_are_scarfed_too() -> None:
    run = only_run('stock = "12\'"\npoints = [[0, 0], [200, 0], [200, 30]]').run
    assert len(run.elements) == 3
    assert run.places[0] == run.places[1] == "the straight from point 1"


def test_a_scarfed_rake_leaves_room_for_its_plumb_cuts() -> None:
    """4" high at 45 degrees: the plumb cuts of a piece stand 4 sin 45° in. apart along the slope."""
    keys, more = "stock = 100\n", 4 * math.sqrt(0.5)
    fits = 100 - more
    assert len(run_of(f"{{ rake = {fits - 0.001}, pitch = 45 }}", keys=keys).elements) == 1
    assert len(run_of(f"{{ rake = {fits + 0.001}, pitch = 45 }}", keys=keys).elements) == 2


def test_a_run_in_plan_stands_in_plan() -> None:
    assert run_of(WALL).stand is IN_PLAN


@pytest.mark.parametrize(
    ("along", "x", "z"),
    [
        ("", (1, 0, 0), (0, -1, 0)),  # along +x the room lies toward -y
        (", along = 0", (1, 0, 0), (0, -1, 0)),
        (", along = 90", (0, 1, 0), (1, 0, 0)),
        (", along = 180", (-1, 0, 0), (0, 1, 0)),
        (", along = 30", (math.sqrt(0.75), 0.5, 0), (0.5, -math.sqrt(0.75), 0)),
    ],
)
def test_a_run_on_the_face_of_a_wall(along: str, x: tuple[float, ...], z: tuple[float, ...]) -> None:
    stand = run_of(WALL, "{ right = 90 }", WALL, keys=f'on_wall = {{ origin = [12, 0, "6\' 8"]{along} }}\n').stand
    assert stand.origin == (304.8, 0.0, 2032.0)
    assert stand.x == pytest.approx(x, abs=1e-15)
    assert stand.y == (0.0, 0.0, 1.0)
    assert stand.z == pytest.approx(z, abs=1e-15)
    assert np.cross(stand.x, stand.y) == pytest.approx(np.array(stand.z), abs=1e-15)
    assert isinstance(stand, Stand)


def test_a_block_on_a_wall_stands_upright() -> None:
    """At the foot of a casing's legs its height lies along the run, in the head its width."""
    keys = 'heading = 90\nroom = "left"\non_wall = { origin = [0, 0, 0] }\n'
    foot, turn = '{ block = "plinth" }', "{ right = 90 }"
    leg, head = "{ straight = 80 }", "{ straight = 20 }"
    run = run_of(foot, leg, turn, head, foot, head, turn, leg, foot, keys=keys, more=PLINTH)
    assert run.blocks == ("plinth", "", "", "plinth", "", "", "plinth")
    assert [run.elements[i].length / 25.4 for i in (0, 3, 6)] == pytest.approx([7, 4, 7])
    assert run.elements[-1].end == pytest.approx((44 * 25.4, 0.0), abs=1e-9)


def test_a_casing_on_a_wall_is_scarfed_by_its_width() -> None:
    """The profile lies on its back there: its height, 4 in., is how far it reaches from the opening."""
    keys = 'stock = 100\non_wall = { origin = [0, 0, 0] }\nroom = "right"\n'
    steps = ("{ straight = 30 }", "{ left = 90 }", "{ straight = 92 }", "{ left = 90 }", "{ straight = 30 }")
    assert len(run_of(*steps, keys=keys).elements) == 3  # 92 and two miters of 4
    assert len(run_of(steps[0], steps[1], "{ straight = 92.01 }", *steps[3:], keys=keys).elements) == 4


def test_mistakes_in_every_part_of_a_run_are_told_together() -> None:
    with pytest.raises(PreviewError) as caught:
        run_of(
            "{ straight = 60, rise = 9, pitch = 9 }",
            '{ outside = 90, coped = "after" }',
            '{ block = "plint" }',
            keys='begin = "returned"\nraked = "no"\nstock = 2\nscarf = { angle = 90 }\non_wall = { along = "x" }\n',
        )
    assert [problem.place for problem in caught.value.problems] == [
        f'run "north wall", {place}'
        for place in (
            "begin",
            "raked",
            "stock",
            "scarf, angle",
            "on_wall, origin",
            "on_wall, along",
            "step 1",
            "step 2, coped",
            "step 3, block",
        )
    ]
