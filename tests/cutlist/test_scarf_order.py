"""At a scarf the piece that lies underneath goes up first (common practice)."""

from __future__ import annotations

from pathlib import Path

import pytest

from preview.build import build
from preview.cutlist import install_order
from preview.scene import parse_scene

ROOM = """
title = "Long wall"
units = "in"
[profile.base]
library = "ogee-base"
[member.base]
profile = "base"
[[run]]
name = "wall"
members = ["base"]
room = "left"
stock = "12'"
scarf = { angle = ANGLE, from_corner = 24 }
steps = [{ straight = 200 }]
"""


@pytest.mark.parametrize("angle", [45, 30])
def test_the_piece_underneath_goes_up_first(angle: int) -> None:
    """The cut runs on along the run as it comes out from the wall, so the first piece lies over the second."""
    built = build(parse_scene(ROOM.replace("ANGLE", str(angle)), Path("long-wall.toml")))
    over, under = built.pieces
    assert over.end.slant > 0.0
    first, then = install_order(built)
    assert [built.pieces[i] for i in (*first.pieces, *then.pieces)] == [under, over]
    assert [(rule.rule, built.pieces[rule.first]) for rule in then.fitted] == [("scarf", under)]
