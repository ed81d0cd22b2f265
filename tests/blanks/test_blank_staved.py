"""A blank of staves worked by hand, what is refused, and the profile's diameters."""

from __future__ import annotations

import math
import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.blanks import (
    Landmark,
    blank_words,
    fewest_staves,
    fine,
    landmarks,
    part,
    staved,
    thin_words,
    turning_order,
)
from preview.errors import PreviewError
from preview.profiles import Profile, Shape, flatten, measure, sketch
from samples import BASE, block, cove_spandrel, half_round, quarter_round, wedge
from strategies import profiles, share

INCH = 25.4
RIGHT = math.pi / 2


def seat_corner(**changes: Any) -> Any:
    """A base 4 in high and 1-1/4 in deep round a corner of 2 in radius."""
    sizes: dict[str, Any] = {"staves": 4, "kerf": INCH / 8, "chucking": INCH, "clean": INCH / 16}
    return staved(3.25 * INCH, 2 * INCH, 4 * INCH, RIGHT, **{**sizes, "meets_straights": True, **changes})


def test_worked_by_hand() -> None:
    """Finished 6-1/2 in outside, 4 in inside. The rough round is 6-1/2 + 1/8 = 6-5/8 in, which is a square's side as
    well: so wide is each of four staves, with edges at 45 degrees. The opening's corners reach 2 - 1/16 = 1.9375 in, so
    its flats are 1.9375 x 0.70711 = 1.3700 in from the axis, and the staves 3.3125 - 1.3700 = 1.9425 in thick: more
    than 8/4 gives (1-3/4), less than 12/4 (2-3/4). Over the points 6.625 x 1.41421 = 9.369 in. Length 4 + 1 + 1 = 6 in.
    Board feet: 4 x 3 x (6-5/8 + 1/8) x (6 + 1/8) / 144 = 3.445."""
    blank = seat_corner()
    assert blank.outside_diameter / INCH == pytest.approx(6.5)
    assert blank.inside_diameter / INCH == pytest.approx(4.0)
    assert blank.rough_diameter / INCH == pytest.approx(6.625)
    assert blank.face_width / INCH == pytest.approx(6.625)
    assert blank.inner_width / INCH == pytest.approx(2.740, abs=5e-4)
    assert math.degrees(blank.edge_angle) == pytest.approx(45)
    assert blank.thickness / INCH == pytest.approx(1.9425, abs=1e-4)
    assert blank.stock.name == "12/4"
    assert blank.diagonal / INCH == pytest.approx(9.369, abs=1e-3)
    assert blank.length / INCH == pytest.approx(6.0)
    assert blank.wood == pytest.approx(3.445, abs=1e-3)


def test_kerfs_worked_by_hand() -> None:
    """A kerf of 1/8 in takes asin(0.125 / 2) = 3.583 degrees at the inside. Four quarters and four kerfs are 374.3
    degrees, so three are true; of four each loses 1/16 in at both ends. There the face (3-1/4 in) has turned by
    asin(0.0625 / 3.25) = 1.102 degrees, and the back has fallen by 2 - sqrt(4 - 0.0625²) = 0.000977 in."""
    parting = seat_corner().parting
    assert math.degrees(parting.kerf_angle) == pytest.approx(3.583, abs=1e-3)
    assert (parting.true, parting.most, parting.pieces) == (3, 4, 4)
    assert math.degrees(4 * RIGHT + parting.lost) == pytest.approx(374.33, abs=0.01)
    chosen = parting.chosen
    assert chosen.kind == "longer neighbors"
    assert chosen.longer / INCH == pytest.approx(1 / 16)
    assert math.degrees(chosen.kink) == pytest.approx(1.102, abs=1e-3)
    assert chosen.step / INCH == pytest.approx(0.000977, abs=1e-6)
    assert parting.one_stave
    assert "each piece is one stave wide" in blank_words(seat_corner(), "in")[-2]


def test_without_straights_beside_fewer_are_sawn() -> None:
    parting = seat_corner(meets_straights=False).parting
    assert (parting.chosen.kind, parting.pieces) == ("fewer pieces", 3)
    # Three quarters from 0, 120 and 240 degrees, in a blank of four staves: the first is one stave, and the glue lines
    # at 180 and 270 degrees are 60 along the second and 30 along the third.
    assert [[math.degrees(line) for line in lines] for lines in parting.lines] == [
        [],
        [pytest.approx(60)],
        [pytest.approx(30)],
    ]
    assert parting.clear == 1
    told = "Glue lines in the face, from where the piece begins: piece 2 at 60°; piece 3 at 30°; 1 piece has none."
    assert told in blank_words(seat_corner(meets_straights=False), "in")
    three = seat_corner(meets_straights=False, staves=3, board_width=400.0).parting
    assert three.one_stave  # each within its own stave of 120 degrees


