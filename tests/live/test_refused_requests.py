"""Who is refused: every request but those of the server's own page.

Sources: RFC 9110 (Host 7.2, 404, 405 with Allow, 413, 415), RFC 6454 (Origin, and `null`), W3C Fetch Metadata Request
Headers (Sec-Fetch-Site: none, same-origin, same-site, cross-site; another port of one host is same-site), WHATWG Fetch
(the CORS preflight). What is asked is written byte by byte, so that no client puts anything right.
"""

from __future__ import annotations

import asyncio
import base64
import gzip
import json
import logging
from pathlib import Path
from typing import Any

import pytest

from fake_job import Client, FakeJob, run, running

REQUIRED = {
    "x-content-type-options": "nosniff",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "x-frame-options": "DENY",
    "cache-control": "no-store",
    "referrer-policy": "no-referrer",
}
Answer = tuple[int, dict[str, str], bytes]


@pytest.fixture
def job(tmp_path: Path) -> FakeJob:
    file = tmp_path / "model.txt"
    file.write_text("1", "utf-8")
    return FakeJob(file)


async def send(client: Client, request: bytes) -> Answer:
    """What the server answers to these bytes."""
    reader, writer = await asyncio.open_connection("127.0.0.1", client.port)
    writer.write(request)
    head = (await reader.readuntil(b"\r\n\r\n")).decode("latin-1").split("\r\n")
    headers = {}
    for line in head[1:-2]:
        name, _, value = line.partition(": ")
        assert name.lower() not in headers, f"{name} comes twice"
        headers[name.lower()] = value
    body = b"" if request.startswith(b"HEAD") else await reader.readexactly(int(headers["content-length"]))
    writer.close()
    return int(head[0].split()[1]), headers, body


def written(
    client: Client, line: str = "GET /?token={token} HTTP/1.1", body: bytes = b"", **headers: str | None
) -> bytes:
    """A request of the server's own page, but for what is given: None leaves a header out, `also` adds one as it is."""
    usual = {"Host": f"127.0.0.1:{client.port}", "Sec-Fetch-Site": "same-origin"}
    if body:
        usual |= {"Content-Type": "application/json", "Content-Length": str(len(body))}
    given = {name.replace("_", "-"): value for name, value in headers.items()}
    lines = [line.format(token=client.token, port=client.port)]
    for name, value in (usual | given).items():
        if value is not None:
            lines.append(f"{name}: {value.format(token=client.token, port=client.port)}")
    return "\r\n".join([*lines, "", ""]).encode("latin-1") + body


def is_plain(answer: Answer) -> None:
    """One line of text, and nothing of what the server is made of."""
    _, headers, body = answer
    assert REQUIRED.items() <= headers.items()
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert headers["content-type"] == "text/plain; charset=utf-8"
    assert headers["server"] == "molding"
    assert body.count(b"\n") == 1
    assert body.endswith(b"\n")
    told = (str(headers) + body.decode()).lower()
    for word in ("aiohttp", "python", "traceback", "http://", "access-control"):
        assert word not in told


EDIT = "POST /edit?token={token} HTTP/1.1"
GOOD = b'{"version":"1","id":"a","value":"2"}'

