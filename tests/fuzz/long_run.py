"""The long part: many damaged files of one kind after another, in a process that is watched.

    python tests/fuzz/long_run.py scene --count 100000 --seed 1

The number of an execution and the seed give the file, so a run can go on where it ended (`--first`), and a find can be
made again. What is kept, in a folder for each kind: the offending file and, beside it, what it did. An input that takes
over 5 s is one, and so is a crash of compiled code, behind which a new process goes on. Memory over 600 MB above that
of the program itself is refused by the system, and then found as a MemoryError. STEP is read in processes that are
forked (`fuzz_step`); that one of these crashes or takes long is counted, since the program is made for it.
"""

from __future__ import annotations

import argparse
import faulthandler
import gc
import hashlib
import json
import os
import random
import re
import resource
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

from fuzz_inputs import KINDS, BrokenPromiseError
from fuzz_mutations import mutated
from fuzz_seeds import seeds
from fuzz_step import ForkedKernel

SECONDS = 5.0
"""Of the processor: a busy machine does not count."""
ROOM = 600_000_000
"""Bytes that reading may take beyond what the program takes when it has read the seeds."""
KEPT = 3
"""Files that are kept of one kind of find."""
QUICK = Path("/dev/shm")
"""Files in memory, where there is such a folder: writing a file is most of what a run takes."""


def worker(kind: str, first: int, count: int, seed: int, keep: Path, seconds: float) -> None:
    """Damage and read; a line of JSON to stdout for each find, and one now and then for how far it is."""
    with (
        (keep / "number").open("w") as progress,
        _folder() as name,
    ):
        folder = Path(name)
        kernel = _kernel(folder, seconds) if kind == "step" else None
        attempt = kernel.attempt if kernel else _each(kind)
        for each in seeds(kind):
            attempt(1, each, folder)
        _limit_memory()
        faulthandler.enable()
        signal.signal(signal.SIGPROF, _time_is_up)
        told = 0.0
        for number in range(first, first + count):
            data = damaged(kind, seed, number)
            progress.seek(0)
            progress.write(f"{number:>20}")
            progress.flush()
            if time.monotonic() - told > 1:
                told = time.monotonic()
                _say(at=number, rss=_rss(), **_counts(kernel))
                if kernel is None:  # which forks: a thread that watches would be missing in the children
                    faulthandler.dump_traceback_later(6 * seconds + 2, exit=True)  # where no signal comes through
            signal.setitimer(signal.ITIMER_PROF, seconds)
            try:
                attempt(number, data, folder)
            except (Exception, TimeIsUpError) as error:
                signal.setitimer(signal.ITIMER_PROF, 0)
                _say(found=number, what=_what(error), told="".join(traceback.format_exception(error))[-6000:])
            finally:
                signal.setitimer(signal.ITIMER_PROF, 0)
        _say(at=first + count, rss=_rss(), done=True, **_counts(kernel))


def _each(kind: str) -> Callable[[int, bytes, Path], None]:
    return lambda _, data, folder: KINDS[kind](data, folder)


def _kernel(folder: Path, seconds: float) -> ForkedKernel:
    """The CAD kernel, loaded once, and files that are left behind where they are seen."""
    tempfile.tempdir = str(folder)
    kernel = ForkedKernel(folder, seconds)
    kernel.warm(seeds("step")[0])
    gc.freeze()
    return kernel


def _counts(kernel: ForkedKernel | None) -> dict[str, object]:
    if kernel is None:
        return {}
    return {
        "counts": kernel.counts,
        "ends": kernel.ends,
        "most": {"MB of a process": kernel.largest / 1e6, "s of a process": kernel.slowest},
    }


def _folder() -> tempfile.TemporaryDirectory[str]:
    return tempfile.TemporaryDirectory(prefix="fuzz", dir=QUICK if QUICK.is_dir() else None)


def damaged(kind: str, seed: int, number: int) -> bytes:
    """The file of one execution: the same whenever it is asked for, as long as the seeds are the same."""
    return mutated(kind, seeds(kind), random.Random(f"{kind} {seed} {number}"))


class TimeIsUpError(BaseException):
    """An input took too long. Not an Exception, so that nothing on the way takes it for its own."""


def _time_is_up(_signal: int, _frame: FrameType | None) -> None:
    raise TimeIsUpError


def _what(error: BaseException) -> str:
    """What happened, short enough to tell whether it is the same as before: the error and where it came from."""
    frames = [f for f in traceback.extract_tb(error.__traceback__) if "/preview/" in f.filename]
    if isinstance(error, TimeIsUpError):
        where = {f"{Path(f.filename).name}:{f.name}" for f in frames[-4:-1]}
        return f"over {SECONDS:g} s in {sorted(where)}"
    at = f"{Path(frames[-1].filename).name}:{frames[-1].lineno} {frames[-1].name}" if frames else "?"
    said = re.sub(r"[\d,]+", "N", str(error).partition(":")[0])[:80] if isinstance(error, BrokenPromiseError) else ""
    return f"{type(error).__name__} at {at} {said}".strip()


