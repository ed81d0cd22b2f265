"""The classical shapes of the library, each against the construction that its handbook gives.

Sources: P. Nicholson, The Mechanic's Companion, figs. 7 to 11 (rudemechanicalspress.com, 2018-08-31), and his plates of
1823 (digi.ub.uni-heidelberg.de, nicholson1823/0015); R. G. Hatfield, The American House Carpenter, arts. 309 and 310;
Building Trades Pocketbook (International Correspondence Schools), "Roman moldings"; T. Sheraton, 1793
(digi.ub.uni-heidelberg.de, sheraton1793/0232); W. R. Ware, The American Vignola; the drawings "construction of a cyma"
and "talon" of etc.usf.edu.
"""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.profiles import SHAPES, Arc, Edge, Line, Shape, sketch
from preview.scene import load_profile

INCH = 25.4
FOLDER = Path(__file__).parents[2] / "profiles"
UP, OUT, IN = (0.0, 1.0), (1.0, 0.0), (-1.0, 0.0)
sizes = st.floats(1.0, 20.0)
sides = st.sampled_from([1.0, -1.0])


def arcs(name: str) -> list[Arc]:
    """The arcs of a classical profile, from the foot up, in inches."""
    found = [edge for edge in load_profile(FOLDER / f"classical-{name}.toml").edges if isinstance(edge, Arc)]
    return [inches(arc) for arc in found]


def inches(arc: Arc) -> Arc:
    start, end, center = ((d / INCH, h / INCH) for d, h in (arc.start, arc.end, arc.center))
    return Arc(start, end, center, arc.sweep)


def way(edge: Edge, t: float) -> tuple[float, float]:
    """The direction of travel at a fraction of the edge."""
    d, h = edge.tangent(t).tolist()
    return (d, h)


def near(point: tuple[float, float]) -> object:
    return pytest.approx(point, abs=1e-9)


def across(arc: Arc, other: Arc) -> tuple[float, float, float]:
    """Height, projection and chord from where one arc starts to where the other ends."""
    d, h = other.end[0] - arc.start[0], other.end[1] - arc.start[1]
    return h, abs(d), math.hypot(d, h)


def meet_smoothly(before: Arc, after: Arc) -> bool:
    """Whether two arcs share a point and a tangent there, so that it lies on the line of their centers."""
    apart = math.dist(before.center, after.center)
    same_side = before.sweep * after.sweep > 0
    reach = abs(before.radius - after.radius) if same_side else before.radius + after.radius
    return before.end == after.start and math.isclose(apart, reach, rel_tol=1e-9)


# Hatfield, art. 309: a flat square band.
def test_the_fillet_is_a_square_band() -> None:
    edges = load_profile(FOLDER / "classical-fillet.toml").edges
    assert all(isinstance(edge, Line) for edge in edges)
    under, face, over = edges[2:5]
    assert way(under, 0.0) == OUT
    assert way(over, 0.0) == IN
    assert (under.length, over.length) == near((face.length, face.length))  # as far out as it is high: square


# Nicholson; ICS: half circles, the center at mid-height; they stand out by half their height.
@pytest.mark.parametrize(("name", "height"), [("astragal", 3 / 8), ("torus", 1.0)])
def test_astragal_and_torus_are_half_circles(name: str, height: float) -> None:
    (arc,) = arcs(name)
    assert arc.sweep == math.pi
    assert arc.end[1] - arc.start[1] == pytest.approx(height)
    assert arc.center == near((arc.start[0], (arc.start[1] + arc.end[1]) / 2))
    assert arc.bounds[2] - arc.start[0] == pytest.approx(height / 2)


# Nicholson; ICS: quarter circles; the cavetto's center (fig. 8) is where the two lines from its ends meet.
@pytest.mark.parametrize(("name", "sweep", "leaves"), [("ovolo", 90.0, OUT), ("cavetto", -90.0, UP)])
def test_ovolo_and_cavetto_are_quarter_circles(name: str, sweep: float, leaves: tuple[float, float]) -> None:
    (arc,) = arcs(name)
    assert math.degrees(arc.sweep) == pytest.approx(sweep)
    height, projection, _ = across(arc, arc)
    assert height == pytest.approx(projection) == pytest.approx(arc.radius) == pytest.approx(3 / 4)
    corner = (arc.start[0], arc.end[1]) if sweep > 0 else (arc.end[0], arc.start[1])
    assert arc.center == near(corner)
    assert way(arc, 0.0) == near(leaves)


# Nicholson, fig. 7: where the height and the projection differ, the radius is the height.
def test_a_tall_ovolo_has_its_height_for_radius() -> None:
    (arc,) = arcs("tall-ovolo")
    height, projection, _ = across(arc, arc)
    assert (height, projection) == pytest.approx((1.0, 5 / 8))
    assert math.dist(arc.center, arc.start) == pytest.approx(height)
    assert math.dist(arc.center, arc.end) == pytest.approx(height)
    assert arc.sweep > 0


