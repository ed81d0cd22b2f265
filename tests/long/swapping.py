"""Changed functions in place of sound ones, in a process that has collected the tests: most of `mutants.py`'s work.

Importing the project and collecting its tests takes far longer than the few tests a change needs. Here that is done
once. For each change the process is forked, the code of the changed function is put in place of the sound one's, and
the tests are run. What stands outside functions, or was worked out when the tests were collected, can't be tried so.
"""

from __future__ import annotations

import gc
import os
import select
import signal
import sys
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import pytest

from mutations import Mutant

LATE = 5.0
"""Seconds beyond four times what its tests take, after which a change has sent the program round in a circle."""


@dataclass(frozen=True)
class Task:
    """A change, the tests to try it with in their order, and the seconds that these take."""

    mutant: Mutant
    tests: Sequence[str]
    took: float


class Swapping:
    """Instead of the tests: each task in a fork, what came of it told as it is found.

    told: given the task and the first test that failed, "" where all passed, None where the change cannot be tried so.
    """

    def __init__(self, copy: Path, tasks: Sequence[Task], told: Callable[[Task, str | None], None]) -> None:
        self.copy, self.tasks, self.told = copy, tasks, told
        self.failed = ""

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed and not self.failed:
            self.failed = report.nodeid

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = {item.nodeid: item for item in session.items}
        live = self.functions()
        gc.collect()
        gc.freeze()
        for task in self.tasks:
            name = task.mutant.function.partition(".<locals>")[0]
            sound = live[f"{self.copy}/{task.mutant.file}", name]
            swaps = list(self.swaps(task.mutant, name, sound))
            wanted = [items[test] for test in task.tests if test in items]
            self.told(task, self.in_fork(swaps, wanted, task.took) if swaps and wanted else None)
        return True

    def functions(self) -> dict[tuple[str, str], list[FunctionType]]:
        """The project's functions by file and name."""
        found = defaultdict(list)
        for each in gc.get_objects():
            if isinstance(each, FunctionType) and each.__code__.co_filename.startswith(f"{self.copy}/preview/"):
                found[each.__code__.co_filename, each.__code__.co_qualname].append(each)
        return found

    def swaps(self, mutant: Mutant, name: str, sound: list[FunctionType]) -> Iterator[tuple[FunctionType, CodeType]]:
        """Each function that is changed and the code that it gets."""
        path = self.copy / mutant.file
        changed = compile(mutant.applied(path.read_text("utf-8")), str(path), "exec")
        for code in _within(changed):
            for function in sound:
                old = function.__code__
                same = (code.co_qualname, code.co_firstlineno) == (name, old.co_firstlineno)
                if same and len(code.co_freevars) == len(old.co_freevars):
                    yield function, code

    def in_fork(self, swaps: list[tuple[FunctionType, CodeType]], tests: list[pytest.Item], took: float) -> str:
        sys.stdout.flush()
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            try:
                os.setsid()
                nothing = os.open(os.devnull, os.O_RDWR)
                for stream in (0, 1, 2):
                    os.dup2(nothing, stream)
                for function, code in swaps:
                    function.__code__ = code
                os.write(writing, (self.first_failure(tests) or "passed").encode()[:4000])
            finally:
                os._exit(0)
        os.close(writing)
        try:
            ready = select.select([reading], [], [], LATE + 4 * took)[0]
            found = os.read(reading, 4096).decode() if ready else "too slow"
        finally:
            with suppress(ProcessLookupError, PermissionError):
                os.killpg(child, signal.SIGKILL)
            with suppress(ProcessLookupError):
                os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            os.close(reading)
        return "" if found == "passed" else found or "the process died"

    def first_failure(self, tests: list[pytest.Item]) -> str:
        for test, following in zip(tests, [*tests[1:], None], strict=True):
            test.config.hook.pytest_runtest_protocol(item=test, nextitem=following)
            if self.failed:
                break
        return self.failed


def _within(code: CodeType) -> Iterator[CodeType]:
    for each in code.co_consts:
        if isinstance(each, CodeType):
            yield each
            yield from _within(each)


def told_to(descriptor: int) -> Callable[[Task, str | None], None]:
    """Writes a line for each task: its number, a tab, and "-" where it could not be tried, else + and what failed."""
    number = count()

    def told(_: Task, by: str | None) -> None:
        os.write(descriptor, f"{next(number)}\t{'-' if by is None else f'+{by}'}\n".encode())

    return told
