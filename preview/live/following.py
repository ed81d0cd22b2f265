"""From a save to what the pages are told: the model at once, an error after a moment, the checks when it is quiet."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from preview.errors import PreviewError
from preview.live.job import Job, Model
from preview.live.limits import Limits
from preview.live.streams import Streams
from preview.live.surprises import Surprises
from preview.live.watching import Watch
from preview.live.worker import LAST_WAIT, Worker


class Following:
    """Builds again after every save, one build at a time: saves that come meanwhile are one save, the latest.

    builder: the thread for models. The checks have one of their own, so that a save need not wait for them.
    """

    def __init__(self, job: Job, streams: Streams, builder: Worker, surprises: Surprises, limits: Limits) -> None:
        self._job = job
        self._streams = streams
        self._builder = builder
        self._checker = Worker("molding checks")
        self._surprises = surprises
        self._limits = limits
        self._changed = asyncio.Event()
        self._loop = asyncio.get_running_loop()
        self._watch = Watch(self._from_thread, limits)
        self._models: dict[str, bytes] = {}
        self._version: str | None = None
        self._wrong: str | None = None
        self._figured: str | None = None
        self._later: asyncio.Task[None] | None = None

    def payload(self, version: str) -> bytes | None:
        """A model to be fetched; None for one that never was or is too old."""
        return self._models.get(version)

    def changed(self) -> None:
        """Something may have changed: build when there is time."""
        self._changed.set()

    async def run(self) -> None:
        """Follow the files until cancelled."""
        self._changed.set()
        try:
            while True:
                await self._changed.wait()
                if self._later:
                    self._later.cancel()
                told = await self._settled()
                if isinstance(told, Model):
                    self._show(told)
                else:
                    self._complain(told)
                self._later = asyncio.create_task(self._afterwards(self._version))
        finally:
            if self._later:
                self._later.cancel()
            self._watch.stop()
            self._checker.stop(LAST_WAIT)

    async def _settled(self) -> Model | str:
        """The model as it is now, or what is wrong: the latter only once two looks, a moment apart, say the same."""
        first = time.monotonic()
        before: Model | str | None = None
        while True:
            self._changed.clear()
            told, files = await self._builder.run(self._ask)
            self._watch.follow(files)
            if isinstance(told, Model) or told == before or time.monotonic() > first + self._limits.held:
                return told
            try:
                async with asyncio.timeout(self._limits.hold):
                    await self._changed.wait()
                before = None
            except TimeoutError:
                before = told

    def _ask(self) -> tuple[Model | str, Sequence[Path]]:
        told: Model | str
        try:
            told = self._job.model()
        except PreviewError as error:
            told = str(error)
        except Exception as error:
            told = self._surprises.words(error, "building the model")
        return told, self._job.files()

    def _show(self, model: Model) -> None:
        if model.version == self._version and self._wrong is None:
            return
        if model.version != self._version:
            self._models.pop(model.version, None)
            self._models[model.version] = model.payload
            while len(self._models) > self._limits.versions:
                del self._models[next(iter(self._models))]
        self._version, self._wrong, self._figured = model.version, None, None
        self._streams.tell("model", {"version": model.version})

    def _complain(self, text: str) -> None:
        if text != self._wrong:
            self._wrong = text
            self._streams.tell("wrong", {"text": text})

    async def _afterwards(self, version: str | None) -> None:
        """What may take its time, and is given up when something is saved meanwhile."""
        await asyncio.sleep(self._limits.quiet)
        self._streams.tell("fields", {}, keep=False)
        if version is None or self._wrong is not None or version == self._figured:
            return
        try:
            found = {"version": version, **await self._checker.run(self._job.figures)}
            if found["version"] == self._version:
                self._streams.tell("figures", found)
                self._figured = version
        except PreviewError as error:
            self._complain(str(error))
        except Exception as error:
            self._complain(self._surprises.words(error, "checking the model"))

    def _from_thread(self) -> None:
        with suppress(RuntimeError):  # the loop has ended; the watch is about to
            self._loop.call_soon_threadsafe(self._changed.set)