# Nicholson, fig. 10; ICS, fig. 5 (d): two quarter circles, their centers on the level of the middle of the chord. Ware:
# the ends of a cyma recta run level.
def test_the_cyma_recta() -> None:
    lower, upper = arcs("cyma-recta")
    height, projection, _ = across(lower, upper)
    assert height == pytest.approx(projection)
    assert lower.radius == pytest.approx(height / 2)
    assert upper.radius == pytest.approx(height / 2)
    assert lower.center[1] == pytest.approx(upper.center[1]) == pytest.approx(lower.start[1] + height / 2)
    assert (math.degrees(lower.sweep), math.degrees(upper.sweep)) == pytest.approx((90, -90))
    assert way(lower, 0.0) == near(OUT)
    assert way(upper, 1.0) == near(OUT)
    assert meet_smoothly(lower, upper)


# etc.usf.edu: from the quarter points of the chord, square to it, to the normals at the ends. So the center lies as far
# from the end as from the middle of the chord, and on the end's normal.
@pytest.mark.parametrize(
    ("name", "height", "projection", "radius", "normal"),
    [
        ("wide-cyma-recta", 3 / 4, 1.0, (1.0 + 9 / 16) / (4 * 3 / 4), "plumb"),
        ("cyma-reversa", 1.0, 3 / 4, (9 / 16 + 1.0) / (4 * 3 / 4), "level"),
    ],
)
def test_the_general_cyma(name: str, height: float, projection: float, radius: float, normal: str) -> None:
    lower, upper = arcs(name)
    assert across(lower, upper)[:2] == pytest.approx((height, projection))
    middle = ((lower.start[0] + upper.end[0]) / 2, (lower.start[1] + upper.end[1]) / 2)
    assert lower.end == near(middle)
    for arc, end, quarter in ((lower, lower.start, 1 / 4), (upper, upper.end, 3 / 4)):
        assert arc.radius == pytest.approx(radius)
        axis = 0 if normal == "plumb" else 1
        assert arc.center[axis] == pytest.approx(end[axis])
        at = (lower.start[0] + quarter * projection, lower.start[1] + quarter * height)
        square = (arc.center[0] - at[0]) * projection + (arc.center[1] - at[1]) * height
        assert square == pytest.approx(0.0, abs=1e-9)
    assert (lower.sweep > 0) == (name == "wide-cyma-recta")  # recta: round below; reversa: hollow below
    assert meet_smoothly(lower, upper)


# Nicholson, fig. 11; Sheraton: each half of the chord is the base of a triangle of equal sides, its apex the center.
def test_the_flat_cyma() -> None:
    lower, upper = arcs("flat-cyma-recta")
    _, _, chord = across(lower, upper)
    assert chord == pytest.approx(5 / 4)
    for arc in (lower, upper):
        sides = [math.dist(*ends) for ends in ((arc.start, arc.end), (arc.end, arc.center), (arc.center, arc.start))]
        assert sides == pytest.approx([chord / 2] * 3)
        assert math.degrees(abs(arc.sweep)) == pytest.approx(60)
    assert (lower.sweep > 0, upper.sweep > 0) == (True, False)
    assert meet_smoothly(lower, upper)


# Nicholson, fig. 9: two quadrants, tangent, their centers on one level a third down. Sheraton: the height in seven
# parts, the upper circle three of them, the level of change at the fourth.
@pytest.mark.parametrize(
    ("name", "height", "upper_part", "lower_part", "parts"),
    [("scotia", 3 / 4, 1, 2, 3), ("scotia-of-seven-parts", 7 / 8, 3, 4, 7)],
)
def test_the_scotias(name: str, height: float, upper_part: int, lower_part: int, parts: int) -> None:
    lower, upper = arcs(name)
    assert across(lower, upper)[0] == pytest.approx(height)
    assert (upper.radius, lower.radius) == pytest.approx((upper_part * height / parts, lower_part * height / parts))
    assert lower.center[1] == pytest.approx(upper.center[1]) == pytest.approx(upper.end[1] - upper.radius)
    for arc in (lower, upper):
        assert math.degrees(arc.sweep) == pytest.approx(-90)
    assert lower.start[0] - upper.end[0] == pytest.approx(height / parts)  # the lower lip beyond the upper
    assert meet_smoothly(lower, upper)


# Nicholson, 1823: the height in four parts; a circle of one part (its diameter: our reading) at the projecting end, and
# a larger arc tangent to it.
def test_the_quirked_ovolo() -> None:
    larger, nose = arcs("quirked-ovolo")
    height, projection, _ = across(larger, nose)
    assert (height, projection) == pytest.approx((1.0, 5 / 8))
    assert 2 * nose.radius == pytest.approx(height / 4)
    assert nose.center == near((nose.end[0], nose.end[1] - height / 8))
    assert larger.radius > nose.radius
    assert larger.sweep > 0
    assert nose.sweep > 0
    assert meet_smoothly(larger, nose)


