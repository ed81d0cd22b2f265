"""A machine where cadquery cannot be loaded is told what is missing and what installs it, in one sentence."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LOADER = "cannot open shared object file: No such file or directory"


def said_when_cadquery(raises: str, folder: Path) -> str:
    """What `available` says in a new process in which importing cadquery raises that."""
    (folder / "cadquery.py").write_text(f"raise {raises}\n")
    done = subprocess.run(
        [sys.executable, "-c", "from preview.models.solid import available; print(available())"],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(folder)},
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert done.stderr == ""
    return done.stdout.strip()


@pytest.mark.parametrize(
    ("library", "packages"),
    [
        ("libGL.so.1", "libgl1 libx11-6"),
        ("libX11.so.6", "libgl1 libx11-6"),
        ("libexpat.so.1", "libexpat1"),
    ],
)
def test_a_missing_system_library(library: str, packages: str, tmp_path: Path) -> None:
    """The loader's messages as they were seen with these libraries hidden (common practice: Debian's names)."""
    said = said_when_cadquery(f"ImportError('{library}: {LOADER}')", tmp_path)
    assert said == (
        f"cadquery needs the system library {library}, which is missing; "
        f"on Debian or Ubuntu, install it with: apt-get install {packages}"
    )


def test_a_library_that_nobody_expected(tmp_path: Path) -> None:
    said = said_when_cadquery(f"ImportError('libodd-2.so.3: {LOADER}')", tmp_path)
    assert said.startswith("cadquery needs the system library libodd-2.so.3, which is missing; install the package")


def test_cadquery_itself_is_missing(tmp_path: Path) -> None:
    said = said_when_cadquery("ModuleNotFoundError(\"No module named 'cadquery'\", name='cadquery')", tmp_path)
    assert said == "the Python package cadquery is not installed; install it with: pip install cadquery"


def test_a_broken_installation(tmp_path: Path) -> None:
    said = said_when_cadquery("ImportError('undefined symbol: odd')", tmp_path)
    assert said.startswith("cadquery is installed but cannot be loaded (undefined symbol: odd)")
    assert "\n" not in said
