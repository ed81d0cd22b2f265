"""How a piece curves or climbs, in words: as one sees it who stands in the room and faces the wall."""

from __future__ import annotations

import math

import pytest

from preview.cutlist import bend_words
from shipped_lists import listed


def words(room: str, steps: str) -> list[str]:
    return [bend_words(piece) for piece in listed(f'room = "{room}"\nsteps = [{steps}]')[1].pieces]


def test_up_a_stair_and_over_at_its_top() -> None:
    """The walk is along +x. With the room on its left one faces -y, and +x is to the left; else to the right."""
    stair = (
        "{ straight = 400 }, { easement = 200 }, { straight = 500, rise = 300 }, { easement = 200 }, { straight = 400 }"
    )
    pitch = f"{math.degrees(math.atan(0.6)):.2f}°"
    assert words("right", stair) == [
        "",
        f"turns up, level at its left end and climbing {pitch} at its right",
        f"climbs to the right at {pitch}",
        f"turns over, climbing {pitch} at its left end and level at its right",
        "",
    ]
    assert words("left", stair) == [
        "",
        f"turns up, falling {pitch} at its left end and level at its right",
        f"climbs to the left at {pitch}",
        f"turns over, level at its left end and falling {pitch} at its right",
        "",
    ]


@pytest.mark.parametrize("room", ["left", "right"])
def test_a_level_return_of_a_raked_molding(room: str) -> None:
    """Round two outside square corners its section is sheared by twice the slope of 1 in 4: atan(1/2)."""
    steps = "{ straight = 400 }, { outside = 90 }, { straight = 400, rise = 100 }, { outside = 90 }, { straight = 300 }"
    climbs = "left" if room == "left" else "right"
    assert words(room, steps) == ["", f"climbs to the {climbs} at 14.04°", "its section raked by 26.57°"]


def test_curves() -> None:
    steps = "{ straight = 400 }, { curve_left = 60, radius = 300 }, { curve_right = 45, radius = 200 }"
    inside, outside = "lines the inside of a curve through", "wraps the outside of a curve through"
    assert words("left", steps) == ["", f"{inside} 60°", f"{outside} 45°"]
    assert words("right", steps) == ["", f"{outside} 60°", f"{inside} 45°"]
