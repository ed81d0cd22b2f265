"""Where two elements meet, wherever they lie and however they are turned: triangles whose sides are whole numbers."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence

import pytest

from preview.runs import Element, Vec2, arc, straight
from preview.runs.crossings import bounds, meeting_points, station_on

DEGREE = math.pi / 180
FRAMES = [(0.0, (0.0, 0.0)), (0.7, (400.0, -250.0)), (-2.1, (-30.0, 1700.0)), (math.pi / 2, (-90.0, -45.0))]
frames = pytest.mark.parametrize(("turn", "origin"), FRAMES, ids=["as drawn", "one way", "another", "square"])


def line(start: Vec2, degrees: float, length: float) -> Element:
    return straight(start, (math.cos(degrees * DEGREE), math.sin(degrees * DEGREE)), length)


def round_about(center: Vec2, radius: float, begin: float, end: float) -> Element:
    """The arc from one angle about its center to another, degrees; to the right where the second is less."""
    side = 1 if end > begin else -1
    start = (center[0] + radius * math.cos(begin * DEGREE), center[1] + radius * math.sin(begin * DEGREE))
    way = (begin + side * 90) * DEGREE
    return arc(start, (math.cos(way), math.sin(way)), radius, (end - begin) * DEGREE)


def put(at: Vec2, turn: float, origin: Vec2) -> Vec2:
    there = complex(*origin) + complex(*at) * cmath.exp(1j * turn)
    return there.real, there.imag


def moved(element: Element, turn: float, origin: Vec2) -> Element:
    start, tangent = put(element.start, turn, origin), put(element.tangent, turn, (0.0, 0.0))
    if element.sweep:
        return arc(start, tangent, element.radius, element.sweep)
    return straight(start, tangent, element.length)


# 3-4-5 about (0, 0); 13-14-15 between centers that are 14 apart, whose height of 12 stands 5 from the first.
MEETINGS: dict[str, tuple[Element, Element, list[Vec2]]] = {
    "two lines": (line((-5, 0), 0, 30), line((4, -3), 90, 10), [(4, 0)]),
    "two lines askew": (line((0, 0), 45, 30), line((20, 0), 135, 20), [(10, 10)]),
    "lines that stop short": (line((0, 0), 45, 14), line((20, 0), 135, 20), []),
    "a line over a curve": (line((-10, 3), 0, 20), round_about((0, 0), 5, 10, 170), [(-4, 3), (4, 3)]),
    "a line up through a curve": (line((3, -9), 90, 20), round_about((0, 0), 5, -80, 80), [(3, -4), (3, 4)]),
    "a line out of a curve": (line((3, 0), 90, 20), round_about((0, 0), 5, 80, -80), [(3, 4)]),
    "a line before a curve": (line((3, -9), 90, 4.5), round_about((0, 0), 5, -80, 80), []),
    "a curve that stops short": (line((3, -9), 90, 20), round_about((0, 0), 5, -50, 50), []),
    "two curves": (round_about((0, 0), 13, -80, 80), round_about((14, 0), 15, 100, 260), [(5, -12), (5, 12)]),
    "two curves the other way": (
        round_about((0, 0), 13, 80, -80),
        round_about((14, 0), 15, 260, 100),
        [(5, -12), (5, 12)],
    ),
    "curves that meet above": (round_about((0, 0), 13, 0, 80), round_about((14, 0), 15, 100, 260), [(5, 12)]),
    "curves that meet below": (round_about((0, 0), 13, -80, 80), round_about((14, 0), 15, 180, 260), [(5, -12)]),
    "curves that pass one another": (round_about((0, 0), 13, 0, 80), round_about((14, 0), 15, 180, 260), []),
    "curves apart": (round_about((0, 0), 5, -80, 80), round_about((10.01, 0), 5, 100, 260), []),
    "one curve in another": (round_about((0, 0), 5, -80, 80), round_about((1, 0), 3.99, -80, 80), []),
    "curves about one center": (round_about((0, 0), 5, -80, 80), round_about((0, 0), 5.01, -80, 80), []),
    "lines side by side": (line((0, 0), 0, 10), line((2, 0.01), 0, 10), []),
    "lines side by side, back": (line((0, 0), 0, 10), line((12, -0.01), 180, 10), []),
    "one line after another": (line((0, 0), 0, 10), line((10.01, 0), 0, 10), []),
}


@frames
@pytest.mark.parametrize("name", MEETINGS)
def test_two_elements_meet_where_their_triangles_say(name: str, turn: float, origin: Vec2) -> None:
    first, second, wanted = MEETINGS[name]
    a, b = moved(first, turn, origin), moved(second, turn, origin)
    there = sorted(put(at, turn, origin) for at in wanted)
    for found in (meeting_points(a, b), meeting_points(b, a)):
        assert len(found) == len(there)
        for at, want in zip(sorted(found), there, strict=True):
            assert at == pytest.approx(want, abs=1e-9)


@frames
@pytest.mark.parametrize(
    ("first", "second", "most"),
    [
        (line((0, 0), 30, 10), line((0, 0), 30, 20), 10.0),
        (line((0, 0), 30, 10), line((12 * math.cos(30 * DEGREE), 6), 210, 5), 10.0),
        (round_about((0, 0), 50, -30, 30), round_about((0, 0), 50, 90, 20), 50.0),
    ],
    ids=["ahead", "head on", "round"],
)
def test_what_runs_over_another_meets_it_on_both(
    first: Element, second: Element, most: float, turn: float, origin: Vec2
) -> None:
    a, b = moved(first, turn, origin), moved(second, turn, origin)
    found = meeting_points(a, b)
    assert found
    for at in found:
        assert math.dist(at, a.start) <= most + 1e-9
        for element in (a, b):
            station = station_on(element, at)
            assert station is not None
            assert element.point(station) == pytest.approx(at, abs=1e-6)


@frames
@pytest.mark.parametrize("radius", [400.0, 1e4])
def test_what_is_less_than_a_millionth_apart_touches(radius: float, turn: float, origin: Vec2) -> None:
    """A line past the top of a curve, and two curves back to back; rounding must not part what was drawn to touch."""
    curve = moved(round_about((0, 0), radius, 20, 160), turn, origin)
    for apart, touches in ((3e-7, True), (2.5e-6, False)):
        past = moved(line((-10, radius + apart), 0, 20), turn, origin)
        other = moved(round_about((0, 2 * radius + apart), radius, -160, -20), turn, origin)
        for beside in (past, other):
            found = [*meeting_points(curve, beside), *meeting_points(beside, curve)]
            assert bool(found) == touches
            assert all(at == pytest.approx(put((0, radius), turn, origin), abs=0.01 * radius) for at in found)


@pytest.mark.parametrize("quarter", range(4))
@pytest.mark.parametrize("back", [False, True])
def test_the_box_of_a_curve_that_reaches_over_one_side(quarter: int, back: bool) -> None:
    """From 30 degrees before a quarter point to 60 after it, radius 50 about (100, -40); walked either way."""
    begin, end = 90.0 * quarter - 30, 90.0 * quarter + 60
    element = round_about((100.0, -40.0), 50.0, *((end, begin) if back else (begin, end)))
    # About the first quarter point: x from 50 cos 60 to 50, y from -50 sin 30 to 50 sin 60; each next turns that left.
    corners = [(25.0, -25.0), (50.0, 50.0 * math.sin(60 * DEGREE))]
    for _ in range(quarter):
        corners = [(-y, x) for x, y in corners]
    low, high = bounds([element])
    for axis, middle in enumerate((100.0, -40.0)):
        assert low[0, axis] == pytest.approx(middle + min(at[axis] for at in corners), abs=1e-9)
        assert high[0, axis] == pytest.approx(middle + max(at[axis] for at in corners), abs=1e-9)


def test_boxes_of_lines_and_of_curves_that_reach_over_no_side() -> None:
    low, high = bounds([line((3, 4), 180, 10), round_about((0, 0), 100, 30, 60), round_about((0, 0), 100, 240, 210)])
    half, most = 50.0, 100 * math.sin(60 * DEGREE)
    assert low.tolist() == [pytest.approx(each, abs=1e-9) for each in ([-7, 4], [half, half], [-most, -most])]
    assert high.tolist() == [pytest.approx(each, abs=1e-9) for each in ([3, 4], [most, most], [-half, -half])]


@frames
@pytest.mark.parametrize(
    ("begin", "end"), [(0, 40), (0, -40), (100, 420), (10, -310)], ids=["left", "right", "far left", "far right"]
)
def test_a_point_on_a_curve_is_as_far_along_as_it_was_walked(
    begin: float, end: float, turn: float, origin: Vec2
) -> None:
    element = moved(round_about((7, -2), 60.0, begin, end), turn, origin)
    parts: Sequence[float] = (0.0, 0.001, 0.3, 0.5, 0.77, 1.0)
    for part in parts:
        station = station_on(element, element.point(part * element.length))
        assert station == pytest.approx(part * element.length, abs=1e-9)
    for beyond in (-0.01, element.length + 0.01):
        assert station_on(element, element.point(beyond)) is None
