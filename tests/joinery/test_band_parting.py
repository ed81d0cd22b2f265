"""Where the edges of a section are parted, by hand: at heights, at projections, and for the steps of a mesh."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from faced_pieces import polygon
from preview.joinery import Cell, banded, cut_bands
from preview.profiles import Arc, Line, Profile, arc_through, make_profile
from samples import half_round, quarter_round

STEPPED = polygon((0, 0), (10, 0), (10, 5), (8, 5), (8, 9), (6, 9), (6, 14), (0, 14))
"""Two ledges on the face, and a plain back."""


def outline(*points: tuple[float, float]) -> Profile:
    """Straight lines from point to point, on the wall or not."""
    return Profile("outline", tuple(Line(a, b) for a, b in zip(points, [*points[1:], points[0]], strict=True)))


def starts(profile: Profile) -> list[tuple[float, float]]:
    return [edge.start for edge in profile.edges]


def arcs(profile: Profile) -> list[Arc]:
    return [edge for edge in profile.edges if isinstance(edge, Arc)]


def test_a_plain_back_is_parted_at_every_ledge_from_the_top_down() -> None:
    assert starts(banded(STEPPED)) == [*starts(STEPPED), (0.0, 9.0), (0.0, 5.0)]
    assert starts(banded(STEPPED, chord=0.1)) == starts(banded(STEPPED))  # no round asks for more
    more = banded(STEPPED, heights=[7.0, 2.0, 5.0])
    assert starts(more) == [
        (0.0, 0.0),
        (10.0, 0.0),
        (10.0, 2.0),
        (10.0, 5.0),
        (8.0, 5.0),
        (8.0, 7.0),
        (8.0, 9.0),
        (6.0, 9.0),
        (6.0, 14.0),
        (0.0, 14.0),
        (0.0, 9.0),
        (0.0, 7.0),
        (0.0, 5.0),
        (0.0, 2.0),
    ]


def test_a_slope_that_comes_back_in_is_parted_in_the_order_it_is_drawn() -> None:
    slope = polygon((0, 0), (10, 0), (4, 6), (0, 6))
    # The foot is crossed as well. An end that already stands on a projection is not one place more.
    made = starts(banded(slope, outs=[5.0, 7.0, 10.0, 4.0]))
    assert [d for d, _ in made] == [0.0, 4.0, 5.0, 7.0, 10.0, 7.0, 5.0, 4.0, 0.0, 0.0, 0.0]
    assert [h for _, h in made] == pytest.approx([0.0, 0.0, 0.0, 0.0, 0.0, 3.0, 5.0, 6.0, 6.0, 5.0, 3.0], abs=1e-12)


# Arcs at projections.


@pytest.mark.parametrize("move", [(0.0, 0.0), (3.0, -17.0)])
@pytest.mark.parametrize(("out", "count"), [(10.0, 1), (25.0, 1), (-25.0, 1), (9.999, 3), (6.0, 3)])
def test_a_half_round_is_parted_only_where_it_is_crossed(move: tuple[float, float], out: float, count: int) -> None:
    """Touched at its nose, or passed by, it stays whole."""
    assert len(arcs(banded(half_round(10.0).moved(*move), outs=[out + move[0]]))) == count


def round_from(below: float) -> Profile:
    """A round of 10 mm about the origin, from `below` mm under its nose to its top: its foot is as far under."""
    foot = (math.sqrt((10.0 - below) * (10.0 + below)), -below)
    arc = Arc(foot, (0.0, 10.0), (0.0, 0.0), math.pi / 2 + math.asin(below / 10.0))
    return Profile("round", (Line((0.0, -below), foot), arc, Line((0.0, 10.0), (0.0, -below))))


@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize(("below", "parted"), [(8.0, True), (1.55e-4, True), (1.3e-4, False), (0.0, False)])
def test_a_round_that_begins_on_a_projection_crosses_it_again_past_its_nose(
    flip: bool, below: float, parted: bool
) -> None:
    """As far above the nose as it begins below; within what a nanometer sideways makes of that, it is the same place.

    A nanometer off the nose of a round of radius r a chord stands sqrt(2 r 1e-6) up and down from it: 1.41e-4 mm.
    """
    profile, move = round_from(below), (3.0, -17.0)
    if flip:  # upside down, drawn the other way round
        foot, arc, back = profile.edges
        assert isinstance(arc, Arc)
        turned_over = Arc((0.0, -10.0), (arc.start[0], below), (0.0, 0.0), arc.sweep)
        profile = Profile(
            "round",
            (Line((0.0, below), (0.0, -10.0)), turned_over, Line((arc.start[0], below), (0.0, below))),
        )
        foot, back = back, foot
    (whole,) = arcs(profile)
    # Here and 3 mm out, 17 down: there the place is off by rounding.
    for at in ((0.0, 0.0), move):
        made = arcs(banded(profile.moved(*at), outs=[round_from(below).edges[0].end[0] + at[0]]))
        if at == (0.0, 0.0) or below in (8.0, 0.0):
            assert len(made) == (2 if parted else 1)
        assert sum(arc.sweep for arc in made) == pytest.approx(whole.sweep, rel=1e-12)
    if parted:
        made = arcs(banded(profile, outs=[round_from(below).edges[0].end[0]]))
        met = made[0].end
        assert met[1] == pytest.approx(-below if flip else below, rel=1e-5)


def test_a_crossing_a_hair_from_where_a_round_turns_back_is_its_end() -> None:
    """Half a nanometer inside the nose at which it begins: 1e-4 mm along, which rounding alone could make."""
    for move in ((0.0, 0.0), (3.0, -17.0)):
        whole = quarter_round(10.0).moved(*move)
        assert len(arcs(banded(whole, outs=[10.0 - 5e-10 + move[0]]))) == 1
        assert len(arcs(banded(whole, outs=[10.0 - 5e-9 + move[0]]))) == 2


def test_a_face_all_but_flat_is_parted_close_to_its_ends() -> None:
    """Bowed by a quarter of a micrometer over 14 mm: a radius of 100 m."""
    off = 2.5e-4 / math.sqrt(2.0)
    bowed = make_profile(
        "bowed",
        [
            Line((0.0, 0.0), (10.0, 0.0)),
            arc_through((10.0, 0.0), (5.0 + off, 5.0 + off), (0.0, 10.0)),
            Line((0.0, 10.0), (0.0, 0.0)),
        ],
    )
    made = arcs(banded(bowed, outs=[9.6, 0.4]))
    assert [arc.start[0] for arc in made] == [10.0, 9.6, 0.4]
    assert [arc.start[1] for arc in made] == pytest.approx([0.0, 0.4, 9.6], abs=1e-4)


# Steps of a mesh.


def ring(outer: float = 10.0, inner: float = 6.0) -> Profile:
    """A quarter of a ring about the origin: a round face with a hollow back."""
    quarter = math.pi / 2
    return Profile(
        "ring",
        (
            Arc((outer, 0.0), (0.0, outer), (0.0, 0.0), quarter),
            Line((0.0, outer), (0.0, inner)),
            Arc((0.0, inner), (inner, 0.0), (0.0, 0.0), -quarter),
            Line((inner, 0.0), (outer, 0.0)),
        ),
    )


@pytest.mark.parametrize(("out", "up"), [(0.0, 0.0), (25.0, 1000.0), (3.0, -700.0)])
@pytest.mark.parametrize("chord", [0.1, 0.01])
def test_a_face_keeps_even_steps_whatever_stands_behind_it(out: float, up: float, chord: float) -> None:
    """Even up to the height of the hollow's top, and even above it; the hollow takes those heights over."""
    profile = ring().moved(out, up)
    made = arcs(banded(profile, chord=chord))
    face = [arc for arc in made if arc.sweep > 0]
    hollow = [arc for arc in made if arc.sweep < 0]
    heights = sorted({arc.start[1] - up for arc in face} | {arc.end[1] - up for arc in face})
    # A step of t strays by r (1 - cos(t/2)); a quarter of its length is to spare.
    widest = 2 * math.acos(1 - chord / 10.0) / 1.25
    crest = math.asin(0.6)
    for first, last in ((0.0, crest), (crest, math.pi / 2)):
        count = math.ceil((last - first) / widest)
        for angle in np.linspace(first, last, count + 1):
            assert min(abs(h - 10.0 * math.sin(angle)) for h in heights) < 1e-8
    assert sum(h > 6.0 + 1e-9 for h in heights) == math.ceil((math.pi / 2 - crest) / widest)
    assert sorted(arc.end[1] - up for arc in hollow)[:-1] == pytest.approx(heights[: len(hollow)][:-1], abs=1e-9)
    for arc in made:
        assert arc.radius * (1 - math.cos(arc.sweep / 2)) <= chord * (1 + 1e-9)
    assert len(made) == len(arcs(banded(ring(), chord=chord)))


