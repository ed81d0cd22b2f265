"""One body against the piece it should be: a strip with one fault, and the figure and the limit that it must have."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from model_bodies import curve, flipped, without_a_triangle
from preview.checks import Body, Finding
from preview.checks.alone import _probes, curved_share, on_its_own
from preview.checks.place import laid
from preview.checks.surface import surface
from preview.joinery import Piece, join
from preview.runs import Corner as Turn
from preview.runs import Curve, Straight, Way, lay_out
from samples import block, half_round, quarter_round
from test_joint_faults import STRIP
from test_many_bodies import box, one_mesh

CHORD = 0.03125
LOOP = [(0.0, 0.0), (20.0, 0.0), (20.0, 40.0), (0.0, 40.0)]
WALL = join(lay_out("wall", [Straight(300.0)]), "base", STRIP).pieces[0]
BAR = replace(box((0.0, 0.0, 0.0), (300.0, 20.0, 40.0)), step=0.0)


def asked(body: Body, piece: Piece = WALL, volume: float = 240000.0) -> dict[str, Finding]:
    skin = surface(body)
    found = on_its_own(piece, body, skin, laid(piece, skin.points), volume, CHORD)
    assert {each.subject for each in found} == {piece.name}
    return {each.check.code: each for each in found}


def failed(found: dict[str, Finding]) -> set[str]:
    return {code for code, each in found.items() if not each.holds}


def with_corner(body: Body, at: Sequence[float], to: Sequence[float]) -> Body:
    """A body with one of its corners moved."""
    here = (np.abs(body.vertices - np.array(at)) < 1e-9).all(axis=1)
    assert here.sum() == 1
    return replace(body, vertices=np.where(here[:, None], np.array(to), body.vertices))


def test_a_sound_strip() -> None:
    found = asked(BAR)
    assert list(found) == ["length", "closed", "outward", "one-body", "on-profile", "chord", "volume"]
    assert [each.figure for each in found.values()] == pytest.approx([0.0] * 7, abs=1e-12)
    assert [each.limit for each in found.values()] == [CHORD, 0, 0, 0, 0.002, CHORD, 0.0]
    assert {each.detail for each in found.values()} == {""}


@pytest.mark.parametrize("step", [0.125, 0.5])
def test_what_the_digits_of_a_file_allow(step: float) -> None:
    """A point may be off by one step, a distance of two points by two; a volume by two over all the surface."""
    found = asked(replace(BAR, step=step))
    assert found["length"].limit == pytest.approx(CHORD + 2 * step)
    assert found["on-profile"].limit == pytest.approx(0.002 + step)
    assert found["chord"].limit == pytest.approx(CHORD + 2 * step)
    assert found["volume"].limit == pytest.approx(2 * step * (2 * 800.0 + 300.0 * 120.0))


@pytest.mark.parametrize(
    ("to", "off", "where"),
    [
        ((300.0, 20.5, 40.0), 0.5, (20.5, 40.0)),
        ((300.0, 20.0, 40.25), 0.25, (20.0, 40.25)),
        ((300.0, 20.375, 40.5), 0.625, (20.375, 40.5)),
        ((300.0, 19.5, 40.0), 0.0, None),
        ((300.0, 19.5, 39.75), 0.25, (19.5, 39.75)),
    ],
)
def test_a_corner_off_the_profile(
    to: tuple[float, float, float], off: float, where: tuple[float, float] | None
) -> None:
    found = asked(with_corner(BAR, (300.0, 20.0, 40.0), to))["on-profile"]
    assert found.figure == pytest.approx(off)
    if where is not None:
        assert found.where == pytest.approx(where)


@pytest.mark.parametrize("at", [(300.0, 20.0, 40.0), (300.0, 0.0, 0.0)])
@pytest.mark.parametrize(("by", "holds"), [(0.03, True), (0.0325, False), (2.0, False)])
def test_a_strip_is_as_long_as_from_its_first_point_to_its_last(
    at: tuple[float, float, float], by: float, holds: bool
) -> None:
    longer = asked(with_corner(BAR, at, (300.0 + by, *at[1:])))["length"]
    assert (longer.figure, longer.holds) == (pytest.approx(by), holds)
    before = asked(with_corner(BAR, (0.0, *at[1:]), (-by, *at[1:])))["length"]
    assert (before.figure, before.holds) == (pytest.approx(by), holds)


def test_a_climbing_strip_is_measured_up_its_slope() -> None:
    piece = join(replace(lay_out("stair", [Straight(300.0, 0.75)]), raked="same"), "base", STRIP).pieces[0]
    cos, sin = 0.8, 0.6
    turn = np.array([(cos, 0.0, sin), (0.0, 1.0, 0.0), (-sin, 0.0, cos)])
    long = 300.0 / cos
    body = Body("bar", (), box((0.0, 0.0, 0.0), (long + 0.5, 20.0, 40.0)).vertices @ turn, BAR.triangles, None, 0.0)
    found = asked(body, piece, 800.0 * long)
    assert found["length"].figure == pytest.approx(0.5)
    assert found["on-profile"].figure == pytest.approx(0.0, abs=1e-9)
    assert found["volume"].figure == pytest.approx(400.0)


def test_a_body_with_a_hole_inside_out_or_in_two() -> None:
    open_ = asked(without_a_triangle(BAR))
    assert (open_["closed"].figure, open_["closed"].detail) == (3, "")
    assert asked(flipped(BAR))["outward"].figure == 1
    assert asked(flipped(BAR))["volume"].figure == pytest.approx(480000.0)
    halves = [box((0.0, 0.0, 0.0), (100.0, 20.0, 40.0)), box((150.0, 0.0, 0.0), (150.0, 20.0, 40.0))]
    two = asked(replace(one_mesh(halves), step=0.0))
    assert two["one-body"].figure == 1
    assert two["volume"].figure == pytest.approx(40000.0)
    three = asked(replace(one_mesh([*halves, box((120.0, 0.0, 0.0), (10.0, 20.0, 40.0))]), step=0.0))
    assert three["one-body"].figure == 2
    nothing = asked(replace(BAR, triangles=np.empty((0, 3), dtype=np.int64)))
    assert {"outward", "one-body", "volume"} <= failed(nothing)
    assert "length" not in nothing


def test_triangles_that_were_lost_when_stored_are_told() -> None:
    more = replace(BAR, triangles=np.concatenate([BAR.triangles, [(0, 0, 1), (2, 2, 2)]]))
    found = asked(more)["closed"]
    assert (found.figure, found.detail) == (0, "2 triangles collapsed when stored")


# Facets and end cuts.


@pytest.mark.parametrize(("short", "seen"), [(0.0098, True), (0.0102, False)])
@pytest.mark.parametrize("begin", [True, False])
def test_what_lies_within_a_hundredth_of_a_mm_of_a_cut_lies_on_it(short: float, seen: bool, begin: bool) -> None:
    """A face that does not is taken for a side, whose middle then strays: half of 20 mm from the profile."""
    first, last = (short, 300.0) if begin else (0.0, 300.0 - short)
    found = asked(replace(box((first, 0.0, 0.0), (last - first, 20.0, 40.0)), step=0.0))["chord"]
    assert found.figure == pytest.approx(0.0 if seen else 10.0, abs=1e-9)
    assert found.detail == ""
    # Two steps of the numbers more.
    coarse = asked(replace(box((first, 0.0, 0.0), (last - first, 20.0, 40.0)), step=0.001))["chord"]
    assert coarse.figure == pytest.approx(0.0, abs=1e-9)


POST = join(lay_out("post", [Curve(-1.2, 100.0)]), "base", STRIP).pieces[0]
"""Round a post of 100 mm: the face on 120."""


@pytest.mark.parametrize("steps", [12, 40])
def test_the_facets_of_a_curve_stray_by_their_sagitta(steps: int) -> None:
    body = curve("bend", 100.0, 1.2, steps, LOOP)
    found = asked(body, POST, 40 * (120.0**2 - 100.0**2) / 2 * 1.2)
    assert "length" not in found
    # On the face the middle of a facet is 120 (1 - cos) inside the circle.
    sagitta = 120.0 * (1 - math.cos(0.6 / steps))
    assert found["chord"].figure == pytest.approx(sagitta, rel=1e-6)
    assert found["chord"].where == pytest.approx((20.0 - sagitta, 20.0), abs=20.0)
    assert found["on-profile"].figure == pytest.approx(0.0, abs=1e-9)
    # A prism of triangles' areas: R² sin(a) / 2 in place of R² a / 2.
    lost = 40 * (120.0**2 - 100.0**2) / 2 * (1.2 - steps * math.sin(1.2 / steps))
    assert found["volume"].figure == pytest.approx(lost, rel=1e-6)
    assert found["volume"].limit == pytest.approx(CHORD * surface(body).area, rel=1e-9)


@pytest.mark.parametrize(("short", "seen"), [(0.0082, True), (0.0085, False)])
def test_how_far_a_curve_is_off_its_cut_is_measured_at_its_face(short: float, seen: bool) -> None:
    """0.0083 mm on the back line of 100 mm are 0.01 mm on the face of 120."""
    body = curve("bend", 100.0, 1.2 - short / 100.0, 40, LOOP)
    figure = asked(body, POST)["chord"].figure
    assert (figure < 0.1) is seen
    assert seen or figure > 5.0


def test_the_middles_of_triangles_and_of_their_sides() -> None:
    points = np.array([(0.0, 0.0, 0.0), (6.0, 0.0, 0.0), (0.0, 6.0, 0.0), (0.0, 0.0, 6.0)])
    found = _probes(points, np.array([(0, 2, 1), (0, 1, 3), (1, 2, 3), (2, 0, 3)]))
    middles = [(2.0, 2.0, 0.0), (2.0, 0.0, 2.0), (2.0, 2.0, 2.0), (0.0, 2.0, 2.0)]
    assert found[:4].tolist() == [list(each) for each in middles]
    halves = [[0.0, 0.0, 3.0], [0.0, 3.0, 0.0], [0.0, 3.0, 3.0], [3.0, 0.0, 0.0], [3.0, 0.0, 3.0], [3.0, 3.0, 0.0]]
    assert sorted(found[4:].tolist()) == halves


def test_how_much_of_a_piece_facets_can_only_follow() -> None:
    def share(piece: Piece) -> float:
        return curved_share(piece)

    assert share(WALL) == 0.0
    assert share(POST) == 1.0
    round_ = join(lay_out("wall", [Straight(300.0)]), "base", quarter_round(10.0)).pieces[0]
    assert share(round_) == pytest.approx(math.pi * 5 / (math.pi * 5 + 20))
    half = join(lay_out("wall", [Straight(300.0)]), "base", half_round(10.0)).pieces[0]
    assert share(half) == pytest.approx(math.pi * 10 / (math.pi * 10 + 20))


def test_a_coped_strip_whose_end_is_worked_out_of_the_square() -> None:
    """Along the face of the other, at y = 20 and 40 high; one short of it by a hundredth of a mm lies on it,
    and one that is too long, whose corners lie on the ledges at its foot and top."""
    run = lay_out("hall", [Straight(400.0), Turn(math.pi / 2, Way("cope")), Straight(300.0)])
    piece = join(run, "base", block(20.0, 40.0)).pieces[1]
    for off, seen in ((0.0, True), (0.0098, True), (0.0102, False), (-0.0102, True)):
        body = replace(box((380.0, 20.0 + off, 0.0), (20.0, 280.0 - off, 40.0)), step=0.0)
        found = asked(body, piece, 800.0 * 280.0)["chord"]
        assert found.figure == pytest.approx(abs(off) if seen else 10.0, abs=1e-9)
        if off:
            assert found.detail == ("on an end cut" if seen else "")
