"""File names made from the names people give."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from itertools import product

from preview.scene import Choice, Scene

LONGEST = 100
"""The most characters of a file name, its suffix included; well within every disk's limit."""
TAIL = 30
"""How much of a shortened name is kept from its end, where a piece has its number and kind."""
OF_FORMATS = ("compact", "elevation", "level", "plan")
"""Words that formats put after the scene's name, as in hall-compact.glb."""
RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{i}" for port in ("com", "lpt") for i in range(1, 10))}
"""Names that Windows keeps for devices, whatever their suffix."""


def file_names(names: Iterable[str], suffix: str) -> list[str]:
    """One file name for each name, in order, ending in `suffix`; no two differ by nothing but capitals.

    Only a-z, 0-9 and single hyphens are left: accents are dropped, any other characters between become one
    hyphen. A name of more than 100 characters, suffix included, loses some from its middle. Where two names
    come out alike the later one gets -2, -3 and so on; where nothing is left it is `piece`. No name holds a
    path, starts with a dot or is one that an operating system reserves.

    >>> file_names(["bench front / base / 3 curve", "Fenêtre 1½", "bench front/base/3 curve", "../.."], ".stl")
    ['bench-front-base-3-curve.stl', 'fenetre-1-1-2.stl', 'bench-front-base-3-curve-2.stl', 'piece.stl']
    """
    most = LONGEST - len(suffix)
    found: list[str] = []
    taken: set[str] = set()
    last: dict[str, int] = {}
    for name in names:
        whole = _slug(name)
        slug = first = _shortened(whole, most)
        while slug in taken:
            last[first] = last.get(first, 1) + 1
            number = f"-{last[first]}"
            slug = _shortened(whole, most - len(number)) + number
        taken.add(slug)
        found.append(slug + suffix)
    return found


def stem_of(scene: Scene) -> str:
    """What the names of a scene's files begin with: its file's, and the alternatives that were picked for it."""
    return scene.path.stem + picked_of(scene)


def picked_of(scene: Scene) -> str:
    """What tells the files of a scene with alternatives picked from those of others: such as "-mitered", or "".

    In the order of the scene's choices, in the letters of `file_names`; with its choice, where another choice has an
    alternative of the same name. No two picks of one scene come out alike, and none like the end that a format puts to
    a file's name.
    """
    if scene.picked is None:
        return ""
    choices = scene.picked.choices
    every = [
        picks
        for picks in product(*([None, *range(len(each.alternatives))] for each in choices))
        if picks != (None,) * len(choices)
    ]
    words = [
        " ".join(_words(choices, at, pick) for at, pick in enumerate(picks) if pick is not None) for picks in every
    ]
    told = [f"option {each}" if _slug(each).split("-")[0] in OF_FORMATS else each for each in words]
    return "-" + file_names(told, "")[every.index(scene.picked.picks)]


def picked_values(scene: Scene) -> dict[str, str]:
    """The alternatives that were picked for a scene by name, by their choices; none where it is as drawn."""
    if scene.picked is None:
        return {}
    pairs = zip(scene.picked.choices, scene.picked.picks, strict=True)
    return {choice.name: choice.alternatives[pick].name for choice, pick in pairs if pick is not None}


def _words(choices: tuple[Choice, ...], at: int, pick: int) -> str:
    """An alternative by its name, with its choice's where that is wanted to tell it from another's."""
    name = choices[at].alternatives[pick].name
    others = [each.name.casefold() for other in choices if other is not choices[at] for each in other.alternatives]
    return f"{choices[at].name} {name}" if name.casefold() in others else name


def _slug(name: str) -> str:
    # 1½ is 1 and 1/2, not 11/2: signs that are a number by themselves stand apart.
    apart = "".join(f" {sign}" if unicodedata.category(sign) == "No" else sign for sign in name.casefold())
    spread = unicodedata.normalize("NFKD", apart).lower()
    bare = "".join(letter for letter in spread if not unicodedata.combining(letter))
    slug = re.sub("[^a-z0-9]+", "-", bare).strip("-") or "piece"
    return f"{slug}-piece" if slug in RESERVED else slug


def _shortened(slug: str, most: int) -> str:
    """A slug of at most that many characters, its middle left out where it is longer."""
    if len(slug) <= most:
        return slug
    end = slug[-TAIL:].lstrip("-")
    return f"{slug[: most - len(end) - 1].rstrip('-')}-{end}"
