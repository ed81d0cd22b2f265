"""Options that change the curves of a run: its walls stay where they are.

A wall is judged by the infinite line of its straight, found here by plain geometry from the run laid out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.runs import Element, Run
from preview.scene import Scene, walls
from preview.units import parse_length
from scene_sample import only_run, scene
from strategies import share

INCH = 25.4
NEAR = 1e-6
"""mm: what floats leave of rooms some meters across."""


def option(changes: str, name: str = "other") -> str:
    return f'\n[[option]]\nname = "{name}"\nchanges = [{changes}]\n'


def both(run: str, change: str) -> tuple[Run, Run]:
    """A run as drawn, and with one change of it."""
    made = scene(run + option('{ run = "north wall", ' + change + " }"))
    drawn, varied = (each.scene.runs[0].run for each in made.variants)
    return drawn, varied


def refused(run: str, change: str) -> str:
    with pytest.raises(PreviewError) as caught:
        both(run, change)
    return str(caught.value)


def straights(run: Run) -> dict[str, Element]:
    return {place: each for place, each in zip(run.places, run.elements, strict=True) if not each.curvature}


def off_line(element: Element, wall: Element) -> float:
    """How far, mm, the ends of an element are from the infinite line of a wall; endless where it runs another way."""
    x, y = wall.tangent
    if element.tangent[0] * x + element.tangent[1] * y < 1 - 1e-12:
        return math.inf
    points = (element.start, element.end)
    return max(abs(x * (at[1] - wall.start[1]) - y * (at[0] - wall.start[0])) for at in points)


def strays(drawn: Run, varied: Run) -> float:
    """How far, mm, any wall of the run as drawn has moved off its line."""
    before, after = straights(drawn), straights(varied)
    return max((off_line(after[place], before[place]) for place in before if place in after), default=0.0)


def lengths(run: Run) -> list[float]:
    """In inches, curves by their radius."""
    return [round((1 / abs(e.curvature) if e.curvature else e.length) / INCH, 6) for e in run.elements]


def turned(run: Run) -> list[float]:
    """The corners of a run, degrees."""
    return [round(math.degrees(turn), 6) for turn in run.turns]


# What the handbooks say.


def test_the_tangent_length_is_the_surveyor_s() -> None:
    """T = R tan(I/2). Ghilani and Wolf, Elementary Surveying, the first example of horizontal curves: I = 8°24',
    R = 2864.79 ft, T = 210.38 ft (from memory; the figures agree with the formula)."""
    run = 'steps = [{ straight = "400\'" }, { curve_left = 8.4, radius = "2864.79 ft" }, { straight = "300\'" }]'
    drawn, varied = both(run, 'curves = "miter"')
    first, last = varied.elements
    assert (first.length / 304.8 - 400, last.length / 304.8 - 300) == pytest.approx((210.38, 210.38), abs=0.005)
    assert turned(varied) == [0, 8.4]
    # External distance, the same example: E = R (1 / cos(I/2) - 1) = 7.71 ft, from the corner to the curve's middle.
    middle = drawn.elements[1].point(drawn.elements[1].length / 2)
    assert math.dist(middle, first.end) / 304.8 == pytest.approx(7.71, abs=0.005)


def test_a_square_corner_grows_by_its_radius() -> None:
    """tan 45° = 1, exactly."""
    drawn, varied = both(
        "steps = [{ straight = 14 }, { curve_left = 90, radius = 2 }, { straight = 6 }]", 'curves = "miter"'
    )
    assert lengths(varied) == [16, 8]
    assert varied.elements[0].length == 406.4
    assert varied.elements[1].end == pytest.approx(drawn.elements[2].end, abs=1e-12)


# Properties.

VERBS = st.sampled_from(["straight", "straight", "straight", "curve_left", "curve_right", "left", "right"])


@st.composite
def walks(draw: st.DrawFn) -> list[str]:
    """Steps of an open run in inches, with at least one curve, in any order that can be laid out."""
    steps: list[str] = []
    before = ""
    for verb in draw(st.lists(VERBS, min_size=2, max_size=9)):
        if verb == "straight":
            steps.append(f"{{ straight = {draw(st.integers(8, 90)) / 2} }}")
        elif verb.startswith("curve"):
            steps.append(f"{{ {verb} = {draw(st.integers(5, 140))}, radius = {draw(st.integers(1, 16)) / 2} }}")
        elif before and before not in ("left", "right"):
            steps.append(f"{{ {verb} = {draw(st.integers(5, 120))} }}")
        else:
            continue
        before = verb
    while steps and before in ("left", "right"):
        steps.pop()
        before = "" if not steps else next(word for word in steps[-1].split() if word != "{")
    assume(any("curve" in step for step in steps))
    return steps


def laid(steps: Sequence[str], heading: int, room: str = "left", more: str = "") -> Scene:
    run = f'room = "{room}"\nstart = [7, "3 1/2"]\nheading = {heading}\nsteps = [{", ".join(steps)}]{more}'
    try:
        return scene(run)
    except PreviewError as error:
        wrong = [problem for problem in error.problems if not any(each in problem.problem for each in UNDRAWN)]
    assert not wrong, wrong[0]
    assume(False)
    raise AssertionError


UNDRAWN = (
    "crosses itself",
    "straight must be at least",
    "beside it take",
    "no piece between them",
    "on each side",
    "so already",
    "there is no straight",
)
"""Refusals that say nothing of walls: what cannot be laid out is not drawn."""


@share(0.5)
@given(walks(), st.integers(0, 359))
def test_mitered_walls_stay(steps: list[str], heading: int) -> None:
    made = laid(steps, heading, more=option('{ run = "north wall", curves = "miter" }'))
    drawn, varied = (each.scene.runs[0].run for each in made.variants)
    assert not any(element.curvature for element in varied.elements)
    assert strays(drawn, varied) <= NEAR
    assert set(straights(drawn)) <= set(varied.places)
    assert math.dist(varied.elements[0].start, drawn.elements[0].start) <= NEAR
    assert math.dist(varied.elements[-1].end, drawn.elements[-1].end) <= NEAR
    # Each curve's ends lie on the two walls beside its corner, as far back as the tangent length says.
    for curve, place in zip(drawn.elements, drawn.places, strict=True):
        if curve.curvature:
            at = varied.places.index(place) if place in varied.places else None
            assert at is None  # it is a corner now, and no element
            tangent = math.tan(abs(curve.curvature) * curve.length / 2) / abs(curve.curvature)
            corner = tuple(curve.start[i] + tangent * curve.tangent[i] for i in (0, 1))
            assert min(math.dist(corner, element.start) for element in varied.elements[1:]) <= NEAR


@share(0.5)
@given(walks(), st.integers(0, 359), st.integers(1, 24))
def test_walls_stay_at_another_radius(steps: list[str], heading: int, halves: int) -> None:
    made = laid(steps, heading, more=option(f'{{ run = "north wall", radius = {halves / 2} }}'))
    drawn, varied = (each.scene.runs[0].run for each in made.variants)
    assert strays(drawn, varied) <= NEAR
    for element in varied.elements:
        assert not element.curvature or 1 / abs(element.curvature) == pytest.approx(halves / 2 * INCH)
    assert math.dist(varied.elements[0].start, drawn.elements[0].start) <= NEAR
    assert math.dist(varied.elements[-1].end, drawn.elements[-1].end) <= NEAR


@share(0.5)
@given(walks(), st.integers(0, 359), st.integers(2, 5), st.sampled_from(["left", "right"]))
def test_walls_stay_when_curves_go_round_in_turns(steps: list[str], heading: int, turns: int, room: str) -> None:
    change = f'{{ run = "north wall", curves = "turns", turns = {turns} }}'
    made = laid(steps, heading, room, option(change))
    drawn, varied = (each.scene.runs[0].run for each in made.variants)
    assert strays(drawn, varied) <= NEAR
    for number, curve in enumerate(drawn.elements):
        if not curve.curvature:
            continue
        center, radius = middle_of(curve), 1 / abs(curve.curvature)
        facets = [e for e, at in zip(varied.elements, varied.places, strict=True) if at == drawn.places[number]]
        assert len(facets) == turns - 1
        inside = (curve.curvature > 0) == (room == "left")
        for facet in facets:
            if inside:  # not in the wall: no point of it is further from the center than the curve
                assert max(math.dist(center, facet.start), math.dist(center, facet.end)) <= radius + NEAR
            else:  # it touches the curve in its middle, and is nowhere inside it
                middle = facet.point(facet.length / 2)
                assert math.dist(center, middle) == pytest.approx(radius, abs=NEAR)
                across = (
                    facet.tangent[0] * (middle[0] - center[0]) + facet.tangent[1] * (middle[1] - center[1])
                ) / radius
                assert across == pytest.approx(0.0, abs=NEAR)
        if inside:  # the outer turns stand at the curve's ends
            assert math.dist(facets[0].start, curve.start) <= NEAR
            assert math.dist(facets[-1].end, curve.end) <= NEAR


def middle_of(curve: Element) -> tuple[float, float]:
    """The center of an arc: to the left of its way where it bends left."""
    x, y = curve.tangent
    return curve.start[0] - y / curve.curvature, curve.start[1] + x / curve.curvature


SIDES = st.integers(20, 60)
RADII = st.integers(1, 8).map(lambda halves: halves / 2)


@given(SIDES, SIDES, st.lists(RADII, min_size=4, max_size=4), st.integers(0, 7), st.integers(0, 359), st.data())
def test_closed_runs_still_close(
    x: int, y: int, radii: list[float], first: int, heading: int, data: st.DataObject
) -> None:
    """Rectangles with rounded corners, started with any wall or any curve, on its outside or its inside."""
    sides = [x - radii[3] - radii[0], y - radii[0] - radii[1], x - radii[1] - radii[2], y - radii[2] - radii[3]]
    steps = [
        step
        for side, radius in zip(sides, radii, strict=True)
        for step in (f"{{ straight = {side} }}", f"{{ curve_left = 90, radius = {radius} }}")
    ]
    steps = steps[first:] + steps[:first]
    kind = data.draw(
        st.sampled_from(['curves = "miter"', "radius = 5", "radius = 0.25", 'curves = "turns", turns = 3'])
    )
    changed = data.draw(st.none() | st.sampled_from([at + 1 for at, step in enumerate(steps) if "curve" in step]))
    step = "" if changed is None else f"step = {changed}, "
    more = "\nclosed = true" + option(f'{{ run = "north wall", {step}{kind} }}')
    made = laid(steps, heading, data.draw(st.sampled_from(["left", "right"])), more)
    drawn, varied = (each.scene.runs[0].run for each in made.variants)
    assert varied.closed
    assert strays(drawn, varied) <= NEAR
    assert math.dist(varied.elements[0].start, varied.elements[-1].end) <= NEAR
    corners = 4 if changed is None else 1
    if "miter" in kind:
        assert len(varied.elements) == 8 - corners
        assert sum(abs(turn) > 1e-9 for turn in varied.turns) == corners
        sharp = sorted(e.length / INCH for e in varied.elements if not e.curvature)
        if changed is None:
            assert sharp == pytest.approx(sorted([x, x, y, y]))


@pytest.mark.parametrize("fault", ["tangent", "start", "gap"])
def test_a_wall_that_moves_is_noticed(fault: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Planted: a wrong formula, a closed run whose start stays, and a straight that is not put in."""
    if fault == "tangent":
        monkeypatch.setattr(walls, "_tangent", lambda half: Fraction(math.sin(math.radians(half))))
        drawn, varied = both(
            "steps = [{ straight = 14 }, { curve_left = 90, radius = 2 }, { straight = 6 }]", 'curves = "miter"'
        )
    elif fault == "start":
        monkeypatch.setattr(walls, "_moved", lambda start, *_: start)
        sides = ", ".join(["{ straight = 20 }, { curve_left = 90, radius = 2 }"] * 4)
        drawn, varied = both(f"closed = true\nsteps = [{sides}]", 'curves = "miter"')
    else:
        monkeypatch.setattr(walls, "_put_in", lambda *_: iter(()))
        run = "steps = [{ straight = 30 }, { right = 24 }, { curve_left = 48, radius = 36 }, { straight = 30 }]"
        told = refused(run, 'curves = "miter"')
        assert "no piece between them" in told
        return
    assert strays(drawn, varied) > 0.1


