"""Solids of rakes, easements, returns, scarfs, blocks and what lies on a wall: valid, exact, and where the mesh is."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from faced_pieces import polygon
from preview.build import build
from preview.joinery import BlockShape, MemberRun, Piece, block_lines, exact_volume, join
from preview.models.mesh import mesh_member_run
from preview.models.solid import figures, make_solids, read_step
from preview.models.solid.measures import is_sound, volume_of
from preview.profiles import Profile, measure
from preview.runs import Block, Corner, Curve, Easement, EndWay, Run, Side, Stand, Step, Straight, Way, lay_out, scarfed
from preview.scene import load_scene
from solid_pieces import QUARTER, ROOMS, base, cove, half_round, kernel, solids

SCENES = Path(__file__).parents[2] / "scenes"
WALL = Stand((900.0, 50.0, 5.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0))
TAN = 0.7


def hand(room: Side) -> int:
    return 1 if room == "left" else -1


def run_of(steps: list[Step], room: Side, begin: EndWay = "square", end: EndWay = "square") -> Run:
    run = lay_out("stair", steps, room=room, start=(123.0, -67.0), heading=0.3, level=40.0)
    return replace(run, begin=begin, end=end)


def rakes(room: Side) -> dict[str, Run]:
    """One run for each kind of cut that a climbing or returned piece can end in."""
    s = hand(room)
    inside, outside = Corner(s * QUARTER), Corner(-s * math.radians(70))
    in_one_wall: list[Step] = [Straight(300.0), Straight(400.0, TAN), Straight(300.0, -0.3)]
    return {
        "returns": run_of([Straight(300.0)], room, "return", "return"),
        "shear": run_of([Straight(300.0), inside, Straight(400.0, TAN), outside, Straight(300.0)], room, end="return"),
        "scarf": scarfed(run_of([Straight(900.0, TAN)], room), 700.0, 1.0, 100.0),
        "plumb cuts": run_of(in_one_wall, room),
        "elevation miters": replace(run_of(in_one_wall, room), raked="same"),
        "scarfed, one profile": scarfed(replace(run_of(in_one_wall, room), raked="same"), 350.0, -0.5, 60.0),
        "easement up": run_of([Straight(300.0), Easement(120.0), Straight(400.0, TAN)], room),
        "easement over": run_of([Straight(400.0, TAN), Easement(120.0), Straight(300.0, -0.2)], room),
        "easement with shear": run_of(
            [Straight(300.0), outside, Straight(500.0, TAN), Easement(120.0), Straight(300.0)], room
        ),
        "sheared curve": run_of(
            [Straight(300.0), inside, Straight(400.0, TAN), Straight(200.0), Curve(-s * 1.2, 90.0), Straight(200.0)],
            room,
        ),
        "on a wall": replace(run_of([Straight(400.0), Corner(-s * QUARTER), Straight(300.0)], room), stand=WALL),
    }


NAMES = list(rakes("left"))


def check(line: MemberRun, within: float = 1e-9) -> None:
    made, meshes = solids(line.pieces), mesh_member_run(line)
    for piece, fact, mesh in zip(line.pieces, figures(made, meshes), meshes, strict=True):
        assert fact.valid, piece.name
        assert fact.volume == pytest.approx(exact_volume(piece), rel=within), piece.name
        assert fact.farthest < 1e-6, piece.name
        low, high = mesh.points.min(axis=0), mesh.points.max(axis=0)
        assert fact.low == pytest.approx(low, abs=0.06)
        assert fact.high == pytest.approx(high, abs=0.06)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("name", NAMES)
def test_every_solid_is_sound_exact_and_where_its_mesh_is(name: str, room: Side) -> None:
    check(join(rakes(room)[name], "rail", base()))


@pytest.mark.parametrize("profile", [cove(20.0), half_round(12.0)], ids=lambda p: p.name)
@pytest.mark.parametrize("name", ["shear", "elevation miters", "easement with shear", "returns"])
def test_rounds_sheared_to_ellipses_are_exact(name: str, profile: Profile) -> None:
    check(join(rakes("left")[name], "rail", profile), 1e-8)


def volumes(line: MemberRun) -> list[float]:
    return [volume_of(shape) for shape in solids(line.pieces).shapes]


def test_volumes_by_hand() -> None:
    """A triangle 30 out and 60 high: area 900, its centroid 10 out and 20 up."""
    wedge = polygon((0.0, 0.0), (30.0, 0.0), (0.0, 60.0))
    back, wood, end = volumes(join(rakes("left")["returns"], "rail", wedge))
    assert [back, end] == pytest.approx([900.0 * 10.0] * 2, rel=1e-9)  # a point d out travels d
    assert wood == pytest.approx(900.0 * (300.0 + 2 * 10.0), rel=1e-9)
    level, rake, *_ = volumes(join(rakes("left")["shear"], "rail", wedge))
    assert level == pytest.approx(900.0 * (300.0 - 10.0), rel=1e-9)
    assert rake == pytest.approx(900.0 * (400.0 - 10.0 + 10.0 * math.tan(math.radians(35))), rel=1e-9)
    pitch, fall = math.atan(TAN), math.atan(0.3)
    cut = 20.0 * math.tan(pitch / 2), 20.0 * math.tan((pitch + fall) / 2)
    level, rake, down = volumes(join(rakes("left")["elevation miters"], "rail", wedge))
    # Up, the wood over the line is shorter at the foot of the rake and longer at its top.
    assert level == pytest.approx(900.0 * (300.0 - cut[0]), rel=1e-9)
    assert rake == pytest.approx(900.0 * (400.0 / math.cos(pitch) - cut[0] + cut[1]), rel=1e-9)
    assert down == pytest.approx(900.0 * (300.0 / math.cos(fall) + cut[1]), rel=1e-9)
    _, eased, _ = volumes(join(rakes("left")["easement up"], "rail", wedge))
    assert eased == pytest.approx(900.0 * 120.0 * math.sin(pitch), rel=1e-9)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("inside", [True, False])
@pytest.mark.parametrize("stand", [None, WALL], ids=["on the floor", "on a wall"])
def test_blocks_are_their_boxes(stand: Stand | None, inside: bool, room: Side) -> None:
    turn = hand(room) * (QUARTER if inside else -QUARTER)
    way = Way("block", block="post")
    steps: list[Step] = [Block("post", 60.0), Straight(300.0), Corner(turn, way), Straight(200.0)]
    run = run_of(steps, room)
    run = replace(run, stand=stand, level=0.0) if stand else run
    shape = BlockShape("post", polygon((0.0, 0.0), (30.0, 0.0), (30.0, 90.0), (0.0, 90.0)), 60.0, 50.0, 30.0)
    lines = block_lines(run, {"post": shape})
    expected = [60.0 * 30.0 * 90.0, 90.0 * (60.0**2 if inside else 80.0**2 - 50.0**2)]
    for line, volume in zip(lines, expected, strict=True):
        check(line)
        assert volumes(line) == pytest.approx([volume], rel=1e-9)


def test_a_solid_on_a_wall_is_the_one_in_plan_moved() -> None:
    flat, stood = (join(replace(rakes("left")["on a wall"], stand=s), "rail", base()) for s in (Stand(), WALL))
    axes = np.array([WALL.x, WALL.y, WALL.z])
    for one, two in zip(solids(flat.pieces).shapes, solids(stood.pieces).shapes, strict=True):
        assert two.Volume() == pytest.approx(one.Volume(), rel=1e-12)
        placed = np.array([v.toTuple() for v in one.Vertices()]) @ axes + np.array(WALL.origin)
        assert np.array([v.toTuple() for v in two.Vertices()]) == pytest.approx(placed, abs=1e-9)


# What the checks would notice.


def test_a_rake_of_another_slope_is_noticed() -> None:
    line = join(rakes("left")["shear"], "rail", base())
    wrong = join(replace(line.run, elements=_steeper(line.run)), "rail", base())
    meshes = mesh_member_run(line)[:2]
    sound, off = figures(solids(wrong.pieces[:2]), meshes)
    assert sound.farthest < 1e-6
    assert off.farthest > 0.002
    assert off.high[2] - meshes[1].points[:, 2].max() == pytest.approx(400.0 * TAN * 0.001, rel=0.3)


def test_a_wrong_shear_is_noticed() -> None:
    line = join(rakes("left")["shear"], "rail", base())
    rake: Piece = line.pieces[1]
    (fact,) = figures(solids([replace(rake, shear=rake.shear + 0.001)]), [mesh_member_run(line)[1]])
    assert not (fact.valid and fact.farthest < 0.002 and fact.volume == pytest.approx(exact_volume(rake), rel=1e-6))


def _steeper(run: Run):  # type: ignore[no-untyped-def]
    return tuple(replace(e, slope=e.slope * 1.001) for e in run.elements)


# STEP.


def test_the_stair_wall_is_the_same_in_step(tmp_path: Path) -> None:
    """Read by our reader and by cadquery's own importer: every piece by its name, to 1e-6 of its volume."""
    cadquery = kernel()
    built = build(load_scene(SCENES / "stair-wall.toml"))
    made = make_solids(built.pieces)
    path = tmp_path / "stair-wall.step"
    made.write_step(path, built.scene.title, [member.finish.color for member in built.members])
    told = read_step(path)
    assert [name for name, _ in told] == [piece.name for piece in built.pieces]
    assert [volume for _, volume in told] == pytest.approx(list(built.volumes), rel=1e-6)
    shapes = cadquery.importers.importStep(str(path)).solids().vals()
    assert sorted(volume_of(shape) for shape in shapes) == pytest.approx(sorted(built.volumes), rel=1e-6)
    assert all(is_sound(shape) for shape in shapes)
    # Bodies in the file stand where the pieces' meshes do.
    boxes = sorted(tuple(round(v, 1) for v in (b.xmin, b.ymin, b.zmin)) for b in (s.BoundingBox() for s in shapes))
    assert len(boxes) == len(built.pieces) == len({piece.name for piece in built.pieces})


def test_section_areas_are_used() -> None:
    """The profile of these tests is no rectangle: what a wrong one would hide shows in its centroid."""
    size = measure(base())
    assert size.area > 0.0
    assert size.centroid[0] != pytest.approx(size.d_max / 2, abs=0.5)
