"""What cannot be cut is refused, with the numbers, word for word."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from preview.errors import PreviewError
from preview.joinery import join
from preview.profiles import Profile
from preview.runs import Corner, Curve, Run, Step, Straight, Way, lay_out
from samples import RIGHT_ANGLE, block, corner, curve, meeting

DEGREE = math.pi / 180


def told(step: str, run: str, problem: str, fix: str) -> str:
    return f'run "{run}", {step}, member "base"\n  {problem}\n  fix: {fix}'


def eased(radius: int) -> str:
    """What helps a niche square to a straight: d out its face passes the straight's at arcsin(d/(R - d)) beyond square,
    and that is within 70 degrees from R = d (1 + 1/sin 70) on."""
    return f"use a radius of {radius} mm or more, {OR_ELSE}"


OR_ELSE = "a smaller corner, a shallower profile, or let the curve meet the straight smoothly"
NICHE: list[Step] = [
    Straight(300.0),
    Corner(-105 * DEGREE),
    Curve(330 * DEGREE, 60.0),
    Corner(-105 * DEGREE),
    Straight(300.0),
]

CASES: dict[str, tuple[Run, Profile, dict[str, Any], str]] = {
    "folds on the inside of a curve": (
        curve(RIGHT_ANGLE, 25.0),
        block(31.75),
        {},
        told(
            "step 1",
            "curve",
            "the curve's back radius 25 mm is not larger than the profile's projection 31.8 mm, so its face would fold",
            "use a radius over 31.8 mm or a shallower profile",
        ),
    ),
    "folds at its center, in inches": (
        curve(RIGHT_ANGLE, 31.75),
        block(31.75),
        {"unit": "in"},
        told(
            "step 1",
            "curve",
            "the curve's back radius 1 1/4\" is not larger than the profile's projection 1 1/4\", so its face "
            "would fold",
            'use a radius over 1 1/4" or a shallower profile',
        ),
    ),
    "folds behind the wall": (
        curve(-RIGHT_ANGLE, 8.0),
        block().moved(-10.0, 0.0),
        {},
        told(
            "step 1",
            "curve",
            "the curve's back radius 8 mm is not larger than the profile's depth behind the wall line 10 mm, so its "
            "face would fold",
            "use a radius over 10 mm or a shallower profile",
        ),
    ),
    "comes to a point": (
        curve(RIGHT_ANGLE, 31.8),
        block(31.75),
        {},
        told(
            "step 1",
            "curve",
            "the curve's back radius 31.8 mm is only a hair larger than the profile's projection 31.8 mm, so its face "
            "would come to a point",
            "use a radius of 32 mm or more, or a shallower profile",
        ),
    ),
    "comes to a point, in inches": (
        curve(RIGHT_ANGLE, 31.8),
        block(31.75),
        {"unit": "in"},
        told(
            "step 1",
            "curve",
            "the curve's back radius 1 1/4\" is only a hair larger than the profile's projection 1 1/4\", so its face "
            "would come to a point",
            'use a radius of 1 9/32" or more, or a shallower profile',
        ),
    ),
    # By hand: 19.9 mm out the straight's face passes the center of the niche, whose face turns there on 20.1 mm, at
    # 19.9 mm: one leaves the other at arccos(19.9/20.1) = 8.09 degrees.
    "the faces all but stop meeting": (
        meeting(Straight(300.0), -RIGHT_ANGLE, Curve(1.0, 40.0)),
        block(19.9),
        {},
        told(
            "step 3",
            "meeting",
            "this corner, 90° at the wall, is one of 171.91° at 19.9 mm out from the wall line: the cut leaves both "
            "faces there as a feather edge",
            eased(42),
        ),
    ),
    "a cope where the walls hardly turn": (
        lay_out("coped", [Straight(300.0), Corner(2 * DEGREE, Way("cope", coped="after")), Straight(300.0)]),
        block(20.0),
        {},
        told(
            "step 3",
            "coped",
            "the walls turn by 2° only here, and a cope needs 5°",
            "miter the corner: leave joint out, and coped where it is given",
        ),
    ),
    "two curves fold": (
        lay_out("wave", [Curve(1.0, 25.0), Straight(50.0), Curve(1.0, 26.0)]),
        block(30.0),
        {},
        told(
            "step 1",
            "wave",
            "the curve's back radius 25 mm is not larger than the profile's projection 30 mm, so its face would fold",
            "use a radius over 30 mm or a shallower profile",
        )
        + "\n\n"
        + told(
            "step 3",
            "wave",
            "the curve's back radius 26 mm is not larger than the profile's projection 30 mm, so its face would fold",
            "use a radius over 30 mm or a shallower profile",
        ),
    ),
    # By hand: the niche's face and the straight's touch at half its radius (see test_joint_reach).
    "the faces stop meeting": (
        meeting(Straight(300.0), -RIGHT_ANGLE, Curve(1.0, 40.0)),
        block(25.0),
        {},
        told(
            "step 3",
            "meeting",
            "at this 90° corner the two faces stop meeting at 20 mm out, and the profile projects 25 mm",
            eased(52),
        ),
    ),
    "the faces stop meeting a hair before the end": (
        meeting(Straight(300.0), -RIGHT_ANGLE, Curve(1.0, 40.0)),
        block(20.01),
        {},
        told(
            "step 3",
            "meeting",
            "at this 90° corner the two faces stop meeting at 20 mm out, and the profile projects a hair more",
            eased(42),
        ),
    ),
    # A return is a piece more, and no step.
    "the faces stop meeting on a returned run": (
        replace(meeting(Straight(300.0), -RIGHT_ANGLE, Curve(1.0, 40.0)), begin="return"),
        block(25.0),
        {},
        told(
            "step 3",
            "meeting",
            "at this 90° corner the two faces stop meeting at 20 mm out, and the profile projects 25 mm",
            eased(52),
        ),
    ),
    "the backs stop meeting behind the wall": (
        meeting(Straight(300.0), RIGHT_ANGLE, Curve(-1.0, 40.0)),
        block(40.0).moved(-25.0, 0.0),
        {},
        told(
            "step 3",
            "meeting",
            "at this 90° corner the two faces stop meeting at 20 mm behind the wall line, and the profile reaches "
            "back 25 mm",
            eased(52),
        ),
    ),
    # Two inside corners of 90 degrees take 20 mm each off a piece of 30 mm.
    "consumed by its cuts": (
        lay_out("u", [Straight(90.0), Corner(RIGHT_ANGLE), Straight(30.0), Corner(RIGHT_ANGLE), Straight(90.0)]),
        block(20.0),
        {},
        told(
            "step 3",
            "u",
            "the straight piece is consumed by its two cuts: 20 mm out from the wall line they overlap by 10 mm",
            "make it at least 11 mm longer, use a shallower profile, or change its corners",
        ),
    ),
    "all but consumed": (
        lay_out("u", [Straight(90.0), Corner(RIGHT_ANGLE), Straight(40.02), Corner(RIGHT_ANGLE), Straight(90.0)]),
        block(20.0),
        {},
        told(
            "step 3",
            "u",
            "the straight piece is consumed by its two cuts: 20 mm out from the wall line they leave only 0.02 mm",
            "make it at least 1 mm longer, use a shallower profile, or change its corners",
        ),
    ),
    "consumed at one end of a run": (
        corner(RIGHT_ANGLE, long=12.7),
        block(19.05),
        {"unit": "in"},
        told(
            "step 1",
            "corner",
            'the straight piece is consumed by its two cuts: 3/4" out from the wall line they overlap by 1/4"',
            'make it at least about 5/16" longer, use a shallower profile, or change its corners',
        )
        + "\n\n"
        + told(
            "step 3",
            "corner",
            'the straight piece is consumed by its two cuts: 3/4" out from the wall line they overlap by 1/4"',
            'make it at least about 5/16" longer, use a shallower profile, or change its corners',
        ),
    ),
    # A deep niche with a narrow mouth: past its lips the face would come round onto itself.
    "comes round onto itself": (
        lay_out("niche", NICHE),
        block(14.0),
        {},
        told(
            "step 3",
            "niche",
            "the curve comes round and meets itself: 14 mm out from the wall line it turns by 379.87°",
            "end the curve sooner, or use a shallower profile",
        ),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_what_cannot_be_cut_is_refused(name: str) -> None:
    run, profile, options, said = CASES[name]
    with pytest.raises(PreviewError) as refused:
        join(run, "base", profile, **options)
    assert str(refused.value) == said


def test_what_is_just_enough_is_cut() -> None:
    assert join(curve(RIGHT_ANGLE, 31.8501), "base", block(31.75)).pieces
    assert join(meeting(Straight(300.0), -RIGHT_ANGLE, Curve(1.0, 40.0)), "base", block(19.0)).pieces
    run = lay_out("u", [Straight(90.0), Corner(RIGHT_ANGLE), Straight(40.2), Corner(RIGHT_ANGLE), Straight(90.0)])
    assert join(run, "base", block(20.0)).pieces
    assert join(lay_out("niche", NICHE), "base", block(5.0)).pieces
    # The longer length that a refusal asks for is enough.
    run = lay_out("u", [Straight(90.0), Corner(RIGHT_ANGLE), Straight(41.0), Corner(RIGHT_ANGLE), Straight(90.0)])
    assert join(run, "base", block(20.0)).pieces
