"""Ends that follow a face: exact values, the joinery's own promises, and volumes by another road."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from faced_pieces import (
    LONG,
    NAMES,
    faces,
    hollow_neck,
    lipped,
    out_from_other,
    outline,
    pair,
    polygon,
    quirked_round,
    returned,
    shipped,
    turns,
)
from preview.errors import PreviewError
from preview.joinery import (
    WALL,
    HiddenFace,
    banded,
    cope,
    cut_bands,
    face_line,
    faced_integral,
    faced_volume,
    hidden,
    join,
    plane_cut,
    self_return,
)
from preview.profiles import Arc, Profile, distance_to, flatten, measure
from preview.runs import Corner, Curve, Step, Straight, Way, lay_out
from samples import BASE, RIGHT_ANGLE, block, half_round, quarter_round, wedge
from strategies import share

Floats = NDArray[np.float64]


def numbers(*values: float) -> Floats:
    return np.array(values)


def summed(profile: Profile, turn: float, rows: int = 4000) -> float:
    """The integral of a cope's stations by strips: the outline's crossings of many level lines, in pairs."""
    points = flatten(profile, 1e-4).points
    ends = np.roll(points, -1, axis=0)
    low, high = points[:, 1].min(), points[:, 1].max()
    total = 0.0
    for h in (low + (np.arange(rows) + 0.5) * ((high - low) / rows)).tolist():
        cross = (points[:, 1] <= h) != (ends[:, 1] <= h)
        a, b = points[cross], ends[cross]
        d = np.sort(a[:, 0] + (h - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])).reshape(-1, 2)
        wide, moment = np.diff(d).sum(), np.diff(d**2).sum() / 2
        total += d.max() * wide / math.sin(turn) - moment / math.tan(turn)
    return total * (high - low) / rows


# Exact values.


def test_the_cope_of_a_square_board_is_a_butt() -> None:
    board = block(20.0, 40.0)
    cut = cope(face_line(board), RIGHT_ANGLE, begins=True)
    d, h = numbers(0.0, 3.0, 20.0, 11.0), numbers(0.0, 12.0, 40.0, 39.0)
    assert cut.stations(d, h, "above")[:2].tolist() == [20.0, 20.0]
    assert cut.stations(d, h, "below")[1:].tolist() == [20.0, 20.0, 20.0]
    assert faced_integral(board, cut) == pytest.approx(20 * 20 * 40, rel=1e-14)
    coped, other = pair(board, RIGHT_ANGLE)
    assert faced_volume(coped) == pytest.approx(800 * (LONG - 20), rel=1e-14)
    assert faced_volume(other) == pytest.approx(800 * LONG, rel=1e-14)


def test_the_cope_of_a_quarter_round_takes_an_octant_of_two_crossed_cylinders() -> None:
    """Two crossed round cylinders of radius r share 16 r³/3 (Archimedes, The Method); an octant of it is 2 r³/3."""
    cut = cope(face_line(quarter_round(10.0)), RIGHT_ANGLE, begins=True)
    assert faced_integral(quarter_round(10.0), cut) == pytest.approx(2 * 10.0**3 / 3, rel=1e-13)
    # The half round has the octants above and below.
    end = self_return(face_line(half_round(7.0)), begins=False)
    assert faced_integral(half_round(7.0), end) == pytest.approx(4 * 7.0**3 / 3, rel=1e-13)


@pytest.mark.parametrize("degrees", [30, 45, 90, 120, 150])
def test_the_cope_of_a_bevel(degrees: int) -> None:
    """f = D (1 - h/H): the integrals of f f and of f²/2 over the height are D² H/3 and D² H/6."""
    turn = math.radians(degrees)
    board = wedge(30.0, 60.0)
    cut = cope(face_line(board), turn, begins=True)
    whole = 30.0**2 * 60.0 / 3
    expected = whole / math.sin(turn) - whole / 2 / math.tan(turn)
    assert faced_integral(board, cut) == pytest.approx(expected, rel=1e-13)
    # On a bevel the cope and the miter part the wood alike only at the face.
    at = cut.stations(numbers(30.0, 15.0), numbers(0.0, 30.0), "above")
    assert at == pytest.approx([30.0 * math.tan(turn / 2), 15.0 * math.tan(turn / 2)], rel=1e-14)


def test_a_face_with_a_level_fillet_jumps() -> None:
    stepped = polygon((0, 0), (20, 0), (20, 30), (12, 30), (12, 50), (0, 50))
    line = face_line(stepped)
    assert line.breaks == (0.0, 30.0, 50.0)
    assert line.jumps == (0.0, 30.0, 50.0)
    at = numbers(-1.0, 0.0, 30.0 - 1e-13, 30.0, 30.0 + 1e-13, 50.0, 60.0)
    assert line.at(at, "below").tolist() == [0, 0, 20, 20, 20, 12, 0]
    assert line.at(at, "above").tolist() == [0, 20, 12, 12, 12, 0, 0]
    assert line.most == 20.0
    assert line.edge_at(40.0) is not None
    assert line.edge_at(51.0) is None
    whole = 20 * 20 * 30 + 12 * 12 * 20
    assert faced_integral(stepped, self_return(line, begins=False)) == pytest.approx(whole, rel=1e-14)


def test_above_a_lower_face_a_cope_runs_on_to_the_wall() -> None:
    turn = math.radians(70)
    cut = cope(face_line(block(20.0, 40.0)), turn, begins=True)
    d, h = numbers(0.0, 10.0, 10.0), numbers(45.0, 45.0, 39.0)
    assert cut.stations(d, h) == pytest.approx([0.0, -10 / math.tan(turn), (20 - 10 * math.cos(turn)) / math.sin(turn)])
    assert np.array_equal(cope(WALL, turn, begins=True).stations(d, h)[:2], cut.stations(d, h)[:2])
    assert np.allclose(cut.normals(h)[0], [math.sin(turn), math.cos(turn), 0.0])


def test_normals_are_square_to_the_cut() -> None:
    """By differences of the stations, on a round, a hollow and a slope."""
    for cut in (
        cope(face_line(BASE), 1.1, begins=True),
        cope(face_line(BASE), 2.0, begins=False),
        plane_cut(0.4, -0.3),
    ):
        h = np.linspace(0.3, measure(BASE).h_max - 0.3, 57)
        h = h[np.abs(h[:, None] - np.array(face_line(BASE).breaks)).min(axis=1) > 1e-3]
        d, step = np.full(len(h), 3.0), 1e-6
        normals = cut.normals(h)
        across = np.column_stack([cut.stations(d + step, h) - cut.stations(d - step, h), 2 * step + 0 * h, 0 * h])
        upward = np.column_stack([cut.stations(d, h + step) - cut.stations(d, h - step), 0 * h, 2 * step + 0 * h])
        assert np.abs((normals * across).sum(axis=1)).max() < 1e-12
        assert np.abs((normals * upward).sum(axis=1)).max() < 1e-10
        assert np.allclose(np.linalg.norm(normals, axis=1), 1.0)
        assert (normals[:, 0] > 0).all()


def test_a_plane_cut_is_the_centroid_s() -> None:
    size = measure(BASE)
    found = faced_integral(BASE, plane_cut(0.7, -0.4))
    assert found == pytest.approx(size.area * (0.7 * size.centroid[0] - 0.4 * size.centroid[1]), rel=1e-12)


@pytest.mark.parametrize("turn", [0.0, -1.0, math.pi])
def test_a_cope_stands_at_an_inside_corner(turn: float) -> None:
    with pytest.raises(ValueError, match="inside corner"):
        cope(WALL, turn, begins=True)


# What no saw can follow.


def test_hidden_parts_of_a_face() -> None:
    (lip,) = hidden(lipped())
    assert lip == HiddenFace(12.0, 20.0, 12.0)
    assert face_line(lipped()).at(numbers(12.0, 12.0 + 1e-6)).tolist() == [10.0, 22.0]
    below, above = hidden(quirked_round())
    root = 8 / math.sqrt(2)
    assert (below.low, below.high) == pytest.approx((12.0, 20 - root), abs=1e-9)
    assert (above.low, above.high) == pytest.approx((20 + root, 28.0), abs=1e-9)
    # At its upper end the neck stands 6 mm out, the round where it is widest there, 14 + 8 / root 2.
    assert below.depth == pytest.approx(14 + root - 6, abs=1e-3)


def test_shipped_profiles_hide_nothing() -> None:
    """Each could be run on a shaper from its face; so a saw can follow each."""
    assert {name: hidden(shipped(name)) for name in NAMES if hidden(shipped(name))} == {}


def test_a_relieved_back_is_no_hidden_face() -> None:
    backed = polygon((0, 0), (20, 0), (20, 40), (0, 40), (0, 30), (3, 32), (3, 8), (0, 10))
    assert hidden(backed) == ()


# All profiles and corners.


@pytest.mark.parametrize("name", NAMES)
def test_shipped_profiles_cope(name: str) -> None:
    profile = shipped(name)
    for degrees in (30, 90, 135):
        turn = math.radians(degrees)
        check_the_visible_line(profile, turn)
        check_the_touch(profile, turn)
    cut = cope(face_line(profile), math.radians(77), begins=True)
    assert faced_integral(profile, cut) == pytest.approx(summed(profile, math.radians(77), 1500), rel=2e-3)


@share(0.5)
@given(faces(), turns)
def test_any_profile_copes(profile: Profile, turn: float) -> None:
    check_the_visible_line(profile, turn)
    check_the_touch(profile, turn)


@share(0.1)
@given(faces(), turns)
def test_any_volume_by_strips(profile: Profile, turn: float) -> None:
    line = face_line(profile)
    found = faced_integral(profile, cope(line, turn, begins=True))
    strips = summed(profile, turn, 1000)
    assert found == pytest.approx(strips, rel=5e-3)
    assert faced_integral(profile, cope(line, turn, begins=False)) == pytest.approx(-found, rel=1e-12)


@pytest.mark.parametrize("profile", [lipped(), quirked_round(), hollow_neck()], ids=["lip", "round", "hollow"])
def test_undercut_profiles_by_strips(profile: Profile) -> None:
    cut = cope(face_line(profile), 1.2, begins=True)
    assert faced_integral(profile, cut) == pytest.approx(summed(profile, 1.2), rel=1e-3)


def check_the_visible_line(profile: Profile, turn: float) -> None:
    """Where the two faces meet, d = f(h), the cope shows the line of the miter, d tan(turn/2), to the last digit."""
    line = face_line(profile)
    face = outline(profile, line)
    for begins in (True, False):
        cut = cope(line, turn, begins=begins)
        sign = 1.0 if begins else -1.0
        low, high = (cut.stations(face[:, 0], face[:, 1], side) for side in ("below", "above"))
        miter = sign * face[:, 0] * math.tan(turn / 2)
        assert np.minimum(np.abs(low - miter), np.abs(high - miter)).max() < 1e-12 * max(
            1.0, line.most / math.sin(turn)
        )


def check_the_touch(profile: Profile, turn: float) -> None:
    """Every point of the cut stands on the other piece's true face, or on the two sides of a ledge of it."""
    size = measure(profile)
    rng = np.random.default_rng(5)
    d, h = rng.uniform(size.d_min, size.d_max, 80), rng.uniform(size.h_min + 1e-6, size.h_max - 1e-6, 80)
    for after in (True, False):
        for hand in (1, -1):
            coped, other = pair(profile, turn, hand=hand, after=after)
            at, cut = (coped.begin, coped.begin_cut) if after else (coped.end, coped.end_cut)
            places = out_from_other(other, coped.frame.points(at + cut.stations(d, h), d, h))
            assert distance_to(profile, places).max() < 1e-9
            assert np.abs(places[:, 1] - h).max() < 1e-9


