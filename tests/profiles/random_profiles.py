"""Profiles at random for the property tests, and an outline sampled by another road than the project's."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from hypothesis import assume
from hypothesis import strategies as st
from numpy.typing import NDArray

from preview.errors import PreviewError
from preview.profiles import SHAPES, Arc, Edge, Profile, Shape, sketch

Floats = NDArray[np.float64]


@st.composite
def sketched(draw: st.DrawFn) -> Profile:
    """A sound profile of one to seven trade shapes, 10 to about 150 mm out; some sizes round, some not."""
    size = st.one_of(st.integers(1, 12).map(float), st.floats(0.5, 12.0))
    d = foot = draw(st.floats(15.0, 60.0))
    shapes: list[Shape] = []
    for kind in draw(st.lists(st.sampled_from(sorted(SHAPES)), min_size=1, max_size=7)):
        rise, out = draw(size), draw(size) * draw(st.sampled_from([-1.0, 1.0]))
        if d + out < 14.0:  # a scotia or a deep cove hollows out up to 12 mm more
            out = abs(out)
        if kind in ("bead", "torus", "astragal"):
            out = 0.0
        elif kind == "fillet":
            rise, out = (rise, 0.0) if draw(st.booleans()) else (0.0, out)
        elif kind == "scotia":
            out *= 0.9 * rise / max(rise, abs(out))
        elif kind.startswith("quirked"):
            rise += 4.0  # its round is an eighth of it
            out *= 5 / 7 * rise / max(rise, abs(out))
        shapes.append(Shape(kind, rise, out))
        d += out
    assume(any(shape.rise for shape in shapes))
    try:
        return sketch("at random", foot, shapes)
    except PreviewError:  # a bead under a deep ledge, say: the outline crosses itself
        assume(False)
        raise


def sampled(edges: Iterable[Edge], most: float) -> Floats:
    """Points (n, 2) along edges, at most `most` mm apart, from their numbers alone."""
    parts = []
    for edge in edges:
        count = 1 + math.ceil(edge.length / most)
        t = np.linspace(0.0, 1.0, count, endpoint=False)
        if isinstance(edge, Arc):
            first = math.atan2(edge.start[1] - edge.center[1], edge.start[0] - edge.center[0])
            turned = first + edge.sweep * t
            parts.append(np.array(edge.center) + edge.radius * np.column_stack([np.cos(turned), np.sin(turned)]))
        else:
            parts.append(np.outer(1 - t, edge.start) + np.outer(t, edge.end))
    return np.concatenate(parts)