# One by one.

CURVE = "{ curve_left = 90, radius = 2 }"


def test_a_straight_is_put_in_where_there_is_none() -> None:
    drawn, varied = both(f"start = [1, 2]\nsteps = [{CURVE}, {CURVE}]", 'curves = "miter"')
    assert lengths(varied) == [2, 4, 2]
    assert turned(varied) == [0, 90, 90]
    assert varied.elements[0].start == drawn.elements[0].start
    told = "the straight put in"
    assert varied.places == (f"{told} before step 1", f"{told} after step 1", f"{told} after step 2")


def test_at_a_corner_and_at_a_block() -> None:
    run = "steps = [{ straight = 30 }, { right = 24 }, { curve_left = 48, radius = 36 }, { block = 'plinth' }]"
    block = "[block.plinth]\nwidth = 4\nthickness = 2\nheight = 7"
    made = scene(run + option('{ run = "north wall", curves = "miter" }'), more=block)
    varied = made.variants[1].scene.runs[0].run
    tangent = round(36 * math.tan(math.radians(24)), 6)
    assert lengths(varied) == [30, tangent, tangent, 4]
    assert varied.blocks == ("", "", "", "plinth")
    assert strays(made.runs[0].run, varied) <= NEAR


def test_two_curves_share_what_is_between_them() -> None:
    """Of an S, one radius larger and one smaller: what one takes the other gives."""
    curves = "{ curve_left = 90, radius = 2 }, { curve_right = 90, radius = 4 }"
    run = f"steps = [{{ straight = 9 }}, {curves}, {{ straight = 9 }}]"
    _, varied = both(run, "radius = 3")
    assert lengths(varied) == [8, 3, 3, 10]
    told = refused(run, "radius = 3.5")
    assert "between step 2 and step 3 there is no straight, and with this radius the two curves" in told
    assert 'at most 3"' in told


