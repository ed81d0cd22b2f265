"""The figures that the checks read: against the mesh, the kernel's own search, and planted faults."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from faced_pieces import polygon
from preview.build import build
from preview.errors import PreviewError
from preview.joinery import Piece, exact_volume, join
from preview.models.mesh import PieceMesh, mesh_member_run
from preview.models.solid import SolidFigures, Solids, figures, make_solids
from preview.models.solid.compare import sampled
from preview.models.solid.measures import area_of, box_of, is_sound
from preview.profiles import Line, Profile
from preview.runs import Corner, Curve, Side, Step, Straight, lay_out
from preview.scene import load_scene
from solid_pieces import QUARTER, ROOMS, base, curve, half_round, kernel, laid, solids

ROOT = Path(__file__).parents[2]
SCENES = sorted((ROOT / "scenes").glob("*.toml"))
STEPS: list[Step] = [
    Straight(300), Corner(0.5), Curve(1.2, 60), Straight(200), Corner(-1.0), Straight(250), Curve(-1.0, 45),
]  # fmt: skip
CHORD = 0.02


@pytest.mark.parametrize("room", ROOMS)
def test_mesh_and_solid_agree(room: Side) -> None:
    line = laid(STEPS, room)
    meshes = mesh_member_run(line, CHORD)
    for piece, mesh, fact in zip(line.pieces, meshes, figures(solids(line.pieces), meshes), strict=True):
        assert fact.valid, piece.name
        assert fact.volume == pytest.approx(exact_volume(piece), rel=1e-9)
        assert fact.volume == pytest.approx(mesh.volume, rel=3e-4)
        assert fact.area == pytest.approx(mesh.area, rel=3e-4)
        # Every vertex lies on the true surface; between them the mesh may fall short by the chord.
        assert fact.farthest < 1e-7
        assert (np.array(fact.low) < mesh.points.min(axis=0) + 1e-9).all()
        assert (np.array(fact.high) > mesh.points.max(axis=0) - 1e-9).all()
        assert np.abs(np.array(fact.low) - mesh.points.min(axis=0)).max() < CHORD
        assert np.abs(np.array(fact.high) - mesh.points.max(axis=0)).max() < CHORD


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_scenes_that_ship(path: Path) -> None:
    built = build(load_scene(path))
    assert built.pieces
    for piece, fact in zip(built.pieces, figures(solids(built.pieces), built.meshes), strict=True):
        assert fact.valid, piece.name
        assert fact.volume == pytest.approx(exact_volume(piece), rel=1e-8)
        assert fact.farthest < 1e-6


def test_figures_are_plain_numbers() -> None:
    """No CAD object hides in them: they go into the report as they are."""
    line = laid([Straight(100)])
    (fact,) = figures(solids(line.pieces), mesh_member_run(line))
    values = {field.name: getattr(fact, field.name) for field in fields(SolidFigures)}
    assert json.loads(json.dumps(values))["volume"] == fact.volume
    assert [type(value) for value in values.values()] == [float, float, tuple, tuple, bool, float]


# The box.


def searched(shape: Any) -> np.ndarray:
    """The box as the kernel's own search over all faces finds it."""
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib

    found = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape.wrapped, found, False, False)
    low, high = found.CornerMin(), found.CornerMax()
    return np.array([[low.X(), low.Y(), low.Z()], [high.X(), high.Y(), high.Z()]])


@pytest.mark.parametrize("room", ROOMS)
def test_boxes_are_the_ones_the_kernel_finds(room: Side) -> None:
    line = laid(STEPS, room)
    for piece, shape in zip(line.pieces, solids(line.pieces).shapes, strict=True):
        assert np.array(box_of(piece, shape)) == pytest.approx(searched(shape), abs=1e-6)


@pytest.mark.parametrize("wraps", [True, False])
def test_the_box_of_half_a_ring(wraps: bool) -> None:
    """Half a turn about (0, 0), from +x: a bead bulges beyond the corners of its profile, on the axis and off it."""
    run = lay_out("ring", [Curve(math.pi, 50.0)], start=(50.0, 0.0), heading=QUARTER, room="right" if wraps else "left")
    piece = join(run, "bead", half_round(6.0)).pieces[0]
    low, high = box_of(piece, solids([piece]).shapes[0])
    reach = 56.0 if wraps else 50.0
    assert low == pytest.approx((-reach, 0.0, -6.0), abs=1e-6)
    assert high == pytest.approx((reach, reach, 6.0), abs=1e-6)


# What the checks would notice.


def test_a_mesh_that_is_off_its_solid_is_noticed() -> None:
    line = laid(STEPS)
    made, meshes = solids(line.pieces), mesh_member_run(line)
    moved = [replace(mesh, points=mesh.points + np.array([0.006, 0.006, 0.006])) for mesh in meshes]
    for fact in figures(made, moved):
        assert 0.003 < fact.farthest < 0.011


