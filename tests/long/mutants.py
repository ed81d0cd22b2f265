"""Which injected faults do the tests miss? One place of the geometry is changed at a time, and its tests are run.

    python tests/long/mutants.py --count 100 --seed 1 --out survivors.txt
    python tests/long/mutants.py --rooms profiles runs --count 50 --seed 2
    python tests/long/mutants.py --again survivors.txt        # after new tests: which of them are caught now?
    python tests/long/mutants.py --at preview/runs/walk.py:40 # every change on a line
    python tests/long/mutants.py --list | wc -l               # every change there is

A copy of the tree in --work is changed, never the tree itself; it is made once, and only tests/ is brought up to date
later. First each test file is run there as it stands, in a process of its own, to learn which tests call which
functions and how long they take. For a changed function those tests are run, the nearest and quickest first, until one
fails: then the fault is caught. So is one that takes three times as long as it should. No test that fails on the sound
copy is used. Each process is forked from one that has the libraries loaded and has never seen the project; that the
module it imports is the changed one is asked of the module itself.

Not changed: text, annotations, decorators, `__all__`, what stands within a message, numbers under 1e-6 (tolerances).
Interrupt it when you like: survivors are written as they are found.
"""

from __future__ import annotations

import argparse
import difflib
import gc
import hashlib
import importlib
import json
import os
import re
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from hypothesis import Phase, settings

from mutations import Mutant, mutants, sampled

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ["joinery", "runs", "profiles", "models/mesh", "checks", "shop", "cutlist", "blanks", "sticks"]
TESTED_BY = ["profiles", "runs", "joinery", "mesh", "sticks", "shop", "blanks", "cutlist", "checks", "test_build.py"]
TESTED_BY += [
    "exports/test_surroundings.py",
    "exports/test_compact.py",
    "exports/test_meshopt.py",
    "drawings/test_curves.py",
]
COPIED = ["preview", "profiles", "scenes", "tests", "pyproject.toml", "README.md"]
LEFT_OUT = shutil.ignore_patterns("node_modules", "__pycache__", ".*_cache", "web")
LINKED = ["tests/validator/node_modules", "preview/client/web"]
STARTS_THREADS = ("mitsuba", "drjit", "pxr", "bpy")
OPTIONS = ["-q", "--tb=no", "--show-capture=no", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:benchmark"]
SLACK = 15.0


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


def in_child(job: Callable[[], dict[str, Any]], seconds: float) -> dict[str, Any]:
    """What a job finds in a forked process; {"late": True} or {"died": True} when nothing came of it."""
    note = Path(tempfile.mkstemp(suffix=".json")[1])
    child = os.fork()
    if child == 0:
        os.setsid()
        nothing = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nothing, stream)
        try:
            found = job()
        except BaseException:
            found = {"error": traceback.format_exc()}
        note.write_text(json.dumps(found))
        os._exit(0)
    end = time.monotonic() + seconds
    pause = 0.005
    try:
        while os.waitpid(child, os.WNOHANG) == (0, 0):
            if time.monotonic() > end:
                return {"late": True}
            time.sleep(pause)
            pause = min(0.1, pause * 1.5)
        written = note.read_text()
        return json.loads(written) if written else {"died": True}
    finally:
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(child, signal.SIGKILL)
        with suppress(ChildProcessError):
            os.waitpid(child, 0)
        note.unlink()


class NoShrinking:
    """A caught fault need not be told in its smallest form."""

    def pytest_collection(self) -> None:
        phases = (Phase.explicit, Phase.generate)
        settings.register_profile("mutants", settings(), phases=phases, report_multiple_bugs=False)
        settings.load_profile("mutants")


# Which tests call what.


class Recorder:
    """Which functions of the rooms each test calls, itself or through its fixtures, and how long it takes."""

    def __init__(self) -> None:
        self.imported: set[Any] = set()
        self.seen = self.imported
        self.fixtures: dict[int, set[Any]] = defaultdict(set)
        self.tests: dict[str, set[Any]] = defaultdict(set)
        self.took: Counter[str] = Counter()
        self.failed: set[str] = set()

    def called(self, frame: Any, event: str, argument: Any) -> None:
        self.seen.add(frame.f_code)

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Any:
        before, self.seen = self.seen, self.fixtures[id(fixturedef)]
        try:
            return (yield)
        finally:
            self.seen = before

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: Any) -> Any:
        seen = self.seen = self.tests[item.nodeid]
        result = yield
        self.seen = self.imported
        info = getattr(item, "_fixtureinfo", None)
        for definitions in info.name2fixturedefs.values() if info else ():
            for definition in definitions:
                seen |= self.fixtures[id(definition)]
        return result

    def pytest_runtest_logreport(self, report: Any) -> None:
        self.took[report.nodeid] += report.duration
        if report.outcome != "passed":
            self.failed.add(report.nodeid)


