"""The command as a newcomer uses it: what it prints, what it writes, how it ends."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import trimesh
from typer.main import get_command
from typer.testing import CliRunner

import preview
from preview.cli.app import app

ROOT = Path(__file__).parents[2]
SCENES = sorted((ROOT / "scenes").glob("*.toml"))
SEAT = ROOT / "scenes" / "window-seat.toml"


def molding(*arguments: object, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run the command as its own process, piped, as a script would."""
    command = [sys.executable, "-c", "from preview.cli import main; main()", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, cwd=cwd, check=False, timeout=300)


@pytest.fixture(scope="module")
def seat(tmp_path_factory: pytest.TempPathFactory) -> tuple[subprocess.CompletedProcess[str], Path]:
    out = tmp_path_factory.mktemp("build") / "out"
    return molding("build", SEAT, "--quick", "--out", out), out


def test_version() -> None:
    result = molding("--version")
    assert (result.returncode, result.stdout) == (0, f"molding-preview {preview.__version__}\n")


def test_help_names_every_verb_and_every_verb_has_help() -> None:
    runner = CliRunner()
    commands = get_command(app).commands  # type: ignore[attr-defined]
    verbs = "approve build check compare export new picture profile sheet shop show"
    assert set(commands) == set(verbs.split())
    whole = runner.invoke(app, ["--help"])
    assert whole.exit_code == 0
    for name, command in commands.items():
        assert name in whole.output
        assert command.help
        own = runner.invoke(app, [name, "--help"])
        assert own.exit_code == 0
        assert command.help.split(".")[0].split(":")[0][:30] in own.output


def test_readme_names_every_verb() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    for name in get_command(app).commands:  # type: ignore[attr-defined]
        assert f"`molding {name}" in readme


@pytest.mark.parametrize("scene", SCENES, ids=lambda path: path.stem)
def test_every_shipped_scene_holds(scene: Path) -> None:
    result = molding("check", scene)
    assert result.stderr == ""
    assert result.returncode == 0
    assert re.search(r"All \d+ checks hold\.", result.stdout)
    assert "\x1b" not in result.stdout  # piped: no color codes


def test_build_writes_models_and_a_report(seat: tuple[subprocess.CompletedProcess[str], Path]) -> None:
    result, out = seat
    assert result.returncode == 0, result.stdout + result.stderr
    report = json.loads((out / "report.json").read_text("utf-8"))
    assert report["schema"] == 1
    assert report["holds"] is True
    assert report["left_out"] == []
    written = {path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()}
    assert written == {file["path"] for file in report["files"]} | {"report.json"}
    assert {"models/window-seat.glb", "models/window-seat.stl", "models/window-seat.step"} <= written
    assert sum(path.startswith("models/pieces/") for path in written) == len(report["pieces"]) == 11
    assert f"  {out / 'models'}:\n    window-seat.glb, window-seat.step, window-seat.stl\n" in result.stdout
    told = {entry["path"]: entry["format"] for entry in report["files"]}
    assert told["models/window-seat.step"] == "step"
    assert (told["window-seat.html"], told["window-seat.pdf"]) == ("page", "sheet")
    kinds = {"models": "glb step stl", "pictures": "picture", "drawings": "drawing", "joints": "joint"}
    for folder, expected in kinds.items():
        found = {kind for path, kind in told.items() if path.startswith(f"{folder}/") and "/options/" not in path}
        assert found == set(expected.split())
    assert len(report["digest"]) == 64
    by_code = {entry["code"]: entry for entry in report["checks"]}
    assert {"closed", "overlap", "step", "solid-volume", "step-solids", "reader-closed"} <= set(by_code)
    assert all(entry["failed"] == 0 for entry in by_code.values())