ALLOWED = {
    "page": {},
    "by name": {"Host": "localhost:{port}"},
    "by name in capitals": {"Host": "LOCALHOST:{port}"},
    "typed into the browser": {"Sec_Fetch_Site": "none"},
    "not a browser": {"Sec_Fetch_Site": None},
    "with its origin": {"Origin": "http://127.0.0.1:{port}"},
    "origin by name": {"Host": "localhost:{port}", "Origin": "http://localhost:{port}"},
    "token in a header": {"line": "GET / HTTP/1.1", "X_Molding_Token": "{token}"},
}
REFUSED: dict[str, tuple[int, dict[str, Any]]] = {
    "another host's name": (403, {"Host": "molding.example:{port}"}),
    "a name that ends like ours": (403, {"Host": "localhost.example:{port}"}),
    "another port": (403, {"Host": "127.0.0.1:1"}),
    "no port": (403, {"Host": "127.0.0.1"}),
    "an empty port": (403, {"Host": "127.0.0.1:"}),
    "another loopback address": (403, {"Host": "127.0.0.2:{port}"}),
    "the address of IPv6": (403, {"Host": "[::1]:{port}"}),
    "every interface": (403, {"Host": "0.0.0.0:{port}"}),
    "no host": (403, {"line": "GET /?token={token} HTTP/1.0", "Host": None}),
    "a user in the host": (403, {"Host": "me@127.0.0.1:{port}"}),
    "another origin": (403, {"Origin": "http://molding.example"}),
    "the origin null": (403, {"Origin": "null"}),
    "an empty origin": (403, {"Origin": ""}),
    "another port's origin": (403, {"Origin": "http://127.0.0.1:1"}),
    "the origin with https": (403, {"Origin": "https://127.0.0.1:{port}"}),
    "the other name's origin": (403, {"Origin": "http://localhost:{port}"}),
    "cross-site": (403, {"Sec_Fetch_Site": "cross-site"}),
    "a stream from elsewhere": (
        403,
        {
            "line": "GET /events?token={token} HTTP/1.1",
            "Origin": "http://molding.example",
            "Sec_Fetch_Site": "cross-site",
        },
    ),
    "an edit by another page, no-cors": (
        403,
        {
            "line": "POST /edit?token={token} HTTP/1.1",
            "body": b"{}",
            "Content_Type": "text/plain",
            "Sec_Fetch_Site": "cross-site",
            "Sec_Fetch_Mode": "no-cors",
        },
    ),
    "a socket from elsewhere": (
        403,
        {
            "line": "GET /events?token={token} HTTP/1.1",
            "Origin": "http://molding.example",
            "Connection": "Upgrade",
            "Upgrade": "websocket",
            "Sec_WebSocket_Key": "dGhlIHNhbXBsZSBub25jZQ==",
            "Sec_WebSocket_Version": "13",
        },
    ),
    "same-site": (403, {"Sec_Fetch_Site": "same-site"}),
    "an unknown site": (403, {"Sec_Fetch_Site": "elsewhere"}),
    "no token": (403, {"line": "GET / HTTP/1.1"}),
    "an empty token": (403, {"line": "GET /?token= HTTP/1.1"}),
    "a wrong token": (403, {"line": "GET /?token=AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA HTTP/1.1"}),
    "a token and more": (403, {"line": "GET /?token={token}x HTTP/1.1"}),
    "a token of other letters": (403, {"line": "GET /?token=%C3%A9%F0%9F%98%80%FF HTTP/1.1"}),
    "a wrong token in a header": (403, {"X_Molding_Token": "x"}),
    "nothing there, no token": (403, {"line": "GET /nothing HTTP/1.1"}),
    "nothing there": (404, {"line": "GET /nothing?token={token} HTTP/1.1"}),
    "up": (404, {"line": "GET /../?token={token} HTTP/1.1"}),
    "up, written otherwise": (404, {"line": "GET /%2e%2e/etc/passwd?token={token} HTTP/1.1"}),
    "up and down": (404, {"line": "GET /model/..?token={token} HTTP/1.1"}),
    "a file below": (404, {"line": "GET /model/v1/../../fields?token={token} HTTP/1.1"}),
    "a backslash": (404, {"line": "GET /..\\..\\fields?token={token} HTTP/1.1"}),
    "up, escaped twice": (404, {"line": "GET /%252e%252e%252fetc%252fpasswd?token={token} HTTP/1.1"}),
    "a zero": (404, {"line": "GET /%00?token={token} HTTP/1.1"}),
    "a file of the system": (404, {"line": "GET /etc/passwd?token={token} HTTP/1.1"}),
    "a file of the system, two slashes": (404, {"line": "GET //etc/passwd?token={token} HTTP/1.1"}),
    "the scene itself": (404, {"line": "GET /model.txt?token={token} HTTP/1.1"}),
    "a model by a file's name": (404, {"line": "GET /model/model.txt?token={token} HTTP/1.1"}),
    "two slashes": (404, {"line": "GET //?token={token} HTTP/1.1"}),
    "a proxy's request": (404, {"line": "GET http://127.0.0.1:{port}/?token={token} HTTP/1.1"}),
    "a model that never was": (404, {"line": "GET /model/v9?token={token} HTTP/1.1"}),
    "a version too long": (404, {"line": "GET /model/" + "v" * 200 + "?token={token} HTTP/1.1"}),
    "a post for the page": (405, {"line": "POST /?token={token} HTTP/1.1", "Content_Length": "0"}),
    "a post for a model": (405, {"line": "POST /model/v1?token={token} HTTP/1.1", "Content_Length": "0"}),
    "an edit by a link": (405, {"line": "GET /edit?token={token} HTTP/1.1"}),
    "a head": (405, {"line": "HEAD /?token={token} HTTP/1.1"}),
    "a put": (405, {"line": "PUT /edit?token={token} HTTP/1.1", "Content_Length": "0"}),
    "a delete": (405, {"line": "DELETE /fields?token={token} HTTP/1.1"}),
    "a trace": (405, {"line": "TRACE /?token={token} HTTP/1.1"}),
    "a preflight from elsewhere": (
        403,
        {
            "line": "OPTIONS /edit?token={token} HTTP/1.1",
            "Origin": "http://molding.example",
            "Sec_Fetch_Site": "cross-site",
            "Access_Control_Request_Method": "POST",
            "Access_Control_Request_Headers": "content-type",
        },
    ),
    "a preflight of our own": (
        405,
        {
            "line": "OPTIONS /edit?token={token} HTTP/1.1",
            "Origin": "http://127.0.0.1:{port}",
            "Access_Control_Request_Method": "POST",
        },
    ),
}


