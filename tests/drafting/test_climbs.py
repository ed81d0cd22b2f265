"""What climbs, in the drawings: pitches, lengths along the slope, rises, and the steps below; every value by hand."""

from __future__ import annotations

import math
from functools import cache

import pytest

from drawn_pages import assert_labels_are_apart, built, edges, factor_of, marks_of, texts
from preview.build import Built
from preview.drafting import Drawing, elevation_drawing, plan_drawing
from preview.drafting.grounds import BELOW
from preview.drafting.plan import WALL
from preview.paper import Clipped, Trace
from preview.profiles import Line

STEPS = "\n".join(
    f'[[surrounding]]\nname = "step {i + 1}"\nkind = "box"\nat = [{300 + 400 * i}, -500]\n'
    f"size = [{2400 - 400 * i}, 500]\nbottom = {300 * i}\ntop = {300 * (i + 1)}"
    for i in range(2)
)
"""Two steps, 400 deep and 300 high, the upper on the lower, in the room before the wall."""
FOUR_BY_THREE = (
    f'room = "right"\nlevel = 900\nsteps = [{{ straight = 500 }}, {{ straight = 1200, rise = 900 }}]\n{STEPS}'
)
"""1200 along and 900 up: 1500 along the slope, by 3-4-5."""


@cache
def climbing() -> Built:
    return built(FOUR_BY_THREE)


@cache
def plan() -> Drawing:
    return plan_drawing(climbing())


@cache
def front() -> Drawing:
    return elevation_drawing(climbing(), "wall")


def test_a_climb_has_its_level_length_and_its_length_along_the_slope() -> None:
    for drawing in (plan(), front()):
        assert {"500", "1200 (slope 1500)"} <= set(texts(drawing))
        assert_labels_are_apart(drawing)
    assert "1700" in texts(plan())  # both in one line
    assert (
        "Lengths in millimeters, level lengths on the wall line. Foot of the molding at 900 mm where the run begins."
        in (" ".join(texts(plan())))
    )
    assert "level lengths on the wall line, 1700 mm in all; along the slope 2000 mm." in " ".join(texts(front()))


def test_the_front_tells_pitch_and_rise() -> None:
    """atan(3/4) is 36.8699 degrees (any table of the 3-4-5 triangle); level straights have no pitch."""
    written = texts(front())
    assert [text for text in written if text.startswith("pitch")] == ["pitch 36.87°"]
    assert [text for text in written if text.startswith("rise")] == ["rise 900"]


def test_a_falling_run_tells_the_same_pitch_and_rise() -> None:
    scene = built('room = "right"\nlevel = 900\nsteps = [{ straight = 500 }, { straight = 1200, rise = -900 }]')
    written = texts(elevation_drawing(scene, "wall"))
    assert {"pitch 36.87°", "rise 900", "1200 (slope 1500)"} <= set(written)


def test_the_pitch_points_at_the_raked_molding() -> None:
    """The leader's dot lies between foot and top: the strip is 40 mm high, measured upright on the slope too."""
    drawing = front()
    factor = factor_of(drawing)
    dots = [
        trace.edges[0].center
        for trace in marks_of(drawing.page)
        if isinstance(trace, Trace) and trace.fill and not trace.weight and hasattr(trace.edges[0], "center")
    ]
    slopes = [
        edge
        for weight in (0.35, 0.5, 0.7, 0.25, 0.18)
        for edge in edges(drawing, weight)
        if isinstance(edge, Line)
        and edge.length > 900 * factor
        and abs(edge.end[1] - edge.start[1]) > 500 * factor
        and abs(edge.end[0] - edge.start[0]) > 500 * factor
    ]
    assert slopes
    low = min(slopes, key=lambda edge: min(edge.start[1], edge.end[1]))
    (x0, y0), (x1, y1) = sorted((low.start, low.end))
    assert (y1 - y0) / (x1 - x0) == pytest.approx(0.75)
    on_slope = [y - (y0 + 0.75 * (x - x0)) for x, y in dots if x0 + 1 < x < x1 - 1]
    assert len(on_slope) == 2  # the pitch and the piece's tag
    assert all(-1e-6 <= away <= 40 * factor + 1e-6 for away in on_slope)


def test_steps_below_are_drawn_where_they_stand_and_the_upper_hides_the_lower() -> None:
    """Their outlines, 0.13 mm, at the plan's scale: 300 and 700 mm from the run's begin, 500 out from the wall."""
    drawing = plan()
    factor = factor_of(drawing)
    (window,) = [mark for mark in drawing.page.marks if isinstance(mark, Clipped)]
    steps = [mark for mark in window.marks if isinstance(mark, Trace) and mark.weight == BELOW]
    begin = min(edge.start[0] for edge in edges(drawing, WALL))
    wall = edges(drawing, WALL)[0].start[1]
    assert len(steps) == 2
    for number, step in enumerate(steps):  # the lower first, so that the upper covers it
        xs = [x for edge in step.edges for x, _ in (edge.start, edge.end)]
        ys = [y for edge in step.edges for _, y in (edge.start, edge.end)]
        assert (min(xs) - begin) / factor == pytest.approx(300 + 400 * number)
        assert (max(xs) - begin) / factor == pytest.approx(2700)
        assert (wall - min(ys)) / factor == pytest.approx(500)
        assert max(ys) == pytest.approx(wall)
        assert step.fill == "#ffffff"


def test_an_easement_has_the_length_of_its_curve() -> None:
    """From level into atan(3/4) on a radius of 500: 500 sin 36.87 = 300 along, and 500 x 0.643501 = 321.75 of curve."""
    scene = built('room = "right"\nsteps = [{ straight = 800 }, { easement = 500 }, { straight = 1200, rise = 900 }]')
    written = set(texts(plan_drawing(scene)))
    assert 500 * math.sin(math.atan(0.75)) == pytest.approx(300)
    assert "300 (curve 321.8)" in written
