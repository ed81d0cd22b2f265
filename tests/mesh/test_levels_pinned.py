"""How many levels a face is cut at beside a curved miter: no more and no fewer than the joint's own curve asks for.

In plan the cut between a straight and an arc is a parabola. A line d out from the wall meets a circle of R - d about
the arc's center, which stands R (sin t, cos t) from the corner, at

    x = R sin t - sqrt(R² sin² t - 2 R d (1 - cos t))
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from preview.joinery import join
from preview.models.mesh.steps import levels_needed
from preview.profiles import measure
from preview.runs import Curve, Straight
from samples import block, meeting

RADIUS, OUT = 200.0, 10.0
SHALLOW = math.radians(5.0)
"""Here the curve's own turning decides, not the slant of the grid beside it."""


def under(d: np.ndarray) -> np.ndarray:
    found: np.ndarray = (RADIUS * math.sin(SHALLOW)) ** 2 - 2 * RADIUS * d * (1 - math.cos(SHALLOW))
    return found


def along(d: np.ndarray) -> np.ndarray:
    """Where the joint's curve stands along the straight, d out from it, mm."""
    found: np.ndarray = RADIUS * math.sin(SHALLOW) - np.sqrt(under(d))
    return found


def levels(chord: float) -> np.ndarray:
    line = join(meeting(Straight(400.0), -SHALLOW, Curve(1.0, RADIUS)), "m", block(OUT))
    at = np.array([0.0, *levels_needed(line, chord, measure(line.profile)), OUT])
    # The circle and the line are the joint's own.
    points = line.joints[1].points(at) - np.array(line.joints[1].at)
    assert np.abs(points @ np.array(line.joints[1].before.tangent) - along(at)).max() < 1e-9
    return at


@pytest.mark.parametrize("chord", [1e-6, 1e-7])
def test_between_two_levels_the_cut_strays_from_its_chord_by_half_the_tolerance(chord: float) -> None:
    at = levels(chord)
    low, high = at[:-1, None], at[1:, None]
    d = low + (high - low) * np.linspace(0.0, 1.0, 33)
    x = along(d)
    slant = (x[:, -1:] - x[:, :1]) / (high - low)
    off = np.abs(x - x[:, :1] - slant * (d - low)) / np.hypot(1.0, slant)
    farthest = off.max(axis=1)
    assert farthest.max() <= chord / 2 * 1.002
    # One slab fewer would not do.
    count = len(at) - 1
    assert count > 20
    assert farthest.max() > chord / 2 * ((count - 1) / count) ** 2


def test_there_are_as_many_levels_as_the_curve_turns() -> None:
    """A chord w of an arc of curvature k strays by k w²/8, so of 3,000 slabs as many lie in each mm out as

    (k / 4 chord)^1/2 ds/dd, with x' = R (1 - cos t) / root, ds/dd = (1 + x'²)^1/2 and k = x'' / (1 + x'²)^3/2.
    """
    chord = 3e-10
    d = (np.arange(20000) + 0.5) * (OUT / 20000)
    versed = RADIUS * (1 - math.cos(SHALLOW))
    first, second = versed / np.sqrt(under(d)), versed**2 / under(d) ** 1.5
    walked = np.sqrt(1 + first**2)
    slabs = float(np.sum(np.sqrt(second / walked**3 / (4 * chord)) * walked) * (OUT / 20000))
    assert slabs > 2500
    assert len(levels(chord)) - 1 == pytest.approx(slabs, abs=1.0)
