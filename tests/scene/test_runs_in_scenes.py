"""Runs as written: exact layouts, and corners as they are measured between walls."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.runs import Run
from preview.scene import RunInScene
from scene_sample import only_run, scene


def corners(placed: RunInScene) -> list[tuple[float, float]]:
    return [element.start for element in placed.run.elements] + [placed.run.elements[-1].end]


def test_inches_feet_and_fractions_are_laid_out_exactly() -> None:
    placed = only_run(
        """
start = [1, "2' 6"]
heading = 90
level = "1/2"
wall = "8'"
steps = [
  { straight = "5' 3-1/2" },
  { inside = 90 },
  { straight = "10 mm" },
  { outside = 90 },
  { straight = 1.25 },
]"""
    )
    run = placed.run
    assert run.name == "north wall"
    assert placed.members == ("base",)
    assert placed.wall == 2438.4
    assert (run.room, run.level, run.closed) == ("left", 12.7, False)
    # The inch is 25.4 mm by definition, so all these are exact. Facing along y, the first wall is 63.5 in
    # long; an inside corner turns left, toward the room.
    assert corners(placed) == [
        (25.4, 762.0),
        (25.4, 2374.9),
        (25.4 - 10, 2374.9),
        (25.4 - 10, 2374.9 + 31.75),
    ]
    assert run.turns == (0.0, math.pi / 2, -math.pi / 2)


@pytest.mark.parametrize(("room", "hand"), [("left", 1), ("right", -1)])
@pytest.mark.parametrize(
    ("step", "toward_room"),
    [
        ("inside = 90", 90),
        ("outside = 90", -90),
        ("inside = 135", 45),
        ("outside = 135", -45),
        ('inside = "133.6"', 46.4),
        ("inside = 60", 120),
    ],
)
def test_corners_measured_between_walls(room: str, hand: int, step: str, toward_room: float) -> None:
    """A corner of C degrees between its walls turns by 180 - C, into the room when it is an inside one."""
    text = f'room = "{room}"\nsteps = [{{ straight = 60 }}, {{ {step} }}, {{ straight = 60 }}]'
    turn = only_run(text).run.turns[1]
    assert turn == pytest.approx(hand * math.radians(toward_room), abs=1e-15)
    if toward_room in (90, -90):
        assert abs(turn) == math.pi / 2


def test_left_and_right_do_not_depend_on_the_room() -> None:
    for room in ("left", "right"):
        run = only_run(
            f'room = "{room}"\nsteps = [{{ straight = 9 }}, {{ left = 30 }}, {{ straight = 9 }}, '
            '{ right = "22 1/2", joint = "miter" }, { straight = 9 }]'
        ).run
        assert run.turns[1:] == (math.radians(30), -math.radians(22.5))


def test_curves() -> None:
    run = only_run(
        'steps = [{ straight = 10 }, { curve_left = 90, radius = "2 1/2" }, { curve_right = 45, radius = 4 }]'
    ).run
    assert [element.sweep for element in run.elements] == [0.0, math.pi / 2, -math.pi / 4]
    assert [element.radius for element in run.elements[1:]] == pytest.approx([63.5, 101.6], rel=1e-15)
    assert run.elements[1].end == (254.0 + 63.5, 63.5)
    assert run.elements[2].length == pytest.approx(101.6 * math.pi / 4, rel=1e-15)


@pytest.mark.parametrize("room", ["left", "right"])
def test_an_eight_sided_room_and_an_eight_sided_post_close(room: str) -> None:
    """A regular octagon has angles of 135 degrees (Euclid, Elements I.32), from inside or round a post."""
    sides = ["{ straight = 12 }"] * 8
    for corner in ("inside", "outside"):
        steps = f", {{ {corner} = 135 }}, ".join(sides)
        run = only_run(f'room = "{room}"\nclosed = true\nsteps = [{steps}]').run
        assert run.closed
        turn = math.pi / 4 * run.hand * (1 if corner == "inside" else -1)
        assert run.turns == pytest.approx([turn] * 8, abs=1e-9)
        assert run.elements[-1].end == pytest.approx(run.elements[0].start, abs=1e-9)


@given(
    st.lists(st.tuples(st.floats(10, 400), st.integers(40, 320)), min_size=3, max_size=7),
    st.sampled_from(["left", "right"]),
)
def test_steps_measured_at_the_walls_are_the_points_they_came_from(walls: list[tuple[float, int]], room: str) -> None:
    """Walk plan points; at each corner measure the angle between the walls as the law of cosines gives it."""
    points, direction = [(0.0, 0.0)], 0.0
    for length, bend in walls:
        x, y = points[-1]
        points.append((x + length * math.cos(direction), y + length * math.sin(direction)))
        direction += math.radians(bend - 180 if abs(bend - 180) >= 2 else 30)
    steps: list[str] = []
    for i in range(1, len(points)):
        steps.append(f"{{ straight = {math.dist(points[i - 1], points[i])!r} }}")
        if i + 1 < len(points):
            (ax, ay), (bx, by), (cx, cy) = points[i - 1], points[i], points[i + 1]
            a, b = math.dist(points[i - 1], points[i]), math.dist(points[i], points[i + 1])
            c = math.dist(points[i - 1], points[i + 1])
            between = math.degrees(math.acos((a * a + b * b - c * c) / (2 * a * b)))
            left = (bx - ax) * (cy - by) - (by - ay) * (cx - bx) > 0
            steps.append(f"{{ {'inside' if left == (room == 'left') else 'outside'} = {between!r} }}")
    top = 'title = "Pantry"\nunits = "mm"\n'
    listed = ", ".join(f"[{x!r}, {y!r}]" for x, y in points)
    by_points = crossing_or_run(f'room = "{room}"\npoints = [{listed}]', top)
    assume(by_points is not None)
    assert by_points is not None
    by_steps = only_run(f'room = "{room}"\nsteps = [{", ".join(steps)}]', top=top).run
    for one, other in zip(by_points.elements, by_steps.elements, strict=True):
        assert math.dist(one.end, other.end) < 1e-3  # the arc cosine loses digits at flat corners


def crossing_or_run(text: str, top: str) -> Run | None:
    """The run; None where it crosses itself."""
    try:
        return only_run(text, top=top).run
    except PreviewError as error:
        if "crosses itself" not in str(error):
            raise
        return None


def test_points() -> None:
    run = only_run('closed = true\nroom = "right"\npoints = [[0, 0], ["5\'", 0], [60, "1 m"], [0, 4e1]]').run
    assert run.closed
    assert [element.start for element in run.elements] == [
        (0.0, 0.0),
        (1524.0, 0.0),
        (1524.0, 1000.0),
        (0.0, 1016.0),
    ]


@pytest.mark.parametrize(("unit", "mm"), [("in", 25.4), ("ft", 304.8), ("mm", 1.0), ("cm", 10.0), ("m", 1000.0)])
def test_bare_numbers_are_in_the_unit_of_the_scene(unit: str, mm: float) -> None:
    run = only_run("steps = [{ straight = 2.5 }]", top=f'title = "Pantry"\nunits = "{unit}"\n').run
    assert run.elements[0].length == 2.5 * mm


def test_a_closed_run_that_misses_by_a_hair_is_closed_exactly() -> None:
    sides = "{ straight = 900 }, { left = 90 }, { straight = 600.004 }, { left = 90 }, { straight = 900 }"
    top = 'title = "Pantry"\nunits = "mm"\n'
    run = only_run(f"closed = true\nsteps = [{sides}, {{ left = 90 }}, {{ straight = 600 }}]", top=top).run
    assert run.elements[-1].end == pytest.approx((0, 0), abs=1e-12)


def test_two_runs_and_two_members() -> None:
    made = scene(
        """