def recorded(copy: Path, file: str) -> dict[str, Any]:
    """A test file run as it stands: what each passing test calls."""
    recorder = Recorder()
    sys.settrace(recorder.called)
    pytest.main([*OPTIONS, file], plugins=[recorder, NoShrinking()])
    sys.settrace(None)
    # What a cache keeps from one test for another belongs to both.
    caches = [thing for thing in gc.get_objects() if type(thing).__name__ == "_lru_cache_wrapper"]
    ours = [cache for cache in caches if str(copy) in str(getattr(sys.modules.get(cache.__module__), "__file__", ""))]
    shared: set[Any] = set()
    if any(cache.cache_info().hits for cache in ours):
        shared = shared.union(*recorder.tests.values())
    starts = tuple(f"{copy}/preview/{room}/" for room in ROOMS)

    def named(seen: set[Any]) -> list[str]:
        ours = (code for code in seen if code.co_filename.startswith(starts))
        return sorted({f"{code.co_filename.removeprefix(f'{copy}/')} {code.co_qualname}" for code in ours})

    passed = {test: seen for test, seen in recorder.tests.items() if test not in recorder.failed}
    return {
        "tests": {test: {"took": recorder.took[test], "calls": named(seen | shared)} for test, seen in passed.items()},
        "failed": sorted(recorder.failed),
        "libraries": [
            name for name, module in sys.modules.items() if "-packages" in str(getattr(module, "__file__", ""))
        ],
    }


def loaded(libraries: Iterable[str]) -> None:
    """Libraries that the project's modules and tests take, loaded here once for every process that is forked."""
    for name in libraries:
        if name not in sys.modules and not name.startswith(STARTS_THREADS):
            with suppress(BaseException):
                importlib.import_module(name)


def test_map(work: Path, copy: Path) -> dict[str, Any]:
    """Test file -> what `recorded` found, kept in the work folder for as long as the file stays as it is."""
    kept = work / "map.json"
    known = json.loads(kept.read_text()) if kept.exists() else {}
    files = []
    for name in TESTED_BY:
        files += sorted((copy / "tests" / name).glob("test_*.py")) if "." not in name else [copy / "tests" / name]
    for room in ROOMS:
        files += [path for path in sorted((copy / "preview" / room).glob("*.py")) if ">>>" in path.read_text("utf-8")]
    for path in files:
        file, digest = path.relative_to(copy).as_posix(), hashlib.sha256(path.read_bytes()).hexdigest()
        if known.get(file, {}).get("digest") != digest:
            start = time.monotonic()
            found = in_child(partial(recorded, copy, file), 600.0)
            found.setdefault("tests", {})
            loaded(found.get("libraries", ()))
            known[file] = {"digest": digest, **found}
            count, failed = len(found["tests"]), found.get("failed") or found.get("error") or ""
            print(f"{file}: {count} tests, {time.monotonic() - start:.1f} s {failed or ''}", flush=True)
            kept.write_text(json.dumps(known))
    wanted = {path.relative_to(copy).as_posix() for path in files}
    return {file: found for file, found in known.items() if file in wanted}


class Calls:
    """Which tests call what, the other way round: from what may be changed to the tests."""

    def __init__(self, known: dict[str, Any]) -> None:
        self.took = {test: row["took"] for found in known.values() for test, row in found["tests"].items()}
        self.calls = {test: len(row["calls"]) for found in known.values() for test, row in found["tests"].items()}
        self.tests: dict[str, list[str]] = defaultdict(list)
        for found in known.values():
            for test, row in found["tests"].items():
                for key in row["calls"]:
                    self.tests[key].append(test)

    def of(self, mutant: Mutant) -> set[str]:
        """The tests that call what is changed; where none does or it is no function, those of its module, or room."""
        starts = [f"{mutant.file} {mutant.function}."] if mutant.function else []
        for start in (*starts, f"{mutant.file} ", f"preview/{mutant.room}/"):
            found = {test for key, tests in self.tests.items() if f"{key}.".startswith(start) for test in tests}
            if found:
                return found
        return set()

    def chosen(self, mutant: Mutant, seconds: float) -> list[tuple[str, list[str], float]]:
        """(file, tests, seconds) for each test file, until the seconds are used up.

        The room's own tests come first, and among them what is quick and calls little else.
        """
        own = f"tests/{mutant.room.removeprefix('models/')}/"
        scores = {
            test: (not test.startswith(own), (0.05 + self.took[test]) * self.calls[test]) for test in self.of(mutant)
        }
        by_file: dict[str, list[str]] = defaultdict(list)
        left = seconds
        for test in sorted(scores, key=scores.__getitem__):
            left -= self.took[test]
            if left < 0.0 and by_file:
                break
            by_file[test.partition("::")[0]].append(test)
        return [(file, tests, sum(self.took[test] for test in tests)) for file, tests in by_file.items()]


# One changed place.


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
    results: list[tuple[Mutant, str]] = []
    out.write_text("")
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, signal.default_int_handler)
    try:
        for number, mutant in enumerate(todo, 1):
            start = time.monotonic()
            files = calls.chosen(mutant, asked.seconds)
            by = tried(mutant, copy, files) if files else ""
            results.append((mutant, by))
            told = f"caught by {by}" if by else f"MISSED by {sum(len(tests) for _, tests, _ in files)} tests"
            took = time.monotonic() - start
            print(f"{number}/{len(todo)} {mutant.file}:{mutant.line} {mutant.what}: {told} ({took:.1f} s)", flush=True)
            if not by:
                with out.open("a") as file:
                    diff = as_diff(mutant, (copy / mutant.file).read_text("utf-8"))
                    file.write(f"# {mutant.name}\n# line {mutant.line}, in {mutant.function}: {mutant.what}\n{diff}\n")
    except KeyboardInterrupt:
        print("interrupted")
    print(table(results))


if __name__ == "__main__":
    main()
