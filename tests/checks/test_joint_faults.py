"""A fault planted at each kind of the trade's joints: the check that must catch it does, with the figure it must have.

Bodies are taken from the meshes before they are stored, so that the figures are exact.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from preview.build import Built, build
from preview.checks import Body, Finding, Inspection, JointPair, inspect_bodies
from preview.joinery import BlockShape, MemberRun, block_lines, exact_volumes, join
from preview.models.mesh import PieceMesh, mesh_runs
from preview.profiles import Profile
from preview.runs import Block, Corner, Easement, EndWay, Run, Step, Straight, Way, lay_out, scarfed
from preview.scene import load_scene
from samples import BASE, RIGHT_ANGLE, block

Floats = NDArray[np.float64]
TAN = 0.6
STRIP = block(20.0, 40.0)


def body_of(mesh: PieceMesh) -> Body:
    return Body(
        mesh.piece.name,
        (),
        mesh.points[mesh.shape.corner_point],
        mesh.shape.render_triangles.astype(np.int64),
        mesh.normals.astype(np.float64),
        1e-9,
    )


class Model:
    """Lines cut and meshed; `inspect` judges them with some bodies exchanged, by the last part of their names."""

    def __init__(self, lines: Sequence[MemberRun], pairs: Sequence[JointPair]) -> None:
        self.pieces = [piece for line in lines for piece in line.pieces]
        self.pairs = pairs
        self.bodies = {mesh.piece.name: body_of(mesh) for mesh in mesh_runs(lines)}
        self.volumes = np.concatenate([exact_volumes(line.pieces) for line in lines])

    def inspect(self, faults: Mapping[str, Callable[[Body], Body]] | None = None, without: str = "") -> Inspection:
        faults = faults or {}
        found = []
        for name, body in self.bodies.items():
            spoil = [fault for end, fault in faults.items() if name.endswith(end)]
            found.append(spoil[0](body) if spoil else body)
        assert all(any(name.endswith(end) for name in self.bodies) for end in faults)
        kept = [body for body in found if not (without and body.name.endswith(without))]
        return inspect_bodies(kept, self.pieces, self.pairs, self.volumes, 0.05)


def alone(run: Run, profile: Profile = BASE) -> Model:
    line = join(run, "base", profile)
    return Model([line], [JointPair(j, *b) for j, b in zip(line.joints, line.between, strict=True)])


def ended(steps: list[Step], begin: EndWay = "square", end: EndWay = "square") -> Run:
    return replace(lay_out("hall", steps), begin=begin, end=end)


def coped() -> Run:
    return ended([Straight(400.0), Corner(RIGHT_ANGLE, Way("cope")), Straight(300.0)])


def failed(inspection: Inspection) -> set[str]:
    return {finding.check.code for finding in inspection.findings if not finding.holds}


def worst(inspection: Inspection, code: str) -> Finding:
    return max((f for f in inspection.findings if f.check.code == code), key=lambda f: f.figure)


def shift(*by: float) -> Callable[[Body], Body]:
    return lambda body: replace(body, vertices=body.vertices + np.array(by))


# Copes.


def test_a_sound_cope_passes() -> None:
    found = alone(coped()).inspect()
    assert failed(found) == set()
    assert worst(found, "gap").figure < 1e-9


@pytest.mark.parametrize("pulled", [0.05, 0.003, 0.5])
def test_a_cope_pulled_from_the_face_gapes_by_that_much(pulled: float) -> None:
    """The coped piece runs along y at a square corner; its face to the other lies flat against y."""
    found = alone(coped()).inspect({"2 straight": shift(0.0, pulled, 0.0)})
    assert "gap" in failed(found) <= {"gap", "chord"}
    gap = worst(found, "gap")
    assert gap.figure == pytest.approx(pulled, abs=1e-9)
    assert gap.subject.endswith("1-2 cope")


@pytest.mark.parametrize("left", [0.2, 3.0, 6.0])
@pytest.mark.parametrize("after", [True, False])
def test_the_other_end_of_a_short_coped_piece_is_not_its_cope(left: float, after: bool) -> None:
    """Walls that turn by 8 degrees: a strip 20 mm deep is coped off 20 / sin 8 = 143.7 mm along its wall, and its
    square end, `left` mm further, is still within left sin 8 of the other's face."""
    short = 20.0 / math.sin(math.radians(8.0)) + left
    corner = Corner(math.radians(8.0), Way("cope", coped="after" if after else "before"))
    run = ended([Straight(400.0), corner, Straight(short)] if after else [Straight(short), corner, Straight(400.0)])
    found = alone(run, STRIP).inspect()
    assert failed(found) == set()
    assert worst(found, "gap").figure < 1e-9