def test_a_straight_of_which_nothing_is_left_is_left_out() -> None:
    sides = ", ".join(["{ straight = 16 }, { curve_left = 90, radius = 2 }"] * 4)
    _, varied = both(f"closed = true\nsteps = [{sides}]", "radius = 10")
    assert lengths(varied) == [10, 10, 10, 10]
    assert varied.places == ("step 2", "step 4", "step 6", "step 8")
    assert middle_of(varied.elements[0]) == pytest.approx((8 * INCH, 10 * INCH))
    told = refused(f"closed = true\nsteps = [{sides}]", "radius = 10.5")
    assert told.count('is 16" long, and with this radius the two curves beside it take 17" of it') == 4
    assert 'use a radius of at most 10"' in told


def test_one_step_and_the_others() -> None:
    run = f"steps = [{{ straight = 9 }}, {CURVE}, {{ straight = 9 }}, {CURVE}, {{ straight = 9 }}]"
    made = scene(run + option('{ run = "north wall", radius = 3 }, { run = "north wall", step = 2, curves = "miter" }'))
    assert lengths(made.variants[1].scene.runs[0].run) == [11, 10, 3, 8]
    made = scene(run + option('{ run = "north wall", step = 4, radius = 1 }, { run = "north wall", radius = 3 }'))
    assert lengths(made.variants[1].scene.runs[0].run) == [8, 3, 9, 1, 10]  # what is said of one step goes first
    _, varied = both(run, "step = 1, straight = 20")
    assert lengths(varied) == [20, 2, 9, 2, 9]
    _, varied = both(run, "step = 2, curve_left = 60, radius = 4")
    assert lengths(varied) == [9, 4, 9, 2, 9]  # another turn: nothing can stay where it is, and nothing is moved
    _, varied = both(run, "step = 2, right = 45")
    assert (lengths(varied), turned(varied)) == ([9, 9, 2, 9], [0, -45, 0, 0])
    _, varied = both(run, 'radius = 4, curves = "turns", turns = 2')
    assert lengths(varied)[:2] == [7, round(8 * math.sin(math.radians(45)), 6)]  # inside: from one end to the other
    _, varied = both(f'room = "right"\n{run}', 'radius = 4, curves = "turns", turns = 2')
    reach = round(4 * math.tan(math.radians(22.5)), 6)
    assert lengths(varied)[:2] == [7 + reach, pytest.approx(2 * reach, abs=1e-6)]


