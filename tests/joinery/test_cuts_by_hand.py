"""The cut at each end of a piece as a drawing board has it: rakes of one section, bevels, blocks, copes, curves' ends.

A wall is walked from `at` along u = exp(i heading), with the room on the side of i u or -i u; a point d out of it and
h up its section is put where the trade puts it, and must be where the piece's own cut leaves it.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from preview.errors import PreviewError
from preview.joinery import BlockShape, MemberRun, Piece, exact_volume, join, ring_of
from preview.runs import Block, Corner, Curve, Easement, Side, Step, Straight, Way, lay_out
from samples import RIGHT_ANGLE, block

Floats = NDArray[np.float64]
ROOMS: tuple[Side, Side] = ("left", "right")
AT, HEADING = complex(-37.0, 410.0), 0.8
START = (AT.real, AT.imag)
OUT, HIGH = 20.0, 40.0
D, H = np.array([0.0, OUT, OUT, 0.0]), np.array([0.0, 0.0, HIGH, HIGH])
RAIL = block(OUT, HIGH)


def hand_of(room: Side) -> int:
    return 1 if room == "left" else -1


def put(at: complex, heading: float, room: Side, along: Floats | float, z: Floats | float) -> Floats:
    """The corners of the section in space: so far along the wall from `at`, D out of it, and z high."""
    u = cmath.exp(1j * heading)
    plan = at + along * u + hand_of(room) * 1j * u * D
    return np.column_stack([plan.real, plan.imag, np.broadcast_to(z, D.shape)])


def ring(piece: Piece, *, at_end: bool) -> Floats:
    return ring_of(piece, at_end, D, H)


# Corners between climbs.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("turn", [RIGHT_ANGLE, 1.2, -RIGHT_ANGLE, -0.7])
@pytest.mark.parametrize("slopes", [(0.6, 0.0), (0.0, 0.6), (0.6, 0.6), (0.6, -0.4), (-0.5, -0.5)])
@pytest.mark.parametrize("raked", ["same", "derived"])
def test_each_climb_is_cut_plumb_where_the_corner_is_halved(
    raked: str, slopes: tuple[float, float], turn: float, room: Side
) -> None:
    """A point d out stands d tan(turn/2) before the corner, or after it, in plan; its own wall climbs that far.

    A plumb section has it h higher, and sheared as its corners ask: the first level one not, else the first of all.
    One that is square to the rake is cut plumb at a slant, where h up it measures h / cos pitch.
    """
    tan = math.tan(turn / 2)
    steps: list[Step] = [Straight(300.0, slopes[0]), Corner(hand_of(room) * turn), Straight(200.0, slopes[1])]
    run = lay_out("stair", steps, room=room, start=START, heading=HEADING)
    line = join(replace(run, raked="same" if raked == "same" else "derived"), "rail", RAIL)
    corner, onward = AT + 300.0 * cmath.exp(1j * HEADING), HEADING + hand_of(room) * turn
    top = 300.0 * slopes[0]
    rises = [math.hypot(1.0, slope) for slope in slopes] if raked == "same" else [1.0, 1.0]
    shears = [0.0, 0.0]
    if raked == "derived":
        apart = -(slopes[0] + slopes[1]) * tan  # what makes both sections meet at every d
        shears = [-apart, 0.0] if slopes[0] and not slopes[1] else [0.0, apart]
    before = put(corner, HEADING, room, -D * tan, top - slopes[0] * D * tan + shears[0] * D + rises[0] * H)
    after = put(corner, onward, room, D * tan, top + slopes[1] * D * tan + shears[1] * D + rises[1] * H)
    one, two = line.pieces
    assert ring(one, at_end=True) == pytest.approx(before, abs=1e-9)
    assert ring(two, at_end=False) == pytest.approx(after, abs=1e-9)
    if raked == "derived":
        assert before == pytest.approx(after, abs=1e-9)
        assert one.end == two.begin == line.joints[1]


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("slopes", [(0.0, 0.6), (0.6, 0.0), (-0.5, 0.4)])
def test_an_easement_beside_a_rake_of_the_same_section(slopes: tuple[float, float], room: Side) -> None:
    """The easement's section is plumb. That of the straight is square to its rake, cut plumb: h / cos pitch."""
    steps: list[Step] = [Straight(300.0, slopes[0]), Easement(100.0), Straight(300.0, slopes[1])]
    run = lay_out("stair", steps, room=room, start=START, heading=HEADING)
    first, eased, last = join(replace(run, raked="same"), "rail", RAIL).pieces
    # An arc's tangents are as long on both sides: R tan of half of what it turns.
    tangent = 100.0 * math.tan((math.atan(slopes[1]) - math.atan(slopes[0])) / 2)
    begins, stops = (
        300.0 - abs(tangent) / math.hypot(1.0, slopes[0]),
        300.0 + abs(tangent) / math.hypot(1.0, slopes[1]),
    )
    low, high = begins * slopes[0], 300.0 * slopes[0] + (stops - 300.0) * slopes[1]
    assert ring(first, at_end=True) == pytest.approx(
        put(AT, HEADING, room, begins, low + H * math.hypot(1.0, slopes[0])), abs=1e-9
    )
    assert ring(eased, at_end=False) == pytest.approx(put(AT, HEADING, room, begins, low + H), abs=1e-9)
    assert ring(eased, at_end=True) == pytest.approx(put(AT, HEADING, room, stops, high + H), abs=1e-9)
    assert ring(last, at_end=False) == pytest.approx(
        put(AT, HEADING, room, stops, high + H * math.hypot(1.0, slopes[1])), abs=1e-9
    )


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("raked", ["same", "derived"])
@pytest.mark.parametrize("slope", [0.75, -0.4])
def test_a_climb_stands_plumb_against_the_blocks_beside_it(slope: float, raked: str, room: Side) -> None:
    """At its own line's height, with the section's height upright; one square to the rake shows h / cos pitch there."""
    plinth = {"plinth": BlockShape("plinth", block(30.0, 90.0), 60.0, 60.0, 30.0)}
    steps: list[Step] = [Block("plinth", 60.0), Straight(200.0, slope), Block("plinth", 60.0)]
    run = lay_out("stair", steps, room=room, start=START, heading=HEADING)
    run = replace(run, raked="same" if raked == "same" else "derived")
    (rail,) = join(run, "rail", RAIL, blocks=plinth).pieces
    rise = math.hypot(1.0, slope) if raked == "same" else 1.0
    for at_end, along in ((False, 60.0), (True, 260.0)):
        want = put(AT, HEADING, room, along, (along - 60.0) * slope + rise * H)
        assert ring(rail, at_end=at_end) == pytest.approx(want, abs=1e-9)


