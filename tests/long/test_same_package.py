"""The same scene gives the same bytes, whatever the hash seed, the time zone, the locale and the folder: every file of
the client's package, pictures and PDF with them, and of the shop's papers. On request: pytest tests/long"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import pytest

SCENES = Path(__file__).parents[2] / "scenes"
ELSEWHERE = ({"PYTHONHASHSEED": "1", "TZ": "UTC"}, {"PYTHONHASHSEED": "2", "TZ": "Asia/Tokyo", "LC_ALL": "C"})


def made(verb: list[str], folder: Path, more: dict[str, str]) -> dict[str, str]:
    """The SHA-256 of every file that the command writes, by its place in the folder."""
    command = [sys.executable, "-c", "from preview.cli import main; main()", *verb, "--out", str(folder)]
    subprocess.run(command, env=os.environ | more, check=True, capture_output=True, timeout=600)
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.mark.parametrize(
    ("verb", "name", "least"), [(["build", "--quick"], "bay", 20), (["shop"], "window-seat", 4)], ids=["build", "shop"]
)
def test_the_same_bytes(verb: list[str], name: str, least: int, tmp_path: Path) -> None:
    scene = str(SCENES / f"{name}.toml")
    one, other = (
        made([verb[0], scene, *verb[1:]], tmp_path / f"out {number}", more) for number, more in enumerate(ELSEWHERE)
    )
    assert len(one) >= least
    assert one == other
