"""How the build-up of a run is best looked at: from above or below, how near, and which of its points are in sight."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.joinery import MemberRun
from preview.runs import IN_PLAN

Floats = NDArray[np.float64]

RISE = math.radians(22)
"""How steeply a base is looked down on, and a crown up at."""
ON_WALL_RISE = math.radians(65)
"""How far from the face of its wall one stands to look at a casing: nearly before it."""
ASLANT = 0.45
"""How much shorter the way out from a wall looks to one who stands aslant of it, as before a corner."""
PAST = 0.01
"""What is nearer to a point than this, mm, does not hide it."""
LEAST_SHARE = 0.25
"""A member of a build-up is looked at from no nearer than this share of the distance for the whole of it."""


@dataclass(frozen=True)
class Look:
    """One member of a run as the eye meets it, in (d, h), mm.

    slope: how steeply the eye stands over the back line, radians; - below it. place: a point of the face in sight of
    it, near the middle, and its number among the outline's points. size: the larger side of the member, or of enough of
    what stands round it. large: the larger side of the whole build-up.
    """

    slope: float
    place: tuple[float, float]
    point: int
    size: float
    large: float


def looks_of(built: Built) -> list[Look]:
    """How each line of the job is looked at, in their order."""
    found: dict[int, Look] = {}
    outlines: dict[int, Floats] = {}
    first = 0
    for number, line in enumerate(built.lines):
        outlines[number] = built.meshes[first].shape.face.outline.points
        first += len(line.pieces)
    runs: dict[tuple[str, int], list[int]] = {}
    for number, line in enumerate(built.lines):
        # A block stands by itself; a corner block has a plan of its own as well.
        alone = number + 1 if line.pieces[0].role == "block" else 0
        runs.setdefault((line.run.name, alone), []).append(number)
    for numbers in runs.values():
        found |= _of_one(built.lines, numbers, outlines)
    return [found[number] for number in range(len(built.lines))]


def _of_one(lines: Sequence[MemberRun], numbers: list[int], outlines: dict[int, Floats]) -> dict[int, Look]:
    """The looks at the members of one build-up."""
    mine = [outlines[number] for number in numbers]
    steps = [np.roll(outline, -1, axis=0) - outline for outline in mine]
    in_plan = lines[numbers[0]].run.stand == IN_PLAN
    slope = (-RISE if looks_down(steps) else RISE) if in_plan else ON_WALL_RISE
    whole = np.concatenate(mine)
    low, high = whole.min(axis=0), whole.max(axis=0)
    large = float((high - low).max())
    toward = np.array([math.cos(slope), math.sin(slope)])
    steeper = np.array([ASLANT * toward[0], toward[1]])
    across = np.array([-toward[1], toward[0]])
    sides = np.concatenate(steps)
    found: dict[int, Look] = {}
    for number, outline in zip(numbers, mine, strict=True):
        clear = _clear(outline, toward, whole, sides)
        both = clear & _clear(outline, steeper, whole, sides)
        clear = both if both.any() else clear
        box = np.array([outline.min(axis=0), outline.max(axis=0)])
        off = np.abs((outline - box.mean(axis=0)) @ across)
        point = int(np.argmin(np.where(clear, off, np.inf)) if clear.any() else np.argmax(outline @ toward))
        d, h = outline[point].tolist()
        size = max(float(np.ptp(box, axis=0).max()), LEAST_SHARE * large)
        found[number] = Look(slope, (d, h), point, size, large)
    return found


def looks_down(steps: Iterable[Floats]) -> bool:
    """Whether most of a face, its flat top and bottom aside, looks down, as a crown's does.

    steps: the sides (n, 2) of outlines, counter-clockwise in (d, h).
    """
    down = 0.0
    for step in steps:
        length = np.linalg.norm(step, axis=1) + 1e-300
        out, up = step[:, 1], -step[:, 0]
        slanted = (out > -0.1 * length) & (np.abs(up) < 0.99 * length)
        down -= float(up[slanted].sum())
    return down > 1e-6


def _clear(points: Floats, toward: Floats, starts: Floats, sides: Floats) -> NDArray[np.bool_]:
    """From which points (n, 2) one sees the eye far off in direction `toward`, past segments (m, 2)."""
    away = starts[None] - points[:, None]  # point + t toward = start + u side
    cross = toward[0] * sides[:, 1] - toward[1] * sides[:, 0]
    parallel = np.abs(cross) < 1e-12
    safe = np.where(parallel, 1.0, cross)
    t = (away[..., 0] * sides[:, 1] - away[..., 1] * sides[:, 0]) / safe
    u = (away[..., 0] * toward[1] - away[..., 1] * toward[0]) / safe
    hit = (t > PAST) & (u >= 0.0) & (u <= 1.0) & ~parallel
    seen: NDArray[np.bool_] = ~hit.any(axis=1)
    return seen
