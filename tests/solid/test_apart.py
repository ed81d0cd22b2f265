"""STEP files from anywhere, each read in a process of its own: what a file does there, and what is left of it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from preview import limits
from preview.errors import PreviewError
from preview.models import solid

if (missing := solid.available()) is not None:
    pytest.skip(missing, allow_module_level=True)

CORPUS = Path(__file__).parents[1] / "fuzz" / "corpus" / "step"
STRIP = (CORPUS / "strip-straight.step").read_text("ascii")


def volume(vertices: np.ndarray, triangles: np.ndarray) -> float:
    a, b, c = (vertices[triangles[:, i]] for i in range(3))
    return float(np.einsum("ij,ij->", np.cross(a, b), c) / 6)


def test_a_strip_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """10 x 10 mm, 50 mm long: a limit of more seconds than a clock counts to does no harm."""
    monkeypatch.setenv(limits.KERNEL_SECONDS.variable, "9" * 18)
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    [(name, vertices, triangles)] = solid.read_solids(CORPUS / "strip-straight.step")
    assert name == "r / m / 1 straight"
    assert (vertices.dtype, triangles.dtype) == (np.float64, np.int64)
    np.testing.assert_allclose(np.sort(np.ptp(vertices, axis=0)), (10, 10, 50))
    assert volume(vertices, triangles) == pytest.approx(5000, rel=1e-12)
    assert list(tmp_path.iterdir()) == []


def no_comma(text: str) -> str:
    """Directions that are none."""
    return text.replace("DIRECTION('',(", "DIRECTION(''(")


def far_away(text: str) -> str:
    """A corner at a distance that no number of the kernel's bears being multiplied by itself."""
    at = text.index("VERTEX_POINT('',#")
    number = text[at:].split("#")[1].split(")")[0]
    point = next(line for line in text.splitlines() if line.startswith(f"#{number} = CARTESIAN_POINT"))
    return text.replace(point, f"#{number} = CARTESIAN_POINT('',(1E300,-1E300,1E300));")


def nested(text: str) -> str:
    """A list in a list in a list, thousands deep."""
    return text.replace("CLOSED_SHELL('',(", "CLOSED_SHELL('',(" + "(" * 5000, 1)


@pytest.mark.parametrize("harm", [no_comma, far_away, nested], ids=lambda harm: harm.__name__)
def test_a_damaged_file_is_read_or_told_in_one_error(harm: Callable[[str], str], tmp_path: Path) -> None:
    path = tmp_path / "given.step"
    path.write_text(harm(STRIP))
    assert path.read_text() != STRIP
    try:
        found = solid.read_solids(path)
    except PreviewError as error:
        [problem] = error.problems
        assert problem.file == str(path)
        assert problem.fix
        print(error)
    else:
        print([(name, len(v), len(t)) for name, v, t in found])
        assert all(np.isfinite(vertices).all() for _, vertices, _ in found)
    assert [each.name for each in tmp_path.iterdir()] == ["given.step"]


@pytest.mark.parametrize("limit", [limits.BODIES, limits.TRIANGLES], ids=lambda limit: limit.name)
def test_more_than_is_read_does_not_reach_us(limit: limits.Limit, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(limit.variable, "1")
    with pytest.raises(PreviewError, match=r"the STEP file has .*, and 1 is the most"):
        solid.read_solids(CORPUS / "shelf-edge.step")


@pytest.mark.skipif(not hasattr(signal, "alarm"), reason="needs a system with alarms and with pipes that have names")
def test_its_process_ends_where_nobody_ends_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The time is up, and whoever was to say so was killed: it ends by itself, and leaves nothing behind."""
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    monkeypatch.setenv("TMPDIR", str(temporary))
    os.mkfifo(tmp_path / "given.step")  # into which nobody writes
    command = [sys.executable, "-m", "preview.models.solid.apart", str(tmp_path / "given.step"), "4000000000", "0"]
    done = subprocess.run(command, capture_output=True, timeout=120, check=False)
    assert done.returncode == -signal.SIGALRM
    assert done.stdout == b""
    assert list(temporary.iterdir()) == []
