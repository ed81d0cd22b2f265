"""Requests that would keep the server busy: too large, too slow, too many. Each is ended, and the page is answered.

Sources: RFC 9110 (408, 413), RFC 6585 (431), MITRE CWE-400 (resources) and CWE-770 (limits), CWE-208 (time that tells a
secret).
"""

from __future__ import annotations

import asyncio
import hmac
import time
import tracemalloc
from pathlib import Path

import pytest

from fake_job import Client, FakeJob, run, running
from preview.live import guard

LARGE = 64


@pytest.fixture
def job(tmp_path: Path) -> FakeJob:
    file = tmp_path / "model.txt"
    file.write_text("1", "utf-8")
    return FakeJob(file)


async def opened(client: Client) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
    return await asyncio.open_connection("127.0.0.1", client.port)


async def poured(client: Client, begin: bytes, block: bytes, times: int) -> bytes:
    """What comes back while a request goes on and on."""
    reader, writer = await opened(client)
    try:
        writer.write(begin)
        for _ in range(times):
            writer.write(block)
            await writer.drain()
            await asyncio.sleep(0)
    except ConnectionError:
        pass
    try:
        return await reader.read(4096)
    except ConnectionError:
        return b""
    finally:
        writer.close()


HEADS = {
    "one long line": (b"GET /?x=", b"x" * 65_536),
    "one long header": (b"GET / HTTP/1.1\r\nX: ", b"x" * 65_536),
    "many headers": (b"GET / HTTP/1.1\r\n", b"".join(b"X-%d: y\r\n" % k for k in range(5000))),
    "blank lines": (b"", b"\r\n" * 32_768),
}


@pytest.mark.parametrize("what", HEADS)
def test_a_head_without_end(job: FakeJob, what: str) -> None:
    """64 times what may stand there is sent; what the server keeps of it does not grow with that."""
    begin, block = HEADS[what]

    async def test() -> None:
        async with running(job) as client:
            tracemalloc.start()
            try:
                said = await poured(client, begin, block, LARGE)
                _, most = tracemalloc.get_traced_memory()
            finally:
                tracemalloc.stop()
            assert most < 4_000_000
            assert said.split(b" ")[1:2] in ([b"431"], [b"400"], []), said  # or the connection was just ended
            assert b"Traceback" not in said
            assert (await client.get("/fields"))[0] == 200

    run(test())


def test_too_long_a_head_is_told(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job) as client:
            for request in (
                b"GET /?x=" + b"x" * 20_000 + b" HTTP/1.1\r\n\r\n",
                b"GET / HTTP/1.1\r\nX: " + b"x" * 20_000 + b"\r\n\r\n",
            ):
                reader, writer = await opened(client)
                writer.write(request)
                said = await reader.read()
                assert said.split(b" ")[1] == b"431"
                assert said.endswith(b"\r\n\r\nrefused: what stands before the body is too long\n")
                assert b"frame-ancestors 'none'" in said
                writer.close()

    run(test())


def test_a_body_without_end_is_not_kept(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job) as client:
            begin = (
                f"POST /edit?token={client.token} HTTP/1.1\r\nHost: 127.0.0.1:{client.port}\r\n"
                "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n"
            )
            block = b"10000\r\n" + b"x" * 65_536 + b"\r\n"
            tracemalloc.start()
            try:
                said = await poured(client, begin.encode(), block, LARGE)
                _, most = tracemalloc.get_traced_memory()
            finally:
                tracemalloc.stop()
            assert said.startswith(b"HTTP/1.1 413 ") or not said
            assert most < 4_000_000
            assert job.file.read_text("utf-8") == "1"

    run(test())


@pytest.mark.parametrize("trickle", [False, True], ids=["stopped", "a letter at a time"])
def test_a_slow_head_is_not_waited_for(job: FakeJob, trickle: bool) -> None:
    async def test() -> None:
        async with running(job, slow=0.2) as client:
            reader, writer = await opened(client)
            writer.write(b"GET / HTTP/1.1\r\nX: ")
            began = time.monotonic()
            ended = asyncio.ensure_future(reader.read())
            while trickle and not ended.done():
                writer.write(b"x")
                await asyncio.sleep(0.02)
            said = await ended
            assert said.startswith(b"HTTP/1.1 408 ")
            assert said.endswith(b"refused: this took too long to arrive\n")
            assert time.monotonic() - began < 30
            writer.close()

    run(test())


def test_a_connection_that_is_kept_open_serves_again(job: FakeJob) -> None:
    """The time for a head is counted from its own first letter, not while nothing is asked or an answer goes on."""

    async def test() -> None:
        async with running(job, slow=0.2) as client:
            reader, writer = await opened(client)
            request = f"GET /fields?token={client.token} HTTP/1.1\r\nHost: 127.0.0.1:{client.port}\r\n\r\n".encode()
            for _ in range(3):
                writer.write(request)
                head = await reader.readuntil(b"\r\n\r\n")
                assert head.startswith(b"HTTP/1.1 200 ")
                await reader.readexactly(int(head.lower().split(b"content-length: ")[1].split(b"\r\n")[0]))
                await asyncio.sleep(0.3)
            writer.close()
            async with client.events() as listener:
                await listener.until("model")
                await asyncio.sleep(0.3)
                job.file.write_text("2", "utf-8")
                await listener.until("model", version="v2")

    run(test())


def test_many_connections_do_not_keep_the_page_out(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job, connections=20) as client, client.events() as listener:
            await listener.until("model")
            held = [await opened(client) for _ in range(60)]
            assert (await client.get("/fields"))[0] == 200
            job.file.write_text("2", "utf-8")
            await listener.until("model", version="v2")
            ended = 0
            for reader, writer in held:
                try:
                    async with asyncio.timeout(0.01):
                        ended += not await reader.read(1)
                except TimeoutError:
                    pass
                writer.close()
            assert ended >= 60 - 20

    run(test())


def test_a_token_is_compared_in_constant_time(job: FakeJob, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every token goes through hmac.compare_digest, which Python documents for this, whichever way it was sent."""
    seen = []

    def compared(first: bytes, second: bytes) -> bool:
        seen.append(first)
        return real(first, second)

    real = hmac.compare_digest
    monkeypatch.setattr(guard.hmac, "compare_digest", compared)

    async def test() -> None:
        async with running(job) as client:
            headers = {guard.TOKEN_HEADER: "guess"}
            async with client.session.get(f"http://127.0.0.1:{client.port}/", headers=headers) as response:
                assert response.status == 403
            async with client.session.get(f"http://127.0.0.1:{client.port}/?token=other") as response:
                assert response.status == 403
            assert (await client.get("/fields"))[0] == 200
            assert seen == [b"guess", b"other", client.token.encode()]

    run(test())
