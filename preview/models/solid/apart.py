"""STEP files from anywhere are read in a process of their own: compiled code that a damaged file brings down takes only
that process along, and its time and its memory have limits.

The process is this module run by itself; it leaves what it found in a folder that is made for it and thrown away.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from preview import limits
from preview.disk import PYTHON, same_modules
from preview.errors import PreviewError
from preview.models.solid.tessellated import Floats, Ints, solids_in

FOUND, TOLD = "found.npz", "told.json"
OTHERWISE = "export it again, from another program if need be, or as STL or GLB"


def read_solids(path: Path) -> list[tuple[str, Floats, Ints]]:
    """Every solid of a STEP file where its assembly puts it: its name, vertices (v, 3) in mm, triangles (t, 3).

    Raises PreviewError, naming the file, when it is not a STEP file that the kernel can read, and when the kernel
    breaks down on it, takes longer than the limit, or more memory.
    """
    seconds, most = limits.KERNEL_SECONDS.most(), limits.KERNEL_BYTES.most()
    with tempfile.TemporaryDirectory(prefix="molding-step-") as name:
        folder = Path(name)
        command = [*PYTHON, "-m", __name__, str(path.resolve()), str(folder), str(most)]
        quiet = subprocess.DEVNULL
        try:
            done = subprocess.run(
                command, stdin=quiet, stdout=quiet, stderr=quiet, timeout=seconds, check=False, env=same_modules()
            )
        except subprocess.TimeoutExpired as error:
            problem = f"the CAD kernel was not done with this file after {seconds} s"
            more = f"or allow more: set {limits.KERNEL_SECONDS.variable} to a larger number"
            raise _fault(path, problem, f"{OTHERWISE}, {more}") from error
        if done.returncode or not (folder / TOLD).exists():
            raise _fault(path, "the CAD kernel breaks down on this file", OTHERWISE)
        told = json.loads((folder / TOLD).read_text("utf-8"))
        if "problem" in told:
            raise _fault(path, told["problem"], told["fix"])
        with np.load(folder / FOUND) as arrays:
            points, corners = arrays["points"], arrays["corners"]
    solids = []
    first = second = 0
    for label, vertices, triangles in told["solids"]:
        solids.append((label, points[first : first + vertices], corners[second : second + triangles]))
        first, second = first + vertices, second + triangles
    return solids


def _fault(path: Path, problem: str, fix: str) -> PreviewError:
    return PreviewError("", None, problem, fix, str(path))


def _leave(path: Path, folder: Path) -> None:
    """Read a file here, and leave what was found, or what is wrong with it, in a folder."""
    told: dict[str, object]
    try:
        solids = solids_in(path)
    except PreviewError as error:
        told = {"problem": error.problems[0].problem, "fix": error.problems[0].fix}
    else:
        told = {"solids": [(name, len(vertices), len(triangles)) for name, vertices, triangles in solids]}
        points = np.concatenate([np.empty((0, 3)), *(vertices for _, vertices, _ in solids)])
        corners = np.concatenate([np.empty((0, 3), dtype=np.int64), *(triangles for *_, triangles in solids)])
        np.savez(folder / FOUND, points=points, corners=corners)
    (folder / TOLD).write_text(json.dumps(told), "utf-8")


def _limit(most: int) -> None:
    """Let this process take no more memory, and leave no image of it behind where it breaks down."""
    try:
        import resource
    except ImportError:  # a system without such limits
        return
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    taken = resource.getrlimit(resource.RLIMIT_AS)[1]
    resource.setrlimit(resource.RLIMIT_AS, (most if taken == resource.RLIM_INFINITY else min(most, taken), taken))


if __name__ == "__main__":
    _limit(int(sys.argv[3]))
    _leave(Path(sys.argv[1]), Path(sys.argv[2]))
