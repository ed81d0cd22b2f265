"""Volumes and areas of solids against handbook values, the closed form, and solids cut by another road."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings

from faced_pieces import polygon
from preview.joinery import MemberRun, Piece, exact_volume, join
from preview.models.solid.measures import area_of, is_sound, volume_of
from preview.profiles import Profile, measure
from preview.runs import Corner, Curve, Side, Step, Straight, lay_out
from solid_pieces import (
    INCH,
    QUARTER,
    ROOMS,
    base,
    cove,
    curve,
    half_round,
    kernel,
    laid,
    quarter_round,
    random_lines,
    solids,
)

AGREES = 1e-9


def shape_of(piece: Piece) -> Any:
    return solids([piece]).shapes[0]


def check_all(line: MemberRun) -> None:
    """Every piece is one sound solid with the volume of the closed form."""
    for piece, shape in zip(line.pieces, solids(line.pieces).shapes, strict=True):
        assert is_sound(shape), piece.name
        assert volume_of(shape) == pytest.approx(exact_volume(piece), rel=AGREES), piece.name


# Rings: worked by the theorem of Pappus and Guldin (Larson & Edwards, Calculus, sec. 7.6, theorem 7.1) from the
# areas and centroids in Machinery's Handbook, 31st ed., pp. 80 and 230. Inches.


def test_a_quarter_round_turned_about_a_post() -> None:
    """r = 1, its square corner 5 from the axis, bulging out, a quarter turn: V = 6.6921 (A = 0.7854, x = 0.4244 r)."""
    piece = curve(QUARTER, 5 * INCH, quarter_round(INCH), wraps=True)
    assert volume_of(shape_of(piece)) / INCH**3 == pytest.approx(6.6921, abs=5e-5)


def test_a_cove_turned_about_a_post() -> None:
    """The spandrel of r = 1, its square corner 5 from the axis, outward, a quarter turn: V = 1.7608 (A = 0.2146)."""
    piece = curve(QUARTER, 5 * INCH, cove(INCH), wraps=True)
    assert volume_of(shape_of(piece)) / INCH**3 == pytest.approx(1.7608, abs=5e-5)


@pytest.mark.parametrize(
    ("D", "d", "volume", "surface"),
    [
        (5.0, 1.5, 27.76, 74.022),  # Machinery's Handbook, 31st ed., p. 93
        (4.0, 2.0, 39.478, None),  # Larson & Edwards, sec. 7.6, example 7: 4 pi²
    ],
)
def test_a_torus_of_two_half_rounds(D: float, d: float, volume: float, surface: float | None) -> None:
    """One half wraps the circle of diameter D and one lines it; four quarters of both make the whole torus."""
    halves = [curve(QUARTER, D / 2 * INCH, half_round(d / 2 * INCH), wraps=wraps) for wraps in (True, False)]
    shapes = [shape_of(piece) for piece in halves]
    assert 4 * sum(volume_of(shape) for shape in shapes) / INCH**3 == pytest.approx(volume, abs=5e-3)
    if surface is not None:
        cylinder = math.pi * D * d  # the backs, where the halves lie on one another
        ends = 4 * math.pi * d**2 / 4  # two half discs at the ends of each quarter of either half
        whole = 4 * sum(area_of(shape) for shape in shapes) / INCH**2 - 2 * cylinder - 2 * ends
        assert whole == pytest.approx(surface, abs=1e-3)


# Straights.


@pytest.mark.parametrize("room", ROOMS)
def test_a_straight_with_square_ends_is_a_prism(room: Side) -> None:
    piece = laid([Straight(500.0)], room).pieces[0]
    assert volume_of(shape_of(piece)) == pytest.approx(measure(base()).area * 500.0, rel=1e-12)


@pytest.mark.parametrize("degrees", [-150, -135, -90, -45, -22.5, -1, 1, 22.5, 45, 90, 135, 150])
def test_a_miter_takes_what_its_centroid_says(degrees: float) -> None:
    """A miter plane is linear in d: V = A (L - x tan(turn/2)), A and x of a quarter disc from the Handbook, p. 230."""
    r = 20.0
    line = laid([Straight(400.0), Corner(math.radians(degrees)), Straight(300.0)], profile=quarter_round(r))
    area, x = math.pi * r**2 / 4, 4 * r / (3 * math.pi)
    for piece, length in zip(line.pieces, (400.0, 300.0), strict=True):
        expected = area * (length - x * math.tan(math.radians(degrees) / 2))
        assert volume_of(shape_of(piece)) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("degrees", [-120.0, 35.0])
@pytest.mark.parametrize("room", ROOMS)
def test_a_miter_is_what_a_saw_leaves(degrees: float, room: Side) -> None:
    """The same piece by the kernel's boolean operations: an over-long prism, cut by two large blocks."""
    cadquery, turn = kernel(), math.radians(degrees)
    piece = laid([Straight(300.0), Corner(turn), Straight(200.0), Corner(-turn), Straight(300.0)], room).pieces[1]
    (x, y), (tx, ty), (nx, ny) = piece.element.start, piece.element.tangent, piece.normal
    made = shape_of(piece)

    plane = cadquery.Plane((x - 500 * tx, y - 500 * ty, 0), (nx, ny, 0), (piece.hand * tx, piece.hand * ty, 0))
    sketch = cadquery.Workplane(plane)
    for i, edge in enumerate(piece.profile.edges):
        sketch = sketch.moveTo(*edge.start) if i == 0 else sketch
        via = getattr(edge, "via", None)
        sketch = sketch.lineTo(*edge.end) if via is None else sketch.threePointArc(via, edge.end)
    bar = sketch.close().extrude(1200.0 * piece.hand)
    for station, side in ((0.0, -1), (piece.element.length, 1)):
        # The saw stands on the back line, turned from square to the travel by half the corner.
        at = (x + station * tx, y + station * ty)
        face = math.atan2(ty, tx) - turn / 2
        block = cadquery.Workplane("XY").box(2000, 4000, 1000).translate((side * 1000, 0, 0))
        block = block.rotate((0, 0, 0), (0, 0, 1), math.degrees(face)).translate((*at, 0))
        bar = bar.cut(block)
    assert bar.val().Volume() == pytest.approx(volume_of(made), rel=1e-9)
    assert bar.val().cut(made).Volume() == pytest.approx(0.0, abs=1e-3)
    assert made.cut(bar.val()).Volume() == pytest.approx(0.0, abs=1e-3)


