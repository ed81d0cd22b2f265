"""Profiles, runs and random corners for the tests of solids; and the skip where no CAD kernel can be loaded."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import pytest
from hypothesis import assume
from hypothesis import strategies as st

from preview.errors import PreviewError
from preview.joinery import MemberRun, Piece, join
from preview.models.solid import Solids, available, make_solids
from preview.profiles import SHAPES, Line, Profile, Shape, arc_of_sweep, make_profile, sketch
from preview.runs import Corner, Curve, Side, Step, Straight, lay_out

INCH = 25.4
ROOMS: tuple[Side, Side] = ("left", "right")
QUARTER = math.pi / 2


def kernel() -> Any:
    """The module cadquery; skips the test, saying why, where it cannot be loaded."""
    missing = available()
    if missing:
        pytest.skip(missing)
    import cadquery

    return cadquery


def solids(pieces: Sequence[Piece]) -> Solids:
    """The solids of pieces, where they can be made; else the test is skipped."""
    kernel()
    return make_solids(pieces)


def laid(steps: Sequence[Step], room: Side = "left", profile: Profile | None = None, heading: float = 0.3) -> MemberRun:
    """A member along a run that starts off the origin and heads nowhere in particular."""
    run = lay_out("wall", steps, start=(1234.5, -678.9), heading=heading, room=room)
    return join(run, "base", profile or base())


def curve(sweep: float, radius: float, profile: Profile, *, wraps: bool) -> Piece:
    """One curve to the left, with square ends: its room outside (the molding wraps it) or inside (it lines it)."""
    run = lay_out("column", [Curve(sweep, radius)], start=(100.0, 50.0), heading=0.4, room="right" if wraps else "left")
    return join(run, "ring", profile).pieces[0]


def quarter_round(r: float) -> Profile:
    """A quarter disc whose square corner is the foot of the back."""
    arc = arc_of_sweep((r, 0.0), (0.0, r), QUARTER)
    return make_profile("quarter round", [Line((0.0, 0.0), (r, 0.0)), arc, Line((0.0, r), (0.0, 0.0))])


def cove(r: float) -> Profile:
    """The spandrel that a quarter disc leaves of its square: hollow, the square corner at the foot of the back."""
    arc = arc_of_sweep((r, 0.0), (0.0, r), -QUARTER)
    return make_profile("cove", [Line((0.0, 0.0), (r, 0.0)), arc, Line((0.0, r), (0.0, 0.0))])


def half_round(r: float) -> Profile:
    """A half disc on the wall."""
    arc = arc_of_sweep((0.0, -r), (0.0, r), math.pi)
    return make_profile("half round", [arc, Line((0.0, r), (0.0, -r))])


def base() -> Profile:
    """Every kind of edge there is: flat, fillet, slant, hollow and round arcs, and a bead that bulges out."""
    shapes = [
        Shape("fillet", rise=40.0),
        Shape("fillet", out=-2.0),
        Shape("cove", rise=10.0, out=-8.0),
        Shape("fillet", rise=4.0),
        Shape("bead", rise=8.0),
        Shape("bevel", rise=9.0, out=-3.0),
    ]
    return sketch("base", 18.0, shapes)


@st.composite
def random_lines(draw: st.DrawFn) -> MemberRun:
    """A random section along two to four straights and curves, with corners between most of them."""
    profile = draw(_sections())
    steps: list[Step] = []
    for _ in range(draw(st.integers(2, 4))):
        if steps and draw(st.integers(0, 5)):
            steps.append(Corner(math.radians(draw(st.floats(1, 150)) * draw(_sign))))
        if draw(st.booleans()):
            steps.append(Straight(draw(st.floats(80, 3000))))
        else:
            steps.append(Curve(math.radians(draw(st.floats(3, 200)) * draw(_sign)), draw(st.floats(15, 3000))))
    try:
        return laid(steps, draw(st.sampled_from(ROOMS)), profile, draw(st.floats(-3, 3)))
    except PreviewError:  # it folds, crosses itself or is consumed: joinery refuses it
        assume(False)
        raise


_sign = st.sampled_from([-1.0, 1.0])


@st.composite
def _sections(draw: st.DrawFn) -> Profile:
    """One to four trade shapes."""
    shapes = []
    for kind in draw(st.lists(st.sampled_from(sorted(set(SHAPES) - {"scotia"})), min_size=1, max_size=4)):
        out = 0.0 if kind in ("bead", "torus", "astragal") else draw(st.floats(1, 8)) * draw(_sign)
        rise = draw(st.floats(1, 12))
        if kind == "fillet":
            rise, out = draw(st.sampled_from([(rise, 0.0), (0.0, out)]))
        shapes.append(Shape(kind, rise, out))
    try:
        return sketch("at random", draw(st.floats(36, 50)), [Shape("fillet", rise=5.0), *shapes])
    except PreviewError:
        assume(False)
        raise
