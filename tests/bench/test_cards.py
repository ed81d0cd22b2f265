"""The small drawings of pieces, held against the model by another road, and one worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from bench_jobs import climbing, off_tangent, shipped, small, tags_of
from preview.bench.cards import ASIDE, SIZE, bend_outline, card, eased_line, end_lines, leans
from preview.cutlist import CutPiece, ShopJob
from preview.joinery import Piece, ring_of
from preview.paper import Page, Trace, Words, ink_box

Floats = NDArray[np.float64]
STRAIGHTS = ["window-seat", "hall", "cornice", "door-casing", "six-sided-room", "stair-hall"]


def shape_of(job: ShopJob, piece: CutPiece) -> Piece:
    return next(each for each in job.built.pieces if each.name == piece.name)


def drawn(job: ShopJob, piece: CutPiece) -> Page:
    return card(piece, shape_of(job, piece), lambda mm: f"{mm:.1f} mm")


def words(page: Page) -> list[str]:
    return [mark.text for mark in page.marks if isinstance(mark, Words)]


def outline(page: Page) -> Floats:
    """The corners of the first patch of wood: the back from left to right, then the face from right to left."""
    wood = next(mark for mark in page.marks if isinstance(mark, Trace) and mark.fill)
    return np.array([edge.start for edge in wood.edges])


def corners(piece: CutPiece, shape: Piece) -> Floats:
    """The same four corners in the model, by where the joints' own rings begin and end: (4, 3), in the run's plan."""
    d, h = np.array([piece.out_back, piece.out_face]), np.zeros(2)
    begin, end = ring_of(shape, False, d, h), ring_of(shape, True, d, h)
    left, right = (begin, end) if piece.ends[0].end == "begin" else (end, begin)
    return np.array([left[0], right[0], right[1], left[1]])


def turn(points: Floats) -> float:
    """Twice the area of an outline in plan, + when it runs counter-clockwise."""
    x, y = points[:, 0], points[:, 1]
    return float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def test_a_card_worked_by_hand() -> None:
    """Piece 2 of the small room: 20 mm deep is drawn 7 deep, so at 0.35; 60 mm are for its length, which is broken.

    Its face reaches 7 mm past its back on the left and stops 7 mm short of it on the right, so 53 are left for the
    back; all of it stands in the middle of 118.
    """
    job = small()
    page = drawn(job, job.cuts.pieces[1])
    assert page.width == 118.0
    high, low = 21.5 / 2 + 3.5, 21.5 / 2 - 3.5
    assert outline(page) == pytest.approx(np.array([(36, high), (89, high), (82, low), (29, low)]))
    told = words(page)
    assert told.count("back 500.0 mm") == told.count("face 500.0 mm") == 1
    assert [text for text in told if "miter" in text] == ["miter, outside 90°", "miter, inside 90°"]
    assert [text for text in told if "long point" in text] == ["long point at the face", "long point at the back"]


def test_a_short_piece_is_drawn_whole() -> None:
    job = small()
    page = drawn(job, job.cuts.pieces[3])
    # The return: no back, and a face as long as the strip stands out: at 0.35 it is 7 mm long and 7 deep.
    found = outline(page)
    assert found[0] == pytest.approx(found[1])
    assert found[2] - found[3] == pytest.approx((7, 0))
    assert found[1, 1] - found[2, 1] == pytest.approx(7)


@pytest.mark.parametrize("name", STRAIGHTS)
def test_left_is_left_and_a_gain_is_on_its_side(name: str) -> None:
    """Each straight lies in its drawing as it does in plan, seen from the room: turned, and never a mirror image."""
    job = shipped(name)
    seen = 0
    for piece in job.cuts.pieces:
        if piece.block or piece.bend or piece.pitch or piece.back < 1e-6:
            continue
        shape, page = shape_of(job, piece), drawn(job, piece)
        mine, model = outline(page), corners(piece, shape)
        assert math.copysign(1, turn(mine)) == math.copysign(1, turn(model)), piece.name
        if piece.on_wall:
            # The run's plan is the face of the wall, and who looks at it looks against its normal.
            x, y, z = (np.array(axis) for axis in (shape.stand.x, shape.stand.y, shape.stand.z))
            along = (model[1] - model[0]) @ np.array([x, y, z])
            upright = piece.ends[0].at == "foot"
            assert along @ (np.array([0, 0, 1]) if upright else np.cross([0, 0, 1], z)) > 0, piece.name
        else:
            # Who faces the wall looks against the normal, and his right hand is a quarter turn clockwise from there.
            nx, ny = shape.normal
            rightward = np.array([-ny, nx])
            assert (model[1, :2] - model[0, :2]) @ rightward > 0, f"{piece.name}: left and right are exchanged"
            assert mine[0, 1] > mine[3, 1], f"{piece.name}: the wall is not at the top"
        for end, side, back, face in zip(piece.ends, (-1, 1), (0, 1), (3, 2), strict=True):
            past = side * (mine[face, 0] - mine[back, 0])
            assert np.sign(round(past, 9)) == np.sign(round(end.gain, 9)), piece.name
            seen += end.gain != 0
    assert seen >= 4


def test_the_two_legs_of_a_casing_are_not_drawn_alike() -> None:
    job = shipped("door-casing")
    left, head, right = (piece for piece in job.cuts.pieces if piece.member == "casing")
    for piece, outer_is_up in ((left, True), (head, True), (right, False)):
        found = outline(drawn(job, piece))
        assert (found[2, 1] > found[1, 1]) == outer_is_up, piece.name
    assert "foot: square, to the block" in " ".join(words(drawn(job, left)))
    assert "inner edge" in " ".join(words(drawn(job, right)))


@pytest.mark.parametrize("name", ["bar-front", "stair-hall", "column", "left", "right"])
def test_a_curve_keeps_its_shape_and_its_hand(name: str) -> None:
    job = off_tangent(name) if name in ("left", "right") else shipped(name)
    curves = [piece for piece in job.cuts.pieces if piece.bend]
    assert curves
    for piece in curves:
        left, right = bend_outline(piece, shape_of(job, piece))
        mine = np.array([left[0], right[0], right[-1], left[-1]])
        model = corners(piece, shape_of(job, piece))[:, :2]
        far, true = (np.linalg.norm(each[:, None] - each[None], axis=2) for each in (mine, model))
        assert far == pytest.approx(true, abs=1e-6), piece.name
        assert math.copysign(1, turn(mine)) == math.copysign(1, turn(model)), piece.name
        assert left[0, 0] < right[0, 0]
        back, face = (np.hypot(*each) for each in (left[0], left[-1]))
        assert piece.bend is not None
        assert (face > back) == piece.bend.wraps
        # The wall is above the molding: the middle of a hollow is below it, that of a round above.
        assert left[0, 1] * (-1 if piece.bend.wraps else 1) > -1e-6


@pytest.mark.parametrize(("room", "to_right"), [("right", 1.0), ("left", -1.0)])
def test_plumb_ends_lean_the_way_the_stair_climbs(room: str, to_right: float) -> None:
    """Laid level, a plumb line leans by the pitch, towards where it climbed: 40 mm plumb lean 40 sin(pitch)."""
    job = climbing(room)
    piece = next(each for each in job.cuts.pieces if each.pitch)
    left, right, high = leans(piece, shape_of(job, piece))
    pitch = math.atan2(2, 3)
    assert (left, right) == pytest.approx((to_right * 40 * math.sin(pitch),) * 2)
    assert high == pytest.approx(40 * math.cos(pitch))
    page = drawn(job, piece)
    assert page.height > SIZE[1]
    assert words(page).count("33.69° off square") == 2
    assert f"overall {piece.overall:.1f} mm" in words(page)


@pytest.mark.parametrize(("room", "first", "last"), [("right", 0.0, 2 / 3), ("left", -2 / 3, 0.0)])
def test_an_easement_is_seen_from_the_front(room: str, first: float, last: float) -> None:
    """500 mm long along the level, from level to 2 in 3: from the left it rises, or comes down, by its own slopes."""
    job = climbing(room)
    piece = next(each for each in job.cuts.pieces if each.easing)
    line = eased_line(piece)
    steps = np.diff(line, axis=0)
    assert (steps[:, 0] > 0).all()
    slopes = steps[:, 1] / steps[:, 0]
    assert (slopes[0], slopes[-1]) == pytest.approx((first, last), abs=0.01)
    assert piece.easing is not None
    assert abs(line[-1, 1]) == pytest.approx(abs(piece.easing.rise))
    assert line[-1, 0] == pytest.approx(piece.easing.level)


@pytest.mark.parametrize("name", [*STRAIGHTS, "bar-front", "column", "stair-wall", "bay"])
def test_words_keep_inside_and_apart(name: str) -> None:
    job = shipped(name)
    long = (["cut 1/16 longer, and say so"], ["by template T12, one of several"])
    for piece in job.cuts.pieces:
        page = card(piece, shape_of(job, piece), lambda mm: f'{mm / 25.4:.0f} 15/16"', long)
        boxes = [(mark.text, ink_box(mark)) for mark in page.marks if isinstance(mark, Words)]
        assert boxes
        for number, (text, box) in enumerate(boxes):
            assert min(box[0] + 0.1, box[1]) >= 0, text
            assert max(box[2] - 0.1 - page.width, box[3] - page.height) <= 0, text
            for other, beside in boxes[number + 1 :]:
                across = min(box[2], beside[2]) - max(box[0], beside[0])
                up = min(box[3], beside[3]) - max(box[1], beside[1])
                assert across <= 0.05 or up <= 0.05, f"{piece.name}: {text!r} over {other!r}"
        wood = outline(page)
        aside = 0.0 if piece.bend or piece.easing or piece.block else ASIDE - 1e-6
        assert wood[:, 0].min() >= aside
        assert wood[:, 0].max() <= page.width - aside


def test_an_end_is_called_what_it_is() -> None:
    hall = {tag: name for name, tag in tags_of(shipped("hall")).items()}

    def ends(tag: str) -> list[str]:
        piece = shipped("hall").cuts.piece(hall[tag])
        return [end_lines(piece, end)[0] for end in piece.ends]

    assert ends("1") == ["returned on itself", "square, runs to the corner, inside 90°"]
    assert ends("2") == ["cope, inside 90°", "scarf"]
    assert ends("6") == ["miter, outside 150°", "square, to the block"]
    bar = shipped("bar-front").cuts.pieces[0]
    assert end_lines(bar, bar.ends[1]) == ("curved miter, inside 156°", "long point at the back")
