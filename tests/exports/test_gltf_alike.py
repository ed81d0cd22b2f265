"""Runs that are alike share their meshes: where they then stand, and that nothing else is shared."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

import gltf
from export_jobs import OAK, PAINT, QUARTER, Job, Raw, base, shoe
from preview.checks import read_glb
from preview.exports import Part, glb_bytes
from preview.exports.gltf_alike import placed_runs
from preview.exports.gltf_turns import quaternion
from preview.joinery import join
from preview.models.mesh import mesh_runs
from preview.runs import Corner, Curve, Run, Stand, Straight, lay_out

STEPS = [Straight(400.0), Corner(QUARTER), Straight(200.0), Curve(-0.9, 150.0), Straight(300.0), Corner(-0.6),
         Straight(250.0)]  # fmt: skip
STANDS = Stand((5000.0, 300.0, 40.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
"""A wall that faces +x, as a casing's."""
MEMBERS = (("base", base()), ("shoe", shoe()))


def run(name: str, *, start: tuple[float, float] = (0.0, 0.0), heading: float = 0.0, level: float = 0.0) -> Run:
    return lay_out(name, STEPS, start=start, heading=heading, level=level)


def job() -> Job:
    """One run, moved; turned any way and moved; turned round; stood up on a wall; and one at another height, which is
    none of them: the pictures on its ends are laid by height."""
    return Job(
        "Alike",
        (
            run("first", start=(100.0, 200.0)),
            run("moved", start=(3000.25, -77.7)),
            run("turned", start=(-1234.5, 2500.0), heading=2.345),
            run("turned round", start=(0.0, 9000.0), heading=math.pi),
            replace(run("stood"), stand=STANDS),
            run("raised", level=2100.0),
        ),
        MEMBERS,
    )


def raised(made: Job) -> list[Part]:
    """The parts of a job, the profiles of each run at its level, as a build has them."""
    lines = [join(each, name, it.moved(0.0, each.level)) for each in made.runs for name, it in made.members]
    return [Part(mesh, PAINT) for mesh in mesh_runs(lines, 0.05)]


@pytest.fixture(scope="module")
def parts() -> list[Part]:
    return raised(job())


@pytest.fixture(scope="module")
def raw(parts: list[Part]) -> Raw:
    return Raw.of(glb_bytes("Alike", parts))


def test_alike_runs_share_their_meshes(raw: Raw, parts: list[Part]) -> None:
    each = len(parts) // 6
    meshes = [raw.node(part.mesh.piece.name)["mesh"] for part in parts]
    assert meshes == [*list(range(each)) * 5, *range(each, 2 * each)]
    assert len(raw.document["meshes"]) == 2 * each
    assert len({part.mesh.piece.name for part in parts}) == len(parts)
    assert "rotation" not in raw.node("moved")
    assert {"translation", "rotation"} <= raw.node("turned").keys()
    # No piece is moved by itself.
    assert all(raw.node(part.mesh.piece.name).keys() == {"name", "mesh", "extras"} for part in parts)


def test_every_piece_stands_where_it_was_built(parts: list[Part], tmp_path: Path) -> None:
    path = tmp_path / "alike.glb"
    path.write_bytes(glb_bytes("Alike", parts))
    report = gltf.validate(path)
    assert (report.errors, report.warnings, report.infos, report.hints) == (0, 0, 0, 0), report
    bodies = read_glb(path)
    assert [body.name for body in bodies] == [part.mesh.piece.name for part in parts]
    for body, part in zip(bodies, parts, strict=True):
        mesh = part.mesh
        assert np.abs(body.vertices - mesh.points[mesh.shape.corner_point]).max() < body.step + 1e-6
        assert body.normals is not None
        assert np.abs(body.normals - mesh.normals).max() < 1e-6
        assert body.path == ("Alike", mesh.piece.run)


def test_mating_faces_stay_equal_to_the_last_bit(raw: Raw, parts: list[Part]) -> None:
    """They are stored once and moved by one node; so they are one number to whoever reads them."""
    found = 0
    for one, other in pairwise(part.mesh for part in parts):
        if (one.piece.run, one.piece.member) != (other.piece.run, other.piece.member):
            continue
        sets = [{point.tobytes() for point in raw.attribute(m.piece.name, "POSITION")} for m in (one, other)]
        assert len(sets[0] & sets[1]) == len(one.shape.face.d)
        found += 1
    assert found == 6 * 2 * 4


@pytest.mark.parametrize(
    "other",
    [
        lay_out("other", [*STEPS[:-1], Straight(250.0004)], start=(5000.0, 0.0)),
        lay_out("other", STEPS, start=(5000.0, 0.0), room="right"),
        lay_out("other", [Corner(-s.turn) if isinstance(s, Corner) else s for s in STEPS], start=(5000.0, 0.0)),
    ],
    ids=["longer by 0.0004 mm", "on the other side", "other corners"],
)
def test_other_runs_share_nothing(other: Run) -> None:
    raw = Raw.of(Job("Not alike", (run("first"), other)).glb())
    assert len(raw.document["meshes"]) == 10


@pytest.mark.parametrize("what", ["normals", "uvs"])
def test_alike_runs_look_alike(what: str) -> None:
    """With the same points, and a normal or a texture coordinate of their own, they are stored by themselves."""
    meshes = [part.mesh for part in raised(Job("Two", (run("first"), run("second", start=(5000.0, 0.0)))))]
    assert {placed.like for placed in placed_runs(meshes).values()} == {"first"}
    values = getattr(meshes[7], what).copy()
    values[3] += 0.01
    meshes[7] = replace(meshes[7], **{what: values})
    assert {placed.like for placed in placed_runs(meshes).values()} == {"first", "second"}


def test_a_finish_of_its_own_is_kept() -> None:
    """The same numbers in another material; and wood with grain has tangents, which paint has not."""
    made = raised(Job("Two finishes", (run("first"), run("second", start=(5000.0, 0.0))), MEMBERS[:1]))
    dressed = [Part(part.mesh, OAK if part.mesh.piece.run == "second" else PAINT) for part in made]
    raw = Raw.of(glb_bytes("Two finishes", dressed))
    names = [raw.document["materials"][raw.primitive(part.mesh.piece.name)["material"]]["name"] for part in dressed]
    assert names == [PAINT.name] * 5 + [OAK.name] * 5
    blue = replace(PAINT, name="blue", color=(0.1, 0.1, 0.9))
    raw = Raw.of(glb_bytes("Two", [Part(p.mesh, blue if p.mesh.piece.run == "second" else PAINT) for p in made]))
    one, other = (raw.primitive(f"{name} / base / 1 straight") for name in ("first", "second"))
    assert one["attributes"] == other["attributes"]
    assert one["material"] != other["material"]


@pytest.mark.parametrize("seed", range(6))
def test_quaternions_turn_as_their_matrix(seed: int) -> None:
    """By the formula of quaternion rotation, q v q*, written out; half turns among them, where w is 0."""
    if seed < 3:
        turn = 2 * np.outer(np.eye(3)[seed], np.eye(3)[seed]) - np.eye(3)
    else:
        turn, _ = np.linalg.qr(np.random.default_rng(seed).normal(size=(3, 3)))
        turn *= np.linalg.det(turn)
    *vector, w = quaternion(turn)
    q = np.array(vector)
    assert w >= 0
    for axis in np.eye(3):
        turned = axis + 2 * w * np.cross(q, axis) + 2 * np.cross(q, np.cross(q, axis))
        assert turned == pytest.approx(turn @ axis, abs=1e-12)
