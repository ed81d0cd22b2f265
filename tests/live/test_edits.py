"""Edits of the page: passed on one at a time, and answered in the job's own words."""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from fake_job import FakeJob, run, running, soon
from preview.live import watching


@pytest.fixture
def job(tmp_path: Path) -> FakeJob:
    file = tmp_path / "model.txt"
    file.write_text("1", "utf-8")
    return FakeJob(file)


def test_an_edit_is_written_and_shown(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job, quiet=0.01) as client, client.events() as page:
            await page.until("model", version="v1")
            assert await client.post("/edit", version="1", id="a", value="5") == (200, {"version": "5"})
            await page.until("model", version="v5")
            await page.until("fields")
            status, body = await client.get("/fields")
            assert (status, json.loads(body)["version"]) == (200, "5")
            assert await client.post("/edit", version="5", id="a", value=2.5) == (200, {"version": "2.5"})
            assert await client.post("/edit", version="2.5", id="a", value=7) == (200, {"version": "7"})
            assert await client.post("/undo", version="7") == (200, {"version": "0"})
            await page.until("model", version="v0")

    run(test())


def test_an_edit_is_shown_before_the_watch_notices(job: FakeJob, monkeypatch: pytest.MonkeyPatch) -> None:
    def silent(*folders: Path, stop_event: threading.Event, **settings: Any) -> Iterator[set[Any]]:
        while not stop_event.wait(0.01):
            yield set()

    async def test() -> None:
        async with running(job, poll=10_000) as client, client.events() as page:
            await page.until("model", version="v1")
            assert await client.post("/edit", version="1", id="a", value="5") == (200, {"version": "5"})
            await page.until("model", version="v5")

    monkeypatch.setattr(watching, "watch", silent)
    run(test())


def test_what_is_refused_says_why(job: FakeJob, caplog: pytest.LogCaptureFixture) -> None:
    async def test() -> None:
        async with running(job) as client:
            refused = {"text": "a = refuse\n  this does not fit\n  fix: write another"}
            assert await client.post("/edit", version="1", id="a", value="refuse") == (422, refused)
            other = {"text": "the file is another by now"}
            assert await client.post("/edit", version="0", id="a", value="3") == (409, other)
            assert await client.post("/undo", version="0") == (409, other)
            async with client.session.post(
                client.url("/edit"), json={"version": "1", "id": "a", "value": "fault"}
            ) as response:
                assert response.status == 500
                assert b"ZeroDivisionError" in await response.read()
            assert job.file.read_text("utf-8") == "1"

    run(test())
    assert len(caplog.records) == 1


def test_one_thread_does_it_all_in_turn(job: FakeJob) -> None:
    """Thirty edits at once, each of what the one before has made: all but one of a version are told of the conflict."""

    async def test() -> None:
        busy = threading.Lock()
        edit = job.edit

        def alone(version: str, id: str, value: str | float) -> str:  # noqa: A002
            assert busy.acquire(blocking=False), "two at once"
            try:
                return edit(version, id, value)
            finally:
                busy.release()

        job.edit = alone  # type: ignore[method-assign]
        async with running(job) as client:
            answers: list[tuple[int, Any]] = await asyncio.gather(
                *(client.post("/edit", version="1", id="a", value=str(n)) for n in range(2, 32))
            )
            assert sorted(status for status, _ in answers) == [200] + [409] * 29
            assert job.threads == {"molding build"}

    run(test())


def test_too_much_at_once_is_refused(job: FakeJob) -> None:
    async def test() -> None:
        job.open.clear()
        async with running(job, waiting=2) as client:
            await soon(lambda: job.asked == 1)
            asking = [asyncio.create_task(client.get("/fields")) for _ in range(5)]
            done, waiting = await asyncio.wait(asking, return_when=asyncio.FIRST_COMPLETED)
            while len(done) < 3:
                more, waiting = await asyncio.wait(waiting, return_when=asyncio.FIRST_COMPLETED)
                done |= more
            assert [task.result()[0] for task in done] == [503] * 3
            job.open.set()
            assert [(await task)[0] for task in waiting] == [200] * 2

    run(test())
