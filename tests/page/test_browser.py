"""The browser's own fixtures: they see what a page does wrong, and let through what it may do."""

from __future__ import annotations

import http.server
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from browsing import WITHIN, Accessible, Opener, PageOf, Watch

ROOT = Path(__file__).parent.parent.parent
READY = "<script>window.__preview = { ready: Promise.resolve() }</script>"
STRICT = "<meta http-equiv=Content-Security-Policy content=\"default-src 'none'\">"
FAULTS = {
    "logged oops": "<script>console.error('oops')</script>",
    "threw oops": "<script>setTimeout(() => { throw Error('oops') })</script>",
    "rejected": "<script>Promise.reject(Error('rejected'))</script>",
    "asked for http://192.0.2.1/x.png": "<img src=http://192.0.2.1/x.png>",
    "asked for http://127.0.0.1:9/": "<script>fetch('http://127.0.0.1:9/').catch(() => 0)</script>",
    "asked for http://127.0.0.1:9/in-a-frame": "<iframe src=http://127.0.0.1:9/in-a-frame></iframe>",
    "opened ws://127.0.0.1:9/": "<script>new WebSocket('ws://127.0.0.1:9/')</script>",
    "Content Security Policy": f"{STRICT}<script>1</script>",
}
GOOD = "<!doctype html><html lang=en><meta charset=utf-8><title>Base</title><main><h1>Base</h1></main>"


def written(folder: Path, body: str) -> Path:
    path = folder / "a name with a space.html"
    path.write_text(GOOD + body, "utf-8")
    return path


@pytest.fixture
def address() -> Iterator[str]:
    """A server on this machine that answers everything with a small page."""

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write((GOOD + READY).encode())

        def log_message(self, *words: object) -> None:
            pass

    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()
        thread.join()


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_seen(browser: Browser, tmp_path: Path, fault: str) -> None:
    path = written(tmp_path, FAULTS[fault])
    window = browser.new_context(offline=True)
    watch = Watch((*WITHIN, path.as_uri()), ())
    watch.over(window)
    page = window.new_page()
    page.goto(path.as_uri())
    page.wait_for_timeout(100)
    window.close()
    assert any(fault in said for said in watch.faults), watch.faults


def test_a_fault_that_is_meant_passes(opened: Opener, tmp_path: Path) -> None:
    opened(written(tmp_path, "<script>console.error('oops, as meant')</script>"), ready=False, expect=["as meant"])


def test_data_and_blobs_are_part_of_the_page(opened: Opener, tmp_path: Path) -> None:
    script = (
        "<script>window.__preview = { ready: (async () => {"
        "  const blob = URL.createObjectURL(new Blob(['one']));"
        "  const both = [await fetch(blob), await fetch('data:,two')];"
        "  window.both = await Promise.all(both.map((answer) => answer.text()));"
        "})() }</script>"
    )
    page = opened(written(tmp_path, script), (390, 844))
    assert page.evaluate("both") == ["one", "two"]
    assert page.evaluate("[innerWidth, innerHeight, devicePixelRatio]") == [390, 844, 1]


def test_a_server_of_ones_own_may_be_asked(opened: Opener, address: str) -> None:
    page = opened(f"{address}/?token=x", server=address)
    assert page.title() == "Base"
    assert page.evaluate("fetch('/model').then((answer) => answer.status)") == 200


def test_a_scene_has_its_page_once(page_of: PageOf, opened: Opener) -> None:
    page = opened(page_of("bay"))
    assert page.title().startswith("Chair rail round a bay, breakfast room")
    assert page_of("bay") is page_of("bay")
    assert page_of("bay") != page_of(ROOT / "scenes" / "bay.toml")


def test_the_picture_is_drawn_without_a_graphics_card(opened: Opener, tmp_path: Path) -> None:
    """WebGL 2, and the same pixels wherever it runs: by SwiftShader."""
    page = opened(written(tmp_path, READY))
    renderer = page.evaluate(
        "() => { const gl = document.createElement('canvas').getContext('webgl2');"
        " return gl.getParameter(gl.getExtension('WEBGL_debug_renderer_info').UNMASKED_RENDERER_WEBGL) }"
    )
    assert "SwiftShader" in renderer


@pytest.mark.parametrize("script", ["", "<script>window.__preview = { ready: Promise.reject(Error('no')) }</script>"])
def test_a_page_that_never_gets_ready_fails(opened: Opener, tmp_path: Path, script: str) -> None:
    with pytest.raises(Exception, match=r"did not start|Error: no"):
        opened(written(tmp_path, script), expect=["no"])


def test_axe_judges(opened: Opener, accessible: Accessible, tmp_path: Path) -> None:
    page = opened(written(tmp_path, f"{READY}<p id=bad><input></p>"))
    (fault,) = accessible(page, "#bad")
    assert fault.startswith("label (critical)")
    assert accessible(page, "h1") == []
    assert fault in accessible(page)


@pytest.mark.parametrize(("asked", "outcome"), [("", "1 skipped"), ("required", "1 error")])
def test_no_browser_is_told(tmp_path: Path, asked: str, outcome: str) -> None:
    """The tests that need a browser are skipped where there is none, or fail where they are required."""
    test = f"{Path(__file__).name}::{test_axe_judges.__name__}"
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", test],
        cwd=Path(__file__).parent,
        env={"PATH": str(tmp_path), "HOME": str(tmp_path), "MOLDING_BROWSER_TESTS": asked},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert outcome in done.stdout, done.stdout + done.stderr
    assert "no Chromium: none of chromium, " in done.stdout
