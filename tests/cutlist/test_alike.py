"""Identical pieces together, and mirror images apart."""

from __future__ import annotations

import pytest

from preview.cutlist import Group
from shipped_lists import HEAD, listed, shipped


def groups(run: str, head: str = HEAD) -> list[Group]:
    return list(listed(f'room = "right"\n{run}', head)[1].groups)


def numbers(found: list[Group]) -> list[list[str]]:
    return [[name.split(" / ")[-1].split()[0] for name in group.names] for group in found]


def test_the_four_sides_of_a_column() -> None:
    _, cuts = shipped("column")
    assert [(group.count, group.own_mirror) for group in cuts.groups] == [
        (4, "its two ends are alike"),
        (4, "its two ends are alike"),
    ]


def test_a_mirror_image_is_another_piece() -> None:
    """A door's two legs; the two halves of the window seat."""
    _, cuts = shipped("door-casing")
    left, head, right, plinths, base = cuts.groups
    assert (left.count, left.mirror_of, left.own_mirror) == (1, right.number, "")
    assert right.mirror_of == left.number
    assert head.own_mirror == "its two ends are alike"
    assert (plinths.count, base.count) == (2, 2)
    _, cuts = shipped("window-seat")
    pairs = {group.names[0]: cuts.groups[group.mirror_of - 1].names[0] for group in cuts.groups if group.mirror_of}
    assert pairs == {
        "seat / base / 3 straight": "seat / base / 9 straight",
        "seat / base / 9 straight": "seat / base / 3 straight",
        "seat / base / 5 straight": "seat / base / 7 straight",
        "seat / base / 7 straight": "seat / base / 5 straight",
    }


CHEVRON = HEAD.replace("face = [{ fillet = 40 }]", "face = [{ bevel = 20, in = 8 }, { bevel = 20, out = 8 }]")
"""The same upside down, unlike the next."""
BASE = HEAD.replace("face = [{ fillet = 40 }]", "face = [{ fillet = 30 }, { bevel = 10, in = 8 }]")
STEPPED = (
    "steps = [{ straight = 200 }, { inside = 90 }, { straight = 100 }, { outside = 90 }, { straight = 300 }, "
    "{ outside = 90 }, { straight = 100 }, { inside = 90 }, { straight = 200 }]"
)


def test_a_section_that_can_be_turned_over_makes_the_two_hands_one_piece() -> None:
    plain, over = groups(STEPPED, BASE), groups(STEPPED, CHEVRON)
    assert numbers(plain) == [["1"], ["2"], ["3"], ["4"], ["5"]]
    assert [group.mirror_of for group in plain] == [5, 4, None, 2, 1]
    assert numbers(over) == [["1", "5"], ["2", "4"], ["3"]]
    assert [group.own_mirror for group in over] == [
        "its section is the same upside down",
        "its section is the same upside down",
        "its two ends are alike",
    ]
    assert [group.mirror_of for group in over] == [None, None, None]


def test_a_hair_of_length_or_of_a_corner_sets_pieces_apart() -> None:
    same = (
        "steps = [{ straight = 200 }, { outside = 90 }, { straight = 300 }, { outside = 90 }, { straight = 300.0 }, "
        "{ outside = 90 }, { straight = 200 }]"
    )
    assert numbers(groups(same, BASE)) == [["1"], ["2", "3"], ["4"]]
    longer = same.replace("300.0 }", "300.00001 }")
    assert numbers(groups(longer, BASE)) == [["1"], ["2"], ["3"], ["4"]]
    off = same.replace("outside = 90 }, { straight = 200 }]", "outside = 90.01 }, { straight = 200 }]")
    assert numbers(groups(off, BASE)) == [["1"], ["2"], ["3"], ["4"]]


def test_pieces_of_two_runs_at_two_heights_are_one_group() -> None:
    head = BASE + (
        '[[run]]\nname = "other"\nmembers = ["strip"]\nroom = "left"\nstart = [0, 5000]\nlevel = 900\n'
        "steps = [{ straight = 200 }, { inside = 90 }, { straight = 300 }]\n"
    )
    found = groups("steps = [{ straight = 300 }, { inside = 90 }, { straight = 200 }]", head)
    assert sorted(len(group.names) for group in found) == [2, 2]


