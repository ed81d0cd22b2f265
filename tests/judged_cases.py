"""Scenes drawn at random over profiles, runs and joints, for the three judges of `three_judges.py`.

    case = drawn(seed, number)      the same scene for the same two numbers, whatever was drawn before
    case.text                       what a person would write into a scene file: `molding check` takes it as it is

Every family of joints has its share of the numbers. What the project refuses is drawn as well, and is to be told; a
run has room for its cuts in most cases, and just so in some.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np
from numpy.random import Generator

from preview.errors import PreviewError
from preview.profiles import Profile, Shape, measure, sketch
from preview.scene import load_profile, parse_scene
from strategies import KINDS

ROOT = Path(__file__).parent.parent
SCENE = ROOT / "scenes" / "drawn.toml"
"""Where a drawn scene stands as far as its reading is concerned; no such file is written."""
FAR = 50_000.0
"""How far from the origin a job lies in some cases, mm."""
LEAST_SIZE, MOST_SIZE = 3.0, 400.0
"""mm: from a small bead to a large cornice."""
DIGITS = 4


@dataclass(frozen=True)
class Case:
    """One scene: its number, the family of joints it was drawn for, and its text."""

    number: int
    family: str
    text: str


@dataclass
class Draft:
    """A scene in the making. out, high: how far out and up its molding reaches, mm."""

    rng: Generator
    out: float = 0.0
    high: float = 0.0
    low: float = 0.0
    tables: list[str] = field(default_factory=list)
    members: list[str] = field(default_factory=list)
    steps: list[str] = field(default_factory=list)
    keys: dict[str, str] = field(default_factory=dict)
    behind: bool = False

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def pick(self, *choices: str) -> str:
        return choices[int(self.rng.integers(len(choices)))]

    def between(self, low: float, high: float) -> float:
        return num(self.rng.uniform(low, high))

    def spread(self, low: float, high: float) -> float:
        """A number between two, as often in the low decades as in the high ones."""
        return num(math.exp(self.rng.uniform(math.log(low), math.log(high))))

    def turn(self, most: float = 150.0) -> float:
        """Degrees of a corner: some next to none, some as sharp as may be, some round numbers."""
        kind = self.rng.random()
        if kind < 0.12:
            return min(most, self.spread(1.0, 3.0))
        if kind < 0.2:
            return most if self.chance(0.3) else self.between(most - 10, most)
        if kind < 0.45:
            return min(most, float(self.rng.choice([15.0, 22.5, 30.0, 45.0, 60.0, 90.0, 90.0])))
        return self.between(5.0, most)

    def run_on(self, *turns: float) -> float:
        """A straight's length with room for the miters of corners beside it (degrees), in some cases only just."""
        needed = sum(self.out * math.tan(math.radians(abs(turn)) / 2) for turn in turns)
        spare = self.between(0.2, 1.0) if self.chance(0.12) else self.spread(5.0, 2000.0)
        return num(max(1.0, needed + spare))


def num(value: float) -> float:
    return round(float(value), DIGITS)


@cache
def shipped() -> dict[str, Profile]:
    """The profiles of the library, by the names a scene calls them by."""
    return {path.stem: load_profile(path) for path in sorted((ROOT / "profiles").glob("*.toml"))}


# Profiles and members.


def face(rng: Generator, size: float) -> tuple[float, list[Shape]]:
    """A foot and a face of one to four trade shapes, about `size` mm high or deep, that can be sketched."""
    while True:
        shapes: list[Shape] = []
        for kind in rng.choice(KINDS, rng.integers(1, 5)).tolist():
            rise, out = rng.uniform(0.08, 1.0), rng.uniform(0.08, 1.0) * rng.choice([-1, 1])
            if kind == "fillet" and rng.random() < 0.5:
                rise = 0.0
            elif kind in ("bead", "fillet"):
                out = 0.0
            elif kind == "scotia":
                out = math.copysign(rise / 3, out)
            if rng.random() < 0.2:
                out = math.copysign(rise, out) if rise and out else out
            shapes.append(Shape(kind, rise, out))
        foot = rng.uniform(0.15, 1.5)
        whole = max(sum(shape.rise for shape in shapes), foot + sum(abs(shape.out) for shape in shapes))
        scale = size / whole
        foot = num(foot * scale)
        shapes = [Shape(each.kind, num(each.rise * scale), num(each.out * scale)) for each in shapes]
        shapes = [
            Shape(each.kind, each.rise, num(math.copysign(each.rise / 3, each.out))) if each.kind == "scotia" else each
            for each in shapes
        ]
        try:
            sketch("drawn", foot, shapes)
        except PreviewError:  # hollowed through to the wall, say
            continue
        return foot, shapes


