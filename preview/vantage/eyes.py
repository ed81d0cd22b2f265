"""From where a spot is best looked at: as it likes best, or as near to that as nothing hides it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.models.mesh import SurroundingMesh
from preview.vantage.corners import ASIDE_CORNER, Spot
from preview.vantage.sight import Obstacle, Sight

Floats = NDArray[np.float64]

DISTANCE = 5.0
"""From how many times the size of a thing its form is read."""
STEEPEST = math.radians(77)
WAYS = tuple(itertools.product((1.0, 0.6, 0.4), (1.0, 0.5, 1.8), range(len(ASIDE_CORNER))))
"""The ways of standing that are tried, the best first: nearer, steeper, and which way aside."""


def eyes_of(spots: Sequence[Spot], sight: Sight) -> list[Floats]:
    """Where to stand to see each spot: as it likes best, or as near to that as nothing hides it."""
    chosen = [_standing_place(spot, *WAYS[0]) for spot in spots]
    hidden = list(range(len(spots)))
    for nearer, steeper, aside in WAYS:
        if not hidden:
            break
        tried = [_standing_place(spots[i], nearer, steeper, aside) for i in hidden]
        targets = [spots[i].target for i in hidden]
        clear = sight.clear(np.array(tried), np.array(targets), [spots[i].past for i in hidden]).tolist()
        for i, eye, seen in zip(hidden, tried, clear, strict=True):
            if seen:
                chosen[i] = eye
        hidden = [i for i, seen in zip(hidden, clear, strict=True) if not seen]
    return chosen


def _standing_place(spot: Spot, nearer: float, steeper: float, aside: int) -> Floats:
    """A place from which a spot may be looked at."""
    slope = max(-STEEPEST, min(STEEPEST, spot.slope * steeper))
    turn = spot.aside[aside]
    flat = math.cos(slope)
    way = (flat * math.cos(turn)) * spot.room + (flat * math.sin(turn)) * spot.travel + math.sin(slope) * spot.up
    place: Floats = spot.target + (DISTANCE * spot.wide * nearer) * way
    return place


def sight_of(built: Built, around: Sequence[SurroundingMesh]) -> Sight:
    """What may hide a joint: every piece, by its number, and what stands round them."""
    pieces = [Obstacle(mesh.points, mesh.triangles) for mesh in built.meshes]
    return Sight(pieces + [Obstacle(mesh.points, mesh.triangles) for mesh in around])