BODIES: dict[str, tuple[int, bytes, dict[str, str | None]]] = {
    "a form": (415, GOOD, {"Content_Type": "application/x-www-form-urlencoded"}),
    "text": (415, GOOD, {"Content_Type": "text/plain"}),
    "no type": (415, GOOD, {"Content_Type": None}),
    "packed": (415, gzip.compress(GOOD), {"Content_Encoding": "gzip"}),
    "no JSON": (400, b"version=1", {}),
    "half a JSON": (400, GOOD[:-1], {}),
    "deep JSON": (400, b"[" * 60_000, {}),
    "a list": (400, b"[]", {}),
    "not UTF-8": (400, b'{"version":"\xff","id":"a","value":"2"}', {}),
    "a key short": (400, b'{"version":"1","id":"a"}', {}),
    "a key more": (400, GOOD[:-1] + b',"path":"/etc"}', {}),
    "a version that is a number": (400, b'{"version":1,"id":"a","value":"2"}', {}),
    "a yes": (400, b'{"version":"1","id":"a","value":true}', {}),
    "a null": (400, b'{"version":"1","id":"a","value":null}', {}),
    "no number": (400, b'{"version":"1","id":"a","value":NaN}', {}),
    "a number too large": (400, b'{"version":"1","id":"a","value":1e999}', {}),
    "an endless row of digits": (400, b'{"version":"1","id":"a","value":' + b"9" * 60_000 + b"}", {}),
    "endless": (400, b'{"version":"1","id":"a","value":-Infinity}', {}),
    "nothing": (400, b"", {"Content_Type": "application/json", "Content_Length": "0"}),
    "too long": (413, json.dumps({"version": "1", "id": "a", "value": "x" * 65_536}).encode(), {}),
    "said to be too long": (413, b"{", {"Content_Length": "65537"}),
    "too long in chunks": (
        413,
        b"10000\r\n" + b"x" * 65_536 + b"\r\n1\r\nx\r\n0\r\n\r\n",
        {"Transfer_Encoding": "chunked", "Content_Length": None},
    ),
    "a broken chunk": (400, b"zz\r\n", {"Transfer_Encoding": "chunked", "Content_Length": None}),
}


