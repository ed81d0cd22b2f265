"""What is said where a curve cannot be made as asked, and what the numbers in it are."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from preview.blanks import METHODS, favored, rings, sawn, staved, ways
from preview.blanks.rings import ring_words
from preview.blanks.sawn import sawn_words
from preview.errors import PreviewError
from preview.joinery import Piece, join
from preview.profiles import Shape, sketch
from preview.runs import Curve, Straight, lay_out
from samples import BASE, block

RIGHT = math.pi / 2


def refused(problem: str, fix: str, make: Any, *sizes: Any, **more: Any) -> None:
    with pytest.raises(PreviewError) as caught:
        make(*sizes, **more)
    (told,) = caught.value.problems
    assert problem in told.problem
    assert told.fix == fix


def test_an_inside_too_small_to_turn() -> None:
    """1 in across for a bored inside, 2 in for a hollow with a profile in it: common practice of turners."""
    bore = "the finished inside is 24 mm across, and an arbor or a boring tool needs 25.4 mm"
    refused(bore, "carve the piece, or use a larger radius", staved, 40.0, 12.0, 100.0, RIGHT, unit="mm")
    hollow = "the finished inside is 50 mm across, and turning a profile inside a hollow needs 50.8 mm"
    fix = "carve the piece, or make it of mitered straights"
    refused(hollow, fix, staved, 80.0, 25.0, 40.0, RIGHT, wraps=False, unit="mm")
    assert staved(60.0, 12.7, 100.0, RIGHT, staves=8, board_width=1e3).inside_diameter == pytest.approx(25.4)


def test_no_number_of_staves_will_do() -> None:
    fix = "make the piece another way: no number of staves from 3 to 16 will do"
    with pytest.raises(PreviewError, match="of 4 staves: one would be") as caught:
        staved(200.0, 90.0, 60.0, RIGHT)
    assert caught.value.problems[0].fix == fix


@pytest.mark.parametrize(
    ("segments", "said"),
    [
        (5, "in 5 segments the grain runs out by 36° at their ends"),
        (4, "in 4 segments the grain runs out by 45° at their ends"),
        (1, "in 1 segment the grain runs out by 180° at their ends"),
    ],
)
def test_rings_of_too_few_segments(segments: int, said: str) -> None:
    """Half of what one segment turns by; with six that is 30 degrees."""
    refused(said, "use 6 to 48 segments", rings, 100.0, 70.0, 60.0, 1.0, segments=segments)
    assert rings(100.0, 70.0, 60.0, 1.0, segments=6).segments == 6


def test_rings_of_too_many_segments() -> None:
    said = "a ring of 49 segments is more joint than wood"
    refused(said, "use 6 to 48 segments", rings, 300.0, 270.0, 60.0, 1.0, segments=49)
    assert rings(300.0, 270.0, 60.0, 1.0, segments=48).segments == 48


def test_a_layer_of_one_segment_has_no_end_joint() -> None:
    """40 degrees of a round that no lathe swings: a layer is one piece. A quarter takes several, jointed."""
    one = rings(900.0, 870.0, 37.0, math.radians(40))
    assert one.joints == 0
    assert any("; no end joint, but the lines between the layers show" in words for words in ring_words(one, "mm"))
    several = rings(900.0, 870.0, 37.0, RIGHT)
    assert several.joints > 0
    told = f"; {several.joints} end joint{'s' if several.joints > 1 else ''} and the lines between the layers show"
    assert any(told in words for words in ring_words(several, "mm"))


def test_sawn_in_one_piece_and_in_several() -> None:
    """60 degrees keep the grain within 30 at the ends; of more, two are joined, and the words say what one would do."""
    one, two = sawn(300.0, 270.0, 19.0, math.radians(59)), sawn(300.0, 270.0, 19.0, math.radians(90))
    assert (one.segments, two.segments) == (1, 2)
    first, second = (" ".join(sawn_words(arc, "mm")) for arc in (one, two))
    assert "in one piece," in first
    assert "the grain runs out of the curve by 29.5° at their ends" in first
    assert "if it were one piece" not in first
    assert "in 2 pieces joined end to end, each" in second
    assert "the grain runs out of the curve by 22.5° at their ends (45° if it were one piece)" in second


def pier(radius: float = 50.8) -> Piece:
    run = lay_out("pier", [Straight(300.0), Curve(-RIGHT, radius), Straight(300.0)])
    return join(run, "m", BASE).pieces[1]


def test_a_way_that_was_asked_for_and_cannot_be_had() -> None:
    found = ways(pier(), wanted=4)
    sound = next(way for way in found if way.possible)
    lost = replace(sound, method=METHODS[-1], plan=None, refusal="the reason")
    assert not lost.possible
    choose, change = "leave the method out, and the numbers choose", "change the curve or the profile"
    refused("the reason", choose, favored, [sound, lost], lost.method)
    refused("the reason", change, favored, [lost], lost.method)
    other = next(method for method in METHODS if method not in (sound.method, lost.method))
    refused("this way was not reckoned", choose, favored, [sound, lost], other)
    refused("this way was not reckoned", change, favored, [lost], other)


def test_what_is_too_short_to_be_shaped_singly_is_said() -> None:
    way = next(way for way in ways(pier(), wanted=4) if way.possible)
    for short in (True, False):
        _, why = favored([replace(way, short=short)])
        assert ("% yield, too short to be shaped singly" in why) is short


def test_a_thin_wall_of_the_profile_limits_the_turning() -> None:
    """20 mm at its foot, 4 above: told beside the other limits, and not of a block 20 thick."""
    thin = sketch("thin", 20.0, [Shape("fillet", rise=20.0), Shape("fillet", out=-16.0), Shape("fillet", rise=30.0)])
    run = lay_out("pier", [Straight(300.0), Curve(-RIGHT, 80.0), Straight(300.0)])
    for profile, told in ((thin, True), (block(20.0, 50.0), False)):
        turned = ways(join(run, "m", profile).pieces[1], unit="mm")[0]
        assert (turned.method, turned.possible) == ("turned", True)
        assert any("4 mm thick" in words for words in turned.limits) is told
