"""Strips of wall that members leave open between them, by hand."""

from __future__ import annotations

from preview.profiles import Strip, open_strips
from samples import block


def at(up: float, high: float, out: float = 0.0):
    return block(20.0, high).moved(out, up)


def test_strips_from_the_lowest_up() -> None:
    """Two gaps of 2 mm, whatever the order of the members; one that hides behind a taller one is none's neighbor."""
    members = [("cap", at(64.0, 10.0)), ("base", at(0.0, 50.0)), ("bead", at(52.0, 10.0)), ("shoe", at(0.0, 12.0))]
    assert open_strips(members) == (Strip("base", "bead", 2.0), Strip("bead", "cap", 2.0))


def test_what_touches_and_what_is_meant_to_stand_apart() -> None:
    """0.05 mm bear on each other; 75 mm and more are a base and a rail."""
    assert open_strips([("base", at(0.0, 50.0)), ("cap", at(50.04, 10.0))]) == ()
    assert open_strips([("base", at(0.0, 50.0)), ("rail", at(125.0, 10.0))]) == ()
    (strip,) = open_strips([("base", at(0.0, 50.0)), ("rail", at(124.0, 10.0))])
    assert (strip.below, strip.above, strip.width) == ("base", "rail", 74.0)
    assert open_strips([]) == ()
    assert open_strips([("base", at(0.0, 50.0))]) == ()


def test_across_a_wall_they_run_between_projections() -> None:
    members = [("board", at(0.0, 10.0)), ("band", at(0.0, 10.0, 23.0))]
    assert open_strips(members) == ()
    assert open_strips(members, across=True) == (Strip("board", "band", 3.0),)