def test_a_half_round_goes_round_in_turns_and_meets_in_no_corner() -> None:
    run = "room = 'right'\nsteps = [{ straight = 30 }, { curve_left = 180, radius = 11 }, { straight = 24 }]"
    drawn, varied = both(run, 'curves = "turns", turns = 4')
    facet = 22 * math.tan(math.radians(22.5))
    assert lengths(varied) == pytest.approx([30 + facet / 2, *[facet] * 3, 24 + facet / 2], abs=1e-6)
    assert turned(varied) == [0, 45, 45, 45, 45]
    assert strays(drawn, varied) <= NEAR
    assert "turns by 180°, and the walls beside it do not meet in a corner" in refused(run, 'curves = "miter"')
    assert "another radius would move one of them" in refused(run, "radius = 10")


def test_an_unwritten_last_corner_is_no_smooth_wall() -> None:
    """A closed run that begins with a curve, where the last corner is found: a straight is put in before it."""
    walls = "{ straight = 20 }, { left = 90 }, { straight = 2 }, { left = 90 }, { straight = 22 }"
    run = f"closed = true\nsteps = [{CURVE}, {walls}]"
    drawn, varied = both(run, 'curves = "miter"')
    assert lengths(varied) == [2, 22, 2, 22]
    assert turned(varied) == [90, 90, 90, 90]
    assert strays(drawn, varied) <= NEAR


