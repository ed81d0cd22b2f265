"""Long and short points worked by hand, on a strip 20 mm thick: a miter at a square corner runs on by its thickness."""

from __future__ import annotations

import math

import pytest

from preview.cutlist import CutPiece, end_words
from shipped_lists import HEAD, listed, shipped

T = 20.0


def lengths(piece: CutPiece) -> dict[str, float]:
    names = ("wall", "back", "face", "long", "short", "inner", "overall", "stick")
    return {name: getattr(piece, name) for name in names}


def told(run: str) -> list[CutPiece]:
    return list(listed(run)[1].pieces)


def test_square_corners_add_or_take_the_thickness() -> None:
    """Room on the right: a turn to the right is an inside corner, to the left an outside one."""
    first, second, third = told(
        'room = "right"\nsteps = [{ straight = 500 }, { left = 90 }, { straight = 300 }, { right = 90 }, '
        "{ straight = 400 }]"
    )
    assert lengths(first) == pytest.approx(
        {
            "wall": 500,
            "back": 500,
            "face": 500 + T,
            "long": 500 + T,
            "short": 500,
            "inner": 500,
            "overall": 500 + T,
            "stick": 500 + T,
        }
    )
    # An outside corner at one end, an inside one at the other: every line is as long, but they lie one past the other.
    assert lengths(second) == pytest.approx(
        {
            "wall": 300,
            "back": 300,
            "face": 300,
            "long": 300,
            "short": 300,
            "inner": 300 - T,
            "overall": 300 + T,
            "stick": 300 + T,
        }
    )
    assert lengths(third) == pytest.approx(
        {
            "wall": 400,
            "back": 400,
            "face": 400 - T,
            "long": 400,
            "short": 400 - T,
            "inner": 400 - T,
            "overall": 400,
            "stick": 400,
        }
    )
    # Facing the wall with the room behind one, travel with the room on its right goes from the left to the right.
    assert [end.at for end in first.ends] == ["left", "right"]
    assert (first.end.inside, first.end.long_at, first.end.gain) == (False, "face", pytest.approx(T))
    assert (third.begin.inside, third.begin.long_at, third.begin.gain) == (True, "back", pytest.approx(-T))
    assert end_words(first, first.begin) == "square"
    assert end_words(first, first.end) == "miter, outside 90°, long point at the face"
    assert end_words(third, third.begin) == "miter, inside 90°, long point at the back"


def test_two_outside_corners_and_two_inside_ones() -> None:
    pieces = told(
        'room = "right"\nsteps = [{ straight = 100 }, { left = 90 }, { straight = 200 }, { left = 90 }, '
        "{ straight = 300 }, { right = 90 }, { straight = 400 }, { right = 90 }, { straight = 250 }]"
    )
    assert lengths(pieces[1]) == pytest.approx(
        {"wall": 200, "back": 200, "face": 240, "long": 240, "short": 200, "inner": 200, "overall": 240, "stick": 240}
    )
    assert lengths(pieces[3]) == pytest.approx(
        {"wall": 400, "back": 400, "face": 360, "long": 400, "short": 360, "inner": 360, "overall": 400, "stick": 400}
    )


@pytest.mark.parametrize("room", ["left", "right"])
def test_any_corner_takes_the_tangent_of_half_its_turn(room: str) -> None:
    other = "right" if room == "left" else "left"
    first, second = told(f'room = "{room}"\nsteps = [{{ straight = 500 }}, {{ {other} = 50 }}, {{ straight = 500 }}]')
    more = T * math.tan(math.radians(25))
    assert first.end.corner == pytest.approx(math.radians(130))
    assert first.face - first.back == pytest.approx(more) == pytest.approx(second.face - second.back)
    assert {first.end.at, second.begin.at} == {"left", "right"}


def test_a_member_that_stands_off_the_wall_is_measured_on_its_own_back() -> None:
    head = HEAD.replace('finish = "oak"\n', 'finish = "oak"\nout = 15\n')
    _, cuts = listed('room = "right"\nsteps = [{ straight = 500 }, { left = 90 }, { straight = 300 }]', head)
    first = cuts.pieces[0]
    assert (first.out_back, first.out_face) == (15, 35)
    assert lengths(first) == pytest.approx(
        {"wall": 500, "back": 515, "face": 535, "long": 535, "short": 515, "inner": 515, "overall": 535, "stick": 535}
    )


def test_a_return_is_as_long_as_the_molding_is_thick() -> None:
    begin, straight, end = told('room = "right"\nbegin = "return"\nend = "return"\nsteps = [{ straight = 300 }]')
    assert (begin.kind, end.kind) == ("return", "return")
    for piece in (begin, end):
        assert (piece.back, piece.face, piece.overall) == pytest.approx((0.0, T, T))
    assert (straight.back, straight.face) == pytest.approx((300, 340))


def test_a_climbing_strip_is_measured_along_its_slope() -> None:
    """A 3:4 slope: 400 in plan are 500 along it. Its plumb cuts reach up the slope by 3/5 of the height."""
    (piece,) = told('room = "right"\nsteps = [{ straight = 400, rise = 300 }]')
    assert piece.pitch == pytest.approx(math.atan2(3, 4))
    assert (piece.back, piece.face, piece.long, piece.short) == pytest.approx((500, 500, 500, 500))
    assert (piece.overall, piece.inner) == pytest.approx((500 + 40 * 0.6, 500 - 40 * 0.6))
    assert piece.stock.width == pytest.approx(40 * 0.8)  # square to its length a plumb section is lower
    assert end_words(piece, piece.begin) == "plumb cut"


