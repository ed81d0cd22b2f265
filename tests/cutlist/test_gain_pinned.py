"""By how much a curve's face runs past its back at a corner: a line and a circle, crossed by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preview.cutlist.lengths import gain
from preview.joinery import join
from preview.runs import Corner, Curve, Side, Straight, lay_out
from samples import block

OUT, RADIUS, SWEEP = 24.0, 150.0, 0.9


def crossing(turn: float, lines: bool) -> float:
    """The face's place along a curve's own tangent at a corner, which a straight reaches with a turn + inside.

    The corner is the origin, the straight comes along x with the room over it: its face is y = OUT. The curve's center
    stands RADIUS off its tangent, on the room's side where it lines, and its face keeps RADIUS - OUT from it, or +.
    """
    side = 1.0 if lines else -1.0
    tangent = np.array([math.cos(turn), math.sin(turn)])
    center = side * RADIUS * np.array([-tangent[1], tangent[0]])
    across = math.sqrt((RADIUS - side * OUT) ** 2 - (OUT - center[1]) ** 2)
    roots = (center[0] - across, center[0] + across)
    x = min(roots, key=abs)
    return float(np.array([x, OUT]) @ tangent)


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("lines", [True, False])
@pytest.mark.parametrize("turn", [50.0, -35.0, 80.0])
def test_gain_of_a_curve_at_a_corner(turn: float, lines: bool, room: Side) -> None:
    """At its beginning the face gains what it starts earlier; walked the other way it is the same at its end."""
    hand = 1 if room == "left" else -1
    angle = math.radians(turn)
    sweep = SWEEP * hand * (1 if lines else -1)
    steps = [Straight(400.0), Corner(hand * angle), Curve(sweep, RADIUS)]
    where = {"start": (310.0, -45.0), "heading": 0.7}
    line = join(lay_out("seat", steps, room=room, **where), "m", block(OUT))  # type: ignore[arg-type]
    assert gain(line.pieces[1], False) == pytest.approx(-crossing(angle, lines), abs=1e-9)
    back = join(lay_out("seat", steps[::-1], room=room, **where), "m", block(OUT))  # type: ignore[arg-type]
    assert gain(back.pieces[0], True) == pytest.approx(-crossing(angle, lines), abs=1e-9)
    # The straight beside it: where its face ends, past the corner.
    straight = math.copysign(1.0, angle) * -1.0
    assert gain(line.pieces[0], True) * straight > 0
