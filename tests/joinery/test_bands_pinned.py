"""Sections cut at heights and at projections, against the circle's own equation and by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preview.joinery import banded, face_line
from preview.joinery.bands import merged
from preview.profiles import Arc, Profile, measure
from samples import BASE, block, cove_spandrel, half_round, quarter_round


def test_heights_that_are_one() -> None:
    """Each is compared with the last that is kept, not with the one before it."""
    assert merged([3.0, 1.0, 1.0, 2.0]).tolist() == [1.0, 2.0, 3.0]
    assert merged([1.0, 1.0 + 9e-11, 1.0 + 18e-11, 5.0]).tolist() == [1.0, 1.0 + 18e-11, 5.0]
    assert merged([0.0, 0.3, 0.6, 0.9, 1.2], near=0.5).tolist() == [0.0, 0.6, 1.2]
    assert merged([0.0, 0.5, 1.0], near=0.5).tolist() == [0.0, 1.0]


@pytest.mark.parametrize("profile", [half_round(10.0), quarter_round(10.0), cove_spandrel(10.0)], ids=lambda p: p.name)
@pytest.mark.parametrize("move", [(0.0, 0.0), (3.0, -17.0)])
def test_an_outline_is_parted_where_it_crosses_projections(profile: Profile, move: tuple[float, float]) -> None:
    outs = [1.5, 4.0, 9.25]
    made = banded(profile.moved(*move), outs=[d + move[0] for d in outs])
    assert measure(made).area == pytest.approx(measure(profile).area, rel=1e-12)
    starts = [edge.start for edge in made.edges]
    for d in outs:
        crossed = sorted(h - move[1] for at, h in starts if at == d + move[0])
        aside = math.sqrt(100.0 - d * d)
        want = {
            "half round": [10.0 - aside, 10.0 + aside],
            "quarter round": [0.0, aside],
            "cove spandrel": [0.0, 10.0 - math.sqrt(100.0 - (10.0 - d) ** 2)],
        }[profile.name]
        if profile.name == "half round":
            assert crossed == pytest.approx(want, abs=1e-12)
        else:  # its foot is level, and runs across
            assert crossed == pytest.approx(want, abs=1e-12)


@pytest.mark.parametrize(
    "profile", [block(), half_round(), quarter_round(), cove_spandrel(), BASE], ids=lambda p: p.name
)
def test_the_directions_of_a_face_are_unit_vectors_upward(profile: Profile) -> None:
    """On the wall above and below as well; on an arc square to its radius."""
    line = face_line(profile)
    h = np.linspace(line.breaks[0] - 1.0, line.breaks[-1] + 1.0, 60)
    found = line.tangents(h)
    assert np.linalg.norm(found, axis=1) == pytest.approx(1.0, abs=1e-12)
    assert (found[:, 1] >= 0.0).all()
    for at, way in zip(h.tolist(), found, strict=True):
        edge = line.edge_at(at)
        if edge is None:
            assert way.tolist() == [0.0, 1.0]
        elif isinstance(edge, Arc):
            out = float(line.at(np.array([at]))[0])
            assert way @ np.array([out - edge.center[0], at - edge.center[1]]) == pytest.approx(0.0, abs=1e-9)