def test_steps_keep_apart_by_what_is_near() -> None:
    """Toward its top the even steps of a quarter round crowd together in height."""
    for near in (1.0, 0.3):
        made = banded(quarter_round(10.0), chord=1e-3, near=near)
        heights = sorted({edge.start[1] for edge in made.edges})
        assert min(b - a for a, b in pairwise(heights)) > near
        assert len(heights) > 4


# Cells.


@pytest.mark.parametrize("up", [0.0, 1000.0, -1000.0])
def test_a_cell_lies_between_its_left_and_its_right_edge(up: float) -> None:
    """However high it stands: the slope of its right edge leads far to the left, far below it."""
    bands = cut_bands(polygon((0, 0), (5, 0), (20, 30), (0, 30)).moved(0.0, up))
    assert bands.cells == (Cell(0, left=3, right=1, foot=(0, 1), head=(3, 2)),)
    assert bands.level.tolist() == [0, 0, 1, 1]
    assert bands.heights.tolist() == [up, 30.0 + up]
    assert bands.from_above.tolist() == [[True, True], [True, False], [False, False], [False, True]]


def test_the_wood_lies_above_a_foot_and_below_a_top() -> None:
    """Whatever comes next: here the face leans back over the foot, and the back out over the top."""
    foot = cut_bands(outline((5, 0), (10, 0), (3, 10)))
    assert foot.from_above.tolist() == [[True, True], [True, False], [False, True]]
    top = cut_bands(outline((10, 0), (9, 10), (6, 10)))
    assert top.from_above.tolist() == [[True, False], [False, False], [False, True]]


def test_a_section_not_cut_at_every_height_is_refused() -> None:
    """The back passes the foot of the bevel."""
    beveled = polygon((0, 0), (10, 0), (10, 20), (5, 30), (0, 30))
    with pytest.raises(ValueError, match="not cut at all of its heights"):
        cut_bands(beveled)
    assert len(cut_bands(banded(beveled)).cells) == 2


@pytest.mark.parametrize(("out", "fits"), [(10.5, True), (10.25, False), (10.1, False)])
def test_an_edge_between_near_heights_is_refused_from_45_degrees(out: float, fits: bool) -> None:
    """A quarter of a mm up, where half a mm is near: the foot, level, does not speak for it."""
    section = polygon((0, 0), (10, 0), (out, 0.25), (out, 10), (0, 10))
    if fits:
        assert cut_bands(section, near=0.5).level.tolist() == [0, 0, 0, 1, 1]
        return
    with pytest.raises(ValueError, match="too near to one another"):
        cut_bands(section, near=0.5)
