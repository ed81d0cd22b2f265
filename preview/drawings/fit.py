"""A chain of lines and arcs through noisy points: joined end to end exactly, by least squares over all of it.

The unknowns are the joints and, for each arc, its rise over its chord, so no fit can come apart. Each step is
Gauss and Newton's; where two edges could, by the noise, be tangent at their joint, they are then made so, as a
condition on the steps (Lagrange).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from preview.drawings.chords import Chords, chords
from preview.drawings.curves import Floats
from preview.drawings.segments import Stretch, cut, noise_of
from preview.profiles import Edge, Line, arc_of_sweep

STEPS = 25
MOST_STEP, HALVINGS = 2.0, 8
"""The furthest that anything moves in a step, mm, and how often a step that makes the fit worse is halved."""
STILL = 1e-6
"""A step that makes the sum of squares less by no more than this, in units of the noise, is the last."""
PENALTY = 1e3
"""The price of a turn of a radian where there should be none, at least, in the same units."""
ROUNDS = 12
"""How often the worst tangencies are let go, and then, how often all that are strained; after that there are none."""
HOLD = 1e-3
"""How much a joint is held where it starts, against one point's pull: enough to fix what no point decides."""
NEARLY, MOST_TURN = math.radians(2), math.radians(15)
"""A turn this much beyond the noise's own is still tried as none; a larger one than the second never is."""
ALONE = 8.0
"""A point this many times the noise off its neighbors' middle is a stray, and is fitted to nothing."""
MOST_AT_END = 100
"""Points that say where the first and the last edge end."""
MOST_STRAIN, FAR_STRAINED = 12.0, 48.0
"""A tangency that holds the sum of squares up by more than this, in units of the noise, is not there; one by more than
the second, and by more than both its neighbors do, is let go without waiting for worse ones."""


@dataclass(frozen=True)
class Chain:
    """Edges end to end; the points' scatter about a smooth curve; the largest distance from a point and where, mm;
    the joints that are tangent; and how many systems of equations were solved for it."""

    edges: tuple[Edge, ...]
    noise: float
    worst: float
    worst_at: int
    tangent: int
    solved: int


def fit_chain(points: Floats, fit: float) -> Chain:
    """Fit lines and arcs to a row of points (n, 2), mm, in order, which may stray by `fit` mm.

    With exact points the fit is as close as a fifth of `fit`; with noisy ones, as the noise lets it be seen. The work
    is bounded, whatever the points are: MOST_CUTS edges, and (2 ROUNDS + 2) STEPS systems of equations.
    """
    scatter = noise_of(points)
    noise = max(scatter, fit / 5)
    sound = points[~_strays(points, noise)]
    chain = _Chain(sound, cut(sound, noise), noise)
    chain.settle([])
    tied = chain.nearly_tangent()
    turn = 0
    while tied:
        strain = chain.settle(tied)
        if not (strain > MOST_STRAIN).any():
            break
        turn += 1
        tied = _less_strained(tied, strain, every=turn > ROUNDS) if turn < 2 * ROUNDS else []
    if not tied:
        chain.settle([])
    edges = chain.edges()
    away = _off_chain(edges, points)
    return Chain(tuple(edges), scatter, float(away.max()), int(away.argmax()), len(tied), chain.solved)


def _less_strained(tied: Sequence[int], strain: Floats, every: bool) -> list[int]:
    """The joints that stay tied: without the most strained one, and those far strained; or without all strained."""
    if every:
        return [joint for joint, each in zip(tied, strain, strict=True) if each <= MOST_STRAIN]
    by_joint = dict(zip(tied, strain.tolist(), strict=True))
    bound = {
        joint: FAR_STRAINED if each >= max(by_joint.get(joint - 1, 0.0), by_joint.get(joint + 1, 0.0)) else math.inf
        for joint, each in by_joint.items()
    }
    worst = tied[int(strain.argmax())]
    return [joint for joint, each in by_joint.items() if joint != worst and each <= bound[joint]]


def _off_chain(edges: Sequence[Edge], points: Floats) -> Floats:
    """The distances (n,) of points from the nearest edge, each edge asked only about points that its box is near to."""
    away = np.full(len(points), np.inf)
    for edge in edges:
        d_min, h_min, d_max, h_max = edge.bounds
        outside = points - np.clip(points, (d_min, h_min), (d_max, h_max))
        near = np.flatnonzero(np.hypot(outside[:, 0], outside[:, 1]) < away)
        if len(near):
            away[near] = np.minimum(away[near], edge.distance(points[near]))
    return away


