"""The runs put together again from the list alone; and that a wrong number in it does not pass."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import cast

import pytest
from hypothesis import assume, given

from preview.build import Built, build
from preview.cutlist import CLOSES, CutList, CutPiece, Reassembly, cut_list, reassembled
from preview.errors import PreviewError
from preview.joinery import MemberRun, exact_volumes, join
from preview.profiles import Profile
from preview.runs import Run
from preview.scene import Scene, parse_scene
from shipped_lists import HEAD, NAMES, listed, shipped
from strategies import joined, profiles, share, trade_runs


def again(built: Built, cuts: CutList) -> tuple[Reassembly, ...]:
    return reassembled(cuts, [placed.run for placed in built.scene.runs])


def changed(cuts: CutList, name: str, **what: object) -> CutList:
    assert any(piece.name == name for piece in cuts.pieces)
    pieces = tuple(replace(piece, **what) if piece.name == name else piece for piece in cuts.pieces)  # type: ignore[arg-type]
    return replace(cuts, pieces=pieces)


def worst(found: tuple[Reassembly, ...]) -> float:
    return max(max(each.error, each.worst) for each in found)


@pytest.mark.parametrize("name", NAMES)
def test_every_shipped_run_comes_out_where_it_was_measured(name: str) -> None:
    built, cuts = shipped(name)
    found = again(built, cuts)
    assert {(each.run, each.member) for each in found} == {(o.run, o.member) for o in cuts.orders}
    assert all(each.line in ("wall", "back", "face") for each in found)
    assert len(found) == 3 * len(cuts.orders)
    assert all(each.holds for each in found), found
    assert CLOSES == 0.1
    assert worst(found) < 1e-9
    assert max(each.own for each in found) < 1e-9


def test_every_piece_stands_in_an_order() -> None:
    for name in NAMES:
        _, cuts = shipped(name)
        assert {piece.name for piece in cuts.pieces} == {each for order in cuts.orders for each in order.names}


PLANTED = {
    "bar-front": "bar / base / 3 straight",
    "bay": "bay / rail / 2 straight",
    "column": "column / plinth / 3 straight",
    "cornice": "cornice / crown / 2 straight",
    "door-casing": "door / casing / 3 straight",
    "hall": "hall / base / 2 straight",
    "six-sided-room": "tea room / crown / 4 straight",
    "stair-hall": "hall / shoe / 3 straight",
    "stair-wall": "rail / rail / 4 straight",
    "window-seat": "seat / base / 6 straight",
}


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("line", ["wall", "back", "face"])
def test_a_length_0_2_mm_wrong_fails_and_is_told_in_full(name: str, line: str) -> None:
    built, cuts = shipped(name)
    planted = PLANTED[name]
    wrong = changed(cuts, planted, **{line: getattr(cuts.piece(planted), line) + 0.2})
    bad = [each for each in again(built, wrong) if max(each.error, each.worst) > CLOSES]
    assert [each.line for each in bad] == [line]
    assert worst(tuple(bad)) == pytest.approx(0.2, abs=1e-6)
    assert not bad[0].holds


def test_a_wrong_length_over_all_fails() -> None:
    built, cuts = shipped("bay")
    piece = cuts.piece("bay / rail / 2 straight")
    found = again(built, changed(cuts, piece.name, overall=piece.overall + 0.2))
    assert not any(each.holds for each in found)
    assert found[0].own == pytest.approx(0.2)
    assert worst(found) < 1e-9


@pytest.mark.parametrize("name", NAMES)
def test_a_wrong_hand_fails(name: str) -> None:
    built, cuts = shipped(name)
    piece = cuts.piece(PLANTED[name])
    found = again(built, changed(cuts, piece.name, room="left" if piece.room == "right" else "right"))
    mine = [each for each in found if (each.run, each.member) == (piece.run, piece.member)]
    assert not any(each.holds for each in mine)
    assert any("room on its" in problem for each in mine for problem in each.problems)


def test_the_ends_of_an_open_run_are_no_neighbors() -> None:
    """A first piece on the wrong hand is told of once, with the second; of a closed run with the last too."""
    steps = "{ straight = 300 }, { outside = 90 }, { straight = 400 }, { outside = 90 }, { straight = 300 }"
    told = "wall / strip / 1 straight has the room on its left, and wall / strip / 2 straight on its right"
    for ends, count in ((f"steps = [{steps}]", 1), (f"closed = true\nsteps = [{steps}, {{ outside = 90 }}, CLOSE]", 2)):
        close = "{ straight = 400 }, { outside = 90 }"
        built, cuts = listed(f'room = "right"\n{ends.replace("CLOSE", close)}')
        for found in again(built, changed(cuts, "wall / strip / 1 straight", room="left")):
            sides = [problem for problem in found.problems if "room on its" in problem]
            assert told in sides
            assert len(sides) == count


def test_a_wrong_hand_of_a_corner_or_a_curve_turns_the_run_away() -> None:
    """Not only told by what its neighbor says: the run itself ends elsewhere."""
    built, cuts = shipped("window-seat")
    for name in ("seat / base / 6 straight", "seat / base / 2 curve"):
        piece = cuts.piece(name)
        found = again(built, changed(cuts, name, room="left"))
        assert min(each.error for each in found) > 100, name
        assert piece.room == "right"


def test_a_wrong_corner_a_wrong_radius_and_a_wrong_pitch_fail() -> None:
    built, cuts = shipped("window-seat")
    curve = cuts.piece("seat / base / 2 curve")
    assert curve.bend is not None
    smaller = replace(curve.bend, radius_back=curve.bend.radius_back - 1)
    assert any(not each.holds for each in again(built, changed(cuts, curve.name, bend=smaller)))
    wraps = replace(curve.bend, wraps=False)
    assert min(each.error for each in again(built, changed(cuts, curve.name, bend=wraps))) > 10
    corner = cuts.piece("seat / base / 4 straight")
    assert corner.end.corner is not None
    off = replace(corner.end, corner=corner.end.corner + math.radians(0.1))
    (wall, *_) = again(built, changed(cuts, corner.name, end=off))
    assert wall.error > 1
    assert "0.1° on the corner" in wall.problems[0]
    built, cuts = shipped("stair-wall")
    rake = cuts.piece("cornice / cornice / 2 straight")
    found = again(built, changed(cuts, rake.name, pitch=rake.pitch + math.radians(0.1)))
    assert max(each.error for each in found) == pytest.approx(rake.back * math.radians(0.1), rel=1e-3)


def test_a_wrong_block_fails() -> None:
    built, cuts = shipped("hall")
    block = cuts.piece("hall / corner / 7 corner block")
    assert block.block is not None
    found = again(built, changed(cuts, block.name, block=replace(block.block, takes=block.block.takes + 0.2)))
    assert all(not each.holds for each in found)


def test_pieces_in_the_wrong_order_fail() -> None:
    built, cuts = shipped("window-seat")
    (order,) = cuts.orders
    swapped = (*order.names[:3], order.names[4], order.names[3], *order.names[5:])
    found = again(built, replace(cuts, orders=(replace(order, names=swapped),)))
    assert not any(each.holds for each in found)


RUNS = {
    "copes both ways": 'steps = [{ straight = 500 }, { inside = 80, joint = "cope" }, { straight = 400 }, '
    '{ inside = 100, joint = "cope", coped = "before" }, { straight = 300 }]',
    "self-returns": 'begin = "self-return"\nend = "self-return"\nsteps = [{ straight = 500 }]',
    "beveled ends": 'begin = "beveled"\nend = "beveled"\nsteps = [{ straight = 500 }, { inside = 80 }, '
    "{ straight = 400 }]",
    "beveled on a slope": 'end = "beveled"\nsteps = [{ straight = 500 }, { straight = 400, rise = 200 }]',
    "returns": 'begin = "return"\nend = "return"\nsteps = [{ straight = 500 }, { inside = 120 }, { straight = 400 }]',
    "curve to curve": "steps = [{ curve_left = 60, radius = 300 }, { right = 20 }, { curve_right = 50, radius = 400 }]",
    "raked round a corner": "steps = [{ straight = 500 }, { outside = 90 }, { straight = 600, rise = 300 }, "
    "{ outside = 90 }, { straight = 300 }]",
    "up and over": "steps = [{ straight = 500 }, { easement = 300 }, { straight = 800, rise = 400 }, "
    "{ easement = 300 }, { straight = 500, rise = -300 }]",
    "square to the slope": 'raked = "same"\nsteps = [{ straight = 500 }, { straight = 600, rise = 300 }, '
    "{ straight = 300 }]",
    "scarfs on a slope": "stock = 700\nsteps = [{ straight = 500 }, { inside = 90 }, { straight = 2000, rise = 700 }]",
    "splayed": "steps = [{ straight = 500 }, { outside = 90, turns = 4, facet = 30 }, { straight = 300 }]",
    "closed": "closed = true\nsteps = [{ straight = 500 }, { left = 90 }, { straight = 300 }, { left = 90 }, "
    "{ straight = 500 }, { left = 90 }, { straight = 300 }, { left = 90 }]",
}


@pytest.mark.parametrize("out", [0, 12])
@pytest.mark.parametrize("run", RUNS)
def test_other_runs_come_out_too(run: str, out: int) -> None:
    head = HEAD.replace('finish = "oak"\n', f'finish = "oak"\nout = {out}\n')
    built, cuts = listed(f'room = "right"\n{RUNS[run]}', head)
    found = again(built, cuts)
    assert all(each.holds for each in found), found
    assert worst(found) < 1e-6
    assert len(found) == (1 if run == "square to the slope" else 3)


def test_blocks_at_outside_corners_and_in_line() -> None:
    head = HEAD + (
        '[block.post]\nwidth = 60\nthickness = 30\nheight = 50\nfinish = "oak"\n'
        '[block.plinth]\nwidth = 80\nthickness = 30\nheight = 50\nfinish = "oak"\n'
    )
    built, cuts = listed(
        'room = "right"\nsteps = [{ straight = 300 }, { outside = 90, block = "post" }, { straight = 200 }, '
        '{ block = "plinth" }, { straight = 250 }, { inside = 90, block = "post" }, { straight = 100 }]',
        head,
    )
    assert all(each.holds for each in again(built, cuts)), again(built, cuts)
    assert [cuts.piece(name).kind for name in cuts.orders[0].names] == [
        "straight", "block", "straight", "block", "straight", "block", "straight",
    ]  # fmt: skip
    sizes = [piece.block for piece in cuts.pieces if piece.block]
    assert [size.at_corner for size in sizes if size] == [True, False, True]


CASING = """
title = "By hand"
units = "mm"
[profile.casing]
library = "ogee-casing"
[finish.oak]
color = "#b98d5a"
[member.casing]
profile = "casing"
up = 5
finish = "oak"
[block.rosette]
width = 100
thickness = 30
height = 100
finish = "oak"
[[run]]
name = "opening"
members = ["casing"]
"""


def test_a_casing_with_corner_blocks_that_stand_clear_of_the_corner() -> None:
    """The blocks stand back by the reveal, 5 mm, so the casing runs 5 mm past the corner of the opening."""
    text = CASING + (
        'on_wall = { origin = [0, 0, 0], along = 0 }\nroom = "left"\nheading = 90\nsteps = [{ straight = 2000 }, '
        '{ right = 90, block = "rosette" }, { straight = 800 }, { right = 90, block = "rosette" }, { straight = 2000 }]'
    )
    built = build(parse_scene(text, Path("opening.toml")))
    cuts = cut_list(built)
    assert all(each.holds for each in again(built, cuts)), again(built, cuts)
    molding = [piece for piece in cuts.pieces if piece.kind == "straight"]
    assert [piece.back for piece in molding] == pytest.approx([2005, 810, 2005])
    blocks = [piece.block for piece in cuts.pieces if piece.block]
    assert [block.takes for block in blocks if block] == pytest.approx([-5, -5])
    assert [(block.wide, block.high, block.out) for block in blocks if block] == [pytest.approx((100, 100, 30))] * 2


def test_a_casing_round_a_window() -> None:
    text = CASING + (
        'on_wall = { origin = [0, 0, 500], along = 90 }\nroom = "right"\nclosed = true\nsteps = [{ straight = 900 }, '
        "{ left = 90 }, { straight = 1200 }, { left = 90 }, { straight = 900 }, { left = 90 }, { straight = 1200 }, "
        "{ left = 90 }]"
    )
    built = build(parse_scene(text, Path("window.toml")))
    cuts = cut_list(built)
    assert all(each.holds for each in again(built, cuts))
    assert [group.count for group in cuts.groups] == [2, 2]
    assert [[end.at for end in piece.ends] for piece in cuts.pieces] == [["left", "right"], ["foot", "top"]] * 2
    assert [(piece.back, piece.face) for piece in cuts.pieces[:2]] == [
        pytest.approx((910, 910 + 2 * 82.55)),
        pytest.approx((1210, 1210 + 2 * 82.55)),
    ]


def test_a_walk_tells_both_hands_of_one_run() -> None:
    """The same walls walked the other way round: the same pieces, and they close as well."""

    def pieces(room: str, turn: str) -> list[CutPiece]:
        steps = f"steps = [{{ straight = 500 }}, {{ {turn} = 70 }}, {{ straight = 300 }}]"
        text = f'{HEAD}\n[[run]]\nname = "wall"\nmembers = ["strip"]\nroom = "{room}"\n{steps}'
        built = build(parse_scene(text, Path("wall.toml")))
        cuts = cut_list(built)
        assert all(each.holds for each in again(built, cuts))
        return list(cuts.pieces)

    one, other = pieces("left", "left"), pieces("right", "right")
    assert [piece.overall for piece in one] == pytest.approx([piece.overall for piece in other])
    assert [piece.end.at for piece in one] == ["left", "left"]
    assert [piece.end.at for piece in other] == ["right", "right"]


def as_built(line: MemberRun) -> Built:
    """No more of a build than a cut list asks for."""
    volumes = tuple(float(volume) for volume in exact_volumes(line.pieces))
    return Built(cast(Scene, None), (line,), (), line.pieces, (), (), volumes, "")


@share(0.4)
@given(joined())
def test_drawn_runs_come_out(line: MemberRun) -> None:
    found = reassembled(cut_list(as_built(line)), [line.run])
    assert all(each.holds for each in found), found
    assert worst(found) < 1e-6


@share(0.5)
@given(trade_runs(), profiles())
def test_drawn_runs_with_the_trade_s_joints_come_out(run: Run, profile: Profile) -> None:
    try:
        line = join(run, "member", profile)
    except PreviewError:
        assume(False)
        raise
    found = reassembled(cut_list(as_built(line)), [line.run])
    assert all(each.holds for each in found), found
    assert worst(found) < 1e-6