# Ends of a run.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("raked", ["same", "derived"])
@pytest.mark.parametrize("slope", [0.75, -0.4, 0.0])
def test_a_beveled_end_of_a_climb_runs_back_along_the_stick(slope: float, raked: str, room: Side) -> None:
    """At 45 degrees a point d out is cut d mm back along the stick, which is d cos pitch in plan and d sin pitch lower.

    A plumb section stands upright there, and one that is square to the rake leans back over it.
    """
    pace = math.hypot(1.0, slope)
    cos, sin = 1 / pace, slope / pace
    run = lay_out("stair", [Straight(300.0, slope)], room=room, start=START, heading=HEADING)
    run = replace(run, raked="same" if raked == "same" else "derived", begin="beveled", end="beveled")
    (rail,) = join(run, "rail", RAIL).pieces
    for at_end, walked in ((False, D), (True, 300.0 * pace - D)):
        leans = raked == "same"
        along = walked * cos - (H * sin if leans else 0.0)
        z = walked * sin + (H * cos if leans else H)
        assert ring(rail, at_end=at_end) == pytest.approx(put(AT, HEADING, room, along, z), abs=1e-9)
    assert (rail.begin.kind, rail.end.kind) == ("beveled end", "beveled end")


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize("end", ["square", "butt"])
def test_a_curve_that_ends_a_run_is_cut_on_its_radius(end: str, way: int, room: Side) -> None:
    """Both of its ends stand square to its own travel there: the start's heading, and that turned by the sweep."""
    radius, sweep = 130.0, 1.1
    run = lay_out("bow", [Curve(way * sweep, radius)], room=room, start=START, heading=HEADING)
    (curve,) = (line := join(replace(run, begin=end, end=end), "rail", RAIL)).pieces
    center = AT + 1j * way * radius * cmath.exp(1j * HEADING)
    last = center + (AT - center) * cmath.exp(1j * way * sweep)
    assert ring(curve, at_end=False) == pytest.approx(put(AT, HEADING, room, 0.0, H), abs=1e-9)
    assert ring(curve, at_end=True) == pytest.approx(put(last, HEADING + way * sweep, room, 0.0, H), abs=1e-9)
    assert [joint.kind for joint in line.joints] == [f"{end} end"] * 2
    for joint, turned in zip(line.joints, (HEADING, HEADING + way * sweep), strict=True):
        assert complex(*joint.before.tangent) == pytest.approx(cmath.exp(1j * turned), abs=1e-12)
        assert joint.before == joint.after
        assert joint.before.curvature == pytest.approx(way * hand_of(room) / radius)


