"""Where the wood is thin and where it only looks so: grooves that just miss each other, slopes, rounds in a ring."""

from __future__ import annotations

import math
from typing import Any

import pytest

from faced_pieces import polygon
from preview.profiles import Arc, Edge, Line, Profile, make_profile, thin_webs
from samples import block, quarter_round

Point = tuple[float, float]


def outline(first: Point, *course: tuple[Any, ...]) -> Profile:
    """A profile by its corners in order; an arc is its end, its center and its sweep, degrees."""
    at = first
    edges: list[Edge] = []
    for step in [*course, first]:
        if len(step) == 3:
            end, center, sweep = step
            edges.append(Arc(at, end, center, math.radians(sweep)))
        else:
            end = step
            edges.append(Line(at, end))
        at = end
    return make_profile("web", edges)


def two_grooves(low: float, high: float) -> Profile:
    """A board of 30 by 120: a groove in its face from 20 to 60 mm up, its floor 20 mm out, and one in its back from
    low to high, its floor 17 mm out."""
    face = [(0, 0), (30, 0), (30, 20), (20, 20), (20, 60), (30, 60), (30, 120), (0, 120)]
    return polygon(*face, (0, high), (17, high), (17, low), (0, low))


def upside_down(profile: Profile, high: float) -> Profile:
    """The same section with its top down."""

    def over(at: Point) -> Point:
        return (at[0], high - at[1])

    edges: list[Edge] = []
    for edge in reversed(profile.edges):
        start, end = over(edge.end), over(edge.start)
        edges.append(Arc(start, end, over(edge.center), edge.sweep) if isinstance(edge, Arc) else Line(start, end))
    return make_profile(profile.name, edges)


def back_to_front(profile: Profile, thick: float) -> Profile:
    """The same section with its face on the wall."""

    def over(at: Point) -> Point:
        return (thick - at[0], at[1])

    edges: list[Edge] = []
    for edge in reversed(profile.edges):
        start, end = over(edge.end), over(edge.start)
        edges.append(Arc(start, end, over(edge.center), edge.sweep) if isinstance(edge, Arc) else Line(start, end))
    return make_profile(profile.name, edges)


def told(profile: Profile, limit: float) -> list[tuple[float, float, float]]:
    return [(web.thickness, *web.at) for web in thin_webs(profile, limit)]


def test_a_web_is_thinner_than_the_limit() -> None:
    assert told(block(3.0, 100.0), 3.0) == []
    assert told(block(3.0, 100.0), 3.0 + 1e-9) == [(3.0, 1.5, 50.0)]


def test_a_quarter_round_has_no_web() -> None:
    """Its lines end in the center of its round."""
    assert told(quarter_round(3.0), 3.1) == []


def test_a_slice_off_a_round_has_no_web() -> None:
    """2.5 mm at its crown, where it is thickest, of a circle of (20² + 2.5²) / 5."""
    radius = (400 + 6.25) / 5
    sweep = 2 * math.degrees(math.asin(20 / radius))
    assert told(outline((0.0, 0.0), ((0.0, 40.0), (2.5 - radius, 20.0), sweep)), 3.175) == []


def test_a_swell_on_a_thin_board_is_no_web() -> None:
    """A board of 2.3 mm with a round of 10 by 0.2 on its face: it is thinnest above and below that, not under it."""
    radius = (25 + 0.04) / 0.4
    sweep = 2 * math.degrees(math.asin(5 / radius))
    profile = outline((0, 0), (2.3, 0), (2.3, 95), ((2.3, 105), (2.5 - radius, 100), sweep), (2.3, 200), (0, 200))
    assert told(profile, 3.175) == [pytest.approx((2.3, 1.15, 47.5)), pytest.approx((2.3, 1.15, 152.5))]


@pytest.mark.parametrize(("overlap", "along"), [(0.01 * (1 + 4e-4), True), (0.01 * (1 - 4e-4), False)])
def test_what_runs_side_by_side_for_a_hundredth_of_a_millimeter(overlap: float, along: bool) -> None:
    """From there on a web stands half way along the stretch; two that are nearer to each other are the lower one."""
    low = 60 - overlap
    profile = two_grooves(low, 90)
    at = 60 - overlap / 2 if along else low
    assert told(profile, 3.175) == [pytest.approx((3.0, 18.5, at), abs=1e-6)]


