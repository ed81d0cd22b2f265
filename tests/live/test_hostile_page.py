"""A page elsewhere in the same browser, which even knows the token: it learns, shows and changes nothing.

In a real browser, as what stops it is the browser's word (Origin, Sec-Fetch-Site, Host) together with the server's.
Sources: RFC 6454 (another port is another origin), W3C Fetch Metadata, WHATWG Fetch (no-cors), CSP Level 3
(frame-ancestors); a name that is made to point to the loopback after the page has loaded is known as DNS rebinding.
"""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest

from browsing import ARGUMENTS, chromium
from fake_job import FakeJob
from preview.live import serve

sync_api = pytest.importorskip("playwright.sync_api")

ATTACKS = """async ([base, token]) => {
  const at = (path) => `${base}${path}?token=${token}`;
  const said = {};
  const tried = async (name, what) => {
    try { said[name] = await what(); } catch (error) { said[name] = `stopped: ${error.name}`; }
  };
  const loaded = (kind, field, address) => new Promise((resolve) => {
    const element = document.createElement(kind);
    element.onload = () => resolve("loaded");
    element.onerror = () => resolve("stopped: error");
    element[field] = address;
    document.body.append(element);
  });
  const body = JSON.stringify({ version: "1", id: "a", value: "hit" });
  const json = { "Content-Type": "application/json" };
  const text = { "Content-Type": "text/plain" };
  await tried("read", async () => (await fetch(at("/fields"))).text());
  await tried("read, no-cors", async () => (await fetch(at("/fields"), { mode: "no-cors" })).text());
  await tried("header", async () => (await fetch(`${base}/fields`, { headers: { "X-Molding-Token": token } })).text());
  await tried("edit", async () => (await fetch(at("/edit"), { method: "POST", headers: json, body })).text());
  await tried("edit, no-cors", async () =>
    (await fetch(at("/edit"), { method: "POST", mode: "no-cors", headers: text, body })).type);
  const sheet = new Blob([body], { type: "text/plain" });
  await tried("beacon", async () => String(navigator.sendBeacon(at("/edit"), sheet)));
  await tried("script", () => loaded("script", "src", at("/")));
  await tried("image", () => loaded("img", "src", at("/model/v1")));
  await tried("stream", () => new Promise((resolve) => {
    const source = new EventSource(at("/events"));
    source.addEventListener("model", () => resolve("heard"));
    source.onerror = () => { source.close(); resolve("stopped: error"); };
  }));
  await tried("socket", () => new Promise((resolve) => {
    const socket = new WebSocket(at("/events").replace("http", "ws"));
    socket.onopen = () => resolve("open");
    socket.onerror = () => resolve("stopped: error");
  }));
  const frame = document.createElement("iframe");
  frame.name = "inside";
  document.body.append(frame);
  const shown = new Promise((resolve) => { frame.onload = resolve; });
  frame.src = at("/");
  await shown;
  const form = document.createElement("form");
  Object.assign(form, { method: "post", action: at("/edit"), target: "inside", enctype: "text/plain" });
  const input = document.createElement("input");
  Object.assign(input, { name: body.slice(0, -1) + ',"x":"', value: '"}' });
  form.append(input);
  document.body.append(form);
  const sent = new Promise((resolve) => { frame.onload = resolve; });
  form.submit();
  await sent;
  return said;
}"""


class Elsewhere(BaseHTTPRequestHandler):
    """The other page."""

    def do_GET(self) -> None:
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        self.wfile.write(b"<!doctype html><title>elsewhere</title>")

    def log_message(self, *_: object) -> None:
        pass


@contextmanager
def shown(job: FakeJob) -> Iterator[str]:
    """The server of a job in a thread; gives its address."""
    loop = asyncio.new_event_loop()
    ready = threading.Event()
    address: list[str] = []

    def told(text: str) -> None:
        address.append(text)
        ready.set()

    task = loop.create_task(serve(job, ready=told))

    def runs() -> None:
        with pytest.raises(asyncio.CancelledError):
            loop.run_until_complete(task)

    thread = threading.Thread(target=runs, daemon=True)
    thread.start()
    assert ready.wait(60)
    try:
        yield address[0]
    finally:
        loop.call_soon_threadsafe(task.cancel)
        thread.join(60)


def attacked(address: str, port: int, program: str, args: list[str]) -> None:
    """Everything that a page elsewhere may try, and what the address itself shows."""
    parts = urlsplit(address)
    token = parse_qs(parts.query)["token"][0]
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=args)
        for host in ("127.0.0.1", "molding.example"):  # same-site and cross-site
            page = browser.new_page()
            page.goto(f"http://{host}:{port}/")
            said = page.evaluate(ATTACKS, [f"http://127.0.0.1:{parts.port}", token])
            assert said.pop("beacon") == "true"  # sent, and refused
            assert said.pop("read, no-cors", "") in ("", "stopped: TypeError")
            assert said.pop("edit, no-cors") in ("opaque", "stopped: TypeError")
            assert len(said) == 7
            assert all(answer.startswith("stopped: ") for answer in said.values()), (host, said)
            inside = page.frame("inside")
            assert inside is not None
            assert "<!doctype html>" + token not in inside.content()
            assert token not in json.dumps(said)
            page.close()
        page = browser.new_page()
        page.goto(address.replace("127.0.0.1", "molding.example"))
        assert page.inner_text("body").strip() == "refused: this was asked of another host"
        page.goto(address)
        assert token in page.content()
        browser.close()


def test_a_page_elsewhere_that_knows_the_token(tmp_path: Path) -> None:
    program = chromium()
    file = tmp_path / "model.txt"
    file.write_text("1", "utf-8")
    other = ThreadingHTTPServer(("127.0.0.1", 0), Elsewhere)
    threading.Thread(target=other.serve_forever, daemon=True).start()
    before = "--host-resolver-rules="
    args = [each.replace(before, f"{before}MAP molding.example 127.0.0.1, ") for each in ARGUMENTS]
    with shown(FakeJob(file)) as address, ThreadPoolExecutor(1) as alone:  # one thread has one Playwright
        alone.submit(attacked, address, other.server_port, program, args).result()
    other.shutdown()
    other.server_close()
    assert file.read_text("utf-8") == "1"
