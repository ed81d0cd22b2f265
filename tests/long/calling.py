"""Which tests call which functions, learnt by running each test file once in a process of its own, for `mutants.py`."""

from __future__ import annotations

import gc
import hashlib
import importlib
import json
import os
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

from mutations import Mutant

ROOMS = ["joinery", "runs", "profiles", "models/mesh", "checks", "shop", "cutlist", "blanks", "sticks"]
TESTED_BY = ["profiles", "runs", "joinery", "mesh", "sticks", "shop", "blanks", "cutlist", "checks", "test_build.py"]
TESTED_BY += [
    "exports/test_surroundings.py",
    "exports/test_compact.py",
    "exports/test_meshopt.py",
    "drawings/test_curves.py",
]
STARTS_THREADS = ("mitsuba", "drjit", "pxr", "bpy")
OPTIONS = ["-q", "--tb=no", "--show-capture=no", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:benchmark"]


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
            if "tests" not in found:
                print(f"{file}: not recorded, and left out: {found}", flush=True)
                known.pop(file, None)
                continue
            loaded(found.get("libraries", ()))
            known[file] = {"digest": digest, **found}
            print(
                f"{file}: {len(found['tests'])} tests, {time.monotonic() - start:.1f} s {found['failed'] or ''}",
                flush=True,
            )
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
