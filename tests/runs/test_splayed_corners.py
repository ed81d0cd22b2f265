"""Splayed corners: both walls stay where they were, whatever stands between them."""

from __future__ import annotations

import cmath
import math
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.runs import MITER, Corner, Splay, Step, Straight, lay_out
from samples import RIGHT_ANGLE
from strategies import turns


def test_a_chamfered_square_corner() -> None:
    """One facet at 45 degrees is the hypotenuse: each wall loses facet / sqrt 2."""
    run = lay_out("wall", [Straight(400.0), Splay(-RIGHT_ANGLE, 2, 60.0), Straight(300.0)])
    lost = 60.0 / math.sqrt(2.0)
    assert [element.length for element in run.elements] == pytest.approx([400 - lost, 60, 300 - lost], abs=1e-12)
    assert run.turns == (0.0, -RIGHT_ANGLE / 2, -RIGHT_ANGLE / 2)
    assert run.elements[1].start == pytest.approx((400 - lost, 0), abs=1e-12)
    assert run.elements[2].start == pytest.approx((400, -lost), abs=1e-12)
    assert run.elements[2].tangent == (0.0, -1.0)
    assert run.places == ("step 1", "step 2", "step 3")
    assert run.ways == (MITER,) * 3


def test_three_turns_of_30_degrees() -> None:
    """Two facets f at 30° and 60°: together f (cos 30° + cos 60°) one way, and as much the other."""
    run = lay_out("wall", [Straight(400.0), Splay(RIGHT_ANGLE, 3, 38.1), Straight(300.0)])
    lost = 38.1 * (math.cos(math.radians(30)) + 0.5)
    assert [element.length for element in run.elements] == pytest.approx(
        [400 - lost, 38.1, 38.1, 300 - lost], abs=1e-12
    )
    assert run.turns == pytest.approx((0.0, *[math.radians(30)] * 3), abs=1e-15)
    assert run.places == ("step 1", "step 2", "step 2", "step 3")


@pytest.mark.parametrize("last", [[], [Splay(RIGHT_ANGLE, 2, 100.0)]], ids=["one sharp corner", "all splayed"])
def test_a_square_splayed_to_an_octagon(last: list[Step]) -> None:
    """A regular octagon of side a measures a (1 + sqrt 2) across its flats."""
    across = 100.0 * (1.0 + math.sqrt(2.0))
    side: list[Step] = [Straight(across), Splay(RIGHT_ANGLE, 2, 100.0)]
    run = lay_out("room", [*side * 3, Straight(across), *last], closed=True)
    lengths = [element.length for element in run.elements]
    if last:
        assert lengths == pytest.approx([100.0] * 8, abs=1e-9)
        assert run.turns == pytest.approx([RIGHT_ANGLE / 2] * 8, abs=1e-12)
        assert run.elements[-1].end == pytest.approx(run.elements[0].start, abs=1e-9)
        assert run.places[-1] == "step 8"
    else:
        assert lengths[1:-1] == pytest.approx([100.0] * 5, abs=1e-9)
        assert lengths[0] == lengths[-1] == pytest.approx((across + 100.0) / 2, abs=1e-9)
        assert run.turns[0] == pytest.approx(RIGHT_ANGLE, abs=1e-12)


@given(turns(150), st.integers(2, 9), st.floats(1.0, 40.0), st.sampled_from(["left", "right"]))
def test_both_walls_stay_where_they_were(turn: float, count: int, facet: float, room: str) -> None:
    assume(abs(turn) / count >= math.radians(1))
    walls = (Straight(3000.0), Straight(2000.0))
    sharp = lay_out("wall", [walls[0], Corner(turn), walls[1]], start=(7.0, -3.0), heading=0.4)
    run = lay_out(
        "wall",
        [walls[0], Splay(turn, count, facet), walls[1]],
        start=(7.0, -3.0),
        heading=0.4,
        room="left" if room == "left" else "right",
    )
    first, *facets, last = run.elements
    assert len(facets) == count - 1
    assert (first.start, first.tangent, last.tangent) == (
        (7.0, -3.0),
        sharp.elements[0].tangent,
        sharp.elements[1].tangent,
    )
    assert last.end == pytest.approx(sharp.elements[1].end, abs=1e-8)
    assert 3000.0 - first.length == pytest.approx(2000.0 - last.length, abs=1e-9)
    for (earlier, later), angle in zip(pairwise(run.elements), run.turns[1:], strict=True):
        assert earlier.end == pytest.approx(later.start, abs=1e-8)
        between = complex(*later.tangent) / complex(*earlier.tangent)
        assert cmath.phase(between) == pytest.approx(angle, abs=1e-9)
    assert math.fsum(run.turns) == pytest.approx(turn, abs=1e-12)
    assert all(each.length == facet for each in facets)


def test_a_facet_that_leaves_a_straight_nothing_is_refused_with_the_numbers() -> None:
    steps: list[Step] = [Straight(100.0), Splay(RIGHT_ANGLE, 2, 150.0), Straight(300.0)]
    with pytest.raises(PreviewError) as refused:
        lay_out("wall", steps)
    assert str(refused.value) == (
        "step 1, straight = 100 mm\n"
        "  this straight is 100 mm long, of which the splayed corner of step 2 takes 106.1 mm: nothing is left\n"
        "  fix: use a shorter facet, or check the length, which is measured to the sharp corner"
    )


@pytest.mark.parametrize(
    ("splay", "said"),
    [
        (Splay(RIGHT_ANGLE, 1, 10.0), "a splayed corner is made of 2 to 9 equal corners"),
        (Splay(RIGHT_ANGLE, 10, 10.0), "a splayed corner is made of 2 to 9 equal corners"),
        (Splay(RIGHT_ANGLE, 2, 0.4), "a facet must be at least 0.5 mm long"),
        (Splay(RIGHT_ANGLE, 2, math.nan), "a facet must be at least 0.5 mm long"),
        (Splay(math.radians(8.9), 9, 1.0), "each of the 9 corners turns by 0.99°, less than the 1° a corner needs"),
        (Splay(math.radians(151), 3, 1.0), "the run turns by 151° here, more than the 150° a miter can serve"),
    ],
)
def test_splays_out_of_range(splay: Splay, said: str) -> None:
    with pytest.raises(PreviewError) as refused:
        lay_out("wall", [Straight(400.0), splay, Straight(300.0)])
    assert refused.value.problems[0].problem == said