def test_on_a_measured_run_the_walls_are_those_of_the_spread_survey() -> None:
    """What was spread stays spread, and the survey tells of what was measured."""
    sides = [
        "{ straight = 40 }",
        CURVE,
        "{ straight = 30.125 }",
        "{ left = 89.5 }",
        "{ straight = 42 }",
        "{ left = 90 }",
    ]
    measured = "{ lengths = '1/4', angles = 1, radii = '1/16' }"
    steps = ", ".join([*sides, "{ straight = 32 }", "{ left = 90 }"])
    run = f"closed = true\nmeasured = {measured}\nsteps = [{steps}]"
    made = scene(run + option('{ run = "north wall", curves = "miter" }'))
    drawn, varied = (each.scene.runs[0] for each in made.variants)
    assert drawn.survey is not None
    assert drawn.survey.adjustment is not None
    assert drawn.survey.closure.distance > 1.0
    assert max(abs(row.adjusted - row.measured.value) for row in drawn.survey.adjustment.rows) > 0.5
    assert varied.survey is drawn.survey
    assert varied.run.closed
    assert strays(drawn.run, varied.run) <= NEAR


def test_a_climb_far_from_the_curve_is_kept() -> None:
    steps = f"{{ rake = 90, rise = 30 }}, {{ straight = 33 }}, {CURVE}, {{ straight = 18 }}"
    run = f"measured = {{ lengths = '1/8', arrives = '1/8' }}\narrives = [120, 20]\nsteps = [{steps}]"
    made = scene(run + option('{ run = "north wall", curves = "miter" }'))
    drawn, varied = (each.scene.runs[0].run for each in made.variants)
    assert varied.elements[0].slope == pytest.approx(drawn.elements[0].slope, rel=1e-12)
    assert varied.elements[-1].height == pytest.approx(drawn.elements[-1].height, abs=NEAR)
    assert strays(drawn, varied) <= NEAR
    assert varied.elements[-1].end == pytest.approx(drawn.elements[-1].end, abs=NEAR)


