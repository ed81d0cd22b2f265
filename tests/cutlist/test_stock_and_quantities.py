"""Flat stock and rough lumber, board feet, weight and area by hand and by published rules; the price sheet adds up."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest

from preview.cutlist import (
    developed_width,
    gravity_of,
    price_sheet,
    quantities,
    rough_for,
    seen_area,
    seen_edges,
    stock_of,
)
from preview.errors import PreviewError
from preview.joinery import join
from preview.profiles import Line, make_profile, measure
from preview.runs import Corner, Easement, Straight, lay_out
from preview.scene import Prices
from shipped_lists import NAMES, listed, shipped

INCH = 25.4
FOOT2 = 304.8**2
FLATS = [(0.0, 0.0), (67.5, 90.0), (60.0, 90.0), (0.0, 10.0)]
SPRUNG = make_profile("sprung bar", [Line(a, b) for a, b in zip(FLATS, FLATS[1:] + FLATS[:1], strict=True)])


def test_stock_of_flat_and_of_sprung_sections() -> None:
    _, cuts = shipped("six-sided-room")
    crown = cuts.pieces[0].stock
    assert crown.lies == "along its spring"
    assert math.degrees(crown.tilt) == pytest.approx(38.047, abs=1e-3)
    # The section's box is 69.85 x 88.9: along the spring it is far thinner, and wider than its hypotenuse would be.
    assert crown.thickness == pytest.approx(19.79, abs=0.01)
    assert 88.9 < crown.width < math.hypot(69.85, 88.9) + 1e-9
    _, cuts = shipped("bay")
    rail = cuts.pieces[0].stock
    assert (rail.lies, rail.tilt) == ("on its back", 0.0)
    assert (rail.thickness, rail.width) == pytest.approx((1.1875 * INCH, 2.625 * INCH))


def test_a_section_that_neither_stands_nor_springs_lies_in_its_least_rectangle() -> None:
    """A bar 20 x 100 that leans by 3:4, the corner at the wall cut off to a back 3 mm high."""
    corners = [(0.0, -1.08), (14.56, -12.0), (74.56, 68.0), (58.56, 80.0), (0.0, 1.92)]
    edges = [Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]
    run = lay_out("wall", [Straight(500.0)])
    (piece,) = join(run, "bar", make_profile("leaning bar", edges)).pieces
    stock = stock_of(piece)
    assert stock.lies == "in the least rectangle"
    assert (stock.thickness, stock.width) == pytest.approx((20, 100))
    assert stock.rough.name == '4/4 × 4 1/2"'
    assert abs(math.tan(stock.tilt)) == pytest.approx(3 / 4)


@pytest.mark.parametrize("slope", [0.0, 0.75, -0.75])
def test_a_sprung_section_lies_along_its_back_on_a_rake_too(slope: float) -> None:
    """A bar between two lines 60 out for 80 up, 10 mm apart plumb, with its flats on wall and ceiling: 6 x 112.5.

    Raked to meet a level piece at an outside square corner, its plumb section is sheared by the slope; square to the
    stick all heights are foreshortened by the pitch's cosine. So its lines run (80 + 60 shear) cos up for 60 out, and
    10 cos apart plumb.
    """
    run = lay_out("stair", [Straight(400.0), Corner(-math.pi / 2), Straight(900.0, slope)])
    piece = join(run, "bar", SPRUNG).pieces[1]
    assert piece.shear == pytest.approx(slope)
    stock = stock_of(piece)
    assert stock.lies == "along its spring"
    cos = 1 / math.hypot(1.0, slope)
    up = (80.0 + 60.0 * slope) * cos
    assert math.tan(stock.tilt) == pytest.approx(60.0 / up)
    assert stock.thickness == pytest.approx(10.0 * cos * 60.0 / math.hypot(60.0, up))
    assert stock.width == pytest.approx(1.125 * math.hypot(60.0, up))


def test_a_sprung_section_is_the_same_where_it_is_square_to_the_stick() -> None:
    """As it was drawn on a climb that keeps its profile, and on an easement into one."""
    climb = [Straight(400.0), Straight(900.0, 0.75)]
    same = join(replace(lay_out("stair", climb), raked="same"), "bar", SPRUNG).pieces
    up = join(lay_out("stair", [climb[0], Easement(300.0), climb[1]]), "bar", SPRUNG).pieces[1]
    over = join(lay_out("stair", [climb[1], Easement(300.0), climb[0]]), "bar", SPRUNG).pieces[1]
    for piece in (*same, up, over):
        stock = stock_of(piece)
        assert (stock.thickness, stock.width) == pytest.approx((6.0, 112.5), rel=1e-9)
        assert math.tan(stock.tilt) == pytest.approx(60.0 / 80.0)
    assert up.kind == over.kind == "easement"


@pytest.mark.parametrize(
    ("thickness", "rough", "inches"),
    [
        (13 / 16, "4/4", 1.0),
        (1 + 1 / 16, "5/4", 1.25),
        (1 + 5 / 16, "6/4", 1.5),
        (1.75, "8/4", 2.0),
        (2.75, "12/4", 3.0),
    ],
)
def test_rough_hardwood_by_the_published_thicknesses(thickness: float, rough: str, inches: float) -> None:
    """Engineering ToolBox, hardwood lumber, rough and surfaced two sides (S2S)."""
    found = rough_for(thickness * INCH, 3.25 * INCH)
    assert found.name == f'{rough} × 3 1/2"'
    assert (found.thickness, found.width) == pytest.approx((inches * INCH, 3.5 * INCH))
    thicker = rough_for((thickness + 0.01) * INCH, 3.25 * INCH)
    assert thicker.thickness > found.thickness
    assert "S2S" not in found.name
    assert found.source


@pytest.mark.parametrize(
    ("actual", "name"),
    [((0.75, 5.5), "1 × 6"), ((0.75, 7.25), "1 × 8"), ((1.5, 3.5), "2 × 4"), ((1.5, 9.25), "2 × 10")],
)
def test_softwood_by_name(actual: tuple[float, float], name: str) -> None:
    """Tenn. Comp. R. & Regs. 0080-07-07-.06, table 4 (as PS 20): dry sizes."""
    assert rough_for(actual[0] * INCH, actual[1] * INCH, "softwood").name == name
    assert rough_for(actual[0] * INCH, (actual[1] + 0.01) * INCH, "softwood").name != name


def test_what_no_board_holds_is_glued_up() -> None:
    assert rough_for(4.5 * INCH, 4 * INCH).glued
    assert rough_for(0.75 * INCH, 14 * INCH).glued
    assert not rough_for(0.75 * INCH, 11.75 * INCH).glued


def test_board_feet_by_the_trade_rule() -> None:
    """1 x 6 x 8 ft is 4 board feet (a lumber yard's worked example); 8/4 rough, 7 in wide, 9 ft is 10.5."""
    assert rough_for(0.75 * INCH, 5.5 * INCH, "softwood").board_feet(96 * INCH) == pytest.approx(4.0)
    found = rough_for(1.75 * INCH, 6.75 * INCH)
    assert (found.name, found.board_feet(108 * INCH)) == ('8/4 × 7"', pytest.approx(10.5))


def test_quantities_by_hand() -> None:
    """Strip 20 x 40: 500 + 20 and 300 + 20 of stick at an outside corner."""
    _, cuts = listed('room = "right"\nsteps = [{ straight = 500 }, { left = 90 }, { straight = 300 }]')
    (found,) = quantities(cuts, wood="red oak", bought={"strip": 1000.0})
    assert (found.pieces, found.net, found.profiles) == (2, pytest.approx(840), 1)
    assert found.waste == pytest.approx(0.16)
    assert found.net_feet == pytest.approx(840 / 304.8)
    assert found.bought_feet == pytest.approx(1000 / 304.8)
    # 20 mm fit 4/4 (13/16 in is 20.6); 40 mm and a quarter inch fit 2 in.
    assert found.board_feet == pytest.approx(1 * 2 * (840 / INCH) / 144)
    assert found.board_feet_bought == pytest.approx(1 * 2 * (1000 / INCH) / 144)
    # A mitered strip's volume is its section times the length at its middle: 510 + 310.
    assert found.volume == pytest.approx(20 * 40 * 820)
    # Red oak at 12 %: specific gravity 0.63 (Agriculture Handbook 72, quoted by E. Wengert), so 705.6 kg/m³.
    assert found.weight == pytest.approx(20 * 40 * 820e-9 * 705.6)
    assert found.pounds == pytest.approx(20 * 40 * 820e-9 * 705.6 / 0.45359237)
    # Seen are the face, 40 wide and 520 + 320 long, and the top, 20 wide and 510 + 310 long; the foot is on the floor.
    assert found.finish == pytest.approx(40 * 840 + 20 * 820)
    assert found.square_feet == pytest.approx((40 * 840 + 20 * 820) / FOOT2)


def test_off_the_floor_the_foot_is_seen_too() -> None:
    steps = 'room = "right"\nsteps = [{ straight = 500 }]'
    _, low = listed(steps)
    _, high = listed(f"level = 900\n{steps}")
    assert low.pieces[0].finish_area == pytest.approx(500 * (40 + 20))
    assert high.pieces[0].finish_area == pytest.approx(500 * (40 + 20 + 20))


def test_the_area_of_a_curve_is_pappus_s() -> None:
    """A quarter wrapped on R = 100: the face 40 high on R = 120, the top a ring from 100 to 120 (mean 110)."""
    _, cuts = listed('room = "right"\nsteps = [{ curve_left = 90, radius = 100 }]')
    quarter = math.pi / 2
    assert cuts.pieces[0].finish_area == pytest.approx(quarter * (40 * 120 + 20 * 110))


def test_a_return_and_a_self_return_show_as_much() -> None:
    """Outside they look alike, so what is finished is the same: the return's face is 40 x 20, its top half a square."""
    _, made = listed('room = "right"\nend = "return"\nsteps = [{ straight = 500 }]')
    _, worked = listed('room = "right"\nend = "self-return"\nsteps = [{ straight = 500 }]')
    total = 40 * 520 + 20 * 510 + 40 * 20 + 20 * 20 / 2
    assert sum(piece.finish_area for piece in made.pieces) == pytest.approx(total)
    assert sum(piece.finish_area for piece in worked.pieces) == pytest.approx(total)


def test_what_of_shipped_sections_is_seen() -> None:
    built, _ = shipped("six-sided-room")
    crown = built.pieces[0]
    hidden = set(crown.profile.edges) - set(seen_edges(crown))
    size = measure(crown.profile)
    # The flat on the ceiling, the sprung back and the flat on the wall, in that order, and nothing else.
    assert len(hidden) == 3
    assert any(edge.start[1] == edge.end[1] == pytest.approx(size.h_max) for edge in hidden)
    assert any(edge.start[0] == edge.end[0] == pytest.approx(size.d_min) for edge in hidden)
    built, _ = shipped("stair-hall")
    board, cap = (next(p for p in built.pieces if p.member == name) for name in ("board", "cap"))
    sections = {line.member: line.profile for line in built.lines}
    # The cap's foot lies on the board: seen only where no board is told.
    foot = cap.profile.edges[0].length
    assert developed_width(cap) - developed_width(cap, [sections["board"]]) == pytest.approx(foot, abs=0.01)
    # The board stands on the floor: of its outline neither foot (7/8) nor back (5 1/2) is seen.
    whole = measure(board.profile).perimeter
    assert developed_width(board) == pytest.approx(whole - 0.875 * INCH - 5.5 * INCH)
    assert seen_area(board) > seen_area(cap)


def test_blocks_show_every_face_but_the_back_and_the_foot() -> None:
    """A plinth block 4 x 1 1/4 x 8 in: face, two sides and top."""
    _, cuts = shipped("door-casing")
    assert cuts.piece("door / plinth / 1 block").finish_area == pytest.approx(
        (4 * 8 + 2 * 1.25 * 8 + 4 * 1.25) * INCH**2
    )
    _, cuts = shipped("hall")
    corner = cuts.piece("hall / corner / 7 corner block").finish_area  # in an inside corner: two sides and the top
    assert corner == pytest.approx((2 * 1.75 * 7 + 1.75**2) * INCH**2)


@pytest.mark.parametrize("name", NAMES)
def test_no_piece_shows_more_than_it_has(name: str) -> None:
    built, cuts = shipped(name)
    for piece, cut in zip(built.pieces, cuts.pieces, strict=True):
        most = measure(piece.profile).perimeter * cut.overall * 1.01 + 2 * measure(piece.profile).area
        assert 0 < cut.finish_area < most, cut.name
        assert cut.stock.rough.thickness >= cut.stock.thickness
        assert cut.stock.rough.width >= cut.stock.width


def test_curves_are_told_and_left_to_their_blanks() -> None:
    _, cuts = shipped("window-seat")
    (found,) = quantities(cuts)
    assert found.curved == found.unreckoned == ("seat / base / 2 curve", "seat / base / 10 curve")
    assert (found.weight, found.bought, found.waste, found.board_feet_bought) == (None, None, None, None)
    (with_blanks,) = quantities(cuts, blanks=dict.fromkeys(found.curved, 1.5))
    assert with_blanks.board_feet == pytest.approx(found.board_feet + 3.0)
    assert with_blanks.unreckoned == ()


def test_each_raked_section_is_a_setting_up_of_its_own() -> None:
    _, cuts = shipped("stair-wall")
    assert {each.member: each.profiles for each in quantities(cuts)} == {"rail": 2, "cornice": 2}


def test_woods() -> None:
    for name, gravity in {"hard maple": 0.63, "Ponderosa pine": 0.40, "sugar pine": 0.36, "basswood": 0.37}.items():
        found = gravity_of(name)
        assert found is not None
        assert (found.value, bool(found.source)) == (gravity, True)
    assert gravity_of("sweetgum") is None
    with pytest.raises(PreviewError, match="no figures"):
        gravity_of("bamboozle")


def test_the_price_sheet_adds_up() -> None:
    _, cuts = listed(
        'room = "right"\nsteps = [{ straight = 500 }, { curve_left = 90, radius = 100 }, { straight = 300 }]'
    )
    (found,) = quantities(cuts, bought={"strip": 3048.0})
    sheet = price_sheet([found], Prices("€", board_foot=4.2, running_foot=1.1, setup=60, corner=35, square_foot=1.5))
    by = {line.what.split(": ")[1]: line for line in sheet.lines}
    assert by["running the molding"].amount == Decimal("11.00")  # ten feet
    assert (by["setting up"].amount, by["curved pieces"].amount) == (Decimal("60.00"), Decimal("35.00"))
    assert by["wood"].count == pytest.approx(1 * 2 * 120 / 144)
    assert by["wood"].amount == Decimal("7.00")
    assert by["finish"].amount == Decimal(str(round(1.5 * found.square_feet, 2)))
    assert sheet.total == sum(line.amount for line in sheet.lines)
    assert sheet.currency == "€"
    assert any("not in it" in note for note in sheet.notes)


def test_prices_by_member_and_none_at_all() -> None:
    _, cuts = shipped("stair-hall")
    found = quantities(cuts)
    sheet = price_sheet(found, Prices(board_foot=(("board", 4.0), ("cap", 5.0), ("shoe", 6.0))))
    assert [line.each for line in sheet.lines] == [4.0, 5.0, 6.0]
    assert sum("without waste" in note for note in sheet.notes) == 3
    assert price_sheet(found, Prices()).lines == ()
    with pytest.raises(PreviewError, match='"shoe"'):
        price_sheet(found, Prices(board_foot=(("board", 4.0), ("cap", 5.0))))
    with pytest.raises(PreviewError, match="no less than nothing"):
        price_sheet(found, Prices(setup=-1.0))


def test_less_bought_than_cut_is_refused() -> None:
    _, cuts = shipped("bay")
    with pytest.raises(PreviewError, match="of the stick"):
        quantities(cuts, bought={"rail": 1000.0})
