"""Shapes and sketches of less than a millimeter, and of just the size that is still allowed."""

from __future__ import annotations

import math

import pytest

from preview.errors import PreviewError
from preview.profiles import SHAPES, Arc, Edge, Line, Shape, measure, sketch
from preview.profiles.shapes import draw_shape

INCH = 25.4
START = (60.0, 5.0)


def test_what_is_not_given_is_nothing() -> None:
    assert draw_shape(Shape("fillet", out=4.0), START, "mm") == [Line(START, (64.0, 5.0))]
    assert draw_shape(Shape("fillet", 4.0), START, "mm") == [Line(START, (60.0, 9.0))]


def ways(edges: list[Edge]) -> list[tuple[float, float]]:
    """The directions of travel at both ends of every edge."""
    return [(float(u), float(v)) for edge in edges for u, v in edge.tangent([0.0, 1.0])]


@pytest.mark.parametrize("out", [0.5, -0.5, 1.0, -1.0, 4.0, -4.0])
@pytest.mark.parametrize("kind", ["quirked-ovolo", "quirked-reverse-ogee"])
def test_a_quirked_shape_of_any_size_and_either_way(kind: str, out: float) -> None:
    """Twice as high as it goes in or out. Its round stands at the projecting end and comes back level there, the other
    end runs level (ovolo) or upright (reverse ogee), and the two run into one another without an arris."""
    rise = 2 * abs(out)
    edges = draw_shape(Shape(kind, rise, out), START, "mm")
    first, last = edges
    assert isinstance(first, Arc)
    assert isinstance(last, Arc)
    assert first.start == START
    assert last.end == pytest.approx((60.0 + out, 5.0 + rise))
    assert first.end == last.start
    nose, other = (last, first) if out > 0 else (first, last)
    assert nose.radius == pytest.approx(rise / (8 if kind == "quirked-ovolo" else 7))
    assert nose.sweep > 0.0
    assert (other.sweep > 0.0) == (kind == "quirked-ovolo")
    leaves, meets, meets_too, arrives = ways(edges)
    assert meets == pytest.approx(meets_too, abs=1e-9)
    at_nose, at_other = (arrives, leaves) if out > 0 else (leaves, arrives)
    level = (-1.0, 0.0) if out > 0 else (1.0, 0.0)
    assert at_nose == pytest.approx(level, abs=1e-9)
    aside = (1.0, 0.0) if out > 0 else (-1.0, 0.0)
    assert at_other == pytest.approx(aside if kind == "quirked-ovolo" else (0.0, 1.0), abs=1e-9)
    for arc in (first, last):
        assert math.dist(arc.center, arc.end) == pytest.approx(arc.radius)
        assert arc.point(1.0 - 1e-12) == pytest.approx(arc.end, abs=1e-9)


def test_a_radius_of_less_than_a_millimeter() -> None:
    """An ovolo between ends 0.6 and 0.8 apart, of a radius of 0.9: its half chord is 0.5."""
    (arc,) = draw_shape(Shape("ovolo", 0.6, -0.8, 0.9), START, "mm")
    assert isinstance(arc, Arc)
    assert arc.radius == pytest.approx(0.9)
    assert arc.sweep == pytest.approx(2 * math.asin(0.5 / 0.9))


@pytest.mark.parametrize(("kind", "turn"), [("ovolo", 1), ("cove", -1)])
@pytest.mark.parametrize("short", [0.0, 5e-13])
def test_a_radius_of_half_the_way_between_the_ends_makes_a_half_round(kind: str, turn: int, short: float) -> None:
    """Also where rounding has left it a hair too short."""
    (arc,) = draw_shape(Shape(kind, 6.0, -8.0, 5.0 * (1 - short)), START, "mm")
    assert isinstance(arc, Arc)
    assert arc.sweep == pytest.approx(turn * math.pi)
    assert arc.center == pytest.approx((56.0, 8.0))


@pytest.mark.parametrize("short", [0.0, 5e-13])
@pytest.mark.parametrize("kind", ["ogee", "reverse-ogee"])
def test_the_least_radius_of_a_cyma_is_the_one_it_has_of_itself(kind: str, short: float) -> None:
    """(6² + 8²) / (4 * 6), between its ends."""
    plain = draw_shape(Shape(kind, 6.0, -8.0), START, "mm")
    given = draw_shape(Shape(kind, 6.0, -8.0, 100 / 24 * (1 - short)), START, "mm")
    for one, other in zip(plain, given, strict=True):
        assert isinstance(one, Arc)
        assert isinstance(other, Arc)
        assert one.radius == pytest.approx(100 / 24)
        assert (other.sweep, *other.center) == pytest.approx((one.sweep, *one.center))


def test_the_flattest_arc_is_a_kilometer() -> None:
    (arc,) = draw_shape(Shape("cove", 6.0, -8.0, 1e6), START, "mm")
    assert isinstance(arc, Arc)
    assert abs(arc.sweep) == pytest.approx(10.0 / 1e6)
    with pytest.raises(PreviewError, match="cannot be told from a straight slope"):
        draw_shape(Shape("cove", 6.0, -8.0, 1.0001e6), START, "mm")


