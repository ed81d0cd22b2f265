"""Versions of a small scene, changed in one place each, and built."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from preview.build import Built, build
from preview.scene import parse_scene

SCENES = Path(__file__).parents[2] / "scenes"
OPTION = re.compile(r"^\[\[option\]\]\n(?:(?!\[).*\n?)*", re.M)
SEAT = OPTION.sub("", (SCENES / "window-seat.toml").read_text("utf-8"))
"""The window seat as drawn, without its options.

Two turned outside corners (radius 2 in) at its ends, six miters between; eleven pieces.
"""
CURVE = "{ curve_left = 90, radius = 2 }"
MITERED = (
    ("{ straight = 14 }", "{ straight = 16 }"),
    (CURVE, "{ left = 90 }"),
    ("{ straight = 6 }", "{ straight = 8 }"),
)


@cache
def built(text: str) -> Built:
    """A scene's text, built as if it stood among the scenes that ship."""
    return build(parse_scene(text, SCENES / "seat.toml"))


def seat(*changes: tuple[str, str], text: str = SEAT) -> Built:
    """The window seat with some of its text replaced, wherever it stands."""
    for old, new in changes:
        assert old in text, f"{old!r} is not in the scene"
        text = text.replace(old, new)
    return built(text)


SMALL = """
title = "Small"
units = "mm"
[profile.strip]
foot = 20
face = [{ fillet = 60 }]
[profile.bead]
foot = 20
face = [{ fillet = 50 }, { ovolo = 10, in = 10 }]
[finish.white]
color = "#ffffff"
[finish.oak]
color = "#aa8855"
[member.strip]
profile = "PROFILE"
finish = "FINISH"
[[run]]
name = "wall"
room = "ROOM"
level = LEVEL
start = START
steps = [STEPS]
"""


def small(
    steps: str,
    profile: str = "strip",
    finish: str = "white",
    room: str = "left",
    level: str = "0",
    start: str = "[0, 0]",
) -> str:
    """The text of a scene of one run, in millimeters."""
    text = SMALL
    for mark, value in (
        ("PROFILE", profile),
        ("FINISH", finish),
        ("ROOM", room),
        ("LEVEL", level),
        ("START", start),
        ("STEPS", steps),
    ):
        text = text.replace(mark, value)
    return text
