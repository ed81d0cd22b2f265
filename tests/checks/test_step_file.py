"""STEP files, asked what any file for others is: sound ones hold, planted faults are each caught."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from preview.checks import Finding, inspect_step_file
from preview.models.solid import SolidFigures, StepSolid, figures, make_solids, read_step, read_step_solids
from round_trips import job


@pytest.fixture(scope="module")
def facts(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, tuple[SolidFigures, ...], list[StepSolid]]:
    built = job()
    solids = make_solids(built.pieces)
    path = tmp_path_factory.mktemp("step") / "boards.step"
    colors = [member.finish.color for member in built.members]
    solids.write_step(path, built.scene.title, colors, built.digest)
    return path, figures(solids, built.meshes), read_step_solids(path, built.pieces)


def asked(facts: tuple[Path, tuple[SolidFigures, ...], list[StepSolid]], **other: object) -> list[Finding]:
    path, made, found = facts
    path, found = other.get("path", path), other.get("found", found)  # type: ignore[assignment]
    return inspect_step_file(path, found, job().pieces, made, str(other.get("digest", job().digest)))


def failed(findings: list[Finding]) -> set[str]:
    return {finding.check.code for finding in findings if not finding.holds}


def test_a_sound_file_holds(facts: tuple[Path, tuple[SolidFigures, ...], list[StepSolid]]) -> None:
    found = asked(facts)
    assert failed(found) == set()
    assert {finding.check.code for finding in found} == {"file-model", "file-box", "file-units", "file-up"}
    assert sum(finding.check.code == "file-box" for finding in found) == len(job().pieces)


def test_boxes_are_the_meshes(facts: tuple[Path, tuple[SolidFigures, ...], list[StepSolid]]) -> None:
    # The mesh's chord may take a little off its rounds.
    named = {each.name: each for each in facts[2]}
    for mesh in job().meshes:
        solid = named[mesh.piece.name]
        assert mesh.points.min(axis=0) == pytest.approx(solid.low, abs=2 * job().scene.chord)
        assert mesh.points.max(axis=0) == pytest.approx(solid.high, abs=2 * job().scene.chord)


def test_another_model_and_another_unit_are_caught(
    facts: tuple[Path, tuple[SolidFigures, ...], list[StepSolid]], tmp_path: Path
) -> None:
    assert failed(asked(facts, digest="0" * 64)) == {"file-model"}
    other = tmp_path / "boards.step"
    text = facts[0].read_text("ascii")
    assert "SI_UNIT(.MILLI.,.METRE.)" in text
    other.write_text(text.replace("SI_UNIT(.MILLI.,.METRE.)", "SI_UNIT(.CENTI.,.METRE.)"), "ascii")
    found = asked(facts, path=other, found=read_step_solids(other, job().pieces))
    assert failed(found) == {"file-box", "file-units", "file-up"}
    assert max(f.figure for f in found if f.check.code == "file-units") == pytest.approx(9)
    other.write_text(text.replace("SI_UNIT(.MILLI.,.METRE.)", "SI_UNIT(.MILLI.,.GRAM.)"), "ascii")
    assert failed(asked(facts, path=other)) == {"file-units"}


def test_a_solid_elsewhere_is_caught(facts: tuple[Path, tuple[SolidFigures, ...], list[StepSolid]]) -> None:
    first, *others = facts[2]
    high = (first.high[0], first.high[1], first.high[2] + 0.001)
    assert failed(asked(facts, found=[replace(first, high=high), *others])) == {"file-box", "file-up"}
    lying = [
        StepSolid(e.name, e.volume, (e.low[0], e.low[2], e.low[1]), (e.high[0], e.high[2], e.high[1])) for e in facts[2]
    ]
    assert {"file-box", "file-up"} <= failed(asked(facts, found=lying))


def test_an_assembly_that_moves_its_parts_is_followed(
    facts: tuple[Path, tuple[SolidFigures, ...], list[StepSolid]], tmp_path: Path
) -> None:
    import cadquery

    moved = cadquery.Assembly(name="whole")
    moved.add(make_solids(job().pieces[:1]).shapes[0], name="board", loc=cadquery.Location((0, 0, 250)))
    path = tmp_path / "moved.step"
    moved.export(str(path))
    ((name, _),) = read_step(path)
    (found,) = read_step_solids(path, [replace(job().pieces[0], name=name)])
    x, y, z = facts[1][0].low
    assert found.low == pytest.approx((x, y, z + 250), abs=1e-6)
