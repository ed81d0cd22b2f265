"""One element of a run's back line: a straight or an arc, walked from its start.

Both are the same value: a straight is an arc whose curvature is zero, so whoever maps points along a run asks
one question and never sorts the answers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from preview.units import cos_sin

Vec2 = tuple[float, float]
Stations = TypeVar("Stations", float, NDArray[np.float64])
"""One station, mm in plan, or an array of them of any shape."""


@dataclass(frozen=True)
class Element:
    """A straight or an arc in plan, in millimeters.

        y
        |        end
        |      .'         tangent: unit vector of travel at the start
        |  ---'           sweep: signed angle turned along the element, + to the left, 0 for a straight
        |  start          length: along the back line
        +------------ x   radius: of the back line, mm, infinite for a straight

    A straight may climb. height: of the back line at its start, mm above the run's level. slope: mm risen for each mm
    walked in plan, at the start. bend: an easement's curvature in elevation, 1/mm, + where it turns upward, - over;
    0 where the slope is one all along. Lengths and stations are always measured in plan.

    Build one with `straight` or `arc`.
    """

    start: Vec2
    tangent: Vec2
    length: float
    sweep: float = 0.0
    radius: float = math.inf
    height: float = 0.0
    slope: float = 0.0
    bend: float = 0.0

    @property
    def curvature(self) -> float:
        """1 / radius, 1/mm, + where the back line turns to the left; 0 for a straight."""
        return math.copysign(1.0 / self.radius, self.sweep) if self.sweep else 0.0

    @property
    def end(self) -> Vec2:
        """The plan point where the element stops."""
        return self.point(self.length)

    @property
    def end_tangent(self) -> Vec2:
        """The unit direction of travel at the end; exact where the sweep is a whole number of quarter turns."""
        return turned(self.tangent, self.sweep)

    @property
    def end_slope(self) -> float:
        """The slope at the end."""
        return self.slope_at(self.length)

    @property
    def end_height(self) -> float:
        """The height of the back line at the end, mm above the run's level."""
        return self.height + self.rise(self.length)

    def slope_at(self, station: Stations) -> Stations:
        """mm risen for each mm walked in plan, at a station, or at an array of them."""
        if not self.bend:
            return station * 0.0 + self.slope
        sine = self._sine + self.bend * station
        found: Stations = sine / _root(1.0 - sine * sine)
        return found

    def rise(self, station: Stations) -> Stations:
        """How far, mm, the back line has risen at a station, or at an array; on an easement by a circle's arc."""
        if not self.bend:
            return self.slope * station
        # With the pitch's sine u, (sqrt(1 - u0²) - sqrt(1 - u²)) / bend = station (u0 + u) / (sum of both roots).
        first = self._sine
        last = first + self.bend * station
        found: Stations = station * (first + last) / (_root(1.0 - first * first) + _root(1.0 - last * last))
        return found

    def walked(self, station: Stations) -> Stations:
        """How far, mm, one has walked along the back line at a station, or at an array: up the slope it climbs."""
        if not self.bend:
            return station * math.hypot(1.0, self.slope)
        found: Stations = (_arc_sine(self._sine + self.bend * station) - math.asin(self._sine)) / self.bend
        return found

    @property
    def _sine(self) -> float:
        """The sine of the pitch at the start."""
        return self.slope / math.hypot(1.0, self.slope)

    def point(self, station: float) -> Vec2:
        """The plan point of the back line at a station (mm from the start, along the back line)."""
        (x, y), (tx, ty) = self.start, self.tangent
        if not self.sweep:
            return (x + station * tx, y + station * ty)
        # A quarter turn must land exactly, so the whole sweep is used as it was given.
        angle = self.sweep if station == self.length else self.curvature * station
        cos, sin = cos_sin(angle)
        radius = math.copysign(self.radius, self.sweep)
        ahead, aside = radius * sin, radius * (1.0 - cos)
        return (x + ahead * tx - aside * ty, y + ahead * ty + aside * tx)

    def tangent_at(self, station: float) -> Vec2:
        """The unit direction of travel at a station."""
        return turned(self.tangent, self.curvature * station)

    @property
    def center(self) -> Vec2:
        """The arc's center in plan; not a number for a straight, which has none."""
        radius = math.copysign(self.radius, self.sweep) if self.sweep else math.nan
        return (self.start[0] - radius * self.tangent[1], self.start[1] + radius * self.tangent[0])


def _root(value: Any) -> Any:
    return np.sqrt(value) if isinstance(value, np.ndarray) else math.sqrt(value)


def _arc_sine(value: Any) -> Any:
    return np.arcsin(value) if isinstance(value, np.ndarray) else math.asin(value)


def straight(start: Vec2, tangent: Vec2, length: float) -> Element:
    """A straight of `length` mm from `start` along the unit vector `tangent`."""
    return Element(start, tangent, length)


def arc(start: Vec2, tangent: Vec2, radius: float, sweep: float) -> Element:
    """An arc of the given back-line radius (mm) that turns by `sweep` radians, + to the left."""
    return Element(start, tangent, radius * abs(sweep), sweep, radius)


def turned(vector: Vec2, angle: float) -> Vec2:
    """The vector turned by an angle in radians, counter-clockwise; exact at quarter turns."""
    cos, sin = cos_sin(angle)
    return (vector[0] * cos - vector[1] * sin, vector[0] * sin + vector[1] * cos)


def turn_between(before: Vec2, after: Vec2) -> float:
    """The signed angle in radians from one unit direction to the next, + to the left."""
    cross = before[0] * after[1] - before[1] * after[0]
    return math.atan2(cross, before[0] * after[0] + before[1] * after[1])
