"""What the report of a build asks of the files that it leaves: the same of every format, of every piece and option."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from preview.checks import Finding
from preview.exports import Report
from preview.jobs import Wanted, build_scene, check_scene
from preview.scene import Scene, parse_scene
from round_trips import ALL, CARRIED, JOB, WORN

OPTIONS = """
[finish.white]
color = "#f0eee6"
[[option]]
choice = "finish"
name = "clear"
[[option]]
choice = "finish"
name = "painted"
changes = [{ member = "Βάση", finish = "white" }]
"""
FORMATS = ("glb", "stl", "step", *(name for name in CARRIED if name not in ("glb", "stl")))


@pytest.fixture(scope="module")
def scene() -> Scene:
    return parse_scene(JOB + OPTIONS, Path("boards.toml"))


@pytest.fixture(scope="module")
def report(scene: Scene, tmp_path_factory: pytest.TempPathFactory) -> Report:
    folder = tmp_path_factory.mktemp("report")
    found = build_scene(scene, folder / "boards", Wanted(FORMATS, whole=True), lambda *_: None).report
    assert found.holds
    return found


def codes(findings: Sequence[Finding], file: str) -> set[str]:
    """The checks of files for others that were asked of a file, by itself or piece by piece."""
    return {
        finding.check.code
        for finding in findings
        if finding.check.code.startswith("file-") and finding.subject.partition(": ")[0] == file
    }


def test_every_format_is_asked_the_same(report: Report) -> None:
    findings = report.inspection.findings
    for name, carried in CARRIED.items():
        assert codes(findings, f"boards.{name}") == ALL | carried
    # A STEP file's names and volumes are asked by step-solids and step-volume.
    assert codes(findings, "boards.step") == {"file-model", "file-box", "file-units", "file-up"}
    assert {"step-solids", "step-volume"} <= {finding.check.code for finding in findings}


def test_every_piece_has_its_own_stl_read_back(report: Report) -> None:
    for file in report.piece_files:
        assert codes(report.inspection.findings, Path(file).name) == ALL


def test_every_option_is_read_back(report: Report) -> None:
    (option,) = report.options
    assert codes(option.inspection.findings, Path(option.model).name) == ALL | WORN
    pieces = sum(finding.check.code == "file-color" for finding in option.inspection.findings)
    assert pieces == len(option.built.pieces)


def test_a_check_that_leaves_no_files_asks_nothing_of_them(scene: Scene) -> None:
    found = check_scene(scene, solids=False, progress=lambda *_: None).report.inspection.findings
    assert not [finding for finding in found if finding.check.code.startswith("file-")]
