"""The server: a page, its model, its events, its edits, and nothing else; on this machine, for its own page."""

from __future__ import annotations

import asyncio
import re
import socket
from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import partial
from types import UnionType
from typing import Any

from aiohttp import web

from preview.errors import PreviewError
from preview.live.door import Door, Handler
from preview.live.following import Following
from preview.live.guard import FRAMING, HEADERS, HOST, RefusedError, admit, answer, as_json, from_json, new_token, plain
from preview.live.job import Conflict, Job
from preview.live.limits import Limits
from preview.live.streams import RETRY, Streams
from preview.live.surprises import Surprises
from preview.live.worker import LAST_WAIT, Worker

PORTS = range(1024, 65536)
MODEL = re.compile(r"/model/([\w-]{1,128})", re.ASCII)
SHUTDOWN = 0.5


async def serve(job: Job, *, port: int = 0, ready: Callable[[str], None], limits: Limits | None = None) -> None:
    """Show a job on this machine until cancelled. `ready` is told the address, token and all; port 0: any free one.

    Raises PreviewError for a port that cannot be had, and for a page that cannot be made.
    """
    token = new_token()
    job.page(token)
    with listening(port) as door:
        own = int(door.getsockname()[1])
        site = Site(job, own, token, limits or Limits())
        runner = web.ServerRunner(Door(site.handle, site.limits), access_log=None, shutdown_timeout=SHUTDOWN)
        await runner.setup()
        following = asyncio.create_task(site.following.run())
        try:
            await web.SockSite(runner, door).start()
            ready(f"http://{HOST}:{own}/?token={token}")
            await following
        finally:
            site.streams.close()
            following.cancel()
            with suppress(asyncio.CancelledError):
                await following
            await runner.cleanup()
            site.builder.stop(LAST_WAIT)


def listening(port: int) -> socket.socket:
    """A socket on the loopback. Raises PreviewError where the port is not one or is taken."""
    if port and port not in PORTS:
        raise PreviewError(
            "--port", str(port), "a port for this is a number from 1024 to 65535", "leave --port out for any free one"
        )
    try:
        return socket.create_server((HOST, port))
    except OSError as error:
        why = f"this port cannot be had: {error.strerror or error}"
        raise PreviewError(
            "--port", str(port), why, "give another number, or leave --port out for any free one"
        ) from None


class Site:
    """The routes, and who may use them."""

    def __init__(self, job: Job, port: int, token: str, limits: Limits) -> None:
        self._job = job
        self._port = port
        self._token = token
        self.limits = limits
        self._surprises = Surprises()
        self.builder = Worker("molding build")
        self.streams = Streams(limits)
        self.following = Following(job, self.streams, self.builder, self._surprises, limits)
        self._routes: dict[str, tuple[str, Handler]] = {
            "/": ("GET", self._page),
            "/events": ("GET", self._events),
            "/fields": ("GET", self._fields),
            "/edit": ("POST", self._edit),
            "/undo": ("POST", self._undo),
        }

    async def handle(self, request: web.BaseRequest) -> web.StreamResponse:
        """Answer one request."""
        try:
            admit(request, self._port, self._token)
            return await self._route(request)(request)
        except RefusedError as refused:
            return plain(refused)
        except ConnectionError:
            raise
        except Exception as error:
            return plain(RefusedError(500, self._surprises.words(error, "answering the page")))

    def _route(self, request: web.BaseRequest) -> Handler:
        """By the path as it was sent: no dots or escapes are resolved."""
        path = request.raw_path.partition("?")[0]
        method, handler = self._routes.get(path, ("GET", self._model if MODEL.fullmatch(path) else None))
        if handler is None:
            raise RefusedError(404, "there is nothing at this address")
        if request.method != method:
            raise RefusedError(405, f"this address answers {method} only", {"Allow": method})
        return handler

    async def _page(self, _: web.BaseRequest) -> web.StreamResponse:
        page = await self._in_thread(lambda: self._job.page(self._token))
        return answer(200, page, "text/html; charset=utf-8", {"Content-Security-Policy": FRAMING})

    async def _model(self, request: web.BaseRequest) -> web.StreamResponse:
        found = MODEL.fullmatch(request.raw_path.partition("?")[0])
        payload = self.following.payload(found[1]) if found else None
        if payload is None:
            raise RefusedError(404, "this model is no longer shown; ask for the latest")
        return answer(200, payload, "application/octet-stream")

    async def _events(self, request: web.BaseRequest) -> web.StreamResponse:
        stream = self.streams.join(again="Last-Event-ID" in request.headers)
        if stream is None:
            return answer(204, b"", "text/plain; charset=utf-8")  # a browser takes this as: do not come again
        response = web.StreamResponse(headers={**HEADERS, "Content-Type": "text/event-stream"})
        try:
            await response.prepare(request)
            await response.write(RETRY)
            while events := await stream.take(self.limits.alive):
                async with asyncio.timeout(self.limits.alive):
                    await response.write(events)
        except TimeoutError:
            response.force_close()  # a page that takes nothing in: it will come again
        finally:
            self.streams.leave(stream)
        return response

    async def _fields(self, _: web.BaseRequest) -> web.StreamResponse:
        return await self._told(self._job.fields)

    async def _edit(self, request: web.BaseRequest) -> web.StreamResponse:
        told = await self._body(request, {"version": str, "id": str, "value": str | float})
        return await self._written(partial(self._job.edit, told["version"], told["id"], told["value"]))

    async def _undo(self, request: web.BaseRequest) -> web.StreamResponse:
        told = await self._body(request, {"version": str})
        return await self._written(partial(self._job.undo, told["version"]))

    async def _written(self, call: Callable[[], str]) -> web.StreamResponse:
        response = await self._told(lambda: {"version": call()})
        if response.status == 200:
            self.following.changed()  # at once, though the watch will notice too
        return response

    async def _told(self, call: Callable[[], Any]) -> web.Response:
        """What the job says, or why it does not."""
        try:
            return as_json(200, await self._in_thread(call))
        except Conflict as error:
            return as_json(409, {"text": str(error)})
        except PreviewError as error:
            return as_json(422, {"text": str(error)})

    async def _in_thread(self, call: Callable[[], Any]) -> Any:
        if self.builder.waiting >= self.limits.waiting:
            raise RefusedError(503, "too much was asked at once; ask again in a moment")
        return await self.builder.run(call)

    async def _body(self, request: web.BaseRequest, kinds: Mapping[str, type | UnionType]) -> dict[str, Any]:
        """A JSON object that holds these keys, of these kinds, and no others."""
        if request.content_type != "application/json" or "Content-Encoding" in request.headers:
            raise RefusedError(415, "refused: this has to be application/json")
        data = bytearray()
        too_long = RefusedError(413, f"refused: the most that may be sent is {self.limits.body} bytes")
        if (request.content_length or 0) > self.limits.body:
            raise too_long
        try:
            async with asyncio.timeout(self.limits.slow):
                async for chunk in request.content.iter_any():
                    data += chunk
                    if len(data) > self.limits.body:
                        raise too_long
        except TimeoutError:
            raise RefusedError(408, "refused: this took too long to arrive") from None
        except web.RequestPayloadError:
            raise RefusedError(400, "refused: this cannot be read as a request") from None
        told = from_json(data)
        if (
            not isinstance(told, dict)
            or told.keys() != kinds.keys()
            or not all(isinstance(told[key], kind) for key, kind in kinds.items())
        ):
            raise RefusedError(400, f"refused: this has to be a JSON object of {', '.join(kinds)}")
        return told
