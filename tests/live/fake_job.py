"""A job that is a text file, a server around it, and what a page sees of both."""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import AsyncIterator, Callable, Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import asynccontextmanager, suppress
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import parse_qs, urlsplit

import aiohttp

from preview.errors import PreviewError
from preview.live import Conflict, Limits, Model, serve

T = TypeVar("T")
PATIENCE = 60.0
"""Seconds before a test that waits for something gives up: for a stuck one only, far more than any needs."""


class FakeJob:
    """Its model is the text of its file: `broken` is a mistake, `fault` a fault of the program."""

    def __init__(self, file: Path, payload: bytes = b"") -> None:
        self.file = file
        self.payload = payload
        self.asked = 0
        self.figured = 0
        self.threads: set[str] = set()
        self.others: list[Path] = []
        self.open = threading.Event()  # while it is not set, models are waited for
        self.open.set()

    def files(self) -> list[Path]:
        return [self.file, *self.others]

    def model(self) -> Model:
        self.asked += 1
        self.threads.add(threading.current_thread().name)
        self.open.wait(PATIENCE)
        try:
            text = self.file.read_text("utf-8")
        except OSError:
            raise PreviewError("", None, "there is no such file", "", self.file.name) from None
        if not text or text.startswith("broken"):
            raise PreviewError("line 1", text, "this is no model", "write a number", self.file.name)
        if text == "fault":
            raise ZeroDivisionError("a fault\nof two lines")
        return Model(f"v{text}", text.encode() + self.payload)

    def figures(self) -> dict[str, Any]:
        self.figured += 1
        return {"variants": [{"holds": True}]}

    def page(self, token: str) -> bytes:
        return f"<!doctype html>{token}".encode()

    def fields(self) -> dict[str, Any]:
        return {"version": self.file.read_text("utf-8"), "undo": 0, "fields": []}

    def edit(self, version: str, id: str, value: str | float) -> str:  # noqa: A002
        self.threads.add(threading.current_thread().name)
        if value == "fault":
            raise ZeroDivisionError("a fault")
        if version != self.file.read_text("utf-8"):
            raise Conflict("the file is another by now")
        if value == "refuse":
            raise PreviewError(id, value, "this does not fit", "write another")
        text = value if isinstance(value, str) else f"{value:g}"
        self.file.write_text(text, "utf-8")
        return text

    def undo(self, version: str) -> str:
        return self.edit(version, "", "0")


class Client:
    """The address of a server, and requests as its own page would make them."""

    def __init__(self, address: str, session: aiohttp.ClientSession, task: asyncio.Task[None]) -> None:
        parts = urlsplit(address)
        assert parts.hostname == "127.0.0.1"
        assert parts.port
        self.address = address
        self.port = parts.port
        self.token = parse_qs(parts.query)["token"][0]
        self.session = session
        self.task = task

    def url(self, path: str) -> str:
        return f"http://127.0.0.1:{self.port}{path}?token={self.token}"

    async def get(self, path: str) -> tuple[int, bytes]:
        async with self.session.get(self.url(path)) as response:
            return response.status, await response.read()

    async def post(self, path: str, **data: str | float) -> tuple[int, Any]:
        async with self.session.post(self.url(path), json=data) as response:
            return response.status, json.loads(await response.read())

    @asynccontextmanager
    async def events(self, **headers: str) -> AsyncIterator[Listener]:
        async with self.session.get(self.url("/events"), headers=headers) as response:
            assert response.status == 200
            assert response.content_type == "text/event-stream"
            yield Listener(response.content)


class Listener:
    """Reads a stream of events, as WHATWG HTML 9.2.6 says."""

    def __init__(self, content: aiohttp.StreamReader) -> None:
        self._content = content
        self.seen: list[tuple[str, Any]] = []
        self.comments: list[str] = []

    async def next(self) -> tuple[str, Any] | None:
        """The next event, its data read; None when the stream has ended."""
        name, data = "message", ""
        async for raw in self._content:
            line = raw.decode().removesuffix("\n")
            if line.startswith(":"):
                self.comments.append(line)
            elif not line and data:
                self.seen.append((name, json.loads(data)))
                return self.seen[-1]
            elif line:
                field, _, value = line.partition(": ")
                name, data = (value, data) if field == "event" else (name, value) if field == "data" else (name, data)
        return None

    async def until(self, name: str, **data: Any) -> dict[str, Any]:
        """The next event of this name that holds all of this."""
        while (event := await self.next()) is not None:
            if event[0] == name and data.items() <= event[1].items():
                found: dict[str, Any] = event[1]
                return found
        raise AssertionError(f"the stream ended before {name} {data}; it told {self.seen}")

    def named(self, name: str) -> list[Any]:
        return [data for kind, data in self.seen if kind == name]


@asynccontextmanager
async def running(job: Any, **limits: Any) -> AsyncIterator[Client]:
    """A server around a job, stopped at the end."""
    address: asyncio.Future[str] = asyncio.get_running_loop().create_future()
    task = asyncio.create_task(serve(job, ready=address.set_result, limits=Limits(**limits)))
    await asyncio.wait([address, task], return_when=asyncio.FIRST_COMPLETED)
    if task.done():
        await task
    async with aiohttp.ClientSession() as session:
        yield Client(await address, session, task)
    task.cancel()
    with suppress(asyncio.CancelledError):
        await task


def run(made: Coroutine[Any, Any, T]) -> T:
    """Run a test's coroutine; a stuck one fails. In a thread of its own, as a browser may have a loop in this one."""

    async def limited() -> T:
        async with asyncio.timeout(PATIENCE):
            return await made

    with ThreadPoolExecutor(1) as alone:
        return alone.submit(asyncio.run, limited()).result()


async def soon(holds: Callable[[], bool]) -> None:
    """Wait until something holds."""
    while not holds():
        await asyncio.sleep(0.005)


def in_place(path: Path, text: str) -> None:
    path.write_text(text, "utf-8")


def by_rename(path: Path, text: str) -> None:
    beside = path.with_name(f"{path.name}~")
    beside.write_text(text, "utf-8")
    beside.replace(path)


def ways() -> Iterator[Callable[[Path, str], None]]:
    """The two ways that editors save, in turn."""
    while True:
        yield in_place
        yield by_rename
