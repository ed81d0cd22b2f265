"""Lines and arcs anywhere in the plane, either way round, against a second way to say where they are.

An edge here is a function of complex numbers, p + t (q - p) or c + r exp(i (a + t s)), t from 0 to 1. Where two of them
meet is found by following one of them in small steps and halving those on which it changes sides of the other.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from preview.profiles import Arc, Edge, Line
from preview.profiles.contact import _between, _meetings
from preview.profiles.splitting import away, meetings, middle, part_of
from preview.runs import Element
from preview.runs.crossings import bounds, meeting_points, station_on

Complexes = NDArray[np.complex128]
STEPS = 2500


@dataclass(frozen=True)
class Way:
    """A line from p to q (sweep 0), or an arc about p from the angle a on by a sweep, of radius r."""

    p: complex
    q: complex = 0j
    r: float = 0.0
    a: float = 0.0
    sweep: float = 0.0

    def at(self, t: NDArray[np.float64]) -> Complexes:
        if self.sweep:
            return np.asarray(self.p + self.r * np.exp(1j * (self.a + t * self.sweep)))
        return np.asarray(self.p + t * (self.q - self.p))

    def beyond(self, z: Complexes) -> NDArray[np.float64]:
        """On which side of its line or circle points lie."""
        if self.sweep:
            return np.abs(z - self.p) - self.r
        return np.asarray(((z - self.p) / (self.q - self.p)).imag)

    def holds(self, z: complex) -> bool:
        """Whether a point of its line or circle lies between its ends."""
        if self.sweep:
            turn = math.copysign(1.0, self.sweep)
            return (turn * (cmath.phase(z - self.p) - self.a)) % (2 * math.pi) <= abs(self.sweep)
        return bool(0.0 <= ((z - self.p) / (self.q - self.p)).real <= 1.0)

    @property
    def edge(self) -> Edge:
        start, end = (complex(self.at(np.array(t))) for t in (0.0, 1.0))
        if self.sweep:
            return Arc((start.real, start.imag), (end.real, end.imag), (self.p.real, self.p.imag), self.sweep)
        return Line((start.real, start.imag), (end.real, end.imag))

    @property
    def element(self) -> Element:
        start = complex(self.at(np.array(0.0)))
        if self.sweep:
            ahead = 1j * math.copysign(1.0, self.sweep) * cmath.exp(1j * self.a)
            long = self.r * abs(self.sweep)
            return Element((start.real, start.imag), (ahead.real, ahead.imag), long, self.sweep, self.r)
        ahead = (self.q - self.p) / abs(self.q - self.p)
        return Element((start.real, start.imag), (ahead.real, ahead.imag), abs(self.q - self.p))


def met(one: Way, other: Way) -> list[complex]:
    """Where two of them meet, by halving."""
    t = np.linspace(0.0, 1.0, STEPS + 1)
    side = other.beyond(one.at(t))
    found: list[complex] = []
    for i in np.flatnonzero(np.sign(side[:-1]) != np.sign(side[1:])).tolist():
        low, high = t[i], t[i + 1]
        for _ in range(60):
            half = (low + high) / 2
            same = np.sign(other.beyond(one.at(np.array(half)))) == np.sign(side[i])
            low, high = (half, high) if same else (low, half)
        z = complex(one.at(np.array(low)))
        if other.holds(z):
            found.append(z)
    return found


def drawn(seed: int) -> list[Way]:
    """Three lines and four arcs, somewhere within a few mm of a place far from the origin."""
    rng = np.random.default_rng(seed)
    place = complex(*rng.uniform(-90.0, 90.0, 2))
    ways = []
    for number in range(7):
        p, q = (place + complex(*rng.uniform(-2.5, 2.5, 2)) for _ in range(2))
        if number < 3:
            ways.append(Way(p, q))
        else:
            sweep = rng.uniform(0.4, 6.0) * (1 if number % 2 else -1)
            ways.append(Way(p, r=rng.uniform(0.6, 5.0), a=rng.uniform(-3.0, 3.0), sweep=sweep))
    return ways


def ordered(found: list[tuple[float, float]]) -> list[complex]:
    return sorted((complex(*at) for at in found), key=lambda z: (round(z.real, 6), z.imag))


ASKED: dict[str, Callable[[Way, Way], list[tuple[float, float]]]] = {
    "cut": lambda a, b: meetings(a.edge, b.edge),
    "touching": lambda a, b: _meetings(a.edge, b.edge),
    "walked": lambda a, b: meeting_points(a.element, b.element),
}


@pytest.mark.parametrize("asked", ASKED)
@pytest.mark.parametrize("seed", range(6))
def test_where_two_meet(asked: str, seed: int) -> None:
    ways = drawn(seed)
    count = 0
    for i, one in enumerate(ways):
        for other in ways[:i] + ways[i + 1 :]:
            want = sorted(met(one, other), key=lambda z: (round(z.real, 6), z.imag))
            found = ordered(ASKED[asked](one, other))
            assert len(found) == len(want)
            assert np.array(found) == pytest.approx(np.array(want), abs=1e-7)
            count += len(want)
    assert count


@pytest.mark.parametrize("seed", range(4))
def test_edges_are_where_they_should_be(seed: int) -> None:
    t = np.linspace(0.0, 1.0, STEPS + 1)
    rng = np.random.default_rng(seed + 50)
    for way in drawn(seed):
        edge, points = way.edge, way.at(t)
        found = edge.point(t)
        assert found[:, 0] + 1j * found[:, 1] == pytest.approx(points, abs=1e-12)
        steps = np.gradient(points)
        ahead = edge.tangent(t)
        assert (ahead[:, 0] + 1j * ahead[:, 1])[5:-5] == pytest.approx((steps / np.abs(steps))[5:-5], abs=1e-5)
        assert edge.length == pytest.approx(np.abs(np.diff(points)).sum(), rel=1e-5)
        low, high = complex(points.real.min(), points.imag.min()), complex(points.real.max(), points.imag.max())
        assert edge.bounds == pytest.approx((low.real, low.imag, high.real, high.imag), abs=1e-5)
        box = bounds([way.element])
        assert (*box[0][0], *box[1][0]) == pytest.approx(edge.bounds, abs=1e-9)
        half = complex(way.at(np.array(0.5)))
        assert complex(*middle(edge)) == pytest.approx(half, abs=1e-12)
        asked = points[STEPS // 2] + (rng.uniform(-6.0, 6.0, 20) + 1j * rng.uniform(-6.0, 6.0, 20))
        near = np.abs(asked[:, None] - points[None, :]).min(axis=1)
        assert edge.distance(np.column_stack([asked.real, asked.imag])) == pytest.approx(near, abs=3e-4)
        if not way.sweep:
            square = [z for z in asked.tolist() if 0 < ((z - way.p) / (way.q - way.p)).real < 1]
            asked = np.array(square, dtype=np.complex128)
            near = np.abs(asked[:, None] - points[None, :]).min(axis=1) if square else np.empty(0)
        assert [away(edge, (z.real, z.imag)) for z in asked.tolist()] == pytest.approx(near.tolist(), abs=3e-4)
        # Stations along a wall, and parts of an edge.
        for part in (0.13, 0.5, 0.92):
            z = complex(way.at(np.array(part)))
            assert station_on(way.element, (z.real, z.imag)) == pytest.approx(part * edge.length, abs=1e-9)
            cut = part_of(edge, edge.start, (z.real, z.imag))
            assert cut.length == pytest.approx(part * edge.length, rel=1e-9)
            assert complex(*cut.point(0.5).tolist()) == pytest.approx(complex(way.at(np.array(part / 2))), abs=1e-9)
        ahead_of, behind = (complex(way.at(np.array(t))) for t in (1.02, -0.02))
        for z in (ahead_of, behind):
            assert station_on(way.element, (z.real, z.imag)) is None


@pytest.mark.parametrize("turn", [0.0, 0.7, 2.0, 4.1])
@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("gap", [3e-7, 7e-7])
def test_edges_that_face_each_other_touch_within_half_a_micrometer(turn: float, side: float, gap: float) -> None:
    """Two bulges crown to crown, a bulge before a line, an end before a line, and an end beside a bulge's end."""
    place, u = complex(33.0, -12.0), cmath.exp(1j * turn)

    def bulge(crown: complex, toward: complex, r: float) -> Way:
        return Way(crown - r * toward, r=r, a=cmath.phase(toward) - side * 0.8, sweep=side * 1.6)

    first = bulge(place, u, 5.0)
    others = [
        bulge(place + gap * u, -u, 3.0),
        Way(place + gap * u - 4j * u, place + gap * u + 4j * u),
        Way(place + gap * u, place + 6 * u),
    ]
    for other in others:
        for a, b in ((first, other), (other, first)):
            contact = _between(a.edge, b.edge, [])
            assert (contact is not None) == (gap < 5e-7)
            if contact:
                assert contact.how == "touches itself"
                assert complex(*contact.at) == pytest.approx(place, abs=1e-6)
