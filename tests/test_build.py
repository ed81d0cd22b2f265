"""The waist: what the digest covers, what is worth a remark."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from preview.build import Built, build, refinished
from preview.errors import PreviewError
from preview.scene import parse_scene

SCENE = """
title = "A wall"
units = "in"
[profile.board]
foot = "3/4"
face = [{ fillet = 3 }, { bevel = 1, in = "1/2" }]
[finish.oak]
color = "#b98d5a"
[member.base]
profile = "board"
finish = "oak"
out = 0
[[run]]
name = "north"
room = "left"
heading = 0
level = 0
steps = [{ straight = 40 }, { left = 90 }, { straight = 30 }]
"""


def built() -> Built:
    return build(parse_scene(SCENE, Path("wall.toml")))


CHANGES = {
    "heading": ("heading = 0", "heading = 90"),
    "length": ("straight = 40", "straight = 40.001"),
    "corner": ("left = 90", "left = 89.9"),
    "level": ("level = 0", "level = 1"),
    "room": ('room = "left"', 'room = "right"'),
    "profile": ('in = "1/2"', 'in = "5/8"'),
    "projection": ("out = 0", 'out = "1/16"'),
    "color": ("#b98d5a", "#b98d5b"),
    "kind of finish": ('color = "#b98d5a"', 'color = "#b98d5a"\nkind = "metal"'),
    "metallic": ('color = "#b98d5a"', 'color = "#b98d5a"\nmetallic = 1'),
    "roughness": ('color = "#b98d5a"', 'color = "#b98d5a"\nroughness = 0.9'),
    "name": ('name = "north"', 'name = "south"'),
}


WHICH = ("before", "after")


def changed(old: str, new: str) -> Built:
    assert SCENE.count(old) == 1
    return build(parse_scene(SCENE.replace(old, new), Path("wall.toml")))


@pytest.mark.parametrize("what", CHANGES)
def test_whatever_is_seen_or_cut_changes_the_digest(what: str) -> None:
    assert changed(*CHANGES[what]).digest != built().digest


def test_which_piece_is_coped_changes_the_digest() -> None:
    before, after = (changed("{ left = 90 }", f'{{ inside = 90, joint = "cope", coped = "{w}" }}') for w in WHICH)
    assert before.digest != after.digest


def test_what_is_neither_seen_nor_cut_leaves_the_digest() -> None:
    for old, new in (('title = "A wall"', 'title = "The wall"'), ('units = "in"', 'units = "in"\nchord = "1 mm"')):
        assert changed(old, new).digest == built().digest


def test_a_member_that_reaches_into_the_wall_is_told_and_one_inside_it_refused() -> None:
    assert changed("out = 0", 'out = "-1/4"').remarks == ('member "base" reaches 1/4" behind the wall line',)
    assert built().remarks == ()
    with pytest.raises(PreviewError) as caught:
        changed("out = 0", 'out = "-3/4"')
    assert "the member lies wholly inside the wall" in str(caught.value)


def test_ends_that_come_close_are_told() -> None:
    second = (
        '[[run]]\nname = "east"\nheading = 180\nroom = "right"\nstart = ["80 1/16", 0]\nsteps = [{ straight = 40 }]\n'
    )
    scene = SCENE.replace(", { left = 90 }, { straight = 30 }", "") + second
    (remark,) = build(parse_scene(scene, Path("wall.toml"))).remarks
    assert 'come within 1/16" of each other and were not checked as a joint: a gap is left between them' in remark
    met = build(parse_scene(scene.replace("80 1/16", "80"), Path("wall.toml")))
    assert met.remarks == ()
    assert [pair.joint.kind for pair in met.joints].count("butt") == 1


def test_a_scene_in_other_finishes_is_not_built_twice() -> None:
    """What is taken over from the first build equals, value for value, what a build of its own gives."""
    first = built()
    for what in ("linen", "oak"):
        scene = parse_scene(SCENE, Path("wall.toml"))
        member = scene.members[0]
        other = replace(member, finish=replace(member.finish, name=what, roughness=0.9))
        scene = replace(scene, members=(other, *scene.members[1:]))
        again, own = refinished(first, scene), build(scene)
        assert again is not None
        assert again.digest == own.digest != first.digest
        assert (again.scene, again.members, again.lines) == (own.scene, own.members, own.lines)


def test_a_scene_that_differs_in_more_than_finishes_is_built() -> None:
    first = built()
    scene = parse_scene(SCENE.replace("{ left = 90 }", "{ left = 89 }"), Path("wall.toml"))
    assert refinished(first, scene) is None


def test_a_member_that_bears_on_nothing_is_told() -> None:
    """A strip 1/2 in thick on the face of a board 3/4 in thick, and the same strip moved 1/4 in off it."""
    second = SCENE.replace(
        "[member.base]",
        '[profile.strip]\nfoot = "1/2"\nface = [{ fillet = 1 }]\n'
        '[member.strip]\nprofile = "strip"\nout = "3/4"\n[member.base]',
    ).replace('name = "north"', 'name = "north"\nmembers = ["base", "strip"]')
    assert build(parse_scene(second, Path("wall.toml"))).remarks == ()
    off = build(parse_scene(second.replace('out = "3/4"', "out = 1"), Path("wall.toml"))).remarks
    assert off == ('member "strip" bears on nothing: it stands 1" off the wall and 1/4" off member "base"',)
