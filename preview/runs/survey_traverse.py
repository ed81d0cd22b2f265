"""What a measured run misses by, and what its measurer said of each measurement.

A run that comes back to its start, or that must arrive at a known point, is measured more often than it needs to be.
So it tells how far its measurements disagree; `survey_adjust` finds what they agree on best. Surveyors call such a
walk a traverse.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from preview.runs.element import Vec2, arc, straight, turned
from preview.runs.steps import Block, Corner, Curve, Easement, Splay, Step

Floats = NDArray[np.float64]
Kind = Literal["straight", "corner", "sweep", "radius", "arrives x", "arrives y"]
Closing = Literal["spread", "show"]

SIGMAS = 2.0
"""Standard deviations in the limit a measurer gives: about 95 % of measurements keep to it (common practice; our own
reading of the words "plus or minus an eighth")."""
WHOLE_TURN = 2 * math.pi
LEAST_TURN = math.radians(1)
MOST_SMOOTH = math.radians(10)
"""What is left for a last corner that is not written is one from this on, however far the angles may be off."""


@dataclass(frozen=True)
class Reading:
    """What the measurer says of one step.

    within: how far its measurement may be off at most, + or -: of a straight in mm, of a corner or a curve's sweep in
    radians; 0 holds it as it is. radius_within: the same of a curve's radius, mm. between_walls: a corner was read as
    the angle between its two walls, and not as what the walk turns by. along_slope: a climbing straight was measured
    along its slope, and may be off by so much along it.
    """

    within: float = 0.0
    radius_within: float = 0.0
    between_walls: bool = False
    along_slope: bool = False


@dataclass(frozen=True)
class Arrival:
    """The plan point (mm) where an open run must end, and how far each of its coordinates may be off, mm."""

    at: Vec2
    within: float = 0.0


@dataclass(frozen=True)
class Measured:
    """One measurement of a run.

    step: its number from 1; 0 for the point of arrival. value: mm in plan, or radians with + to the left. within: the
    limit of error its measurer gives, in the same unit; 0 where it is held as it is. between_walls: see Reading.
    stretch: mm that were read for each mm in plan; more than 1 along a slope.
    """

    step: int
    kind: Kind
    value: float
    within: float = 0.0
    between_walls: bool = False
    stretch: float = 1.0

    @property
    def sigma(self) -> float:
        """The standard deviation: half of `within`."""
        return self.within / SIGMAS

    @property
    def place(self) -> str:
        """Where it was written: "step 3", or "arrives"."""
        return f"step {self.step}" if self.step else "arrives"

    @property
    def is_angle(self) -> bool:
        """Whether the value is in radians; else it is in mm."""
        return self.kind in ("corner", "sweep")

    @property
    def within_as_read(self) -> float:
        """What it may be off, as it is read on site: mm, or degrees."""
        return math.degrees(self.within) if self.is_angle else self.within * self.stretch

    def as_read(self, value: float) -> float:
        """A value of this measurement as it is read on site: mm, or degrees without a sign."""
        if not self.is_angle:
            return value * self.stretch
        turned_by = math.degrees(abs(value))
        return 180.0 - turned_by if self.between_walls else turned_by


@dataclass(frozen=True)
class Closure:
    """How far a walk ends from where it must: from its own start, or from the point of arrival.

    dx, dy: the end less where it should be, mm. turn: what its corners and curves turn beyond one whole turn, radians,
    + too far; None where no angle is left to check (an open run, or a closed one whose last corner is not written).
    length: of the whole walk, mm.
    """

    dx: float
    dy: float
    turn: float | None
    length: float

    @property
    def distance(self) -> float:
        """How far the end misses, mm."""
        return math.hypot(self.dx, self.dy)

    @property
    def direction(self) -> float:
        """Which way the end lies from where it should be, radians counter-clockwise from +x; 0 where it is there."""
        return math.atan2(self.dy, self.dx)

    @property
    def precision(self) -> float:
        """N of the surveyor's 1 : N, the length of the walk over the miss; infinite where it closes."""
        return self.length / self.distance if self.distance else math.inf