def test_the_report_s_figures_are_those_of_the_files(
    seat: tuple[subprocess.CompletedProcess[str], Path],
) -> None:
    """Another library reads the files; the report must say the same of them."""
    _, out = seat
    report = json.loads((out / "report.json").read_text("utf-8"))
    scene = trimesh.load_scene(out / "models" / "window-seat.glb")
    assert {piece["name"] for piece in report["pieces"]} <= set(scene.graph.nodes)
    pieces = sorted((out / "models" / "pieces").glob("*.stl"))
    volumes = sorted(float(trimesh.load(path).volume) for path in pieces)
    told = sorted(piece["volume_mm3"]["mesh"] for piece in report["pieces"])
    assert volumes == pytest.approx(told, rel=1e-5)
    for piece in report["pieces"]:
        assert piece["volume_mm3"]["solid"] == pytest.approx(piece["volume_mm3"]["closed_form"], rel=1e-6)


def test_a_straight_between_miters_is_reported_as_a_shop_measures_it(
    seat: tuple[subprocess.CompletedProcess[str], Path],
) -> None:
    """The breakfront's middle: 42 in on the wall, two outside corners: 2 x 1 1/4 in longer at the face."""
    _, out = seat
    report = json.loads((out / "report.json").read_text("utf-8"))
    (middle,) = [p for p in report["pieces"] if p["name"] == "seat / base / 6 straight"]
    assert middle["length_mm"] == pytest.approx(
        {"back": 42 * 25.4, "shortest": 42 * 25.4, "longest": 44.5 * 25.4, "overall": 44.5 * 25.4}
    )


def test_building_again_replaces_only_its_own_files(
    seat: tuple[subprocess.CompletedProcess[str], Path], tmp_path: Path
) -> None:
    _, before = seat
    scene = tmp_path / "seat.toml"
    text = SEAT.read_text("utf-8").replace("../profiles", str(ROOT / "profiles"))
    scene.write_text(text.replace("shop/shop.toml", str(ROOT / "scenes" / "shop" / "shop.toml")), "utf-8")
    out = tmp_path / "out"
    assert molding("build", scene, "--no-solid", "--no-pictures", "--out", out).returncode == 0
    (out / "notes.txt").write_text("mine")
    first = {path.name for path in (out / "models" / "pieces").iterdir()}
    shorter = scene.read_text("utf-8").replace("  { curve_left = 90, radius = 2 },\n  { straight = 14 },\n]", "]")
    scene.write_text(shorter, "utf-8")
    again = molding("build", scene, "--no-solid", "--no-pictures", "--out", out)
    assert "removed 4 files of an earlier build" in again.stdout  # two pieces and the drawings of two joints
    second = {path.name for path in (out / "models" / "pieces").iterdir()}
    assert len(first) == 11
    assert len(second) == 9
    assert (out / "notes.txt").read_text() == "mine"
    assert before.exists()