def test_a_mesh_of_another_corner_is_noticed() -> None:
    """Half a degree less at an inside corner: the mesh reaches out of the solid's end face."""
    solid_line = laid([Straight(300), Corner(0.5), Straight(200)])
    mesh_line = laid([Straight(300), Corner(0.5 - math.radians(0.5)), Straight(200)])
    first, _ = figures(solids(solid_line.pieces), mesh_member_run(mesh_line))
    assert first.farthest > 0.05
    assert first.valid


def test_samples_are_spread_over_a_piece_and_its_ends() -> None:
    line = laid([Curve(1.5, 300)])
    (mesh,) = mesh_member_run(line)
    picked = sampled(mesh)
    assert 20 <= len(picked) <= 24
    n = len(mesh.shape.face.d)
    ends = [{tuple(point) for point in ring.tolist()} for ring in (mesh.points[:n], mesh.points[-n:])]
    found = {tuple(point) for point in picked.tolist()}
    assert all(len(found & end) >= 8 for end in ends)
    assert len(found - ends[0] - ends[1]) >= 5


def test_an_open_shell_is_not_sound() -> None:
    cadquery = kernel()
    (shape,) = solids(laid([Straight(100)]).pieces).shapes
    assert is_sound(shape)
    shell = cadquery.Shell.makeShell(shape.Faces()[1:])
    assert not is_sound(cadquery.Solid(cadquery.Solid.makeSolid(shell).wrapped))
    assert not is_sound(cadquery.Compound.makeCompound([shape, shape.moved(cadquery.Location((0, 0, 500)))]))


def test_the_area_of_a_quarter_ring() -> None:
    """A square bar bent round a post: four cylinders and rings, and the two ends."""
    piece = curve(QUARTER, 50.0, polygon((0, 0), (10, 0), (10, 10), (0, 10)), wraps=True)
    expected = QUARTER * (10 * 50 + 10 * 60 + 2 * (60**2 - 50**2) / 2) + 2 * 100
    assert area_of(solids([piece]).shapes[0]) == pytest.approx(expected, rel=1e-9)


# Errors, progress, and what is loaded when.


def test_progress_is_told_after_each_piece() -> None:
    told: list[int] = []
    pieces = laid(STEPS).pieces
    solids(pieces[:1])
    made = make_solids(pieces, told.append)
    assert told == list(range(1, len(pieces) + 1))
    assert len(made.shapes) == len(pieces)
    assert made.pieces == tuple(pieces)


def broken() -> Piece:
    """A piece whose profile is in two parts, which `make_profile` would have refused."""
    piece = laid([Straight(100)]).pieces[0]
    edges = (Line((0.0, 0.0), (5.0, 0.0)), Line((5.0, 0.0), (5.0, 5.0)), Line((80.0, 80.0), (90.0, 85.0)))
    return replace(piece, profile=Profile("in parts", edges))


def test_a_failure_of_the_kernel_names_the_piece_and_a_way_on() -> None:
    solids([])
    with pytest.raises(PreviewError) as caught:
        make_solids([laid([Straight(50)]).pieces[0], broken()])
    (problem,) = caught.value.problems
    assert problem.place == 'piece "wall / base / 1 straight"'
    assert problem.problem == "the CAD kernel failed while making its solid: the section's outline does not close"
    assert "--no-solid" in problem.fix
    assert "OCP" not in str(caught.value)


def test_a_failure_while_measuring_names_the_piece() -> None:
    line = laid([Straight(100)])
    (mesh,) = mesh_member_run(line)
    hollow = Solids(line.pieces, (None,))
    with pytest.raises(PreviewError, match="measuring its solid") as caught:
        figures(hollow, [mesh])
    assert caught.value.problems[0].place == 'piece "wall / base / 1 straight"'


def test_figures_want_one_mesh_for_each_solid() -> None:
    line = laid([Straight(100), Corner(1.0), Straight(100)])
    meshes: list[PieceMesh] = mesh_member_run(line)
    with pytest.raises(ValueError, match="shorter"):
        figures(solids(line.pieces), meshes[:1])


def test_importing_the_room_loads_no_cad() -> None:
    code = "import sys, preview.models.solid; print([m for m in ('OCP', 'cadquery', 'vtkmodules') if m in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.strip() == "[]"


def test_the_base_has_every_kind_of_edge() -> None:
    """The profile that these tests lean on: flat, upright, slanted; hollow and round arcs; one that bulges."""
    edges = base().edges
    lines = [edge for edge in edges if isinstance(edge, Line)]
    arcs = [edge for edge in edges if not isinstance(edge, Line)]
    assert any(line.start[0] == line.end[0] for line in lines)
    assert any(line.start[1] == line.end[1] for line in lines)
    assert any(line.start[0] != line.end[0] and line.start[1] != line.end[1] for line in lines)
    assert {arc.sweep > 0 for arc in arcs} == {True, False}
    assert any(arc.bounds[2] > max(arc.start[0], arc.end[0]) for arc in arcs)
