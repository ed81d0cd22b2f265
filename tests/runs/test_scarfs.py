"""Straights longer than the stock: the fewest pieces, as equal as can be, with no joint too near a corner."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.runs import MITER, Block, Corner, Curve, Run, Step, Straight, Way, lay_out, scarfed, through_points
from samples import RIGHT_ANGLE

SCARF = Way("scarf", slant=1.0)
KEPT = ", and a joint has to lie at least {} mm from each of its ends: no scarf fits"


def lengths(run: Run) -> list[float]:
    return [element.length for element in run.elements]


def test_a_run_of_short_straights_is_left_as_it_is() -> None:
    run = lay_out("wall", [Straight(3000.0), Corner(RIGHT_ANGLE), Straight(2000.0)])
    assert scarfed(run, 3000.0, 1.0, 0.0) == run


def test_a_long_straight_is_halved() -> None:
    run = lay_out("wall", [Straight(1000.0), Corner(-RIGHT_ANGLE), Straight(5000.0), Curve(RIGHT_ANGLE, 4000.0)])
    made = scarfed(run, 3000.0, 1.0, 0.0)
    assert lengths(made)[:3] == [1000.0, 2500.0, 2500.0]
    assert made.elements[2].start == (1000.0, -2500.0)
    assert made.elements[2].tangent == run.elements[1].tangent
    assert made.turns == (0.0, -RIGHT_ANGLE, 0.0, 0.0)
    assert made.ways == (MITER, MITER, SCARF, MITER)
    assert made.places == ("step 1", "step 3", "step 3", "step 4")
    assert made.blocks == ("",) * 4
    assert made.elements[3] == run.elements[2]  # a curve is not made of sticks


def test_scarfs_and_miters_take_stock_of_their_own() -> None:
    """30 mm out, outside corners of 90° at both ends, scarfs at 45°: the long points reach 30 mm on.

    Two pieces of 3000: 3000 - 60 and 3000 - 30 on the wall line, 5910 together, and a mm more takes three.
    """
    for length, count in ((5910.0, 2), (5911.0, 3)):
        steps: list[Step] = [Straight(900.0), Corner(-RIGHT_ANGLE), Straight(length), Corner(-RIGHT_ANGLE)]
        run = scarfed(lay_out("wall", [*steps, Straight(900.0)]), 3000.0, 1.0, 0.0, spans=[(0.0, 30.0)])
        assert len(run.elements) == count + 2
    run = scarfed(
        lay_out("wall", [*steps[:2], Straight(5910.0), steps[3], Straight(900.0)]), 3000.0, 1.0, 0.0, 0.0, [(0, 30)]
    )
    assert lengths(run)[1:3] == pytest.approx([2940.0, 2970.0], abs=1e-9)


def test_inside_corners_take_nothing_and_a_return_does() -> None:
    """Inside a corner the wall line is the longest; a return's miter carries the face on by the projection."""
    run = lay_out("wall", [Straight(900.0), Corner(RIGHT_ANGLE), Straight(3000.0)])
    assert lengths(scarfed(run, 3000.0, 1.0, 0.0, spans=[(0.0, 30.0)])) == [900.0, 3000.0]
    returned = scarfed(replace(run, end="return"), 3000.0, 1.0, 0.0, spans=[(0.0, 30.0)])
    assert len(returned.elements) == 3


def test_a_joint_keeps_away_from_the_corners() -> None:
    run = lay_out("wall", [Straight(8100.0)])
    assert lengths(scarfed(run, 4000.0, 1.0, 0.0)) == pytest.approx([2700.0] * 3, abs=1e-9)
    assert lengths(scarfed(run, 4000.0, 1.0, 3600.0)) == pytest.approx([3600.0, 900.0, 3600.0], abs=1e-9)


def test_a_rake_is_measured_along_its_slope() -> None:
    """3 up for 4 along: 4000 in plan is 5000 of stock."""
    run = lay_out("stair", [Straight(4000.0, 0.75)])
    assert len(scarfed(run, 5000.0, 1.0, 0.0).elements) == 1
    made = scarfed(run, 4990.0, 1.0, 0.0)
    assert lengths(made) == [2000.0, 2000.0]
    assert [element.height for element in made.elements] == [0.0, 1500.0]
    assert [element.slope for element in made.elements] == [0.75, 0.75]