def written(foot: float, shapes: Sequence[Shape]) -> str:
    rows = []
    for shape in shapes:
        aside = "" if not shape.out else f", {'out' if shape.out > 0 else 'in'} = {abs(shape.out)}"
        rows.append(f"{{ {shape.kind} = {shape.rise}{aside} }}")
    return f"foot = {foot}\nface = [{', '.join(rows)}]"


def profile(draft: Draft, name: str, most: float = MOST_SIZE) -> Profile:
    """A profile of the library or one drawn at random, entered in the scene."""
    if draft.chance(0.4):
        picked = draft.pick(*shipped())
        draft.tables.append(f'[profile.{name}]\nlibrary = "{picked}"')
        return shipped()[picked]
    foot, shapes = face(draft.rng, draft.spread(LEAST_SIZE, most))
    draft.tables.append(f"[profile.{name}]\n{written(foot, shapes)}")
    return sketch(name, foot, shapes)


def member(draft: Draft, name: str, shape: Profile, out: float = 0.0, up: float = 0.0) -> None:
    """A member of a profile, at times away from its place, entered in the scene."""
    size = measure(shape)
    draft.tables.append(f'[member.{name}]\nprofile = "{name}"\nout = {num(out)}\nup = {num(up)}')
    draft.members.append(name)
    draft.out = max(draft.out, size.d_max + out)
    draft.high = max(draft.high, size.h_max + up) if len(draft.members) > 1 else size.h_max + up
    draft.low = min(draft.low, size.h_min + up) if len(draft.members) > 1 else size.h_min + up


def moldings(draft: Draft, *, flat: bool = False, blocked: bool = False) -> None:
    """One member, or two of which the second stands on the first.

    flat: the back of both lies at no `out`. blocked: nothing reaches behind the wall, where no block stands.
    """
    first = profile(draft, "main")
    out = 0.0
    if not flat and draft.chance(0.2):
        out = draft.between(0.5, 20.0)
    elif not (flat or blocked) and draft.chance(0.05):
        out, draft.behind = -num(measure(first).d_max * draft.between(0.02, 0.3)), True
    up = draft.between(0.0, 60.0) if draft.chance(0.2) or flat else 0.0
    member(draft, "main", first, out, up)
    if draft.chance(0.25):
        second = profile(draft, "upper", 120.0)
        above = draft.high - measure(second).h_min
        member(draft, "upper", second, draft.between(0.0, 15.0) if draft.chance(0.4) and not flat else 0.0, above)


# Families of runs.


def corners(draft: Draft) -> None:
    """Level straights with miters, copes and splayed corners."""
    moldings(draft)
    count = int(draft.rng.integers(1, 5))
    turns: list[tuple[float, str]] = []
    for _ in range(count - 1):
        way = draft.pick("miter", "miter", "cope", "splay")
        if way == "cope":
            turn = draft.turn()
            coped = draft.pick("before", "after")
            turns.append((turn, f'{{ inside = {180 - turn!r}, joint = "cope", coped = "{coped}" }}'))
        elif way == "splay":
            turn, number = max(10.0, draft.turn()), int(draft.rng.integers(2, 6))
            facet = num(2.1 * draft.out * math.tan(math.radians(turn / number / 2)) + draft.spread(1.0, 100.0))
            side = draft.pick("inside", "outside")
            turns.append((turn, f"{{ {side} = {num(180 - turn)}, turns = {number}, facet = {facet} }}"))
            # The straights beside it are measured to the sharp corner.
            reach = facet * number * (1 + math.tan(math.radians(turn / 2)))
            draft.keys["splayed"] = str(max(reach, float(draft.keys.get("splayed", "0"))))
        else:
            turn = draft.turn()
            turns.append((turn, f"{{ {draft.pick('left', 'right')} = {turn} }}"))
    more = float(draft.keys.pop("splayed", "0"))
    around = [0.0, *(turn for turn, _ in turns), 0.0]
    for i in range(count):
        if i:
            draft.steps.append(turns[i - 1][1])
        copes = sum(
            draft.out * (1 + 1 / max(0.26, math.sin(math.radians(around[j]))))
            for j in (i, i + 1)
            if 0 < j < count and "cope" in turns[j - 1][1]
        )
        draft.steps.append(f"{{ straight = {num(draft.run_on(around[i], around[i + 1]) + more + copes)} }}")
    ends(draft, "square", "return", "self-return", "beveled", "butt")


