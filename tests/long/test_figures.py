"""The figures that take a while are as the README says, `figures.py` finds and mends one that is off, and the README's
example in Python runs. On request: pytest tests/long"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from figures import DEVELOPERS, ROOT, SLOW, told
from readme_figures import Figure


@pytest.mark.parametrize("figure", SLOW, ids=lambda figure: figure.name.replace(" ", "-"))
def test_each_figure_is_found_again(figure: Figure) -> None:
    if not (found := figure.found()):
        pytest.skip("it cannot be told here")
    assert figure.written((ROOT / figure.document).read_text("utf-8")).groups() == found


def test_one_that_is_off_is_told_and_mended(tmp_path: Path) -> None:
    (tmp_path / "README.md").write_text("It has 4 shelves\nof 25 mm each.\n", "utf-8")
    (tmp_path / DEVELOPERS).write_text("Nothing.\n", "utf-8")
    shelves = (
        Figure("shelves", "has (?) shelves of (?) mm", lambda: ("12", "25")),
        Figure("doors", "has (?) doors", lambda: ("2",)),
        Figure("drawers", "has (?) drawers", lambda: ()),
    )
    said: list[str] = []
    assert told(shelves, tmp_path, False, said.append) == 2
    assert said[0] == "OFF   shelves: 12, 25; README.md says 4, 25"
    assert (tmp_path / "README.md").read_text("utf-8") == "It has 4 shelves\nof 25 mm each.\n"
    assert told(shelves, tmp_path, True, said.append) == 1
    assert (tmp_path / "README.md").read_text("utf-8") == "It has 12 shelves\nof 25 mm each.\n"
    assert told(shelves[:1], tmp_path, False, said.append) == 0


def test_the_program_shown_runs(tmp_path: Path) -> None:
    (shown,) = re.findall(r"^```python\n(.*?)^```$", (ROOT / "README.md").read_text("utf-8"), re.M | re.S)
    for name in ("scenes", "profiles"):
        shutil.copytree(ROOT / name, tmp_path / name)
    done = subprocess.run(
        [sys.executable, "-c", shown], cwd=tmp_path, check=False, capture_output=True, text=True, timeout=300
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert len(done.stdout.splitlines()) == 11
    assert {path.suffix for path in (tmp_path / "out").rglob("*") if path.is_file()} == {".glb", ".json", ".usdz"}