# Everything else: against the closed form, which integrates the travel over the section and knows no solids.

QUARTERS: dict[str, list[Step]] = {
    "straight": [Straight(300)],
    "tangent curves, wrapping and lining": [
        Straight(200), Curve(QUARTER, 60), Straight(200), Curve(-QUARTER, 40), Straight(200),
    ],
    "an S without a straight": [Curve(1.0, 80), Curve(-1.2, 50), Curve(0.7, 120)],
    "miters in and out": [
        Straight(300), Corner(QUARTER), Straight(250), Corner(-2.0), Straight(300), Corner(0.02), Straight(200),
    ],
    "straight to curve, off tangent": [
        Straight(200), Corner(0.6), Curve(1.1, 70), Corner(0.5), Straight(200), Corner(-0.4), Curve(-1.5, 60),
        Corner(-0.7), Straight(200),
    ],
    "curve to curve, off tangent": [
        Curve(0.9, 90), Corner(0.4), Curve(0.8, 50), Corner(-0.5), Curve(-1.0, 70), Corner(0.5), Curve(-0.8, 110),
    ],
    "curves of one radius, off tangent": [Curve(0.9, 90), Corner(0.7), Curve(0.9, 90), Corner(-0.9), Curve(0.5, 90)],
    "large and small": [Curve(0.02, 40000), Corner(0.5), Curve(1.5, 30), Corner(-0.3), Straight(4000)],
    "nearly round": [Straight(600), Corner(-0.3), Curve(5.0, 150)],
}  # fmt: skip


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("steps", QUARTERS.values(), ids=QUARTERS)
def test_solids_have_the_closed_forms_volume(steps: list[Step], room: Side) -> None:
    check_all(laid(steps, room))


def test_all_of_those_kinds_occur() -> None:
    kinds = {
        (piece.kind, end.kind)
        for steps in QUARTERS.values()
        for piece in laid(steps).pieces
        for end in (piece.begin, piece.end)
    }
    wanted = {
        (kind, end) for kind in ("straight", "curve") for end in ("square end", "tangent", "miter", "curved miter")
    }
    assert kinds == wanted


@pytest.mark.usefixtures("to_the_reach")
@pytest.mark.parametrize("share", [0.9, 0.99, 0.999])
def test_curved_miters_close_to_where_the_faces_stop_meeting(share: float) -> None:
    """As the projection nears the joint's reach, the cut turns to run along the face."""
    steps: list[Step] = [Straight(300), Corner(0.8), Curve(-1.0, 60)]
    reach = laid(steps, "right", polygon((0, 0), (1, 0), (1, 9), (0, 9))).joints[1].reach()
    assert 20 < reach < 60
    d = reach * share
    line = laid(steps, "right", polygon((0, 0), (d, 0), (d, 10), (d / 2, 30), (0, 30)))
    for piece, shape in zip(line.pieces, solids(line.pieces).shapes, strict=True):
        assert is_sound(shape)
        # Here the closed form's own rule loses digits: it integrates towards a root's end.
        assert volume_of(shape) == pytest.approx(exact_volume(piece), rel=1e-6)


@settings(max_examples=15)
@given(random_lines())
def test_any_section_round_any_corner(line: MemberRun) -> None:
    check_all(line)


def test_where_it_stands_does_not_matter() -> None:
    """200 m from the origin a solid is as good as at it, to the digits that are left of a coordinate."""
    far = 2e5
    steps: list[Step] = [Straight(300), Corner(0.5), Curve(1.0, 60)]
    line = join(lay_out("far", steps, start=(far, -far), heading=1.0), "base", base())
    for piece, shape in zip(line.pieces, solids(line.pieces).shapes, strict=True):
        assert is_sound(shape)
        assert volume_of(shape) == pytest.approx(exact_volume(piece), rel=1e-8)


def test_a_profile_that_is_moved_off_the_wall_and_up() -> None:
    moved: Profile = base().moved(30.0, 1500.0)
    steps: list[Step] = [Straight(300), Corner(-0.5), Curve(1.0, 90), Straight(100)]
    line = laid(steps, profile=moved)
    check_all(line)
    heights = [vertex.Z for shape in solids(line.pieces).shapes for vertex in shape.Vertices()]
    assert min(heights) == pytest.approx(1500.0, abs=1e-9)
    assert max(heights) == pytest.approx(1500.0 + measure(base()).h_max, abs=1e-9)
