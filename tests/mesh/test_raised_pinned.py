"""What climbs, and what stands level above a climb: the same as on the floor, and by the climb's own triangle."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from preview.joinery import join
from preview.models.mesh import PieceMesh, mesh_runs
from preview.profiles import Profile
from preview.runs import Corner, Curve, Easement, Run, Side, Step, Straight, Way, lay_out, scarfed
from samples import BASE, RIGHT_ANGLE, block, half_round, wedge

ROOMS: tuple[Side, Side] = ("left", "right")
FLOAT32 = 3e-6
RISE = 36.0


def level_steps(hand: int, kind: str) -> list[Step]:
    """Level elements, every bend and turn + toward the room."""
    found: dict[str, list[Step]] = {
        "smooth": [Straight(60.0), Curve(hand * 1.1, 90.0), Curve(-hand * 0.8, 70.0), Straight(50.0)],
        "curved miters": [
            Straight(90.0),
            Corner(-hand * 0.6),
            Curve(hand * 1.3, 110.0),
            Corner(hand * 0.3),
            Curve(-hand * 1.2, 130.0),
            Corner(hand * 0.4),
            Straight(80.0),
        ],
        "one radius": [Straight(40.0), Curve(-hand * 0.9, 80.0), Corner(-hand * 0.5), Curve(-hand * 0.9, 80.0)],
        "miters": [Straight(90.0), Corner(hand * RIGHT_ANGLE), Straight(80.0), Corner(-hand * 1.0), Straight(70.0)],
    }
    return found[kind]


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("kind", ["smooth", "curved miters", "one radius", "miters"])
@pytest.mark.parametrize("slope", [0.75, -0.75])
def test_what_stands_level_above_a_climb_is_what_stands_on_the_floor(room: Side, kind: str, slope: float) -> None:
    """48 mm further on and 36 mm up or down: points, normals, grain and triangles."""
    hand = 1 if room == "left" else -1
    steps = level_steps(hand, kind)
    start, heading = complex(-31.0, 206.0), 2.2
    along = complex(math.cos(heading), math.sin(heading)) * 48.0
    on = start + along
    floor = lay_out("hall", steps, room=room, start=(on.real, on.imag), heading=heading, level=5.0)
    stair = lay_out(
        "stair", [Straight(48.0, slope), *steps], room=room, start=(start.real, start.imag), heading=heading, level=5.0
    )
    profile = half_round(9.0)
    below = mesh_runs([join(floor, "rail", profile)], 0.2)
    above = mesh_runs([join(stair, "rail", profile)], 0.2)[1:]
    assert len(above) == len(below) == sum(not isinstance(step, Corner) for step in steps)
    assert max(mesh.shape.spans for mesh in below) > (5 if kind != "miters" else 0)
    rise = math.copysign(RISE, slope)
    for one, two in zip(below, above, strict=True):
        assert two.points == pytest.approx(one.points + np.array([0.0, 0.0, rise]), abs=1e-9)
        assert np.abs(two.normals - one.normals).max() < FLOAT32
        assert two.uvs == pytest.approx(one.uvs, rel=1e-6, abs=1e-4)
        assert (two.triangles == one.triangles).all()
        assert (two.shape.render_triangles == one.shape.render_triangles).all()


# Climbs.


def up_and_over(room: Side) -> Run:
    """A climb, and a steeper one round a corner: the sections stand sheared, so that they meet at the plumb cut."""
    hand = 1 if room == "left" else -1
    steps: list[Step] = [Straight(40.0), Corner(-hand * 0.9), Straight(60.0, 0.75), Corner(hand * 0.7)]
    return lay_out("stair", [*steps, Straight(70.0, 0.3)], room=room, start=(9.0, -4.0), heading=-0.7, level=3.0)


def one_wall(room: Side) -> Run:
    """Changes of slope in one wall with one profile, square to each slope, and a scarf on the second."""
    run = lay_out("stair", [Straight(300.0), Straight(500.0, 0.75), Straight(300.0, -5 / 12)], room=room, heading=2.5)
    return scarfed(replace(run, raked="same"), 550.0, 0.8, 80.0)


RUNS = {"up and over": up_and_over, "one wall": one_wall}


def sides_of(mesh: PieceMesh) -> int:
    return (mesh.shape.spans + 1) * len(mesh.shape.face.column_point)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("name", RUNS)
def test_the_sides_of_a_climb(name: str, room: Side) -> None:
    """z = h + slope s + shear d: its gradient is the way a side looks. Grain runs up the slope from the joint.

    Square to a rake nothing is sheared: the section has turned back with it.
    """
    hand = 1 if room == "left" else -1
    sheared = 0
    meshes = mesh_runs([join(RUNS[name](room), "rail", BASE)], 0.2)
    assert len(meshes) == (3 if name == "up and over" else 4)
    for mesh in meshes:
        piece, face = mesh.piece, mesh.shape.face
        (tx, ty), slope = piece.element.tangent, piece.element.slope
        travel, out, up = np.array([tx, ty, 0.0]), np.array([-hand * ty, hand * tx, 0.0]), np.array([0.0, 0.0, 1.0])
        pace = math.hypot(1.0, slope)
        count = sides_of(mesh)
        assert count == 2 * len(face.column_point)
        told = mesh.normals[:count].astype(np.float64).reshape(2, -1, 3)
        nd, nh = face.column_normal[:, :1], face.column_normal[:, 1:]
        if piece.square:
            wanted = nd * out + nh * (up - slope * travel) / pace
        else:
            wanted = nd * out + nh * (up - slope * travel - piece.shear * out)
            wanted /= np.linalg.norm(wanted, axis=1, keepdims=True)
        assert np.abs(told - wanted).max() < FLOAT32
        sheared += bool(piece.shear)
        # The back line starts where the element does: up the slope by as much as a vertex stands along it.
        vertices = mesh.points[mesh.shape.corner_point[:count]] - np.array([*piece.element.start, piece.element.height])
        on = vertices @ (travel + slope * up) / pace if piece.square else vertices @ travel * pace
        assert mesh.uvs[:count, 0] == pytest.approx(on, rel=1e-6, abs=1e-4)
        assert mesh.uvs[:count, 1] == pytest.approx(np.tile(face.column_around, 2), rel=1e-6)
        assert mesh.uvs[count:] == pytest.approx(np.tile(face.outline.points, (2, 1)), rel=1e-6)
    assert sheared == (2 if name == "up and over" else 0)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("name", RUNS)
def test_the_cuts_of_a_climb_look_out_of_the_wood(name: str, room: Side) -> None:
    """The sum of a cap's triangles says which way it looks; both pieces at a joint look opposite ways."""
    meshes = mesh_runs([join(RUNS[name](room), "rail", wedge(12.0, 20.0))], 0.2)
    looks = []
    for mesh in meshes:
        n, count = len(mesh.shape.face.d), len(mesh.shape.face.triangles)
        for cap, rows in (
            (mesh.triangles[-2 * count : -count], slice(-2 * n, -n)),
            (mesh.triangles[-count:], slice(-n, None)),
        ):
            a, b, c = (mesh.points[cap[:, i]] for i in range(3))
            facet = np.cross(b - a, c - a).sum(axis=0)
            facet /= np.linalg.norm(facet)
            assert np.abs(mesh.normals[rows] - facet).max() < FLOAT32
            looks.append(facet)
    for (_, end), (begin, _) in pairwise(list(zip(looks[::2], looks[1::2], strict=True))):
        assert end == pytest.approx(-begin, abs=1e-9)