@pytest.mark.parametrize("what", ALLOWED)
def test_the_page_itself_is_answered(job: FakeJob, what: str) -> None:
    async def test() -> None:
        async with running(job) as client:
            status, headers, body = await send(client, written(client, **ALLOWED[what]))
            assert (status, body) == (200, f"<!doctype html>{client.token}".encode())
            assert REQUIRED.items() <= headers.items()
            assert "frame-ancestors 'none'" in headers["content-security-policy"]
            assert "default-src" not in headers["content-security-policy"], "the page's own meta says the rest"
            assert headers["server"] == "molding"

    run(test())


def test_all_others_are_refused(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job) as client:
            for what, (expected, given) in REFUSED.items():
                request = written(client, **given)
                status, headers, body = answer = await send(client, request)
                assert status == expected, what
                assert ("allow" in headers) == (expected == 405), what
                if request.startswith(b"HEAD"):
                    assert REQUIRED.items() <= headers.items()
                else:
                    is_plain(answer)
                assert client.token not in body.decode()

    run(test())


def test_bodies_that_are_refused(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job) as client:
            for what, (expected, body, given) in BODIES.items():
                answer = await send(client, written(client, EDIT, body, **given))
                assert answer[0] == expected, what
                is_plain(answer)
            assert job.file.read_text("utf-8") == "1", "nothing of it was written"
            status, _, body = await send(client, written(client, EDIT, GOOD))
            assert (status, json.loads(body)) == (200, {"version": "2"})

    run(test())


def test_a_slow_body_is_not_waited_for(job: FakeJob) -> None:
    async def test() -> None:
        async with running(job, slow=0.1) as client:
            request = written(client, EDIT, b"{", Content_Length="10")
            answer = await send(client, request)
            assert answer[0] == 408
            is_plain(answer)
            assert (await client.get("/fields"))[0] == 200

    run(test())


def test_two_hosts_and_no_request_at_all(job: FakeJob, caplog: pytest.LogCaptureFixture) -> None:
    async def test() -> None:
        async with running(job) as client:
            two = written(client).replace(b"Sec-Fetch-Site: same-origin", b"Host: molding.example")
            for request in (two, b"\x16\x03\x01\r\n\r\n", b"GET\r\n\r\n"):
                answer = await send(client, request)
                assert answer[0] in (400, 403)
                is_plain(answer)

    with caplog.at_level(logging.DEBUG, "aiohttp"):
        run(test())
    assert not caplog.records


def test_it_listens_on_this_machine_only(job: FakeJob) -> None:
    """Bound to 127.0.0.1 and not to every address of the loopback, which 127.0.0.0/8 is (RFC 1122, 3.2.1.3)."""

    async def test() -> None:
        async with running(job) as client:
            for other in ("127.0.0.2", "::1"):
                with pytest.raises(ConnectionRefusedError):
                    await asyncio.open_connection(other, client.port)

    run(test())


def test_every_server_has_a_token_of_its_own(job: FakeJob) -> None:
    """Of at least 128 bits, as OWASP's Session Management Cheat Sheet asks of an identifier: at least 64 of entropy."""

    async def test() -> None:
        async with running(job) as first, running(job) as second:
            assert first.token != second.token
            assert len(base64.urlsafe_b64decode(first.token)) * 8 >= 128
            status, _ = await second.get("/fields")
            second.token = first.token
            refused, _ = await second.get("/fields")
            assert (status, refused) == (200, 403)

    run(test())


def test_a_fault_is_told_in_one_line_and_recorded_once(job: FakeJob, caplog: pytest.LogCaptureFixture) -> None:
    async def test() -> None:
        async with running(job) as client:
            job.page = lambda _: 1 / 0  # type: ignore[assignment,method-assign,return-value]
            for _ in range(3):
                answer = await send(client, written(client))
                assert answer[0] == 500
                assert b"ZeroDivisionError" in answer[2]
                is_plain(answer)

    run(test())
    assert len(caplog.records) == 1
    assert caplog.records[0].exc_info