def radius(draft: Draft) -> float:
    """A back radius: just over what the molding is deep, a few times that, or next to straight."""
    kind = draft.rng.random()
    if kind < 0.25:
        return num(draft.out + draft.spread(0.002, max(0.01, 0.1 * draft.out)))
    if kind < 0.32:
        return draft.spread(0.5, 5.0)
    if kind < 0.85:
        return num(draft.out * draft.spread(1.2, 12.0))
    return draft.spread(1e4, 1e6)


def curves(draft: Draft) -> None:
    """Straights and curves, smooth or at corners."""
    moldings(draft)
    count = int(draft.rng.integers(1, 4))
    kinds = [draft.pick("straight", "curve") for _ in range(count)]
    if "curve" not in kinds:
        kinds[int(draft.rng.integers(count))] = "curve"
    turns = [0.0] + [draft.turn(120.0) if draft.chance(0.6) else 0.0 for _ in range(count - 1)] + [0.0]
    for i, kind in enumerate(kinds):
        if turns[i]:
            draft.steps.append(f"{{ {draft.pick('left', 'right')} = {turns[i]} }}")
        if kind == "straight":
            draft.steps.append(f"{{ straight = {draft.run_on(turns[i], turns[i + 1])} }}")
            continue
        bend = radius(draft)
        most = min(200.0, max(1.5, math.degrees(6000.0 / bend)))
        needed = math.degrees(draft.run_on(turns[i], turns[i + 1]) / bend) if turns[i] or turns[i + 1] else 1.0
        sweep = draft.between(1.0, most) if needed > most else max(1.0, draft.between(min(needed, most - 0.4), most))
        draft.steps.append(f"{{ curve_{draft.pick('left', 'right')} = {sweep}, radius = {bend} }}")
    if kinds[0] == "curve" or kinds[-1] == "curve":
        ends(draft, "square", "return", "butt")
    else:
        ends(draft, "square", "return", "self-return", "beveled", "butt")


def climbs(draft: Draft) -> None:
    """Rakes: plumb cuts at corners, cuts in elevation or easements in one wall; profiles derived, or all the same."""
    moldings(draft)
    same = draft.chance(0.3)
    count = int(draft.rng.integers(2, 5))
    high = draft.high - draft.low
    pitches = [draft.pick("0", "0", "12.5", "-20", "33.69", "45", str(draft.between(-55, 55))) for _ in range(count)]
    joints = ["corner" if draft.chance(0.4) else "in line" for _ in range(count - 1)]
    rows: list[str] = []
    longest = 4 * (draft.out + high)
    for i, pitch in enumerate(pitches):
        if i and joints[i - 1] == "corner":
            turn = draft.turn(110.0)
            rows.append(f"{{ {draft.pick('left', 'right')} = {turn} }}")
            longest = max(longest, 3 * draft.out * math.tan(math.radians(turn / 2)))
        elif i and not same and draft.chance(0.6) and pitch != pitches[i - 1]:
            one, two = (math.radians(float(each)) for each in (pitches[i - 1], pitch))
            least = high * (1.05 if draft.chance(0.4) else 3.0)
            eased = num(least + draft.spread(1.0, 500.0))
            rows.append(f"{{ easement = {eased} }}")
            longest = max(longest, 2.2 * eased * (abs(math.tan((two - one) / 2)) + 0.05))
        rows.append(f"{{ straight = @, pitch = {float(pitch)} }}" if float(pitch) else "{ straight = @ }")
    draft.steps += [row.replace("@", str(num(longest + draft.spread(5.0, 1500.0)))) for row in rows]
    draft.keys["raked"] = '"same"' if same else '"derived"'
    if same:
        ends(draft, "square", "square", "beveled", "return")
    else:
        ends(draft, "square", "return", "beveled", "self-return")


