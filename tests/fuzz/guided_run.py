"""Damaged files of one kind, led by what they reach: those that open a new branch of the program are damaged further.

    python tests/fuzz/guided_run.py scene --count 20000

It needs `atheris`, which puts counters at the program's branches as it is imported; the environment that the tests run
in does without it. Half of the damage is that of `fuzz_mutations`, half that of libFuzzer. What is kept, in a folder
for each kind: finds, as `long_run` keeps them, and in `opened` the files that opened a branch, from which a next run
goes on.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib
import importlib.util
import json
import random
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path
from typing import Any

MISSING = (
    "guided_run needs atheris, which is not installed here: in an environment of its own,\n"
    "    pip install -c constraints.txt -e '.[test]' atheris\n"
    "and run this with that environment's python; long_run.py does without"
)
MOST_DEATHS = 20
"""Processes that may die of an input before a run is given up."""
MOST_MEMORY = "-rss_limit_mb=3000"


def worker(kind: str, count: int, seed: int, keep: Path, folder: Path, seconds: float) -> None:
    """So many executions in this process, which libFuzzer ends; a line of JSON to stdout for each find."""
    atheris: Any = importlib.import_module("atheris")
    with atheris.instrument_imports(include=["preview"]):
        inputs: Any = importlib.import_module("fuzz_inputs")
        given: tuple[bytes, ...] = importlib.import_module("fuzz_seeds").seeds(kind)
        for each in given:  # also what is imported in a function, when it is needed, has counters then
            inputs.KINDS[kind](each, folder)
    long_run: Any = importlib.import_module("long_run")
    mutations: Any = importlib.import_module("fuzz_mutations")
    start = folder / "seeds"
    start.mkdir(exist_ok=True)
    for number, each in enumerate(given):
        (start / str(number)).write_bytes(each)
    opened = keep / "opened"
    opened.mkdir(exist_ok=True)
    done, told = 0, 0.0

    def attempt(data: bytes) -> None:
        nonlocal done, told
        done += 1
        if time.monotonic() - told > 1:
            told = time.monotonic()
            print(json.dumps({"at": done}), flush=True)
        signal.setitimer(signal.ITIMER_PROF, seconds)
        try:
            inputs.KINDS[kind](data, folder)
        except (Exception, long_run.TimeIsUpError) as error:
            signal.setitimer(signal.ITIMER_PROF, 0)
            what, lines = long_run._what(error), "".join(traceback.format_exception(error))[-6000:]
            print(json.dumps({"found": data.hex(), "what": what, "told": lines}), flush=True)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
        if done >= count:
            print(json.dumps({"at": done}), flush=True)

    def mutate(data: bytes, most: int, number: int) -> bytes:
        chance = random.Random(number)
        if chance.random() < 0.5:
            return bytes(atheris.Mutate(data, most))
        return bytes(chance.choice(mutations.WAYS[kind])(data, given, chance)[:most])

    signal.signal(signal.SIGPROF, long_run._time_is_up)
    longest = max(4096, 2 * max(map(len, given)))
    flags = [
        f"-runs={count}",
        f"-seed={seed}",
        f"-max_len={longest}",
        f"-artifact_prefix={keep}/",
        "-rss_limit_mb=3000",
    ]
    atheris.Setup([sys.argv[0], *flags, str(opened), str(start)], attempt, custom_mutator=mutate)
    atheris.Fuzz()


def run(kind: str, count: int, seed: int, keep: Path, seconds: float) -> Counter[str]:
    """Workers one after another until all executions are done; the finds by what they were."""
    keep = keep / kind
    keep.mkdir(parents=True, exist_ok=True)
    finds: Counter[str] = Counter()
    started, done, deaths, branches = time.monotonic(), 0, 0, ""
    while done < count and deaths < MOST_DEATHS:
        at = 0
        with (
            tempfile.TemporaryDirectory(prefix="fuzz") as name,
            (keep / "stderr").open("wb") as errors,
            subprocess.Popen(
                [
                    *(sys.executable, __file__, kind, "--worker", str(count - done), str(seed + deaths)),
                    *("--keep", str(keep), "--folder", name, "--seconds", str(seconds)),
                ],
                stdout=subprocess.PIPE,
                stderr=errors,
                text=True,
            ) as child,
        ):
            assert child.stdout is not None
            for line in child.stdout:
                if not line.startswith("{"):
                    continue
                said = json.loads(line)
                at = said.get("at", at)
                if "found" in said:
                    _note(finds, keep, said["what"], said["told"], bytes.fromhex(said["found"]))
        done += at
        said_last = (keep / "stderr").read_text("utf-8", "replace")
        branches = next((line for line in reversed(said_last.splitlines()) if " cov: " in line), branches)
        if child.returncode:
            deaths += 1
            finds[f"process ended with {child.returncode}"] += 1
            print(f"FOUND a process ended with {child.returncode}; its input is in {keep}\n{said_last[-1500:]}")
    spent = time.monotonic() - started
    print(f"{kind}: {done:,} executions, {spent:.0f} s, {sum(finds.values())} finds of {len(finds)} kinds; {branches}")
    for what, times in finds.most_common():
        print(f"  {times:>6} x {what}")
    return finds


def _note(finds: Counter[str], keep: Path, what: str, told: str, data: bytes) -> None:
    finds[what] += 1
    if finds[what] > 3:
        return
    name = f"{hashlib.sha256(what.encode()).hexdigest()[:8]}-guided-{finds[what]}"
    (keep / f"{name}.bin").write_bytes(data)
    (keep / f"{name}.txt").write_text(f"{what}\n\n{told}", "utf-8", "surrogateescape")
    print(f"FOUND {what}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description="Damage files of one kind, led by the branches that they reach.")
    parser.add_argument("kind")
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=5.0)
    parser.add_argument("--keep", type=Path, default=Path(tempfile.gettempdir()) / "fuzz-guided")
    parser.add_argument("--worker", nargs=2, help=argparse.SUPPRESS)
    parser.add_argument("--folder", type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if importlib.util.find_spec("atheris") is None:
        sys.exit(MISSING)
    if given.worker:
        worker(given.kind, int(given.worker[0]), int(given.worker[1]), given.keep, given.folder, given.seconds)
        return
    sys.exit(1 if run(given.kind, given.count, given.seed, given.keep, given.seconds) else 0)


if __name__ == "__main__":
    main()
