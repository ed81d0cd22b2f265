"""Corner blocks wherever a run leads: their outlines as a draftsman lays them out, of wood that is not inside out."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
import shapely

from preview.joinery import BlockShape, Piece, block_lines, exact_volume, join, piece_lengths, ring_of
from preview.runs import Block, Corner, Run, Side, Step, Straight, Way, lay_out
from samples import RIGHT_ANGLE, block

ROOMS: tuple[Side, Side] = ("left", "right")
HIGH = 90.0
# Where the corner stands and how the first wall runs: four quarters of the plan, and all about the origin.
PLACES = [(0.0, 0.0, 0.3), (733.0, -1210.0, 2.0), (-95.0, 402.0, -1.9), (-640.0, -77.0, 4.1), (210.0, 33.0, 5.4)]


def cornered(room: Side, turn: float, at: complex, heading: float, slopes: tuple[float, float] = (0.0, 0.0)) -> Run:
    """Two walls and the corner between them, which is `at`; turn + toward the room."""
    start = at - 400.0 * cmath.exp(1j * heading)
    steps: list[Step] = [
        Straight(400.0, slopes[0]),
        Corner((1 if room == "left" else -1) * turn, Way("block", block="plinth")),
        Straight(300.0, slopes[1]),
    ]
    return lay_out("wall", steps, room=room, start=(start.real, start.imag), heading=heading, level=10.0)


def stood(run: Run, made: BlockShape) -> Piece:
    (line,) = block_lines(run, {"plinth": made})
    (piece,) = line.pieces
    return piece


def outline(piece: Piece) -> tuple[shapely.Polygon, float]:
    """The block's plan as the scene has it, corner after corner, and how high its foot stands."""
    d, h = np.array([edge.start for edge in piece.profile.edges]).T
    stand = piece.stand
    scene = ring_of(piece, False, d, h) @ np.array([stand.x, stand.y, stand.z]) + np.array(stand.origin)
    assert np.ptp(scene[:, 2]) < 1e-9
    return shapely.Polygon(scene[:, :2]), float(scene[0, 2])


def drawn(at: complex, heading: float, room: Side, *corners: tuple[float, float]) -> shapely.Polygon:
    """A polygon from how far on along the first wall, and how far into the room, each of its corners lies."""
    along, out = cmath.exp(1j * heading), (1j if room == "left" else -1j) * cmath.exp(1j * heading)
    points = [at + x * along + y * out for x, y in corners]
    return shapely.Polygon([(point.real, point.imag) for point in points])


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize(("x", "y", "heading"), PLACES)
@pytest.mark.parametrize("offset", [0.0, 7.0])
def test_a_corner_block_s_plan(x: float, y: float, heading: float, offset: float, room: Side) -> None:
    """Square inside a corner; an L over an outside one, or a square beyond it; begun `offset` out from both walls."""
    at, o = complex(x, y), offset
    for turn, lap, corners in (
        (1, 50.0, [(-o, o), (-60 - o, o), (-60 - o, 60 + o), (-o, 60 + o)]),
        (-1, 50.0, [(-50 + o, o), (-50 + o, 30 + o), (30 + o, 30 + o), (30 + o, -50 + o), (o, -50 + o), (o, o)]),
        (-1, 0.0, [(o, o), (o, 30 + o), (30 + o, 30 + o), (30 + o, o)]),
    ):
        piece = stood(
            cornered(room, turn * RIGHT_ANGLE, at, heading),
            BlockShape("plinth", block(30.0, HIGH), 60.0, lap, 30.0, offset),
        )
        want = drawn(at, heading, room, *corners)
        plan, foot = outline(piece)
        assert foot == pytest.approx(10.0)
        assert plan.symmetric_difference(want).area < 1e-6
        # Each of its corners once, and its outline counter-clockwise, as every section of wood is.
        sides = [math.dist(edge.start, edge.end) for edge in piece.profile.edges]
        assert len(sides) == len(corners)
        assert min(sides) > 29.0
        section = shapely.Polygon([edge.start for edge in piece.profile.edges])
        assert section.exterior.is_ccw
        assert exact_volume(piece) == pytest.approx(want.area * HIGH, rel=1e-9)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("turn", [1, -1])
def test_a_block_of_half_a_millimeter_is_wood_as_well(turn: int, room: Side) -> None:
    run = cornered(room, turn * RIGHT_ANGLE, complex(3.0, 4.0), 1.0)
    piece = stood(run, BlockShape("plinth", block(20.0, HIGH), 0.5, 0.0, 0.5))
    assert shapely.Polygon([edge.start for edge in piece.profile.edges]).exterior.is_ccw
    assert exact_volume(piece) == pytest.approx(0.25 * HIGH, rel=1e-9)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("turn", [1, -1])
@pytest.mark.parametrize("slopes", [(0.5, 0.0), (-0.25, 0.0), (0.0, 0.4), (0.3, -0.2)])
def test_a_corner_block_of_a_climb_stands_where_its_walls_meet(
    slopes: tuple[float, float], turn: int, room: Side
) -> None:
    """Its foot is as high as the walls' line is at the corner itself, 400 mm on."""
    run = cornered(room, turn * RIGHT_ANGLE, complex(50.0, 20.0), 0.7, slopes)
    piece = stood(run, BlockShape("plinth", block(30.0, HIGH), 60.0, 50.0, 30.0))
    plan, foot = outline(piece)
    assert foot == pytest.approx(10.0 + 400.0 * slopes[0])
    assert piece.element.length == pytest.approx(HIGH)
    assert plan.area == pytest.approx(60.0**2 if turn > 0 else 80.0**2 - 50.0**2)


@pytest.mark.parametrize("room", ROOMS)
def test_blocks_are_numbered_with_their_steps_and_joined_to_nothing_of_their_own(room: Side) -> None:
    hand = 1 if room == "left" else -1
    steps: list[Step] = [
        Straight(200.0),
        Block("plinth", 60.0),
        Straight(400.0),
        Corner(hand * RIGHT_ANGLE, Way("block", block="plinth")),
        Straight(300.0),
        Block("plinth", 40.0),
    ]
    shape = BlockShape("plinth", block(30.0, HIGH), 60.0, 50.0, 30.0)
    run = lay_out("wall", steps, room=room)
    found = block_lines(run, {"plinth": shape})
    # The second, before the fourth, and the fifth of what is walked.
    assert [line.pieces[0].index for line in found] == [2, 4, 5]
    for line in found:
        assert line.between == ((None, 0), (0, None))
        assert line.joints == (line.pieces[0].begin, line.pieces[0].end)
        assert [joint.kind for joint in line.joints] == ["square end", "square end"]
        assert (line.run.name, line.member, line.blocks) == ("wall", "plinth", ("", ""))
    assert [piece_lengths(line.pieces[0])["back"] for line in found] == [60.0, HIGH, 40.0]
    beside = join(run, "base", block(20.0, 70.0), blocks={"plinth": shape})
    # Two plinths and one corner block stand between and after the base's three pieces.
    assert [piece.index for piece in beside.pieces] == [1, 3, 4]
    assert beside.between == ((None, 0), (0, None), (None, 1), (1, None), (None, 2), (2, None))