def test_an_easement_up_is_not_one_over() -> None:
    _, cuts = shipped("stair-wall")
    easements = [group for group in cuts.groups if "easement" in group.names[0]]
    assert [(group.count, group.mirror_of) for group in easements] == [(1, None), (1, None)]


def test_slopes_that_climb_to_the_left_and_to_the_right_are_mirror_images() -> None:
    found = groups(
        "steps = [{ straight = 500, rise = 200 }, { straight = 300 }, { straight = 500, rise = -200 }]", BASE
    )
    assert [group.mirror_of for group in found] == [3, None, 1]


def test_an_end_that_leans_is_no_square_end() -> None:
    """Halfway up, a level of 300 mm with a miter in elevation is as long as one of 300 cut square: 20 mm either way."""
    climb = (
        'raked = "same"\nsteps = [{ straight = 300 }, { straight = 400, rise = 300 }, { straight = 300 }, '
        "{ straight = 400, rise = -300 }]"
    )
    flat = (
        '[[run]]\nname = "other"\nmembers = ["strip"]\nroom = "left"\nstart = [0, 5000]\n'
        "steps = [{ straight = LONG }]\n"
    )
    for half in (-1.0, 1.0):
        # The section is 40 high: at 20 mm up the miter stands 20 tan(pitch / 2) = 20/3 back.
        found = groups(climb, BASE + flat.replace("LONG", f"{300 + half * 20 / 3!r}"))
        level = next(group for group in found if group.names[0].startswith("wall / strip / 1 "))
        assert level.count == 1
        assert level.own_mirror == ""


@pytest.mark.parametrize("first", [True, False])
def test_coped_pieces_are_alike_where_their_other_ends_are(first: bool) -> None:
    """Three walls with a cope and 300 mm to the next end: square, square, and a miter in elevation halfway as long."""
    steps = ["{ straight = 400 }", '{ inside = 90, joint = "cope" }', "{ straight = LONG }"]
    climb = "{ straight = 400, rise = 300 }"
    if not first:
        steps = [step.replace('"cope"', '"cope", coped = "before"') for step in reversed(steps)]
        climb = climb.replace("300", "-300")
    level, stair = ", ".join(steps), ", ".join([*steps, climb] if first else [climb, *steps])
    head = BASE
    for y, run, long in ((5000, level, 300.0), (10000, stair, 300 + 20 / 3)):
        head += f'[[run]]\nname = "at {y}"\nmembers = ["strip"]\nroom = "right"\nstart = [0, {y}]\nraked = "same"\n'
        head += f"steps = [{run}]\n".replace("LONG", repr(long))
    found = groups(f"steps = [{level}]".replace("LONG", "300.0"), head)
    wanted = "wall / strip / 2 " if first else "wall / strip / 1 "
    (coped,) = (group for group in found if any(name.startswith(wanted) for name in group.names))
    assert len(coped.names) == 2
    assert sum(len(group.names) for group in found) == 7


def test_a_leaning_end_turned_over_leans_the_other_way() -> None:
    """Level, up at 3 in 4, level: upside down and end for end the first is the last, where the section allows it.

    Halfway up 40 mm the first miter takes 20/3 from 300, and the last gives as much.
    """
    steps = f"{{ straight = 300 }}, {{ straight = 400, rise = 300 }}, {{ straight = {300 - 40 / 3!r} }}"
    assert numbers(groups(f'raked = "same"\nsteps = [{steps}]', CHEVRON)) == [["1", "3"], ["2"]]
    assert numbers(groups(f'raked = "same"\nsteps = [{steps}]', BASE)) == [["1"], ["2"], ["3"]]
    # One that goes down again at its end leans to the other side.
    over = steps.replace("rise = 300", "rise = -300")
    assert numbers(groups(f'raked = "same"\nsteps = [{over}]', CHEVRON)) == [["1"], ["2"], ["3"]]
