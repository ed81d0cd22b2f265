"""A base round one outside corner on a floor: the scene that stills are tried on."""

from __future__ import annotations

CORNER = """
title = "One corner"
units = "mm"

[profile.base]
foot = 20
face = [{ fillet = 80 }, { ovolo = 20, in = 20 }]

[finish.oak]
color = "#b98d5a"
kind = "clear"

[member.base]
profile = "base"

[[run]]
name = "wall"
members = ["base"]
start = [0, 0]
room = "right"
wall = 500
steps = [{ straight = 300 }, { right = 90 }, { straight = 200 }]

[[surrounding]]
name = "floor"
kind = "floor"
at = [-300, -600]
size = [900, 900]
"""
