"""Meshes of rakes, easements, returns and what lies on a wall: closed, outward, exact where they are flat."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from preview.joinery import MemberRun, exact_volume, join
from preview.models.mesh import PieceMesh, mesh_member_run
from preview.profiles import Profile, measure
from preview.runs import Corner, Easement, EndWay, Run, Side, Stand, Step, Straight, lay_out, scarfed
from samples import BASE, CROWN, RIGHT_ANGLE, block, wedge
from true_surface import Floats, bodies, open_edges, parts, signed_volume

ROOMS: tuple[Side, Side] = ("left", "right")
FLOAT32 = 2e-6
TAN = 0.65


def stair(room: Side, begin: EndWay = "square", end: EndWay = "square") -> Run:
    """Level, an inside corner, a rake, an outside corner, an easement over onto a landing, and down again."""
    hand = 1 if room == "left" else -1
    steps: list[Step] = [
        Straight(400.0),
        Corner(hand * RIGHT_ANGLE),
        Straight(500.0, TAN),
        Corner(-hand * math.radians(60)),
        Straight(450.0, TAN),
        Easement(150.0),
        Straight(300.0),
        Straight(350.0, -0.4),
    ]
    run = lay_out("stair", steps, room=room, start=(30.0, -20.0), heading=0.5, level=40.0)
    return replace(run, begin=begin, end=end)


def slopes_only(room: Side) -> Run:
    """Changes of slope in one wall, all in one profile: cut in elevation, and scarfed on the rake."""
    steps: list[Step] = [Straight(400.0), Straight(900.0, TAN), Straight(500.0, -0.3)]
    run = replace(lay_out("stair", steps, room=room, heading=-0.8), raked="same")
    return scarfed(run, 800.0, 1.0, 100.0)


def runs(room: Side) -> dict[str, Run]:
    return {
        "stair": stair(room),
        "returned": stair(room, "return", "return"),
        "level, returned": replace(lay_out("shelf", [Straight(300.0)], room=room), begin="return", end="return"),
        "same profile": slopes_only(room),
        "scarfed rake": scarfed(lay_out("stair", [Straight(1500.0, TAN)], room=room), 700.0, -0.5, 100.0),
    }


def meshes(run: Run, profile: Profile, chord: float = 0.3) -> tuple[MemberRun, list[PieceMesh]]:
    line = join(run, "rail", profile)
    return line, mesh_member_run(line, chord)


# Closed, outward, volumes.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("profile", [BASE, CROWN], ids=["base", "crown"])
@pytest.mark.parametrize("name", runs("left"))
def test_every_piece_is_one_closed_body(name: str, profile: Profile, room: Side) -> None:
    for mesh in meshes(runs(room)[name], profile)[1]:
        triangles = mesh.triangles
        assert open_edges(triangles) == 0
        assert bodies(triangles) == 1
        drawn = mesh.points[mesh.shape.corner_point[mesh.shape.render_triangles]]
        assert np.array_equal(drawn, mesh.points[triangles])
        used = len(np.unique(triangles))
        assert used - len(triangles) // 2 == 2  # a ball's surface
        assert signed_volume(mesh.points, triangles) > 0.0
        assert mesh.volume == pytest.approx(signed_volume(mesh.points, triangles), rel=1e-9)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("profile", [block(), wedge()], ids=["block", "wedge"])
def test_volumes_of_flat_sided_rakes_are_the_closed_forms(profile: Profile, room: Side) -> None:
    """The plumb section times how far its centroid travels in plan, less or more the corners' tan(phi/2) of its out."""
    size = measure(profile)
    area, out = size.area, size.centroid[0]
    _, (first, second, third, _, level, down) = meshes(stair(room), profile)
    t30 = math.tan(math.radians(30.0))
    assert first.volume == pytest.approx(area * (400.0 - out), rel=1e-10)
    assert second.volume == pytest.approx(area * (500.0 - out + out * t30), rel=1e-10)
    tangent = 150.0 * math.tan(math.atan(TAN) / 2)  # what the easement takes of each slope
    assert third.volume == pytest.approx(area * (450.0 - tangent * math.cos(math.atan(TAN)) + out * t30), rel=1e-10)
    assert level.volume == pytest.approx(area * (300.0 - tangent), rel=1e-10)
    assert down.volume == pytest.approx(area * 350.0, rel=1e-10)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("profile", [block(), wedge()], ids=["block", "wedge"])
