"""Chains of dimensions: the steps of an outline as seen from one side, stacked along a line, every label clear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from preview.drafting.profile.facts import corners
from preview.paper import Box, Label, Mark, Placing, Trace, one_line, stroke, two_lines
from preview.profiles import Point, Profile, measure, projection_at

Side = Literal["right", "left", "top", "bottom"]

GAP = 1.3
"""mm between an outline and the extension lines that leave it."""
BEYOND = 1.6
"""mm that an extension line runs past its dimension line."""
TICK = 1.0
"""mm, half the side of the oblique stroke in which every dimension line ends; arrowheads are for radii alone."""
ASIDE = 2.6
"""mm between a chain and its labels."""
SAME = 0.02
"""mm; corners closer than this are one step."""
INSET = 1.4
"""mm between the end of a chain and the labels within it."""
MOST_CORNERS = 120
"""An outline of more, such as a traced one, gets no chains: its table says more."""
TURNS: dict[Side, Placing] = {
    "right": Placing(),
    "left": Placing(a=-1.0),
    "top": Placing(0.0, 1.0, 1.0, 0.0),
    "bottom": Placing(0.0, -1.0, 1.0, 0.0),
}
"""What makes each side the right one: (x, y) becomes (how far out on that side, how far along it)."""


@dataclass(frozen=True)
class Step:
    """A corner as seen from a side: how far along the side, and how far out there the outline reaches; mm."""

    along: float
    reach: float


def steps(profile: Profile, side: Side) -> tuple[Step, ...]:
    """The corners that can be seen from a side, and the ends of the outline, in order along it.

    What something further out hides is left out. Raises nothing; an outline of very many corners has its ends only.
    """
    turn = TURNS[side]
    turned = replace(profile, edges=turn.edges(profile.edges))
    size = measure_along(profile, side)
    found = [Step(along, _reach(turned, along)) for along in size]
    spots = [turn.point(corner) for corner in corners(profile)]
    if len(spots) <= MOST_CORNERS:
        found += [Step(along, out) for out, along in spots if out >= _reach(turned, along) - SAME]
    found.sort(key=lambda step: step.along)
    kept = [found[0]]
    for step in found[1:]:
        if step.along - kept[-1].along > SAME:
            kept.append(step)
        elif step.reach > kept[-1].reach:
            kept[-1] = replace(kept[-1], reach=step.reach)
    return tuple(kept)


def nearer(mine: Sequence[Step], other: Sequence[Step], yields: bool = False) -> tuple[Step, ...]:
    """The steps of a side, less those that the opposite side shows from closer by; the first, at the back, stays.

    yields: whether a step that is as close to the other side is left to it.
    """
    edge, other_edge = max(step.reach for step in mine), max(step.reach for step in other)
    least = -SAME if yields else SAME

    def closer_there(step: Step) -> bool:
        twins = [twin for twin in other if abs(twin.along - step.along) <= SAME]
        return any((edge - step.reach) - (other_edge - twin.reach) > least for twin in twins)

    return (mine[0], *(step for step in mine[1:] if not closer_there(step)))


def measure_along(profile: Profile, side: Side) -> tuple[float, float]:
    """Where the outline begins and ends along a side, mm."""
    size = measure(profile)
    return (size.h_min, size.h_max) if side in ("right", "left") else (size.d_min, size.d_max)


def _reach(turned: Profile, along: float) -> float:
    return projection_at(turned, along)[1]


def spread(
    wanted: Sequence[float], sizes: Sequence[float], gap: float, within: tuple[float, float] | None = None
) -> list[float]:
    """Centers for labels of those sizes, in order, `gap` apart, as near as can be to where they are wanted.

    The least sum of squares, by pooling neighbors that want to overlap. Where they have room, they stay `within`.

    >>> spread([0, 1, 10], [4, 4, 4], 1), spread([0, 1, 10], [4, 4, 4], 1, within=(-2, 15))
    ([-2.0, 3.0, 10.0], [0.0, 5.0, 10.0])
    """
    offset = [0.0]
    for before, after in pairwise(sizes):
        offset.append(offset[-1] + (before + after) / 2 + gap)
    pools: list[tuple[float, int]] = []
    for place, shift in zip(wanted, offset, strict=False):
        mean, count = place - shift, 1
        while pools and pools[-1][0] > mean:
            other, others = pools.pop()
            mean, count = (mean * count + other * others) / (count + others), count + others
        pools.append((mean, count))
    flat = [mean for mean, count in pools for _ in range(count)]
    if within:
        least, most = within[0] + sizes[0] / 2, within[1] - sizes[-1] / 2 - offset[-1]
        if least <= most:
            flat = [min(max(place, least), most) for place in flat]
    return [place + shift for place, shift in zip(flat, offset, strict=False)]


@dataclass(frozen=True)
class Chain:
    """The marks of a chain, and the boxes of its labels, which other lines leave free."""

    marks: tuple[Mark, ...]
    boxes: tuple[Box, ...]


def chain(
    levels: Sequence[Step],
    lengths: Sequence[float],
    side: Side,
    line: float,
    unit: str,
    size: float,
    clear: Sequence[Box] = (),
) -> Chain:
    """A chain on a side: `levels` on the page, the true lengths between them, and where its line stands, mm.

    Extension lines leave out what lies in the boxes `clear`.
    """
    on = _Frame(side)
    marks: list[Mark] = []
    for level in levels:
        marks += on.extension(level, line, clear)
        marks.append(_tick(on.spot(level.along, line)))
    marks.append(stroke(on.spot(levels[0].along, line), on.spot(levels[-1].along, line)))
    labels = [one_line(length, unit, size) if on.upright else two_lines(length, unit, size) for length in lengths]
    middles = [(a.along + b.along) / 2 for a, b in pairwise(levels)]
    sizes = [label.height if on.upright else label.width for label in labels]
    # On the right no further line stands beyond the chain, so there its labels may run past its ends.
    within = None if side == "right" else (levels[0].along + INSET, levels[-1].along - INSET)
    centers = spread(middles, sizes, (0.32 if on.upright else 0.45) * size, within)
    pushed = any(abs(center - middle) > 0.25 * size for center, middle in zip(centers, middles, strict=True))
    away = line + on.out * (ASIDE + (2.4 if pushed else 0.0))
    boxes: list[Box] = []
    for label, center, middle in zip(labels, centers, middles, strict=True):
        if abs(center - middle) > 0.25 * size:
            marks.append(stroke(on.spot(middle, line), on.spot(center, away - on.out * 0.9), weight=0.25))
        corner = on.corner(label, center, away)
        marks += label.at(*corner)
        boxes.append((corner[0] - 0.6, corner[1] - 0.6, corner[0] + label.width + 0.6, corner[1] + label.height + 0.6))
    return Chain(tuple(marks), tuple(boxes))


def overall(
    begin: Step,
    end: Step,
    length: float,
    side: Side,
    line: float,
    unit: str,
    size: float,
    clear: Sequence[Box] = (),
) -> tuple[Mark, ...]:
    """An overall dimension, its ends as those of a chain: upright its text breaks the line, level its text lies beyond.

    Extension lines leave out what lies in the boxes `clear`.
    """
    on = _Frame(side)
    marks: list[Mark] = [*on.extension(begin, line, clear), *on.extension(end, line, clear)]
    label = two_lines(length, unit, size) if on.upright else one_line(length, unit, size)
    middle, span = (begin.along + end.along) / 2, end.along - begin.along
    marks += [_tick(on.spot(at.along, line)) for at in (begin, end)]
    if on.upright and span >= label.height + 16.0:
        half = label.height / 2 + 1.6
        marks.append(stroke(on.spot(begin.along, line), on.spot(middle - half, line)))
        marks.append(stroke(on.spot(middle + half, line), on.spot(end.along, line)))
        return (*marks, *label.at(line - label.width / 2, middle - label.height / 2))
    marks.append(stroke(on.spot(begin.along, line), on.spot(end.along, line)))
    return (*marks, *label.at(*on.corner(label, middle, line + on.out * ASIDE)))


@dataclass(frozen=True)
class _Frame:
    """A side of the drawing: which way is out, and whether its dimension lines stand upright."""

    side: Side

    @property
    def out(self) -> float:
        return 1.0 if self.side in ("right", "top") else -1.0

    @property
    def upright(self) -> bool:
        return self.side in ("right", "left")

    def spot(self, along: float, across: float) -> Point:
        return (across, along) if self.upright else (along, across)

    def corner(self, label: Label, center: float, away: float) -> Point:
        """The lower left corner of a label centered along the side, its nearer edge `away`."""
        across, along = (label.width, label.height) if self.upright else (label.height, label.width)
        return self.spot(center - along / 2, away if self.out > 0 else away - across)

    def extension(self, level: Step, line: float, clear: Sequence[Box]) -> list[Mark]:
        """The extension line of a step to a dimension line, less what lies in the boxes."""
        low, high = sorted((self.out * (level.reach + GAP), line + self.out * BEYOND))
        holes = [box if self.upright else (box[1], box[0], box[3], box[2]) for box in clear]
        at, marks = low, []
        for left, _, right, _ in sorted(box for box in holes if box[1] < level.along < box[3]):
            if at < min(left, high):
                marks.append(stroke(self.spot(level.along, at), self.spot(level.along, min(left, high))))
            at = max(at, right)
        return [*marks, stroke(self.spot(level.along, at), self.spot(level.along, high))] if at < high else [*marks]


def _tick(at: Point) -> Trace:
    """The oblique stroke in which a dimension line ends."""
    return stroke((at[0] - TICK, at[1] - TICK), (at[0] + TICK, at[1] + TICK), weight=0.5)
