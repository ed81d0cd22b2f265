"""A chain of lines and arcs through noisy points: joined end to end exactly, by least squares over all of it.

The unknowns are the joints and, for each arc, its rise over its chord, so no fit can come apart. Each step is
Gauss and Newton's; where two edges could, by the noise, be tangent at their joint, they are then made so, as a
condition on the steps (Lagrange).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preview.drawings.curves import Floats
from preview.drawings.segments import Ints, Stretch, cut, noise_of
from preview.profiles import Edge, Line, arc_of_sweep

STEPS = 25
DIFFERENCE = 1e-6
"""The step, mm, of a numerical derivative."""
HOLD = 1e-3
"""How much a joint is held where it starts, against one point's pull: enough to fix what no point decides."""
NEARLY, MOST_TURN = math.radians(2), math.radians(15)
"""A turn this much beyond the noise's own is still tried as none; a larger one than the second never is."""
ALONE = 8.0
"""A point this many times the noise off its neighbors' middle is a stray, and is fitted to nothing."""
MOST_AT_END = 100
"""Points that say where the first and the last edge end."""
MOST_STRAIN = 12.0
"""A tangency that holds the sum of squares up by more than this, in units of the noise, is not there."""


@dataclass(frozen=True)
class Chain:
    """Edges end to end; the points' scatter about a smooth curve; the largest distance from a point and where, mm."""

    edges: tuple[Edge, ...]
    noise: float
    worst: float
    worst_at: int
    tangent: int


def fit_chain(points: Floats, fit: float) -> Chain:
    """Fit lines and arcs to a row of points (n, 2), mm, in order, which may stray by `fit` mm.

    With exact points the fit is as close as a fifth of `fit`; with noisy ones, as the noise lets it be seen.
    """
    scatter = noise_of(points)
    noise = max(scatter, fit / 5)
    sound = points[~_strays(points, noise)]
    chain = _Chain(sound, cut(sound, noise), noise)
    chain.settle([])
    tied = chain.nearly_tangent()
    while tied:
        strain = chain.settle(tied)
        worst = int(np.argmax(strain))
        if strain[worst] <= MOST_STRAIN:
            break
        tied.pop(worst)
    if not tied:
        chain.settle([])
    edges = chain.edges()
    away = np.min([edge.distance(points) for edge in edges], axis=0)
    return Chain(tuple(edges), scatter, float(away.max()), int(away.argmax()), len(tied))


