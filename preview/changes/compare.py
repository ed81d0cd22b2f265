"""What changed from one version to the next, in sentences that a client and a shop understand."""

from __future__ import annotations

import math
from collections.abc import Iterator

from preview.build import Built
from preview.changes.pairs import Pairs, block_pairs, member_pairs, run_pairs, same_path
from preview.changes.parts import (
    changed_blocks,
    changed_count,
    changed_finishes,
    changed_lists,
    changed_profiles,
    changed_shifts,
    looks_of,
)
from preview.changes.pieces import changed_corners, changed_ends, changed_lengths, changed_place
from preview.changes.saying import TINY, TINY_ANGLE, count, in_a_row, long
from preview.scene import RunInScene
from preview.units import Unit

MOST = 12
"""Sentences that are told; of more, the last says how many there are."""


def changed(before: Built, after: Built) -> tuple[str, ...]:
    """What a client sees and the shop cuts that is not as it was: sentences, lengths in the unit of `after`.

    Empty where both have one digest, and only there. At most 12 sentences; the last says how many more there are.
    Raises nothing.
    """
    if before.digest == after.digest:
        return ()
    told = list(dict.fromkeys(_told(before, after))) or list(_untold(before, after))
    if len(told) > MOST:
        told = [*told[: MOST - 1], f"And {len(told) - MOST + 1} changes more"]
    return tuple(told)


def _told(before: Built, after: Built) -> Iterator[str]:
    unit = after.scene.units
    members, blocks, runs = member_pairs(before, after), block_pairs(before, after), run_pairs(before, after)
    both = [(one.run, other.run) for one, other in runs if one is not None and other is not None]
    yield from changed_profiles(members, unit)
    yield from changed_finishes(looks_of(members, blocks))
    yield from changed_lists(runs, members)
    for one, other in both:
        yield from changed_corners(one, other, unit)
    yield from _come_and_gone(before, after, runs)
    yield from changed_blocks(blocks, unit)
    for one, other in both:
        yield from changed_ends(one, other)
    for one, other in both:
        yield from changed_lengths(one, other, unit)
    yield from changed_shifts(members, unit)
    together = _moved_together(runs, unit)
    if together:
        yield together
    else:
        for one, other in both:
            yield from changed_place(one, other, unit)
    yield from changed_count(before, after)


def _come_and_gone(before: Built, after: Built, runs: Pairs[RunInScene]) -> Iterator[str]:
    for one, other in runs:
        if one is None and other is not None:
            yield f"New: {other.run.name}, {_pieces(after, other)}"
        elif other is None and one is not None:
            yield f"Left out: {one.run.name}, {_pieces(before, one)}"
        elif one is not None and other is not None and one.run.name != other.run.name:
            yield f"{one.run.name} is now called {other.run.name}"


def _pieces(built: Built, placed: RunInScene) -> str:
    return count(sum(piece.run == placed.run.name for piece in built.pieces), "piece")


def _moved_together(runs: Pairs[RunInScene], unit: Unit) -> str:
    """The sentence for more runs than one that all moved alike, and did nothing else of that kind; or nothing."""
    both = [(one.run, other.run) for one, other in runs if one is not None and other is not None]
    if len(both) < 2 or len(both) != len(runs):
        return ""
    shifts = set()
    for one, other in both:
        (x0, y0), (x1, y1) = one.elements[0].start, other.elements[0].start
        t0, t1 = one.elements[0].tangent, other.elements[0].tangent
        if one.stand != other.stand or math.dist(t0, t1) > TINY_ANGLE:
            return ""
        shifts.add((round(x1 - x0, 3), round(y1 - y0, 3), round(other.level - one.level, 3)))
    if len(shifts) != 1:
        return ""
    far = math.hypot(*shifts.pop())
    return f"Everything stands {long(far, unit)} from where it stood" if far > TINY else ""


def _untold(before: Built, after: Built) -> Iterator[str]:
    """What the digest tells apart and no sentence spoke of: names, their order, joints, and the last decimals."""
    runs = run_pairs(before, after)
    names = [[line.name for line in built.lines] for built in (before, after)]
    if names[0] != names[1] and sorted(names[0]) == sorted(names[1]):
        yield "The runs are listed in another order; nothing else changed"
        return
    kinds = [[joint.kind for line in built.lines for joint in line.joints] for built in (before, after)]
    if kinds[0] != kinds[1]:
        moved = [
            f"{kinds[1].count(kind)} of kind {kind} (before: {kinds[0].count(kind)})"
            for kind in dict.fromkeys([*kinds[0], *kinds[1]])
            if kinds[0].count(kind) != kinds[1].count(kind)
        ]
        yield f"The joints are made otherwise: {in_a_row(moved)}" if moved else "The joints stand in another order"
        return
    alike = all(one and other and same_path(one.run, other.run) for one, other in runs)
    what = "Its measures" if alike else "Measures along the runs"
    yield f"{what} differ by less than {TINY:g} mm; nothing to be seen or cut otherwise"
