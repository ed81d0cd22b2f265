"""The order in which pieces go up, on jobs small enough to order by hand. The rules are common practice."""

from __future__ import annotations

from pathlib import Path

import pytest

from preview.build import Built, build
from preview.cutlist import REASONS, Step, install_order
from preview.scene import load_scene, parse_scene

SCENES = Path(__file__).parents[2] / "scenes"
ROOM = """
title = "Store room"
units = "in"
[profile.base]
library = "ogee-base"
[member.base]
profile = "base"
[[run]]
name = "room"
members = ["base"]
room = "left"
start = [0, 0]
heading = 0
"""


def room(steps: str, more: str = "") -> Built:
    return build(parse_scene(f"{ROOM}{more}\nsteps = [{steps}]\n", SCENES / "room.toml"))


def acts(built: Built) -> list[tuple[list[int], list[int], list[int]]]:
    """For each step the numbers, from 1, of the pieces that go up, of those they are fitted to, of those that wait."""
    return [
        (
            [1 + number for number in step.pieces],
            [1 + rule.first for rule in step.fitted],
            [1 + rule.first for rule in step.loose],
        )
        for step in install_order(built)
    ]


def test_a_coped_end_goes_up_after_the_piece_it_is_fitted_to() -> None:
    before = room('{ straight = 40 }, { left = 90, joint = "cope", coped = "before" }, { straight = 40 }')
    after = room('{ straight = 40 }, { left = 90, joint = "cope", coped = "after" }, { straight = 40 }')
    assert acts(before) == [([2], [], []), ([1], [2], [])]
    assert acts(after) == [([1], [], []), ([2], [1], [])]


def test_miters_alone_keep_the_order_of_travel() -> None:
    built = room("{ straight = 40 }, { left = 90 }, { straight = 40 }, { right = 90 }, { straight = 9 }")
    assert acts(built) == [([1], [], []), ([2], [], []), ([3], [], [])]


def test_copes_all_round_a_closed_room_leave_one_end_loose() -> None:
    side = '{ straight = 40 }, { left = 90, joint = "cope", coped = "after" }'
    built = room(", ".join([side] * 4), "closed = true")
    # The first piece is fitted to the last: that end waits for it.
    assert acts(built) == [([1], [], [4]), ([2], [1], []), ([3], [2], []), ([4], [3], [])]


def test_curves_go_before_the_straights_beside_them_and_returns_with_their_piece() -> None:
    built = room(
        "{ straight = 20 }, { curve_right = 90, radius = 3 }, { straight = 20 }", 'begin = "return"\nend = "return"'
    )
    names = [piece.name.rsplit(" / ", 1)[1] for piece in built.pieces]
    steps = install_order(built)
    told = [sorted(names[number] for number in step.pieces) for step in steps]
    assert told == [["2 curve"], ["1 straight", "begin return"], ["3 straight", "end return"]]
    assert [rule.rule for step in steps for rule in step.fitted] == ["curve", "curve"]


@pytest.mark.parametrize("path", sorted(SCENES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_piece_goes_up_once_and_only_after_what_it_is_fitted_to(path: Path) -> None:
    steps: tuple[Step, ...] = install_order(built := build(load_scene(path)))
    assert sorted(number for step in steps for number in step.pieces) == list(range(len(built.pieces)))
    there: set[int] = set()
    for step in steps:
        assert {rule.first for rule in step.fitted} <= there
        assert not {rule.first for rule in step.loose} & there
        assert {rule.rule for rule in (*step.fitted, *step.loose)} <= REASONS.keys()
        there.update(step.pieces)
