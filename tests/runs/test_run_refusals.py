"""Every refusal of a run's layout, word for word."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import pytest

from preview.errors import PreviewError
from preview.runs import Corner, Curve, Step, Straight, Vec2, lay_out, through_points
from samples import RIGHT_ANGLE

DEGREE = math.pi / 180
SQUARE: list[Step] = [Straight(300.0), Corner(RIGHT_ANGLE)] * 3


def told(place: str, problem: str, fix: str) -> str:
    return f"{place}\n  {problem}\n  fix: {fix}"


def together(*problems: str) -> str:
    return "\n\n".join(problems)


ALL_THE_WAY = "if the run goes all the way round, write closed = true; else "
TURN_THE_RIGHT_WAY = "check the lengths, and that every corner turns the right way (left or right)"
SPLIT = "split the corner in two with a short piece between them, or end the run and start another"
LEAVE_OUT = "leave the corner out and carry straight on"
SAY_HOW_FAR_OFF = (
    "check the measured lengths and corners, or say how far they may be off and the miss is spread over them: "
    'measured = { lengths = "1/8", angles = 0.5 }'
)
GIVE_A_LENGTH = "give its length along the wall, or leave the step out"

STEPS: dict[str, tuple[list[Step], dict[str, Any], str]] = {
    "no steps": (
        [],
        {},
        told(
            "steps",
            "the run has no straight and no curve",
            'add a step such as { straight = "5\' 3-1/2" }',
        ),
    ),
    "only a corner": (
        [Corner(1.0)],
        {},
        told(
            "steps",
            "the run has no straight and no curve",
            'add a step such as { straight = "5\' 3-1/2" }',
        ),
    ),
    "short straight": (
        [Straight(0.4)],
        {"unit": "mm"},
        told(
            "step 1, straight = 0.4 mm",
            "a straight must be at least 0.5 mm long",
            GIVE_A_LENGTH,
        ),
    ),
    "straight backwards": (
        [Straight(-25.4)],
        {"unit": "in"},
        told(
            'step 1, straight = -1"',
            'a straight must be at least about 1/32" long',
            GIVE_A_LENGTH,
        ),
    ),
    "straight that is no number": (
        [Straight(math.nan)],
        {},
        told(
            "step 1, straight = nan mm",
            "a straight must be at least 0.5 mm long",
            GIVE_A_LENGTH,
        ),
    ),
    "starts with a corner": (
        [Corner(RIGHT_ANGLE), Straight(100.0)],
        {},
        told(
            "step 1",
            "the run starts with a corner, which needs a piece on each side",
            "leave this step out, or add a straight or a curve before it",
        ),
    ),
    "closed, starts with a corner": (
        [Corner(RIGHT_ANGLE), Straight(100.0)],
        {"closed": True},
        told(
            "step 1",
            "the run starts with a corner, which needs a piece on each side",
            "write this corner as the last step",
        ),
    ),
    "ends with a corner": (
        [Straight(100.0), Corner(RIGHT_ANGLE)],
        {},
        told(
            "step 2",
            "the run ends with a corner, which needs a piece on each side",
            "leave this step out, or add a straight or a curve after it",
        ),
    ),
    "two corners": (
        [Straight(100.0), Corner(0.5), Corner(0.5), Straight(100.0)],
        {},
        told(
            "step 2",
            "this corner and the next (step 3) have no piece between them",
            "make them one corner of the whole angle, or put a straight between them",
        ),
    ),
    "no turn": (
        [Straight(100.0), Corner(0.0), Straight(100.0)],
        {},
        told(
            "step 2, right = 0°",
            "the run turns by 0° here, less than the 1° a corner needs",
            LEAVE_OUT,
        ),
    ),
    "slight corner": (
        [Straight(100.0), Corner(0.99 * DEGREE), Straight(100.0)],
        {},
        told(
            "step 2, left = 0.99°",
            "the run turns by 0.99° here, less than the 1° a corner needs",
            LEAVE_OUT,
        ),
    ),
    "steep corner": (
        [Straight(100.0), Corner(-151 * DEGREE), Straight(100.0)],
        {},
        told(
            "step 2, right = 151°",
            "the run turns by 151° here, more than the 150° a miter can serve",
            SPLIT,
        ),
    ),
    "slight curve": (
        [Curve(0.5 * DEGREE, 100.0)],
        {},
        told(
            "step 1, curve_left = 0.5°",
            "a curve must turn by 1° to 330°",
            "write a longer way round as two curves, a smaller one as a straight",
        ),
    ),
    "curve nearly all round": (
        [Curve(-331 * DEGREE, 100.0)],
        {},
        told(
            "step 1, curve_right = 331°",
            "a curve must turn by 1° to 330°",
            "write a longer way round as two curves, a smaller one as a straight",
        ),
    ),
    "sharp curve": (
        [Curve(RIGHT_ANGLE, 0.4)],
        {},
        told(
            "step 1, radius = 0.4 mm",
            "a back radius under 0.5 mm is a sharp corner",
            "use a corner step (left or right) instead, or a larger radius",
        ),
    ),
    "flat curve": (
        [Curve(RIGHT_ANGLE, 1.1e6)],
        {"unit": "m"},
        told(
            "step 1, radius = 1100 m",
            "a back radius over 1 km is a straight",
            "use a straight step instead, or a smaller radius",
        ),
    ),
    "four mistakes at once": (
        [Straight(0.0), Corner(0.0), Curve(RIGHT_ANGLE, 0.1), Corner(1.0)],
        {},
        together(
            told(
                "step 1, straight = 0 mm",
                "a straight must be at least 0.5 mm long",
                GIVE_A_LENGTH,
            ),
            told(
                "step 2, right = 0°",
                "the run turns by 0° here, less than the 1° a corner needs",
                LEAVE_OUT,
            ),
            told(
                "step 3, radius = 0.1 mm",
                "a back radius under 0.5 mm is a sharp corner",
                "use a corner step (left or right) instead, or a larger radius",
            ),
            told(
                "step 4",
                "the run ends with a corner, which needs a piece on each side",
                "leave this step out, or add a straight or a curve after it",
            ),
        ),
    ),
    "closed run that misses": (
        [*SQUARE, Straight(250.0)],
        {"closed": True},
        told(
            "closed = true",
            "the run misses its start by 50.000 mm (+0.000 mm in x, +50.000 mm in y); it may miss by 0.01 mm",
            SAY_HOW_FAR_OFF,
        ),
    ),
    "closed run that misses by a little more than it may": (
        [*SQUARE, Straight(299.988)],
        {"closed": True},
        told(
            "closed = true",
            "the run misses its start by 0.012 mm (+0.000 mm in x, +0.012 mm in y); it may miss by 0.01 mm",
            SAY_HOW_FAR_OFF,
        ),
    ),
    "closed run whose corners do not add up": (
        [*SQUARE, Straight(300.0), Corner(80 * DEGREE)],
        {"closed": True},
        told(
            "closed = true",
            "after the last corner the run heads 10° away from where it started",
            "check the corners: they and the curves must add up to one whole turn; or leave the last corner out and "
            "it is found for you, or say how far they may be off: measured = { angles = 0.5 }",
        ),
    ),
    "closed curves that miss": (
        [Curve(math.pi, 60.0), Curve(math.pi, 60.003)],
        {"closed": True},
        told(
            "closed = true",
            "the run misses its start by 0.006 mm in a direction that none of its straights runs in",
            "check the curves' radii and angles",
        ),
    ),
    "closed curves that miss by next to nothing": (
        [Curve(math.pi, 60.0), Curve(math.pi, 60.0 + 1e-7)],
        {"closed": True},
        told(
            "closed = true",
            "the run misses its start by 2e-07 mm in a direction that none of its straights runs in",
            "check the curves' radii and angles",
        ),
    ),
    # Only what climbs up one wall and down the one across could make up for the height, and only by some 800 mm.
    "closed room whose climbs all but cancel": (
        [
            Straight(800.0, 150.0 / 800.0),
            Corner(RIGHT_ANGLE),
            Straight(800.0),
            Corner(RIGHT_ANGLE),
            Straight(800.0, -149.995 / 800.0),
            Corner(RIGHT_ANGLE),
            Straight(800.0),
        ],
        {"closed": True},
        told(
            "closed = true",
            "the run misses its start by 0.005 mm in a direction that none of its straights runs in",
            "check the curves' radii and angles",
        ),
    ),
    "closed run with a slight last corner": (
        [Curve(math.pi, 60.0), Curve(math.pi - 1e-4, 60.0)],
        {"closed": True},
        told(
            "closed = true",
            "the run misses its start by 0.006 mm in a direction that none of its straights runs in",
            "check the curves' radii and angles",
        ),
    ),
    "closed run whose last corner is too slight": (
        [
            Straight(100.0),
            Corner(RIGHT_ANGLE),
            Straight(80.0),
            Corner(RIGHT_ANGLE),
            Straight(200.0),
            Corner(RIGHT_ANGLE),
            Straight(80.0 + 100 * math.tan(0.5 * DEGREE)),
            Corner(90.5 * DEGREE),
            Straight(100 / math.cos(0.5 * DEGREE)),
        ],
        {"closed": True},
        told(
            "closed = true",
            "the corners and curves miss one whole turn by 0.5°, too little for a last corner",
            "check the angles: they must add up to 360°, or leave at least 1° for a last corner",
        ),
    ),
    "closed wedge whose last corner is too steep": (
        [
            Straight(100.0),
            Corner(102 * DEGREE),
            Straight(200.0 * math.sin(12 * DEGREE)),
            Corner(102 * DEGREE),
            Straight(100.0),
        ],
        {"closed": True},
        told(
            "closed = true",
            "to close, the run turns by 156° here, more than the 150° a miter can serve",
            SPLIT,
        ),
    ),
    "crosses itself": (
        [Straight(300.0), Corner(120 * DEGREE), Straight(300.0), Corner(120 * DEGREE), Straight(301.0)],
        {},
        told(
            "step 5",
            "the run crosses itself: it meets step 1 at x = 0 mm, y = 0 mm",
            f"{ALL_THE_WAY}{TURN_THE_RIGHT_WAY}",
        ),
    ),
    "ends with the corner at which it began": (
        [step for wall in (300.0, 200.0, 300.0, 200.0) for step in (Straight(wall), Corner(RIGHT_ANGLE))],
        {},
        told(
            "step 8",
            "the run ends with a corner, which needs a piece on each side",
            f"{ALL_THE_WAY}leave this step out, or add a straight or a curve after it",
        ),
    ),
    "crosses itself, in inches": (
        [
            Straight(254.0),
            Corner(RIGHT_ANGLE),
            Straight(127.0),
            Corner(RIGHT_ANGLE),
            Straight(127.0),
            Corner(RIGHT_ANGLE),
            Straight(254.0),
        ],
        {"unit": "in"},
        told(
            "step 7",
            'the run crosses itself: it meets step 1 at x = 5", y = 0"',
            TURN_THE_RIGHT_WAY,
        ),
    ),
}

POINTS: dict[str, tuple[list[Vec2], bool, str]] = {
    "one point": (
        [(0.0, 0.0)],
        False,
        told(
            "points = 1",
            "a run needs at least 2 points",
            "give the plan position of every corner and of both ends",
        ),
    ),
    "closed, two points": (
        [(0.0, 0.0), (10.0, 0.0)],
        True,
        told(
            "points = 2",
            "a closed run needs at least 3 points",
            "give the plan position of every corner; the last goes back to the first by itself",
        ),
    ),
    "one point twice": (
        [(0.0, 0.0), (10.0, 0.0), (10.0, 0.3)],
        False,
        told(
            "points 2 and 3",
            "they are 0.3 mm apart, too short for a piece of molding",
            "leave one of them out",
        ),
    ),
    "closed by hand": (
        [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 0.0)],
        True,
        told(
            "points 4 and 1",
            "they are 0 mm apart, too short for a piece of molding",
            "leave the last one out: a closed run returns to its first point by itself",
        ),
    ),
    "a point that is no number": (
        [(0.0, 0.0), (math.nan, 0.0)],
        False,
        told(
            "points 1 and 2",
            "they are nan mm apart, too short for a piece of molding",
            "leave one of them out",
        ),
    ),
    "two bad corners": (
        [(0.0, 0.0), (100.0, 0.0), (200.0, 1.0), (100.0, 1.5)],
        False,
        together(
            told(
                "point 2",
                "the run turns by 0.57° here, less than the 1° a corner needs",
                LEAVE_OUT,
            ),
            told(
                "point 3",
                "the run turns by 179.14° here, more than the 150° a miter can serve",
                SPLIT,
            ),
        ),
    ),
    "folds back": (
        [(0.0, 0.0), (100.0, 0.0), (20.0, 0.0)],
        False,
        told(
            "point 2",
            "the run turns by 180° here, more than the 150° a miter can serve",
            SPLIT,
        ),
    ),
    "crosses itself": (
        [(0.0, 0.0), (100.0, 0.0), (100.0, 50.0), (50.0, 50.0), (50.0, -50.0)],
        False,
        told(
            "the straight from point 4",
            "the run crosses itself: it meets the straight from point 1 at x = 50 mm, y = 0 mm",
            TURN_THE_RIGHT_WAY,
        ),
    ),
}


@pytest.mark.parametrize("name", STEPS)
def test_steps_are_refused_with_their_whole_message(name: str) -> None:
    steps, options, said = STEPS[name]
    with pytest.raises(PreviewError) as refused:
        lay_out("run", steps, **options)
    assert str(refused.value) == said


@pytest.mark.parametrize("name", POINTS)
def test_points_are_refused_with_their_whole_message(name: str) -> None:
    points, closed, said = POINTS[name]
    with pytest.raises(PreviewError) as refused:
        through_points("run", points, closed=closed)
    assert str(refused.value) == said


@pytest.mark.parametrize(
    "steps",
    [
        [Straight(0.5)],
        [Curve(DEGREE, 0.5)],
        [Curve(330 * DEGREE, 1e6)],
        [Straight(100.0), Corner(DEGREE), Straight(100.0)],
        [Straight(100.0), Corner(-150 * DEGREE), Straight(100.0)],
    ],
)
def test_the_limits_themselves_are_allowed(steps: Sequence[Step]) -> None:
    assert lay_out("run", steps).elements
