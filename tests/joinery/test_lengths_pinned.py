"""Pieces that are consumed somewhere between the back and the face, or only above the foot: worked out by hand.

A cut that leans takes its share with the height, a curved cut takes most somewhere in the middle of the projection.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from preview.errors import PreviewError
from preview.joinery import join
from preview.profiles import Line, Profile, make_profile
from preview.runs import Corner, Curve, Run, Straight, Way, lay_out
from samples import RIGHT_ANGLE, block

TAN = 3 / 4
HALF = 1 / 3
"""tan(a / 2) where tan a = 3/4: a right triangle of 3, 4 and 5."""


def refused(run: Run, profile: Profile) -> str:
    with pytest.raises(PreviewError) as caught:
        join(run, "rail", profile)
    (problem,) = caught.value.problems
    return problem.problem


def dip(level: float) -> Run:
    """Down, a short level, and up again in one wall, all of one section: both its miters lean in over it."""
    run = lay_out("dip", [Straight(400.0, -TAN), Straight(level), Straight(400.0, TAN)])
    return replace(run, raked="same")


def test_a_level_between_two_slopes_is_consumed_at_its_top() -> None:
    """Each miter in elevation leans by half the pitch: 60 mm up they take 60/3 each, of a piece of 30."""
    assert "they overlap by 10 mm" in refused(dip(30.0), block(20.0, 60.0))
    assert "they leave only 0.05 mm" in refused(dip(40.05), block(20.0, 60.0))
    level = join(dip(40.2), "rail", block(20.0, 60.0)).pieces[1]
    starts, stops = level.stations(np.array([20.0]), np.array([60.0]))
    assert (starts[0], stops[0]) == pytest.approx((60.0 * HALF, 40.2 - 60.0 * HALF))


def test_a_level_over_a_hump_is_consumed_below_its_foot() -> None:
    """The other way round, and the section hangs 30 mm below the line that is walked: each takes 30/3 there."""
    run = replace(lay_out("hump", [Straight(400.0, TAN), Straight(15.0), Straight(400.0, -TAN)]), raked="same")
    assert "they overlap by 5 mm" in refused(run, block(20.0, 60.0).moved(0.0, -30.0))
    assert join(run, "rail", block(20.0, 60.0)).pieces


def test_a_scarf_square_to_a_climbing_stick_takes_more_with_the_height() -> None:
    """A plumb section on a slope of 3 in 4: up it by h, a cut square to the stick stands back by h sin a cos a."""
    run = lay_out("stair", [Straight(25.0, TAN), Straight(400.0, TAN)])
    run = replace(run, ways=(Way(), Way("scarf")))
    high = 60.0
    assert f"they overlap by {high * 0.6 * 0.8 - 25.0:.1f} mm" in refused(run, block(20.0, high))
    assert join(run, "rail", block(20.0, 50.0)).pieces  # which takes 24


def test_a_coped_piece_is_consumed_where_the_other_face_stands_out_most() -> None:
    """The face stands 8 mm out at the foot and 36 at its top: a piece of 30 between it and a square end is gone there.

    Only that one piece of three follows a face.
    """
    corners = [(0.0, 0.0), (8.0, 0.0), (36.0, 60.0), (0.0, 60.0)]
    leaning = make_profile("leaning", [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)])
    steps = [Straight(400.0), Corner(-RIGHT_ANGLE), Straight(400.0), Corner(RIGHT_ANGLE, Way("cope")), Straight(30.0)]
    assert "they overlap by 6 mm" in refused(lay_out("hall", steps), leaning)
    steps[-1] = Straight(36.2)
    assert join(lay_out("hall", steps), "rail", leaning).pieces


def test_a_piece_consumed_halfway_out_though_neither_its_back_nor_its_face_is() -> None:
    """A straight of 50 mm from an inside square corner, which takes d, to a niche at 60 degrees, which gives

    x = R sin t - sqrt(R² sin² t - 2 R d (1 - cos t)): where the line d from the wall meets a circle of R - d about the
    niche's center. With R = 400 that gives least beside what is taken where dx/dd = 1, at d = 200: 346.41 - 200.
    """
    steps = [
        Straight(900.0),
        Corner(RIGHT_ANGLE),
        Straight(50.0),
        Corner(-math.radians(60.0)),
        Curve(1.0, 400.0),
    ]
    said = refused(lay_out("niche", steps), block(256.0))
    short = 200.0 - (400.0 * math.sin(math.radians(60.0)) - 200.0) - 50.0
    assert f"200 mm out from the wall line they overlap by {short:.1f} mm" in said
    line = join(lay_out("niche", [*steps[:2], Straight(50.0 + short + 0.11), *steps[3:]]), "rail", block(256.0))
    starts, stops = line.pieces[1].stations(np.array([200.0]))
    assert stops[0] - starts[0] == pytest.approx(0.11)


def test_a_piece_that_its_cuts_just_meet_on() -> None:
    """Two inside square corners take 20 mm each of 40: nothing overlaps, and nothing is left."""
    steps = [Straight(90.0), Corner(RIGHT_ANGLE), Straight(40.0), Corner(RIGHT_ANGLE), Straight(90.0)]
    assert "20 mm out from the wall line they leave only 0 mm" in refused(lay_out("u", steps), block(20.0))