def _limit_memory() -> None:
    pages = int(Path("/proc/self/statm").read_text().split()[0]) if Path("/proc/self/statm").exists() else 0
    if pages:
        most = pages * resource.getpagesize() + ROOM
        resource.setrlimit(resource.RLIMIT_AS, (most, resource.RLIM_INFINITY))


def _rss() -> int:
    statm = Path("/proc/self/statm")
    return int(statm.read_text().split()[1]) * resource.getpagesize() if statm.exists() else 0


def _say(**values: object) -> None:
    print(json.dumps(values), flush=True)


def run(kind: str, first: int, count: int, seed: int, keep: Path, seconds: float, script: Path) -> Counter[str]:
    """Workers one after another until all executions are done; the finds by what they were."""
    keep = keep / kind
    keep.mkdir(parents=True, exist_ok=True)
    finds: Counter[str] = Counter()
    tally: Counter[str] = Counter()
    started, at, rss = time.monotonic(), first, list[tuple[int, int]]()
    shown = 0.0
    stop = first + count
    while at < stop:
        numbers = [str(each) for each in (at, stop - at, seed, seconds)]
        command = [sys.executable, str(script), kind, "--worker", *numbers, "--keep", str(keep)]
        told: dict[str, Any] = {}
        with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=(keep / "stderr").open("wb"), text=True) as child:
            assert child.stdout is not None
            try:
                for line in child.stdout:
                    if not line.startswith("{"):
                        continue
                    said = json.loads(line)
                    if "found" in said:
                        _note(finds, keep, said["what"], said["told"], seed, said["found"])
                    else:
                        at = said["at"]
                        rss.append((at, said["rss"]))
                        told = said
                    if time.monotonic() - shown > 10:
                        shown = time.monotonic()
                        spent = shown - started
                        print(f"{kind}: {at - first:,} of {count:,} in {spent:.0f} s, {len(finds)} kinds of find,"
                              f" {said.get('rss', 0) / 1e6:.0f} MB{_told(tally, told)}", flush=True)  # fmt: skip
            except KeyboardInterrupt:
                child.kill()
                print(f"{kind}: stopped after {at - first:,}; go on with --first {at}")
                break
        tally.update(told.get("counts", {}))
        tally.update(told.get("ends", {}))
        if "most" in told:
            print("  most:", ", ".join(f"{value:.1f} {what}" for what, value in told["most"].items()))
        if child.returncode:
            number = int((keep / "number").read_text())
            errors = (keep / "stderr").read_text("utf-8", "replace")
            how = "over time in compiled code" if "Timeout (" in errors else f"ended with {child.returncode}"
            frame = next((line.strip() for line in errors.splitlines() if "/preview/" in line), errors.strip()[-200:])
            _note(finds, keep, f"process {how}: {frame}", errors[-6000:], seed, number)
            at = number + 1
    spent = time.monotonic() - started
    print(f"{kind}: {at - first:,} executions, {spent:.0f} s, {sum(finds.values())} finds of {len(finds)} kinds")
    if rss:
        some = rss[:: max(1, len(rss) // 8)]
        print("  resident MB:", ", ".join(f"{size / 1e6:.0f} at {number:,}" for number, size in [*some, rss[-1]]))
    for what, times in tally.most_common():
        print(f"  {times:>6} {what}")
    for what, times in finds.most_common():
        print(f"  {times:>6} x {what}")
    return finds


def _told(tally: Counter[str], told: dict[str, Any]) -> str:
    """How many came to what so far, where that is counted."""
    return "".join(
        f", {times} {what}" for what, times in (tally + Counter(told.get("counts"))).items() if ":" not in what
    )


def _note(finds: Counter[str], keep: Path, what: str, told: str, seed: int, number: int) -> None:
    finds[what] += 1
    if finds[what] > KEPT:
        return
    name = hashlib.sha256(what.encode()).hexdigest()[:8]
    (keep / f"{name}-{seed}-{number}.bin").write_bytes(damaged(keep.name, seed, number))
    (keep / f"{name}-{seed}-{number}.txt").write_text(f"{what}\n\n{told}", "utf-8", "surrogateescape")
    print(f"FOUND {what} (execution {number:,})", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description="Damage files of one kind and read them.")
    parser.add_argument("kind")
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=SECONDS)
    parser.add_argument("--keep", type=Path, default=Path(tempfile.gettempdir()) / "fuzz-finds")
    parser.add_argument("--worker", nargs=4, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.worker:
        first, count, seed = map(int, given.worker[:3])
        worker(given.kind, first, count, seed, given.keep, float(given.worker[3]))
        return
    finds = run(given.kind, given.first, given.count, given.seed, given.keep, given.seconds, Path(__file__))
    sys.exit(1 if finds else 0)


if __name__ == "__main__":
    os.environ.setdefault("PYTHONHASHSEED", "0")
    main()