def test_an_allowance_is_kept_on_every_piece() -> None:
    run = lay_out("wall", [Straight(6000.0)])
    assert len(scarfed(run, 3050.0, 1.0, 0.0, 50.0).elements) == 2
    assert len(scarfed(run, 3050.0, 1.0, 0.0, 51.0).elements) == 3


def test_blocks_are_not_scarfed_and_points_are() -> None:
    run = lay_out("wall", [Block("bench", 900.0), Straight(700.0)])
    assert scarfed(run, 500.0, 1.0, 0.0).blocks == ("bench", "", "")
    made = scarfed(through_points("wall", [(0.0, 0.0), (300.0, 400.0)]), 300.0, 0.5, 0.0)
    assert made.elements[1].start == pytest.approx((150.0, 200.0), abs=1e-12)
    assert made.ways[1] == Way("scarf", slant=0.5)


@pytest.mark.parametrize(
    ("length", "stock", "from_corner", "said"),
    [
        (
            5000.0,
            4000.0,
            2600.0,
            "this straight is 5000 mm long and the stock 4000 mm" + KEPT.format(2600),
        ),
        (
            9000.0,
            2000.0,
            2001.0,
            "this straight is 9000 mm long and the stock 2000 mm" + KEPT.format(2001),
        ),
        (5000.0, 25.0, 0.0, "this straight is 5000 mm long and the stock 25 mm: no scarf fits"),
        (1e6, 300.0, 0.0, "this straight is 1000000 mm long and the stock 300 mm: no scarf fits"),
    ],
)
def test_what_cannot_be_scarfed_is_refused(length: float, stock: float, from_corner: float, said: str) -> None:
    with pytest.raises(PreviewError) as refused:
        scarfed(lay_out("wall", [Straight(length)]), stock, 1.0, from_corner, spans=[(0.0, 30.0)])
    assert (refused.value.problems[0].place, refused.value.problems[0].problem) == ("step 1", said)


@given(st.floats(100.0, 20_000.0), st.floats(300.0, 4000.0))
def test_without_projection_the_pieces_are_equal_and_as_few_as_the_length_needs(length: float, stock: float) -> None:
    made = scarfed(lay_out("wall", [Straight(length)]), stock, 1.0, 0.0)
    count = max(1, math.ceil(length / stock - 1e-9))
    assert lengths(made) == pytest.approx([length / count] * count, abs=1e-6)


@given(
    st.floats(100.0, 20_000.0),
    st.floats(600.0, 4000.0),
    st.floats(0.0, 900.0),
    st.floats(0.1, 3.0),
    st.tuples(st.floats(-2.0, 2.0), st.floats(-2.0, 2.0)),
    st.lists(st.tuples(st.floats(0.0, 20.0), st.floats(25.0, 60.0)), min_size=1, max_size=3),
)
def test_every_piece_comes_out_of_the_stock(
    length: float,
    stock: float,
    from_corner: float,
    slant: float,
    corners: tuple[float, float],
    spans: list[tuple[float, float]],
) -> None:
    """Each piece's outline in plan, point by point: its four corners, by the lines that cut it."""
    steps: list[Step] = [Straight(300.0), Corner(corners[0]), Straight(length), Corner(corners[1]), Straight(300.0)]
    try:
        run = lay_out("wall", steps)
        made = scarfed(run, stock, slant, from_corner, spans=spans)
    except PreviewError:  # no scarf fits, or a corner under 1 degree, or the run crosses itself
        assume(False)
        raise
    pieces = made.elements[1:-1]
    joints = [math.fsum(piece.length for piece in pieces[:count]) for count in range(len(pieces) + 1)]
    assert joints[-1] == pytest.approx(length, abs=1e-6)
    for at in joints[1:-1]:
        assert from_corner - 1e-6 <= at <= length - from_corner + 1e-6
    for count, (begin, end) in enumerate(pairwise(joints)):
        leans = (
            slant if count else math.tan(corners[0] / 2),
            slant if count + 1 < len(pieces) else -math.tan(corners[1] / 2),
        )
        for back, face in spans:
            most = max(end + leans[1] * d for d in (back, face))
            least = min(begin + leans[0] * d for d in (back, face))
            assert most - least <= stock + 1e-5
