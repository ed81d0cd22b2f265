"""How much further a missing chord moves the tip of an end cut, against the angles of lines and circles."""

from __future__ import annotations

import math

import pytest

from preview.checks.alone import sharpest
from preview.joinery import join
from preview.runs import Curve, Straight
from samples import RIGHT_ANGLE, block, meeting


@pytest.mark.parametrize("out", [5.0, 15.0, 19.0])
def test_a_bent_cut_is_as_slant_as_it_is_at_its_tip(out: float) -> None:
    """By hand: at d the straight's face passes d from the center of the niche, whose face is round it on 40 - d, so the
    faces turn by pi - arccos(d / (40 - d)); the cut halves that, and a hair out is 1 / cos of the half along it."""
    line = join(meeting(Straight(300.0), -RIGHT_ANGLE, Curve(1.0, 40.0)), "m", block(out))
    turn = math.pi - math.acos(out / (40.0 - out))
    for piece in line.pieces:
        assert sharpest(piece) == pytest.approx(1 / math.cos(turn / 2), rel=1e-4)


def test_a_flat_cut_is_as_slant_everywhere() -> None:
    line = join(meeting(Straight(300.0), RIGHT_ANGLE, Straight(300.0)), "m", block(20.0))
    assert [sharpest(piece) for piece in line.pieces] == pytest.approx([math.sqrt(2), math.sqrt(2)], rel=1e-12)