def test_volumes_with_one_profile_on_the_rake_are_the_closed_forms(profile: Profile, room: Side) -> None:
    """The section times the travel along the slope, less the miter's, tan of half the change, of its height."""
    size = measure(profile)
    area, high = size.area, size.centroid[1]
    run = replace(lay_out("stair", [Straight(400.0), Straight(900.0, TAN)], room=room), raked="same")
    _, (level, rake) = meshes(run, profile)
    pitch = math.atan(TAN)
    half = math.tan(pitch / 2)
    assert level.volume == pytest.approx(area * (400.0 - high * half), rel=1e-10)
    assert rake.volume == pytest.approx(area * (900.0 / math.cos(pitch) - high * half), rel=1e-10)


@pytest.mark.parametrize("room", ROOMS)
def test_a_returned_strip_s_wedge_is_half_a_square_prism(room: Side) -> None:
    run = replace(lay_out("shelf", [Straight(300.0)], room=room), begin="return", end="return")
    _, (begin, middle, end) = meshes(run, block(20.0, 40.0))
    assert begin.volume == pytest.approx(20.0 * 20.0 / 2 * 40.0, rel=1e-12)
    assert end.volume == pytest.approx(20.0 * 20.0 / 2 * 40.0, rel=1e-12)
    assert middle.volume == pytest.approx((300.0 + 20.0) * 20.0 * 40.0, rel=1e-12)
    # The wedge has no length on the wall line: both its ends share those points, and it has three faces round it.
    assert len(np.unique(end.triangles)) == 6
    assert len(end.triangles) == 8


def test_an_easement_s_volume_converges_to_the_closed_form() -> None:
    """Area times its length in plan. The section's own chords leave nothing out on a strip, and the steps along the arc
    add above what they take below, all but the ends' share: what is left shrinks with the chord."""
    exact = measure(BASE).area * 150.0 * math.sin(math.atan(TAN))
    off = []
    for chord in (1.0, 0.25, 0.0625):
        eased = meshes(stair("left"), BASE, chord)[1][3]
        assert eased.piece.kind == "easement"
        assert exact_volume(eased.piece) == pytest.approx(exact, rel=1e-12)
        off.append(abs(eased.volume / exact - 1))
    assert off[0] > 2 * off[1] > 4 * off[2]
    assert off[2] < 2e-3


# Normals and the grain.


def wedge_of(mesh: PieceMesh) -> bool:
    """Whether it is a return, whose begin and end share points."""
    return mesh.piece.role == "return"


def slope_there(mesh: PieceMesh, stations: Floats) -> Floats:
    """The slope at stations: along an easement by the spoke of its circle, elsewhere its one slope."""
    e = mesh.piece.element
    if not e.bend:
        return np.full_like(stations, e.slope)
    radius, start = 1 / e.bend, math.atan(e.slope)
    across = stations + radius * math.sin(start)  # from under the center
    found: Floats = across / (np.sign(radius) * np.sqrt(radius**2 - across**2))
    return found


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("profile", [BASE, wedge()], ids=["base", "wedge"])
@pytest.mark.parametrize("name", runs("left"))
def test_side_normals_are_square_to_the_surface(name: str, profile: Profile, room: Side) -> None:
    """Unit, square to the travel at their place; and to both sides of the outline at a flat, which a facet shows."""
    for mesh in meshes(runs(room)[name], profile, 0.05)[1]:
        shape, count = mesh.shape, (mesh.shape.spans + 1) * len(mesh.shape.face.column_point)
        normals = mesh.normals.astype(np.float64)
        assert np.abs(np.linalg.norm(normals, axis=1) - 1).max() < FLOAT32
        e = mesh.piece.element
        vertices = mesh.points[shape.corner_point[:count]]
        stations = (vertices[:, :2] - np.array(e.start)) @ np.array(e.tangent)
        if mesh.piece.square:  # its points lean back from where they are on the wall line
            stations = np.zeros_like(stations)
        travel = np.column_stack([np.tile(e.tangent, (count, 1)), slope_there(mesh, stations)])
        assert np.abs((travel * normals[:count]).sum(axis=1)).max() < 10 * FLOAT32
        # Facets look the same way: within what half a step of a round can turn, and a flat one exactly.
        render, corners = shape.render_triangles, mesh.points[mesh.triangles]
        sides = render if wedge_of(mesh) else render[: len(render) - 2 * len(shape.face.triangles)]
        corners = corners[: len(sides)]
        facet = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        facet /= np.linalg.norm(facet, axis=1, keepdims=True)
        agree = np.einsum("tj,tvj->tv", facet, normals[sides])
        assert agree.min() > math.cos(math.radians(12))
        if profile is not BASE and not e.bend:
            assert agree.min() > 1 - 4e-6


