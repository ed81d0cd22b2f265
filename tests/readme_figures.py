"""The figures of the README and of DEVELOPERS.md, and where each comes from.

A figure is a sentence of one of them with (?) for its values, and a function that finds these again. All that
come quickly are in QUICK, which tests/test_readme.py holds; tests/long/figures.py adds those that take a while, prints
all of them, and writes what has changed.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np

from preview import limits
from preview.approval import short_code
from preview.approval.kept import LARGEST, LARGEST_TOGETHER
from preview.build import build
from preview.checks.joints import NEAR
from preview.checks.looking import PART
from preview.checks.standing import FLUSH
from preview.client.page.bodies import GRID
from preview.drawings import Wanted
from preview.exports import FORMATS
from preview.exports.formats import USUAL
from preview.exports.glb_levels import COARSER, WORTH_IT
from preview.live.guard import TOKEN_BYTES
from preview.models.solid.tessellated import FACETS
from preview.profiles.shapes import SHAPES
from preview.profiles.spring import FLAT
from preview.runs.closing import CLOSES_WITHIN
from preview.runs.ends import BEVELS
from preview.runs.refusals import LEAST_TURN, MOST_PITCH, MOST_TURN
from preview.scene import load_profile, load_scene
from preview.scene.cut_profile import CUTS
from preview.scene.making import USUAL_SCARF
from preview.scene.option import MOST_CHOICES, MOST_VARIANTS
from preview.scene.read import USUAL_CHORD
from preview.scene.shop import STAVES

ROOT = Path(__file__).resolve().parents[1]
README = ROOT / "README.md"
PROFILES = sorted((ROOT / "profiles").glob("*.toml"))
SCENES = sorted((ROOT / "scenes").glob("*.toml"))
WORDS = {8: "eight", 10: "tenth", 100: "hundred"}
DEVELOPERS = "DEVELOPERS.md"


@dataclass(frozen=True)
class Figure:
    """sentence: as it stands in `document`, with (?) for each value, which holds no space; a space stands for any gap,
    a line's end too. found: the values again, as they are to be written."""

    name: str
    sentence: str
    found: Callable[[], tuple[str, ...]]
    document: str = "README.md"

    def written(self, text: str) -> re.Match[str]:
        """Where it stands in the document's text. Raises LookupError unless it stands there once."""
        parts = re.split(r"(\(\?.*?\))", self.sentence)
        pattern = "".join(
            r"([\w./]+)" if at % 2 else r"\s+".join(map(re.escape, part.split(" "))) for at, part in enumerate(parts)
        )
        matches = list(re.finditer(pattern, text))
        if len(matches) != 1:
            raise LookupError(f"{self.document} says {len(matches)} times, and should say once: {self.sentence}")
        return matches[0]


@cache
def digest() -> str:
    """The digest of a scene that ships."""
    return build(load_scene(ROOT / "scenes" / "bay.toml")).digest


def rounded(figure: float) -> str:
    """A figure with one digit that counts, without an exponent."""
    return f"{float(f'{figure:.0e}'):.{max(0, -math.floor(math.log10(float(f'{figure:.0e}'))))}f}"


def step_of_float32(mm: float) -> str:
    """The step, mm, between 32-bit numbers of meters so far from the origin."""
    return rounded(float(np.spacing(np.float32(mm / 1000))) * 1000)


def oldest_python() -> str:
    """From pyproject.toml."""
    table = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    return str(table["project"]["requires-python"]).removeprefix(">=")


def degrees(*angles: float) -> tuple[str, ...]:
    """Angles, radians, in whole degrees."""
    return tuple(f"{math.degrees(angle):.0f}" for angle in angles)


def beveled() -> tuple[str, ...]:
    """The angle of a beveled end, degrees, from how far it is cut back for each mm out."""
    return degrees(math.atan(BEVELS["beveled"](load_profile(PROFILES[0]))))


