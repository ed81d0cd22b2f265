"""Scenes to edit, written in hard ways; and what an edit may have changed, read with Python's own tomllib.

tomllib is the outside reference: it shares no code with the parser that finds the places of values.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path

from preview.editing import Field, fields
from preview.errors import PreviewError
from preview.scene import parse_scene

ROOT = Path(__file__).parent.parent.parent
SHIPPED = sorted((ROOT / "scenes").glob("*.toml"))
BAD = sorted((ROOT / "tests" / "corpus" / "bad").glob("*.toml"))
HERE = ROOT / "tests" / "corpus" / "bad" / "made-here.toml"
"""Where scenes of text stand, so that profiles they name could be found; no file of this name is there."""

START = """\
title = "Pantry"
units = "in"

[profile.base]
foot = 1
face = [{ fillet = 4 }]

[profile.cap]
foot = 0.5
face = [{ fillet = 0.5 }]

[finish.oak]
color = "#b98d5a"

[member.base]
profile = "base"
out = 0
finish = "oak"

"""
RUN = '[[run]]\nname = "north wall"\nsteps = [{ straight = 60 }]\n'

LAYOUTS = {
    "comments inside a list": START
    + """\
[[run]] # first
name = "a" # b
start = [ # x and y
  0 , # x
  # nothing
  "1 1/2" # y = 3
]
steps=[ # 12 12
  # { straight = 12 },
  { straight = 12 } , # 12

  {left=90 , joint = "cope" },{   straight   =   '12'   } ,
\t{ inside = 90, turns = 2, facet = "1 1/4" } # last 90
\t, { straight = 12 }
  , ] # done