@given(faces())
def test_a_self_return_is_as_large_as_a_mitered_one(profile: Profile) -> None:
    """Both stand for every (station, d) up to f at each height: f² in plan, where the wood reaches the wall."""
    line = face_line(profile)
    whole = polygonal_back(profile)
    found = faced_integral(profile, self_return(line, begins=False))
    if whole and not hidden(profile):
        size = measure(profile)
        assert found == pytest.approx(2 * size.area * size.centroid[0], rel=1e-10)
    assert faced_volume(returned(profile)) == pytest.approx(measure(profile).area * LONG + 2 * found, rel=1e-12)


def polygonal_back(profile: Profile) -> bool:
    """Whether the back is one line on the wall, from the foot to the top."""
    (d0, h0), (d1, h1) = profile.edges[-1].start, profile.edges[-1].end
    size = measure(profile)
    return d0 == d1 == 0.0 and (h1, h0) == (size.h_min, size.h_max)


# The section in bands.


@given(faces(), st.sampled_from([None, 0.02, 0.5]))
def test_a_banded_section_is_the_same_section(profile: Profile, chord: float | None) -> None:
    section = banded(profile, chord=chord)
    one, other = measure(profile), measure(section)
    assert other.area == pytest.approx(one.area, rel=1e-12)
    assert other.perimeter == pytest.approx(one.perimeter, rel=1e-12)
    starts = np.array([edge.start for edge in section.edges])
    assert distance_to(profile, starts).max() < 1e-9
    bands = cut_bands(section)
    wide = [np.diff(bands.points[list(row), 0]) for cell in bands.cells for row in (cell.foot, cell.head)]
    assert min((row.min() for row in wide if len(row)), default=1.0) > 0.0
    for edge in section.edges:
        if chord is not None and isinstance(edge, Arc):
            assert edge.radius * (1 - math.cos(edge.sweep / 2)) < chord * (1 + 1e-6)


