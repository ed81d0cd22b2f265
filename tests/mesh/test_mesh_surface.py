"""Every vertex lies on the exact surface, and every point of every triangle within the chord of it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from preview.errors import PreviewError
from preview.joinery import MemberRun, join
from preview.models.mesh import mesh_member_run
from preview.profiles import Profile, distance_to
from preview.runs import Curve, Run, Straight
from samples import BASE, CROWN, around, curve, half_round, meeting, stepped, wedge
from true_surface import from_cut, from_side, parts, read_back, strays

DEGREE = math.pi / 180
STRAIGHT = Straight(900.0)
SMALL, LARGE = 45.0, 400.0


def bend(radius: float, side: int) -> Curve:
    """About 500 mm of a curve, at most 140 degrees; + lines it, - wraps it."""
    return Curve(side * min(140 * DEGREE, 500.0 / radius), radius)


STEPS: dict[str, Straight | Curve] = {
    "straight": STRAIGHT,
    "small lined": bend(SMALL, 1),
    "small wrapped": bend(SMALL, -1),
    "tiny wrapped": bend(0.5, -1),
    "large lined": bend(LARGE, 1),
    "large wrapped": bend(LARGE, -1),
}
TURNS = (-150, -90, -20, -1, 1, 20, 90, 150)


def corners(profile: Profile) -> list[tuple[str, MemberRun]]:
    """Every pair of elements at every turn, of those that can be cut."""
    found = []
    for first in STEPS:
        for second in STEPS:
            for turn in TURNS:
                try:
                    line = join(meeting(STEPS[first], turn * DEGREE, STEPS[second]), "m", profile)
                except PreviewError:
                    continue
                found.append((f"{first}, {turn}, {second}", line))
    return found


def test_the_chord_holds_at_every_kind_of_corner() -> None:
    """150 corners and more, steep and slight, of straights and curves; the worst seen is 0.70 of the chord."""
    cut = corners(BASE)
    assert len(cut) > 150
    for number, (name, line) in enumerate(cut):
        chord = (0.05, 0.4)[number % 2]
        side, caps = strays(line, mesh_member_run(line, chord), most=300)
        assert side < 0.75 * chord, name
        assert caps < 0.75 * chord, name


@pytest.mark.parametrize("profile", [CROWN, wedge(30.0), half_round(15.0)], ids=lambda p: p.name)
def test_the_chord_holds_on_slopes_and_rounds(profile: Profile) -> None:
    for name, line in corners(profile)[::7]:
        side, caps = strays(line, mesh_member_run(line, 0.1), most=300)
        assert side < 0.075, name
        assert caps < 0.075, name


@pytest.mark.usefixtures("to_the_reach")
@pytest.mark.parametrize("short_of_it", [0.1, 1e-3, 2e-9])
@pytest.mark.parametrize(
    ("first", "turn", "second"),
    [
        (bend(400.0, -1), -150, bend(400.0, 1)),
        (bend(60.0, 1), 150, bend(60.0, -1)),
        (STRAIGHT, -150, bend(400.0, 1)),
        (bend(60.0, 1), -90, bend(60.0, -1)),
    ],
)
def test_the_chord_holds_up_to_the_reach(
    first: Straight | Curve, turn: float, second: Straight | Curve, short_of_it: float
) -> None:
    """Where two faces are about to part their cut turns ever faster; levels must crowd there."""
    run = meeting(first, turn * DEGREE, second)
    reach = join(run, "m", half_round(0.5)).joints[1].reach()
    line = join(run, "m", half_round(reach * (1 - short_of_it)))
    side, caps = strays(line, mesh_member_run(line, 0.05), most=3000)
    assert max(side, caps) < 0.75 * 0.05


@pytest.mark.parametrize(
    "run",
    [stepped("left"), stepped("right"), around("right"), curve(-5.5, 0.5), curve(5.0, 36.5, "right")],
    ids=["stepped left", "stepped right", "around", "tiny", "nearly folded"],
)
@pytest.mark.parametrize("profile", [BASE, CROWN.moved(-0.4, 100.0)], ids=["base", "crown let into the wall"])
def test_every_vertex_is_exact(run: Run, profile: Profile) -> None:
    line = join(run, "m", profile)
    count = len(line.pieces)
    for i, mesh in enumerate(mesh_member_run(line, 0.2)):
        assert from_side(mesh.piece, mesh.points).max() < 1e-9
        part = parts(mesh)
        earlier = line.pieces[i - 1] if i or run.closed else None
        later = line.pieces[(i + 1) % count] if i + 1 < count or run.closed else None
        for triangles, other, at_end in ((part.begin, earlier, False), (part.end, later, True)):
            assert from_cut(mesh.piece, other, at_end, mesh.points[np.unique(triangles)]).max() < 1e-9
        # Each column of vertices keeps one (d, h) all along, and goes forward at even steps.
        rings = mesh.points.reshape(mesh.shape.spans + 1, -1, 3)
        stations, d, _ = read_back(mesh.piece, mesh.points[:, :2])
        stations, d = stations.reshape(rings.shape[:2]), d.reshape(rings.shape[:2])
        assert np.abs(d - mesh.shape.face.d).max() < 1e-9
        assert np.abs(rings[..., 2] - mesh.shape.face.h).max() == 0.0
        steps = np.diff(stations, axis=0)
        assert (steps > 0).all()
        assert np.abs(steps - steps.mean(axis=0)).max() < 1e-9
        assert distance_to(mesh.piece.profile, mesh.shape.face.outline.points).max() < 1e-12


def test_a_miter_a_ten_thousandth_too_wide_is_noticed() -> None:
    """It slips past a check of the volume, not past this one."""
    line = join(meeting(STRAIGHT, -90 * DEGREE, bend(LARGE, -1)), "m", BASE)
    meshes = mesh_member_run(line, 0.05)
    tangent = np.array(line.pieces[0].element.tangent)
    points = meshes[0].points.copy()
    past = points[:, :2] @ tangent - 900.0
    points[:, :2] += np.where(past > 0, 1e-4 * past, 0.0)[:, None] * tangent
    wide = replace(meshes[0], points=points)
    ends = np.unique(parts(wide).end)
    assert from_cut(wide.piece, line.pieces[1], True, meshes[0].points[ends]).max() < 1e-10
    assert from_cut(wide.piece, line.pieces[1], True, points[ends]).max() > 1e-3
    assert wide.volume == pytest.approx(meshes[0].volume, rel=1e-5)


def test_an_arc_drawn_as_its_chord_is_noticed() -> None:
    line = join(curve(-0.5, 100.0), "m", BASE)
    side, _ = strays(line, mesh_member_run(line, 0.05))
    assert side < 0.0375
    coarse = mesh_member_run(line, 2.0)
    assert strays(line, coarse)[0] > 0.1


def test_a_corner_bent_the_wrong_way_is_noticed() -> None:
    line, other = (join(meeting(STRAIGHT, turn * DEGREE, STRAIGHT), "m", BASE) for turn in (-90, 90))
    swapped = [replace(mesh, piece=piece) for mesh, piece in zip(mesh_member_run(line), other.pieces, strict=True)]
    assert strays(other, swapped)[1] > 10.0