def test_a_wide_kerf_on_a_small_round_is_not_hidden() -> None:
    """Half a kerf of 1/4 in at 2 in of radius turns the face by 3.6 degrees: too much to sand out."""
    parting = part(RIGHT, 60.0, 50.8, kerf=INCH / 4, staves=4, face=50.8, meets_straights=True)
    assert parting.chosen.kind == "fewer pieces"
    assert "3.58°" in parting.why


def test_what_is_left_over_serves_the_kerfs() -> None:
    parting = part(math.radians(80), 82.55, 50.8, kerf=3.175, staves=4)
    assert (parting.chosen.kind, parting.true, parting.most) == ("spare", 4, 4)
    assert parting.one_stave
    assert [math.degrees(start) for start, _ in parting.spans] == pytest.approx([5, 95, 185, 275])


def test_more_staves_than_pieces() -> None:
    """Eight staves, four quarters: a glue line on every cut, and one in the middle of each piece (45 degrees)."""
    parting = seat_corner(staves=8).parting
    assert [[math.degrees(line) for line in lines] for lines in parting.lines] == [pytest.approx([45.0])] * 4
    assert parting.clear == 0
    told = "; ".join(f"piece {number} at 45°" for number in (1, 2, 3, 4))
    words = blank_words(seat_corner(staves=8), "in")
    assert f"Glue lines in the face, from where the piece begins: {told}." in words


