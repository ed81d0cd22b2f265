"""Scenes written here, built and inspected, for the tests of joint drawings, raked profiles and the shop's report."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

import numpy as np

from preview.build import Built, build
from preview.checks import Inspection, inspect_bodies, read_glb
from preview.exports import Part, Report, glb_bytes, raked_profiles
from preview.scene import load_scene, parse_scene

SCENES = Path(__file__).parents[2] / "scenes"
TOP = """
title = "Pantry"
units = "mm"
[profile.base]
foot = 20
face = [{ fillet = 60 }, { ogee = 14, in = 10 }, { fillet = 6 }]
[member.base]
profile = "base"
"""
STAIR = """
[[run]]
name = "stair"
level = 850
end = "return"
steps = [{ straight = 900 }, { outside = 90 }, { straight = 1200, rise = 900 }]
"""


def inspected(built: Built) -> Inspection:
    """What is measured on a build's own GLB, written and read back."""
    parts = [Part(mesh, member.finish) for mesh, member in zip(built.meshes, built.members, strict=True)]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.glb"
        path.write_bytes(glb_bytes(built.scene.title, parts))
        bodies = read_glb(path)
    return inspect_bodies(bodies, built.pieces, built.joints, np.array(built.volumes), built.scene.chord)


@cache
def shipped(name: str) -> tuple[Built, Inspection]:
    """A scene that ships, by its file's name."""
    built = build(load_scene(SCENES / f"{name}.toml"))
    return built, inspected(built)


@cache
def written(run: str, top: str = TOP) -> tuple[Built, Inspection]:
    """A scene of one member, `base`, with the run or runs given as TOML."""
    built = build(parse_scene(top + run, Path("pantry.toml")))
    return built, inspected(built)


def reported(job: tuple[Built, Inspection]) -> Report:
    """The report on a job of which no file was written."""
    return Report(*job, solid_volumes=(), raked=raked_profiles(job[0], drawn=False))