""",
    "dotted keys": 'title="x"\nunits = "in"\nprofile.base.foot = 1\nprofile.base.face = [{ fillet = 4 }]\n'
    'finish.oak.color = "#b98d5a"\nmember.base.profile = "base"\nmember . base . up = 1\nmember."base".out = 2\n' + RUN,
    "tables in braces": 'title = "x"\nunits = "in"\nprofile = { base = { foot = 1, face = [{ fillet = 4 }] } }\n'
    'member = {"base"={profile  =  "base"  ,up=1},  \'q "r\' = { profile = "base", out = "1/4" }}\n'
    'run = [ { name = "a", members = ["base"], level = 3, steps = [ { straight = 7 } ] },\n'
    ' { name = "b", members = [\'q "r\'], steps = [ { straight = 7 } ], start = [0,30] } ]\n',
    "headings mixed": 'title = "x"\nunits = "in"\n[[run]]\nname = "a"\nmembers = ["base"]\nsteps = [{ straight = 5 }]\n'
    '[member.base]\nup = 1\nprofile = "base"\n[[run]]\nname = "b"\nmembers = ["base"]\nstart = [0, 40]\n'
    "steps = [{ straight = 5 }]\n[profile.base]\nfoot = 1\nface = [{ fillet = 4 }]\n[finish.oak]\n"
    'color = "#b98d5a"\n[member.cap]\nup = 5\nprofile = "base"\nfinish = "oak"\n',
    "steps under headings": START + '[[run]]\nname = "a"\n[[run.steps]]\nstraight = 12 # a\n[[run.steps]]\nleft = 90\n'
    "  [[run.steps]]\n  straight = 12\n"
    '[[run]]\nname = "b"\nlevel = 3\nstart = [0, -40]\n[[run.steps]]\nstraight = 4\n',
    "carriage returns": (START + '# é 𝄞\n[[run]] # \t x\nname = "a"\nsteps = [ # s\n { straight = 5 },\n]\n').replace(
        "\n", "\r\n"
    ),
    "text of several lines": START.replace('"Pantry"', '"Pantry \\"x = 60\\" \\\\"')
    + '[[run]]\nname = """north \\\n   wall"""\nsteps = [{ straight = """\n60""" }, '
    "{ left = '''90''' }, { straight = 60 }]\n",
    "no line at the end": START + '[[run]]\nname="a"\nsteps=[{straight=60}]',
    "the same everywhere": START + '[[run]]\nname = "60"\nlevel = 60\nwall = 60\nsteps = ['
    "{ straight = 60 }, { left = 60 }, { straight = 60 }, { right = 60 }, { straight = 60 }] # 60\n",
    "numbers of all sorts": START.replace("out = 0", "out = +0.5")
    + '[[run]]\nname = "a"\nlevel = -1.50\nheading = 0x1E\nwall = 1_0.2_5\nsteps = ['
    "{ straight = 6e1 }, { left = 0o132 }, { straight = 1_000 }]\n",
    "strange names": START
    + '[member."a.b/c~d"]\nprofile = "base"\nup = 3\n["member".\'é "q"\']\nprofile = "base"\nup = "3 1/2"\n'
    '[[run]]\nname = "say \\"hi\\" \\\\ é"\nmembers = ["base"]\nsteps = [{ "straight" = 60, \'rise\' = 1 }]\n',
    "metric": START.replace('"in"', '"mm"').replace("foot = 1\n", "foot = 25\n").replace("= 0.5", "= 9")
    + '[[run]]\nname = "a"\nlevel = "10 cm"\nsteps = [{ straight = 1200.5 }, { left = "22 1/2" }, '
    """{ straight = "4' 2-1/2" }]\n""",
}


def scene_texts() -> Iterator[tuple[str, Path, str]]:
    """Each scene that is accepted, by a name: the file it stands in, or could, and its text."""
    for path in SHIPPED:
        yield path.name, path, path.read_bytes().decode("utf-8")
    for name, text in LAYOUTS.items():
        yield name, HERE, text


def pointed(tree: object, pointer: str) -> object:
    """The value at a JSON Pointer (RFC 6901)."""
    for part in pointer.split("/")[1:]:
        key = part.replace("~1", "/").replace("~0", "~")
        tree = tree[int(key)] if isinstance(tree, list) else tree[key]  # type: ignore[index]
    return tree


def pointer_to(keys: Iterable[str | int]) -> str:
    """The JSON Pointer that leads along keys and numbers."""
    return "".join("/" + str(key).replace("~", "~0").replace("/", "~1") for key in keys)


def leaves(tree: object, pointer: str = "") -> dict[str, object]:
    """Everything in a tree that is no table and no list, and empty ones, by JSON Pointer."""
    entries: dict[str, object] = {}
    if isinstance(tree, dict):
        entries = {pointer_to([key]): value for key, value in tree.items()}
    elif isinstance(tree, list):
        entries = {pointer_to([number]): value for number, value in enumerate(tree)}
    if not entries:
        return {pointer: tree}
    return {at: leaf for key, value in entries.items() for at, leaf in leaves(value, pointer + key).items()}


def same(one: object, other: object) -> bool:
    """Whether two leaves are the same, also by type."""
    both_nan = isinstance(one, float) and isinstance(other, float) and math.isnan(one) and math.isnan(other)
    return both_nan or (type(one) is type(other) and one == other)


def changed_leaves(old: str, new: str) -> dict[str, object]:
    """By JSON Pointer, the values that tomllib reads otherwise than before. Fails where something came or went."""
    before, after = leaves(tomllib.loads(old)), leaves(tomllib.loads(new))
    assert list(before) == list(after)
    return {at: leaf for at, leaf in after.items() if not same(before[at], leaf)}


def assert_only_value_replaced(old: str, new: str, field: Field) -> str:
    """That the new text is the old one with one way to write this value in place of another; gives the new way.

    The old value is one TOML value that tomllib reads as the field's, and everything around it is the same.
    """
    was, now = (pointed(tomllib.loads(text), field.id) for text in (old, new))
    ahead = next((i for i, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), min(len(old), len(new)))
    # A value begins at or before the first difference and after a sign that is no part of it.
    for start in range(ahead, max(-1, ahead - 600), -1):
        for end in range(start + 1, len(old) + 1):
            tail = len(old) - end
            if old[end:] != new[len(new) - tail :]:
                continue
            raw, written = old[start:end], new[start : len(new) - tail]
            if same(_alone(raw), was) and same(_alone(written), now) and re.search(r"[\s=\[,]$", old[:start]):
                return written
            if end - start > 200:
                break
    raise AssertionError(f"more than a value was changed for {field.id}")


def _alone(raw: str) -> object:
    """One TOML value by itself; None where the text is none, or has blanks or a comment around it."""
    if not raw or raw != raw.strip() or "#" in re.sub(r"([\"'])#[0-9a-f]{6}\1", "", raw):
        return None
    try:
        return tomllib.loads(f"x = {raw}")["x"]
    except tomllib.TOMLDecodeError:
        return None


def is_accepted(text: str, path: Path) -> bool:
    try:
        parse_scene(text, path)
    except PreviewError:
        return False
    return True


def field_at(text: str, path: Path, pointer: str) -> Field:
    return next(field for field in fields(text, path) if field.id == pointer)
