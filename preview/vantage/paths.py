"""The back lines of runs, to walk along; and where on them the joints lie."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.checks import JointPair
from preview.joinery import Piece
from preview.runs import Element, Run, Vec2
from preview.units import Unit
from preview.vantage.places import directed, in_scene

Floats = NDArray[np.float64]

WIDEST = math.radians(12)
"""No two samples on a curve lie further round it than this."""
SMOOTH = 1e-6
"""Where the direction changes by less than this, one sample serves for both sides."""
INCH_STEPS = tuple(25.4 * step for step in (0.25, 0.5, 1, 2, 3, 6, 12, 24, 48, 96, 240, 480, 1200))
METRIC_STEPS = (5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10000.0, 20000.0)
MOST_PLACES = 200
"""About how many places along a path are put in words."""


@dataclass(frozen=True)
class Path:
    """A run's back line, walked: samples (n, 7) in the scene, as the page's document says; length, mm.

    starts: for each element, how far one has walked at its start.
    """

    run: Run
    samples: Floats
    length: float
    starts: tuple[float, ...]

    def station(self, piece: Piece, at: Vec2, at_end: bool) -> float:
        """How far along it the plan point `at` lies, at an end of a piece."""
        i = piece.index - 1
        element = self.run.elements[i]
        if element.sweep:
            along = element.length if at_end else 0.0
        else:
            (x, y), (tx, ty) = element.start, element.tangent
            along = (at[0] - x) * tx + (at[1] - y) * ty
        return min(max(self.starts[i] + element.walked(min(max(along, 0.0), element.length)), 0.0), self.length)

    def at(self, station: float) -> tuple[Floats, Floats]:
        """The point and the direction of travel there, (3,) each."""
        i = int(np.searchsorted(self.samples[:, 0], station, side="right"))
        i = min(max(i, 1), len(self.samples) - 1)
        one, other = self.samples[i - 1], self.samples[i]
        share = (station - one[0]) / max(other[0] - one[0], 1e-9)
        mixed = one + share * (other - one)
        return mixed[1:4], mixed[4:7] / np.linalg.norm(mixed[4:7])


def paths_of(built: Built, chord: float) -> dict[str, Path]:
    """The path of each run, by its name, in the scene's order. chord: how far, mm, a curve may stray from it."""
    return {placed.run.name: _path(placed.run, chord) for placed in built.scene.runs}


def _path(run: Run, chord: float) -> Path:
    rows: list[Floats] = []
    starts: list[float] = []
    walked = 0.0
    for element in run.elements:
        starts.append(walked)
        mine = _samples(element, walked, chord, run.level)
        first = 1 if rows and np.abs(rows[-1][-1] - mine[0]).max() < SMOOTH else 0
        rows.append(mine[first:])
        walked += element.walked(element.length)
    samples = np.concatenate(rows)
    samples[:, 1:4] = in_scene(run.stand, samples[:, 1:4])
    samples[:, 4:7] = directed(run.stand, samples[:, 4:7])
    return Path(run, samples, walked, tuple(starts))


def _samples(element: Element, walked: float, chord: float, level: float) -> Floats:
    count = 1
    if element.sweep:
        count = _steps(abs(element.sweep), element.radius, chord)
    if element.bend:
        turn = abs(math.atan(element.end_slope) - math.atan(element.slope))
        count = max(count, _steps(turn, 1 / abs(element.bend), chord))
    rows = []
    for i in range(count + 1):
        s = element.length * i / count
        slope = element.slope_at(s)
        pace = math.hypot(1.0, slope)
        (x, y), (tx, ty) = element.point(s), element.tangent_at(s)
        z = level + element.height + element.rise(s)
        rows.append((walked + element.walked(s), x, y, z, tx / pace, ty / pace, slope / pace))
    return np.array(rows)


def _steps(turn: float, radius: float, chord: float) -> int:
    widest = min(4 * math.asin(math.sqrt(min(chord / (2 * radius), 0.5))), WIDEST)
    return max(1, math.ceil(turn / widest - 1e-9))


def joint_station(pair: JointPair, pieces: tuple[Piece, ...], paths: dict[str, Path]) -> tuple[int, float]:
    """The number of the path a joint lies on, and how far along it."""
    ends = [(pair.after, pair.after_at_end), (pair.before, pair.before_at_end)]
    known = [(pieces[i], at_end) for i, at_end in ends if i is not None]
    # A return's own line leads into the wall, and a corner block has none: their neighbors know the place.
    piece, at_end = next((each for each in known if each[0].role == "molding"), known[0])
    return list(paths).index(piece.run), paths[piece.run].station(piece, pair.joint.at, at_end)


def place_step(length: float, unit: Unit) -> float:
    """How far apart, mm, the places are that a path is read at."""
    steps = INCH_STEPS if unit in ("in", "ft") else METRIC_STEPS
    return next((step for step in steps if length / step <= MOST_PLACES), length / MOST_PLACES)