def test_a_cope_pushed_into_the_face_shares_wood_with_it() -> None:
    """Two strips, 20 x 40: pushed in by 0.05 mm they share 0.05 x 20 x 40 mm³."""
    found = alone(coped(), STRIP).inspect({"2 straight": shift(0.0, -0.05, 0.0)})
    assert "overlap" in failed(found)
    assert worst(found, "overlap").figure == pytest.approx(0.05 * 20.0 * 40.0, rel=1e-6)
    found = alone(coped()).inspect({"2 straight": shift(0.0, -0.05, 0.0)})
    assert {"gap", "overlap"} <= failed(found)
    assert worst(found, "gap").figure == pytest.approx(0.05, abs=1e-9)


def test_a_cope_cut_square_is_no_cope() -> None:
    """The end is cut square at the other's outermost point instead of following its face."""

    def square(body: Body) -> Body:
        vertices = body.vertices.copy()
        vertices[vertices[:, 1] < 40.0, 1] = 31.75
        return replace(body, vertices=vertices)

    assert "gap" in failed(alone(coped()).inspect({"2 straight": square}))


def test_a_cope_whose_other_piece_is_missing_fails() -> None:
    found = alone(coped()).inspect(without="1 straight")
    assert {"present", "gap"} <= failed(found)
    assert math.isinf(worst(found, "gap").figure)


# Blocks and butt ends.


def plinth(high: float = 90.0, side: float = 40.0) -> Model:
    run = lay_out("door", [Block("plinth", 60.0), Straight(400.0)])
    blocks = {"plinth": BlockShape("plinth", block(side, high), 60.0, 60.0, side)}
    line = join(run, "base", block(20.0, 70.0), blocks=blocks)
    standing = block_lines(run, blocks)
    pairs = [
        JointPair(joint, 1 if label else before, after)
        for joint, (before, after), label in zip(line.joints, line.between, line.blocks, strict=True)
    ]
    return Model([line, *standing], pairs)


def test_a_sound_block_passes() -> None:
    found = plinth().inspect()
    assert failed(found) == set()
    assert {f.check.code for f in found.findings if f.subject.endswith("1 block to 2 straight")} == {"gap", "step"}


def test_a_molding_that_stops_short_of_its_block_gapes() -> None:
    found = plinth().inspect({"2 straight": shift(0.3, 0.0, 0.0)})
    assert "gap" in failed(found)
    assert worst(found, "gap").figure == pytest.approx(0.3, abs=1e-9)
    assert "step" not in failed(found)


def test_a_molding_that_runs_into_its_block_shares_wood_with_it() -> None:
    found = plinth().inspect({"2 straight": shift(-0.3, 0.0, 0.0)})
    assert {"gap", "overlap"} <= failed(found)
    assert worst(found, "overlap").figure == pytest.approx(0.3 * 20.0 * 70.0, rel=1e-6)


