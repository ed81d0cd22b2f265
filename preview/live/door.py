"""The door: what reads requests from connections, with a limit to each way of keeping it busy."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable

from aiohttp import web
from aiohttp.http_exceptions import LineTooLong

from preview.live.guard import RefusedError, plain
from preview.live.limits import Limits

IDLE = 60.0
"""Seconds that a connection may stay open with nothing asked on it."""
LINGER = 1.0
"""Seconds for which the rest of a refused body is read, so that its sender hears why."""

Handler = Callable[[web.BaseRequest], Awaitable[web.StreamResponse]]


class Door(web.Server):
    """Makes what reads the requests of a connection: its own refusals look like ours."""

    def __init__(self, handler: Handler, limits: Limits) -> None:
        async def begun(request: web.BaseRequest) -> web.StreamResponse:
            reading = request.protocol
            assert isinstance(reading, Reading)
            reading.began()
            try:
                return await handler(request)
            finally:
                reading.answered()

        super().__init__(
            begun,
            handler_cancellation=True,  # a page that goes away ends its stream
            keepalive_timeout=IDLE,
            lingering_time=LINGER,
            auto_decompress=False,  # a small body stays small
            access_log=None,
        )
        self.limits = limits

    def __call__(self) -> web.RequestHandler:
        return Reading(self, loop=asyncio.get_running_loop(), **self._kwargs)


class Reading(web.RequestHandler):
    """Answers what is no request in one plain line, and logs nothing of it.

    A connection is ended where the head of a request takes too long to arrive, or grows too large. Of too many, one
    with nothing asked on it is ended.
    """

    __slots__ = ("_door", "_head", "_late", "busy")

    def __init__(self, manager: Door, **kwargs: object) -> None:
        super().__init__(manager, **kwargs)  # type: ignore[arg-type]
        self._door = manager
        self._head = 0
        self.busy = False
        self._late: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        super().connection_made(transport)
        if len(self._door.connections) > self._door.limits.connections:
            idle = (each for each in self._door.connections if isinstance(each, Reading) and not each.busy)
            next(idle, self).force_close()  # the one that waits longest with nothing asked: this one, if no other

    def data_received(self, data: bytes) -> None:
        if not self.busy:
            if self._head > self._door.limits.head:
                self._refuse(431, "refused: what stands before the body is too long")
                return
            self._head += len(data)
            if data and self._late is None:
                self._wait()
        super().data_received(data)

    def connection_lost(self, exc: BaseException | None) -> None:
        self._heard()
        super().connection_lost(exc)

    def began(self) -> None:
        """A request has arrived, all but its body."""
        self._heard()
        self.busy = True

    def answered(self) -> None:
        """It has its answer; the next may come."""
        self.busy = False
        self._head = 0

    def handle_error(
        self,
        request: web.BaseRequest,
        status: int = 500,
        exc: BaseException | None = None,
        message: str | None = None,  # noqa: ARG002
    ) -> web.StreamResponse:
        if request.writer.output_size > 0:
            raise ConnectionError("half an answer was sent already")
        if isinstance(exc, LineTooLong):
            return plain(RefusedError(431, "refused: what stands before the body is too long"))
        return plain(RefusedError(status, "refused: this cannot be read as a request"))

    def _wait(self) -> None:
        late = RefusedError(408, "refused: this took too long to arrive")
        self._late = asyncio.get_running_loop().call_later(self._door.limits.slow, self._refuse, late.status, late.line)

    def _heard(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None

    def _refuse(self, status: int, line: str) -> None:
        """Say why, as far as that can be sent at once, and end the connection."""
        self._heard()
        if self.transport is not None:
            answer = plain(RefusedError(status, line))
            assert isinstance(answer.body, bytes)
            head = {**answer.headers, "Content-Length": str(len(answer.body)), "Connection": "close"}
            lines = [f"HTTP/1.1 {answer.status} {answer.reason}", *(f"{name}: {value}" for name, value in head.items())]
            self.transport.write("\r\n".join([*lines, "", ""]).encode("latin-1") + answer.body)
        self.force_close()
