"""How the command is stopped: from the keyboard, by the system or another program, or with its terminal."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

SIGNALS = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
"""Those that the system has."""
NOTHING_WRITTEN = "stopped; nothing was written"
NOTHING_HALF = "stopped; nothing is half-written"


class StoppedError(KeyboardInterrupt):
    """A signal that ends the work; what was begun is put back on the way up, as with any interruption.

    number: of the signal. nothing: whether it is known that nothing was written.
    """

    def __init__(self, number: int, *, nothing: bool = False) -> None:
        super().__init__()
        self.number = number
        self.nothing = nothing


def how(stop: KeyboardInterrupt) -> tuple[int, str]:
    """The exit code of an interruption, as a shell gives it, and what is said of it."""
    if isinstance(stop, StoppedError):
        return 128 + stop.number, NOTHING_WRITTEN if stop.nothing else NOTHING_HALF
    return 128 + signal.SIGINT, NOTHING_HALF


def ends(number: int) -> bool:
    """Whether a signal would end this process; one that whoever started it had it ignore (nohup, &) does not."""
    return signal.getsignal(number) not in (signal.SIG_IGN, None)


@contextmanager
def listening() -> Iterator[None]:
    """Let the signals by which a program is ended be exceptions in here, so that the work is left in order."""
    before: dict[int, Any] = {}
    if threading.current_thread() is threading.main_thread():
        wanted = [number for number in SIGNALS if number != signal.SIGINT and ends(number)]
        before = {number: signal.signal(number, _stop) for number in wanted}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _stop(number: int, _frame: object) -> None:
    signal.signal(number, signal.SIG_IGN)  # what puts things back is not to be stopped in its turn
    raise StoppedError(number)