def test_what_a_joint_is_called() -> None:
    steps: list[Step] = [Straight(300.0), Corner(RIGHT_ANGLE), Straight(200.0)]
    run = replace(lay_out("hall", steps), begin="return", end="return")
    names = [joint.name for joint in join(run, "rail", RAIL).joints]
    assert names == [
        "hall / rail / begin",
        "hall / rail / begin return miter",
        "hall / rail / 1-2 miter",
        "hall / rail / end return miter",
        "hall / rail / end",
    ]


# Copes.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("cut", ["after", "before"])
@pytest.mark.parametrize("degrees", [90.0, 60.0, 125.0])
def test_a_cope_s_two_cuts_each_stand_on_their_own_wall(degrees: float, cut: str, room: Side) -> None:
    """The piece that runs on ends on the other's wall, square where the walls are; neither cut turns the corner."""
    turn = math.radians(degrees)
    way = Way("cope", coped="after" if cut == "after" else "before")
    steps: list[Step] = [Straight(300.0), Corner(hand_of(room) * turn, way), Straight(200.0)]
    one, two = join(lay_out("hall", steps, room=room, start=START, heading=HEADING), "rail", RAIL).pieces
    for piece, joint in ((one, one.end), (two, two.begin)):
        for passage in (joint.before, joint.after):
            assert passage.tangent == pytest.approx(piece.element.tangent, abs=1e-12)
            assert passage.normal == pytest.approx(piece.normal, abs=1e-12)
        assert joint.turn == 0.0
    through, coped = (one.end, two.begin) if cut == "after" else (two.begin, one.end)
    assert (through.kind, coped.kind) == ("butt to wall", "cope")
    assert through.is_square == (degrees == 90.0)
    assert coped.faced is not None
    corner = AT + 300.0 * cmath.exp(1j * HEADING)
    along = D * math.cos(turn) / math.sin(turn)
    if cut == "after":
        assert ring(one, at_end=True) == pytest.approx(put(corner, HEADING, room, along, H), abs=1e-9)
    else:
        onward = HEADING + hand_of(room) * turn
        assert ring(two, at_end=False) == pytest.approx(put(corner, onward, room, -along, H), abs=1e-9)


@pytest.mark.parametrize("cut", ["after", "before"])
def test_a_cope_on_a_raked_section_is_refused(cut: str) -> None:
    """Round an outside corner onto a climb, and off it again: on the landing the molding is raked, level as it is."""
    way = Way("cope", coped="after" if cut == "after" else "before")
    steps: list[Step] = [Straight(300.0), Corner(-RIGHT_ANGLE), Straight(200.0, 0.5), Straight(200.0)]
    with pytest.raises(PreviewError) as refused:
        join(lay_out("stair", [*steps, Corner(RIGHT_ANGLE, way), Straight(200.0)]), "rail", RAIL)
    (problem,) = refused.value.problems
    assert problem.place == 'run "stair", step 6, member "rail"'
    assert "a cope follows the profile as it was drawn" in problem.problem
    assert problem.fix == 'write joint = "miter" here'


# Smooth joints.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("way", [1, -1])
def test_where_a_curve_follows_smoothly_both_back_lines_run_in_one_direction(way: int, room: Side) -> None:
    """To the last digit, whatever has been walked: so that the cut is a plane one, square to both."""
    steps: list[Step] = []
    for number in range(1, 9):
        steps += [Curve(way * 0.07 * number, 90.0 + number), Straight(31.0)]
    line: MemberRun = join(lay_out("wave", steps, room=room, start=START, heading=HEADING), "rail", RAIL)
    smooth = [joint for joint in line.joints if joint.kind == "tangent"]
    assert len(smooth) == 15
    for joint in smooth:
        assert joint.before.tangent == joint.after.tangent
        assert joint.before.normal == joint.after.normal


