"""The shipped scenes with their cut lists, built once; and small scenes whose every number can be followed by hand."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from preview.build import Built, build
from preview.cutlist import CutList, cut_list
from preview.scene import load_scene, parse_scene

SCENES = sorted((Path(__file__).parents[2] / "scenes").glob("*.toml"))
NAMES = [path.stem for path in SCENES]

HEAD = """
title = "By hand"
units = "mm"
[profile.strip]
foot = 20
face = [{ fillet = 40 }]
[finish.oak]
color = "#b98d5a"
[member.strip]
profile = "strip"
finish = "oak"
"""
"""A square-edged strip that stands 20 mm out and 40 mm high."""


@cache
def shipped(name: str) -> tuple[Built, CutList]:
    """A shipped scene, built, and its cut list."""
    (path,) = (path for path in SCENES if path.stem == name)
    built = build(load_scene(path))
    return built, cut_list(built)


def listed(run: str, head: str = HEAD) -> tuple[Built, CutList]:
    """A scene of one run, given as TOML without its header and its name, and its cut list."""
    text = f'{head}\n[[run]]\nname = "wall"\nmembers = ["strip"]\n{run}'
    built = build(parse_scene(text, Path("by-hand.toml")))
    return built, cut_list(built)