@pytest.mark.parametrize("room", ROOMS)
def test_a_climb_in_a_run_that_is_coped_elsewhere(room: Side) -> None:
    """Its flat front looks into the room and its flat top leans back, as in the run that is mitered there."""
    hand = 1 if room == "left" else -1
    runs = [
        lay_out(
            "stair",
            [Straight(90.0), Corner(hand * RIGHT_ANGLE, way), Straight(80.0), Straight(70.0, 0.75)],
            room=room,
            heading=0.4,
        )
        for way in (Way("cope"), Way("miter"))
    ]
    coped, mitered = (mesh_runs([join(run, "rail", block(12.0, 20.0))])[-1] for run in runs)
    assert coped.points == pytest.approx(mitered.points, abs=1e-9)
    assert np.abs(coped.normals - mitered.normals).max() < FLOAT32
    assert coped.uvs == pytest.approx(mitered.uvs, abs=1e-4)
    way = 0.4 + hand * RIGHT_ANGLE
    front, top = (coped.shape.face.left[i] for i in (1, 2))
    assert coped.normals[front] == pytest.approx([-hand * math.sin(way), hand * math.cos(way), 0.0], abs=FLOAT32)
    assert coped.normals[top] == pytest.approx([-0.6 * math.cos(way), -0.6 * math.sin(way), 0.8], abs=FLOAT32)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("slopes", [(0.0, 0.75), (0.75, -0.4)])
@pytest.mark.parametrize("profile", [block(12.0, 20.0)], ids=["block"])
def test_an_easement_step_by_step(room: Side, slopes: tuple[float, float], profile: Profile) -> None:
    """Even steps in plan on the circle that touches both slopes; the section stands plumb, its top looks square to it.

    Its grain is as long as the arc.
    """
    hand, radius = (1 if room == "left" else -1), 300.0
    run = lay_out("stair", [Straight(400.0, slopes[0]), Easement(radius), Straight(400.0, slopes[1])], room=room)
    eased = mesh_runs([join(run, "rail", profile)], 0.2)[1]
    spans, face = eased.shape.spans, eased.shape.face
    assert spans > 3
    first, last = (math.atan(slope) for slope in slopes)
    way = 1 if last > first else -1
    high = eased.piece.element.height
    begins = 400.0 - radius * math.tan(abs(last - first) / 2) * math.cos(first)
    assert high == pytest.approx(begins * slopes[0])
    points = eased.points.reshape(spans + 1, -1, 3)
    columns = len(face.column_point)
    normals = eased.normals[: (spans + 1) * columns].reshape(spans + 1, columns, 3).astype(np.float64)
    along = eased.uvs[: (spans + 1) * columns, 0].reshape(spans + 1, columns)
    whole = radius * abs(math.sin(last) - math.sin(first))
    top = face.left[2]  # from the outer arris on, along the top
    for j in range(spans + 1):
        pitch = math.asin(math.sin(first) + way * whole * j / spans / radius)
        x = begins + whole * j / spans
        z = high + way * radius * (math.cos(first) - math.cos(pitch))
        wanted = np.column_stack([np.full(4, x), hand * face.d, z + face.h])
        assert points[j] == pytest.approx(wanted, abs=1e-9)
        assert normals[j, top] == pytest.approx([-math.sin(pitch), 0.0, math.cos(pitch)], abs=FLOAT32)
        assert normals[j, face.left[1]] == pytest.approx([0.0, hand, 0.0], abs=FLOAT32)
        assert along[j] == pytest.approx(radius * abs(pitch - first), rel=1e-5, abs=1e-4)