members = ["shoe", "base"]
steps = [{ straight = 60 }]

[[run]]
name = "east wall"
members = ["base"]
start = [100, 0]
steps = [{ straight = 40 }]
""",
        member='[member.base]\nprofile = "base"\n[member.shoe]\nprofile = "base"\nout = 1\n',
    )
    assert [(each.run.name, each.members) for each in made.runs] == [
        ("north wall", ("shoe", "base")),
        ("east wall", ("base",)),
    ]


def test_layout_errors_carry_the_run_and_what_was_written() -> None:
    with pytest.raises(PreviewError) as caught:
        only_run('steps = [{ straight = 60 }, { outside = "179 1/2" }, { straight = 0.0 }]')
    told = [(problem.place, problem.value, problem.file) for problem in caught.value.problems]
    assert told == [
        ('run "north wall", step 2, outside', '"179 1/2"', "pantry.toml"),
        ('run "north wall", step 3, straight', "0.0", "pantry.toml"),
    ]


def test_a_run_with_a_mistake_does_not_hide_the_next() -> None:
    with pytest.raises(PreviewError) as caught:
        only_run(
            'steps = [{ straight = "x" }, { left = 0 }]\n[[run]]\nname = "east"\n'
            "steps = [{ straight = 9 }, { left = 0.5 }, { straight = 9 }]"
        )
    assert [problem.place for problem in caught.value.problems] == [
        'run "north wall", step 1, straight',
        'run "east", step 2, left',
    ]


def test_a_wrong_name_does_not_hide_a_wrong_layout() -> None:
    with pytest.raises(PreviewError) as caught:
        only_run('members = ["bas"]\nsteps = [{ straight = 9 }, { left = 0.5 }, { straight = 9 }]')
    assert [problem.place for problem in caught.value.problems] == [
        'run "north wall", member 1',
        'run "north wall", step 2, left',
    ]


def test_more_than_20_000_steps_are_refused() -> None:
    steps = "{ straight = 60 }," * 20_001
    with pytest.raises(PreviewError, match="20,001 steps and points together") as caught:
        only_run(f"steps = [{steps}]")
    assert len(caught.value.problems) == 1