def test_a_curve_by_its_radii() -> None:
    """A quarter turn on a back radius of 100, wrapped (R + T) and lined (R - T)."""
    for way, face, wraps in (("left", 120.0, True), ("right", 80.0, False)):
        (piece,) = told(f'room = "right"\nsteps = [{{ curve_{way} = 90, radius = 100 }}]')
        bend = piece.bend
        assert bend is not None
        assert bend.wraps is wraps
        assert (bend.radius, bend.radius_back, bend.radius_face) == pytest.approx((100, 100, face))
        quarter = math.pi / 2
        assert (bend.arc_back, bend.arc_face, bend.arc) == pytest.approx(
            (100 * quarter, face * quarter, max(100, face) * quarter)
        )
        outer, inner = max(100, face), min(100, face)
        assert bend.chord == pytest.approx(outer * math.sqrt(2))
        assert bend.depth == pytest.approx(outer - inner / math.sqrt(2))


def test_more_than_half_a_turn_is_as_wide_as_the_circle() -> None:
    (piece,) = told('room = "right"\nsteps = [{ curve_left = 270, radius = 100 }]')
    bend = piece.bend
    assert bend is not None
    assert bend.chord == pytest.approx(240)
    assert bend.depth == pytest.approx(120 + 120 / math.sqrt(2))


def test_an_easement_by_its_chord() -> None:
    """From level to 3:4 on a radius of 1000: sin 0.6, cos 0.8, so 600 in plan, 200 up, chord 200 √10."""
    pieces = told('room = "right"\nsteps = [{ straight = 1000 }, { easement = 1000 }, { straight = 1200, rise = 900 }]')
    ease = pieces[1].easing
    assert ease is not None
    assert (ease.radius, ease.level, ease.rise) == pytest.approx((1000, 600, 200))
    assert (ease.pitch_begin, ease.pitch_end) == pytest.approx((0.0, math.atan2(3, 4)))
    assert pieces[1].back == pytest.approx(1000 * math.atan2(3, 4))
    # Its plumb ends, 40 high, lean to the chord by half the change of pitch, whose tangent is 1/3.
    assert ease.chord == pytest.approx(200 * math.sqrt(10) + 40 * math.sin(math.atan(1 / 3)))
    sagitta = 1000 * (1 - math.cos(math.atan2(3, 4) / 2))
    assert ease.depth == pytest.approx(sagitta + 40 * math.cos(math.atan(1 / 3)))
    assert pieces[1].stick == ease.chord
    assert end_words(pieces[0], pieces[0].end) == "square, to the easement"


def test_a_cope_stops_short_of_the_corner_and_its_stick_does_not() -> None:
    """A square strip coped to a square strip stops at its face, 20 mm off the wall all the way up."""
    through, coped = told(
        'room = "right"\nsteps = [{ straight = 500 }, { inside = 90, joint = "cope" }, { straight = 400 }]'
    )
    assert (through.back, through.face, through.overall) == pytest.approx((500, 500, 500))
    assert (through.end.past_back, through.end.past_face) == pytest.approx((0, T))
    assert (coped.back, coped.face, coped.overall) == pytest.approx((380, 380, 380))
    assert (coped.begin.past_back, coped.begin.past_face) == pytest.approx((-T, 0))
    assert coped.stick == pytest.approx(400)  # it is mitered first, to show the line
    assert end_words(coped, coped.begin) == "cope, inside 90°"


def test_a_self_return_runs_past_the_end_by_the_thickness() -> None:
    (piece,) = told('room = "right"\nend = "self-return"\nsteps = [{ straight = 500 }]')
    assert (piece.back, piece.face, piece.overall, piece.stick) == pytest.approx((520, 520, 520, 520))


def test_blocks_have_their_own_sizes() -> None:
    _, cuts = shipped("door-casing")
    plinth = cuts.piece("door / plinth / 1 block")
    inch = 25.4
    assert plinth.block is not None
    assert (plinth.block.wide, plinth.block.out, plinth.block.high) == pytest.approx((4 * inch, 1.25 * inch, 8 * inch))
    assert (plinth.overall, plinth.grain) == (pytest.approx(8 * inch), "up and down")
    _, cuts = shipped("hall")
    corner = cuts.piece("hall / corner / 7 corner block")
    assert corner.block is not None
    assert (corner.block.wide, corner.block.out, corner.block.high) == pytest.approx((44.45, 44.45, 7 * inch))
    assert (corner.block.takes, corner.block.turn) == pytest.approx((44.45, math.pi / 2))


def test_a_casing_has_an_inner_and_an_outer_edge_a_foot_and_a_top() -> None:
    """The opening's head is 32 in; the reveal 3/16, the casing 3 1/4: inner 32 3/8, outer 38 7/8."""
    _, cuts = shipped("door-casing")
    head, left, right = (cuts.piece(f"door / casing / {name} straight") for name in (3, 2, 4))
    assert (head.back / 25.4, head.face / 25.4) == pytest.approx((32.375, 38.875))
    assert [end.at for end in head.ends] == ["left", "right"]
    assert [end.meets for end in head.ends] == [left.name, right.name]
    for leg in (left, right):
        assert [end.at for end in leg.ends] == ["foot", "top"]
        assert end_words(leg, leg.ends[1]) == "miter, outside 90°, long point at the outer edge"
        assert (leg.back / 25.4, leg.face / 25.4) == pytest.approx((72.1875, 75.4375))