def scarfs(draft: Draft) -> None:
    """Straights longer than the stock, level or climbing, with miters between."""
    moldings(draft)
    stock = num(max(320.0, 6 * draft.out, draft.spread(320.0, 3000.0)) + 2 * (draft.high - draft.low))
    angle = draft.between(5.0, 70.0) if draft.chance(0.7) else 45.0
    draft.keys["stock"] = str(num(stock + 3 * draft.out * math.tan(math.radians(angle))))
    draft.keys["scarf"] = f"{{ angle = {angle}, from_corner = {draft.between(0.0, 40.0)} }}"
    climb = draft.chance(0.4)
    for i in range(int(draft.rng.integers(1, 3))):
        if i:
            draft.steps.append(f"{{ {draft.pick('left', 'right')} = {draft.turn(100.0)} }}")
        pitch = f", pitch = {draft.between(-40, 40)}" if climb and draft.chance(0.7) else ""
        draft.steps.append(f"{{ straight = {num(stock * draft.between(1.2, 2.6))}{pitch} }}")
    if climb and draft.chance(0.4):
        draft.keys["raked"] = '"same"'
    ends(draft, "square", "return", "beveled", *(() if climb else ("self-return",)))


def casings(draft: Draft) -> None:
    """Runs that lie on the face of a wall."""
    moldings(draft, flat=True)
    reach, draft.out = draft.out, draft.high
    count = int(draft.rng.integers(1, 5))
    turns = [0.0] + [draft.turn(140.0) if draft.chance(0.8) else 0.0 for _ in range(count - 1)] + [0.0]
    side = draft.pick("left", "right")
    for i in range(count):
        if turns[i]:
            draft.steps.append(f"{{ {side if draft.chance(0.8) else draft.pick('left', 'right')} = {turns[i]} }}")
        if draft.chance(0.25):
            bend = radius(draft)
            most = min(180.0, max(1.5, math.degrees(5000.0 / bend)))
            draft.steps.append(f"{{ curve_{side} = {draft.between(1.0, most)}, radius = {bend} }}")
        else:
            draft.steps.append(f"{{ straight = {draft.run_on(turns[i], turns[i + 1])} }}")
    far = FAR if draft.chance(0.2) else 500.0
    origin = ", ".join(str(draft.between(-far, far)) for _ in range(3))
    along = draft.pick("0", "90", "180", str(draft.between(-180, 180)))
    draft.keys["on_wall"] = f"{{ origin = [{origin}], along = {along} }}"
    draft.out = reach


def blocks(draft: Draft) -> None:
    """Plinth blocks in line and blocks in corners."""
    moldings(draft, blocked=True)
    wide = num(draft.out * draft.between(1.0, 2.0) + 1.0)
    high = num(max(1.0, draft.high - draft.low + 10))
    foot = num(draft.low - 5)
    draft.tables.append(f"[block.stop]\nwidth = {wide}\nthickness = {wide}\nheight = {high}\nup = {foot}")
    count = int(draft.rng.integers(2, 4))
    for i in range(count):
        if i:
            way = draft.pick("corner block", "plinth", "miter")
            if way == "corner block":
                draft.steps.append(f'{{ {draft.pick("inside", "outside")} = 90, block = "stop" }}')
            elif way == "plinth":
                draft.steps.append('{ block = "stop" }')
            else:
                draft.steps.append(f"{{ {draft.pick('left', 'right')} = {draft.turn(90.0)} }}")
        draft.steps.append(f"{{ straight = {num(2.5 * wide + draft.run_on(90.0, 90.0))} }}")
    if draft.chance(0.4):
        draft.steps.insert(0, '{ block = "stop" }')
        draft.keys["end"] = f'"{draft.pick("square", "return", "self-return", "beveled")}"'
    else:
        ends(draft, "square", "return", "self-return", "beveled")


