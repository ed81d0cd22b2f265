"""A process whose disk fails at its n-th change of what stands there, or that is ended by SIGKILL at it.

Run as a program it is a server: it loads everything once, reads a job a line, and forks a child for each. In the child
every change below one folder is counted: a file opened for writing, each write to it (of which half is done), fsync,
rename, link, remove, a folder made or removed. At the n-th the child kills itself, so nothing of its own can clean up;
or what a job's `fault` says happens.

A job that is to be done hundreds of times is learned first: the server does it itself and keeps what the functions of
COMPUTED gave, none of which may change anything below the folder. In a child these give the same again, so that what is
left of the job is what it does to the disk, and that is done by the program itself.
"""

from __future__ import annotations

import builtins
import errno
import gc
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
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import nullcontext
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from preview.errors import PreviewError

CHANGES = {"os.rename", "os.remove", "os.rmdir", "os.mkdir", "os.link", "os.chmod"}
WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT


REMOVING = {"os.remove", "os.rmdir", "os.rename"}
COMPUTED = {
    "preview.jobs.building": "build_every drawn_joints joint_files raked_profiles",
    "preview.jobs.package": "drawings_of drawing_svg as_poster page_html sheet_pdf made_stills",
    "preview.models.solid": "make_solids figures",
    "preview.cli.shop": "every_shown shop_job checked shop_files",
}
"""Functions that take long, by the modules that call them, and touch nothing in the folder."""
PICTURE = (48, 30)
"""Pixels of a picture: what it shows is no matter here."""


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
        self.by: Counter[int] = Counter()
        self.lock = threading.Lock()
        self.moving = False

    def begin(self, job: dict[str, Any]) -> None:
        """Count from one, for this job."""
        self.root, self.at, self.fault, self.count = job["root"], job["at"], job["fault"], 0

    def tick(self) -> bool:
        """Count one; whether it is the time."""
        with self.lock:
            self.count += 1
            self.by[threading.get_ident()] += 1
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

    def holds(self, handle: int) -> bool:
        """Whether an open file or folder is below; where that cannot be asked, it may be."""
        if handle < 0:
            return False
        try:
            return self.below(Path(f"/proc/self/fd/{handle}").readlink())
        except OSError:
            return True

    def hook(self, event: str, args: tuple[Any, ...]) -> None:
        if event == "open":
            path, _, flags = args
            if self.below(path) and flags & WRITING:
                self.change(event)
        elif event in CHANGES and (self.below(args[0]) or (isinstance(args[-1], int) and self.holds(args[-1]))):
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
            if halting.holds(handle if isinstance(handle, int) else handle.fileno()):
                halting.change("fsync")
            fsync(handle)

        sys.addaudithook(self.hook)
        io.open = builtins.open = opened  # type: ignore[assignment]
        os.fsync = synced


IDLE: dict[str, Any] = {"root": "\0", "at": 0, "fault": "killed"}


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
    from preview.approval import Answer, add_record, keep, short_code

    scene = Path(job["scene"])
    digest = hashlib.sha256(job["client"].encode()).hexdigest()
    answer = Answer(digest, short_code(digest), (), "yes", job["client"], "", (), "2026-11-20", "Shelf", "shelf.toml")
    add_record(scene, answer, (), keep(scene, [scene]), today=Fixed.today())
    return 0


class Fixed(date):
    """A day that does not change at midnight."""

    @classmethod
    def today(cls) -> Fixed:
        return cls(2026, 11, 21)


class Learned:
    """What the functions of COMPUTED gave, call by call, for each job that was learned."""

    def __init__(self, halting: Halting) -> None:
        self.halting = halting
        self.given: dict[tuple[str, str], list[Any]] = {}

    def learn(self, what: str) -> None:
        """Note from now on what is given in this job."""

        def listening(name: str, plain: Callable[..., Any]) -> Callable[..., Any]:
            def called(*args: Any, **kwargs: Any) -> Any:
                changes, me = self.halting.by, threading.get_ident()
                before = changes[me]
                value = plain(*args, **kwargs)
                value = list(value) if isinstance(value, Iterator) else value
                assert changes[me] == before, f"{name} changes the disk"
                self.given.setdefault((what, name), []).append(value)
                return value

            return called

        self._each(listening)

    def forget(self) -> None:
        """Compute everything again."""
        for (module, name), plain in PLAIN.items():
            setattr(sys.modules[module], name, plain)

    def repeat(self, what: str) -> None:
        """Give from now on what was given in this job, and begin no pictures."""

        def repeating(name: str, _plain: Callable[..., Any]) -> Callable[..., Any]:
            values = iter(self.given.get((what, name), []))
            return lambda *_args, **_kwargs: next(values)

        self._each(repeating)
        sys.modules["preview.jobs.building"].stills_begun = lambda *_: nullcontext()  # type: ignore[attr-defined]

    def _each(self, wrapped: Callable[[str, Callable[..., Any]], Callable[..., Any]]) -> None:
        for module, names in COMPUTED.items():
            for name in names.split():
                home = importlib.import_module(module)
                plain = PLAIN.setdefault((module, name), getattr(home, name))
                setattr(home, name, wrapped(f"{module}.{name}", plain))


PLAIN: dict[tuple[str, str], Callable[..., Any]] = {}


def learned(job: dict[str, Any], halting: Halting, known: Learned) -> int:
    """Do a job here, and keep what it computed and loaded; gives its exit code."""
    log = os.open(job["log"], os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    kept = os.dup(1), os.dup(2)
    os.dup2(log, 1)
    os.dup2(log, 2)
    halting.begin(job)
    known.learn(job["learn"])
    try:
        code = work(job)
        sys.stdout.flush()
        os.write(log, f"\ncounted {halting.count}\n".encode())
    finally:
        known.forget()
        halting.begin(IDLE)
        for number, handle in enumerate((*kept, log)):
            if handle != log:
                os.dup2(handle, number + 1)
            os.close(handle)
    gc.collect()
    gc.freeze()
    return code


def child(job: dict[str, Any], halting: Halting, known: Learned) -> None:
    log = os.open(job["log"], os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(log, 1)
    os.dup2(log, 2)
    if "repeat" in job:
        known.repeat(job["repeat"])
    halting.begin(job)
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
    sys.modules["preview.jobs.package"].SIZE = PICTURE  # type: ignore[attr-defined]
    halting = Halting(**IDLE)
    halting.watch()
    known = Learned(halting)
    for line in sys.stdin:
        job = json.loads(line)
        if "learn" in job:
            print(learned(job, halting, known), flush=True)
            continue
        process = os.fork()
        if not process:
            child(job, halting, known)
        _, status = os.waitpid(process, 0)
        print(os.waitstatus_to_exitcode(status), flush=True)


@dataclass(frozen=True)
class Ended:
    """How a child ended: its exit code, or -9 where it was killed; what it printed; how many changes it made."""

    code: int
    said: str
    count: int


class Doomed:
    """The server, seen from a test. killed: how many children were, of each job."""

    def __init__(self, folder: Path) -> None:
        self.killed: Counter[str] = Counter()
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
        if code == -signal.SIGKILL:
            self.killed[job["args"][0] if job["do"] == "command" else job["do"]] += 1
        said, _, count = self.log.read_text("utf-8", errors="replace").rpartition("\ncounted ")
        return Ended(code, said, int(count) if said or count.strip().isdigit() else 0)

    def end(self) -> None:
        self.process.communicate(timeout=30)


if __name__ == "__main__":
    server()
