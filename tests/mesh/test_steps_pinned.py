"""How many steps a curve takes, by the sagitta of a chord; and the normals of flat faces."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preview.joinery import join
from preview.models.mesh import mesh_runs
from preview.models.mesh.steps import levels_needed
from preview.profiles import Line, make_profile, measure
from preview.runs import Corner, Curve, Easement, Side, Straight, Way, lay_out
from samples import RIGHT_ANGLE, block, quarter_round

ROOMS: tuple[Side, Side] = ("left", "right")


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(("out", "behind", "radius"), [(20.0, 0.0, 25.0), (0.8, 0.0, 1.5), (9.0, 6.0, 15.0)])
@pytest.mark.parametrize("chord", [0.05, 0.3])
def test_a_curve_takes_as_many_steps_as_its_widest_circle_needs(
    room: Side, side: int, out: float, behind: float, radius: float, chord: float
) -> None:
    """A step of angle a on a radius r strays by r (1 - cos(a/2)): three tenths of the chord are for it."""
    hand = 1 if room == "left" else -1
    sweep = 1.7
    run = lay_out("bow", [Straight(50.0), Curve(hand * side * sweep, radius), Straight(50.0)], room=room)
    mesh = mesh_runs([join(run, "rail", block(out + behind).moved(-behind, 0.0))], chord)[1]
    widest = radius + behind if side > 0 else radius + out
    step = 2 * math.acos(1 - 0.3 * chord / widest)
    assert mesh.shape.spans == math.ceil(sweep / step)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("coped", ["before", "after"])
@pytest.mark.parametrize("turn", [RIGHT_ANGLE, 1.1])
def test_flat_faces_are_drawn_flat(room: Side, coped: str, turn: float) -> None:
    """A board with slopes that differ by 4 degrees and more: every triangle of its cope has its own plane's normal."""
    hand = 1 if room == "left" else -1
    corners = [(0.0, 0.0), (12.0, 0.0), (12.0, 10.0), (11.0, 24.0), (7.0, 40.0), (3.0, 46.0), (0.0, 46.0)]
    profile = make_profile("faceted", [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)])
    way = Way("cope", coped=coped)  # type: ignore[arg-type]
    steps = [Straight(90.0), Corner(hand * turn, way), Straight(70.0)]
    run = lay_out("hall", steps, room=room, start=(-400.0, 55.0), heading=2.5, level=30.0)
    for mesh in mesh_runs([join(run, "rail", profile)]):
        a, b, c = (mesh.points[mesh.triangles[:, i]] for i in range(3))
        facets = np.cross(b - a, c - a)
        long = np.linalg.norm(facets, axis=1)
        facets = facets[long > 1e-6] / long[long > 1e-6, None]
        normals = mesh.normals[mesh.shape.render_triangles].astype(np.float64)[long > 1e-6]
        assert np.abs(normals - facets[:, None, :]).max() < 1e-5


@pytest.mark.parametrize("count", [3, 8])
@pytest.mark.parametrize("side", [1, -1])
def test_one_step_more_from_just_there(count: int, side: int) -> None:
    """By four parts in ten thousand of the sweep, either way."""
    step = 2 * math.acos(1 - 0.3 * 0.05 / (40.0 if side > 0 else 52.0))
    for sweep, spans in ((count * step * (1 - 4e-4), count), (count * step * (1 + 4e-4), count + 1)):
        run = lay_out("bow", [Straight(50.0), Curve(side * sweep, 40.0), Straight(50.0)])
        assert mesh_runs([join(run, "rail", block(12.0))], 0.05)[1].shape.spans == spans


def test_a_curve_takes_two_steps_at_least() -> None:
    """However coarse the mesh, in plan or in elevation, and a straight takes one."""
    run = lay_out("bow", [Straight(50.0), Curve(0.2, 40.0), Straight(50.0)])
    assert [mesh.shape.spans for mesh in mesh_runs([join(run, "rail", block(12.0))], 9.0)] == [1, 2, 1]
    run = lay_out("stair", [Straight(50.0), Easement(40.0), Straight(50.0, 0.2)])
    assert [mesh.shape.spans for mesh in mesh_runs([join(run, "rail", block(12.0))], 9.0)] == [1, 2, 1]


@pytest.mark.parametrize("count", [3, 5])
def test_a_round_of_the_section_takes_four_tenths_of_the_chord(count: int) -> None:
    """As many steps as keep within that, and one more from just there."""
    for much, steps in ((1 + 4e-4, count), (1 - 4e-4, count + 1)):
        chord = much * 10.0 * (1 - math.cos(RIGHT_ANGLE / count / 2)) / 0.4
        mesh = mesh_runs([join(lay_out("wall", [Straight(50.0)]), "rail", quarter_round(10.0))], chord)[0]
        assert len(mesh.shape.face.d) == 2 + steps


@pytest.mark.parametrize("slopes", [(0.0, 0.75), (-0.5, 0.5), (1.0, 0.2)])
def test_an_easement_takes_as_many_steps_as_its_steepest_one_needs(slopes: tuple[float, float]) -> None:
    """Steps of one length in plan: at a pitch p each turns by its length over the radius and cos(p)."""
    radius, chord = 300.0, 0.05
    run = lay_out("stair", [Straight(700.0, slopes[0]), Easement(radius), Straight(700.0, slopes[1])])
    mesh = mesh_runs([join(run, "rail", block(12.0))], chord)[1]
    step = 2 * math.acos(1 - 0.3 * chord / radius)
    pitches = [math.atan(slope) for slope in slopes]
    long = radius * abs(math.sin(pitches[1]) - math.sin(pitches[0]))
    assert mesh.shape.spans == math.ceil(long / radius / math.cos(max(map(abs, pitches))) / step)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize(
    ("toward", "turn", "out"), [(1, 0.5, 38.0), (1, -0.4, 30.0), (-1, 0.6, 40.0), (-1, -0.7, 25.0)]
)
def test_a_face_beside_a_curved_miter_is_cut_as_often_as_the_grid_slants(
    room: Side, toward: int, turn: float, out: float
) -> None:
    """There are as many slabs as the integral of sqrt(bend / 8 chord) over the projection.

    The bend is what the cut turns, twice, or what the stations on the curve change, which acts on its own radius and
    has a twentieth of the chord; both by small differences along the cut, which is where a line and a circle meet.
    """
    hand = 1 if room == "left" else -1
    radius, chord = 60.0, 0.02
    steps = [Straight(400.0), Corner(hand * turn), Curve(hand * toward * 1.2, radius)]
    line = join(lay_out("bow", steps, room=room), "rail", block(out, 20.0))
    d = np.linspace(0.0, out, 4001)
    # The straight runs along +x to 0; the curve leaves at the turn, with its center to the left where it lines.
    normal = 1j * np.exp(1j * turn)
    center = toward * radius * normal
    away = center - 1j * d
    on = radius - toward * d
    root = np.sqrt(on**2 - away.imag**2)
    x = np.where(np.abs(away.real - root) < np.abs(away.real + root), away.real - root, away.real + root)
    points = x + 1j * d
    steep = np.gradient(points, d)
    speed = np.abs(steep)
    turning = np.abs(np.gradient(np.unwrap(np.angle(steep)), d))
    bend = np.maximum(2 * turning * speed, (speed**2 - 1) / np.abs(on) / 0.05)
    slabs = float(np.trapezoid(np.sqrt(bend / (8 * chord)), d))
    assert len(levels_needed(line, chord, measure(line.profile))) + 1 == pytest.approx(slabs, abs=1.0 + 0.02 * slabs)
    assert slabs > 8
