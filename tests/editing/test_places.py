"""Where values stand, in files whose headings are mixed in every way; Python's own tomllib says what they are."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from edited_scenes import HERE, LAYOUTS, changed_leaves, leaves, pointer_to
from preview.editing.places import places

BLOCKS = (
    "[member.a]\nup = 1 # 1\n",
    "[member.b]\nup = 1\n",
    "[member]\nc.up = 1\n",
    "[member.a.more]\nx = 1\n",
    "[finish.x]\n'color' = \"1\"\n",
    "[finish]\nk . v = [1, 1]\n",
    '[[run]]\nname = "1"\n',
    "[run.scarf]\nangle = 1\n",
    "[run.on_wall]\norigin = [ 1, { a = 1 } ,\n1 # 1\n]\n",
    "[[run.steps]]\nstraight = '''\n1'''\n",
    "[[run.steps]]\nleft=1\n",
    "[[option]]\nchanges = [{r=1},{ r = true, s = 1.0 }]\n",
    "[a.b]\nc.d = +1\n",
    "[a]\nb2.c = 0x1\n",
    "[a.b.c2]\nx = 1\n",
)


def numbers_and_texts(text: str) -> dict[str, object]:
    found = leaves(tomllib.loads(text))
    return {
        at: leaf for at, leaf in found.items() if isinstance(leaf, int | float | str) and not isinstance(leaf, bool)
    }


@given(st.booleans(), st.lists(st.sampled_from(BLOCKS), min_size=1, max_size=8), st.sampled_from(["\n", "\r\n"]))
def test_every_value_is_found_where_it_stands(dotted: bool, blocks: list[str], newline: str) -> None:
    text = ("t.u = 1\n" * dotted + "".join(blocks)).replace("\n", newline)
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        assume(False)
    found = places(text, HERE)
    assert {pointer_to(keys): place.value for keys, place in found.items()} == numbers_and_texts(text)
    assert [place.start for place in found.values()] == sorted(place.start for place in found.values())
    for keys, place in found.items():
        assert text[place.start : place.end] == place.raw
        changed = text[: place.start] + "777" + text[place.end :]
        assert changed_leaves(text, changed) == {pointer_to(keys): 777}


@pytest.mark.parametrize("name", LAYOUTS)
def test_every_value_of_a_hard_layout_is_found(name: str) -> None:
    found = places(LAYOUTS[name], HERE)
    assert {pointer_to(keys): place.value for keys, place in found.items()} == numbers_and_texts(LAYOUTS[name])
