"""The joint forecast: published statements on which end opens, table cases, sums, grades, and the sentences."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import pytest

from preview.errors import PreviewError
from preview.joinery import Joint, MemberRun, join
from preview.profiles import Profile
from preview.runs import Curve, Element, Run, Stand, Straight, lay_out
from preview.scene import Air, Moisture, Site
from preview.shop import FIELD_GAPS, TOLERANCES, JointForecast, forecast
from preview.shop.forecasting import moves_of
from samples import BASE, CROWN, block, corner, stepped

ON_WALL = Stand(x=(1.0, 0.0, 0.0), y=(0.0, 0.0, 1.0), z=(0.0, -1.0, 0.0))
HALF_DEGREE = math.radians(0.5)


@dataclass(frozen=True)
class Between:
    joint: Joint
    before: int | None
    after: int | None


def forecasts(line: MemberRun, site: Site, **more: object) -> tuple[JointForecast, ...]:
    pairs = [Between(joint, *sides) for joint, sides in zip(line.joints, line.between, strict=True)]
    return forecast(pairs, line.pieces, site, **more)  # type: ignore[arg-type]


def one(run: Run, profile: Profile, site: Site, **more: object) -> JointForecast:
    (found,) = forecasts(join(run, "m", profile), site, **more)
    return found


def casing(wide: float, corner_degrees: float = 90) -> tuple[Run, Profile]:
    """Casing round an opening: mitered from the inner corner to the outer one, on the face of the wall."""
    turn = math.radians(180 - corner_degrees)
    return replace(corner(-turn), stand=ON_WALL), block(wide * 25.4, 18.0)


# The geometry (tan of the new cut is 1 + strain times the old) worked by hand for common casings; the coefficients are
# the Wood Handbook's. wood, how sawn, inches wide, change in %, corner, gap in mm.
CASES = [
    ("yellow-poplar", "flat", 3.5, -4, 90, 1.45),
    ("yellow-poplar", "flat", 2.25, -3, 90, 0.70),
    ("red oak", "flat", 3.5, -4, 90, 1.86),
    ("red oak", "quarter", 3.5, -4, 90, 0.79),
    ("red oak", "flat", 4.5, -3, 90, 1.79),
    ("red oak", "flat", 3.5, -4, 135, 1.00),
    ("cherry", "flat", 2.25, 4, 90, 0.80),
]


@pytest.mark.parametrize(("wood", "sawn", "wide", "change", "degrees", "gap"), CASES)
def test_casings_that_dry_and_swell(
    wood: str, sawn: str, wide: float, change: float, degrees: float, gap: float
) -> None:
    """When dry, casing miters open at the inside corner, when humid at the outer edge: Old House Journal, June 2018;
    Fine Homebuilding, March 1997; swelling opens the outside, drying the inside (a woodworking forum's worked case)."""
    site = Site(wood=wood, sawn=sawn, made_at=Moisture(10), lives_at=Moisture(10 + change))  # type: ignore[arg-type]
    found = one(*casing(wide, degrees), site)
    (opening,) = found.openings
    assert opening.source == "wood"
    assert opening.opens == ("heel" if change < 0 else "toe")
    assert found.worst == pytest.approx(gap, abs=0.015)
    assert found.likely == found.worst


def test_a_wide_casing_that_dries_is_past_every_grade() -> None:
    """3-1/2 in flat-sawn casing, 4 points drier, against the widest published wood-to-wood field gap, 1.2 mm."""
    site = Site(wood="poplar", made_at=Moisture(12), lives_at=Moisture(8), grade="economy")
    found = one(*casing(3.5), site)
    assert found.grade is None
    assert found.holds is False
    assert "more than economy grade allows" in found.line
    assert found.line.endswith("Measure the corner again and cut a test joint.")


def test_a_base_moves_by_its_thickness() -> None:
    """Standing on edge, what counts across a plan miter is the board's thickness: radial when flat-sawn."""
    both = {}
    for sawn, coefficient in (("flat", 0.00158), ("quarter", 0.00369)):
        site = Site(wood="red oak", sawn=sawn, made_at=Moisture(8), lives_at=Moisture(12))  # type: ignore[arg-type]
        found = one(corner(math.pi / 2), block(20.0), site)
        assert found.worst == pytest.approx(2 * 20.0 * coefficient * 4 * math.sin(math.pi / 4), rel=1e-6)
        assert found.openings[0].opens == "heel"
        both[sawn] = found.worst
    assert both["quarter"] > both["flat"]


def test_a_sprung_molding_moves_by_both() -> None:
    """CROWN, 36 out and 40 up, leans 27 in 28: its section's corner carried by hand along and square to the board."""
    site = Site(wood="red oak", made_at=Moisture(12), lives_at=Moisture(8))
    moves = moves_of(site)
    assert moves is not None
    long = math.hypot(27, 28)
    along, square = (27 / long, 28 / long), (-28 / long, 27 / long)
    wide = (36 * along[0] + 40 * along[1]) * moves.width
    thick = (36 * square[0] + 40 * square[1]) * moves.thickness
    moved_out = wide * along[0] + thick * square[0]
    found = one(corner(-math.pi / 2), CROWN, site)
    assert found.worst == pytest.approx(2 * abs(moved_out) * math.sin(math.pi / 4), rel=1e-9)
    assert found.openings[0].opens == "heel"


def test_climates_by_air() -> None:
    """70 °F at 30 % is 6.2 %, at 50 % 9.2 % (Wood Handbook table 4-2), within the range of equation 13-2."""
    by_air = moves_of(Site(wood="beech", made_at=Air(21.1, 50), lives_at=Air(21.1, 30)))
    assert by_air is not None
    assert by_air.percent == pytest.approx(6.2 - 9.2, abs=0.12)
    assert by_air.width == pytest.approx(0.00431 * by_air.percent, rel=1e-9)


def test_worst_and_likely_are_of_one_end() -> None:
    """Saw and wall errors open either end; drying opens this outside corner at the wall only."""
    site = Site(saw=HALF_DEGREE, wall=HALF_DEGREE, wood="red oak", made_at=Moisture(10), lives_at=Moisture(6))
    found = one(corner(-math.pi / 2), block(20.0), site)
    saw, wall, wood = found.openings
    assert (saw.source, wall.source, wood.source) == ("saw", "wall", "wood")
    joint = 20.0 * math.sqrt(2)
    assert saw.heel == saw.toe == pytest.approx(joint * 2 * HALF_DEGREE)
    assert wall.heel == wall.toe == pytest.approx(joint * HALF_DEGREE)
    assert (wood.opens, wood.toe) == ("heel", 0.0)
    assert found.worst == pytest.approx(saw.heel + wall.heel + wood.heel)
    assert found.likely == pytest.approx(math.sqrt(saw.heel**2 + wall.heel**2 + wood.heel**2))


def test_a_member_off_the_wall_opens_over_its_own_depth() -> None:
    """A cap that stands 15 mm out, 20 mm deep: its own joint is 20 mm deep in plan, wherever the wall is."""
    site = Site(wall=HALF_DEGREE)
    near = one(corner(math.pi / 2), block(20.0), site)
    far = one(corner(math.pi / 2), block(20.0).moved(15.0, 0.0), site)
    assert far.worst == pytest.approx(near.worst)


def test_each_kind_of_joint() -> None:
    site = Site(
        saw=HALF_DEGREE, wall=HALF_DEGREE, radius=1.0, wood="cherry", made_at=Moisture(10), lives_at=Moisture(7)
    )
    found = {each.kind: {o.source for o in each.openings} for each in forecasts(join(stepped(), "m", BASE), site)}
    assert found == {
        "miter": {"saw", "wall", "wood"},
        "tangent": {"saw", "wall", "radius", "length"},
        "curved miter": {"saw", "wall", "radius", "wood"},
    }


def test_a_tangent_joint_of_a_quarter_turn() -> None:
    """A quarter turn made 1/16 in off its radius: a step of 1/16 in on the wall, or a gap of 1/16 in once flush."""
    run = lay_out("smooth", [Straight(500.0), Curve(math.pi / 2, 150.0)])
    found = one(run, BASE, Site(radius=1.5875), unit="in")
    assert found.worst == pytest.approx(1.5875)
    assert found.line.startswith(
        'This tangent joint may open 0.062" or step as much if the curve is made 0.062" off its radius: more than'
    )


def test_what_does_not_move_is_not_told() -> None:
    line = join(corner(math.pi / 2), "m", BASE)
    assert forecasts(line, Site()) == ()
    assert forecasts(line, Site(radius=1.0)) == ()
    assert forecasts(line, Site(wood="red oak", made_at=Moisture(8))) == ()


def test_a_cope_takes_a_wall_that_is_out_better_than_a_miter() -> None:
    """Common practice for inside corners, and by how much: 0.7 of the miter's opening at a square corner is 1 / sqrt(2)
    of f w sqrt(2). The saw does not enter."""
    line = join(corner(math.pi / 2), "m", block(20.0))
    site = Site(saw=HALF_DEGREE, wall=HALF_DEGREE, wood="red oak", made_at=Moisture(10), lives_at=Moisture(6))
    (miter,) = forecasts(line, site)
    coped = Between(replace(line.joints[1], kind="cope"), 0, 1)
    (found,) = forecast([coped], line.pieces, site)
    wall, wood = found.openings
    assert (wall.source, wood.source, wood.opens) == ("wall", "wood", "toe")
    assert wall.toe == pytest.approx(20.0 * math.sin(HALF_DEGREE))
    assert wall.toe / miter.openings[1].toe == pytest.approx(1 / math.sqrt(2), abs=1e-4)
    assert found.worst < miter.worst
    assert found.line.startswith("This cope may open 0.2 mm at one end if the corner is 0.5° out; ")


def test_joints_that_are_not_forecast() -> None:
    line = join(corner(math.pi / 2), "m", block(20.0))
    site = Site(saw=HALF_DEGREE)
    assert forecast([Between(line.joints[1], 0, None), Between(line.joints[0], None, 0)], line.pieces, site) == ()
    assert forecast([Between(replace(line.joints[1], kind="block"), 0, 1)], line.pieces, site) == ()


def test_a_return_has_no_wall_to_be_out() -> None:
    site = Site(saw=HALF_DEGREE, wall=HALF_DEGREE)
    run = replace(lay_out("shelf", [Straight(500.0)]), end="return")
    found = one(run, block(20.0), site)
    assert [each.source for each in found.openings] == ["saw"]


def test_butts_and_scarfs_move_along_the_grain_only() -> None:
    """Two straights of 500 and 300 mm end to end, 4 points drier: 0.2 % over 30 points (from memory), of 400 mm."""
    run = corner(math.pi / 2)
    line = join(run, "m", block(20.0))
    first, second = line.pieces
    along = first.end.before
    butt = replace(first.end, kind="butt", before=along, after=along, turn=0.0)
    scarf = replace(butt, kind="scarf", slant=1.0)
    pieces = (
        replace(first, element=replace(first.element, length=500.0)),
        replace(second, element=replace(second.element, length=300.0)),
    )
    site = Site(saw=HALF_DEGREE, wall=HALF_DEGREE, wood="red oak", made_at=Moisture(10), lives_at=Moisture(6))
    for joint, square in ((butt, 1.0), (scarf, math.sqrt(0.5))):
        (found,) = forecast([Between(joint, 0, 1)], pieces, site)
        assert [each.source for each in found.openings] == ["saw", "length"]
        assert found.openings[0].toe == pytest.approx(20.0 / square * 2 * HALF_DEGREE)
        assert found.openings[1].toe == pytest.approx(400.0 * 0.002 / 30 * 4 * square)
        swollen = replace(site, made_at=Moisture(6), lives_at=Moisture(10))
        assert forecast([Between(joint, 0, 1)], pieces, swollen)[0].openings[1].toe == 0.0


def test_a_change_of_slope() -> None:
    first = Element((0.0, 0.0), (1.0, 0.0), 500.0)
    second = Element((500.0, 0.0), (1.0, 0.0), 400.0, slope=0.7)
    for raked, kind in (("derived", "plumb cut"), ("same", "elevation miter")):
        run = Run("stair", (first, second), (0.0, 0.0), places=("step 1", "step 2"), raked=raked)  # type: ignore[arg-type]
        found = one(run, block(20.0, 90.0), Site(saw=HALF_DEGREE, wall=HALF_DEGREE))
        assert found.kind == kind
        tall = 90.0 if kind == "plumb cut" else 90.0 / math.cos(math.atan(0.7) / 2)
        assert found.openings[0].toe == pytest.approx(tall * 2 * HALF_DEGREE)
        assert "if the pitch is 0.5° out" in found.line


def test_grades_asked_for() -> None:
    run = corner(math.pi / 2)
    for grade, holds in (("premium", False), ("custom", True), ("economy", True), (None, None)):
        found = one(run, block(20.0), Site(saw=HALF_DEGREE, grade=grade))  # type: ignore[arg-type]
        assert found.worst == pytest.approx(0.4936, abs=1e-3)
        assert (found.grade, found.holds) == ("custom", holds)
        assert found.source == FIELD_GAPS.source


def test_another_published_limit() -> None:
    laminate = next(each for each in TOLERANCES if each.clause.startswith("4.4.15.2"))
    found = one(corner(math.pi / 2), block(20.0), Site(saw=HALF_DEGREE), tolerance=laminate)
    assert found.grade == "custom"
    assert laminate.source in found.line


def test_sentences() -> None:
    site = Site(
        saw=HALF_DEGREE, wall=HALF_DEGREE, wood="red oak", made_at=Moisture(8), lives_at=Moisture(6), grade="custom"
    )
    run = corner(math.pi / 2)
    assert one(run, block(20.0), site).line == (
        "This inside miter may open 0.5 mm at one end if each cut is 0.5° off; 0.2 mm at one end if the corner is 0.5° "
        "out; 0.1 mm at the face when the red oak has come to rest at 6 % moisture; all together up to 0.8 mm, or "
        "0.6 mm as chance mixes them: within economy grade (1.2 mm; ANSI/AWI 0620 (2018 and 2024), 3.4.1.1 c))."
    )
    assert one(run, block(20.0), Site(wall=HALF_DEGREE), unit="in").line == (
        'This inside miter may open 0.010" at one end if the corner is 0.5° out: within premium grade (0.016"; '
        "ANSI/AWI 0620 (2018 and 2024), 3.4.1.1 c))."
    )
    just_over = block(1.205 / (2 * HALF_DEGREE * math.sqrt(2)))
    assert "0.5° off: just more than economy grade allows (1.2 mm;" in one(run, just_over, Site(saw=HALF_DEGREE)).line
    assert one(run, block(1.0), Site(saw=HALF_DEGREE, wall=HALF_DEGREE)).line.startswith(
        "This inside miter may open a hair at one end if each cut is 0.5° off; a hair at one end if the corner is 0.5° "
        "out; all together up to a hair: within premium grade (0.4 mm; "
    )
    assert one(run, block(20.0), Site(wall=0.0)).line == "This inside miter stays closed as far as can be told."


@pytest.mark.parametrize(
    ("site", "place", "value", "said"),
    [
        (Site(wood="red ook"), "[site], wood", '"red ook"', "no figures for a wood"),
        (
            Site(wood="red oak", made_at=Moisture(31), lives_at=Moisture(8)),
            "[site], moisture",
            "31",
            "between 0 % and 30 %",
        ),
        (
            Site(wood="red oak", made_at=Air(21, 99), lives_at=Moisture(8)),
            "[site], made_at, humidity",
            "99",
            "relative humidity",
        ),
    ],
)
def test_refusals(site: Site, place: str, value: str, said: str) -> None:
    with pytest.raises(PreviewError, match=said) as caught:
        one(corner(math.pi / 2), BASE, site)
    (problem,) = caught.value.problems
    assert (problem.place, problem.value) == (place, value)


def test_a_radius_error_larger_than_the_curve() -> None:
    run = lay_out("smooth", [Straight(500.0), Curve(-math.pi / 2, 12.0)])
    with pytest.raises(PreviewError, match="has a radius of 12 mm, no more than this") as caught:
        one(run, block(20.0), Site(radius=12.0))
    assert caught.value.problems[0].place == "[site], radius"