class _Chain:
    """The unknowns of a chain, a row for each joint: its x and y, and the rise over its chord, + to the right, of the
    edge that starts there."""

    def __init__(self, points: Floats, stretches: Sequence[Stretch], noise: float) -> None:
        self.points, self.noise, self.solved = points, noise, 0
        self.at = [stretch.first for stretch in stretches] + [stretches[-1].last]
        self.round = np.array([stretch.round for stretch in stretches])
        joints = np.array([points[i - 1 : i + 1].mean(axis=0) if i else points[0] for i in self.at[:-1]] + [points[-1]])
        joints[0] = _end(points[: self.at[1]], noise)
        joints[-1] = _end(points[self.at[-2] :][::-1], noise)
        self.unknowns = np.column_stack([joints, np.zeros(len(joints))])
        for i in np.flatnonzero(self.round):
            self.unknowns[i, 2] = _rise(points[self.at[i] : self.at[i + 1]], joints[i], joints[i + 1])
        self.held = joints

    @property
    def count(self) -> int:
        return len(self.at) - 1

    @staticmethod
    def _chords(unknowns: Floats) -> Chords:
        return chords(np.column_stack([unknowns[:-1], unknowns[1:, :2]]))

    def _price(self, unknowns: Floats, tied: Sequence[int], penalty: float) -> float:
        """What the steps make less: half the sum of squares, and each turn that should be none at its price."""
        off = self._chords(unknowns).off(self.points, np.diff(self.at))
        held = (unknowns[:, :2] - self.held).ravel()
        turned = np.abs(self._turns(unknowns, tied)[0]).sum() if tied else 0.0
        return float((off @ off + HOLD * held @ held) / (2 * self.noise**2) + penalty * turned)

    def _normal(self) -> tuple[Floats, Floats, Floats]:
        """The normal matrix and the pull of the points, in units of the noise.

        The matrix couples a joint to itself and its neighbors alone: (n + 1, 3, 3) on the diagonal, and below it
        (n, 3, 3), the rows of the later joint. The pull is (n + 1, 3).
        """
        squares, pulls = self._chords(self.unknowns).pulls(self.points, np.diff(self.at))
        squares[~self.round, 2] = squares[~self.round, :, 2] = pulls[~self.round, 2] = 0.0
        diagonal, below, pull = (np.zeros((self.count + 1, *size)) for size in ((3, 3), (3, 3), (3,)))
        diagonal[:-1] = squares[:, :3, :3]
        diagonal[1:, :2, :2] += squares[:, 3:, 3:]
        below[1:, :2] = squares[:, 3:, :3]
        pull[:-1] = -pulls[:, :3]
        pull[1:, :2] -= pulls[:, 3:]
        diagonal[:, range(2), range(2)] += HOLD
        pull[:, :2] -= HOLD * (self.unknowns[:, :2] - self.held)
        diagonal[:, range(3), range(3)] += 1e-9
        return diagonal / self.noise**2, below[1:] / self.noise**2, pull / self.noise**2

    def _turns(self, unknowns: Floats, joints: Sequence[int]) -> tuple[Floats, Floats]:
        """The angles (k,), radians, that the chain turns by at the joints after some edges, and how they change with
        the unknowns of the joints before, at, and after each: (k, 3, 3)."""
        edge, lines = np.array(joints, dtype=int), self._chords(unknowns)
        (ends, by_ends), (starts, by_starts) = lines.heading(1.0), lines.heading(-1.0)
        turn = (starts[edge + 1] - ends[edge] + math.pi) % (2 * math.pi) - math.pi
        slopes = np.zeros((len(edge), 9))
        slopes[:, 3:8] = by_starts[edge + 1]
        slopes[:, :5] -= by_ends[edge]
        slopes[:, 2] *= self.round[edge]
        slopes[:, 5] *= self.round[edge + 1]
        return turn, slopes.reshape(-1, 3, 3)

    def _by_turns(self, joints: Sequence[int]) -> tuple[Floats, Floats, Floats]:
        """The move that the points ask for, and what a pull along each turn would move: (n + 1, 3, 1 + k); the turns
        at the joints (k,); and how each of the moves changes each turn, (k, 1 + k)."""
        diagonal, below, pull = self._normal()
        turns, slopes = self._turns(self.unknowns, joints)
        near = np.array(joints, dtype=int)[:, None] + np.arange(3)
        asked = np.zeros((*pull.shape, 1 + len(turns)))
        asked[:, :, 0] = pull
        asked[near, :, np.arange(1, 1 + len(turns))[:, None]] = slopes
        moves = _solved(diagonal, below, asked)
        return moves, turns, np.einsum("kij,kijm->km", slopes, moves[near])

    def settle(self, tied: Sequence[int]) -> Floats:
        """Step until nothing moves, with the turn at each of the joints `tied` kept at nothing.

        Returns, for each of those, by how much the sum of squares would fall without that condition, in units of
        the noise, as its multiplier tells (the score test); endless where no step can be found.
        """
        multipliers: Floats = np.zeros(len(tied))
        spread: Floats = np.eye(len(tied))
        penalty = PENALTY
        for step in range(STEPS):
            self.solved += 1
            try:
                moves, turns, spreads = self._by_turns(tied)
                spread = spreads[:, 1:]
                multipliers = np.asarray(np.linalg.solve(spread, spreads[:, 0] + turns), dtype=np.float64)
            except np.linalg.LinAlgError:
                return np.full(len(tied), math.inf)
            move = moves[:, :, 0] - moves[:, :, 1:] @ multipliers
            if not np.isfinite(move).all():
                return np.full(len(tied), math.inf)
            penalty = max(penalty, 2 * float(np.abs(multipliers).max(initial=0.0)))
            still = self._better_by(move, tied, penalty) < STILL
            shared = (still or step % 3 == 2) and self._share_out()
            if still and not shared:
                break
        return multipliers**2 / np.diag(np.linalg.inv(spread))

    def _better_by(self, move: Floats, tied: Sequence[int], penalty: float) -> float:
        """Go as much of a move as makes the price less, at most MOST_STEP mm; by how much that is."""
        part = min(1.0, MOST_STEP / max(float(np.abs(move).max()), 1e-300))
        before = self._price(self.unknowns, tied, penalty)
        for _ in range(HALVINGS):
            to = self.unknowns + part * move
            after = self._price(to, tied, penalty)
            if after < before:
                self.unknowns = to
                return before - after
            part /= 2
        return 0.0

    def _share_out(self) -> bool:
        """Give the points beside each joint to the edge on whose side of the joint they lie; whether any changed."""
        lines, was = self._chords(self.unknowns), list(self.at)
        before, after = lines.heading(1.0)[0][:-1], lines.heading(-1.0)[0][1:]
        onward = np.column_stack([np.cos(before) + np.cos(after), np.sin(before) + np.sin(after)])
        for i in range(1, self.count):
            reach = max(2, min(self.at[i] - self.at[i - 1], self.at[i + 1] - self.at[i]) // 3)
            low, high = max(self.at[i - 1] + 3, self.at[i] - reach), min(self.at[i + 1] - 3, self.at[i] + reach)
            if low < high:
                past = (self.points[low:high] - self.unknowns[i, :2]) @ onward[i - 1]
                self.at[i] = low + int((past < 0).sum())
        return self.at != was

    def nearly_tangent(self) -> list[int]:
        """The joints, an arc on one side at least, whose turn the noise may have made."""
        joints = np.flatnonzero(self.round[:-1] | self.round[1:])  # two lines that do not turn would be one
        try:
            _, turns, spreads = self._by_turns(joints.tolist())
        except np.linalg.LinAlgError:
            return []
        doubt = np.sqrt(np.maximum(np.diag(spreads[:, 1:]), 0.0))
        return [int(joint) for joint in joints[np.abs(turns) < np.minimum(4 * doubt + NEARLY, MOST_TURN)]]

    def edges(self) -> list[Edge]:
        """The lines and arcs, each starting where the one before it ends."""
        found: list[Edge] = []
        for (x, y, rise), (to_x, to_y, _) in pairwise(self.unknowns.tolist()):
            start, end = (x, y), (to_x, to_y)
            chord = math.dist(start, end)
            if abs(rise) > 1e-5 * chord:
                found.append(arc_of_sweep(start, end, 4 * math.atan2(2 * rise, chord)))
            else:
                found.append(Line(start, end))
        return found


def _solved(diagonal: Floats, below: Floats, right: Floats) -> Floats:
    """The solutions (n + 1, 3, k) of a symmetric matrix of blocks on and beside the diagonal: by elimination."""
    diagonal, right = diagonal.copy(), right.copy()
    inverses = np.empty_like(diagonal)
    for i in range(len(diagonal)):
        if i:
            share = below[i - 1] @ inverses[i - 1]
            diagonal[i] -= share @ below[i - 1].T
            right[i] -= share @ right[i - 1]
        inverses[i] = np.linalg.inv(diagonal[i])
    right[-1] = inverses[-1] @ right[-1]
    for i in range(len(below) - 1, -1, -1):
        right[i] = inverses[i] @ (right[i] - below[i].T @ right[i + 1])
    return right


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
