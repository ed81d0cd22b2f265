"""Climbing straights by themselves, where the wall is: every end, either hand, both kinds of rake.

A plumb section keeps its own heights over the climbing line; one square to the rake leans back with it. Written here
from the climb's own right triangle.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np
import pytest

from preview.joinery import BlockShape, exact_volume, join, piece_lengths, ring_of
from preview.models.mesh import mesh_runs
from preview.runs import Block, Corner, Curve, Side, Step, Straight, Way, lay_out
from samples import RIGHT_ANGLE, block, wedge


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("raked", ["derived", "same"])
@pytest.mark.parametrize("slope", [0.75, -5 / 12])
@pytest.mark.parametrize("before", [0.0, 5.0])
def test_a_climbing_straight(room: Side, raked: str, slope: float, before: float) -> None:
    """By itself, or the second of two that climb alike in one line, as where a length was measured in two parts."""
    hand, long, level, heading = (1 if room == "left" else -1), 4.0, 7.5, 2.2
    start = complex(-81.0, 206.0)
    u = cmath.exp(1j * heading)
    steps: list[Step] = [Straight(before, slope)] if before else []
    run = lay_out(
        "stair",
        [*steps, Straight(long, slope)],
        start=(start.real, start.imag),
        heading=heading,
        room=room,
        level=level,
    )
    profile = wedge(1.5, 3.0)
    piece = join(replace(run, raked=raked), "rail", profile).pieces[-1]
    pace = math.hypot(1.0, slope)
    d, h = np.array([0.0, 1.5, 0.0, 0.5]), np.array([0.0, 0.0, 3.0, 2.0])
    for at_end, s in ((False, before), (True, before + long)):
        # Square to the rake, a point h up the section stands h cos t up, and h sin t back.
        lean = slope / pace if raked == "same" else 0.0
        up = 1 / pace if raked == "same" else 1.0
        plan = start + u * (s - lean * h) + 1j * hand * u * d
        want = np.column_stack([plan.real, plan.imag, level + s * slope + up * h])
        own = h if raked == "same" else h + level  # a level is plumb, and square to the rake it is the line's
        assert ring_of(piece, at_end, d, own) == pytest.approx(want, abs=1e-9)
    area = 1.5 * 3.0 / 2
    walked = pace if raked == "same" else 1.0
    assert exact_volume(piece) == pytest.approx(area * long * walked, rel=1e-12)
    assert mesh_runs([join(replace(run, raked=raked), "rail", profile)])[-1].volume == pytest.approx(
        area * long * walked
    )
    lengths = piece_lengths(piece)
    assert lengths["back"] == pytest.approx(long * pace, rel=1e-12)
    assert [lengths["longest"], lengths["shortest"]] == pytest.approx([long * pace] * 2, rel=1e-12)
    # Along the stick, a plumb cut reaches up it by h sin t at its top.
    reach = 0.0 if raked == "same" else 3.0 * abs(slope) / pace
    assert lengths["overall"] == pytest.approx(long * pace + reach, rel=1e-12)


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("side", [1, -1])
def test_the_grain_of_a_curve_does_not_ask_how_high_it_stands(room: Side, side: int) -> None:
    """A curve at the head of a climb: its grain is measured on the circle in the middle of the molding."""
    hand = 1 if room == "left" else -1
    steps: list[Step] = [Straight(90.0, 0.5), Straight(30.0), Curve(side * RIGHT_ANGLE, 60.0), Straight(40.0)]
    curve = mesh_runs([join(lay_out("stair", steps, room=room), "rail", block(20.0, 40.0))])[2]
    columns = len(curve.shape.face.column_point)
    # Every point of it runs on its own circle, and the pieces meet.
    d = np.tile(curve.shape.face.d, curve.shape.spans + 1)
    away = curve.points[:, 0] + 1j * curve.points[:, 1] - complex(120.0, side * 60.0)
    assert np.abs(away) == pytest.approx(60.0 - side * hand * d, abs=1e-9)
    assert side * np.angle(away * 1j * side) == pytest.approx(
        np.repeat(np.linspace(0.0, RIGHT_ANGLE, curve.shape.spans + 1), len(curve.shape.face.d)), abs=1e-9
    )
    assert curve.points[:, 2] == pytest.approx(np.tile(curve.shape.face.h, curve.shape.spans + 1) + 45.0)
    along = curve.uvs[: (curve.shape.spans + 1) * columns, 0].reshape(-1, columns)
    assert along[-1] - along[0] == pytest.approx(RIGHT_ANGLE * (60.0 - side * hand * 10.0), rel=1e-6)


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("turn", [1, -1])
def test_a_level_return_of_a_climb_ends_where_the_wall_does(room: Side, turn: int) -> None:
    """Level, up, and level again round two corners: every ring at the height that its wall has there."""
    hand = 1 if room == "left" else -1
    steps: list[Step] = [
        Straight(30.0),
        Corner(hand * turn * RIGHT_ANGLE),
        Straight(40.0, 0.75),
        Corner(-hand * turn * RIGHT_ANGLE),
        Straight(25.0),
    ]
    line = join(lay_out("stair", steps, room=room, start=(9.0, 4.0), heading=-1.0, level=2.0), "rail", block(5.0, 8.0))
    d = h = np.zeros(1)
    heights = [[float(ring_of(p, at_end, d, h)[0, 2]) for at_end in (False, True)] for p in line.pieces]
    assert heights == [pytest.approx(each) for each in ([0.0, 0.0], [0.0, 30.0], [30.0, 30.0])]
    assert [piece.shear for piece in line.pieces] == pytest.approx([0.0, -turn * 0.75, -turn * 0.75 + turn * 0.75])


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("turn", [1, -1])
@pytest.mark.parametrize("slopes", [(0.0, 0.75), (-0.5, 0.0), (0.5, -0.25)])
def test_a_climb_stops_at_a_corner_block_where_its_wall_stands(
    room: Side, turn: int, slopes: tuple[float, float]
) -> None:
    """5 mm before an inside corner or 4 before an outside one, as high as the climb is there."""
    hand = 1 if room == "left" else -1
    shape = BlockShape("stone", block(3.0, 9.0), 5.0, 4.0, 3.0)
    steps: list[Step] = [
        Straight(40.0, slopes[0]),
        Corner(hand * turn * RIGHT_ANGLE, Way("block", block="stone")),
        Straight(30.0, slopes[1]),
    ]
    line = join(lay_out("stair", steps, room=room), "rail", block(2.0, 4.0), blocks={"stone": shape})
    back = 5.0 if turn > 0 else 4.0
    zero = np.zeros(1)
    ends = [[ring_of(p, at_end, zero, zero)[0] for at_end in (False, True)] for p in line.pieces]
    top = 40.0 * slopes[0]
    side = 1j * hand * turn
    for (begin, end), (first, last), heights in zip(
        ends,
        ((0j, 40.0 - back + 0j), (40.0 + back * side, 40.0 + 30.0 * side)),
        ((0.0, (40.0 - back) * slopes[0]), (top + back * slopes[1], top + 30.0 * slopes[1])),
        strict=True,
    ):
        assert begin == pytest.approx([first.real, first.imag, heights[0]], abs=1e-9)
        assert end == pytest.approx([last.real, last.imag, heights[1]], abs=1e-9)


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("side", [1, -1])
def test_a_curve_between_two_plinth_blocks(room: Side, side: int) -> None:
    """It is cut square to its own travel at both of its ends, where the blocks stand."""
    hand = 1 if room == "left" else -1
    plinth = BlockShape("plinth", block(3.0, 9.0), 5.0, 4.0, 3.0)
    steps: list[Step] = [Straight(9.0), Block("plinth", 5.0), Curve(side * 1.2, 30.0), Block("plinth", 5.0)]
    run = lay_out("bow", steps, room=room)
    line = join(run, "rail", block(2.0, 4.0), blocks={"plinth": plinth})
    (curve,) = (piece for piece in line.pieces if piece.kind == "curve")
    d, h = np.array([0.0, 2.0, 1.0]), np.array([0.0, 4.0, 0.0])
    center = complex(14.0, side * 30.0)
    for at_end, angle in ((False, 0.0), (True, 1.2)):
        ring = ring_of(curve, at_end, d, h)
        want = center - (30.0 - side * hand * d) * 1j * side * cmath.exp(1j * side * angle)
        assert ring[:, 0] + 1j * ring[:, 1] == pytest.approx(want, abs=1e-9)
        assert ring[:, 2].tolist() == h.tolist()