class _Chain:
    """The unknowns of a chain: x and y of each joint, then the rise of each arc, + to the right of its chord."""

    def __init__(self, points: Floats, stretches: Sequence[Stretch], noise: float) -> None:
        self.points, self.noise = points, noise
        self.at = [stretch.first for stretch in stretches] + [stretches[-1].last]
        count = len(stretches)
        joints = np.array([points[i - 1 : i + 1].mean(axis=0) if i else points[0] for i in self.at[:-1]] + [points[-1]])
        joints[0] = _end(points[: self.at[1]], noise)
        joints[-1] = _end(points[self.at[-2] :][::-1], noise)
        self.rise_of = {}
        rises: list[float] = []
        for i, stretch in enumerate(stretches):
            if stretch.round:
                self.rise_of[i] = 2 * (count + 1) + len(rises)
                rises.append(_rise(points[stretch.first : stretch.last], joints[i], joints[i + 1]))
        self.unknowns = np.concatenate([joints.ravel(), np.array(rises)])
        self.held = self.unknowns[: 2 * (count + 1)].copy()

    @property
    def count(self) -> int:
        return len(self.at) - 1

    def _own(self, edge: int) -> Ints:
        """The unknowns that an edge depends on."""
        own = [2 * edge, 2 * edge + 1, 2 * edge + 2, 2 * edge + 3]
        return np.array(own + ([self.rise_of[edge]] if edge in self.rise_of else []))

    def _off(self, unknowns: Floats, edge: int, points: Floats) -> Floats:
        """The signed distances of points from an edge's line or circle."""
        own = unknowns[self._own(edge)]
        along = own[2:4] - own[:2]
        chord = max(math.hypot(along[0], along[1]), 1e-9)
        right = np.array([along[1], -along[0]]) / chord
        rise = own[4] if len(own) > 4 else 0.0
        if abs(rise) < 1e-7:
            return np.asarray((points - own[:2]) @ right)
        radius = (chord * chord / 4 + rise * rise) / (2 * rise)
        center = (own[:2] + own[2:4]) / 2 + (rise - radius) * right
        away = np.hypot(points[:, 0] - center[0], points[:, 1] - center[1])
        return np.asarray(math.copysign(1.0, rise) * away - radius)

    def turn(self, unknowns: Floats, joint: int) -> float:
        """The angle, radians, that the chain turns by at the joint after edge `joint`."""
        before, after = self._heading(unknowns, joint, 1.0), self._heading(unknowns, joint + 1, -1.0)
        return math.remainder(after - before, 2 * math.pi)

    def _normal(self, unknowns: Floats) -> tuple[Floats, Floats]:
        """The normal matrix and the pull of the points, in units of the noise."""
        size = len(unknowns)
        matrix, pull = np.zeros((size, size)), np.zeros(size)
        for edge in range(self.count):
            points = self.points[self.at[edge] : self.at[edge + 1]]
            own = self._own(edge)
            off = self._off(unknowns, edge, points)
            slopes = np.empty((len(points), len(own)))
            for k, index in enumerate(own):
                moved = unknowns.copy()
                moved[index] += DIFFERENCE
                slopes[:, k] = (self._off(moved, edge, points) - off) / DIFFERENCE
            matrix[np.ix_(own, own)] += slopes.T @ slopes
            pull[own] -= slopes.T @ off
        held = np.arange(len(self.held))
        matrix[held, held] += HOLD
        pull[held] -= HOLD * (unknowns[held] - self.held)
        matrix[np.arange(size), np.arange(size)] += 1e-9
        return matrix / self.noise**2, pull / self.noise**2

    def settle(self, tied: Sequence[int]) -> Floats:
        """Step until nothing moves, with the turn at each of the joints `tied` kept at nothing.

        Returns, for each of those, by how much the sum of squares would fall without that condition, in units of
        the noise, as its multiplier tells (the score test).
        """
        ties = len(tied)
        strain = np.zeros(ties)
        for step in range(STEPS):
            matrix, pull = self._normal(self.unknowns)
            size = len(pull)
            slopes = np.array([self._turn_slope(joint) for joint in tied]).reshape(ties, size)
            turns = np.array([self.turn(self.unknowns, joint) for joint in tied])
            solved = np.linalg.solve(matrix, np.column_stack([pull, slopes.T]))
            spread = slopes @ solved[:, 1:]
            multipliers = np.linalg.solve(spread, slopes @ solved[:, 0] + turns)
            move = solved[:, 0] - solved[:, 1:] @ multipliers
            strain = multipliers**2 / np.diag(np.linalg.inv(spread)) if ties else strain
            longest = float(np.abs(move).max())
            self.unknowns = self.unknowns + move * min(1.0, 2.0 / max(longest, 1e-300))
            if longest < 1e-9 * (1 + step):
                break
            if step % 3 == 2:
                self._share_out()
        return strain

    def _share_out(self) -> None:
        """Give the points beside each joint to the edge on whose side of the joint they lie."""
        for i in range(1, self.count):
            reach = max(2, min(self.at[i] - self.at[i - 1], self.at[i + 1] - self.at[i]) // 3)
            low, high = max(self.at[i - 1] + 3, self.at[i] - reach), min(self.at[i + 1] - 3, self.at[i] + reach)
            if low < high:
                before, after = (self._heading(self.unknowns, edge, end) for edge, end in ((i - 1, 1.0), (i, -1.0)))
                onward = np.array([math.cos(before) + math.cos(after), math.sin(before) + math.sin(after)])
                past = (self.points[low:high] - self.unknowns[2 * i : 2 * i + 2]) @ onward
                self.at[i] = low + int((past < 0).sum())

    def _heading(self, unknowns: Floats, edge: int, end: float) -> float:
        """The direction of travel, radians, at the start (-1) or the end (1) of an edge."""
        own = unknowns[self._own(edge)]
        dx, dy = own[2] - own[0], own[3] - own[1]
        half = 2 * math.atan2(2 * own[4], math.hypot(dx, dy)) if len(own) > 4 else 0.0
        return math.atan2(dy, dx) + end * half

    def _turn_slope(self, joint: int) -> Floats:
        slope = np.zeros(len(self.unknowns))
        now = self.turn(self.unknowns, joint)
        for index in {*self._own(joint).tolist(), *self._own(joint + 1).tolist()}:
            moved = self.unknowns.copy()
            moved[index] += DIFFERENCE
            slope[index] = math.remainder(self.turn(moved, joint) - now, 2 * math.pi) / DIFFERENCE
        return slope

    def nearly_tangent(self) -> list[int]:
        """The joints, an arc on one side at least, whose turn the noise may have made."""
        spread = np.linalg.inv(self._normal(self.unknowns)[0])
        found = []
        for joint in range(self.count - 1):
            if {joint, joint + 1} & self.rise_of.keys():  # two lines that do not turn would be one
                slope = self._turn_slope(joint)
                doubt = math.sqrt(max(float(slope @ spread @ slope), 0.0))
                if abs(self.turn(self.unknowns, joint)) < min(4 * doubt + NEARLY, MOST_TURN):
                    found.append(joint)
        return found

    def edges(self) -> list[Edge]:
        """The lines and arcs, each starting where the one before it ends."""
        found: list[Edge] = []
        for edge in range(self.count):
            own = self.unknowns[self._own(edge)].tolist()
            start, end = (own[0], own[1]), (own[2], own[3])
            chord = math.dist(start, end)
            if len(own) > 4 and abs(own[4]) > 1e-5 * chord:
                found.append(arc_of_sweep(start, end, 4 * math.atan2(2 * own[4], chord)))
            else:
                found.append(Line(start, end))
        return found


def _strays(points: Floats, noise: float) -> NDArray[np.bool_]:
    """The points that stand alone, further from the middle of their neighbors than noise or a corner takes them."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    off = np.zeros(len(points))
    off[1:-1] = np.hypot(*(points[1:-1] - (points[:-2] + points[2:]) / 2).T)
    around = np.maximum(np.roll(off, 1), np.roll(off, -1))
    return np.asarray((off > ALONE * noise + 2 * float(np.median(steps))) & (off > 1.5 * around))


def _end(points: Floats, noise: float) -> Floats:
    """Where a stretch starts: at its first point, or where the first ones, noisier than they are apart, say it does."""
    few = points[: min(len(points), MOST_AT_END)]
    apart = float(np.hypot(*np.ptp(few, axis=0))) / len(few)
    if noise < apart or len(few) < 10:
        return np.asarray(points[0])
    # The points of a scan are evenly spaced: a straight line through them by their numbers starts where it did.
    number = np.arange(len(few)) - (len(few) - 1) / 2
    slope = number @ few / float(number @ number)
    return np.asarray(few.mean(axis=0) + number[0] * slope)


def _rise(points: Floats, start: Floats, end: Floats) -> float:
    """The rise over a chord of the circle nearest to points, by least squares of its equation through both ends."""
    along = end - start
    chord = max(float(np.hypot(*along)), 1e-9)
    right = np.array([along[1], -along[0]]) / chord
    from_middle = points - (start + end) / 2
    u, v = from_middle @ (along / chord), from_middle @ right
    # u² + v² + 2 k v = c²/4 with the center at v = -k; the circle's top is at v = sqrt(k² + c²/4) - k.
    gap = chord * chord / 4 - u * u - v * v
    k = float((gap @ v) / max(float(v @ v), 1e-12)) / 2
    reach = math.sqrt(k * k + chord * chord / 4)
    side = 1.0 if float(v.mean()) >= 0 else -1.0
    return side * reach - k