def test_export_writes_what_was_asked(tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = molding("export", SEAT, "--format", "glb", "--out", out)
    assert result.returncode == 0
    assert {path.name for path in out.rglob("*") if path.is_file()} == {"window-seat.glb", "report.json"}


def test_export_writes_formats_for_other_programs(tmp_path: Path) -> None:
    asked = [word for name in ("obj", "ply", "3mf", "usdz", "gltf", "dxf") for word in ("-f", name)]
    result = molding("export", SEAT, *asked, "--out", tmp_path)
    assert result.returncode == 0
    written = {path.name for path in tmp_path.rglob("*") if path.is_file()}
    drawn = {"window-seat-plan.dxf", "window-seat-elevation-seat.dxf"}
    models = {f"window-seat.{end}" for end in ("obj", "mtl", "ply", "3mf", "usdz", "gltf", "bin")}
    assert written >= {*drawn, *models, "report.json"}
    report = json.loads((tmp_path / "report.json").read_text())
    assert {entry["path"] for entry in report["files"]} == {f"models/{name}" for name in written - {"report.json"}}


def test_check_json_is_the_report_and_nothing_else(tmp_path: Path) -> None:
    result = molding("check", SEAT, "--json", cwd=tmp_path)
    assert result.returncode == 0
    assert json.loads(result.stdout)["scene"]["title"] == "Window seat between stone piers, reading room"
    assert list(tmp_path.iterdir()) == []


def test_a_typo_ends_with_one_message_and_nothing_written(tmp_path: Path) -> None:
    scene = tmp_path / "seat.toml"
    text = SEAT.read_text("utf-8").replace("../profiles", str(ROOT / "profiles"))
    scene.write_text(text.replace("{ straight = 6 }", "{ strait = 6 }", 1), "utf-8")
    out = tmp_path / "out"
    result = molding("build", scene, "--out", out)
    assert result.returncode == 2
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    assert 'run "seat", step 3' in result.stderr
    assert "straight" in result.stderr
    assert not out.exists()


@pytest.mark.parametrize(
    "arguments",
    [
        ["check", "missing.toml"],
        ["check", "."],
        ["build", "missing.toml", "--out", "out"],
        ["build"],
        ["polish", "scene.toml"],
        ["export", str(SEAT), "--format", "dae", "--out", "out"],
        ["check", str(SEAT), "--chord", "wide"],
        ["check", str(SEAT), "--chord", "50"],
        ["build", str(SEAT), "--out", "taken"],
        ["new", "taken"],
        ["profile"],
        ["profile", "ogee-bas"],
        ["new", "scene.txt"],
    ],
    ids=" ".join,
)
def test_wrong_use_exits_with_two_and_writes_nothing(arguments: list[str], tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file")
    result = molding(*arguments, cwd=tmp_path)
    assert result.returncode == 2
    assert "Traceback" not in result.stderr
    assert result.stderr.strip()
    assert {path.name for path in tmp_path.iterdir()} == {"taken"}
    assert (tmp_path / "taken").read_text() == "a file"


def test_a_check_that_fails_exits_with_one_and_says_where(tmp_path: Path) -> None:
    """Two runs meet end to end with different profiles: a client would see the step, and so must the command."""
    scene = tmp_path / "two.toml"
    scene.write_text(
        """
title = "Two profiles that meet"
units = "in"
[profile.thick]
foot = "1 1/4"
face = [{ fillet = 3 }, { bevel = 1, in = "3/4" }]
[profile.thin]
foot = "1 1/8"
face = [{ fillet = 3 }, { bevel = 1, in = "5/8" }]
[member.old]
profile = "thick"
[member.new]
profile = "thin"
[[run]]
name = "hall"
members = ["old"]
steps = [{ straight = 20 }]
[[run]]
name = "porch"
members = ["new"]
start = [20, 0]
steps = [{ straight = 20 }]
""",
        "utf-8",
    )
    result = molding("check", scene)
    assert result.returncode == 1
    assert "FAILED" in result.stdout
    assert "hall / old to porch / new" in result.stdout
    assert re.search(r"worst 1 1/4\" out from the wall", result.stdout)


def test_new_makes_a_scene_that_holds(tmp_path: Path) -> None:
    result = molding("new", "mine.toml", cwd=tmp_path)
    assert result.returncode == 0
    assert molding("check", "mine.toml", cwd=tmp_path).returncode == 0
    again = molding("new", "mine.toml", cwd=tmp_path)
    assert again.returncode == 2


def test_without_the_cad_kernel_the_rest_is_made_and_said(tmp_path: Path) -> None:
    """As on a bare Linux: importing the CAD kernel fails for want of a system library."""
    (tmp_path / "OCP.py").write_text("raise ImportError('libGL.so.1: cannot open shared object file')")
    (tmp_path / "cadquery.py").write_text("raise ImportError('libGL.so.1: cannot open shared object file')")
    out = tmp_path / "out"
    code = f"import sys; sys.path.insert(0, {str(tmp_path)!r}); from preview.cli import main; main()"
    result = subprocess.run(
        [sys.executable, "-c", code, "build", "--no-pictures", str(SEAT), "--out", str(out)],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert result.returncode == 0, result.stderr
    assert "left out: the solid proof and STEP" in result.stdout
    assert "libgl1" in result.stdout
    report = json.loads((out / "report.json").read_text("utf-8"))
    assert report["left_out"][0]["what"] == "the solid proof and STEP"
    assert (out / "models" / "window-seat.glb").exists()
    assert not (out / "models" / "window-seat.step").exists()
    assert all(piece["volume_mm3"]["solid"] is None for piece in report["pieces"])


def test_a_piece_between_an_inside_and_an_outside_corner_needs_a_longer_board(
    seat: tuple[subprocess.CompletedProcess[str], Path],
) -> None:
    """The breakfront's side, 3 in on the wall: each point travels 3 in, but the wood spans 3 in + 1 1/4 in."""
    _, out = seat
    report = json.loads((out / "report.json").read_text("utf-8"))
    (side,) = [p for p in report["pieces"] if p["name"] == "seat / base / 5 straight"]
    assert side["length_mm"] == pytest.approx({"back": 76.2, "shortest": 76.2, "longest": 76.2, "overall": 107.95})
    extents = trimesh.load(out / side["stl"]).extents
    assert max(extents[:2]) == pytest.approx(107.95, abs=1e-3)


def test_export_removes_nothing(tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert molding("export", SEAT, "-f", "stl", "--out", out).returncode == 0
    assert molding("export", SEAT, "-f", "glb", "--out", out).returncode == 0
    assert {path.name for path in out.rglob("*.*")} == {"window-seat.stl", "window-seat.glb", "report.json"}


def test_a_report_of_somebody_else_is_not_replaced(tmp_path: Path) -> None:
    (tmp_path / "report.json").write_text('{"mine": 1}')
    result = molding("export", SEAT, "-f", "glb", "--out", tmp_path)
    assert result.returncode == 2
    assert "molding did not write" in result.stderr
    assert (tmp_path / "report.json").read_text() == '{"mine": 1}'
    assert len(list(tmp_path.iterdir())) == 1


def test_a_build_that_cannot_take_its_place_leaves_the_old_one_whole(tmp_path: Path) -> None:
    assert molding("export", SEAT, "-f", "glb", "-f", "stl", "--out", tmp_path).returncode == 0
    glb = tmp_path / "models" / "window-seat.glb"
    (tmp_path / "models" / "window-seat.stl").unlink()
    (tmp_path / "models" / "window-seat.stl").mkdir()
    before = glb.read_bytes(), (tmp_path / "report.json").read_bytes()
    result = molding("export", SEAT, "-f", "glb", "-f", "stl", "--chord", "0.2", "--out", tmp_path)
    assert result.returncode == 2
    assert (glb.read_bytes(), (tmp_path / "report.json").read_bytes()) == before
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


@pytest.mark.skipif(not hasattr(signal, "SIGINT") or sys.platform == "win32", reason="signals of POSIX")
@pytest.mark.parametrize("after", [0.4, 0.7, 1.0, 1.4, 1.9])
def test_an_interruption_by_signal_ends_with_130_or_not_at_all(after: float, tmp_path: Path) -> None:
    """Whenever Ctrl-C comes, also while a heavy library loads: it stops with nothing written, or all is done."""
    out = tmp_path / "out"
    code = (
        "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); from preview.cli import main; main()"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code, "build", str(SEAT), "--quick", "--out", str(out)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    time.sleep(after)
    process.send_signal(signal.SIGINT)
    _, told = process.communicate(timeout=120)
    if process.returncode == 0:
        report = json.loads((out / "report.json").read_text("utf-8"))
        assert report["left_out"] == []
        assert (out / "models" / "window-seat.step").exists()
    else:
        # Before the command itself has loaded, Python or the system ends it in its own way.
        # (A module of compiled code that is loading then may make another error of it.)
        assert process.returncode in (130, -signal.SIGINT) or "KeyboardInterrupt" in told or ", in <module>" in told
        assert not out.exists()


def test_an_interrupted_build_leaves_nothing_behind(tmp_path: Path) -> None:
    code = (
        "import preview.review as review\n"
        "def stop(*_, **__): raise KeyboardInterrupt\n"
        "review.inspect_bodies = stop\n"
        "from preview.cli import main; main()"
    )
    result = subprocess.run(
        [sys.executable, "-c", code, "build", str(SEAT), "--out", str(tmp_path / "out")],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert result.returncode == 130
    assert "nothing was written" in result.stderr
    assert "Traceback" not in result.stderr
    assert list(tmp_path.iterdir()) == []
