"""Two rims compared, whose vertices need not be the same: gap, step and angle, and what their own facets can hide.

Gap, step and angle are those of `continuity`: from each vertex and each middle of a segment of either rim to the
nearest point of the other, along the joint's normal and within its surface; the angle is between the segments.

A model from elsewhere does not say how finely its curves were cut into facets. It shows, though: an arc of radius R
becomes segments of length l that turn by a = l / R at each vertex, and strays from them by its sagitta l a / 8. Two
rims that follow one curve with different facets differ by up to the larger sagitta, and in direction by half the sum
of their turns. A vertex counts as part of a curve when it turns by less than 35 degrees and its neighbor turns the
same way, and the segment between them is at most twice as long as one beside it; arrises and straight lines hide
nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from preview.checks.continuity import SHORTEST
from preview.checks.faces import EndFace
from preview.checks.nearest import BLOCK, FEW, nearest_on_rim, segments_near
from preview.checks.readers import Floats
from preview.checks.standing import FLUSH, LEAST_ANGLE
from preview.checks.travel import crossed

ARRIS = math.radians(35)
FAINT = 1e-4
NOTHING = 1e-9
"""Figures below this, mm or degrees, are what arithmetic leaves of 0."""


@dataclass(frozen=True)
class Measured:
    """One figure of a joint: the largest, mm or degrees, and where in space (3,), mm; and what it is judged by.

    judged, limit, judged_at: the figure that exceeds its own limit by most, or comes closest to it. The limit is that
    of our own models, plus what the facets can hide there (`facets`), plus the digits of the file.
    """

    figure: float
    at: tuple[float, float, float]
    judged: float
    limit: float
    judged_at: tuple[float, float, float]
    facets: float


@dataclass(frozen=True)
class Contact:
    """What was measured between two end faces.

    facets, facets_angle: the largest sagitta on either rim, mm, and turn between its segments, degrees (0: no
    curve). opens: the gap at its worst place with its sign, mm: + open, - sharing wood.
    """

    gap: Measured
    step: Measured
    angle: Measured
    facets: float
    facets_angle: float
    opens: float


@dataclass(frozen=True)
class _Coarse:
    """How coarse a rim is, for each segment (k,): sagitta, mm, and turn, radians."""

    sagitta: Floats
    turn: Floats


def compare(one: EndFace, other: EndFace) -> Contact:
    """Measure how two end faces that look at one another meet."""
    coarse = {id(end): _coarseness(end) for end in (one, other)}
    plane = one.normal - other.normal
    plane /= np.linalg.norm(plane)
    rows: list[tuple[Floats, ...]] = []
    for mine, theirs, sign in ((one, other, 1.0), (other, one, -1.0)):
        own, far = coarse[id(mine)], coarse[id(theirs)]
        count = len(mine.starts)
        middle = (mine.starts + mine.stops) / 2
        probes = np.concatenate([mine.starts, middle])
        nearest, segment = nearest_on_rim(probes, theirs)
        apart = nearest - probes
        square = np.tile(plane * sign, (2 * count, 1)) if mine.flat else np.tile(mine.normals, (2, 1))
        across = np.einsum("ij,ij->i", apart, square)
        within = np.linalg.norm(apart - across[:, None] * square, axis=1)
        before = np.empty(count)
        before[mine.following] = own.sagitta
        sagitta = np.concatenate([np.maximum(own.sagitta, before), own.sagitta])
        sagitta = np.maximum(sagitta, far.sagitta[segment])
        digits = 2 * (mine.step + theirs.step)
        angle = np.zeros(2 * count)
        angle[count:] = _angles(mine, middle, theirs, np.linalg.norm(apart[count:], axis=1))
        length = np.linalg.norm(mine.stops - mine.starts, axis=1)
        blur = digits / np.maximum(length, SHORTEST)
        turn = np.zeros(2 * count)
        turn[count:] = np.degrees((own.turn + far.turn[segment[count:]]) / 2 + blur)
        flat = mine.flat and theirs.flat
        rows.append(
            (
                probes,
                across,
                within,
                angle,
                digits + (0.0 * sagitta if flat else sagitta),
                digits + sagitta,
                turn,
            )
        )
    columns = [np.concatenate(part) for part in zip(*rows, strict=True)]
    probes, across, within, angle, slack_gap, slack_step, slack_angle = columns
    worst = int(np.argmax(np.abs(across)))
    return Contact(
        _measured(np.abs(across), FLUSH, slack_gap, probes),
        _measured(within, FLUSH, slack_step, probes),
        _measured(angle, LEAST_ANGLE, slack_angle, probes),
        max(float(c.sagitta.max(initial=0.0)) for c in coarse.values()),
        math.degrees(max(float(c.turn.max(initial=0.0)) for c in coarse.values())),
        float(across[worst]),
    )


def _measured(figures: Floats, limit: float, slack: Floats, places: Floats) -> Measured:
    figures = np.where(figures < NOTHING, 0.0, figures)
    worst = int(np.argmax(figures))
    hardest = int(np.argmax(figures - slack))

    def at(i: int) -> tuple[float, float, float]:
        x, y, z = places[i]
        return float(x), float(y), float(z)

    return Measured(
        float(figures[worst]),
        at(worst),
        float(figures[hardest]),
        limit + float(slack[hardest]),
        at(hardest),
        float(slack[hardest]),
    )


def rims_apart(one: EndFace, other: EndFace) -> tuple[Floats, Floats]:
    """From each vertex of `one` to the nearest point of the rim of `other`: along one's normal, signed (k,), and
    within its plane (k,)."""
    nearest, _ = nearest_on_rim(one.starts, other)
    apart = nearest - one.starts
    across = apart @ one.normal
    return across, np.linalg.norm(apart - across[:, None] * one.normal, axis=1)


def _angles(mine: EndFace, middle: Floats, theirs: EndFace, apart: Floats) -> Floats:
    """The angle, degrees, between each segment and the one of the other rim that answers to it.

    Where the profiles stand apart by more than a short segment's length the nearest may be its neighbor's: of all
    that come as near as twice the nearest, the one in the most similar direction is taken.
    """
    a, b = mine.stops - mine.starts, theirs.stops - theirs.starts
    long_a, long_b = np.linalg.norm(a, axis=1), np.linalg.norm(b, axis=1)
    a = a / np.maximum(long_a, 1e-300)[:, None]
    b = b / np.maximum(long_b, 1e-300)[:, None]
    found = np.zeros(len(a))
    side = theirs.stops - theirs.starts
    square = np.maximum(long_b**2, 1e-300)
    reach = 2 * apart + 1e-6
    for part in np.array_split(np.arange(len(a)), len(a) * len(b) // BLOCK + 1):
        if len(a) * len(b) > FEW:
            probe, segment = segments_near(middle[part], reach[part], theirs)
        else:
            probe, segment = np.repeat(np.arange(len(part)), len(b)), np.tile(np.arange(len(b)), len(part))
        probe = part[probe]
        away = middle[probe] - theirs.starts[segment]
        t = np.clip(np.einsum("ij,ij->i", away, side[segment]) / square[segment], 0.0, 1.0)
        off = np.linalg.norm(away - t[:, None] * side[segment], axis=1)
        near = (off <= reach[probe]) & (long_b[segment] >= SHORTEST)
        probe, segment = probe[near], segment[near]
        sine = np.linalg.norm(crossed(a[probe], b[segment]), axis=1)
        angle = np.degrees(np.arctan2(sine, np.abs(np.einsum("ij,ij->i", a[probe], b[segment]))))
        least = np.full(len(a), np.inf)
        np.minimum.at(least, probe, angle)
        found[part] = np.where(np.isfinite(least[part]), least[part], 0.0)
    return np.where(long_a < SHORTEST, 0.0, found)


def _coarseness(end: EndFace) -> _Coarse:
    side = end.stops - end.starts
    length = np.linalg.norm(side, axis=1)
    way = side / np.maximum(length, 1e-300)[:, None]
    on = end.following
    bend = crossed(way, way[on])
    turn = np.arctan2(np.linalg.norm(bend, axis=1), np.einsum("ij,ij->i", way, way[on]))
    noise = FAINT + 4 * end.step / np.maximum(np.minimum(length, length[on]), 1e-300)
    smooth = (turn > noise) & (turn < ARRIS)  # at the stop of each segment
    back = np.empty_like(on)
    back[on] = np.arange(len(on))
    # Both ends of a segment turn one way, and it is not far longer than what lies beside it.
    both = smooth & smooth[back] & (np.einsum("ij,ij->i", bend, bend[back]) > 0)
    both &= length <= 2 * np.maximum(length[on], length[back])
    first = smooth & both[on] & (length <= 2 * length[on])
    last = smooth[back] & both[back] & (length <= 2 * length[back])
    turns = np.maximum(np.where(both | first, turn, 0.0), np.where(both | last, turn[back], 0.0))
    return _Coarse(length * turns / 8, turns)
