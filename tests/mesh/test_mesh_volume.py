"""Volumes and areas: what flattening leaves out is known exactly, shrinks as it should, and is never more."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from preview.joinery import exact_volume, join
from preview.models.mesh import PieceMesh, mesh_member_run
from preview.profiles import Profile
from preview.runs import Curve, Run, Side, Straight
from samples import BASE, CROWN, RIGHT_ANGLE, block, corner, curve, half_round, meeting, quarter_round, wedge
from true_surface import parts

DEGREE = math.pi / 180


def meshed(run: Run, profile: Profile, chord: float) -> list[PieceMesh]:
    return mesh_member_run(join(run, "m", profile), chord)


def moments(points: np.ndarray) -> tuple[float, float]:
    """Area of a polygon and its first moment over d, by the shoelace."""
    x, y = points.T
    x1, y1 = np.roll(x, -1), np.roll(y, -1)
    cross = x * y1 - x1 * y
    return float(cross.sum() / 2), float(((x + x1) * cross).sum() / 6)


@pytest.mark.parametrize("profile", [BASE, CROWN, wedge(), half_round()], ids=lambda p: p.name)
@pytest.mark.parametrize(("sweep", "radius"), [(-RIGHT_ANGLE, 50.8), (RIGHT_ANGLE, 60.0), (-5.0, 0.5), (0.3, 1e4)])
@pytest.mark.parametrize("room", ["left", "right"])
def test_a_curve_cut_square_has_exactly_the_polygons_volume(
    profile: Profile, sweep: float, radius: float, room: Side
) -> None:
    """Pappus for a polygon turned in steps: each of n steps by t sweeps sin t / t of the true wedge.

    Between two upright planes through the axis every side is a plane trapezoid, so nothing else is lost.
    """
    mesh = meshed(curve(sweep, radius, room), profile, 0.1)[0]
    area, moment = moments(mesh.shape.face.outline.points)
    spans, step = mesh.shape.spans, abs(sweep) / mesh.shape.spans
    assert mesh.volume == pytest.approx(spans * math.sin(step) * (area * radius - np.sign(sweep) * moment), rel=1e-11)


@pytest.mark.parametrize("turn", [90, -90, -150, 22.5])
def test_straights_of_flat_profiles_are_exact(turn: float) -> None:
    for mesh in meshed(corner(turn * DEGREE), wedge(), 5.0):
        assert mesh.volume == pytest.approx(exact_volume(mesh.piece), rel=1e-13)


@pytest.mark.parametrize(
    "run",
    [
        curve(-2.0, 60.0),
        curve(2.0, 60.0, "right"),
        meeting(Straight(300.0), -90 * DEGREE, Curve(-1.0, 60.0)),
        meeting(Straight(300.0), 60 * DEGREE, Curve(-1.0, 150.0), "right"),
        meeting(Curve(-1.0, 200.0), -120 * DEGREE, Curve(1.0, 400.0)),
    ],
    ids=["wrapped", "lined", "outside miter", "inside miter", "wave"],
)
@pytest.mark.parametrize("profile", [BASE, CROWN, half_round()], ids=lambda p: p.name)
@pytest.mark.parametrize("chord", [0.02, 0.2, 1.0])
def test_the_volume_is_within_chord_times_area(run: Run, profile: Profile, chord: float) -> None:
    for mesh in meshed(run, profile, chord):
        assert abs(mesh.volume - exact_volume(mesh.piece)) < 0.5 * chord * mesh.area


@pytest.mark.parametrize(
    ("run", "profile"),
    [
        (curve(-2.0, 400.0), block(20.0, 40.0)),
        (curve(2.0, 400.0), block(20.0, 40.0)),
        (corner(-RIGHT_ANGLE), half_round(40.0)),
        (corner(RIGHT_ANGLE), quarter_round(60.0)),
        (meeting(Straight(500.0), -90 * DEGREE, Curve(-2.0, 400.0)), block(30.0, 40.0)),
    ],
    ids=["wrapped", "lined", "half round", "quarter round", "hunting miter"],
)
def test_a_quarter_of_the_chord_leaves_a_quarter_of_the_error(run: Run, profile: Profile) -> None:
    """The error goes with the chord: a constant one would not shrink. Steps are whole numbers, hence the margin."""
    errors = [
        [mesh.volume / exact_volume(mesh.piece) - 1 for mesh in meshed(run, profile, chord)]
        for chord in (0.4, 0.1, 0.025, 0.00625)
    ]
    for coarse, fine in pairwise(errors):
        ratios = [a / b for a, b in zip(coarse, fine, strict=True) if abs(b) > 1e-12]
        assert ratios
        assert all(2.8 < ratio < 5.6 for ratio in ratios), errors


@pytest.mark.parametrize(("R", "r", "turn", "published"), [(40.0, 10.0, 180, 7900.0), (25.0, 7.5, 360, 7402.2)])
def test_half_rounds_have_the_surface_of_a_torus(R: float, r: float, turn: float, published: float) -> None:
    """Half torus R 4, r 1: 79.0 m² (a worked exercise, Scribd 293740930); Machinery's Handbook, 31st ed., p. 93:
    D 5, d 1.5: 74.022 square inches.
    """
    total = 0.0
    for side in (1, -1):
        mesh = meshed(curve(side * turn / 2 * DEGREE, R), half_round(r), 2e-4)[0]
        a, b, c = (mesh.points[parts(mesh).sides[:, i]] for i in range(3))
        total += float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()) / 2
        total -= turn / 2 * DEGREE * R * 2 * r  # the back, where the two halves would be glued
    assert total * 2 == pytest.approx(published, rel=1e-3)
    assert total * 2 == pytest.approx(turn * DEGREE * R * 2 * math.pi * r, rel=5e-5)
