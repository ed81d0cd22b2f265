"""How a swept body travels: the rigid motion along which its sides slide on themselves.

A molding's sides are swept: moved along a straight they slide on themselves, turned about a curve's axis likewise. So
there is one motion, of velocity w x p + v at a point p, that lies in every side (n . velocity = 0), and what it runs
out of are the ends. It is fitted to the triangles alone: the smallest eigenvector of a 3 x 3 (straight) or 6 x 6
(turning) matrix, with what does not fit weighed down step by step.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from preview.checks.readers import Floats

ROUNDS = 10
SOFT = 0.1
"""Faces that lean out of the motion by more than this (sine) count for less and less in the fit."""


@dataclass(frozen=True)
class Faces:
    """A body's triangles: normals (t, 3), areas (t,), and centers (t, 3) from its middle, in units of its size."""

    centers: Floats
    normals: Floats
    areas: Floats

    @cached_property
    def rows(self) -> Floats:
        """For each triangle (t, 6), what times (turn, move) is its normal's part of the velocity."""
        return np.hstack([crossed(self.centers, self.normals), self.normals])

    @cached_property
    def evened(self) -> Floats:
        """The change of variables (6, 6) after which every motion's mean square velocity over the body is its own
        square; without it a slow twist of the body about its own middle would win."""
        x, areas = self.centers, self.areas / self.areas.sum()
        middle = areas @ x
        spread = (x * areas[:, None]).T @ x
        speed = np.eye(6)
        speed[:3, :3] = np.trace(spread) * np.eye(3) - spread
        speed[:3, 3:] = _crossing(middle)
        speed[3:, :3] = _crossing(middle).T
        return np.asarray(np.linalg.inv(np.linalg.cholesky(speed + 1e-12 * np.eye(6))))


@dataclass(frozen=True)
class Motion:
    """Velocity at a point p of `Faces`: turn x p + move."""

    turn: Floats
    move: Floats

    def lean(self, faces: Faces) -> Floats:
        """The sine (t,) by which each triangle leans out of the motion: 0 a side, +1 and -1 square ends."""
        if not self.turn.any():
            return np.asarray(faces.normals @ self.move)
        velocity = crossed(self.turn[None], faces.centers) + self.move
        speed = np.sqrt(np.einsum("ij,ij->i", velocity, velocity))
        return np.asarray(faces.rows @ np.concatenate([self.turn, self.move]) / np.maximum(speed, 1e-12))


def fit(faces: Faces, weights: Floats, turning: bool, rounds: int = ROUNDS) -> Motion:
    """The motion that lies best in the triangles; weights (t,): which of them to begin with, times their area."""
    motion = _best(faces, weights, turning)
    for _ in range(rounds - 1):
        better = _best(faces, weights / (1 + (motion.lean(faces) / SOFT) ** 2) ** 2, turning)
        same = abs(float(better.turn @ motion.turn + better.move @ motion.move))
        motion = better
        if same > (1 - 1e-12) * float(motion.turn @ motion.turn + motion.move @ motion.move):
            break
    return motion


def _best(faces: Faces, weights: Floats, turning: bool) -> Motion:
    if not turning:
        n = faces.normals
        _, vectors = np.linalg.eigh((n * weights[:, None]).T @ n)
        return Motion(np.zeros(3), vectors[:, 0])
    rows = faces.rows
    leaning = (rows * weights[:, None]).T @ rows
    _, vectors = np.linalg.eigh(faces.evened @ leaning @ faces.evened.T)
    best = faces.evened.T @ vectors[:, 0]
    return Motion(best[:3], best[3:])


def crossed(a: Floats, b: Floats) -> Floats:
    """The cross product of rows of three; numpy's own takes longer than all else here."""
    ax, ay, az = a.T
    bx, by, bz = b.T
    return np.stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx], axis=1)


def _crossing(p: Floats) -> Floats:
    return np.array([[0.0, -p[2], p[1]], [p[2], 0.0, -p[0]], [-p[1], p[0], 0.0]])