def test_the_bands_of_a_stepped_board() -> None:
    """Two cells; the ledge is where the upper one stands on the lower one."""
    bands = cut_bands(banded(polygon((0, 0), (20, 0), (20, 30), (12, 30), (12, 50), (0, 50))))
    places = [[tuple(bands.points[i].tolist()) for i in (*cell.foot, *reversed(cell.head))] for cell in bands.cells]
    assert places == [
        [(0, 0), (20, 0), (20, 30), (12, 30), (0, 30)],
        [(0, 30), (12, 30), (12, 50), (0, 50)],
    ]
    assert [[tuple(bands.points[i].tolist()) for i in ledge] for ledge in bands.ledges] == [[(0, 30), (12, 30)]]


def test_slopes_are_parted_at_projections_where_they_have_them() -> None:
    """A roof from (10, 0) to (34, 18) and on to (10, 36): 18 and 26 out it is 6 and 12 up, or down from its top."""
    section = banded(polygon((0, 0), (10, 0), (34, 18), (10, 36), (0, 36)), outs=(18.0, 26.0))
    sloping = [edge.start for edge in section.edges if 10.0 < edge.start[0] < 34.0]
    wanted = {(18.0, 6.0), (26.0, 12.0), (26.0, 24.0), (18.0, 30.0)}
    assert {(round(d, 9), round(h, 9)) for d, h in sloping} == wanted