def test_a_run_that_closes_to_within_rounding_closes_in_one_direction() -> None:
    """Four rounded corners that turn by a hair more than 90 degrees: where they come round, the joint is as smooth."""
    rounded = Curve(RIGHT_ANGLE + 2e-10, 130.0)
    steps: list[Step] = [Straight(300.0), rounded, Straight(400.0), rounded] * 2
    run = lay_out("ring", steps, start=START, heading=HEADING, closed=True)
    assert run.turns[0] == 0.0
    assert run.elements[-1].end_tangent != run.elements[0].tangent
    closing = join(run, "rail", RAIL).joints[0]
    assert closing.kind == "tangent"
    assert closing.before.tangent == closing.after.tangent == run.elements[0].tangent
    assert closing.before.normal == closing.after.normal


# Two parts of one climb.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("raked", ["same", "derived"])
@pytest.mark.parametrize("slope", [0.75, -0.4])
def test_a_climb_measured_in_two_parts_is_parted_square(slope: float, raked: str, room: Side) -> None:
    """One of a plumb section is cut plumb; one that is square to the rake is cut square to it."""
    run = lay_out("stair", [Straight(200.0, slope), Straight(100.0, slope)], room=room, start=START, heading=HEADING)
    line = join(replace(run, raked="same" if raked == "same" else "derived"), "rail", RAIL)
    cos = 1 / math.hypot(1.0, slope)
    leans = (slope * cos, cos) if raked == "same" else (0.0, 1.0)
    want = put(AT, HEADING, room, 200.0 - H * leans[0], 200.0 * slope + H * leans[1])
    assert ring(line.pieces[0], at_end=True) == pytest.approx(want, abs=1e-9)
    assert line.pieces[0].end == line.pieces[1].begin == line.joints[1]


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("raked", ["same", "derived"])
@pytest.mark.parametrize("slope", [0.0, 0.75, -0.4])
@pytest.mark.parametrize("slant", [1.0, -0.5])
def test_a_scarf_runs_along_the_stick_and_square_to_its_side(
    slant: float, slope: float, raked: str, room: Side
) -> None:
    """A point d out is cut slant d further along the stick, and h up it stands square to the stick's foot."""
    run = lay_out("stair", [Straight(200.0, slope), Straight(150.0, slope)], room=room, start=START, heading=HEADING)
    run = replace(run, raked="same" if raked == "same" else "derived", ways=(Way(), Way("scarf", slant=slant)))
    line = join(run, "rail", RAIL)
    cos = 1 / math.hypot(1.0, slope)
    # From a plumb section h high the saw's line, square to the foot, reaches up h cos of it before it leaves the wood.
    high = H if raked == "same" else H * cos
    along = 200.0 + slant * D * cos - high * slope * cos
    z = 200.0 * slope + slant * D * slope * cos + high * cos
    assert ring(line.pieces[0], at_end=True) == pytest.approx(put(AT, HEADING, room, along, z), abs=1e-9)
    assert line.pieces[0].end == line.pieces[1].begin == line.joints[1]
    assert line.joints[1].kind == "scarf"


# Members inside the wall.


@pytest.mark.parametrize(("out", "behind"), [(-OUT, "0 mm"), (-OUT - 5.0, "5 mm")])
def test_a_member_wholly_inside_the_wall_is_refused(out: float, behind: str) -> None:
    with pytest.raises(PreviewError) as refused:
        join(lay_out("hall", [Straight(300.0)]), "rail", RAIL.moved(out, 0.0))
    (problem,) = refused.value.problems
    assert problem.place == 'run "hall", member "rail"'
    assert problem.problem == f"the member lies wholly inside the wall: it ends {behind} behind the wall line"
    assert problem.fix == "make its out larger"


def test_a_member_that_stands_half_a_millimeter_out_is_made() -> None:
    """20 mm of it are sunk into the wall but for that."""
    (piece,) = join(lay_out("hall", [Straight(300.0)]), "rail", RAIL.moved(0.5 - OUT, 0.0)).pieces
    assert exact_volume(piece) == pytest.approx(300.0 * OUT * HIGH)
