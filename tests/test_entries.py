"""Shapes, ends and formats that other packages and programs add: entered once, used by scene files and the command."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
import trimesh

import preview
from preview.build import Built
from preview.entries import Entries
from preview.errors import PreviewError
from preview.exports import FORMATS
from preview.joinery import piece_lengths
from preview.profiles import SHAPES, Edge, Line, Profile, Shape, measure
from preview.runs import BEVELS
from preview.units import Unit

SCENE = """
title = "A shelf with steps"
units = "mm"
[finish.oak]
color = "#a08050"
[profile.edge]
foot = 20
face = [{ fillet = 10 }, { steps = 12, in = 12 }, { fillet = 5 }]
[member.edge]
profile = "edge"
finish = "oak"
[[run]]
name = "shelf"
members = ["edge"]
room = "right"
begin = "nipped"
steps = [{ straight = 400 }, { outside = 90 }, { straight = 300 }]
"""


def steps(shape: Shape, start: tuple[float, float], _unit: Unit) -> list[Edge]:
    """Three little stairs."""
    (d, h), aside, rise = start, shape.out / 3, shape.rise / 3
    edges: list[Edge] = []
    for stair in range(3):
        foot, corner = (d + stair * aside, h + stair * rise), (d + stair * aside, h + (stair + 1) * rise)
        edges += [Line(foot, corner), Line(corner, (corner[0] + aside, corner[1]))]
    return edges


def nipped(_profile: Profile) -> float:
    return 0.5


def totals(built: Built, stem: str) -> tuple[tuple[str, bytes], ...]:
    return ((f"{stem}-totals.txt", f"{len(built.pieces)} pieces\n".encode()),)


@pytest.fixture
def entered(monkeypatch: pytest.MonkeyPatch) -> None:
    for table in (SHAPES, BEVELS, FORMATS):
        monkeypatch.setattr(table, "_entered", dict(table))
    preview.enter_shape("steps")(steps)
    preview.enter_end("nipped")(nipped)
    preview.enter_format("totals")(totals)


@pytest.mark.usefixtures("entered")
def test_a_shape_an_end_and_a_format_are_one_function_each(tmp_path: Path) -> None:
    scene = tmp_path / "shelf.toml"
    scene.write_text(SCENE)
    shelf = preview.load(scene)
    # A band of 10 that is 20 thick, stairs of 4 that go up first and then in, and a band of 5 that is 8 thick.
    first, _ = shelf.built.pieces
    assert measure(first.profile).area == pytest.approx(20 * 10 + 4 * (20 + 16 + 12) + 8 * 5)
    assert piece_lengths(first)["back"] == pytest.approx(400)
    # 20 mm out: half a millimeter back for each at the nipped end, one more at the outside corner.
    assert shelf.pieces[0].face == pytest.approx(400 - 10 + 20)
    assert shelf.report()["holds"]
    written = shelf.export(tmp_path / "out", "glb", "totals")
    assert (tmp_path / "out" / "models" / "shelf-totals.txt").read_text() == "2 pieces\n"
    whole = shelf.mesh()
    assert {path.name for path in written} == {"shelf.glb", "shelf-totals.txt", "report.json"}
    assert trimesh.Trimesh(whole.points, whole.triangles, process=False).is_watertight


@pytest.mark.parametrize(
    ("name", "told"), [("cove", "taken"), ("in", "taken"), ("Deep Cove", "small letters"), ("", "small letters")]
)
def test_a_name_that_is_taken_or_none_is_refused(name: str, told: str) -> None:
    before = dict(SHAPES)
    with pytest.raises(PreviewError, match=told):
        SHAPES.enter(name, steps)
    assert dict(SHAPES) == before


def test_a_bevel_too_steep_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(BEVELS, "_entered", dict(BEVELS) | {"razor": lambda _profile: 60.0})
    scene = tmp_path / "shelf.toml"
    scene.write_text(SCENE.replace("nipped", "razor").replace("steps = 12", "bevel = 12"))
    with pytest.raises(PreviewError, match=r"runs back 60\.0 mm for each mm out"):
        preview.load(scene)


def package(folder: Path, code: str, points: str) -> dict[str, str]:
    """A package laid as an installed one, and the environment in which it is found."""
    (folder / "bench_extras.py").write_text(code)
    info = folder / "bench_extras-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: bench-extras\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text(points)
    return {**os.environ, "PYTHONPATH": str(folder)}


def molding(env: dict[str, str], *arguments: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from preview.cli import main; main()", *map(str, arguments)]
    return subprocess.run(command, env=env, capture_output=True, text=True, check=False, timeout=300)


def test_an_installed_package_adds_to_the_command(tmp_path: Path) -> None:
    """Entry points specification of the Python Packaging User Guide: a group, a name, module:function."""
    code = "def nipped(profile):\n    return 0.5\n\n\ndef totals(built, stem):\n    return ((stem + '.txt', b'all'),)\n"
    points = "[molding.ends]\nnipped = bench_extras:nipped\n\n[molding.formats]\ntotals = bench_extras:totals\n"
    env = package(tmp_path, code, points)
    scene = tmp_path / "shelf.toml"
    scene.write_text(SCENE.replace("steps = 12", "bevel = 12"))
    done = molding(env, "export", scene, "-f", "totals", "-o", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out" / "models" / "shelf.txt").read_bytes() == b"all"


def test_a_package_that_cannot_be_loaded_is_one_message(tmp_path: Path) -> None:
    env = package(tmp_path, "raise RuntimeError('worn out')\n", "[molding.shapes]\nreeds = bench_extras:reeds\n")
    scene = tmp_path / "shelf.toml"
    scene.write_text(SCENE.replace("steps = 12", "bevel = 12"))
    done = molding(env, "check", scene)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert "reeds cannot be loaded: worn out" in done.stderr


def test_a_table_is_a_mapping() -> None:
    table: Entries[int] = Entries("number", "molding.none", {"one": 1})
    table.enter("two", 2)
    assert dict(table) == {"one": 1, "two": 2}
    assert table.get("three") is None
