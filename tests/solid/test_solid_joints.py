"""Where solids meet: one shared face, on the curve that geometry books give."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings

from faced_pieces import polygon
from preview.joinery import MemberRun, Passage, join
from preview.models.solid.conic import joint_conic
from preview.models.solid.measures import volume_of
from preview.profiles import measure
from preview.runs import Corner, Curve, Side, Step, Straight, lay_out
from solid_pieces import ROOMS, base, kernel, laid, random_lines, solids

CORNERS: dict[str, list[Step]] = {
    "square": [Straight(200), Straight(150)],
    "tangent": [Straight(200), Curve(1.0, 60)],
    "miter": [Straight(200), Corner(-0.9), Straight(150)],
    "miter between curves": [Curve(0.8, 90), Corner(0.6), Curve(0.7, 90)],
    "straight to curve": [Straight(200), Corner(0.5), Curve(0.9, 70)],
    "straight to curve that turns back": [Straight(200), Corner(0.5), Curve(-0.9, 70)],
    "curve to straight": [Curve(1.2, 80), Corner(-0.7), Straight(200)],
    "curve to curve": [Curve(0.9, 90), Corner(0.4), Curve(0.8, 50)],
    "curve to curve that turns back": [Curve(0.9, 90), Corner(-0.4), Curve(-0.8, 60)],
}


def joint_faces(line: MemberRun, at: int) -> tuple[Any, Any]:
    """The end face of a piece and the first face of the next: the only two in one place."""
    first, second = solids(line.pieces[at : at + 2]).shapes
    pairs = [
        (a, b)
        for a in first.Faces()
        for b in second.Faces()
        if (a.Center() - b.Center()).Length < 1e-5 and a.Area() == pytest.approx(b.Area(), rel=1e-7)
    ]
    assert len(pairs) == 1
    return pairs[0]


def check_joint(line: MemberRun, at: int) -> None:
    a, b = joint_faces(line, at)
    # They look at one another, and their corners are the same points.
    assert a.normalAt(a.Center()).dot(b.normalAt(b.Center())) == pytest.approx(-1.0, abs=1e-9)
    corners = [np.array([v.toTuple() for v in face.Vertices()]) for face in (a, b)]
    apart = np.linalg.norm(corners[0][:, None] - corners[1][None], axis=2)
    assert apart.shape == (len(line.profile.edges),) * 2
    assert apart.min(axis=0).max() < 1e-9
    for one, other in ((a, b), (b, a)):
        for edge in one.Edges():
            for place in (0.25, 0.5, 0.75):
                point = kernel().Vertex.makeVertex(*edge.positionAt(place).toTuple())
                assert point.distance(other) < 1e-7


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("steps", CORNERS.values(), ids=CORNERS)
def test_neighbors_share_their_joint_face_and_nothing_else(steps: list[Step], room: Side) -> None:
    line = laid(steps, room)
    check_joint(line, 0)
    first, second = solids(line.pieces).shapes
    assert sum(volume_of(solid) for solid in first.intersect(second).Solids()) < 1e-3  # of some 400,000 mm³
    whole = first.fuse(second)
    assert len(whole.Solids()) == 1
    assert volume_of(whole) == pytest.approx(volume_of(first) + volume_of(second), rel=1e-7)


@settings(max_examples=10)
@given(random_lines())
def test_neighbors_share_their_joint_face_round_any_corner(line: MemberRun) -> None:
    for at in range(len(line.pieces) - 1):
        check_joint(line, at)


@pytest.mark.parametrize("degrees", [-120, -30, 45, 90])
def test_a_miter_face_is_the_section_drawn_out(degrees: float) -> None:
    """A plane that stands at half the turn to the section has 1/cos of that angle times its area."""
    turn = math.radians(degrees)
    a, _ = joint_faces(laid([Straight(200), Corner(turn), Straight(200)]), 0)
    assert a.Area() == pytest.approx(measure(base()).area / math.cos(turn / 2), rel=1e-9)


# The curve of a curved miter. Between a line and a circle it is a parabola: the circle's center is its focus, and its
# directrix is the line, moved by the radius (Briggs & Cochran, Calculus: Early Transcendentals, 1st ed., ch. 10.4,
# problem 87). Between two circles it is a hyperbola or an ellipse with the centers as foci (P. Pamfilos, Conics as
# loci of centers of circles). Points are taken from the solids' own end faces.


def face_points(line: MemberRun) -> np.ndarray:
    """Plan points all over the joint face between two pieces, from its edges."""
    a, _ = joint_faces(line, 0)
    places = np.linspace(0, 1, 12)
    return np.array([edge.positionAt(float(t)).toTuple()[:2] for edge in a.Edges() for t in places])


def center(passage: Passage, at: tuple[float, float]) -> np.ndarray:
    return np.array(at) + np.array(passage.normal) / passage.curvature


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("bend", [0.9, -0.9])
def test_line_and_circle_meet_in_a_parabola(room: Side, bend: float) -> None:
    line = laid([Straight(200), Corner(0.5), Curve(bend, 70)], room)
    joint = line.joints[1]
    points = face_points(line)
    to_focus = np.linalg.norm(points - center(joint.after, joint.at), axis=1)
    to_line = (points - np.array(joint.at)) @ np.array(joint.before.normal)
    radius = 1 / joint.after.curvature  # + where the curve's center is in the room
    assert np.ptp(to_line) > 15
    assert to_focus == pytest.approx(np.abs(radius - to_line), abs=1e-7)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("turns", [(0.9, 0.8), (0.9, -0.8)])
def test_two_circles_meet_in_a_hyperbola_or_an_ellipse(room: Side, turns: tuple[float, float]) -> None:
    line = laid([Curve(turns[0], 90), Corner(0.4), Curve(turns[1], 60)], room)
    joint = line.joints[1]
    points = face_points(line)
    first, second = (
        np.linalg.norm(points - center(passage, joint.at), axis=1) for passage in (joint.before, joint.after)
    )
    if turns[0] * turns[1] > 0:
        assert first - second == pytest.approx(np.full(len(points), 90.0 - 60.0), abs=1e-7)
    else:
        assert first + second == pytest.approx(np.full(len(points), 90.0 + 60.0), abs=1e-7)
    assert np.ptp(first) > 10


def test_a_worked_example_of_a_line_and_a_circle() -> None:
    """Circle R = 10 about the origin and the line x = 3, pieces 3 wide; at 0, 1, 2, 3 out the faces meet at
    (3, 9.5394), (2, 10.8167), (1, 11.9583) and (0, 13.0): y² = (k + R)² - 2 (k + R) x with k = 3, worked by hand."""
    corner = math.sqrt(91.0)
    clockwise = math.atan2(-3.0, corner)  # travel on the circle at (3, sqrt 91)
    steps: list[Step] = [Straight(8.0), Corner(clockwise - math.pi / 2), Curve(-0.5, 10.0)]
    stepped = polygon((0, 0), (3, 0), (3, 1), (2, 1), (2, 2), (1, 2), (1, 3), (0, 3))
    run = lay_out("example", steps, start=(3.0, corner - 8.0), heading=math.pi / 2)
    a, _ = joint_faces(join(run, "steps", stepped), 0)
    found = {(round(v.X, 4), round(v.Y, 4)) for v in a.Vertices()}
    assert found == {(3.0, 9.5394), (2.0, 10.8167), (1.0, 11.9583), (0.0, 13.0)}


@settings(max_examples=30)
@given(random_lines())
def test_the_conic_is_the_joints_own_curve(line: MemberRun) -> None:
    """The Bezier form, fixed by three points and two directions, holds all points of the closed form between."""
    size = measure(line.profile)
    d = np.linspace(size.d_min, size.d_max, 50)
    for joint in line.joints:
        if joint.kind == "curved miter" and (conic := joint_conic(joint, size.d_min, size.d_max)):
            u = conic.parameter(d)
            assert (np.diff(u) > 0).all()
            assert u[[0, -1]] == pytest.approx([0, 1], abs=1e-12)
            assert np.abs(conic.at(u) - joint.points(d)).max() < 1e-8
            assert np.abs(conic.projections(u) - d).max() < 1e-8


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize(("corner", "arcs"), [("miter", "ELLIPSE"), ("straight to curve", "BSPLINE")])
def test_end_edges_are_exact_curves_where_there_are_such(corner: str, arcs: str, room: Side) -> None:
    """Lines and ellipses on a plane miter; on a curved one lines, conics as rational Bezier curves, and splines."""
    line = laid(CORNERS[corner], room)
    face, _ = joint_faces(line, 0)
    kinds = [edge.geomType() for edge in face.Edges()]
    drawn = [type(edge).__name__ for edge in line.profile.edges]
    assert kinds.count(arcs) == drawn.count("Arc")
    assert kinds.count("LINE") + kinds.count("BEZIER") == drawn.count("Line")
    assert ("BEZIER" in kinds) == (corner != "miter")


def test_faces_are_exact_surfaces() -> None:
    """Sides are planes, cylinders, cones and tori; a curved cut is a conic carried upward; none is a fitted surface."""
    line = laid(CORNERS["straight to curve"])
    straight, curved = solids(line.pieces).shapes
    kinds = [sorted({face.geomType() for face in shape.Faces()}) for shape in (straight, curved)]
    assert kinds[0] == ["CYLINDER", "EXTRUSION", "PLANE"]
    assert kinds[1] == ["CONE", "CYLINDER", "EXTRUSION", "PLANE", "TORUS"]
    for shape in (straight, curved):
        assert len(shape.Faces()) == len(base().edges) + 2
