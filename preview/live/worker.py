"""One thread that does one thing after the other and never keeps the program from ending."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from concurrent.futures import Future
from queue import SimpleQueue
from typing import Any, TypeVar

T = TypeVar("T")
LAST_WAIT = 1.0
"""Seconds that an ending program gives a thread to finish what it is at."""


class Worker:
    """A warm thread. It is a daemon, unlike an executor's, so that Ctrl-C need not wait for a long build."""

    def __init__(self, name: str) -> None:
        self._todo: SimpleQueue[tuple[Future[Any], Callable[[], Any]] | None] = SimpleQueue()
        self._thread = threading.Thread(target=self._work, name=name, daemon=True)
        self._thread.start()

    @property
    def waiting(self) -> int:
        """How many calls stand in line, about."""
        return self._todo.qsize()

    async def run(self, call: Callable[[], T]) -> T:
        """What the call gives or raises, from the thread. Given up while still in line, it is never made."""
        future: Future[T] = Future()
        self._todo.put((future, call))
        return await asyncio.wrap_future(future)

    def stop(self, wait: float) -> None:
        """Take up nothing more, and wait this many seconds for what is being done."""
        self._todo.put(None)
        self._thread.join(wait)

    def _work(self) -> None:
        while (item := self._todo.get()) is not None:
            future, call = item
            if future.set_running_or_notify_cancel():
                try:
                    future.set_result(call())
                except Exception as error:
                    future.set_exception(error)
                except BaseException as error:  # a library's panic, or sys.exit: it must not end the thread
                    future.set_exception(RuntimeError(f"{type(error).__name__}: {error}"))
            del item, future, call  # hold on to no model while idle