def test_the_bands_of_a_notched_board() -> None:
    """A V from the top down to 10 mm: beside it two cells, each with one of its slopes, which meet at its foot."""
    bands = cut_bands(banded(polygon((0, 0), (40, 0), (40, 30), (30, 30), (20, 10), (10, 30), (0, 30))))
    places = [[tuple(bands.points[i].tolist()) for i in (*cell.foot, *reversed(cell.head))] for cell in bands.cells]
    assert places == [
        [(0, 0), (40, 0), (40, 10), (20, 10), (0, 10)],
        [(0, 10), (20, 10), (10, 30), (0, 30)],
        [(20, 10), (40, 10), (40, 30), (30, 30)],
    ]
    ledges = [[tuple(bands.points[i].tolist()) for i in ledge] for ledge in bands.ledges]
    assert ledges == [[(0, 10), (20, 10)], [(20, 10), (40, 10)]]


def test_bands_ask_for_a_banded_section() -> None:
    with pytest.raises(ValueError, match="not cut at all of its heights"):
        cut_bands(replace(lipped()))


@pytest.mark.parametrize("coped", ["before", "after"])
@pytest.mark.parametrize("degrees", [50.0, 65.0, 90.0, 130.0])
def test_the_piece_that_is_not_coped_runs_on_to_the_other_wall(
    degrees: float, coped: Literal["before", "after"]
) -> None:
    """All of its end lies in the plane of that wall, from its back to as far out as it stands."""
    steps = [Straight(400.0), Corner(math.radians(degrees), Way("cope", coped=coped)), Straight(300.0)]
    first, second = join(lay_out("hall", steps), "base", BASE).pieces
    d = np.linspace(0.0, 31.75, 9)
    if coped == "after":
        plan, wall = first.end.points(d), np.array(second.element.tangent)
    else:
        plan, wall = second.begin.points(d), np.array(first.element.tangent)
    away = plan - np.array((400.0, 0.0))
    assert np.abs(away[:, 0] * wall[1] - away[:, 1] * wall[0]).max() < 1e-12
    # A point d out is d over the sine of the corner along that wall.
    assert np.linalg.norm(away, axis=1) == pytest.approx(d / math.sin(math.radians(degrees)))


@pytest.mark.parametrize("end", ["curve", "climb", "raked"])
def test_an_end_is_returned_on_itself_on_a_level_straight_only(end: str) -> None:
    """A level straight between climbs round two corners is raked to meet them, and carries another profile."""
    steps: dict[str, list[Step]] = {
        "curve": [Straight(400.0), Curve(-1.0, 200.0)],
        "climb": [Straight(400.0), Straight(400.0, 0.5)],
        "raked": [Straight(400.0), Corner(-RIGHT_ANGLE), Straight(400.0, 0.5), Corner(-RIGHT_ANGLE), Straight(400.0)],
    }
    run = replace(lay_out("hall", steps[end]), end="self-return")
    with pytest.raises(PreviewError) as caught:
        join(run, "base", BASE)
    (problem,) = caught.value.problems
    more = ", and not where the molding is raked to meet a climb round a corner" if end == "raked" else ""
    assert problem.problem == f"an end is returned on itself on a level straight only{more}"
    assert problem.fix == 'write end = "return", or end the run with a level straight'