REFUSED: dict[str, tuple[dict[str, Any], str]] = {
    "two staves": ({"staves": 2}, "3 to 16 staves"),
    "seventeen": ({"staves": 17}, "3 to 16 staves"),
    "no height": ({"height": 0.0}, "height is not a number above 0"),
    "not a number": ({"outer_radius": math.nan}, "outside radius is not a number"),
    "inside out": ({"outer_radius": 40.0}, r"not less than the outside radius, about 1 9/16"),
    "nothing to bore": ({"inner_radius": 12.0, "outer_radius": 40.0}, r'about 15/16" across.* needs 1"'),
    "hollow too small": ({"inner_radius": 25.0, "wraps": False}, r'1 31/32" across.* needs 2"'),
    "hollow too deep": ({"wraps": False, "height": 400.0}, r'4" deep'),
    "stock": ({"outer_radius": 150.0, "inner_radius": 40.0}, r'16/4 stock gives 3 3/4"'),
    "board": ({"outer_radius": 200.0, "inner_radius": 190.0}, r'wide, and a board 12"'),
    "lathe": ({"outer_radius": 300.0, "inner_radius": 280.0, "staves": 12}, r'lathe swings 24"'),
    "kerf": ({"kerf": 60.0}, "as wide as the inside radius"),
    "sweep": ({"sweep": math.radians(358)}, r"358° and the kerf 3\.58°"),
    "all round": ({"sweep": 2 * math.pi}, "goes all round"),
    "less than nothing": ({"kerf": -1.0}, "kerf is less than nothing"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refusals(case: str) -> None:
    changes, said = REFUSED[case]
    sizes: dict[str, Any] = {"outer_radius": 82.55, "inner_radius": 50.8, "height": 101.6, "sweep": RIGHT}
    with pytest.raises(PreviewError) as told:
        staved(**{**sizes, **changes})
    assert re.search(said, str(told.value).replace("\n", " ")), str(told.value)
    assert all(problem.fix for problem in told.value.problems)


def test_refusals_name_a_number_that_will_do() -> None:
    """12 in boards: half a stave's face is R tan(180/N), so 201.6 mm needs N with tan below 0.756: 5 staves."""
    with pytest.raises(PreviewError, match="board") as told:
        staved(200.0, 190.0, 60.0, RIGHT)
    assert told.value.problems[0].fix == "use 5 staves"
    assert fewest_staves(200.0, 190.0, clean=1.5875) == 5
    assert staved(200.0, 190.0, 60.0, RIGHT, staves=5).face_width <= 304.8
    with pytest.raises(PreviewError, match="stock"):
        staved(200.0, 90.0, 60.0, RIGHT, staves=16)
    assert fewest_staves(200.0, 90.0, clean=1.5875) is None


# The profile's diameters.


def told(profile: Profile, radius: float = 50.0, wraps: bool = True) -> list[tuple[str, float, float, float]]:
    return [(mark.mark, mark.low, mark.high, mark.diameter) for mark in landmarks(profile, radius, wraps)]


def test_landmarks_by_hand() -> None:
    """The base: 60 up at 31.75; an ogee in 12 over 12, its ends level; a level 3 that it runs into, and a cove of 8
    that follows on, ending upright; a bead of 6, its crest 3 out."""
    assert [(each[0], *map(pytest.approx, each[1:])) for each in told(BASE)] == [
        ("fillet", 0.0, 60.0, 2 * (50 + 31.75)),
        ("reverse", 66.0, 66.0, 2 * (50 + 25.75)),
        ("inside corner", 80.0, 80.0, 2 * (50 + 8.75)),
        ("crest", 83.0, 83.0, 2 * (50 + 11.75)),
        ("top", 86.0, 86.0, 2 * (50 + 8.75)),
    ]


def test_landmarks_of_plain_profiles() -> None:
    assert told(block(20.0, 40.0)) == [("fillet", 0.0, 40.0, 140.0)]
    assert told(block(20.0, 40.0), wraps=False) == [("fillet", 0.0, 40.0, 60.0)]
    assert [each[0] for each in told(quarter_round(10.0))] == ["arris", "arris"]
    assert told(half_round(10.0))[1] == ("crest", 10.0, 10.0, 120.0)
    assert [each[3] for each in told(wedge(30.0, 60.0))] == pytest.approx([160.0, 100.0])
    assert [each[3] for each in told(cove_spandrel(10.0))] == pytest.approx([120.0, 100.0])


def test_only_what_can_be_seen_is_sized() -> None:
    """The back is no landmark, and neither is what a wider part hides."""
    assert all(mark.d > 1.0 for mark in landmarks(BASE, 50.0, True))


@share(0.3)
@given(profiles(), st.booleans())
def test_landmarks_hold_the_face(profile: Profile, wraps: bool) -> None:
    """The finished outside and inside diameters are the landmarks' own; each lies on the outline, told from its
    foot."""
    size = measure(profile)
    marks = landmarks(profile, 100.0, wraps)
    assert marks
    outermost = max(mark.d for mark in marks)
    assert size.d_max - 0.06 <= outermost <= size.d_max + 1e-9
    points = flatten(profile, 0.05).points
    for mark in marks:
        assert mark.depth == pytest.approx(size.d_max - mark.d)
        assert mark.diameter == pytest.approx(2 * (100 + mark.d if wraps else 100 - mark.d))
        for height in (mark.low, mark.high):
            away = [math.dist((mark.d, height + size.h_min), point) for point in points.tolist()]
            assert min(away) < 3.0  # the nearest flattened point; arcs are followed in steps
        assert 0.0 <= mark.low <= mark.high <= size.h_max - size.h_min + 1e-9


@pytest.mark.parametrize("wraps", [True, False])
def test_turning_order(wraps: bool) -> None:
    """Rough first, then the back, then the face from the part nearest the tool inward; no step takes wood already
    gone."""
    radius = 50.0 if wraps else 90.0
    size = measure(BASE)
    outer, inner = (radius + size.d_max, radius) if wraps else (radius, radius - size.d_max)
    blank = staved(outer, inner, size.h_max, RIGHT, staves=6, wraps=wraps)
    steps = turning_order(blank, BASE, radius, "mm")
    assert steps[0].diameter == pytest.approx(2 * (outer + 1.5875))
    assert steps[1].diameter == pytest.approx(2 * radius)
    assert steps[2].diameter == pytest.approx(2 * (outer + 0.8) if wraps else 2 * (inner - 0.8))
    sized = [step for step in steps if step.landmark is not None]
    assert len(sized) == len(landmarks(BASE, radius, wraps))
    diameters = [steps[2].diameter or 0.0, *(step.diameter or 0.0 for step in sized)]
    assert diameters == sorted(diameters, reverse=wraps)
    assert steps[-1].diameter is None
    for step in sized:
        mark: Landmark | None = step.landmark
        assert mark is not None
        assert fine(mark.diameter, "mm") in step.words
        assert ("outside" if wraps else "inside") in step.words
    assert steps[-2].diameter == pytest.approx(2 * outer if wraps else 2 * inner)


def test_thin_walls_are_told() -> None:
    thin = sketch("thin", 20.0, [Shape("fillet", rise=20.0), Shape("fillet", out=-16.0), Shape("fillet", rise=30.0)])
    assert "4 mm thick" in thin_words(thin, "mm")
    assert thin_words(block(20.0, 40.0), "mm") == ""
