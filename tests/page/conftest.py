"""A browser for the tests of the client's page: the system's Chromium, without a network, drawing in software.

    from browsing import Opener, PageOf

    def test_it_opens(page_of: PageOf, opened: Opener) -> None:
        page = opened(page_of("window-seat"))
        assert page.title() == "Window seat, reading room"

Whatever a test does, it fails when the page logs an error, throws, or asks for anything beyond itself. Without a
Chromium these tests are skipped, or fail where MOLDING_BROWSER_TESTS says "required".
"""

from __future__ import annotations

import functools
import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from browsing import ARGUMENTS, DESKTOP, READY, READY_SECONDS, WITHIN, Accessible, Opener, PageOf, Watch, chromium

ROOT = Path(__file__).parent.parent.parent
AXE = ROOT / "tests" / "validator" / "node_modules" / "axe-core" / "axe.min.js"


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    program = chromium()
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=program, args=list(ARGUMENTS))
        yield started
        started.close()


@pytest.fixture(scope="session")
def page_of(tmp_path_factory: pytest.TempPathFactory) -> PageOf:
    folder = tmp_path_factory.mktemp("pages")

    @functools.cache
    def written(scene: str | Path) -> Path:
        from preview.notebook import load

        path = ROOT / "scenes" / f"{scene}.toml" if isinstance(scene, str) else scene
        page = folder / f"{path.stem}.html"
        while page.exists():
            page = page.with_stem(f"{page.stem}-")
        page.write_bytes(load(path).page)
        return page

    return written


@pytest.fixture
def opened(browser: Browser) -> Iterator[Opener]:
    watches: list[Watch] = []
    contexts: list[BrowserContext] = []

    def open_(
        what: Path | str,
        size: tuple[int, int] = DESKTOP,
        *,
        ready: bool = True,
        expect: Sequence[str] = (),
        server: str | None = None,
        **context: Any,
    ) -> Page:
        address = what.as_uri() if isinstance(what, Path) else what
        own = address.partition("#")[0]
        window = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            offline=server is None,
            **{"device_scale_factor": 1, "reduced_motion": "reduce", **context},
        )
        contexts.append(window)
        watch = Watch((*WITHIN, own, *([f"{server.rstrip('/')}/"] if server else [])), expect)
        watches.append(watch)
        watch.over(window)
        page = window.new_page()
        page.goto(address)
        if ready:
            page.evaluate(READY, READY_SECONDS)
        return page

    yield open_
    for context in contexts:
        context.close()
    faults = [fault for watch in watches for fault in watch.faults]
    assert not faults, "the page:\n" + "\n".join(faults)


@pytest.fixture
def accessible() -> Accessible:
    def found(page: Page, within: str | None = None) -> list[str]:
        if not AXE.is_file():
            raise RuntimeError(f"{AXE.relative_to(ROOT)} is missing: run the test command in README.md")
        page.evaluate(AXE.read_text("utf-8"))
        result = page.evaluate("within => axe.run(within ?? document)", within)
        return [
            f"{fault['id']} ({fault['impact']}): {fault['help']}: {json.dumps(node['target'])} {node['html'][:200]}"
            for fault in result["violations"]
            for node in fault["nodes"]
        ]

    return found