@pytest.mark.parametrize(("high", "side", "over"), [(60.0, 40.0, 10.0), (90.0, 15.0, 5.0)], ids=["taller", "thicker"])
def test_a_molding_larger_than_its_block_steps_by_what_stands_out(high: float, side: float, over: float) -> None:
    found = plinth(high, side).inspect()
    assert failed(found) == {"step"}
    step = worst(found, "step")
    assert step.figure == pytest.approx(over, abs=1e-9)
    assert step.where is not None
    assert step.where[1 if high < 70.0 else 0] == pytest.approx(70.0 if high < 70.0 else 20.0, abs=1e-9)


def beside(gap: float | None) -> Model:
    """A base that butts, 400 mm along, against a casing's side; `gap` between them, None where no casing stands."""
    line = join(ended([Straight(400.0)], end="butt"), "base", block(20.0, 70.0))
    lines = [line]
    if gap is not None:
        casing = lay_out("casing", [Straight(80.0)], start=(400.0 + gap, 0.0))
        lines.append(join(casing, "casing", block(30.0, 200.0)))
    return Model(lines, [JointPair(line.joints[0], None, 0), JointPair(line.joints[1], 0, None)])


def test_a_butt_end_against_a_casing_passes() -> None:
    found = beside(0.0).inspect()
    assert failed(found) == set()
    assert worst(found, "gap").figure == pytest.approx(0.0, abs=1e-9)


def test_a_butt_end_that_is_left_open_gapes_by_that_much() -> None:
    found = beside(0.1).inspect()
    assert failed(found) == {"gap"}
    assert worst(found, "gap").figure == pytest.approx(0.1, abs=1e-9)


@pytest.mark.parametrize("model", [beside(None), beside(6.0)], ids=["nothing", "too far"])
def test_a_butt_end_with_nothing_there_fails_and_says_so(model: Model) -> None:
    found = model.inspect()
    assert failed(found) == {"gap", "step"}
    gap = worst(found, "gap")
    assert math.isinf(gap.figure)
    assert gap.detail == "nothing stands there"


# Returns, rakes, easements, scarfs, miters in elevation.


def test_a_return_that_slipped_is_caught() -> None:
    """Pushed 0.05 mm along the wall: half a square corner's miter opens by 0.05 cos 45° and steps by as much."""
    found = alone(ended([Straight(400.0)], "return", "return")).inspect({"end return": shift(0.05, 0.0, 0.0)})
    assert {"gap", "step"} <= failed(found)
    assert worst(found, "gap").figure == pytest.approx(0.05 * math.sqrt(0.5), abs=1e-9)
    assert worst(found, "step").figure == pytest.approx(0.05 * math.sqrt(0.5), rel=0.02)
    pushed = alone(ended([Straight(400.0)], "return", "return")).inspect({"end return": shift(-0.05, 0.0, 0.0)})
    assert {"gap", "overlap"} <= failed(pushed)


def climbing() -> Run:
    return ended([Straight(400.0), Corner(-RIGHT_ANGLE), Straight(500.0, TAN), Easement(150.0), Straight(300.0)])


def test_a_sound_climb_passes() -> None:
    assert failed(alone(climbing()).inspect()) == set()


def test_an_easement_whose_vertices_are_off_is_caught() -> None:
    """The vertices between its ends are lifted by 0.05 mm: no longer on the arc that the easement is."""

    def lift(body: Body) -> Body:
        vertices = body.vertices.copy()
        along = vertices[:, 1]  # the second wall runs along -y
        low, high = along.min(), along.max()
        vertices[(along > low + 1.0) & (along < high - 1.0), 2] += 0.05
        return replace(body, vertices=vertices)

    found = alone(climbing()).inspect({"3 easement": lift})
    assert "on-profile" in failed(found) <= {"on-profile", "chord"}
    assert worst(found, "on-profile").figure == pytest.approx(0.05, abs=1e-6)


def test_an_easement_of_another_radius_is_caught() -> None:
    other = alone(replace(climbing(), elements=_rounder(climbing())))
    found = alone(climbing()).inspect({"3 easement": lambda body: other.bodies[body.name]})
    assert "on-profile" in failed(found)


