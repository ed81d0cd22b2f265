"""Jobs for the bench, built once; and a small room whose every number can be followed by hand."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from preview.build import build
from preview.cutlist import ShopJob, shop_job
from preview.drafting import piece_tags
from preview.scene import load_scene, parse_scene

SCENES = Path(__file__).parents[2] / "scenes"

HEAD = """
title = "Small room"
units = "mm"
[profile.strip]
foot = 20
face = [{ fillet = 40 }]
[member.strip]
profile = "strip"
"""
"""A square-edged strip that stands 20 mm out and 40 mm high."""
SHOP = """
[shop]
kerf = 3
trim = 10
rounding = 0.5
sticks = [{ length = "2.5 m", price = 9.5 }]
[shop.prices]
currency = "EUR"
board_foot = 6
running_foot = 2
setup = 50
"""
ROOM = """
[[run]]
name = "wall"
members = ["strip"]
room = "right"
start = [0, 0]
heading = 0
end = "return"
steps = [{ straight = 1000 }, { outside = 90 }, { straight = 500 }, { inside = 90 }, { straight = 800 }]
"""
"""Four pieces, numbered along the wall from the left: 1 to 3, and the return, 4.

                                       long points, by hand
    1: back 1000, face 1000 + 20       overall 1020
    2: back 500, face 500 + 20 - 20    overall 520: its face begins 20 before its back and ends 20 before it
    3: back 800, face 800 - 20 + 20    overall 820
    4: back 0, face 20                 overall 20

One stick of 2500 less 10 at each end holds 2480. The pieces take 2380, and four cuts 12: 88 are left.
"""
CLIMBING = """
[[run]]
name = "stair"
members = ["strip"]
room = "{room}"
start = [0, 0]
heading = 0
steps = [{{ straight = 400 }}, {{ easement = 500 }}, {{ straight = 900, rise = 600 }}]
"""


OFF_TANGENT = """
[[run]]
name = "round"
members = ["strip"]
room = "{room}"
start = [0, 0]
heading = 0
steps = [{{ straight = 600 }}, {{ left = 24 }}, {{ curve_left = 60, radius = 900 }}, {{ straight = 400 }}]
"""


def job_of(text: str, name: str = "small.toml") -> ShopJob:
    """A scene given as TOML, as the shop has it."""
    return shop_job(build(parse_scene(text, SCENES / name)))


@cache
def small() -> ShopJob:
    """The small room."""
    return job_of(HEAD + SHOP + ROOM)


@cache
def climbing(room: str) -> ShopJob:
    """A wall that climbs 2 in 3 along the travel, the molding on its left or its right."""
    return job_of(HEAD + CLIMBING.format(room=room))


@cache
def off_tangent(room: str) -> ShopJob:
    """A curve whose ends differ: one meets a straight in a curved miter, the other runs smoothly into one."""
    return job_of(HEAD + OFF_TANGENT.format(room=room))


@cache
def shipped(name: str) -> ShopJob:
    """A shipped scene."""
    return shop_job(build(load_scene(SCENES / f"{name}.toml")))


def tags_of(job: ShopJob) -> dict[str, str]:
    """The numbers of its pieces in the drawings, by name."""
    names = (piece.name for piece in job.built.pieces)
    return dict(zip(names, piece_tags(job.built), strict=True))
