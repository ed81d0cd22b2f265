"""`molding picture`, `molding sheet`, and what `molding build` makes for the client."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pdfplumber
import pytest
from PIL import Image

ROOT = Path(__file__).parent.parent.parent
SEAT = ROOT / "scenes" / "window-seat.toml"
COLUMN = ROOT / "scenes" / "column.toml"


def molding(*arguments: object, before: str = "", cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run the command as its own process; before: Python that runs first."""
    command = [sys.executable, "-c", f"{before}\nfrom preview.cli import main; main()", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, cwd=cwd, check=False, timeout=300)


NO_RENDERER = """
import importlib.util as util
real = util.find_spec
util.find_spec = lambda name, *rest: None if name.startswith("mitsuba") else real(name, *rest)
"""


def test_the_views_of_a_scene_are_listed_by_name() -> None:
    result = molding("picture", SEAT, "--list")
    assert result.returncode == 0, result.stderr
    keys = [line.split()[0] for line in result.stdout.splitlines()]
    assert len(set(keys)) == len(keys) >= 6
    assert {"whole", "options"} <= set(keys)
    # Three distinct corners: the turned one, the inside miter, the outside miter; from one height or both.
    corners = [key for key in keys if key.startswith("corner-")]
    assert len({key.rsplit("-", 1)[0] for key in corners}) == 3
    assert {key.rsplit("-", 1)[1] for key in corners} <= {"eye", "knee"}


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--out", "one.png", "--view", "wole"], "did you mean whole?"),
        (["--out", "one.jpg"], "a picture is written as PNG"),
        (["--out", "one.png", "--size", "1600"], "width x height"),
        (["--out", "one.png", "--size", "4x4"], "16 to 8000 pixels"),
        (["--out", "taken.png"], "a folder of this name stands"),
        (["--out", "some", "--all", "--view", "whole"], "leave out --all or --view"),
        (["--out", "one.png", "--view", "whole", "--view", "options"], "2 pictures do not go into one file"),
        ([], "say where the pictures go"),
    ],
)
def test_a_picture_that_cannot_be_is_refused_before_the_work(tmp_path: Path, arguments: list[str], said: str) -> None:
    (tmp_path / "taken.png").mkdir()
    result = molding("picture", SEAT, *arguments, cwd=tmp_path)
    assert result.returncode == 2
    assert said in result.stderr
    assert "Traceback" not in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["taken.png"]


def test_a_renderer_that_fails_leaves_the_earlier_picture(tmp_path: Path) -> None:
    broken, kept = tmp_path / "broken.py", tmp_path / "one.png"
    broken.write_text("raise MemoryError('no room for the light')")
    kept.write_bytes(b"earlier")
    before = f"import pathlib, preview.client.stills.pictures as made; made.RENDERER = pathlib.Path({str(broken)!r})"
    result = molding("picture", COLUMN, "--out", kept, before=before)
    assert result.returncode == 2
    assert "MemoryError: no room for the light" in result.stderr
    assert kept.read_bytes() == b"earlier"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["broken.py", "one.png"]


