"""A survey refuses steps as a run does: which corner is inside goes by the side that the room is on."""

from __future__ import annotations

import math

import pytest

from preview.errors import PreviewError
from preview.runs import Corner, Side, Straight, Way
from preview.runs.survey import survey_run


@pytest.mark.parametrize(("room", "turn"), [("left", 1), ("right", -1)])
def test_a_cope_is_cut_at_inside_corners(room: Side, turn: int) -> None:
    steps = [Straight(1000.0), Corner(turn * math.pi / 2, Way("cope")), Straight(800.0)]
    steps += [Corner(turn * math.pi / 2), Straight(1000.0), Corner(turn * math.pi / 2), Straight(800.0)]
    steps.append(Corner(turn * math.pi / 2))
    _, found = survey_run(steps, [], room=room)
    assert found.closure.distance == pytest.approx(0.0, abs=1e-9)
    other: Side = "right" if room == "left" else "left"
    with pytest.raises(PreviewError, match="a cope is cut at inside corners"):
        survey_run(steps, [], room=other)
