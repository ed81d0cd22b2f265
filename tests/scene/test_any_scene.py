"""Whatever stands in the file, the answer is a scene or a PreviewError that says what to do."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.scene import STARTER, Scene, block, load_profile, looks, option, parse_scene, run, shop, title, viewpoint
from scene_sample import MEMBER, PROFILE, RUN, TOP

SAID = """
title units chord profile finish member run surrounding file library foot face wall ceiling fillet bead cove
ovolo ogee scotia in out radius color roughness metallic kind name members room start heading level begin end
closed steps points straight left right inside outside curve_left curve_right joint at size bottom top turn up
rake rise pitch easement turns facet coped block raked stock scarf angle from_corner on_wall origin along width
thickness height lap mm ft square return self-return butt miter cope before after derived same
option choice says changes curves step north wall
job client place number date notes includes brand paper a4 picture eye target across corner height view whole end
paint floor box column base linen #f4f1ea ../x.toml 3/8 5'3-1/2 90 true x
"""
WORDS = SAID.split()
BLOCK = "[block.plinth]\nwidth = 4\nthickness = 1\nheight = 7\n"
KEYS = st.sampled_from(WORDS) | st.text(max_size=8)
LEAVES = (
    st.booleans()
    | st.integers()
    | st.integers(0, 90)
    | st.floats()
    | st.sampled_from(WORDS)
    | st.text(max_size=12)
    | st.dates()
)
VALUES = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(KEYS, inner, max_size=4),
    max_leaves=12,
)


def toml(value: object) -> str:
    """A value as TOML text, by the grammar's rules for basic strings, floats, arrays and inline tables."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        odd = {c for c in value if not c.isalnum() or not c.isascii()}
        return '"' + "".join(f"\\U{ord(c):08X}" if c in odd else c for c in value) + '"'
    if isinstance(value, list):
        return "[" + ", ".join(toml(each) for each in value) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{toml(key)} = {toml(each)}" for key, each in value.items()) + "}"
    return str(value)


def answer(text: str) -> Scene | PreviewError:
    """What comes back; anything but a scene or a whole PreviewError fails."""
    try:
        return parse_scene(text, Path("any.toml"))
    except PreviewError as error:
        found = error
    for problem in found.problems:
        assert problem.file
        assert problem.problem
        assert problem.fix
        assert len(problem.value or "") <= 80
        assert str(problem) in str(found)
    return found


@given(st.text())
def test_any_text(text: str) -> None:
    answer(text)


@given(st.dictionaries(KEYS, VALUES, max_size=6))
def test_any_tables(tables: dict[str, object]) -> None:
    assert isinstance(answer("".join(f"{toml(key)} = {toml(each)}\n" for key, each in tables.items())), PreviewError)


HEADINGS = {
    "[profile.more]": ("file", "library", "foot", "face", "wall", "ceiling"),
    "[finish.more]": ("color", "roughness", "metallic", "kind"),
    "[member.more]": ("profile", "out", "up", "finish"),
    "[block.more]": block.KEYS,
    "[[run]]": run.KEYS,
    "[[surrounding]]": tuple(dict.fromkeys(key for keys in looks.KEYS.values() for key in keys)),
    "[[option]]": option.KEYS,
    "[job]": title.KEYS,
    "[[picture]]": viewpoint.KEYS,
    "[shop]": shop.KEYS,
    "[shop.turning]": shop.TURNING,
    "[shop.prices]": shop.PRICES,
}


@pytest.mark.parametrize("heading", HEADINGS)
@given(data=st.data())
def test_any_keys_under_a_heading(heading: str, data: st.DataObject) -> None:
    keys = st.sampled_from(HEADINGS[heading]) | KEYS
    tables = data.draw(st.dictionaries(keys, VALUES, max_size=6))
    more = f"{heading}\n" + "".join(f"{toml(key)} = {toml(each)}\n" for key, each in tables.items())
    answer(TOP + PROFILE + MEMBER + RUN + 'members = ["base"]\nsteps = [{ straight = 60 }]\n' + more)


@given(
    st.lists(
        st.dictionaries(
            st.sampled_from(
                [
                    "straight",
                    "left",
                    "right",
                    "inside",
                    "outside",
                    "curve_left",
                    "curve_right",
                    "radius",
                    "joint",
                    "rake",
                    "rise",
                    "pitch",
                    "easement",
                    "turns",
                    "facet",
                    "block",
                    "coped",
                ]
            ),
            st.integers(-5, 200)
            | st.sampled_from(["90", "1/2", "x", "miter", "cope", "after", "plinth"])
            | st.floats(0, 400),
            min_size=1,
            max_size=3,
        ),
        max_size=6,
    ),
    st.booleans(),
)
def test_any_steps(steps: list[dict[str, object]], closed: bool) -> None:
    found = answer(TOP + PROFILE + MEMBER + BLOCK + RUN + f"closed = {toml(closed)}\nsteps = {toml(list(steps))}\n")
    if isinstance(found, Scene):
        assert len(found.runs[0].run.elements) >= 1


@given(
    st.lists(
        st.dictionaries(
            st.sampled_from((*option.OF_RUN, *option.OF_STEP)),
            st.integers(-5, 12) | st.sampled_from(["miter", "turns", "1/2", "90", "x"]) | VALUES,
            min_size=1,
            max_size=4,
        ),
        min_size=1,
        max_size=3,
    ),
    st.booleans(),
)
def test_any_changes_of_a_run(changes: list[dict[str, object]], closed: bool) -> None:
    """Whatever an option makes of the run, it is laid out in each variant, or the option is blamed."""
    steps = ["{ straight = 9 }", "{ curve_left = 90, radius = 2 }"] * 4
    text = TOP + PROFILE + MEMBER + BLOCK + RUN + f"closed = {toml(closed)}\nsteps = [{', '.join(steps)}]\n"
    rows = toml([{"run": "north wall", **each} for each in changes])
    found = answer(f'{text}[[option]]\nname = "other"\nchanges = {rows}\n')
    if isinstance(found, Scene):
        assert [each.picks for each in found.variants] == [(0,), (1,)]
    else:
        assert all(each.place.startswith('option "other"') for each in found.problems)


@given(st.integers(0, len(STARTER)), st.integers(0, 12), st.text(max_size=3) | KEYS)
def test_the_starter_with_a_slip_of_the_hand(at: int, gone: int, typed: str) -> None:
    answer(STARTER[:at] + typed + STARTER[at + gone :])


@given(st.binary(max_size=200))
def test_any_bytes_as_a_profile(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "any.toml"
    path.write_bytes(data)
    with pytest.raises(PreviewError):
        load_profile(path)