@pytest.mark.skipif(os.name != "posix", reason="signals are POSIX")
def test_an_interrupt_ends_the_renderer_and_leaves_nothing(tmp_path: Path) -> None:
    """The interrupt key in the middle of a long picture: all processes end, and nothing is written."""
    code = (
        "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "from preview.cli import main, show\nshow.Progress.step = lambda self, *step: print(*step, flush=True)\nmain()"
    )
    asked = ["picture", str(COLUMN), "--size", "4000x4000", "--out", str(tmp_path / "one.png")]
    started = subprocess.Popen(
        [sys.executable, "-c", code, *asked],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert started.stdout is not None
    assert "pictures" in started.stdout.readline()
    os.killpg(started.pid, signal.SIGINT)
    _, said = started.communicate(timeout=30)
    assert started.returncode == 130
    assert said == "stopped; nothing is half-written\n"
    for _ in range(50):
        if not group_lives(started.pid):
            break
        time.sleep(0.1)
    assert not group_lives(started.pid)
    assert list(tmp_path.iterdir()) == []


def group_lives(group: int) -> bool:
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True


def test_a_picture_has_the_size_asked_for(tmp_path: Path) -> None:
    out = tmp_path / "one.png"
    result = molding("picture", COLUMN, "--quick", "--size", "96x60", "--out", out)
    assert result.returncode == 0, result.stderr
    assert Image.open(out).size == (96, 60)
    assert f"wrote {out}" in result.stdout
    assert "leave out --quick" in result.stdout


def test_a_sheet_without_pictures_is_made_quickly_and_can_be_searched(tmp_path: Path) -> None:
    out = tmp_path / "sheet.pdf"
    result = molding("sheet", COLUMN, "--no-pictures", "--paper", "A4", "--out", out)
    assert result.returncode == 0, result.stderr
    with pdfplumber.open(out) as document:
        page = document.pages[0]
        # A4 is 210 x 297 mm (ISO 216, from memory).
        assert sorted((page.width, page.height)) == pytest.approx([210 * 72 / 25.4, 297 * 72 / 25.4], abs=0.1)
        text = " ".join(each.extract_text() for each in document.pages)
    report = json.loads(molding("check", COLUMN, "--json").stdout)
    assert report["code"] in text
    assert report["digest"][:12] in text.replace(" ", "")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--out", "sheet.txt"], "a sheet is written as PDF"),
        (["--out", "sheet.pdf", "--brand", "none.toml"], "none.toml"),
        (["--out", "sheet.pdf", "--brand", "shop.toml"], "did you mean color?"),
        (["--out", "sheet.pdf", "--quick", "--no-pictures"], "leave out --quick or --no-pictures"),
        (["--out", "sheet.pdf", "--paper", "a5"], "fix: write letter, tabloid, a4 or a3"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused_before_the_work(tmp_path: Path, arguments: list[str], said: str) -> None:
    (tmp_path / "shop.toml").write_text('name = "Shop"\ncolour = "#223344"\n')
    result = molding("sheet", COLUMN, *arguments, cwd=tmp_path)
    assert result.returncode == 2
    assert said in result.stderr
    assert "Traceback" not in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["shop.toml"]


def test_without_a_renderer_the_rest_is_made_and_said(tmp_path: Path) -> None:
    result = molding("build", COLUMN, "--no-solid", "--out", tmp_path / "out", before=NO_RENDERER)
    assert result.returncode == 0, result.stderr
    assert "left out: the pictures" in result.stdout
    assert 'pip install "molding-preview[pictures]"' in result.stdout
    report = json.loads((tmp_path / "out" / "report.json").read_text("utf-8"))
    assert [each["what"] for each in report["left_out"]] == ["the pictures (plans stand in their place)"]
    assert report["pictures"] == []
    assert (tmp_path / "out" / "column.html").exists()
    assert (tmp_path / "out" / report["sheet"]).read_bytes().startswith(b"%PDF")
    assert report["drawings"]
    sheet = molding("sheet", COLUMN, "--out", tmp_path / "sheet.pdf", before=NO_RENDERER)
    assert sheet.returncode == 0
    assert "left out: the pictures" in sheet.stdout
    alone = molding("picture", COLUMN, "--out", tmp_path / "one.png", before=NO_RENDERER)
    assert alone.returncode == 2
    assert not (tmp_path / "one.png").exists()


def test_the_package_of_a_scene_is_whole_and_told(tmp_path: Path) -> None:
    """With the renderer at work on few pixels: what is asked is that each file is there, listed, and what it says."""
    small = "import preview.jobs.package as package, preview.jobs.picturing as picturing\npackage.SIZE = (160, 100)\n"
    out = tmp_path / "out"
    result = molding("build", SEAT, "--no-solid", "--quick", "--out", out, before=small)
    assert result.returncode == 0, result.stderr
    report = json.loads((out / "report.json").read_text("utf-8"))
    listed = {each["path"] for each in report["files"]}
    assert len(report["pictures"]) == 4
    for each in report["pictures"]:
        assert each["quality"] == "quick"
        assert each["name"]
        assert each["words"]
        assert Image.open(io.BytesIO((out / each["file"]).read_bytes())).size == (160, 100)
    kinds = {Path(each["file"]).stem.split("-")[0] for each in report["drawings"]}
    assert {"plan", "elevation", "section", "corner"} <= kinds
    told = [each["file"] for each in (*report["pictures"], *report["drawings"])]
    assert {*told, report["sheet"], "window-seat.html"} <= listed
    with pdfplumber.open(out / report["sheet"]) as document:
        text = " ".join(page.extract_text() for page in document.pages)
    for words in (report["code"], *(option["code"] for option in report["options"])):
        assert words in text