def test_shown_with_its_gap_the_run_is_changed_as_measured() -> None:
    more = ", ".join(f"{{ straight = {long} }}, {{ left = 90 }}" for long in (30.5, 42, 32))
    run = f"closed = true\nclosing = 'show'\nsteps = [{{ straight = 40 }}, {CURVE}, {more}]"
    drawn, varied = both(run, 'curves = "miter"')
    assert not drawn.closed
    assert lengths(varied) == [42, 32.5, 42, 32]
    assert strays(drawn, varied) <= NEAR


def test_a_casing_on_a_wall() -> None:
    run = (
        f"on_wall = {{ origin = [0, 0, 10], along = 30 }}\nsteps = [{{ straight = 40 }}, {CURVE}, {{ straight = 30 }}]"
    )
    drawn, varied = both(run, 'curves = "miter"')
    assert lengths(varied) == [42, 32]
    assert varied.stand == drawn.stand


@pytest.mark.parametrize("unit", ["in", "ft", "mm", "cm", "m"])
@given(size=st.fractions(Fraction(1, 640), 9000, max_denominator=640))
def test_lengths_are_written_as_they_are_read(unit: str, size: Fraction) -> None:
    told = walls.written_length(size, unit)  # type: ignore[arg-type]
    assert float(parse_length(told, unit)) == pytest.approx(float(size), rel=1e-15)  # type: ignore[arg-type]


def test_lengths_are_written_as_a_person_would() -> None:
    shown = [walls.written_length(Fraction(mm), unit) for mm, unit in ((406, "mm"), (Fraction(6477, 16), "in"))]
    assert shown == [406, "15 15/16"]
    assert walls.written_length(Fraction("1612.9"), "ft") == "5' 3 1/2"
    assert walls.written_length(Fraction("88.9"), "ft") == "3 1/2 in"
    decimal = walls.written_length(Fraction(1000, 3), "mm")
    assert getattr(decimal, "text", "") == "333.3333"


def test_only_the_run_that_is_named_changes() -> None:
    made = scene(
        f"steps = [{{ straight = 20 }}, {CURVE}, {{ straight = 20 }}]\n[[run]]\nname = 'south wall'\nstart = [0, 90]\n"
        f"steps = [{{ straight = 20 }}, {CURVE}, {{ straight = 20 }}]"
        + option('{ run = "south wall", curves = "miter" }')
    )
    drawn, varied = (each.scene.runs for each in made.variants)
    assert varied[0] is drawn[0]
    assert lengths(varied[1].run) == [22, 22]
    assert only_run(f"steps = [{CURVE}]").run.places == ("step 1",)


def test_a_ring_of_four_curves_becomes_a_square() -> None:
    run = f"closed = true\nstart = [5, 0]\nsteps = [{', '.join([CURVE] * 4)}]"
    drawn, varied = both(run, 'curves = "miter"')
    assert lengths(varied) == [4, 4, 4, 4]
    corners = [(e.start[0] / INCH, e.start[1] / INCH) for e in varied.elements]
    assert corners == [pytest.approx(at, abs=1e-9) for at in ((7, 0), (7, 4), (3, 4), (3, 0))]
    assert [middle_of(e) for e in drawn.elements] == [pytest.approx((5 * INCH, 2 * INCH))] * 4
    _, varied = both(run, "radius = 0.5")
    assert lengths(varied) == [0.5, 3, 0.5, 3, 0.5, 3, 0.5, 3]
    assert varied.elements[0].start == pytest.approx((6.5 * INCH, 0))
