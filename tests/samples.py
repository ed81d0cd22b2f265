"""A few exact profiles and runs for unit tests, in mm; every number can be followed by hand."""

from __future__ import annotations

import math

from preview.profiles import Arc, Line, Profile, Shape, make_profile, sketch
from preview.runs import Corner, Curve, Run, Side, Step, Straight, lay_out

RIGHT_ANGLE = math.pi / 2


def block(out: float = 20.0, high: float = 40.0) -> Profile:
    """A square-edged strip: area out x high, centroid in its middle."""
    corners = [(0.0, 0.0), (out, 0.0), (out, high), (0.0, high)]
    return make_profile("block", [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)])


def quarter_round(r: float = 10.0) -> Profile:
    """A quarter of a circle that bulges out: area pi r²/4, centroid 4 r / (3 pi) out from the back."""
    arc = Arc((r, 0.0), (0.0, r), (0.0, 0.0), RIGHT_ANGLE)
    return make_profile("quarter round", [Line((0.0, 0.0), (r, 0.0)), arc, Line((0.0, r), (0.0, 0.0))])


def cove_spandrel(r: float = 10.0) -> Profile:
    """What a quarter circle leaves of a square: area (1 - pi/4) r², centroid 0.2234 r out from the back."""
    arc = Arc((r, 0.0), (0.0, r), (r, r), -RIGHT_ANGLE)
    return make_profile("cove spandrel", [Line((0.0, 0.0), (r, 0.0)), arc, Line((0.0, r), (0.0, 0.0))])


def half_round(r: float = 10.0) -> Profile:
    """A half circle on its diameter: area pi r²/2, centroid 0.4244 r out from the back."""
    return make_profile(
        "half round", [Arc((0.0, 0.0), (0.0, 2 * r), (0.0, r), math.pi), Line((0.0, 2 * r), (0.0, 0.0))]
    )


def wedge(out: float = 30.0, high: float = 60.0) -> Profile:
    """A triangle that narrows from the foot up: one slope, so one cone on a curve."""
    corners = [(0.0, 0.0), (out, 0.0), (0.0, high)]
    return make_profile("wedge", [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)])


BASE = sketch(
    "base",
    31.75,
    [
        Shape("fillet", rise=60.0),
        Shape("ogee", rise=12.0, out=-12.0),
        Shape("fillet", out=-3.0),
        Shape("cove", rise=8.0, out=-8.0),
        Shape("bead", rise=6.0),
    ],
)
"""A base with every kind of edge: flat, double curve, ledge, hollow, round. It stands out 31.75 mm."""

CROWN = sketch(
    "crown",
    8.0,
    [Shape("bevel", rise=10.0, out=4.0), Shape("ogee", rise=24.0, out=24.0), Shape("fillet", rise=6.0)],
    wall=12.0,
    ceiling=9.0,
)
"""A sprung molding: its back leans away from the wall. It stands out 36 mm."""


def corner(turn: float, room: Side = "left", long: float = 300.0) -> Run:
    """Two straights of one length and a corner of `turn` radians, + toward the room."""
    hand = 1 if room == "left" else -1
    return lay_out("corner", [Straight(long), Corner(hand * turn), Straight(long)], room=room)


def curve(sweep: float, radius: float, room: Side = "left") -> Run:
    """One curve cut square at both ends; + lines the inside of the room's curve, - wraps the outside."""
    hand = 1 if room == "left" else -1
    return lay_out("curve", [Curve(hand * sweep, radius)], room=room)


def meeting(first: Straight | Curve, turn: float, second: Straight | Curve, room: Side = "left") -> Run:
    """Two elements and the corner between them, every turn + toward the room."""
    hand = 1 if room == "left" else -1

    def toward(step: Straight | Curve) -> Step:
        return Curve(hand * step.sweep, step.radius) if isinstance(step, Curve) else step

    return lay_out("meeting", [toward(first), Corner(hand * turn), toward(second)], room=room)


def stepped(room: Side = "left") -> Run:
    """A run with one of each: straights, an outside and an inside corner, both smooth curves, a curved miter."""
    hand = 1 if room == "left" else -1
    return lay_out(
        "stepped",
        [
            Straight(400.0),
            Corner(-hand * RIGHT_ANGLE),
            Straight(250.0),
            Corner(hand * RIGHT_ANGLE),
            Straight(300.0),
            Curve(-hand * RIGHT_ANGLE, 50.8),
            Straight(200.0),
            Curve(hand * RIGHT_ANGLE, 120.0),
            Corner(-hand * math.radians(40)),
            Straight(260.0),
        ],
        start=(100.0, -50.0),
        room=room,
        level=12.0,
    )


def around(room: Side = "left") -> Run:
    """A closed run round a room, 1200 x 900, with one rounded corner; the molding is inside (left) or outside."""
    return lay_out(
        "around",
        [
            Straight(1200.0),
            Corner(RIGHT_ANGLE),
            Straight(900.0),
            Corner(RIGHT_ANGLE),
            Straight(1000.0),
            Curve(RIGHT_ANGLE, 200.0),
            Straight(700.0),
            Corner(RIGHT_ANGLE),
        ],
        room=room,
        closed=True,
    )
