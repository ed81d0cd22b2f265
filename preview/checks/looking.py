"""All that is measured on a model's bodies, by one process or shared among several, each of which takes some."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from preview.checks import findings as table
from preview.checks.alone import LEANING, on_its_own
from preview.checks.continuity import SEARCH
from preview.checks.findings import Finding
from preview.checks.overlap import shared_volumes
from preview.checks.place import Laid, laid
from preview.checks.readers import Body, Floats, Ints, read_stl
from preview.checks.standing import JointPair, Measured, Standing
from preview.checks.surface import Surface, measures, surface, unbalanced_edges, weld
from preview.checks.workers import Workers
from preview.joinery import Piece
from preview.profiles import measure
from preview.runs import overlapping_pairs

SHARED = 1e-3
"""The volume, mm³, that two pieces may share before rounding."""
PART = 100
"""How many pieces another process takes at a time."""

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Job:
    """Pieces, the body of each (None where it is missing), the joints between them by number, closed-form volumes."""

    pieces: tuple[Piece, ...]
    have: tuple[Body | None, ...]
    joints: tuple[JointPair, ...]
    volumes: tuple[float, ...]
    chord: float


@dataclass
class Seen:
    """What was measured. alone: for each piece. overlaps: by the two pieces, the lower first. joints: by number.

    low, high (P, 3): each body's box, nan where there is none.
    """

    alone: list[list[Finding]]
    volumes: list[float]
    low: Floats
    high: Floats
    overlaps: dict[tuple[int, int], Finding] = field(default_factory=dict)
    joints: dict[int, Measured] = field(default_factory=dict)


def looked_at(job: Job, progress: Progress, workers: int) -> Seen:
    """Measure a job, in parts where there are workers and it is large enough for them."""
    count = len(job.pieces)
    if workers < 2 or count < 2 * PART:
        return look(job, progress)
    parts = [range(first, min(first + PART, count)) for first in range(0, count, PART)]
    nowhere = np.full((count, 3), np.nan)
    whole = Seen([[] for _ in range(count)], [float("nan")] * count, nowhere, nowhere.copy())
    owner = np.concatenate([np.full(len(part), number) for number, part in enumerate(parts)])
    joints = _joints_within(job, owner)
    tasks = [_part_of(job, part, joints[number]) for number, part in enumerate(parts)]
    done = 0
    with Workers(look_quietly, min(workers, len(parts))) as pool:
        for number, seen in pool.each(tasks):
            _put(whole, seen, parts[number], joints[number])
            done += len(parts[number])
            progress("pieces", done, count)
    _between(job, whole, owner, {at for mine in joints for at in mine})
    return whole


def look_quietly(job: Job) -> Seen:
    """`look`, with nobody to tell."""
    return look(job, lambda *_: None)


def look(job: Job, progress: Progress) -> Seen:
    """Measure a job in this process."""
    surfaces: list[Surface | None] = []
    placed: list[Laid | None] = []
    alone: list[list[Finding]] = []
    count = len(job.pieces)
    for i, (piece, body) in enumerate(zip(job.pieces, job.have, strict=True)):
        if body is None:
            skin, lies = None, None
            alone.append([])
        else:
            skin = surface(body)
            lies = laid(piece, skin.points)
            alone.append(on_its_own(piece, body, skin, lies, job.volumes[i], job.chord))
        surfaces.append(skin)
        placed.append(lies)
        progress("pieces", i + 1, count)
    low, high = _boxes(surfaces)
    seen = Seen(alone, [s.volume if s is not None else float("nan") for s in surfaces], low, high)
    seen.overlaps = _overlaps(job, surfaces, None, progress)
    model = Standing(job.pieces, job.have, surfaces, placed)
    for number, pair in enumerate(job.joints):
        measured = model.joint(pair)
        if measured is not None:
            seen.joints[number] = measured
        progress("joints", number + 1, len(job.joints))
    return seen


def _boxes(surfaces: Sequence[Surface | None]) -> tuple[Floats, Floats]:
    empty = np.full(3, np.nan)
    lows = [s.points.min(axis=0) if s is not None and len(s.triangles) else empty for s in surfaces]
    highs = [s.points.max(axis=0) if s is not None and len(s.triangles) else empty for s in surfaces]
    return np.array(lows).reshape(-1, 3), np.array(highs).reshape(-1, 3)


def _overlaps(
    job: Job, surfaces: Sequence[Surface | None], owner: Ints | None, progress: Progress
) -> dict[tuple[int, int], Finding]:
    """Overlaps of all pairs, or, with owners, of those of two owners."""
    whole = [i for i, s in enumerate(surfaces) if s is not None and len(s.triangles)]
    skins = [s for s in surfaces if s is not None and len(s.triangles)]
    groups = None if owner is None else owner[whole]
    found: dict[tuple[int, int], Finding] = {}
    for shared in shared_volumes(skins, lambda done, total: progress("overlaps", done, total), groups):
        i, j = whole[shared.first], whole[shared.second]
        one, two = job.pieces[i], job.pieces[j]
        rounding = max(body.step for body in (job.have[i], job.have[j]) if body is not None)
        limit = SHARED
        if (one.run, one.member) != (two.run, two.member):
            limit += rounding * min(skins[shared.first].area, skins[shared.second].area)
        elif any(piece.is_faced or not piece.is_level or piece.square for piece in (one, two)):
            # Faces that lean, or that are not one piece of arithmetic, come apart in the last digit.
            limit += rounding * LEANING * measure(one.profile).area
        found[i, j] = Finding(table.OVERLAP, f"{one.name} and {two.name}", abs(shared.volume), limit)
    return found


# Sharing the work.


def _joints_within(job: Job, owner: Ints) -> list[list[int]]:
    """The joints, by number, that each part can measure by itself. An end that butts asks what stands near."""
    found: list[list[int]] = [[] for _ in range(int(owner[-1]) + 1)]
    for number, pair in enumerate(job.joints):
        owners = {int(owner[i]) for i in (pair.before, pair.after) if i is not None}
        if len(owners) == 1 and pair.joint.kind != "butt end":
            found[owners.pop()].append(number)
    return found


def _part_of(job: Job, part: range, joints: Iterable[int]) -> Job:
    def here(i: int | None) -> int | None:
        return None if i is None else i - part.start

    pairs = (job.joints[number] for number in joints)
    return Job(
        job.pieces[part.start : part.stop],
        job.have[part.start : part.stop],
        tuple(replace(pair, before=here(pair.before), after=here(pair.after)) for pair in pairs),
        job.volumes[part.start : part.stop],
        job.chord,
    )


def _put(whole: Seen, seen: Seen, part: range, joints: Sequence[int]) -> None:
    """Enter what was measured on a part."""
    here = slice(part.start, part.stop)
    whole.alone[here], whole.volumes[here] = seen.alone, seen.volumes
    whole.low[here], whole.high[here] = seen.low, seen.high
    for (i, j), finding in seen.overlaps.items():
        whole.overlaps[i + part.start, j + part.start] = finding
    for number, measured in seen.joints.items():
        whole.joints[joints[number]] = measured


def _between(job: Job, whole: Seen, owner: Ints, measured: set[int]) -> None:
    """What no part could see: bodies of two parts that come near each other, and joints between them."""
    left = [(number, pair) for number, pair in enumerate(job.joints) if number not in measured]
    pairs = overlapping_pairs(np.nan_to_num(whole.low, nan=np.inf), np.nan_to_num(whole.high, nan=-np.inf), SEARCH)
    apart = owner[pairs[:, 0]] != owner[pairs[:, 1]]
    ends = {i for _, pair in left for i in (pair.before, pair.after) if i is not None}
    beside = np.isin(pairs, list(ends)).any(axis=1)
    wanted = ends | set(pairs[apart | beside].ravel().tolist())
    surfaces = [surface(body) if i in wanted and body is not None else None for i, body in enumerate(job.have)]
    whole.overlaps |= _overlaps(job, surfaces, owner, lambda *_: None)
    placed = [
        laid(piece, skin.points) if skin is not None and i in ends else None
        for i, (piece, skin) in enumerate(zip(job.pieces, surfaces, strict=True))
    ]
    model = Standing(job.pieces, job.have, surfaces, placed)
    for number, pair in left:
        found = model.joint(pair)
        if found is not None:
            whole.joints[number] = found


@dataclass(frozen=True)
class Loose:
    """Some triangles of an STL: edges walked more often one way than the other, mm³ and mm², and its digits, mm."""

    unbalanced: int
    volume: float
    area: float
    step: float


def looked_at_stl(path: Path, spans: Sequence[tuple[int, int]], workers: int) -> list[Loose]:
    """Measure stretches of an STL's triangles, each by itself; among several processes where there are many."""
    tasks = [(path, first, last) for first, last in spans]
    if workers < 2 or len(tasks) < 2 * workers:
        return [look_at_stl(task) for task in tasks]
    found: dict[int, Loose] = {}
    with Workers(look_at_stl, workers) as pool:
        found.update(pool.each(tasks))
    return [found[number] for number in range(len(tasks))]


def look_at_stl(task: tuple[Path, int, int]) -> Loose:
    """Measure the triangles of an STL from one number to another."""
    path, first, last = task
    body = read_stl(path, first, last)
    points, inverse = weld(body.vertices)
    triangles = inverse.reshape(-1, 3)
    whole = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)
    return Loose(unbalanced_edges(triangles[whole], len(points)), *measures(points, triangles), body.step)
