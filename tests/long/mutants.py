"""Which injected faults do the tests miss? One place of the geometry is changed at a time, and its tests are run.

    python tests/long/mutants.py --count 100 --seed 1 --out survivors.txt
    python tests/long/mutants.py --rooms profiles runs --count 50 --seed 2
    python tests/long/mutants.py --again survivors.txt        # after new tests: which of them are caught now?
    python tests/long/mutants.py --at preview/runs/walk.py:40 # every change on a line
    python tests/long/mutants.py --list | wc -l               # every change there is

A copy of the tree in --work is changed, never the tree itself; it is made once, and only tests/ is brought up to date
later. First each test file is run there as it stands, in a process of its own, to learn which tests call which
functions and how long they take (`calling`). For a changed function those tests are run, the nearest and quickest
first, until one fails: then the fault is caught. So is one that takes three times as long as it should. No test that
fails on the sound copy is used. The first seconds of a change's tests are run in forks of one process that has
collected them (`swapping`; ten changes in a second or so); what they miss, or cannot try, is imported anew: forked from
a process that has the libraries loaded and has never seen the project. That the module it imports is the changed one
is asked of the module itself.

Not changed: text, annotations, decorators, `__all__`, what stands within a message, numbers under 1e-6 (tolerances).
Interrupt it when you like: survivors are written as they are found.
"""

from __future__ import annotations

import argparse
import difflib
import gc
import os
import re
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from calling import OPTIONS, ROOMS, Calls, NoShrinking, in_child, loaded, test_map
from mutations import Mutant, mutants, sampled
from swapping import Swapping, Task, told_to

ROOT = Path(__file__).resolve().parents[2]
COPIED = ["preview", "profiles", "scenes", "tests", "pyproject.toml", "README.md"]
LEFT_OUT = shutil.ignore_patterns("node_modules", "__pycache__", ".*_cache", "web")
LINKED = ["tests/validator/node_modules", "preview/client/web"]
SLACK = 15.0
FIRST = 1.5
"""Seconds of tests, as they take by themselves, that a change is tried with before its module is imported anew."""


def prepared(work: Path) -> Path:
    """The copy: made once, its tests brought up to date."""
    copy = work / "tree"
    if not copy.exists():
        for name in COPIED:
            if (ROOT / name).is_dir():
                shutil.copytree(ROOT / name, copy / name, ignore=LEFT_OUT)
            else:
                shutil.copy2(ROOT / name, copy / name)
    for name in LINKED:
        if (ROOT / name).exists() and not (copy / name).exists():
            (copy / name).symlink_to(ROOT / name)
    for kept in copy.rglob("*.sound"):  # of a run that was killed
        kept.replace(kept.with_suffix(".py"))
    for source in (ROOT / "tests").rglob("*.py"):
        there = copy / source.relative_to(ROOT)
        if not there.exists() or there.read_bytes() != source.read_bytes():
            there.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(source, there)
    return copy


# The first seconds.


def swapped(todo: list[Mutant], copy: Path, calls: Calls) -> Iterator[tuple[Mutant, str]]:
    """The changes that the first seconds of tests catch, each with what caught it."""
    tasks = []
    files: dict[str, None] = {}
    for mutant in todo:
        chosen = calls.chosen(mutant, FIRST)
        files |= dict.fromkeys(file for file, *_ in chosen)
        tasks.append(Task(mutant, [test for _, tests, _ in chosen for test in tests], sum(took for *_, took in chosen)))
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        plugins = [Swapping(copy, tasks, told_to(writing)), NoShrinking()]
        with Path(os.devnull).open("w") as nothing:
            os.dup2(nothing.fileno(), 1)
            pytest.main([*OPTIONS, *files], plugins=plugins)
        os._exit(0)
    os.close(writing)
    try:
        with os.fdopen(reading) as lines:
            for line in lines:
                number, by = line.rstrip("\n").split("\t")
                if by.removeprefix("+") not in ("", "-"):
                    yield todo[int(number)], by.removeprefix("+")
    finally:
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)


# One changed place, imported anew.


class Chosen:
    """Runs some tests of the collected ones, in their order, and remembers the first that fails."""

    def __init__(self, tests: list[str]) -> None:
        self.place = {test: number for number, test in enumerate(tests)}
        self.by = ""

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        items[:] = sorted((i for i in items if i.nodeid in self.place), key=lambda item: self.place[item.nodeid])

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed and not self.by:
            self.by = report.nodeid

    def pytest_collectreport(self, report: Any) -> None:
        if report.failed and not self.by:
            self.by = f"{report.nodeid} (at import)"


def verdict(mutant: Mutant, files: list[tuple[str, list[str], float]]) -> dict[str, Any]:
    """The first test that fails, or "" when all pass with the changed module."""
    rounds: list[tuple[list[str], list[str]]] = [([], []), ([], []), ([], [])]
    total = 0.0
    for file, tests, took in files:
        total += took
        names, wanted = rounds[0 if total < 0.5 or total == took else 1 if total < 4.0 else 2]
        names.append(file)
        wanted += tests
    for names, wanted in rounds:
        if names:
            plugin = Chosen(wanted)
            code = pytest.main([*OPTIONS, "-x", *names], plugins=[plugin, NoShrinking()])
            if plugin.by or code != 0:
                return {"by": plugin.by or f"pytest ended with {code}"}
            if getattr(sys.modules.get(mutant.module), "__mutant__", "") != mutant.name:
                raise RuntimeError(f"{mutant.name}: the module imported is not the changed one")
    return {"by": ""}