def test_the_point_of_a_groove_under_a_round() -> None:
    """A groove's point at (22, 17), half a circle of 20 round (5, 20)."""
    profile = outline((0, 0), (5, 0), ((5, 40), (5, 20), 180), (0, 40), (0, 30), (22, 17), (0, 12))
    away = math.hypot(17, 3)
    half = (20 + away) / 2 / away
    expected = (20 - away, 5 + 17 * half, 20 - 3 * half)
    assert told(profile, 3.175) == [pytest.approx(expected, abs=1e-9)]
    assert told(upside_down(profile, 40), 3.175) == [pytest.approx((*expected[:2], 40 - expected[2]), abs=1e-9)]


@pytest.mark.parametrize("up", [True, False])
@pytest.mark.parametrize("past", [40.0, 0.05, 0.0, -0.05, -1.0])
def test_the_point_of_a_groove_behind_the_end_of_a_face(past: float, up: bool) -> None:
    """A face of 100 mm that begins at an inside corner, (30, 20), and a groove whose point is 3 mm behind it: square to
    the face as far as that goes, and to its corner beyond."""
    profile = polygon((0, 0), (40, 0), (40, 20), (30, 20), (30, 120), (0, 120), (0, 90), (27, 20 + past), (0, 10))
    at = (3.0, 28.5, 20 + past) if past >= 0 else (math.hypot(3, past), 28.5, 20 + past / 2)
    if not up:
        profile, at = upside_down(profile, 120), (*at[:2], 120 - at[2])
    assert told(profile, 3.175) == [pytest.approx(at, abs=1e-9)]


@pytest.mark.parametrize("up", [True, False])
@pytest.mark.parametrize("front", [True, False])
@pytest.mark.parametrize(
    ("low", "high"), [(40, 90), (10, 19.95), (59.9, 90), (10, 20.2), (30, 40), (60.05, 90), (62, 80)]
)
def test_floors_of_two_grooves(low: float, high: float, front: bool, up: bool) -> None:
    """One in the face with its floor from 20 to 60 mm up, one in the back, 3 mm from floor to floor: half way along
    what they share, and from corner to corner where they miss each other."""
    profile = two_grooves(low, high)
    gap = max(0.0, low - 60, 20 - high)
    middle = (max(low, 20) + min(high, 60)) / 2
    at = (math.hypot(3, gap), 18.5, middle)
    if not up:
        profile, at = upside_down(profile, 120), (*at[:2], 120 - at[2])
    if not front:
        profile, at = back_to_front(profile, 30), (at[0], 30 - at[1], at[2])
    assert told(profile, 4.0) == [pytest.approx(at, abs=1e-9)]


@pytest.mark.parametrize("front", [True, False])
@pytest.mark.parametrize("center", [90.0, 40.05, 139.95, 40.0, 140.0, 39.95, 140.05, 20.0, 160.0])
def test_the_floor_of_a_groove_over_a_hollow(center: float, front: bool) -> None:
    """A floor of 100 mm, 20 mm in front of the back, and half a circle of 17 in the back: what is left between them
    where the hollow's middle lies under the floor, else from the floor's corner to the hollow along its radius."""
    profile = outline(
        (0, 0), (30, 0), (30, 40), (20, 40), (20, 140), (30, 140), (30, 200), (0, 200),
        (0, center + 17), ((0, center - 17), (0, center), -180),
    )  # fmt: skip
    corner = min(max(center, 40.0), 140.0)
    away = math.hypot(20, corner - center)
    part = (17 + away) / 2 / away
    at = (away - 17, 20 * part, center + (corner - center) * part)
    if not front:
        profile, at = back_to_front(profile, 30), (at[0], 30 - at[1], at[2])
    assert told(profile, 12.0) == [pytest.approx(at, abs=1e-9)]


@pytest.mark.parametrize("up", [True, False])
def test_a_sloping_face_over_a_hollow(up: bool) -> None:
    """From the center of the hollow square to the face, 2000 / √10400, less the radius."""
    profile = outline((0, 0), (30, 0), (10, 100), (0, 100), (0, 67), ((0, 33), (0, 50), -180))
    away = 2000 / math.sqrt(10400)
    along = (17 + away) / 2 / math.sqrt(10400)
    at = (away - 17, 100 * along, 50 + 20 * along)
    if not up:
        profile, at = upside_down(profile, 100), (*at[:2], 100 - at[2])
    assert told(profile, 3.0) == [pytest.approx(at, abs=1e-9)]


