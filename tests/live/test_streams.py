"""What pages hear: the same for all, the latest for late ones, and nothing twice. Source: WHATWG HTML, 9.2."""

from __future__ import annotations

import asyncio
from contextlib import AsyncExitStack
from pathlib import Path

import pytest

from fake_job import FakeJob, by_rename, run, running, soon
from preview.live.limits import Limits
from preview.live.streams import Streams


@pytest.fixture
def job(tmp_path: Path) -> FakeJob:
    file = tmp_path / "model.txt"
    file.write_text("1", "utf-8")
    return FakeJob(file)


def test_two_pages_hear_the_same_and_can_fetch_it(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job) as client, client.events() as first, client.events() as second:
            for page in (first, second):
                await page.until("model", version="v1")
            by_rename(job.file, "2")
            for page in (first, second):
                await page.until("model", version="v2")
            assert await client.get("/model/v2") == (200, b"2")
            assert await client.get("/model/v1") == (200, b"1")

    run(test())


def test_a_page_that_comes_later_is_told_what_there_is(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job, hold=0.01, quiet=0.01) as client:
            async with client.events() as page:
                await page.until("model", version="v1")
                await page.until("figures", version="v1", variants=[{"holds": True}])
                by_rename(job.file, "broken")
                await page.until("wrong", text="model.txt: line 1 = broken\n  this is no model\n  fix: write a number")
            async with client.events() as late:
                told = [await late.next() for _ in range(3)]
                assert [event[0] for event in told if event] == ["model", "figures", "wrong"]
            by_rename(job.file, "2")
            async with client.events(**{"Last-Event-ID": "7"}) as back:
                await back.until("model", version="v2")
                assert not back.named("wrong") or back.named("model")[0]["version"] == "v1"
                await back.until("fields")

    run(test())


def test_an_error_is_taken_back_when_the_model_is_as_it_was(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job, hold=0.01, quiet=0.01) as client, client.events() as page:
            await page.until("figures", version="v1")
            by_rename(job.file, "broken")
            await page.until("wrong")
            by_rename(job.file, "1")
            await page.until("model", version="v1")
            await page.until("figures", version="v1")
            async with client.events() as late:
                await late.until("figures", version="v1")
                assert not late.named("wrong")

    run(test())


def test_what_is_the_same_is_not_told_again(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job, hold=0.01, quiet=0.01) as client, client.events() as page:
            await page.until("figures")
            asked = job.asked
            for _ in range(5):
                by_rename(job.file, "1")
                await soon(lambda asked=asked: job.asked > asked)  # type: ignore[misc]
                asked = job.asked
            by_rename(job.file, "broken")
            await page.until("wrong")
            asked = job.asked
            by_rename(job.file, "broken")
            await soon(lambda: job.asked > asked)
            by_rename(job.file, "2")
            await page.until("figures", version="v2")
            assert [model["version"] for model in page.named("model")] == ["v1", "v2"]
            assert len(page.named("wrong")) == 1

    run(test())


def test_figures_of_an_older_model_are_dropped(job: FakeJob) -> None:
    async def test() -> None:
        job.figures = lambda: {"version": "v0", "variants": []}  # type: ignore[method-assign]
        async with running(job, quiet=0.01) as client, client.events() as page:
            await page.until("model", version="v1")
            await page.until("fields")
            job.figures = lambda: {"version": "v2", "variants": []}  # type: ignore[method-assign]
            by_rename(job.file, "2")
            await page.until("figures")
            assert page.named("figures") == [{"version": "v2", "variants": []}]

    run(test())


def test_the_oldest_stream_makes_room(job: FakeJob) -> None:
    """The 17th page ends the first; the first, when its browser comes back by itself, is told not to (204)."""

    async def test() -> None:
        async with running(job, quiet=0.01) as client, AsyncExitStack() as stack:
            pages = [await stack.enter_async_context(client.events()) for _ in range(17)]
            while await pages[0].next() is not None:
                pass
            async with client.session.get(client.url("/events"), headers={"Last-Event-ID": "1"}) as response:
                assert response.status == 204
            by_rename(job.file, "2")
            for page in pages[1:]:
                await page.until("model", version="v2")

    run(test())


def test_pages_that_went_are_forgotten(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job, streams=2) as client:
            for _ in range(10):
                status = 204
                while status == 204:  # until the server has seen that the one before went
                    async with client.session.get(client.url("/events"), headers={"Last-Event-ID": "1"}) as response:
                        status = response.status
                        assert response.headers["Cache-Control"] == "no-store"
                assert status == 200
            async with client.events() as first, client.events() as second:
                by_rename(job.file, "2")
                await first.until("model", version="v2")
                await second.until("model", version="v2")

    run(test())


def test_an_idle_stream_shows_that_it_is_alive(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job, alive=0.05, quiet=0.01) as client, client.events() as page:
            await page.until("figures")
            reading = asyncio.create_task(page.next())
            await soon(lambda: len(page.comments) >= 2)
            by_rename(job.file, "2")
            await reading
            assert page.seen[-1][0] == "model"

    run(test())


def test_a_page_that_does_not_read_is_given_up(job: FakeJob) -> None:
    """Its events do not pile up in the server: the latest of each kind is all that waits for it."""

    async def test() -> None:
        job.figures = lambda: {"variants": ["x" * 4_000_000]}  # type: ignore[method-assign]
        async with running(job, alive=0.2, quiet=0.01, streams=1) as client:
            _, writer = await asyncio.open_connection("127.0.0.1", client.port, limit=1)
            writer.write(f"GET /events?token={client.token} HTTP/1.1\r\nHost: 127.0.0.1:{client.port}\r\n\r\n".encode())
            status = 204
            while status == 204:  # until the only stream there may be is free again
                async with client.session.get(client.url("/events"), headers={"Last-Event-ID": "1"}) as response:
                    status = response.status
                await asyncio.sleep(0.02)
            assert status == 200
            writer.close()

    run(test())


def test_nothing_piles_up_for_a_slow_page() -> None:
    async def test() -> None:
        streams = Streams(Limits())
        stream = streams.join()
        assert stream
        for number in range(1000):
            streams.tell("wrong", {"text": str(number)})
            streams.tell("model", {"version": f"v{number}"})
            streams.tell("figures", {"version": f"v{number}"})
            streams.tell("fields", {}, keep=False)
        told = (await stream.take(1)).decode()
        names = [line.removeprefix("event: ") for line in told.splitlines() if line.startswith("event: ")]
        assert names == ["model", "figures", "fields"]
        assert '"v999"' in told
        late = streams.join()
        assert late
        assert b"fields" not in await late.take(1)

    run(test())
