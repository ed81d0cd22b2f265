"""The starter scene works as it stands and shows every key there is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from preview.joinery import join
from preview.profiles import SHAPES
from preview.scene import (
    STARTER,
    brand,
    chosen,
    kinds,
    looks,
    making,
    option,
    parse_scene,
    profile,
    read,
    run,
    shop,
    steps,
    title,
    viewpoint,
)


def test_it_loads_lays_out_and_joins() -> None:
    made = parse_scene(STARTER, Path("new.toml"))
    (placed,) = made.runs
    assert placed.members == ("base", "shoe")
    elements = placed.run.elements
    assert [element.curvature != 0 for element in elements] == [False] * 5 + [True, False]
    turns = [round(turn, 4) for turn in placed.run.turns]
    assert turns == [0, 1.5708, -1.5708, -1.5708, 1.5621, 0, 0]  # inside, outside, outside, inside at 90.5
    for name in placed.members:
        line = join(placed.run, name, made.member(name).profile, unit=made.units)
        assert len(line.pieces) == len(elements)
    assert [each.kind for each in made.surroundings] == ["floor", "box"]
    breast = made.surroundings[1]
    assert elements[1].start == breast.at  # the box stands where the second wall starts
    assert elements[3].start[1] == breast.at[1] + breast.size[1]


def test_the_comments_on_other_ways_work_too() -> None:
    """Each `# key = value` line of the starter, uncommented where it belongs."""
    text = STARTER.replace('library = "cove-and-bead-base"', 'file = "profiles/our-base.toml"')
    with pytest.raises(Exception, match="there is no such profile file"):
        parse_scene(text, Path("nowhere/new.toml"))
    points = re.search(r"# (points = .*)", STARTER)
    assert points
    text = re.sub(r"start = .*\nheading = .*\n", "", STARTER)
    text = re.sub(r"(?s)\nsteps = \[.*?\n\]\n", f"\n{points[1]}\n", text)
    assert len(parse_scene(text, Path("new.toml")).runs[0].run.elements) == 3
    column = re.search(r"(# \[\[surrounding\]\]\n(?:# .*\n)+)", STARTER)
    assert column
    more = re.sub(r"(?m)^# ", "", column[1])
    assert parse_scene(STARTER + more, Path("new.toml")).surroundings[2].kind == "column"


def test_the_comments_on_the_shop_work_too() -> None:
    text = STARTER[STARTER.index("# [shop]") :]
    shop = text[: text.index("\n\n")]
    made = parse_scene(STARTER + "\n" + re.sub(r"(?m)^# ", "", shop), Path("new.toml")).shop
    assert [round(stick.length / 304.8) for stick in made.sticks] == [16, 12]
    assert (made.sticks[1].have, made.defects, made.turning.method) == (4, 0.05, "turned")
    assert made.prices is not None
    assert made.prices.wood("shoe") == 4.2


def test_the_comments_on_options_work_too() -> None:
    found = re.search(r"(?s)\n(# \[\[option\]\]\n.*?)\n# Of a run with curves: (\{.*?\})", STARTER)
    assert found
    made = parse_scene(STARTER + re.sub(r"(?m)^# ", "", found[1]), Path("new.toml"))
    assert [each.name for each in made.choices] == ["shoe", "depth", "finish"]
    assert len(made.variants) == 8
    assert chosen(made, ["without a shoe"]).runs[0].members == ("base",)
    mitered = found[2].replace("hall", "fireplace wall")
    made = parse_scene(STARTER + f'[[option]]\nname = "mitered"\nchanges = [{mitered}]\n', Path("new.toml"))
    assert [each.curvature for each in made.variants[1].scene.runs[0].run.elements] == [0] * 6


def test_the_comments_on_the_job_and_on_pictures_work_too() -> None:
    job, pictures = (
        re.search(r"\n((?:# .*\n)+?)\n", STARTER[STARTER.index("# [job]") - 1 :]),
        STARTER.index("# [[picture]]"),
    )
    assert job
    text = STARTER[:pictures].replace(job[1], re.sub(r"(?m)^# ", "", job[1]))
    made = parse_scene(text + re.sub(r"(?m)^# ", "", STARTER[pictures:]), Path("new.toml"))
    assert all(getattr(made.job, key) for key in title.KEYS)
    assert [each.view for each in made.pictures] == [None, "corner", "whole"]
    assert parse_scene(STARTER, Path("new.toml")).pictures == ()


def test_every_key_and_word_is_shown() -> None:
    keys = {*read.KEYS, *run.KEYS, *profile.SKETCH, *profile.SOURCES, *profile.CUT, *steps.VERBS, *SHAPES}
    keys |= {*option.KEYS, *option.BENDS, "step", *title.KEYS, *viewpoint.KEYS, *brand.KEYS}
    keys |= {*shop.KEYS, *shop.TURNING, *shop.PRICES, *shop.STICK}
    keys |= {
        "profile",
        "out",
        "up",
        "finish",
        "color",
        "roughness",
        "metallic",
        "kind",
        "joint",
        "radius",
        "in",
    }
    keys |= {key for each in looks.KEYS.values() for key in each}
    words = {
        *kinds.UNITS,
        *looks.FINISH_KINDS,
        *looks.SURROUNDING_KINDS,
        *making.ENDS,
        *making.RAKED,
        *steps.COPED,
        *run.SIDES,
        *steps.JOINTS,
        *option.CURVES,
        *title.PAPERS,
        *viewpoint.HEIGHTS,
        *viewpoint.VIEWS,
    }
    for key in keys:
        assert re.search(rf"(?<![\w-]){key}(?![\w-])", STARTER), key
    for word in words:
        assert f'"{word}"' in STARTER or word == "right", word
