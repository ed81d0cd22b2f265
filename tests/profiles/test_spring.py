"""Sprung moldings: laid at the trade's angles, bearing exactly on wall and ceiling, and back where they came from."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import affinity

from preview.errors import PreviewError
from preview.profiles import (
    Arc,
    Edge,
    Line,
    Profile,
    Shape,
    back_relief,
    flatten,
    make_profile,
    measure,
    sketch,
    sprung,
)

INCH = 25.4


def block(width: float, thickness: float) -> Profile:
    """Stock with square edges, flat on its back."""
    corners = [(0.0, 0.0), (thickness, 0.0), (thickness, width), (0.0, width)]
    return make_profile("stock", [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)])


def crown(out: float, high: float, wall: float, ceiling: float) -> Profile:
    """A crown as it stands in the corner: a cove and a slope between two bands."""
    band = high / 10
    rest = out - out / 5 - band
    shapes = [Shape("fillet", band), Shape("cove", band, band), Shape("bevel", high - 3 * band, rest)]
    return sketch("crown", out / 5, [*shapes, Shape("fillet", band)], wall=wall, ceiling=ceiling)


def laid_flat(profile: Profile, spring: float) -> Profile:
    """A crown taken down and laid on its back: turned the other way about by complex numbers, not by our code."""
    turn = complex(math.cos(spring), math.sin(spring))

    def turned(edge: Edge) -> Edge:
        def spot(at: tuple[float, float]) -> tuple[float, float]:
            found = complex(*at) * turn
            return (found.real, found.imag)

        if isinstance(edge, Arc):
            return Arc(spot(edge.start), spot(edge.end), spot(edge.center), edge.sweep)
        return Line(spot(edge.start), spot(edge.end))

    edges = [turned(edge) for edge in profile.edges]
    left, low = (min(edge.bounds[axis] for edge in edges) for axis in (0, 1))
    return make_profile(profile.name, [edge.moved(-left, -low) for edge in edges])


def back_of(profile: Profile) -> Line:
    """The line that stands off the corner: its wood looks at the wall and at the ceiling at once."""
    looks = [
        edge
        for edge in profile.edges
        if isinstance(edge, Line) and edge.end[0] < edge.start[0] - 1e-6 and edge.end[1] < edge.start[1] - 1e-6
    ]
    return max(looks, key=lambda edge: edge.length)


def spring_from_the_wall(profile: Profile) -> float:
    """Degrees between the back and the wall."""
    (d0, h0), (d1, h1) = back_of(profile).start, back_of(profile).end
    return math.degrees(math.atan2(d0 - d1, h0 - h1))


def flats(profile: Profile) -> tuple[float, float]:
    """The lines that lie exactly on the wall, and exactly as high as the profile is."""
    top = measure(profile).h_max
    lines = [edge for edge in profile.edges if isinstance(edge, Line)]
    return (
        sum(edge.length for edge in lines if edge.start[0] == edge.end[0] == 0.0),
        sum(edge.length for edge in lines if edge.start[1] == edge.end[1] == top),
    )


def same_points(one: Profile, other: Profile, within: float) -> None:
    a = np.array([edge.start for edge in one.edges])
    b = np.array([edge.start for edge in other.edges])
    assert a.shape == b.shape
    assert np.abs(a - b).max() <= within


@pytest.mark.parametrize(("spring", "to_ceiling"), [(38, 52), (45, 45), (52, 38)])
def test_trade_springs(spring: float, to_ceiling: float) -> None:
    """38/52 and 45/45 name the two angles of the back, to the wall and to the ceiling (woodweb.com, Finding Compound
    Angles for Crown Moulding)."""
    laid = sprung(block(4.625 * INCH, 11 / 16 * INCH), math.radians(spring)).profile
    assert spring_from_the_wall(laid) == pytest.approx(spring, abs=1e-9)
    assert 90 - spring_from_the_wall(laid) == pytest.approx(to_ceiling, abs=1e-9)


def test_a_crown_of_nominal_4_5_8_by_11_16() -> None:
    """WM 47: 11/16 x 4-5/8, 3-5/8 high x 2-5/8 out (ncwoodworker.net 63643, as read). The two sizes in position
    make its spring atan(2.625 / 3.625) = 35.9 degrees and its face 4.476 in, which a 4-5/8 strip holds."""
    high, out = 3.625 * INCH, 2.625 * INCH
    spring = math.atan(2.625 / 3.625)
    assert math.degrees(spring) == pytest.approx(35.9, abs=0.02)
    standing = crown(out, high, 0.14 * high, 0.14 * out)
    assert spring_from_the_wall(standing) == pytest.approx(35.9, abs=0.02)
    flat = laid_flat(standing, spring)
    size = measure(flat)
    assert size.h_max / INCH == pytest.approx(4.476, abs=5e-4)
    assert size.h_max <= 4.625 * INCH
    laid = sprung(flat, spring)
    same_points(laid.profile, standing, 1e-9)
    size = measure(laid.profile)
    assert (size.d_max / INCH, size.h_max / INCH) == (pytest.approx(2.625), pytest.approx(3.625))
    assert (laid.wall, laid.ceiling) == (pytest.approx(0.14 * high), pytest.approx(0.14 * out))


@given(st.floats(70, 150), st.floats(70, 150), st.floats(0.1, 0.2), st.floats(0.1, 0.2))
def test_a_crown_taken_down_goes_back_up(out: float, high: float, wall: float, ceiling: float) -> None:
    """Bevels that were plumb and level are so again, exactly: no rounding between wood, wall and ceiling."""
    standing = crown(out, high, wall * high, ceiling * out)
    spring = math.radians(spring_from_the_wall(standing))
    laid = sprung(laid_flat(standing, spring), spring)
    same_points(laid.profile, standing, 1e-7)
    assert flats(laid.profile) == (pytest.approx(wall * high), pytest.approx(ceiling * out))
    assert all("lies on" in note and "trued" not in note for note in laid.notes)


@given(st.floats(-0.19, 0.19))
def test_bevels_nearly_true_are_trued(off: float) -> None:
    """Within 0.2 degrees a bevel is planed true: no wood is added, and no more than the sliver goes."""
    standing = crown(60.0, 80.0, 12.0, 9.0)
    spring = spring_from_the_wall(standing)
    flat = laid_flat(standing, math.radians(spring))
    laid = sprung(flat, math.radians(spring + off)).profile
    wall, ceiling = flats(laid)
    assert (wall, ceiling) == (pytest.approx(12.0, rel=0.005), pytest.approx(9.0, rel=0.02))
    lost = measure(flat).area - measure(laid).area
    slivers = math.tan(math.radians(abs(off))) * (wall**2 + ceiling**2) / 2
    assert -1e-5 <= lost <= 1.05 * slivers + 1e-5


@pytest.mark.parametrize(("off", "said"), [(0.1, ", trued by 0.1°"), (-0.15, ", trued by 0.15°"), (0.0, "")])
def test_what_is_planed_off_a_bevel_is_said(off: float, said: str) -> None:
    spring = math.atan2(51, 68)
    notes = sprung(laid_flat(crown(60.0, 80.0, 12.0, 9.0), spring), spring + math.radians(off)).notes
    assert [note.endswith(f" mm{said}") for note in notes] == [True, True]
    assert notes[0].startswith("the bevel of its foot lies on the wall with ")
    assert notes[1].startswith("the bevel of its top lies on the ceiling with ")


def test_another_spring_than_the_bevels_were_made_for_is_told() -> None:
    flat = laid_flat(crown(60.0, 80.0, 12.0, 9.0), math.atan2(51, 68))
    laid = sprung(flat, math.atan2(51, 68) + math.radians(1.5))
    assert flats(laid.profile) == (pytest.approx(INCH / 8), pytest.approx(INCH / 8))
    lacks = "at 38.37° no bevel of its {} is {}, the nearest 1.5° off (check the spring): "
    lacks += "it is cut for a flat of 3.2 mm on "
    assert laid.notes == (
        lacks.format("foot", "plumb") + "the wall",
        lacks.format("top", "level") + "the ceiling",
    )


@pytest.mark.parametrize("size", [None, 1.0, 6.0])
@pytest.mark.parametrize("spring", [20, 38, 45, 70])
def test_square_edges_are_cut_just_enough(spring: float, size: float | None) -> None:
    """A corner of 90 degrees cut across at the spring angle: a right triangle over the flat, f² sin s cos s / 2."""
    stock = block(100.0, 18.0)
    laid = sprung(stock, math.radians(spring), size)
    wanted = INCH / 8 if size is None else size
    assert (laid.wall, laid.ceiling) == (pytest.approx(wanted, abs=1e-8), pytest.approx(wanted, abs=1e-8))
    assert flats(laid.profile) == (laid.wall, laid.ceiling)
    s = math.radians(spring)
    triangle = wanted**2 * math.sin(s) * math.cos(s) / 2
    assert measure(laid.profile).area == pytest.approx(100.0 * 18.0 - 2 * triangle, abs=1e-6)
    depth = wanted * math.sin(s) * math.cos(s)
    box = measure(laid.profile)
    assert box.d_max == pytest.approx(100 * math.sin(s) + 18 * math.cos(s) - depth)
    assert box.h_max == pytest.approx(100 * math.cos(s) + 18 * math.sin(s) - depth)
    assert (box.d_min, box.h_min) == (0.0, 0.0)


def shape_of(points: NDArray[np.float64]) -> shapely.Polygon:
    return shapely.Polygon(points)


@pytest.mark.parametrize("spring", [30.0, 45.0])
def test_the_same_wood_by_another_library(spring: float) -> None:
    """Turned and cut by shapely: the same polygon. The flat section has a relieved back and a molded face."""
    shapes = [Shape("fillet", 8), Shape("ogee", 30, -8), Shape("bead", 6), Shape("fillet", 20)]
    flat = back_relief(sketch("casing", 19.0, shapes), 2.0, 10.0)
    laid = sprung(flat, math.radians(spring), 4.0)
    turned = affinity.rotate(shape_of(flatten(flat, 1e-4).points), -spring, origin=(0, 0))
    left, low, right, high = turned.bounds
    found = shape_of(flatten(laid.profile, 1e-4).points)
    depth = measure(laid.profile)
    keep = shapely.box(right - depth.d_max, low, right, low + depth.h_max)
    theirs = affinity.translate(turned.intersection(keep), depth.d_max - right, -low)
    assert found.symmetric_difference(theirs).area < 0.01
    assert left < right - depth.d_max
    assert high > low + depth.h_max


@pytest.mark.parametrize("spring", [19.9, 70.1, math.nan, -38.0])
def test_angles_out_of_reach(spring: float) -> None:
    with pytest.raises(PreviewError) as caught:
        sprung(block(100.0, 18.0), math.radians(spring))
    assert caught.value.problems[0].place == "spring"


@pytest.mark.parametrize("size", [0.9, 18.1, math.nan])
def test_flats_out_of_reach(size: float) -> None:
    with pytest.raises(PreviewError) as caught:
        sprung(block(100.0, 18.0), math.radians(45), size)
    assert caught.value.problems[0].place == "flats"


def test_a_sharp_edge_gives_no_wide_flat() -> None:
    """A wedge whose foot is a thin edge: half way down it is still narrower than the flat asked for."""
    corners = [(0.0, 0.0), (2.0, 0.0), (18.0, 20.0), (2.0, 40.0), (0.0, 40.0)]
    wedge = make_profile("wedge", [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)])
    sprung(wedge, math.radians(45), 3.0)
    with pytest.raises(PreviewError) as caught:
        sprung(wedge, math.radians(45), 18.0)
    assert caught.value.problems[0].place == "flats"


def test_a_crown_in_place_is_not_sprung_again() -> None:
    with pytest.raises(PreviewError, match="lies flat on its back"):
        sprung(crown(60.0, 80.0, 12.0, 9.0), math.radians(38))


@pytest.mark.parametrize("sign", [1, -1])
def test_what_is_said_of_a_bevel_changes_at_its_limits(sign: int) -> None:
    """0.005 degrees are worth a word, 0.2 are trued, and up to 8 it was made for another spring; from just inside and
    from just outside. The notes give hundredths of a degree."""
    spring = math.atan2(51, 68)
    flat = laid_flat(crown(60.0, 80.0, 12.0, 9.0), spring)
    near, far = 1 - 4e-4, 1 + 4e-4
    for off, said in (
        (0.005 * near, "the bevel"),
        (0.005 * far, "trued by"),
        (0.2 * near, "trued by 0.2°"),
        (0.2 * far, "the nearest 0.2° off (check the spring)"),
        (8 * near, "the nearest 8° off (check the spring)"),
        (8 * far, "plumb: it is cut"),
    ):
        note = sprung(flat, spring + sign * math.radians(off)).notes[0]
        assert said in note
        assert ("trued" in note) == ("trued" in said)
        assert ("nearest" in note) == ("nearest" in said)