@pytest.mark.parametrize(("out", "said"), [(0.4, "0.4 mm out"), (-0.4, "0.4 mm in"), (1.0, "1 mm out")])
def test_a_little_out_is_out(out: float, said: str) -> None:
    with pytest.raises(PreviewError) as refused:
        draw_shape(Shape("bead", 6.0, out), START, "mm")
    (found,) = refused.value.problems
    way = said.split()[-1]
    assert found.place == way
    assert found.problem == f"a bead ends straight above its start, and this one goes {said}"
    assert found.fix.startswith(f"drop the {way}, ")
    with pytest.raises(PreviewError) as refused:
        draw_shape(Shape("bead", 6.0, math.copysign(math.inf, out)), START, "mm")
    assert refused.value.problems[0].place == way


def test_a_least_radius_in_feet_and_inches_is_in_sixteenths() -> None:
    """Half of 48 by 64 in. is 40 in., and of 36 by 48 is 30; a sixteenth more is not the least."""
    for unit, least in (("in", '40"'), ("ft", "3' 4\"")):
        with pytest.raises(PreviewError) as refused:
            draw_shape(Shape("ovolo", 48 * INCH, -64 * INCH, 20 * INCH), (90 * INCH, 0.0), unit)
        assert refused.value.problems[0].fix == f"use a radius of at least {least}, or leave it out"
    with pytest.raises(PreviewError, match="at least 762 mm"):
        draw_shape(Shape("ovolo", 36 * INCH, -48 * INCH, 20 * INCH), (90 * INCH, 0.0), "mm")


# What a function that was entered for a shape of its own may do wrong.


@pytest.mark.parametrize(
    ("edges", "said"),
    [
        ([], 'the shape "odd" gives no edges'),
        ([Line((60, 5), (60, 9)), "a line"], 'the shape "odd" gives str, and edges (Line, Arc) are wanted'),
        ([None], 'the shape "odd" gives NoneType, and edges (Line, Arc) are wanted'),
        ([Line((60, 5), (60, 9)), None], 'the shape "odd" gives NoneType, and edges (Line, Arc) are wanted'),
        ([Line((60, 5), (60, math.inf))], 'the shape "odd" gives an edge that ends nowhere'),
        ([Line((60, 5), (60, 7)), Line((60, 7), (math.nan, 9))], 'the shape "odd" gives an edge that ends nowhere'),
        ([Arc((60, 5), (60, math.nan), (60, 7), 3.0)], 'the shape "odd" gives an edge that ends nowhere'),
    ],
)
def test_a_shape_from_elsewhere_that_draws_no_face(
    monkeypatch: pytest.MonkeyPatch, edges: list[object], said: str
) -> None:
    monkeypatch.setattr(SHAPES, "_entered", {**SHAPES, "odd": lambda _shape, _start, _unit: edges})
    with pytest.raises(PreviewError) as refused:
        draw_shape(Shape("odd", 4.0), START, "mm")
    (found,) = refused.value.problems
    assert (found.problem, found.fix) == (said, "mend the function that was entered for it")
    assert found.place == ""


def test_a_shape_from_elsewhere_draws_its_edges(monkeypatch: pytest.MonkeyPatch) -> None:
    made = [Line((60, 5), (58, 5)), Arc((58, 5), (58, 9), (58, 7), math.pi)]
    monkeypatch.setattr(SHAPES, "_entered", {**SHAPES, "nook": lambda _shape, _start, _unit: made})
    assert draw_shape(Shape("nook", 4.0, -2.0), START, "mm") == made


# Sketches.


def refusal(foot: float, *shapes: Shape) -> tuple[str, str]:
    with pytest.raises(PreviewError) as refused:
        sketch("wrong", foot, shapes)
    (found,) = refused.value.problems
    return found.place, found.problem


def test_a_face_of_several_arcs_that_reaches_the_wall() -> None:
    """The second arc of an ogee ends on the wall, the first arc of a scotia swings behind it: both are told."""
    band = Shape("fillet", 5.0)
    reaches = ("shape 2 (ogee)", "the face reaches the wall here, and only its top may end on the wall")
    assert refusal(30.0, band, Shape("ogee", 20.0, -30.0), band) == reaches
    behind = "the face goes 2 mm behind the wall here, and only its top may end on the wall"
    assert refusal(30.0, band, Shape("ogee", 20.0, -32.0), band) == ("shape 2 (ogee)", behind)
    assert refusal(30.0, band, Shape("ogee", 20.0, -32.0)) == ("shape 2 (ogee)", behind)


def test_only_the_top_of_an_ogee_ends_on_the_wall() -> None:
    """It leaves half of the box between its ends."""
    top = sketch("top", 30.0, [Shape("fillet", 5.0), Shape("ogee", 20.0, -30.0)])
    assert measure(top).area == pytest.approx(30.0 * 5.0 + 30.0 * 20.0 / 2)


def test_a_flat_on_the_ceiling_of_less_than_a_micrometer_is_more_than_nothing() -> None:
    laid = sketch("crown", 10.0, [Shape("fillet", 5.0), Shape("bevel", 40.0, 10.0)], wall=5.0, ceiling=8e-4)
    assert laid.edges[3:] == (
        Line((20, 45), (20 - 8e-4, 45)),
        Line((20 - 8e-4, 45), (0, 5)),
        Line((0, 5), (0, 0)),
    )