@pytest.mark.parametrize("room", ROOMS)
def test_cap_normals_look_out_of_the_wood_square_to_the_cut(room: Side) -> None:
    for name, run in runs(room).items():
        for mesh in meshes(run, BASE)[1]:
            if wedge_of(mesh):
                continue
            part, n = parts(mesh), len(mesh.shape.face.d)
            for cap, rows in ((part.begin, slice(-2 * n, -n)), (part.end, slice(-n, None))):
                a, b, c = (mesh.points[cap[:, i]] for i in range(3))
                facets = np.cross(b - a, c - a)
                whole = facets.sum(axis=0) / np.linalg.norm(facets.sum(axis=0))
                told = mesh.normals[rows].astype(np.float64)
                assert np.abs(told - whole).max() < 5 * FLOAT32, (name, mesh.piece.name)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("name", runs("left"))
def test_the_grain_runs_for_as_long_as_the_wood(name: str, room: Side) -> None:
    """Along a straight, from cut to cut, a line of the molding is as long in the grain's measure as in space."""
    for mesh in meshes(runs(room)[name], BASE)[1]:
        if mesh.piece.element.bend:
            continue
        columns = len(mesh.shape.face.column_point)
        count = (mesh.shape.spans + 1) * columns
        along = mesh.uvs[:count, 0].astype(np.float64).reshape(-1, columns)
        points = mesh.points[mesh.shape.corner_point[:count]].reshape(-1, columns, 3)
        long = np.linalg.norm(points[-1] - points[0], axis=1)
        assert along[-1] - along[0] == pytest.approx(long, abs=2e-4)


def test_the_grain_of_an_easement_runs_along_its_arc() -> None:
    """On the wall line, where the radius is the easement's own: R times the change of pitch."""
    eased = meshes(stair("left"), BASE, 0.01)[1][3]
    columns = len(eased.shape.face.column_point)
    count = (eased.shape.spans + 1) * columns
    along = eased.uvs[:count, 0].astype(np.float64).reshape(-1, columns)
    assert along[-1] - along[0] == pytest.approx(150.0 * math.atan(TAN), abs=1e-3)
    assert (np.diff(along, axis=0) > 0).all()


# Joints, bit for bit.


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("name", runs("left"))
def test_mating_rings_are_the_same_bit_for_bit(name: str, room: Side) -> None:
    line, made = meshes(runs(room)[name], BASE)
    kinds = set()
    for (one, two), joint in zip(pairwise(made), line.joints[1:], strict=False):
        n = len(one.shape.face.d)
        assert np.array_equal(one.points[-n:], two.points[:n])
        kinds.add(joint.kind)
    expected = {"same profile": {"elevation miter", "scarf"}, "scarfed rake": {"scarf"}, "level, returned": {"miter"}}
    assert kinds >= expected.get(name, {"miter", "tangent", "plumb cut"})


# On the face of a wall.


WALLS = {
    "north": Stand((900.0, 50.0, 5.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0)),
    "turned": Stand((-20.0, 7.0, 0.0), (0.6, 0.8, 0.0), (0.0, 0.0, 1.0), (0.8, -0.6, 0.0)),
}


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("wall", WALLS)
def test_what_lies_on_a_wall_is_the_plan_moved_rigidly(wall: str, room: Side) -> None:
    hand = 1 if room == "left" else -1
    steps: list[Step] = [
        Straight(700.0),
        Corner(-hand * RIGHT_ANGLE),
        Straight(400.0),
        Corner(hand * 0.7),
        Straight(300.0),
    ]
    flat = lay_out("door", steps, room=room, heading=math.pi / 2)
    _, plain = meshes(flat, BASE)
    stand = WALLS[wall]
    _, stood = meshes(replace(flat, stand=stand), BASE)
    x, y, z = (np.array(axis) for axis in (stand.x, stand.y, stand.z))
    for one, two in zip(plain, stood, strict=True):
        p = one.points
        placed = np.array(stand.origin) + p[:, :1] * x + p[:, 1:2] * y + p[:, 2:] * z
        assert np.abs(two.points - placed).max() < 1e-9
        n = one.normals.astype(np.float64)
        assert np.abs(two.normals - (n[:, :1] * x + n[:, 1:2] * y + n[:, 2:] * z)).max() < FLOAT32
        assert np.array_equal(two.triangles, one.triangles)
        assert np.array_equal(two.uvs, one.uvs)
        assert open_edges(two.triangles) == 0
        assert signed_volume(two.points, two.triangles) == pytest.approx(one.volume, rel=1e-9)
        out = (two.points - np.array(stand.origin)) @ np.cross(x, y)
        assert out.max() > 20.0  # the molding stands out into the room, on the wall's own side
        assert out.min() == pytest.approx(0.0, abs=1e-9)


def test_a_stand_that_is_a_mirror_would_turn_the_wood_inside_out() -> None:
    """The test above would notice."""
    run = replace(
        lay_out("door", [Straight(100.0)]),
        stand=Stand((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0)),
    )
    (mesh,) = meshes(run, BASE)[1]
    assert signed_volume(mesh.points, mesh.triangles) < 0.0
