"""A small scene for tests, put together from parts."""

from __future__ import annotations

from pathlib import Path

from preview.scene import RunInScene, Scene, parse_scene

TOP = 'title = "Pantry"\nunits = "in"\n'
PROFILE = "[profile.base]\nfoot = 1\nface = [{ fillet = 4 }]\n"
MEMBER = '[member.base]\nprofile = "base"\n'
RUN = '[[run]]\nname = "north wall"\n'


def scene(
    run: str = "steps = [{ straight = 60 }]",
    *,
    top: str = TOP,
    profile: str = PROFILE,
    member: str = MEMBER,
    more: str = "",
    path: Path = Path("pantry.toml"),
) -> Scene:
    """The scene of one run, whose keys beyond its name are given."""
    return parse_scene("\n".join([top, profile, member, more, RUN + run]), path)


def only_run(run: str, *, top: str = TOP) -> RunInScene:
    return scene(run, top=top).runs[0]
