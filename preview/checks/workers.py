"""Other processes of our own that share a long piece of work, and end with it.

A worker runs `main`: it reads pickled tasks from its parent and writes back what comes of them.
Nothing but the two ends of that pipe reads or writes those pickles. The caller's own program is never started again,
as it would be by the standard library's pools.
"""

from __future__ import annotations

import os
import pickle
import queue
import struct
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from types import TracebackType
from typing import IO, Any, Generic, TypeVar

from preview.disk import PYTHON, same_modules

T = TypeVar("T")
R = TypeVar("R")
_HEAD = struct.Struct("<Q")


class Workers(Generic[T, R]):
    """A few processes that apply one function (of a module, by its name there) to tasks."""

    def __init__(self, function: Callable[[T], R], count: int) -> None:
        self._function = function
        self._count = count
        self._processes: list[subprocess.Popen[bytes]] = []

    def __enter__(self) -> Workers[T, R]:
        environment = same_modules()
        for _ in range(self._count):
            self._processes.append(
                subprocess.Popen(
                    [*PYTHON, "-c", f"from {__name__} import main; main()"],
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    env=environment,
                    start_new_session=True,  # a stop from the keyboard is for the parent, which ends them
                )
            )
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for process in self._processes:
            for pipe in (process.stdin, process.stdout):
                if pipe is not None and kind is None:
                    pipe.close()
            if kind is not None:
                process.kill()
            process.wait()

    def each(self, tasks: Sequence[T]) -> Iterator[tuple[int, R]]:
        """What comes of each task, with its number, in the order in which they are done.

        Raises what the function raised in a worker; RuntimeError where a worker ended before its task.
        """
        waiting: queue.SimpleQueue[int] = queue.SimpleQueue()
        done: queue.SimpleQueue[tuple[int, R | BaseException]] = queue.SimpleQueue()
        for number in range(len(tasks)):
            waiting.put(number)

        def drive(process: subprocess.Popen[bytes]) -> None:
            while True:
                try:
                    number = waiting.get_nowait()
                except queue.Empty:
                    return
                try:
                    if process.stdin is None or process.stdout is None:
                        raise RuntimeError("a worker has no pipe")
                    send(process.stdin, (self._function, tasks[number]))
                    done.put((number, receive(process.stdout)))
                except (OSError, EOFError) as error:
                    done.put((number, RuntimeError(f"a worker ended before its task: {error}")))
                    return
                except Exception as error:  # what cannot be sent; whoever waits must hear of it
                    done.put((number, error))
                    return

        for process in self._processes:
            threading.Thread(target=drive, args=(process,), daemon=True).start()
        for _ in range(len(tasks)):
            number, found = done.get()
            if isinstance(found, BaseException):
                raise found
            yield number, found


def cores() -> int:
    """How many processors this process may use."""
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity else os.cpu_count() or 1


def send(pipe: IO[bytes], value: object) -> None:
    """Write a value to our own other end."""
    data = pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
    pipe.write(_HEAD.pack(len(data)))
    pipe.write(data)
    pipe.flush()


def receive(pipe: IO[bytes]) -> Any:
    """Read a value from our own other end. Raises EOFError where it has ended."""
    head = pipe.read(_HEAD.size)
    if len(head) < _HEAD.size:
        raise EOFError("the pipe has ended")
    return pickle.loads(pipe.read(_HEAD.unpack(head)[0]))


def main() -> None:
    """Serve one parent until it closes its end."""
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # whatever a library prints is no answer
    while True:
        try:
            function, task = receive(sys.stdin.buffer)
        except EOFError:
            return
        try:
            found = function(task)
        except BaseException as error:  # whatever it is, the parent raises it
            found = error
        try:
            send(answers, found)
        except BrokenPipeError:  # whoever asked was killed meanwhile
            os._exit(0)  # without the last flush, which would meet the same pipe
