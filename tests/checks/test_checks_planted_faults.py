"""Every check passes on a sound model and is caught failing on a fault planted for it (and by it, not by luck)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from preview.build import Built, build
from preview.checks import (
    CHECKS,
    Body,
    Finding,
    inspect_bodies,
    inspect_solids,
    inspect_step,
    inspect_stl,
    inspect_surveys,
    inspect_with_trimesh,
    read_glb,
)
from preview.exports.glb import Part, glb_bytes
from preview.exports.stl import stl_bytes
from preview.models.mesh import mesh_runs
from preview.models.solid import SolidFigures
from preview.runs import Arrival, Closing, Corner, Reading, Step, Straight, survey_run
from preview.scene import load_scene
from round_trips import ALL, WORN

SCENES = Path(__file__).parents[2] / "scenes"


@pytest.fixture(scope="module")
def built() -> Built:
    return build(load_scene(SCENES / "window-seat.toml"))


@pytest.fixture(scope="module")
def bodies(built: Built, tmp_path_factory: pytest.TempPathFactory) -> list[Body]:
    path = tmp_path_factory.mktemp("glb") / "seat.glb"
    path.write_bytes(whole_glb(built))
    return read_glb(path)


def whole_glb(built: Built) -> bytes:
    parts = [Part(mesh, member.finish) for mesh, member in zip(built.meshes, built.members, strict=True)]
    return glb_bytes(built.scene.title, parts)


def failed(findings: list[Finding] | tuple[Finding, ...]) -> set[str]:
    return {finding.check.code for finding in findings if not finding.holds}


def inspect(built: Built, bodies: list[Body]) -> tuple[Finding, ...]:
    return inspect_bodies(bodies, built.pieces, built.joints, np.array(built.volumes), built.scene.chord).findings


def moved(body: Body, change: Callable[[np.ndarray], np.ndarray]) -> Body:
    return replace(body, vertices=change(body.vertices.copy()))


def shift(*by: float) -> Callable[[Body], Body]:
    return lambda body: moved(body, lambda v: v + np.array(by))


def without_a_triangle(body: Body) -> Body:
    return replace(body, triangles=body.triangles[1:])


def inside_out(body: Body) -> Body:
    return replace(body, triangles=body.triangles[:, ::-1])


def with_a_loose_part(body: Body) -> Body:
    n = len(body.vertices)
    corners = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], dtype=float) + body.vertices[0] + 50
    faces = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]]) + n
    return replace(
        body,
        vertices=np.vstack([body.vertices, corners]),
        triangles=np.vstack([body.triangles, faces]),
        normals=np.vstack([np.asarray(body.normals), np.tile((0.0, 0.0, 1.0), (4, 1))]),
    )


def miter_too_wide(body: Body) -> Body:
    """The middle piece begins and ends in miters; 0.01 % too wide is 0.003 mm at the face, too little for a volume."""

    def widen(v: np.ndarray) -> np.ndarray:
        wall = v[:, 1].max()  # its back line runs along x, the room is towards -y
        v[:, 1] = wall + (v[:, 1] - wall) * 1.0001
        return v

    return moved(body, widen)


def leaning(body: Body) -> Body:
    """The face leans by one degree, as if the piece had been set out of plumb at its foot."""

    def lean(v: np.ndarray) -> np.ndarray:
        v[:, 2] += (v[:, 1].max() - v[:, 1]) * math.tan(math.radians(1))
        return v

    return moved(body, lean)


def longer(body: Body) -> Body:
    """The last piece is 5 mm longer at its free end."""

    def stretch(v: np.ndarray) -> np.ndarray:
        v[v[:, 0] == v[:, 0].max(), 0] += 5.0
        return v

    return moved(body, stretch)


FAULTS: dict[str, tuple[int, Callable[[Body], Body], set[str]]] = {
    # name: which piece, what is done to its body, the checks that must catch it
    "a triangle is missing": (0, without_a_triangle, {"closed"}),
    "inside out": (0, inside_out, {"outward"}),
    "a loose part": (0, with_a_loose_part, {"one-body"}),
    "miter 0.01 % too wide": (5, miter_too_wide, {"on-profile"}),
    "set 0.05 mm too high": (5, shift(0, 0, 0.05), {"step", "on-profile"}),
    "pushed along by 0.05 mm": (5, shift(0.05, 0, 0), {"gap", "overlap"}),
    "leaning by a degree": (5, leaning, {"angle", "step"}),
    "5 mm too long": (10, longer, {"volume", "chord", "length"}),
    "another name": (3, lambda body: replace(body, name="seat / base / 4 board"), {"present", "gap"}),
}


def test_a_sound_model_passes_every_check(built: Built, bodies: list[Body]) -> None:
    findings = inspect(built, bodies)
    assert failed(findings) == set()
    for code in ("present", "closed", "outward", "one-body", "on-profile", "chord", "volume"):
        assert sum(f.check.code == code for f in findings) == len(built.pieces)
    for code in ("gap", "step", "angle"):
        assert sum(f.check.code == code for f in findings) == len(built.pieces) - 1


@pytest.mark.parametrize("fault", FAULTS)
def test_each_fault_is_caught(fault: str, built: Built, bodies: list[Body]) -> None:
    at, spoil, expected = FAULTS[fault]
    spoiled = list(bodies)
    spoiled[at] = spoil(bodies[at])
    caught = failed(inspect(built, spoiled))
    assert expected <= caught


def test_a_piece_that_is_too_long_is_told_by_how_much(built: Built, bodies: list[Body]) -> None:
    spoiled = [*bodies[:10], longer(bodies[10]), *bodies[11:]]
    lengths = {f.subject: f.figure for f in inspect(built, spoiled) if f.check.code == "length"}
    assert lengths.pop(built.pieces[10].name) == pytest.approx(5.0, abs=1e-3)
    assert max(lengths.values()) < 1e-3
    assert set(lengths) == {piece.name for piece in built.pieces[:10] if piece.kind == "straight"}


def test_a_body_that_stands_twice_is_not_present_once(built: Built, bodies: list[Body]) -> None:
    assert "present" in failed(inspect(built, [*bodies, bodies[0]]))


def test_a_coarser_mesh_than_asked_for_strays_from_the_surface(built: Built, tmp_path: Path) -> None:
    coarse = mesh_runs(built.lines, 1.0)
    path = tmp_path / "coarse.glb"
    path.write_bytes(whole_glb(replace(built, meshes=tuple(coarse))))
    findings = inspect(built, read_glb(path))
    assert failed(findings) == {"chord"}
    worst = max(f.figure for f in findings if f.check.code == "chord")
    assert 0.05 < worst <= 1.0


def test_two_profiles_that_meet_fail_and_say_where_on_the_face() -> None:
    """Two runs end to end: a 1 1/4 in base against the same base in 1 1/8 in. They part by 1/8 in at the foot."""
    from preview.checks import JointPair
    from preview.joinery import exact_volumes, join, meeting_ends
    from preview.profiles import make_profile, measure
    from preview.profiles.edges import Line
    from preview.runs import lay_out

    def board(thick: float) -> list[Line]:
        corners = [(0.0, 0.0), (thick, 0.0), (thick, 60.0), (10.0, 90.0), (0.0, 90.0)]
        return [Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]

    first = join(lay_out("left", [Straight(500)]), "base", make_profile("a", board(31.75)))
    second = join(lay_out("right", [Straight(500)], start=(500.0, 0.0)), "base", make_profile("b", board(28.575)))
    pieces = (*first.pieces, *second.pieces)
    (butt,), _ = meeting_ends([first, second])
    meshes = mesh_runs([first, second])
    found = [_body_of(mesh) for mesh in meshes]
    volumes = np.concatenate([exact_volumes(first.pieces), exact_volumes(second.pieces)])
    result = inspect_bodies(found, pieces, [JointPair(butt.joint, 0, 1)], volumes, 0.05)
    steps = [f for f in result.findings if f.check.code == "step"]
    assert len(steps) == 1
    assert not steps[0].holds
    assert steps[0].figure == pytest.approx(3.175, abs=1e-6)
    assert steps[0].where is not None
    assert measure(first.profile).d_max - 3.2 <= steps[0].where[0] <= 31.7501
    assert -1e-6 <= steps[0].where[1] <= 60.0001
    assert failed(result.findings) == {"step", "angle"}


def _body_of(mesh) -> Body:  # type: ignore[no-untyped-def]
    return Body(
        mesh.piece.name,
        (),
        mesh.points[mesh.shape.corner_point],
        mesh.shape.render_triangles.astype(np.int64),
        mesh.normals,
        1e-9,
    )


def test_faults_in_an_stl_are_caught(built: Built, tmp_path: Path) -> None:
    data = stl_bytes(built.meshes, "seat")
    volume = sum(mesh.volume for mesh in built.meshes)
    count = sum(len(mesh.triangles) for mesh in built.meshes)
    path = tmp_path / "seat.stl"
    path.write_bytes(data)
    assert failed(inspect_stl(path, volume, [count])) == set()
    short = data[:80] + (count - 1).to_bytes(4, "little") + data[84:-50]
    path.write_bytes(short)
    assert failed(inspect_stl(path, volume, [count])) >= {"stl-triangles", "stl-closed"}
    assert failed(inspect_stl(path, volume * 1.001, [count])) >= {"stl-volume"}


def test_faults_that_another_library_finds(built: Built, tmp_path: Path) -> None:
    path = tmp_path / "seat.glb"
    path.write_bytes(whole_glb(built))
    volumes = [mesh.volume for mesh in built.meshes]
    assert failed(inspect_with_trimesh(path, built.pieces, volumes)) == set()
    assert failed(inspect_with_trimesh(path, built.pieces, [v * 1.001 for v in volumes])) == {"reader-volume"}
    strangers = [replace(built.pieces[0], name="nobody"), *built.pieces[1:]]
    assert failed(inspect_with_trimesh(path, strangers, volumes)) == {"reader-piece"}
    inverted = [replace(mesh, shape=replace(mesh.shape, mirrored=not mesh.shape.mirrored)) for mesh in built.meshes]
    path.write_bytes(whole_glb(replace(built, meshes=tuple(inverted))))
    assert "reader-closed" in failed(inspect_with_trimesh(path, built.pieces, volumes))


def sound_figures(built: Built) -> list[SolidFigures]:
    return [
        SolidFigures(v, m.area, tuple(m.points.min(axis=0)), tuple(m.points.max(axis=0)), True, 0.0)
        for v, m in zip(built.volumes, built.meshes, strict=True)
    ]


SOLID_FAULTS: dict[str, Callable[[SolidFigures], SolidFigures]] = {
    "solid-valid": lambda f: replace(f, valid=False),
    "solid-volume": lambda f: replace(f, volume=f.volume * (1 + 2e-6)),
    "solid-area": lambda f: replace(f, area=f.area * 1.05),
    "solid-box": lambda f: replace(f, high=(f.high[0] + 0.1, f.high[1], f.high[2])),
    "solid-distance": lambda f: replace(f, farthest=0.01),
}


@pytest.mark.parametrize("code", SOLID_FAULTS)
def test_faults_in_a_solid_are_caught(code: str, built: Built) -> None:
    sound = sound_figures(built)
    arguments = (built.pieces, built.meshes, built.volumes, built.scene.chord)
    assert failed(inspect_solids(sound, *arguments)) == set()
    spoiled = [SOLID_FAULTS[code](sound[0]), *sound[1:]]
    assert failed(inspect_solids(spoiled, *arguments)) == {code}


def test_faults_in_a_step_file_are_caught(built: Built) -> None:
    whole = [(piece.name, volume) for piece, volume in zip(built.pieces, built.volumes, strict=True)]
    assert failed(inspect_step(whole, built.pieces, built.volumes)) == set()
    assert failed(inspect_step(whole[1:], built.pieces, built.volumes)) == {"step-solids"}
    assert failed(inspect_step([*whole, ("stray", 1.0)], built.pieces, built.volumes)) == {"step-solids"}
    heavy = [(whole[0][0], whole[0][1] * 1.00001), *whole[1:]]
    assert failed(inspect_step(heavy, built.pieces, built.volumes)) == {"step-volume"}


MAY_BE_OFF = 3.0


def measured_room(
    *sides: float, corner: float = 90.0, closing: Closing = "spread", within: float = MAY_BE_OFF
) -> list[Finding]:
    """A room of four walls (mm), its first corner as measured (degrees between the walls), the other three square.

    Lengths may be off by `within`. Angles may not, so that what is missed is shared by opposite walls alone; where
    `sides` are two, the opposite walls were measured right.
    """
    four = sides if len(sides) == 4 else (*sides, 4000.0, 3000.0)
    steps: list[Step] = []
    for number, side in enumerate(four):
        steps += [Straight(side), Corner(math.radians(180.0 - (corner if number == 0 else 90.0)))]
    readings = [Reading(within) if isinstance(step, Straight) else Reading(0.0) for step in steps]
    _, survey = survey_run(steps, readings, closing=closing)
    return inspect_surveys([("room", survey)])


SURVEY_FAULTS: dict[str, tuple[Callable[[], list[Finding]], float]] = {
    # check: the room that must fail it and no other, and by what figure
    #
    # One wall 6.3 mm too long, shared with the wall across: 3.15 mm of a measurement that may be off by 3.
    "survey-change": (lambda: measured_room(4006.3, 3000.0), 1.05),
    # Both ways 5.94 mm: four changes of 0.99 of what may be off, which is two standard deviations: 4 (2 x 0.99)².
    "survey-overall": (lambda: measured_room(4005.94, 3005.94), 4 * (2 * 0.99) ** 2),
    # Shown as measured: the gap is what was measured wrong, and the turn what the corners lack.
    "survey-gap": (lambda: measured_room(4006.0, 3000.0, closing="show"), 6.0),
}


@pytest.mark.parametrize("code", SURVEY_FAULTS)
def test_faults_in_a_survey_are_caught(code: str) -> None:
    assert failed(measured_room(4000.0, 3000.0)) == set()
    assert failed(measured_room(4000.0, 3000.0, closing="show")) == set()
    make, figure = SURVEY_FAULTS[code]
    found = make()
    assert failed(found) == {code}
    (fault,) = [finding for finding in found if not finding.holds]
    assert fault.figure == pytest.approx(figure, rel=1e-9)
    assert fault.subject == "room"


def test_a_room_whose_corners_make_no_whole_turn_is_caught() -> None:
    """91° for a square corner: the corners lack 1°, and with them the walls miss by a long way."""
    found = measured_room(4000.0, 3000.0, corner=91.0, closing="show")
    assert failed(found) == {"survey-gap", "survey-turn"}
    (turn,) = [finding for finding in found if finding.check.code == "survey-turn"]
    assert turn.figure == pytest.approx(1.0, abs=1e-9)
    # Three walls turn by 1° about the first corner, which is as far from their end as the first wall is long.
    (gap,) = [finding for finding in found if finding.check.code == "survey-gap"]
    assert gap.figure == pytest.approx(2 * 4000.0 * math.sin(math.radians(0.5)), rel=1e-9)


def test_an_open_run_that_arrives_elsewhere_is_caught() -> None:
    """Measured twice: by its steps, and by where it ends; shown as walked, 4 mm off."""
    steps: list[Step] = [Straight(1000.0), Corner(math.pi / 2), Straight(500.0)]
    readings = [Reading(1.0), Reading(0.0), Reading(1.0)]
    arrives = Arrival((1000.0, 504.0), 1.0)
    _, survey = survey_run(steps, readings, arrives=arrives, closing="show")
    found = inspect_surveys([("open", survey)])
    assert failed(found) == {"survey-gap"}
    assert found[0].figure == pytest.approx(4.0, abs=1e-9)
    assert [finding.check.code for finding in found] == ["survey-gap"]


def test_every_kind_of_check_has_a_planted_fault() -> None:
    planted = set().union(*(codes for _, _, codes in FAULTS.values()), SOLID_FAULTS)
    planted |= {"stl-closed", "stl-triangles", "stl-volume", "step-solids", "step-volume"}
    planted |= {"reader-piece", "reader-closed", "reader-volume"}
    planted |= {*SURVEY_FAULTS, "survey-turn"}
    planted |= ALL | WORN
    assert planted == {check.code for check in CHECKS}


def test_a_figure_that_is_not_a_number_never_holds() -> None:
    assert not Finding(CHECKS[0], "x", math.nan, 1.0).holds
