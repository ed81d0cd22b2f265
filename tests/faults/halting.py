"""A process whose disk fails at its n-th change of what stands there, or that is ended by SIGKILL at it.

Run as a program it is a server: it loads everything once, reads a job a line, and forks a child for each. In the child
every change below one folder is counted: a file opened for writing, each write to it (of which half is done), fsync,
rename, link, remove, a folder made or removed. At the n-th the child kills itself, so nothing of its own can clean up;
or what a job's `fault` says happens.
"""

from __future__ import annotations

import builtins
import errno
import hashlib
import importlib
import io
import json
import os
import signal
import subprocess
import sys
import threading
import traceback
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from preview.errors import PreviewError

CHANGES = {"os.rename", "os.remove", "os.rmdir", "os.mkdir", "os.link", "os.chmod"}
WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT


REMOVING = {"os.remove", "os.rmdir", "os.rename"}


class Halting:
    """Counts changes below `root`, and at number `at` lets something happen; 0 for never.

    fault: "killed"; "full", from then on nothing more goes onto the disk; "locked", nothing changes on it any more;
    "gone", the folder is moved away.
    """

    def __init__(self, root: str, at: int, fault: str) -> None:
        self.root = root
        self.at = at
        self.fault = fault
        self.count = 0
        self.lock = threading.Lock()
        self.moving = False

    def tick(self) -> bool:
        """Count one; whether it is the time."""
        with self.lock:
            self.count += 1
            return self.count == self.at or (self.count > self.at > 0 and self.fault in ("full", "locked"))

    def happen(self, event: str) -> None:
        """What is to happen."""
        match self.fault:
            case "killed":
                os.kill(os.getpid(), signal.SIGKILL)
            case "full" if event not in REMOVING:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            case "locked":
                raise OSError(errno.EROFS, os.strerror(errno.EROFS))
            case "gone":
                self.moving = True
                Path(self.root).rename(f"{self.root} gone")
                self.moving = False

    def change(self, event: str) -> None:
        if not self.moving and self.tick():
            self.happen(event)

    def below(self, path: object) -> bool:
        return isinstance(path, str | os.PathLike) and os.fspath(path).startswith(self.root)

    def hook(self, event: str, args: tuple[Any, ...]) -> None:
        if event == "open":
            path, _, flags = args
            if self.below(path) and flags & WRITING:
                self.change(event)
        elif event in CHANGES and (self.below(args[0]) or (isinstance(args[-1], int) and args[-1] >= 0)):
            self.change(event)

    def watch(self) -> None:
        """Begin to count."""
        halting, plain, fsync = self, io.open, os.fsync

        class Torn(io.FileIO):
            def write(self, data: Any) -> int:
                if halting.tick():
                    super().write(memoryview(data)[: len(data) // 2])
                    halting.happen("write")
                return super().write(data)

        def opened(file: Any, mode: str = "r", *args: Any, **kwargs: Any) -> Any:
            if not halting.below(file) or not set(mode) & set("wxa+"):
                return plain(file, mode, *args, **kwargs)
            raw = Torn(file, mode.replace("b", "").replace("t", ""))
            buffered = io.BufferedRandom(raw) if "+" in mode else io.BufferedWriter(raw)
            if "b" in mode:
                return buffered
            return io.TextIOWrapper(buffered, kwargs.get("encoding") or "utf-8", newline=kwargs.get("newline"))

        def synced(handle: Any) -> None:
            halting.change("fsync")
            fsync(handle)

        sys.addaudithook(self.hook)
        io.open = builtins.open = opened  # type: ignore[assignment]
        os.fsync = synced


def work(job: dict[str, Any]) -> int:
    """Do one job; gives its exit code."""
    if job["do"] == "command":
        from preview.cli.app import app

        try:
            app(job["args"])
        except SystemExit as end:
            return end.code if isinstance(end.code, int) else 1
        return 0
    if job["do"] == "publish":
        from preview.exports import staged, write_files

        with staged(Path(job["out"])) as stage:
            write_files((stage.folder / name, text.encode()) for name, text in job["files"].items())
            stage.publish("shelf.toml")
        return 0
    if job["do"] == "edit":
        from preview.editing import Desk

        desk = Desk(Path(job["scene"]))
        desk.edit(desk.version(), job["id"], job["value"])
        return 0
    from preview.approval import Answer, add_record, short_code

    scene = Path(job["scene"])
    digest = hashlib.sha256(job["client"].encode()).hexdigest()
    answer = Answer(digest, short_code(digest), (), "yes", job["client"], "", (), "2026-11-20", "Shelf", "shelf.toml")
    add_record(scene, answer, (), [scene], today=Fixed.today())
    return 0


class Fixed(date):
    """A day that does not change at midnight."""

    @classmethod
    def today(cls) -> Fixed:
        return cls(2026, 11, 21)


def child(job: dict[str, Any]) -> None:
    log = os.open(job["log"], os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(log, 1)
    os.dup2(log, 2)
    halting = Halting(job["root"], job["at"], job["fault"])
    halting.watch()
    code = 70
    try:
        code = work(job)
    except PreviewError as error:  # as the command tells it
        print(error, flush=True)
        code = 2
    except BaseException as error:
        print(f"{type(error).__name__}: {error}", flush=True)
        traceback.print_exc()
    sys.stdout.flush()
    sys.stderr.flush()
    os.write(log, f"\ncounted {halting.count}\n".encode())
    os._exit(code)


def server() -> None:
    for name in ("app", "show", "shop", "client_verbs"):
        importlib.import_module(f"preview.cli.{name}")
    for name in ("jobs", "editing", "approval", "bench", "models.mesh"):
        importlib.import_module(f"preview.{name}")
    for name in ("preview.jobs.package", "preview.cli.shop"):
        sys.modules[name].date = Fixed  # type: ignore[attr-defined]
    for line in sys.stdin:
        job = json.loads(line)
        process = os.fork()
        if not process:
            child(job)
        _, status = os.waitpid(process, 0)
        print(os.waitstatus_to_exitcode(status), flush=True)


@dataclass(frozen=True)
class Ended:
    """How a child ended: its exit code, or -9 where it was killed; what it printed; how many changes it made."""

    code: int
    said: str
    count: int


class Doomed:
    """The server, seen from a test."""

    def __init__(self, folder: Path) -> None:
        self.log = folder / "log.txt"
        env = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        command = [sys.executable, __file__]
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=env)

    def run(self, root: Path, at: int = 0, fault: str = "killed", **job: Any) -> Ended:
        """Have a child do a job; at that change below `root` something happens."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        told = {"root": str(root), "at": at, "fault": fault, "log": str(self.log), **job}
        self.process.stdin.write(json.dumps(told) + "\n")
        self.process.stdin.flush()
        code = int(self.process.stdout.readline())
        said, _, count = self.log.read_text("utf-8", errors="replace").rpartition("\ncounted ")
        return Ended(code, said, int(count) if said or count.strip().isdigit() else 0)

    def end(self) -> None:
        self.process.communicate(timeout=30)


if __name__ == "__main__":
    server()
