"""Finding room for labels: boxes that may be turned, what they would cover, and the best of many places."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from preview.paper import INK, Box, Label, Words, ink_box
from preview.profiles import Point

Floats = NDArray[np.float64]
Found = TypeVar("Found")

CLEAR = 0.5
"""mm kept free round a label."""
LABEL_CROSSED = 80.0
"""What it costs to draw a line through a label."""
ALONG, HEAVY = 0.7, 20.0
"""What it costs to draw a line on another, as a part of what it costs to write over that; for those that cost so much:
extension lines may run in one line.
"""
ON, OVERLAP, PARALLEL = 0.7, 1.5, math.sin(math.radians(5))
"""A line lies on another that is nearer, mm, for more than such a length, mm, and turned from it by less: its sine."""
STEEP = math.radians(-75)
"""A line that falls more steeply is read from the right, as an upright one is."""


@dataclass(frozen=True)
class Patch:
    """An oblong, mm: its middle, half its sides, and how far it is turned, radians."""

    x: float
    y: float
    half_wide: float
    half_high: float
    turn: float = 0.0

    @cached_property
    def corners(self) -> Floats:
        """The four corners (4, 2)."""
        cos, sin = math.cos(self.turn), math.sin(self.turn)
        along = np.array([cos, sin]) * self.half_wide
        up = np.array([-sin, cos]) * self.half_high
        middle = np.array([self.x, self.y])
        return np.array([middle - along - up, middle + along - up, middle + along + up, middle - along + up])

    @cached_property
    def box(self) -> Box:
        """The upright box round it."""
        low, high = self.corners.min(axis=0), self.corners.max(axis=0)
        return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))

    def grown(self, by: float) -> Patch:
        """The same with that much more on every side."""
        return replace(self, half_wide=self.half_wide + by, half_high=self.half_high + by)

    def overlaps(self, other: Patch) -> bool:
        """Whether two have more than a border in common (separating axes)."""
        if math.hypot(self.x - other.x, self.y - other.y) >= self.reach + other.reach:
            return False
        mine, theirs = self.corners, other.corners
        for angle in {self.turn, other.turn}:
            for axis in ((math.cos(angle), math.sin(angle)), (-math.sin(angle), math.cos(angle))):
                one, two = mine @ axis, theirs @ axis
                if one.max() <= two.min() + 1e-9 or two.max() <= one.min() + 1e-9:
                    return False
        return True

    @cached_property
    def reach(self) -> float:
        """How far its corners are from its middle, mm."""
        return math.hypot(self.half_wide, self.half_high)

    def covers(self, lines: Floats) -> NDArray[np.bool_]:
        """Which of segments (n, 4) run through it: (n,)."""
        cos, sin = math.cos(self.turn), math.sin(self.turn)
        x, y = lines[:, 0::2] - self.x, lines[:, 1::2] - self.y
        x, y = x * cos + y * sin, y * cos - x * sin
        first: Floats = np.zeros(len(x))
        last: Floats = np.ones(len(x))
        for at, half in ((x, self.half_wide), (y, self.half_high)):
            step = at[:, 1] - at[:, 0]
            still = np.abs(step) < 1e-12
            safe = np.where(still, 1.0, step)
            one, two = (-half - at[:, 0]) / safe, (half - at[:, 0]) / safe
            within = np.abs(at[:, 0]) < half
            low = np.where(still, np.where(within, 0.0, 2.0), np.minimum(one, two))
            high = np.where(still, np.where(within, 1.0, -1.0), np.maximum(one, two))
            first, last = np.asarray(np.maximum(first, low)), np.asarray(np.minimum(last, high))
        found: NDArray[np.bool_] = last - first > 1e-9
        return found

    def crossed(self, lines: Sequence[Sequence[float]]) -> int:
        """How many of a few segments, (x, y, x, y) each, run through it: as `covers`, one by one."""
        cos, sin, count = math.cos(self.turn), math.sin(self.turn), 0
        for ax, ay, bx, by in lines:
            ax, ay, bx, by = ax - self.x, ay - self.y, bx - self.x, by - self.y
            first, last = 0.0, 1.0
            for a, b, half in (
                (ax * cos + ay * sin, bx * cos + by * sin, self.half_wide),
                (ay * cos - ax * sin, by * cos - bx * sin, self.half_high),
            ):
                step = b - a
                if abs(step) < 1e-12:
                    if abs(a) >= half:
                        last = -1.0
                    continue
                one, two = (-half - a) / step, (half - a) / step
                first, last = max(first, min(one, two)), min(last, max(one, two))
            count += last - first > 1e-9
        return count


def crossings(ways: Floats, lines: Floats) -> NDArray[np.bool_]:
    """Which segments (n, 4) are crossed by any of `ways` (m, 4), ends that only touch aside."""
    if not len(ways) or not len(lines):
        return np.zeros(len(lines), dtype=bool)
    p, r = lines[None, :, :2], (lines[:, 2:] - lines[:, :2])[None]
    q, s = ways[:, None, :2], (ways[:, 2:] - ways[:, :2])[:, None]
    cross = r[..., 0] * s[..., 1] - r[..., 1] * s[..., 0]
    safe = np.where(np.abs(cross) < 1e-12, np.inf, cross)
    away = q - p
    t = (away[..., 0] * s[..., 1] - away[..., 1] * s[..., 0]) / safe
    u = (away[..., 0] * r[..., 1] - away[..., 1] * r[..., 0]) / safe
    hit = (t > 1e-6) & (t < 1 - 1e-6) & (u > 1e-6) & (u < 1 - 1e-6)
    found: NDArray[np.bool_] = np.logical_or.reduce(hit, axis=0)
    return found


@dataclass(frozen=True)
class Try:
    """A place that a label might have: what it would fill, the lines it would bring (n, 4), and what else it costs."""

    patches: tuple[Patch, ...]
    lines: Floats
    cost: float


NO_LINES: Floats = np.zeros((0, 4))


@dataclass
class Field:
    """What stands on a drawing so far. room: the box that labels have to stay in.

    Lines count when a label would cover them, or a line of its own cross them: each row of `weights` says how much.
    """

    room: Box
    patches: list[Patch] = field(default_factory=list)
    lines: Floats = field(default_factory=lambda: np.zeros((0, 4)))
    weights: Floats = field(default_factory=lambda: np.zeros((0, 2)))
    spans: Floats = field(default_factory=lambda: np.zeros((0, 4)))
    spots: Floats = field(default_factory=lambda: np.zeros((0, 3)))

    def draw(self, lines: Floats, covered: float, crossed: float) -> None:
        """Add lines (n, 4). covered: what it costs to lie over one; crossed: what it costs to cross one."""
        lines = lines.reshape(-1, 4)
        self.lines = np.concatenate([self.lines, lines])
        ends = lines.reshape(-1, 2, 2)
        self.spans = np.concatenate([self.spans, np.hstack([ends.min(axis=1), ends.max(axis=1)])])
        self.weights = np.concatenate([self.weights, np.tile([covered, crossed], (len(lines), 1))])

    def free(self, middles: Floats, half: tuple[float, float]) -> NDArray[np.bool_]:
        """Which upright oblongs of half such sides about middles (n, 2) lie in the room, and over no label: (n,)."""
        left, low, right, high = self.room
        x, y = middles[:, 0], middles[:, 1]
        found: NDArray[np.bool_] = (x - half[0] >= left) & (x + half[0] <= right)
        found &= (y - half[1] >= low) & (y + half[1] <= high)
        for other in self.patches:
            box = other.box
            over = (x - half[0] < box[2] - 1e-9) & (x + half[0] > box[0] + 1e-9)
            over &= (y - half[1] < box[3] - 1e-9) & (y + half[1] > box[1] + 1e-9)
            if other.turn:  # the box round it says more than itself
                for number in np.flatnonzero(over & found).tolist():
                    over[number] = other.overlaps(Patch(float(x[number]), float(y[number]), *half))
            found &= ~over
        return found

    def near(self, patch: Patch) -> list[Patch]:
        """The labels that a patch may lie over."""
        if len(self.spots) != len(self.patches):
            self.spots = np.array([(each.x, each.y, each.reach) for each in self.patches]).reshape(-1, 3)
        away = np.hypot(self.spots[:, 0] - patch.x, self.spots[:, 1] - patch.y)
        return [self.patches[i] for i in np.flatnonzero(away < self.spots[:, 2] + patch.reach).tolist()]

    def cost(self, tried: Try, least: float = math.inf) -> float:
        """What a place costs; infinite where it would lie over another label, out of the room, or cost `least`."""
        left, low, right, high = self.room
        for patch in tried.patches:
            box = patch.box
            if box[0] < left or box[1] < low or box[2] > right or box[3] > high:
                return math.inf
            if any(patch.overlaps(other) for other in self.near(patch)):
                return math.inf
        cost = tried.cost
        rows = tried.lines.tolist()
        boxes = [patch.box for patch in tried.patches]
        boxes += [(min(a, c), min(b, d), max(a, c), max(b, d)) for a, b, c, d in rows]
        left, low = min(box[0] for box in boxes) - ON, min(box[1] for box in boxes) - ON
        right, high = max(box[2] for box in boxes) + ON, max(box[3] for box in boxes) + ON
        spans = self.spans
        near = np.flatnonzero(
            (spans[:, 0] <= right) & (spans[:, 2] >= left) & (spans[:, 1] <= high) & (spans[:, 3] >= low)
        )
        lines = self.lines[near]
        for patch in tried.patches:
            cost += float(self.weights[near[patch.covers(lines)], 0].sum())
            if cost >= least:
                return math.inf
        if rows:
            about = Patch((left + right) / 2, (low + high) / 2, (right - left) / 2, (high - low) / 2)
            cost += LABEL_CROSSED * sum(other.crossed(rows) for other in self.near(about))
            if cost < least:
                cost += float(self.weights[near[crossings(tried.lines, lines)], 1].sum())
            if cost < least:
                over = self.weights[near[alongside(tried.lines, lines)], 0]
                cost += ALONG * float(over[over >= HEAVY].sum())
        return cost

    def place(
        self,
        tries: Iterable[tuple[Try, Callable[[], Found]]],
        covered: float = 16.0,
        crossed: float = 3.0,
        ordered: bool = False,
    ) -> Found | None:
        """Take the cheapest place there is, and keep it free from now on; None where there is none.

        tries: places, each with what makes the label there. ordered: whether the cheapest come first.
        """
        least, best = math.inf, None
        for tried, make in tries if ordered else sorted(tries, key=lambda each: each[0].cost):
            if tried.cost >= least:
                break
            cost = self.cost(tried, least)
            if cost < least:
                least, best = cost, (tried, make)
        if best is None:
            return None
        self.patches += best[0].patches
        self.draw(best[0].lines, covered, crossed)
        return best[1]()


def alongside(some: Floats, others: Floats) -> NDArray[np.bool_]:
    """Which of segments (m, 4) have one of (n, 4) lie on them for a stretch: (m,), of `others`."""
    found = np.zeros(len(others), dtype=np.bool_)
    first, step = others[:, :2], others[:, 2:] - others[:, :2]
    long = np.hypot(step[:, 0], step[:, 1])
    safe = np.maximum(long, 1e-9)[:, None]
    way = step / safe
    for x, y, to_x, to_y in some.tolist():
        own = math.hypot(to_x - x, to_y - y)
        if own < OVERLAP:
            continue
        turned = np.abs(way[:, 0] * (to_y - y) - way[:, 1] * (to_x - x)) / own
        near = np.flatnonzero((turned < PARALLEL) & (long > OVERLAP))
        ends = np.array([[x, y], [to_x, to_y]])[:, None, :] - first[None, near, :]
        off = ends[..., 1] * way[near, 0] - ends[..., 0] * way[near, 1]
        at = ends[..., 0] * way[near, 0] + ends[..., 1] * way[near, 1]
        slope = (off[1] - off[0]) / (at[1] - at[0])
        steep = np.where(np.abs(slope) < 1e-9, 1e-9, slope)
        zero, reach = at[0] - off[0] / steep, np.abs(ON / steep)  # where they cross, and how far they stay near
        begin = np.maximum(np.maximum(at.min(axis=0), 0.0), zero - reach)
        end = np.minimum(np.minimum(at.max(axis=0), long[near]), zero + reach)
        found[near] |= end - begin > OVERLAP
    return found


def lettered(text: str, size: float, middle: Point, turn: float = 0.0, bold: bool = False, ink: str = INK) -> Words:
    """Words whose letters have their middle there."""
    left, low, right, high = ink_box(Words(text, (0.0, 0.0), size, ink, bold))
    cos, sin = math.cos(turn), math.sin(turn)
    x, y = (left + right) / 2, (low + high) / 2
    return Words(text, (middle[0] - x * cos + y * sin, middle[1] - x * sin - y * cos), size, ink, bold, turn)


@functools.cache
def text_size(text: str, size: float, bold: bool = False) -> tuple[float, float]:
    """How wide and how high the letters are, mm."""
    left, low, right, high = ink_box(Words(text, (0.0, 0.0), size, INK, bold))
    return right - left, high - low


def patch_of(words: Words, clear: float = CLEAR) -> Patch:
    """The oblong that words fill, and a little more."""
    left, low, right, high = ink_box(replace(words, at=(0.0, 0.0), turn=0.0))
    cos, sin = math.cos(words.turn), math.sin(words.turn)
    x, y = (left + right) / 2, (low + high) / 2
    middle = (words.at[0] + x * cos - y * sin, words.at[1] + x * sin + y * cos)
    return Patch(*middle, (right - left) / 2 + clear, (high - low) / 2 + clear, words.turn)


def label_patch(label: Label, x: float, y: float, clear: float = CLEAR) -> Patch:
    """The same of a label whose lower left corner is at (x, y)."""
    return Patch(x + label.width / 2, y + label.height / 2, label.width / 2 + clear, label.height / 2 + clear)


def readable(angle: float) -> float:
    """An angle of a line as text along it is read: from below, and from the right of what stands upright.

    >>> [round(math.degrees(readable(math.radians(a)))) for a in (0, 180, 90, -90, 135, -45)]
    [0, 0, 90, 90, -45, -45]
    """
    turn = math.remainder(angle, math.pi)
    if turn < STEEP:
        turn += math.pi
    return 0.0 if abs(turn) < 1e-12 else turn


def segments(points: Sequence[Point] | Floats) -> Floats:
    """A polyline as segments (n, 4)."""
    row = np.asarray(points, dtype=np.float64)
    return np.concatenate([row[:-1], row[1:]], axis=1)
