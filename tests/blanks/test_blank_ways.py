"""The ways to make real pieces, with their ends, and the one that is favored."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from preview.blanks import (
    METHODS,
    Lamination,
    RingStack,
    Sawn,
    StavedBlank,
    Way,
    curved,
    favored,
    ways,
)
from preview.errors import PreviewError
from preview.joinery import Piece, join
from preview.profiles import Profile, measure
from preview.runs import Curve, Straight, lay_out
from samples import BASE, CROWN, block, corner, curve, meeting, quarter_round, stepped
from strategies import profiles, share

RIGHT = math.pi / 2


def round_the_pier(profile: Profile = BASE, radius: float = 50.8, sweep: float = -RIGHT) -> Piece:
    """A curve between two straights, tangent to both; - wraps."""
    run = lay_out("pier", [Straight(300.0), Curve(sweep, radius), Straight(300.0)], room="left")
    return join(run, "m", profile).pieces[1]


def by_method(found: tuple[Way, ...]) -> dict[str, Way]:
    assert tuple(way.method for way in found) == METHODS
    return {way.method: way for way in found}


@pytest.fixture(scope="module")
def pier() -> tuple[Way, ...]:
    return ways(round_the_pier(), wanted=4)


def test_radii_are_the_profiles_own() -> None:
    size = measure(BASE)
    wraps, lines = curved(round_the_pier()), curved(round_the_pier(radius=90.0, sweep=RIGHT))
    assert (wraps.wraps, wraps.inner, wraps.outer) == (True, pytest.approx(50.8), pytest.approx(50.8 + size.d_max))
    assert (lines.wraps, lines.inner, lines.outer) == (False, pytest.approx(90.0 - size.d_max), pytest.approx(90.0))
    assert wraps.least_face == pytest.approx(50.8 + 8.75)  # where the bead meets the hollow and the top
    assert lines.least_face == pytest.approx(90.0 - size.d_max)
    for shape in (wraps, lines):
        assert shape.height == pytest.approx(size.h_max)
        assert shape.wedge == pytest.approx(RIGHT)
        assert shape.meets_straights
        assert shape.depth == pytest.approx(size.d_max)


def test_a_member_that_stands_off_the_wall() -> None:
    """A shoe in front of a base 20 mm thick: its back, not the wall, is the inside of the round."""
    run = curve(-RIGHT, 50.8)
    shape = curved(join(run, "shoe", quarter_round(12.0).moved(20.0, 5.0)).pieces[0])
    assert (shape.inner, shape.outer, shape.height) == pytest.approx((70.8, 82.8, 12.0))
    assert not shape.meets_straights  # it ends in the air


def test_ends_that_are_not_square() -> None:
    """A curve that meets a straight at an angle: the wedge holds every point of the piece, and no more."""
    for turn in (math.radians(40), math.radians(-40)):
        run = meeting(Curve(-RIGHT, 120.0), turn, Straight(300.0))
        piece = join(run, "m", BASE).pieces[0]
        shape = curved(piece)
        assert shape.ends[0].square
        assert not shape.ends[1].square
        assert "template" in shape.ends[1].words
        assert not shape.meets_straights
        # The end as it stands in plan, as angles round the curve's center.
        d = np.linspace(0.0, measure(BASE).d_max, 400)
        ring = piece.end.ring(d, np.zeros_like(d))[:, :2] - np.array(piece.element.center)
        first = np.array(piece.element.start) - np.array(piece.element.center)
        cross = first[0] * ring[:, 1] - first[1] * ring[:, 0]
        turned = np.abs(np.arctan2(cross, ring @ first))
        assert shape.wedge == pytest.approx(turned.max(), abs=1e-4)
        assert (shape.wedge > RIGHT + 0.01) == (turn < 0)  # an outside corner takes more


def test_the_pier(pier: tuple[Way, ...]) -> None:
    found = by_method(pier)
    turned = found["turned"]
    assert isinstance(turned.plan, StavedBlank)
    assert isinstance(found["rings"].plan, RingStack)
    assert isinstance(found["lamination"].plan, Lamination)
    assert isinstance(found["sawn"].plan, Sawn)
    assert (turned.pieces, turned.blanks, turned.parts, turned.joints) == (4, 1, 4, 0)
    assert turned.wood == pytest.approx(turned.plan.wood)
    # Finished: the profile's area carried round by its centroid (Pappus), four times, over 144 in³.
    size = measure(BASE)
    volume = size.area * RIGHT * (50.8 + size.centroid[0])
    assert turned.finished == pytest.approx(4 * volume / (144 * 25.4**3))
    for way in pier:
        assert way.finished == pytest.approx(turned.finished)
        assert 0.0 < way.used < 1.0
        assert way.words
        assert way.cautions
        assert any("local codes" in caution.words for caution in way.cautions)
        assert all(caution.source for caution in way.cautions)
    assert any("machine's manual" in caution.words and "speed" in caution.words for caution in turned.cautions)
    assert any("0622" in words and "upright" in words for words in turned.words)


def test_the_pier_is_turned(pier: tuple[Way, ...]) -> None:
    way, why = favored(pier)
    assert way.method == "turned"
    assert "4 parts to cut and glue for 4 pieces" in why
    assert all(other.name in why.lower() for other in pier)
    assert favored(pier, "lamination")[0].method == "lamination"
    assert favored(pier, "lamination")[1].startswith("Asked for")


def test_the_order_of_favor(pier: tuple[Way, ...]) -> None:
    """Safe to shape before joints in the face, joints before parts, parts before wood."""
    way = replace(pier[0], joints=2, parts=8, wood=10.0, short=False)
    for worse, better in (
        (replace(way, short=True, joints=0, parts=1, wood=1.0), way),
        (replace(way, joints=3, parts=1, wood=1.0), way),
        (replace(way, parts=9, wood=1.0), way),
        (replace(way, wood=11.0), way),
    ):
        assert favored([worse, better])[0] is better
        assert favored([better, worse])[0] is better


def test_how_many_are_wanted() -> None:
    for wanted, blanks in ((1, 1), (4, 1), (5, 2), (9, 3)):
        turned = ways(round_the_pier(), wanted=wanted)[0]
        assert (turned.blanks, turned.parts) == (blanks, 4 * blanks)
        assert turned.finished / turned.wood == pytest.approx(turned.used)
    with pytest.raises(PreviewError, match="no piece is wanted"):
        ways(round_the_pier(), wanted=0)


def test_a_large_curve_is_bent() -> None:
    found = ways(round_the_pier(block(30.0, 110.0), radius=900.0, sweep=-math.radians(50)))
    assert [each.possible for each in found] == [False, True, True, False]
    assert 'lathe swings 24"' in found[0].refusal
    assert '16/4 stock gives 3 3/4"' in found[3].refusal
    way, why = favored(found)
    assert way.method == "lamination"
    assert "board feet" in why


def test_a_short_arc_of_thin_stock_is_sawn() -> None:
    """A strip 19 mm high, 40 degrees of 800 mm: one piece from the flat of a board, its grain 20 degrees out at the
    ends."""
    found = ways(round_the_pier(block(30.0, 19.0), radius=800.0, sweep=-math.radians(40)))
    way, _ = favored(found)
    assert way.method == "sawn"
    assert isinstance(way.plan, Sawn)
    assert math.degrees(way.plan.run_out) == pytest.approx(20.0)
    assert way.joints == 0


def test_more_staves_where_four_will_not_do() -> None:
    turned = ways(round_the_pier(radius=150.0))[0]
    assert isinstance(turned.plan, StavedBlank)
    assert turned.plan.staves == 5
    assert any("reckoned with 5" in words for words in turned.limits)
    assert turned.joints > 0
    # Five staves put a glue line in quarters; twelve quarters' edges would not. The blank says what would show none.
    assert any("no glue line would show" in words for words in turned.limits) == any(
        ways(round_the_pier(radius=150.0), staves=n)[0].joints == 0 for n in range(3, 17)
    )


def test_lining_is_hollow_work() -> None:
    turned = ways(round_the_pier(radius=120.0, sweep=RIGHT), staves=6)[0]
    assert isinstance(turned.plan, StavedBlank)
    assert not turned.plan.wraps
    assert any("Hollow work" in words for words in turned.limits)
    assert any("steady" in caution.words for caution in turned.cautions)
    assert not any("tailstock up" in caution.words for caution in turned.cautions)


def test_nothing_will_do() -> None:
    """A crown round a rod: too tight to bore, to bend, and as deep as it is tight."""
    found = ways(round_the_pier(CROWN.moved(0.0, 0.0), radius=3.0, sweep=-RIGHT), board_width=20.0)
    assert [way.method for way in found if not way.possible] == ["turned", "rings", "lamination", "sawn"]
    with pytest.raises(PreviewError, match="none of the ways") as told:
        favored(found)
    for way in found:
        assert way.refusal in str(told.value)
        assert any(sign.isdigit() for sign in way.refusal)


def test_a_way_asked_for_that_cannot_be() -> None:
    found = ways(round_the_pier(radius=900.0, sweep=-math.radians(50)))
    with pytest.raises(PreviewError, match="lathe swings") as told:
        favored(found, "turned")
    assert told.value.problems[0].value == '"turned"'


def test_only_level_curves() -> None:
    straight = join(corner(RIGHT), "m", BASE).pieces[0]
    with pytest.raises(PreviewError, match="is a straight"):
        ways(straight)
    climbing = replace(round_the_pier(), shear=0.2)
    with pytest.raises(PreviewError, match="climbs"):
        curved(climbing)


def test_curves_of_a_whole_run() -> None:
    """Each curve of a run that wraps and lines, one of them with a curved miter, can be made in some way."""
    pieces = [piece for piece in join(stepped(), "m", BASE).pieces if piece.kind == "curve"]
    assert [curved(piece).wraps for piece in pieces] == [True, False]
    for piece in pieces:
        assert favored(ways(piece, unit="mm"))[0].possible


@share(0.2)
@given(profiles(), st.integers(20, 400), st.integers(10, 180), st.sampled_from([-1, 1]))
def test_ways_are_whole_or_refused(profile: Profile, radius: int, degrees: int, side: int) -> None:
    try:
        piece = round_the_pier(profile, float(radius), side * math.radians(degrees))
    except PreviewError:
        assume(False)
        raise
    for way in ways(piece, wanted=3):
        assert way.possible == (way.refusal == "")
        if not way.possible:
            continue
        assert way.blanks * way.pieces >= 3
        assert way.finished < way.wood  # no way makes wood
        assert way.parts >= 1
        text = " ".join((*way.words, *way.limits))
        assert "nan" not in text
        assert "  " not in text
