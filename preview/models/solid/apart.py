"""STEP files from anywhere are read in a process of their own: compiled code that a damaged file brings down takes only
that process along, and its time and its memory have limits.

The process is this module run by itself. What it found comes through a pipe, so that nothing is left on the disk,
however either process ends; and it ends by itself where nobody waits for it any more.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np

from preview import limits
from preview.disk import PYTHON, same_modules
from preview.errors import PreviewError
from preview.models.solid.tessellated import Floats, Ints, solids_in

OTHERWISE = "export it again, from another program if need be, or as STL or GLB"
LONGEST = 10**6
"""Seconds, more than a week: what a system's clocks can count to."""


def read_solids(path: Path) -> list[tuple[str, Floats, Ints]]:
    """Every solid of a STEP file where its assembly puts it: its name, vertices (v, 3) in mm, triangles (t, 3).

    Raises PreviewError, naming the file, when it is not a STEP file that the kernel can read, and when the kernel
    breaks down on it, takes longer than the limit, or more memory; and for more solids or facets than are read.
    """
    seconds, most = limits.KERNEL_SECONDS.most(), limits.KERNEL_BYTES.most()
    try:
        code, found = _apart(path, most, min(seconds, LONGEST))
    except subprocess.TimeoutExpired as error:
        problem = f"the CAD kernel was not done with this file after {seconds} s"
        more = f"or allow more: set {limits.KERNEL_SECONDS.variable} to a larger number"
        raise _fault(path, problem, f"{OTHERWISE}, {more}") from error
    if code:
        raise _fault(path, "the CAD kernel breaks down on this file", OTHERWISE)
    line, _, arrays = found.partition(b"\n")
    told = json.loads(line)
    if "problem" in told:
        raise _fault(path, told["problem"], told["fix"])
    solids = []
    at = 0
    for label, vertices, triangles in told["solids"]:
        points = np.frombuffer(arrays, "=f8", 3 * vertices, at).reshape(-1, 3)
        at += points.nbytes
        corners = np.frombuffer(arrays, "=i8", 3 * triangles, at).reshape(-1, 3)
        at += corners.nbytes
        solids.append((label, points, corners))
    return solids


def _fault(path: Path, problem: str, fix: str) -> PreviewError:
    return PreviewError("", None, problem, fix, str(path))


def _apart(path: Path, most: int, seconds: int) -> tuple[int, bytes]:
    """How the process ended, 0 for well, and what it had to say. Raises TimeoutExpired; then it is ended."""
    command = [*PYTHON, "-m", __name__, str(path.resolve()), str(most), str(seconds)]
    quiet, pipe = subprocess.DEVNULL, subprocess.PIPE
    done = subprocess.run(
        command, stdin=quiet, stdout=pipe, stderr=quiet, timeout=seconds, check=False, env=same_modules()
    )
    return done.returncode, done.stdout


def _tell(path: Path, most: int, seconds: int) -> None:
    """Read a file here, print what was found or what is wrong with it, and end this process."""
    with os.fdopen(os.dup(1), "wb") as out, Path(os.devnull).open("wb") as nowhere:
        os.dup2(nowhere.fileno(), 1)  # whatever else is printed from here on
        _limit(most, seconds)
        try:
            solids = solids_in(path)
            size = sum(len(vertices) + len(triangles) for _, vertices, triangles in solids)
            limits.BODIES.refuse(len(solids), "the STEP file", "export it in parts")
            limits.TRIANGLES.refuse(size, "the STEP file", "export it in parts")
        except PreviewError as error:
            out.write(_line(problem=error.problems[0].problem, fix=error.problems[0].fix))
        else:
            out.write(_line(solids=[(name, len(vertices), len(triangles)) for name, vertices, triangles in solids]))
            for _, vertices, triangles in solids:
                out.write(vertices.astype("=f8").tobytes())
                out.write(triangles.astype("=i8").tobytes())
    os._exit(0)  # what the kernel made of a damaged file may not bear to be taken apart


def _line(**told: object) -> bytes:
    return json.dumps(told).encode("ascii") + b"\n"


def _limit(most: int, seconds: int) -> None:
    """Let this process take no more memory, live little longer than it is waited for, and leave no image of itself."""
    if hasattr(signal, "alarm"):
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(seconds + 1)
    try:
        import resource
    except ImportError:  # a system without such limits
        return
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    taken = resource.getrlimit(resource.RLIMIT_AS)[1]
    resource.setrlimit(resource.RLIMIT_AS, (most if taken == resource.RLIM_INFINITY else min(most, taken), taken))


if __name__ == "__main__":
    _tell(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
