"""The trade shapes against the constructions that Nicholson and others publish.

Sources: P. Nicholson, The Mechanic's Companion, figs. 7 to 11; W. R. Ware, The American Vignola; and the
constructions of the talon and the cyma in the drawings of etc.usf.edu.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.profiles import SHAPES, Arc, Edge, Line, Profile, Shape, measure, sketch

FOOT = 60.0
sizes = st.floats(1.0, 20.0)
sides = st.sampled_from([1.0, -1.0])


def face(*shapes: Shape) -> list[Edge]:
    """The edges of the shapes alone, drawn between two upright fillets."""
    profile = sketch("face", FOOT, [Shape("fillet", 5.0), *shapes, Shape("fillet", 5.0)])
    return list(profile.edges[2:-3])


def arcs(*shapes: Shape) -> list[Arc]:
    found = [edge for edge in face(*shapes) if isinstance(edge, Arc)]
    assert len(found) == len(face(*shapes))
    return found


def way(edge: Edge, t: float) -> list[float]:
    """The direction of travel at a fraction of the edge."""
    return [float(part) for part in edge.tangent(t)]


UP, OUT, IN = [0.0, 1.0], [1.0, 0.0], [-1.0, 0.0]


def test_fillets_and_a_bevel() -> None:
    edges = face(Shape("fillet", out=4.0), Shape("fillet", 3.0), Shape("fillet", out=-2.0), Shape("bevel", 3.0, -4.0))
    assert edges == [
        Line((60, 5), (64, 5)),
        Line((64, 5), (64, 8)),
        Line((64, 8), (62, 8)),
        Line((62, 8), (58, 11)),
    ]


# Nicholson: astragal and torus are half circles, the center at mid-height.
@pytest.mark.parametrize("kind", ["bead", "torus", "astragal"])
def test_a_bead_is_a_half_round(kind: str) -> None:
    (arc,) = arcs(Shape(kind, 8.0))
    assert arc == Arc((60, 5), (60, 13), (60, 9), math.pi)
    assert arc.bounds[2] == 64.0


# Nicholson: the Roman ovolo is a quarter round, convex; the cavetto a quarter hollow whose center is where
# the two lines from its ends meet.
@pytest.mark.parametrize(
    ("kind", "out", "center", "sweep", "leaves", "arrives"),
    [
        ("ovolo", -6.0, (54, 5), 1, UP, IN),
        ("ovolo", 6.0, (60, 11), 1, OUT, UP),
        ("cove", -6.0, (60, 11), -1, IN, UP),
        ("cove", 6.0, (66, 5), -1, UP, OUT),
        ("cavetto", 6.0, (66, 5), -1, UP, OUT),
    ],
)
def test_quarters(
    kind: str, out: float, center: tuple[float, float], sweep: int, leaves: list[float], arrives: list[float]
) -> None:
    (arc,) = arcs(Shape(kind, 6.0, out))
    assert arc == Arc((60, 5), (60 + out, 11), center, sweep * math.pi / 2)
    assert way(arc, 0.0) == pytest.approx(leaves, abs=1e-15)
    assert way(arc, 1.0) == pytest.approx(arrives, abs=1e-15)


# Nicholson, figs. 7 and 8: where height and projection differ, arcs of the height as radius, struck from both
# ends, cross at the center.
@given(st.sampled_from(["ovolo", "cove"]), sizes, sizes, sides)
def test_unequal_rounds_have_their_center_one_radius_from_both_ends(
    kind: str, rise: float, aside: float, side: float
) -> None:
    (arc,) = arcs(Shape(kind, rise, side * aside))
    radius = max(rise, aside)
    assert math.dist(arc.center, arc.start) == pytest.approx(radius, rel=1e-9)
    assert math.dist(arc.center, arc.end) == pytest.approx(radius, rel=1e-9)
    assert (arc.sweep > 0) == (kind == "ovolo")
    assert abs(arc.sweep) <= math.pi / 2 + 1e-12


@given(st.sampled_from(["ovolo", "cove"]), sizes, sizes, sides, st.floats(0.5, 20.0))
def test_a_round_of_a_given_radius(kind: str, rise: float, aside: float, side: float, times: float) -> None:
    radius = times * math.hypot(rise, aside) + 1e-9
    (arc,) = SHAPES[kind](Shape(kind, rise, side * aside, radius), (60.0, 5.0), "mm")
    assert isinstance(arc, Arc)
    assert math.dist(arc.center, arc.start) == pytest.approx(radius, rel=1e-6)
    assert math.dist(arc.center, arc.end) == pytest.approx(radius, rel=1e-6)
    assert abs(arc.sweep) <= math.pi
    assert (arc.sweep > 0) == (kind == "ovolo")


def test_the_radius_that_keeps_a_round_between_its_ends() -> None:
    """(rise² + projection²) / (2 × the smaller): the arc leaves upright, and swells past neither end."""
    rise, aside = 12.0, 8.0
    (swollen,) = arcs(Shape("ovolo", rise, -aside))
    assert swollen.bounds[2] > 60.0
    (kept,) = arcs(Shape("ovolo", rise, -aside, (rise**2 + aside**2) / (2 * aside)))
    assert kept.bounds[2] == pytest.approx(60.0, abs=1e-12)
    assert way(kept, 0.0) == pytest.approx(UP, abs=1e-12)


# Nicholson, fig. 10: join the ends, bisect; two quarter circles, their centers on the level of the midpoint.
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_full_cyma_recta_is_two_quarters_of_half_the_height(side: float) -> None:
    lower, upper = arcs(Shape("ogee", 12.0, side * 12.0))
    middle = (60 + side * 6, 11)
    assert lower.end == upper.start == pytest.approx(middle, abs=1e-12)
    assert lower.center == pytest.approx((60, 11), abs=1e-12)
    assert upper.center == pytest.approx((60 + side * 12, 11), abs=1e-12)
    for arc in (lower, upper):
        assert arc.radius == pytest.approx(6.0, abs=1e-12)
        assert abs(arc.sweep) == pytest.approx(math.pi / 2, abs=1e-12)
    assert way(lower, 1.0) == pytest.approx(UP, abs=1e-12)


def round_or_hollow(arc: Arc) -> str:
    return "round" if arc.sweep > 0 else "hollow"


# Ware: the tangents at the ends are horizontal in a cyma recta and vertical in a cyma reversa. Nicholson: the
# projecting part is hollow in the recta and round in the reversa. Radii from the published constructions,
# which put the centers on the end normals: recta (p² + h²) / (4h), reversa (p² + h²) / (4p).
@given(sizes, sizes, sides)
def test_cyma_recta(rise: float, further: float, side: float) -> None:
    aside = rise + further
    lower, upper = arcs(Shape("ogee", rise, side * aside))
    level = OUT if side > 0 else IN
    assert way(lower, 0.0) == pytest.approx(level, abs=1e-9)
    assert way(upper, 1.0) == pytest.approx(level, abs=1e-9)
    radius = (aside**2 + rise**2) / (4 * rise)
    assert [lower.radius, upper.radius] == pytest.approx([radius, radius], rel=1e-9)
    projecting, other = (upper, lower) if side > 0 else (lower, upper)
    assert (round_or_hollow(projecting), round_or_hollow(other)) == ("hollow", "round")


@given(sizes, sizes, sides)
def test_cyma_reversa(aside: float, further: float, side: float) -> None:
    rise = aside + further
    lower, upper = arcs(Shape("reverse-ogee", rise, side * aside))
    assert way(lower, 0.0) == pytest.approx(UP, abs=1e-9)
    assert way(upper, 1.0) == pytest.approx(UP, abs=1e-9)
    radius = (aside**2 + rise**2) / (4 * aside)
    assert [lower.radius, upper.radius] == pytest.approx([radius, radius], rel=1e-9)
    projecting, other = (upper, lower) if side > 0 else (lower, upper)
    assert (round_or_hollow(projecting), round_or_hollow(other)) == ("round", "hollow")


@given(st.sampled_from(["ogee", "reverse-ogee"]), sizes, sizes, sides)
def test_every_cyma_is_smooth_symmetrical_and_never_undercut(kind: str, rise: float, aside: float, side: float) -> None:
    lower, upper = arcs(Shape(kind, rise, side * aside))
    assert way(lower, 1.0) == pytest.approx(way(upper, 0.0), abs=1e-9)
    assert lower.radius == pytest.approx(upper.radius, rel=1e-9)
    assert lower.sweep == pytest.approx(-upper.sweep, rel=1e-9)
    assert lower.end == pytest.approx((60 + side * aside / 2, 5 + rise / 2), abs=1e-9)
    # The mirror image through the middle: every point has its partner.
    t = np.linspace(0, 1, 7)
    assert lower.point(t) + upper.point(1 - t) == pytest.approx(
        np.tile(np.add(lower.start, upper.end), (7, 1)), abs=1e-9
    )
    # It always climbs, and always goes the same way sideways.
    ways = np.concatenate([lower.tangent(t), upper.tangent(t)])
    assert ways[:, 1].min() >= -1e-9
    assert (side * ways[:, 0]).min() >= -1e-9


# Outside the published range the middle, not the ends, is upright or level (our own extension, by symmetry).
def test_steep_ogees_stand_upright_at_the_middle() -> None:
    lower, _ = arcs(Shape("ogee", 16.0, -8.0))
    assert way(lower, 1.0) == pytest.approx(UP, abs=1e-12)
    lower, _ = arcs(Shape("reverse-ogee", 8.0, -16.0))
    assert way(lower, 1.0) == pytest.approx(IN, abs=1e-12)


# Nicholson, fig. 11: each half of the chord is the base of an equilateral triangle whose apex is the arc's
# center, so the radius is half the chord, each arc turns by 60 degrees and bulges 0.067 of the whole chord.
def test_a_flat_cyma() -> None:
    chord = 12 * math.sqrt(2)
    lower, upper = arcs(Shape("ogee", 12.0, -12.0, chord / 2))
    for arc in (lower, upper):
        assert math.degrees(abs(arc.sweep)) == pytest.approx(60, abs=1e-9)
        middle = ((arc.start[0] + arc.end[0]) / 2, (arc.start[1] + arc.end[1]) / 2)
        assert math.dist(arc.via, middle) / chord == pytest.approx(0.067, abs=5e-4)
        assert math.dist(arc.center, arc.start) == pytest.approx(math.dist(arc.start, arc.end), abs=1e-12)


# By its point symmetry a cyma halves the box between its ends (see the same constructions).
@given(st.sampled_from(["ogee", "reverse-ogee"]), sizes, sizes)
def test_a_cyma_leaves_half_of_its_box(kind: str, rise: float, aside: float) -> None:
    area = measure(sketch("cyma", FOOT, [Shape(kind, rise, -aside)])).area
    assert area == pytest.approx((FOOT - aside) * rise + aside * rise / 2, rel=1e-9)


# Nicholson, fig. 9: two quadrants, tangent, their centers on one level a third down; radii two thirds and one
# third of the height, so the lower lip stands a third of the height beyond the upper.
def test_a_scotia_of_thirds() -> None:
    lower, upper = arcs(Shape("scotia", 12.0, -4.0))
    assert lower == Arc((60, 5), (52, 13), (60, 13), -math.pi / 2)
    assert upper == Arc((52, 13), (56, 17), (56, 13), -math.pi / 2)
    assert (17 - lower.center[1]) / 12 == pytest.approx(1 / 3)
    assert (lower.radius, upper.radius) == (8.0, 4.0)


def test_a_scotia_between_equal_lips_is_a_half_hollow() -> None:
    assert arcs(Shape("scotia", 12.0)) == [Arc((60, 5), (60, 17), (60, 11), -math.pi)]


@given(sizes, st.floats(0.01, 0.95).flatmap(lambda part: st.sampled_from([part, -part])))
def test_every_scotia_is_two_tangent_quadrants(rise: float, part: float) -> None:
    lower, upper = arcs(Shape("scotia", rise, part * rise))
    assert way(lower, 0.0) == pytest.approx(IN, abs=1e-9)
    assert way(lower, 1.0) == pytest.approx(UP, abs=1e-9)
    assert way(upper, 0.0) == pytest.approx(UP, abs=1e-9)
    assert way(upper, 1.0) == pytest.approx(OUT, abs=1e-9)
    assert lower.center[1] == pytest.approx(upper.center[1], abs=1e-9)
    assert lower.radius + upper.radius == pytest.approx(rise, abs=1e-9)
    assert (lower.radius > upper.radius) == (part < 0)


# Machinery's Handbook, 31st ed., p. 80: what a quarter hollow leaves of its square is 0.2146 r².
def test_the_wood_of_a_cove() -> None:
    profile = sketch("cove", 10.0, [Shape("cove", 10.0, -10.0)])
    assert measure(profile).area == pytest.approx(21.46, abs=5e-3)
    assert len(profile.edges) == 3  # no top: the face ends on the wall


# A whole profile.


def test_a_plain_profile_closes_level_and_down_the_wall() -> None:
    profile = sketch("board", 19.0, [Shape("fillet", 80.0), Shape("ovolo", 6.0, -6.0)])
    assert profile == Profile(
        "board",
        (
            Line((0, 0), (19, 0)),
            Line((19, 0), (19, 80)),
            Arc((19, 80), (13, 86), (13, 80), math.pi / 2),
            Line((13, 86), (0, 86)),
            Line((0, 86), (0, 0)),
        ),
    )


def test_a_sprung_profile_lies_on_wall_and_ceiling() -> None:
    profile = sketch("crown", 10.0, [Shape("fillet", 5.0), Shape("cove", 40.0, 40.0)], wall=15.0, ceiling=20.0)
    assert profile.edges[3:] == (
        Line((50, 45), (30, 45)),
        Line((30, 45), (0, 15)),
        Line((0, 15), (0, 0)),
    )


@pytest.mark.parametrize("kind", SHAPES)
def test_every_shape_of_the_table_draws(kind: str) -> None:
    """Each starts where it should, ends where its sizes say, and is made of edges that meet."""
    out = 0.0 if kind in ("bead", "torus", "astragal", "fillet") else -5.0
    edges = SHAPES[kind](Shape(kind, 9.0, out), (60.0, 5.0), "mm")
    assert (edges[0].start, edges[-1].end) == ((60, 5), (60 + out, 14))
    for before, after in pairwise(edges):
        assert before.end == after.start