@dataclass(frozen=True)
class Traverse:
    """The measurements of a run from its start, and what must hold where they end.

    target: where the walk must end; None where the measurements themselves tell (their last two, of kind "arrives").
    whole: the sum of all turns, radians, in a closed run; None where no angle is left to check.
    """

    measured: tuple[Measured, ...]
    start: Vec2
    heading: float
    target: Vec2 | None
    whole: float | None

    def values(self) -> Floats:
        """(n,) the measured values."""
        return np.array([each.value for each in self.measured], dtype=float)

    def misses(self, values: Floats) -> Floats:
        """(2,) or (3,): dx and dy, mm, and where an angle is checked what the turns are over, radians."""
        return self.linear(values)[0]

    def linear(self, values: Floats) -> tuple[Floats, Floats]:
        """The misses, and by how much each changes with each value: (2 or 3, n)."""
        end, pivots, total = self._walked(values)
        x, y = self.target or (float(values[-2]), float(values[-1]))
        misses = np.array([end[0] - x, end[1] - y, total - (self.whole or 0.0)])
        slopes = np.zeros((3, len(values)))
        for i, (each, (x, y)) in enumerate(zip(self.measured, pivots, strict=True)):
            if each.is_angle:  # all that follows turns about the corner, or about the curve's center
                slopes[:, i] = (y - end[1], end[0] - x, 1.0)
            elif each.kind == "arrives x":
                slopes[0, i] = -1.0
            elif each.kind == "arrives y":
                slopes[1, i] = -1.0
            else:
                slopes[:2, i] = (x, y)
        checked = 2 if self.whole is None else 3
        return misses[:checked], slopes[:checked]

    def length(self) -> float:
        """Of the whole walk along the measured steps, mm."""
        total, sweep = 0.0, 0.0
        for each in self.measured:
            if each.kind == "straight":
                total += each.value
            elif each.kind == "sweep":
                sweep = abs(each.value)
            elif each.kind == "radius":
                total += sweep * each.value
        return total

    def _walked(self, values: Floats) -> tuple[Vec2, list[Vec2], float]:
        """The end; what each angle turns about, or which way each length moves the end; the sum of the turns."""
        at, tangent = self.start, turned((1.0, 0.0), self.heading)
        pivots: list[Vec2] = []
        total, sweep = 0.0, 0.0
        for each, value in zip(self.measured, values.tolist(), strict=True):
            if each.kind == "corner":
                pivots.append(at)
                tangent = turned(tangent, value)
                total += value
            elif each.kind == "straight":
                pivots.append(tangent)
                at = straight(at, tangent, value).end
            elif each.kind == "sweep":  # the curve's radius comes next, and the curve is walked there
                sweep = value
                total += value
            elif each.kind == "radius":
                curve = arc(at, tangent, value, sweep)
                end = curve.end
                pivots += [curve.center, ((end[0] - at[0]) / value, (end[1] - at[1]) / value)]
                at, tangent = end, curve.end_tangent
            else:
                pivots.append(at)
        return at, pivots, total


def traverse(
    steps: Sequence[Step],
    readings: Sequence[Reading] = (),
    *,
    start: Vec2 = (0.0, 0.0),
    heading: float = 0.0,
    arrives: Arrival | None = None,
) -> Traverse:
    """The measurements of a run: a closed one, or with `arrives` an open one that ends at a known point.

    readings: one per step, or none at all. heading: radians, counter-clockwise from +x. Start and heading are taken as
    they are. A splay is walked as the sharp corner it stands for, an easement moves nothing in plan, and the width of a
    block is held. Where the last corner of a closed run is not written and the angles leave one to be found, no angle
    is checked; where they leave less than 1 degree, or less than they could be off by and 10, the run closes smoothly
    and they are.
    """
    measured = tuple(_measured(steps, readings or [Reading()] * len(steps)))
    if arrives is not None:
        (x, y), within = arrives.at, arrives.within
        ends = (Measured(0, "arrives x", x, within), Measured(0, "arrives y", y, within))
        return Traverse((*measured, *ends), start, heading, None, None)
    angles = [each for each in measured if each.is_angle]
    total = sum(each.value for each in angles)
    whole = math.copysign(WHOLE_TURN, total)
    smooth = abs(total - whole) < max(LEAST_TURN, min(sum(each.within for each in angles), MOST_SMOOTH))
    given = bool(steps) and isinstance(steps[-1], Corner | Splay)
    return Traverse(measured, start, heading, start, whole if given or smooth else None)


def closure(walked: Traverse) -> Closure:
    """How far a run as measured ends from where it must."""
    misses = walked.misses(walked.values()).tolist()
    turn = misses[2] * math.copysign(1.0, walked.whole or 1.0) if walked.whole is not None else None
    return Closure(misses[0], misses[1], turn, walked.length())


def _measured(steps: Sequence[Step], readings: Sequence[Reading]) -> Iterable[Measured]:
    for number, (step, read) in enumerate(zip(steps, readings, strict=True), 1):
        if isinstance(step, Corner | Splay):
            yield Measured(number, "corner", step.turn, read.within, read.between_walls)
        elif isinstance(step, Curve):
            yield Measured(number, "sweep", step.sweep, read.within)
            yield Measured(number, "radius", step.radius, read.radius_within)
        elif isinstance(step, Block):
            yield Measured(number, "straight", step.width)
        elif not isinstance(step, Easement):
            stretch = math.hypot(1.0, step.slope) if read.along_slope else 1.0
            yield Measured(number, "straight", step.length, read.within / stretch, stretch=stretch)