def _rounder(run: Run) -> tuple:  # type: ignore[type-arg]
    return tuple(replace(e, bend=e.bend * 1.01) if e.bend else e for e in run.elements)


def test_a_shear_that_is_wrong_by_a_thousandth_is_caught() -> None:
    """At the face, 20 mm out, the raked piece then stands 0.02 mm too high."""
    run = climbing()
    line = join(run, "base", STRIP)
    rake = line.pieces[1]
    wrong = replace(line, pieces=(line.pieces[0], replace(rake, shear=rake.shear + 0.001), *line.pieces[2:]))
    # The wrong piece's own ends are cut as its wrong section would be.
    tilted = [replace(cut, lean=cut.lean + 0.001) for cut in (rake.begin, rake.end)]
    wrong = replace(line, pieces=(replace(wrong.pieces[1], begin=tilted[0], end=tilted[1]),))
    (mesh,) = mesh_runs([wrong])
    found = alone(run, STRIP).inspect({"2 straight": lambda _: body_of(mesh)})
    assert {"on-profile", "step"} <= failed(found)
    assert worst(found, "on-profile").figure == pytest.approx(0.02, abs=1e-6)
    assert worst(found, "step").figure == pytest.approx(0.02, rel=0.02)


def test_a_rake_of_the_level_s_own_profile_does_not_meet_round_a_corner() -> None:
    """Without the shear: tan t at the face, 20 mm out, so 12 mm too low."""
    line = join(climbing(), "base", STRIP)
    rake = line.pieces[1]
    plain = replace(rake, shear=0.0, begin=replace(rake.begin, lean=rake.begin.lean - rake.shear))
    (mesh,) = mesh_runs([replace(line, pieces=(replace(plain, end=replace(rake.end, lean=0.0)),))])
    found = alone(climbing(), STRIP).inspect({"2 straight": lambda _: body_of(mesh)})
    assert {"on-profile", "step", "angle"} <= failed(found)
    assert worst(found, "on-profile").figure == pytest.approx(12.0, abs=1e-6)


def test_a_scarf_that_slipped_is_caught() -> None:
    """45°, so a slip of 0.05 mm along the run opens it by 0.05 cos 45° and steps it by as much."""
    run = scarfed(ended([Straight(900.0)]), 700.0, 1.0, 100.0)
    model = alone(run, STRIP)
    assert failed(model.inspect()) == set()
    second = next(name for name in model.bodies if "2 straight" in name).rsplit(" / ", 1)[1]
    found = model.inspect({second: shift(0.05, 0.0, 0.0)})
    assert {"gap", "step"} <= failed(found) <= {"gap", "step", "chord"}
    assert worst(found, "gap").figure == pytest.approx(0.05 * math.sqrt(0.5), abs=1e-9)


def test_a_miter_in_elevation_that_slipped_is_caught() -> None:
    run = replace(ended([Straight(400.0), Straight(500.0, TAN)]), raked="same")
    model = alone(run, STRIP)
    assert failed(model.inspect()) == set()
    found = model.inspect({"2 straight": shift(0.0, 0.0, 0.05)})
    assert {"gap", "step", "on-profile"} <= failed(found)
    pitch = math.atan(TAN)  # lifted plumb, against a cut that leans by half the pitch
    assert worst(found, "gap").figure == pytest.approx(0.05 * math.sin(pitch / 2), abs=1e-6)


# As a scene is built: which pieces stand at which joints.


def test_a_built_scene_pairs_every_joint_on_a_block_with_its_block() -> None:
    built: Built = build(load_scene(Path(__file__).parents[2] / "scenes" / "door-casing.toml"))
    joints = [pair for pair in built.joints if pair.joint.kind == "block"]
    assert len(joints) == 2
    for pair in joints:
        assert pair.before is not None
        assert pair.after is not None
        roles = {built.pieces[pair.before].role, built.pieces[pair.after].role}
        assert roles == {"block", "molding"}