QUICK = (
    Figure("the oldest Python", "It needs Python (?) to ", lambda: (oldest_python(),)),
    Figure("profiles in the library", "holds (?): bases", lambda: (str(len(PROFILES)),)),
    Figure(
        "chords of the levels",
        "with (?), (?) and (?) times the scene's chord",
        lambda: tuple(str(of) for of in COARSER),
    ),
    Figure("what a level has to save", "as triangles fall by a (?) |", lambda: (WORDS[round(1 / (1 - WORTH_IT))],)),
    Figure("digits of a digest", "by its digest: (?) digits", lambda: (str(len(digest())),)),
    Figure(
        "characters of a code",
        "the code of (?) characters is made from it",
        lambda: (WORDS[sum(sign.isalnum() for sign in short_code(digest()))],),
    ),
    Figure(
        "characters of a code, once more",
        "reads out the code of (?) characters",
        lambda: (WORDS[sum(sign.isalnum() for sign in short_code(digest()))],),
    ),
    Figure(
        "most options",
        "At most (?) choices and (?) combinations",
        lambda: (str(MOST_CHOICES), str(MOST_VARIANTS)),
    ),
    Figure("on the profile", "lies on the exact profile within (?) mm", lambda: (f"{FLUSH:g}",)),
    Figure("the chord", "than the chord ((?) mm unless the scene says otherwise)", lambda: (f"{USUAL_CHORD:g}",)),
    Figure(
        "what 32-bit numbers hold",
        "about (?) mm a few meters from a run's start, (?) mm at 10 m",
        lambda: (step_of_float32(3000), step_of_float32(10_000)),
    ),
    Figure("largest file", "Files of up to (?) MB are read", lambda: (f"{limits.MODEL_BYTES.usual / 1e6:g}",)),
    Figure("a closed run closes", "come back to its start within (?) mm", lambda: (f"{CLOSES_WITHIN:g}",)),
    Figure("corners", "Corners turn by (?)° to (?)°", lambda: degrees(LEAST_TURN, MOST_TURN)),
    Figure("a beveled end", "cut back from the wall at (?)°", beveled),
    Figure("rakes", "(degrees from level, to (?); minus goes down)", lambda: degrees(MOST_PITCH)),
    Figure("scarfs", "from square to the stick ((?) if left out)", lambda: (f"{USUAL_SCARF:g}",)),
    Figure(
        "drawn profiles",
        "become arcs within `tolerance` ((?) mm), points are fitted with lines and arcs within `fit` ((?) mm)",
        lambda: (f"{Wanted.tolerance:g}", f"{Wanted.fit:g}"),
    ),
    Figure("flats", "gives a flat of `flats` ((?) in if left out)", lambda: (str(Fraction(FLAT / 25.4)),)),
    Figure("staves", "staves = 4 # (?) to (?)\n", lambda: tuple(str(of) for of in STAVES)),
    Figure("the page's grid", "shapes on a grid of 1/(?) mm", lambda: (f"{GRID:g}",), DEVELOPERS),
    Figure("pieces that a process takes", "in parts of a (?) pieces", lambda: (WORDS[PART],), DEVELOPERS),
    Figure("facets of a STEP file", "cut into facets within (?) mm", lambda: (f"{FACETS:g}",), DEVELOPERS),
    Figure("near misses", "near misses (ends within (?) mm", lambda: (f"{NEAR:g}",), DEVELOPERS),
    Figure("the token", "a token of (?) bits", lambda: (str(8 * TOKEN_BYTES),), DEVELOPERS),
    Figure(
        "what a record keeps",
        "; (?) MB a file, (?) MB together",
        lambda: (f"{LARGEST / 1e6:g}", f"{LARGEST_TOGETHER / 1e6:g}"),
        DEVELOPERS,
    ),
)


def names_in_readme() -> dict[str, tuple[set[str], set[str]]]:
    """What the README lists by name, and what there is: formats, shapes, cutters."""
    text = README.read_text("utf-8")
    formats = text.partition("| name | what it is for |")[2].partition("\n\n")[0]
    first = "".join(row.split("|")[1] for row in formats.splitlines()[2:])
    shapes = text.partition("The shapes are ")[2].partition("`wall` and `ceiling`")[0]
    cutters = re.split(r"The cutters\s+are ", text)[1].partition("\n\n")[0]
    quoted = re.compile(r"`([\w-]+)`")
    return {
        "formats": (set(quoted.findall(first)), {*USUAL, *FORMATS}),
        "shapes": (set(quoted.findall(shapes)), set(SHAPES)),
        "cutters": (set(quoted.findall(cutters)), set(CUTS)),
    }