def tried(mutant: Mutant, copy: Path, files: list[tuple[str, list[str], float]]) -> str:
    """What caught a change, or ""."""
    path = copy / mutant.file
    kept = path.with_suffix(".sound")
    shutil.copy2(path, kept)
    try:
        changed = mutant.applied(path.read_text("utf-8"))
        path.write_text(f"{changed}\n__mutant__ = {mutant.name!r}\n", encoding="utf-8")
        found = in_child(partial(verdict, mutant, files), SLACK + 3 * sum(took for *_, took in files))
    finally:
        kept.replace(path)
    if "error" in found:
        raise SystemExit(found["error"])
    return "too slow" if "late" in found else "the process died" if "died" in found else found["by"]


def as_diff(mutant: Mutant, text: str) -> str:
    old, new = text.splitlines(keepends=True), mutant.applied(text).splitlines(keepends=True)
    return "".join(difflib.unified_diff(old, new, f"a/{mutant.file}", f"b/{mutant.file}", n=3))


def asked_again(out: Path, offered: list[Mutant]) -> list[Mutant]:
    """The changes that an earlier run wrote down."""
    names = re.findall(r"^# (preview/\S+ \d+-\d+ .*)$", out.read_text(), re.MULTILINE)
    by_name = {mutant.name: mutant for mutant in offered}
    return [by_name[name] for name in names]


def table(results: list[tuple[Mutant, str]]) -> str:
    rows = [f"{'room':12} {'mutants':>8} {'caught':>8} {'missed':>8} {'rate':>6}"]
    for room in [*ROOMS, ""]:
        mine = [by for mutant, by in results if room in ("", mutant.room)]
        if mine:
            caught = sum(map(bool, mine))
            rows.append(
                f"{room or 'all':12} {len(mine):8} {caught:8} {len(mine) - caught:8} {100 * caught / len(mine):5.1f}%"
            )
    return "\n".join(rows)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=100, help="how many places")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--skip", type=int, default=0, help="the first so many, where an earlier run was interrupted")
    parser.add_argument("--rooms", nargs="+", default=ROOMS, choices=ROOMS)
    parser.add_argument(
        "--seconds", type=float, default=20.0, help="of tests for one change, as they take by themselves"
    )
    parser.add_argument(
        "--out", type=Path, default=Path("survivors.txt"), help="changes that no test noticed, as diffs"
    )
    parser.add_argument("--again", type=Path, help="only the changes in the --out of an earlier run with this --work")
    parser.add_argument("--at", nargs="+", default=[], metavar="FILE:LINE", help="only the changes on these lines")
    parser.add_argument("--work", type=Path, default=Path(tempfile.gettempdir()) / "mutants")
    parser.add_argument("--list", action="store_true", help="print every change, run nothing")
    asked = parser.parse_args()
    out, work = asked.out.resolve(), asked.work.resolve()
    work.mkdir(parents=True, exist_ok=True)
    copy = prepared(work)
    offered = list(mutants(copy, asked.rooms))
    if asked.list:
        print("\n".join(f"{mutant.file}:{mutant.line} {mutant.what}" for mutant in offered))
        return
    again = asked_again(asked.again, offered) if asked.again else None
    if asked.at:
        again = [mutant for mutant in offered if f"{mutant.file}:{mutant.line}" in asked.at]
    os.chdir(copy)
    sys.path.insert(0, str(copy))
    os.environ["PYTHONPATH"] = str(copy)
    os.environ |= {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    known = test_map(work, copy)
    loaded(sorted({name for found in known.values() for name in found.get("libraries", ())}))
    calls = Calls(known)
    del known
    gc.freeze()
    sys.dont_write_bytecode = True
    os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    todo = again if again is not None else sampled(offered, asked.count, asked.seed)[asked.skip :]
    out.write_text("")
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, signal.default_int_handler)
    results: dict[Mutant, str] = {}
    start = time.monotonic()

    def tell(mutant: Mutant, said: str) -> None:
        took = f"{time.monotonic() - start:.0f} s"
        print(f"{len(results)}/{len(todo)} {mutant.file}:{mutant.line} {mutant.what}: {said} ({took})", flush=True)

    try:
        for mutant, by in swapped(todo, copy, calls):
            results[mutant] = by
            tell(mutant, f"caught by {by}")
        for mutant in todo:
            if mutant in results:
                continue
            files = calls.chosen(mutant, asked.seconds)
            by = results[mutant] = tried(mutant, copy, files) if files else ""
            tell(mutant, f"caught by {by}" if by else f"MISSED by {sum(len(tests) for _, tests, _ in files)} tests")
            if not by:
                with out.open("a") as file:
                    diff = as_diff(mutant, (copy / mutant.file).read_text("utf-8"))
                    file.write(f"# {mutant.name}\n# line {mutant.line}, in {mutant.function}: {mutant.what}\n{diff}\n")
    except KeyboardInterrupt:
        print(f"interrupted: {len(todo) - len(results)} that the first seconds did not catch are not in the table")
    print(table(list(results.items())))


if __name__ == "__main__":
    main()