# Nicholson, 1823: the height in seven parts; the upper two carry a semicircle, and one arc tangent to it makes the
# rest.
def test_the_quirked_cyma_reversa() -> None:
    larger, nose = arcs("quirked-cyma-reversa")
    height, projection, _ = across(larger, nose)
    assert (height, projection) == pytest.approx((1.0, 1 / 2))
    assert 2 * nose.radius == pytest.approx(2 / 7 * height)
    assert nose.center == near((nose.end[0], nose.end[1] - height / 7))
    assert larger.sweep < 0 < nose.sweep
    assert way(larger, 0.0) == near(UP)  # Ware's rule for a cyma reversa
    assert meet_smoothly(larger, nose)


def drawn(kind: str, rise: float, out: float) -> tuple[Arc, Arc]:
    """A quirked shape from (60, 5) mm, its larger arc first."""
    first, second = SHAPES[kind](Shape(kind, rise, out), (60.0, 5.0), "mm")
    assert isinstance(first, Arc)
    assert isinstance(second, Arc)
    assert (first.start, second.end) == ((60.0, 5.0), (60.0 + out, 5.0 + rise))
    return (first, second) if out > 0 else (second.reversed(), first.reversed())


@given(sizes, sizes, sides)
def test_every_quirked_ovolo(rise: float, aside: float, side: float) -> None:
    larger, nose = drawn("quirked-ovolo", rise, side * aside)
    assert nose.radius == pytest.approx(rise / 8, rel=1e-9)
    assert meet_smoothly(larger, nose)
    assert way(larger, 0.0) == near(OUT)
    assert way(nose, 1.0) == near(IN)
    assert larger.sweep * side > 0  # read from the receding end, an upside-down one turns the other way
    assert abs(larger.sweep) + abs(nose.sweep) == pytest.approx(math.pi)


@given(sizes, st.floats(0.05, 5 / 7), sides)
def test_every_quirked_reverse_ogee(rise: float, part: float, side: float) -> None:
    larger, nose = drawn("quirked-reverse-ogee", rise, side * part * rise)
    assert nose.radius == pytest.approx(rise / 7, rel=1e-9)
    assert meet_smoothly(larger, nose)
    assert way(larger, 0.0) == near((0.0, side))
    assert way(nose, 1.0) == near(IN)
    assert abs(nose.sweep) <= math.pi + 1e-9
    assert abs(larger.sweep) <= math.pi / 2 + 1e-9


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_five_parts_out_take_the_semicircle_whole(side: float) -> None:
    larger, nose = drawn("quirked-reverse-ogee", 14.0, side * 10.0)
    assert math.degrees(abs(nose.sweep)) == pytest.approx(180)
    assert math.degrees(abs(larger.sweep)) == pytest.approx(90)
    assert larger.radius == pytest.approx(10.0)


def test_a_quirked_face_climbs_all_the_way() -> None:
    """It hides no part of itself from a cutter that comes straight at the wall."""
    for kind in ("quirked-ovolo", "quirked-reverse-ogee"):
        for out in (6.0, -6.0):
            for before, after in pairwise(SHAPES[kind](Shape(kind, 12.0, out), (60.0, 5.0), "mm")):
                for edge in (before, after):
                    assert edge.tangent([0.0, 0.25, 0.5, 0.75, 1.0])[:, 1].min() >= -1e-9


@pytest.mark.parametrize(
    ("shape", "place", "problem"),
    [
        (
            Shape("quirked-reverse-ogee", 7.0, -6.0),
            "shape 1 (quirked-reverse-ogee), in",
            (
                "a quirked-reverse-ogee moves in or out by at most 5/7 of its rise, and this one rises 7 mm and goes "
                "6 mm in"
            ),
        ),
        (
            Shape("quirked-ovolo", 8.0, 5.0, 9.0),
            "shape 1 (quirked-ovolo), radius",
            "a quirked-ovolo takes no radius: its size sets it",
        ),
        (
            Shape("quirked-reverse-ogee", 8.0, 5.0, 9.0),
            "shape 1 (quirked-reverse-ogee), radius",
            "a quirked-reverse-ogee takes no radius: its size sets it",
        ),
        (
            Shape("quirked-ovolo", 8.0),
            "shape 1 (quirked-ovolo)",
            "a quirked-ovolo needs a rise and an in or out, and this one has no in or out",
        ),
    ],
)
def test_what_a_quirked_shape_refuses(shape: Shape, place: str, problem: str) -> None:
    with pytest.raises(PreviewError) as caught:
        sketch("wrong", 20.0, [shape])
    (told,) = caught.value.problems
    assert (told.place, told.problem) == (place, problem)


def test_a_flattest_quirked_ovolo() -> None:
    with pytest.raises(PreviewError, match="cannot be told from a straight slope"):
        sketch("wrong", 20.0, [Shape("quirked-ovolo", 1.0, 5000.0)])
