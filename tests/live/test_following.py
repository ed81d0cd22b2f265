"""From a save to the pages: the last save is shown, half a file is no error, and nothing grows."""

from __future__ import annotations

import asyncio
import gc
import threading
import tracemalloc
from pathlib import Path

import pytest

from fake_job import FakeJob, by_rename, in_place, run, running, soon, ways
from preview.errors import PreviewError
from preview.live import Model


@pytest.fixture
def job(tmp_path: Path) -> FakeJob:
    file = tmp_path / "model.txt"
    file.write_text("1", "utf-8")
    return FakeJob(file)


def test_saves_in_a_row(job: FakeJob) -> None:
    """Sixty saves in two seconds, both ways: the last is shown."""

    async def test() -> None:
        async with running(job, quiet=0.01) as client, client.events() as page:
            await page.until("model", version="v1")
            for number, save in zip(range(2, 62), ways(), strict=False):
                save(job.file, str(number))
                await asyncio.sleep(1 / 30)
            await page.until("model", version="v61")
            assert await client.get("/model/v61") == (200, b"61")
            shown = [model["version"] for model in page.named("model")]
            assert len(shown) == len(set(shown))

    run(test())


def test_saves_while_a_model_is_built_are_one(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job) as client, client.events() as page:
            await page.until("model", version="v1")
            job.open.clear()
            asked = job.asked
            in_place(job.file, "2")
            await soon(lambda: job.asked > asked)
            for number in range(3, 103):
                by_rename(job.file, str(number))
                await asyncio.sleep(0)
            job.open.set()
            await page.until("model", version="v102")
            # One that was being built, one after it, and one for each batch of events that came late.
            assert job.asked - asked < 20

    run(test())


def test_half_a_file_is_no_error(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job, hold=60, held=60) as client, client.events() as page:
            await page.until("model", version="v1")
            for number, half in enumerate(("", "broken", ""), start=2):
                asked = job.asked
                in_place(job.file, half)
                await soon(lambda asked=asked: job.asked > asked)  # type: ignore[misc]
                in_place(job.file, str(number))
                await page.until("model", version=f"v{number}")
            asked = job.asked
            job.file.unlink()
            await soon(lambda: job.asked > asked)
            in_place(job.file, "9")
            await page.until("model", version="v9")
            assert not page.named("wrong")

    run(test())


def test_an_error_is_looked_at_twice(job: FakeJob) -> None:
    """Half a file may be read, and the event for the other half come late."""

    async def test() -> None:
        model = job.model

        def half() -> Model:
            job.model = model  # type: ignore[method-assign]
            raise PreviewError("", None, "the file is empty", "")

        async with running(job, hold=0.01) as client, client.events() as page:
            await page.until("model", version="v1")
            job.model = half  # type: ignore[method-assign]
            by_rename(job.file, "2")
            await page.until("model", version="v2")
            assert not page.named("wrong")

    run(test())


def test_an_error_is_told_though_the_file_goes_on_changing(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job, hold=60, held=0.05) as client, client.events() as page:
            await page.until("model", version="v1")

            async def save() -> None:
                number = 0
                while True:
                    number += 1
                    in_place(job.file, f"broken {number}")
                    await asyncio.sleep(0.02)

            saving = asyncio.create_task(save())
            await page.until("wrong")
            saving.cancel()

    run(test())


def test_what_is_broken_or_missing_stays_on_until_it_is_mended(job: FakeJob) -> None:
    async def test() -> None:
        by_rename(job.file, "broken")
        async with running(job, hold=0.01) as client, client.events() as page:
            assert (await client.get("/"))[0] == 200
            wrong = await page.until("wrong")
            assert wrong["text"] == "model.txt: line 1 = broken\n  this is no model\n  fix: write a number"
            job.file.unlink()
            assert "no such file" in (await page.until("wrong"))["text"]
            by_rename(job.file, "2")
            await page.until("model", version="v2")
            by_rename(job.file, "")
            await page.until("wrong")
            assert await client.get("/model/v2") == (200, b"2"), "the last good model stays"

    run(test())


def test_a_fault_of_the_program_is_told_and_survived(job: FakeJob, caplog: pytest.LogCaptureFixture) -> None:
    async def test() -> None:
        async with running(job, hold=0.01) as client, client.events() as page:
            await page.until("model", version="v1")
            for number in range(2, 5):
                by_rename(job.file, "fault")
                wrong = await page.until("wrong")
                assert wrong["text"] == (
                    "building the model failed through a fault in the program itself: "
                    "ZeroDivisionError: a fault of two lines"
                )
                by_rename(job.file, str(number))
                await page.until("model", version=f"v{number}")

    run(test())
    assert len(caplog.records) == 1


def test_checks_that_fail_to_run_are_told(job: FakeJob) -> None:
    async def test() -> None:
        def refuse() -> dict[str, object]:
            raise PreviewError("", None, "these cannot be measured", "")

        job.figures = refuse  # type: ignore[method-assign]
        async with running(job, quiet=0.01) as client, client.events() as page:
            await page.until("wrong", text="  these cannot be measured")
            assert await client.get("/model/v1") == (200, b"1")

    run(test())


def test_other_files_are_followed_once_they_are_used(job: FakeJob, tmp_path: Path) -> None:
    async def test() -> None:
        async with running(job) as client, client.events() as page:
            await page.until("model", version="v1")
            other = tmp_path / "profiles" / "base.txt"
            job.others.append(other)
            in_place(job.file, "2")
            await page.until("model", version="v2")
            asked = job.asked
            other.parent.mkdir()
            in_place(other, "x")
            await soon(lambda: job.asked > asked)

    run(test())


def test_five_hundred_models_leave_nothing_behind(job: FakeJob) -> None:
    """50 MB of models pass; of them two stay, and threads and tasks are as many as before."""

    async def test() -> None:
        job.payload = bytes(100_000)
        async with running(job, quiet=0, step=0.001) as client, client.events() as page:
            await page.until("figures", version="v1")

            async def models(numbers: range) -> tuple[int, int, int]:
                for number in numbers:
                    status, told = await client.post("/edit", version=str(number - 1), id="a", value=str(number))
                    assert status == 200, told
                    await page.until("model", version=f"v{number}")
                page.seen.clear()
                await page.until("figures")
                gc.collect()
                return tracemalloc.get_traced_memory()[0], len(asyncio.all_tasks()), threading.active_count()

            async def as_many_tasks(as_before: int) -> None:
                """One may be about to end."""
                await soon(lambda: len(asyncio.all_tasks()) <= as_before)

            tracemalloc.start()
            try:
                before = await models(range(2, 102))
                after = await models(range(102, 602))
            finally:
                tracemalloc.stop()
            await as_many_tasks(before[1])
            assert after[2] == before[2]
            assert after[0] - before[0] < 500_000, "less than five of the models"
            assert [(await client.get(f"/model/v{n}"))[0] for n in (599, 600, 601)] == [404, 200, 200]

    run(test())
