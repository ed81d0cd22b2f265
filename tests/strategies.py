"""Hypothesis strategies for valid profiles, runs and joined pieces, shared by the property tests.

    @given(profiles())          a sketched face of one to four trade shapes, 6 to about 60 mm out
    @given(runs())              an open run of two to four elements, laid out without a crossing
    @given(joined())            a profile cut to a run: every refusal has been passed

Sizes are whole or half mm and angles whole degrees, so that a failing example can be read and redrawn. What the
project refuses is not drawn; the tests of refusals see to that side.

    @share(0.4)                 that share of the profile's examples, for checks that are slow
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

from hypothesis import assume, settings
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.joinery import MemberRun, join
from preview.profiles import Profile, Shape, sketch
from preview.runs import (
    Corner,
    Curve,
    Easement,
    Run,
    Side,
    Splay,
    Step,
    Straight,
    Way,
    lay_out,
    scarfed,
)


def share(part: float) -> settings:
    """Settings that run a part of the examples that the profile in force asks for."""
    return settings(max_examples=max(1, round(settings().max_examples * part)))


KINDS = ("bead", "bevel", "cove", "fillet", "ogee", "ovolo", "reverse-ogee", "scotia")


@st.composite
def profiles(draw: st.DrawFn) -> Profile:
    """A sound profile of one to four trade shapes, its foot 6 to 40 mm out."""
    size = st.integers(2, 24).map(lambda halves: halves / 2)
    shapes = []
    for kind in draw(st.lists(st.sampled_from(KINDS), min_size=1, max_size=4)):
        rise, out = draw(size), draw(size) * draw(st.sampled_from([-1, 1]))
        if kind == "fillet" and not draw(st.booleans()):
            rise = 0.0
        elif kind in ("bead", "fillet"):
            out = 0.0
        elif kind == "scotia":
            out = math.copysign(rise / 3, out)
        shapes.append(Shape(kind, rise=rise, out=out))
    try:
        return sketch("drawn", draw(st.integers(6, 40)) * 1.0, shapes)
    except PreviewError:  # hollowed through to the wall, say
        assume(False)
        raise


def turns(most: int = 120) -> st.SearchStrategy[float]:
    """A corner or a sweep either way, 5 to `most` degrees, in radians."""
    return st.integers(5, most).flatmap(
        lambda degrees: st.sampled_from([1, -1]).map(lambda s: math.radians(s * degrees))
    )


@st.composite
def runs(draw: st.DrawFn, longest: int = 4, least_radius: int = 5, most_turn: int = 120) -> Run:
    """An open run of two to `longest` elements, most of them with a corner between; it crosses itself nowhere."""
    steps: list[Step] = []
    for number in range(draw(st.integers(2, longest))):
        if number and draw(st.integers(0, 3)):
            steps.append(Corner(draw(turns(most_turn))))
        if draw(st.booleans()):
            steps.append(Straight(draw(st.integers(15, 60)) * 10.0))
        else:
            steps.append(Curve(draw(turns(most_turn)), draw(st.integers(least_radius, 300)) * 1.0))
    start = (draw(st.integers(-500, 500)) * 1.0, draw(st.integers(-500, 500)) * 1.0)
    heading = math.radians(draw(st.integers(0, 359)))
    room: Side = draw(st.sampled_from(["left", "right"]))
    try:
        return lay_out(
            "drawn", steps, start=start, heading=heading, room=room, level=draw(st.sampled_from([0.0, 85.5]))
        )
    except PreviewError:  # it crosses itself
        assume(False)
        raise


@st.composite
def joined(draw: st.DrawFn, longest: int = 4, least_radius: int = 5, most_turn: int = 120) -> MemberRun:
    """A profile, at times set out from the wall, cut to a run that has room for it."""
    profile = draw(profiles()).moved(draw(st.sampled_from([0.0, 0.0, 12.5])), 0.0)
    run = draw(runs(longest, least_radius, most_turn))
    try:
        return join(run, "member", profile)
    except PreviewError:  # folded, unmet or consumed
        assume(False)
        raise


WAYS = ("miter", "cope after", "cope before", "splay")
PITCHES = (-35.0, -20.0, 12.0, 33.69, 45.0)


@st.composite
def trade_runs(draw: st.DrawFn) -> Run:
    """An open run with the trade's joints, walls 30 to 150 degrees apart, ends of every kind; some climb, some curve.

    Copes and self-returns stand on level straights, scarfs and splays where they are offered. A curve follows smoothly
    or at a corner, on a radius of 30 to 400 mm.
    """
    climbs = draw(st.booleans())
    steps: list[Step] = []
    for number in range(draw(st.integers(1, 4))):
        if number:
            way = draw(st.sampled_from(WAYS if not climbs else ("miter", "none", "easement")))
            inside = draw(st.booleans())
            turn = math.radians(180 - draw(st.integers(30, 150)))
            if way.startswith("cope"):
                side: Literal["before", "after"] = "after" if way.endswith("after") else "before"
                steps.append(Corner(turn, Way("cope", coped=side)))
            elif way == "splay":
                steps.append(Splay(turn if inside else -turn, draw(st.integers(2, 5)), draw(st.integers(30, 60)) * 1.0))
            elif way == "easement":
                steps.append(Easement(draw(st.integers(20, 200)) * 1.0))
            elif way != "none":
                steps.append(Corner(turn if inside else -turn))
        if not climbs and not draw(st.integers(0, 3)):
            steps.append(Curve(draw(turns(120)), draw(st.integers(30, 400)) * 1.0))
            continue
        slope = math.tan(math.radians(draw(st.sampled_from((0.0, *PITCHES))))) if climbs else 0.0
        steps.append(Straight(draw(st.integers(60, 120)) * 10.0, slope))
    ends = ("square", "return", "beveled") if climbs else ("square", "return", "self-return", "beveled")
    try:
        run = lay_out("drawn", steps, room="left", level=draw(st.sampled_from([0.0, 85.5])))
        run = replace(
            run,
            begin=draw(st.sampled_from(ends)),
            end=draw(st.sampled_from(ends)),
            raked=draw(st.sampled_from(["derived", "derived", "same"])) if climbs else "derived",
        )
        if draw(st.booleans()):
            run = scarfed(run, 500.0, draw(st.sampled_from([-1.0, 0.5, 1.0])), 100.0)
    except PreviewError:  # it crosses itself, or a step has no room
        assume(False)
        raise
    return run
