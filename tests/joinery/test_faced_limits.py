"""Pieces that a face they follow consumes: what counts is the face just above a ledge as well as just below it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from faced_pieces import polygon
from preview.errors import PreviewError
from preview.joinery import join
from preview.runs import Corner, Straight, Way, lay_out
from samples import RIGHT_ANGLE, block

# It stands 10 mm out up to 20 mm, then juts out to 30 and slopes back to 10 mm at the top, 40 mm up.
JUTTING = polygon((0, 0), (10, 0), (10, 20), (30, 20), (10, 40), (0, 40))


@pytest.mark.parametrize(("long", "fits"), [(31.0, True), (29.0, False), (25.0, False)])
def test_a_coped_piece_ends_where_the_ledge_juts_out(long: float, fits: bool) -> None:
    """Coped to a square corner a piece begins as far along as the other stands out: 30 mm just above the ledge."""
    run = lay_out("wall", [Straight(300.0), Corner(RIGHT_ANGLE), Straight(long)])
    run = replace(run, ways=(Way(), Way("cope", coped="after")))
    if fits:
        _, coped = join(run, "m", JUTTING).pieces
        begins, ends = coped.stations(np.array([0.0, 5.0]), np.array([30.0, 30.0]))
        assert begins.tolist() == pytest.approx([20.0, 20.0], abs=1e-12)  # the slope half way up
        assert ends.tolist() == [long, long]
        return
    with pytest.raises(PreviewError, match=f"they overlap by {30.0 - long:g} mm"):
        join(run, "m", JUTTING)


def test_a_return_cannot_reach_behind_the_wall() -> None:
    """A return is as long as its molding stands out: a section let 3 mm into the wall leaves it less than nothing."""
    steps = [Straight(300.0), Corner(RIGHT_ANGLE), Straight(200.0)]
    run = replace(lay_out("wall", steps), end="return")
    with pytest.raises(PreviewError, match="the profile reaches 3 mm behind it") as refused:
        join(run, "m", block(20.0, 40.0).moved(-3.0, 0.0))
    (problem,) = refused.value.problems
    assert problem.place == 'run "wall", step 3, member "m"'