@pytest.mark.parametrize("up", [True, False])
def test_the_end_of_a_hollow_is_no_second_web(up: bool) -> None:
    """A groove's point 20.6 mm from the center of a hollow of 17 that ends a little further up than square to it."""
    end = (40 + 17 * math.cos(math.radians(150)), 50 + 17 * math.sin(math.radians(150)))
    profile = outline(
        (0, 0), (40, 0), (40, 33), (end, (40, 50), -120), (40, end[1]), (40, 100), (0, 100), (0, 75), (20, 55), (0, 40)
    )
    away = math.hypot(20, 5)
    part = (17 + away) / 2 / away
    at = (away - 17, 40 - 20 * part, 50 + 5 * part)
    if not up:
        profile, at = upside_down(profile, 100), (*at[:2], 100 - at[2])
    assert told(profile, 7.0) == [pytest.approx(at, abs=1e-9)]


@pytest.mark.parametrize("front", [True, False])
@pytest.mark.parametrize("up", [True, False])
@pytest.mark.parametrize(
    ("outer", "inner", "shared"),
    [
        ((-25, 21), (-25, 21), (-25, 21)),
        ((-25, 21), (-10, 40), (-10, 21)),
        ((-25, 21), (-60, 5), (-25, 5)),
        ((-25, 21), (2, 10), (2, 10)),
        ((-4, 4), (-40, 44), (-4, 4)),
        ((-50, 50), (42, 55), (42, 50)),
        ((-40, -10), (12, 40), None),
        ((14, 40), (-40, -12), None),
    ],
)
def test_rounds_about_one_center(
    outer: tuple[int, int], inner: tuple[int, int], shared: tuple[int, int] | None, up: bool, front: bool
) -> None:
    """A groove in the face with a round floor of 20, a pocket in the back with a hollow end of 17, both about (2, 50)
    and each from one angle to another, degrees: 3 mm half way along what they share, and nothing if that is nothing."""

    def at(radius: float, angle: float) -> Point:
        return (2 + radius * math.cos(math.radians(angle)), 50 + radius * math.sin(math.radians(angle)))

    (low, high), (foot, top) = [at(20, angle) for angle in outer], [at(17, angle) for angle in inner]
    profile = outline(
        (0, 0), (60, 0), (60, low[1]), low, (high, (2, 50), outer[1] - outer[0]), (60, high[1]), (60, 100), (0, 100),
        (0, top[1]), top, (foot, (2, 50), inner[0] - inner[1]), (0, foot[1]),
    )  # fmt: skip
    want = [(3.0, *at(18.5, sum(shared) / 2))] if shared else []
    if not up:
        profile, want = upside_down(profile, 100), [(t, d, 100 - h) for t, d, h in want]
    if not front:
        profile, want = back_to_front(profile, 60), [(t, 60 - d, h) for t, d, h in want]
    assert told(profile, 3.5) == [pytest.approx(each, abs=1e-9) for each in want]


def test_three_fins_are_three_webs_from_the_wall_outwards() -> None:
    """2 mm each and 2 mm apart: from the first to the last is 10 mm, but not all of it wood."""
    profile = polygon(
        (0, 0), (40, 0), (40, 80), (38, 80), (38, 40), (36, 40), (36, 80), (34, 80), (34, 40), (32, 40), (32, 80),
        (30, 80), (30, 40), (0, 40),
    )  # fmt: skip
    assert told(profile, 12.0) == [(2.0, 31.0, 60.0), (2.0, 35.0, 60.0), (2.0, 39.0, 60.0)]


def test_a_fin_hides_no_web_elsewhere() -> None:
    """A fin of 2.5 mm in front, and the point of a groove 3 mm behind the face over it."""
    profile = polygon(
        (0, 0), (30, 0), (30, 17.5), (60, 17.5), (60, 20), (30, 20), (30, 120), (0, 120), (0, 90), (27, 60), (0, 30)
    )
    assert told(profile, 3.1) == [pytest.approx((2.5, 45.0, 18.75)), pytest.approx((3.0, 28.5, 60.0))]
