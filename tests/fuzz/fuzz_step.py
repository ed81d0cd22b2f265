"""The CAD kernel forked: STEP files are read as `molding check FILE` does, but that the kernel is loaded only once.

Everything is the program's own, on both sides of the pipe; only that the process which reads a file is forked from one
that has loaded the kernel, instead of started. Now and then, and where it broke down in a new way, a file is read with
the process started as well, and both have to come to the same.
"""

from __future__ import annotations

import contextlib
import faulthandler
import json
import os
import re
import resource
import select
import signal
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from unittest.mock import patch

from fuzz_inputs import KINDS, BrokenPromiseError, readable
from preview import limits
from preview.errors import PreviewError
from preview.models.solid import apart, tessellated

STILL = 120.0
"""Seconds by the clock after which a process of the kernel is taken to wait for nothing."""
EVERY = 2_000
"""One of so many executions is also read with a process that is started."""


LIMIT = 8
"""Seconds by which, in a process that is started, a file is not done that took too long when the kernel was loaded."""


class KernelTooLongError(BaseException):
    """The kernel's process took longer than an execution may; it says where."""


class ForkedKernel:
    """Reads STEP files; `counts` says how many came to what, `ends` how often a process of the kernel's ended how."""

    def __init__(self, folder: Path, seconds: float) -> None:
        self.seconds = seconds
        self.counts: Counter[str] = Counter()
        self.ends: Counter[str] = Counter()
        self.largest = 0
        self.slowest = 0.0
        self.folder = folder
        self.traces = (folder / "traces").open("w+b", buffering=0)
        self.started = apart._apart
        self.last = ""

    def warm(self, data: bytes) -> None:
        """Load all that reading loads. Nothing is cut into facets here: that starts threads, which do not fork."""
        import OCP.BRep
        import OCP.BRepMesh

        assert OCP.BRep
        assert OCP.BRepMesh
        path = self.folder / "warm.step"
        path.write_bytes(data)
        with patch.object(tessellated, "_facets", return_value=((), ())):
            assert tessellated.solids_in(path)

    def attempt(self, number: int, data: bytes, folder: Path) -> None:
        """One execution. Raises what is a find."""
        try:
            with self._in_place():
                KINDS["step"](data, folder)
        except KernelTooLongError as error:
            self.last = f"over time: {error}"
        end = self.last
        self.counts[end.partition(":")[0]] += 1
        self.ends[end] += 1
        new = self.ends[end] == 1
        if end.startswith("over time"):
            if new:
                self._ends_by_its_limit(folder)
        elif number % EVERY == 0 or (new and end.startswith("died")):
            self._as_started(data, folder, end)

    @contextlib.contextmanager
    def _in_place(self) -> Iterator[None]:
        apart._apart = self._forked
        try:
            yield
        finally:
            apart._apart = self.started

    def _forked(self, path: Path, most: int, seconds: int) -> tuple[int, bytes]:
        """As `apart._apart`: how a process ended in which the kernel read a file, and what it had to say."""
        self.traces.seek(0)
        self.traces.truncate()
        ours, theirs = os.pipe()
        process = os.fork()
        if not process:
            self._child(path.resolve(), most, seconds, theirs)
        os.close(theirs)
        said, in_time = _read(ours, time.monotonic() + STILL)
        if not in_time:
            os.kill(process, signal.SIGKILL)
        _, status, used = os.wait4(process, 0)
        code = os.waitstatus_to_exitcode(status)
        self.largest = max(self.largest, used.ru_maxrss * 1024)
        self.slowest = max(self.slowest, used.ru_utime + used.ru_stime)
        if not in_time:
            raise BrokenPromiseError(f"the kernel's process stood still for {STILL:g} s")
        if code == -signal.SIGXCPU:
            raise KernelTooLongError(self._where())
        self.last = self._what(code, said)
        return code, said

    def _child(self, path: Path, most: int, seconds: int, out: int) -> None:
        try:
            os.dup2(out, 1)
            nowhere = os.open(os.devnull, os.O_RDWR)
            os.dup2(nowhere, 0)
            os.dup2(nowhere, 2)
            faulthandler.enable(self.traces, all_threads=False)
            faulthandler.register(signal.SIGXCPU, self.traces, all_threads=False, chain=True)
            for kind in (signal.ITIMER_PROF, signal.ITIMER_REAL):
                signal.setitimer(kind, 0)
            resource.setrlimit(resource.RLIMIT_CPU, (int(self.seconds), int(self.seconds) + 5))
            apart._tell(path, most, seconds)
        finally:
            os._exit(1)

    def _where(self) -> str:
        self.traces.seek(0)
        text = self.traces.read(20_000).decode("utf-8", "replace")
        found = re.findall(r'tessellated\.py", line (\d+) in (\w+)', text)
        return f"in {found[0][1]}, line {found[0][0]}" if found else "somewhere"

    def _what(self, code: int, said: bytes) -> str:
        if code < 0:
            return f"died: {signal.Signals(-code).name} {self._where()}"
        if code:
            return f"ended: with {code} {self._where()}"
        told = json.loads(said.partition(b"\n")[0])
        if "problem" in told:
            found = re.sub(r"[\d.]+", "N", told["problem"])
            return f"refused: {found[:120]}"
        return "read: well" if told["solids"] else "read: no solids"

    def _ends_by_its_limit(self, folder: Path) -> None:
        """The file that took too long, in a process that is started with a short limit: one clear error in time."""
        self.counts["also started"] += 1
        before, begun = _left_over(), time.monotonic()
        with patch.dict(os.environ, {limits.KERNEL_SECONDS.variable: str(LIMIT)}):
            try:
                apart.read_solids(folder / "given.step")
            except PreviewError as error:
                readable(error)
                if f"was not done with this file after {LIMIT} s" in str(error):
                    self.counts["ended by the limit, told in one error"] += 1
        if time.monotonic() - begun > LIMIT + 5 or _left_over() != before:
            raise BrokenPromiseError(f"went on after its limit, or left behind {_left_over() - before}")

    def _as_started(self, data: bytes, folder: Path, end: str) -> None:
        """The same file with the process started, as a user has it: one clear error, and nothing left behind."""
        self.counts["also started"] += 1
        before = _left_over()

        def started(path: Path, most: int, seconds: int) -> tuple[int, bytes]:
            code, said = self.started(path, most, seconds)
            self.last = self._what(code, said)
            return code, said

        apart._apart = started
        try:
            KINDS["step"](data, folder)
        finally:
            apart._apart = self.started
        if self.last.partition(":")[0] != end.partition(":")[0]:
            self.counts[f"otherwise when started ({end} | {self.last})"] += 1
        if end.startswith(("died", "ended")) and self.last.startswith(("died", "ended")):
            try:
                apart.read_solids(folder / "given.step")
            except PreviewError as error:
                if "the CAD kernel breaks down on this file" not in str(error) or len(error.problems) != 1:
                    raise BrokenPromiseError(f"told otherwise: {error}") from error
                self.counts["deaths told in one error"] += 1
        if _left_over() != before:
            raise BrokenPromiseError(f"left behind: {_left_over() - before}")


def _read(handle: int, until: float) -> tuple[bytes, bool]:
    """All that comes through a pipe, and whether it was closed in time."""
    said = bytearray()
    with os.fdopen(handle, "rb", buffering=0) as pipe:
        while select.select([pipe], [], [], max(0.0, until - time.monotonic()))[0]:
            block = pipe.read(1 << 16)
            if not block:
                return bytes(said), True
            said += block
    return bytes(said), False


def _left_over() -> set[str]:
    """Children that nobody has waited for or ended, and files in the folder for temporary ones."""
    children = Path(f"/proc/self/task/{os.getpid()}/children")
    found = {f"process {each}" for each in children.read_text().split()} if children.exists() else set()
    return found | {path.name for path in Path(tempfile.gettempdir()).glob("molding*")}