def rings(draft: Draft) -> None:
    """Closed runs: rooms with any number of walls, islands, columns and hollow drums."""
    moldings(draft)
    draft.keys["closed"] = "true"
    turn = draft.pick("left", "right")
    if draft.chance(0.35):
        bend = num(draft.out * draft.spread(1.02, 8.0) + 0.5)
        count = int(draft.rng.integers(2, 5))
        draft.steps += [f"{{ curve_{turn} = {360 / count!r}, radius = {bend} }}"] * count
        return
    count = int(draft.rng.integers(3, 9))
    length = draft.run_on(360 / count, 360 / count)
    if count == 4 or draft.chance(0.2):
        lengths = [length, num(length * draft.between(1.0, 3.0))] * 2
        draft.steps += [row for each in lengths for row in (f"{{ straight = {each} }}", f"{{ {turn} = 90 }}")]
        return
    corner = f"{{ {turn} = {360 / count!r} }}"
    draft.steps += [row for _ in range(count) for row in (f"{{ straight = {length} }}", corner)]


def ends(draft: Draft, *ways: str) -> None:
    for key in ("begin", "end"):
        way = draft.pick(*ways)
        draft.keys[key] = f'"{"square" if way in ("return", "butt") and draft.behind else way}"'


FAMILIES: tuple[tuple[float, Callable[[Draft], None]], ...] = (
    (0.26, corners),
    (0.24, curves),
    (0.20, climbs),
    (0.09, scarfs),
    (0.09, casings),
    (0.06, blocks),
    (0.06, rings),
)


def drawn(seed: int, number: int) -> Case:
    """The case of a seed and a number."""
    rng = np.random.default_rng([seed, number])
    draft = Draft(rng)
    family = FAMILIES[int(rng.choice(len(FAMILIES), p=[share for share, _ in FAMILIES]))][1]
    family(draft)
    draft.keys["room"] = f'"{draft.pick("left", "right")}"'
    if "on_wall" not in draft.keys:
        far = FAR if draft.chance(0.15) else 2000.0
        draft.keys["start"] = f"[{draft.between(-far, far)}, {draft.between(-far, far)}]"
        if draft.chance(0.3):
            draft.keys["level"] = str(draft.between(-50.0, 2500.0))
    draft.keys["heading"] = draft.pick("0", "90", "45", str(draft.between(-180, 180)))
    chord = draft.pick("0.05", "0.05", "0.02", "0.2") if draft.out < 80 else draft.pick("0.05", "0.2")
    stops = [key for key in ("begin", "end") if draft.keys.get(key) == '"butt"']
    text = scene(draft, chord, "")
    return Case(number, family.__name__, scene(draft, chord, butted(text, draft, stops)) if stops else text)


def scene(draft: Draft, chord: str, more: str) -> str:
    members = ", ".join(f'"{name}"' for name in draft.members)
    keys = "\n".join(f"{key} = {value}" for key, value in sorted(draft.keys.items()))
    steps = "\n".join(f"  {step}," for step in draft.steps)
    run = f'[[run]]\nname = "drawn"\nmembers = [{members}]\n{keys}\nsteps = [\n{steps}\n]'
    extra, _, runs = more.partition("@")
    tables = "\n\n".join(each for each in (*draft.tables, extra, run, runs) if each)
    return f'title = "drawn"\nunits = "mm"\nchord = {chord}\n\n{tables}\n'


def butted(text: str, draft: Draft, stops: Sequence[str]) -> str:
    """A square post across the way at each end that butts, its face where the run ends."""
    try:
        run = parse_scene(text, SCENE).runs[0].run
    except PreviewError:
        return ""
    thick = 30.0
    rows = []
    for key in stops:
        last = key == "end"
        element = run.elements[-1 if last else 0]
        (x, y), (tx, ty) = (element.end, element.end_tangent) if last else (element.start, element.tangent)
        ahead = 1.0 if last else -1.0
        nx, ny = -run.hand * ty, run.hand * tx
        back = -20.0 if last else draft.out + 20.0
        start = x + ahead * thick * tx + back * nx, y + ahead * thick * ty + back * ny
        heading = math.degrees(math.atan2(ahead * ny, ahead * nx))
        rows.append(
            f'[[run]]\nname = "post at the {key}"\nmembers = ["post"]\nroom = "{run.room}"\n'
            f"start = [{start[0]!r}, {start[1]!r}]\nheading = {heading!r}\nlevel = {run.level + draft.low - 10!r}\n"
            f"steps = [{{ straight = {draft.out + 60!r} }}]"
        )
    post = f"[profile.post]\nfoot = {thick}\nface = [{{ fillet = {num(draft.high - draft.low + 20)} }}]"
    return f'{post}\n\n[member.post]\nprofile = "post"@' + "\n\n".join(rows)
