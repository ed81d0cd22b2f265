"""The pages that listen: each is told the latest of every kind of event, and nothing ever piles up."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Mapping
from typing import Any

from preview.live.limits import Limits

RETRY = b"retry: 1000\n\n"
STILL_HERE = b": still here\n\n"
OUTDATES = {"model": ("wrong", "figures")}
"""A good model takes away an error, and figures that belong to an older model."""


class Stream:
    """One page's events that are still to be sent: at most one of each kind, in the order of the latest."""

    def __init__(self, pending: Mapping[str, bytes]) -> None:
        self.closed = False
        self._pending = dict(pending)
        self._wake = asyncio.Event()
        self._wake.set()

    def put(self, name: str, event: bytes) -> None:
        put(self._pending, name, event)
        self._wake.set()

    def close(self) -> None:
        self.closed = True
        self._wake.set()

    async def take(self, alive: float) -> bytes:
        """What to send next; a sign of life when nothing has come for `alive` seconds. b"" once closed."""
        try:
            async with asyncio.timeout(alive):
                await self._wake.wait()
        except TimeoutError:
            return STILL_HERE
        self._wake.clear()
        events = b"".join(self._pending.values())
        self._pending.clear()
        return b"" if self.closed else events or STILL_HERE


def put(events: dict[str, bytes], name: str, event: bytes) -> None:
    """Let an event take the place of what it outdates."""
    for old in (name, *OUTDATES.get(name, ())):
        events.pop(old, None)
    events[name] = event


class Streams:
    """All listening pages, and what a page that comes now has to be told first."""

    def __init__(self, limits: Limits) -> None:
        self._most = limits.streams
        self._open: list[Stream] = []
        self._state: dict[str, bytes] = {}
        self._count = 0

    def __len__(self) -> int:
        return len(self._open)

    def join(self, again: bool = False) -> Stream | None:
        """A stream for one page more. At the limit the oldest is closed; a page that comes `again` gets None instead.

        Without that, pages above the limit would close each other's streams in turn for ever.
        """
        if len(self._open) >= self._most:
            if again:
                return None
            self._open.pop(0).close()
        stream = Stream(self._state)
        self._open.append(stream)
        if again:
            self._count += 1
            stream.put("fields", written("fields", {}, self._count))  # it may have missed one
        return stream

    def leave(self, stream: Stream) -> None:
        if stream in self._open:
            self._open.remove(stream)

    def tell(self, name: str, data: Mapping[str, Any], *, keep: bool = True) -> None:
        """Send an event to every page; kept, it is told to those that come later too."""
        self._count += 1
        event = written(name, data, self._count)
        if keep:
            put(self._state, name, event)
        for stream in self._open:
            stream.put(name, event)

    def close(self) -> None:
        """End every stream."""
        for stream in self._open:
            stream.close()
        self._open.clear()


def written(name: str, data: Mapping[str, Any], number: int) -> bytes:
    """A server-sent event (WHATWG HTML, 9.2): JSON holds no line break, so one data line is enough.

    The id makes a browser say, when it comes back, that it was here before.
    """
    text = json.dumps(data, separators=(",", ":"), allow_nan=False)
    return f"id: {number}\nevent: {name}\ndata: {text}\n\n".encode()
